"""Hooke joints against textbook examples, a matrix product and yokes that are turned step by step."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize_scalar
from scipy.spatial.transform import Rotation

from model import hooke
from model.spatial import Array

RPM = np.pi / 30.0


def speed_ratio(kappa: Array) -> Array:
    """Greatest speed of the far end as a multiple of the near end's, (1 + κ)/(1 − κ); the least is one over it (D)."""
    return (1.0 + kappa) / (1.0 - kappa)


def _level(*headings: float) -> Array:
    """Directions (k, 3) in one plane, each at a heading in degrees."""
    turned = np.radians(headings)
    return np.stack([np.cos(turned), np.sin(turned), np.zeros_like(turned)], axis=-1)


def test_one_joint_of_20_degrees_at_1000_rpm() -> None:
    # S Bevan, Theory of Machines, ch. 4 ex. 1: 98.4 to 111.4 rad/s, greatest acceleration 1370 rad/s²; exact 1370.40.
    kappa, speed = hooke.unevenness(_level(0, 20), [True], []), 1000.0 * RPM
    assert abs(speed * speed_ratio(kappa) - 111.4) < 0.05
    assert abs(speed / speed_ratio(kappa) - 98.4) < 0.05
    assert abs(hooke.greatest_acceleration(kappa, speed) - 1370.40) < 0.005  # as printed


def test_a_fluctuation_of_12_percent_is_a_joint_of_19_64_degrees() -> None:
    # S Khurmi & Gupta, Theory of Machines, ex. 9.4.
    angle = brentq(lambda angle: float(hooke.fluctuation(hooke.kappa_of(np.array(angle)))) - 0.12, 0.01, 1.0)
    assert abs(np.degrees(angle) - 19.64) < 0.005


def test_two_joints_of_20_degrees_at_500_rpm_in_the_worst_phase_and_in_the_best() -> None:
    # S Khurmi & Gupta, Theory of Machines, ex. 9.7: 566.24 and 441.5 rpm; in phase D exactly 500.
    zed, worst = _level(0, 20, 0), hooke.unevenness(_level(0, 20, 0), [True, True], [0.5 * np.pi])
    assert abs(500.0 * speed_ratio(worst) - 566.24) < 0.01
    assert abs(500.0 / speed_ratio(worst) - 441.5) < 0.05  # as printed
    for directions in (zed, _level(0, 20, 40)):
        assert hooke.unevenness(directions, [True, True], [0.0]) < 1e-16  # roundings of cosines and sines


# S table after SAE AE-7 §3.1.1: 1500 rpm, joint 1 at 0 to 9°, largest joint 2 in degrees.
TABLE = [7.3, 7.4, 7.6, 7.9, 8.3, 8.9, 9.5, 10.1, 10.8, 11.6]


@pytest.mark.parametrize(("first", "second"), list(enumerate(TABLE)))
def test_the_largest_second_joint_at_1500_rpm(first: float, second: float) -> None:
    speed, limit = 1500.0 * RPM, 400.0

    def excess(angle: float) -> float:
        kappa = hooke.unevenness(_level(0, first, first - angle), [True, True], [0.0])
        return float(hooke.greatest_acceleration(kappa, speed)) - limit

    # The table's own rule is abs(b2² − b1²)·ω² ≤ 400 rad/s².
    rule = np.degrees(np.sqrt(limit / speed**2 + np.radians(first) ** 2))
    assert abs(rule - second) < 0.1
    # The exact form stays within the table's last digit; it leaves out the rule's terms of the fourth order.
    exact = brentq(excess, first + 0.01, 20.0)
    assert abs(exact - second) < 0.1
    assert abs(exact - rule) < 0.03


def test_a_residual_of_0_0027_is_a_joint_of_2_98_degrees() -> None:
    # S joint maker's limit, the "3° equivalent" rule; D 1/cos β − cos β.
    kappa = brentq(lambda kappa: float(hooke.fluctuation(np.array(kappa))) - 0.0027, 0.0, 0.1)
    assert abs(np.degrees(hooke.equivalent_angle(np.array(kappa))) - 2.98) < 0.005


