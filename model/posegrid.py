"""What depends on the drives as small tables, interpolated between their nodes to within a stated error.

A strand is some columns that belong together, such as the place of a part. Strands that the same drives move share a
sheet: a table over a grid of those drives alone, refined until interpolation holds between its nodes. Along each drive
the four nearest nodes define the cubic through them (Lagrange), and a cell is the space between neighbouring nodes;
one in which a pose locks or interpolation does not hold is shut, so that nothing false is ever read from a table.
Numbers are stored as 16-bit steps between each column's lowest and highest value.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from model.spatial import Array

# Values (N, K) at drives (N, D), and which of those poses (N,) can be reached.
Sample = Callable[[Array], tuple[Array, NDArray[np.bool_]]]
Mask = NDArray[np.bool_]

# A strand that moves less than this share of what it may be wrong by does not feel a drive.
UNFELT = 1e-3
LEVELS = 65535


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
class Sheet:
    """A table over the drives with numbers `axes`, at `nodes`, one array for each of them.

    `stored` (*counts, k) are steps of `step` (k,) from `low` (k,); they are the sampled `columns` (k,), strand by
    strand. Cells (*counts less one) that are not `open` must not be read.
    """

    axes: tuple[int, ...]
    nodes: tuple[Array, ...]
    strands: tuple[Strand, ...]
    columns: NDArray[np.intp]
    low: Array
    step: Array
    stored: NDArray[np.uint16]
    open: Mask

    def read(self, drives: Array) -> tuple[Array, Mask]:
        """Values (N, k) at drives (N, D), and which of them (N,) lie in open cells."""
        count = len(drives)
        values, cells = np.zeros((count, len(self.columns))), []
        firsts, weights = [], []
        for axis, nodes in zip(self.axes, self.nodes, strict=True):
            cell, first, weight = cubic_weights(nodes, drives[:, axis])
            cells.append(cell)
            firsts.append(first)
            weights.append(weight)
        for corner in product(range(4), repeat=len(self.axes)):
            weight = np.ones(count)
            for k, offset in enumerate(corner):
                weight = weight * weights[k][:, offset]
            node = tuple(first + offset for first, offset in zip(firsts, corner, strict=True))
            values += weight[:, None] * self.stored[node]
        return self.low + self.step * values, np.broadcast_to(self.open[tuple(cells)], (count,))


@dataclass(frozen=True)
class PoseGrid:
    """Sheets for every one of `width` columns."""

    sheets: tuple[Sheet, ...]
    width: int

    def read(self, drives: Array) -> tuple[Array, Mask]:
        """Values (N, K) at drives (N, D), and which of those poses (N,) may be shown."""
        values, shown = np.zeros((len(drives), self.width)), np.ones(len(drives), dtype=bool)
        for sheet in self.sheets:
            values[:, sheet.columns], inside = sheet.read(drives)
            shown &= inside
        return values, shown


def cubic_weights(nodes: Array, at: Array) -> tuple[NDArray[np.intp], NDArray[np.intp], Array]:
    """The cell (N,) that values (N,) lie in, the first (N,) of four nodes about it, and the weight (N, 4) of each."""
    cell = np.clip(np.searchsorted(nodes, at, side="right") - 1, 0, len(nodes) - 2)
    first = np.clip(cell - 1, 0, len(nodes) - 4)
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


def felt_drives(values: Array, solved: Mask, strand: Strand) -> tuple[int, ...]:
    """Numbers of the drives that a strand feels, from its values on a grid of all drives."""
    felt = []
    for axis in range(solved.ndim):
        along, both = np.moveaxis(values, axis, 0), np.moveaxis(solved, axis, 0)
        both = both[1:] & both[:-1]
        if strand.share(along[1:][both], along[:-1][both]).max(initial=0.0) > UNFELT:
            felt.append(axis)
    return tuple(felt)


def worst_share(
    strands: Sequence[Strand], values: Array, read: Array, columns: NDArray[np.intp] | None = None
) -> Array:
    """The largest share (n,) of any strand's allowance, of values (n, K); of `columns` of them where those are read."""
    where = {int(column): k for k, column in enumerate(np.arange(values.shape[1]) if columns is None else columns)}
    worst = np.zeros(len(values))
    for strand in strands:
        start = where[strand.start]
        mine = slice(start, start + strand.stop - strand.start)
        worst = np.maximum(worst, strand.share(values[:, strand.start : strand.stop], read[:, mine]))
    return worst


def table(
    whole: Array, solved: Mask, nodes: Sequence[Array], axes: tuple[int, ...], strands: tuple[Strand, ...]
) -> Sheet:
    """A table of strands of values (*counts, K) at nodes, its cells open where all their corners can be reached."""
    columns = np.array([column for strand in strands for column in range(strand.start, strand.stop)], dtype=np.intp)
    values = _filled(whole[..., columns], solved)
    flat = values.reshape(solved.size, len(columns))
    bottom, span = flat.min(axis=0), np.ptp(flat, axis=0)
    step = np.where(span > 0.0, span / LEVELS, 1.0)
    stored = np.round((values - bottom) / step).astype(np.uint16)
    open_cells = solved
    for axis in range(len(axes)):
        along = np.moveaxis(open_cells, axis, 0)
        open_cells = np.moveaxis(along[1:] & along[:-1], 0, axis)
    return Sheet(axes, tuple(nodes), strands, columns, bottom, step, stored, np.array(open_cells))


def _filled(values: Array, solved: Mask) -> Array:
    """Values with those of poses that lock carried on from the three before them, nearest to rest first.

    What is carried on is read only as a far neighbour of cells that can be entered.
    """
    values, known = values.copy(), solved.copy()
    while not known.all():
        before = known.copy()
        for axis in range(known.ndim):
            along, seen = np.moveaxis(values, axis, 0), np.moveaxis(known, axis, 0)
            for order in (range(3, len(seen)), range(len(seen) - 4, -1, -1)):
                back = -1 if order.step > 0 else 1
                for row in order:
                    fresh = ~seen[row] & seen[row + back] & seen[row + 2 * back] & seen[row + 3 * back]
                    one, two, three = (along[row + k * back][fresh] for k in (1, 2, 3))
                    along[row][fresh] = 3.0 * one - 3.0 * two + three
                    seen[row] |= fresh
        if (known == before).all():
            break
    return values
