"""Lengths that a person sets: at ride height what the points of the scene say; the track is across the car."""

from __future__ import annotations

import numpy as np
import pytest
from zoo import NAMES, built, scene_data

from model.cycles import Cycle
from model.solver import solve
from model.spans import TRACK, spans
from model.travel import cycle, single

# Newton's iteration stops at errors far below a thousandth of a mm.
SOLVED = 1e-6


@pytest.mark.parametrize("name", NAMES)
def test_lengths_at_ride_height_are_those_between_the_points_of_the_scene(name: str) -> None:
    mechanism = built(scene_data(name))
    found = {span.name: span for span in spans(solve(mechanism, single(mechanism)))}
    pairs = {link.name: link.ends for link in mechanism.links}
    pairs |= {unit.name: (unit.top, unit.bottom) for unit in mechanism.coilovers}
    for part, (first, second) in pairs.items():
        assert found[part].length == pytest.approx(np.linalg.norm(second.at - first.at), abs=SOLVED)


def test_links_keep_their_length_and_coilovers_change_theirs() -> None:
    mechanism = built(scene_data("wren_front"))
    found = {span.name: span for span in spans(solve(mechanism, cycle(mechanism, Cycle.LEFT, 5)))}
    for link in mechanism.links:
        assert np.ptp(found[link.name].length) < SOLVED
    for unit in mechanism.coilovers:
        length = found[unit.name].length
        assert (np.ptp(length) > 20.0) == unit.name.startswith("left")
        assert (length > unit.compressed).all()
        assert (length < unit.extended).all()


def test_the_track_is_across_the_car_and_an_arm_square_to_its_pivots() -> None:
    mechanism = built(scene_data("wren_front"))
    found = {span.name: span for span in spans(solve(mechanism, single(mechanism, left=40.0, right=-30.0)))}
    low, high = found[TRACK].points[0, 1], found[TRACK].points[0, 0]
    assert (high - low)[[0, 2]] == pytest.approx([0.0, 0.0], abs=1e-9)
    # At ride height the wheels' middles, but for what camber and toe turn about them, nothing.
    ride = {span.name: span for span in spans(solve(mechanism, single(mechanism)))}
    expected = abs(mechanism.wheels[0].centre[1] - mechanism.wheels[1].centre[1])
    assert ride[TRACK].length == pytest.approx(expected, abs=1e-6)
    arm = mechanism.arms[0]
    assert arm.ball is not None
    start, stop, at = arm.pivots[0].at, arm.pivots[1].at, arm.ball.at
    # Twice the area of the triangle over its base (D).
    expected = np.linalg.norm(np.cross(at - start, stop - start)) / np.linalg.norm(stop - start)
    assert found[arm.name].length == pytest.approx(expected, abs=1e-6)
