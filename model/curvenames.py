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
CAMBER_TO_ROAD = Kind(
    "camber to the road",
    Amount.ANGLE,
    "camber counted from the road under both wheels, which leans against the vehicle as the body rolls (ISO 8855, "
    "inclination angle)",
)
STEER_ANGLE = Kind(
    "steer angle", Amount.ANGLE, "how far one wheel points to a side; positive: to the left (ISO 8855 7.1.1)"
)
WHEELBASE_CHANGE = Kind(
    "wheelbase change",
    Amount.LENGTH,
    "how far the tyre's contact has moved along the vehicle; positive: ahead",
)
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
SIDE_VIEW_AHEAD = Kind(
    "side-view instant centre ahead",
    Amount.LENGTH,
    "how far ahead of the tyre's contact the point is that the wheel's carrier turns about, seen from the side, both "
    "wheels together; negative: behind",
)
SIDE_VIEW_ABOVE = Kind(
    "side-view instant centre height",
    Amount.LENGTH,
    "how far above the tyre's contact that point is",
)
BRAKING_ANGLE = Kind(
    "braking force angle",
    Amount.ANGLE,
    "slope of the line along which braking lifts the body at this wheel, with the brake's torque where the scene puts "
    "it; positive: it rises to the rear. A front that resists diving has it positive, a rear that resists lifting "
    "negative",
)
DRIVE_ANGLE = Kind(
    "drive force angle",
    Amount.ANGLE,
    "the same of the force that drives the wheel; positive: it rises to the rear. A rear that resists squatting has it "
    "negative",
)
TRACK = Kind("track", Amount.LENGTH, "sideways distance of both tyres' contacts (ISO 8855, track)")
_HEIGHT = "height over the road of the point about which the body begins to roll"
_SIDE = "how far to the left of the vehicle's middle plane that point is"
_LINES = "where the lines square to the paths of both tyres' contacts meet, seen from the front"
_STILL = "the point of the axle that stands still while one wheel rises and the other falls as far"
ROLL_CENTRE_HEIGHT = Kind("roll centre height", Amount.LENGTH, f"{_HEIGHT}: {_LINES}")
ROLL_CENTRE_SIDE = Kind("roll centre sideways", Amount.LENGTH, f"{_SIDE}: {_LINES}")
AXLE_ROLL_CENTRE_HEIGHT = Kind("roll centre height", Amount.LENGTH, f"{_HEIGHT}: {_STILL}")
AXLE_ROLL_CENTRE_SIDE = Kind("roll centre sideways", Amount.LENGTH, f"{_SIDE}: {_STILL}")
SIDE_SHIFT = Kind(
    "axle side shift", Amount.LENGTH, "how far the middle of the axle has moved sideways; positive: to the left"
)
AXLE_STEER = Kind(
    "axle steer", Amount.ANGLE, "how far the whole axle points to one side, seen from above; positive: to the left"
)
ROLL_STEER = Kind(
    "axle roll steer",
    Amount.RATIO,
    "degrees by which the axle steers to the left for a degree that its left wheel goes up",
)
PINION = Kind(
    "pinion angle",
    Amount.ANGLE,
    "how steeply the pinion shaft stands to the level of the vehicle; positive: its flange points up",
)
PINION_TO_SHAFT = Kind(
    "pinion against gearbox",
    Amount.ANGLE,
    "how much steeper the pinion shaft rises than the shaft at the other end of the driveshaft; 0: they are parallel",
)
JOINT_ANGLE = Kind("shaft joint angle", Amount.ANGLE, "true angle between the two shafts that meet in a joint")
SHAFT_LENGTH = Kind(
    "shaft length change", Amount.LENGTH, "how much longer a driveshaft is than at ride height; negative: shorter"
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
BAR_MOTION_RATIO = Kind(
    "bar motion ratio",
    Amount.RATIO,
    "mm that the end of the bar's arm goes round the bar for a mm of the wheel on its side, while the other wheel "
    "falls as far",
)
RIDE_FREQUENCY = Kind(
    "ride frequency",
    Amount.FREQUENCY,
    "how often a second the body bounces on this wheel undamped: √(wheel rate / sprung mass) / 2π, the tyre in series "
    "where the scene gives its rate",
)
FROM_SPRINGS, FROM_BAR = "springs", "anti-roll bar"
ROLL_STIFFNESS = Kind(
    "roll stiffness",
    Amount.ROLL_STIFFNESS,
    "moment that turns the body against the road by a degree, from the springs, from the anti-roll bar, or from both; "
    "without bushes and tyres. A bar whose rate the scene does not give is taken as solid steel of typical stiffness",
)
INNER = Kind("inner steer angle", Amount.ANGLE, "how far the wheel inside the turn is steered")
OUTER = Kind("outer steer angle", Amount.ANGLE, "how far the wheel outside the turn is steered")
IDEAL_OUTER = Kind(
    "ideal outer steer angle",
    Amount.ANGLE,
    "the outer angle with which both wheels would roll about one point: cot(outer) − cot(inner) = track / wheelbase "
    "(ISO 8855 7.1.9, Ackermann geometry)",
)
ACKERMANN = Kind(
    "Ackermann",
    Amount.SHARE,
    "difference of inner and outer steer angle, both counted from straight ahead, as a share of the ideal difference; "
    "100 %: no scrub in a slow turn, 0 %: wheels parallel",
)
TURNING_CIRCLE = Kind(
    "turning circle",
    Amount.LENGTH,
    "diameter of the circle of the outer wheel's contact in a slow turn, the other axle not steered",
)
