"""The cone that a joint's limit leaves: what tilts in it is inside as long as the limit holds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.joints import JointKind
from model.measures import place_text
from model.mechanism import Mechanism
from model.members import JointMotion, eye_axes
from model.outlines import into_member, stud_axis, towards
from model.spatial import Array

# How far a cone reaches, in diameters of the member, and between which lengths in mm, so that it shows and fits.
REACH, SHORTEST, LONGEST = 2.4, 55.0, 120.0
DIAMETER = 30.0
_KINDS = (JointKind.ROD_END, JointKind.BALL_JOINT, JointKind.INLINE_BALL_JOINT, JointKind.STRUT_MOUNT)


@dataclass(frozen=True)
class Cone:
    """A cone of half angle `half_angle` (rad) and slant `length` (mm) about an `axis` (3,) that rides on `part`.

    The line `needle` (3,) rides on `needle_part`; the angle between the two is what the joint's limit is for. All are
    at ride height, from `apex` (3,). `both_ways` says that the line shows on both sides, such as a bolt's.
    """

    where: str
    part: str
    apex: Array
    axis: Array
    needle_part: str
    needle: Array
    half_angle: float
    typical: bool
    length: float
    both_ways: bool


def cone_of(mechanism: Mechanism, joint: JointMotion) -> Cone | None:
    """The cone of a rod end, ball joint or strut mount; None for other kinds and where there is no limit."""
    end, limit = joint.end, joint.end.joint.tilt
    if end.joint.kind not in _KINDS or limit is None:
        return None
    ours, eye = joint.part, eye_axes(mechanism)[joint.member, end.place]
    rides, axis, swings, needle = end.on, end.bolt, ours, towards(eye, end.bolt)
    if end.joint.kind is JointKind.BALL_JOINT:
        # The stud swings in the housing, which is the member's own.
        stud = stud_axis(end, mechanism)
        rides, axis, swings, needle = ours, towards(eye, stud), end.on, stud
    elif end.joint.kind is not JointKind.ROD_END:
        # An inline stud is the bar itself; a strut's line shows best above its mount.
        inward = into_member(mechanism, joint.member, end)
        side = -inward if end.joint.kind is JointKind.STRUT_MOUNT else inward
        axis, needle = towards(axis, side), towards(needle, side)
    diameters = {link.name: link.diameter for link in mechanism.links}
    diameters |= {arm.name: arm.diameter for arm in mechanism.arms}
    size = diameters.get(joint.member, DIAMETER)
    return Cone(
        where=place_text(joint.member, end),
        part=rides,
        apex=end.at,
        axis=axis,
        needle_part=swings,
        needle=needle,
        half_angle=limit.angle,
        typical=limit.typical,
        length=float(np.clip(REACH * size, SHORTEST, LONGEST)),
        both_ways=end.joint.kind is JointKind.ROD_END,
    )
