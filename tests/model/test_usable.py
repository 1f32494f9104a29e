"""Usable travel against the cosine rule, against dense sampling, and against itself in mirror and in inches."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
import zoo
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from model.bumpstops import stop_findings
from model.findings import judge
from model.measures import Bound, Measure, Quantity
from model.mechanism import Mechanism
from model.poses import Poses, Status
from model.reaches import Reach, Stop
from model.solver import solve
from model.spatial import Array
from model.stops import Cause, inside, stop_signals
from model.travel import grid
from model.usable import LOOK, usable_travel
from model.verdicts import Finding, State
from model.ways import Way

RADIUS = 400.0
# Seen from the side, of points (x, z): the arm's pivot, the damper's foot on the arm and its top on the frame.
PIVOT, FOOT, TOP = (RADIUS, 300.0), (150.0, 300.0), (180.0, 640.0)
STRAP_FOOT, STRAP_TOP = (100.0, 280.0), (140.0, 560.0)
# The search closes a root to 1e-6 of the travel asked for, and the solver holds lengths to 1e-9 mm.
CLOSE = 1e-3


def damped_arm(travel: float = 100.0, joint: str = "plain sleeve", **coilover: Any) -> dict[str, Any]:
    """A trailing arm on a coilover that stands in a plane square to the arm's pivots."""
    data = zoo.trailing_arm(RADIUS, travel, joint)
    data["points"] |= {"foot": [FOOT[0], 500.0, FOOT[1]], "top": [TOP[0], 500.0, TOP[1]]}
    sizes = {"compressed": 260.0, "extended": 430.0, "bump_stop": 25.0}
    data["coilover"] = {
        "coilover": {
            "top": zoo.end("top", "frame"),
            "bottom": zoo.end("foot", "trailing arm"),
            **sizes,
            **coilover,
        }
    }
    return data


def with_strap(data: dict[str, Any], length: float) -> dict[str, Any]:
    """The same with a limit strap from the frame to the arm."""
    points = {"strap foot": [STRAP_FOOT[0], 450.0, STRAP_FOOT[1]], "strap top": [STRAP_TOP[0], 450.0, STRAP_TOP[1]]}
    ends = {"from": {"point": "strap top", "on": "frame"}, "to": {"point": "strap foot", "on": "trailing arm"}}
    return zoo.with_changes(data, points=data["points"] | points, strap={"strap": ends | {"length": length}})


def height(length: float, foot: tuple[float, float] = FOOT, top: tuple[float, float] = TOP) -> float:
    """Wheel height in mm at which foot and top are `length` apart.

    D, the cosine rule: with a and b from the pivot to top and foot, length² = a² + b² − 2 a b cos(φ − θ), where φ is
    the angle between them at ride height and θ, with sin θ = height / RADIUS, what the arm has turned up.
    """
    (a, up_a), (b, up_b) = (
        (math.hypot(PIVOT[0] - x, z - PIVOT[1]), math.atan2(z - PIVOT[1], PIVOT[0] - x)) for x, z in (top, foot)
    )
    return RADIUS * math.sin(up_a - up_b - math.acos((a * a + b * b - length * length) / (2.0 * a * b)))


def spring(solid_length: float, preload: float = 10.0) -> dict[str, float]:
    return {
        "rate": 30.0,
        "free_length": 250.0,
        "preload": preload,
        "solid_length": solid_length,
        "outside_diameter": 80.0,
        "wire_diameter": 10.0,
    }


def reaches(data: dict[str, Any]) -> dict[Way, Reach]:
    """Both ways of a scene with one wheel."""
    return {reach.way: reach for reach in usable_travel(zoo.built(data))}


def first(reach: Reach, cause: Cause) -> Stop:
    """The nearest stop of a kind."""
    return next(stop for stop in reach.stops if stop.cause is cause)


def causes(reach: Reach) -> list[Cause]:
    return [stop.cause for stop in reach.stops]


