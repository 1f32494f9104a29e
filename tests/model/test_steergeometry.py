"""Ideal steer angles and turning circles against a worked example and a drawing to scale."""

from __future__ import annotations

import numpy as np
import pytest
from zoo import built, scene_data, travel_of

from model import steergeometry
from model.curves import curve, curves
from model.solver import solve

TRACK, WHEELBASE = 1200.0, 2700.0


def test_the_ideal_outer_angle_of_the_worked_example() -> None:
    # D cot(outer) − cot(inner) = track/wheelbase: 1.2, 2.7, inner 40° is outer 31.43°.
    found = np.degrees(steergeometry.ideal_outer(np.radians(np.array(40.0)), TRACK, WHEELBASE))
    assert found == pytest.approx(31.43, abs=0.005)


def test_wheels_that_agree_on_a_centre_turn_about_it() -> None:
    inner = np.radians(np.array([6.0, 20.0, 40.0]))
    outer = steergeometry.ideal_outer(inner, TRACK, WHEELBASE)
    assert steergeometry.ackermann(inner, outer, TRACK, WHEELBASE) == pytest.approx(1.0)
    assert steergeometry.ackermann(inner, inner, TRACK, WHEELBASE) == pytest.approx(0.0)
    # D: the outer wheel stands wheelbase / sin(outer) from the centre on the other axle's line.
    circle = steergeometry.turning_circle(inner, outer, TRACK, WHEELBASE)
    assert circle == pytest.approx(2.0 * WHEELBASE / np.sin(outer))


def test_the_inner_wheel_is_the_one_on_the_side_that_is_turned_to() -> None:
    left, right = np.radians([[30.0, -25.0, 1.0], [25.0, -30.0, 1.0]])
    inner, outer = np.degrees(steergeometry.inner_and_outer(left, right))
    assert inner == pytest.approx([30.0, 30.0, np.nan], nan_ok=True)
    assert outer == pytest.approx([25.0, 25.0, np.nan], nan_ok=True)


def test_a_scene_is_judged_only_with_a_wheelbase() -> None:
    mechanism = built(scene_data("wren_front"))
    poses = solve(mechanism, travel_of(mechanism, np.array([[0.0, 0.0, 1.0], [0.0, 0.0, 0.0], [0.0, 0.0, -1.0]])))
    assert not any(each.what == "Ackermann" for each in curves(poses))
    found = {each.what: each.values for each in curves(poses, 2300.0) if each.where == "axle"}
    # A symmetric car turns as tightly to the right: what the solver leaves of 1e-9 mm.
    assert found["turning circle"][0] == pytest.approx(found["turning circle"][2], rel=1e-9)
    assert np.isnan(found["Ackermann"][1])
    assert curve(poses, "steer angle", "left wheel").values[0] == pytest.approx(found["inner steer angle"][0])
    assert curve(poses, "steer angle", "right wheel").values[0] == pytest.approx(found["outer steer angle"][0])
