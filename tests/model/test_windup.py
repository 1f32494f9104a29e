"""Wind-up of bonded bushes: a trailing arm in closed form, its balance against scipy, and numbers that lack."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq
from zoo import built, end, scene_data, trailing_arm, travel_of

from model.errors import SceneError
from model.findings import judge
from model.mechanism import Mechanism
from model.solver import solve
from model.travel import grid
from model.verdicts import State
from model.windup import NoShift, RideShift, WindUp, ride_shifts, wind_ups

RADIUS, TRAVEL = 400.0, 100.0
# 1e-9 mm of the solver at an arm of some 100 mm.
TURN = 1e-10
RATE = 3.0  # N·m for a degree
FULL = np.arcsin(TRAVEL / RADIUS)  # D: how far the arm has turned at either end of travel


def _arm(torqued_at: Any = None, rate: float | None = RATE, **spring: float) -> dict[str, Any]:
    """A trailing arm on two bonded bushes, with a coilover from (100, 300) of its wheel's plane straight up."""
    data = trailing_arm(RADIUS, TRAVEL, "bush")
    bush: dict[str, Any] = {"kind": "rubber bush", "turn": 20.0}
    if torqued_at is not None:
        bush["torqued_at"] = torqued_at
    if rate is not None:
        bush["rates"] = {"turn": rate}
    data["joint"] = {"bush": bush}
    data["points"] |= {"top": [100.0, 620.0, 640.0], "foot": [100.0, 620.0, 300.0]}
    data["coilover"] = {
        "coilover": {
            "top": end("top", "frame"),
            "bottom": end("foot", "trailing arm"),
            "compressed": 240,
            "extended": 440,
            "spring": {"rate": 30, "free_length": 300, "preload": 20} | spring,
        }
    }
    return data


def _wound(data: dict[str, Any]) -> list[WindUp]:
    found = wind_ups(built(data))
    assert [(bush.member, bush.end.point) for bush in found] == [("trailing arm", "near"), ("trailing arm", "far")]
    return list(found)


def test_a_trailing_arms_bushes_wind_by_the_arc_sine_from_where_they_were_tightened() -> None:
    for bush in _wound(_arm()):
        ride, droop = bush.wound
        assert (bush.own, ride.tightened, droop.tightened) == ("ride", "ride", "droop")
        sign = np.sign(ride.wind_up[2])
        # D: −asin, 0 and +asin of travel over radius; hanging moves all three by the first.
        assert np.abs(sign * np.array(ride.wind_up) - [-FULL, 0.0, FULL]).max() < TURN
        assert np.abs(sign * np.array(droop.wind_up) - [0.0, FULL, 2.0 * FULL]).max() < TURN
        assert ride.share == pytest.approx(np.degrees(FULL) / 20.0, rel=1e-9)
        assert droop.share == pytest.approx(np.degrees(2.0 * FULL) / 20.0, rel=1e-9)
        for way in bush.wound:
            assert way.torque is not None
            # RATE N·m for a degree.
            assert np.abs(np.array(way.torque) - 1000.0 * RATE * np.degrees(way.wind_up)).max() < 1e-9 * 1e5


@pytest.mark.parametrize(("own", "height"), [("bump", TRAVEL), (-35.0, -35.0), (62.5, 62.5)])
def test_a_third_way_of_tightening_is_the_scenes_own(own: str | float, height: float) -> None:
    for bush in _wound(_arm(own)):
        assert [way.tightened for way in bush.wound] == ["ride", "droop", own]
        turned = np.arcsin(np.array([-TRAVEL, 0.0, TRAVEL]) / RADIUS) - np.arcsin(height / RADIUS)
        sign = np.sign(bush.wound[0].wind_up[2])
        assert np.abs(sign * np.array(bush.wound[2].wind_up) - turned).max() < TURN


