"""What depends on the drives as small tables, interpolated between their nodes to within a stated error.

A strand is some columns that belong together, such as the place of a part. Strands that the same drives move share a
sheet: tables over a grid of those drives alone. Along each drive four neighbouring nodes define the cubic through them
(Lagrange), and a cell is the space between two nodes. A cell in which a pose locks, or interpolation does not hold, is
shut, so that nothing false is ever read. Shut cells are halved along each drive, again and again, on levels that hold
only the nodes that their cells need: the steps grow finer towards where the linkage locks, which no even grid follows.
Numbers are stored as 16-bit steps between each column's lowest and highest value.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from model.spatial import Array

Index = NDArray[np.intp]
Mask = NDArray[np.bool_]
Codes = NDArray[np.uint8]
# Which members stop each of some poses (N,): a bit for each of them, 0 where the pose can be reached.
Stopped = NDArray[np.int64]
# Values (N, K) at drives (N, D), and what stops those poses.
Sample = Callable[[Array], tuple[Array, Stopped]]

# A strand that moves less than this share of what it may be wrong by does not feel a drive.
UNFELT = 1e-3
LEVELS = 65535
# What is known of a cell. Below LOOSE it is open: its digits to the base of 3, one for each drive, say how far before
# its own first node the first of its four nodes is. LOOSE: it can be reached, but its tables do not hold. From LOCKED
# on it cannot be reached, and what is above LOCKED is the number of what stops it.
BEFORE = (1, 2, 0)
LOOSE, LOCKED = 27, 28


@dataclass(frozen=True)
class Strand:
    """Columns `start` to `stop` of what is sampled; strands of the same `kind` may share a sheet.

    `share` gives for values (n, w) and what was read instead (n, w) the error (n,) as a share of what is allowed. Where
    one that is not `strict` is further off, its cells stay open all the same, and no more than `finest` nodes are spent
    along a drive.
    """

    name: str
    kind: str
    start: int
    stop: int
    share: Callable[[Array, Array], Array]
    strict: bool = True
    finest: int = 129


@dataclass(frozen=True)
class Level:
    """A table on one grid: its `nodes`, an array for each drive, and the codes (*counts less one) of its cells.

    Nodes with the `numbers` (n,), in order, are `stored` (n, k): as steps of `step` (k,) from `low` (k,).
    """

    nodes: tuple[Array, ...]
    codes: Codes
    numbers: Index
    low: Array
    step: Array
    stored: NDArray[np.uint16]

    def cells(self, at: Array) -> tuple[Index, ...]:
        """The cell that each place (N, axes) lies in, as an index of `codes`."""
        return tuple(cell_of(nodes, column) for nodes, column in zip(self.nodes, at.T, strict=True))

    def codes_at(self, at: Array) -> Codes:
        """The codes (N,) of the cells that places (N, axes) lie in."""
        return np.broadcast_to(self.codes[self.cells(at)], (len(at),))

    def read(self, at: Array, codes: Codes) -> Array:
        """Values (N, k) at places (N, axes) in cells of these codes (N,)."""
        firsts, weights = [], []
        for k, nodes in enumerate(self.nodes):
            before = np.take(BEFORE, codes // 3**k % 3)
            _, first, weight = cubic_weights(nodes, at[:, k], before)
            firsts.append(first)
            weights.append(weight)
        counts, values = tuple(map(len, self.nodes)), np.zeros((len(at), self.stored.shape[1]))
        for corner in product(range(4), repeat=len(self.nodes)):
            weight = np.ones(len(at))
            number = np.zeros(len(at), dtype=np.intp)
            for k, offset in enumerate(corner):
                weight = weight * weights[k][:, offset]
                number = number * counts[k] + firsts[k] + offset
            values += weight[:, None] * self.stored[np.searchsorted(self.numbers, number)]
        return self.low + self.step * values


@dataclass(frozen=True)
class Sheet:
    """Tables over the drives with numbers `axes`, the coarsest level first.

    They hold the sampled `columns` (k,), strand by strand. The last level says of every cell what is known of it.
    """

    axes: tuple[int, ...]
    strands: tuple[Strand, ...]
    columns: Index
    levels: tuple[Level, ...]

    @property
    def exact(self) -> bool:
        """Whether it says which poses can be shown; what is read from another is told only where that one is open."""
        return not self.strands or any(strand.strict for strand in self.strands)

    def codes_at(self, drives: Array) -> Codes:
        """What is known of the cells (N,) that drives (N, D) lie in."""
        return self.levels[-1].codes_at(drives[:, self.axes])

    def read(self, drives: Array) -> Array:
        """Values (N, k) at drives (N, D), from the coarsest level that is open there; NaN where none is."""
        at = drives[:, self.axes]
        values = np.full((len(at), len(self.columns)), np.nan)
        left = np.ones(len(at), dtype=bool)
        for level in self.levels:
            codes = level.codes_at(at)
            here = left & (codes < LOOSE)
            values[here] = level.read(at[here], codes[here])
            left &= ~here
        return values


@dataclass(frozen=True)
class PoseGrid:
    """Sheets for every one of `width` columns; `causes` are what stops in cells whose codes are LOCKED and above."""

    sheets: tuple[Sheet, ...]
    width: int
    causes: tuple[int, ...] = ()

    def read(self, drives: Array) -> tuple[Array, Mask]:
        """Values (N, K) at drives (N, D), and which of those poses (N,) may be shown."""
        values, shown = np.zeros((len(drives), self.width)), np.ones(len(drives), dtype=bool)
        for sheet in self.sheets:
            values[:, sheet.columns] = sheet.read(drives)
            if sheet.exact:
                shown &= sheet.codes_at(drives) < LOOSE
        return values, shown


def cell_of(nodes: Array, at: Array) -> Index:
    """The cell (N,) that values (N,) lie in."""
    return np.clip(np.searchsorted(nodes, at, side="right") - 1, 0, len(nodes) - 2)


def cubic_weights(nodes: Array, at: Array, before: Index | int = 1) -> tuple[Index, Index, Array]:
    """The cell (N,) that values (N,) lie in, the first (N,) of four nodes about it, and the weight (N, 4) of each.

    The first is so many nodes `before` the cell's own, where there are as many.
    """
    cell = cell_of(nodes, at)
    first = np.clip(cell - before, 0, len(nodes) - 4)
    near = nodes[first[:, None] + np.arange(4)]
    weights = np.ones((len(at), 4))
    for one, other in product(range(4), repeat=2):
        if one != other:
            weights[:, one] *= (at - near[:, other]) / (near[:, one] - near[:, other])
    return cell, first, weights


def axis_nodes(low: float, high: float, steps: int) -> Array:
    """Nodes (steps,) with zero in the middle."""
    half = (steps + 1) // 2
    return np.concatenate([np.linspace(low, 0.0, half)[:-1], np.linspace(0.0, high, half)])


def places_of(nodes: Sequence[Array], numbers: Index, axes: tuple[int, ...], drives: int) -> Array:
    """The drives (n, D) of nodes of a grid of the drives `axes`, by their numbers (n,); the others are at rest."""
    at = np.zeros((len(numbers), drives))
    for axis, along in zip(reversed(axes), reversed(nodes), strict=True):
        numbers, index = np.divmod(numbers, len(along))
        at[:, axis] = along[index]
    return at


def felt_drives(values: Array, reached: Mask, strand: Strand) -> tuple[int, ...]:
    """Numbers of the drives that a strand feels, from its values on a grid of all drives."""
    felt = []
    for axis in range(reached.ndim):
        along, both = np.moveaxis(values, axis, 0), np.moveaxis(reached, axis, 0)
        both = both[1:] & both[:-1]
        if strand.share(along[1:][both], along[:-1][both]).max(initial=0.0) > UNFELT:
            felt.append(axis)
    return tuple(felt)


def columns_of(strands: Sequence[Strand]) -> Index:
    """The columns of strands, strand by strand."""
    return np.array([column for strand in strands for column in range(strand.start, strand.stop)], dtype=np.intp)


def worst_share(strands: Sequence[Strand], values: Array, read: Array, columns: Index | None = None) -> Array:
    """The largest share (n,) of any strand's allowance, of values (n, K); of `columns` of them where those are read."""
    where = {int(column): k for k, column in enumerate(np.arange(values.shape[1]) if columns is None else columns)}
    worst = np.zeros(len(values))
    for strand in strands:
        start = where[strand.start]
        mine = slice(start, start + strand.stop - strand.start)
        worst = np.maximum(worst, strand.share(values[:, strand.start : strand.stop], read[:, mine]))
    return worst


def stored_level(nodes: Sequence[Array], codes: Codes, numbers: Index, values: Array) -> Level:
    """A level of the values (n, k) of some nodes."""
    bottom, span = (values.min(axis=0), np.ptp(values, axis=0)) if len(values) else np.zeros((2, values.shape[1]))
    step = np.where(span > 0.0, span / LEVELS, 1.0)
    return Level(tuple(nodes), codes, numbers, bottom, step, np.round((values - bottom) / step).astype(np.uint16))
