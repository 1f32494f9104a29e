"""Cameras keep the whole travel in frame, and close-ups show their joint."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from zoo import NAMES, built, scene_data

from model.errors import DrawingError
from model.measures import place_text
from model.solver import solve
from model.spatial import Array
from model.travel import Cycle, cycle
from viz.stage import Stage
from viz.views import VIEW_ANGLE, Camera, View, clearest, named_view

pytestmark = pytest.mark.drawing
SIZE = (480, 300)


def pinhole(camera: Camera, points: Array, size: tuple[int, int]) -> Array:
    """Pixels (k, 2) of points (k, 3) by the textbook's pinhole camera or parallel projection (D)."""
    towards = camera.direction
    right = np.cross(camera.up, towards)
    offset = points - camera.position
    x, y, depth = offset @ right, offset @ camera.up, -(offset @ towards)
    half = camera.half_height if camera.half_height is not None else depth * np.tan(np.radians(VIEW_ANGLE / 2))
    return np.stack([0.5 * size[0] + 0.5 * size[1] * x / half, 0.5 * size[1] - 0.5 * size[1] * y / half], axis=-1)


@pytest.fixture(scope="module", params=NAMES)
def stage(request: pytest.FixtureRequest) -> Iterator[Stage]:
    mechanism = built(scene_data(request.param))
    with Stage(solve(mechanism, cycle(mechanism, Cycle.ALL, 12)), SIZE) as stage:
        yield stage


@pytest.mark.parametrize("view", list(View))
def test_the_whole_travel_is_in_frame_and_fills_it(stage: Stage, view: View) -> None:
    cloud = stage.cloud()
    camera = stage.camera(view)
    stage.aim(camera)
    seen = stage.project(cloud)
    assert seen == pytest.approx(pinhole(camera, cloud, SIZE), abs=0.05)
    assert (seen >= 0).all()
    assert (seen <= SIZE).all()
    spread = (seen.max(axis=0) - seen.min(axis=0)) / SIZE
    assert spread.max() > 0.8


def test_each_view_looks_from_where_its_name_says() -> None:
    cloud = np.array([[-500.0, -800, 0], [500, 800, 900]])
    assert named_view("front", cloud, 1.6).direction == pytest.approx([1, 0, 0])
    assert named_view("rear", cloud, 1.6).direction == pytest.approx([-1, 0, 0])
    assert named_view("side", cloud, 1.6).direction == pytest.approx([0, 1, 0])
    assert named_view("top", cloud, 1.6).direction == pytest.approx([0, 0, 1])
    # From behind, the left-hand side is on the left: to the right of the picture is -y.
    behind = named_view("rear", cloud, 1.6)
    assert np.cross(behind.up, behind.direction) == pytest.approx([0, -1, 0])
    assert np.sign(named_view("three-quarter", cloud, 1.6).direction) == pytest.approx([1, 1, 1])
    assert np.sign(named_view("rear-three-quarter", cloud, 1.6).direction) == pytest.approx([-1, 1, 1])


def test_a_close_up_has_its_joint_in_the_middle_in_every_pose(stage: Stage) -> None:
    joint = stage.posture.joints[0]
    stage.aim(stage.camera(f"joint:{place_text(joint.member, joint.end)}"))
    seen = stage.project(joint.at)
    assert (np.abs(seen / SIZE - 0.5) < 0.5).all()


def test_parts_and_points_can_be_looked_at(stage: Stage) -> None:
    point = stage.poses.mechanism.points[0][0]
    unit = stage.poses.mechanism.coilovers[0]
    places = {point: stage.poses.mechanism.points[0][2], unit.name: unit.top.at, f"{unit.name} shaft": unit.top.at}
    for name, at in places.items():
        stage.aim(stage.camera(f"joint:{name}"))
        stage.show(0)
        seen = stage.project(at[None])
        assert (seen >= 0).all(), name
        assert (seen <= SIZE).all(), name


def test_an_unknown_view_or_name_is_said_with_the_nearest_names(stage: Stage) -> None:
    with pytest.raises(DrawingError, match=", ".join(View)):
        stage.camera("back")
    name = stage.poses.mechanism.coilovers[0].name
    with pytest.raises(DrawingError, match=f'"{name}"'):
        stage.camera(f"joint:{name}x")


def test_a_close_up_looks_past_what_stands_in_front() -> None:
    """A wall to the right of the joint leaves only looks from the left, or along the wall."""
    corners = [[0.0, -100.0, -9000.0], [0.0, -100.0, 9000.0]]
    wall = np.array([[*corners, [x, -100.0, 0.0]] for x in (-9000.0, 9000.0)])
    assert clearest(np.zeros(3), 50.0, None, wall)[1] >= 0.0
    assert clearest(np.zeros(3), 50.0, None, wall * [1, -1, 1])[1] <= 0.0
