"""A mechanism's parts for a page: one small GLB, and how what is pliant moves with the drives."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pyvista as pv
from scipy.spatial.transform import Rotation
from vtkmodules.vtkFiltersCore import vtkDecimatePro

from model.errors import DrawingError
from model.mechanism import Mechanism
from model.members import Transform, posture
from model.posegrid import (
    Level,
    Mask,
    PoseGrid,
    Sheet,
    Strand,
    axis_nodes,
    columns_of,
    felt_drives,
    places_of,
    stored_level,
    worst_share,
)
from model.poselevels import framed, with_seam
from model.poses import Poses, Status
from model.posestrands import place_share, posed
from model.spatial import Array, norm
from model.triangles import Mesh
from viz.glb import Node, Surface, glb_bytes
from viz.rig import Rig, rig
from viz.shapes import faces_of, points_of, poly_data, shaded

# How far in mm a part's surface may be moved to leave triangles out, and how many of them at most.
FLATTEN, MOST_LEFT_OUT = 0.15, 0.9
# Edges sharper than this, in degrees, are kept as they are.
KEPT_EDGE = 20.0
# How far a vertex of what is pliant may be off, in mm.
VERTEX = 0.4
# Steps of the travel for what is pliant, by the number of drives; poses by which that is checked.
STEPS = {1: (17, 33), 2: (9, 13, 21), 3: (7, 9, 13)}
CHECKED = 200
# A frame that rides on a part: how far it may stray, in mm and as a part of 1.
RIDES, TURNS = 0.02, 1e-5


@dataclass(frozen=True)
class Pliant:
    """What changes shape: its node's number, how it moves and `weights`, the columns of its shapes' weights.

    It rides on a `part`, at a place (3,) and with a quaternion (4,) in the part's ride-height coordinates; or it has
    seven columns of its own from `columns` on.
    """

    node: int
    part: str | None
    place: Array
    turn: Array
    columns: int
    weights: tuple[int, int]


@dataclass(frozen=True)
class PageModel:
    """The GLB; the number of each rigid part's node; what is pliant and its grid."""

    glb: bytes
    nodes: dict[str, int]
    labels: tuple[str, ...]
    pliants: tuple[Pliant, ...]
    grid: PoseGrid


def page_model(mechanism: Mechanism, origins: Mapping[str, Array], near: PoseGrid) -> PageModel:
    """The parts of a mechanism for a page, with their `origins` (`viz.rig.origins_of`).

    Where something locks, `near` says how finely what is pliant is followed.

    Raises:
        DrawingError: what is pliant cannot be followed closely enough.

    """
    low, high = (np.array([getattr(drive, end) for drive in mechanism.drives]) for end in ("low", "high"))
    tried = np.random.default_rng(7).uniform(low, high, (CHECKED, len(low)))
    fine = [sheet for sheet in near.sheets if sheet.exact and len(sheet.levels) > 1]
    for steps in STEPS[len(low)]:
        nodes = [axis_nodes(one, other, steps) for one, other in zip(low, high, strict=True)]
        mesh = np.stack([each.ravel() for each in np.meshgrid(*nodes, indexing="ij")], axis=-1)
        levels = {sheet.axes: sheet.levels for sheet in fine}
        wanted = [
            places_of(level.nodes, level.numbers, axes, len(low)) for axes, some in levels.items() for level in some
        ]
        poses = posed(mechanism, np.concatenate([mesh, tried, *wanted, np.zeros((1, len(low)))]))
        made = rig(poses, len(poses) - 1, origins)
        pliants, strands, columns = _pliants(made, poses)
        solved = poses.status == Status.SOLVED
        inside = slice(len(mesh), len(mesh) + len(tried))
        own = _tabled(columns[: len(mesh)], solved[: len(mesh)], nodes, strands)
        grid = _finer(own, levels, columns[inside.stop : -1])
        read, true = grid.read(tried)[0], columns[inside]
        if _off(strands, true[solved[inside]], read[solved[inside]]) <= 1.0:
            break
    else:
        raise DrawingError("what is pliant in this scene changes too much to be shown on a page.")
    parts = {name: number for number, name in enumerate(made.movers[: len(made.movers) - len(pliants)])}
    # The page finds normals from the triangles: vertices are doubled along sharp edges.
    light = [
        replace(node, surfaces=tuple(replace(_lighter(each), normals=None, turns=None) for each in node.surfaces))
        for node in made.nodes
    ]
    return PageModel(
        glb_bytes(mechanism.title, light, quantised=True),
        parts,
        tuple(node.name for node in made.nodes),
        tuple(pliants),
        grid,
    )


def _off(strands: Sequence[Strand], true: Array, read: Array) -> float:
    """The largest share of what it may be off by that anything that is shown is."""
    return float(np.nan_to_num(worst_share(strands, true, read)).max(initial=0.0))


def _lighter(surface: Surface) -> Surface:
    """A surface with fewer triangles; one that changes shape stays as it is."""
    if surface.shifts is not None or len(surface.faces) < 64:
        return surface
    points, number = np.unique(np.round(surface.points, 4), axis=0, return_inverse=True)
    faces = number.reshape(-1)[surface.faces]
    whole = faces[(faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])]
    thinned = vtkDecimatePro()
    thinned.SetInputData(poly_data(Mesh(points, whole)))
    thinned.SetTargetReduction(MOST_LEFT_OUT)
    thinned.SetPreserveTopology(True)
    thinned.SetSplitting(False)
    thinned.SetFeatureAngle(KEPT_EDGE)
    thinned.SetErrorIsAbsolute(True)
    thinned.SetAbsoluteError(FLATTEN)
    thinned.SetMaximumError(1.0)
    thinned.Update()
    found = pv.wrap(thinned.GetOutput())
    corners, normals, triangles = shaded(Mesh(points_of(found), faces_of(found)))
    return Surface(surface.paint, corners, triangles, normals)