class TestClosedForms:
    """The trailing arm turns in one plane: every length follows from the cosine rule."""

    def test_damper_and_spring(self) -> None:
        found = reaches(damped_arm(spring=spring(solid_length=95.0)))
        bump, droop = found[Way.BUMP], found[Way.DROOP]
        # D: the spring is solid when it is squeezed by 250 − 95 = 155, 10 of which are there at full extension.
        expected = {Cause.BUMP_STOP: 260.0 + 25.0, Cause.COIL_BIND: 430.0 - 145.0, Cause.DAMPER_BOTTOM: 260.0}
        for cause, length in expected.items():
            assert first(bump, cause).amount == pytest.approx(height(length), abs=CLOSE)
        assert first(droop, Cause.TOP_OUT).amount == pytest.approx(-height(430.0), abs=CLOSE)
        assert bump.usable == pytest.approx(height(285.0), abs=CLOSE)
        assert droop.usable == pytest.approx(min(100.0, -height(430.0)), abs=CLOSE)
        assert bump.to == (100.0,)
        assert droop.to == (-100.0,)

    @pytest.mark.parametrize("length", [290.0, 320.0, 360.0])
    def test_strap(self, length: float) -> None:
        droop = reaches(with_strap(damped_arm(), length))[Way.DROOP]
        found = first(droop, Cause.STRAP)
        assert found.amount == pytest.approx(-height(length, STRAP_FOOT, STRAP_TOP), abs=CLOSE)
        assert found.where == "strap"
        assert found.drives == pytest.approx((-found.amount,))

    def test_wind_up(self) -> None:
        """A bush on the pivot is wound by the arm's own turn: the height is RADIUS · sin(limit)."""
        data = zoo.trailing_arm(RADIUS, 100.0, "soft")
        data["joint"] = {"soft": {"kind": "rubber bush", "turn": 12.0, "source": "a drawing"}}
        for reach in reaches(data).values():
            found = first(reach, Cause.WIND_UP)
            assert found.amount == pytest.approx(RADIUS * math.sin(math.radians(12.0)), abs=CLOSE)
            assert (found.typical, found.source) == (False, "a drawing")
            # A wound bush harms but does not hold the wheel.
            assert reach.usable == 100.0
            assert reach.unharmed == found.amount

    def test_typical_limits_say_so(self) -> None:
        found = first(reaches(zoo.trailing_arm(RADIUS, 150.0, "rubber bush"))[Way.BUMP], Cause.WIND_UP)
        assert found.typical
        # From memory, rubber: 25° at most.
        assert found.amount == pytest.approx(RADIUS * math.sin(math.radians(25.0)), abs=CLOSE)

    def test_dead_centre(self) -> None:
        """Level arms of 350 mm stand upright, in line with the way of the wheel, 350 mm further up or down."""
        for reach in usable_travel(zoo.built(zoo.parallel_arms(350.0, 300.0))):
            found = first(reach, Cause.STRAIGHT)
            # The solver stops within 1/8192 of the 450 mm that it was asked to look.
            assert found.amount == pytest.approx(350.0, abs=0.06)
            assert reach.usable == 300.0
            assert not reach.stopped
            assert reach.looked < 350.0

    def test_rack_at_its_lock(self) -> None:
        found = [reach for reach in usable_travel(zoo.built(zoo.scene_data("wren_front"))) if reach.way is Way.LOCK]
        assert [reach.steer for reach in found] == [1.0, -1.0]
        for reach in found:
            assert (reach.asked, reach.usable) == (1.0, 1.0)
            assert (reach.stops[0].cause, reach.stops[0].where, reach.stops[0].amount) == (Cause.LOCK, "rack", 1.0)


