"""Roll centres and side-view slopes against worked examples and classic constructions on paper."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from zoo import NAMES, axle_scene, built, end, parallel_arms, scene_data, trailing_arm, travel_of

from model import instantcentres
from model.curves import curve, curves
from model.mechanism import Mechanism
from model.poses import Poses
from model.solver import solve
from model.spatial import Array


def _at(mechanism: Mechanism, *drives: float) -> Poses:
    return solve(mechanism, travel_of(mechanism, np.array([drives])))


def _two_sided(changes: dict[str, list[float]]) -> dict[str, Any]:
    """Both wheels on A-arms whose pivots lie along the car, so that each moves in the plane across it."""
    data = parallel_arms()
    for name in ("arm", "knuckle", "wheel", "link"):
        for entry in data[name].values():
            entry["mirror"] = True
    data["points"] |= changes
    return data


def test_parallel_equal_arms_have_their_roll_centre_on_the_ground() -> None:
    found = _at(built(_two_sided({})), 0.0, 0.0)
    assert curve(found, "roll centre height").values == pytest.approx([0.0], abs=1e-9)


def _meet(a: Array, b: Array, c: Array, d: Array) -> Array:
    """Where the line through two points (2,) meets that through two others."""
    along = np.linalg.solve(np.stack([b - a, c - d], axis=1), c - a)[0]
    return np.asarray(a + along * (b - a))


def _on_paper(poses: Poses, hand: float) -> tuple[Array, Array]:
    """Contact and instant centre (2,) of one side, drawn in the plane across the car."""
    mechanism, side = poses.mechanism, "left" if hand > 0.0 else "right"
    number = mechanism.body_number(f"{side} knuckle")
    turned, moved = poses.rotation[number, 0, 1:, 1:], poses.translation[number, 0, 1:]

    def carried(y: float, z: float) -> Array:
        return np.asarray(turned @ [hand * y, z] + moved)

    lower = np.array([hand * 250.0, 180.0]), carried(600.0, 180.0)
    upper = np.array([hand * 330.0, 395.0]), carried(575.0, 420.0)
    # The wheel's disc stays square to its axis, which turns with the knuckle.
    down = turned @ [0.0, -1.0]
    return carried(670.0, 290.0) + 290.0 * down, _meet(*lower, *upper)


@pytest.mark.parametrize("heights", [(0.0, 0.0), (25.0, 25.0), (-40.0, -40.0), (30.0, -20.0)])
def test_unequal_arms_have_it_where_lines_drawn_on_paper_meet(heights: tuple[float, float]) -> None:
    # From memory of every textbook: the lines of both arms of a side meet in its instant centre, the lines from there
    # to the tyres' contacts in the roll centre. The tie rod lies beside the lower arm: nothing leaves the plane.
    changes = {
        "upper front": [120.0, 330.0, 395.0],
        "upper rear": [-120.0, 330.0, 395.0],
        "upper ball": [0.0, 575.0, 420.0],
        "rod inner": [-110.0, 250.0, 180.0],
        "rod outer": [-110.0, 600.0, 180.0],
    }
    poses = _at(built(_two_sided(changes)), *heights)
    (left, one), (right, other) = (_on_paper(poses, hand) for hand in (1.0, -1.0))
    sideways, height = _meet(left, one, right, other)
    road = left[1] + (sideways - left[0]) * (right[1] - left[1]) / (right[0] - left[0])
    # The solver's 1e-9 mm, grown by lines that meet under some degrees.
    assert curve(poses, "roll centre sideways").values[0] == pytest.approx(sideways, abs=1e-6)
    assert curve(poses, "roll centre height").values[0] == pytest.approx(height - road, abs=1e-6)


LEVEL_LINKS = {
    "near": ((600, 400, 300), (0, 400, 300)),
    "far": ((600, -400, 300), (0, -400, 300)),
    "upper": ((600, 0, 430), (0, 0, 430)),
}


@pytest.mark.parametrize("drop", [0.0, 60.0, -35.0])
def test_an_axle_on_a_panhard_bar_rolls_about_where_the_bar_crosses_the_middle(drop: float) -> None:
    # D: three level links along the car let every point of the axle move in the plane across it; the bar's end on the
    # axle moves square to the bar, the middle between both wheels neither up nor down.
    bar = ((-120.0, 450.0, 360.0), (-120.0, -380.0, 360.0 - drop))
    poses = _at(built(axle_scene(LEVEL_LINKS | {"panhard": bar})), 0.0, 0.0)
    crossing = 360.0 - drop * 450.0 / 830.0
    assert curve(poses, "roll centre height").values == pytest.approx([crossing], abs=1e-7)
    assert curve(poses, "roll centre sideways").values == pytest.approx([0.0], abs=1e-7)


def test_an_axle_on_a_level_panhard_bar_shifts_along_its_arc() -> None:
    bar = ((-120.0, 455.0, 300.0), (-120.0, -380.0, 300.0))
    found = curve(_at(built(axle_scene(LEVEL_LINKS | {"panhard": bar})), 50.0, 50.0), "axle side shift").values
    # Owners' measurements, and D L − √(L² − h²): a bar of 835 mm, 50 mm off level, draws the axle 1.498 mm sideways.
    # Links of 600 mm draw it 2.1 mm along the car as well, which takes 2.1²/2/835 mm more of the bar.
    assert found == pytest.approx([1.498 + 0.0026], abs=5e-4)
    # D: the axle does not turn, so that each link is the diagonal of height, side shift and what it is drawn ahead.
    shift = ahead = 0.0
    for _ in range(20):
        shift = 835.0 - np.sqrt(835.0**2 - 50.0**2 - ahead**2)
        ahead = 600.0 - np.sqrt(600.0**2 - 50.0**2 - shift**2)
    assert found == pytest.approx([shift], abs=1e-8)


def test_an_axle_on_a_watts_linkage_hardly_shifts_and_rolls_about_its_middle() -> None:
    far = {
        name: ((1900.0, y, z), (0.0, y, z)) for name, y, z in (("near", 400, 300), ("far", -400, 300), ("up", 0, 430))
    }
    data = axle_scene(far, travel=110.0)
    data["points"] |= {
        "front pin": [-110.0, 0.0, 300.0],
        "rear pin": [-130.0, 0.0, 300.0],
        "high": [-120.0, 0.0, 400.0],
        "low": [-120.0, 0.0, 200.0],
        "high frame": [-120.0, 350.0, 400.0],
        "low frame": [-120.0, -350.0, 200.0],
    }
    pins = [{"point": f"{which} pin", "joint": "ball joint"} for which in ("front", "rear")]
    data["arm"] = {"centre link": {"on": "axle", "pivots": pins}}
    for which in ("high", "low"):
        bar = {"from": end(f"{which} frame", "frame", "along"), "to": end(which, "centre link", "along")}
        data["link"][f"{which} bar"] = bar
    mechanism = built(data)
    heights = np.array([[0.0, 0.0], [25.0, 25.0], [50.0, 50.0], [75.0, 75.0], [100.0, 100.0]])
    poses = solve(mechanism, travel_of(mechanism, heights))
    # D: arms 350, centre link 200. The figures stand for a plane; the long links draw the axle up to 2.6 mm out of it,
    # which both arms share, so that the figures' own last digit is what is left.
    shift = np.abs(curve(poses, "axle side shift").values)
    assert shift == pytest.approx([0.0, 0.0003, 0.0093, 0.0726, 0.319], abs=1e-3)
    # D: the pin of the centre link cannot move sideways.
    assert curve(poses, "roll centre height").values[0] == pytest.approx(300.0, abs=1e-6)


def test_a_trailing_arm_turns_about_its_pivot_seen_from_the_side() -> None:
    poses = solve(built(trailing_arm(400.0)), travel_of(built(trailing_arm(400.0)), np.array([0.0])))
    found = {each.what: each.values[0] for each in curves(poses)}
    assert found["side-view instant centre ahead"] == pytest.approx(400.0, abs=1e-7)
    assert found["side-view instant centre height"] == pytest.approx(300.0, abs=1e-7)
    # D: the line from the contact to the pivot, which rises ahead.
    assert found["braking force angle"] == pytest.approx(-np.arctan2(300.0, 400.0), abs=1e-9)


def test_an_inboard_brake_pushes_along_the_path_of_the_wheels_centre() -> None:
    data = trailing_arm(400.0)
    data["wheel"]["wheel"] |= {"brake_torque": "frame", "driven": True, "drive_torque": "carrier"}
    data["points"] |= {"near": [400.0, 600.0, 360.0], "far": [400.0, 300.0, 360.0]}
    mechanism = built(data)
    found = {each.what: each.values[0] for each in curves(solve(mechanism, travel_of(mechanism, np.array([0.0]))))}
    # D: without the torque of the brake the force acts as if at the wheel's centre, 60 mm below the pivot.
    assert found["braking force angle"] == pytest.approx(-np.arctan2(60.0, 400.0), abs=1e-9)
    assert found["drive force angle"] == pytest.approx(-np.arctan2(360.0, 400.0), abs=1e-9)


def test_the_angle_for_a_quarter_of_anti_dive() -> None:
    # A builder's log, and D share · tan a · wheelbase/height: brake share 60 %, wheelbase 2550, centre of gravity 600,
    # 25 % of anti-dive is an angle of 5.6°.
    found = instantcentres.anti(np.radians(np.array(5.6)), front=True, share=0.6, wheelbase=2550.0, height=600.0)
    assert found == pytest.approx(0.25, abs=0.0025)


def test_a_live_axle_with_all_of_its_squat_held() -> None:
    # Barton & Fieldhouse, Automotive Chassis Engineering, eq. 3.63: instant centre 50 ahead and 10 up, wheelbase 100,
    # centre of gravity 20 up.
    twist = np.array([0.0, 0.0, 0.0, 0.0, 1.0 / 50.0, 0.0])
    contact = np.array([0.0, 0.0, 0.0])
    # About the instant centre at (50, 0, 10): v = −w × c.
    twist[:3] = -np.cross(twist[3:], [50.0, 0.0, 10.0])
    ahead, above = instantcentres.side_view_centre(twist, contact)
    assert (ahead, above) == (pytest.approx(50.0), pytest.approx(10.0))
    moves = instantcentres.contact_moves(twist, contact, np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0]),
                                         on_carrier=True)  # fmt: skip
    found = instantcentres.anti(instantcentres.force_angle(moves), front=False, share=1.0, wheelbase=100.0, height=20.0)
    assert found == pytest.approx(1.0)


def test_lines_that_are_parallel_meet_nowhere() -> None:
    left, right = np.array([0.0, 700.0, 0.0]), np.array([0.0, -700.0, 0.0])
    aslant, straight = np.array([0.0, 0.2, 1.0]), np.array([0.0, 0.0, 1.0])
    sideways, height = instantcentres.roll_centre_of_two(left, aslant, right, aslant)
    assert np.isnan(sideways)
    assert np.isnan(height)
    sideways, height = instantcentres.roll_centre_of_two(left, straight, right, straight)
    assert np.isnan(sideways)
    assert height == 0.0


@pytest.mark.parametrize("name", NAMES)
def test_the_roll_centre_is_where_contacts_of_poses_solved_again_turn_about(name: str) -> None:
    mechanism = built(scene_data(name))
    low, high = (np.array([getattr(drive, end) for drive in mechanism.drives]) for end in ("low", "high"))
    values = low + (high - low) * np.random.default_rng(5).uniform(0.2, 0.8, size=(5, len(low)))
    poses = solve(mechanism, travel_of(mechanism, values))
    left, right = (drive.name for drive in mechanism.drives[:2])
    assert {left, right} == {"left", "right"}
    moves = {}
    for wheel in mechanism.wheels:
        number = mechanism.body_number(wheel.on)
        axis = poses.rotation[number] @ wheel.axis
        centre = poses.rotation[number] @ wheel.centre + poses.translation[number]
        down = axis[:, 2:] * axis - [0.0, 0.0, 1.0]
        contact = centre + wheel.loaded_radius * down / np.linalg.norm(down, axis=1)[:, None]
        held = np.einsum("nji,nj->ni", poses.rotation[number], contact - poses.translation[number])
        for drive in (0, 1):
            step = np.eye(len(low))[drive]
            ends = []
            for sign in (-1.0, 1.0):
                beside = solve(mechanism, travel_of(mechanism, values + 0.05 * sign * step))
                ends.append(np.einsum("nij,nj->ni", beside.rotation[number], held) + beside.translation[number])
            moves[wheel.side, mechanism.drives[drive].name] = contact, (ends[1] - ends[0]) / 0.1
    one, other = moves["left", "left"][0], moves["right", "right"][0]
    if np.abs(moves["left", "right"][1]).max() > 0.0:
        rolled = [moves[side, "left"][1] - moves[side, "right"][1] for side in ("left", "right")]
        sideways, height = instantcentres.roll_centre_of_axle(one, rolled[0], other, rolled[1])
    else:
        sideways, height = instantcentres.roll_centre_of_two(
            one, moves["left", "left"][1], other, moves["right", "right"][1]
        )
    # Differences over 0.1 mm leave out their third derivatives, 1e-8 of a slope, and keep 1e-8 of the solver's 1e-9 mm:
    # 1e-6 of a track of 1.5 m where lines meet under some degrees.
    assert curve(poses, "roll centre height").values == pytest.approx(height, abs=2e-3)
    assert curve(poses, "roll centre sideways").values == pytest.approx(sideways, rel=1e-5, abs=2e-3)