@given(st.floats(0.0, 70.0), st.floats(-70.0, 70.0))
def test_side_view_and_true_angle_of_a_shaft_that_stands_off_in_plan(slope: float, heading: float) -> None:
    # S tan β = tan α / cos γ: a shaft that rises by α (a level laid on it) and stands off by γ in plan is seen from the
    # side to rise by β. D: against a shaft straight ahead its joint is bent by acos(cos α cos γ).
    alpha, gamma = np.radians(slope), np.radians(heading)
    shaft = np.array([np.cos(alpha) * np.cos(gamma), np.cos(alpha) * np.sin(gamma), np.sin(alpha)])
    directions = np.stack([np.array([1.0, 0.0, 0.0]), shaft])
    side = hooke.seen_angles(directions, np.array([0.0, -1.0, 0.0]))[0]
    plan = hooke.seen_angles(directions, np.array([0.0, 0.0, 1.0]))[0]
    true = hooke.joint_angles(directions)[0]
    # Tangents up to 8 from quotients of doubles; the cosine is blind below 1e-8 rad.
    assert abs(np.tan(side) - np.tan(alpha) / np.cos(gamma)) < 1e-13
    assert abs(plan - gamma) < 1e-14
    assert abs(np.cos(true) - np.cos(alpha) * np.cos(gamma)) < 1e-14
    # The same relation for a joint whose plane leans by γ from upright, of which α is seen from the side.
    leaning = np.array([1.0, np.tan(alpha) * np.tan(gamma), np.tan(alpha)])
    bent = hooke.joint_angles(np.stack([directions[0], leaning / np.linalg.norm(leaning)]))[0]
    assert abs(np.tan(bent) - np.tan(alpha) / np.cos(gamma)) < 1e-13


@given(st.floats(0.01, 80.0))
def test_the_greatest_acceleration_of_one_joint_is_the_peak_of_its_formula(degrees: float) -> None:
    beta = np.radians(degrees)
    # M the textbook form −ω² cos β sin² β sin 2θ / (1 − sin² β cos² θ)², with its greatest size found step by step.
    theta = np.linspace(0.0, np.pi, 2001)

    def size(theta: Array) -> Array:
        return np.abs(np.cos(beta) * np.sin(beta) ** 2 * np.sin(2 * theta)) / (
            1.0 - np.sin(beta) ** 2 * np.cos(theta) ** 2
        ) ** 2  # fmt: skip

    near = theta[int(size(theta).argmax())]
    peak = minimize_scalar(lambda at: -float(size(np.array(at))), bounds=(near - 2e-3, near + 2e-3), method="bounded")
    found = hooke.greatest_acceleration(hooke.kappa_of(np.array(beta)), 1.0)
    assert found == pytest.approx(-peak.fun, rel=1e-9)  # a peak is flat: an error of 1e-5 in θ is 1e-10 in height


# -- chains in space --------------------------------------------------------------------------------------------

bends = st.tuples(st.floats(0.0, 60.0), st.floats(-180.0, 180.0))
turns = st.floats(-180.0, 180.0)


@st.composite
def chains(draw: st.DrawFn, joints: int) -> tuple[Array, list[float]]:
    """Directions (J + 1, 3) of a chain whose joints bend by up to 60° each in a plane of its own, and its phases."""
    axes = Rotation.identity()
    directions = [axes.as_matrix()[:, 0]]
    for _ in range(joints):
        bend, plane = draw(bends)
        axes = axes * Rotation.from_euler("xz", [plane, bend], degrees=True)
        directions.append(axes.as_matrix()[:, 0])
    return np.array(directions), [float(np.radians(draw(turns))) for _ in range(joints - 1)]


STEPS = 4096


