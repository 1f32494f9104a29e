"""The space that a part needs over its whole travel, as one closed mesh.

The signed distance of a part is found once, on a grid that rides on the part. Over a grid that stands still the least
of it over many places of the part is kept, so that a thin bar leaves no gaps; where that is zero is the surface. Then
the way of every vertex is followed from pose to pose, and where it would lie outside the surface is moved out.

How exact it is: every vertex is inside in every given pose and in every pose between them, where the way from one to
the next is bent by no more than `SAG` and what is left of it is added; only where the linkage locks in one of two
neighbouring poses, nothing is known between them. The surface lies about a tenth of a cell outside of what it should,
as its steps are smoothed, and at most about a cell, and that only at sharp edges and at walls
that are thinner than a cell. Rooms that are closed all round are filled.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import trimesh
from scipy import ndimage

from model.envelopes import Kind, MeasuredPart, measured_parts
from model.errors import CallError
from model.flexing import hose_line
from model.marching import CLEAR, linear_values, zero_surface
from model.mechanism import Mechanism
from model.members import Transform, posture
from model.meshes import Places, carried, pliant_mesh
from model.naming import suggestion
from model.poses import Poses, Status
from model.signedfields import BAND, Field, box_about, cylinder_field, signed_field, smooth, tube_field
from model.solids import HoseSolid, Pliant, SpringSolid
from model.solver import Progress, solve
from model.spatial import Array, norm
from model.sweptpaths import Path, resampled
from model.travel import Travel
from model.triangles import Mesh, edge_faults, joined

# How far inside vertices are laid, in mm, beyond what they may sag between poses.
TOLERANCE = 0.01
# Points so many to a cell stand for the way of a vertex; a field may change by so many mm in one.
FINENESS, STEEPEST = 2.5, 1.5
# Points of a part's surface that lie so many cells outside of its own field are of a wall that is lost in it; they are
# laid so many cells inside, so that it shows wherever the grid that stands still has its points.
LOST, WALL = 0.3, 0.2
# Cells along the longest side where no size is asked for, and in all: a wheel and its travel take some seconds.
CELLS_ALONG, MOST_CELLS = 80, 2_000_000
FINEST = 2.0
# Most places of a part that are drawn on the grid, and of one that changes shape, which is measured anew for each.
MOST_PLACES, MOST_SHAPES = 500, 150


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
    there = poses.status == Status.SOLVED
    if not there.any():
        raise CallError(f'"{label}" sweeps no space: the linkage locks in every pose; ask for less travel.')

    def solved(values: Array) -> tuple[Mapping[str, Transform], Array]:
        between = solve(poses.mechanism, Travel(poses.travel.names, values))
        return posture(between).parts, between.status == Status.SOLVED

    path = Path.of(parts, posture(poses).parts, there, poses.travel.values)
    return _space(path.straightened(solved), cell, progress)


def swept_space(
    parts: Sequence[MeasuredPart],
    placed: Mapping[str, Transform],
    values: Array,
    cell: float | None = None,
    progress: Progress | None = None,
) -> Mesh:
    """The space that parts need, their carriers `placed` in N poses with drive values (N, D).

    From one pose to the next they are taken to go straight; else as `swept_mesh`.
    """
    return _space(Path.of(parts, placed, np.ones(len(values), dtype=bool), values), cell, progress)


def _space(path: Path, cell: float | None, progress: Progress | None) -> Mesh:
    low, high = path.bounds()
    cell = _cell_size(high - low, cell)
    origin, shape = box_about(np.stack([low, high]), cell)
    field = Field(np.full(shape, BAND * cell), origin, cell)
    _draw(field, path, progress)
    smooth(field)
    _take_in(field, path)
    _fill(field)
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


def _draw(field: Field, path: Path, progress: Progress | None) -> None:
    """Keep the least distance to the parts over all their places."""
    own = {}
    for carrier in path.carriers:
        meshes = [part.mesh for part in path.parts if part.rigid and part.parts[0] == carrier]
        if meshes:
            closed = all(edge_faults(mesh.faces)[0] == 0 for mesh in meshes)
            whole = joined(meshes)
            own[carrier] = signed_field(whole, field.cell, closed)
            _thicken(own[carrier], whole)
    pliant = [solid for part in path.parts for solid in part.pliant]
    stations = path.stations(field.cell, MOST_SHAPES if pliant else MOST_PLACES)
    for number, row in enumerate(stations):
        places = path.places(row)
        for carrier, ours in own.items():
            _lay(field, ours, *places(carrier))
        for solid in pliant:
            _lay(field, _pliant_field(solid, places, field.cell), np.eye(3), np.zeros(3))
        if progress is not None:
            progress(number + 1, len(stations))


def _thicken(field: Field, mesh: Mesh) -> None:
    """Bring back walls that are thinner than a cell and fell between the points of a mesh's field."""
    remesh: Any = trimesh.remesh
    points, _ = remesh.subdivide_to_size(mesh.points, mesh.faces, 0.75 * field.cell, max_iter=20)
    value, _ = linear_values(field, np.asarray(points))
    _lower(field, np.asarray(points)[value > LOST * field.cell], -WALL * field.cell)


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


