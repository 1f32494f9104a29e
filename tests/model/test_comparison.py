"""Two suspensions against each other: the same scene twice, one point moved, and one made worse."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from zoo import FOUR_LINKS, axle_scene, built, scene_data

from model.comparison import Better, Change, Comparison, Subject, compare
from model.review import Review, review
from model.solver import solve
from model.travel import grid
from model.verdicts import Finding, State


def reviewed_scene(scene: dict[str, Any]) -> Review:
    mechanism = built(scene)
    return review(solve(mechanism, grid(mechanism, 7, 3)))


def turned_eye(scene: dict[str, Any]) -> dict[str, Any]:
    """The Tarn's coilovers with their lower bolts along the truck and their feet 54 mm farther in."""
    other = copy.deepcopy(scene)
    other["coilover"]["coilover"]["bottom"]["bolt"] = "along"
    other["points"]["coilover_foot"][1] -= 54
    return other


@pytest.fixture(scope="module")
def compared() -> Comparison:
    scene = scene_data("tarn_rear")
    return compare(reviewed_scene(scene), reviewed_scene(turned_eye(scene)))


def change_of(compared: Comparison, what: str, where: str) -> Change:
    return next(
        change
        for change in compared.changes
        if isinstance(change.first, Finding) and (change.first.what, change.first.where) == (what, where)
    )


def test_a_scene_against_itself_has_nothing_to_say() -> None:
    found = reviewed_scene(scene_data("wren_rear"))
    same = compare(found, found)
    assert same.moved == ()
    assert same.changes == ()


def test_the_points_that_moved_are_named_with_how_far(compared: Comparison) -> None:
    assert {(each.name, each.on) for each in compared.moved} == {
        ("left coilover_foot", "axle"),
        ("right coilover_foot", "axle"),
    }
    assert all(each.distance == pytest.approx(54.0) for each in compared.moved)


def test_what_was_over_and_is_not_any_more_comes_first_and_is_better(compared: Comparison) -> None:
    eye = change_of(compared, "tilt", "left coilover, at axle")
    assert isinstance(eye.first, Finding)
    assert isinstance(eye.second, Finding)
    assert (eye.first.state, eye.second.state) == (State.OVER, State.CLEAR)
    assert eye.better is Better.SECOND
    assert compared.changes.index(eye) < 2


def test_the_other_way_round_says_the_opposite(compared: Comparison) -> None:
    back = compare(compared.second, compared.first)
    opposite = {Better.FIRST: Better.SECOND, Better.SECOND: Better.FIRST, Better.NEITHER: Better.NEITHER}
    assert len(back.changes) == len(compared.changes)
    for change in (each for each in compared.changes if each.subject is Subject.LIMIT):
        twin = next(each for each in back.changes if (each.first, each.second) == (change.second, change.first))
        assert twin.better is opposite[change.better]


def panhard_of(length: float) -> Review:
    """A live axle on a panhard bar; a short one locks before the end of the travel."""
    bar = ((-120.0, -420.0 + length, 310.0), (-120.0, -420.0, 300.0))
    return reviewed_scene(axle_scene(FOUR_LINKS | {"panhard": bar}, 130.0))


def test_of_two_that_lock_neither_is_named_better_by_where_the_grid_happens_to_lock() -> None:
    one, other = panhard_of(110.0), panhard_of(113.0)
    assert one.verdict.state is State.LOCKED
    assert other.verdict.state is State.LOCKED
    compared = compare(one, other)
    locks = [
        each for each in compared.changes if isinstance(each.first, Finding) and each.first.what == "runs straight"
    ]
    assert locks == []
    # How far each gets is told by the travel: the longer bar gets farther.
    travel = [change for change in compared.changes if change.subject is Subject.TRAVEL]
    assert travel
    assert {change.better for change in travel} == {Better.SECOND}


def test_a_lock_that_only_one_has_makes_the_other_better() -> None:
    compared = compare(panhard_of(110.0), panhard_of(700.0))
    locks = [
        each
        for each in compared.changes
        if isinstance(each.first, Finding) and each.first.state is State.LOCKED and each.second is None
    ]
    assert locks
    assert all(each.better is Better.SECOND for each in locks)


def test_the_worse_of_a_change_is_that_of_the_one_that_is_not_better(compared: Comparison) -> None:
    eye = change_of(compared, "tilt", "left coilover, at axle")
    assert eye.worse is eye.first
    stroke = change_of(compared, "stroke in", "left coilover")
    assert stroke.worse is (stroke.second if stroke.better is Better.FIRST else stroke.first)


def test_less_stroke_left_is_worse_and_motion_ratios_are_paired(compared: Comparison) -> None:
    stroke = change_of(compared, "stroke in", "left coilover")
    assert isinstance(stroke.first, Finding)
    assert isinstance(stroke.second, Finding)
    assert stroke.first.margin is not None
    assert stroke.second.margin is not None
    assert (stroke.second.margin < stroke.first.margin) == (stroke.better is Better.FIRST)
    assert len(compared.ratios) == 4
    assert all((one.coilover, one.run) == (other.coilover, other.run) for one, other in compared.ratios)
    assert all(one.ride != other.ride for one, other in compared.ratios)
