"""What is measured is what is drawn: closed, as round as it is said to be, and nothing drawn sticks out of it.

Expectations are D: volumes, radii and distances of the solids that the scene names.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from zoo import NAMES, built, pitman_scene, scene_data, trailing_arm

from model.envelopes import BONDED, PAINTED, Kind, MeasuredPart, at_ride_height, measured_parts
from model.errors import SceneError
from model.mechanism import FRAME, Mechanism
from model.members import posture
from model.meshes import CHORD_ERROR, Places, mesh_of, pliant_mesh, sections_of
from model.partshapes import solids_of
from model.patches import inside
from model.poses import Poses
from model.solids import Ball, Bead, HoseSolid, Material, Revolved, SpringSolid, Tube, rod
from model.solver import solve
from model.spatial import Array, dot, norm
from model.travel import Cycle, cycle
from model.triangles import joined
from model.wheelshapes import GROOVE, TYRE_OVER_LOADED, carcass, grown_tyre, tread_of

# How far in mm a drawn vertex may lie outside what is measured of it.
PROUD = 0.5


def everything() -> Mechanism:
    """The Wren's front with brakes, straps and a tyre that grows."""
    data = scene_data("wren_front")
    data["wheel"]["wheel"] |= {"growth": 6.0, "tread_width": 150.0}
    data["brake"] = {
        "brake": {
            "wheel": "wheel",
            "mirror": True,
            "diameter": 260,
            "thickness": 20,
            "inboard": 10,
            "caliper_outer": 155,
            "caliper_width": 90,
        }
    }
    data["strap"] = {
        "strap": {
            "mirror": True,
            "from": {"point": "upper_front_pivot", "on": "frame"},
            "to": {"point": "coilover_foot", "on": "lower arm"},
            "length": 330,
        }
    }
    return built(data)


def mechanism_of(name: str) -> Mechanism:
    special = {"pitman": pitman_scene(parallelogram=True), "trailing arm": trailing_arm()}
    if name == "everything":
        return everything()
    return built(special[name] if name in special else scene_data(name))


EVERY = (*NAMES, "pitman", "trailing arm", "everything")


def cycled(mechanism: Mechanism, frames: int) -> Poses:
    return solve(mechanism, cycle(mechanism, Cycle.ALL, frames))


def places_of(poses: Poses, number: int) -> Places:
    parts = posture(poses).parts
    return lambda name: (parts[name].rotation[number], parts[name].translation[number])


def surface(part: MeasuredPart) -> trimesh.Trimesh:
    return trimesh.Trimesh(part.mesh.points, part.mesh.faces, process=False)


def of_kind(mechanism: Mechanism, label: str, kind: Kind) -> MeasuredPart:
    (found,) = (part for part in measured_parts(mechanism) if part.label == label and part.kind is kind)
    return found


@pytest.mark.parametrize("name", EVERY)
def test_every_measured_mesh_is_closed_wound_outwards_and_without_slivers(name):
    parts = measured_parts(mechanism_of(name))
    keys = [(part.label, part.parts, part.kind) for part in parts]
    assert len(set(keys)) == len(keys)
    for part in parts:
        mesh = surface(part)
        assert mesh.is_watertight, part.label
        assert mesh.is_winding_consistent, part.label
        assert mesh.volume > 0.0, part.label
        # A triangle without area has no normal, which distance queries need.
        assert mesh.area_faces.min() > 1e-5, part.label


@pytest.mark.parametrize("name", EVERY)
def test_everything_drawn_is_measured_but_what_is_listed(name):
    mechanism = mechanism_of(name)
    straps = {strap.name for strap in mechanism.straps}
    model = solids_of(mechanism)
    drawn = {(part.label, (part.part,)) for part in model.parts if part.material not in PAINTED}
    for solid in model.pliant:
        holders = {
            SpringSolid: lambda s: (s.top_part, s.bottom_part),
            HoseSolid: lambda s: s.parts,
        }.get(type(solid), lambda s: (s.near, s.far))(solid)
        if solid.material not in PAINTED and not solid.label.startswith(BONDED):
            drawn.add((solid.label, holders))
    measured = {(part.label, part.parts) for part in measured_parts(mechanism)}
    assert measured == {key for key in drawn if key[0] not in straps}