@pytest.mark.parametrize(
    ("own", "height"), [(None, 0.0), ("ride", 0.0), ("droop", -TRAVEL), ("bump", TRAVEL), (40.0, 40.0)]
)
def test_the_finding_counts_from_where_the_bush_was_tightened(own: str | float | None, height: float) -> None:
    mechanism = built(_arm(own))
    found = [one for one in judge(solve(mechanism, grid(mechanism, 9))).findings if one.what == "wind-up"]
    assert len(found) == 2
    worst = max(abs(np.arcsin(z / RADIUS) - np.arcsin(height / RADIUS)) for z in (-TRAVEL, TRAVEL))
    for one in found:
        assert one.used == pytest.approx(worst, abs=TURN)
        assert one.ride == pytest.approx(abs(np.arcsin(height / RADIUS)), abs=TURN)
        assert one.state is (State.OVER if np.degrees(worst) > 20.0 else State.CLEAR)


def test_a_height_in_inches_is_the_same_height() -> None:
    data = _arm(-1.25)
    data["units"] = "in"
    data["points"] = {name: [x / 25.4 for x in at] for name, at in data["points"].items()}
    data["travel"] = {"bump": TRAVEL / 25.4, "droop": TRAVEL / 25.4}
    data["wheel"]["wheel"] |= {"loaded_radius": 12.0, "width": 7.0}
    del data["coilover"], data["joint"]["bush"]["rates"]
    for bush in wind_ups(built(data)):
        assert bush.wound[2].tightened == pytest.approx(-31.75, rel=1e-14)
        assert abs(bush.wound[2].wind_up[1]) == pytest.approx(np.arcsin(31.75 / RADIUS), abs=TURN)


@pytest.mark.parametrize("height", [-100.5, 101.0])
def test_a_torque_height_outside_the_travel_is_one_sentence(height: float) -> None:
    with pytest.raises(SceneError) as raised:
        built(_arm(height))
    assert raised.value.complaints == (
        f'[joint."bush"] has torqued_at = {height:g}, outside the travel of -100 to 100 mm; give a height inside it, '
        '"ride", "droop" or "bump".',
    )


def _closed_form(tight: float, springs: float = 30.0, preload: float = 20.0, bushes: float = 2.0) -> float:
    """Height of the wheel where a trailing arm stands, its bushes tightened at a height: D, by virtual work.

    The foot is 300 behind the pivots and level with them; the top is 340 above it. Both bushes turn by asin(z/R).
    """
    rate = 1000.0 * np.degrees(RATE)

    def turn(z: float) -> float:
        return float(np.arcsin(z / RADIUS))

    def slope(z: float) -> float:
        return float(1.0 / np.sqrt(RADIUS**2 - z**2))

    def spring(z: float) -> float:
        a = turn(z)
        foot = np.array([400.0 - 300.0 * np.cos(a), 300.0 + 300.0 * np.sin(a)])
        along = np.array([100.0, 640.0]) - foot
        length = float(np.linalg.norm(along))
        rise = 300.0 * np.array([np.sin(a), np.cos(a)]) * slope(z)
        return springs * max(preload + 440.0 - length, 0.0) * float(along @ rise) / length

    def excess(z: float) -> float:
        return spring(z) + bushes * rate * (turn(z) - turn(tight)) * slope(z) - spring(0.0)

    return float(brentq(excess, -99.0, 99.0, xtol=1e-12))


@pytest.mark.parametrize(
    ("own", "height", "way"),
    [("ride", -TRAVEL, "droop"), ("bump", TRAVEL, "scene"), (-20.0, -20.0, "scene"), (55.0, 55.0, "scene")],
)
def test_the_shift_of_ride_height_is_where_an_exact_balance_is(own: str | float, height: float, way: str) -> None:
    shifts = {shift.tightened: shift for shift in ride_shifts(built(_arm(own)))}
    expected = -_closed_form(height)
    # A spline through 41 heights over 200 mm is true to 1e-6 mm; the forces' slope is some 30 N/mm.
    assert shifts[way].higher == pytest.approx(expected, abs=1e-4)
    assert (shifts[way].wheel, shifts[way].why, shifts[way].lacking) == ("wheel", None, ())
    # Tightened hanging the bushes push the wheel down, and the vehicle sits higher; tightened at bump, lower.
    assert (expected > 0.5) if height < 0.0 else (expected < -0.5)


def test_tightened_at_ride_height_nothing_shifts_and_nothing_is_said_of_it() -> None:
    assert [shift.tightened for shift in ride_shifts(built(_arm()))] == ["droop"]
    assert [shift.tightened for shift in ride_shifts(built(_arm("droop")))] == ["droop"]


