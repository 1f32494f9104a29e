"""The coarsest tables of `model.posegrid` that hold, refined along those drives and in those places that need it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from model.posegrid import (
    LOOSE,
    Level,
    PoseGrid,
    Sample,
    Sheet,
    Stopped,
    Strand,
    axis_nodes,
    columns_of,
    felt_drives,
    stored_level,
    worst_share,
)
from model.poselevels import EASY, Judged, Nodes, halved, judged_level
from model.posememory import Memory
from model.spatial import Array

# Nodes of a sheet along a drive: fewest, and most by the number of its drives: near a dead centre no even grid is fine
# enough. Steps between them, even so that rest stays a node: those of the coarser ones are among those of the finer.
FEWEST, RUNGS = 5, (4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128)
MOST = {0: 1, 1: 129, 2: 49, 3: 25}
# Strands that need not be exact everywhere may take so many.
MOST_LAX = {0: 1, 1: 65, 2: 25, 3: 13}
# Where something locks, the levels below do better.
MOST_LOCKED = {0: 1, 1: 33, 2: 25, 3: 13}
# A level is halved until its cells are this share of the way to an end, or what a sheet stores or asks gets too much:
# numbers in the finer levels together, poses for one of them.
FINEST, NUMBERS, POSES = 0.004, 300_000, 20_000
# The same for strands that need not be exact; over three drives they have one level.
FINEST_LAX = {1: 0.01, 2: 0.03, 3: 1.0}
# Poses tried in each cell, and in one of a finer level; cells tried where none has to be shut; edges tried to find the
# drive along which nodes are too far apart; poses by which it is seen whether the sheets show any that locks.
TRIES, FINE_TRIES, CELLS, EDGES, LOOKED_AT = 2, 4, 600, 300, 3000
# Poses anywhere that every sheet without a lock is measured by as well: the error of a bar's spin may have its peak in
# a hundredth of the travel.
ANYWHERE = 800


@dataclass(frozen=True)
class Fit:
    """How well a grid does on poses by which it was not made.

    `error` is the largest share of a strict strand's allowance that it is off by where it shows a pose, infinite where
    it shows one that locks; `hidden` the share of the poses that can be reached which it does not show.
    """

    error: float
    hidden: float


def pack(sample: Sample, low: Array, high: Array, strands: Sequence[Strand]) -> PoseGrid:
    """Tables of everything that is sampled over drives between `low` (D,) and `high` (D,), with rest at zero.

    Args:
        sample: what is tabulated.
        low: below zero.
        high: above zero.
        strands: all columns, each in one strand; one that is not strict may end up further off than it should be.

    """
    everything, bench = tuple(range(len(low))), _Bench(Memory(sample, low, high), low, high)
    asked = bench.nodes(everything, (FEWEST,) * len(low))
    asked.ask_all()
    coarse = asked.values(np.arange(asked.stopped.size)).reshape(*asked.counts, -1)
    reached = asked.stopped == 0
    groups: dict[tuple[tuple[int, ...], str], list[Strand]] = {}
    for strand in strands:
        felt = felt_drives(coarse[..., strand.start : strand.stop], reached, strand)
        groups.setdefault((felt, strand.kind), []).append(strand)
    sheets = [_sheet(bench, felt, tuple(group), locks=not reached.all()) for (felt, _), group in groups.items()]
    width = sum(strand.stop - strand.start for strand in strands)
    if not reached.all() or any((sheet.levels[-1].codes >= LOOSE).any() for sheet in sheets):
        tried = np.random.default_rng(20).uniform(low, high, (LOOKED_AT, len(low)))
        tried = np.concatenate([tried, asked.places(np.arange(asked.stopped.size))])
        shown = PoseGrid(tuple(sheets), width).read(tried)[1]
        if (bench.memory.sampled(tried[shown])[1] != 0).any():
            # Drives that no strand feels together lock together: one more sheet says where, and only that.
            sheets.append(_sheet(bench, everything, (), locks=True))
    return PoseGrid(tuple(sheets), width, tuple(bench.causes))


def fit_of(grid: PoseGrid, strands: Sequence[Strand], drives: Array, values: Array, stopped: Stopped) -> Fit:
    """How well a grid does at drives (N, D), with the values (N, K) there and what stops those poses (N,)."""
    read, shown = grid.read(drives)
    reached = stopped == 0
    hidden = float((reached & ~shown).sum() / max(int(reached.sum()), 1))
    if (shown & ~reached).any():
        return Fit(np.inf, hidden)
    strict = [strand for strand in strands if strand.strict]
    return Fit(float(worst_share(strict, values[shown], read[shown]).max(initial=0.0)), hidden)


@dataclass(frozen=True)
class _Bench:
    """What all sheets are made of: what one has sampled serves the others; `causes` are what stops poses."""

    memory: Memory
    low: Array
    high: Array
    causes: list[int] = field(default_factory=list)
    known: dict[tuple[tuple[int, ...], tuple[int, ...]], Nodes] = field(default_factory=dict)

    def nodes(self, axes: tuple[int, ...], counts: tuple[int, ...]) -> Nodes:
        """The nodes of a grid of some drives."""
        if (axes, counts) not in self.known:
            nodes = [axis_nodes(self.low[a], self.high[a], n) for a, n in zip(axes, counts, strict=True)]
            self.known[axes, counts] = Nodes(self.memory, axes, nodes, len(self.low))
        return self.known[axes, counts]


def _sheet(bench: _Bench, axes: tuple[int, ...], strands: tuple[Strand, ...], *, locks: bool) -> Sheet:
    """The coarsest level that holds, finer along those drives that need it, and what is shut there on finer ones."""
    exact = not strands or any(strand.strict for strand in strands)
    most = (MOST if exact else MOST_LAX)[len(axes)]
    most = min(most, max((strand.finest for strand in strands), default=most))
    if locks:
        most = min(most, MOST_LOCKED[len(axes)])
    finest = FINEST if exact else FINEST_LAX.get(len(axes), 1.0)
    counts = [FEWEST if strands else most for _ in axes]
    while True:
        asked = bench.nodes(axes, tuple(counts))
        cells = tuple(count - 1 for count in counts)
        untold = np.zeros(cells, dtype=np.uint8)
        growing = [k for k, count in enumerate(counts) if count < most]
        # Strands that need not be exact, on as many nodes as they may take: nothing hangs on how well they do.
        tried = CELLS if exact or growing else 0
        judged = judged_level(asked, strands, np.ones(cells, dtype=bool), untold, bench.causes, TRIES, tried)
        shut = finest == 1.0 and bool(judged.again.any())
        off = judged.off or (exact and not locks and bool(growing) and _off(bench, judged.level, axes, strands))
        if not (off or shut) or not growing:
            break
        if not off:
            counts = [most for _ in axes]
            continue
        needs = [_along(asked, strands, k) for k in growing]
        for k, need in zip(growing, needs, strict=True):
            counts[k] = _more(counts[k], need * len(axes) / EASY, must=need == max(needs), most=most)
    levels = [judged.level, *_finer(bench, asked, strands, judged, finest)]
    return Sheet(axes, strands, columns_of(strands), tuple(levels))


def _off(bench: _Bench, level: Level, axes: tuple[int, ...], strands: tuple[Strand, ...]) -> bool:
    """Whether a level without a lock is further off anywhere than it easily need be."""
    tried = np.random.default_rng(21).uniform(bench.low, bench.high, (ANYWHERE, len(bench.low)))
    values, stopped = bench.memory.sampled(tried)
    at = tried[:, axes]
    open_there = (stopped == 0) & (level.codes_at(at) < LOOSE)
    read = level.read(at[open_there], level.codes_at(at)[open_there])
    strict = [strand for strand in strands if strand.strict]
    return bool((worst_share(strict, values[open_there], read, columns_of(strands)) > EASY).any())


def _finer(bench: _Bench, asked: Nodes, strands: tuple[Strand, ...], judged: Judged, finest: float) -> list[Level]:
    """Levels for what is shut, each twice as fine as the one before, as far as is worth it."""
    levels, stored = [], 0
    codes, again, nodes = judged.level.codes, judged.again, asked.nodes
    while again.any() and max(np.diff(each).max() / np.ptp(each) for each in nodes) > 0.5 * finest:
        codes, again = halved(codes), halved(again)
        # What is shut lies along a line or a sheet: a level stores twice as much as the one before, or more.
        if np.count_nonzero(again) > POSES or stored + 2 * judged.level.stored.size > NUMBERS:
            break
        finer = bench.nodes(asked.axes, tuple(2 * len(each) - 1 for each in nodes))
        judged = judged_level(finer, strands, again, codes, bench.causes, FINE_TRIES, CELLS)
        stored += judged.level.stored.size
        levels.append(judged.level)
        codes, again, nodes = judged.level.codes, judged.again, finer.nodes
    return levels


def _more(count: int, off: float, *, must: bool, most: int) -> int:
    """How many nodes to take instead of `count`, off by so many times what is allowed: a cubic's error goes as h⁴."""
    wanted = (count - 1) * off**0.25
    larger = [rung for rung in RUNGS if rung > count - 1]
    if off <= 1.0 and not must:
        return count
    return min(next((rung for rung in larger if rung >= wanted), larger[-1]) + 1, most)


def _along(asked: Nodes, strands: tuple[Strand, ...], k: int) -> float:
    """The worst error in the middles of a grid's edges along one of its drives, read as if nothing locked."""
    reached = asked.stopped == 0
    along = np.moveaxis(reached, k, 0)
    edges = np.argwhere(np.moveaxis(along[1:] & along[:-1], 0, k))
    if not len(edges):
        return 0.0
    edges = edges[np.unique(np.linspace(0, len(edges) - 1, EDGES).astype(np.intp))]
    at = asked.places(np.asarray(np.ravel_multi_index(tuple(edges.T), asked.counts)))
    at[:, asked.axes[k]] += 0.5 * np.diff(asked.nodes[k])[edges[:, k]]
    values, stopped = asked.memory.sampled(at)
    columns = columns_of(strands)
    everything = np.arange(asked.stopped.size)
    level = stored_level(asked.nodes, np.zeros(0, dtype=np.uint8), everything, asked.values(everything)[:, columns])
    read = level.read(at[:, asked.axes], np.zeros(len(at), dtype=np.uint8))
    wrong = worst_share(strands, values, read, columns)
    return float(wrong[stopped == 0].max(initial=0.0))
