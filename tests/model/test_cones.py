"""A cone is as wide as its joint's limit, and its pin tilts in it as the joint is measured to tilt."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from zoo import NAMES, built, scene_data

from model.cones import cone_of
from model.joints import BUSH_KINDS
from model.mechanism import Mechanism
from model.members import eye_axes, posture
from model.partshapes import solids_of
from model.solids import Revolved
from model.solver import solve
from model.spatial import angle_between, turn
from model.travel import Cycle, cycle


def clocked(name: str, clock: float) -> dict[str, Any]:
    """A scene with every bar between two rod ends clocked."""
    data = scene_data(name)
    joints = data.get("joint", {})

    def kind(joint: str) -> str:
        return str(joints[joint]["kind"]) if joint in joints else joint

    for link in data["link"].values():
        if all(kind(link[end]["joint"]) == "rod end" for end in ("from", "to")):
            link["clock"] = clock
    return data


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("clock", [0.0, 25.0])
def test_the_pin_tilts_as_measured_in_a_cone_as_wide_as_the_limit(name: str, clock: float) -> None:
    mechanism = built(clocked(name, clock))
    now = posture(solve(mechanism, cycle(mechanism, Cycle.ALL, 9)))
    for joint in now.joints:
        cone = cone_of(mechanism, joint)
        if joint.end.joint.kind in BUSH_KINDS or joint.end.joint.tilt is None:
            assert cone is None
            continue
        assert cone is not None
        limit = joint.end.joint.tilt
        assert (cone.half_angle, cone.typical) == (limit.angle, limit.typical)
        about = turn(now.parts[cone.part].rotation, cone.axis)
        angle = angle_between(about, turn(now.parts[cone.needle_part].rotation, cone.needle))
        # A bolt is a line: the angle to its other end is the same joint seen from behind.
        assert np.minimum(angle, np.pi - angle) == pytest.approx(np.minimum(joint.tilt, np.pi - joint.tilt), abs=1e-9)


def heads(mechanism: Mechanism, part: str, at: np.ndarray, square_to_bar: np.ndarray) -> list[Revolved]:
    """Rings about a point on a part that are not turned about its bar."""
    return [
        solid
        for drawn in solids_of(mechanism).parts
        if drawn.part == part
        for solid in drawn.solids
        if isinstance(solid, Revolved) and np.allclose(solid.origin, at)
        if abs(float(solid.axis @ square_to_bar)) < 1e-6
    ]


@pytest.mark.parametrize("name", ["tarn_rear", "wren_rear"])
@pytest.mark.parametrize("clock", [0.0, 25.0])
def test_a_rod_end_is_drawn_about_the_axis_that_is_measured(name: str, clock: float) -> None:
    mechanism = built(clocked(name, clock))
    axes = eye_axes(mechanism)
    seen = 0
    for link in mechanism.links:
        along = link.ends[1].at - link.ends[0].at
        for end in link.ends:
            if end.joint.kind == "rod end":
                seen += 1
                (head,) = heads(mechanism, link.name, end.at, along / np.linalg.norm(along))
                assert abs(float(head.axis @ axes[link.name, end.place])) == pytest.approx(1.0)
        if clock and all(end.joint.kind == "rod end" for end in link.ends):
            first, second = (axes[link.name, end.place] for end in link.ends)
            apart = np.degrees(angle_between(first, second))
            assert min(apart, 180.0 - apart) == pytest.approx(clock, abs=1e-6)
    assert seen
