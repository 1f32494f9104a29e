"""Where a linkage locks and which link runs straight, by closed form; no linkage jumps to its other assembly."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st
from pose_by_pose import Hung, PoseByPose
from zoo import (
    FOUR_LINKS,
    NAMES,
    axle_scene,
    built,
    guided_bar,
    pitman_scene,
    planar,
    scene_data,
    short_steering_arm,
    steered_axle,
    trailing_arm,
    travel_of,
)

from model.findings import _member_place, judge
from model.members import posture
from model.poses import STATUS_TEXT, Poses, Status
from model.solver import BACK_OFF, SAME_STOP, SMALLEST_STEP, solve
from model.spatial import Array
from model.travel import grid
from model.verdicts import Finding, State

# A locked pose stops at most this share of its whole travel, and this share of its last place, before the dead centre.
STEP, SHORT = SMALLEST_STEP, 1.0 - BACK_OFF
PROMISE = 1e-9


def _names(poses: Poses) -> list[str]:
    return [poses.locks[number] for number in poses.locked_by]


def _locks(poses: Poses) -> dict[str, Finding]:
    return {finding.where: finding for finding in judge(poses).findings if finding.state is State.LOCKED}


def _stops_at(poses: Poses, drive: int, where: Array, within: float = 0.0) -> None:
    """Each pose is locked just before `where` (N,), known to `within`, in the drive's unit, and never beyond it."""
    values = poses.travel.values[:, drive]
    assert (poses.status == Status.LOCKED).all()
    last = np.abs(values * poses.reached)
    assert (last <= np.abs(where)).all()
    assert (last >= np.abs(where) * (1.0 - SHORT) - np.abs(values) * 2.0 * STEP - within).all()


def test_the_last_place_is_within_a_thousandth_of_the_dead_centre() -> None:
    assert SHORT < 1e-3
    assert STEP < 2e-4


@pytest.mark.parametrize("overshoot", [1.02, 1.5, 4.0])
def test_trailing_arm_locks_upright(overshoot: float) -> None:
    radius = 400.0
    mechanism = built(trailing_arm(radius, travel=overshoot * radius))
    poses = solve(mechanism, travel_of(mechanism, np.array([overshoot, -overshoot]) * radius))
    _stops_at(poses, 0, np.array([radius, radius]))
    assert _names(poses) == ["trailing arm"] * 2


def test_panhard_bar_locks_when_it_hangs_straight_down() -> None:
    mechanism = guided_bar(600.0)
    poses = solve(mechanism, travel_of(mechanism, np.array([900.0, -900.0])))
    _stops_at(poses, 0, np.array([600.0, 600.0]))
    assert _names(poses) == ["panhard bar"] * 2


def test_four_bar_locks_where_its_coupler_and_rocker_run_straight() -> None:
    a, b, c = 300.0, 260.0, 280.0
    crank_end = np.array([0.0, a, 0.0])
    far = crank_end + np.array([0.0, 40.0, b])
    b = float(np.linalg.norm(far - crank_end))
    pivot = far + np.array([0.0, 160.0, c])
    c = float(np.linalg.norm(pivot - far))
    mechanism = planar({"crank": (np.zeros(3), crank_end), "rocker": (pivot, far)}, driven=crank_end)
    # D: law of cosines; the crank's end is then b + c from the pivot.
    ground, level = float(np.linalg.norm(pivot)), np.arctan2(pivot[2], pivot[1])
    angle = level - np.arccos((a**2 + ground**2 - (b + c) ** 2) / (2.0 * a * ground))
    height = a * np.sin(angle)
    assert -0.9 * a < height < 0.0  # the crank itself is not upright yet
    poses = solve(mechanism, travel_of(mechanism, np.array([-0.99 * a])))
    _stops_at(poses, 0, np.array([height]))
    assert _names(poses) == ["rocker"]


