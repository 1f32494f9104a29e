"""Curves against central differences of poses solved again and against worked examples."""

from __future__ import annotations

import numpy as np
import pytest
from zoo import NAMES, built, scene_data, travel_of

from model.curves import curve, curves
from model.mechanism import Mechanism
from model.poses import Status
from model.rates import ride_frequency, spring_force, wheel_columns
from model.solver import solve
from model.spatial import Array
from model.units import KG_FORCE


def _inside(mechanism: Mechanism, count: int) -> Array:
    """Drive values (count, D) somewhere inside the travel."""
    low, high = (np.array([getattr(drive, end) for drive in mechanism.drives]) for end in ("low", "high"))
    return low + (high - low) * np.random.default_rng(11).uniform(0.05, 0.95, size=(count, len(low)))


def _force_at_wheels(mechanism: Mechanism, values: Array, along: Array) -> Array:
    """d(energy of all springs)/d(height along a direction) (N,), by differences of the fourth order of lengths."""
    step, energies = 1.0, []
    for k in (-2, -1, 1, 2):
        poses = solve(mechanism, travel_of(mechanism, values + k * step * along))
        assert (poses.status == Status.SOLVED).all()
        energies.append(_energy(poses))
    two_below, below, above, two_above = energies
    return np.asarray((8.0 * (above - below) - (two_above - two_below)) / (12.0 * step))


def _energy(poses) -> Array:  # type: ignore[no-untyped-def]
    from model.members import posture

    total = np.zeros(len(poses))
    for stroke in posture(poses).strokes:
        force, rate = spring_force(stroke.coilover, stroke.length)
        total += np.divide(0.5 * force**2, rate, out=np.zeros_like(force), where=rate > 0.0)
    return total


@pytest.mark.parametrize("name", NAMES)
def test_the_wheel_rate_is_the_slope_of_the_springs_force_at_the_wheels(name: str) -> None:
    mechanism = built(scene_data(name))
    values = 0.5 * _inside(mechanism, 6)
    poses = solve(mechanism, travel_of(mechanism, values))
    columns = wheel_columns(mechanism)
    along = np.zeros(len(mechanism.drives))
    along[columns] = 1.0
    # Both wheels' rates together are the slope of the force of both along the common height.
    step = 2.0
    forces = [_force_at_wheels(mechanism, values + k * step * along, along) for k in (-2, -1, 1, 2)]
    wanted = (8.0 * (forces[2] - forces[1]) - (forces[3] - forces[0])) / (12.0 * step)
    found = sum(each.values for each in curves(poses) if each.what == "wheel rate")
    # Lengths to 1e-9 mm under 5 kN over steps of 1 and 2 mm: 1e-5 N/mm at most.
    assert np.abs(found - wanted).max() < 2e-5


def test_the_handbook_wheel_rate_and_frequency() -> None:
    # Barton & Fieldhouse, Automotive Chassis Engineering, eq. 3.33: 60 N/mm at motion ratio 0.7 is 29.4 N/mm; with
    # 350 kg, 1.459 Hz.
    assert ride_frequency(np.array(60.0 * 0.7**2), 350.0 * KG_FORCE) == pytest.approx(1.459, abs=5e-4)


def test_a_curve_is_found_by_its_name() -> None:
    poses = solve(built(scene_data("wren_front")), travel_of(built(scene_data("wren_front")), np.zeros((1, 3))))
    assert curve(poses, "camber", "right wheel").values == pytest.approx(np.radians([-0.5]), abs=1e-9)
    with pytest.raises(KeyError):
        curve(poses, "camber", "axle")
