"""Signed distance of closed meshes on a grid of points: negative inside, known near the surface, capped beyond.

Distances are those to the triangles themselves. Inside is where the surface winds about a point at least once, so that
solids which overlap count as one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import trimesh
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from model.spatial import Array, dot, norm
from model.triangles import Mesh

Counts = NDArray[np.int64]
# How many cells from the surface distances are known.
BAND = 2.0
# Triangles are cut until no edge is longer than so many cells: the box about a long one holds many points far from it.
LONGEST_EDGE = 4.0
# Pairs of a point and a triangle at a time: some 100 MB.
PAIRS = 500_000
# Lines that are searched for crossings run beside the points by these shares of a cell, where no corner of a mesh lies.
BESIDE = np.array([0.000371, 0.000613])
# A field is smoothed over so many cells; its surface may then lie these shares of a cell farther out and in.
SMOOTHED, OUTWARDS, INWARDS = 0.8, 0.1, 0.05


@dataclass(frozen=True)
class Field:
    """Values (nx, ny, nz) in mm at points `low` (3,) + cell · (i, j, k), at most BAND cells large."""

    values: Array
    low: Array
    cell: float


def box_about(points: Array, cell: float) -> tuple[Array, tuple[int, int, int]]:
    """Lowest corner (3,) and shape of a grid that holds points (n, 3) with more than the band about them."""
    room = (BAND + 1.0) * cell
    low, high = points.min(axis=0) - room, points.max(axis=0) + room
    nx, ny, nz = (int(count) for count in np.ceil((high - low) / cell) + 1)
    return low, (nx, ny, nz)


def signed_field(mesh: Mesh, cell: float, closed: bool) -> Field:
    """The field of a mesh on a grid of its own; an open surface has no inside and keeps its plain distance."""
    low, shape = box_about(mesh.points, cell)
    cap = BAND * cell
    remesh: Any = trimesh.remesh
    points, faces = remesh.subdivide_to_size(mesh.points, mesh.faces, LONGEST_EDGE * cell, max_iter=16)
    corners = (np.asarray(points)[faces] - low) / cell
    distance = np.minimum(cell * np.sqrt(_squares(corners, shape)), cap)
    if closed:
        inside = _windings((mesh.points[mesh.faces] - low) / cell, shape) > 0
        distance = np.where(inside, -distance, distance)
    return Field(distance, low, cell)


def cylinder_field(start: Array, stop: Array, radius: float, cell: float) -> Field:
    """The field of a closed cylinder between two points (3,)."""
    line = stop - start
    low, shape = box_about(np.stack([np.minimum(start, stop) - radius, np.maximum(start, stop) + radius]), cell)
    offset = low + cell * np.moveaxis(np.indices(shape), 0, -1) - 0.5 * (start + stop)
    along = offset @ (line / norm(line))
    out = np.sqrt(np.maximum(dot(offset, offset) - along**2, 0.0)) - radius
    beyond = np.abs(along) - 0.5 * norm(line)
    distance = np.hypot(np.maximum(out, 0.0), np.maximum(beyond, 0.0)) + np.minimum(np.maximum(out, beyond), 0.0)
    return Field(np.clip(distance, -BAND * cell, BAND * cell), low, cell)


def tube_field(line: Array, radius: float, cell: float) -> Field:
    """The field of a round tube along a path (k, 3), its ends round."""
    # Points along the path so near to each other that the tube between them is thinner by less than a hundredth.
    gaps = norm(np.diff(line, axis=0))
    steps = np.maximum(np.ceil(gaps / (0.25 * radius)).astype(int), 1)
    path = np.concatenate(
        [
            start + np.linspace(0.0, 1.0, count + 1)[:, None] * (stop - start)
            for start, stop, count in zip(line[:-1], line[1:], steps, strict=True)
        ]
    )
    low, shape = box_about(np.stack([line.min(axis=0) - radius, line.max(axis=0) + radius]), cell)
    points = low + cell * np.indices(shape).reshape(3, -1).T
    cap = BAND * cell
    away, _ = cKDTree(path).query(points, distance_upper_bound=radius + cap)
    return Field(np.clip(away - radius, -cap, cap).reshape(shape), low, cell)


def _squares(corners: Array, shape: tuple[int, int, int]) -> Array:
    """Squared distance of each point of a grid to the nearest of triangles (m, 3, 3), all in cells."""
    squares = np.full(np.prod(shape), BAND**2)
    first = np.clip(np.ceil(corners.min(axis=1) - BAND), 0, np.array(shape) - 1).astype(np.int64)
    last = np.clip(np.floor(corners.max(axis=1) + BAND), 0, np.array(shape) - 1).astype(np.int64)
    for triangle, at in _nodes(first, last):
        np.minimum.at(squares, np.ravel_multi_index(tuple(at.T), shape), _to_triangle(at, corners[triangle]))
    return squares.reshape(shape)


def _nodes(first: Counts, last: Counts) -> Iterator[tuple[Counts, Counts]]:
    """Boxes (m, d) of grid points written out: the number of the box (k,) and the point (k, d), so many at a time."""
    sizes = np.maximum(last - first + 1, 0)
    counts = sizes.prod(axis=1)
    ends = np.cumsum(counts)
    start = 0
    while start < len(counts):
        stop = max(start + 1, int(np.searchsorted(ends, (ends[start - 1] if start else 0) + PAIRS, "right")))
        some = counts[start:stop]
        box = np.repeat(np.arange(start, stop), some)
        rest = np.arange(some.sum()) - np.repeat(np.cumsum(some) - some, some)
        at = np.empty((len(rest), first.shape[1]), dtype=np.int64)
        for axis in reversed(range(first.shape[1])):
            rest, at[:, axis] = np.divmod(rest, np.maximum(sizes[box, axis], 1))
        yield box, at + first[box]
        start = stop


def _to_triangle(points: Array | Counts, corners: Array) -> Array:
    """Squared distance (k,) of points (k, 3) to triangles (k, 3, 3): to the plane if above it, else to the edges."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    normal = np.cross(b - a, c - a)
    area = np.maximum(dot(normal, normal), 1e-30)
    height = dot(points - a, normal)
    above = np.ones(len(points), dtype=bool)
    nearest = np.full(len(points), np.inf)
    for start, stop in ((a, b), (b, c), (c, a)):
        edge, offset = stop - start, points - start
        above &= dot(np.cross(edge, offset), normal) >= 0.0
        share = np.clip(dot(offset, edge) / np.maximum(dot(edge, edge), 1e-30), 0.0, 1.0)
        away = offset - share[:, None] * edge
        nearest = np.minimum(nearest, dot(away, away))
    return np.asarray(np.where(above, height**2 / area, nearest))


