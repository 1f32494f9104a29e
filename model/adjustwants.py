"""What can be wanted of a setting, measured at ride height: camber, toe, pinion angle, where the axle sits, and so on.

What `model.curves` measures as an angle, a length or a ratio can be wanted by its name, and beside it what only a
setting changes: where the axle sits from the vehicle's middle, and ride height.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from model.adjustdrives import Adjustable
from model.curvenames import Amount
from model.curves import curves
from model.errors import CallError
from model.mechanism import Mechanism, Motion, Offset
from model.naming import SIDES, suggestion
from model.poses import Poses, Status
from model.rates import place_of, wheel_columns
from model.spatial import Array

AXLE_SHIFT, RIDE_HEIGHT = "axle shift", "ride height"
# Of these curves there is nothing to set: they count from ride height, or follow from what is there.
_LEFT_OUT = ("axle side shift",)
_WANTED = (Amount.ANGLE, Amount.LENGTH, Amount.RATIO)
# Other words of the trade for what is measured.
_ALSO = {
    "pinion": "pinion angle",
    "castor": "caster",
    "caster angle": "caster",
    "camber angle": "camber",
    "toe in": "toe",
    "side shift": AXLE_SHIFT,
    "axle side shift": AXLE_SHIFT,
    "thrust angle": "axle steer",
    "kingpin inclination": "steering-axis inclination",
    "trail": "mechanical trail",
    "height": RIDE_HEIGHT,
}
# Largest angle in degrees that is a setting and no slip of units; common practice, no source.
_MOST_DEGREES = {"camber": 12.0, "toe": 5.0, "axle steer": 5.0, "caster": 25.0}
_MOST_DEGREES_ELSE = 30.0
# Largest length in mm, from the value now, that an adjuster gives; common practice, no source.
_MOST_MM = 300.0


@dataclass(frozen=True, eq=False)
class Value:
    """Something measured over N settings: values (N,) in rad, mm or mm per mm. `where` is "" for the whole axle."""

    what: str
    where: str
    quantity: Amount
    values: Array

    @property
    def name(self) -> str:
        """What a person calls it."""
        return self.what if self.where in ("", "axle") else f"{self.where} {self.what}"


@dataclass(frozen=True)
class Want:
    """A value that is wanted, rad, mm or mm per mm, by the full names of what is measured."""

    name: str
    quantity: Amount
    value: float


def plain(adjusted: Adjustable, mechanism: Mechanism, poses: Poses) -> Poses:
    """Poses of a mechanism with adjusters as poses of one without such drives, for what is measured of any scene.

    Its rows ask what they asked before the adjusters moved; tangents do not depend on that.
    """
    count = len(mechanism.drives)
    rows = tuple(
        replace(row, drive=None) if isinstance(row, Offset) and row.drive is not None and row.drive >= count else row
        for row in adjusted.mechanism.rows
    )
    bodies = tuple(
        replace(body, motion=Motion.FIXED) if body.name in adjusted.carriers else body
        for body in adjusted.mechanism.bodies
    )
    still = replace(adjusted.mechanism, bodies=bodies, rows=rows, drives=mechanism.drives)
    travel = replace(poses.travel, names=poses.travel.names[:count], values=poses.travel.values[:, :count])
    return replace(poses, mechanism=still, travel=travel, status=np.full(len(poses), Status.SOLVED, dtype=np.int8))


def values_of(poses: Poses) -> tuple[Value, ...]:
    """Everything that can be wanted, over poses that `plain` gives."""
    return tuple(_values(poses))


def _values(poses: Poses) -> Iterator[Value]:
    for each in curves(poses):
        if each.quantity in _WANTED and each.what not in _LEFT_OUT and np.isfinite(each.values).all():
            yield Value(each.what, each.where.removesuffix(" wheel"), each.quantity, each.values)
    wheels = sorted(poses.mechanism.wheels, key=lambda wheel: wheel.side)
    centres = {wheel.side: place_of(poses, wheel.on).point(wheel.centre) for wheel in wheels}
    if len(centres) == 2 and poses.mechanism.beams:
        yield Value(AXLE_SHIFT, "", Amount.LENGTH, 0.5 * (centres["left"] + centres["right"])[:, 1])
    heights = poses.travel.values[:, wheel_columns(poses.mechanism)]
    for number, side in enumerate(drive.name for drive in poses.mechanism.drives if drive.name in SIDES):
        yield Value(RIDE_HEIGHT, side, Amount.LENGTH, -heights[:, number])


def parsed(texts: Sequence[str], now: Sequence[Value], mm: float) -> tuple[Want, ...]:
    """Wants from texts such as "left camber = -0.5"; without a side it is wanted of both.

    Args:
        texts: what the person writes, lengths in a unit of `mm`, angles in degrees.
        now: what can be wanted.
        mm: the unit of lengths.

    Raises:
        CallError: with a sentence for each text that is no want.

    """
    complaints: list[str] = []
    wants: dict[str, Want] = {}
    for text in texts:
        try:
            for want in _one(text, now, mm):
                if want.name in wants:
                    raise CallError(f'--want "{text}" wants "{want.name}" a second time; keep one of the two.')
                wants[want.name] = want
        except CallError as error:
            complaints += error.complaints
    if complaints:
        raise CallError(complaints)
    return tuple(wants.values())


def _one(text: str, now: Sequence[Value], mm: float) -> list[Want]:
    name, equals, number = (part.strip() for part in text.partition("="))
    if not equals or not name:
        raise CallError(f'--want "{text}" is no want, expected a name and a value, such as "camber = -0.5".')
    try:
        value = float(number.replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        value = np.nan
    if not np.isfinite(value):
        raise CallError(
            f'--want "{text}" has "{number}" as its value, expected a number without a unit: degrees, or the '
            "unit of length that is printed."
        )
    side, what = _split(name)
    what = _ALSO.get(what, what)
    found = [each for each in now if each.name.casefold() == name.casefold()]
    found = found or [each for each in now if each.what == what and side in (None, each.where)]
    if not found:
        known = dict.fromkeys(each.what for each in now)
        raise CallError(f'--want "{text}" names "{name}", which this scene has not; {suggestion(what, known)}')
    return [_want(text, each, value, mm) for each in found]


def _split(name: str) -> tuple[str | None, str]:
    words = " ".join(name.casefold().replace("_", " ").split())
    first, _, rest = words.partition(" ")
    return (first, rest) if first in SIDES and rest else (None, words)


def _want(text: str, found: Value, value: float, mm: float) -> Want:
    if found.quantity is Amount.ANGLE:
        most = _MOST_DEGREES.get(found.what, _MOST_DEGREES_ELSE)
        if abs(value) > most:
            raise CallError(
                f'--want "{text}" is no {found.what} in degrees, expected −{most:g} to {most:g}; check the unit.'
            )
        return Want(found.name, found.quantity, float(np.radians(value)))
    if found.quantity is Amount.RATIO:
        return Want(found.name, found.quantity, value)
    # A ride height counts from the one now.
    if abs(value * mm - float(found.values[0])) > _MOST_MM:
        raise CallError(
            f'--want "{text}" lies {abs(value * mm - float(found.values[0])) / mm:.0f} from the {found.what} now, '
            f"{found.values[0] / mm:.4g}, expected less than {_MOST_MM / mm:.4g}; check the unit."
        )
    return Want(found.name, found.quantity, value * mm)
