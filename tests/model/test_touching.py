"""Touches along the ways out by closed form: a tyre that goes straight up under a plate."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import zoo

from model.bumpstops import stop_findings
from model.mechanism import Mechanism
from model.poses import Poses
from model.reaches import Reach, Stop
from model.review import review
from model.solver import solve
from model.stops import Cause
from model.touching import ENOUGH, Touching
from model.travel import grid
from model.usable import usable_travel
from model.ways import Way
from model.wheelshapes import TYRE_OVER_LOADED

# Round things are measured to a tenth of a mm.
CHORD = 0.15
# What the scene gives as the loaded radius, the tyre standing free by `TYRE_OVER_LOADED`, and its growth.
GROWTH = 4.0
RADIUS = TYRE_OVER_LOADED * 300.0 + GROWTH


def under_a_plate(room: float) -> dict[str, Any]:
    """The arm turns about a line along the wheel's axis, so its tyre only moves; a plate is so far above it."""
    data = zoo.trailing_arm(400.0, 100.0, "plain sleeve")
    data["wheel"]["wheel"] |= {"loaded_radius": 300.0, "growth": GROWTH}
    data["points"]["plate"] = [0.0, 650.0, 300.0 + RADIUS + room + 10.0]
    return zoo.with_changes(data, frame={"plate": {"centre": "plate", "size": [700, 500, 20]}})


@pytest.mark.parametrize("room", [8.0, 50.0, 120.0])
def test_the_tyre_meets_the_plate(room: float) -> None:
    mechanism = zoo.built(under_a_plate(room))
    bump, droop = usable_travel(mechanism, Touching(mechanism))
    assert (bump.way, droop.way) == (Way.BUMP, Way.DROOP)
    (touch,) = (stop for stop in bump.stops if stop.cause is Cause.TOUCH and "plate" in stop.where)
    assert touch.amount == pytest.approx(room, abs=CHORD)
    assert set(touch.where.split(" – ")) == {"plate", "wheel"}
    assert touch.at[2] == pytest.approx(300.0 + RADIUS + room, abs=1.0)
    assert bump.usable == 100.0
    assert bump.unharmed == pytest.approx(min(room, 100.0), abs=CHORD)
    assert not [stop for stop in droop.stops if "plate" in stop.where]


def test_what_would_touch_next_is_told_though_it_is_far_from_it_inside_the_travel() -> None:
    mechanism = zoo.built(under_a_plate(120.0))
    bump = next(
        reach for reach in review(solve(mechanism, grid(mechanism, 5)), gaps=True).reaches if reach.way is Way.BUMP
    )
    (touch,) = (stop for stop in bump.stops if stop.cause is Cause.TOUCH and "plate" in stop.where)
    assert touch.amount == pytest.approx(120.0, abs=CHORD)


def test_only_parts_that_surely_keep_apart_are_not_measured() -> None:
    # A plate that the tyre comes within 3 mm of from one node to the next: what is told is the distance itself.
    mechanism = zoo.built(under_a_plate(50.0))
    touching = Touching(mechanism, between=[frozenset(("plate", "wheel"))])
    poses = solve(mechanism, zoo.travel_of(mechanism, np.array([0.0, 43.0, 45.0, 47.0])))
    nearest = np.min([each.values for each in touching(poses, None)], axis=0)
    assert nearest[1:] == pytest.approx([7.0, 5.0, 3.0], abs=CHORD)
    assert nearest[0] >= ENOUGH


def test_a_tyre_that_touches_at_ride_height_is_not_a_late_bump_stop() -> None:
    mechanism, poses = plated()
    unit = mechanism.coilovers[0]
    touch = Stop(Cause.TOUCH, "plate – wheel", "wheel", 0.0, (0.0,), (0.0, 0.0, 0.0), False, "")
    acts = replace(touch, cause=Cause.BUMP_STOP, where=unit.name, amount=60.0)
    reach = Reach(Way.BUMP, ("left",), 0.0, 100.0, 100.0, 150.0, (100.0,), (touch, acts))
    assert stop_findings([reach], poses) == ()
    (late,) = stop_findings([replace(reach, stops=(replace(touch, amount=50.0), acts))], poses)
    assert late.used == pytest.approx(10.0)
    # A damper on the other side of the car does not guard this wheel.
    other = replace(unit, bottom=replace(unit.bottom, at=unit.bottom.at * [1.0, -1.0, 1.0]))
    aside = replace(poses, mechanism=replace(mechanism, coilovers=(other,)))
    assert stop_findings([replace(reach, stops=(replace(touch, amount=50.0), acts))], aside) == ()


def plated() -> tuple[Mechanism, Poses]:
    data = under_a_plate(50.0)
    data["points"] |= {"foot": [150.0, 500.0, 300.0], "top": [180.0, 500.0, 640.0]}
    ends = {"top": zoo.end("top", "frame"), "bottom": zoo.end("foot", "trailing arm")}
    data["coilover"] = {"coilover": ends | {"compressed": 260.0, "extended": 430.0, "bump_stop": 25.0}}
    mechanism = zoo.built(data)
    return mechanism, solve(mechanism, grid(mechanism, 5))


def test_a_bump_stop_has_to_act_before_the_tyre_touches() -> None:
    data = under_a_plate(50.0)
    data["points"] |= {"foot": [150.0, 500.0, 300.0], "top": [180.0, 500.0, 640.0]}
    ends = {"top": zoo.end("top", "frame"), "bottom": zoo.end("foot", "trailing arm")}
    late = {}
    for length in (25.0, 60.0):
        data["coilover"] = {"coilover": ends | {"compressed": 260.0, "extended": 430.0, "bump_stop": length}}
        mechanism = zoo.built(data)
        touching = Touching(mechanism, between=[frozenset(("plate", "wheel"))])
        poses = solve(mechanism, grid(mechanism))
        late[length] = [finding.where for finding in stop_findings(usable_travel(mechanism, touching), poses)]
    assert len(late[25.0]) == 1
    assert late[25.0][0].startswith("coilover, after the ")
    assert " meets the " in late[25.0][0]
    assert late[60.0] == []


def test_only_what_is_asked_for_is_measured() -> None:
    mechanism = zoo.built(under_a_plate(50.0))
    touching = Touching(mechanism, between=[frozenset(("plate", "wheel"))])
    poses = solve(mechanism, zoo.travel_of(mechanism, np.array([0.0, 40.0, 45.0, 70.0])))
    # A tyre may be measured in more than one piece.
    assert len(touching) >= 1
    some = np.zeros((len(touching), 4), dtype=bool)
    some[:, 1:3] = True
    for whole, part in zip(touching(poses, None), touching(poses, some), strict=True):
        assert np.isfinite(whole.values).all()
        assert np.isnan(part.values).tolist() == [True, False, False, True]
        assert part.values[1:3] == pytest.approx(whole.values[1:3])
    nearest = np.min([each.values for each in touching(poses, None)], axis=0)
    assert nearest[1:3] == pytest.approx([10.0, 5.0], abs=CHORD)
    assert nearest[3] <= 0.0
