"""The grid that poses make of their drive values: neighbours of each pose, and what happens on the way to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, minimum_filter

from model.spatial import Array

# Poses that fill less than this share of the grid of their values are no grid but a film or a list.
FILLED = 0.25
# Second differences along the axes leave out what two drives do together: a quarter more covers it.
ALLOWANCE = 1.25
# Points of a part that are followed between nodes.
SAGGING = 64


@dataclass(frozen=True)
class Nodes:
    """M poses as nodes of a grid: `table` (...) of their numbers, −1 where none is, `levels` of each drive.

    `table` is None where the poses are no grid; nothing is then known between them.
    """

    table: NDArray[np.intp] | None
    levels: tuple[Array, ...]

    @classmethod
    def of(cls, values: Array) -> Nodes:
        """The grid of distinct drive values (M, D)."""
        found = [np.unique(column, return_inverse=True) for column in values.T]
        levels = tuple(level for level, _ in found)
        shape = tuple(map(len, levels))
        if not shape or len(values) < FILLED * np.prod(shape):
            return cls(None, levels)
        table = np.full(shape, -1, dtype=np.intp)
        table[tuple(where for _, where in found)] = np.arange(len(values))
        return cls(table, levels)

    def halfway(self, points: Sequence[Array]) -> Array:
        """How far (M, K) each of K pieces moves at most on the way from a node to the middle of its cells.

        `points` are arrays (M, K, P, 3) whose motions add up.
        """
        far = np.zeros(points[0].shape[:2])
        for axis in self._axes():
            low, high, there = self._steps(axis)
            low, high = low[there], high[there]
            step = sum((_moved(p[low], p[high]) for p in points), start=np.zeros((1, 1)))
            most = np.zeros_like(far)
            np.maximum.at(most, low, step)
            np.maximum.at(most, high, step)
            far += 0.5 * most
        return far

    def around(self, which: NDArray[np.bool_], steps: int) -> NDArray[np.bool_]:
        """Some nodes (M,) and those that are at most so many steps away along every axis."""
        if self.table is None:
            return which
        wide = binary_dilation(
            (self.table >= 0) & which[self.table], np.ones((3,) * self.table.ndim, dtype=bool), steps
        )
        result = np.empty_like(which)
        result[self.table[self.table >= 0]] = wide[self.table >= 0]
        return result

    def sag(self, values: Array, which: NDArray[np.intp]) -> Array:
        """How far (n, P or 1) values (n, P) at some nodes fall at most below the straight lines between these.

        Along each axis it is an eighth of the second derivative times the wider step squared, where that bends down
        between nodes; it is known where the neighbours are among the nodes. Of many points it is the largest of some,
        since it differs little over a part.
        """
        if self.table is None:
            return np.zeros_like(values)
        if (every := 1 + values.shape[1] // SAGGING) > 1:
            return np.asarray(self.sag(values[:, ::every], which).max(axis=1, keepdims=True))
        scattered = np.full((1 + int(self.table.max()), values.shape[1]), np.nan)
        scattered[which] = values
        spread = np.where(self.table[..., None] >= 0, scattered[self.table], np.nan)
        total = np.zeros_like(spread)
        for axis in self._axes():
            along, sum_ = np.moveaxis(spread, axis, 0), np.moveaxis(total, axis, 0)
            steps = np.diff(self.levels[axis])
            if len(along) > 2:
                # fmax takes nothing from where a neighbour is not known.
                before, after = (gap.reshape(-1, *(1,) * (along.ndim - 1)) for gap in (steps[:-1], steps[1:]))
                slope = (along[2:] - along[1:-1]) / after - (along[1:-1] - along[:-2]) / before
                bent = np.fmax(2.0 * slope / (before + after), 0.0) * np.maximum(before, after) ** 2
                sum_[1:-1] += bent
                sum_[0] += bent[0]
                sum_[-1] += bent[-1]
        result = np.empty_like(scattered)
        result[self.table[self.table >= 0]] = total[self.table >= 0]
        return ALLOWANCE / 8.0 * result[which]

    def lowest_around(self, values: Array) -> Array:
        """The lowest value (M,) of each node and its neighbours."""
        if self.table is None:
            return values
        spread = np.where(self.table >= 0, values[self.table], np.inf)
        lowest = minimum_filter(spread, size=3, mode="nearest")
        result = np.empty_like(values)
        result[self.table[self.table >= 0]] = lowest[self.table >= 0]
        return result

    def in_cells(self, values: Array, pick: np.ufunc, missing: float) -> Array:
        """What `pick` (np.minimum or np.maximum) takes of the values (M,) at the corners of each cell of the grid."""
        if self.table is None:
            raise AssertionError("poses that are no grid have no cells")
        cells = np.where(self.table >= 0, values[self.table], missing)
        for axis in self._axes():
            if cells.shape[axis] > 1:
                low, high = (np.delete(cells, end, axis=axis) for end in (-1, 0))
                cells = pick(low, high)
        return np.asarray(cells)

    def corners_of(self, cells: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Which nodes (M,) are corners of some cells of the grid."""
        if self.table is None:
            raise AssertionError("poses that are no grid have no cells")
        for axis, count in enumerate(self.table.shape):
            if count > 1:
                ends = [(1, 1) if each == axis else (0, 0) for each in range(cells.ndim)]
                wide = np.pad(cells, ends)
                cells = np.delete(wide, -1, axis=axis) | np.delete(wide, 0, axis=axis)
        result = np.zeros(1 + int(self.table.max()), dtype=bool)
        result[self.table[self.table >= 0]] = cells[self.table >= 0]
        return result

    def spacing(self) -> Array:
        """The widest step (D,) of each drive."""
        return np.array([float(np.diff(level).max(initial=0.0)) for level in self.levels])

    def _axes(self) -> range:
        return range(0 if self.table is None else self.table.ndim)

    def _steps(self, axis: int) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.bool_]]:
        """Numbers of the nodes on both sides of every step along an axis, and whether both are there."""
        if self.table is None:
            raise AssertionError("poses that are no grid have no steps")
        table = np.moveaxis(self.table, axis, 0)
        low, high = table[:-1].ravel(), table[1:].ravel()
        return low, high, (low >= 0) & (high >= 0)


def _moved(points: Array, others: Array) -> Array:
    """How far (n, K) points (n, K, P, 3) move at most."""
    gone = points - others
    return np.asarray(np.sqrt(np.einsum("nkpi,nkpi->nkp", gone, gone).max(axis=2)))
