"""Assembly: what an ordinary and an odd scene become, and what is said of one that cannot be built.

Where a test gives no source, its expectation follows from the scene file's own definitions (D).
"""

import copy
import json
import re
from typing import Any

import numpy as np
import pytest
from zoo import (
    FOUR_LINKS,
    NAMES,
    axle_scene,
    built,
    parallel_arms,
    pitman_scene,
    scene_data,
    trailing_arm,
    without_hangers,
)

from model.errors import SceneError
from model.findings import judge
from model.mechanism import Mechanism
from model.members import point_positions, posture
from model.poses import Poses, Status
from model.solver import solve
from model.travel import grid
from model.units import MM_PER_INCH
from model.verdicts import State

# Corrections below 1e-9 mm are noise in the solver (model.newton.NOISE); two solves of one pose agree to a few of them.
SAME = 1e-8


def complaints_of(data: dict[str, Any]) -> tuple[str, ...]:
    with pytest.raises(SceneError) as caught:
        built(data)
    return caught.value.complaints


def solved(mechanism: Mechanism) -> Poses:
    """All corners and the middle of the travel, every one of them reached."""
    poses = solve(mechanism, grid(mechanism, 5, 3))
    assert (poses.status == Status.SOLVED).all()
    return poses


def without_mirror(data: dict[str, Any]) -> dict[str, Any]:
    """A mirrored scene's left half only."""
    half = without_hangers(data)
    for table in ("link", "arm", "knuckle", "wheel", "coilover", "strut", "frame"):
        for entry in half.get(table, {}).values():
            entry.pop("mirror", None)
    half.pop("frame", None)
    return half


def to_the_right(data: dict[str, Any]) -> dict[str, Any]:
    """The same corner on the other side: every y turned around."""
    return copy.deepcopy(data) | {"points": {name: [x, -y, z] for name, (x, y, z) in data["points"].items()}}


# -- scenes that must work ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["wren_front", "parcel_front"])
def test_a_left_corner_alone_moves_as_it_does_in_the_pair(name):
    pair, alone = built(scene_data(name)), built(without_mirror(scene_data(name)))
    assert [drive.name for drive in alone.drives] == ["left", "steer"]
    poses, both = solved(alone), solved(pair)
    level = both.travel.column("right") == 0.0
    knuckle = next(body.name for body in alone.bodies if body.motion == "free")
    there = point_positions(alone, posture(poses).parts)["wheel_centre"]
    here = posture(both.take(np.flatnonzero(level))).parts[f"left {knuckle}"].point(pair.wheels[0].centre)
    np.testing.assert_allclose(there, here, rtol=0, atol=SAME)


@pytest.mark.parametrize("name", ["wren_front", "parcel_front"])
def test_a_right_corner_alone_is_the_left_one_mirrored(name):
    half = without_mirror(scene_data(name))
    left, right = built(half), built(to_the_right(half))
    assert [drive.name for drive in right.drives] == ["right", "steer"]
    steer = solved(right).travel.column("steer")
    there = point_positions(right, posture(solved(right)).parts)
    here = point_positions(left, posture(solved(left)).parts)
    # Mirrored steering goes the other way: the grid's rows in the other order of steering.
    order = np.lexsort((-steer, solved(right).travel.column("right")))
    for point, places in here.items():
        np.testing.assert_allclose(there[point][order] * [1, -1, 1], places, rtol=0, atol=SAME, err_msg=point)


def test_no_coilovers_and_no_steering():
    data = without_hangers(scene_data("wren_front"))
    del data["coilover"], data["steering"]
    data["link"]["tie rod"]["from"]["on"] = "frame"
    mechanism = built(data)
    assert mechanism.steer is None
    measured = {finding.what for finding in judge(solved(mechanism)).findings}
    assert not measured & {"stroke in", "stroke out", "spring squeeze"}


def test_an_axle_with_one_wheel_is_asked_for_the_other():
    data = axle_scene(FOUR_LINKS)
    data["wheel"]["wheel"]["mirror"] = False
    assert complaints_of(data) == (
        '[axle."axle"] carries "wheel" and no other wheel; add mirror = true to it, or the other wheel.',
    )


