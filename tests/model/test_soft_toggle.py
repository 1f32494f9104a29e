"""How near a linkage that moves by its joints' give is to a toggle, and which point of a driven part counts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from zoo import ACROSS, ALONG, GIVING, UP, built, guided_bar, plain_end, scene_data, travel_of

from model.mechanism import Anchor, Body, Distance, Drive, Mechanism, Motion, Offset, Row, Screw, TwoForceLink
from model.poses import Poses, Status
from model.solver import solve
from model.spatial import Array
from model.toggle import LAST, toggle_measures


def _solved(mechanism: Mechanism, values: Array) -> Poses:
    poses = solve(mechanism, travel_of(mechanism, values))
    assert (poses.status == Status.SOLVED).all()
    return poses


def _on_a_spring(length: float, rate: float) -> Mechanism:
    """The body of `guided_bar`, whose bar gives along its length; `rigid` is the one whose bar does not."""
    rigid = guided_bar(length)
    (bar,) = (row for row in rigid.rows if row.member == "panhard bar")
    ends = tuple(plain_end(anchor.at, rigid.bodies[anchor.body].name, ALONG) for anchor in (bar.a, bar.b))
    spring = TwoForceLink("panhard bar", (ends[0], ends[1]), (bar.a.body, bar.b.body), (rate, rate))
    rows = tuple(row for row in rigid.rows if row is not bar)
    return replace(rigid, rows=rows, elastic_links=(spring,), rigid=rigid)


@pytest.mark.parametrize("rate", [1.0, 1e5])
def test_a_bar_that_gives_leaves_the_cosine_of_its_angle(rate: float) -> None:
    length = 600.0
    heights = length * np.array([-0.9, 0.0, 0.3, 0.9])
    poses = _solved(_on_a_spring(length, rate), heights)
    (found,) = toggle_measures(poses)
    # D: nothing pulls at the bar, so that it keeps its length: the axle slips by tan φ for each mm that it rises. Where
    # the springs' forces are balanced to 1e-7 N the bar is off by that over its rate.
    assert np.abs(found.values - LAST * np.sqrt(1.0 - (heights / length) ** 2)).max() < 1e-5 / min(rate, 10.0)
    assert found.culprit is not None
    assert found.culprit(0) == "panhard bar"


@pytest.mark.parametrize("name", GIVING)
def test_speeds_are_those_of_poses_side_by_side(name: str) -> None:
    mechanism = built(scene_data(name))
    at = np.array([[60.0, -70.0, 0.6], [-50.0, -50.0, -0.8], [0.0, 80.0, 0.0]])[:, : len(mechanism.drives)]
    found = list(toggle_measures(_solved(mechanism, at)))
    assert len(found) == len(mechanism.drives)
    points = [(body, end.at) for bush in mechanism.bushings for body, end in ((bush.part, bush.end),)]
    points += [(bush.holder, bush.end.at) for bush in mechanism.bushings]
    links = [(body, end.at) for k in mechanism.elastic_links for body, end in zip(k.bodies, k.ends, strict=True)]
    points += [(body, place) for body, place in links if mechanism.bodies[body].motion is Motion.FREE]
    points += [(mechanism.body_number(wheel.on), wheel.centre) for wheel in mechanism.wheels]
    points += [(mechanism.body_number(pin.part), pin.end.at) for pin in mechanism.pins]
    for number, measure in enumerate(found):
        # 0.01 mm, or 1e-4 of a lock of 26 degrees at the pitman arm's end: 160 mm from its shaft, seen along it.
        step, reach = 0.01, 1.0
        if number == mechanism.steer:
            step, reach = 1e-4, np.radians(26.0) * 160.0
        nudge = step * np.eye(len(mechanism.drives))[number]
        ahead, behind = _solved(mechanism, at + nudge), _solved(mechanism, at - nudge)

        def places(poses: Poses) -> Array:
            return np.array([poses.rotation[b] @ place + poses.translation[b] for b, place in points])

        speed = np.linalg.norm(places(ahead) - places(behind), axis=-1).max(axis=0) / (2.0 * step * reach)
        # The solver's 1e-9 mm over the step, and the difference's own error.
        assert measure.values == pytest.approx(LAST / np.maximum(speed, 1.0), rel=1e-5)


def test_a_bar_near_its_dead_centre_is_named_where_others_give() -> None:
    # The pickup's drag link and tie rod swing farthest at full lock; neither is held twice over.
    mechanism = built(scene_data("tarn_front"))
    measures = {measure.where: measure for measure in toggle_measures(_solved(mechanism, np.array([[0.0, 0.0, 1.0]])))}
    assert set(measures) == {"left wheel", "right wheel", "pitman arm"}
    culprit = measures["pitman arm"].culprit
    assert culprit is not None
    assert culprit(0) in {"tie rod", "drag link"}


def _cranked(ends: tuple[float, ...]) -> Mechanism:
    """A pitman arm about z whose ends lie on y at some distances from it; each pushes a slider 60° off its rod."""
    bodies = [Body("frame", Motion.FIXED), Body("pitman", Motion.DRIVEN, Screw(UP, np.zeros(3), True, 0.5, -0.5))]
    rows: list[Row] = []
    for k, radius in enumerate(ends):
        body, at, place = len(bodies), radius * ACROSS, radius * ACROSS - 400.0 * ALONG
        bodies.append(Body(f"slider {k}", Motion.FREE))
        rows.append(Distance(f"rod {k}", Anchor(1, at), Anchor(body, place)))
        # Five rows that leave it one way.
        square = np.sin(np.pi / 3.0) * ALONG - np.cos(np.pi / 3.0) * ACROSS
        for tip in (np.zeros(3), 100.0 * ALONG):
            rows += [Offset("guide", way, Anchor(0, place + tip), Anchor(body, place + tip)) for way in (square, UP)]
        rows.append(Offset("guide", UP, Anchor(0, place + 100.0 * ACROSS), Anchor(body, place + 100.0 * ACROSS)))
    return Mechanism("cranked", tuple(bodies), tuple(rows), (Drive("steer", -1.0, 1.0),), ())


def test_a_pitman_arms_farthest_end_is_what_moves_by_a_millimetre() -> None:
    # D: ends at 100 and 250 mm, both rods square to the arm: 1 mm at the farther one moves its slider by 1/cos 60°,
    # 2 mm, in whichever order they come; a nearer one alone is its arm's farthest end.
    for ends in ((100.0, 250.0), (250.0, 100.0), (100.0,)):
        (found,) = toggle_measures(_solved(_cranked(ends), np.array([0.0])))
        assert found.values == pytest.approx([0.5 * LAST], rel=1e-9)


def test_a_drive_that_moves_nothing_has_no_toggle() -> None:
    bar = guided_bar(500.0)
    idle = replace(bar, drives=(*bar.drives, Drive("right", -10.0, 10.0)))
    (found,) = toggle_measures(_solved(idle, np.array([[30.0, 5.0]])))
    assert found.where == "left"
