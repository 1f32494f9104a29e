"""Clearances as they are drawn: the model's numbers and triangles, unchanged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from zoo import built, scene_data

from model.clearance import Clearance
from model.envelopes import measured_parts
from model.members import posture
from model.pairs import Wanted
from model.patches import touching
from model.poses import Poses
from model.solver import solve
from model.travel import single
from model.triangles import joined
from model.verdicts import State
from viz.gapmarks import gap_mark

SPRING, WHEEL = "left strut spring", "left wheel"


@pytest.fixture(scope="module")
def poses() -> Poses:
    """A strut whose tyre is so wide that it reaches into the spring."""
    data = scene_data("parcel_front")
    (wheel,) = data["wheel"].values()
    wheel["width"] += 60
    mechanism = built(data)
    return solve(mechanism, single(mechanism, left=20.0))


def clearance(distance: float, wanted: float) -> Clearance:
    return Clearance(
        labels=(WHEEL, SPRING),
        parts=("left strut body", "left strut body"),
        distance=distance,
        points=np.array([[1.0, 2, 3], [1, 2, 3 + distance]]),
        pose=0,
        drives=(20.0, 0.0, 0.0),
        between=False,
        ride=None,
        together=None,
        wanted=Wanted(wanted, typical=wanted > 0.0, source="common practice, no source"),
    )


def test_numbers_are_the_models(poses: Poses) -> None:
    found = clearance(9.0, 6.0)
    mark = gap_mark(found, State.CLEAR, poses)
    assert (mark.labels, mark.distance, mark.wanted, mark.typical) == (found.labels, 9.0, 6.0, True)
    assert mark.at is found.points
    assert mark.patches == ()
    assert gap_mark(replace(found, wanted=Wanted(0.0, False, "")), State.CLEAR, poses).wanted is None


def test_a_springs_measured_cylinder_is_shown_and_patches_are_what_the_model_says_touches(poses: Poses) -> None:
    mark = gap_mark(clearance(-4.0, 6.0), State.OVER, poses)
    now = posture(poses)

    def places(name: str) -> tuple[np.ndarray, np.ndarray]:
        return now.parts[name].rotation[0], now.parts[name].translation[0]

    wheel, spring = (
        joined(part.at(places) for part in measured_parts(poses.mechanism) if part.label == label)
        for label in (WHEEL, SPRING)
    )
    (cylinder,) = mark.measured
    assert np.array_equal(cylinder.points, spring.points)
    for patch, expected in zip(mark.patches, (touching(wheel, spring), touching(spring, wheel)), strict=True):
        assert len(patch.faces) > 0
        assert np.array_equal(patch.points, expected.points)
