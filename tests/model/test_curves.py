"""Curves against differences of poses that are solved again, closed forms and worked examples."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from zoo import NAMES, built, parallel_arms, scene_data, short_steering_arm, steered_axle, travel_of

from model.antiroll import bar_rate
from model.curveruns import chosen_runs, curve_runs
from model.curves import Amount, curve, curves
from model.cycles import Cycle
from model.errors import CallError
from model.mechanism import Mechanism
from model.members import posture
from model.poses import Poses, Status
from model.rates import Moving, rate_of, ride_frequency, spring_force, wheel_columns
from model.solver import solve
from model.spatial import Array, across, norm
from model.tangents import velocities
from model.units import KG_FORCE, MM_PER_INCH, N_PER_LBF
from model.wheelgeometry import screw_axis
from model.wheelmotion import _steered, steering_axis, wheel_motions


def _inside(mechanism: Mechanism, count: int = 6) -> Array:
    """Drive values (count, D) in the inner half of the travel, where every spring is squeezed."""
    low, high = (np.array([getattr(drive, end) for drive in mechanism.drives]) for end in ("low", "high"))
    return 0.5 * (low + (high - low) * np.random.default_rng(11).uniform(0.05, 0.95, size=(count, len(low))))


def _along(mechanism: Mechanism, *wheels: float) -> Array:
    """A move of the wheels (D,), left and right, in the order of the drives."""
    move = np.zeros(len(mechanism.drives))
    for column, wheel in zip(wheel_columns(mechanism), wheels, strict=True):
        move[column] = wheel
    assert [mechanism.drives[column].name for column in wheel_columns(mechanism)] == ["left", "right"]
    return move


def _slope(mechanism: Mechanism, values: Array, move: Array, measure: Callable[[Poses], Array], step: float) -> Array:
    """How fast a measure changes along a move, by differences of the fourth order of poses that are solved again."""
    found = []
    for k in (-2, -1, 1, 2):
        poses = solve(mechanism, travel_of(mechanism, values + k * step * move))
        assert (poses.status == Status.SOLVED).all()
        found.append(measure(poses))
    return np.asarray((8.0 * (found[2] - found[1]) - (found[3] - found[0])) / (12.0 * step))


def _bend(mechanism: Mechanism, values: Array, move: Array, measure: Callable[[Poses], Array], step: float) -> Array:
    """How fast its slope changes."""
    return _slope(mechanism, values, move, lambda poses: _slope(
        mechanism, poses.travel.values, move, measure, step), step)  # fmt: skip


def _energy(poses: Poses) -> Array:
    """What the springs of all coilovers hold (N,) in N·mm, from their lengths."""
    total = np.zeros(len(poses))
    for stroke in posture(poses).strokes:
        force, rate = spring_force(stroke.coilover, stroke.length)
        total += np.divide(0.5 * force**2, rate, out=np.zeros_like(force), where=rate > 0.0)
    return total


def _bar_energy(poses: Poses) -> Array:
    """What the anti-roll bars hold (N,) in N·mm, from the turns of their arms."""
    turns = {each.arm: each.turn for each in posture(poses).bar_arms}
    total = np.zeros(len(poses))
    for bar in poses.mechanism.bars:
        total += 0.5 * (rate_of(bar) or 0.0) * (turns[bar.arms[1]] - turns[bar.arms[0]]) ** 2
    return total


@pytest.mark.parametrize("name", NAMES)
def test_the_wheel_rate_is_how_fast_the_springs_energy_bends(name: str) -> None:
    mechanism = built(scene_data(name))
    values, together = _inside(mechanism), _along(mechanism, 1.0, 1.0)
    wanted = _bend(mechanism, values, together, _energy, 2.0)
    poses = solve(mechanism, travel_of(mechanism, values))
    found = sum(each.values for each in curves(poses) if each.what == "wheel rate")
    # Lengths to 1e-9 mm under 5 kN, twice over steps of 2 mm: 1e-5 N/mm at most, of some 50.
    assert np.abs(found - wanted).max() < 2e-5


@pytest.mark.parametrize("name", NAMES)
def test_roll_stiffness_is_how_fast_energy_bends_while_the_body_rolls(name: str) -> None:
    mechanism = built(scene_data(name))
    values, crossed = _inside(mechanism), _along(mechanism, 1.0, -1.0)
    poses = solve(mechanism, travel_of(mechanism, values))
    track = curve(poses, "track").values
    for where, energy in (("springs", _energy), ("anti-roll bar", _bar_energy)):
        if where == "springs" or mechanism.bars:
            wanted = 0.25 * track**2 * _bend(mechanism, values, crossed, energy, 2.0)
            # As above, times the square of half a track of 0.7 m: 10 N·mm/rad, of some 1e7.
            assert curve(poses, "roll stiffness", where).values == pytest.approx(wanted, rel=2e-6)


@pytest.mark.parametrize("name", NAMES)
def test_motion_ratios_are_slopes_of_lengths_of_poses_solved_again(name: str) -> None:
    mechanism = built(scene_data(name))
    values = _inside(mechanism)
    poses = solve(mechanism, travel_of(mechanism, values))

    def lengths(now: Poses) -> Array:
        return np.stack([stroke.length for stroke in posture(now).strokes])

    together = _slope(mechanism, values, _along(mechanism, 1.0, 1.0), lengths, 1.0)
    crossed = _slope(mechanism, values, _along(mechanism, 1.0, -1.0), lengths, 1.0)
    names = [stroke.coilover.name for stroke in posture(poses).strokes]
    found = {(each.what, each.where): each.values for each in curves(poses)}
    for number, coilover in enumerate(names):
        # The solver's 1e-9 mm over 1 mm.
        assert found["motion ratio", coilover] == pytest.approx(-together[number], rel=1e-6)
        if ("motion ratio crossed", coilover) in found:
            sign = 1.0 if coilover.startswith("right") else -1.0
            assert found["motion ratio crossed", coilover] == pytest.approx(sign * crossed[number], rel=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_bump_steer_and_camber_change_are_slopes_of_toe_and_camber(name: str) -> None:
    mechanism = built(scene_data(name))
    values, together = _inside(mechanism), _along(mechanism, 1.0, 1.0)
    poses = solve(mechanism, travel_of(mechanism, values))
    for what, slope in (("toe", "bump steer"), ("camber", "camber change")):
        for side in ("left wheel", "right wheel"):
            wanted = _slope(mechanism, values, together, lambda now, of=(what, side): curve(now, *of).values, 1.0)
            # 1e-6 of 1 mm over 1 m, where there is next to none.
            assert curve(poses, slope, side).values == pytest.approx(wanted, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_force_angles_are_slopes_of_paths_of_poses_solved_again(name: str) -> None:
    mechanism = built(scene_data(name))
    values, together = _inside(mechanism), _along(mechanism, 1.0, 1.0)
    poses = solve(mechanism, travel_of(mechanism, values))
    for wheel in mechanism.wheels:
        number = mechanism.body_number(wheel.on)
        (now,) = (each for each in wheel_motions(Moving(poses, velocities(poses))) if each.wheel is wheel)
        held = np.einsum("nji,nj->ni", poses.rotation[number], now.contact - poses.translation[number])

        def carried(posed: Poses, number: int = number, held: Array = held) -> Array:
            return np.asarray(np.einsum("nij,nj->ni", posed.rotation[number], held) + posed.translation[number])

        path = _slope(mechanism, values, together, carried, 1.0)
        found = curve(poses, "braking force angle", f"{wheel.side} wheel").values
        # An outboard brake: the wheel is one with its carrier.
        assert found == pytest.approx(np.arctan2(path[:, 0], path[:, 2]), abs=1e-8)


def test_the_bar_arms_turn_as_those_of_poses_solved_again() -> None:
    mechanism = built(scene_data("wren_front"))
    values = _inside(mechanism)
    poses = solve(mechanism, travel_of(mechanism, values))
    moving = Moving(poses, velocities(poses))
    for bar in mechanism.bars:
        for number, arm in enumerate(bar.arms):
            turned, rates = moving.bar_arm(bar, number)

            def turn(now: Poses, arm: str = arm) -> Array:
                return next(each.turn for each in posture(now).bar_arms if each.arm == arm)

            assert turned == pytest.approx(turn(poses), abs=1e-12)
            for column in wheel_columns(mechanism):
                wanted = _slope(mechanism, values, np.eye(len(mechanism.drives))[column], turn, 1.0)
                # 1e-9 mm over 1 mm and levers of 100 mm and more.
                assert rates[column] == pytest.approx(wanted, abs=1e-10)
    # D: the arm's end goes round the bar with its lever; up while its wheel goes up.
    found = curve(poses, "bar motion ratio", "left anti-roll bar").values
    lever = norm(across(bar.ends[0] - bar.pivots[0].at, bar.axis))
    assert found == pytest.approx(np.abs(lever * moving.bar_arm(bar, 0)[1][0]))


def test_a_bar_of_a_handbook_is_as_stiff_as_the_handbook_says() -> None:
    # M Puhn, 500000·D⁴/(0.4244 A² B + 0.2264 C³): D 1, A 10, B 36, C 11 in are 273.35 lbf/in at the ends of its arms.
    # Its factors are those of steel of E 30 and G 12 Mpsi, rounded to four digits.
    psi = N_PER_LBF / MM_PER_INCH**2
    found = bar_rate(
        MM_PER_INCH, 36.0 * MM_PER_INCH, np.full(2, 10.0 * MM_PER_INCH), np.full(2, 11.0 * MM_PER_INCH),
        young=30e6 * psi, shear=12e6 * psi,
    )  # fmt: skip
    at_ends = found / (10.0 * MM_PER_INCH) ** 2 * MM_PER_INCH / N_PER_LBF
    assert at_ends == pytest.approx(273.35, rel=2e-4)


def test_the_wheel_rate_and_frequency_of_a_handbook() -> None:
    # Barton & Fieldhouse, Automotive Chassis Engineering, eq. 3.33: 60 N/mm at motion ratio 0.7 is 29.4 N/mm; with
    # 350 kg, 1.459 Hz.
    assert ride_frequency(np.array(60.0 * 0.7**2), 350.0 * KG_FORCE) == pytest.approx(1.459, abs=5e-4)
    # McLean, Engineering Mechanics (Schaum), 19-2: 18 lb/in under 35 lb, 134.5 cycles a minute.
    rate = np.array(18.0 * N_PER_LBF / MM_PER_INCH)
    assert 60.0 * ride_frequency(rate, 35.0 * N_PER_LBF) == pytest.approx(134.5, abs=0.1)


def test_a_tyre_gives_way_in_series_and_a_rate_below_nought_does_not_swing() -> None:
    # D: two equal springs in series are half as stiff.
    alone = ride_frequency(np.array([20.0]), 3000.0)
    assert ride_frequency(np.array([40.0]), 3000.0, 40.0) == pytest.approx(alone)
    assert np.isnan(ride_frequency(np.array([-1.0, 0.0]), 3000.0)).all()


def test_a_bar_without_rate_or_diameter_is_left_out() -> None:
    data = scene_data("wren_front")
    del data["bar"]["anti-roll bar"]["diameter"]
    mechanism = built(data)
    poses = solve(mechanism, travel_of(mechanism, np.zeros((1, 3))))
    assert [each.where for each in curves(poses) if each.what == "roll stiffness"] == ["springs"]
    data["bar"]["anti-roll bar"]["rate"] = 30.0
    mechanism = built(data)
    assert rate_of(mechanism.bars[0]) == pytest.approx(30.0 * 1000.0 * 180.0 / np.pi)


@pytest.mark.parametrize("name", ["wren_front", "parcel_front"])
def test_the_line_of_both_joints_is_the_screw_axis_of_steering_with_the_coilover_held(name: str) -> None:
    mechanism = built(scene_data(name))
    poses = solve(mechanism, travel_of(mechanism, _inside(mechanism)))
    moving = Moving(poses, velocities(poses))
    for wheel in wheel_motions(moving):
        line = steering_axis(moving, wheel)
        assert line is not None
        assert mechanism.steer is not None
        point, direction = screw_axis(_steered(moving, wheel, mechanism.steer))
        # Twists to 1e-9.
        assert np.abs(direction - line[1]).max() < 1e-9
        assert np.abs(np.cross(point - line[0], direction)).max() < 1e-6


def test_a_kingpin_is_what_a_knuckle_on_an_axle_turns_about() -> None:
    mechanism = built(steered_axle())
    values = 0.5 * _inside(mechanism)
    poses = solve(mechanism, travel_of(mechanism, values))
    moving = Moving(poses, velocities(poses))
    axle = moving.twist("axle")
    for wheel in wheel_motions(moving):
        line = steering_axis(moving, wheel)
        assert line is not None
        assert mechanism.steer is not None
        _, direction = screw_axis(wheel.twists[mechanism.steer] - axle[mechanism.steer])
        assert np.abs(direction - line[1]).max() < 1e-9


def test_a_wheel_that_cannot_turn_has_a_steering_axis_only_where_its_joints_make_one() -> None:
    data = parallel_arms()
    mechanism = built(data)
    poses = solve(mechanism, travel_of(mechanism, np.array([-30.0, 0.0, 30.0])))
    # D: both balls stand above each other, and parallel arms keep them so.
    assert curve(poses, "caster").values == pytest.approx(np.zeros(3), abs=1e-9)
    assert curve(poses, "scrub radius").values == pytest.approx(np.full(3, 670.0 - 600.0), abs=1e-9)
    axle = built(scene_data("tarn_rear"))
    still = solve(axle, travel_of(axle, np.zeros((1, 2))))
    assert not any(each.what == "caster" for each in curves(still))


def test_at_ride_height_the_wheels_stand_as_the_scene_says() -> None:
    mechanism = built(scene_data("wren_front"))
    poses = solve(mechanism, travel_of(mechanism, np.zeros((1, 3))))
    for side in ("left wheel", "right wheel"):
        assert np.degrees(curve(poses, "camber", side).values) == pytest.approx([-0.5])
        assert np.degrees(curve(poses, "toe", side).values) == pytest.approx([0.1])
    with pytest.raises(KeyError):
        curve(poses, "camber", "axle")


def test_locked_poses_have_no_values_and_do_not_change_those_of_others() -> None:
    mechanism = built(short_steering_arm() | {"adjust": {}})
    values = np.array([[0.0, 0.0, -1.0], [10.0, -5.0, 0.1]])
    poses = solve(mechanism, travel_of(mechanism, values))
    assert poses.status.tolist() == [Status.LOCKED, Status.SOLVED]
    alone = curves(solve(mechanism, travel_of(mechanism, values[1:])))
    for each, other in zip(curves(poses), alone, strict=True):
        assert np.isnan(each.values[0])
        assert each.values[1:] == pytest.approx(other.values, abs=1e-9, nan_ok=True)


@pytest.mark.parametrize("name", NAMES)
def test_many_poses_at_once_are_what_each_is_alone(name: str) -> None:
    mechanism = built(scene_data(name))
    values = _inside(mechanism, 3)
    whole = curves(solve(mechanism, travel_of(mechanism, values)), 2500.0)
    for number in range(3):
        alone = curves(solve(mechanism, travel_of(mechanism, values[number : number + 1])), 2500.0)
        for each, other in zip(whole, alone, strict=True):
            assert (each.what, each.where) == (other.what, other.where)
            # What a walk of other company leaves of 1e-9 mm, against rad, mm, N/mm and, of roll, 1e7 N·mm/rad.
            assert each.values[number] == pytest.approx(other.values[0], rel=1e-6, abs=1e-6, nan_ok=True)


def test_poses_measured_in_parts_are_what_they_are_together(monkeypatch: pytest.MonkeyPatch) -> None:
    mechanism = built(scene_data("wren_front"))
    poses = solve(mechanism, travel_of(mechanism, _inside(mechanism, 5)))
    whole = curves(poses)
    monkeypatch.setattr("model.poses.CHUNK", 2)
    for each, other in zip(curves(poses), whole, strict=True):
        assert (each.what, each.where) == (other.what, other.where)
        assert each.values == pytest.approx(other.values, rel=1e-9, abs=1e-9, nan_ok=True)


@pytest.mark.parametrize("name", ["wren_front", "parcel_front", "tarn_rear"])
def test_the_sides_of_a_car_that_mirrors_itself_mirror_each_other(name: str) -> None:
    mechanism = built(scene_data(name))
    (run,) = curve_runs(mechanism, [Cycle.CROSS], 9)
    found = {(each.what, each.where): each.values for each in run.curves}
    for (what, where), values in found.items():
        if where.startswith("left ") and "instant centre" not in what:
            other = found[what, where.replace("left", "right", 1)][::-1]
            # Positive steering and axle steer are to the left on both sides.
            sign = -1.0 if what == "steer angle" else 1.0
            # What the solver leaves of 1e-9 mm, in rad, mm and N/mm.
            assert values == pytest.approx(sign * other, rel=1e-6, abs=1e-6), what


@pytest.mark.parametrize("name", NAMES)
def test_every_curve_says_what_it_is_and_has_a_name_of_its_own(name: str) -> None:
    mechanism = built(scene_data(name))
    found = curves(solve(mechanism, travel_of(mechanism, np.zeros((1, len(mechanism.drives))))), 2500.0)
    assert len({(each.what, each.where) for each in found}) == len(found)
    assert all(each.definition and each.quantity in Amount for each in found)


def test_springs_of_other_rates_change_only_what_follows_from_rates() -> None:
    mechanism = built(scene_data("tarn_rear"))
    units = tuple(
        replace(unit, spring=replace(unit.spring, rate=2.0 * unit.spring.rate)) if unit.spring else unit
        for unit in mechanism.coilovers
    )
    poses = solve(mechanism, travel_of(mechanism, _inside(mechanism)))
    twice = replace(poses, mechanism=replace(mechanism, coilovers=units))
    for each, other in zip(curves(poses), curves(twice), strict=True):
        factor = {Amount.RATE: 2.0, Amount.ROLL_STIFFNESS: 2.0, Amount.FREQUENCY: np.sqrt(2.0)}.get(each.quantity, 1.0)
        assert other.values == pytest.approx(factor * each.values, rel=1e-9, abs=1e-9, nan_ok=True)


def test_runs_go_from_droop_to_bump_with_ride_height_in_the_middle() -> None:
    mechanism = built(scene_data("parcel_front"))
    both, cross, steer = curve_runs(mechanism, chosen_runs(mechanism, None), 9)
    assert [run.cycle for run in (both, cross, steer)] == [Cycle.BOTH, Cycle.CROSS, Cycle.STEER]
    assert (both.along[0], both.along[both.ride], both.along[-1]) == (-85.0, 0.0, 80.0)
    assert (cross.along[0], cross.along[-1]) == (-80.0, 80.0)
    # The slope between neighbours of 20 mm against the tangent: third derivatives over 20 mm.
    toe, steering = (next(each for each in both.curves if each.what == what) for what in ("toe", "bump steer"))
    assert both.slope(toe) == pytest.approx(float(steering.values[both.ride]), abs=2e-6)
    with pytest.raises(CallError):
        curve_runs(mechanism, [Cycle.BOTH], 10)
    assert chosen_runs(built(parallel_arms()), None) == (Cycle.LEFT,)
