"""Against `scipy.optimize.least_squares`, pose by pose, on random mechanisms; it starts from its own last pose.

The reference knows only point coordinates (`pose_by_pose`); it walks in small steps, so that it stays in the assembly
that one can put together at ride height.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from pose_by_pose import Hung, PoseByPose
from zoo import axle_scene, built, scene_data, travel_of, without_hangers

from model.poses import Status
from model.solver import solve
from model.spatial import Array

# scipy stops at steps of 1e-10 of some 100 mm, and `WELL_HELD` lets a residual of 1e-9 mm move a point by 1e-7 mm.
AGREE = 1e-6
# Near-singular by rule: a random axle whose rows (in mm a mm, turns × 500 mm) have a singular value below this, at
# ride height or in any pose of the reference's walk, is left out. Real suspensions have 0.05 and more.
WELL_HELD = 0.02
WHEEL = np.array([0.0, 700.0, 300.0])
MIRROR = np.array([1.0, -1.0, 1.0])


def _between(low: float, high: float) -> st.SearchStrategy[float]:
    # Whole millimetres: a tape has no more, and an example that fails is then easy to read.
    return st.integers(int(low), int(high)).map(float)


def _box(
    x: tuple[float, float], y: tuple[float, float], z: tuple[float, float]
) -> st.SearchStrategy[tuple[float, ...]]:
    return st.tuples(_between(*x), _between(*y), _between(*z))


# A lower link each side, an upper one anywhere near the middle and a bar across behind the axle.
AXLES = st.fixed_dictionaries(
    {
        "near lower": st.tuples(_box((350, 900), (250, 550), (200, 400)), _box((-60, 60), (300, 550), (180, 320))),
        "far lower": st.tuples(_box((350, 900), (-550, -250), (200, 400)), _box((-60, 60), (-550, -300), (180, 320))),
        "upper": st.tuples(_box((250, 800), (-300, 300), (380, 600)), _box((-60, 60), (-300, 300), (400, 560))),
        "bar": st.tuples(_box((-200, -100), (350, 550), (220, 420)), _box((-200, -100), (-550, -350), (220, 420))),
    }
)
HEIGHTS = st.lists(st.tuples(_between(-90, 90), _between(-90, 90)), min_size=1, max_size=4)


def _smallest(reference: PoseByPose, x: Array) -> float:
    matrix = reference.derivative(x, np.zeros(2), 0.0)
    return float(np.linalg.svd(matrix, compute_uv=False)[-1])


@given(links=AXLES, heights=HEIGHTS)
@settings(max_examples=60, deadline=None)
def test_random_axles_on_four_links(
    links: dict[str, tuple[tuple[float, ...], tuple[float, ...]]], heights: list[tuple[float, float]]
) -> None:
    frame, body = (np.array([ends[k] for ends in links.values()]) for k in (0, 1))
    reference = PoseByPose([Hung(frame, body, np.array([WHEEL, WHEEL * MIRROR]), np.zeros_like(frame))])
    assume(_smallest(reference, np.zeros(6)) > WELL_HELD)
    mechanism = built(axle_scene(links, travel=90.0))
    poses = solve(mechanism, travel_of(mechanism, np.array(heights)))
    axle = mechanism.body_number("axle")
    for number, pair in enumerate(np.array(heights)):
        found = reference.walk(pair, 0.0, steps=6)
        assume(np.abs(reference.residual(found, pair, 0.0)).max() < 1e-8)
        assume(min(_smallest(reference, reference.walk(pair * k, 0.0, 3)) for k in (0.5, 1.0)) > WELL_HELD)
        rotation, translation = reference.transforms(found)[0]
        assert poses.status[number] == Status.SOLVED
        for point in (WHEEL, WHEEL * MIRROR, *body):
            ours = poses.rotation[axle, number] @ point + poses.translation[axle, number]
            assert np.abs(ours - (rotation @ point + translation)).max() < AGREE


SHIFT = st.tuples(*[_between(-25, 25)] * 3)


@given(
    shifts=st.lists(SHIFT, min_size=9, max_size=9),
    steer=st.sampled_from([-1.0, -0.4, 0.0, 0.7, 1.0]),
    left=_between(-70, 70),
)
@settings(max_examples=40, deadline=None)
def test_random_corners_on_two_arms_and_a_tie_rod(
    shifts: list[tuple[float, float, float]], steer: float, left: float
) -> None:
    data = without_hangers(scene_data("wren_front"))
    names = ["lower_ball", "upper_ball", "lower_front_pivot", "lower_rear_pivot", "upper_front_pivot"]
    names += ["upper_rear_pivot", "rack_end", "tie_rod_outer", "wheel_centre"]
    for name, shift in zip(names, shifts, strict=True):
        data["points"][name] = [a + b for a, b in zip(data["points"][name], shift, strict=True)]
    # The coilover only follows; without it no shift can put its length outside its stroke. One corner is enough.
    del data["coilover"]
    for table in ("knuckle", "wheel", "arm", "link"):
        for entry in data[table].values():
            entry["mirror"] = False
    at = {name: np.array(data["points"][name]) for name in names}
    inner = ["lower_front_pivot", "lower_rear_pivot", "upper_front_pivot", "upper_rear_pivot", "rack_end"]
    outer = ["lower_ball", "lower_ball", "upper_ball", "upper_ball", "tie_rod_outer"]
    slides = np.zeros((5, 3))
    slides[4] = [0.0, -58.0, 0.0]  # the rack is behind the axle: to steer left it slides to the right
    reference = PoseByPose(
        [Hung(np.array([at[n] for n in inner]), np.array([at[n] for n in outer]), at["wheel_centre"][None], slides)]
    )
    found = reference.walk(np.array([left]), steer, steps=8)
    assume(min(_smallest(reference, np.zeros(6)), _smallest(reference, found)) > WELL_HELD)
    assume(np.abs(reference.residual(found, np.array([left]), steer)).max() < 1e-8)
    mechanism = built(data)
    poses = solve(mechanism, travel_of(mechanism, np.array([[left, steer]])))
    upright = mechanism.body_number("upright")
    rotation, translation = reference.transforms(found)[0]
    assert poses.status[0] == Status.SOLVED
    for name in dict.fromkeys(outer):
        ours = poses.rotation[upright, 0] @ at[name] + poses.translation[upright, 0]
        assert np.abs(ours - (rotation @ at[name] + translation)).max() < AGREE, name


@pytest.mark.parametrize("jacobian", [False, True])
def test_the_reference_itself_keeps_lengths_and_its_derivative_is_right(jacobian: bool) -> None:
    frame = np.array([[600.0, 400, 300], [600, -400, 300], [400, -100, 430], [-120, 450, 310]])
    body = np.array([[20.0, 450, 240], [20, -450, 240], [-10, -120, 420], [-120, -420, 300]])
    reference = PoseByPose([Hung(frame, body, np.array([WHEEL, WHEEL * MIRROR]), np.zeros((4, 3)))], jacobian=jacobian)
    heights = np.array([60.0, -35.0])
    x = reference.pose(np.zeros(6), heights)
    # 1e-8 mm: the promise of `TOLERANCE` on lengths of some 1000 mm, squared once more by the last step.
    assert np.abs(reference.residual(x, heights, 0.0)).max() < 1e-8
    steps = 1e-4 * np.eye(6)
    change = [reference.residual(x + h, heights, 0.0) - reference.residual(x - h, heights, 0.0) for h in steps]
    # Central differences of 1e-4 mm: rounding of 1e-13 mm over 2e-4 mm leaves 1e-9.
    assert np.abs(np.array(change).T / 2e-4 - reference.derivative(x, heights, 0.0)).max() < 1e-8