def test_a_knuckle_written_once_between_mirrored_arms_is_told_from_two():
    data = scene_data("wren_front")
    del data["knuckle"]["upright"]["mirror"]
    assert '[knuckle."upright"] is one part, and what names it is mirrored; add mirror = true to it.' in complaints_of(
        data
    )
    # An upright without a table of its own.
    data = scene_data("wren_front")
    del data["knuckle"]
    assert complaints_of(data)[0].endswith('or add [knuckle."upright"] if it is an upright.')


def test_lengths_that_no_part_has_are_in_the_other_unit():
    for table, change, said in (
        ("travel", {"bump": 2000.0}, "[travel] bump has a wheel travel of 2000 mm, expected 1710 mm at most"),
        ("hose", {"left": {"length": 9652.0}}, "has a length of 9652 mm, expected 2000 mm at most"),
        ("points", {"panhard_axle": [-140.0, -15982.0, 300.0]}, "has a length between its points of 16452 mm"),
    ):
        data = scene_data("wren_rear")
        if table == "hose":
            name = next(iter(data["hose"]))
            data["hose"][name] |= change["left"]
        else:
            data[table] |= change
        assert any(said in complaint and "units" in complaint for complaint in complaints_of(data)), complaints_of(data)


def test_a_bolt_along_its_link_is_refused():
    data = scene_data("wren_rear")
    data["link"]["panhard bar"]["from"]["bolt"] = "across"
    (said,) = complaints_of(data)
    assert said == (
        '[link."panhard bar"] from has a bolt that lies along the link, 0° from it, where no eye can sit; expected one '
        'that crosses it: another of "across", "along" and "up", or a vector.'
    )


def test_a_bar_is_written_left_first():
    data = scene_data("wren_front")
    bar = data["bar"]["anti-roll bar"]
    bar["ends"].reverse()
    assert '[bar."anti-roll bar"] has its right one first in ends; write the left one first.' in complaints_of(data)
    bar["ends"] = [bar["ends"][0]] * 2
    assert any("the ends of both arms in the same place" in said for said in complaints_of(data))


def test_a_trailing_arm_carries_its_wheel_on_a_circle():
    mechanism = built(trailing_arm(radius=400.0, travel=100.0))
    poses = solved(mechanism)
    centre = point_positions(mechanism, posture(poses).parts)["centre"]
    height = poses.travel.column("left")
    # D: a circle of 400 mm about a point level with the wheel; it is 400 − √(400² − h²) nearer at height h.
    np.testing.assert_allclose(centre[:, 0], 400.0 - np.sqrt(400.0**2 - height**2), rtol=0, atol=SAME)


def test_an_arm_mounted_on_an_axle_keeps_its_ball_on_the_frame():
    links = {name: ends for name, ends in FOUR_LINKS.items() if "lower" in name}
    data = axle_scene(links)
    data["points"] |= {"front": [330, 0, 420], "near": [-20, 250, 425], "far": [-20, -250, 425]}
    data["arm"] = {
        "bracket arm": {
            "on": "axle",
            "pivots": [{"point": "near", "joint": "rubber bush"}, {"point": "far", "joint": "rubber bush"}],
            "ball": {"point": "front", "on": "frame", "joint": "ball joint"},
        }
    }
    mechanism = built(data)
    parts = posture(solved(mechanism)).parts
    np.testing.assert_allclose(
        parts["bracket arm"].point(np.array([330.0, 0.0, 420.0])), [[330.0, 0.0, 420.0]] * 25, rtol=0, atol=SAME
    )


def test_a_track_rod_from_knuckle_to_knuckle_keeps_its_length():
    data = without_hangers(scene_data("wren_front"))
    rod = data["points"]["tie_rod_outer"]
    data["link"] = {
        "track rod": {
            "from": {"point": "left tie_rod_outer", "on": "left upright", "joint": "ball joint"},
            "to": {"point": "right tie_rod_outer", "on": "right upright", "joint": "ball joint"},
        },
        "drag link": {
            "from": {"point": "left rack_end", "on": "rack", "joint": "inline ball joint"},
            "to": {"point": "left tie_rod_outer", "on": "left upright", "joint": "ball joint"},
        },
    }
    mechanism = built(data)
    points = point_positions(mechanism, posture(solved(mechanism)).parts)
    length = np.linalg.norm(points["left tie_rod_outer"] - points["right tie_rod_outer"], axis=-1)
    np.testing.assert_allclose(length, 2.0 * rod[1], rtol=0, atol=SAME)


