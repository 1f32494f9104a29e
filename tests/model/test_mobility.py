"""What is loose and what is held twice over, named part by part."""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pytest
from zoo import (
    FOUR_LINKS,
    GIVING,
    RIGID,
    axle_scene,
    built,
    end,
    moved,
    parallel_arms,
    pitman_scene,
    scene_data,
    trailing_arm,
    travel_of,
)

from model.constraints import systems
from model.errors import SceneError
from model.findings import judge
from model.mechanism import Mechanism
from model.mobility import HARDLY, check_freedoms, held_twice, ride_rows, ride_twists
from model.poses import Status
from model.solver import solve


def _rigid(mechanism: Mechanism) -> Mechanism:
    assert mechanism.rigid is not None
    return mechanism.rigid


def _complaint(links: Mapping[str, tuple[Sequence[float], Sequence[float]]]) -> str:
    with pytest.raises(SceneError) as caught:
        built(axle_scene(links))
    assert len(caught.value.complaints) == 1
    return caught.value.complaints[0]


# S engineering forum; D: a free axle has 6 freedoms and must keep 2 (bump, roll): four two-ended links do it.
def test_four_links_hold_an_axle() -> None:
    mechanism = built(axle_scene(FOUR_LINKS))
    (system,) = systems(mechanism)
    assert (system.unknowns, len(system.members)) == (6, 6)


# The same line: five links, or two radius arms and a panhard bar, are over-constrained.
def test_a_fifth_link_is_one_too_many_and_those_that_fight_are_named() -> None:
    mechanism = built(axle_scene(FOUR_LINKS | {"second upper": ((400, 250, 440), (-10, 260, 430))}))
    (held,) = held_twice(_rigid(mechanism))
    # A bar across the car has no part in a fight between links that run along it.
    assert (held.spare, set(held.members)) == (1, {"near lower", "far lower", "upper", "second upper"})


def test_two_radius_arms_and_a_panhard_bar_are_over_constrained() -> None:
    arms: dict[str, tuple[Sequence[float], Sequence[float]]] = {}
    for side, y in (("near", 400.0), ("far", -400.0)):
        for level, z in (("upper", 340.0), ("lower", 240.0)):
            arms[f"{side} {level}"] = ((700.0, y, 290.0), (0.0, y, z))
    (held,) = held_twice(_rigid(built(axle_scene(arms | {"panhard": FOUR_LINKS["panhard"]}))))
    assert (held.spare, set(held.members)) == (1, set(arms))
    (held,) = held_twice(_rigid(built(scene_data("tarn_front"))))
    assert (held.spare, set(held.members)) == (1, {"left radius arm", "right radius arm"})


def test_four_links_along_the_car_and_a_bar_across_are_over_constrained() -> None:
    (held,) = held_twice(_rigid(built(scene_data("parcel_rear"))))
    names = {f"{side} {level} link" for side in ("left", "right") for level in ("lower", "upper")}
    assert (held.spare, set(held.members)) == (1, names)


@pytest.mark.parametrize("missing", FOUR_LINKS)
def test_three_links_leave_the_axle_loose(missing: str) -> None:
    sentence = _complaint({name: ends for name, ends in FOUR_LINKS.items() if name != missing})
    assert sentence.startswith('"axle" is not held: 1 motion stays free')


def test_an_axle_on_no_link_keeps_four_freedoms() -> None:
    sentence = _complaint({})
    assert sentence.startswith('"axle" is not held: 4 motions stay free')


def test_links_that_are_all_parallel_are_both_too_many_and_too_few() -> None:
    links = {
        f"bar {k}": ((600.0, y, z), (0.0, y, z))
        for k, (y, z) in enumerate([(400.0, 250.0), (-400.0, 250.0), (200.0, 420.0), (-200.0, 420.0)])
    }
    # D: four forces along parallel lines have a resultant of three numbers; nothing holds the axle sideways, and no
    # give of the joints is asked to.
    assert _complaint(links).startswith('"axle" is not held: 1 motion')


