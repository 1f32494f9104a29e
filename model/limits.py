"""Joint limits: the person's own, or a typical value that says so.

A typical value is a pair: from the cautious figure on a joint is close to its limit, from the generous one on it is
over. Torques have no typical value: they are the part maker's alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from model.scene import Joint, JointKind, Spacers


@dataclass(frozen=True)
class Limit:
    """Largest angle in rad; from `close` (rad) on it is worth a look. `typical` is true when the scene gave none."""

    angle: float
    close: float
    typical: bool
    source: str


@dataclass(frozen=True)
class JointLimits:
    """A kind of joint with its limits; `None` where neither the scene nor common practice has one."""

    name: str
    kind: JointKind
    tilt: Limit | None
    turn: Limit | None


# A given limit is close from 90 % on: a tape and a protractor under a car are good to a degree or so in ten.
CLOSE_SHARE = 0.9

# From docs/sources.md, "Values of the trade": (cautious, generous) in degrees and where the pair comes from.
_ROD_END = {
    Spacers.NONE: (5.5, 5.5, "measured bare rod ends in a tight bracket"),
    Spacers.PLAIN: (12.0, 12.0, "makers' sheets for plain spacers"),
    Spacers.HIGH_MISALIGNMENT: (30.0, 34.0, "makers' sheets for high-misalignment spacers"),
}
_TILT = {
    JointKind.BALL_JOINT: (20.0, 30.0, "from memory of makers' sheets"),
    JointKind.INLINE_BALL_JOINT: (20.0, 30.0, "from memory of makers' sheets"),
    JointKind.RUBBER_BUSH: (2.0, 5.0, "common practice, no source"),
    JointKind.POLY_BUSH: (2.0, 3.0, "common practice, no source"),
    JointKind.PLAIN_SLEEVE: (2.0, 3.0, "common practice, no source"),
}
_TURN = {JointKind.RUBBER_BUSH: (15.0, 25.0, "common practice, no source")}

TILT_KEY = {
    JointKind.ROD_END: "tilt",
    JointKind.STRUT_MOUNT: "tilt",
    JointKind.BALL_JOINT: "swing",
    JointKind.INLINE_BALL_JOINT: "swing",
    JointKind.RUBBER_BUSH: "cock",
    JointKind.POLY_BUSH: "cock",
    JointKind.PLAIN_SLEEVE: "cock",
}


def limits_of(name: str, joint: Joint) -> JointLimits:
    """The limits of a [joint] table, with typical ones where it gives none."""
    if joint.kind is JointKind.ROD_END:
        fallback: tuple[float, float, str] | None = _ROD_END[joint.spacers or Spacers.PLAIN]
    else:
        fallback = _TILT.get(joint.kind)
    source = joint.source or "the scene file"
    return JointLimits(
        name=name,
        kind=joint.kind,
        tilt=_limit(getattr(joint, TILT_KEY[joint.kind]), fallback, source),
        turn=_limit(joint.turn, _TURN.get(joint.kind), source),
    )


def plain_joint(kind: JointKind) -> JointLimits:
    """A joint that the scene names by its kind alone: every limit is typical."""
    return limits_of(kind.value, Joint(kind=kind))


def _limit(given: float | None, fallback: tuple[float, float, str] | None, source: str) -> Limit | None:
    if given is not None:
        return Limit(math.radians(given), math.radians(given) * CLOSE_SHARE, typical=False, source=source)
    if fallback is None:
        return None
    cautious, generous, where = fallback
    close = cautious if cautious < generous else generous * CLOSE_SHARE
    return Limit(math.radians(generous), math.radians(close), typical=True, source=f"typical: {where}")