def test_a_coilover_on_a_link_moves_with_the_link():
    data = scene_data("wren_rear")
    front, rear = (np.array(data["points"][name], dtype=float) for name in ("lower_front", "lower_rear"))
    share = 0.7
    foot = front + share * (rear - front)
    data["points"]["coilover_foot"] = foot.tolist()
    data["coilover"]["coilover"] |= {"compressed": 200, "extended": 640}
    data["coilover"]["coilover"]["bottom"]["on"] = "lower link"
    mechanism = built(data)
    now = posture(solved(mechanism))
    points = point_positions(mechanism, now.parts)
    for side in ("left", "right"):
        along = points[f"{side} lower_front"] + share * (points[f"{side} lower_rear"] - points[f"{side} lower_front"])
        eye = next(stroke for stroke in now.strokes if stroke.coilover.name == f"{side} coilover").bottom
        np.testing.assert_allclose(eye, along, rtol=0, atol=SAME)
        np.testing.assert_allclose(points[f"{side} coilover_foot"], along, rtol=0, atol=SAME)


def test_a_housing_axis_moves_the_middle_of_a_ball_joints_swing():
    data = parallel_arms()
    tilted = copy.deepcopy(data)
    tilted["arm"]["lower arm"]["ball"]["housing_axis"] = [0, float(np.sin(0.2)), float(np.cos(0.2))]
    plain, offset = (
        next(joint for joint in posture(solved(built(scene))).joints if joint.end.point == "lower ball")
        for scene in (data, tilted)
    )
    at_ride = 2  # the middle of five heights
    assert plain.tilt[at_ride] == pytest.approx(0.0, abs=1e-7)  # an arc cosine near one keeps half the digits
    assert offset.tilt[at_ride] == pytest.approx(0.2, abs=1e-7)


def test_an_unused_joint_and_an_unused_point_do_no_harm():
    data = parallel_arms()
    data["joint"] = {"spare": {"kind": "rod end"}}
    data["points"]["spare"] = [1, 2, 3]
    mechanism = built(data)
    places = point_positions(mechanism, posture(solved(mechanism)).parts)["spare"]
    np.testing.assert_array_equal(places, [[1.0, 2.0, 3.0]] * 5)


def test_inches_are_millimetres_in_other_words():
    data = scene_data("wren_front")
    inches = in_inches(data)
    metric, imperial = built(data), built(inches)
    assert [drive.high for drive in imperial.drives] == pytest.approx(
        [drive.high for drive in metric.drives], rel=1e-12
    )
    ours, theirs = (
        {(found.what, found.where): found for found in judge(solved(m)).findings} for m in (metric, imperial)
    )
    assert ours.keys() == theirs.keys()
    for key, found in ours.items():
        assert found.state is theirs[key].state
        # Dividing by 25.4 and multiplying again loses the last digit of each coordinate: 1e-13 mm of 1000; the arc
        # cosine of a small angle keeps half of the digits.
        assert found.used == pytest.approx(theirs[key].used, abs=1e-7)


def in_inches(data: dict[str, Any]) -> dict[str, Any]:
    """A scene in mm in inches and lbf/in (S: international yard and pound agreement of 1959)."""
    inch, pound = 25.4, 4.4482216152605
    lengths = {
        "loaded_radius", "width", "rim_diameter", "diameter", "compressed", "extended", "bump_stop", "body_diameter",
        "free_length", "preload", "solid_length", "outside_diameter", "wire_diameter", "lock", "bump", "droop",
        "section", "size", "tube_diameter", "housing_diameter", "engaged", "thread_diameter", "length",
    }  # fmt: skip

    def told(key: str, value: Any) -> Any:
        if key == "points":
            return {name: [x / inch for x in at] for name, at in value.items()}
        if isinstance(value, dict):
            return {inner: told(inner, entry) for inner, entry in value.items()}
        if key == "rate":
            return value * inch / pound
        if key in lengths:
            return [x / inch for x in value] if isinstance(value, list) else value / inch
        return value

    return {key: told(key, value) for key, value in data.items()} | {"units": "in"}