def test_a_corner_without_its_tie_rod_is_loose_and_one_with_two_is_held_twice() -> None:
    data = parallel_arms()
    rod = data["link"].pop("tie rod")
    with pytest.raises(SceneError, match='"knuckle" is not held: 1 motion'):
        built(data)
    data["points"] |= {"second inner": [110.0, 250.0, 300.0], "second outer": [110.0, 600.0, 300.0]}
    second = {
        "from": rod["from"] | {"point": "second inner"},
        "to": rod["to"] | {"point": "second outer"},
    }
    data["link"] = {"tie rod": rod, "second rod": second}
    # Its bushes would have to give, and nobody has said how stiff they are.
    with pytest.raises(SceneError, match="hold one part twice over") as caught:
        built(data)
    for name in ("tie rod", "second rod"):
        assert f'"{name}"' in str(caught.value)


@pytest.mark.parametrize("name", [*RIGID, "pitman"])
def test_scenes_are_held_just_so_wherever_they_stand(name: str) -> None:
    mechanism = built(pitman_scene(parallelogram=True) if name == "pitman" else scene_data(name))
    turned = np.array([[0.0, -1.0, 0.0], [0.6, 0.0, -0.8], [0.8, 0.0, 0.6]])
    elsewhere = moved(mechanism, turned, np.array([4000.0, -300.0, 900.0]))
    check_freedoms(elsewhere)
    assert all(system.unknowns == len(system.members) for system in systems(elsewhere))
    # Sides that share no moving part come apart: two corners, or one axle, or everything behind one centre link.
    assert len(systems(mechanism)) == {"wren_front": 2, "parcel_front": 2}.get(name, 1)


@pytest.mark.parametrize("name", GIVING)
def test_what_fights_fights_wherever_it_stands(name: str) -> None:
    rigid = _rigid(built(scene_data(name)))
    turned = np.array([[0.0, -1.0, 0.0], [0.6, 0.0, -0.8], [0.8, 0.0, 0.6]])
    elsewhere = moved(rigid, turned, np.array([4000.0, -300.0, 900.0]))
    check_freedoms(elsewhere)
    here, there = held_twice(rigid), held_twice(elsewhere)
    assert [(held.spare, held.members) for held in here] == [(held.spare, held.members) for held in there]


@pytest.mark.parametrize("name", ["wren_front", "parcel_front", "pitman"])
def test_the_tangent_of_steering_is_the_slope_of_the_solved_turn(name: str) -> None:
    mechanism = built(pitman_scene(parallelogram=False) if name == "pitman" else scene_data(name))
    assert mechanism.steer is not None
    turned = ride_twists(mechanism, mechanism.steer)
    step = 1e-4
    poses = solve(mechanism, travel_of(mechanism, np.array([[0.0, 0.0, -step], [0.0, 0.0, step]])))
    for wheel in mechanism.wheels:
        rotation = poses.rotation[mechanism.body_number(wheel.on)]
        slope = (rotation[1] - rotation[0]) / (2.0 * step)
        seen = np.array([slope[2, 1] - slope[1, 2], slope[0, 2] - slope[2, 0], slope[1, 0] - slope[0, 1]]) / 2.0
        # The tangent itself is a one-sided difference over 1e-4 of lock: half of that step times a curvature of some 1.
        assert np.abs(seen - turned[wheel.on]).max() < 1e-3


def _steered_arm(on: str, lean: float) -> dict[str, Any]:
    """Two wheels on knuckles that turn on kingpins, and a rack: on trailing arms, or straight on the frame."""
    data = trailing_arm()
    data["points"] |= {
        "kingpin_low": [0.0, 600.0, 220.0],
        "kingpin_up": [0.0, 600.0 - lean, 380.0],
        "rod_in": [-120.0, 300.0, 300.0],
        "rod_out": [-120.0, 580.0, 300.0],
    }
    kingpin = [{"point": point, "joint": "ball joint"} for point in ("kingpin_low", "kingpin_up")]
    data["knuckle"] = {"knuckle": {"mirror": True, "on": on, "kingpin": kingpin}}
    data["wheel"]["wheel"] |= {"on": "knuckle", "mirror": True}
    rod = {
        "from": end("rod_in", "rack", "up", "ball joint"),
        "to": end("rod_out", "knuckle", "up", "ball joint"),
    }
    data["link"] = {"tie rod": rod | {"mirror": True}}
    data["steering"] = {"kind": "rack", "axis": "across", "lock": 40}
    if on == "frame":
        del data["arm"]
    else:
        data["arm"][on]["mirror"] = True
    return data


