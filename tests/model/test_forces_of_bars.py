"""Forces with anti-roll bars, on the frame and on a live axle, by hand and by virtual work; balances that fail."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from zoo import bar_on_the_axle, built, scene_data

from model.curves import curves
from model.errors import CallError
from model.forces import loads_of
from model.forcesolve import Forces, forces_in
from model.mechanism import LoadCase
from model.mounting import frame_loads
from model.rates import Moving
from model.solver import solve
from model.spatial import Array
from model.tangents import velocities
from model.travel import single

# Of forces of some kN: a linear solve of a few dozen unknowns loses a few of its sixteen digits.
ROUNDING = 1e-8
ROLLED = LoadCase("rolled", vertical=(1.4, 0.6), side=-0.5, at=(20.0, -20.0))


def test_an_anti_roll_bar_pulls_its_end_links_apart_in_roll() -> None:
    mechanism = built(scene_data("wren_front"))
    loads = loads_of(mechanism, ROLLED)
    (bar,) = mechanism.bars
    (twisted,) = loads.bars
    axial = {link.name: link.axial for link in loads.links}
    # End links stand nearly upright on arms that lie 139 mm behind the bushes: moment = force × lever to some per cent.
    assert twisted.moment == pytest.approx(axial["right end link"] * 139.0, rel=0.02)
    # The left wheel is up: the bar pushes it down, and pulls the right one up.
    assert axial["left end link"] < 0.0 < axial["right end link"]
    level = LoadCase("braking in a turn", vertical=(1.4, 0.6), brake=0.7, side=0.5)
    assert loads_of(mechanism, level).bars[0].moment == pytest.approx(0.0, abs=1e-6)
    assert bar.name == twisted.name


@pytest.mark.parametrize("change", [{"force": np.zeros((1, 3))}, {"moment": np.array([[0.0, 5e4, 0.0]])}], ids=list)
def test_a_balance_that_fails_is_refused_in_one_sentence_that_names_the_part(
    change: dict[str, Array], monkeypatch: pytest.MonkeyPatch
) -> None:
    def wrong(*given: Any) -> Forces:
        found = forces_in(*given)
        bush = next(each for each in found.pushes if (each.member, each.on) == ("anti-roll bar", "axle"))
        others = (each for each in found.pushes if each is not bush)
        return replace(found, pushes=(replace(bush, **change), *others))

    monkeypatch.setattr("model.forces.forces_in", wrong)
    with pytest.raises(CallError) as caught:
        loads_of(built(bar_on_the_axle()), ROLLED)
    (sentence,) = caught.value.complaints
    assert re.match('the forces on "(axle|anti-roll bar)" in the case "rolled" leave ', sentence)
    # A couple alone is as good a reason as a force.
    assert ("N and 50 N·m over" in sentence) == ("moment" in change)


def test_compare_says_why_it_tells_no_forces(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("model.forces.forces_in", lambda *given: replace(forces_in(*given), pushes=()))
    told = frame_loads(built(bar_on_the_axle()))
    assert "mistake in this program" in told.why
    assert not told.rest


@pytest.mark.parametrize("data", [bar_on_the_axle(), scene_data("wren_front")], ids=["on the axle", "on the frame"])
def test_coilovers_are_relieved_by_the_work_of_the_anti_roll_bar(data: dict[str, Any]) -> None:
    # Virtual work of a wheel's rise, by tangents alone: what the coilovers push less, the bar does.
    mechanism = built(data)
    loads = loads_of(mechanism, ROLLED)
    without = loads_of(replace(mechanism, bars=(replace(mechanism.bars[0], rate=0.0),)), ROLLED)
    moving = Moving(loads.poses, velocities(loads.poses))
    relief = sum(
        (bare.needed - mine.needed) * moving.coilovers()[mine.name].ratios[:, 0]
        for mine, bare in zip(loads.coilovers, without.coilovers, strict=True)
    )
    done = loads.bars[0].moment * moving.bars()["anti-roll bar"].ratios[:, 0]
    assert np.abs(done).max() > 300.0
    assert relief == pytest.approx(done, abs=ROUNDING * np.abs(done).max())


def test_an_anti_roll_bar_on_the_axle_turns_it_by_the_couple_of_its_end_links() -> None:
    mechanism = built(bar_on_the_axle())
    loads = loads_of(mechanism, ROLLED)
    without = loads_of(replace(mechanism, bars=(replace(mechanism.bars[0], rate=0.0),)), ROLLED)
    less = [bare.needed - mine.needed for mine, bare in zip(loads.coilovers, without.coilovers, strict=True)]
    # The end links pull 300 mm from the middle, at arms of 140 mm. The coilovers push at (455, 235), leaning in, and
    # the panhard bar, at some 302 mm, holds them back sideways: moments about a point on its line.
    pull = abs(loads.bars[0].moment) / 140.0
    lean = np.arctan2(55.0, 420.0)
    lever = 455.0 * np.cos(lean) - (302.0 - 235.0) * np.sin(lean)
    # To a per cent or two: in roll the arms and the coilovers stand a few degrees otherwise (the cosine of 8° is 0.99).
    assert less[0] * lever == pytest.approx(pull * 300.0, rel=0.02)
    assert less[1] == pytest.approx(-less[0], rel=0.02)
    axial = {link.name: link.axial for link in loads.links}
    assert axial["left end link"] * axial["right end link"] < 0.0


def test_wheels_settle_in_a_corner_on_springs_and_a_bar_on_the_axle() -> None:
    mechanism = built(bar_on_the_axle())
    turn = LoadCase("turn", vertical=(1.02, 0.98), at=("settled", "settled"))
    loads = loads_of(mechanism, turn)
    for coilover in loads.coilovers:
        # Newton's method stops within a thousandth of a N for each mm of travel.
        assert coilover.needed == pytest.approx(coilover.given, abs=0.5)
    bare = loads_of(replace(mechanism, bars=(replace(mechanism.bars[0], rate=0.0),)), turn)
    (left, right), (left_bare, right_bare) = (each.poses.travel.values[0] for each in (loads, bare))
    ride = curves(solve(mechanism, single(mechanism)))
    stiff = {each.where: each.values[0] for each in ride if each.what == "roll stiffness"}
    assert mechanism.weights is not None
    # The same moment rolls both. Tyres that lean by φ stand higher by r φ²/2, which takes the weight × r off either.
    toppling = sum(mechanism.weights.under(wheel.side) * wheel.loaded_radius for wheel in mechanism.wheels)
    springs, axle = (stiff[where] - toppling for where in ("springs", "axle"))
    # To a per cent: rates change over the 10 mm that the wheels go.
    assert (left - right) / (left_bare - right_bare) == pytest.approx(springs / axle, rel=0.01)