class TestOrder:
    """Stops that are moved past each other change places."""

    @pytest.mark.parametrize(
        ("solid", "order"),
        [
            # D: solid at 430 − (250 − solid − 10) mm, against 285 mm for the bump stop and 260 mm for the damper.
            (65.0, [Cause.BUMP_STOP, Cause.DAMPER_BOTTOM, Cause.COIL_BIND]),
            (80.0, [Cause.BUMP_STOP, Cause.COIL_BIND, Cause.DAMPER_BOTTOM]),
            (110.0, [Cause.COIL_BIND, Cause.BUMP_STOP, Cause.DAMPER_BOTTOM]),
        ],
    )
    def test_spring_against_damper(self, solid: float, order: list[Cause]) -> None:
        bump = reaches(damped_arm(travel=110.0, spring=spring(solid)))[Way.BUMP]
        assert causes(bump) == order
        hard = next(stop for stop in bump.stops if stop.cause is not Cause.BUMP_STOP)
        assert bump.usable == min(hard.amount, 110.0)

    def test_strap_before_or_after_the_damper(self) -> None:
        for length, expected in ((300.0, Cause.STRAP), (420.0, Cause.TOP_OUT)):
            droop = reaches(with_strap(damped_arm(extended=390.0), length))[Way.DROOP]
            assert causes(droop)[0] is expected
            assert droop.usable == droop.stops[0].amount

    def test_bump_stop_does_not_end_the_travel(self) -> None:
        bump = reaches(damped_arm(bump_stop=60.0))[Way.BUMP]
        touches, bottoms = first(bump, Cause.BUMP_STOP), first(bump, Cause.DAMPER_BOTTOM)
        assert touches.amount < bottoms.amount
        assert bump.usable == min(100.0, bottoms.amount)

    def test_nothing_stops_it(self) -> None:
        for reach in reaches(damped_arm(travel=20.0)).values():
            assert not reach.stopped
            assert reach.usable == reach.unharmed == reach.asked == 20.0
            assert reach.looked == LOOK * 20.0

    def test_already_touching_at_ride_height(self) -> None:
        """At ride height the damper is 341.3 mm long: a stop that touches at 350 mm is on it."""
        found = reaches(damped_arm(bump_stop=90.0))
        assert first(found[Way.BUMP], Cause.BUMP_STOP).amount == 0.0
        assert Cause.BUMP_STOP not in causes(found[Way.DROOP])


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
@given(
    compressed=st.floats(230.0, 320.0),
    stroke=st.floats(60.0, 220.0),
    share=st.floats(0.05, 0.6),
    solid=st.floats(40.0, 140.0),
    strap=st.floats(285.0, 380.0),
)
def test_found_heights_meet_their_limits(
    compressed: float, stroke: float, share: float, solid: float, strap: float
) -> None:
    extended = compressed + stroke
    assume(compressed + share * stroke < 340.0 < extended - 2.0)
    data = damped_arm(
        compressed=compressed, extended=extended, bump_stop=share * stroke, spring=spring(solid, preload=0.0)
    )
    mechanism = zoo.built(with_strap(data, strap))
    limits = {
        Cause.BUMP_STOP: stroke,
        Cause.DAMPER_BOTTOM: stroke,
        Cause.TOP_OUT: stroke,
        Cause.COIL_BIND: 250.0 - solid,
        Cause.STRAP: strap,
    }
    for reach in usable_travel(mechanism):
        for stop in reach.stops:
            if stop.amount == 0.0 or stop.cause not in limits:
                continue
            there, before = (signal_at(mechanism, stop, share) for share in (1.0, 1.0 - 0.05 / stop.amount))
            assert abs(there) < 1e-3 * limits[stop.cause]
            assert before < 0.0


def signal_at(mechanism: Mechanism, stop: Stop, share: float) -> float:
    """How far past its limit a stop is at a share of the way to it."""
    poses = solve(mechanism, zoo.travel_of(mechanism, share * np.array([stop.drives])))
    signals = {(signal.cause, signal.where): signal for signal in stop_signals(poses)}
    return float(signals[stop.cause, stop.where].past[0])


