"""The edge of what a real car can be put in: poses of a grid's lines at which a hard stop is just reached."""

from __future__ import annotations

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
    """Drive values (M, D) of kept poses and of their neighbours that are not, along each drive."""
    values = poses.travel.values
    shape = tuple(len(np.unique(column)) for column in values.T)
    if len(values) != np.prod(shape):  # no grid, so it has no neighbours
        return np.zeros((0, values.shape[1])), np.zeros((0, values.shape[1]))
    number = np.arange(len(values)).reshape(shape)
    usable = kept & (poses.status == Status.SOLVED)
    inner, outer = [], []
    for axis in range(len(shape)):
        along = np.moveaxis(number, axis, 0)
        for first, second in ((along[:-1].ravel(), along[1:].ravel()), (along[1:].ravel(), along[:-1].ravel())):
            crossing = usable[first] & ~kept[second]
            inner.append(values[first[crossing]])
            outer.append(values[second[crossing]])
    return np.concatenate(inner), np.concatenate(outer)
