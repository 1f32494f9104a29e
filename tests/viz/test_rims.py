"""Edges of cut faces: of overlapping ones only what bounds them together. All of it is D: plane geometry."""

from __future__ import annotations

import numpy as np
import pytest

from model.meshes import mesh_of
from model.solids import ring, rod
from model.spatial import Array, norm
from model.triangles import Mesh
from viz.clipping import clipped
from viz.rims import edges_of, pieces_of, seen_rims, within

X, Y, Z = np.eye(3)


def square(low: tuple[float, float], high: tuple[float, float]) -> Mesh:
    points = np.array([[low[0], low[1], 0], [high[0], low[1], 0], [high[0], high[1], 0], [low[0], high[1], 0]])
    return Mesh(points, np.array([[0, 1, 2], [0, 2, 3]]))


def length(pieces: Array) -> float:
    return float(norm(pieces[:, 1] - pieces[:, 0]).sum())


def test_a_face_has_its_outline_and_not_its_diagonals() -> None:
    edges = edges_of(square((0.0, 0.0), (30.0, 20.0)))
    assert len(edges) == 4
    assert length(edges) == pytest.approx(100.0)
    pieces = pieces_of(edges, 3.0)
    assert length(pieces) == pytest.approx(100.0)
    assert norm(pieces[:, 1] - pieces[:, 0]).max() <= 3.0


def test_a_ring_goes_around_its_own_face_and_not_its_hole() -> None:
    _, face = clipped(mesh_of(ring(np.zeros(3), Z, 10.0, 12.0, 20.0, 0.0)), np.zeros(3), -Z)
    edges = edges_of(face)[:, :, :2]
    spots = np.array([[0.0, 0.0], [16.0, 0.0], [0.0, -16.0], [25.0, 1.0], [-11.0, 2.0]])
    assert within(spots, edges).tolist() == [False, True, True, False, False]


def test_of_two_faces_of_a_part_only_the_outline_of_both_is_drawn() -> None:
    first, second = square((0.0, 0.0), (30.0, 20.0)), square((20.0, 5.0), (60.0, 15.0))
    rims = seen_rims([first, second], [0, 0], np.eye(3), 0.5)
    # The first loses the 10 mm that the second covers, the second its left side and 10 mm of two sides. A piece more or
    # less at each of the ends: two are 0.5 mm.
    assert length(rims[0]) == pytest.approx(90.0, abs=1.0)
    assert length(rims[1]) == pytest.approx(70.0, abs=1.0)


def test_a_face_behind_another_is_drawn_only_where_it_sticks_out() -> None:
    bolt, plate = square((-50.0, -5.0), (50.0, 5.0)), square((-3.0, -30.0), (3.0, 30.0))
    over, under = seen_rims([bolt, plate], [0, 1], np.eye(3), 0.5)
    assert length(over) == pytest.approx(220.0)
    assert length(under) == pytest.approx(132.0 - 20.0, abs=1.0)


def test_a_bolt_cut_along_its_length_has_one_outline() -> None:
    """A shank with a nut about it: the outline of a plus, from the closed form of its sides."""
    meshes = [mesh_of(rod(-40.0 * X, 40.0 * X, 5.0, 0.0)), mesh_of(rod(-10.0 * X, 10.0 * X, 12.0, 0.0))]
    faces = [clipped(mesh, np.zeros(3), -Z)[1] for mesh in meshes]
    rims = seen_rims(faces, [0, 0], np.eye(3), 0.2)
    # The plane goes through corners or flats of the polygons: up to 0.1 mm inside the circle on each of the sides.
    assert sum(length(rim) for rim in rims) == pytest.approx(2 * (80.0 + 24.0), abs=2.0)
