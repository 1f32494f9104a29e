"""One level of a sheet of `model.posegrid`: which nodes it needs, and what is known of its cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter

from model.posegrid import (
    BEFORE,
    LOCKED,
    LOOSE,
    Codes,
    Index,
    Level,
    Mask,
    Stopped,
    Strand,
    columns_of,
    places_of,
    stored_level,
    worst_share,
)
from model.posememory import Memory
from model.spatial import Array

Kind = TypeVar("Kind", bound=np.generic)

UNKNOWN = -1
# What is left of an allowance for poses that lie between those that are tried: in one cell, and where a grid could have
# more nodes instead.
RESERVE, EASY = 0.7, 0.5
# Steps, as shares of a cell, from one place that is tried in it to the next, along up to three drives, and from a cell
# to the next: multiples of them lie evenly between 0 and 1, and evenly in the cell together (powers of the root of
# x⁴ x = 1 + x of the R sequence of quasi-random points in three dimensions; the golden section).
SPREAD, GOLDEN = (0.8191725134, 0.6710436067, 0.5497004779), 0.6180339887


class Nodes:
    """The nodes of a grid of some drives, the others at rest, of which only those that are asked for are sampled.

    `stopped` (*counts) is UNKNOWN until then.
    """

    def __init__(self, memory: Memory, axes: tuple[int, ...], nodes: Sequence[Array], drives: int) -> None:
        """Begin with nothing sampled."""
        self.memory, self.axes, self.nodes, self.drives = memory, axes, tuple(nodes), drives
        self.counts = tuple(map(len, nodes))
        self.stopped: Stopped = np.full(self.counts, UNKNOWN, dtype=np.int64)
        self._rows: Index = np.full(self.stopped.size, UNKNOWN, dtype=np.intp)

    def ask(self, numbers: Index) -> None:
        """Sample those of some nodes that were not yet."""
        new = np.unique(numbers)
        new = new[self.stopped.ravel()[new] == UNKNOWN]
        if len(new):
            self._rows[new] = self.memory.rows(self.places(new))
            self.stopped.ravel()[new] = self.memory.stopped(self._rows[new])

    def ask_all(self) -> None:
        """Sample every node."""
        self.ask(np.arange(self.stopped.size))

    def values(self, numbers: Index) -> Array:
        """The values (n, K) of nodes that were sampled."""
        return self.memory.values(self._rows[numbers])

    def places(self, numbers: Index) -> Array:
        """The drives (n, D) of nodes."""
        return places_of(self.nodes, numbers, self.axes, self.drives)

    def around(self, cells: Index, before: int, after: int) -> Index:
        """Numbers (m, so many) of the nodes about cells (m, axes): from so many before their own first node on.

        Past an end of the grid it is as many from that end.
        """
        size = before + after + 1
        firsts = [np.clip(cells[:, k] - before, 0, max(count - size, 0)) for k, count in enumerate(self.counts)]
        steps = [np.arange(min(size, count)) for count in self.counts]
        found = np.zeros((len(cells), 1), dtype=np.intp)
        for first, step, count in zip(firsts, steps, self.counts, strict=True):
            found = (found[:, :, None] * count + (first[:, None] + step)[:, None, :]).reshape(
                len(cells), found.shape[1] * len(step)
            )
        return found

    def corners(self, cells: Index) -> Index:
        """Numbers (m, 2**axes) of the nodes at the corners of cells (m, axes)."""
        return self.around(cells, 0, 1)

    def inside(self, cells: Index, tries: int) -> Array:
        """Drives (m * tries, D) in cells (m, axes): the middle of each first, then elsewhere in it.

        Sheets over the same grid try the same places. Along each drive a place depends on nothing but the cell's number
        there, so that few places are tried of each half of a suspension that feels one of the drives alone.
        """
        at = np.zeros((len(cells), tries, self.drives))
        for k, (axis, nodes) in enumerate(zip(self.axes, self.nodes, strict=True)):
            cell = cells[:, k, None]
            share = (0.5 + np.arange(tries) * (SPREAD[k] + GOLDEN * cell)) % 1.0
            at[:, :, axis] = nodes[cell] + share * np.diff(nodes)[cell]
        return at.reshape(-1, self.drives)


@dataclass(frozen=True)
class Judged:
    """A level, which of its cells a finer one should look at again, and whether anything that is not shut is off."""

    level: Level
    again: Mask
    off: bool


def judged_level(
    asked: Nodes,
    strands: tuple[Strand, ...],
    looked_at: Mask,
    before: Codes,
    causes: list[int],
    tries: int,
    most: int,
) -> Judged:
    """Look at some cells of a grid: those whose four nodes along each drive can be reached and whose tables hold open.

    Args:
        asked: the nodes; those that are needed and were not sampled yet will be.
        strands: what is tabled; nothing where the level only says where anything locks.
        looked_at: which cells (*counts less one).
        before: what is known of the others.
        causes: what stops; what is new is added.
        tries: poses that are tried in each cell.
        most: cells that are tried where no cell has to be shut for being off: as many, evenly among them.

    """
    strict = [strand for strand in strands if strand.strict]
    cells = np.argwhere(looked_at)
    asked.ask(asked.corners(cells).ravel())
    corners = asked.stopped.ravel()[asked.corners(cells)]
    reached = (corners == 0).all(axis=1)
    codes = before.copy()
    put(codes, cells[~reached], _locked(corners[~reached], causes))
    inner = cells[reached]
    put(codes, inner, _framed(asked, inner) if strands else np.zeros(len(inner), dtype=np.uint8))
    candidates = inner[told(codes, inner) < LOOSE]
    columns = columns_of(strands)
    level = _stored(asked, codes, candidates, columns, whole=bool(looked_at.all()))
    some = not strict and len(strands) > 0 and bool(reached.all()) and len(candidates) > most
    tried = candidates[np.linspace(0, len(candidates) - 1, most).astype(np.intp)] if some else candidates
    at = asked.inside(tried, tries)
    values, stopped = asked.memory.sampled(at) if len(at) else (np.zeros((0, 0)), np.zeros(0, dtype=np.int64))
    wrong, false = np.zeros(len(at)), np.zeros(len(at))
    if strands and len(at):
        read = level.read(at[:, asked.axes], np.repeat(told(codes, tried), tries))
        wrong, false = (worst_share(some, values, read, columns) for some in (strands, strict))
    by_cell = stopped.reshape(-1, tries)
    stops, loose = (by_cell != 0).any(axis=1), (false > RESERVE).reshape(-1, tries).any(axis=1)
    put(codes, tried[loose], LOOSE)
    put(codes, tried[stops], _locked(by_cell[stops], causes))
    again = np.asarray(looked_at & (codes >= LOOSE))
    hopeless = (corners != 0).all(axis=1)
    if strict:
        seamed = with_seam(codes, looked_at)
        again |= seamed != codes
        codes = seamed
    again[tuple(cells[hopeless].T)] = False
    open_cells = candidates[told(codes, candidates) < LOOSE]
    final = _stored(asked, codes, open_cells, columns, whole=bool(looked_at.all()))
    return Judged(final, again, bool(((stopped != 0) | (wrong > EASY)).any()))


def told(codes: Codes, cells: Index) -> Codes:
    """The codes (m,) of cells (m, axes)."""
    return np.broadcast_to(codes[tuple(cells.T)], (len(cells),))


def put(codes: Codes, cells: Index, what: Codes | int) -> None:
    """Write codes (m,) down for cells (m, axes)."""
    if len(cells):
        codes[tuple(cells.T)] = what if codes.ndim else np.ravel(what)[0]


def halved(cells: NDArray[Kind]) -> NDArray[Kind]:
    """What is said of the cells of a grid, for one twice as fine."""
    for axis in range(cells.ndim):
        cells = np.repeat(cells, 2, axis=axis)
    return cells


def _locked(stopped: Stopped, causes: list[int]) -> Codes:
    """Codes (m,) of cells by what stops some of the poses (m, k) in each: what they have in common, or all of it."""
    common = np.bitwise_and.reduce(np.where(stopped == 0, -1, stopped), axis=1)
    members = np.where(common > 0, common, np.bitwise_or.reduce(stopped, axis=1))
    codes = np.zeros(len(members), dtype=np.uint8)
    for cause in np.unique(members).tolist():
        if cause not in causes and LOCKED + len(causes) < 255:
            causes.append(cause)
        codes[members == cause] = LOCKED + (causes.index(cause) if cause in causes else 0)
    return codes


def _framed(asked: Nodes, cells: Index) -> Codes:
    """Codes (m,) of cells by four nodes along each drive that can be reached; nodes that it takes are asked for."""
    asked.ask(asked.around(cells, 1, 2).ravel())
    codes = framed(asked.stopped == 0, cells)
    asked.ask(asked.around(cells[codes == LOOSE], 2, 3).ravel())
    return framed(asked.stopped == 0, cells)


def framed(reached: Mask, cells: Index) -> Codes:
    """Codes (m,) of cells (m, axes) by four nodes along each drive that are `reached`, as near about it as they are."""
    codes = np.full(len(cells), LOOSE, dtype=np.uint8)
    counts = reached.shape
    for axis in range(reached.ndim):
        along = np.moveaxis(reached, axis, 0)
        reached = np.moveaxis(along[:-3] & along[1:-2] & along[2:-1] & along[3:], 0, axis)
    ways = product(range(len(BEFORE)), repeat=reached.ndim)
    for digits in sorted(ways, key=lambda each: (sum(map(bool, each)), each)):
        left = np.flatnonzero(codes == LOOSE)
        firsts = tuple(np.clip(cells[left, k] - BEFORE[digit], 0, counts[k] - 4) for k, digit in enumerate(digits))
        fits = np.broadcast_to(reached[firsts], len(left))
        codes[left[fits]] = sum(digit * 3**k for k, digit in enumerate(digits))
    return codes


def _stored(asked: Nodes, codes: Codes, cells: Index, columns: Index, *, whole: bool) -> Level:
    """A level with all nodes, or only those that open cells (m, axes) read."""
    if not len(columns):
        return stored_level(asked.nodes, codes, np.zeros(0, dtype=np.intp), np.zeros((0, 0)))
    if whole:
        asked.ask_all()
        numbers = np.arange(asked.stopped.size)
    else:
        mine = told(codes, cells)
        numbers = np.zeros(0, dtype=np.intp)
        for code in np.unique(mine).tolist():
            before = [BEFORE[code // 3**k % 3] for k in range(len(asked.axes))]
            # Four nodes from where each begins: as `around` counts them, of cells moved back by so many.
            moved = cells[mine == code] - np.array(before)
            numbers = np.union1d(numbers, asked.around(moved, 0, 3))
    return stored_level(asked.nodes, codes, numbers, asked.values(numbers)[:, columns])


def with_seam(codes: Codes, looked_at: Mask) -> Codes:
    """Codes with those cells shut too that touch a shut one: next to a lock the error has its peak in some corner."""
    shut = np.where(codes >= LOOSE, codes, 0)
    spread = maximum_filter(shut, size=3, mode="constant") if codes.ndim else shut
    return np.asarray(np.where(looked_at & (codes < LOOSE) & (spread >= LOOSE), spread, codes))