def test_the_link_that_runs_straight_is_named_even_where_another_carries_more() -> None:
    crank_end = np.array([0.0, 457.0, 125.0])
    far = np.array([0.0, 1001.0, 208.0])
    pivot = np.array([0.0, 1107.0, -23.0])
    mechanism = planar({"crank": (np.zeros(3), crank_end), "rocker": (pivot, far)}, driven=crank_end)
    poses = solve(mechanism, travel_of(mechanism, np.array([-560.0])))
    assert poses.status[0] == Status.LOCKED
    now = [poses.rotation[1, 0] @ point + poses.translation[1, 0] for point in (crank_end, far)]
    coupler, rocker = now[1] - now[0], pivot - now[1]
    bend = np.linalg.norm(np.cross(coupler, rocker)) / np.linalg.norm(coupler) / np.linalg.norm(rocker)
    # Rocker and coupler are in line but for the back-off: √(2 · 0.1 %) rad and its like; the crank is far from upright.
    assert bend < 0.1
    assert abs(now[0][1]) > 0.3 * np.linalg.norm(crank_end)
    assert _names(poses) == ["rocker"]


def test_tie_rod_locks_where_the_determinant_of_the_corner_vanishes() -> None:
    data = short_steering_arm()
    at = {name: np.array(point) * [1.0, -1.0, 1.0] for name, point in data["points"].items()}
    inner = ["lower_front_pivot", "lower_rear_pivot", "upper_front_pivot", "upper_rear_pivot", "rack_end"]
    outer = ["lower_ball", "lower_ball", "upper_ball", "upper_ball", "tie_rod_outer"]
    slides = np.zeros((5, 3))
    slides[4] = [0.0, -58.0, 0.0]
    frame, body = (np.array([at[name] for name in names]) for names in (inner, outer))
    right = PoseByPose([Hung(frame, body, at["wheel_centre"][None], slides)], jacobian=True)
    x, share, sizes = np.zeros(6), 0.0, []
    for share in np.linspace(0.0, 0.8, 161):
        x = right.pose(x, np.zeros(1), -share)
        sizes.append(np.linalg.det(right.derivative(x, np.zeros(1), -share)) ** 2)
    # Near a dead centre the determinant goes as the root of the travel that is left: its square is a straight line.
    slope, level = np.polyfit(np.linspace(0.0, 0.8, 161)[-3:], sizes[-3:], 1)
    dead = -level / slope

    mechanism = built(data)
    poses = solve(mechanism, travel_of(mechanism, np.array([[0.0, 0.0, -1.0], [0.0, 0.0, 1.0]])))
    assert (poses.status == Status.LOCKED).all()
    # 0.1 % back-off, a step of 1/8192 and the straight line's own error over a last gap of 0.1 % of lock.
    assert np.abs(poses.reached - dead).max() < 2e-3
    assert _names(poses) == ["right tie rod", "left tie rod"]


def test_a_locked_pose_gives_the_last_place_on_the_way_and_keeps_its_lengths() -> None:
    data = axle_scene(FOUR_LINKS, travel=700.0)
    mechanism = built(data)
    poses = solve(mechanism, grid(mechanism, 5))
    locked = np.flatnonzero(poses.status == Status.LOCKED)
    assert 0 < len(locked) < len(poses)
    axle = mechanism.body_number("axle")
    for pose in locked:
        rotation, translation = poses.rotation[axle, pose], poses.translation[axle, pose]
        for wheel, target in zip(mechanism.wheels, poses.travel.values[pose], strict=True):
            height = (rotation @ wheel.centre + translation - wheel.centre)[2]
            assert abs(height - target * poses.reached[pose]) <= PROMISE
        for frame, body in FOUR_LINKS.values():
            now = rotation @ np.array(body) + translation
            ride = np.linalg.norm(np.subtract(frame, body))
            assert abs(np.linalg.norm(now - frame) - ride) <= PROMISE
    assert set(_names(poses.take(locked))) <= {*FOUR_LINKS, "axle"}
    assert "last place" in STATUS_TEXT[Status.LOCKED]