class TestScenes:
    def test_dense_sampling_finds_the_same(self) -> None:
        """300 poses along every way pass each limit within one step of where it was found, and no other."""
        for name in zoo.RIGID:
            mechanism = zoo.built(zoo.scene_data(name))
            for reach in usable_travel(mechanism):
                start = np.zeros(len(reach.to))
                if reach.way is not Way.LOCK and mechanism.steer is not None:
                    start[mechanism.steer] = reach.steer
                amounts = np.linspace(0.0, reach.looked, 300)
                values = start + (amounts / reach.asked)[:, None] * (np.array(reach.to) - start)
                poses = solve(mechanism, zoo.travel_of(mechanism, values))
                assert (poses.status == Status.SOLVED).all()
                dense = {}
                for signal in stop_signals(poses):
                    past = np.flatnonzero(signal.past > 0.0)
                    if len(past):
                        dense[signal.cause, signal.where] = amounts[past[0]]
                found = {
                    (stop.cause, stop.where): stop.amount
                    for stop in reach.stops
                    if stop.cause not in (Cause.STRAIGHT, Cause.LOCK)
                }
                assert found.keys() == dense.keys()
                for key, amount in found.items():
                    assert 0.0 <= dense[key] - amount <= amounts[1] + CLOSE

    def test_a_symmetric_car_gets_as_far_on_both_sides(self) -> None:
        found = usable_travel(zoo.built(zoo.scene_data("wren_front")))
        seen = {(reach.way, reach.wheels, reach.steer): reach for reach in found}
        for (way, wheels, steer), reach in seen.items():
            twin = seen[way, _mirrored(way, wheels), -steer]
            assert twin.usable == pytest.approx(reach.usable, abs=CLOSE)
            mine = sorted((stop.cause, stop.where) for stop in reach.stops)
            theirs = sorted((stop.cause, _swapped(stop.where)) for stop in twin.stops)
            assert mine == theirs
            # A lock is known to 1/8192 of the way.
            assert [s.amount for s in twin.stops] == pytest.approx([s.amount for s in reach.stops], abs=0.02)

    def test_ways(self) -> None:
        """Every wheel alone, both, crossed; straight ahead and at both locks; and the steering."""
        steered = usable_travel(zoo.built(zoo.scene_data("wren_front")))
        assert len(steered) == 3 * 8 + 2
        assert len(usable_travel(zoo.built(zoo.scene_data("wren_rear")))) == 8
        roll = [reach for reach in steered if reach.way is Way.ROLL and reach.steer == 0.0]
        assert [(reach.wheels, reach.to) for reach in roll] == [
            (("left", "right"), (70.0, -70.0, 0.0)),
            (("right", "left"), (-70.0, 70.0, 0.0)),
        ]
        assert [reach.rising for reach in roll] == [("left",), ("right",)]

    def test_inches(self) -> None:
        data = with_strap(damped_arm(spring=spring(95.0)), 320.0)
        expected, found = reaches(data), reaches(_in_inches(data))
        for way, reach in expected.items():
            assert causes(found[way]) == causes(reach)
            assert [s.amount for s in found[way].stops] == pytest.approx([s.amount for s in reach.stops], abs=CLOSE)
            assert found[way].asked == pytest.approx(reach.asked)

    def test_a_linkage_that_locks_before_the_steering_does(self) -> None:
        """The Wren's tie rods run straight at 85 mm of rack travel; a rack of 100 mm never gets to its lock."""
        data = zoo.scene_data("wren_front")
        mechanism = zoo.built(zoo.with_changes(data, steering=data["steering"] | {"lock": 100}))
        whole = {reach.steer: reach for reach in usable_travel(zoo.built(data)) if reach.way is Way.LOCK}
        for reach in usable_travel(mechanism):
            if reach.way is Way.LOCK:
                assert causes(reach) == [Cause.STRAIGHT, Cause.LOCK]
                # 1/8192 of 1.5 × 100 mm is 0.02 mm.
                expected = 0.58 * first(whole[reach.steer], Cause.STRAIGHT).amount
                assert reach.usable == pytest.approx(expected, abs=5e-4)
            elif reach.steer != 0.0:
                # The lock at which the wheels would go up and down cannot be reached at all.
                assert (reach.usable, [stop.amount for stop in reach.stops]) == (0.0, [0.0])

    def test_a_way_locks_at_full_lock(self) -> None:
        """Held at a lock, the last pose that works is bracketed to 0.05 mm of 100 mm."""
        data = zoo.scene_data("wren_front")
        mechanism = zoo.built(zoo.with_changes(data, travel={"bump": 250, "droop": 250}))
        held = [reach for reach in usable_travel(mechanism) if reach.steer == 1.0 and reach.wheels == ("left",)]
        locks = [stop for reach in held for stop in reach.stops if stop.cause is Cause.STRAIGHT]
        assert locks
        for stop in locks:
            drives = np.array([stop.drives, stop.drives])
            drives[:, 0] += np.sign(drives[:, 0]) * np.array([-0.15, 0.15])
            status = solve(mechanism, zoo.travel_of(mechanism, drives)).status
            assert status.tolist() == [Status.SOLVED, Status.LOCKED]

    @pytest.mark.slow
    @pytest.mark.parametrize("name", zoo.NAMES)
    def test_speed(self, name: str) -> None:
        """Alone on its machine each scene takes under a second; twice that allows for what else runs there."""
        mechanism = zoo.built(zoo.scene_data(name))
        taken = []
        for _ in range(3):
            start = time.perf_counter()
            usable_travel(mechanism)
            taken.append(time.perf_counter() - start)
        assert min(taken) < 2.0


def _mirrored(way: Way, wheels: tuple[str, ...]) -> tuple[str, ...]:
    if way is not Way.ROLL and len(wheels) == 2:
        return wheels
    return tuple("right" if wheel == "left" else "left" for wheel in wheels)


def _swapped(name: str) -> str:
    side, _, rest = name.partition(" ")
    return {"left": f"right {rest}", "right": f"left {rest}"}.get(side, name)


