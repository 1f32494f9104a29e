"""What joints of links, arms and coilovers do: closed forms for single members, bounds for every scene."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from zoo import ACROSS, ALONG, NAMES, UP, built, end, parallel_arms, plain_end, scene_data, trailing_arm, travel_of

from model.joints import JointKind
from model.mechanism import Anchor, Body, Distance, Drive, Link, Mechanism, Motion, Offset, Square
from model.members import JointMotion, Posture, eye_axes, posture
from model.solver import solve
from model.spatial import Array
from model.travel import grid

# 1e-9 mm at the end of a member of some 100 mm.
TURN = 1e-10


def _joint(now: Posture, member: str, place: str) -> JointMotion:
    return next(joint for joint in now.joints if (joint.member, joint.end.place) == (member, place))


def _posed(data: dict[str, Any], heights: Array) -> Posture:
    mechanism = built(data)
    return posture(solve(mechanism, travel_of(mechanism, heights)))


HEIGHTS = np.array([-90.0, -40.0, 0.0, 25.0, 90.0])


def test_bushes_of_a_trailing_arm_turn_by_the_arc_sine_of_the_rise_and_do_not_cock() -> None:
    now = _posed(trailing_arm(400.0), HEIGHTS)
    assert len(now.joints) == 2
    for joint in now.joints:
        # D: asin(h/R) about the line of the pivots.
        assert np.abs(np.abs(joint.turn) - np.abs(np.arcsin(HEIGHTS / 400.0))).max() < TURN
        assert np.abs(joint.tilt).max() < TURN
        assert np.ptp(np.sign(joint.turn[[0, -1]])) == 2.0


def test_bushes_of_a_parallel_arm_turn_and_its_ball_joint_swings_by_the_same_angle() -> None:
    now = _posed(parallel_arms(350.0), HEIGHTS)
    expected = np.abs(np.arcsin(HEIGHTS / 350.0))  # D: the knuckle does not turn, the arm does
    for name in ("lower arm", "upper arm"):
        for place in ("front pivot", "rear pivot"):
            assert np.abs(np.abs(_joint(now, name, place).turn) - expected).max() < TURN
            assert np.abs(_joint(now, name, place).tilt).max() < TURN
        assert np.abs(_joint(now, name, "at knuckle").tilt - expected).max() < TURN


def test_a_ball_joint_swings_from_the_middle_of_its_housing() -> None:
    data = parallel_arms(350.0)
    lean = np.radians(12.0)
    # The housing's middle leans outward by 12°, as a wheel that drops turns the arm's outer end down and out.
    data["arm"]["lower arm"]["ball"]["housing_axis"] = [0.0, float(np.sin(lean)), float(np.cos(lean))]
    swing = _joint(_posed(data, HEIGHTS), "lower arm", "at knuckle").tilt
    # D: at ride height the stud stands off by the lean itself; the arm's rise by α turns the housing back about x.
    assert np.abs(swing - np.abs(np.arcsin(HEIGHTS / 350.0) - lean)).max() < TURN


def test_eyes_bolted_along_the_car_do_not_tilt_when_a_bar_swings_in_the_plane_across() -> None:
    now = _posed(parallel_arms(350.0), HEIGHTS)
    for place in ("at frame", "at knuckle"):
        rod = _joint(now, "tie rod", place)
        assert np.abs(rod.tilt).max() < TURN
        assert np.abs(np.abs(rod.turn) - np.abs(np.arcsin(HEIGHTS / 350.0))).max() < TURN


def test_an_eye_bolted_upright_tilts_by_the_whole_swing_of_its_bar() -> None:
    data = parallel_arms(350.0)
    for mount, on in (("from", "frame"), ("to", "knuckle")):
        data["link"]["tie rod"][mount] = end("rod inner" if on == "frame" else "rod outer", on, "up")
    now = _posed(data, HEIGHTS)
    for place in ("at frame", "at knuckle"):
        # D: asin|bolt · bar|, which no spin about the bar can lessen.
        assert np.abs(_joint(now, "tie rod", place).tilt - np.abs(np.arcsin(HEIGHTS / 350.0))).max() < TURN


def test_two_heads_at_right_angles_share_the_tilt_unless_they_are_clocked() -> None:
    data = parallel_arms(350.0)
    rod = data["link"]["tie rod"]
    rod["from"], rod["to"] = end("rod inner", "frame", "up"), end("rod outer", "knuckle", "along")
    ride = _posed(data, np.zeros(1))
    # D: heads in one plane, bolts 90° apart: the spin that shares it puts each 45° off.
    assert [abs(_joint(ride, "tie rod", place).tilt[0] - np.pi / 4) < TURN for place in ("at frame", "at knuckle")] == [
        True,
        True,
    ]
    rod["clock"] = 90.0
    clocked = _posed(data, np.zeros(1))
    assert max(_joint(clocked, "tie rod", place).tilt[0] for place in ("at frame", "at knuckle")) < TURN


def test_welded_eyes_fit_their_bolts_at_ride_height_whatever_their_direction() -> None:
    data = parallel_arms(350.0)
    rod = data["link"]["tie rod"]
    rod["from"] = end("rod inner", "frame", [0.3, 0.2, 1.0], "poly bush")
    rod["to"] = end("rod outer", "knuckle", [1.0, -0.3, 0.1], "poly bush")
    now = _posed(data, HEIGHTS)
    for place in ("at frame", "at knuckle"):
        joint = _joint(now, "tie rod", place)
        assert joint.tilt[HEIGHTS == 0.0].max() < TURN
        assert joint.tilt[HEIGHTS != 0.0].min() > np.radians(0.5)


def test_an_inline_ball_joint_swings_with_its_own_bar() -> None:
    data = parallel_arms(350.0)
    data["link"]["tie rod"]["from"] = {"point": "rod inner", "on": "frame", "joint": "inline ball joint"}
    swing = _joint(_posed(data, HEIGHTS), "tie rod", "at frame").tilt
    assert np.abs(swing - np.abs(np.arcsin(HEIGHTS / 350.0))).max() < TURN


def test_a_coilovers_length_is_the_distance_of_its_eyes() -> None:
    data = parallel_arms(350.0)
    data["points"] |= {"top": [0.0, 380.0, 620.0], "foot": [0.0, 460.0, 200.0]}
    data["coilover"] = {
        "coilover": {
            "top": end("top", "frame", "along"),
            "bottom": end("foot", "lower arm", "along"),
            "compressed": 300,
            "extended": 520,
        }
    }
    stroke = _posed(data, HEIGHTS).strokes[0]
    # D: the foot rides on the lower arm, whose pivots are at (y, z) = (250, 180), 210 out and 20 up from them.
    turn = np.arcsin(HEIGHTS / 350.0)
    foot = np.stack([250 + 210 * np.cos(turn) - 20 * np.sin(turn), 180 + 210 * np.sin(turn) + 20 * np.cos(turn)], -1)
    assert np.abs(stroke.length - np.linalg.norm(foot - [380.0, 620.0], axis=1)).max() < 1e-9  # the solver's promise


@pytest.mark.parametrize("name", NAMES)
def test_no_square_eye_tilts_less_than_its_bolt_leaves_the_square(name: str) -> None:
    mechanism = built(scene_data(name))
    now = posture(solve(mechanism, grid(mechanism, 7, 3)))
    square = (JointKind.ROD_END, JointKind.BALL_JOINT)
    tested = 0
    for bar, first, second in [(link.name, *link.ends) for link in mechanism.links] + [
        (unit.name, unit.top, unit.bottom) for unit in mechanism.coilovers if not unit.strut
    ]:
        ends = [now.parts[one.on].point(one.at) for one in (first, second)]
        along = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0], axis=-1, keepdims=True)
        for one in (first, second):
            if one.joint.kind not in square:
                continue
            least = np.arcsin(np.abs(np.einsum("ni,ni->n", now.parts[one.on].rotation @ one.bolt, along)))
            assert (_joint(now, bar, one.place).tilt >= least - 1e-12).all()  # roundings of an arc sine below 1
            tested += 1
    # A scene on bushes alone has none.
    assert tested > 0 or name == "parcel_rear"


def _shaken_bar(
    bolts: tuple[Array, Array], kinds: tuple[JointKind, JointKind], clock: float
) -> tuple[Mechanism, Array]:
    """A bar from the frame to a body that only shifts: bolts as given at both ends."""
    start, stop = np.zeros(3), np.array([40.0, 380.0, 60.0])
    ends = (plain_end(start, "frame", bolts[0], kinds[0]), plain_end(stop, "body", bolts[1], kinds[1]))
    rows = (
        Distance("bar", Anchor(0, start), Anchor(1, stop)),
        *(Square("guide", 0, a, 1, b) for a, b in ((ALONG, ACROSS), (ACROSS, UP), (UP, ALONG))),
        Offset("guide", ALONG, Anchor(0, stop), Anchor(1, stop)),
        Offset("height", UP, Anchor(0, stop), Anchor(1, stop), 0),
    )
    bodies = (Body("frame", Motion.FIXED), Body("body", Motion.FREE))
    bar = Link("bar", ends, clock, 20.0)
    return Mechanism("bar", bodies, rows, (Drive("left", -200.0, 200.0),), (), links=(bar,)), np.array(
        [-150.0, 0.0, 130.0]
    )


DIRECTION = st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: np.linalg.norm(v) > 0.2)
KIND = st.sampled_from([JointKind.ROD_END, JointKind.BALL_JOINT, JointKind.RUBBER_BUSH, JointKind.INLINE_BALL_JOINT])


# The machine may be busy: what a pose costs is measured elsewhere.
@settings(deadline=None)
@given(first=DIRECTION, second=DIRECTION, kinds=st.tuples(KIND, KIND), clock=st.floats(-3.0, 3.0))
def test_bars_at_rest_have_not_turned_and_a_square_eye_keeps_its_bound(
    first: tuple[float, ...], second: tuple[float, ...], kinds: tuple[JointKind, JointKind], clock: float
) -> None:
    bolts = (np.array(first) / np.linalg.norm(first), np.array(second) / np.linalg.norm(second))
    mechanism, heights = _shaken_bar(bolts, kinds, clock)
    now = posture(solve(mechanism, travel_of(mechanism, heights)))
    bar = now.parts["bar"]
    assert np.abs(bar.rotation[1] - np.eye(3)).max() < 1e-12  # at ride height nothing has turned
    along = (now.joints[1].at - now.joints[0].at) / np.linalg.norm(now.joints[1].at - now.joints[0].at, axis=1)[:, None]
    ride = np.array([40.0, 380.0, 60.0]) / np.linalg.norm([40.0, 380.0, 60.0])
    assert np.abs(bar.rotation @ ride - along).max() < 1e-12  # the bar points from end to end
    for joint, bolt in zip(now.joints, bolts, strict=True):
        assert abs(joint.turn[1]) < 1e-12
        if joint.end.joint.kind in (JointKind.ROD_END, JointKind.BALL_JOINT):
            least = np.arcsin(np.minimum(np.abs(along @ bolt), 1.0))
            assert (joint.tilt >= least - 1e-7).all()  # an arc sine near 1 loses half the digits


@settings(deadline=None)
@given(first=DIRECTION, second=DIRECTION, clock=st.sampled_from([0.0, 0.5, 1.5707963267948966]))
def test_no_other_spin_of_a_real_bar_lessens_its_worse_end(
    first: tuple[float, ...], second: tuple[float, ...], clock: float
) -> None:
    """Spin the whole solved bar by brute force, eyes and all, and measure both of its rod ends anew."""
    bolts = (np.array(first) / np.linalg.norm(first), np.array(second) / np.linalg.norm(second))
    mechanism, heights = _shaken_bar(bolts, (JointKind.ROD_END, JointKind.ROD_END), clock)
    now = posture(solve(mechanism, travel_of(mechanism, heights)))
    stop = now.joints[1].at
    spins = np.linspace(0.0, 2.0 * np.pi, 3600, endpoint=False)

    def least_worst(number: int, sense: float) -> float:
        x = stop[number] / np.linalg.norm(stop[number])
        y = np.cross(x, ALONG) / np.linalg.norm(np.cross(x, ALONG))
        z = np.cross(x, y)
        heads = [np.cos(spins + turn)[:, None] * y + np.sin(spins + turn)[:, None] * z for turn in (0.0, clock)]
        seen = zip(heads, (bolts[0], sense * bolts[1]), strict=True)
        tilts = [np.arccos(np.clip(head @ bolt, -1.0, 1.0)) for head, bolt in seen]
        return float(np.maximum(*tilts).min())

    # A bolt is a line, but a ball cannot turn past square: the sense that is the nearer one at ride height stays.
    at_ride = {sense: least_worst(1, sense) for sense in (1.0, -1.0)}
    assume(abs(at_ride[1.0] - at_ride[-1.0]) > 0.01)
    sense = min(at_ride, key=at_ride.__getitem__)
    for number in range(len(heights)):
        chosen = max(joint.tilt[number] for joint in now.joints)
        assert abs(chosen - least_worst(number, sense)) < 2.0 * np.pi / 3600  # one step of the brute force


@pytest.mark.parametrize("name", NAMES)
def test_what_is_said_to_tilt_is_what_the_measure_measures(name: str) -> None:
    """Carry every eye's axis with its part and every bolt with what holds it; the angle between them is the tilt."""
    data = scene_data(name)
    if name == "wren_rear":
        data["link"]["upper link"]["clock"] = 35.0
    mechanism = built(data)
    now = posture(solve(mechanism, grid(mechanism, 5, 3)))
    axes = eye_axes(mechanism)
    for joint in now.joints:
        key = (joint.member, joint.end.place)
        assert np.linalg.norm(axes[key]) == pytest.approx(1.0, abs=1e-12)
        eye = now.parts[joint.part].rotation @ axes[key]
        bolt = now.parts[joint.end.on].rotation @ joint.end.bolt
        # The arc sine of half the chord, which is exact for small angles; up to 60° it loses a digit.
        tilt = 2.0 * np.arcsin(0.5 * np.linalg.norm(eye - bolt, axis=1))
        assert np.abs(tilt - joint.tilt).max() < 1e-12, key
    assert len(axes) == len(now.joints)


