"""Joint limits: the person's own, or a typical value that says so.

A typical value is a pair: from the cautious figure on a joint is close to its limit, from the generous one on it is
over. Torques have no typical value: they are the part maker's alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from model.errors import SceneError
from model.joints import Hardware, Joint, JointKind, Spacers
from model.units import Length

# S, M: a thread is engaged by at least 1 to 1.5 of its diameters.
LEAST_THREAD, GOOD_THREAD = 1.0, 1.5


@dataclass(frozen=True)
class Limit:
    """Largest angle in rad; from `close` (rad) on it is worth a look. `typical` is true when the scene gave none."""

    angle: float
    close: float
    typical: bool
    source: str


@dataclass(frozen=True)
class TypicalSpan:
    """What is typical of a number: `words` for below the first of rising `bounds`, between them, and above the last.

    Never a limit, and always to be said to be typical.
    """

    bounds: tuple[float, ...]
    words: tuple[str, ...]

    def word(self, value: float) -> str:
        """What a value means; a bound belongs to what is inside the span, or above it in the middle."""
        last = self.bounds[-1]
        return self.words[sum(value >= bound for bound in self.bounds[:-1]) + (value > last)]


# Common practice, no source.
RIDE_FREQUENCY = TypicalSpan(
    (1.0, 1.5, 2.0),
    ("soft: floats over waves and uses much travel", "comfortable", "firm", "hard: for smooth tracks"),
)
FREQUENCY_RATIO = TypicalSpan(
    (1.0, 1.25),
    (
        "the rear is softer than the front: over a bump at speed the car pitches on",
        "the rear catches up with the front after a bump, so that pitching dies out",
        "the rear is much stiffer than the front: it kicks over bumps",
    ),
)


@dataclass(frozen=True)
class Rates:
    """How stiff a joint is: radial, axial in N/mm, turn, cock in N·mm/rad; `None` where the scene does not say."""

    radial: float | None
    axial: float | None
    turn: float | None
    cock: float | None


@dataclass(frozen=True)
class Fastening:
    """What the part maker's sheet says of bolt, thread and nuts, in its own words; the thread's diameter in mm."""

    fastener: str | None
    torque: str | None
    torque_source: str | None
    thread_diameter: float | None
    jam_nut: str | None
    jam_nut_torque: str | None


@dataclass(frozen=True)
class JointLimits:
    """A kind of joint with its limits; `None` where neither the scene nor common practice has one.

    `torqued_at` is where a bonded bush was tightened: "ride", "droop", "bump" or a wheel height in mm.
    """

    name: str
    kind: JointKind
    tilt: Limit | None
    turn: Limit | None
    torqued_at: str | float
    rates: Rates
    fastening: Fastening
    spacers: Spacers | None = None


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
    JointKind.UNIVERSAL_JOINT: (30.0, 30.0, "shaft makers, hard stop of a plain joint"),
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
    JointKind.UNIVERSAL_JOINT: "swing",
    JointKind.CONSTANT_VELOCITY_JOINT: "swing",
}


def limits_of(name: str, joint: Joint, units: Length = Length.MM) -> JointLimits:
    """The limits of a [joint] table, with typical ones where it gives none.

    Raises:
        SceneError: if a rod end's hardware leaves it no angle at all.

    """
    if joint.kind is JointKind.ROD_END:
        fallback: tuple[float, float, str] | None = _ROD_END[joint.spacers or Spacers.PLAIN]
    else:
        fallback = _TILT.get(joint.kind)
    source = joint.source or "the scene file"
    if joint.hardware is None:
        tilt = _limit(getattr(joint, TILT_KEY[joint.kind]), fallback, source)
    else:
        tilt = _hardware_limit(joint.hardware, joint.source)
    place = joint.torqued_at if joint.torqued_at is not None else "ride"
    diameter = joint.thread_diameter
    return JointLimits(
        name=name,
        kind=joint.kind,
        tilt=tilt,
        turn=_limit(joint.turn, _TURN.get(joint.kind), source),
        torqued_at=place if isinstance(place, str) else place * units.mm,
        rates=_rates(joint, units),
        fastening=Fastening(
            fastener=joint.fastener,
            torque=joint.torque,
            torque_source=joint.torque_source,
            thread_diameter=None if diameter is None else diameter * units.mm,
            jam_nut=joint.jam_nut,
            jam_nut_torque=joint.jam_nut_torque,
        ),
        spacers=joint.spacers,
    )


def plain_joint(kind: JointKind) -> JointLimits:
    """A joint that the scene names by its kind alone: every limit is typical."""
    return limits_of(kind.value, Joint(kind=kind))


def tilt_in_clevis(clevis_width: float, head_width: float, head_diameter: float) -> float:
    """Tilt in rad at which a square-cornered rod-end head touches the bracket's faces: asin(W/√(D²+H²)) − atan(H/D).

    D: a corner of the head is √(D²+H²)/2 from the ball's middle and atan(H/D) out of the head's own plane.
    """
    return math.asin(min(clevis_width / math.hypot(head_diameter, head_width), 1.0)) - math.atan2(
        head_width, head_diameter
    )


def tilt_on_spacers(ball_diameter: float, spacer_diameter: float, head_width: float) -> float:
    """Tilt in rad at which the head's bore touches a spacer or bolt: acos(S/E) − asin(H/E).

    D: seen from the ball's middle the spacer leaves the ball at acos(S/E) out of the ball's equator, the edge of the
    head's bore lies at asin(H/E).
    """
    return math.acos(spacer_diameter / ball_diameter) - math.asin(head_width / ball_diameter)


def _hardware_limit(hardware: Hardware, sheet: str | None) -> Limit:
    """The smallest of the tilts that the given sizes allow; `sheet` is what the scene says of where they are from."""
    tilts = {}
    if hardware.clevis_width is not None and hardware.head_diameter is not None:
        if hardware.clevis_width <= hardware.head_width:
            raise SceneError("has hardware with a head_width that does not fit its clevis_width; correct them.")
        tilt = tilt_in_clevis(hardware.clevis_width, hardware.head_width, hardware.head_diameter)
        tilts["the head meets the bracket"] = tilt
    on_ball = hardware.spacer_diameter or hardware.bolt_diameter
    if hardware.ball_diameter is not None and on_ball is not None:
        if max(on_ball, hardware.head_width) >= hardware.ball_diameter:
            raise SceneError("has hardware with a ball_diameter no larger than head, spacer or bolt; correct them.")
        tilt = tilt_on_spacers(hardware.ball_diameter, on_ball, hardware.head_width)
        tilts[f"the head meets the {'spacer' if hardware.spacer_diameter else 'bolt'}"] = tilt
    what, tilt = min(tilts.items(), key=lambda item: item[1])
    if tilt <= 0.0:
        raise SceneError("has hardware that leaves the rod end no angle at all; correct its sizes.")
    sizes = "hardware sizes in the scene file" if sheet is None else f"hardware sizes from {sheet}"
    return Limit(tilt, tilt * CLOSE_SHARE, typical=False, source=f"{sizes}: {what}")


def _rates(joint: Joint, units: Length) -> Rates:
    def scaled(value: float | None, unit: float) -> float | None:
        return None if value is None else value * unit

    given = joint.rates
    if given is None:
        return Rates(None, None, None, None)
    return Rates(
        radial=scaled(given.radial, units.rate),
        axial=scaled(given.axial, units.rate),
        turn=scaled(given.turn, units.turn_rate),
        cock=scaled(given.cock, units.turn_rate),
    )


def _limit(given: float | None, fallback: tuple[float, float, str] | None, source: str) -> Limit | None:
    if given is not None:
        return Limit(math.radians(given), math.radians(given) * CLOSE_SHARE, typical=False, source=source)
    if fallback is None:
        return None
    cautious, generous, where = fallback
    close = cautious if cautious < generous else generous * CLOSE_SHARE
    return Limit(math.radians(generous), math.radians(close), typical=True, source=f"typical: {where}")
