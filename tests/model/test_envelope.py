"""Worst cases over left wheel × right wheel × steering, against every pose looked at one by one."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import pytest
from zoo import (
    FOUR_LINKS,
    axle_scene,
    built,
    pitman_scene,
    scene_data,
    short_steering_arm,
    steered_axle,
    trailing_arm,
    travel_of,
)

from model import findings
from model.findings import judge, measures
from model.measures import Bound, Measure, Quantity
from model.mechanism import Mechanism
from model.poses import Poses, Status
from model.solver import solve
from model.spatial import Array
from model.travel import grid
from model.verdicts import SLACK, Finding, State, Verdict

MECHANISMS: dict[str, Callable[[], Mechanism]] = {
    "tarn_rear": lambda: built(scene_data("tarn_rear")),
    "wren_front": lambda: built(scene_data("wren_front")),
    "steered axle": lambda: built(steered_axle()),
}


def _state(value: float, bound: Bound | None, slack: float) -> State:
    if bound is None:
        return State.UNJUDGED
    beyond = (lambda limit: value < limit - slack) if bound.least else (lambda limit: value > limit + slack)
    return (
        State.OVER if beyond(bound.limit) and not bound.advice else State.CLOSE if beyond(bound.close) else State.CLEAR
    )


def _found(verdict: Verdict, what: str, where: str) -> Finding:
    return next(found for found in verdict.findings if found.what == what and found.where.startswith(where))


@pytest.mark.parametrize("chunk", [None, 10, 441])
@pytest.mark.parametrize("name", list(MECHANISMS))
def test_every_finding_is_the_worst_of_all_poses(name: str, chunk: int | None, monkeypatch: pytest.MonkeyPatch) -> None:
    mechanism = MECHANISMS[name]()
    poses = solve(mechanism, grid(mechanism, 7, 5))
    assert (poses.status == Status.SOLVED).all()
    everything = [measure for measure in measures(poses) if not np.isnan(measure.values).all()]
    if chunk is not None:
        monkeypatch.setattr("model.poses.CHUNK", chunk)
    verdict = judge(poses)
    assert len(verdict.findings) == len(everything)
    values = poses.travel.values
    spans = np.abs(values).max(axis=0)
    steered = values[:, 2] if mechanism.steer is not None else np.zeros(len(poses))
    for measure in everything:
        found = _found(verdict, measure.what, measure.where)
        slack, bound = SLACK[measure.quantity], measure.bound
        least = bound is not None and bound.least
        seen = [number for number in range(len(poses)) if not np.isnan(measure.values[number])]
        worst = (min if least else max)(measure.values[number] for number in seen)
        assert abs(found.used - worst) <= slack
        assert found.state is _state(worst, bound, slack)
        assert (found.lowest, found.highest) == (np.nanmin(measure.values), np.nanmax(measure.values))
        assert found.ride == measure.values[np.flatnonzero((values == 0.0).all(axis=1))[0]]
        assert found.drives == tuple(values[found.pose])
        assert np.abs(np.subtract(found.at, measure.at[found.pose])).max() < 1e-9
        # Of all poses as bad as the worst none is nearer to ride height.
        alike = [number for number in seen if abs(measure.values[number] - worst) <= slack]
        moved = {number: np.abs(values[number] / spans).sum() for number in alike}
        assert moved[found.pose] <= min(moved.values()) + 1e-12
        together = [number for number in seen if values[number, 0] == values[number, 1] and steered[number] == 0.0]
        shown = (min if least else max)(measure.values[number] for number in together)
        assert found.missed == (_state(shown, bound, slack) is not found.state)


def test_crossing_the_wheels_shows_what_cycling_them_together_misses() -> None:
    verdict = judge(solve(mechanism := MECHANISMS["tarn_rear"](), grid(mechanism, 11)))
    eye = _found(verdict, "tilt", "left coilover, at axle")
    assert (eye.state, eye.missed) == (State.OVER, True)
    assert eye.drives[0] * eye.drives[1] < 0.0
    # Both wheels up bring the dampers as near to their end as anything does.
    stroke = _found(verdict, "stroke in", "left coilover")
    assert (stroke.state, stroke.missed) == (State.CLOSE, False)


def test_a_worst_case_at_lock_is_missed_by_wheels_held_straight() -> None:
    data = scene_data("wren_front")
    mechanism = built(data)
    poses = solve(mechanism, grid(mechanism, 7, 5))
    swing = next(m for m in measures(poses) if (m.what, m.where) == ("swing", "left tie rod, at upright"))
    straight = poses.travel.column("steer") == 0.0
    limit = 0.5 * (swing.values.max() + swing.values[straight].max())
    data["joint"]["tie rod end"]["swing"] = float(np.degrees(limit))
    found = _found(judge(solve(mechanism := built(data), grid(mechanism, 7, 5))), "swing", "left tie rod, at upright")
    assert (found.state, found.missed) == (State.OVER, True)
    assert abs(found.drives[2]) == 1.0


def test_one_wheel_alone_is_cycled_by_itself() -> None:
    mechanism = built(trailing_arm(400.0, 200.0))
    wound = _found(judge(solve(mechanism, grid(mechanism, 9))), "wind-up", "trailing arm")
    assert (wound.state, wound.missed) == (State.OVER, False)  # asin(200/400) = 30°, typical limit 25°


def test_a_lock_says_whether_cycling_together_would_have_met_it() -> None:
    mechanism = built(axle_scene(FOUR_LINKS, travel=700.0))
    crossed = solve(mechanism, travel_of(mechanism, np.array([[0, 0], [60, 60], [700, -700]], dtype=float)))
    together = solve(mechanism, travel_of(mechanism, np.array([[0, 0], [700, 700], [-700, -700]], dtype=float)))
    assert crossed.status.tolist() == [Status.SOLVED, Status.SOLVED, Status.LOCKED]
    assert Status.LOCKED in together.status
    assert [found.missed for found in judge(crossed).findings if found.state is State.LOCKED] == [True]
    assert not any(found.missed for found in judge(together).findings if found.state is State.LOCKED)
    # With no pose among them that cycles the wheels together nothing can be said of it.
    alone = judge(crossed.take(np.array([2])))
    assert [found.missed for found in alone.findings] == [False]


def test_a_lock_in_steering_is_told_in_the_steerings_own_travel() -> None:
    mechanism = built(short_steering_arm())
    poses = solve(mechanism, travel_of(mechanism, np.array([[0.0, 0.0, 0.0], [20.0, 0.0, 1.0], [0.0, 0.0, 1.0]])))
    (lock,) = (found for found in judge(poses).findings if found.state is State.LOCKED)
    assert (lock.where, lock.quantity, lock.missed) == ("left tie rod", Quantity.LENGTH, True)
    assert lock.used == pytest.approx(58.0)
    assert lock.drives[2] == pytest.approx((lock.limit or 0.0) / 58.0)
    data = short_steering_arm()
    data["steering"] = {"kind": "rack", "lock_left": 30, "lock_right": 62}
    mechanism = built(data)
    poses = solve(mechanism, travel_of(mechanism, np.array([[0.0, 0.0, 0.0], [0.0, 0.0, -1.0]])))
    (lock,) = (found for found in judge(poses).findings if found.state is State.LOCKED)
    assert lock.where == "right tie rod"
    assert lock.used == pytest.approx(62.0)  # the travel of the lock that was asked for, to the right
    data = pitman_scene(parallelogram=True)
    data["steering"]["lock"] = 60
    mechanism = built(data)
    poses = solve(mechanism, travel_of(mechanism, np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 1.0]])))
    (lock,) = (found for found in judge(poses).findings if found.state is State.LOCKED)
    assert lock.quantity is Quantity.ANGLE
    assert lock.used == pytest.approx(np.radians(60.0))


def _by_hand(monkeypatch: pytest.MonkeyPatch, bound: Bound | None, values: Callable[[Array], Array]) -> None:
    """Let one measure be judged, whose values (N,) follow from the drive values (N, D)."""

    def only(poses: Poses) -> Iterator[Measure]:
        at = np.zeros((len(poses), 3))
        yield Measure("made up", "here", "axle", Quantity.ANGLE, bound, values(poses.travel.values), at)

    monkeypatch.setattr(findings, "measures", only)


@pytest.fixture(scope="module")
def cycled() -> Poses:
    mechanism = built(axle_scene(FOUR_LINKS))
    return solve(mechanism, grid(mechanism, 5))


@pytest.mark.parametrize("chunk", [3, 25])
def test_poses_with_nothing_to_measure_are_passed_over(
    cycled: Poses, chunk: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("model.poses.CHUNK", chunk)
    bound = Bound(0.2, 0.5, typical=False, source="made up", least=True)
    # Only with the left wheel up is there a value, and the least of it with the right one down.
    _by_hand(monkeypatch, bound, lambda d: np.where(d[:, 0] > 0.0, 0.4 + d[:, 1] / 400.0, np.nan))
    (found,) = judge(cycled).findings
    # 0.4 − 80/400; met exactly, a floor is not passed.
    assert found.used == pytest.approx(0.2, abs=1e-15)
    assert (found.state, found.drives, found.ride) == (State.CLOSE, (40.0, -80.0), None)
    assert (found.lowest, found.highest) == (pytest.approx(0.2), pytest.approx(0.6))
    # Together the wheels reach 40 and 80 up, where it is 0.5 and 0.6: clear, so that this would have been missed.
    assert found.missed
    _by_hand(monkeypatch, bound, lambda d: np.full(len(d), np.nan))
    assert judge(cycled).findings == ()


def test_nothing_is_missed_where_cycling_together_measures_nothing(
    cycled: Poses, monkeypatch: pytest.MonkeyPatch
) -> None:
    bound = Bound(0.1, 0.05, typical=False, source="made up")
    _by_hand(monkeypatch, bound, lambda d: np.where(d[:, 0] != d[:, 1], 0.2, np.nan))
    (found,) = judge(cycled).findings
    assert (found.state, found.missed) == (State.OVER, False)
    assert np.abs(found.drives).sum() == 40.0  # of many alike the plainest: one wheel, one step


@pytest.mark.parametrize("chunk", [1, 4, 25])
def test_ties_across_chunks_go_to_the_plainest_pose(cycled: Poses, chunk: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("model.poses.CHUNK", chunk)
    # Roundings that favour the far corner must not send it there.
    _by_hand(monkeypatch, None, lambda d: 0.3 + 1e-14 * d.sum(axis=1))
    (found,) = judge(cycled).findings
    assert found.drives == (0.0, 0.0)


def test_a_travel_without_ride_height_has_no_value_there(cycled: Poses) -> None:
    away = cycled.take(np.flatnonzero(np.abs(cycled.travel.values).sum(axis=1) > 0.0))
    assert {found.ride for found in judge(away).findings} == {None}
    assert None not in {found.ride for found in judge(cycled).findings}


def test_what_is_close_stands_before_what_is_clear_whatever_its_share(
    cycled: Poses, monkeypatch: pytest.MonkeyPatch
) -> None:
    def two(poses: Poses) -> Iterator[Measure]:
        n, at = len(poses), np.zeros((len(poses), 3))
        given = Bound(1.0, 0.9, typical=False, source="given")
        cautious = Bound(25.0, 15.0, typical=True, source="typical")
        yield Measure("clear", "here", "axle", Quantity.LENGTH, given, np.full(n, 0.89), at)
        yield Measure("close", "here", "axle", Quantity.LENGTH, cautious, np.full(n, 16.0), at)

    monkeypatch.setattr(findings, "measures", two)
    verdict = judge(cycled)
    assert verdict.worst is not None
    assert (verdict.state, verdict.worst.state) == (State.CLOSE, State.CLOSE)
    assert verdict.worst.share < verdict.findings[1].share


@pytest.mark.parametrize(
    ("least", "limit", "value", "share"),
    [
        (False, 2.0, 3.0, 1.5),
        (True, 2.0, 4.0, 0.5),
        (True, 2.0, -1.0, 100.0),  # nothing left at all
        (True, 0.0, -0.1, 100.0),
        (True, 0.0, 0.1, 0.0),
        (False, 0.0, 0.1, 100.0),
    ],
)
def test_a_share_of_a_limit_can_be_said_of_floors_and_of_nothing(
    cycled: Poses, least: bool, limit: float, value: float, share: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    bound = Bound(limit, limit, typical=False, source="made up", least=least)
    _by_hand(monkeypatch, bound, lambda d: np.full(len(d), value))
    (found,) = judge(cycled).findings
    assert found.share == pytest.approx(share)
    assert found.state is (State.OVER if share > 1.0 else State.CLEAR)
    assert found.margin == pytest.approx(value - limit if least else limit - value)
