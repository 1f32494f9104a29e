"""Angles and offsets of wheels and steering axes against the definitions they follow from."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from model import wheelgeometry as geometry
from model.spatial import unit

ANGLES = st.floats(-0.5, 0.5)
HANDS = st.sampled_from((1.0, -1.0))
UP = np.array([0.0, 0.0, 1.0])


def _turned(angle: float, about: int) -> np.ndarray:
    """Rotation by an angle about one of the axes."""
    c, s = np.cos(angle), np.sin(angle)
    one, other = [k for k in range(3) if k != about]
    sign = -1.0 if about == 1 else 1.0
    found = np.eye(3)
    found[[one, other], [one, other]] = c
    found[one, other], found[other, one] = -s * sign, s * sign
    return found


@given(ANGLES, ANGLES, HANDS)
def test_camber_and_toe_are_the_turns_that_make_them(camber: float, toe: float, hand: float) -> None:
    # D: a wheel stands straight, leans out by a turn about x (a left wheel: to the left, which is negative), then
    # points in by a turn about z (a left wheel: to the right, which is negative).
    axis = _turned(-hand * toe, 2) @ _turned(-hand * camber, 0) @ np.array([0.0, 1.0, 0.0])
    # atan2 and asin of sines to 1e-16.
    assert geometry.camber(axis, hand) == pytest.approx(camber, abs=1e-12)
    assert geometry.toe(axis, hand) == pytest.approx(toe, abs=1e-12)
    assert geometry.steer_angle(axis) == pytest.approx(-hand * toe, abs=1e-12)


@given(ANGLES, ANGLES)
def test_the_contact_is_the_lowest_point_of_the_wheels_rim(camber: float, toe: float) -> None:
    axis = _turned(toe, 2) @ _turned(camber, 0) @ np.array([0.0, 1.0, 0.0])
    centre, radius = np.array([3.0, 700.0, 310.0]), 300.0
    contact = geometry.contact_point(centre, axis, radius)
    across = unit(np.cross(axis, UP))
    turns = np.linspace(0.0, 2.0 * np.pi, 721)
    rim = centre + radius * (np.cos(turns)[:, None] * across + np.sin(turns)[:, None] * np.cross(axis, across))
    assert contact[2] <= rim[:, 2].min() + 1e-9
    assert np.linalg.norm(contact - centre) == pytest.approx(radius)
    assert (contact - centre) @ axis == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("hand", [1.0, -1.0])
def test_a_steering_axis_of_known_angles_meets_the_road_where_trigonometry_says(hand: float) -> None:
    caster, inclination = np.radians(6.0), np.radians(11.0)
    # D: tangents of both projected angles; top back and in.
    line = unit(np.array([-np.tan(caster), -hand * np.tan(inclination), 1.0]))
    point = np.array([10.0, hand * 650.0, 300.0])
    contact, axis = np.array([0.0, hand * 700.0, 0.0]), np.array([0.0, 1.0, 0.0])
    assert geometry.caster(line) == pytest.approx(caster)
    assert geometry.inclination(line, hand) == pytest.approx(inclination)
    scrub, trail = geometry.offsets_at_road(point, line, contact, axis, hand)
    assert scrub == pytest.approx(700.0 - (650.0 + 300.0 * np.tan(inclination)))
    assert trail == pytest.approx(10.0 + 300.0 * np.tan(caster))


def test_a_steering_axis_that_lies_flat_meets_the_road_nowhere() -> None:
    scrub, trail = geometry.offsets_at_road(
        np.zeros(3), np.array([1.0, 0.0, 0.0]), np.zeros(3), np.array([0.0, 1.0, 0.0]), 1.0
    )
    assert np.isnan(scrub)
    assert np.isnan(trail)


@given(ANGLES)
def test_a_wheel_that_leans_with_the_road_has_no_camber_to_it(roll: float) -> None:
    axis = _turned(roll, 0) @ np.array([0.0, 1.0, 0.0])
    left, right = axis * 700.0, -axis * 700.0
    road = geometry.road_normal(left, right)
    assert geometry.camber_to_road(axis, road, 1.0) == pytest.approx(0.0, abs=1e-12)
    assert geometry.camber_to_road(np.array([0.0, 1.0, 0.0]), road, 1.0) == pytest.approx(roll, abs=1e-12)


def test_the_screw_axis_of_a_turn_is_the_line_it_turns_about() -> None:
    chance = np.random.default_rng(3)
    point, direction = chance.normal(size=(20, 3)) * 100.0, unit(chance.normal(size=(20, 3)))
    twist = np.concatenate([np.cross(point, direction), direction], axis=1) * 0.01
    found, along = geometry.screw_axis(twist)
    assert np.abs(np.cross(along, direction)).max() < 1e-12
    assert (along[:, 2] >= 0.0).all()
    # The point found lies on the line: what is left of it across the line is rounding.
    assert np.abs(np.cross(found - point, direction)).max() < 1e-10