GREEK, CYRILLIC, CHINESE = "κέντρο τροχού", "поворотный кулак", "下控制臂"


def test_names_in_any_script():
    text = json.dumps(scene_data("wren_front"))
    for old, new in (("wheel_centre", GREEK), ("upright", CYRILLIC), ("lower arm", CHINESE)):
        assert f'"{old}"' in text
        text = text.replace(f'"{old}"', json.dumps(new))
    data = json.loads(text)
    mechanism = built(data)
    parts = posture(solved(mechanism)).parts
    assert {f"left {CYRILLIC}", f"right {CHINESE}"} <= parts.keys()
    assert f"left {GREEK}" in point_positions(mechanism, parts)
    places = {finding.where for finding in judge(solved(mechanism)).findings}
    assert f"left {CHINESE}, at {CYRILLIC}" in places


@pytest.mark.parametrize("parallelogram", [True, False])
def test_a_pitman_arm_steers(parallelogram):
    mechanism = built(pitman_scene(parallelogram=parallelogram))
    assert mechanism.steer is not None
    assert judge(solved(mechanism)).state is not State.LOCKED


# -- scenes that cannot be built ---------------------------------------------------------------------------------


def rear(**changes: Any) -> dict[str, Any]:
    """The rear axle with keys replaced, each given as `table__name__key`; `None` takes the key out."""
    data = scene_data("wren_rear")
    for path, value in changes.items():
        *tables, key = path.replace("_OF_", " ").split("__")
        place = data
        for table in tables:
            place = place[table]
        if value is None:
            del place[key]
        else:
            place[key] = value
    return data


HAS_NO_BOLT = 'from has no bolt direction; add bolt = "across", "along", "up", a vector or two points.'
NOT_HELD = (
    "is not held: 1 motion stays free with every wheel height given; add the link, arm or strut that is missing, or "
    "check that the ends name the right part in `on`."
)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"link__upper_OF_link__from__point": "uper_front"},
            '[link."upper link"] from.point is "uper_front", which is not in [points]; did you mean "upper_front"?',
        ),
        (
            {"link__upper_OF_link__from__point": "Left upper_frnt"},
            '[link."upper link"] from.point is "Left upper_frnt", which is not in [points]; '
            'did you mean "left upper_front"?',
        ),
        (
            {"points__lower_front": [15, 430, 235]},
            '[link."lower link"] has both ends in the same place; set the points apart by the part\'s length.',
        ),
        ({"link__panhard_OF_bar": None}, f'"axle" {NOT_HELD}'),
        (
            {"link__upper_OF_link__to__on": "frame"},
            '[link."upper link"] has both ends on "frame", where it does nothing; check its `on` keys.',
        ),
        (
            {"coilover__coilover__bottom__on": "axel"},
            '[coilover."coilover"] bottom.on is "axel", which is no part of this scene; did you mean "axle"?',
        ),
        (
            {"wheel__wheel__on": "lower link"},
            '[wheel."wheel"] on is "lower link", a link, which cannot hold this; only "axle" can stand here.',
        ),
        (
            {"wheel__wheel__on": "frame"},
            '[wheel."wheel"] on is "frame", which cannot hold this; only "axle" can stand here.',
        ),
        (
            {"coilover__coilover__top__on": "rack"},
            '[coilover."coilover"] top.on is "rack", which needs a [steering]; choose one of frame, axle, lower link, '
            "upper link, panhard bar.",
        ),
        ({"link__lower_OF_link__from__bolt": None}, f'[link."lower link"] {HAS_NO_BOLT}'),
        (
            {"link__lower_OF_link__from__bolt": ["diff", "diff"]},
            '[link."lower link"] from.bolt names two points in the same place; choose two that are apart.',
        ),
        (
            {"link__lower_OF_link__from__housing_axis": "up"},
            '[link."lower link"] from has a housing_axis, which only ball joints have; this is a poly bush.',
        ),
        (
            {"link__lower_OF_link__from__joint": "Poly Bush"},
            '[link."lower link"] from.joint is "Poly Bush", which is neither a [joint] nor a kind; '
            'did you mean "poly bush"?',
        ),
        (
            {"points__lower_rear": [15, -430, 235]},
            '[link."lower link"] to.point is "lower_rear", which lies on the right (y = -430); a mirrored half is '
            "written for the left, with y from 0 up; take mirror out if there is only one.",
        ),
        (
            {"coilover__coilover__spring__solid_length": 340},
            '[coilover."coilover"] spring is as long solid (340) as free (330); swap or correct them.',
        ),
        (
            {"coilover__coilover__spring__preload": 330},
            '[coilover."coilover"] spring has a preload (330) as long as the spring; it is a length.',
        ),
        (
            {"wheel__wheel__rim_diameter": 570},
            '[wheel."wheel"] has a rim_diameter as large as its tyre; expected less than 2 × loaded_radius.',
        ),
        (
            {"frame": {"box": {}}},
            '[frame."box"] needs exactly one of path (points), centre (of a box) and mesh (a file).',
        ),
        (
            {"frame": {"box": {"centre": "diff"}}},
            '[frame."box"] has a centre and needs size = [length, width, height].',
        ),
    ],
)  # fmt: skip
def test_one_mistake_one_sentence(changes, said):
    assert complaints_of(rear(**changes)) == (said,)


