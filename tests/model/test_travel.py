"""Grids, single poses and cycles: ride height is among them, ends are reached, and what cannot be moved is refused."""

from __future__ import annotations

import numpy as np
import pytest
from zoo import built, parallel_arms, scene_data

from model.cycles import Cycle
from model.errors import CallError
from model.mechanism import Drive
from model.travel import axis, cycle, grid, runs_of, single


@pytest.fixture(scope="module")
def front():
    """Two wheels and a rack, 70 mm each way."""
    return built(scene_data("wren_front"))


@pytest.fixture(scope="module")
def uneven():
    """Two wheels with 60 mm of bump and 90 mm of droop, no steering."""
    return built(scene_data("wren_rear") | {"travel": {"bump": 60, "droop": 90}})


@pytest.mark.parametrize("steps", [3, 5, 21])
def test_an_axis_of_travel_runs_from_end_to_end_through_ride_height(steps: int) -> None:
    values = axis(Drive("left", -90.0, 60.0), steps)
    assert len(values) == steps
    assert (values[0], values[steps // 2], values[-1]) == (-90.0, 0.0, 60.0)
    assert (np.diff(values) > 0.0).all()


def test_a_grid_holds_every_combination_once(front, uneven) -> None:
    travel = grid(front, 5, 3)
    assert (travel.names, len(travel)) == (("left", "right", "steer"), 75)
    assert len(np.unique(travel.values, axis=0)) == 75
    assert (travel.values == 0.0).all(axis=1).sum() == 1
    assert np.unique(travel.column("steer")).tolist() == [-1.0, 0.0, 1.0]
    assert (grid(uneven, 3).column("steer") == 0.0).all()
    assert np.unique(grid(uneven, 5).column("right")).tolist() == [-90.0, -45.0, 0.0, 30.0, 60.0]


@pytest.mark.parametrize(("wheel", "steer"), [(4, 3), (1, 3), (5, 2), (-3, 3), (0, 3)])
def test_steps_that_miss_ride_height_are_refused(front, wheel: int, steer: int) -> None:
    with pytest.raises(CallError, match="expected an odd number from 3 on"):
        grid(front, wheel, steer)


def test_a_single_pose_keeps_the_rest_at_ride_height(front) -> None:
    assert single(front, right=-40.0, steer=0.5).values.tolist() == [[0.0, -40.0, 0.5]]
    assert single(front).values.tolist() == [[0.0, 0.0, 0.0]]
    # An end typed in another unit comes back with a rounding error; it is still the end.
    assert single(front, left=70.0 * (1.0 + 1e-13)).values[0, 0] == pytest.approx(70.0, rel=1e-12)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"left": 71.0}, "left wheel at 71.0 mm is outside its travel of -70.0 to 70.0 mm"),
        ({"right": -80.0}, "right wheel at -80.0 mm is outside"),
        ({"steer": 1.2}, "steering at 120 % is outside its travel of -100 to 100 %"),
    ],
)
def test_a_pose_outside_the_travel_is_refused_in_words(front, values: dict[str, float], words: str) -> None:
    with pytest.raises(CallError, match=words):
        single(front, **values)


def test_what_a_scene_does_not_have_cannot_be_moved(uneven) -> None:
    with pytest.raises(CallError, match="this scene has no steering to move"):
        single(uneven, steer=0.5)
    with pytest.raises(CallError, match='cannot run through the cycle "steer"; choose one of both, cross, left, right'):
        runs_of(uneven, Cycle.STEER)
    one_wheel = built(parallel_arms())
    with pytest.raises(CallError, match='cannot run through the cycle "both"; choose one of left, all'):
        cycle(one_wheel, Cycle.BOTH, 20)


@pytest.mark.parametrize("kind", [Cycle.BOTH, Cycle.CROSS, Cycle.LEFT, Cycle.RIGHT])
def test_a_cycle_begins_and_ends_at_ride_height_and_stays_inside_the_travel(uneven, kind: Cycle) -> None:
    travel = cycle(uneven, kind, 201)
    assert len(travel) == 201
    # A sine of 2π is 2e-16; times 90 mm.
    assert np.abs(travel.values[[0, -1]]).max() < 1e-12
    assert travel.values.max() <= 60.0
    assert travel.values.min() >= -90.0
    left, right = travel.column("left"), travel.column("right")
    match kind:
        case Cycle.BOTH:
            assert (left == right).all()
        case Cycle.CROSS:
            # One wheel up while the other is down, each by its own share of bump and droop.
            assert (left * right <= 0.0).all()
            assert np.abs(left / np.where(left > 0, 60, 90) + right / np.where(right > 0, 60, 90)).max() < 1e-12
        case Cycle.LEFT:
            assert (right == 0.0).all()
        case _:
            assert (left == 0.0).all()
    moving = np.abs(travel.values).max(axis=0) > 0.0
    # 201 frames put one within 1/200 of a turn of each end: 1 − cos(2π/400) = 0.012 %.
    assert (travel.values.max(axis=0)[moving] > 60.0 * 0.999).all()
    assert (travel.values.min(axis=0)[moving] < -90.0 * 0.999).all()


def test_all_cycles_join_without_a_jump(front) -> None:
    travel = cycle(front, Cycle.ALL, 600)
    assert len(travel) == 600
    assert runs_of(front, Cycle.ALL) == [Cycle.BOTH, Cycle.CROSS, Cycle.LEFT, Cycle.RIGHT, Cycle.STEER]
    # Five runs of 120 frames: at its fastest a sine moves by 2π/119 of its height in a frame.
    assert (np.abs(np.diff(travel.values, axis=0)).max(axis=0) <= np.array([70.0, 70.0, 1.0]) * 2.0 * np.pi / 118).all()
    assert (travel.values[0] == 0.0).all()
    for frames in (2, 3, 7):
        assert len(cycle(front, Cycle.ALL, frames)) == frames
    with pytest.raises(CallError, match="a film of 1 frame does not move"):
        cycle(front, Cycle.ALL, 1)


def test_all_cycles_end_at_ride_height_and_do_not_stand_still_where_they_join(front) -> None:
    travel = cycle(front, Cycle.ALL, 600)
    assert np.abs(travel.values[-1]).max() < 1e-12  # a sine of 2π is 2e-16; times 70 mm
    assert (np.abs(np.diff(travel.values, axis=0)).max(axis=1) > 1e-9).all()
