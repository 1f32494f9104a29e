"""Angles and offsets of wheels and steering axes as plain functions on arrays with leading batch axes.

Definitions after ISO 8855:2011, in the vehicle's axes (x forward, y left, z up), which ride with the frame; the road
under a wheel is level in them. A wheel's axis is the unit direction of its spin axis and points left on both sides;
`hand` is 1 for a left wheel and −1 for a right one.
"""

from __future__ import annotations

import numpy as np

from model.spatial import Array, cross, dot, norm, unit

ALONG, ACROSS, UP = np.eye(3)
# A steering axis that lies flatter than this (z of its direction) meets the road nowhere near the wheel.
LEAST_UPRIGHT = 0.1


def camber(axis: Array, hand: float) -> Array:
    """Camber (...) in rad of wheels with spin axes (..., 3): positive where the top leans out."""
    return np.asarray(-hand * np.arcsin(np.clip(axis[..., 2], -1.0, 1.0)))


def steer_angle(axis: Array) -> Array:
    """Steer angle (...) in rad, positive to the left: from the x axis to the wheel's own plane, seen from above."""
    return -np.arctan2(axis[..., 0], axis[..., 1])


def toe(axis: Array, hand: float) -> Array:
    """Toe (...) in rad of one wheel: positive where it points in at the front."""
    return -hand * steer_angle(axis)


def camber_to_road(axis: Array, road: Array, hand: float) -> Array:
    """Inclination (...) in rad of wheels to a road with unit normals (..., 3), signed as camber."""
    return np.asarray(-hand * np.arcsin(np.clip(dot(axis, road), -1.0, 1.0)))


def road_normal(left: Array, right: Array) -> Array:
    """Unit normals (..., 3) of the road under two contact points (..., 3), seen from the front; it does not pitch."""
    lie = (left - right) * (ACROSS + UP)
    return unit(cross(ALONG, lie))


def contact_point(centre: Array, axis: Array, radius: float) -> Array:
    """Contact centre (..., 3): the point of the wheel's own plane that is a loaded radius straight below its centre."""
    down = axis[..., 2:] * axis - UP
    return np.asarray(centre + radius * unit(down))


def heading(axis: Array) -> Array:
    """Unit direction (..., 3), level, in which a wheel with spin axis (..., 3) rolls."""
    return unit(cross(axis, UP))


def caster(line: Array) -> Array:
    """Caster (...) in rad of steering axes with directions (..., 3), seen from the side: positive, the top is back."""
    return -np.arctan2(line[..., 0], line[..., 2])


def inclination(line: Array, hand: float) -> Array:
    """Steering-axis inclination (...) in rad, seen from the front: positive where the top leans in."""
    return -hand * np.arctan2(line[..., 1], line[..., 2])


def offsets_at_road(point: Array, line: Array, contact: Array, axis: Array, hand: float) -> tuple[Array, Array]:
    """Where a steering axis meets the road under a wheel, from the wheel's contact centre.

    Args:
        point: on the steering axis, (..., 3).
        line: its unit direction (..., 3).
        contact: the wheel's contact centre (..., 3).
        axis: the wheel's spin axis (..., 3).
        hand: 1 on the left, −1 on the right.

    Returns:
        scrub radius (...), square to the wheel's own plane: positive where the axis meets the road inboard of the
        contact; and mechanical trail (...), along that plane: positive where it meets it ahead. NaN where the axis lies
        too flat.

    """
    steep = np.where(np.abs(line[..., 2]) > LEAST_UPRIGHT, line[..., 2], np.nan)
    met = point + ((contact - point)[..., 2] / steep)[..., None] * line
    ahead = heading(axis)
    return hand * dot(contact - met, cross(UP, ahead)), dot(met - contact, ahead)


def screw_axis(twist: Array) -> tuple[Array, Array]:
    """The line about which bodies turn at this moment.

    Args:
        twist: velocity of what is at the origin, then rotation vector, (..., 6).

    Returns:
        a point (..., 3) and its unit direction (..., 3), upwards: the foot ω × v / ω² of the origin on the
        instantaneous screw axis.

    """
    moved, turned = twist[..., :3], twist[..., 3:]
    upright = np.where(turned[..., 2:] < 0.0, -1.0, 1.0)
    return cross(turned, moved) / dot(turned, turned)[..., None], upright * turned / norm(turned)[..., None]


def rise(direction: Array) -> Array:
    """How steeply (...), in rad, directions (..., 3) rise: positive upwards."""
    return np.asarray(np.arcsin(np.clip(unit(direction)[..., 2], -1.0, 1.0)))


def angle_rates(axis: Array, turning: Array, hand: float) -> tuple[Array, Array]:
    """How fast camber and toe (...) change while wheels with spin axes (..., 3) turn by rotation vectors (..., 3)."""
    changing = cross(turning, axis)
    level = np.einsum("...i,...i->...", axis[..., :2], axis[..., :2])
    leaning = -hand * changing[..., 2] / np.sqrt(level)
    pointing = hand * (axis[..., 1] * changing[..., 0] - axis[..., 0] * changing[..., 1]) / level
    return leaning, pointing
