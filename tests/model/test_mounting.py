"""What a place for a coilover comes to: ratio, spring for the same wheel rate and forces, against closed forms."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from zoo import built, on_link, scene_data, trailing_arm, travel_of

from model.comparison import compare
from model.members import posture
from model.mounting import Mounting, frame_loads, frequency, mountings, same_rate
from model.rates import spring_force
from model.review import review
from model.solver import solve
from model.travel import grid


def on_trailing_arm(foot: float, rate: float, lean: float = 0.0) -> dict[str, Any]:
    """A trailing arm of 400 mm with a coilover `foot` mm behind its pivots, upright but for `lean` mm."""
    data = trailing_arm(400.0)
    reach = 400.0 - foot
    data["points"] |= {"foot": [reach, 550.0, 300.0], "top": [reach + lean, 550.0, 700.0]}
    end = {"joint": "rod end", "bolt": "across"}
    data["coilover"] = {
        "coilover": {
            "top": {"point": "top", "on": "frame"} | end,
            "bottom": {"point": "foot", "on": "trailing arm"} | end,
            "compressed": 250,
            "extended": 500,
            "spring": {"rate": rate, "free_length": 350},
        }
    }
    data["weights"] = {"wheel": 250, "unsprung": 30}
    return data


def test_of_an_upright_coilover_on_a_level_arm_the_ratio_is_the_lever() -> None:
    # D: the foot rises foot/400 of what the wheel does. Level and upright, as the arm turns by φ with radius 400 mm the
    # wheel rises 400 sin φ; the foot goes aside only to second order, so that the length changes by a sin φ + (a (1 −
    # cos φ))²/2L, whose second derivative at φ = 0 is 0 and so is dS/dz.
    (found,) = mountings(built(on_trailing_arm(250.0, 30.0)))
    assert found.ratio == pytest.approx(250.0 / 400.0, abs=1e-9)
    assert found.change == pytest.approx(0.0, abs=1e-8)
    assert (found.room_in, found.room_out, found.stroke) == pytest.approx((150.0, 100.0, 250.0))
    assert found.force == pytest.approx(30.0 * 100.0)
    # Barton & Fieldhouse, Automotive Chassis Engineering, eq. 3.33: wheel rate = rate × ratio².
    assert found.wheel_rate == pytest.approx(30.0 * 0.625**2)


def test_ride_frequency_is_that_of_a_mass_on_a_spring() -> None:
    mechanism = built(on_trailing_arm(250.0, 30.0))
    found = mountings(mechanism)
    # f = √(k/m)/2π with k in N/m and m in kg.
    assert frequency(mechanism, found) == pytest.approx(np.sqrt(1000.0 * 30.0 * 0.625**2 / 220.0) / (2.0 * np.pi))
    assert frequency(replace(mechanism, weights=None), found) is None


def test_the_spring_for_the_same_wheel_rate_follows_the_square_of_the_ratio() -> None:
    (near,), (far,) = (mountings(built(on_trailing_arm(foot, 30.0))) for foot in (320.0, 200.0))
    # D: without a change of the ratio k' = k (S/S')².
    assert same_rate(near, far) == pytest.approx(30.0 * (320.0 / 200.0) ** 2)
    assert same_rate(near, near) == pytest.approx(30.0)


def test_the_spring_that_is_named_gives_the_same_wheel_rate_when_it_is_built_in() -> None:
    # Checked by differences of spring force × ratio over poses that are solved again.
    (first,) = mountings(built(on_trailing_arm(320.0, 30.0, lean=-60.0)))
    (second,) = mountings(built(on_trailing_arm(220.0, 40.0, lean=90.0)))
    rate = same_rate(first, second)
    assert rate is not None
    assert first.force is not None
    wanted = first.force * first.ratio / second.ratio
    mechanism = built(on_trailing_arm(220.0, rate, lean=90.0))
    (unit,) = mechanism.coilovers
    assert unit.spring is not None
    # Preloaded so that it carries the wheel as the first does.
    preload = wanted / rate - second.room_out
    unit = replace(unit, spring=replace(unit.spring, preload=preload))
    step = 0.5
    heights = step * np.array([[-1.5], [-0.5], [0.5], [1.5]])
    lengths = posture(solve(mechanism, travel_of(mechanism, heights))).strokes[0].length
    energy = 0.5 * spring_force(unit, lengths)[0] ** 2 / rate
    # Second derivative of the energy by (E₃ − E₂ − E₁ + E₀)/(2 step²); its error is step²/… of fourth derivatives.
    stiffness = (energy[3] - energy[2] - energy[1] + energy[0]) / (2.0 * step**2)
    assert stiffness == pytest.approx(first.wheel_rate, rel=1e-4)


def test_without_a_spring_or_a_ratio_no_spring_is_named() -> None:
    (found,) = mountings(built(on_trailing_arm(250.0, 30.0)))
    bare = replace(found, rate=None, force=None, wheel_rate=None)
    assert same_rate(bare, found) is None
    assert same_rate(found, replace(found, ratio=0.001)) is None
    # A ratio that falls so fast that no spring makes up for it.
    assert same_rate(found, replace(found, change=1.0)) is None


def test_nearer_to_the_frame_a_coilover_on_a_link_needs_a_stiffer_spring_and_pushes_harder() -> None:
    mechanisms = [built(on_link(share)) for share in (0.9, 0.7)]
    (first, *_), (second, *_) = (mountings(mechanism) for mechanism in mechanisms)
    rate = same_rate(first, second)
    assert first.rate is not None
    assert rate is not None
    assert rate > first.rate
    pushes = [
        np.linalg.norm(frame_loads(mechanism).rest["left coilover", "at frame"].force) for mechanism in mechanisms
    ]
    # D: virtual work, force × ratio is what the wheel carries above its own weight, to what leans.
    assert pushes[1] / pushes[0] == pytest.approx(first.ratio / second.ratio, rel=1e-6)


def test_without_weights_it_is_said_why_forces_are_not_told() -> None:
    data = on_trailing_arm(250.0, 30.0)
    del data["weights"]
    loads = frame_loads(built(data))
    assert loads.rest == {}
    assert "[weights]" in loads.why


def test_a_comparison_holds_coilovers_of_the_same_name() -> None:
    other = copy.deepcopy(scene_data("wren_rear"))
    other["coilover"] = {"other": other["coilover"]["coilover"]}
    reviews = []
    for scene in (scene_data("wren_rear"), other):
        mechanism = built(scene)
        reviews.append(review(solve(mechanism, grid(mechanism, 3, 3))))
    assert compare(*reviews).mountings == ()
    pairs = compare(reviews[0], reviews[0]).mountings
    assert [(one.coilover, one == two) for one, two in pairs] == [("left coilover", True), ("right coilover", True)]
    assert isinstance(pairs[0][0], Mounting)