def _brute_force(directions: Array, universal: Sequence[bool], phases: Sequence[float]) -> tuple[float, float, float]:
    """Turn the yokes of a chain once, step by step: its lowest and highest speed ratio and greatest acceleration.

    The cross of each joint holds the next yoke's pin square to its own pin and to its own shaft.
    """
    a = directions[0]
    start = np.cross(a, [0.3, -0.5, 0.81])
    start /= np.linalg.norm(start)
    turned = 2.0 * np.pi * np.arange(STEPS) / STEPS
    pin = np.cos(turned)[:, None] * start + np.sin(turned)[:, None] * np.cross(a, start)
    for number, next_a in enumerate(directions[1:]):
        if universal[number]:
            pin = np.cross(next_a, pin)
        else:  # an even joint hands the pin on by the smallest turn between the shafts
            n = np.cross(a, next_a)
            pin = Rotation.align_vectors([next_a, n], [a, n])[0].apply(pin)
        pin /= np.linalg.norm(pin, axis=-1, keepdims=True)
        if number < len(phases):
            pin = Rotation.from_rotvec(phases[number] * next_a).apply(pin)
        a = next_a
    side = np.cross(a, pin[0])
    out = np.unwrap(np.arctan2(pin @ side, pin @ pin[0]))
    # What it runs ahead by is smooth and comes again each turn: its Fourier series gives exact rates.
    waves = np.fft.fft(out - turned)
    order = 1j * np.fft.fftfreq(STEPS, 1.0 / STEPS)
    rate = 1.0 + np.fft.ifft(order * waves).real
    return float(rate.min()), float(rate.max()), float(np.abs(np.fft.ifft(order**2 * waves).real).max())


def _assert_matches(directions: Array, universal: Sequence[bool], phases: Sequence[float]) -> None:
    low, high, acceleration = _brute_force(directions, universal, phases)
    kappa = hooke.unevenness(directions, universal, phases)
    # At most half a step of 0.0015 rad from a peak whose curvature is below 300 times its height; roundings of 1e-16
    # in the turn, twice differentiated, count up to 2048² times.
    assert high == pytest.approx(speed_ratio(kappa), rel=1e-4)
    assert low == pytest.approx(1.0 / speed_ratio(kappa), rel=1e-4)
    assert acceleration == pytest.approx(hooke.greatest_acceleration(kappa, 1.0), rel=1e-3, abs=1e-7)


@given(chains(1))
def test_one_joint_turns_as_its_yokes_do(chain: tuple[Array, list[float]]) -> None:
    _assert_matches(chain[0], [True], [])


@given(chains(2))
def test_a_one_piece_shaft_turns_as_its_yokes_do(chain: tuple[Array, list[float]]) -> None:
    _assert_matches(chain[0], [True, True], chain[1])


@given(chains(3))
def test_a_two_piece_shaft_turns_as_its_yokes_do(chain: tuple[Array, list[float]]) -> None:
    directions, phases = chain
    kappa = hooke.unevenness(directions, [True] * 3, phases)
    if speed_ratio(kappa) < 30.0:  # beyond, 4096 steps are too coarse for the peaks
        _assert_matches(directions, [True] * 3, phases)


@given(chains(3))
def test_an_even_joint_in_the_middle_turns_as_its_yokes_do(chain: tuple[Array, list[float]]) -> None:
    directions, phases = chain
    if np.linalg.norm(np.cross(directions[1], directions[2])) > 1e-3:  # align_vectors needs a plane
        _assert_matches(directions, [True, False, True], phases)


@given(chains(3))
def test_a_constant_velocity_joint_passes_every_turn_on(chain: tuple[Array, list[float]]) -> None:
    directions, phases = chain
    assert hooke.unevenness(directions, [False] * 3, phases) == 0.0
    first = hooke.unevenness(directions, [True, False, False], phases)
    assert first == pytest.approx(hooke.kappa_of(hooke.joint_angles(directions)[0]), rel=1e-12)


