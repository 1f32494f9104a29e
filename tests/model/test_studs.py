"""Which way a stud leans: a stud turned by hand, and ball joints of arms and racks whose lean is known."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from zoo import NAMES, built, parallel_arms, scene_data, travel_of

from model.joints import STUD_KINDS
from model.limits import Limit
from model.members import posture
from model.solver import solve
from model.studs import StudWays, Way, lean, stud_ways, way_swing
from model.travel import grid

LENGTH = 350.0
HEIGHTS = np.array([-90.0, -20.0, 0.0, 50.0, 70.0])
# 1e-9 mm of the solver at an arm of some 100 mm.
TURN = 1e-10


@given(azimuth=st.floats(-np.pi, np.pi), swing=st.floats(0.0, 1.2), spin=st.floats(-3.0, 3.0))
def test_a_stud_turned_by_hand_leans_by_its_swing_in_the_direction_of_its_azimuth(
    azimuth: float, swing: float, spin: float
) -> None:
    # Turn a stud that stands up by `swing` about the level axis a quarter turn behind `azimuth` (scipy's rotations).
    axis = np.array([-np.sin(azimuth), np.cos(azimuth), 0.0])
    stud = Rotation.from_rotvec(swing * axis).apply([0.0, 0.0, 1.0])
    found = lean(stud[None], np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0]))[0]
    assert found == pytest.approx(swing * np.array([np.cos(azimuth), np.sin(azimuth)]), abs=1e-12)
    # A housing elsewhere in space sees the same lean.
    turned = Rotation.from_rotvec(spin * np.array([0.6, 0.0, 0.8]))
    moved = lean(turned.apply(stud)[None], turned.apply([0.0, 0.0, 1.0]), turned.apply([1.0, 0.0, 0.0]))[0]
    assert moved == pytest.approx(found, abs=1e-12)


def _arm_joint(data: dict[str, Any], member: str) -> StudWays:
    mechanism = built(data)
    return next(s for s in stud_ways(solve(mechanism, travel_of(mechanism, HEIGHTS))) if s.member == member)


def _degrees(ways: StudWays) -> dict[Way, tuple[float, float | None]]:
    return {
        way.way: (float(np.degrees(way.swing)), None if way.left is None else float(np.degrees(way.left)))
        for way in ways.ways
    }


def test_an_arms_ball_joint_leans_outside_at_bump_and_inside_at_droop() -> None:
    data = parallel_arms(LENGTH)
    data["joint"] = {"ball": {"kind": "ball joint", "swing": 25.0}}
    for arm in data["arm"].values():
        arm["ball"]["joint"] = "ball"
    found = _arm_joint(data, "lower arm")
    bump, droop = np.degrees(np.arcsin(np.array([70.0, 90.0]) / LENGTH))
    # D: the knuckle stays upright; the arm's outer end rises by asin(h/L), so that its housing leans inward and the
    # stud, seen from there, outward at bump, inward at droop.
    assert found.ride < TURN
    assert found.furthest is Way.INSIDE
    ways = _degrees(found)
    assert list(ways) == [Way.FRONT, Way.REAR, Way.OUTSIDE, Way.INSIDE]
    assert ways[Way.OUTSIDE] == pytest.approx((bump, 25.0 - bump), abs=1e-8)
    assert ways[Way.INSIDE] == pytest.approx((droop, 25.0 - droop), abs=1e-8)
    # Ahead and behind there is what the cone leaves beside the worst lean aside: √(25² − 14.9²) = 20.1°.
    for way in (Way.FRONT, Way.REAR):
        assert ways[way] == pytest.approx((0.0, np.sqrt(25.0**2 - droop**2)), abs=1e-8)


def test_a_housing_that_leans_moves_what_is_left_from_one_way_to_the_other() -> None:
    data = parallel_arms(LENGTH)
    data["joint"] = {"ball": {"kind": "ball joint", "swing": 25.0}}
    middle = np.radians(6.0)
    data["arm"]["lower arm"]["ball"] |= {
        "joint": "ball",
        "housing_axis": [0.0, -float(np.sin(middle)), float(np.cos(middle))],
    }
    found = _arm_joint(data, "lower arm")
    # D: a housing that leans 6° inside has its stud 6° outside at ride height.
    assert found.ride == pytest.approx(middle, abs=TURN)
    bump, droop = np.degrees(np.arcsin(np.array([70.0, 90.0]) / LENGTH))
    ways = _degrees(found)
    assert ways[Way.OUTSIDE] == pytest.approx((bump + 6.0, 19.0 - bump), abs=1e-8)
    assert ways[Way.INSIDE] == pytest.approx((droop - 6.0, 31.0 - droop), abs=1e-8)
    assert found.furthest is Way.OUTSIDE


def test_a_stud_that_hangs_down_says_where_its_free_end_goes() -> None:
    data = parallel_arms(LENGTH)
    # The upper arm above the wheel's middle: its stud hangs down into the knuckle.
    data["arm"]["upper arm"]["ball"]["bolt"] = [0.0, 0.0, -1.0]
    upper, lower = (_arm_joint(data, name) for name in ("upper arm", "lower arm"))
    assert (lower.furthest, upper.furthest) == (Way.INSIDE, Way.OUTSIDE)


def test_an_inline_joint_leans_up_as_its_bar_rises() -> None:
    data = parallel_arms(LENGTH)
    data["link"]["tie rod"]["from"] = {"point": "rod inner", "on": "frame", "joint": "inline ball joint"}
    found = _arm_joint(data, "tie rod")
    up, down = np.degrees(np.arcsin(np.array([70.0, 90.0]) / LENGTH))
    ways = _degrees(found)
    assert list(ways) == [Way.FRONT, Way.REAR, Way.UP, Way.DOWN]
    assert (ways[Way.UP][0], ways[Way.DOWN][0]) == pytest.approx((up, down), abs=1e-8)
    assert found.furthest is Way.DOWN


def test_a_stud_that_does_not_move_leans_no_way() -> None:
    # D: one pose, ride height, with the stud in the middle of its swing.
    mechanism = built(parallel_arms(LENGTH))
    found = stud_ways(solve(mechanism, travel_of(mechanism, np.zeros((1, 1)))))
    assert len(found) == 2
    for stud in found:
        assert stud.furthest is None
        assert stud.swing < 1e-9


def test_a_joint_in_the_middle_plane_leans_left_and_right() -> None:
    data = parallel_arms(LENGTH)
    for name, (x, y, z) in list(data["points"].items()):
        data["points"][name] = [x, y - 600.0 + (0.0 if name != "wheel_centre" else 600.0), z]
    found = _arm_joint(data, "lower arm")
    assert [way.way for way in found.ways][2:] == [Way.LEFT, Way.RIGHT]


@pytest.mark.parametrize("name", ["wren_front", "parcel_front"])
def test_both_sides_say_the_same_words_with_the_same_numbers(name: str) -> None:
    mechanism = built(scene_data(name))
    found = {(s.member, s.end.place): s for s in stud_ways(solve(mechanism, grid(mechanism, 5, 3)))}
    pairs = 0
    for (member, place), left in found.items():
        if not member.startswith("left "):
            continue
        right = found[member.replace("left ", "right ", 1), place]
        assert left.furthest is right.furthest
        # The two sides are solved apart, each to 1e-9 mm.
        assert _degrees(left) == {way: pytest.approx(value, abs=1e-7) for way, value in _degrees(right).items()}
        pairs += 1
    assert pairs > 2


def _inline_on_an_upright() -> dict[str, Any]:
    """The outer end of a tie rod as an inline joint, whose housing turns with the upright from lock to lock."""
    data = scene_data("wren_front")
    rod = data["link"]["tie rod"]["to"]
    rod["joint"] = "inline ball joint"
    for key in ("bolt", "housing_axis", "engaged"):
        rod.pop(key, None)
    return data


@pytest.mark.parametrize("name", [*NAMES, "inline"])
def test_what_is_left_each_way_never_exceeds_what_the_worst_pose_has_left(name: str) -> None:
    mechanism = built(_inline_on_an_upright() if name == "inline" else scene_data(name))
    poses = solve(mechanism, grid(mechanism, 5, 3))
    now = posture(poses)
    ways = {(s.member, s.end.place): s for s in stud_ways(poses)}
    for joint in now.joints:
        if joint.end.joint.kind not in STUD_KINDS:
            continue
        found = ways.pop((joint.member, joint.end.place))
        limit, worst = joint.end.joint.tilt, float(joint.tilt.max())
        assert limit is not None
        if found.furthest is None:
            assert worst < np.radians(0.05)
            continue
        furthest = next(way for way in found.ways if way.way is found.furthest)
        # The largest lean one way is at least cos 45° of the whole; the room that way at most the limit less it.
        assert worst / np.sqrt(2.0) - 1e-9 <= furthest.swing <= worst + 1e-9
        assert furthest.left is not None
        assert furthest.left <= limit.angle - furthest.swing + 1e-9
    assert not ways


@given(first=st.floats(-0.6, 0.6), second=st.floats(-0.6, 0.6))
def test_room_ahead_is_what_a_cone_leaves_beside_the_lean_aside(first: float, second: float) -> None:
    limit = Limit(0.5, 0.45, typical=False, source="")
    assume(abs(second) < 0.49)
    found = way_swing(Way.FRONT, np.array([first]), np.array([second]), limit)
    assert found.left is not None
    # Lean on by what is left: the whole is then the limit, or was past it already.
    assert np.hypot(first + found.left, second) == pytest.approx(0.5, abs=1e-12)
    assert found.swing == max(first, 0.0)


def test_poses_taken_in_parts_say_the_same_and_none_say_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    mechanism = built(scene_data("wren_front"))
    travel = grid(mechanism, 5, 3)
    whole = stud_ways(solve(mechanism, travel))
    monkeypatch.setattr("model.poses.CHUNK", 7)
    parts = stud_ways(solve(mechanism, travel))
    for one, other in zip(whole, parts, strict=True):
        assert (one.member, one.end.place, one.furthest) == (other.member, other.end.place, other.furthest)
        assert _degrees(one) == {way: pytest.approx(value, abs=1e-9) for way, value in _degrees(other).items()}
        assert one.swing == pytest.approx(other.swing, abs=1e-12)
    assert stud_ways(solve(mechanism, travel).take(np.arange(0))) == ()
