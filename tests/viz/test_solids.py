"""What is drawn is closed, wound outwards and as large as the mechanism says; springs shorten with a round wire.

All of it is D: what a closed surface and a helix are.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from zoo import NAMES, built, pitman_scene, scene_data, trailing_arm

from model.errors import SceneError
from model.flexing import spring_line
from model.icospheres import unit_sphere
from model.mechanism import Mechanism
from model.members import Posture, halves, posture
from model.meshes import Places, mesh_of, pliant_mesh
from model.partshapes import solids_of
from model.poses import Poses
from model.solids import Material, MeshFile, Rail, SolidModel, SpringSolid, Tube, rounded
from model.solver import solve
from model.travel import Cycle, cycle
from model.triangles import Mesh
from viz.shapes import shaded

EVERY = (*NAMES, "pitman", "trailing arm")
# Meshes are polygons with chords of a few mm; radii and volumes are short by up to 1 − cos(π / sides).
CHORD = 0.03


def mechanism_of(name: str) -> Mechanism:
    special = {"pitman": pitman_scene(parallelogram=True), "trailing arm": trailing_arm()}
    return built(special[name] if name in special else scene_data(name))


def springs_of(model: SolidModel) -> list[SpringSolid]:
    return [solid for solid in model.pliant if isinstance(solid, SpringSolid)]


def places_in(now: Posture, pose: int) -> Places:
    return lambda part: (now.parts[part].rotation[pose], now.parts[part].translation[pose])


def spring_mesh(spring: SpringSolid, now: Posture, pose: int) -> Mesh:
    return pliant_mesh(spring, places_in(now, pose))


def cycled(name: str, frames: int = 15) -> Poses:
    mechanism = mechanism_of(name)
    return solve(mechanism, cycle(mechanism, Cycle.ALL, frames))


@pytest.mark.parametrize("name", EVERY)
def test_every_solid_is_closed_and_wound_outwards(name: str) -> None:
    for part in solids_of(mechanism_of(name)).parts:
        for solid in part.solids:
            mesh = mesh_of(solid)
            surface = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
            assert surface.is_watertight, (part.part, solid)
            assert surface.is_winding_consistent, (part.part, solid)
            assert surface.volume > 0.0, (part.part, solid)


@pytest.mark.parametrize("name", EVERY)
def test_what_changes_shape_is_closed_in_every_pose(name: str) -> None:
    poses = cycled(name, 5)
    now = posture(poses)
    for solid in solids_of(poses.mechanism).pliant:
        first = pliant_mesh(solid, places_in(now, 0)).faces
        for pose in range(len(poses)):
            mesh = pliant_mesh(solid, places_in(now, pose))
            assert np.array_equal(mesh.faces, first), (solid.label, pose)
            surface = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
            assert surface.is_watertight, (solid.label, pose)
            assert surface.volume > 0.0, (solid.label, pose)


@pytest.mark.parametrize("name", EVERY)
def test_nothing_is_drawn_far_from_the_vehicle(name: str) -> None:
    mechanism = mechanism_of(name)
    places = np.array([at for _, _, at in mechanism.points])
    # A tyre stands out by its radius, a gearbox's end by a hand; nothing else is longer than that beyond its points.
    room = max(wheel.loaded_radius for wheel in mechanism.wheels) + 60.0
    low, high = places.min(axis=0) - room, places.max(axis=0) + room
    for part in solids_of(mechanism).parts:
        for solid in part.solids:
            points = mesh_of(solid).points
            assert (points >= low).all(), (part.label, part.material)
            assert (points <= high).all(), (part.label, part.material)


@pytest.mark.parametrize("name", EVERY)
def test_every_part_has_a_transform_and_every_member_is_drawn(name: str) -> None:
    mechanism = mechanism_of(name)
    model = solids_of(mechanism)
    parts = posture(solve(mechanism, cycle(mechanism, Cycle.LEFT, 2))).parts
    drawn = {part.part for part in model.parts}
    assert drawn <= parts.keys()
    members = {link.name for link in mechanism.links} | {arm.name for arm in mechanism.arms}
    members |= {half for unit in mechanism.coilovers for half in halves(unit.name)}
    assert members <= drawn
    assert {wheel.name for wheel in mechanism.wheels} <= {part.label for part in model.parts}


def test_shading_normals_are_unit_and_point_outwards() -> None:
    tube = mesh_of(Tube(np.array([[0.0, 0, 0], [100, 0, 0]]), 10.0))
    points, normals, _ = shaded(tube)
    assert np.linalg.norm(normals, axis=1) == pytest.approx(1.0)
    assert ((points - [50, 0, 0]) * normals).sum(axis=1).min() > 0.0


@pytest.mark.parametrize("subdivisions", [0, 3, 4])
def test_a_sphere_is_the_one_of_the_textbooks(subdivisions: int) -> None:
    ours, theirs = unit_sphere(subdivisions), trimesh.creation.icosphere(subdivisions=subdivisions)
    sphere = trimesh.Trimesh(ours.points, ours.faces, process=False)
    assert sphere.is_watertight
    assert len(sphere.faces) == 20 * 4**subdivisions
    # The same corners but for a turn: the same volume and area, to the last digits of a sum of thousands.
    assert sphere.volume == pytest.approx(theirs.volume, rel=1e-12)
    assert sphere.area == pytest.approx(theirs.area, rel=1e-12)


def test_a_bent_tube_and_a_mitred_rail_keep_their_section() -> None:
    path = np.array([[0.0, 0, 0], [400, 0, 0], [400, 300, 0], [400, 300, 250]])
    tube = trimesh.Trimesh(*vars(mesh_of(Tube(rounded(path, 80.0), 20.0))).values())
    length = np.linalg.norm(np.diff(rounded(path, 80.0), axis=0), axis=1).sum()
    assert tube.volume == pytest.approx(np.pi * 20.0**2 * length, rel=CHORD)
    flat = path[:3]
    rail = trimesh.Trimesh(*vars(mesh_of(Rail(flat, (40.0, 60.0)))).values())
    assert rail.volume == pytest.approx(40.0 * 60.0 * 700.0, rel=1e-9)


def test_a_rail_that_climbs_and_turns_has_flat_walls_and_its_whole_section() -> None:
    """A tower: up, then level to the side. Without twist every wall is flat, and the volume is section times length."""
    for path in (
        [[0.0, 0, 0], [0, -20, 400], [0, -300, 430]],
        [[0.0, 0, 0], [200, 0, 0], [300, 80, 0], [340, 80, 300]],
    ):
        rail = trimesh.Trimesh(*vars(mesh_of(Rail(np.array(path), (90.0, 60.0)))).values())
        length = np.linalg.norm(np.diff(path, axis=0), axis=1).sum()
        assert rail.volume == pytest.approx(90.0 * 60.0 * length, rel=1e-9)
        # A wall is along its leg, an end square to it.
        legs = np.diff(path, axis=0) / np.linalg.norm(np.diff(path, axis=0), axis=1)[:, None]
        along = np.abs(rail.face_normals @ legs.T)
        assert np.minimum(along.min(axis=1), np.abs(along - 1.0).min(axis=1)).max() < 1e-9


def test_a_rectangular_tube_is_hollow_inside_the_box_that_is_measured() -> None:
    path, section, wall = np.array([[0.0, 0, 0], [900, 0, 0], [1300, 300, 0]]), (60.0, 100.0), 4.0
    tube = trimesh.Trimesh(*vars(mesh_of(Rail(path, section, wall))).values(), process=False)
    box = trimesh.Trimesh(*vars(mesh_of(Rail(path, section))).values(), process=False)
    assert tube.is_watertight
    # No vertex stands out of the box: rounding errors of some hundred mm.
    assert trimesh.proximity.signed_distance(box, tube.vertices).min() > -1e-6
    # The box less what is inside its walls. A flat of c each way takes ½ c² off an edge, of which there are four.
    inside = (60.0 - 2 * wall) * (100.0 - 2 * wall) - 2 * (0.8 * wall) ** 2
    length = 900.0 + 500.0
    expected = box.volume - (inside + 2 * (1.5 * wall) ** 2) * length
    assert tube.volume == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_springs_fill_the_gap_between_their_perches_in_every_pose(name: str) -> None:
    poses = cycled(name)
    now = posture(poses)
    lengths = {stroke.coilover.name: (stroke.coilover, stroke.length) for stroke in now.strokes}
    model = solids_of(poses.mechanism)
    assert springs_of(model)
    for spring in springs_of(model):
        unit, length = lengths[spring.label.removesuffix(" spring")]
        assert unit.spring is not None
        top, bottom = now.parts[spring.top_part].point(spring.top), now.parts[spring.bottom_part].point(spring.bottom)
        # Squeezed by its preload at full extension, from there on by the shaft's travel.
        expected = unit.spring.free_length - unit.spring.preload - (unit.extended - length)
        assert np.linalg.norm(top - bottom, axis=1) == pytest.approx(expected, abs=1e-6)
        for pose in range(len(poses)):
            along = (top[pose] - bottom[pose]) / expected[pose]
            height = (spring_mesh(spring, now, pose).points - bottom[pose]) @ along
            assert (height.min(), height.max()) == pytest.approx((0.0, expected[pose]), abs=0.3 * spring.wire_radius)


@pytest.mark.parametrize("name", NAMES)
def test_spring_wire_stays_round_and_its_coils_apart(name: str) -> None:
    poses = cycled(name)
    now = posture(poses)
    for spring in springs_of(solids_of(poses.mechanism)):
        top, bottom = now.parts[spring.top_part].point(spring.top), now.parts[spring.bottom_part].point(spring.bottom)
        for pose in range(len(poses)):
            line = spring_line(spring, top[pose], bottom[pose])
            along = (top[pose] - bottom[pose]) / np.linalg.norm(top[pose] - bottom[pose])
            from_axis = np.linalg.norm(np.cross(line - bottom[pose], along), axis=1)
            assert from_axis == pytest.approx(spring.mean_radius)
            per_turn = round((len(line) - 1) / spring.coils)
            height = (line - bottom[pose]) @ along
            middle = slice(per_turn, -2 * per_turn)
            pitch = (height[per_turn:] - height[:-per_turn])[middle]
            assert pitch.min() > 2.0 * spring.wire_radius, (spring.label, pose)
            wire = spring_mesh(spring, now, pose).points[: len(line) * 14].reshape(len(line), 14, 3)
            # A swept section across a chord's half angle is stretched by one over its cosine.
            assert np.linalg.norm(wire - line[:, None], axis=2) == pytest.approx(spring.wire_radius, rel=CHORD)


def test_the_tyre_is_a_little_larger_than_its_loaded_radius() -> None:
    mechanism = mechanism_of("wren_rear")
    for wheel in mechanism.wheels:
        tyre = next(
            part for part in solids_of(mechanism).parts if part.label == wheel.name and part.material is Material.TYRE
        )
        offset = mesh_of(tyre.solids[0]).points - wheel.centre
        radius = np.linalg.norm(offset - (offset @ wheel.axis)[:, None] * wheel.axis, axis=1).max()
        assert wheel.loaded_radius < radius < 1.05 * wheel.loaded_radius
        assert np.abs(offset @ wheel.axis).max() == pytest.approx(0.5 * wheel.width)


def test_no_bar_runs_through_a_ball() -> None:
    for name in NAMES:
        mechanism = mechanism_of(name)
        model = solids_of(mechanism)
        for link in mechanism.links:
            tube = next(part for part in model.parts if part.part == link.name and "paint" in part.material).solids[0]
            points = mesh_of(tube).points
            for end in link.ends:
                assert np.linalg.norm(points - end.at, axis=1).min() > 0.5 * link.diameter, (name, end.point)


def test_a_mesh_file_is_scaled_and_mirrored(tmp_path: Path) -> None:
    box = trimesh.creation.box((1.0, 2.0, 3.0))
    box.apply_translation((0.0, 5.0, 0.0))
    box.export(tmp_path / "bracket.stl")
    mesh = mesh_of(MeshFile(str(tmp_path / "bracket.stl"), 25.4, True))
    assert mesh.points.min(axis=0) == pytest.approx([-12.7, -152.4, -38.1], rel=1e-6)
    assert mesh.volume == pytest.approx(6.0 * 25.4**3, rel=1e-6)


def test_a_mesh_file_that_cannot_be_read_is_said(tmp_path: Path) -> None:
    (tmp_path / "broken.stl").write_text("not a mesh")
    with pytest.raises(SceneError, match=r"broken\.stl"):
        mesh_of(MeshFile(str(tmp_path / "broken.stl"), 1.0, False))
    with pytest.raises(SceneError, match=r"gone\.obj"):
        mesh_of(MeshFile(str(tmp_path / "gone.obj"), 1.0, False))


@pytest.mark.parametrize("factor", [1e-3, 1e3])
def test_a_mesh_in_the_wrong_unit_is_refused(tmp_path, factor: float) -> None:
    file = tmp_path / "rail.stl"
    trimesh.creation.box((1200.0, 60.0, 100.0)).apply_scale(factor).export(file)
    with pytest.raises(SceneError, match=f"is {1.2 * factor:.4g} m long"):
        mesh_of(MeshFile(str(file), 1.0, mirrored=False))
