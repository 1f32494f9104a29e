"""What each curve is called, what kind of number it is, and what it means in one line."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from model.spatial import Array


class Amount(StrEnum):
    """What kind of number a curve holds, and its unit inside: rad, mm, N/mm, N·mm/rad, Hz, rad/mm, or none."""

    ANGLE = "angle"
    LENGTH = "length"
    RATIO = "ratio"
    RATE = "rate"
    ROLL_STIFFNESS = "roll stiffness"
    FREQUENCY = "frequency"
    TURN_RATE = "angle for a length"
    SHARE = "share"


@dataclass(frozen=True, eq=False)
class Curve:
    """Values (N,) over poses, in the unit of their kind of number; NaN where there is nothing to measure.

    `where` is "left wheel", "right wheel", "axle", or the name of a coilover, bar or shaft's joint. `definition` says
    in one line what it is, which way it counts and where the definition comes from.
    """

    what: str
    where: str
    quantity: Amount
    values: Array
    definition: str


@dataclass(frozen=True)
class Kind:
    """A kind of curve."""

    what: str
    quantity: Amount
    definition: str

    def curve(self, where: str, values: Array) -> Curve:
        """One curve of this kind."""
        return Curve(self.what, where, self.quantity, np.asarray(values, dtype=float), self.definition)


CAMBER = Kind(
    "camber",
    Amount.ANGLE,
    "how far the wheel leans from the vehicle's upright; positive: its top leans out (ISO 8855, camber angle)",
)
TOE = Kind("toe", Amount.ANGLE, "how far one wheel points in at the front; negative: out (ISO 8855 7.1.6, toe angle)")
BUMP_STEER = Kind(
    "bump steer",
    Amount.TURN_RATE,
    "how much toe changes while the wheel rises with the steering held, both wheels together; 0 is best",
)
CAMBER_CHANGE = Kind(
    "camber change",
    Amount.TURN_RATE,
    "how much camber changes while the wheel rises, both wheels together",
)
CASTER = Kind(
    "caster",
    Amount.ANGLE,
    "how far the top of the steering axis leans back, seen from the side (ISO 8855, castor angle)",
)
STEERING_AXIS_INCLINATION = Kind(
    "steering-axis inclination",
    Amount.ANGLE,
    "how far the top of the steering axis leans in, seen from the front (ISO 8855, steering-axis inclination)",
)
SCRUB_RADIUS = Kind(
    "scrub radius",
    Amount.LENGTH,
    "how far inboard of the tyre's contact the steering axis meets the road, square to the wheel; negative: outboard "
    "(ISO 8855, steering-axis offset at ground)",
)
MECHANICAL_TRAIL = Kind(
    "mechanical trail",
    Amount.LENGTH,
    "how far ahead of the tyre's contact the steering axis meets the road: the caster that centres the steering "
    "(ISO 8855, castor offset at ground)",
)
SIDE_SHIFT = Kind(
    "axle side shift", Amount.LENGTH, "how far the middle of the axle has moved sideways; positive: to the left"
)
AXLE_STEER = Kind(
    "axle steer", Amount.ANGLE, "how far the whole axle points to one side, seen from above; positive: to the left"
)
PINION = Kind(
    "pinion angle",
    Amount.ANGLE,
    "how steeply the pinion shaft stands to the level of the vehicle; positive: its flange points up",
)
PINION_TO_SHAFT = Kind(
    "pinion against gearbox",
    Amount.ANGLE,
    "angle between the pinion shaft and the gearbox output as seen from the side; 0: they are parallel",
)
MOTION_RATIO = Kind(
    "motion ratio",
    Amount.RATIO,
    "mm that the coilover shortens for a mm of wheel, both wheels together",
)
MOTION_RATIO_CROSSED = Kind(
    "motion ratio crossed",
    Amount.RATIO,
    "mm that the coilover shortens for a mm of the wheel on its side, while the other wheel falls as far",
)
WHEEL_RATE = Kind(
    "wheel rate",
    Amount.RATE,
    "how stiff the spring is at the wheel, both wheels together: both parts below added up, without bushes, dampers "
    "and bump stops (d(spring force × motion ratio)/d(wheel height))",
)
RATE_OF_SPRING = Kind(
    "wheel rate from spring rate",
    Amount.RATE,
    "the part of the wheel rate that is spring rate × motion ratio² (Barton & Fieldhouse, Automotive Chassis "
    "Engineering, eq. 3.33)",
)
RATE_OF_GEOMETRY = Kind(
    "wheel rate from geometry",
    Amount.RATE,
    "the part of the wheel rate that is spring force × change of the motion ratio for a mm of wheel",
)
