"""Clearances over the whole envelope against closed forms, against asking everywhere, and by symmetry."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
import pytest
import zoo
from hypothesis import given, settings
from hypothesis import strategies as st

from model.clearance import REACH, Clearance, clearances, unmeasured
from model.envelopes import Kind, MeasuredPart, measured_parts
from model.gaps import clearance_findings
from model.mechanism import FRAME, Mechanism
from model.meshes import mesh_of
from model.pairs import joints_of, pairs_of, wanted_of, without
from model.placing import Placed, Shapes
from model.poses import Poses
from model.search import Search
from model.solids import Ball, Tube
from model.solver import solve
from model.spatial import Array, norm
from model.travel import Travel, grid
from model.verdicts import State

# What a facetted round part can be smaller than its circle by, on both sides of a gap: 0.1 mm of chord error each.
CHORD = 0.2
# To what a smallest distance is found, mm.
FOUND = 0.01
# Between poses the facets of round parts, 0.1 mm deep, make ripples in which the search may stop. Depths are found to a
# tenth of a mm.
BETWEEN = 0.05


def measured(label: str, part: str, kind: Kind, solid: Ball | Tube) -> MeasuredPart:
    return MeasuredPart(label, label, (part,), kind, mesh_of(solid))


def arm_and_post(post: Array, radius: float = 10.0) -> tuple[Mechanism, tuple[MeasuredPart, ...]]:
    """The trailing arm of the zoo as a ball of 60 mm at its wheel, and a post across the car at (x, z)."""
    line = np.array([[post[0], 500.0, post[1]], [post[0], 800.0, post[1]]])
    parts = (
        measured("hub", "trailing arm", Kind.KNUCKLE, Ball(np.array([0.0, 650.0, 300.0]), 60.0)),
        measured("post", FRAME, Kind.FRAME, Tube(line, radius)),
    )
    return zoo.built(zoo.trailing_arm()), parts


def hub_gap(height: float | Array, post: Array, radius: float = 10.0) -> float | Array:
    """Closed form of their gap: the hub goes round (400, 300) at 400 mm."""
    angle = np.arcsin(np.asarray(height) / 400.0)
    hub = np.stack([400 - 400 * np.cos(angle), 300 + 400 * np.sin(angle)], axis=-1)
    return norm(hub - post) - 60.0 - radius


def test_a_smallest_gap_strictly_between_poses_is_found() -> None:
    # The arm passes the post at 23 mm up; the grid stands at 0 and 50.
    angle = np.arcsin(23 / 400)
    post = np.array([400 - 475 * np.cos(angle), 300 + 475 * np.sin(angle)])
    mechanism, parts = arm_and_post(post)
    (found,) = clearances(solve(mechanism, grid(mechanism, 5)), parts)
    assert found.distance == pytest.approx(475 - 400 - 70, abs=CHORD)
    assert found.between
    # A smallest value is flat: 0.2 mm of facets move its place by some mm.
    assert found.drives[0] == pytest.approx(23, abs=6)
    assert found.pose in (2, 3)
    on_grid = hub_gap(np.array([0.0, 50.0]), post).min()
    assert found.distance < on_grid - 0.5
    (coarse,) = clearances(solve(mechanism, grid(mechanism, 5)), parts, refine=False)
    assert coarse.distance == pytest.approx(on_grid, abs=CHORD)


@settings(max_examples=15, deadline=None)
@given(st.floats(-130.0, 130.0), st.floats(410.0, 520.0))
def test_the_closed_form_of_an_arm_passing_a_post(height: float, reach: float) -> None:
    angle = np.arcsin(height / 400)
    post = np.array([400 - reach * np.cos(angle), 300 + reach * np.sin(angle)])
    mechanism, parts = arm_and_post(post)
    found = clearances(solve(mechanism, grid(mechanism, 5)), parts)
    expected = hub_gap(np.linspace(-100, 100, 4001), post).min()
    on_grid = hub_gap(np.linspace(-100, 100, 5), post).min()
    if on_grid > REACH - CHORD and expected > 3:
        # Nothing within reach in any pose: it is left out unless it is close between them.
        assert found == () or found[0].distance > expected - CHORD
    else:
        assert found[0].distance == pytest.approx(expected, abs=CHORD)


def test_a_touch_far_from_every_pose_of_a_coarse_grid_is_found() -> None:
    # A small hub passes a thin post at 50 mm up: in the poses of the grid, 100 mm apart, they are 46 mm apart.
    angle = np.arcsin(50 / 400)
    post = np.array([400 - 402 * np.cos(angle), 300 + 402 * np.sin(angle)])
    mechanism, (_, rod) = arm_and_post(post, radius=1.0)
    hub = measured("hub", "trailing arm", Kind.KNUCKLE, Ball(np.array([0.0, 650.0, 300.0]), 3.0))
    (found,) = clearances(solve(mechanism, grid(mechanism, 3)), (hub, rod))
    assert found.distance == pytest.approx(2 - 4, abs=CHORD)
    assert found.between
    assert found.ride is not None
    assert found.ride > 40


@lru_cache(maxsize=4)
def front(wheel_steps: int, steer_steps: int) -> tuple[Poses, tuple[MeasuredPart, ...]]:
    mechanism = zoo.built(zoo.scene_data("wren_front"))
    return solve(mechanism, grid(mechanism, wheel_steps, steer_steps)), measured_parts(mechanism)


def chosen(parts: tuple[MeasuredPart, ...], *labels: str) -> tuple[MeasuredPart, ...]:
    return tuple(part for part in parts if part.label in labels)


def by_labels(found: tuple[Clearance, ...]) -> dict[frozenset[str], Clearance]:
    return {frozenset(each.labels): each for each in found}


LEFT = ("left lower arm", "left upper arm", "left tie rod", "left wheel", "left rail", "left end link", "left upright")


def test_dense_sampling_finds_nothing_smaller() -> None:
    poses, parts = front(5, 5)
    parts = chosen(parts, *LEFT)
    found = by_labels(clearances(poses, parts))
    assert len(found) >= 5
    mechanism = poses.mechanism
    generator = np.random.default_rng(4)
    low = np.array([drive.low for drive in mechanism.drives])
    high = np.array([drive.high for drive in mechanism.drives])
    values = generator.uniform(low, high, (150, 3))
    dense = Placed(solve(mechanism, Travel(poses.travel.names, values)), Shapes(parts))
    for pair in pairs_of(mechanism, dense.shapes.parts):
        known = found.get(frozenset(dense.shapes.parts[number].label for number in (pair.first, pair.second)))
        for pose in range(len(values)):
            gap = dense.nearest(pair, pose).distance
            if known is None:
                assert gap > REACH
            elif known.wanted == pair.wanted:
                assert gap > known.distance - (BETWEEN if known.distance > 0 else 0.3)


def test_every_pose_asked_gives_the_same_on_the_grid() -> None:
    poses, parts = front(5, 5)
    placed = Placed(poses, Shapes(chosen(parts, *LEFT, "rack", "left brake hose", "left coilover spring")))
    for pair in pairs_of(poses.mechanism, placed.shapes.parts):
        search = Search(pair, placed, 40.0)
        if not search.run():
            continue
        everywhere = [placed.nearest(pair, pose).distance for pose in range(len(poses))]
        tolerance = FOUND if min(everywhere) > 0 else 0.3
        assert search.known[search.best].distance == pytest.approx(min(everywhere), abs=tolerance)


def test_left_is_right_mirrored() -> None:
    poses, parts = front(5, 3)
    pairs = [("lower arm", "tie rod"), ("upper arm", "wheel"), ("rail", "tie rod"), ("lower arm", "wheel")]
    sides = {}
    for side in ("left", "right"):
        names = [f"{side} {name}" for pair in pairs for name in pair]
        sides[side] = by_labels(clearances(poses, chosen(parts, *names)))
    assert sides["left"]
    for labels, left in sides["left"].items():
        right = sides["right"][frozenset(label.replace("left", "right") for label in labels)]
        # The search between poses stops within a thousandth of a step of the grid, depths within 0.1 mm.
        assert right.distance == pytest.approx(left.distance, abs=0.02 if left.distance > 0 else 0.3)


@pytest.mark.parametrize("hanging", ["left coilover spring", "left brake hose"])
def test_the_order_of_two_parts_does_not_matter(hanging: str) -> None:
    poses, parts = front(5, 3)
    parts = tuple(
        part for part in chosen(parts, hanging, "left upper arm", "left tower") if part.kind is not Kind.BRACKET
    )
    one, other = by_labels(clearances(poses, parts)), by_labels(clearances(poses, parts[::-1]))
    assert one.keys() == other.keys()
    assert one
    for labels, found in one.items():
        assert other[labels].distance == pytest.approx(found.distance, abs=BETWEEN)


def test_the_order_of_poses_does_not_matter() -> None:
    poses, parts = front(5, 3)
    parts = chosen(parts, *LEFT)
    shuffled = np.random.default_rng(1).permutation(len(poses))
    first, second = clearances(poses, parts), clearances(poses.take(shuffled), parts)
    assert [each.labels for each in first] == [each.labels for each in second]
    for one, other in zip(first, second, strict=True):
        assert one.distance == other.distance
        assert one.drives == other.drives
        assert one.pose == shuffled[other.pose]


def test_a_fine_grid_gives_what_a_coarse_one_gives() -> None:
    (coarse, parts), (fine, _) = front(11, 7), front(21, 11)
    parts = chosen(parts, "left lower arm", "left tie rod", "left upper arm", "left wheel")
    first, second = by_labels(clearances(coarse, parts)), by_labels(clearances(fine, parts))
    assert first.keys() == second.keys()
    for labels, one in first.items():
        assert second[labels].distance == pytest.approx(one.distance, abs=BETWEEN)
        assert second[labels].ride == pytest.approx(one.ride, abs=1e-6)
        # The number is that of the fine grid's own pose next to the drive values: half a step, 7 mm or 0.2 of lock.
        there = np.abs(fine.travel.values[second[labels].pose] - second[labels].drives)
        assert (there <= np.array([3.5, 3.5, 0.1]) + 1e-9).all()


def test_neighbours_are_left_out_at_their_joint_only() -> None:
    poses, parts = front(3, 3)
    mechanism = poses.mechanism
    named = {part.label: part for part in parts if part.kind is not Kind.BRAKE}
    joints = [joint for joint in joints_of(mechanism) if joint.member == "left lower arm"]
    assert {joint.on for joint in joints} == {FRAME, "left upright"}
    pairs = {
        frozenset((parts[pair.first].label, parts[pair.second].label)): pair for pair in pairs_of(mechanism, parts)
    }
    ball = pairs[frozenset(("left lower arm", "left upright"))]
    assert [joint.member for joint in ball.joints] == ["left lower arm"]
    assert pairs[frozenset(("left lower arm", "left wheel"))].joints == ()  # a wheel is no neighbour
    (joint,) = ball.joints
    kept = without(named["left lower arm"].mesh, ball.joints)
    # Nothing is left within the room, nothing is lost outside it, each by the size to which triangles are cut.
    away = norm(kept.points[kept.faces].mean(axis=1) - joint.at)
    assert away.min() >= joint.room
    assert away.min() < 1.1 * joint.room
    outside = area(named["left lower arm"].mesh, joint.at, 1.1 * joint.room)
    assert area(kept, joint.at, 1.1 * joint.room) == pytest.approx(outside, rel=0.03)


def area(mesh: Any, at: Array, room: float) -> float:
    """Area of the triangles whose middles are out of a ball, after all have been cut up alike."""
    triangles = mesh.points[mesh.faces]
    for _ in range(4):
        a, b, c = (triangles[:, k] for k in range(3))
        ab, bc, ca = 0.5 * (a + b), 0.5 * (b + c), 0.5 * (c + a)
        quarters = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
        triangles = np.concatenate([np.stack(quarter, axis=1) for quarter in quarters])
    a, b, c = (triangles[:, k] for k in range(3))
    far = norm(triangles.mean(axis=1) - at) > room
    return float(0.5 * norm(np.cross(b - a, c - a))[far].sum())


def test_what_is_never_measured() -> None:
    poses, parts = front(3, 3)
    for pair in pairs_of(poses.mechanism, parts):
        a, b = parts[pair.first], parts[pair.second]
        assert a.parts != b.parts
        assert not pair.still
        assert a.member != b.member
        assert {a.label, b.label} != {FRAME, "rack"}


def test_a_shape_that_a_joint_is_not_bolted_to_is_measured_up_to_the_joint() -> None:
    # A cube of 16 in the lower link of 30, 45 mm from its front bush: the crossmember carries the bracket.
    data = zoo.scene_data("wren_rear")
    data["points"]["peg"] = [425.2, 403.0, 248.5]
    frame = data["frame"] | {"peg": {"centre": "peg", "size": [16, 16, 16]}}
    mechanism = zoo.built(zoo.with_changes(data, frame=frame))
    parts = measured_parts(mechanism)
    shapes = of(parts, "peg", "left lower link", "left rail", "link crossmember")
    rooms = {
        frozenset((shapes.parts[pair.first].label, shapes.parts[pair.second].label)): [
            joint.at for joint in pair.joints
        ]
        for pair in pairs_of(mechanism, shapes.parts)
    }
    assert rooms[frozenset(("peg", "left lower link"))] == []
    assert len(rooms[frozenset(("link crossmember", "left lower link"))]) == 1
    found = by_labels(clearances(solve(mechanism, grid(mechanism, 3)), shapes))
    # Out through the nearest side: half of both, 8 + 15.
    assert found[frozenset(("peg", "left lower link"))].distance == pytest.approx(-23, abs=1.0)


def test_the_room_about_a_joint_is_two_thicknesses() -> None:
    mechanism = zoo.built(zoo.scene_data("wren_front"))
    rooms = {joint.member: joint.room for joint in joints_of(mechanism)}
    assert rooms["left upper arm"] == 48.0  # 24 thick
    assert rooms["left end link"] == 30.0  # 12 thick: the least room
    assert rooms["left brake hose"] == 30.0


@pytest.mark.parametrize("kind", [Kind.TYRE, Kind.RIM, Kind.BRAKE])
def test_wheels_and_brakes_are_no_neighbours(kind: Kind) -> None:
    mechanism = zoo.built(zoo.scene_data("wren_front"))
    solid = Ball(np.array([0.0, 600.0, 285.0]), 10.0)
    parts = (
        measured("left lower arm", "left lower arm", Kind.ARM, solid),
        measured("what turns", "left upright", kind, solid),
        measured("left upright", "left upright", Kind.KNUCKLE, solid),
    )
    pairs = {(pair.first, pair.second): pair for pair in pairs_of(mechanism, parts)}
    assert pairs[0, 1].joints == ()
    assert len(pairs[0, 2].joints) == 1


def braked(outer: float, **tables: Any) -> tuple[Poses, tuple[MeasuredPart, ...]]:
    data = zoo.with_changes(zoo.scene_data("wren_front"), **tables)
    caliper = {"caliper_outer": outer, "caliper_width": 60, "caliper_angle": 90, "caliper_span": 60}
    brake = {"mirror": True, "wheel": "wheel", "diameter": 260, "thickness": 20, "inboard": 45}
    mechanism = zoo.built(zoo.with_changes(data, brake={"brake": brake | caliper}))
    return solve(mechanism, grid(mechanism, 3, 3)), measured_parts(mechanism)


def of(parts: tuple[MeasuredPart, ...], *labels: str) -> Shapes:
    return Shapes(chosen(parts, *labels))


@pytest.mark.parametrize("outer", [155.0, 175.0])
def test_a_wheel_is_measured_against_its_brake_once(outer: float) -> None:
    # The rim of 380 is 16 deep and 5 thick in its middle: its inside there is 169 from the axle. The hat and the hub,
    # which are bolted together, say nothing.
    poses, parts = braked(outer)
    (found,) = clearances(poses, of(parts, "left wheel", "left brake", "left upright"))
    assert set(found.labels) == {"left wheel", "left brake"}
    assert found.wanted.least == 6.0
    assert not any(found.drives)
    assert not found.between
    if outer < 169:
        assert found.distance == pytest.approx(169 - outer, abs=CHORD)
        assert found.ride == found.together == found.distance
    else:
        assert found.distance < outer - 169
        assert clearance_findings((found,))[0].state is State.OVER


def test_a_gap_that_is_asked_for_by_name_is_measured_on_one_part_too() -> None:
    data = zoo.scene_data("wren_front")
    data["points"]["shelf"] = [200, 235, 205]
    shelf = {"centre": "shelf", "size": [30, 30, 20]}
    frame = data["frame"] | {"shelf": shelf}
    gaps = {"a": {"between": ["shelf", "left rail"], "wanted": 12}}
    mechanism = zoo.built(zoo.with_changes(data, frame=frame, gap=gaps))
    parts = measured_parts(mechanism)
    (found,) = clearances(solve(mechanism, grid(mechanism, 3, 3)), of(parts, "shelf", "left rail"))
    # The rail of 50 is at z = 160: its top is 10 below the shelf.
    assert found.distance == pytest.approx(10, abs=FOUND)
    assert clearance_findings((found,))[0].state is State.OVER
    assert unmeasured(mechanism, Shapes(parts)) == ()


def test_wanted_gaps_that_cannot_be_measured_are_told() -> None:
    data = zoo.scene_data("wren_front")
    gaps = {
        "a": {"between": ["left coilover spring", "left coilover body"], "wanted": 3},
        "b": {"between": ["left rail", "left wheel"], "wanted": 3},
        "c": {"between": ["left coilover spring", "left coilover shaft"], "ignore": True},
    }
    mechanism = zoo.built(zoo.with_changes(data, gap=gaps))
    found = unmeasured(mechanism, Shapes(measured_parts(mechanism)))
    assert [gap.between for gap in found] == [("left coilover spring", "left coilover body")]


def wanted(
    mechanism: Mechanism, first: tuple[str, Kind, str], second: tuple[str, Kind, str]
) -> tuple[float, bool] | None:
    mesh = mesh_of(Ball(np.zeros(3), 10.0))
    a, b = (MeasuredPart(label, label, (part,), kind, mesh) for label, kind, part in (first, second))
    found = wanted_of(mechanism, a, b)
    return None if found is None else (found.least, found.typical)


def test_what_is_wanted_is_typical_unless_the_scene_says_it() -> None:
    data = zoo.scene_data("wren_front")
    plain = zoo.built(data)
    tyre, rim = ("left wheel", Kind.TYRE, "left upright"), ("left wheel", Kind.RIM, "left upright")
    rail, arm = ("left rail", Kind.FRAME, FRAME), ("left upper arm", Kind.ARM, "left upper arm")
    spring, rod = ("left spring", Kind.SPRING, "left coilover shaft"), ("left tie rod", Kind.LINK, "left tie rod")
    assert wanted(plain, tyre, rail) == (25.0, True)
    assert wanted(plain, tyre, arm) == (6.0, True)
    assert wanted(plain, rim, rod) == (6.0, True)
    assert wanted(plain, rim, rail) == (0.0, False)
    assert wanted(plain, spring, rail) == (6.0, True)
    assert wanted(plain, arm, rod) == (0.0, False)
    gaps = {
        "a": {"between": ["wheel", "rail"], "wanted": 40, "mirror": True},
        "b": {"between": ["upper arm", "tie rod"], "ignore": True, "mirror": True},
    }
    own = zoo.built(zoo.with_changes(data, gap=gaps, wanted={"wheel": 8, "other": 2}))
    assert wanted(own, tyre, rail) == (40.0, False)
    assert wanted(own, arm, rod) is None
    assert wanted(own, tyre, arm) == (8.0, False)
    assert wanted(own, rim, rail) == (40.0, False)
    assert wanted(own, rod, rail) == (2.0, False)


@pytest.mark.parametrize(
    ("gap", "given_", "state"),
    [
        (-2.0, None, State.OVER),
        (1.0, None, State.CLOSE),
        (8.0, None, State.CLEAR),
        (8.0, 10.0, State.OVER),
        (10.5, 10.0, State.CLOSE),
        (12.0, 10.0, State.CLEAR),
    ],
)
def test_the_state_of_a_gap(gap: float, given_: float | None, state: State) -> None:
    # Level with the hub at ride height and ahead of it: the gap is smallest there.
    post = np.array([-(60 + 10 + gap), 300.0])
    mechanism, parts = arm_and_post(post)
    if given_ is not None:
        mechanism = replace(mechanism, wanted=replace(mechanism.wanted, other=given_))
    found = clearances(solve(mechanism, grid(mechanism, 5)), parts)
    (finding,) = clearance_findings(found)
    assert finding.state is state
    assert finding.used == pytest.approx(gap, abs=CHORD)
    assert (finding.what, finding.where) == ("gap", "hub – post")
    assert finding.at_least
    assert finding.ride == pytest.approx(finding.used, abs=CHORD)
    assert not finding.missed


def test_what_only_one_wheel_alone_shows_would_be_missed() -> None:
    data = zoo.axle_scene(zoo.FOUR_LINKS)
    mechanism = zoo.built(data)
    # The hub goes up 80 mm; crossed up, it leans in as well, and only then comes near the post beside it.
    poses = solve(mechanism, grid(mechanism, 5))
    crossed = int(np.flatnonzero((poses.travel.values == [80.0, -80.0]).all(axis=1))[0])
    number = mechanism.body_number("axle")
    flange = np.array([0.0, 700.0, 300.0])
    there = poses.rotation[number, crossed] @ flange + poses.translation[number, crossed]
    parts = (
        measured("hub", "axle", Kind.AXLE, Ball(flange, 30.0)),
        measured("post", FRAME, Kind.FRAME, Ball(there + np.array([0.0, -41.0, 0.0]), 10.0)),
    )
    (finding,) = clearance_findings(clearances(poses, parts))
    assert finding.state is State.CLOSE
    assert finding.missed
    assert finding.drives == pytest.approx((80.0, -80.0))


def test_pairs_that_count_alone_are_measured_alike() -> None:
    poses, parts = front(3, 3)
    everything = {frozenset(each.labels): each for each in clearances(poses, chosen(parts, *LEFT))}
    labels = next(iter(everything))
    (alone,) = clearances(poses, chosen(parts, *LEFT), between=[labels])
    assert alone.distance == everything[labels].distance


def test_progress_is_told_to_the_end() -> None:
    poses, parts = front(3, 3)
    told: list[tuple[int, int]] = []
    clearances(poses, chosen(parts, *LEFT), lambda done, total: told.append((done, total)))
    assert told[-1][0] == told[-1][1]
    assert [done for done, _ in told] == sorted(done for done, _ in told)


def test_a_large_scan_answers_in_a_time_that_a_person_waits_for() -> None:
    import time

    import trimesh

    mechanism = zoo.built(zoo.trailing_arm())
    scan = trimesh.creation.icosphere(subdivisions=7, radius=300.0)  # 327,680 triangles
    points = np.array(scan.vertices) * [1.0, 1.0, 0.1] + [0.0, 650.0, 700.0]
    parts = (
        measured("hub", "trailing arm", Kind.KNUCKLE, Ball(np.array([0.0, 650.0, 300.0]), 260.0)),
        replace(
            measured("scan", FRAME, Kind.FRAME, Ball(np.zeros(3), 1.0)),
            mesh=type(mesh_of(Ball(np.zeros(3), 1.0)))(points, np.array(scan.faces, dtype=np.int64)),
        ),
    )
    started = time.perf_counter()
    (found,) = clearances(solve(mechanism, grid(mechanism, 11)), parts)
    assert found.distance == pytest.approx(400 - 30 - 260 - 100, abs=2)
    assert time.perf_counter() - started < 30  # seconds, on a busy machine


def test_the_bolt_of_a_joint_may_end_inside_its_own_member() -> None:
    mechanism = zoo.built(zoo.scene_data("tarn_front"))
    poses = solve(mechanism, grid(mechanism, 3, 3))
    # The pin runs along the arm and into its tube; what is measured is the arm against the bracket's plates.
    pair = frozenset(("left radius arm", "bracket of left radius arm, at frame"))
    (found,) = clearances(poses, between={pair}, refine=False)
    assert 0.5 < found.distance < 5.0


@pytest.mark.slow
@pytest.mark.parametrize("name", ["wren_front", "wren_rear", "tarn_rear", "parcel_front", "parcel_rear", "tarn_front"])
def test_no_parts_of_our_scenes_touch_inside_the_travel_asked_for(name: str) -> None:
    mechanism = zoo.built(zoo.scene_data(name))
    poses = solve(mechanism, grid(mechanism, 5, 3))
    touching = {(found.labels, round(found.distance, 2)) for found in clearances(poses) if found.distance <= 0.0}
    assert touching == set()
