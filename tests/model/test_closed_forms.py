"""Linkages whose motion is known in closed form. Each number says where it comes from: S, M, P or D (see facts)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from zoo import axle_scene, built, guided_bar, parallel_arms, planar, trailing_arm, travel_of

from model.poses import Poses, Status
from model.solver import solve
from model.spatial import Array
from model.units import MM_PER_INCH

# The solver's promise, mm, where the closed form itself is exact to rounding.
PROMISE = 1e-9
# Angles: 1e-9 mm at the end of a lever of some 300 mm.
TURN = 1e-11


def _moved(poses: Poses, body: str, at: Array) -> Array:
    """Where a ride-height point (3,) of a body is in each pose, (N, 3)."""
    number = poses.mechanism.body_number(body)
    return np.asarray(poses.rotation[number] @ at + poses.translation[number])


# S owners' measurements; D L − √(L² − h²). The source's figures have three and four decimals: half of the last.
@pytest.mark.parametrize(
    ("unit", "length", "height", "shift", "half_digit"),
    [(1.0, 835.0, 50.0, 1.498, 5e-4), (MM_PER_INCH, 33.5, 1.5, 0.0336, 5e-5)],
)
def test_panhard_bar_draws_an_arc(unit: float, length: float, height: float, shift: float, half_digit: float) -> None:
    mechanism = guided_bar(length * unit)
    poses = solve(mechanism, travel_of(mechanism, np.array([height, -height]) * unit))
    sideways = _moved(poses, "axle", np.zeros(3))[:, 1]
    assert np.abs(sideways / unit - shift).max() <= half_digit
    assert np.abs(sideways - (length - np.sqrt(length**2 - height**2)) * unit).max() <= PROMISE


# D: arms 350, centre link 200; the table's figures are given to the last digit shown.
@pytest.mark.parametrize(
    ("height", "error", "half_digit"),
    [(25.0, 0.0003, 5e-5), (50.0, 0.0093, 5e-5), (75.0, 0.0726, 5e-5), (100.0, 0.319, 5e-4)],
)
def test_watts_linkage_leaves_the_straight_line_as_in_the_table(height: float, error: float, half_digit: float) -> None:
    arms = {
        "upper": (np.array([0.0, 350.0, 100.0]), np.array([0.0, 0.0, 100.0])),
        "lower": (np.array([0.0, -350.0, -100.0]), np.array([0.0, 0.0, -100.0])),
    }
    mechanism = planar(arms, driven=np.zeros(3))
    poses = solve(mechanism, travel_of(mechanism, np.array([height, -height])))
    sideways = _moved(poses, "coupler", np.zeros(3))[:, 1]
    assert np.abs(np.abs(sideways) - error).max() <= half_digit
    # Half a turn of the whole linkage about its middle takes it into itself and up into down.
    assert abs(sideways.sum()) <= PROMISE


def test_parallel_arms_let_a_wheel_shift_and_never_turn_it() -> None:
    length = 350.0
    mechanism = built(parallel_arms(length, travel=200.0))
    heights = np.linspace(-200.0, 200.0, 17)
    poses = solve(mechanism, travel_of(mechanism, heights))
    knuckle = mechanism.body_number("knuckle")
    # D: all ends go round equal circles, so the knuckle moves by the same chord everywhere.
    expected = np.stack([0 * heights, np.sqrt(length**2 - heights**2) - length, heights], axis=-1)
    assert np.abs(poses.rotation[knuckle] - np.eye(3)).max() <= TURN
    assert np.abs(poses.translation[knuckle] - expected).max() <= PROMISE


def test_trailing_arm_turns_by_the_arc_sine_of_its_rise() -> None:
    radius = 400.0
    mechanism = built(trailing_arm(radius, travel=250.0))
    heights = np.array([-250.0, -100.0, 0.0, 60.0, 250.0])
    poses = solve(mechanism, travel_of(mechanism, heights))
    sine, cosine = heights / radius, np.sqrt(1.0 - (heights / radius) ** 2)
    rotation = poses.rotation[mechanism.body_number("trailing arm")]
    # D: the pivots lie ahead of the wheel, so a wheel that rises turns the arm about y, z towards x, by asin(h/R).
    assert np.abs(rotation[:, 0, 2] - sine).max() <= TURN
    assert np.abs(rotation[:, 2, 0] + sine).max() <= TURN
    assert np.abs(rotation[:, 0, 0] - cosine).max() <= TURN
    assert np.abs(rotation[:, 1] - [0.0, 1.0, 0.0]).max() <= TURN


def test_links_that_meet_on_a_line_let_the_axle_roll_about_it_alone() -> None:
    front, back = np.array([560.0, 0.0, 420.0]), np.array([-300.0, 0.0, 360.0])
    links = {
        "front near": (front, (0, 420, 250)),
        "front far": (front, (0, -420, 250)),
        "back near": (back, (-40, 200, 430)),
        "back far": (back, (-40, -200, 430)),
    }
    mechanism = built(axle_scene(links, travel=160.0))
    axis = (front - back) / np.linalg.norm(front - back)
    cross = np.array([[0.0, -axis[2], axis[1]], [axis[2], 0.0, -axis[0]], [-axis[1], axis[0], 0.0]])
    wheels = np.array([[0.0, 700.0, 300.0], [0.0, -700.0, 300.0]])
    angles = np.radians([-12.0, -5.0, 1.0, 8.0, 12.0])
    # D: a turn about the line through both meeting points keeps every link's length, whatever its angle.
    turns = [np.eye(3) + np.sin(a) * cross + (1.0 - np.cos(a)) * cross @ cross for a in angles]
    heights = np.array([[(turn @ (w - front) + front - w)[2] for w in wheels] for turn in turns])
    poses = solve(mechanism, travel_of(mechanism, heights))
    rotation = poses.rotation[mechanism.body_number("axle")]
    # Both wheel heights are given to 1e-13 mm; the pitch that they leave open is held by links 60 mm off its axis.
    assert np.abs(rotation - turns).max() <= 1e-10
    on_axis = np.linspace(-1.0, 2.0, 4)[:, None] * (front - back) + back
    for point in on_axis:
        assert np.abs(_moved(poses, "axle", point) - point).max() <= 1e-7  # 1e-10 rad over some 1000 mm


ANGLE = st.floats(-1.2, 1.2)
LENGTH = st.integers(200, 600).map(float)


def _polar(length: float, angle: float) -> Array:
    return length * np.array([0.0, np.cos(angle), np.sin(angle)])


@given(
    lengths=st.tuples(LENGTH, LENGTH, LENGTH),
    crank=st.floats(-0.7, 0.7),
    coupler=ANGLE,
    rocker=st.floats(-3.1, 3.1),
    turn=st.floats(-0.5, 0.5),
)
def test_planar_four_bar_follows_its_closed_form(
    lengths: tuple[float, float, float], crank: float, coupler: float, rocker: float, turn: float
) -> None:
    a, b, c = lengths
    # The open angle of coupler and rocker: near 0 or π the four-bar stands at a dead centre already.
    assume(abs(np.sin(rocker - coupler)) > 0.3)
    crank_end = _polar(a, crank)
    far = crank_end + _polar(b, coupler)
    pivot = far + _polar(c, rocker)
    # D: law of cosines in the triangle crank end, far end, pivot; the walk must stay clear of its dead centres.
    path = [np.linalg.norm(pivot - _polar(a, crank + k * turn)) for k in np.linspace(0.0, 1.0, 41)]
    cosines = [(b**2 + d**2 - c**2) / (2.0 * b * d) for d in path]
    assume(np.abs(cosines).max() < 0.98)
    assume(abs(np.cos(crank + turn)) > 0.2)

    mechanism = planar({"crank": (np.zeros(3), crank_end), "rocker": (pivot, far)}, driven=crank_end)
    now = _polar(a, crank + turn)
    poses = solve(mechanism, travel_of(mechanism, np.array([now[2] - crank_end[2]])))
    assert poses.status[0] == Status.SOLVED
    assert np.abs(_moved(poses, "coupler", crank_end)[0] - now).max() <= 1e-7

    side = np.sign(np.cross(pivot - crank_end, far - crank_end)[0])
    line = (pivot - now) / path[-1]
    square = np.array([0.0, -line[2], line[1]])
    expected = now + b * (cosines[-1] * line + side * np.sqrt(1.0 - cosines[-1] ** 2) * square)
    # A crank 0.2 rad from upright turns 5 times as fast as its end rises and an angle with cosine 0.98 5 times again,
    # so that 1e-9 mm may become some 1e-7 mm.
    assert np.abs(_moved(poses, "coupler", far)[0] - expected).max() <= 1e-6

    # M Freudenstein's equation, with ground d along the line of pivots: K1 cos ψ − K2 cos φ + K3 = cos(φ − ψ).
    ground = float(np.linalg.norm(pivot))
    level = np.arctan2(pivot[2], pivot[1])
    solved = _moved(poses, "coupler", far)[0] - pivot
    phi, psi = crank + turn - level, np.arctan2(solved[2], solved[1]) - level
    k3 = (a**2 - b**2 + c**2 + ground**2) / (2.0 * a * c)
    assume(ground > 50.0)
    # Divided by lengths of 200 mm and more.
    assert abs(ground / a * np.cos(psi) - ground / c * np.cos(phi) + k3 - np.cos(phi - psi)) <= 1e-7
