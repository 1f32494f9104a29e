"""Curves in words: which ones a run tells of, their values for a person, their keys in files."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from model import curvenames as named
from model.curvenames import Amount, Curve, Kind
from model.cycles import Cycle
from model.errors import CallError
from model.units import Length
from viz.words import MINUS, NOTHING

# Mm: from 5 m on a point is farther off than anything that it could tell of.
FAR = 5000.0

_STANDS = (named.CAMBER, named.TOE, named.BUMP_STEER, named.CAMBER_CHANGE, named.TRACK, named.WHEELBASE_CHANGE)
_STEERS = (named.CASTER, named.STEERING_AXIS_INCLINATION, named.SCRUB_RADIUS, named.MECHANICAL_TRAIL)
_AXLE = (named.SIDE_SHIFT, named.AXLE_STEER, named.PINION, named.PINION_TO_SHAFT)
_ROLLS = (named.ROLL_CENTRE_HEIGHT, named.ROLL_CENTRE_SIDE)
_SIDE_VIEW = (named.SIDE_VIEW_AHEAD, named.SIDE_VIEW_ABOVE, named.BRAKING_ANGLE, named.DRIVE_ANGLE)
_SPRUNG = (
    named.MOTION_RATIO,
    named.WHEEL_RATE,
    named.RATE_OF_SPRING,
    named.RATE_OF_GEOMETRY,
    named.RIDE_FREQUENCY,
)
_CROSSED = (named.MOTION_RATIO_CROSSED, named.BAR_MOTION_RATIO, named.ROLL_STIFFNESS)
_SHAFT = (named.JOINT_ANGLE, named.SHAFT_LENGTH)
_TURN = (
    named.STEER_ANGLE,
    named.INNER,
    named.OUTER,
    named.IDEAL_OUTER,
    named.ACKERMANN,
    named.TURNING_CIRCLE,
)
# What a table and a picture show of each run; files hold everything.
_OF_ONE = (*_STANDS, *_STEERS, *_AXLE, *_SIDE_VIEW, *_SPRUNG, *_SHAFT)
TOLD: dict[Cycle, tuple[Kind, ...]] = {
    Cycle.BOTH: (*_STANDS, *_STEERS, *_AXLE, *_ROLLS, *_SIDE_VIEW, *_SPRUNG, *_CROSSED, *_SHAFT),
    Cycle.CROSS: (
        named.CAMBER,
        named.CAMBER_TO_ROAD,
        named.TOE,
        named.SIDE_SHIFT,
        named.AXLE_STEER,
        named.ROLL_STEER,
        *_ROLLS,
        *_CROSSED,
        *_SHAFT,
    ),
    Cycle.LEFT: _OF_ONE,
    Cycle.RIGHT: _OF_ONE,
    Cycle.STEER: (*_TURN, named.CAMBER, *_STEERS),
}


DEGREE = 180.0 / math.pi
# What a kind of number is given in in files: its unit's name in a key, and the factor from the unit inside.
FILE_UNITS = {
    Amount.ANGLE: ("deg", DEGREE),
    Amount.LENGTH: ("mm", 1.0),
    Amount.RATIO: ("ratio", 1.0),
    Amount.RATE: ("n_per_mm", 1.0),
    Amount.ROLL_STIFFNESS: ("nm_per_deg", 1.0 / Length.MM.turn_rate),
    Amount.FREQUENCY: ("hz", 1.0),
    Amount.TURN_RATE: ("deg_per_mm", DEGREE),
    Amount.SHARE: ("percent", 100.0),
}


@dataclass(frozen=True)
class Scale:
    """How a kind of number is told to a person: the factor from the unit inside, the unit, and how many digits."""

    factor: float
    unit: str
    digits: int


def scale_of(amount: Amount, units: Length) -> Scale:
    """The unit of a kind of number for a person."""
    metric = units is Length.MM
    return {
        Amount.ANGLE: Scale(DEGREE, "°", 2),
        Amount.LENGTH: Scale(1.0 / units.mm, f" {units}", 1 if metric else 2),
        Amount.RATIO: Scale(1.0, "", 3),
        Amount.RATE: Scale(1.0 / units.rate, " N/mm" if metric else " lbf/in", 1 if metric else 0),
        Amount.ROLL_STIFFNESS: Scale(1.0 / units.turn_rate, " N·m/°" if metric else " lbf·ft/°", 0),
        Amount.FREQUENCY: Scale(1.0, " Hz", 2),
        # Of what a fitter measures in one go: 10 mm, or an inch.
        Amount.TURN_RATE: Scale(DEGREE * stretch(units), f"° / {_stretch(units)}", 3),
        Amount.SHARE: Scale(100.0, " %", 0),
    }[amount]


def scale_for(curve: Curve, units: Length) -> Scale:
    """The unit of a curve for a person: turning circles in metres or feet, points that wander in whole mm."""
    scale = scale_of(curve.quantity, units)
    if curve.what == named.TURNING_CIRCLE.what:
        scale = Scale(1e-3, " m", 1) if units is Length.MM else Scale(1.0 / (12.0 * units.mm), " ft", 1)
    elif curve.what == named.ROLL_STEER.what:
        scale = replace(scale, unit="° per °")
    elif curve.what in (named.SIDE_VIEW_AHEAD.what, named.SIDE_VIEW_ABOVE.what):
        scale = replace(scale, digits=scale.digits - 1)
    return scale


def stretch(units: Length) -> float:
    """The height in mm for which changes are told."""
    return 10.0 if units is Length.MM else units.mm


def _stretch(units: Length) -> str:
    return "10 mm" if units is Length.MM else "in"


def value_text(curve: Curve, value: float, units: Length) -> str:
    """A value of a curve for a person; a dash where there is none."""
    if math.isnan(value):
        return NOTHING
    if curve.quantity is Amount.LENGTH and abs(value) > FAR and curve.what in FAR_OFF:
        return "far off"
    scale = scale_for(curve, units)
    return f"{_rounded(value * scale.factor, scale.digits)}{scale.unit}"


# Lengths that run off to nowhere as parts become parallel.
FAR_OFF = {
    named.SIDE_VIEW_AHEAD.what,
    named.SIDE_VIEW_ABOVE.what,
    named.ROLL_CENTRE_HEIGHT.what,
    named.ROLL_CENTRE_SIDE.what,
}


def slope_text(curve: Curve, slope: float, units: Length) -> str:
    """How much an angle or a length changes for 10 mm, or an inch, of wheel; a dash of what has no such meaning."""
    if curve.quantity not in (Amount.ANGLE, Amount.LENGTH) or math.isnan(slope) or curve.what in FAR_OFF:
        return NOTHING
    scale = scale_of(curve.quantity, units)
    return f"{_rounded(slope * stretch(units) * scale.factor, scale.digits + 1, '+')}{scale.unit}"


def _rounded(value: float, digits: int, sign: str = "") -> str:
    """A number with so many digits; never a minus nought."""
    return f"{round(value, digits) + 0.0:{sign}.{digits}f}".replace("-", MINUS)


def slope_head(units: Length) -> str:
    """What a column of `slope_text` is headed."""
    return f"change for {'10 mm' if units is Length.MM else '1 in'}"


def key_of(curve: Curve) -> str:
    """The key of a curve in files, its unit included: `camber_left_deg`, `motion_ratio_left_coilover_ratio`."""
    where = curve.where.removesuffix(" wheel") if curve.where != "axle" else ""
    words = [word for word in (curve.what, where) if word]
    if curve.quantity is not Amount.RATIO:
        words.append(FILE_UNITS[curve.quantity][0])
    return re.sub(r"\W+", "_", " ".join(words).lower()).strip("_")


def wanted(curves: Sequence[Curve], run: Cycle, only: Sequence[str] | None) -> list[Curve]:
    """The curves to show of a run: those whose names hold one of some words, or those that the run tells of."""
    if only:
        return named_like(curves, only)
    told = {kind.what for kind in TOLD[run]}
    return [each for each in curves if each.what in told]


def named_like(curves: Sequence[Curve], only: Sequence[str]) -> list[Curve]:
    """The curves whose names hold one of some words."""
    return [each for each in curves if any(word.lower() in each.what.lower() for word in only)]


def check_only(curves: Sequence[Curve], only: Sequence[str] | None) -> None:
    """Refuse words that no curve's name holds.

    Raises:
        CallError: names those that there are.

    """
    names = list(dict.fromkeys(each.what for each in curves))
    for word in only or ():
        if not any(word.lower() in name.lower() for name in names):
            raise CallError(f'--only is "{word}", expected part of a name of a curve: {", ".join(names)}.')