def test_groups_that_share_no_part_stop_together() -> None:
    data = trailing_arm(400.0, travel=600.0)
    for table in ("arm", "wheel"):
        for entry in data[table].values():
            entry["mirror"] = True
    mechanism = built(data)
    # Only the left arm locks, two thirds of the way up; the right one is then two thirds of its own way too.
    poses = solve(mechanism, travel_of(mechanism, np.array([[600.0, 150.0], [200.0, 150.0]])))
    assert poses.status.tolist() == [Status.LOCKED, Status.SOLVED]
    assert _names(poses)[0] == "left trailing arm"
    right = poses.rotation[mechanism.body_number("right trailing arm")]
    # To 1e-11 rad: 1e-9 mm on an arm of 400 mm.
    assert abs(right[0, 0, 2] - 150.0 * poses.reached[0] / 400.0) < 1e-11
    assert abs(right[1, 0, 2] - 150.0 / 400.0) < 1e-11
    _stops_at(poses.take(np.array([0])), 0, np.array([400.0]))


def test_a_lock_is_a_finding_that_names_link_place_and_last_travel() -> None:
    mechanism = built(trailing_arm(390.0, travel=600.0))
    verdict = judge(solve(mechanism, grid(mechanism, 13)))
    worst = verdict.worst
    assert worst is not None
    assert (verdict.state, worst.state, worst.where) == (State.LOCKED, State.LOCKED, "trailing arm")
    # Of 13 heights from −600 to 600 those beyond ±390 (±400, ±500, ±600) lock.
    assert verdict.locked_poses == 6
    assert worst.limit is not None
    assert 390.0 * (1.0 - SHORT) - 600.0 * 2.0 * STEP <= worst.limit <= 390.0
    assert abs(abs(worst.drives[0]) - worst.limit) < PROMISE


@pytest.mark.parametrize(
    ("scene", "travel", "pairs"),
    [("wren_front", 400.0, ("lower arm", "upper arm")), ("tarn_rear", 900.0, ("upper link",))],
)
def test_both_sides_of_a_symmetric_car_run_straight_with_both_wheels_down(
    scene: str, travel: float, pairs: tuple[str, ...]
) -> None:
    """On the front each side locks by itself; the live axle is one group in which two links are alike."""
    data = scene_data(scene) | {"shaft": {}}
    data["travel"] = {"bump": travel, "droop": travel}
    mechanism = built(data)
    found = _locks(solve(mechanism, grid(mechanism, 5, 3)))
    level = np.outer([-1.0, 0.0, 1.0], [travel, travel, 0.0][: len(mechanism.drives)])
    alone = _locks(solve(mechanism, travel_of(mechanism, level)))
    for pair in pairs:
        left, right = found[f"left {pair}"], found[f"right {pair}"]
        assert not left.missed
        assert not right.missed
        # Two walks of mirrored halves, each to the last step.
        assert left.limit == pytest.approx(right.limit, abs=travel * SAME_STOP)
        assert {f"left {pair}", f"right {pair}"} <= alone.keys()


def test_a_lock_of_one_side_only_is_missed_where_wheels_together_stop_by_the_other() -> None:
    """Two arms of unlike length: together the short one stops both, so that the long one never comes to its own end."""
    data = trailing_arm(300.0, travel=600.0)
    for name, sign, radius in (("short", 1.0, 300.0), ("long", -1.0, 500.0)):
        near, far = ([radius, sign * y, 300.0] for y in (600.0, 300.0))
        data["points"] |= {f"{name} near": near, f"{name} far": far, f"{name} hub": [0.0, sign * 650.0, 300.0]}
        pivots = [{"point": f"{name} {which}", "joint": "rubber bush"} for which in ("near", "far")]
        data["arm"][f"{name} arm"] = {"pivots": pivots}
        data["wheel"][name] = data["wheel"]["wheel"] | {"on": f"{name} arm", "centre": f"{name} hub"}
    del data["arm"]["trailing arm"], data["wheel"]["wheel"]
    mechanism = built(data)
    locks = _locks(solve(mechanism, grid(mechanism, 5)))
    assert (locks["short arm"].missed, locks["long arm"].missed) == (False, True)
    for name, radius in (("short arm", 300.0), ("long arm", 500.0)):
        limit = locks[name].limit
        assert limit is not None
        assert radius * (1.0 - SHORT) - 600.0 * 2.0 * STEP <= limit <= radius


