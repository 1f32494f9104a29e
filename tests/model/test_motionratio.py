"""Motion ratios against the closed form of a trailing arm, and between a solid axle's two ways of moving."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from zoo import FOUR_LINKS, axle_scene, built, scene_data, trailing_arm

from model.cycles import Cycle
from model.mechanism import Mechanism
from model.motionratio import motion_ratios

RADIUS, FOOT, TALL = 400.0, 250.0, 380.0


def test_of_a_trailing_arm_is_the_slope_of_the_triangle() -> None:
    scene = trailing_arm(RADIUS)
    scene["points"] |= {"foot": [RADIUS - FOOT, 550.0, 300.0], "top": [RADIUS - FOOT, 550.0, 300.0 + TALL]}
    scene["coilover"] = {
        "damper": {
            "top": {"point": "top", "on": "frame", "joint": "rubber bush", "bolt": "across"},
            "bottom": {"point": "foot", "on": "trailing arm", "joint": "rubber bush", "bolt": "across"},
            "compressed": 200.0,
            "extended": 600.0,
        }
    }
    (found,) = motion_ratios(built(scene))
    # The foot goes round the pivot: x = FOOT (1 − cos θ), z = FOOT sin θ, with sin θ = height / RADIUS.
    angle = np.arcsin(found.heights / RADIUS)
    ahead, above = FOOT * (1.0 - np.cos(angle)), TALL - FOOT * np.sin(angle)
    slope = -(ahead * FOOT * np.sin(angle) - above * FOOT * np.cos(angle)) / np.hypot(ahead, above)
    # The slope itself, up to both ends of the travel: roundings of 1e-12 mm over lengths of some 400 mm.
    assert found.ratios == pytest.approx(slope / (RADIUS * np.cos(angle)), abs=1e-11)
    assert found.ride == pytest.approx(FOOT / RADIUS, abs=1e-11)
    assert (found.run, found.heights.min(), found.heights.max()) == (Cycle.LEFT, -100.0, 100.0)


def test_of_a_solid_axle_crossed_is_smaller_by_how_far_in_the_coilovers_stand() -> None:
    found = {(each.coilover, each.run): each for each in motion_ratios(built(scene_data("tarn_rear")))}
    together, crossed = found["left coilover", Cycle.BOTH], found["left coilover", Cycle.CROSS]
    # The axle turns about a point between the wheels: a foot at 554 mm of the wheel's 780 moves by some 554 / 780 of
    # it; the coilover leans inwards and so takes up the cosine of its lean of that, and less of its own sideways move.
    assert 0.85 * 554 / 780 < crossed.ride < 554 / 780
    assert 0.9 < together.ride < 1.1
    mirrored = found["right coilover", Cycle.CROSS]
    assert mirrored.ride == pytest.approx(crossed.ride, abs=1e-9)


def _renamed(name: str, by: dict[str, str]) -> Mechanism:
    """A scene's mechanism whose coilovers have other names."""
    mechanism = built(scene_data(name))
    units = tuple(replace(unit, name=by[unit.name]) for unit in mechanism.coilovers)
    return replace(mechanism, coilovers=units)


@pytest.mark.parametrize("name", ["tarn_rear", "wren_front"])
def test_the_side_of_a_coilover_is_that_of_the_wheel_that_moves_it(name: str) -> None:
    other = {"left coilover": "right-hand unit", "right coilover": "left-hand unit"}
    known = {(other[each.coilover], each.run): each for each in motion_ratios(built(scene_data(name)))}
    for each in motion_ratios(_renamed(name, other)):
        same = known[each.coilover, each.run]
        assert each.ratios == pytest.approx(same.ratios, abs=1e-12)
        assert each.heights == pytest.approx(same.heights, abs=1e-12)


def test_a_coilover_in_the_middle_of_an_axle_has_no_side_and_crossed_no_ratio() -> None:
    data = axle_scene(FOUR_LINKS)
    eye = {"joint": "rubber bush", "bolt": "across"}
    data["points"] |= {"top": [0.0, 0.0, 800.0], "foot": [0.0, 0.0, 350.0]}
    data["coilover"] = {
        "spring": {
            "top": {"point": "top", "on": "frame", **eye},
            "bottom": {"point": "foot", "on": "axle", **eye},
            "compressed": 300.0,
            "extended": 600.0,
        }
    }
    (found,) = motion_ratios(built(data))
    assert (found.run, found.heights.min(), found.heights.max()) == (Cycle.BOTH, -80.0, 80.0)
    # D: upright, in the middle between both wheels, it goes as far as they do but for what the axle pitches.
    assert found.ride == pytest.approx(1.0, abs=0.05)