def test_lengths_the_wrong_way_round():
    said = complaints_of(rear(coilover__coilover__compressed=525, coilover__coilover__extended=320))
    assert said[0] == (
        '[coilover."coilover"] is longer compressed (525) than extended (320): full droop lies above full bump; '
        "swap the two."
    )


def test_a_coilover_that_does_not_fit_its_points():
    (said,) = complaints_of(rear(coilover__coilover__extended=400))
    assert said.endswith("outside its compressed 320 to extended 400; correct the points or the lengths.")


def test_one_link_too_many_names_the_links_that_fight():
    data = scene_data("wren_rear")
    data["link"]["fifth"] = copy.deepcopy(data["link"]["panhard bar"])
    data["link"]["fifth"]["from"]["point"] = "hoop_left"
    (said,) = complaints_of(data)
    assert '"fifth"' in said
    assert "hold one part twice over" in said


def test_two_wheels_on_a_side():
    data = scene_data("wren_rear")
    data["wheel"]["spare"] = data["wheel"]["wheel"]
    assert complaints_of(data) == (
        '[wheel."spare"] is a second wheel on the left; a scene has one axle\'s wheels.',
        '[wheel."spare"] is a second wheel on the right; a scene has one axle\'s wheels.',
    )


def test_a_mirrored_part_named_without_its_side():
    data = scene_data("wren_front")
    data["wheel"]["wheel"]["mirror"] = False
    assert complaints_of(data)[0] == (
        '[wheel."wheel"] on is "upright", of which there are two; add mirror = true to this entry too, or write '
        '"left upright" or "right upright".'
    )


def test_a_misspelt_side_part_suggests_the_side_part():
    data = scene_data("wren_front")
    data["link"]["tie rod"]["to"]["on"] = "left uprigth"
    assert complaints_of(data)[0] == (
        '[link."tie rod"] to.on is "left uprigth", which is no part of this scene; did you mean "left upright"?'
    )


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("lower arm", '[arm."lower arm"] has the name of [link."lower arm"]; give it a name of its own.'),
        ("frame", '[link."frame"] has the name of the frame itself; give it a name of its own.'),
        ("rack", '[link."rack"] has the name of a part of the steering; give it a name of its own.'),
        (
            "coilover body",
            '[link."coilover body"] has the name of a half of [coilover."coilover"]; give it another name.',
        ),
    ],
)
def test_names_that_collide(name, said):
    data = scene_data("wren_front")
    data["link"][name] = data["link"].pop("tie rod")
    assert complaints_of(data) == (said,)


