"""The space that a part needs over its whole travel, as one closed mesh.

The signed distance of a part is found once, on a grid that rides on the part. Over a grid that stands still the least
of it over all places of the part is kept; where that is zero is the surface. Between two neighbouring poses the part is
moved on in steps of a cell, so that a thin bar leaves no gaps; there its turn and its middle are taken to change
evenly, which for a step h along an arc of radius R is wrong by h² / 8 R.

How exact it is: every vertex in every given pose is inside (to `TOLERANCE`); the surface lies about a tenth of a cell
outside of what it should, as its steps are smoothed, and at most about a cell, and that only at sharp edges. Rooms that
are closed all round are filled.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from scipy import ndimage

from model.envelopes import Kind, MeasuredPart, measured_parts
from model.errors import CallError
from model.flexing import hose_line
from model.marching import linear_values, zero_surface
from model.mechanism import Mechanism
from model.members import Transform, posture
from model.meshes import Places, carried, pliant_mesh
from model.naming import suggestion
from model.poses import Poses, Status
from model.signedfields import BAND, Field, box_about, cylinder_field, signed_field, smooth, tube_field
from model.solids import HoseSolid, Pliant, SpringSolid
from model.solver import Progress
from model.spatial import Array, norm, rotation_about, rotation_vector
from model.triangles import Mesh, edge_faults, joined

# A vertex may lie so far outside the swept space, in mm.
TOLERANCE = 0.01
# Cells along the longest side where no size is asked for, and in all: a wheel and its travel take some seconds.
CELLS_ALONG, MOST_CELLS = 80, 2_000_000
FINEST = 2.0
# Most places of a part that are drawn on the grid, and of one that changes shape, which is measured anew for each.
MOST_PLACES, MOST_SHAPES = 500, 150
# A drive that moves nothing by so many mm, or rad, does not count.
STILL = 1e-6
# A grid of poses with less than this share of it there is taken as a path from pose to pose.
MOSTLY_THERE = 0.3


def swept_mesh(poses: Poses, label: str, cell: float | None = None, progress: Progress | None = None) -> Mesh:
    """The space that a part needs over the solved poses, in vehicle coordinates.

    Args:
        poses: over which travel; those in which the linkage locks are left out.
        label: a part, or an entry of the scene such as a coilover; brackets that are welded to a part go with it.
        cell: of the grid in mm; by the size of the space unless given, and never so small that it takes minutes.
        progress: called with places done and places in all.

    Raises:
        CallError: nothing has this label, or no pose was reached.

    """
    parts = parts_named(poses.mechanism, label)
    solved = poses.take(np.flatnonzero(poses.status == Status.SOLVED))
    if len(solved) == 0:
        raise CallError(f'"{label}" sweeps no space: the linkage locks in every pose; ask for less travel.')
    return swept_space(parts, posture(solved).parts, solved.travel.values, cell, progress)


def swept_space(
    parts: Sequence[MeasuredPart],
    placed: Mapping[str, Transform],
    values: Array,
    cell: float | None = None,
    progress: Progress | None = None,
) -> Mesh:
    """The space that parts need, their carriers `placed` in N poses with drive values (N, D); as `swept_mesh`."""
    path = _Path.of(parts, placed, values)
    low, high = path.bounds()
    cell = _cell_size(high - low, cell)
    origin, shape = box_about(np.stack([low, high]), cell)
    field = Field(np.full(shape, BAND * cell), origin, cell)
    _draw(field, path, progress)
    smooth(field)
    _fill(field)
    _take_in(field, path.vertices())
    return zero_surface(field)


def parts_named(mechanism: Mechanism, label: str) -> list[MeasuredPart]:
    """The measured parts of a label or an entry of the scene, with the brackets that are welded to them."""
    measured = measured_parts(mechanism)
    found = [part for part in measured if label in (part.label, part.member)]
    if not found:
        known = sorted(
            {name for part in measured for name in (part.label, part.member) if part.kind is not Kind.BRACKET}
        )
        raise CallError(f'"{label}" is no part of this scene; {suggestion(label, known)}')
    welded = [part for part in measured if part.kind is Kind.BRACKET and part.parts == (label,) and part not in found]
    return [*found, *welded]


@dataclass(frozen=True)
class _Path:
    """The parts that sweep a space, and where the parts that carry them are.

    `given` (N, carriers, 6) are the different poses, `grid` (..., carriers, 6) the same in their order along each drive
    that is felt, NaN where a pose is missing: a rotation vector, and where the carrier takes `middle` (3,), about which
    everything lies within `radius` mm at ride height.
    """

    parts: Sequence[MeasuredPart]
    carriers: Sequence[str]
    given: Array
    grid: Array
    middle: Array
    radius: float

    @classmethod
    def of(cls, parts: Sequence[MeasuredPart], placed: Mapping[str, Transform], values: Array) -> Self:
        """Where the carriers of some parts are in N poses."""
        carriers = list(dict.fromkeys(name for part in parts for name in part.parts))
        corners = np.concatenate([_corners(part.mesh.points) for part in parts])
        middle = 0.5 * (corners.min(axis=0) + corners.max(axis=0))
        turned = np.stack([rotation_vector(placed[name].rotation) for name in carriers], axis=1)
        moved = np.stack([placed[name].point(middle) for name in carriers], axis=1)
        rows = np.concatenate([turned, moved], axis=-1)
        _, first = np.unique(np.round(rows.reshape(len(rows), -1), 7), axis=0, return_index=True)
        grid = _in_order(values, rows)
        return cls(parts, carriers, rows[first], grid, middle, float(norm(corners - middle).max()))

    def places(self, row: Array) -> Places:
        """Where each carrier is, from one row (carriers, 6)."""
        angle = norm(row[:, :3])
        rotation = rotation_about(row[:, :3] / np.maximum(angle, 1e-12)[:, None], angle)
        translation = row[:, 3:] - rotation @ self.middle
        return lambda name: (rotation[self.carriers.index(name)], translation[self.carriers.index(name)])

    def vertices(self) -> Iterator[Array]:
        """Every vertex (n, 3) of every part, pose by pose: all of them at once would fill the memory."""
        for row in self.given:
            places = self.places(row)
            for part in self.parts:
                yield part.at(places).points

    def bounds(self) -> tuple[Array, Array]:
        """Lowest and highest corner (3,) of all that is given."""
        low, high = np.full(3, np.inf), np.full(3, -np.inf)
        for row in self.given:
            places = self.places(row)
            for part in self.parts:
                points = part.at(places).points if part.pliant else _moved(_corners(part.mesh.points), places, part)
                low, high = np.minimum(low, points.min(axis=0)), np.maximum(high, points.max(axis=0))
        return low, high

    def stations(self, cell: float) -> Array:
        """Places (M, carriers, 6) along the travel, a cell apart or as many as there is time for."""
        most = MOST_PLACES if all(part.rigid for part in self.parts) else MOST_SHAPES
        grid, axes = self.grid, self.grid.ndim - 2
        steps = np.array([self._reach(axis) / cell for axis in range(axes)])
        counts = np.array([(grid.shape[axis] - 1) * max(1.0, np.ceil(steps[axis])) + 1 for axis in range(axes)])
        while counts.prod() > most and counts.max() > 2:
            counts = np.maximum(np.floor(0.9 * counts), np.minimum(counts, 2))
        for axis, count in enumerate(counts.astype(int)):
            grid = _resampled(grid, axis, count)
        rows = grid.reshape(-1, *grid.shape[-2:])
        rows = rows[np.isfinite(rows).all(axis=(1, 2))]
        return np.concatenate([rows, self.given]) if len(self.given) <= most else rows

    def _reach(self, axis: int) -> float:
        """How far in mm any vertex moves at most from one pose to the next along one drive."""
        step = np.diff(self.grid, axis=axis)
        far = norm(step[..., 3:]) + norm(step[..., :3]) * self.radius
        return float(np.nanmax(far)) if np.isfinite(far).any() else 0.0


def _in_order(values: Array, rows: Array) -> Array:
    """Rows (N, carriers, 6) on the grid of their drive values (N, D), without the drives that move nothing here."""
    levels = [np.unique(column, return_inverse=True) for column in values.T]
    shape = tuple(len(level) for level, _ in levels)
    if len(rows) < MOSTLY_THERE * np.prod(shape):
        return rows
    grid = np.full((*shape, *rows.shape[1:]), np.nan)
    grid[tuple(where for _, where in levels)] = rows
    for axis in reversed(range(len(shape))):
        highest, lowest = np.fmax.reduce(grid, axis=axis), np.fmin.reduce(grid, axis=axis)
        spread = highest - lowest
        if not (spread[np.isfinite(spread)] > STILL).any():
            grid = highest
    return grid


def _resampled(grid: Array, axis: int, count: int) -> Array:
    """A grid with so many places along one axis, evenly between its first and its last."""
    last = grid.shape[axis] - 1
    if last == 0:
        return grid
    at = np.linspace(0.0, last, count)
    low = np.minimum(np.floor(at).astype(int), last - 1)
    share = (at - low).reshape([-1 if number == axis else 1 for number in range(grid.ndim)])
    before, after = np.take(grid, low, axis), np.take(grid, low + 1, axis)
    return np.asarray(before + share * (after - before))


def _draw(field: Field, path: _Path, progress: Progress | None) -> None:
    """Keep the least distance to the parts over all their places."""
    own = {}
    for carrier in path.carriers:
        meshes = [part.mesh for part in path.parts if part.rigid and part.parts[0] == carrier]
        if meshes:
            closed = all(edge_faults(mesh.faces)[0] == 0 for mesh in meshes)
            own[carrier] = signed_field(joined(meshes), field.cell, closed)
    pliant = [solid for part in path.parts for solid in part.pliant]
    stations = path.stations(field.cell)
    for number, row in enumerate(stations):
        places = path.places(row)
        for carrier, ours in own.items():
            _lay(field, ours, *places(carrier))
        for solid in pliant:
            _lay(field, _pliant_field(solid, places, field.cell), np.eye(3), np.zeros(3))
        if progress is not None:
            progress(number + 1, len(stations))


def _pliant_field(solid: Pliant, places: Places, cell: float) -> Field:
    """The field of what changes shape, as it is with its parts at `places`."""
    match solid:
        case SpringSolid():
            top, bottom = carried(places, solid.top_part, solid.top), carried(places, solid.bottom_part, solid.bottom)
            return cylinder_field(bottom, top, solid.mean_radius + solid.wire_radius, cell)
        case HoseSolid():
            ends = [carried(places, part, at) for part, at in zip(solid.parts, solid.ends, strict=True)]
            return tube_field(hose_line(solid, ends[0], ends[1]), solid.radius, cell)
        case _:
            return signed_field(pliant_mesh(solid, places), cell, closed=True)


def _lay(field: Field, part: Field, rotation: Array, translation: Array) -> None:
    """Lower a field to a part's own field (rotated and moved) where that is lower."""
    size = part.cell * (np.array(part.values.shape) - 1)
    box = part.low + size * np.array(list(np.ndindex(2, 2, 2)))
    seen = (box @ rotation.T + translation - field.low) / field.cell
    first = np.maximum(np.ceil(seen.min(axis=0)).astype(int), 0)
    last = np.minimum(np.floor(seen.max(axis=0)).astype(int), np.array(field.values.shape) - 1)
    if (last < first).any():
        return
    window = tuple(slice(low, high + 1) for low, high in zip(first, last, strict=True))
    # A point of the window, in the part's own grid: back through the move and the turn, then in cells.
    offset = (rotation.T @ (field.low + field.cell * first - translation) - part.low) / part.cell
    matrix = rotation.T * (field.cell / part.cell)
    shown = ndimage.affine_transform(
        part.values, matrix, offset, tuple(last - first + 1), order=1, cval=BAND * part.cell
    )
    np.minimum(field.values[window], shown, out=field.values[window])