@given(chains(3))
def test_a_chain_is_the_product_of_its_matrices(chain: tuple[Array, list[float]]) -> None:
    # D: diag(1, cos β) in the axes of each joint's own plane, rotations between; M's singular values bound its rate.
    directions, phases = chain
    square = [np.cross(a, b) for a, b in pairwise(directions)]
    if min(np.linalg.norm(n) for n in square) < 1e-3:  # the plane of a straight joint is lost
        return
    product = np.eye(2)
    for number, bend in enumerate(hooke.joint_angles(directions)):
        product = np.diag([1.0, np.cos(bend)]) @ product
        if number < len(phases):
            a, n = directions[number + 1], square[number : number + 2]
            between = np.arctan2(a @ np.cross(n[0], n[1]), n[0] @ n[1])
            turn = 0.5 * np.pi + phases[number] - between
            product = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) @ product
    largest, smallest = np.linalg.svd(product, compute_uv=False)
    kappa = hooke.unevenness(directions, [True] * 3, phases)
    assert speed_ratio(kappa) == pytest.approx(largest / smallest, rel=1e-9)  # 8 at most from each joint, lost twice
    assert np.cos(hooke.equivalent_angle(kappa)) == pytest.approx(smallest / largest, rel=1e-9)


@given(chains(2))
def test_the_best_phase_of_two_joints_leaves_the_difference_of_their_stretches(
    chain: tuple[Array, list[float]],
) -> None:
    directions, _ = chain
    phase = float(hooke.best_phase(directions, [True, True], [0.0]))
    t1, t2 = hooke.kappa_of(hooke.joint_angles(directions))
    # D: opposite stretches subtract as hyperbolic tangents do.
    least = hooke.unevenness(directions, [True, True], [phase])
    assert least == pytest.approx(abs(t1 - t2) / (1.0 - t1 * t2), abs=1e-12)
    assert -0.5 * np.pi <= phase <= 0.5 * np.pi


@given(chains(3))
def test_no_phase_is_better_than_the_best(chain: tuple[Array, list[float]]) -> None:
    directions, phases = chain
    best = float(hooke.best_phase(directions, [True] * 3, phases))
    least = hooke.unevenness(directions, [True] * 3, [phases[0], best])
    for phase in np.radians(np.arange(-90.0, 90.0, 3.0)):
        assert least <= hooke.unevenness(directions, [True] * 3, [phases[0], phase]) + 1e-12


def test_yokes_turned_by_the_angle_between_two_planes_cancel_two_equal_joints() -> None:
    # D: the second joint bends in a plane turned by 35° about the shaft, so that its yoke has to follow by as much.
    directions = np.array([Rotation.from_euler("z", -9, degrees=True).apply([1.0, 0.0, 0.0]), [1.0, 0.0, 0.0],
                           Rotation.from_euler("zx", [9, 35], degrees=True).apply([1.0, 0.0, 0.0])])  # fmt: skip
    assert np.degrees(hooke.best_phase(directions, [True, True], [0.0])) == pytest.approx(35.0, abs=1e-9)


def test_poses_at_once_are_poses_one_by_one_and_a_joint_past_square_has_no_speed() -> None:
    rng = np.random.default_rng(3)
    directions = rng.normal(size=(4, 50, 3)) * 0.3 + [1.0, 0.0, 0.0]
    directions[2, 7] = [-1.0, 0.1, 0.0]
    directions /= np.linalg.norm(directions, axis=-1, keepdims=True)
    universal, phases = [True] * 3, [0.0, 0.4]
    together = hooke.unevenness(directions, universal, phases)
    alone = [hooke.unevenness(directions[:, k], universal, phases) for k in range(50)]
    # Roundings: whole arrays take other instructions than single numbers.
    assert np.allclose(together, alone, rtol=1e-12, atol=0.0, equal_nan=True)
    assert np.isnan(together).tolist() == (hooke.joint_angles(directions) >= 0.5 * np.pi).any(axis=0).tolist()
    assert np.isnan(together[7])
    best = hooke.best_phase(directions, universal, phases)
    singly = [hooke.best_phase(directions[:, k], universal, phases) for k in range(50)]
    assert np.allclose(best, singly, rtol=0.0, atol=1e-12, equal_nan=True)


def test_straight_shafts_turn_evenly() -> None:
    directions = np.tile([0.6, 0.0, 0.8], (4, 5, 1))
    assert not hooke.unevenness(directions, [True] * 3, [0.0, 1.0]).any()
    assert not hooke.best_phase(directions, [True] * 3, [0.0, 1.0]).any()