@pytest.mark.parametrize(("height", "word"), [(0, "ride"), (-0.0, "ride"), (-TRAVEL, "droop"), (TRAVEL, "bump")])
def test_a_height_that_has_a_word_is_no_way_of_its_own(height: float, word: str) -> None:
    mechanism, plain = built(_arm(height)), built(_arm(word))
    assert [shift.tightened for shift in ride_shifts(mechanism)] == [shift.tightened for shift in ride_shifts(plain)]
    for found, expected in zip(wind_ups(mechanism), wind_ups(plain), strict=True):
        assert found.own == word
        assert [way.tightened for way in found.wound] == [way.tightened for way in expected.wound]


@pytest.mark.parametrize(
    ("change", "why", "lacking"),
    [
        (lambda data: data["joint"]["bush"].pop("rates"), NoShift.NO_RATE, ("trailing arm",)),
        (lambda data: data["coilover"]["coilover"].pop("spring"), NoShift.NO_SPRING, ("coilover",)),
        (lambda data: data.pop("coilover"), NoShift.NO_SPRING, ()),
    ],
)
def test_a_number_that_lacks_is_named(change: Any, why: NoShift, lacking: tuple[str, ...]) -> None:
    data = _arm()
    change(data)
    shift = ride_shifts(built(data))[-1]
    assert (shift.higher, shift.why, shift.lacking) == (None, why, lacking)


def test_a_spring_that_gives_way_has_no_balance() -> None:
    # D: a spring that leans over its arm, from the foot to 100 short of the pivots: its lever is 30 − 100 sin(turn) of
    # 202 mm, so that the wheel is lifted the less the higher it is, by 1.2 N/mm; the bushes take back a sixteenth.
    data = _arm(rate=0.1)
    data["points"]["top"] = [300.0, 620.0, 330.0]
    data["coilover"]["coilover"] |= {"compressed": 120, "extended": 260}
    data["coilover"]["coilover"]["spring"] = {"rate": 5.0, "free_length": 400, "preload": 200}
    (shift,) = ride_shifts(built(data))
    assert (shift.higher, shift.why) == (None, NoShift.NO_BALANCE)


def _two_arms() -> dict[str, Any]:
    data = _arm()
    for table in ("arm", "wheel", "coilover"):
        for entry in data[table].values():
            entry["mirror"] = True
    return data


def _by_wheel(mechanism: Mechanism) -> dict[str, RideShift]:
    return {shift.wheel: shift for shift in ride_shifts(mechanism) if shift.tightened == "droop"}


def test_two_sides_sprung_apart_shift_as_one_alone() -> None:
    shifts = _by_wheel(built(_two_arms()))
    assert set(shifts) == {"left wheel", "right wheel"}
    for shift in shifts.values():
        assert shift.higher == pytest.approx(-_closed_form(-TRAVEL), abs=1e-4)  # as above


def test_two_sides_sprung_apart_shift_each_by_its_own_springs() -> None:
    data = _arm()
    for name in ("near", "far", "centre", "top", "foot"):
        x, y, z = data["points"][name]
        data["points"][f"other {name}"] = [x, -y, z]
    for table, name in (("arm", "trailing arm"), ("wheel", "wheel"), ("coilover", "coilover")):
        entry = copy.deepcopy(data[table][name])
        data[table][f"other {name}"] = entry
    arm, wheel = data["arm"]["other trailing arm"], data["wheel"]["other wheel"]
    for pivot in arm["pivots"]:
        pivot["point"] = f"other {pivot['point']}"
    wheel |= {"on": "other trailing arm", "centre": "other centre"}
    unit = data["coilover"]["other coilover"]
    unit["top"] |= {"point": "other top"}
    unit["bottom"] |= {"point": "other foot", "on": "other trailing arm"}
    unit["spring"]["rate"] = 75
    shifts = _by_wheel(built(data))
    soft, stiff = -_closed_form(-TRAVEL), -_closed_form(-TRAVEL, springs=75.0)
    assert soft > 1.2 * stiff
    assert shifts["wheel"].higher == pytest.approx(soft, abs=1e-4)  # as above
    assert shifts["other wheel"].higher == pytest.approx(stiff, abs=1e-4)