def _in_inches(data: dict[str, Any]) -> dict[str, Any]:
    """The same scene written in inches and lbf/in."""
    per_inch, pounds = 25.4, 25.4 / 4.4482216152605

    def scaled(value: Any, key: str = "") -> Any:
        if isinstance(value, dict):
            return {name: scaled(each, name) for name, each in value.items()}
        if isinstance(value, list):
            return [scaled(each) for each in value]
        if isinstance(value, int | float) and not isinstance(value, bool):
            return value * pounds if key == "rate" else value / per_inch
        return value

    return dict(scaled(data)) | {"units": "in"}


@dataclass
class MadeUpGap:
    """One pair of parts whose distance is a function of the wheel's height."""

    where: str
    distance: Callable[[Array], Array]

    def __len__(self) -> int:
        return 1

    def __call__(self, poses: Poses, asked: NDArray[np.bool_] | None) -> Iterable[Measure]:
        heights = poses.travel.values[:, 0]
        bound = Bound(0.0, 0.0, typical=False, source="measured", least=True)
        values = self.distance(heights)
        if asked is not None:
            values = np.where(asked[0], values, np.nan)
        return [Measure("gap", self.where, "wheel", Quantity.LENGTH, bound, values, np.zeros((len(heights), 3)))]


def straight(where: str, slope: float, at: float) -> MadeUpGap:
    """A pair that touches from a height on."""
    return MadeUpGap(where, lambda heights: slope * (at - heights))


class TestTouches:
    """Distances of parts come from elsewhere; here a made-up one over the wheel's height."""

    def test_a_touch_is_found(self) -> None:
        bump, _ = usable_travel(zoo.built(damped_arm()), straight("wheel – arch", 0.8, 44.4))
        found = first(bump, Cause.TOUCH)
        assert (found.where, found.amount) == ("wheel – arch", pytest.approx(44.4, abs=CLOSE))
        # It harms, and a car goes there all the same.
        assert bump.unharmed == found.amount
        assert bump.usable > found.amount

    def test_a_touch_between_two_nodes_is_found(self) -> None:
        """It touches from 36.3 to 38.3 mm only; the nodes are 8.3 mm apart, at 33.3 and 41.7 mm."""
        post = MadeUpGap("wheel – post", lambda heights: ((heights - 37.3) ** 2 - 1.0) / 50.0)
        bump, _ = usable_travel(zoo.built(damped_arm()), post)
        assert first(bump, Cause.TOUCH).amount == pytest.approx(36.3, abs=CLOSE)


class TestInside:
    """Limits are judged where a real car can be put; beyond that on request."""

    def too_long(self) -> Poses:
        """The damper bottoms at about 75 mm up, the bush is wound to its limit at 98 mm, 130 mm is asked for."""
        data = damped_arm(130.0, "soft", compressed=282.0, extended=520.0)
        data["joint"] = {"soft": {"kind": "rubber bush", "turn": 14.2}}
        mechanism = zoo.built(data)
        return solve(mechanism, grid(mechanism, 53))

    def test_only_what_the_damper_allows(self) -> None:
        poses = self.too_long()
        mask = inside(poses)
        # 0.001 mm: the solver's lengths; no grid height lies that near.
        assert mask.tolist() == (poses.travel.values[:, 0] <= height(282.0) + 0.001).tolist()

    def test_a_joint_that_runs_out_beyond_the_damper(self) -> None:
        poses = self.too_long()
        bumped = poses.take(np.flatnonzero(poses.travel.values[:, 0] >= -90.0))
        within = judge(bumped.take(np.flatnonzero(inside(bumped))))
        assert {finding.what for finding in within.findings if finding.state is State.OVER} == set()
        beyond = {finding.what for finding in judge(bumped).findings if finding.state is State.OVER}
        assert beyond == {"wind-up", "stroke in"}

    def test_a_bump_stop_and_a_joint_do_not_count(self) -> None:
        mechanism = zoo.built(zoo.trailing_arm(RADIUS, 180.0, "rubber bush"))
        assert inside(solve(mechanism, grid(mechanism))).all()
        mechanism = zoo.built(damped_arm(40.0, bump_stop=90.0))
        assert inside(solve(mechanism, grid(mechanism))).all()

    def test_a_strap_and_a_solid_spring_count(self) -> None:
        mechanism = zoo.built(with_strap(damped_arm(spring=spring(120.0)), 300.0))
        poses = solve(mechanism, grid(mechanism, 41))
        heights = poses.travel.values[inside(poses), 0]
        step = 5.0  # between neighbours in the grid
        assert 0.0 <= height(430.0 - 120.0) - heights.max() < step
        assert 0.0 <= heights.min() - height(300.0, STRAP_FOOT, STRAP_TOP) < step

    def test_a_lock_is_kept_where_nothing_stops_it_sooner(self) -> None:
        data = zoo.parallel_arms(350.0, 400.0)
        mechanism = zoo.built(data)
        poses = solve(mechanism, grid(mechanism))
        assert (poses.status == Status.LOCKED).any()
        assert inside(poses).all()
        data["points"] |= {"foot": [0.0, 600.0, 180.0], "top": [0.0, 300.0, 700.0]}
        unit = {"top": zoo.end("top", "frame"), "bottom": zoo.end("foot", "knuckle")}
        data["coilover"] = {"coilover": unit | {"compressed": 480.0, "extended": 720.0}}
        damped = zoo.built(data)
        poses = solve(damped, grid(damped))
        assert not inside(poses)[poses.status == Status.LOCKED].any()