@pytest.mark.parametrize(
    ("steering", "said"),
    [
        ({"kind": "rack"}, "[steering] needs lock, or lock_left and lock_right: how far it goes each way."),
        (
            {"kind": "rack", "lock_left": 50},
            "[steering] needs lock, or lock_left and lock_right: how far it goes each way.",
        ),
        (
            {"kind": "rack", "lock": 50, "pitman": {"pivot": "rack_end", "end": "rail_front"}},
            '[steering] is a rack and has no pitman or idler; use kind = "pitman" or leave them out.',
        ),
        ({"kind": "pitman", "lock": 30}, '[steering] has kind = "pitman" and needs a pitman = { pivot, axis, end }.'),
    ],
)
def test_steering_that_cannot_be(steering, said):
    assert said in complaints_of(scene_data("wren_front") | {"steering": steering})


def test_steering_that_moves_no_wheel():
    data = scene_data("wren_front")
    data["link"]["tie rod"]["from"]["on"] = "frame"
    assert complaints_of(data) == (
        '[steering] moves no wheel: add a tie rod with on = "rack", or check the axis along which it slides.',
    )


@pytest.mark.parametrize(("parallelogram", "part"), [(True, "centre link"), (False, "pitman arm")])
def test_a_pitman_that_moves_no_wheel_is_not_told_to_use_a_rack(parallelogram, part):
    data = pitman_scene(parallelogram=True)
    data["link"]["tie rod"]["from"]["on"] = "frame"
    if not parallelogram:
        del data["steering"]["idler"]
    assert complaints_of(data) == (
        f'[steering] moves no wheel: add a link with on = "{part}" that leads to the wheels, or check the axis about '
        "which the pitman arm turns.",
    )


@pytest.mark.parametrize("name", NAMES)
def test_a_point_in_mm_in_a_scene_in_inches_is_told_by_the_others(name):
    inches = scene_data(name)
    inches["points"] = {point: [x / MM_PER_INCH for x in at] for point, at in inches["points"].items()}
    inches["units"] = "in"
    for point, at in scene_data(name)["points"].items():
        wrong = inches | {"points": inches["points"] | {point: at}}
        told = [said for said in complaints_of(wrong) if said.startswith("[points] ")]
        assert len(told) == 1
        assert told[0].startswith(f"[points] {point} lies ")
        assert told[0].endswith("check it, or divide it by 25.4 if it is in mm.")


def test_a_point_with_a_digit_too_many_is_told_by_the_others():
    data = scene_data("wren_front")
    data["points"]["rack_end"][1] *= 100
    (told,) = (said for said in complaints_of(data) if said.startswith("[points] "))
    assert re.fullmatch(
        r"\[points\] rack_end lies [\d,]+ mm from the middle of all points, half of which lie within \d+ mm; check it "
        r"for a digit too many\.",
        told,
    )


def test_a_missing_point_is_said_once_for_each_entry():
    data = scene_data("wren_front")
    del data["points"]["lower_ball"]
    said = complaints_of(data)
    assert [sentence.partition("]")[0] for sentence in said] == ['[arm."lower arm"', '[arm."upper arm"']


def test_hundreds_of_complaints_are_counted_and_quick_to_find():
    data = axle_scene(FOUR_LINKS)
    data["points"] |= {f"point {k}": [1, 2, 3] for k in range(3000)}
    for k in range(1000):
        ends = {
            key: {"point": f"pont {k} {key}", "on": on, "joint": "ball joint"}
            for key, on in (("from", "frame"), ("to", "axle"))
        }
        data["link"][f"link {k}"] = ends
    said = complaints_of(data)
    assert len(said) == 31  # thirty and the count of the rest
    assert said[-1] == "1,970 more like these; correct the first ones and try again."


@pytest.mark.parametrize(("units", "radius"), [("in", 285), ("mm", 11.2)])
def test_a_scene_in_the_other_unit_is_told_by_its_wheel(units: str, radius: float) -> None:
    # P: common practice, no source: from a kart to a large truck a loaded radius is some 100 to 800 mm.
    data = scene_data("wren_rear")
    data["units"] = units
    data["wheel"]["wheel"] |= {"loaded_radius": radius, "rim_diameter": radius}
    with pytest.raises(SceneError) as caught:
        built(data)
    assert f"loaded_radius of {radius:g} {units}" in str(caught.value)
    assert f'units = "{units}"' in str(caught.value)
