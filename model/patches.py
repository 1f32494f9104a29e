"""Where two parts touch: the patch of one that is inside the other, or as good as touches it.

A part's triangles are as large as its shape allows, so they are halved along their longest edge until a patch of them
has the outline of the touch. A point is inside a closed mesh where a ray from it leaves the mesh more often than it
enters: that holds for solids that overlap, too. A mesh that is not closed has no inside.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from model.spatial import Array, across, norm, triad, unit
from model.triangles import Mesh

# What is nearer than this (mm) as good as touches; a touch is drawn in pieces of this size (mm), or so that there are
# about this many.
REACH, GRAIN, PIECES = 1.0, 2.0, 6000
# Points by triangles that are compared at a time.
BLOCK = 2_000_000
# No edge of a person's or of our shapes runs along this line.
_RAY = unit(np.array([0.5377, 0.2618, 0.8013]))


def touching(one: Mesh, other: Mesh, reach: float = REACH) -> Mesh:
    """The patch of one mesh that is inside another or within `reach` mm of it, both as they stand in one pose.

    Its triangles lie in those of `one`; whether a piece belongs to the patch is decided at its middle. Empty where the
    two keep apart.
    """
    low, high = other.points.min(axis=0) - reach, other.points.max(axis=0) + reach
    corners = _within(one.points[one.faces], low, high)
    pieces = _fine(corners, low, high)
    middles = pieces.mean(axis=1)
    there = _within(other.points[other.faces], middles.min(axis=0), middles.max(axis=0), reach) if len(pieces) else None
    touches = np.zeros(len(pieces), dtype=bool)
    if _closed(other):
        touches = inside(middles, other)
    if there is not None and len(there):
        touches[~touches] = _near(middles[~touches], there, reach)
    kept = pieces[touches]
    return Mesh(kept.reshape(-1, 3), np.arange(3 * len(kept)).reshape(-1, 3))


def inside(points: Array, mesh: Mesh) -> NDArray[np.bool_]:
    """Which points (k, 3) are inside a closed mesh."""
    if not len(points):
        return np.zeros(0, dtype=bool)
    axes = triad(_RAY, across(np.array([0.0, 0.0, 1.0]), _RAY))
    flat, seen = (mesh.points @ axes)[mesh.faces], points @ axes
    low, high = seen[:, 1:].min(axis=0), seen[:, 1:].max(axis=0)
    flat = flat[((flat[..., 1:].max(axis=1) >= low) & (flat[..., 1:].min(axis=1) <= high)).all(axis=1)]
    crossed = np.zeros(len(points))
    step = max(1, BLOCK // max(1, len(flat)))
    for start in range(0, len(points), step):
        crossed[start : start + step] = _crossings(seen[start : start + step], flat)
    return crossed > 0.5


def _crossings(points: Array, flat: Array) -> Array:
    """How often (k,) rays along the first axis leave a mesh less how often they enter it."""
    low, high = flat.min(axis=1), flat.max(axis=1)
    maybe = points[:, None, 0] <= high[:, 0]
    for axis in (1, 2):
        maybe &= (points[:, None, axis] >= low[:, axis]) & (points[:, None, axis] <= high[:, axis])
    row, column = np.nonzero(maybe)
    seen, spots = flat[column], points[row]
    turn = []
    for corner in range(3):
        start, stop = seen[:, corner], seen[:, (corner + 1) % 3]
        edge, offset = stop - start, spots - start
        turn.append(edge[:, 1] * offset[:, 2] - edge[:, 2] * offset[:, 1])
    sides = np.stack(turn)
    hit = (sides > 0.0).all(axis=0) * 1.0 - (sides < 0.0).all(axis=0)
    depth = sides[1] * seen[:, 0, 0] + sides[2] * seen[:, 1, 0] + sides[0] * seen[:, 2, 0]
    ahead = np.divide(depth, sides.sum(axis=0), out=np.zeros_like(depth), where=hit != 0.0) > spots[:, 0]
    return np.bincount(row, hit * ahead, len(points)).astype(float)


def _within(corners: Array, low: Array, high: Array, reach: float = 0.0) -> Array:
    """Triangles (m, 3, 3) whose boxes come within reach of a box."""
    near = (corners.max(axis=1) >= low - reach) & (corners.min(axis=1) <= high + reach)
    return np.asarray(corners[near.all(axis=1)])


def _fine(corners: Array, low: Array, high: Array) -> Array:
    """Triangles (m, 3, 3) halved until no edge is longer than the grain; what leaves the box is left out."""
    sides = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    # What is large reaches beyond the box and is not all halved: the box bounds it as well.
    room = 2.0 * float(np.sort(high - low)[1:].prod()) if len(corners) else 0.0
    area = min(0.5 * float(norm(sides).sum()), room)
    grain = max(GRAIN, float(np.sqrt(2.0 * area / PIECES)))
    done = []
    while len(corners):
        edges = norm(np.roll(corners, -1, axis=1) - corners)
        small = edges.max(axis=1) <= grain
        done.append(corners[small])
        left, longest = corners[~small], edges[~small].argmax(axis=1)
        rows = np.arange(len(left))
        start, stop, tip = (left[rows, (longest + k) % 3] for k in range(3))
        middle = 0.5 * (start + stop)
        corners = np.concatenate([np.stack([start, middle, tip], 1), np.stack([middle, stop, tip], 1)])
        corners = _within(corners, low, high)
    return np.concatenate([np.zeros((0, 3, 3)), *done])


def _near(points: Array, corners: Array, reach: float) -> NDArray[np.bool_]:
    """Which points (k, 3) are within reach of any triangle (m, 3, 3)."""
    import trimesh  # half a second, and few pictures show a touch

    triangles: Any = trimesh.triangles  # ships without annotations
    low, high = corners.min(axis=1) - reach, corners.max(axis=1) + reach
    near = np.zeros(len(points), dtype=bool)
    step = max(1, BLOCK // len(corners))
    for start in range(0, len(points), step):
        block = points[start : start + step, None]
        row, column = np.nonzero(((block >= low) & (block <= high)).all(axis=2))
        closest = triangles.closest_point(corners[column], block[row, 0])
        hit = norm(closest - block[row, 0]) <= reach
        near[start + row[hit]] = True
    return near


def _closed(mesh: Mesh) -> bool:
    """Whether every edge has a neighbour that runs the other way."""
    count = len(mesh.points)
    start, stop = mesh.faces.ravel(), np.roll(mesh.faces, -1, axis=1).ravel()
    return bool(np.array_equal(np.sort(start * count + stop), np.sort(stop * count + start)))