def _take_in(field: Field, path: Path) -> None:
    """Lower the field where vertices would lie outside in any pose or on their way to the next: by as much as it takes.

    Lowered by one amount at the four grid points that a value is taken from, the value sinks by that amount.
    """
    wanted = -TOLERANCE - float(path.sag.sum())
    # The highest value of all grid points within so many cells.
    highest: dict[int, Array] = {}
    for patch, last in path.patches():
        axes = tuple(range(len(last)))
        middle = patch.mean(axis=axes)
        if not np.isfinite(middle).all():
            points = patch.reshape(-1, 3)
            _lower(field, points[np.isfinite(points).all(axis=1)], wanted)
            continue
        radius = norm(patch - middle).max(axis=axes)
        # Where the highest grid point that anything on the way lies between is inside, all of it is.
        cells = int(np.ceil(radius.max() / field.cell + 0.5))
        if cells not in highest:
            highest[cells] = ndimage.maximum_filter(field.values, size=2 * cells + 1)
        nearest = np.round((middle - field.low) / field.cell).astype(int)
        doubtful = np.flatnonzero(highest[cells][tuple(nearest.T)] > wanted)
        value, _ = linear_values(field, middle[doubtful])
        doubtful = doubtful[value + STEEPEST * radius[doubtful] > wanted]
        way = patch[..., doubtful, :]
        for axis in axes:
            step = norm(np.diff(way, axis=axis)).max(initial=0.0)
            way = resampled(way, axis, int(np.ceil(step * FINENESS / field.cell)) + 1)
            # The next patch begins where this one ends.
            way = way if last[axis] else np.delete(way, -1, axis)
        _lower(field, way.reshape(-1, 3), wanted)


def _lower(field: Field, points: Array, wanted: float) -> None:
    """Lower a field to a value at points (n, 3)."""
    flat = field.values.reshape(-1)
    value, nodes = linear_values(field, points)
    out = value > wanted
    np.minimum.at(flat, nodes[out], flat[nodes[out]] - value[out, None] + wanted)


def _fill(field: Field) -> None:
    """Fill rooms that are closed all round: nothing may close one after this."""
    inside = field.values < CLEAR * field.cell
    field.values[ndimage.binary_fill_holes(inside) & ~inside] = -field.cell


def _cell_size(extent: Array, asked: float | None) -> float:
    """The size of a cell for a space of some extent (3,) in mm: as asked, if that is not too fine."""
    cell = asked or max(FINEST, float(extent.max()) / CELLS_ALONG)
    while np.prod(extent / cell + 2.0 * BAND + 3.0) > MOST_CELLS:
        cell *= 1.05
    return cell
