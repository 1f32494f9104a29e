"""Tilts, spins and turns against brute force, scipy's rotations and closed forms."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from model.articulation import Wave, plane_polar, spin_band, spin_between, tilt_between, twist_about
from model.spatial import Array

# Spins tried by brute force, every hundredth of a degree; the worse tilt changes by at most 1 rad a rad of spin.
STEPS = 36000
FINE = 2.0 * np.pi / STEPS

UNIT = (
    st.tuples(*[st.floats(-1.0, 1.0)] * 3)
    .filter(lambda v: np.linalg.norm(v) > 0.1)
    .map(lambda v: np.array(v) / np.linalg.norm(v))
)
ROTATION = st.tuples(*[st.floats(-2.0, 2.0)] * 3).map(Rotation.from_rotvec)
# (length in the plane square to the bar, elevation of the eye, part of the bolt along the bar, azimuth)
END = st.tuples(st.floats(-1.4, 1.4), st.floats(-1.2, 1.2), st.floats(-np.pi, np.pi))


def _wave(end: tuple[float, float, float]) -> Wave:
    """An eye at elevation ε whose bolt leaves the square plane by δ."""
    leaves, elevation, azimuth = end
    return Wave(np.asarray(np.cos(leaves)), np.asarray(np.sin(leaves)), np.asarray(azimuth), elevation)


def _tilts(spin: Array, waves: Sequence[Wave]) -> list[Array]:
    """By the formula in the module's head, with the arc cosine."""
    return [np.arccos(np.clip(wave.c * np.cos(spin - wave.best) + wave.s, -1.0, 1.0)) for wave in waves]


def _worse(spin: Array, waves: Sequence[Wave], limits: tuple[float, float]) -> Array:
    tilts = _tilts(spin, waves)
    return np.maximum(tilts[0] / limits[0], tilts[1] / limits[1])


@pytest.mark.parametrize("square", [True, False])
@given(
    first=END,
    second=END,
    limits=st.one_of(
        st.floats(0.1, 0.6).map(lambda limit: (limit, limit)), st.tuples(st.floats(0.1, 0.6), st.floats(0.1, 0.6))
    ),
)
@settings(max_examples=100, deadline=None)
def test_no_spin_is_better_than_the_chosen_one(
    square: bool, first: tuple[float, ...], second: tuple[float, ...], limits: tuple[float, float]
) -> None:
    ends = [(leaves, 0.0 if square else elevation, azimuth) for leaves, elevation, azimuth in (first, second)]
    waves = [_wave(end) for end in ends]
    chosen = _worse(spin_between(waves[0], waves[1], limits), waves, limits)
    tried = _worse(np.linspace(-np.pi, np.pi, STEPS, endpoint=False), waves, limits).min()
    assert chosen <= tried + 1e-7  # the arc cosine of 1 − 1e-15 is 5e-8 off, over limits of 0.1 rad and more
    assert chosen >= tried - FINE / min(limits)


@given(ends=st.lists(st.tuples(END, END), min_size=2, max_size=6), elevations=st.tuples(*[st.floats(-1.2, 1.2)] * 2))
def test_spins_and_bands_of_a_batch_equal_single_ones(
    ends: list[tuple[tuple[float, ...], tuple[float, ...]]], elevations: tuple[float, float]
) -> None:
    waves = [[_wave((one[0], up, one[2])) for one, up in zip(pair, elevations, strict=True)] for pair in ends]
    first, second = (
        Wave(*(np.array([getattr(pair[k], name) for pair in waves]) for name in ("p", "q", "best")), elevations[k])
        for k in (0, 1)
    )
    for limits in ((0.2, 0.2), (0.2, 0.5)):
        spins, bands = spin_between(first, second, limits), spin_band(first, second, limits)
        for number, pair in enumerate(waves):
            # The root's last step is 1e-13; a batch goes on until its slowest has come to that.
            assert abs(spins[number] - spin_between(*pair, limits)) < 1e-9
            assert [band[number] for band in bands] == [float(band) for band in spin_band(*pair, limits)]


@given(end=END, spin=st.floats(-4.0, 4.0))
def test_a_waves_tilt_is_the_formula_in_the_modules_head(end: tuple[float, float, float], spin: float) -> None:
    wave = _wave(end)
    (expected,) = _tilts(np.asarray(spin), [wave])
    assert abs(wave.tilt(np.asarray(spin)) - expected) < 1e-7  # the arc cosine of 1 − 1e-15 is 5e-8 off
    assert wave.tilt(np.asarray(spin)) >= wave.least - 1e-14  # roundings of a few rad


