"""The strip with a measure's curve: a dot where the value is, over is thicker, and small pictures have none."""

from __future__ import annotations

import numpy as np
import pytest
from zoo import built, scene_data

from model.cycles import Cycle
from model.findings import judge
from model.measures import Measure, Quantity, given_bound
from model.poses import Poses
from model.solver import solve
from model.tracks import tracks
from model.travel import cycle
from model.units import Length
from viz import style
from viz.curve import CurveStrip, strip_height
from viz.film import followed_measure

SIZE = (1000, 80)
COUNT = 41


@pytest.fixture(scope="module")
def poses() -> Poses:
    mechanism = built(scene_data("tarn_rear"))
    return solve(mechanism, cycle(mechanism, Cycle.CROSS, COUNT))


def measure_of(values: np.ndarray, limit: float) -> Measure:
    places = np.zeros((len(values), 3))
    return Measure("stroke", "left coilover", "left coilover", Quantity.LENGTH, given_bound(limit, "x"), values, places)


def strip_of(values: np.ndarray, limit: float, poses: Poses) -> CurveStrip:
    return CurveStrip(measure_of(values, limit), poses, SIZE, Length.MM, [("crossed up", 0)])


def test_the_dot_is_where_the_value_is(poses: Poses) -> None:
    strip = strip_of(np.linspace(0.0, 100.0, COUNT), 200.0, poses)
    first, middle, last = (strip.at(pose) for pose in (0, COUNT // 2, COUNT - 1))
    assert middle[0] == pytest.approx((first[0] + last[0]) / 2)
    assert middle[1] == pytest.approx((first[1] + last[1]) / 2)
    assert last[1] < first[1]
    pixels = np.asarray(strip.picture(COUNT // 2))
    x, y = (round(side) for side in middle)
    assert tuple(pixels[y, x]) == style.STATES["clear"].colour


def test_the_limit_and_all_values_are_inside(poses: Poses) -> None:
    for limit in (5.0, 60.0, 500.0):
        strip = strip_of(np.linspace(-20.0, 100.0, COUNT), limit, poses)
        heights = [strip.at(pose)[1] for pose in range(COUNT)]
        assert min(heights) > 0.0
        assert max(heights) < SIZE[1]


def test_over_is_told_by_thickness_too(poses: Poses) -> None:
    strip = np.asarray(strip_of(np.full(COUNT, 10.0), 20.0, poses).picture(0)).astype(int)
    thick = np.asarray(strip_of(np.full(COUNT, 30.0), 20.0, poses).picture(0)).astype(int)
    column = round(0.6 * SIZE[0])
    ground = np.array(style.STRIP)

    def painted(pixels: np.ndarray) -> int:
        return int((np.abs(pixels[:, column] - ground).max(axis=1) > 60).sum())

    assert painted(thick) > painted(strip)


def test_a_pose_that_locks_has_no_dot(poses: Poses) -> None:
    values = np.linspace(0.0, 100.0, COUNT)
    values[7] = np.nan
    strip = strip_of(values, 200.0, poses)
    assert np.isnan(strip.at(7)[1])
    assert strip.picture(7).size == SIZE


def test_small_pictures_have_no_strip() -> None:
    assert strip_height((320, 200)) == 0
    assert 40 < strip_height((1280, 720)) < 100


def test_what_is_followed_is_the_worst_or_of_the_joint_looked_at(poses: Poses) -> None:
    followed = tracks(poses)
    worst = judge(poses).worst
    assert worst is not None
    chosen = followed_measure(followed, poses, None)
    assert chosen is not None
    assert (chosen.what, chosen.where) == (worst.what, worst.where)
    named = followed_measure(followed, poses, "left upper link, at axle")
    assert named is not None
    assert named.where == "left upper link, at axle"
    assert followed_measure((), poses, None) is None


def test_a_part_whose_name_begins_like_another_is_not_taken_for_it() -> None:
    data = scene_data("tarn_rear")
    links = data["link"]
    links["link"], links["link 2"] = links.pop("lower link"), links.pop("upper link")
    mechanism = built(data)
    poses = solve(mechanism, cycle(mechanism, Cycle.CROSS, 9))
    for looked_at in ("left link, at axle", "left link 2, at axle"):
        measure = followed_measure(tracks(poses), poses, looked_at)
        assert measure is not None
        assert measure.where == looked_at
