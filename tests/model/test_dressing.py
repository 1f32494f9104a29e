"""Where a wheel stands, where a spring's ring is drawn, and what a rail's end looks like. D throughout."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from zoo import NAMES, built, scene_data

from model.brackets import nearest_tube
from model.jointmeasures import stroke_measures
from model.mechanism import FRAME
from model.members import posture
from model.meshes import mesh_of
from model.partshapes import solids_of
from model.solids import Material, Prism, Rail, SpringSolid
from model.solver import solve
from model.spatial import norm, rotation_about
from model.travel import Cycle, cycle
from model.wheelshapes import TYRE_OVER_LOADED, ground_below, grown_tyre

X, Y, Z = np.eye(3)


@pytest.mark.parametrize("lean", [0.0, -4.0, 9.0])
def test_the_ground_is_as_far_below_a_wheel_as_its_tyre_reaches(lean: float) -> None:
    """Against the lowest vertex of the tyre's own mesh, less what a loaded tyre is pressed in."""
    wheel = replace(built(scene_data("tarn_rear")).wheels[0], growth=0.0)
    turned = rotation_about(X, np.radians(lean))
    mesh = mesh_of(grown_tyre(wheel))
    lowest = -((mesh.points - wheel.centre) @ turned.T)[:, 2].min()
    sunk = (TYRE_OVER_LOADED - 1.0) * wheel.loaded_radius
    # The mesh is a polygon up to 0.1 mm inside the circle, and its section has chords as deep.
    assert ground_below(wheel, turned) == pytest.approx(lowest - sunk, abs=0.2)


def test_an_upright_wheel_stands_on_its_loaded_radius() -> None:
    wheel = built(scene_data("parcel_rear")).wheels[0]
    rotations = np.stack([np.eye(3), rotation_about(Z, 0.4), rotation_about(Y, 1.0)])
    assert ground_below(wheel, rotations) == pytest.approx(wheel.loaded_radius)


@pytest.mark.parametrize("name", NAMES)
def test_the_squeeze_of_a_spring_is_told_at_the_middle_of_the_spring(name: str) -> None:
    mechanism = built(scene_data(name))
    poses = solve(mechanism, cycle(mechanism, Cycle.ALL, 5))
    now = posture(poses)
    springs = {solid.label: solid for solid in solids_of(mechanism).pliant if isinstance(solid, SpringSolid)}
    told = [measure for measure in stroke_measures(now) if measure.what == "spring squeeze"]
    assert told
    for measure in told:
        spring = springs[f"{measure.where} spring"]
        seats = [
            now.parts[part].point(seat)
            for part, seat in ((spring.top_part, spring.top), (spring.bottom_part, spring.bottom))
        ]
        assert measure.at == pytest.approx(np.mean(seats, axis=0), abs=1e-6)


def test_both_ends_of_every_rectangular_tube_are_closed() -> None:
    for name in NAMES:
        for part in solids_of(built(scene_data(name))).parts:
            rails = [solid for solid in part.solids if isinstance(solid, Rail) and solid.wall is not None]
            plates = [solid for solid in part.solids if isinstance(solid, Prism)]
            if part.material is not Material.FRAME or not rails:
                continue
            (rail,) = rails
            for end in (rail.path[0], rail.path[-1]):
                near = [plate for plate in plates if norm(plate.origin - end) <= rail.wall + 1e-9]
                assert len(near) == 1, part.label
                # It fills the tube but for half of the wall all round.
                low, high = near[0].outline.min(axis=0), near[0].outline.max(axis=0)
                assert high - low == pytest.approx(np.array(rail.section) - rail.wall)


def test_the_nearest_tube_is_bent_as_it_is_drawn() -> None:
    """The middle of a bend lies inside the corner of the path: by what is in the scene, at the drawn tube's surface."""
    mechanism = built(scene_data("tarn_front"))
    hoop = next(shape for shape in mechanism.shapes if shape.name == "coilover hoop")
    corner = hoop.path[1]
    found = nearest_tube(FRAME, corner + 200.0 * Y + 200.0 * Z, mechanism)
    assert found is not None
    drawn = next(part for part in solids_of(mechanism).parts if part.label == "coilover hoop")
    vertices = mesh_of(drawn.solids[0]).points
    away = norm(vertices - (corner + 200.0 * Y + 200.0 * Z)).min()
    # Vertices are some 5 mm apart around, and the drawn bend has more points.
    assert found.clear == pytest.approx(away, abs=2.0)
