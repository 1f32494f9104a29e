"""The grid that poses make of their drive values: neighbours of each pose, and what happens on the way to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import minimum_filter

from model.spatial import Array, norm

# Poses that fill less than this share of the grid of their values are no grid but a film or a list.
FILLED = 0.25
# Second differences along the axes leave out what two drives do together: a quarter more covers it.
ALLOWANCE = 1.25


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

    def bow(self, points: Array) -> float:
        """How far points (M, K, 3) stray at most from the straight lines between neighbouring nodes, mm."""
        stray = 0.0
        if self.table is None:
            return stray
        for axis in self._axes():
            table = np.moveaxis(self.table, axis, 0)
            if len(table) < 3:
                continue
            before, here, after = (part.ravel() for part in (table[:-2], table[1:-1], table[2:]))
            there = (before >= 0) & (here >= 0) & (after >= 0)
            bent = points[before[there]] - 2.0 * points[here[there]] + points[after[there]]
            stray += float(norm(bent).max(initial=0.0)) / 8.0
        return ALLOWANCE * stray

    def lowest_around(self, values: Array) -> Array:
        """The lowest value (M,) of each node and its neighbours."""
        if self.table is None:
            return values
        spread = np.where(self.table >= 0, values[self.table], np.inf)
        lowest = minimum_filter(spread, size=3, mode="nearest")
        result = np.empty_like(values)
        result[self.table[self.table >= 0]] = lowest[self.table >= 0]
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
