"""Motion ratios against the closed form of a trailing arm, and between a solid axle's two ways of moving."""

from __future__ import annotations

import numpy as np
import pytest
from zoo import built, scene_data, trailing_arm

from model.cycles import Cycle
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
    # A central difference over 1 mm misses the slope by its second derivative / 24: below 1e-6 per mm here.
    assert found.ratios == pytest.approx(slope / (RADIUS * np.cos(angle)), abs=1e-6)
    assert found.ride == pytest.approx(FOOT / RADIUS, abs=1e-6)
    assert found.run is Cycle.LEFT


def test_of_a_solid_axle_crossed_is_smaller_by_how_far_in_the_coilovers_stand() -> None:
    found = {(each.coilover, each.run): each for each in motion_ratios(built(scene_data("tarn_rear")))}
    together, crossed = found["left coilover", Cycle.BOTH], found["left coilover", Cycle.CROSS]
    # The axle turns about a point between the wheels: a foot at 554 mm of the wheel's 780 moves by some 554 / 780 of
    # it; the coilover leans inwards and so takes up the cosine of its lean of that, and less of its own sideways move.
    assert 0.85 * 554 / 780 < crossed.ride < 554 / 780
    assert 0.9 < together.ride < 1.1
    mirrored = found["right coilover", Cycle.CROSS]
    assert mirrored.ride == pytest.approx(crossed.ride, abs=1e-9)
