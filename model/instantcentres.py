"""Roll centres and the slopes along which wheels are pushed, from velocities: plain functions on arrays.

Seen from the front, a wheel's contact moves along some direction while the wheel rises; a sideways force there lifts or
lowers the body as if it acted along the line square to that direction. Where the lines of both wheels meet is the roll
centre. Both wheels of an axle move with each other: its roll centre is the point that stands still while it rolls.

Seen from the side, a force along the road lifts the body with dx/dz of it, the slope of the path of what it acts on:
the contact, of a wheel that is one with its carrier while its brake, or a live axle's final drive, holds it; of a wheel
whose torque goes past the carrier to the frame, a contact that does not turn about the wheel's own axis.
"""

from __future__ import annotations

import numpy as np

from model.spatial import Array, across, cross
from model.tangents import point_velocity

# A carrier that turns less than this seen from the side, rad for a mm of wheel, has its instant centre farther off than
# 10 km: nowhere.
LEAST_TURN = 1e-7
# Slopes of the lines of two wheels that differ by less, mm for a mm, are parallel: they meet farther off than 10 km.
LEAST_SLOPE = 1e-7


def roll_centre_of_two(left: Array, left_moves: Array, right: Array, right_moves: Array) -> tuple[Array, Array]:
    """Roll centre of two wheels that move by themselves: where the lines of both contacts meet, seen from the front.

    Args:
        left, right: contacts (..., 3) in mm.
        left_moves, right_moves: their velocities (..., 3), each while its own wheel rises.

    Returns:
        y (...) and height (...) over the line between both contacts, mm. y is NaN where the lines are parallel, and the
        height too unless both lie along the road, where it is 0.

    """
    road = (left - right)[..., 2] / (left - right)[..., 1]
    # Slopes dz/dy, counted from the road, of the lines square to the motion.
    one = -left_moves[..., 1] / left_moves[..., 2] - road
    other = -right_moves[..., 1] / right_moves[..., 2] - road
    track, apart = (left - right)[..., 1], one - other
    parallel = np.abs(apart) < LEAST_SLOPE
    apart = np.where(parallel, np.nan, apart)
    flat = parallel & (np.abs(one) < LEAST_SLOPE)
    sideways = (one * left[..., 1] - other * right[..., 1]) / apart
    return sideways, np.where(flat, 0.0, one * other * track / apart)


def roll_centre_of_axle(left: Array, left_moves: Array, right: Array, right_moves: Array) -> tuple[Array, Array]:
    """Roll centre of an axle: the point that stands still while one wheel rises and the other falls as far.

    Args and returns as of `roll_centre_of_two`, with velocities while the axle rolls. Where the contacts do not keep
    their distance, as on an axle whose wheels steer by themselves, the middle between them counts: the roll centre is
    where a sideways force, half of it on each wheel, does not roll the axle.

    """
    line, moved = left - right, 0.5 * (left_moves + right_moves)
    middle, rolled = 0.5 * (left + right), (left_moves - right_moves)[..., 2] / line[..., 1]
    # y' = −ω z and z' = ω y of a point from the one that stands still.
    sideways, above = -moved[..., 2] / rolled, moved[..., 1] / rolled
    return middle[..., 1] + sideways, above - sideways * line[..., 2] / line[..., 1]


def side_view_centre(twist: Array, contact: Array) -> tuple[Array, Array]:
    """Where a wheel's carrier turns about, seen from the side in the wheel's own plane.

    Args:
        twist: of the carrier (..., 6) while the wheels rise.
        contact: of the wheel (..., 3) in mm.

    Returns:
        how far ahead of the contact (...) and how far above it (...), mm; NaN where the carrier hardly turns.

    """
    moved, turned = point_velocity(twist, contact), twist[..., 4]
    turned = np.where(np.abs(turned) > LEAST_TURN, turned, np.nan)
    return moved[..., 2] / turned, -moved[..., 0] / turned


def contact_moves(twist: Array, contact: Array, centre: Array, axis: Array, *, on_carrier: bool) -> Array:
    """Velocity (..., 3) of what a force along the road acts on at a wheel's contact.

    Args:
        twist: of the carrier (..., 6).
        contact, centre, axis: of the wheel (..., 3); the unit spin axis.
        on_carrier: whether the carrier takes up the wheel's torque, so that the wheel turns with it; otherwise the
            frame does, and the wheel does not turn about its axis while it rises.

    """
    if on_carrier:
        return point_velocity(twist, contact)
    return point_velocity(twist, centre) + cross(across(twist[..., 3:], axis), contact - centre)


def force_angle(moves: Array) -> Array:
    """Angle (...) in rad at which a force along the road lifts the body, from the velocity (..., 3) of its contact.

    Positive where the contact goes ahead while it rises: the line of force then rises to the rear.
    """
    return np.arctan2(moves[..., 0], moves[..., 2])


def anti(angle: Array, *, front: bool, share: float, wheelbase: float, height: float) -> Array:
    """How much (...) of the load that braking or drive moves goes through the links, not through the springs; 1: all.

    A force F along the road moves F · height / wheelbase from one axle to the other; an axle that has `share` of it
    lifts itself by share · F · tan(angle). Barton & Fieldhouse, Automotive Chassis Engineering, eq. 3.63 is this of a
    live axle under drive.

    Args:
        angle: `force_angle` of the axle's wheels (...) in rad.
        front: the axle is ahead; anti-dive when it brakes and anti-lift when it drives. Of a rear axle: anti-lift when
            it brakes, anti-squat when it drives.
        share: of the whole force that this axle has, 0 to 1.
        wheelbase: mm.
        height: of the centre of gravity over the road, mm.

    """
    return np.asarray((1.0 if front else -1.0) * share * np.tan(angle) * wheelbase / height)