def late_stops(mechanism: Mechanism, reaches: Sequence[Reach] | None = None) -> tuple[Finding, ...]:
    """Bump stops that act too late, found in a grid of poses every 5 mm of 100 mm."""
    return stop_findings(reaches or usable_travel(mechanism), solve(mechanism, grid(mechanism, 41)))


class TestBumpStops:
    """S: a bump stop acts before the damper bottoms, before coil bind, before the tyre touches."""

    def test_in_time(self) -> None:
        mechanism = zoo.built(damped_arm(spring=spring(60.0)))
        assert late_stops(mechanism) == ()

    @pytest.mark.parametrize("name", zoo.RIGID)
    def test_scenes_are_in_time(self, name: str) -> None:
        mechanism = zoo.built(zoo.scene_data(name))
        assert late_stops(mechanism) == ()

    def test_the_spring_goes_solid_first(self) -> None:
        mechanism = zoo.built(damped_arm(spring=spring(130.0)))
        (found,) = late_stops(mechanism)
        assert (found.what, found.state) == ("bump stop acts too late", State.OVER)
        assert found.where == "coilover, after the spring goes solid"
        # D: the spring is solid at 430 − (250 − 130 − 10) = 320 mm, the stop touches at 285 mm.
        assert found.used == pytest.approx(height(285.0) - height(320.0), abs=CLOSE)
        assert found.drives == pytest.approx((height(320.0),), abs=CLOSE)
        nearest = grid(mechanism, 41).values[found.pose, 0]
        assert abs(nearest - height(320.0)) <= 2.5

    def test_beyond_the_travel_asked_for_it_is_only_close(self) -> None:
        """The spring is solid at 320 mm, some 36 mm up: beyond 30 mm of bump, inside 45 mm."""
        assert 30.0 < height(320.0) < 45.0
        for travel, state in ((30.0, State.CLOSE), (45.0, State.OVER)):
            (found,) = late_stops(zoo.built(damped_arm(travel, spring=spring(130.0))))
            assert found.state is state

    def test_no_bump_stop_given_is_not_judged(self) -> None:
        data = damped_arm(spring=spring(130.0))
        del data["coilover"]["coilover"]["bump_stop"]
        mechanism = zoo.built(data)
        assert late_stops(mechanism) == ()

    def test_the_tyre_touches_first(self) -> None:
        mechanism = zoo.built(damped_arm())
        name = mechanism.wheels[0].name
        tyre = usable_travel(mechanism, straight(f"{name} – arch", 1.0, 30.0))
        (found,) = late_stops(mechanism, tyre)
        assert found.where == f"coilover, after the {name} meets the arch"
        assert found.used == pytest.approx(height(285.0) - 30.0, abs=CLOSE)
        other = usable_travel(mechanism, straight("hose – arm", 1.0, 30.0))
        assert late_stops(mechanism, other) == ()

    def test_a_stop_that_is_out_of_sight_is_late_by_at_least_what_was_looked(self) -> None:
        mechanism = zoo.built(damped_arm(40.0, spring=spring(150.0), bump_stop=1.0))
        bump, _ = found = usable_travel(mechanism)
        assert Cause.BUMP_STOP not in causes(bump)
        (late,) = late_stops(mechanism, found)
        assert late.used == pytest.approx(60.0 - height(340.0), abs=CLOSE)
