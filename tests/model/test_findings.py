"""Measures against limits: order, states, typical limits, closed forms of stroke and squeeze, poses in words."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from zoo import FOUR_LINKS, NAMES, axle_scene, built, end, parallel_arms, scene_data, trailing_arm

from model.findings import judge, pose_text
from model.limits import CLOSE_SHARE
from model.measures import Quantity
from model.poses import CHUNK
from model.solver import CHUNK as POSES_AT_ONCE
from model.solver import solve
from model.travel import grid, single
from model.units import Length
from model.verdicts import WORST_FIRST, Finding, State, Verdict, worst_state

RADIUS, TRAVEL = 400.0, 100.0
# D: the largest turn of a trailing arm, at either end of its travel.
LARGEST = float(np.degrees(np.arcsin(TRAVEL / RADIUS)))
# The solver's promise of 1e-9 mm over 400 mm is 3e-12 rad; findings allow 1e-9 for what doubles lose.
ROUNDING = 1e-9


def _judged(data: dict[str, Any], steps: int = 11) -> Verdict:
    mechanism = built(data)
    return judge(solve(mechanism, grid(mechanism, steps, 5)))


def _one(verdict: Verdict, what: str, where: str) -> Finding:
    return next(finding for finding in verdict.findings if (finding.what, finding.where) == (what, where))


def _arm(turn: float | None) -> dict[str, Any]:
    data = trailing_arm(RADIUS, TRAVEL, "bush")
    joint: dict[str, Any] = {"kind": "rubber bush", "cock": 3.0, "source": "part maker's sheet"}
    data["joint"] = {"bush": joint if turn is None else joint | {"turn": turn}}
    return data


@pytest.mark.parametrize(
    ("limit", "state"),
    [
        (LARGEST * 0.999, State.OVER),
        (LARGEST * (1.0 + 1e-10), State.CLOSE),  # a limit that is just met is not exceeded,
        (LARGEST * (1.0 - 1e-10), State.CLOSE),  # nor by what doubles lose: 3e-11 rad here
        (LARGEST / CLOSE_SHARE * 0.999, State.CLOSE),
        (LARGEST / CLOSE_SHARE * (1.0 - 1e-10), State.CLEAR),
        (LARGEST * 2.0, State.CLEAR),
    ],
)
def test_a_given_limit_is_over_close_or_clear(limit: float, state: State) -> None:
    verdict = _judged(_arm(limit))
    for place in ("left pivot", "right pivot"):
        finding = _one(verdict, "wind-up", f"trailing arm, {place}")
        assert finding.state == state
        assert not finding.typical
        assert finding.source == "part maker's sheet"
        assert abs(finding.used - np.arcsin(TRAVEL / RADIUS)) < ROUNDING
        assert finding.limit == pytest.approx(np.radians(limit), rel=1e-14)  # one product
        assert finding.margin == pytest.approx(np.radians(limit) - finding.used, abs=1e-15)
        assert finding.share == pytest.approx(LARGEST / limit, rel=1e-9)
    assert verdict.state == state


# P common practice, no source: wind-up ±15–20° repeated, ±25–30° rarely; cocking 2–5° (values of the trade).
@pytest.mark.parametrize(
    ("travel", "state"),
    [(100.0, State.CLEAR), (120.0, State.CLOSE), (165.0, State.CLOSE), (175.0, State.OVER)],
)
def test_a_limit_that_nobody_gave_is_typical_and_says_so(travel: float, state: State) -> None:
    # asin(100/400) = 14.5°, asin(120/400) = 17.5°, asin(165/400) = 24.4°, asin(175/400) = 25.9°.
    verdict = _judged(trailing_arm(RADIUS, travel, "rubber bush"))
    finding = _one(verdict, "wind-up", "trailing arm, left pivot")
    assert finding.typical
    assert finding.source.startswith("typical: ")
    assert (finding.state, np.degrees(finding.limit or 0.0)) == (state, pytest.approx(25.0))
    assert np.degrees(_one(verdict, "cocking", "trailing arm, left pivot").limit or 0.0) == pytest.approx(5.0)


def test_a_joint_without_any_limit_is_measured_and_never_judged() -> None:
    data = parallel_arms()
    data["link"]["tie rod"]["to"]["joint"] = "strut mount"
    verdict = _judged(data)
    finding = _one(verdict, "tilt", "tie rod, at knuckle")
    assert (finding.state, finding.limit, finding.margin, finding.share) == (State.UNJUDGED, None, None, 0.0)
    # Nothing is known of it, so that it decides nothing and stands last.
    assert verdict.findings[-1] == finding
    assert verdict.state != State.UNJUDGED


@pytest.mark.parametrize("name", NAMES)
def test_findings_come_worst_first_and_hold_the_pose_in_which_they_are_worst(name: str) -> None:
    mechanism = built(scene_data(name))
    poses = solve(mechanism, grid(mechanism, 7, 3))
    verdict = judge(poses)
    ranks = [WORST_FIRST.index(finding.state) for finding in verdict.findings]
    assert ranks == sorted(ranks)
    for state in State:
        shares = [finding.share for finding in verdict.findings if finding.state is state]
        assert (np.diff(shares) <= 1e-9).all()  # twins that differ by rounding stand left before right
    assert verdict.worst == verdict.findings[0]
    assert verdict.state == worst_state(verdict.findings)
    assert (verdict.poses, verdict.locked_poses) == (len(poses), 0)
    assert len({(finding.what, finding.where) for finding in verdict.findings}) == len(verdict.findings)
    for finding in verdict.findings[:6]:
        assert poses.travel.values[finding.pose].tolist() == list(finding.drives)
        alone = judge(poses.take(np.array([finding.pose])))
        # The same pose solved alone: roundings only.
        assert abs(_one(alone, finding.what, finding.where).used - finding.used) < ROUNDING
        assert np.abs(np.subtract(_one(alone, finding.what, finding.where).at, finding.at)).max() < ROUNDING


def test_the_verdicts_of_the_scenes_are_those_that_their_notes_promise() -> None:
    states = {name: _judged(scene_data(name), 21).state for name in NAMES}
    assert states.pop("tarn_rear") == State.OVER
    assert set(states.values()) <= {State.CLEAR, State.CLOSE}
    tarn = _judged(scene_data("tarn_rear"), 21)
    assert tarn.worst is not None
    # Crossed up, the coilovers' lower eyes run out of angle: one wheel up, the other down.
    assert tarn.worst.where.endswith("coilover, at axle")
    assert tarn.worst.drives[0] * tarn.worst.drives[1] < 0.0


def test_a_verdict_is_the_same_in_chunks() -> None:
    mechanism = built(trailing_arm(RADIUS, TRAVEL))
    poses = solve(mechanism, grid(mechanism, CHUNK + 101))
    verdict, coarse = judge(poses), judge(solve(mechanism, grid(mechanism, 3)))
    assert verdict.poses == CHUNK + 101
    for finding in coarse.findings:
        twin = _one(verdict, finding.what, finding.where)
        assert abs(twin.used - finding.used) < ROUNDING
        assert poses.travel.values[twin.pose].tolist() == list(twin.drives)


def _sprung(compressed: float, extended: float, **spring: float) -> dict[str, Any]:
    """A coilover that stands upright over a knuckle that can only shift."""
    data = parallel_arms(350.0, travel=80.0)
    data["points"] |= {"top": [0.0, 560.0, 700.0], "foot": [0.0, 560.0, 300.0]}
    data["coilover"] = {
        "coilover": {
            "top": end("top", "frame", "along"),
            "bottom": end("foot", "knuckle", "along"),
            "compressed": compressed,
            "extended": extended,
            "spring": {"rate": 30.0, "free_length": 300.0, **spring},
        }
    }
    return data


def _upright_length(height: float) -> float:
    # D: the knuckle shifts by the chord of a 350 mm arm.
    return float(np.hypot(400.0 - height, 350.0 - np.sqrt(350.0**2 - height**2)))


def test_stroke_and_spring_squeeze_are_counted_from_both_ends() -> None:
    verdict = _judged(_sprung(310.0, 490.0, preload=12.0, solid_length=95.0))
    bump, droop = _upright_length(80.0), _upright_length(-80.0)
    into, out, squeeze = (_one(verdict, what, "coilover") for what in ("stroke in", "stroke out", "spring squeeze"))
    assert into.used == pytest.approx(490.0 - bump, abs=ROUNDING)
    assert into.limit == out.limit == pytest.approx(180.0, abs=ROUNDING)
    assert out.used == pytest.approx(droop - 310.0, abs=ROUNDING)
    # D: squeezed by its preload at full extension, and from there as far as the shaft has gone in.
    assert squeeze.used == pytest.approx(12.0 + 490.0 - bump, abs=ROUNDING)
    assert squeeze.limit == pytest.approx(300.0 - 95.0, abs=ROUNDING)
    assert (into.drives, out.drives, squeeze.drives) == ((80.0,), (-80.0,), (80.0,))
    # The middle of the coilover in that pose.
    shift = np.sqrt(350.0**2 - 80.0**2) - 350.0
    assert np.abs(np.subtract(into.at, [0.0, 560.0 + 0.5 * shift, 0.5 * (700.0 + 380.0)])).max() < ROUNDING


def test_a_stroke_that_runs_out_is_over_by_as_much_as_is_missing() -> None:
    verdict = _judged(_sprung(325.0, 475.0, solid_length=170.0))
    into, out, squeeze = (_one(verdict, what, "coilover") for what in ("stroke in", "stroke out", "spring squeeze"))
    assert (into.state, out.state, squeeze.state) == (State.OVER, State.OVER, State.OVER)
    assert into.margin == pytest.approx(_upright_length(80.0) - 325.0, abs=ROUNDING)
    assert out.margin == pytest.approx(475.0 - _upright_length(-80.0), abs=ROUNDING)
    assert squeeze.margin == pytest.approx(130.0 - (475.0 - _upright_length(80.0)), abs=ROUNDING)


def test_a_spring_without_its_solid_length_is_not_judged() -> None:
    verdict = _judged(_sprung(310.0, 490.0))
    assert not [finding for finding in verdict.findings if finding.what == "spring squeeze"]


def test_of_equally_bad_poses_the_plainest_is_shown() -> None:
    # A wheel's own links do not feel the other wheel: the other one then stays at ride height.
    data = trailing_arm(RADIUS, TRAVEL)
    for table in ("arm", "wheel"):
        for entry in data[table].values():
            entry["mirror"] = True
    verdict = _judged(data)
    left = _one(verdict, "wind-up", "left trailing arm, left pivot")
    assert abs(left.drives[0]) == TRAVEL
    assert left.drives[1] == 0.0
    # What never moves is worst everywhere, so at ride height.
    still = _one(verdict, "cocking", "left trailing arm, left pivot")
    assert still.drives == (0.0, 0.0)
    assert still.used < ROUNDING


@pytest.mark.parametrize(
    ("names", "drives", "length", "text"),
    [
        (("left", "right"), (0.0, 0.0), Length.MM, "both wheels at ride height"),
        (("left", "right"), (70.0, 70.0), Length.MM, "both wheels 70 mm up"),
        (("left", "right"), (-5.0, -5.0), Length.MM, "both wheels 5.0 mm down"),
        (("left", "right"), (70.0, -60.0), Length.MM, "left wheel 70 mm up, right wheel 60 mm down"),
        (
            ("left", "right", "steer"),
            (70.0, 0.0, 1.0),
            Length.MM,
            "left wheel 70 mm up, right wheel at ride height, full left lock",
        ),
        (("left", "right", "steer"), (0.0, 0.0, -0.4), Length.MM, "both wheels at ride height, 40 % right lock"),
        (("left",), (50.8,), Length.INCH, "left wheel 2.00 in up"),
        (("right",), (-25.4,), Length.INCH, "right wheel 1.00 in down"),
    ],
)
def test_a_pose_in_words(names: tuple[str, ...], drives: tuple[float, ...], length: Length, text: str) -> None:
    assert pose_text(names, drives, length) == text


def test_progress_counts_to_the_end() -> None:
    mechanism = built(axle_scene(FOUR_LINKS))
    calls: list[tuple[int, int]] = []
    poses = solve(mechanism, grid(mechanism, 61), lambda done, total: calls.append((done, total)))
    assert calls == [(POSES_AT_ONCE, 3721), (3721, 3721)]
    calls.clear()
    judge(poses, lambda done, total: calls.append((done, total)))
    assert calls[-1] == (3721, 3721)


def test_one_pose_alone_can_be_judged() -> None:
    mechanism = built(scene_data("wren_rear"))
    verdict = judge(solve(mechanism, single(mechanism, left=40.0)))
    assert verdict.poses == 1
    assert {finding.drives for finding in verdict.findings} == {(40.0, 0.0)}
    nothing = judge(solve(mechanism, grid(mechanism, 3)).take(np.array([], dtype=np.intp)))
    assert (nothing.findings, nothing.state, nothing.worst) == ((), State.CLEAR, None)


@pytest.mark.parametrize(
    ("at_least", "ride", "over"), [(True, 9.0, True), (True, 11.0, False), (False, 11.0, True), (False, 9.0, False)]
)
def test_what_is_over_at_ride_height_already_is_past_its_floor_or_ceiling_there(
    at_least: bool, ride: float, over: bool
) -> None:
    finding = Finding(
        what="made up",
        where="here",
        part="part",
        state=State.OVER,
        quantity=Quantity.LENGTH,
        used=8.0 if at_least else 12.0,
        limit=10.0,
        typical=False,
        source="",
        pose=0,
        drives=(0.0,),
        at=(0.0, 0.0, 0.0),
        at_least=at_least,
        ride=ride,
    )
    assert finding.over_at_ride is over
    assert not replace(finding, state=State.CLOSE).over_at_ride
    assert not replace(finding, ride=None).over_at_ride
