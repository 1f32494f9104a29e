"""Distances between meshes against closed forms, against trimesh on random solids, and how deep parts overlap."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from model.distances import DEPTH_STEP, Shape, boxes_apart, farthest_moved, nearest, ribbon, sliced
from model.insides import closed, winding
from model.meshes import mesh_of
from model.pairs import _without
from model.solids import Ball, Prism, Revolved, Tube
from model.spatial import Array, norm
from model.triangles import Mesh, joined

# Half the chord error of a measured mesh, on both sides: inscribed polygons are that much smaller than the round part.
CHORD = 0.1
STILL = np.eye(3), np.zeros(3)


def shape(solid: Tube | Ball | Prism | Revolved) -> Shape:
    return Shape(mesh_of(solid))


def box(middle: tuple[float, float, float], size: tuple[float, float, float]) -> Prism:
    corners = 0.5 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array(size[:2])
    return Prism(np.array(middle, dtype=float), np.eye(3), corners, size[2])


def tube(start: tuple[float, float, float], stop: tuple[float, float, float], radius: float) -> Tube:
    return Tube(np.array([start, stop], dtype=float), radius)


def test_two_skew_tubes() -> None:
    # Lines along x and y, 50 apart in z: the distance of their axes less both radii.
    found = nearest(shape(tube((-300, 0, 0), (300, 0, 0), 20)), shape(tube((0, -300, 50), (0, 300, 50), 12)), *STILL)
    assert found.distance == pytest.approx(50 - 20 - 12, abs=2 * CHORD)
    assert norm(found.points[1] - found.points[0]) == pytest.approx(found.distance, abs=1e-9)
    np.testing.assert_allclose(found.way, [0, 0, 1], atol=0.05)  # facets of a tube are 6 degrees apart


def test_a_tube_over_a_plate() -> None:
    plate = shape(box((0, 0, -5), (400, 400, 10)))
    slanted = shape(tube((-50, 0, 60), (100, 0, 40), 15))
    # The end's rim is lowest: 40 less the radius times the cosine of the tube's slope.
    slope = np.arctan2(20, 150)
    assert nearest(plate, slanted, *STILL).distance == pytest.approx(40 - 15 * np.cos(slope), abs=CHORD)


def test_a_ball_at_a_boxs_corner() -> None:
    found = nearest(shape(box((0, 0, 0), (60, 80, 100))), shape(Ball(np.array([60.0, 80.0, 90.0]), 25.0)), *STILL)
    assert found.distance == pytest.approx(np.sqrt(30**2 + 40**2 + 40**2) - 25, abs=CHORD)
    np.testing.assert_allclose(found.points[0], [30, 40, 50], atol=1e-6)


@pytest.mark.parametrize("tilt", [0.0, 0.3, 1.0])
def test_a_ring_over_a_plane(tilt: float) -> None:
    # The lowest point of a torus of radii R and r, tilted by a: R sin a + r below its middle.
    angle = np.arange(64) * 2 * np.pi / 64
    section = np.stack([20 * np.cos(angle), 150 + 20 * np.sin(angle)], axis=-1)
    ring = Revolved(np.zeros(3), np.array([np.sin(tilt), 0.0, np.cos(tilt)]), section)
    plane = shape(box((0, 0, -305), (900, 900, 10)))
    expected = 300 - 150 * np.sin(tilt) - 20
    assert nearest(plane, shape(ring), *STILL).distance == pytest.approx(expected, abs=2 * CHORD)


def test_a_line_in_a_skin_is_a_round_bar() -> None:
    bar = Shape(ribbon(np.array([[-100.0, 0, 40], [0, 0, 40], [100, 0, 40]])), skin=12.0)
    found = nearest(shape(box((0, 0, -5), (500, 500, 10))), bar, *STILL)
    assert found.distance == pytest.approx(40 - 12, abs=0.01)  # the ribbon's own width
    np.testing.assert_allclose(found.points[:, 2], [0, 28], atol=0.01)


class Managed(trimesh.collision.CollisionManager):
    """Always by triangles: given a convex mesh FCL runs GJK, which errs by millimetres between parallel faces."""

    def _get_fcl_obj(self, mesh: trimesh.Trimesh) -> object:
        return trimesh.collision.mesh_to_BVH(mesh)


solids = st.sampled_from(
    [
        trimesh.creation.box((30, 50, 80)),
        trimesh.creation.cylinder(20, 120, sections=24),
        trimesh.creation.torus(60, 15, major_sections=32, minor_sections=12),
        trimesh.creation.icosphere(2, 35),
        trimesh.creation.capsule(90, 18, count=(12, 12)),
    ]
)
turns = st.tuples(*[st.floats(-3.0, 3.0)] * 3).map(lambda v: Rotation.from_rotvec(v).as_matrix())
shifts = st.tuples(*[st.floats(-300.0, 300.0)] * 3).map(np.array)


@settings(max_examples=60, deadline=None)
@given(solids, solids, turns, shifts)
def test_against_trimesh_on_random_solids(a: trimesh.Trimesh, b: trimesh.Trimesh, turned: Array, moved: Array) -> None:
    first, second = Managed(), Managed()
    first.add_object("a", a)
    placed = np.eye(4)
    placed[:3, :3], placed[:3, 3] = turned, moved
    second.add_object("b", b, transform=placed)
    theirs = first.min_distance_other(second)
    shapes = [Shape(Mesh(np.array(m.vertices), np.array(m.faces))) for m in (a, b)]
    ours = nearest(shapes[0], shapes[1], turned, moved)
    swallowed = a.contains([moved + turned @ b.vertices[0]])[0] or b.contains([turned.T @ (a.vertices[0] - moved)])[0]
    if theirs > 0.0 and not swallowed:
        assert ours.distance == pytest.approx(theirs, abs=0.01)
        assert norm(ours.points[1] - ours.points[0]) == pytest.approx(ours.distance, abs=1e-6)
    else:
        assert ours.distance <= 0.0


@settings(max_examples=25, deadline=None)
@given(solids, solids, turns, st.tuples(*[st.floats(-40.0, 40.0)] * 3).map(np.array))
def test_moved_out_by_its_depth_a_part_is_free(
    a: trimesh.Trimesh, b: trimesh.Trimesh, turned: Array, moved: Array
) -> None:
    shapes = [Shape(Mesh(np.array(m.vertices), np.array(m.faces))) for m in (a, b)]
    found = nearest(shapes[0], shapes[1], turned, moved)
    if found.distance <= 0.0:
        out = nearest(shapes[0], shapes[1], turned, moved + (-found.distance + 2 * DEPTH_STEP) * found.way)
        assert 0.0 <= out.distance < 5 * DEPTH_STEP
        np.testing.assert_allclose(found.points[0] - found.points[1], -found.distance * found.way, atol=5 * DEPTH_STEP)


@pytest.mark.parametrize("way", [(1, 0, 0), (0.6, 0, 0.8), (0.36, 0.48, -0.8)])
def test_the_depth_of_two_balls(way: tuple[float, float, float]) -> None:
    first, second = shape(Ball(np.zeros(3), 60.0)), shape(Ball(np.zeros(3), 40.0))
    found = nearest(first, second, np.eye(3), 85.0 * np.array(way))
    # Radii less the distance of the middles; a quarter of a degree aside costs 85 (1 − cos) = 0.001 mm.
    assert found.distance == pytest.approx(-(60 + 40 - 85), abs=2 * CHORD)
    assert found.distance >= -(60 + 40 - 85) - DEPTH_STEP


def test_the_depth_of_two_boxes() -> None:
    first, second = shape(box((0, 0, 0), (100, 100, 100))), shape(box((0, 0, 0), (40, 60, 80)))
    # Halves 50 and 20, 30, 40: 7 deep in x, 12 in y, 30 in z.
    found = nearest(first, second, np.eye(3), np.array([63.0, 68.0, 60.0]))
    assert found.distance == pytest.approx(-7, abs=2 * DEPTH_STEP)
    np.testing.assert_allclose(found.way, [1, 0, 0], atol=1e-6)


def test_crossed_bars_overlap_though_no_corner_of_one_is_in_the_other() -> None:
    first, second = shape(box((0, 0, 0), (400, 20, 20))), shape(box((0, 0, 8), (20, 400, 20)))
    assert nearest(first, second, *STILL).distance == pytest.approx(-12, abs=2 * DEPTH_STEP)


def test_what_is_swallowed_whole_overlaps() -> None:
    outer, inner = shape(box((0, 0, 0), (200, 200, 200))), shape(Ball(np.array([60.0, 0.0, 0.0]), 10.0))
    # Out through the nearest side: 100 − 60, and its own radius.
    assert nearest(outer, inner, *STILL).distance == pytest.approx(-50, abs=CHORD)
    assert nearest(inner, outer, *STILL).distance == pytest.approx(-50, abs=CHORD)


def test_what_lies_in_a_ring_is_not_swallowed() -> None:
    ring = Revolved(np.zeros(3), np.array([0.0, 1, 0]), np.array([[-50, 100], [50, 100], [50, 150], [-50, 150]]))
    assert nearest(shape(ring), shape(Ball(np.zeros(3), 40.0)), *STILL).distance == pytest.approx(60, abs=2 * CHORD)


def test_a_mesh_goes_once_round_what_is_inside() -> None:
    mesh = mesh_of(Ball(np.zeros(3), 10.0))
    assert winding(mesh, np.array([3.0, 4.0, 0.0])) == pytest.approx(1.0)
    assert winding(mesh, np.array([30.0, 4.0, 0.0])) == pytest.approx(0.0, abs=1e-9)
    assert closed(mesh)
    assert not closed(Mesh(mesh.points, mesh.faces[1:]))


def test_boxes_and_motion() -> None:
    low, high = np.zeros(3), np.ones(3)
    assert boxes_apart(low, high, low + np.array([4, 5, 0.5]), high + np.array([4, 5, 0.5])) == pytest.approx(5.0)
    points = np.array([[[[0.0, 0, 0], [1, 0, 0]]], [[[0, 0, 0], [0, 1, 0]]]])
    np.testing.assert_allclose(farthest_moved(points, points[0]), [[0.0], [np.sqrt(2)]])


def test_the_slices_of_a_box_fill_it() -> None:
    low, high = np.array([0.0, -30.0, 5.0]), np.array([10.0, 30.0, 9.0])
    slices = sliced(mesh_of(box((5, 0, 7), (10, 60, 4))), 4)
    assert slices.shape == (4, 8, 3)
    np.testing.assert_allclose(np.ptp(slices, axis=1), [[10, 15, 4]] * 4)
    np.testing.assert_allclose(slices.min(axis=(0, 1)), low)
    np.testing.assert_allclose(slices.max(axis=(0, 1)), high)


def test_slices_are_as_thin_as_what_is_in_them() -> None:
    # A housing of 200 on an axle tube of 60, 1200 long: only the slices that hold the housing are as thick as it.
    mesh = joined([mesh_of(tube((0, -600, 0), (0, 600, 0), 30)), mesh_of(Ball(np.zeros(3), 100.0))])
    slices = sliced(mesh, 4)
    np.testing.assert_allclose(np.ptp(slices, axis=1)[:, 1], 300.0)
    np.testing.assert_allclose(np.ptp(slices, axis=1)[:, 2], [60, 200, 200, 60], atol=2 * CHORD)


def test_what_is_swallowed_beside_a_cut_overlaps() -> None:
    # A box of 200 from which the end at x = -100 is left out is open there: what lies in it is inside all the same.
    whole = mesh_of(box((0, 0, 0), (200, 200, 200)))
    cut = _without(whole, np.array([-100.0, 0.0, 0.0]), 60.0, whole=False)
    assert not closed(cut)
    inner = shape(Ball(np.array([60.0, 0.0, 0.0]), 10.0))
    outer = Shape(cut, whole=whole)
    assert nearest(outer, inner, *STILL).distance == pytest.approx(-50, abs=CHORD)
    assert nearest(inner, outer, *STILL).distance == pytest.approx(-50, abs=CHORD)


def test_one_of_several_pieces_that_is_swallowed_overlaps() -> None:
    outer = shape(box((0, 0, 0), (200, 200, 200)))
    balls = [mesh_of(Ball(np.array([x, 0.0, 0.0]), 10.0)) for x in (300.0, 60.0)]
    assert nearest(outer, Shape(joined(balls)), *STILL).distance < -49.0


def test_what_lies_in_the_hollow_of_a_closed_shell_is_not_swallowed() -> None:
    outside, inside = (mesh_of(box((0, 0, 0), (size, size, size))) for size in (200.0, 100.0))
    shell = joined([outside, Mesh(inside.points, inside.faces[:, ::-1])])
    assert nearest(Shape(shell), shape(Ball(np.zeros(3), 10.0)), *STILL).distance == pytest.approx(40, abs=CHORD)


def test_the_way_out_is_found_to_a_quarter_of_a_degree() -> None:
    # A ball in a slab of 20 that leans between the directions of the cube: out square to it, 10 and its radius. A
    # direction that is one degree off costs 0.02 % of that, one that is 14 degrees off 3 %.
    slab = mesh_of(box((0, 0, 0), (600, 600, 20)))
    leaning = Rotation.from_euler("xy", [13.0, 11.0], degrees=True).as_matrix()
    found = nearest(Shape(Mesh(slab.points @ leaning.T, slab.faces)), shape(Ball(np.zeros(3), 100.0)), *STILL)
    assert found.distance == pytest.approx(-110, abs=CHORD)