def test_of_two_balances_the_vehicle_rests_in_the_one_nearer_to_ride_height() -> None:
    # A second spring that is shortest with the wheel 70 mm down, 40 mm long: below that it holds the wheel up once
    # more, until it comes free at some 137 mm.
    data = _arm(rate=0.3)
    data["travel"] = {"bump": 160.0, "droop": 160.0}
    data["coilover"]["coilover"] |= {"compressed": 100, "extended": 440}
    sink = np.arcsin(70.0 / RADIUS)
    data["points"] |= {
        "second foot": [100.0, 620.0, 300.0],
        "second top": [400.0 - 340.0 * float(np.cos(sink)), 620.0, 300.0 - 340.0 * float(np.sin(sink))],
    }
    data["coilover"]["second"] = {
        "top": end("second top", "frame"),
        "bottom": end("second foot", "trailing arm"),
        "compressed": 20,
        "extended": 70,
        "spring": {"rate": 300, "free_length": 70},
    }
    (shift,) = ride_shifts(built(data))
    assert shift.higher is not None
    assert 0.0 < shift.higher < 30.0


def test_hanging_is_hanging_straight_ahead() -> None:
    # D: a scene that is its own mirror image hangs so too; at full lock its two sides would not.
    turned = {(bush.member, bush.end.place): bush for bush in wind_ups(built(scene_data("parcel_front")))}
    assert len(turned) == 4
    for (member, place), left in turned.items():
        if member.startswith("left "):
            right = turned[member.replace("left ", "right ", 1), place]
            for one, other in zip(left.wound, right.wound, strict=True):
                assert np.abs(one.wind_up) == pytest.approx(np.abs(other.wind_up), abs=1e-9)


def test_a_live_axle_on_bonded_bushes_shifts_at_both_wheels_alike() -> None:
    data = scene_data("wren_rear")
    for link in data["link"].values():
        for key in ("from", "to"):
            link[key]["joint"] = "bush"
            link[key].pop("engaged", None)
    data["joint"]["bush"] = {"kind": "rubber bush", "rates": {"turn": 1.5}}
    shifts = _by_wheel(built(data))
    assert set(shifts) == {"left wheel", "right wheel"}
    left, right = shifts["left wheel"].higher, shifts["right wheel"].higher
    assert left is not None
    assert left == right
    assert 0.1 < left < 20.0


def test_a_scene_without_rubber_has_no_wind_up_and_no_shift() -> None:
    mechanism = built(scene_data("wren_rear"))
    assert wind_ups(mechanism) == ()
    assert ride_shifts(mechanism) == ()


def test_a_linkage_that_locks_on_the_way_is_balanced_in_what_it_reaches() -> None:
    data = _arm(rate=0.5)
    data["travel"] = {"bump": 380.0, "droop": 380.0}
    data["coilover"]["coilover"] |= {"compressed": 1.0, "extended": 900.0}
    mechanism = built(data)
    assert (solve(mechanism, travel_of(mechanism, [[380.0], [-380.0]])).reached > 0.9).all()
    (shift,) = ride_shifts(mechanism)
    assert shift.higher is not None


def test_where_the_linkage_locks_on_the_way_it_is_said_at_which_height() -> None:
    # D: the wheel of a 400 mm arm goes no further down or up than 400 mm, where the arm stands straight up.
    data = _arm("droop", rate=None)
    data["travel"] = {"bump": 450.0, "droop": 450.0}
    data["coilover"]["coilover"] |= {"compressed": 1.0, "extended": 900.0}
    for bush in wind_ups(built(data)):
        # The search for the last height that is reached stops so near to it.
        assert (bush.droop_locks_at, bush.bump_locks_at) == pytest.approx((-RADIUS, RADIUS), abs=1.0)
        ride, droop = bush.wound
        assert ride.locks_at is None
        assert droop.locks_at == bush.droop_locks_at
        # A quarter turn, short of the last mm: acos(399 / 400) is 4.1 degrees.
        assert abs(droop.wind_up[1]) == pytest.approx(np.pi / 2.0, abs=np.radians(4.1))
    for bush in wind_ups(built(_arm("droop"))):
        assert (bush.droop_locks_at, bush.bump_locks_at) == (None, None)
        assert [way.locks_at for way in bush.wound] == [None, None]