@pytest.mark.parametrize("name", EVERY)
def test_no_drawn_vertex_sticks_out_of_what_is_measured(name):
    mechanism = mechanism_of(name)
    poses = cycled(mechanism, 5)
    parts = measured_parts(mechanism)
    straps = {strap.name for strap in mechanism.straps}
    model = solids_of(mechanism)
    known: dict[tuple[str, tuple[str, ...]], list[MeasuredPart]] = defaultdict(list)
    for part in parts:
        known[part.label, part.parts].append(part)
    for shape in model.parts:
        if shape.material in PAINTED or shape.label in straps:
            continue
        points = joined(mesh_of(solid) for solid in shape.solids if not isinstance(solid, Bead)).points
        whole = joined(part.mesh for part in known[shape.label, (shape.part,)])
        assert _outside(points, whole) < PROUD, (shape.label, shape.material)
    for number in range(0, len(poses), 2):
        places = places_of(poses, number)
        for solid in model.pliant:
            if solid.material in PAINTED or solid.label.startswith(BONDED) or solid.label in straps:
                continue
            holders = next(key for key in known if key[0] == solid.label and len(key[1]) == 2)
            whole = joined(part.at(places) for part in known[holders])
            assert _outside(pliant_mesh(solid, places).points, whole) < PROUD, (solid.label, number)


