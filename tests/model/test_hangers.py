"""Anti-roll bars against a root search in each pose, hoses and threads by closed form, and what is said of mistakes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation
from zoo import ACROSS, FOUR_LINKS, axle_scene, built, end, parallel_arms, scene_data, travel_of

from model.antiroll import arm_turn
from model.errors import SceneError
from model.findings import judge
from model.hangers import bar_twists
from model.mechanism import Bar, Mechanism
from model.members import Posture, posture
from model.poses import Poses, Status
from model.solver import solve
from model.spatial import Array
from model.travel import grid, single
from model.verdicts import Finding, State

# brentq stops at 1e-12 rad; the solver's 1e-9 mm on an arm of 100 mm is 1e-11 rad.
TURN = 1e-10


def _on_the_axle(**changes: Any) -> dict[str, Any]:
    """A bar behind a live axle, whose end links go up to the frame."""
    data = axle_scene(FOUR_LINKS)
    data["points"] |= {
        "bush": [-60.0, 380.0, 260.0],
        "bar end": [-230.0, 430.0, 265.0],
        "frame bracket": [-240.0, 440.0, 440.0],
    }
    data["bar"] = {
        "rear bar": {
            "on": "axle",
            "pivots": [{"point": f"{side} bush", "joint": "poly bush"} for side in ("left", "right")],
            "ends": ["left bar end", "right bar end"],
        }
        | changes
    }
    data["link"]["end link"] = {
        "from": end("frame bracket", "frame", "across"),
        "to": end("bar end", "rear bar", "across"),
        "mirror": True,
    }
    return data


def _searched(now: Posture, bar: Bar, number: int, far_on: str, foot: Array, length: float) -> tuple[Array, Array]:
    """Turn (N,) of an arm and its angle (N,) to its link, by a root search that follows each root from pose to pose."""
    pivot, arm = bar.pivots[0].at, bar.ends[number]
    holder = now.parts[bar.on]
    targets = now.parts[far_on].point(foot) - holder.translation
    turns, angles, last = [], [], 0.0
    for rotation, target in zip(holder.rotation, targets, strict=True):
        seen = rotation.T @ target

        def end_at(angle: float) -> Array:
            return np.asarray(pivot + Rotation.from_rotvec(angle * bar.axis).apply(arm - pivot))

        def miss(angle: float, seen: Array = seen, at: Callable[[float], Array] = end_at) -> float:
            return float(np.linalg.norm(at(angle) - seen)) - length

        last = brentq(miss, last - 0.1, last + 0.1, xtol=1e-13)
        turns.append(last)
        flat = [v - (v @ bar.axis) * bar.axis for v in (end_at(last) - pivot, seen - end_at(last))]
        cosine = abs(flat[0] @ flat[1]) / np.linalg.norm(flat[0]) / np.linalg.norm(flat[1])
        angles.append(np.arccos(min(cosine, 1.0)))
    return np.array(turns), np.array(angles)


def _walk(mechanism: Mechanism, target: tuple[float, ...]) -> Poses:
    """Small steps from ride height to a pose, so that a root search can follow."""
    return solve(mechanism, travel_of(mechanism, np.linspace(0.0, 1.0, 21)[:, None] * np.array(target)))


FRONT = [(70.0, -70.0, 1.0), (-70.0, 70.0, -1.0), (70.0, 70.0, 0.5)]
REAR = [(80.0, -80.0), (-80.0, 60.0), (80.0, 80.0)]


@pytest.mark.parametrize(
    ("data", "target"),
    [*((scene_data("wren_front"), target) for target in FRONT), *((_on_the_axle(), target) for target in REAR)],
)
def test_arms_turn_as_a_root_search_finds(data: dict[str, Any], target: tuple[float, ...]) -> None:
    mechanism = built(data)
    now = posture(_walk(mechanism, target))
    (bar,) = mechanism.bars
    largest = 0.0
    for number, motion in enumerate(now.bar_arms):
        link = next(link for link in mechanism.links if motion.arm in (link.ends[0].on, link.ends[1].on))
        far = link.far_end(motion.arm)
        length = float(np.linalg.norm(link.ends[0].at - link.ends[1].at))
        turns, angles = _searched(now, bar, number, far.on, far.at, length)
        assert np.abs(motion.turn - turns).max() < TURN
        assert np.abs(motion.to_link - angles).max() < 1e-7  # an arc cosine near a right angle, of roundings and TURN
        assert np.abs(now.parts[motion.arm].point(bar.ends[number]) - motion.end).max() < 1e-9
        # The link's own ends are apart by its length: it is placed between the arm and what moves it.
        ends = [now.parts[link.name].point(one.at) for one in link.ends]
        assert np.abs(np.linalg.norm(ends[0] - ends[1], axis=1) - length).max() < 1e-9
        assert np.abs(ends[link.ends.index(far)] - now.parts[far.on].point(far.at)).max() < 1e-9
        largest = max(largest, float(np.abs(turns).max()))
    assert largest > np.radians(5.0)


POINT = st.tuples(st.floats(-300.0, 300.0), st.floats(-80.0, 80.0), st.floats(-300.0, 300.0)).map(np.array)


@given(arm=POINT, far=POINT, shift=POINT.map(lambda point: 0.2 * point))
def test_an_arm_meets_its_link_wherever_it_can(arm: Array, far: Array, shift: Array) -> None:
    length = float(np.linalg.norm(far - arm))
    flat = np.array([1.0, 0.0, 1.0])
    assume(min(length, np.linalg.norm(arm * flat), np.linalg.norm(far * flat)) > 20.0)
    assume(np.linalg.norm((far + shift) * flat) > 20.0)
    turn, to_link = arm_turn(ACROSS, np.zeros(3), arm, far, far + shift)
    now = Rotation.from_rotvec(turn * ACROSS).apply(arm)
    if to_link > 1e-3:
        # D: a closed triangle; of an arc cosine 1e-3 rad from its end a thousandth of the digits is lost.
        assert abs(np.linalg.norm(now - far - shift) - length) < 1e-9
    back, _ = arm_turn(ACROSS, np.zeros(3), arm, far, far)
    assert abs(back) < 1e-6  # at ride height nothing has turned, even where arm and link are in line


def test_an_arm_goes_over_centre_where_arm_and_link_are_in_line() -> None:
    arm, link = 100.0, 120.0
    tip, foot = np.array([-arm, 0.0, 0.0]), np.array([-arm, 0.0, -link])
    # D: drawn straight down, the two are in line when their far end is their whole length from the bar.
    reach = float(np.sqrt((arm + link) ** 2 - arm**2)) - link
    drops = np.array([0.0, 0.5 * reach, reach * (1.0 - 1e-6), reach + 5.0])
    _, angle = arm_turn(ACROSS, np.zeros(3), tip, foot, foot - drops[:, None] * [0.0, 0.0, 1.0])
    assert angle[0] == pytest.approx(0.5 * np.pi, abs=1e-12)
    far = np.hypot(arm, link + drops[1])
    # D: law of cosines in the triangle of arm, link and the line from the bar to the link's far end.
    assert angle[1] == pytest.approx(np.pi - np.arccos((arm**2 + link**2 - far**2) / (2.0 * arm * link)), abs=1e-12)
    assert 0.0 < angle[2] < np.radians(0.3)
    assert angle[3] < 1e-7


def _one(poses: Poses, what: str, where: str) -> Finding:
    return next(found for found in judge(poses).findings if (found.what, found.where) == (what, where))


def test_a_short_end_link_is_over_centre_and_the_bar_flips() -> None:
    data = scene_data("wren_front")
    data["points"]["end_link_foot"] = [126.0, 385.0, 210.0]
    data["points"]["bar_end"] = [180.0, 385.0, 234.0]
    data["link"]["end link"]["to"]["bolt"] = "across"  # its link now runs along the car
    data["points"] |= {"bar_bush_left": [235.0, 240.0, 226.0], "bar_bush_right": [235.0, -240.0, 226.0]}
    mechanism = built(data)
    poses = solve(mechanism, grid(mechanism, 11, 3))
    found = _one(poses, "over centre", "left anti-roll bar, end link")
    assert (found.state, found.at_least, found.typical) == (State.OVER, True, True)
    (twist,) = bar_twists(poses)
    assert twist.flips
    assert found.used < 1e-6
    square = _one(poses, "off square", "left anti-roll bar, end link")
    assert square.drives == (0.0, 0.0, 0.0)
    assert square.state is State.CLOSE  # a warning, never more


def test_a_long_end_link_is_square_at_ride_height_and_does_not_flip() -> None:
    mechanism = built(scene_data("wren_front"))
    poses = solve(mechanism, grid(mechanism, 11, 3))
    (twist,) = bar_twists(poses)
    now = posture(poses)
    left, right = (motion.turn for motion in now.bar_arms)
    # D: from the arrays themselves; the twist is largest where one wheel is up and the other down.
    assert (twist.bar, twist.flips) == ("anti-roll bar", False)
    assert twist.left == (left.min(), left.max())
    assert twist.right == (right.min(), right.max())
    assert twist.twist == np.abs(left - right).max() == abs(left - right)[twist.pose]
    assert twist.drives == poses.stands_at(twist.pose)
    assert twist.drives[0] * twist.drives[1] < 0.0
    together = poses.travel.column("left") == poses.travel.column("right")
    straight = poses.travel.column("steer") == 0.0
    # A symmetric car does not twist its bar with both wheels together.
    assert np.abs(left - right)[together & straight].max() < 1e-9
    assert _one(poses, "off square", "left anti-roll bar, end link").used < 1e-9


def test_a_bar_is_not_judged_square_where_ride_height_is_not_among_the_poses() -> None:
    mechanism = built(scene_data("wren_front"))
    verdict = judge(solve(mechanism, single(mechanism, left=30.0)))
    assert not [found for found in verdict.findings if found.what == "off square"]
    assert [found for found in verdict.findings if found.what == "over centre"]


def test_the_pose_of_the_largest_twist_is_counted_among_all_poses_locked_ones_too() -> None:
    mechanism = built(_on_the_axle())
    values = np.array([[700.0, -700.0], [0.0, 0.0], [700.0, -650.0], [30.0, -30.0], [60.0, -60.0], [10.0, -10.0]])
    poses = solve(mechanism, travel_of(mechanism, values))
    assert (poses.status == Status.LOCKED).tolist() == [True, False, True, False, False, False]
    (twist,) = bar_twists(poses)
    assert (twist.pose, twist.drives) == (4, (60.0, -60.0))


def test_no_bar_no_twist_and_no_pose_no_twist() -> None:
    mechanism = built(scene_data("wren_front"))
    assert bar_twists(solve(mechanism, grid(mechanism, 3, 3)).take(slice(0, 0))) == ()
    bare = replace(mechanism, bars=(), links=())
    assert bar_twists(solve(bare, grid(bare, 3, 3))) == ()


@pytest.mark.parametrize(("length", "state"), [(425.0, State.CLEAR), (395.0, State.CLOSE), (375.0, State.OVER)])
def test_a_hose_spans_the_distance_of_its_fixings(length: float, state: State) -> None:
    data = parallel_arms(350.0, travel=90.0)
    data["points"] |= {"bracket": [-80.0, 280.0, 420.0], "banjo": [-60.0, 610.0, 300.0]}
    data["hose"] = {
        "brake hose": {
            "from": {"point": "bracket", "on": "frame"}, "to": {"point": "banjo", "on": "knuckle"}, "length": length,
        },
    }  # fmt: skip
    mechanism = built(data)
    heights = np.linspace(-90.0, 90.0, 61)
    found = _one(solve(mechanism, travel_of(mechanism, heights)), "span", "brake hose")
    # D: the knuckle shifts by the chord of a 350 mm arm.
    shifted = np.stack([0.0 * heights, np.sqrt(350.0**2 - heights**2) - 350.0, heights], axis=-1)
    spans = np.linalg.norm(np.array([20.0, 330.0, -120.0]) + shifted, axis=1)
    assert found.used == pytest.approx(spans.max(), abs=1e-8)
    assert (found.state, found.limit, found.typical) == (state, length, False)
    assert found.drives == (heights[spans.argmax()],)
    middle = np.array([-70.0, 445.0, 360.0]) + 0.5 * shifted[spans.argmax()]
    chord, sag = spans.max(), np.subtract(found.at, middle)
    # It is marked where it hangs: square below its chord where it is slack, on it where it is taut.
    assert sag[2] <= 0.0
    assert abs(sag @ (np.array([20.0, 330.0, -120.0]) + shifted[spans.argmax()])) < 1e-6
    if length <= chord:
        assert np.abs(sag).max() < 1e-8
    else:
        # D: a segment of height h over a chord c has the radius (c² / 4 + h²) / 2h and the arc 2 r asin (c / 2r).
        height = np.linalg.norm(sag)
        radius = (0.25 * chord**2 + height**2) / (2.0 * height)
        assert 2.0 * radius * np.arcsin(0.5 * chord / radius) == pytest.approx(length, abs=1e-6)


def test_a_hose_is_tried_over_the_whole_envelope() -> None:
    data = scene_data("wren_front")
    data["points"] |= {"hose_frame": [-70.0, 268.0, 318.0]}
    data["points"]["hose_caliper"] = [110.0, 590.0, 322.0]  # far from the kingpin: steering pulls at it
    data["hose"]["brake hose"]["length"] = 400
    mechanism = built(data)
    poses = solve(mechanism, grid(mechanism, 11, 5))
    now = posture(poses)
    fixed, moving = np.array([-70.0, 268.0, 318.0]), now.parts["left upright"].point(np.array([110.0, 590.0, 322.0]))
    spans = np.linalg.norm(moving - fixed, axis=1)
    found = _one(poses, "span", "left brake hose")
    assert found.used == pytest.approx(spans.max(), abs=1e-9)
    assert abs(found.drives[2]) == 1.0
    together = (poses.travel.column("left") == poses.travel.column("right")) & (poses.travel.column("steer") == 0.0)
    data["hose"]["brake hose"]["length"] = float(0.5 * (spans.max() + spans[together].max())) / 0.95
    again = built(data)
    assert _one(solve(again, grid(again, 11, 5)), "span", "left brake hose").missed


@pytest.mark.parametrize(
    ("engaged", "state"), [(9.9, State.OVER), (10.0, State.CLOSE), (14.9, State.CLOSE), (15.0, State.CLEAR)]
)
def test_a_thread_is_engaged_by_one_diameter_and_better_by_one_and_a_half(engaged: float, state: State) -> None:
    # S, M: link threads engaged at least 1 to 1.5 diameters (values of the trade).
    data = scene_data("wren_front")
    data["link"]["end link"]["from"]["engaged"] = engaged
    mechanism = built(data)
    found = _one(solve(mechanism, grid(mechanism, 3, 3)), "thread engaged", "left end link, at anti-roll bar")
    assert (found.state, found.used, found.limit, found.typical) == (state, engaged, 10.0, True)
    assert found.lowest == found.highest == found.ride == engaged
    assert found.drives == (0.0, 0.0, 0.0)


def _said(data: dict[str, Any]) -> tuple[str, ...]:
    with pytest.raises(SceneError) as caught:
        built(data)
    return caught.value.complaints


def _end_link(data: dict[str, Any], key: str, **mount: Any) -> dict[str, Any]:
    data["link"]["end link"][key] |= mount
    return data


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (
            _end_link(_on_the_axle(), "from", on="axle"),
            '[bar."rear bar"] has an end link "left end link" to the "axle", to which it is bolted itself, so that '
            "nothing moves its arm; put that end on another part.",
        ),
        (
            _end_link(_on_the_axle(), "from", point="bush") | {"travel": {"bump": 50, "droop": 50}},
            '[bar."rear bar"] has an end link "left end link" that ends on the line of its bushes; move it off that '
            "line.",
        ),
        (
            # D: from (−230, ±430, 265) to the bush at (−60, ±380, 260) is √(170² + 50² + 5²) = 177.27 mm.
            _end_link(_on_the_axle(), "to", point="bush"),
            '[bar."rear bar"] has an end link "left end link" whose point "bush" is 177.3 mm from the end of its arm; '
            "name the same point in ends and in the link.",
        ),
        (
            _end_link(_on_the_axle(), "to", engaged=20.0),
            '[link."end link"] to is engaged, but its joint "rod end" has no thread_diameter; give it one in a [joint] '
            "table, or leave engaged out.",
        ),
        (
            _end_link(_on_the_axle(), "from", on="near lower"),
            '[link."end link"] from.on is "near lower", a link, which cannot hold this; choose one of frame, axle, '
            "rear bar.",
        ),
    ],
)
def test_one_sentence_for_each_mistake(data: dict[str, Any], said: str) -> None:
    assert said in _said(data)


def test_a_link_from_arm_to_arm_moves_nothing() -> None:
    data = _on_the_axle()
    data["link"]["end link"] = {
        "from": end("left bar end", "left rear bar", "across"),
        "to": end("right bar end", "right rear bar", "across"),
    }
    assert _said(data) == (
        '[bar."rear bar"] has an end link "end link" from arm to arm; put its other end on the part that goes up and '
        "down.",
    )


def test_an_end_link_cannot_hang_on_a_coilover() -> None:
    data = scene_data("wren_front")
    data["link"]["end link"]["to"]["on"] = "coilover"
    (said,) = _said(data)
    assert said.startswith('[link."end link"] to.on is "coilover", a coilover, which cannot hold this')


def test_an_end_link_without_its_side_is_asked_for_it() -> None:
    data = scene_data("wren_front")
    data["link"]["end link"]["mirror"] = False
    assert any('write "left anti-roll bar" or "right anti-roll bar"' in complaint for complaint in _said(data))


def test_a_bar_leaves_the_arm_that_its_link_sits_on_as_it_was() -> None:
    data = scene_data("wren_front")
    mechanism = built(data)
    assert all(not arm.body for arm in mechanism.arms)
    assert not [row for row in mechanism.rows if "end link" in row.member]
