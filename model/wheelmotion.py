"""Where the wheels of a suspension are in each pose, how they move with each drive, and what they steer about."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model import wheelgeometry
from model.mechanism import Mechanism, Wheel
from model.rates import Moving
from model.spatial import Array, turn, unit


@dataclass(frozen=True, eq=False)
class WheelMotion:
    """A wheel over N poses: centre and contact (N, 3) in mm, unit spin axis (N, 3), pointing left.

    twists (D, N, 6): of what carries it, about the vehicle's origin, with each drive. `column` is that of the drive of
    its height; `hand` is 1 on the left and −1 on the right.
    """

    wheel: Wheel
    hand: float
    column: int
    centre: Array
    axis: Array
    contact: Array
    twists: Array

    @property
    def name(self) -> str:
        """What a person calls it."""
        return f"{self.wheel.side} wheel"


def wheel_motions(moving: Moving) -> tuple[WheelMotion, ...]:
    """Every wheel, the left one first."""
    return tuple(_motion(moving, wheel) for wheel in sorted(moving.poses.mechanism.wheels, key=lambda each: each.side))


def _motion(moving: Moving, wheel: Wheel) -> WheelMotion:
    mechanism, carrier = moving.poses.mechanism, moving.place(wheel.on)
    centre, axis = carrier.point(wheel.centre), turn(carrier.rotation, wheel.axis)
    return WheelMotion(
        wheel=wheel,
        hand=1.0 if wheel.side == "left" else -1.0,
        column=mechanism.drive_number(wheel.side),
        centre=centre,
        axis=axis,
        contact=wheelgeometry.contact_point(centre, axis, wheel.loaded_radius),
        twists=moving.twist(wheel.on),
    )


def steering_axis(moving: Moving, motion: WheelMotion) -> tuple[Array, Array] | None:
    """A point (N, 3) on the line about which a wheel steers, and its unit direction (N, 3), upwards.

    It is the line of a knuckle's kingpin, of its two ball joints, or of its ball joint and its strut's top mount.
    Where a steered knuckle is held in another way, it is the screw axis of its motion while the steering moves and the
    coilover keeps its length. `None` where nothing steers and no such joints are there.
    """
    on = motion.wheel.on
    line = _joint_line(moving, on)
    if line is not None:
        first, second = line
        direction = unit(second - first)
        return first, np.where(direction[:, 2:] < 0.0, -direction, direction)
    steer = moving.poses.mechanism.steer
    if steer is None or not motion.twists[steer].any():
        return None
    return wheelgeometry.screw_axis(_steered(moving, motion, steer))


def _joint_line(moving: Moving, knuckle: str) -> tuple[Array, Array] | None:
    """Where the two joints (N, 3) are on which a knuckle turns."""
    mechanism = moving.poses.mechanism
    if _carries_all(mechanism, knuckle):
        return None
    ends = [(pin.part, pin.end.at) for pin in mechanism.pins if pin.part == knuckle]
    if not ends:
        ends = [(knuckle, arm.ball.at) for arm in mechanism.arms if arm.ball is not None and arm.ball.on == knuckle]
        ends += [(each.top.on, each.top.at) for each in mechanism.coilovers if each.strut and each.bottom.on == knuckle]
    if len(ends) != 2:
        return None
    first, second = (moving.place(part).point(at) for part, at in ends)
    return first, second


def _carries_all(mechanism: Mechanism, part: str) -> bool:
    """Whether several wheels sit on a part: an axle, which steers with neither."""
    return sum(wheel.on == part for wheel in mechanism.wheels) > 1


def _steered(moving: Moving, motion: WheelMotion, steer: int) -> Array:
    """Twist (N, 6) of a wheel's carrier while steering moves and the coilover that the wheel moves most keeps still."""
    rates = [moving.shortening(each)[1] for each in moving.poses.mechanism.coilovers]
    if not rates:
        return np.asarray(motion.twists[steer])
    held = max(rates, key=lambda rate: float(np.abs(rate[motion.column]).min()))
    risen = -held[steer] / held[motion.column]
    return np.asarray(motion.twists[steer] + risen[:, None] * motion.twists[motion.column])
