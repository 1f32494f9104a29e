"""The space that a part needs over its travel: closed, with every vertex of every pose in it, and hardly larger.

Volumes are D: of a ball moved along a line, of a box that turns about its edge.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import trimesh
from zoo import built, scene_data, trailing_arm, travel_of

from model.envelopes import Kind, MeasuredPart
from model.errors import CallError
from model.marching import linear_values, zero_surface
from model.mechanism import Mechanism
from model.members import Transform, posture
from model.patches import inside
from model.poses import Poses, Status
from model.signedfields import Field, cylinder_field, signed_field, tube_field
from model.solver import solve
from model.spatial import Array, rotation_about
from model.sweeps import TOLERANCE, parts_named, swept_mesh, swept_space
from model.travel import Travel, grid
from model.triangles import Mesh

# What vertices may lie outside between given poses, in mm.
BETWEEN = 0.1


def surface(mesh: Mesh) -> trimesh.Trimesh:
    return trimesh.Trimesh(mesh.points, mesh.faces, process=False)


def of(mesh: trimesh.Trimesh) -> Mesh:
    return Mesh(np.asarray(mesh.vertices), np.asarray(mesh.faces, dtype=np.int64))


def closed(mesh: Mesh) -> trimesh.Trimesh:
    shape = surface(mesh)
    assert shape.is_watertight
    assert shape.is_winding_consistent
    assert shape.volume > 0.0
    assert shape.area_faces.min() > 0.0
    # No rooms inside.
    assert shape.body_count == 1
    return shape


def vertices(poses: Poses, label: str) -> Array:
    """Every vertex (n, 3) of a part in every pose."""
    places = posture(poses).parts
    return np.concatenate(
        [
            part.at(lambda name, n=number: (places[name].rotation[n], places[name].translation[n])).points
            for part in parts_named(poses.mechanism, label)
            for number in range(len(poses))
        ]
    )


def contained(points: Array, space: Mesh, tolerance: float = TOLERANCE) -> None:
    points = np.unique(np.round(points, 4), axis=0)
    out = points[~inside(points, space)]
    if len(out):
        _, away, _ = trimesh.proximity.closest_point(surface(space), out)
        assert away.max() <= tolerance


@pytest.mark.parametrize("cell", [4.0, 8.0])
def test_the_field_of_a_ball_is_its_distance_and_its_surface_a_ball(cell):
    ball = of(trimesh.creation.icosphere(subdivisions=4, radius=60.0))
    field = signed_field(ball, cell, closed=True)
    nodes = field.low + cell * np.moveaxis(np.indices(field.values.shape), 0, -1)
    exact = np.clip(np.linalg.norm(nodes, axis=-1) - 60.0, -2.0 * cell, 2.0 * cell)
    # The ball's flat triangles lie up to 0.07 mm inside it.
    assert np.abs(field.values - exact).max() < 0.08
    shape = closed(zero_surface(field))
    # Between grid points the distance is taken as linear: a chord over a cell of h lies h² / 8 R inside.
    assert np.linalg.norm(shape.vertices, axis=1) == pytest.approx(60.0, abs=3.0 * cell**2 / (8.0 * 60.0) + 0.08)
    value, nodes = linear_values(field, field.low + cell * np.array([[3.0, 4.0, 5.0]]))
    assert value[0] == pytest.approx(field.values[3, 4, 5])
    assert nodes.shape == (1, 4)


def test_solids_that_overlap_count_as_one():
    boxes = [trimesh.creation.box((60.0, 20.0, 20.0)), trimesh.creation.box((20.0, 60.0, 20.0))]
    field = signed_field(of(trimesh.util.concatenate(boxes)), 4.0, closed=True)
    shape = closed(zero_surface(field))
    # Two bars that cross: 2 · 60 · 20² less the cube that they share; edges are rounded by the grid.
    assert shape.volume == pytest.approx(2 * 60 * 400 - 8000, rel=0.04)


@pytest.mark.parametrize("line", [[[0.0, 0, 0], [90, 0, 0]], [[0.0, 0, 0], [40, 50, -30]]])
def test_cylinders_and_tubes_have_their_volume(line):
    start, stop = np.array(line)
    length = np.linalg.norm(stop - start)
    cylinder = closed(zero_surface(cylinder_field(start, stop, 20.0, 4.0)))
    tube = closed(zero_surface(tube_field(np.array(line), 20.0, 4.0)))
    # The grid breaks a cylinder's two edges by up to half a cell: 2 π R · (4 / 2)² / 2 each; a tube has round ends.
    assert cylinder.volume == pytest.approx(
        np.pi * 400 * length, abs=2 * np.pi * 20 * 4.0 + 0.01 * np.pi * 400 * length
    )
    assert tube.volume == pytest.approx(np.pi * 400 * length + 4 / 3 * np.pi * 8000, rel=0.02)


def moved(shape: trimesh.Trimesh, rotation: Array, translation: Array, cell: float) -> trimesh.Trimesh:
    """What a shape sweeps over given places, checked to be closed and to hold all its vertices."""
    part = MeasuredPart("thing", "thing", ("thing",), Kind.LINK, of(shape))
    values = np.linspace(0.0, 1.0, len(rotation))[:, None]
    space = swept_space([part], {"thing": Transform(rotation, translation)}, values, cell)
    every = np.einsum("nij,kj->nki", rotation, np.asarray(shape.vertices)) + translation[:, None]
    contained(every.reshape(-1, 3), space)
    return closed(space)


@pytest.mark.parametrize("poses", [2, 7])
def test_a_ball_moved_along_a_line_sweeps_a_capsule(poses):
    path = np.linspace(0.0, 1.0, poses)[:, None] * np.array([[120.0, -60.0, 40.0]])
    ball = trimesh.creation.icosphere(subdivisions=4, radius=40.0)
    space = moved(ball, np.tile(np.eye(3), (poses, 1, 1)), path, 5.0)
    # Two half balls and a cylinder; between two places a cell apart the grid sees a waist of h² / 8 R = 0.08 mm.
    length = np.linalg.norm(path[-1])
    assert space.volume == pytest.approx(4 / 3 * np.pi * 40**3 + np.pi * 1600 * length, rel=0.015)
    assert space.volume >= ball.volume


def test_a_box_that_turns_about_its_edge_sweeps_a_sector():
    box = trimesh.creation.box((100.0, 40.0, 60.0))
    box.apply_translation((50.0, 20.0, 0.0))
    turns = np.linspace(0.0, np.pi / 2, 7)
    space = moved(box, rotation_about(np.array([0.0, 0, 1]), turns), np.zeros((7, 3)), 4.0)
    # About its edge it sweeps the sector of its diagonal between its first and its last long side, and before the
    # diagonal reaches there the triangle at either end. Seen along the axis: a quarter turn of radius √(100² + 40²),
    # the first box's half below its diagonal and the last one's half beyond it.
    area = 0.25 * np.pi * (100.0**2 + 40.0**2) + 2 * 0.5 * 100.0 * 40.0
    # Its edges are broken by the grid or stand out by less than half a cell of 4 mm.
    assert space.volume == pytest.approx(area * 60.0, rel=0.03)
    assert space.volume >= box.volume


def between(mechanism: Mechanism, poses: Poses, count: int) -> Poses:
    """Poses anywhere in the travel of others, some at its ends."""
    random = np.random.default_rng(11)
    low, high = poses.travel.values.min(axis=0), poses.travel.values.max(axis=0)
    share = np.clip(random.uniform(-0.2, 1.2, (count, len(low))), 0.0, 1.0)
    found = solve(mechanism, Travel(poses.travel.names, low + share * (high - low)))
    return found.take(np.flatnonzero(found.status == Status.SOLVED))


@pytest.mark.parametrize(
    ("label", "cell"),
    [
        ("left tie rod", 8.0),
        pytest.param("left tie rod", None, marks=pytest.mark.slow),
        pytest.param("left brake hose", None, marks=pytest.mark.slow),
        pytest.param("left wheel", 16.0, marks=pytest.mark.slow),
    ],
)
def test_random_poses_between_the_given_ones_are_inside(label, cell):
    mechanism = built(scene_data("wren_front"))
    poses = solve(mechanism, grid(mechanism, 9, 5))
    space = swept_mesh(poses, label, cell)
    closed(space)
    random = between(mechanism, poses, 60)
    assert len(random) > 30
    points = vertices(random, label)
    contained(points[:: max(1, len(points) // 10_000)], space, BETWEEN)


def test_few_poses_far_apart_are_enough():
    # The arm turns by some 25° from pose to pose: its end would be 10 mm off a straight way.
    mechanism = built(trailing_arm())
    label = mechanism.arms[0].name
    poses = solve(mechanism, travel_of(mechanism, np.array([-90.0, 0.0, 90.0])))
    space = swept_mesh(poses, label, cell=9.0)
    contained(vertices(between(mechanism, poses, 20), label)[::4], space, BETWEEN)


def test_a_room_that_only_the_grid_closes_is_filled():
    # Six plates about a room, with slits of 1 mm between them.
    plates = []
    for axis in range(3):
        for side in (-27.0, 27.0):
            sizes, middle = np.full(3, 46.0), np.zeros(3)
            sizes[axis], middle[axis] = 6.0, side
            plates.append(trimesh.creation.box(sizes, trimesh.transformations.translation_matrix(middle)))
    space = moved(trimesh.util.concatenate(plates), np.eye(3)[None], np.zeros((1, 3)), 5.0)
    # Grooves of 7 mm along its edges are 0.14 of the cube, and the grid breaks their rims; plates alone are 0.35 of it.
    assert 0.75 * 60.0**3 < space.volume < 61.0**3


def test_rooms_that_only_the_ways_of_vertices_close_are_filled(monkeypatch):
    # A ball is drawn at both ends only; a shell of its vertices' ways lies round the middle, with rooms.
    monkeypatch.setattr("model.sweeps.MOST_PLACES", 2)
    ball = trimesh.creation.icosphere(subdivisions=2, radius=40.0)
    space = moved(ball, np.tile(np.eye(3), (2, 1, 1)), np.array([[0.0, 0.0, 0.0], [140.0, 30.0, 0.0]]), 5.0)
    # A capsule, its wall lifted by up to half a cell: 2.5 mm · 2 π · 40 mm · 143 mm is 0.09 of it.
    assert space.volume == pytest.approx(4 / 3 * np.pi * 40**3 + np.pi * 1600 * np.hypot(140.0, 30.0), rel=0.09)


def straight(poses: int = 9) -> Poses:
    """A trailing arm whose wheel goes up and down."""
    mechanism = built(trailing_arm())
    return solve(mechanism, travel_of(mechanism, np.linspace(-90.0, 90.0, poses)))


def test_what_a_wheel_sweeps_holds_every_vertex_of_every_pose():
    mechanism = built(scene_data("wren_front"))
    poses = solve(mechanism, grid(mechanism, 3, 3))
    space = swept_mesh(poses, "left tie rod", cell=6.0)
    shape = closed(space)
    points = vertices(poses, "left tie rod")
    contained(points, space)
    # No more than a cell outside of the box about all vertices, which the bent path between the poses may leave too.
    assert (shape.bounds[0] > points.min(axis=0) - 6.0).all()
    assert (shape.bounds[1] < points.max(axis=0) + 6.0).all()


@pytest.mark.parametrize(
    "label", ["left coilover spring", pytest.param("left coilover", marks=pytest.mark.slow), "left brake hose"]
)
def test_what_changes_shape_sweeps_too(label):
    mechanism = built(scene_data("wren_front"))
    poses = solve(mechanism, travel_of(mechanism, np.array([[-70.0, 0.0, -1.0], [0.0, 0.0, 0.0], [70.0, 0.0, 1.0]])))
    space = swept_mesh(poses, label, cell=8.0)
    closed(space)
    contained(vertices(poses, label), space)


def test_a_thin_part_leaves_no_gap_between_far_poses():
    mechanism = built(trailing_arm())
    label = mechanism.arms[0].name
    poses = solve(mechanism, travel_of(mechanism, np.array([-90.0, 0.0, 90.0])))
    space = swept_mesh(poses, label, cell=9.0)
    shape = closed(space)
    contained(vertices(poses, label), space)
    assert len(shape.split(only_watertight=False)) == 1


def test_the_space_is_at_least_as_large_as_the_part_and_grows_with_the_travel():
    mechanism = built(trailing_arm())
    label = mechanism.wheels[0].name
    spaces = [
        closed(swept_mesh(solve(mechanism, travel_of(mechanism, np.array([0.0, up]))), label, cell=10.0)).volume
        for up in (1e-9, 40.0, 90.0)
    ]
    own = closed(signed_space(label))
    assert spaces[0] >= own.volume * 0.999
    assert all(small < large for small, large in pairwise(spaces))


def signed_space(label: str) -> Mesh:
    parts = [part.mesh for part in parts_named(built(trailing_arm()), label)]
    field: Field = signed_field(Mesh(parts[0].points, parts[0].faces), 10.0, closed=True)
    return zero_surface(field)


def test_a_part_that_is_not_there():
    with pytest.raises(CallError, match=r'"left weel" is no part of this scene; did you mean "left wheel"\?'):
        parts_named(built(scene_data("wren_front")), "left weel")


def test_brackets_that_are_welded_to_a_part_go_with_it():
    mechanism = built(scene_data("wren_rear"))
    found = parts_named(mechanism, "axle")
    brackets = [part for part in found if part.kind is Kind.BRACKET]
    # Two lower links, an upper link, a panhard bar and two coilovers end on the axle.
    assert len(brackets) >= 4
    assert all(part.parts == ("axle",) for part in brackets)
    assert len({(part.label, part.kind) for part in found}) == len(found)


def test_progress_ends_with_all():
    calls: list[tuple[int, int]] = []
    poses = straight(5)
    swept_mesh(poses, poses.mechanism.arms[0].name, cell=12.0, progress=lambda done, whole: calls.append((done, whole)))
    assert calls[-1][0] == calls[-1][1] == len(calls)