@settings(deadline=None)
@given(first=DIRECTION, second=DIRECTION, clock=st.floats(-1.5, 1.5))
def test_a_bar_binds_where_and_only_where_an_end_is_over_its_limit(
    first: tuple[float, ...], second: tuple[float, ...], clock: float
) -> None:
    bolts = (np.array(first) / np.linalg.norm(first), np.array(second) / np.linalg.norm(second))
    mechanism, heights = _shaken_bar(bolts, (JointKind.ROD_END, JointKind.BALL_JOINT), clock)
    now = posture(solve(mechanism, travel_of(mechanism, heights)))
    (room,) = now.spin_rooms
    over = np.zeros(len(heights))
    for joint in now.joints:
        assert joint.end.joint.tilt is not None
        over = np.maximum(over, joint.tilt / joint.end.joint.tilt.angle)
    # At the best spin both ends are as well off as they can be: one over its limit means that no spin serves.
    sure = np.abs(over - 1.0) > 1e-6
    assert ((room.width < 0.0) == (over > 1.0))[sure].all()
    middle = 0.5 * (now.joints[0].at + now.joints[1].at)
    assert np.abs(room.at - middle).max() < 1e-12


def test_bars_whose_ends_have_no_two_limits_have_no_room_to_measure() -> None:
    kinds = [(JointKind.ROD_END, JointKind.INLINE_BALL_JOINT), (JointKind.STRUT_MOUNT, JointKind.ROD_END)]
    for pair in kinds:
        mechanism, heights = _shaken_bar((ALONG, ALONG), pair, 0.0)
        assert posture(solve(mechanism, travel_of(mechanism, heights))).spin_rooms == ()