def _windings(corners: Array, shape: tuple[int, int, int]) -> Counts:
    """How often closed triangles (m, 3, 3) wind about each point of a grid, all in cells.

    A line up from a point leaves the solid where it crosses a triangle that faces up, and enters it where one faces
    down.
    """
    crossed = np.zeros((shape[0], shape[1], shape[2] + 1), dtype=np.int64)
    flat = corners[..., :2] - BESIDE
    first = np.clip(np.ceil(flat.min(axis=1)), 0, None).astype(np.int64)
    last = np.minimum(np.floor(flat.max(axis=1)), np.array(shape[:2]) - 1).astype(np.int64)
    for box, points in _nodes(first, last):
        a, b, c = (flat[box, corner] for corner in range(3))
        shares = np.stack([_twice_area(points, b, c), _twice_area(points, c, a), _twice_area(points, a, b)], axis=-1)
        through = (shares > 0.0).all(axis=-1) | (shares < 0.0).all(axis=-1)
        shares, at = shares[through], points[through]
        whole = shares.sum(axis=-1)
        height = (shares * corners[box[through], :, 2]).sum(axis=-1) / whole
        level = np.clip(np.ceil(height), 0, shape[2]).astype(np.int64)
        np.add.at(crossed, (at[:, 0], at[:, 1], level), np.sign(whole).astype(np.int64))
    # A point lies below every crossing whose level is above its own number.
    above: Any = np.cumsum(crossed[..., ::-1], axis=-1)[..., ::-1]
    return np.asarray(above[..., 1:])


def _twice_area(at: Counts, b: Array, c: Array) -> Array:
    return (b[:, 0] - at[:, 0]) * (c[:, 1] - at[:, 1]) - (b[:, 1] - at[:, 1]) * (c[:, 0] - at[:, 0])


def smooth(field: Field) -> None:
    """Even out the steps that a grid leaves in slanted walls; they move out by a little, and in by no more than that.

    So no thin wall is lost, and sharp corners keep most of their edge.
    """
    even = ndimage.gaussian_filter(field.values, SMOOTHED) - OUTWARDS * field.cell
    np.minimum(even, field.values + INWARDS * field.cell, out=field.values)
