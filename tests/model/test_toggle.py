"""How near a linkage is to a toggle: closed forms of single links, an independent solver, and what must not fool it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pose_by_pose import Hung, PoseByPose
from zoo import (
    NAMES,
    built,
    guided_bar,
    pitman_scene,
    planar,
    scene_data,
    short_steering_arm,
    trailing_arm,
    travel_of,
    without_hangers,
)

from model.findings import judge
from model.measures import Measure
from model.mechanism import Mechanism
from model.poses import Status
from model.solver import solve
from model.spatial import Array
from model.toggle import LAST, NEAR, toggle_measures
from model.travel import grid
from model.verdicts import State

# 1e-9 mm of the solver, over the sine of the nearest angle to a dead centre that is looked at here (0.05), and squared.
EXACT = 1e-6


def _measures(mechanism: Mechanism, values: Array) -> list[Measure]:
    poses = solve(mechanism, travel_of(mechanism, values))
    assert (poses.status == Status.SOLVED).all()
    return list(toggle_measures(poses))


@pytest.mark.parametrize("radius", [150.0, 400.0])
def test_a_trailing_arm_leaves_the_cosine_of_its_angle(radius: float) -> None:
    heights = radius * np.array([-0.998, -0.5, 0.0, 0.7, 0.95, 0.998])
    (found,) = _measures(built(trailing_arm(radius, travel=radius)), heights)
    # D: the wheel's centre runs square to the arm: for 10 mm of it the height changes by 10 cos φ, sin φ = h/R.
    assert np.abs(found.values - LAST * np.sqrt(1.0 - (heights / radius) ** 2)).max() < EXACT
    assert found.where == "wheel"
    centre = np.stack([radius - np.sqrt(radius**2 - heights**2), np.full(6, 650.0), 300.0 + heights], axis=-1)
    assert np.abs(found.at - centre).max() < EXACT


def test_a_panhard_bar_leaves_the_cosine_of_its_angle() -> None:
    length = 600.0
    heights = length * np.array([-0.99, 0.0, 0.3, 0.9])
    (found,) = _measures(guided_bar(length), heights)
    # D: the axle slips sideways by tan φ for each mm that it rises, so that it moves by 1 / cos φ.
    assert np.abs(found.values - LAST * np.sqrt(1.0 - (heights / length) ** 2)).max() < EXACT
    # Held at its height and pushed sideways it stretches the bar by as much: a small push, scaled to 10 mm.
    push = 1e-3
    stretched = np.hypot(np.sqrt(length**2 - heights**2) + push, heights) - length
    assert np.abs(found.values - LAST / push * stretched).max() < 1e-4  # the second order: 10 · 1e-3 / 2 / 600 mm


def test_a_four_bar_leaves_what_its_speeds_say_and_names_the_link_in_line() -> None:
    crank_end, far = np.array([0.0, 300.0, 0.0]), np.array([0.0, 340.0, 260.0])
    pivot = far + np.array([0.0, 160.0, 280.0])
    mechanism = planar({"crank": (np.zeros(3), crank_end), "rocker": (pivot, far)}, driven=crank_end)
    lock = solve(mechanism, travel_of(mechanism, np.array([-150.0])))
    heights = np.array([-150.0 * lock.reached[0] * 0.97, 0.0, 30.0, 60.0])
    poses = solve(mechanism, travel_of(mechanism, heights))
    assert (lock.status[0], *poses.status) == (Status.LOCKED, *[Status.SOLVED] * 4)
    (found,) = toggle_measures(poses)
    step = 1e-3
    ahead, behind = (solve(mechanism, travel_of(mechanism, heights + sign * step)) for sign in (1.0, -1.0))
    ends = np.array([crank_end, far, np.zeros(3), [0.0, 100.0, 0.0], [0.0, 0.0, 100.0]])  # every anchor on the coupler
    places = [ends @ np.swapaxes(p.rotation[1], 1, 2) + p.translation[1][:, None] for p in (ahead, behind)]
    speed = np.linalg.norm((places[0] - places[1]) / (2.0 * step), axis=-1).max(axis=1)
    # Central differences of 1e-3 mm: the solver's 1e-9 mm over 2e-3 mm, and their own error near the lock.
    assert np.abs(found.values - LAST / speed).max() < 1e-4
    assert found.values[0] < NEAR.close < found.values[-1]
    assert found.culprit is not None
    assert (found.culprit(0), lock.locks[lock.locked_by[0]]) == ("rocker", "rocker")


def test_the_tie_rod_is_named_before_it_locks_and_speeds_agree_with_scipy() -> None:
    data = without_hangers(short_steering_arm())
    mechanism = built(data)
    shares = np.array([0.2, 0.5, 0.7, 0.78])
    poses = solve(mechanism, travel_of(mechanism, shares[:, None] * [0.0, 0.0, -1.0]))
    assert (poses.status == Status.SOLVED).all()
    found = {measure.where: measure for measure in toggle_measures(poses)}
    assert set(found) == {"left wheel", "right wheel", "rack"}
    rack = found["rack"]
    assert rack.culprit is not None
    assert rack.culprit(3) == "right tie rod"

    at = {name: np.array(point) * [1.0, -1.0, 1.0] for name, point in data["points"].items()}
    inner = ["lower_front_pivot", "lower_rear_pivot", "upper_front_pivot", "upper_rear_pivot", "rack_end"]
    outer = ["lower_ball", "lower_ball", "upper_ball", "upper_ball", "tie_rod_outer"]
    slides = np.zeros((5, 3))
    slides[4] = [0.0, -58.0, 0.0]
    frame, body = (np.array([at[name] for name in names]) for names in (inner, outer))
    right = PoseByPose([Hung(frame, body, at["wheel_centre"][None], slides)], jacobian=True)
    ends = np.vstack([body, at["wheel_centre"]])
    small = 1e-4
    for number, share in enumerate(shares):
        places = []
        for sign in (1.0, -1.0):
            rotation, translation = right.transforms(right.walk(np.zeros(1), -share + sign * small, steps=40))[0]
            places.append(ends @ rotation.T + translation)
        speed = np.linalg.norm((places[0] - places[1]) / (2.0 * small * 58.0), axis=1).max()
        # scipy's 1e-8 mm over 2e-4 of 58 mm, and the difference's own error near the dead centre.
        assert abs(rack.values[number] - LAST / max(speed, 1.0)) < 2e-3
    assert (np.diff(rack.values) < 0.0).all()
    assert rack.values[-1] < NEAR.close < rack.values[0]


def test_a_lock_is_warned_of_before_it_comes() -> None:
    verdict = judge(solve(mechanism := built(trailing_arm(400.0, travel=396.0)), grid(mechanism, 5)))
    finding = next(finding for finding in verdict.findings if finding.what == "toggle")
    # D: 10 cos φ with sin φ = 0.99.
    assert finding.used == pytest.approx(LAST * np.sqrt(1.0 - 0.99**2), abs=EXACT)
    assert (finding.state, finding.where, finding.part) == (State.CLOSE, "wheel, trailing arm", "trailing arm")
    assert abs(finding.drives[0]) == pytest.approx(396.0)
    healthy = judge(solve(mechanism := built(trailing_arm(400.0, travel=100.0)), grid(mechanism, 5)))
    finding = next(finding for finding in healthy.findings if finding.what == "toggle")
    assert (finding.state, finding.where, finding.part) == (State.CLEAR, "wheel", "wheel")


@pytest.mark.parametrize("name", [*NAMES, "pitman"])
def test_no_scene_of_the_project_comes_near_a_toggle(name: str) -> None:
    mechanism = built(pitman_scene(parallelogram=False) if name == "pitman" else scene_data(name))
    for measure in toggle_measures(solve(mechanism, grid(mechanism, 5, 5))):
        # Near twice the distance from which on it warns: links of a sound suspension stay within 55° of square.
        assert measure.values.min() > 1.9 * NEAR.close, measure.where
        assert measure.values.max() <= LAST + EXACT


@given(base=st.integers(30, 300).map(float))
def test_an_arm_on_a_narrow_base_is_no_toggle(base: float) -> None:
    data = trailing_arm(400.0)
    data["points"]["far"][1] = 600.0 - base
    (found,) = _measures(built(data), np.array([-100.0, 0.0, 100.0]))
    assert np.abs(found.values - LAST * np.sqrt(1.0 - np.array([0.25, 0.0, 0.25]) ** 2)).max() < EXACT


@pytest.mark.parametrize("name", ["wren_front", "tarn_rear"])
def test_neither_size_nor_unit_changes_it(name: str) -> None:
    data = without_hangers(scene_data(name))
    for table in ("coilover", "shaft", "frame"):
        data.pop(table, None)
    half = without_hangers(data)
    half["points"] = {point: [0.5 * x for x in at] for point, at in data["points"].items()}
    half["travel"] = {key: 0.5 * value for key, value in data["travel"].items()}
    half["wheel"]["wheel"] |= {key: 0.5 * half["wheel"]["wheel"][key] for key in ("loaded_radius", "rim_diameter")}
    if "steering" in data:
        half["steering"] = data["steering"] | {"lock": 0.5 * data["steering"]["lock"]}
    first, second = (
        list(toggle_measures(solve(mechanism := built(each), grid(mechanism, 3, 3)))) for each in (data, half)
    )
    for one, other in zip(first, second, strict=True):
        assert np.abs(one.values - other.values).max() < EXACT
