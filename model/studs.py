"""Which way the stud of every ball joint leans in its housing, and how much of its swing is left each way."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from model.joints import STUD_KINDS, JointKind
from model.limits import Limit
from model.mechanism import End, Mechanism
from model.members import JointMotion, Posture, eye_axes, posture
from model.outlines import into_member, stud_axis, towards
from model.poses import Poses
from model.spatial import Array, across, angle_between, turn, unit

# A joint nearer than this to the middle plane (mm) has no outside: it leans left and right.
MIDDLE = 1.0
# A stud that never leans further than this from the middle of its swing leans no way: it would print as 0.0 degrees.
UPRIGHT = float(np.radians(0.05))

JointKey = tuple[str, str]


class Way(StrEnum):
    """Where the free end of a stud leans; outside is away from the vehicle's middle."""

    FRONT = "front"
    REAR = "rear"
    OUTSIDE = "outside"
    INSIDE = "inside"
    LEFT = "left"
    RIGHT = "right"
    UP = "up"
    DOWN = "down"


@dataclass(frozen=True)
class WaySwing:
    """How far (rad) a stud leans one way at most, and how much further it could lean that way in its worst pose.

    0 where it never leans that way. A stud that leans to the side has less room ahead: its limit is a cone. `left` is
    negative past the limit, `None` without one.
    """

    way: Way
    swing: float
    left: float | None


@dataclass(frozen=True)
class StudWays:
    """A ball joint: its swing at ride height and the largest, rad; its four ways, and where the worst pose leans most.

    `furthest` is `None` for a stud that stays in the middle of its swing.

    Ways are those of the vehicle at ride height, seen from the housing: its part may turn, its words turn with it.
    """

    member: str
    end: End
    ride: float
    swing: float
    ways: tuple[WaySwing, ...]
    furthest: Way | None


def stud_ways(poses: Poses) -> tuple[StudWays, ...]:
    """Every ball joint over the solved poses; the stud of an inline ball joint is the bar itself."""
    axes = eye_axes(poses.mechanism)
    found: dict[JointKey, StudWays] = {}
    for _, part in poses.solved_parts():
        now = posture(part)
        for joint in now.joints:
            if joint.end.joint.kind in STUD_KINDS:
                key = joint.member, joint.end.place
                here = _stud(joint, axes[key], now, poses.mechanism)
                found[key] = _both(found[key], here) if key in found else here
    return tuple(found.values())


def _both(one: StudWays, other: StudWays) -> StudWays:
    """The same joint over the poses of both."""
    ways = tuple(
        WaySwing(a.way, max(a.swing, b.swing), a.left if a.left is None or b.left is None else min(a.left, b.left))
        for a, b in zip(one.ways, other.ways, strict=True)
    )
    return replace(max(one, other, key=lambda ways: ways.swing), ways=ways)


def lean(stud: Array, housing: Array, towards_first: Array) -> Array:
    """Swing (N, 2) in rad of studs (N, 3) from a housing's axis (3,), shared out on two directions square to it.

    The first is `towards_first` (3,) as far as it is square to the axis, the second is a quarter turn on from it,
    right-handed about the axis; the two shares are as the legs of a right-angled triangle to the whole swing.
    """
    first = unit(across(towards_first, housing))
    flat = np.stack([stud @ first, stud @ np.cross(housing, first)], axis=-1)
    sine = np.linalg.norm(flat, axis=-1, keepdims=True)
    swing = np.arctan2(sine, (stud @ housing)[:, None])
    return np.asarray(swing * np.divide(flat, sine, out=np.zeros_like(flat), where=sine > 0.0))


def _stud(joint: JointMotion, axis: Array, now: Posture, mechanism: Mechanism) -> StudWays:
    end = joint.end
    part, holder = now.parts[joint.part].rotation, now.parts[end.on].rotation
    if end.joint.kind is JointKind.INLINE_BALL_JOINT:
        stud = towards(axis, into_member(mechanism, joint.member, end))
        housing, seen = towards(end.bolt, stud), turn(np.swapaxes(holder, -1, -2), turn(part, stud))
    else:
        stud = stud_axis(end, mechanism)
        housing, seen = towards(axis, stud), turn(np.swapaxes(part, -1, -2), turn(holder, stud))
    # The two vehicle axes most square to the housing give the ways their names.
    first, second = np.eye(3)[np.sort(np.argsort(np.abs(housing), kind="stable")[:2])]
    leans = lean(seen, housing, first)
    if np.cross(housing, first) @ second < 0.0:
        leans[:, 1] *= -1.0
    ways = [
        way_swing(word, sense * leans[:, column], leans[:, 1 - column], end.joint.tilt)
        for column, direction in enumerate((first, second))
        for word, sense in _words(direction, end.at)
    ]
    worst = int(joint.tilt.argmax())
    column = int(np.abs(leans[worst]).argmax())
    words = _words((first, second)[column], end.at)
    swing = float(joint.tilt[worst])
    furthest = next(word for word, sense in words if sense * leans[worst, column] >= 0.0)
    ride = float(angle_between(stud, housing))
    return StudWays(joint.member, end, ride, swing, tuple(ways), furthest if swing >= UPRIGHT else None)


def way_swing(way: Way, swing: Array, aside: Array, limit: Limit | None) -> WaySwing:
    """The most of leans (N,) one way, and the least room ahead of them, with leans (N,) to the side."""
    most = float(swing.max(initial=0.0))
    if limit is None:
        return WaySwing(way, most, None)
    room = np.sqrt(np.maximum(limit.angle**2 - aside**2, 0.0)) - swing
    return WaySwing(way, most, float(room.min()))


def _words(direction: Array, at: Array) -> tuple[tuple[Way, float], tuple[Way, float]]:
    """What leaning along a vehicle axis (3,) is called at a place (3,), and with which sense each."""
    if direction[0] > 0.0:
        return (Way.FRONT, 1.0), (Way.REAR, -1.0)
    if direction[2] > 0.0:
        return (Way.UP, 1.0), (Way.DOWN, -1.0)
    if abs(at[1]) < MIDDLE:
        return (Way.LEFT, 1.0), (Way.RIGHT, -1.0)
    outward = 1.0 if at[1] > 0.0 else -1.0
    return (Way.OUTSIDE, outward), (Way.INSIDE, -outward)
