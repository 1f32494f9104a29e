"""Aids of a still: rulers show the wheels' heights, ghosts ride height, sections the inside of a joint."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from zoo import NAMES, built, scene_data

from model.errors import DrawingError
from model.findings import judge
from model.measures import place_text
from model.poses import Poses
from model.solver import solve
from model.travel import single
from model.units import Length
from viz.aids import Aids
from viz.ruler import draw_rulers, rulers
from viz.stage import Stage
from viz.still import busy_pixels, write_still
from viz.views import View

pytestmark = pytest.mark.drawing
SIZE = (640, 400)


def lifted(name: str) -> Poses:
    mechanism = built(scene_data(name))
    return solve(mechanism, single(mechanism, left=30.0, right=-20.0))


@pytest.mark.parametrize("view", [View.FRONT, View.REAR, View.SIDE, View.THREE_QUARTER, View.REAR_THREE_QUARTER])
@pytest.mark.parametrize("name", NAMES)
def test_a_ruler_points_at_the_height_of_its_wheel(name: str, view: View) -> None:
    poses = lifted(name)
    travel = {drive.name: drive for drive in poses.mechanism.drives}
    with Stage(poses, SIZE) as stage:
        stage.aim(stage.camera(view))
        found = rulers(stage, poses, 0, Length.MM, busy_pixels(stage.picture()))
        assert found
        for ruler in found:
            wheel = next(wheel for wheel in poses.mechanism.wheels if wheel.name == ruler.wheel)
            drive = travel[wheel.side]
            assert (ruler.low, ruler.high) == (drive.low, drive.high)
            assert ruler.now == pytest.approx(30.0 if wheel.side == "left" else -20.0)
            # A straight upright line in perspective: the pointer lies on it, between ride height and its end.
            end = ruler.top if ruler.now > 0.0 else ruler.foot
            share = (ruler.at - ruler.ride) @ (end - ruler.ride) / ((end - ruler.ride) @ (end - ruler.ride))
            expected = ruler.now / (ruler.high if ruler.now > 0.0 else ruler.low)
            # Over some hundred mm of a picture from metres away the scale changes by a few percent.
            assert share == pytest.approx(expected, abs=0.05)
        picture = Image.new("RGB", SIZE)
        boxes = draw_rulers(picture, found, Length.MM)
    labels = [box for number, box in enumerate(boxes) if number % 4 < 3]
    assert not any(a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3] for a, b in combinations(labels, 2))
    assert all(box[0] >= 0 and box[1] >= 0 and box[2] <= SIZE[0] and box[3] <= SIZE[1] for box in labels)


def test_labels_keep_off_rulers(tmp_path: Path) -> None:
    mechanism = built(scene_data("tarn_rear"))
    poses = solve(mechanism, single(mechanism, left=200.0, right=-200.0))
    size = (1200, 750)
    marks = write_still(poses, judge(poses), tmp_path / "a.png", size=size, aids=Aids(ruler=True))
    with Stage(poses, (size[0], size[1] - 58)) as stage:
        stage.aim(stage.camera("three-quarter"))
        found = rulers(stage, poses, 0, Length.MM, busy_pixels(stage.picture()))
    for mark in marks:
        for ruler in found:
            if mark.label is not None:
                left, top, right, bottom = mark.label
                spots = np.linspace(ruler.foot, ruler.top, 9)
                x, y = spots.T
                assert not ((x > left) & (x < right) & (y > top) & (y < bottom)).any()


def test_a_ghost_stays_at_ride_height_and_in_frame() -> None:
    poses = lifted("wren_front")
    with Stage(poses, SIZE) as stage:
        stage.aim(stage.camera("front"))
        alone = np.asarray(stage.picture(), dtype=float)
        bounds = stage.cloud()
        stage.show_ghost()
        assert len(stage.cloud()) > len(bounds)
        camera = stage.camera("front")
        stage.aim(camera)
        seen = stage.project(stage.cloud())
        assert (seen >= 0).all()
        assert (seen <= SIZE).all()
        assert np.abs(np.asarray(stage.picture(), dtype=float) - alone).max() > 5.0


def test_a_frame_that_is_seen_through_comes_back_with_the_next_look() -> None:
    with Stage(lifted("tarn_front"), SIZE) as stage:
        stage.aim(stage.camera("side"))
        whole = np.asarray(stage.picture())
        stage.see_through()
        assert np.abs(np.asarray(stage.picture(), dtype=float) - whole).max() > 20.0
        stage.aim(stage.camera("side"))
        assert np.array_equal(np.asarray(stage.picture()), whole)


def test_a_section_shows_nothing_before_the_joint_and_is_refused_elsewhere() -> None:
    poses = lifted("wren_front")
    joint = next(joint for joint in poses.mechanism.arms[0].pivots)
    where = place_text(poses.mechanism.arms[0].name, joint)
    with Stage(poses, SIZE) as stage:
        camera = stage.camera(f"joint:{where}", across=True)
        # Square to the bolt, so that the cut runs along it.
        assert abs(float(camera.direction @ joint.bolt)) < 1e-9
        stage.aim(camera)
        whole = np.asarray(stage.picture())
        stage.section()
        assert camera.target is not None
        assert np.abs(np.asarray(stage.picture(), dtype=float) - whole).max() > 50.0
        stage.aim(camera)
        assert np.array_equal(np.asarray(stage.picture()), whole)
        stage.aim(stage.camera("front"))
        with pytest.raises(DrawingError, match="joint:NAME"):
            stage.section()
