"""Weld beads lie where a tube meets another. All of it is D: cylinders and planes in closed form."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from zoo import NAMES, built, scene_data

from model.meshes import mesh_of
from model.partshapes import solids_of
from model.solids import Bead, PartSolids, notched_ring
from model.spatial import norm
from model.welds import BEAD_RADIUS, Stem, end_welds, round_outline, stems, weld

X, Y, Z = np.eye(3)


def test_a_bead_between_two_round_tubes_lies_on_both() -> None:
    onto = Stem(np.array([-200.0 * X, 200.0 * X]), 30.0)
    aslant = (-Z + 0.4 * X) / np.sqrt(1.16)
    (bead,) = weld(round_outline(90.0 * Z, aslant, 20.0), aslant, (onto,))
    assert norm(bead.path[:, 1:]) == pytest.approx(30.0)
    offset = bead.path - 90.0 * Z
    assert norm(offset - (offset @ aslant)[:, None] * aslant) == pytest.approx(20.0)
    # It is on the side from which the tube comes.
    assert bead.path[:, 2].min() > 0.0


def test_a_bead_on_a_rectangular_tube_lies_on_the_face_that_is_met_first() -> None:
    (onto,) = stems(np.array([-300.0 * X, 300.0 * X]), None, (60.0, 100.0))
    (bead,) = weld(round_outline(200.0 * Z, -Z, 20.0), -Z, (onto,))
    assert bead.path[:, 2] == pytest.approx(50.0)
    (bead,) = weld(round_outline(200.0 * Y, -Y, 20.0), -Y, (onto,))
    assert bead.path[:, 1] == pytest.approx(30.0)
    assert onto.depth(Z) == pytest.approx(50.0)
    assert onto.depth(Y) == pytest.approx(30.0)
    diagonal = (Y + Z) / np.sqrt(2.0)
    assert onto.depth(diagonal) == pytest.approx(30.0 * np.sqrt(2.0))


@pytest.mark.parametrize(
    ("start", "direction", "radius"),
    [
        (90.0 * Z + 40.0 * Y, -Z, 20.0),  # some of it misses the tube
        (90.0 * Z, X, 20.0),  # beside it
        (90.0 * Z + 400.0 * X, -Z, 20.0),  # past its end
        (90.0 * Z, Z, 20.0),  # leads away from it
        (10.0 * Z, -Z, 8.0),  # begins inside
    ],
)
def test_what_does_not_run_into_a_tube_has_no_bead(start, direction, radius) -> None:
    onto = Stem(np.array([-200.0 * X, 200.0 * X]), 30.0)
    assert weld(round_outline(start, direction, radius), direction, (onto,)) == ()


def test_a_tube_that_ends_short_of_another_is_not_welded_to_it() -> None:
    onto = stems(np.array([-200.0 * X, 200.0 * X]), 60.0, None)
    for end, count in ((20.0, 1), (34.0, 0)):
        own = stems(np.array([300.0 * Z + 100.0 * Y, 200.0 * Z, end * Z]), 40.0, None)
        assert len(end_welds(own, [onto])) == count


@pytest.mark.parametrize("name", NAMES)
def test_beads_lie_on_what_they_join(name: str) -> None:
    """Each bead's middle line is on the skin of what is drawn of its piece, by another library's nearest points."""
    count = 0
    for part in solids_of(built(scene_data(name))).parts:
        count += sum(isinstance(solid, Bead) for solid in part.solids)
        if part.label.startswith("bracket of "):
            _check_on_skin(part)
    assert count > 10


def _check_on_skin(part: PartSolids) -> None:
    beads = [solid for solid in part.solids if isinstance(solid, Bead)]
    plain = [mesh_of(solid) for solid in part.solids if not isinstance(solid, Bead)]
    for bead in beads:
        away = np.min(
            [
                trimesh.proximity.closest_point(trimesh.Trimesh(m.points, m.faces, process=False), bead.path)[1]
                for m in plain
            ],
            axis=0,
        )
        # The outline of a round bar is a polygon inside its circle, and a plate's corners are cut.
        assert away.max() < BEAD_RADIUS, part.label


def test_a_slotted_ring_has_the_volume_of_its_lands() -> None:
    """Closed form: an annular prism less its slots, but for broken edges, leaning walls and chords."""
    ring = notched_ring(np.zeros(3), Z, (0.0, 12.0), (30.0, 40.0), 8, 4.0)
    mesh = mesh_of(ring)
    full = np.pi * (40.0**2 - 30.0**2) * 12.0
    slots = 0.3 * np.pi * (40.0**2 - 36.0**2) * 12.0
    assert mesh.volume == pytest.approx(full - slots, rel=0.02)
    surface = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
    assert surface.is_watertight
    assert norm(mesh.points[:, :2]).max() == pytest.approx(40.0)
