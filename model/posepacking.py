"""The coarsest tables of `model.posegrid` that hold, refined along those drives that need it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from model.posegrid import (
    Mask,
    PoseGrid,
    Sample,
    Sheet,
    Strand,
    axis_nodes,
    felt_drives,
    table,
    worst_share,
)
from model.spatial import Array

# Nodes of a sheet along a drive: fewest, how many more at a time (so that rest stays a node), and most by the number
# of its drives: near a dead centre no grid is fine enough, and those cells are shut.
FEWEST, MORE = 5, 4
MOST = {0: 1, 1: 129, 2: 41, 3: 25}
# Strands that need not be exact everywhere may take so many.
MOST_LAX = {0: 1, 1: 65, 2: 25, 3: 13}
# Where something locks, which no grid follows to its edge and every pose near which takes long to solve.
MOST_LOCKED = {0: 1, 1: 129, 2: 25, 3: 13}
# What is left of an allowance for poses that lie between those that are tried.
RESERVE = 0.7
# Poses tried in each cell; cells tried where none has to be shut; edges tried to find the drive along which nodes are
# too far apart.
TRIES, CELLS, EDGES = 2, 600, 300


def pack(sample: Sample, low: Array, high: Array, strands: Sequence[Strand]) -> PoseGrid:
    """Tables of everything that is sampled over drives between `low` (D,) and `high` (D,), with rest at zero.

    Args:
        sample: what is tabulated.
        low: below zero.
        high: above zero.
        strands: all columns, each in one strand; one that is not strict may end up further off than it should be.

    """
    chance = np.random.default_rng(20)
    axes = [axis_nodes(low[drive], high[drive], FEWEST) for drive in range(len(low))]
    coarse, solved = _on_grid(sample, axes, tuple(range(len(low))), len(low))
    groups: dict[tuple[tuple[int, ...], str], list[Strand]] = {}
    for strand in strands:
        groups.setdefault(
            (felt_drives(coarse[..., strand.start : strand.stop], solved, strand), strand.kind), []
        ).append(strand)
    sheets = [
        _sheet(sample, low, high, felt, tuple(group), chance, not solved.all()) for (felt, _), group in groups.items()
    ]
    if not all(sheet.open.all() for sheet in sheets) or not solved.all():
        # Where anything locks, one more table over every drive says only where.
        sheets.append(_sheet(sample, low, high, tuple(range(len(low))), (), chance, True))
    return PoseGrid(tuple(sheets), sum(strand.stop - strand.start for strand in strands))


def worst_error(grid: PoseGrid, strands: Sequence[Strand], drives: Array, values: Array, solved: Mask) -> float:
    """The largest share of a strict strand's allowance by which a grid is off values (N, K) at drives (N, D).

    Infinite where the grid would show a pose that is not solved (N,).
    """
    read, shown = grid.read(drives)
    if (shown & ~solved).any():
        return np.inf
    strict = [strand for strand in strands if strand.strict]
    return float(worst_share(strict, values[shown], read[shown]).max(initial=0.0))


def _on_grid(sample: Sample, nodes: Sequence[Array], axes: tuple[int, ...], drives: int) -> tuple[Array, Mask]:
    """Values (*counts, K) on a grid of some drives, the others at rest, and which poses (*counts) can be reached."""
    counts = tuple(len(each) for each in nodes)
    at = np.zeros((int(np.prod(counts)), drives))
    for axis, values in zip(axes, np.meshgrid(*nodes, indexing="ij"), strict=True):
        at[:, axis] = values.ravel()
    values, solved = sample(at)
    return values.reshape(*counts, -1), solved.reshape(counts)


def _sheet(
    sample: Sample,
    low: Array,
    high: Array,
    axes: tuple[int, ...],
    strands: tuple[Strand, ...],
    chance: np.random.Generator,
    locks: bool,
) -> Sheet:
    """The coarsest table that holds, finer along those drives that need it."""
    strict = [strand for strand in strands if strand.strict]
    most = (MOST if strict or not strands else MOST_LAX)[len(axes)]
    most = min(most, max((strand.finest for strand in strands), default=most))
    if locks:
        most = min(most, MOST_LOCKED[len(axes)])
    # Without strands a table says only which cells can be entered, and is as fine as any.
    counts = [FEWEST if strands else most for _ in axes]
    while True:
        nodes = [axis_nodes(low[a], high[a], n) for a, n in zip(axes, counts, strict=True)]
        whole, solved = _on_grid(sample, nodes, axes, len(low))
        sheet = table(whole, solved, nodes, axes, strands)
        if not axes:
            return sheet
        cells = np.argwhere(sheet.open)
        if solved.all() and not strict and strands:
            cells = chance.permutation(cells)[:CELLS]
        at = _inside(sheet, np.repeat(cells, TRIES, axis=0), chance, len(low))
        values, reached = sample(at)
        read = sheet.read(at)[0]
        wrong = worst_share(strands, values, read, sheet.columns)
        growing = [k for k, count in enumerate(counts) if count < most]
        if not (~reached | (wrong > RESERVE)).any() or not growing:
            false = ~reached | (worst_share(strict, values, read, sheet.columns) > RESERVE)
            bad = false.reshape(-1, TRIES).any(axis=1)
            held = sheet.open.copy()
            held[tuple(cells[bad].T)] = False
            return replace(sheet, open=_without_seam(held) if strict or not strands else held)
        needs = [_along(sample, sheet, solved, k, chance, len(low)) for k in growing]
        for k, need in zip(growing, needs, strict=True):
            if need >= 0.5 * max(needs):
                counts[k] = min(counts[k] + MORE * max(1, counts[k] // 10), most)


def _without_seam(held: Mask) -> Mask:
    """Open cells less those that touch a shut one: the error next to a lock has its peak in some corner of a cell."""
    grown = np.pad(held, 1, constant_values=True)
    for axis in range(held.ndim):
        along = np.moveaxis(grown, axis, 0)
        grown = np.moveaxis(along & np.roll(along, 1, axis=0) & np.roll(along, -1, axis=0), 0, axis)
    return np.asarray(grown[(slice(1, -1),) * held.ndim])


def _inside(sheet: Sheet, cells: NDArray[np.intp], chance: np.random.Generator, drives: int) -> Array:
    """A pose (n, D) in each of some cells (n, axes): every second one in its middle, the others anywhere in it."""
    at = np.zeros((len(cells), drives))
    anywhere = np.arange(len(cells)) % 2 == 1
    for k, (axis, nodes) in enumerate(zip(sheet.axes, sheet.nodes, strict=True)):
        share = np.where(anywhere, chance.uniform(0.0, 1.0, len(cells)), 0.5)
        at[:, axis] = nodes[cells[:, k]] + share * np.diff(nodes)[cells[:, k]]
    return at


def _along(sample: Sample, sheet: Sheet, solved: Mask, k: int, chance: np.random.Generator, drives: int) -> float:
    """The worst error in the middles of a table's edges along one of its drives."""
    along = np.moveaxis(solved, k, 0)
    edges = np.argwhere(np.moveaxis(along[1:] & along[:-1], 0, k))
    edges = edges[chance.permutation(len(edges))[:EDGES]]
    at = np.zeros((len(edges), drives))
    for number, (axis, nodes) in enumerate(zip(sheet.axes, sheet.nodes, strict=True)):
        at[:, axis] = nodes[edges[:, number]]
        if number == k:
            at[:, axis] += 0.5 * np.diff(nodes)[edges[:, number]]
    values, reached = sample(at)
    wrong = worst_share(sheet.strands, values, sheet.read(at)[0], sheet.columns)
    return float(wrong[reached].max(initial=0.0))
