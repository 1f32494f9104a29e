"""Tilts, spins and turns against brute force, scipy's rotations and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from model.articulation import plane_polar, spin_between, tilt_between, twist_about
from model.spatial import Array

# Spins tried by brute force; the worse tilt changes by at most 1 rad a rad of spin, weighed by the limits' ratio.
STEPS = 7200
FINE = 2.0 * np.pi / STEPS

UNIT = (
    st.tuples(*[st.floats(-1.0, 1.0)] * 3)
    .filter(lambda v: np.linalg.norm(v) > 0.1)
    .map(lambda v: np.array(v) / np.linalg.norm(v))
)
ROTATION = st.tuples(*[st.floats(-2.0, 2.0)] * 3).map(Rotation.from_rotvec)
# (length in the plane square to the bar, elevation of the eye, part of the bolt along the bar, azimuth)
END = st.tuples(st.floats(-1.4, 1.4), st.floats(-1.2, 1.2), st.floats(-np.pi, np.pi))


def _wave(end: tuple[float, float, float]) -> tuple[Array, Array, Array]:
    """c, s and best spin of an eye at elevation ε whose bolt leaves the square plane by δ."""
    leaves, elevation, azimuth = (np.asarray(value) for value in end)
    return np.cos(leaves) * np.cos(elevation), np.sin(leaves) * np.sin(elevation), azimuth


def _worse(spin: Array, waves: list[tuple[Array, Array, Array]], limits: tuple[float, float]) -> Array:
    tilts = [np.arccos(np.clip(c * np.cos(spin - best) + s, -1.0, 1.0)) for c, s, best in waves]
    return np.maximum(tilts[0] / limits[0], tilts[1] / limits[1])


@pytest.mark.parametrize("square", [True, False])
@given(
    first=END,
    second=END,
    limits=st.one_of(
        st.floats(0.1, 0.6).map(lambda limit: (limit, limit)), st.tuples(st.floats(0.1, 0.6), st.floats(0.1, 0.6))
    ),
)
@settings(max_examples=150)
def test_no_spin_is_better_than_the_chosen_one(
    square: bool, first: tuple[float, ...], second: tuple[float, ...], limits: tuple[float, float]
) -> None:
    ends = [(leaves, 0.0 if square else elevation, azimuth) for leaves, elevation, azimuth in (first, second)]
    waves = [_wave(end) for end in ends]
    chosen = _worse(spin_between(waves[0], waves[1], limits), waves, limits)
    tried = _worse(np.linspace(-np.pi, np.pi, STEPS, endpoint=False), waves, limits).min()
    assert chosen <= tried + 1e-7  # the arc cosine of 1 − 1e-15 is 5e-8 off, over limits of 0.1 rad and more
    assert chosen >= tried - FINE / min(limits)


@given(ends=st.lists(st.tuples(END, END), min_size=2, max_size=6))
def test_spins_of_a_batch_equal_single_ones(ends: list[tuple[tuple[float, ...], tuple[float, ...]]]) -> None:
    waves = [[_wave(end) for end in pair] for pair in ends]
    stacked = [tuple(np.array([pair[k][q] for pair in waves]) for q in range(3)) for k in (0, 1)]
    for limits in ((0.2, 0.2), (0.2, 0.5)):
        batch = spin_between(stacked[0], stacked[1], limits)
        for number, (first, second) in enumerate(waves):
            single = spin_between(first, second, limits)
            # The root finder brackets to about 1e-12 of its span.
            assert abs(batch[number] - single) < 1e-9


@given(axis=UNIT, rotation=ROTATION)
def test_twist_is_the_nearest_turn_about_the_axis(axis: Array, rotation: Rotation) -> None:
    # D: of all turns about the axis, the twist leaves the least rotation over (scipy measures what is left).
    assume(abs(np.dot(axis, rotation.as_quat()[:3])) + abs(rotation.as_quat()[3]) > 0.1)
    twist = float(twist_about(axis, rotation.as_matrix()))
    left = (rotation * Rotation.from_rotvec(-axis * twist)).magnitude()
    angles = twist + np.linspace(-np.pi, np.pi, 721)
    others = (rotation * Rotation.from_rotvec(-np.outer(angles, axis))).magnitude()
    assert left <= others.min() + 1e-7  # a magnitude near π is the arc sine of 1 − 1e-15


@given(axis=UNIT, angle=st.floats(-3.1, 3.1))
def test_twist_of_a_pure_turn_is_its_angle(axis: Array, angle: float) -> None:
    rotation = Rotation.from_rotvec(axis * angle).as_matrix()
    # Within 3.1 rad the quaternion's scalar is at least 0.02: 1e-16 of rounding over it.
    assert abs(twist_about(axis, rotation) - angle) < 1e-12


@given(axis=UNIT, swing=UNIT, angle=st.floats(-2.5, 2.5), tilt=st.floats(0.0, 2.5))
def test_twist_comes_back_from_a_swing_after_a_twist(axis: Array, swing: Array, angle: float, tilt: float) -> None:
    across = np.cross(axis, swing)
    assume(np.linalg.norm(across) > 0.1)
    across /= np.linalg.norm(across)
    rotation = (Rotation.from_rotvec(across * tilt) * Rotation.from_rotvec(axis * angle)).as_matrix()
    assert abs(twist_about(axis, rotation) - angle) < 1e-12  # as above; cos(1.25)² keeps 0.1 of the quaternion


@given(bar=UNIT, bolt=UNIT, spin=st.floats(-3.0, 3.0))
def test_a_square_eye_tilts_at_least_by_how_far_its_bolt_leaves_the_square(
    bar: Array, bolt: Array, spin: float
) -> None:
    helper = np.eye(3)[np.abs(bar).argmin()]
    side = np.cross(bar, helper) / np.linalg.norm(np.cross(bar, helper))
    axes = np.stack([bar, side, np.cross(bar, side)], axis=-1)
    length, azimuth, along = plane_polar(axes, bolt)
    least = np.arcsin(np.clip(abs(float(np.dot(bolt, bar))), 0.0, 1.0))
    eye = np.cos(spin) * axes[:, 1] + np.sin(spin) * axes[:, 2]
    best = np.cos(azimuth) * axes[:, 1] + np.sin(azimuth) * axes[:, 2]
    # 1e-7: an arc sine near 1 loses half the digits; the tilt itself is by atan2.
    assert tilt_between(np.eye(3), eye, np.eye(3), bolt) >= least - 1e-7
    if length > 1e-6:
        assert abs(tilt_between(np.eye(3), best, np.eye(3), bolt) - least) < 1e-7
    assert abs(length**2 + along**2 - 1.0) < 1e-14


@given(part=ROTATION, holder=ROTATION, eye=UNIT, bolt=UNIT)
def test_tilt_is_the_angle_between_two_carried_lines(part: Rotation, holder: Rotation, eye: Array, bolt: Array) -> None:
    tilt = tilt_between(part.as_matrix(), eye, holder.as_matrix(), bolt)
    assert abs(np.cos(tilt) - np.dot(part.apply(eye), holder.apply(bolt))) < 1e-14  # a few roundings of 1
