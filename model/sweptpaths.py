"""Where parts are over their whole travel: in given poses, and between them until the way is as good as straight.

Between two poses every vertex is taken to move straight. How far it leaves that line, its sag, is found from the pose
half-way between them; halving a step quarters the sag.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Self

import numpy as np
from numpy.typing import NDArray

from model.envelopes import MeasuredPart
from model.flexing import hose_line
from model.members import Transform
from model.meshes import Places, carried, pliant_mesh
from model.solids import HoseSolid, Pliant, SpringSolid
from model.spatial import Array, norm, rotation_about, rotation_vector

# Carriers' places in poses of drive values (N, D), NaN where a linkage locks, as `Path.rows` takes them.
Solve = Callable[[Array], tuple[Mapping[str, Transform], Array]]
# Vertices may leave their straight way by so many mm; past so many vertices in all poses the rest is added to them.
SAG, MOST_VERTICES = 0.05, 12_000_000
# A drive that moves nothing by so many mm, or rad, does not count.
STILL = 1e-6
# A grid of poses with less than this share of it there is taken as a path from pose to pose.
MOSTLY_THERE = 0.3


@dataclass(frozen=True)
class Path:
    """The parts that sweep a space, and where the parts that carry them are.

    `drives` (..., D) are drive values in their order along each drive that is felt, NaN where none were asked for, and
    `grid` (..., carriers, 6) the carriers' places there, NaN also where the linkage locks: a rotation vector, and where
    the carrier takes `middle` (3,), about which everything lies within `radius` mm at ride height. `sag` (axes,) is
    what vertices leave their straight way by along each axis, in mm.
    """

    parts: Sequence[MeasuredPart]
    carriers: Sequence[str]
    middle: Array
    radius: float
    drives: Array
    grid: Array
    sag: Array

    @classmethod
    def of(cls, parts: Sequence[MeasuredPart], placed: Mapping[str, Transform], there: Array, values: Array) -> Self:
        """Where the carriers of some parts are in N poses of drive values (N, D), of which some (N,) are `there`."""
        carriers = list(dict.fromkeys(name for part in parts for name in part.parts))
        points = np.concatenate([corners(part.mesh.points) for part in parts])
        middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
        radius = float(norm(points - middle).max())
        drives, grid = _in_order(values, _rows(carriers, middle, placed, there))
        return cls(parts, carriers, middle, radius, drives, grid, np.zeros(grid.ndim - 2))

    def straightened(self, solve: Solve) -> Path:
        """The same with poses between, until no vertex leaves its straight way by more than `SAG`."""
        path, vertices = self, sum(len(part.mesh.points) for part in self.parts)
        sag = np.where(np.array(self.grid.shape[:-2]) > 1, np.inf, 0.0)
        while sag.size and sag.max() > SAG:
            axis = int(sag.argmax())
            if np.isfinite(sag).all() and 2 * np.prod(path.grid.shape[:-2]) * vertices > MOST_VERTICES:
                break
            path = path._halved(axis, solve)
            sag[axis] = path._sag(axis)
        return replace(path, sag=sag)

    def _halved(self, axis: int, solve: Solve) -> Path:
        """The same with a pose between every two along one axis."""
        drives = resampled(self.drives, axis, 2 * self.drives.shape[axis] - 1)
        asked = np.asarray(np.isfinite(drives).all(axis=-1))
        known = (slice(None),) * axis + (slice(None, None, 2),)
        asked[known] = False
        grid = np.full((*asked.shape, len(self.carriers), 6), np.nan)
        grid[known] = self.grid
        if asked.any():
            grid[asked] = _rows(self.carriers, self.middle, *solve(drives[asked]))
        return replace(self, drives=drives, grid=grid)

    def _sag(self, axis: int) -> float:
        """How far along one axis vertices leave the straight way, from the poses that were last put between others."""
        there = np.isfinite(self.grid).all(axis=(-1, -2))
        probes = [self._probes(self.places(row)) for row in self.grid[there]]
        if not probes:
            return 0.0
        points = np.full((*there.shape, *probes[0].shape), np.nan)
        points[there] = probes
        points = np.moveaxis(points, axis, 0)
        # From the middle of a step that has since been halved: a quarter of it is left.
        left = 0.25 * norm(points[1::2] - 0.5 * (points[:-1:2] + points[2::2]))
        return float(np.nanmax(left)) if np.isfinite(left).any() else 0.0

    def _probes(self, places: Places) -> Array:
        """Points (k, 3) of the parts at `places`: as a move is linear, no rigid part sags more than its corners."""
        found = [_moved(corners(part.mesh.points), places, part) for part in self.parts if part.rigid]
        return np.concatenate([*found, *(_spine(solid, places) for part in self.parts for solid in part.pliant)])

    def places(self, row: Array) -> Places:
        """Where each carrier is, from one row (carriers, 6)."""
        angle = norm(row[:, :3])
        rotation = rotation_about(row[:, :3] / np.maximum(angle, 1e-12)[:, None], angle)
        translation = row[:, 3:] - rotation @ self.middle
        return lambda name: (rotation[self.carriers.index(name)], translation[self.carriers.index(name)])

    def vertices(self, row: Array) -> Array:
        """Every vertex (n, 3) of every part, from one row (carriers, 6); NaN where that is."""
        if not np.isfinite(row).all():
            return np.full((sum(len(part.mesh.points) for part in self.parts), 3), np.nan)
        places = self.places(row)
        return np.concatenate([part.at(places).points for part in self.parts])

    def patches(self) -> Iterator[tuple[Array, tuple[bool, ...]]]:
        """Every vertex (2, ..., n, 3) in neighbouring poses, and whether they are the last along each axis.

        They are two along an axis, or one where that is all.
        """
        shape = self.grid.shape[:-2]
        slabs: dict[int, dict[tuple[int, ...], Array]] = {}
        for index in product(*(range(max(1, count - 1)) for count in shape)):
            for first in [old for old in slabs if old < index[0]]:
                del slabs[first]
            near = [range(at, min(at + 2, count)) for at, count in zip(index, shape, strict=True)]
            found = []
            for node in product(*near):
                slab = slabs.setdefault(node[0], {})
                if node not in slab:
                    slab[node] = self.vertices(self.grid[node])
                found.append(slab[node])
            last = tuple(some.stop == count for some, count in zip(near, shape, strict=True))
            yield np.stack(found).reshape(*(len(some) for some in near), *found[0].shape), last

    def bounds(self) -> tuple[Array, Array]:
        """Lowest and highest corner (3,) of all poses that are there."""
        low, high = np.full(3, np.inf), np.full(3, -np.inf)
        for row in self.grid[np.isfinite(self.grid).all(axis=(-1, -2))]:
            places = self.places(row)
            for part in self.parts:
                points = part.at(places).points if part.pliant else _moved(corners(part.mesh.points), places, part)
                low, high = np.minimum(low, points.min(axis=0)), np.maximum(high, points.max(axis=0))
        return low, high

    def stations(self, cell: float, most: int) -> Array:
        """Places (M, carriers, 6) along the travel, a cell apart or as many as there is time for."""
        grid, axes = self.grid, self.grid.ndim - 2
        ways = np.array([(grid.shape[axis] - 1) * self._reach(axis) for axis in range(axes)])
        counts = np.where(np.array(grid.shape[:axes]) > 1, np.ceil(ways / cell) + 1.0, 1.0)
        while counts.prod() > most and counts.max() > 2:
            counts = np.maximum(np.floor(0.9 * counts), np.minimum(counts, 2))
        for axis, count in enumerate(counts.astype(int)):
            grid = resampled(grid, axis, count)
        there = [rows[np.isfinite(rows).all(axis=(-1, -2))] for rows in (grid, self.grid)]
        # A travel with holes may have none of its poses where these fall.
        return there[0] if len(there[0]) > 0.5 * counts.prod() else np.concatenate(there)

    def _reach(self, axis: int) -> float:
        """How far in mm any vertex moves at most from one pose to the next along one axis."""
        step = np.diff(self.grid, axis=axis)
        far = norm(step[..., 3:]) + norm(step[..., :3]) * self.radius
        return float(np.nanmax(far)) if np.isfinite(far).any() else 0.0


def _rows(carriers: Sequence[str], middle: Array, placed: Mapping[str, Transform], there: Array) -> Array:
    """Places (N, carriers, 6) of carriers, NaN where they are not `there` (N,)."""
    turned = np.stack([rotation_vector(placed[name].rotation) for name in carriers], axis=1)
    moved = np.stack([placed[name].point(middle) for name in carriers], axis=1)
    return np.where(there[:, None, None], np.concatenate([turned, moved], axis=-1), np.nan)


def _in_order(values: Array, rows: Array) -> tuple[Array, Array]:
    """Drive values (N, D) and rows (N, carriers, 6) as a grid, without the drives that move nothing here."""
    levels = [np.unique(column, return_inverse=True) for column in values.T]
    shape = tuple(len(level) for level, _ in levels)
    if len(rows) < MOSTLY_THERE * np.prod(shape):
        return values, rows
    grid, drives = np.full((*shape, *rows.shape[1:]), np.nan), np.full((*shape, len(shape)), np.nan)
    at = tuple(where for _, where in levels)
    grid[at], drives[at] = rows, values
    for axis in reversed(range(len(shape))):
        highest, lowest = np.fmax.reduce(grid, axis=axis), np.fmin.reduce(grid, axis=axis)
        spread = highest - lowest
        if not (spread[np.isfinite(spread)] > STILL).any():
            drives = _held(drives, np.asarray(np.isfinite(grid).all(axis=(-1, -2))), axis, np.abs(levels[axis][0]))
            grid = highest
    return (drives, grid) if drives.ndim > 1 else (drives[None], grid[None])


def _held(drives: Array, there: NDArray[np.bool_], axis: int, away: Array) -> Array:
    """Drive values without an axis that is not felt: where a pose is there, and then where it is least `away`."""
    asked = np.isfinite(drives).all(axis=-1)
    away = away.reshape([-1 if number == axis else 1 for number in range(there.ndim)])
    worth = np.where(asked, away, np.inf) + np.where(there, 0.0, 1.0 + away.max())
    best = np.expand_dims(worth.argmin(axis=axis), axis)[..., None]
    return np.asarray(np.take_along_axis(drives, best, axis).squeeze(axis))


def resampled(grid: Array, axis: int, count: int) -> Array:
    """A grid with so many places along one axis, evenly between its first and its last."""
    last = grid.shape[axis] - 1
    if last == 0:
        return grid
    at = np.linspace(0.0, last, count)
    low = np.minimum(np.floor(at).astype(int), last - 1)
    share = (at - low).reshape([-1 if number == axis else 1 for number in range(grid.ndim)])
    before, after = np.take(grid, low, axis), np.take(grid, low + 1, axis)
    # What is there stays, though its neighbour is not.
    between = before + share * (after - before)
    return np.asarray(np.where(share == 0.0, before, np.where(share == 1.0, after, between)))


def corners(points: Array) -> Array:
    """Corners (8, 3) of the box about points (n, 3)."""
    low, high = points.min(axis=0), points.max(axis=0)
    return np.asarray(low + (high - low) * np.array(list(np.ndindex(2, 2, 2))))


def _moved(points: Array, places: Places, part: MeasuredPart) -> Array:
    rotation, translation = places(part.parts[0])
    return np.asarray(points @ rotation.T + translation)


def _spine(solid: Pliant, places: Places) -> Array:
    """Points (k, 3) that what changes shape is built on; vertices about them may turn from pose to pose."""
    match solid:
        case SpringSolid():
            top, bottom = carried(places, solid.top_part, solid.top), carried(places, solid.bottom_part, solid.bottom)
            return np.stack([top, bottom])
        case HoseSolid():
            ends = [carried(places, part, at) for part, at in zip(solid.parts, solid.ends, strict=True)]
            return hose_line(solid, ends[0], ends[1])
        case _:
            return pliant_mesh(solid, places).points
