"""What every joint and every damper does, as measures."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from model.dampershapes import coil_spring
from model.joints import JointKind
from model.measures import Bound, Measure, Quantity, angle_bound, given_bound, place_text
from model.mechanism import Mechanism
from model.members import JointMotion, Posture, Stroke
from model.spatial import Array, norm, unit
from model.windup import is_bonded, wind_up

ROOM_TO_SPIN = "room to spin"
TILT_WORD = {
    JointKind.ROD_END: "tilt",
    JointKind.STRUT_MOUNT: "tilt",
    JointKind.BALL_JOINT: "swing",
    JointKind.INLINE_BALL_JOINT: "swing",
    JointKind.RUBBER_BUSH: "cocking",
    JointKind.POLY_BUSH: "cocking",
    JointKind.PLAIN_SLEEVE: "cocking",
}


# A head is clocked by eye to a degree or two: less room than that is none to rely on. Common practice, no source.
CLOSE_ROOM = float(np.radians(2.0))


def joint_measures(now: Posture, mechanism: Mechanism) -> Iterator[Measure]:
    """Tilt, swing or cocking of every joint, wind-up of bonded bushes, room to spin of bars with two eyes."""
    for joint in now.joints:
        limits = joint.end.joint
        yield _angle(TILT_WORD[limits.kind], joint, angle_bound(limits.tilt), joint.tilt)
        if is_bonded(joint.end):
            yield _angle("wind-up", joint, angle_bound(limits.turn), np.abs(wind_up(mechanism, joint)))
    for room in now.spin_rooms:
        limits_of_ends = [end.joint.tilt for end in room.link.ends if end.joint.tilt is not None]
        bound = Bound(
            limit=0.0,
            close=CLOSE_ROOM,
            typical=any(limit.typical for limit in limits_of_ends),
            source="; ".join(dict.fromkeys(limit.source for limit in limits_of_ends)),
            least=True,
        )
        name = room.link.name
        yield Measure(ROOM_TO_SPIN, name, name, Quantity.ANGLE, bound, room.width, room.at)


def _angle(what: str, joint: JointMotion, bound: Bound | None, values: Array) -> Measure:
    where = place_text(joint.member, joint.end)
    return Measure(what, where, joint.member, Quantity.ANGLE, bound, values, joint.at)


def stroke_measures(now: Posture) -> Iterator[Measure]:
    """How far every damper goes in and out, and how far its spring is squeezed."""
    for stroke in now.strokes:
        yield from _stroke(stroke)


def _stroke(stroke: Stroke) -> Iterator[Measure]:
    damper = stroke.coilover
    middle = 0.5 * (stroke.top + stroke.bottom)

    def length(what: str, limit: float, values: Array, source: str, at: Array = middle) -> Measure:
        return Measure(what, damper.name, damper.name, Quantity.LENGTH, given_bound(limit, source), values, at)

    given = "compressed and extended length in the scene file"
    yield length("stroke in", damper.stroke, damper.extended - stroke.length, given)
    yield length("stroke out", damper.stroke, stroke.length - damper.compressed, given)
    if damper.spring is not None and damper.spring.solid_length is not None:
        # At full extension the spring is squeezed by its preload; from there it follows the shaft.
        room = damper.spring.free_length - damper.spring.solid_length
        squeezed = damper.spring.preload + damper.extended - stroke.length
        yield length("spring squeeze", room, squeezed, "solid length in the scene file", _spring_middle(stroke))


def _spring_middle(stroke: Stroke) -> Array:
    """The middle (N, 3) between a spring's seats, which keep their distance from the eyes that they go with."""
    damper, spring = stroke.coilover, coil_spring(stroke.coilover)
    above, below = norm(spring.top - damper.top.at), norm(damper.bottom.at - spring.bottom)
    down = unit(stroke.bottom - stroke.top)
    return 0.5 * (stroke.top + stroke.bottom + (above - below) * down)
