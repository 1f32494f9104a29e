"""The touching patch of two solids against closed forms, and against trimesh's own test of what is inside."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from model.meshes import mesh_of
from model.patches import GRAIN, inside, touching
from model.solids import Ball, Rail, Tube
from model.triangles import Mesh, joined


def area(mesh: Mesh) -> float:
    a, b, c = (mesh.points[mesh.faces[:, corner]] for corner in range(3))
    return float(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum())


def block(half: float = 100.0) -> Mesh:
    """A cube with its upper face at height 0."""
    return mesh_of(Rail(np.array([[-half, 0, -half], [half, 0, -half]]), (2 * half, 2 * half)))


def test_a_ball_in_a_block_touches_with_its_cap_and_the_block_with_a_disc() -> None:
    """A ball of radius R, its lowest point d deep: cap area 2πRd, disc area π(2Rd − d²) (D)."""
    radius, depth = 60.0, 20.0
    ball = mesh_of(Ball(np.array([0.0, 0.0, radius - depth]), radius))
    cap, disc = touching(ball, block(), reach=0.0), touching(block(), ball, reach=0.0)
    # Pieces at the edge are in or out as a whole, and the ball is a polyhedron just inside its sphere: a piece's size
    # along half of the rim each way.
    rim = 2 * np.pi * np.sqrt(2 * radius * depth - depth**2)
    assert area(cap) == pytest.approx(2 * np.pi * radius * depth, abs=0.5 * GRAIN * rim)
    assert area(disc) == pytest.approx(np.pi * (2 * radius * depth - depth**2), abs=0.5 * GRAIN * rim)
    assert cap.points[:, 2].max() < GRAIN
    assert np.abs(disc.points[:, 2]).max() < 1e-9


def test_the_patch_of_a_long_tube_is_only_where_it_touches() -> None:
    """A tube of radius 20 that lies 0.5 mm above a post of radius 15: within 1 mm along a few mm."""
    tube = mesh_of(Tube(np.array([[-400.0, 0, 20.5], [400, 0, 20.5]]), 20.0))
    post = mesh_of(Tube(np.array([[0.0, 0, -200], [0, 0, 0]]), 15.0))
    patch = touching(tube, post)
    assert len(patch.faces) > 20
    assert np.abs(patch.points[:, 0]).max() < 15.0 + 1.0 + GRAIN
    assert patch.points[:, 2].max() < 0.5 + 1.0 + GRAIN
    assert len(touching(tube, Mesh(post.points - [0, 0, 2.0], post.faces)).faces) == 0


def test_far_apart_nothing_touches() -> None:
    ball = mesh_of(Ball(np.array([0.0, 500, 500]), 50.0))
    assert len(touching(ball, block()).faces) == len(touching(block(), ball).faces) == 0


def test_an_open_sheet_has_no_inside() -> None:
    sheet = Mesh(
        np.array([[-500.0, -500, 0], [500, -500, 0], [500, 500, 0], [-500, 500, 0]]), np.array([[0, 1, 2], [0, 2, 3]])
    )
    ball = mesh_of(Ball(np.array([0.0, 0.0, 10.0]), 50.0))
    patch = touching(ball, sheet)
    assert len(patch.faces) > 0
    assert np.abs(patch.points[:, 2]).max() < 1.0 + GRAIN


def test_a_block_without_its_lid_has_no_inside() -> None:
    # A ray that leaves through a wall would say that the ball is inside; it is 50 mm away from every wall.
    whole = block()
    normals = np.cross(*(whole.points[whole.faces[:, k]] - whole.points[whole.faces[:, 0]] for k in (1, 2)))
    opened = Mesh(whole.points, whole.faces[normals[:, 2] < 0.5 * np.abs(normals).max()])
    assert len(opened.faces) < len(whole.faces)
    ball = mesh_of(Ball(np.array([0.0, 0.0, -100.0]), 50.0))
    assert len(touching(ball, whole).faces) > 0
    assert len(touching(ball, opened).faces) == 0


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_what_lies_half_a_millimetre_off_touches_on_every_side(axis: int, side: float) -> None:
    cube = Mesh(block().points + np.array([0.0, 0.0, 100.0]), block().faces)
    centre = np.zeros(3)
    centre[axis] = side * (100.0 + 0.5 + 20.0)
    ball = mesh_of(Ball(centre, 20.0))
    # A ball's cap within 0.5 mm more of a plane is 2 · 20 · 0.5 mm² · π; a piece at its edge is in or out as a whole.
    assert area(touching(ball, cube)) == pytest.approx(np.pi * 20.0, abs=2 * np.pi * np.sqrt(20.0) * 0.5 * GRAIN)
    assert len(touching(cube, ball).faces) > 0


def test_inside_agrees_with_trimesh_on_overlapping_solids() -> None:
    random = np.random.default_rng(5)
    first, second = mesh_of(Ball(np.zeros(3), 50.0)), block(40.0)
    points = random.uniform(-70, 70, (300, 3))
    parts = [trimesh.Trimesh(mesh.points, mesh.faces, process=False) for mesh in (first, second)]
    expected = parts[0].contains(points) | parts[1].contains(points)
    assert (inside(points, joined([first, second])) == expected).all()