def test_a_kingpin_on_an_arm_makes_the_arm_a_body_that_steers_its_wheel() -> None:
    mechanism = built(_steered_arm("trailing arm", 0.0))
    poses = solve(mechanism, travel_of(mechanism, np.array([[0.0, 0.0, 0.5], [80.0, 0.0, 0.0]])))
    assert (poses.status == Status.SOLVED).all()
    knuckle, arm = (poses.rotation[mechanism.body_number(f"left {name}")] for name in ("knuckle", "trailing arm"))
    # D: the rack goes 20 mm against a steering arm of 120 mm; the rod's own angle changes that by its cosine.
    assert np.arctan2(knuckle[0, 1, 0], knuckle[0, 0, 0]) == pytest.approx(np.arcsin(20.0 / 120.0), rel=0.05)
    # D: an arm of 400 mm that rises by 80 turns by asin 0.2, and the knuckle with it; the tie rod steers it a little
    # meanwhile, which moves the wheel's centre, 50 mm out of the kingpin, by some mm along the arm.
    assert abs(arm[1, 2, 0]) == pytest.approx(0.2, abs=0.01)
    assert abs(knuckle[1, 2, 0]) == pytest.approx(0.2, abs=0.01)
    judge(poses)


@pytest.mark.parametrize("lean", [0.0, 20.0])
def test_a_kingpin_on_the_frame_cannot_go_up_and_down(lean: float) -> None:
    with pytest.raises(SceneError) as caught:
        built(_steered_arm("frame", lean))
    assert caught.value.complaints == tuple(
        f'"{side} wheel" and "{side} knuckle" hold one part twice over and no joint there gives, so that it cannot go '
        "up and down; hang it on links, an arm or an axle that can."
        for side in ("left", "right")
    )


def test_a_steered_axle_without_its_tie_rod_has_a_knuckle_that_is_not_held() -> None:
    # One motion too few and one row too many cancel in a count: the leaning kingpin's turn lifts the wheel a little.
    data = copy.deepcopy(scene_data("tarn_front"))
    del data["link"]["tie rod"]
    with pytest.raises(SceneError) as caught:
        built(data)
    assert caught.value.complaints == (
        '"left knuckle" is not held: it turns freely about its kingpin; add the tie rod or drag link that is missing, '
        "or check that the ends name the right part in `on`.",
    )


def test_both_knuckles_are_named_where_nothing_leads_to_the_steering() -> None:
    data = copy.deepcopy(scene_data("tarn_front"))
    del data["link"]["drag link"], data["steering"]
    with pytest.raises(SceneError, match='"left knuckle" and "right knuckle" are not held: they turn freely about'):
        built(data)


def test_an_axle_on_two_radius_arms_without_a_bar_across_is_not_held_sideways() -> None:
    data = scene_data("tarn_front")
    del data["link"]["panhard bar"]
    with pytest.raises(SceneError) as caught:
        built(data)
    # By rank its rows are as many as it needs: two arms that are not quite parallel leave it by a thousandth of itself.
    (complaint,) = caught.value.complaints
    assert complaint.startswith('"axle" is not held: with every wheel height given it still moves sideways, by about ')
    assert complaint.endswith(
        "add the link, arm or strut that is missing, or check that the ends name the right part in `on`."
    )


def test_what_stands_at_its_dead_centre_at_ride_height_alone_is_held() -> None:
    # D: 0.1 % of its length before it stands upright an arm of 400 mm is held by cos φ; elsewhere by ever more.
    data = trailing_arm(400.0, travel=2.0)
    data["points"]["centre"] = [400.0 - 0.5, 650.0, 300.0 + 400.0]
    mechanism = built(data)
    assert np.linalg.svd(ride_rows(*systems(mechanism), 1), compute_uv=False)[-1] < HARDLY
