"""A measure followed over many poses says of each what judging that pose alone says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from zoo import SCENES, built, scene_data, trailing_arm, travel_of

from model.cycles import Cycle
from model.findings import judge
from model.poses import Poses, Status
from model.solver import solve
from model.spatial import Array
from model.tracks import tracks, verdict_at
from model.travel import cycle, grid
from model.verdicts import Finding, State, Verdict

FLOATS = ("used", "limit", "ride", "lowest", "highest")
# Poses in a batch are multiplied in another order than one alone: the last digits of lengths up to metres.
ROUNDING = 1e-8


def words(finding: Finding) -> Finding:
    """A finding without its numbers, which may differ by roundings, and without the number of its pose."""
    return replace(finding, used=0.0, limit=None, ride=None, lowest=None, highest=None, at=(0.0, 0.0, 0.0), pose=0)


def numbers(finding: Finding) -> Array:
    """The numbers of a finding; NaN where there is none."""
    values = [getattr(finding, name) for name in FLOATS]
    return np.array([*(np.nan if value is None else value for value in values), *finding.at])


def same(one: Verdict, other: Verdict) -> None:
    """Both verdicts say the same, be it in another order of what is alike to the last digit."""
    found = {(each.what, each.where): each for each in other.findings}
    assert len(one.findings) == len(found)
    for each in one.findings:
        wanted = found[each.what, each.where]
        assert words(each) == words(wanted)
        assert each.over_at_ride is wanted.over_at_ride
        off = np.abs(numbers(each) - numbers(wanted))
        assert (np.isnan(numbers(each)) == np.isnan(numbers(wanted))).all()
        assert np.nanmax(off) < ROUNDING
    assert (one.state, one.locked_poses, one.poses) == (other.state, other.locked_poses, other.poses)


def run_through(scene: str) -> Poses:
    mechanism = built(scene_data(scene))
    return solve(mechanism, cycle(mechanism, Cycle.ALL, 24))


@pytest.mark.parametrize("scene", sorted(path.stem for path in SCENES.glob("*.toml")))
def test_the_verdict_of_each_pose_is_that_of_judging_it_alone(scene: str) -> None:
    poses = run_through(scene)
    followed = tracks(poses)
    for number in range(0, len(poses), 5):
        same(verdict_at(followed, poses, number), judge(poses.take(np.array([number]))))


def test_what_is_over_while_the_vehicle_just_stands_is_said_of_that_pose_alone_too() -> None:
    mechanism = built(scene_data("wren_front"))
    lengths = [float(np.linalg.norm(unit.top.at - unit.bottom.at)) for unit in mechanism.coilovers]
    short = [replace(unit, extended=length - 5.0) for unit, length in zip(mechanism.coilovers, lengths, strict=True)]
    mechanism = replace(mechanism, coilovers=tuple(short))
    poses = solve(mechanism, travel_of(mechanism, np.array([[0.0, 0.0, 0.0], [-40.0, -40.0, 0.0]])))
    followed = tracks(poses)
    ride, droop = (verdict_at(followed, poses, number) for number in (0, 1))
    over = {finding.where for finding in ride.findings if finding.over_at_ride}
    assert {"left coilover", "right coilover"} <= over
    assert not any(finding.over_at_ride for finding in droop.findings)
    same(ride, judge(poses.take(np.array([0]))))


def test_a_finding_keeps_the_place_of_its_measure_beside_whom_it_is_owed_to() -> None:
    mechanism = built(trailing_arm(400.0, travel=396.0))
    poses = solve(mechanism, grid(mechanism, 5))
    toggle = next(finding for finding in judge(poses).findings if finding.what == "toggle")
    assert (toggle.where, toggle.measured_at) == ("wheel, trailing arm", "wheel")
    for name in ("wren_front", "tarn_front"):
        over = run_through(name)
        places = {(measure.what, measure.where) for measure in tracks(over)}
        assert {(finding.what, finding.measured_at) for finding in judge(over).findings} == places
    locked = solve(arm := built(trailing_arm(400.0, travel=420.0)), grid(arm, 5))
    assert [each.measured_at for each in judge(locked).findings if each.state is State.LOCKED] == [""]


def test_a_locked_pose_is_a_gap_in_every_track() -> None:
    poses = run_through("wren_front")
    status = poses.status.copy()
    status[3] = Status.LOCKED
    followed = tracks(replace(poses, status=status))
    assert all(np.isnan(measure.values[3]) for measure in followed)
    assert any(np.isfinite(measure.values[4]) for measure in followed)