def test_every_member_that_may_lock_has_a_place() -> None:
    for data in (pitman_scene(parallelogram=True), steered_axle(), *map(scene_data, NAMES)):
        mechanism = built(data)
        poses = solve(mechanism, grid(mechanism, 3, 3))
        now = posture(poses)
        for name in poses.locks:
            # Nothing of a suspension lies on the ground in the middle of the car.
            assert np.linalg.norm(_member_place(mechanism, now, name)) > 50.0, name


LENGTH = st.integers(200, 600).map(float)


def _polar(length: float, angle: float) -> Array:
    return length * np.array([0.0, np.cos(angle), np.sin(angle)])


@given(
    lengths=st.tuples(LENGTH, LENGTH, LENGTH),
    crank=st.floats(-0.6, 0.6),
    coupler=st.floats(-3.1, 3.1),
    rocker=st.floats(-3.1, 3.1),
    target=st.sampled_from([-1.2, -0.9, 0.9, 1.2]),
)
# One leap over two dead centres at once.
@example(lengths=(347.0, 355.0, 200.0), crank=0.0, coupler=-2.03125, rocker=0.0, target=-1.2)
@example(lengths=(243.0, 403.0, 200.0), crank=0.0, coupler=-2.125, rocker=0.0, target=-1.2)
def test_four_bar_reaches_what_its_closed_form_allows_and_stays_in_its_assembly(
    lengths: tuple[float, float, float], crank: float, coupler: float, rocker: float, target: float
) -> None:
    a, b, c = lengths
    assume(abs(np.sin(rocker - coupler)) > 0.2)
    crank_end = _polar(a, crank)
    far = crank_end + _polar(b, coupler)
    pivot = far + _polar(c, rocker)
    mechanism = planar({"crank": (np.zeros(3), crank_end), "rocker": (pivot, far)}, driven=crank_end)
    heights = a * np.sin(np.linspace(crank, target, 4001))
    angles = np.arcsin(heights / a)
    apart = np.linalg.norm(a * np.stack([0 * angles, np.cos(angles), np.sin(angles)], axis=-1) - pivot, axis=1)
    # D: coupler and rocker can meet while |b − c| < distance < b + c; the path ends at the first height that fails.
    open_ = (apart < b + c) & (apart > abs(b - c))
    stop = len(open_) if open_.all() else int(open_.argmin())
    # A path that only grazes its dead centre is decided by rounding.
    gap = np.minimum(b + c - apart, apart - abs(b - c))
    assume(stop < len(open_) or gap.min() > 0.5)

    poses = solve(mechanism, travel_of(mechanism, np.array([heights[-1] - heights[0]])))
    whole = abs(heights[-1] - heights[0])
    if stop == len(open_):
        assert poses.status[0] == Status.SOLVED
        now, distance = _polar(a, target), apart[-1]
    else:
        assert poses.status[0] == Status.LOCKED
        at_lock = abs(heights[stop] - heights[0])
        # One step of this path, the step and the back-off of the walk.
        slack = abs(heights[stop] - heights[stop - 1]) + whole * 2.0 * STEP + at_lock * SHORT
        assert abs(whole * poses.reached[0] - at_lock) <= slack
        end = heights[0] + (heights[-1] - heights[0]) * poses.reached[0]
        now = _polar(a, float(np.arcsin(end / a)))
        distance = float(np.linalg.norm(now - pivot))
    coupler_now = poses.rotation[1, 0] @ far + poses.translation[1, 0]
    # The side of the line from crank end to pivot on which the coupler's far end lies tells the two assemblies apart.
    before = np.cross(pivot - crank_end, far - crank_end)[0]
    after = np.cross(pivot - now, coupler_now - now)[0]
    assert np.sign(before) == np.sign(after)
    cosine = (b**2 + distance**2 - c**2) / (2.0 * b * distance)
    # Half a unit of distance from its dead centre an end moves some 50 times as fast as the crank; 1e-9 mm × 50 × 10.
    reach = float((coupler_now - now) @ (pivot - now)) / distance
    assert abs(reach - b * cosine) < 1e-6