def _pliants(made: Rig, poses: Poses) -> tuple[list[Pliant], list[Strand], Array]:
    """What changes shape, the strands of it and their columns (N, K)."""
    now = posture(poses)
    solved = poses.status == Status.SOLVED
    pliants: list[Pliant] = []
    strands: list[Strand] = []
    blocks: list[Array] = [np.zeros((len(poses), 0))]
    first = next((k for k, node in enumerate(made.nodes[: len(made.movers)]) if _bends(node)), len(made.movers))
    parts = {name: now.parts[name] for name in made.movers[:first]}
    for number in range(first, len(made.movers)):
        width, start = made.weights[number].shape[1], sum(block.shape[1] for block in blocks)
        ridden = _ridden(made.translation[number], made.rotation[number], parts, solved)
        columns = -1
        if ridden is None:
            columns = start
            strands.append(Strand(f"frame {number}", "pliant", start, start + 7, place_share))
            blocks.append(np.concatenate([made.translation[number], made.rotation[number]], axis=1))
            start += 7
        if width:
            shifts = made.nodes[number].surfaces[0].shifts
            moves = norm(shifts).max(axis=1) if shifts is not None else np.zeros(width)
            strands.append(Strand(f"shape {number}", "pliant", start, start + width, _shape_share(moves)))
            blocks.append(made.weights[number])
        part, at, turn = (None, np.zeros(3), np.zeros(4)) if ridden is None else ridden
        pliants.append(Pliant(number, part, at, turn, columns, (start, width)))
    return pliants, strands, np.concatenate(blocks, axis=1)


def _ridden(at: Array, turned: Array, parts: Mapping[str, Transform], solved: Mask) -> tuple[str, Array, Array] | None:
    """The part that a frame at places (N, 3) with quaternions (N, 4) rides on, with its place and turn on it."""
    for name, place in parts.items():
        here, turn = _seen_from(place, at, turned)
        if np.ptp(here[solved], axis=0).max() < RIDES and np.ptp(turn[solved], axis=0).max() < TURNS:
            return name, here[-1], turn[-1]
    return None


def _bends(node: Node) -> bool:
    return any(surface.shifts is not None for surface in node.surfaces)


def _shape_share(moves: Array) -> Callable[[Array, Array], Array]:
    def share(true: Array, read: Array) -> Array:
        return np.asarray(np.abs(true - read) @ moves / VERTEX)

    return share


def _seen_from(place: Transform, at: Array, turned: Array) -> tuple[Array, Array]:
    """Places (N, 3) and quaternions (N, 4) of a frame as a part has them in its ride-height coordinates."""
    part = np.broadcast_to(place.rotation, (len(at), 3, 3))
    back = np.einsum("nji,nj->ni", part, at - place.translation)
    relative = (Rotation.from_matrix(part).inv() * Rotation.from_quat(turned)).as_quat()
    return back, np.where(relative @ relative[-1] < 0.0, -1.0, 1.0)[:, None] * relative


def _tabled(columns: Array, solved: Mask, nodes: Sequence[Array], strands: Sequence[Strand]) -> PoseGrid:
    """Tables of columns (n, K) on a grid of all drives, each over the drives that its strand feels."""
    counts = tuple(len(each) for each in nodes)
    whole, reached = columns.reshape(*counts, columns.shape[1]), solved.reshape(counts)
    groups: dict[tuple[int, ...], list[Strand]] = {}
    for strand in strands:
        groups.setdefault(felt_drives(whole[..., strand.start : strand.stop], reached, strand), []).append(strand)
    sheets: list[Sheet] = []
    for axes, group in groups.items():
        part = tuple(slice(None) if axis in axes else count // 2 for axis, count in enumerate(counts))
        mine, along = columns_of(group), [nodes[axis] for axis in axes]
        here, some = reached[part], tuple(len(each) - 1 for each in along)
        codes = framed(here, np.argwhere(np.ones(some, dtype=bool))).reshape(some)
        codes = with_seam(codes, np.ones(some, dtype=bool))
        level = stored_level(along, codes, np.arange(here.size), whole[part][..., mine].reshape(here.size, len(mine)))
        sheets.append(Sheet(axes, tuple(group), mine, (level,)))
    return PoseGrid(tuple(sheets), columns.shape[1])


def _finer(grid: PoseGrid, levels: Mapping[tuple[int, ...], tuple[Level, ...]], columns: Array) -> PoseGrid:
    """A grid with the levels of tables over the same drives below its own, where it is shut; `columns` (n, K) there."""
    made: dict[tuple[int, ...], list[tuple[Level, Array]]] = {}
    for axes, some in levels.items():
        for level in some:
            here, columns = np.split(columns, [len(level.numbers)])
            made.setdefault(axes, []).append((level, here))
    sheets = []
    for sheet in grid.sheets:
        below = [
            stored_level(level.nodes, level.codes, level.numbers, values[:, sheet.columns])
            for level, values in made.get(sheet.axes, ())
        ]
        sheets.append(replace(sheet, levels=(*sheet.levels, *below)))
    return replace(grid, sheets=tuple(sheets))
