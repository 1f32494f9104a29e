"""A measure followed over many poses says of each what judging that pose alone says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from zoo import SCENES, built, scene_data

from model.cycles import Cycle
from model.findings import judge
from model.poses import Poses, Status
from model.solver import solve
from model.tracks import tracks, verdict_at
from model.travel import cycle
from model.verdicts import State, Verdict


def said(verdict: Verdict) -> dict[tuple[str, str], tuple[State, float | None, str]]:
    """What a verdict says of each place, without the order of those that are alike to the last digit."""
    return {(one.what, one.where): (one.state, one.limit, one.part) for one in verdict.findings}


def run_through(scene: str) -> Poses:
    mechanism = built(scene_data(scene))
    return solve(mechanism, cycle(mechanism, Cycle.ALL, 24))


@pytest.mark.parametrize("scene", sorted(path.stem for path in SCENES.glob("*.toml")))
def test_the_verdict_of_each_pose_is_that_of_judging_it_alone(scene: str) -> None:
    poses = run_through(scene)
    followed = tracks(poses)
    for number in range(0, len(poses), 5):
        alone = judge(poses.take(np.array([number])))
        found = verdict_at(followed, poses, number)
        assert said(found) == said(alone)
        assert (found.state, found.locked_poses) == (alone.state, alone.locked_poses)
        values = {(one.what, one.where): one.used for one in alone.findings}
        # Poses in a batch are multiplied in another order than one alone: the last digits of lengths up to metres.
        assert all(abs(one.used - values[one.what, one.where]) < 1e-8 for one in found.findings)


def test_a_locked_pose_is_a_gap_in_every_track() -> None:
    poses = run_through("wren_front")
    status = poses.status.copy()
    status[3] = Status.LOCKED
    followed = tracks(replace(poses, status=status))
    assert all(np.isnan(measure.values[3]) for measure in followed)
    assert any(np.isfinite(measure.values[4]) for measure in followed)