@given(first=END, second=END, limits=st.tuples(st.floats(0.05, 2.0), st.floats(0.05, 2.0)))
@settings(max_examples=60, deadline=None)
def test_the_band_holds_every_spin_that_serves_and_none_that_does_not(
    first: tuple[float, float, float], second: tuple[float, float, float], limits: tuple[float, float]
) -> None:
    waves = (_wave(first), _wave(second))
    # An end whose least tilt is its limit allows one spin, as a knife's edge allows one place to stand.
    assume(all(abs(float(wave.least) - limit) > 1e-4 for wave, limit in zip(waves, limits, strict=True)))
    low, high = (float(value) for value in spin_band(*waves, limits))
    best = float(spin_between(*waves, limits))
    share, step = _worse(np.linspace(-np.pi, np.pi, STEPS, endpoint=False), waves, limits), FINE
    if high < low:
        assert share.min() > 1.0 - 1e-6  # the arc cosine of 1 − 1e-15 is 5e-8 off, over limits of 0.05 rad and more
        return
    assert low - 1e-6 <= best <= high + 1e-6  # the same
    if high - low >= 2.0 * np.pi:
        assert share.max() < 1.0 + 1e-6
        return
    # Walk from the best spin to both sides by brute force until a spin does not serve any more.
    ahead = best + np.arange(0.0, 2.0 * np.pi, step)
    behind = best - np.arange(0.0, 2.0 * np.pi, step)
    for walk, edge in ((ahead, high), (behind, low)):
        fails = _worse(walk, waves, limits) > 1.0 + 1e-6
        assert fails.any()
        # 1e-4 from the least tilt a share rises by at least 0.01 a rad: 1e-6 of a share is 1e-4 rad of spin.
        assert abs(walk[fails.argmax()] - edge) <= step + 1e-4


@pytest.mark.parametrize(
    ("first", "second", "limits", "band"),
    [
        # D: square bolts 30° apart with 20° each: ±20° about 0 and 10° to 50°.
        ((0.0, 0.0, 0.0), (0.0, 0.0, 30.0), (20.0, 20.0), (10.0, 20.0)),
        # Across the seam at 180°: the same band, counted from the first end.
        ((0.0, 0.0, 170.0), (0.0, 0.0, -160.0), (20.0, 20.0), (180.0, 190.0)),
        # 50° apart: the arcs are 10° short of each other.
        ((0.0, 0.0, 0.0), (0.0, 0.0, 50.0), (20.0, 20.0), (30.0, 20.0)),
        # A bolt that leaves the square plane by 25° cannot do with 20°: twice 5° short.
        ((25.0, 0.0, 0.0), (0.0, 0.0, 0.0), (20.0, 90.0), (5.0, -5.0)),
        # A bolt along its bar, limit 100°: every spin serves it, the other end's arc is the band.
        ((90.0, 0.0, 0.0), (0.0, 0.0, 150.0), (100.0, 40.0), (110.0, 190.0)),
        ((90.0, 0.0, 0.0), (90.0, 0.0, 77.0), (100.0, 100.0), (-180.0, 180.0)),
    ],
)
def test_bands_by_hand(
    first: tuple[float, float, float],
    second: tuple[float, float, float],
    limits: tuple[float, float],
    band: tuple[float, float],
) -> None:
    waves = [_wave(tuple(np.radians(end))) for end in (first, second)]
    found = np.degrees(spin_band(waves[0], waves[1], (np.radians(limits[0]), np.radians(limits[1]))))
    assert found == pytest.approx(band, abs=1e-9)  # some hundred degrees, each a few roundings


@given(axis=UNIT, rotation=ROTATION)
def test_twist_is_the_nearest_turn_about_the_axis(axis: Array, rotation: Rotation) -> None:
    # D: of all turns about the axis, the twist leaves the least rotation over (scipy measures what is left).
    assume(abs(np.dot(axis, rotation.as_quat()[:3])) + abs(rotation.as_quat()[3]) > 0.1)
    twist = float(twist_about(axis, rotation.as_matrix(), np.eye(3)))
    left = (rotation * Rotation.from_rotvec(-axis * twist)).magnitude()
    angles = twist + np.linspace(-np.pi, np.pi, 721)
    others = (rotation * Rotation.from_rotvec(-np.outer(angles, axis))).magnitude()
    assert left <= others.min() + 1e-7  # a magnitude near π is the arc sine of 1 − 1e-15


@given(axis=UNIT, angle=st.floats(-3.1, 3.1))
def test_twist_of_a_pure_turn_is_its_angle(axis: Array, angle: float) -> None:
    rotation = Rotation.from_rotvec(axis * angle).as_matrix()
    # Within 3.1 rad the quaternion's scalar is at least 0.02: 1e-16 of rounding over it.
    assert abs(twist_about(axis, rotation, np.eye(3)) - angle) < 1e-12


@given(axis=UNIT, swing=UNIT, angle=st.floats(-2.5, 2.5), tilt=st.floats(0.0, 2.5))
def test_twist_comes_back_from_a_swing_after_a_twist(axis: Array, swing: Array, angle: float, tilt: float) -> None:
    across = np.cross(axis, swing)
    assume(np.linalg.norm(across) > 0.1)
    across /= np.linalg.norm(across)
    rotation = (Rotation.from_rotvec(across * tilt) * Rotation.from_rotvec(axis * angle)).as_matrix()
    assert (
        abs(twist_about(axis, rotation, np.eye(3)) - angle) < 1e-12
    )  # as above; cos(1.25)² keeps 0.1 of the quaternion


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
