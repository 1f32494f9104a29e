"""Two bushes that carry one arm but are not in line: how far each cocks because of it.

A bush whose bolt stands at an angle α to the line that its arm turns about is cocked, after a turn θ, by the angle
between the bolt and the place to which the turn has taken its eye: sin(cocking/2) = sin α · sin(θ/2).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.mechanism import End
from model.members import posture
from model.poses import Poses
from model.spatial import Array, dot, norm, unit

# A bracket is welded and a tape is read no truer than this: 1 mm in 200 mm.
IN_LINE = float(np.radians(0.3))
# Two bolts that both stand across the line of their bushes clamp a part; it is not meant to turn about that line.
CLAMPED = float(np.radians(45.0))


@dataclass(frozen=True)
class OffBolt:
    """A bush whose bolt is not in line with the other's, in rad: its angle to the line through both bushes, the largest
    cocking over the poses, and the moment in N·mm that this takes, `None` where the bush's cocking rate is not given.
    """

    end: End
    off_line: float
    cocking: float
    moment: float | None


@dataclass(frozen=True)
class OutOfLine:
    """Two bushes of an arm or an anti-roll bar that fight each other; `between` their bolts, rad."""

    member: str
    between: float
    bushes: tuple[OffBolt, OffBolt]


def out_of_line(poses: Poses) -> tuple[OutOfLine, ...]:
    """Every arm and anti-roll bar with a bolt that is not along the line through both of its bushes; solved poses."""
    mechanism = poses.mechanism
    carried = [(arm.name, arm.pivots) for arm in mechanism.arms] + [(bar.name, bar.pivots) for bar in mechanism.bars]
    carried = [
        (name, pivots)
        for name, pivots in carried
        if max(_off_line(pivots)) > IN_LINE and min(_off_line(pivots)) < CLAMPED
    ]
    if not carried:
        return ()
    cocking: dict[tuple[str, str], float] = {}
    for _, part in poses.solved_parts():
        for joint in posture(part).joints:
            key = joint.member, joint.end.place
            cocking[key] = max(cocking.get(key, 0.0), float(joint.tilt.max()))
    if not cocking:
        return ()
    found = []
    for name, pivots in carried:
        first, second = (
            _off_bolt(end, off, cocking[name, end.place]) for end, off in zip(pivots, _off_line(pivots), strict=True)
        )
        found.append(OutOfLine(name, _between_lines(pivots[0].bolt, pivots[1].bolt), (first, second)))
    return tuple(found)


def _off_bolt(end: End, off_line: float, cocking: float) -> OffBolt:
    rate = end.joint.rates.cock
    return OffBolt(end, off_line, cocking, None if rate is None else rate * cocking)


def _off_line(pivots: tuple[End, End]) -> tuple[float, float]:
    line = unit(pivots[1].at - pivots[0].at)
    return _between_lines(pivots[0].bolt, line), _between_lines(pivots[1].bolt, line)


def _between_lines(a: Array, b: Array) -> float:
    """Angle in rad between two unit directions (3,), whichever way each points."""
    return float(np.arctan2(norm(np.cross(a, b)), np.abs(dot(a, b))))