@pytest.mark.parametrize(
    ("crank_end", "far", "pivot", "rise"),
    [
        ((218.0, 79.0), (15.0, 10.0), (-313.0, -372.0), 137.0),
        ((400.0, 70.0), (7.0, -118.0), (-202.0, -140.0), 300.0),
        ((322.0, -123.0), (737.0, -54.0), (248.0, -180.0), -198.0),
    ],
)
def test_a_whole_step_over_a_dead_centre_is_not_taken_though_newton_would_land(
    crank_end: tuple[float, float], far: tuple[float, float], pivot: tuple[float, float], rise: float
) -> None:
    """Four-bars whose other assembly is so near that an iteration from ride height converges to it at once."""
    crank, end, fixed = (np.array([0.0, *point]) for point in (crank_end, far, pivot))
    mechanism = planar({"crank": (np.zeros(3), crank), "rocker": (fixed, end)}, driven=crank)
    poses = solve(mechanism, travel_of(mechanism, np.array([rise])))
    # D: the crank's end goes round its circle until it is |b − c| or b + c from the pivot.
    a, b, c = (float(np.linalg.norm(bar)) for bar in (crank, end - crank, fixed - end))
    rises = np.linspace(0.0, rise, 100_001)
    heights = crank[2] + rises
    ends = np.stack([np.sqrt(a**2 - heights**2), heights], axis=-1)
    apart = np.linalg.norm(ends - fixed[1:], axis=1)
    shut = (apart > b + c) | (apart < abs(b - c))
    first = int(shut.argmax())
    assert first > 0
    # Further on the linkage could be put together again: what one must not reach by passing through.
    assert not shut[-1]
    _stops_at(poses, 0, np.array([rises[first]]), within=abs(rises[1]))


def test_long_travel_axle_never_jumps_where_a_direct_start_would() -> None:
    """Fine steps of an independent solver are the reference: poses far from ride height lie on the same path."""
    data = scene_data("tarn_rear")
    data["travel"] = {"bump": 330, "droop": 330}
    for coilover in data["coilover"].values():
        coilover |= {"compressed": 300, "extended": 1200}
    at = {name: np.array(point, dtype=float) for name, point in data["points"].items()}
    mirror = np.array([1.0, -1.0, 1.0])
    left = [("lower_front", "lower_rear"), ("upper_front", "upper_rear")]
    bars = [(at[a] * m, at[b] * m) for a, b in left for m in (np.ones(3), mirror)]
    wheels = np.array([at["wheel_centre"], at["wheel_centre"] * mirror])
    frame, body = (np.array([bar[k] for bar in bars]) for k in (0, 1))
    reference = PoseByPose([Hung(frame, body, wheels, np.zeros((4, 3)))])
    mechanism = built(data)
    poses = solve(mechanism, grid(mechanism, 5))
    axle = mechanism.body_number("axle")
    assert (poses.status == Status.SOLVED).all()
    for number, heights in enumerate(poses.travel.values):
        rotation, translation = reference.transforms(reference.walk(heights, 0.0, steps=33))[0]
        ours = body @ poses.rotation[axle, number].T + poses.translation[axle, number]
        # scipy stops at steps of 1e-10 of some 500 mm; the linkage turns that into at most 1e-6 mm.
        assert np.abs(ours - (body @ rotation.T + translation)).max() < 1e-6
