"""What is set at ride height: plain distances between the scene's own points (D)."""

import math

import numpy as np
import pytest
from zoo import FOUR_LINKS, NAMES, axle_scene, built, end, parallel_arms, scene_data, trailing_arm

from model.sheetdata import FittedJoint, damper_lengths, fitted_joints, link_lengths, wheel_heights
from model.solver import solve
from model.travel import single

# Distances of points given to whole mm, worked out twice in doubles.
EXACT = 1e-9


def fitted(mechanism) -> tuple[FittedJoint, ...]:
    return fitted_joints(solve(mechanism, single(mechanism)))


def place(points: dict[str, list[float]], name: str) -> list[float]:
    """A named point; `right NAME` is the mirror image of what is written for the left."""
    x, y, z = points[name.removeprefix("left ").removeprefix("right ")]
    return [x, -y if name.startswith("right ") else y, z]


@pytest.mark.parametrize("name", NAMES)
def test_lengths_are_those_between_the_scenes_points(name):
    data = scene_data(name)
    mechanism, points = built(data), data["points"]
    mm = 25.4 if data["units"] == "in" else 1.0
    expected = {}
    for kind, start, stop in (("link", "from", "to"), ("coilover", "top", "bottom")):
        for part, entry in data.get(kind, {}).items():
            length = mm * math.dist(place(points, entry[start]["point"]), place(points, entry[stop]["point"]))
            names = [f"left {part}", f"right {part}"] if entry.get("mirror") else [part]
            expected |= dict.fromkeys(names, length)
    for part, entry in data.get("strut", {}).items():
        length = mm * math.dist(points[entry["top"]["point"]], points[entry["foot"]])
        expected |= {f"left {part}": length, f"right {part}": length}
    found = {made.name: made.length for made in (*link_lengths(mechanism), *damper_lengths(mechanism))}
    assert found == pytest.approx(expected, abs=EXACT)


def test_a_damper_says_what_is_left_of_its_stroke():
    left, right = damper_lengths(built(scene_data("wren_rear")))
    length = math.dist([-70, 400, 655], [-75, 455, 235])
    assert (left.length, left.compressed, left.extended, left.strut) == (pytest.approx(length), 320, 525, False)
    assert left.room_in == pytest.approx(length - 320)
    assert left.room_out == pytest.approx(525 - length)
    assert left.share_in == pytest.approx((length - 320) / 205)
    assert left.share_in + left.share_out == pytest.approx(1.0)
    assert right.length == pytest.approx(left.length, abs=EXACT)


def test_a_wheel_is_measured_to_the_bolt_most_nearly_above_it_on_both_sides_alike():
    mechanism = built(scene_data("wren_rear"))
    left, right = wheel_heights(mechanism, fitted(mechanism))
    assert (left.reference, right.reference) == ("left coilover, at frame", "right coilover, at frame")
    assert left.height == right.height == left.loaded_radius == 285
    assert left.rise == pytest.approx(655 - 285)
    assert right.rise == pytest.approx(left.rise, abs=EXACT)


def test_a_wheel_stands_as_the_scene_has_it_on_both_sides():
    # S ISO 8855: camber is positive where the top leans out, toe where the front points in.
    mechanism = built(scene_data("wren_front"))
    for wheel in wheel_heights(mechanism, fitted(mechanism)):
        assert (math.degrees(wheel.camber), math.degrees(wheel.toe)) == pytest.approx((-0.5, 0.1), abs=1e-9)


def test_a_bolt_without_its_like_on_the_other_side_is_passed_over():
    data = axle_scene(FOUR_LINKS)
    # Straight above the left wheel, and on the left alone.
    data["points"] |= {"tower": [0.0, 700.0, 800.0], "foot": [0.0, 400.0, 300.0]}
    data["coilover"] = {
        "helper": {
            "top": end("tower", "frame"),
            "bottom": end("foot", "axle"),
            "compressed": 300,
            "extended": 900,
        }
    }
    mechanism = built(data)
    left, right = wheel_heights(mechanism, fitted(mechanism))
    assert (left.reference, right.reference) == ("near lower, at frame", "far lower, at frame")


@pytest.mark.parametrize("rise", [-190.0, 190.0])
def test_a_bolt_may_as_well_be_below_the_centre_as_above(rise):
    data = axle_scene(FOUR_LINKS)
    for side, y in (("left", 640.0), ("right", -640.0)):
        data["points"] |= {f"{side[0]} upright": [0.0, y, 300.0 + rise], f"{side[0]} foot": [0.0, y - 60.0, 300.0]}
        data["coilover"] = data.get("coilover", {}) | {
            f"{side[0]} helper": {
                "top": end(f"{side[0]} upright", "frame"),
                "bottom": end(f"{side[0]} foot", "axle"),
                "compressed": 50,
                "extended": 900,
            }
        }
    mechanism = built(data)
    left, right = wheel_heights(mechanism, fitted(mechanism))
    assert (left.reference, right.reference) == ("l helper, at frame", "r helper, at frame")
    assert left.rise == right.rise == pytest.approx(rise)


def test_a_wheel_with_no_bolt_on_its_side_has_no_reference():
    data = trailing_arm()
    for name in ("near", "far"):
        data["points"][name][1] *= -1.0
    mechanism = built(data)
    (wheel,) = wheel_heights(mechanism, fitted(mechanism))
    assert (wheel.reference, wheel.rise) == (None, None)
    assert wheel.height == 300


def test_thread_is_told_in_its_own_diameters():
    data = axle_scene(FOUR_LINKS)
    data["joint"] = {"head": {"kind": "rod end", "thread_diameter": 12}}
    data["link"]["upper"]["from"] |= {"joint": "head", "engaged": 18}
    data["link"]["upper"]["to"] |= {"joint": "head"}
    joints = {joint.where: joint for joint in fitted(built(data))}
    assert joints["upper, at frame"].engaged_diameters == pytest.approx(1.5)
    assert joints["upper, at axle"].engaged_diameters is None


def test_heads_of_bars_are_threaded_and_eyes_of_arms_bushes_and_dampers_are_not():
    joints = {joint.where: joint for joint in fitted(built(scene_data("wren_rear")))}
    assert joints["panhard bar, at axle"].threaded
    assert not joints["left coilover, at axle"].threaded
    assert not joints["left lower link, at frame"].threaded
    arms = {joint.where: joint.threaded for joint in fitted(built(parallel_arms()))}
    assert {where for where, threaded in arms.items() if threaded} == {"tie rod, at frame", "tie rod, at knuckle"}


def test_shaft_joints_are_joints_too():
    data = axle_scene(FOUR_LINKS)
    data["points"] |= {"gearbox": [900.0, 0.0, 330.0], "flange": [150.0, 0.0, 310.0]}
    data["shaft"] = {
        "propshaft": {
            "from": {"point": "gearbox", "on": "frame", "axis": "along"},
            "to": {"point": "flange", "on": "axle", "axis": "along"},
        }
    }
    joints = fitted(built(data))
    shafts = [joint for joint in joints if joint.part == "propshaft"]
    assert [joint.where for joint in shafts] == ["propshaft, at frame", "propshaft, at axle"]
    np.testing.assert_allclose(shafts[1].at, [150.0, 0.0, 310.0])
    assert len(joints) == 10
