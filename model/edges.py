"""The edge of what a real car can be put in: poses of a grid's lines at which a hard stop is just reached."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from model.poses import Poses, Status
from model.solver import solve
from model.spatial import Array
from model.stops import inside
from model.travel import Travel

# A line between two poses of a grid is halved so often: to a 256th of it, 0.03 mm of a step of 7 mm.
HALVINGS = 8


def edge_values(poses: Poses, kept: NDArray[np.bool_]) -> Array:
    """Drive values (M, D) between neighbours of a grid of which one is kept and the other beyond a hard stop.

    Args:
        poses: of a full grid over the drives, the last drive fastest.
        kept: which of them (N,) lie inside every hard stop.

    Returns:
        the last values on each such line from the kept one on that are known to be inside.

    """
    inner, outer = _neighbours(poses, kept)
    low, high = np.zeros(len(inner)), np.ones(len(inner))
    if not len(inner):
        return inner
    for _ in range(HALVINGS):
        share = 0.5 * (low + high)
        tried = solve(poses.mechanism, Travel(poses.travel.names, inner + share[:, None] * (outer - inner)))
        good = (tried.status == Status.SOLVED) & inside(tried)
        low, high = np.where(good, share, low), np.where(good, high, share)
    return np.asarray(inner + low[:, None] * (outer - inner))


def _neighbours(poses: Poses, kept: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Drive values (M, D) of kept poses and of neighbours that are not: along each drive, and both wheels at once."""
    values = poses.travel.values
    shape = tuple(len(np.unique(column)) for column in values.T)
    if len(values) != np.prod(shape):  # no grid, so it has no neighbours
        return np.zeros((0, values.shape[1])), np.zeros((0, values.shape[1]))
    number = np.arange(len(values)).reshape(shape)
    usable = kept & (poses.status == Status.SOLVED)
    inner, outer = [], []
    for way in _ways(poses.travel.names):
        here = tuple(slice(max(0, -step), count - max(0, step)) for step, count in zip(way, shape, strict=True))
        there = tuple(slice(max(0, step), count - max(0, -step)) for step, count in zip(way, shape, strict=True))
        first, second = number[here].ravel(), number[there].ravel()
        for one, other in ((first, second), (second, first)):
            crossing = usable[one] & ~kept[other]
            inner.append(values[one[crossing]])
            outer.append(values[other[crossing]])
    return np.concatenate(inner), np.concatenate(outer)


def _ways(names: Sequence[str]) -> list[tuple[int, ...]]:
    """Steps on a grid: of one drive, and of both wheels, together and crossed."""
    ways = [tuple(int(one == other) for other in names) for one in names]
    if {"left", "right"} <= set(names):
        for sign in (1, -1):
            ways.append(tuple({"left": 1, "right": sign}.get(name, 0) for name in names))
    return ways
