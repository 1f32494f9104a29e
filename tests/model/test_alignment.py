"""Bushes out of line: closed forms of a bolt that stands askew to the line that its arm turns about."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from zoo import NAMES, built, scene_data, trailing_arm, travel_of

from model.alignment import OutOfLine, out_of_line
from model.solver import solve

RADIUS = 400.0
HEIGHTS = np.array([-100.0, -30.0, 0.0, 60.0])
# 1e-9 mm of the solver at an arm of some 100 mm.
TURN = 1e-10


def _askew(first: float, second: float, **rates: float) -> dict[str, Any]:
    """A trailing arm whose bolts stand at angles (degrees) to the line across, in plan."""
    data = trailing_arm(RADIUS)
    data["joint"] = {"bush": {"kind": "poly bush", "cock": 3.0} | ({"rates": rates} if rates else {})}
    for pivot, askew in zip(data["arm"]["trailing arm"]["pivots"], np.radians([first, second]), strict=True):
        pivot |= {"joint": "bush", "bolt": [float(np.sin(askew)), float(np.cos(askew)), 0.0]}
    return data


def _found(data: dict[str, Any]) -> tuple[OutOfLine, ...]:
    mechanism = built(data)
    return out_of_line(solve(mechanism, travel_of(mechanism, HEIGHTS)))


@pytest.mark.parametrize(("first", "second"), [(4.0, 0.0), (0.0, -7.0), (3.0, -5.0), (6.0, 6.0)])
def test_a_bolt_askew_cocks_by_the_closed_form(first: float, second: float) -> None:
    (found,) = _found(_askew(first, second))
    assert found.member == "trailing arm"
    assert found.between == pytest.approx(np.radians(abs(first - second)), abs=1e-12)  # an angle of two unit vectors
    turned = np.arcsin(100.0 / RADIUS)  # the largest turn of the arm, D
    for bush, askew in zip(found.bushes, np.radians([first, second]), strict=True):
        assert bush.off_line == pytest.approx(abs(askew), abs=1e-12)
        # D: a direction at α to an axis moves on a cone: its chord after a turn θ is 2 sin α sin(θ/2).
        assert abs(bush.cocking - 2.0 * np.arcsin(abs(np.sin(askew)) * np.sin(turned / 2.0))) < TURN
        assert bush.moment is None


def test_the_moment_is_the_rate_times_the_cocking_where_the_rate_is_given() -> None:
    (found,) = _found(_askew(5.0, 0.0, cock=0.4))
    first, second = found.bushes
    # 0.4 N·m for a degree, D.
    assert first.moment == pytest.approx(400.0 * np.degrees(first.cocking), rel=1e-12)
    assert second.moment is not None
    assert second.moment < 400.0 * np.degrees(TURN)


def test_bolts_in_line_say_nothing_and_a_bolt_is_a_line() -> None:
    assert _found(_askew(0.0, 0.0)) == ()
    assert _found(_askew(0.0, 180.0)) == ()
    # Both across the line: such bolts clamp a part and are no hinge.
    assert _found(_askew(90.0, 90.0)) == ()
    # A third of a degree is not told from in line by a tape; twice that is.
    assert _found(_askew(0.25, -0.25)) == ()
    assert len(_found(_askew(0.6, 0.0))) == 1


@pytest.mark.parametrize(("first", "second"), [(60.0, 0.0), (0.0, 90.0)])
def test_one_bolt_across_the_line_and_one_along_it_fight_each_other(first: float, second: float) -> None:
    # Only two bolts that both stand across clamp a part: one alone is the worst of all mistakes.
    (found,) = _found(_askew(first, second))
    assert found.between == pytest.approx(np.radians(abs(first - second)), abs=1e-12)


@pytest.mark.parametrize("name", NAMES)
def test_the_projects_own_scenes_have_their_arms_in_line(name: str) -> None:
    mechanism = built(scene_data(name))
    assert out_of_line(solve(mechanism, travel_of(mechanism, np.zeros((1, len(mechanism.drives)))))) == ()


def test_both_bushes_of_an_anti_roll_bar_are_looked_at() -> None:
    data = scene_data("wren_front")
    (name,) = data["bar"]
    data["bar"][name]["pivots"][0]["bolt"] = [0.1, 1.0, 0.0]
    mechanism = built(data)
    (found,) = out_of_line(solve(mechanism, travel_of(mechanism, [[70.0, -70.0, 0.0], [0.0, 0.0, 0.0]])))
    assert found.member == name
    assert found.bushes[0].off_line == pytest.approx(np.arctan(0.1), abs=1e-12)
    assert found.bushes[0].cocking > TURN
    assert found.bushes[1].cocking < TURN


def test_poses_taken_in_parts_say_the_same_and_none_say_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    (whole,) = _found(_askew(5.0, 0.0))
    monkeypatch.setattr("model.poses.CHUNK", 3)
    (parts,) = _found(_askew(5.0, 0.0))
    assert [bush.cocking for bush in parts.bushes] == pytest.approx([bush.cocking for bush in whole.bushes], abs=TURN)
    mechanism = built(_askew(5.0, 0.0))
    assert out_of_line(solve(mechanism, travel_of(mechanism, HEIGHTS)).take(np.arange(0))) == ()