def _outside(points: Array, whole) -> float:
    """How far (mm) the farthest of points (n, 3) lies outside a closed mesh: 0 where it is one of its vertices."""
    known = {row.tobytes() for row in np.round(whole.points, 6)}
    rest = np.array([point for point in points if np.round(point, 6).tobytes() not in known]).reshape(-1, 3)
    if len(rest):
        rest = rest[:: 1 + len(rest) // 3000]  # a grown tyre is the only mesh with so many: one in five tells
        rest = rest[~inside(rest, whole)]
    if not len(rest):
        return 0.0
    _, distance, _ = trimesh.proximity.closest_point(trimesh.Trimesh(whole.points, whole.faces, process=False), rest)
    return float(distance.max())


@pytest.mark.parametrize("name", EVERY)
def test_a_rigid_part_rides_on_its_part_and_a_pliant_one_keeps_its_triangles(name):
    mechanism = mechanism_of(name)
    poses = cycled(mechanism, 3)
    for part in measured_parts(mechanism):
        assert np.allclose(part.at(at_ride_height).points, part.mesh.points, rtol=0.0, atol=1e-9)
        assert part.rigid == (len(part.parts) == 1)
        for number in range(len(poses)):
            places = places_of(poses, number)
            now = part.at(places)
            assert np.array_equal(now.faces, part.mesh.faces)
            if part.rigid:
                rotation, translation = places(part.parts[0])
                assert np.allclose(now.points, part.mesh.points @ rotation.T + translation, rtol=0.0, atol=1e-9)
            else:
                assert now.volume > 0.0


@pytest.mark.parametrize("radius", [3.0, 12.0, 40.0, 150.0, 400.0])
def test_no_chord_lies_deeper_than_it_may(radius):
    sides = sections_of(radius)
    assert sides % 4 == 0
    assert radius * (1.0 - np.cos(np.pi / sides)) <= CHORD_ERROR
    ball = mesh_of(Ball(np.zeros(3), min(radius, 300.0)))
    corners = ball.points[ball.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    depth = dot(corners[:, 0], normals) / norm(normals)
    assert min(radius, 300.0) - depth.min() <= CHORD_ERROR
    bar = mesh_of(rod(np.zeros(3), np.array([0.0, 0.0, 900.0]), radius, 0.0))
    assert bar.volume == pytest.approx(0.5 * sides * np.sin(2 * np.pi / sides) * radius**2 * 900.0)
    tube = mesh_of(Tube(np.array([[0.0, 0, 0], [0, 0, 900]]), radius))
    assert tube.volume == pytest.approx(bar.volume)


def test_kinds_and_members_of_the_wren():
    parts = measured_parts(built(scene_data("wren_front")))
    kinds = {(part.label, part.kind): part for part in parts}
    for label, kind, member in (
        ("left wheel", Kind.TYRE, "left wheel"),
        ("left wheel", Kind.RIM, "left wheel"),
        ("left lower arm", Kind.ARM, "left lower arm"),
        ("left upright", Kind.KNUCKLE, "left upright"),
        ("left tie rod", Kind.LINK, "left tie rod"),
        ("left coilover body", Kind.DAMPER, "left coilover"),
        ("left coilover spring", Kind.SPRING, "left coilover"),
        ("left anti-roll bar", Kind.BAR, "anti-roll bar"),
        ("left brake hose", Kind.HOSE, "left brake hose"),
        ("left brake hose", Kind.BRACKET, "left brake hose"),
        ("rack", Kind.STEERING, "rack"),
        ("left rail", Kind.FRAME, "left rail"),
        (FRAME, Kind.FRAME, FRAME),
        ("bracket of left coilover, at frame", Kind.BRACKET, "bracket of left coilover, at frame"),
    ):
        assert kinds[label, kind].member == member


def test_a_spring_is_the_cylinder_between_its_seats():
    mechanism = built(scene_data("wren_rear"))
    poses = cycled(mechanism, 7)
    now = posture(poses)
    spring = next(s for s in solids_of(mechanism).pliant if isinstance(s, SpringSolid))
    part = next(part for part in measured_parts(mechanism) if part.label == spring.label)
    radius = spring.mean_radius + spring.wire_radius
    top, bottom = now.parts[spring.top_part].point(spring.top), now.parts[spring.bottom_part].point(spring.bottom)
    for number in range(len(poses)):
        mesh = part.at(places_of(poses, number))
        line = top[number] - bottom[number]
        along = (mesh.points - bottom[number]) @ (line / norm(line))
        assert (along.min(), along.max()) == pytest.approx((0.0, norm(line)), abs=1e-9)
        out = norm(np.cross(mesh.points - bottom[number], line / norm(line)))
        assert out.max() == pytest.approx(radius)


def test_a_tyre_has_the_section_that_the_scene_gives():
    for tread in (None, 120.0, 185.0):
        wheel = replace(built(scene_data("wren_front")).wheels[0], tread_width=tread)
        section = grown_tyre(replace(wheel, growth=0.0)).profile
        assert np.abs(section[:, 0]).max() == pytest.approx(0.5 * wheel.width)
        outer = TYRE_OVER_LOADED * wheel.loaded_radius
        assert section[:, 1].max() == pytest.approx(outer)
        flat = section[section[:, 1] > outer - 1e-6, 0]
        assert np.ptp(flat) == pytest.approx(tread or 0.76 * wheel.width)
        widest = section[np.abs(section[:, 0]) > 0.5 * wheel.width - 1e-6, 1]
        # The tyre bulges most halfway up its wall; with a tread as wide as itself it stays so to the top.
        assert widest[0] == pytest.approx(0.5 * (outer + 0.5 * wheel.rim_diameter))
        assert section[:, 1].min() == pytest.approx(0.5 * wheel.rim_diameter - 2.0)


def test_a_tread_stands_on_its_carcass_inside_the_measured_tyre():
    for name in ("wren_front", "tarn_rear"):
        wheel = replace(built(scene_data(name)).wheels[0], growth=0.0)
        whole, under, tread = mesh_of(grown_tyre(wheel)), mesh_of(carcass(wheel)), mesh_of(tread_of(wheel))
        outer = TYRE_OVER_LOADED * wheel.loaded_radius
        radius = norm(np.cross(tread.points - wheel.centre, wheel.axis))
        # The ribs reach the tyre's radius, the slots end below the floor that the carcass makes.
        assert radius.max() == pytest.approx(outer)
        assert radius.min() < outer - GROOVE
        # Every vertex of both lies in the measured tyre, or on its skin but for the chords that it is made of.
        for drawn in (tread, under):
            assert _outside(drawn.points, whole) <= CHORD_ERROR


def test_the_section_of_a_tyre_is_as_smooth_as_any_round_thing():
    # A truck's tyre: the largest that a scene may have is hardly larger.
    wheel = replace(
        built(scene_data("tarn_front")).wheels[0],
        loaded_radius=480.0,
        width=330.0,
        rim_diameter=420.0,
        tread_width=230.0,
    )
    coarse = grown_tyre(replace(wheel, growth=0.0)).profile
    fine = _finer(wheel)
    edges = np.stack([coarse[:-1], coarse[1:]], axis=1)
    side = fine[(fine[:, 0] > 0.0)]
    along = edges[:, 1] - edges[:, 0]
    offset = side[:, None] - edges[None, :, 0]
    share = np.clip((offset * along).sum(-1) / (along**2).sum(-1), 0.0, 1.0)
    away = norm(offset - share[..., None] * along).min(axis=1)
    assert away.max() <= CHORD_ERROR


def _finer(wheel):
    """Points of the same two curves, the shoulder's and the sidewall's, with many more of them."""
    half, rim = 0.5 * wheel.width, 0.5 * wheel.rim_diameter
    wall, tread = TYRE_OVER_LOADED * wheel.loaded_radius - rim, 0.5 * wheel.tread_width
    turn = np.linspace(0.0, 0.5 * np.pi, 4000)
    shoulder = np.stack(
        [tread + (half - tread) * np.cos(turn) ** 0.75, rim + (0.5 + 0.5 * np.sin(turn) ** 0.75) * wall], axis=-1
    )
    sidewall = np.stack(
        [(0.78 + 0.22 * np.sin(turn)) * half, rim - 2.0 + (0.5 * wall + 2.0) * (1.0 - np.cos(turn))], axis=-1
    )
    return np.concatenate([shoulder, sidewall])


def test_a_tyre_is_measured_larger_by_its_growth_all_round():
    mechanism = built(scene_data("wren_front"))
    wheel = mechanism.wheels[0]
    plain, grown = grown_tyre(wheel).profile, grown_tyre(replace(wheel, growth=8.0)).profile
    assert grown[:, 1].max() - plain[:, 1].max() == pytest.approx(8.0)
    assert grown[:, 0].max() - plain[:, 0].max() == pytest.approx(8.0, abs=0.02)  # the widest place is no corner
    edges = np.stack([plain[:-1], plain[1:]], axis=1)
    along = edges[:, 1] - edges[:, 0]
    offset = grown[:, None] - edges[None, :, 0]
    share = np.clip((offset * along).sum(-1) / (along**2).sum(-1), 0.0, 1.0)
    away = norm(offset - share[..., None] * along).min(axis=1)
    # Each edge moves by the growth; a corner between two edges farther, by one over the cosine of half its bend.
    assert away.min() == pytest.approx(8.0, abs=1e-6)
    assert away.max() < 8.4
    whole = everything()
    measured, drawn = (
        of_kind(whole, "left wheel", Kind.TYRE),
        of_kind(built(scene_data("wren_front")), "left wheel", Kind.TYRE),
    )
    assert np.ptp(measured.mesh.points[:, 2]) - np.ptp(drawn.mesh.points[:, 2]) == pytest.approx(12.0, abs=0.2)


def test_a_brake_fills_what_the_scene_says():
    mechanism = everything()
    for side, sign in (("left", 1.0), ("right", -1.0)):
        wheel = next(wheel for wheel in mechanism.wheels if wheel.name == f"{side} wheel")
        brake = of_kind(mechanism, f"{side} brake", Kind.BRAKE)
        assert brake.parts == (f"{side} upright",)
        inward = -sign * wheel.axis
        offset = brake.mesh.points - (wheel.centre + 10.0 * inward)
        along = offset @ inward
        radial = offset - along[:, None] * inward
        out = norm(radial)
        assert out.max() == pytest.approx(155.0)
        caliper = out > 131.0
        assert (along[caliper].min(), along[caliper].max()) == pytest.approx((-45.0, 45.0))
        # The caliper sits 90° to the rear and reaches 60° round: half of it to each side.
        rear = np.cross(wheel.axis, [0.0, 0.0, 1.0])
        rear = -rear if rear[0] > 0.0 else rear
        turn = np.degrees(np.arccos(np.clip((radial[caliper] @ rear) / out[caliper], -1.0, 1.0)))
        assert turn.max() == pytest.approx(30.0, abs=1.0)  # the wheel's camber and toe tilt its plane by a degree
        disc = (out > 129.9) & (out < 130.1)
        assert np.ptp(along[disc]) == pytest.approx(20.0, abs=2.0)  # its edges are broken by a twentieth
    # No other disc is drawn then, and the wheel keeps its own where no brake is given.
    assert not [part for part in measured_parts(mechanism) if part.label == "left wheel" and part.kind is Kind.BRAKE]
    assert of_kind(built(scene_data("wren_front")), "left wheel", Kind.BRAKE)


def test_straps_are_drawn_to_their_length_and_not_measured():
    mechanism = everything()
    poses = cycled(mechanism, 9)
    strap = next(solid for solid in solids_of(mechanism).pliant if solid.label == "left strap")
    assert strap.material is Material.WEBBING
    for number in range(len(poses)):
        places = places_of(poses, number)
        mesh = pliant_mesh(strap, places)
        middle = mesh.points[:-2].reshape(-1, 4, 3).mean(axis=1)
        length = norm(np.diff(middle, axis=0)).sum()
        ends = [places(part)[0] @ at + places(part)[1] for part, at in zip(strap.parts, strap.ends, strict=True)]
        # Slack it hangs in an arc of its length; past its length it is drawn straight, as a strap that gives way.
        assert length == pytest.approx(max(330.0, norm(ends[1] - ends[0])), rel=1e-3)
        assert middle[[0, -1]] == pytest.approx(np.array(ends), abs=1e-6)
    assert not [part for part in measured_parts(mechanism) if "strap" in part.label]


def own(data, tmp_path, of, **place):
    box = trimesh.creation.box((200.0, 40.0, 30.0))
    file = tmp_path / "own.stl"
    box.export(file)
    data["mesh"] = {"own": {"of": of, "file": str(file), **place}}
    return data


@pytest.mark.parametrize("mirror", [False, True])
def test_a_part_with_a_mesh_of_its_own_is_drawn_and_measured_by_it(tmp_path, mirror):
    data = scene_data("wren_front")
    of = "tie rod" if mirror else "left tie rod"
    own(data, tmp_path, of, mirror=mirror, place={"turn": [0, 0, 90], "move": [-110, 430, 228]})
    mechanism = built(data)
    left = of_kind(mechanism, "left tie rod", Kind.LINK)
    assert left.mesh.volume == pytest.approx(200.0 * 40.0 * 30.0, rel=1e-5)
    assert left.mesh.points.min(axis=0) == pytest.approx([-130.0, 330.0, 213.0], rel=1e-5)
    assert left.mesh.points.max(axis=0) == pytest.approx([-90.0, 530.0, 243.0], rel=1e-5)
    drawn = [part for part in solids_of(mechanism).parts if part.label == "left tie rod"]
    assert len(drawn) == 1
    right = of_kind(mechanism, "right tie rod", Kind.LINK)
    if mirror:
        assert right.mesh.points == pytest.approx(left.mesh.points * [1.0, -1.0, 1.0])
    else:
        assert right.mesh.volume == pytest.approx(
            of_kind(built(scene_data("wren_front")), "right tie rod", Kind.LINK).mesh.volume
        )


def test_a_wheel_by_its_own_mesh_counts_as_a_tyre(tmp_path):
    mechanism = built(own(scene_data("wren_front"), tmp_path, "left wheel"))
    assert [part.kind for part in measured_parts(mechanism) if part.label == "left wheel"] == [Kind.TYRE]


def test_half_a_coilover_may_have_its_own_mesh(tmp_path):
    mechanism = built(own(scene_data("wren_front"), tmp_path, "left coilover body"))
    part = of_kind(mechanism, "left coilover body", Kind.DAMPER)
    assert (len(part.mesh.faces), part.member) == (12, "left coilover")


@pytest.mark.parametrize("of", ["anti-roll bar", "left coilover", "left brake hose"])
def test_a_mesh_of_something_that_moves_in_itself_is_refused(tmp_path, of):
    mechanism = built(own(scene_data("wren_front"), tmp_path, of))
    with pytest.raises(SceneError, match=r'of is "[a-z -]+", which is not drawn as one rigid part'):
        measured_parts(mechanism)


def test_a_frame_shape_is_turned_moved_and_mirrored(tmp_path):
    data = scene_data("wren_front")
    file = tmp_path / "arch.obj"
    trimesh.creation.box((0.2, 0.04, 0.03)).export(file)
    data["frame"]["arch"] = {
        "mesh": str(file),
        "mesh_units": "m",
        "mirror": True,
        "place": {"turn": [0, 0, 90], "move": [10, 600, 700]},
    }
    parts = {part.label: part for part in measured_parts(built(data))}
    left, right = (parts[f"{side} arch"].mesh.points for side in ("left", "right"))
    assert left.min(axis=0) == pytest.approx([-10.0, 500.0, 685.0])
    assert left.max(axis=0) == pytest.approx([30.0, 700.0, 715.0])
    assert right == pytest.approx(left * [1.0, -1.0, 1.0])
    assert parts["left arch"].kind is Kind.FRAME


def test_a_scan_of_one_side_of_a_thing_is_taken_where_the_scene_says_so(tmp_path):
    data = scene_data("wren_front")
    file = tmp_path / "arch.stl"
    scan = trimesh.creation.icosphere(radius=300.0)
    scan.update_faces(scan.triangles_center[:, 2] > 0.0)
    scan.export(file)
    data["frame"]["arch"] = {"mesh": str(file)}
    with pytest.raises(SceneError, match=r"is not closed: \d+ of its edges .* say open = true"):
        measured_parts(built(data))
    data["frame"]["arch"]["open"] = True
    assert len(of_kind(built(data), "arch", Kind.FRAME).mesh.faces) == len(scan.faces)


def test_a_ring_closes_on_itself():
    # A regression of the round things' fineness: one profile, wide and narrow.
    for radius in (6.0, 60.0, 600.0):
        profile = np.array([(-5.0, radius - 2), (5.0, radius - 2), (5.0, radius), (-5.0, radius)])
        mesh = mesh_of(Revolved(np.zeros(3), np.array([0.0, 0.0, 1.0]), profile))
        assert trimesh.Trimesh(mesh.points, mesh.faces, process=False).is_watertight