def _fill(field: Field) -> None:
    """Fill rooms that are closed all round, and leave the border outside."""
    inside = field.values < 0.0
    rooms = ndimage.binary_fill_holes(inside) & ~inside
    field.values[rooms] = -field.cell
    for axis in range(3):
        for end in (0, -1):
            np.moveaxis(field.values, axis, 0)[end] = BAND * field.cell


def _take_in(field: Field, blocks: Iterable[Array]) -> None:
    """Lower the field where points, in blocks (n, 3), would lie outside: by as much as that takes and no more.

    Lowered by one amount at the four grid points that a value is taken from, the value sinks by that amount.
    """
    # The highest corner of each cube: where that is inside, so is everything in the cube, and stays so.
    highest = ndimage.maximum_filter(field.values, size=2, origin=-1)
    flat = field.values.reshape(-1)
    for points in blocks:
        cubes = np.floor((points - field.low) / field.cell).astype(int)
        doubtful = points[highest[tuple(cubes.T)] > -TOLERANCE]
        value, nodes = linear_values(field, doubtful)
        out = value > -TOLERANCE
        np.minimum.at(flat, nodes[out], flat[nodes[out]] - value[out, None] - TOLERANCE)


def _cell_size(extent: Array, asked: float | None) -> float:
    """The size of a cell for a space of some extent (3,) in mm: as asked, if that is not too fine."""
    cell = asked or max(FINEST, float(extent.max()) / CELLS_ALONG)
    while np.prod(extent / cell + 2.0 * BAND + 3.0) > MOST_CELLS:
        cell *= 1.05
    return cell


def _corners(points: Array) -> Array:
    """Corners (8, 3) of the box about points (n, 3)."""
    low, high = points.min(axis=0), points.max(axis=0)
    return np.asarray(low + (high - low) * np.array(list(np.ndindex(2, 2, 2))))


def _moved(points: Array, places: Places, part: MeasuredPart) -> Array:
    rotation, translation = places(part.parts[0])
    return np.asarray(points @ rotation.T + translation)
