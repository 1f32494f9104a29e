"""Curves of each wheel: how it stands, what it steers about, how it moves and how the road's forces lift it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from model import curvenames as named
from model import instantcentres, steergeometry
from model import wheelgeometry as geometry
from model.curvenames import Curve
from model.poses import Poses
from model.rates import Moving, wheel_columns
from model.spatial import Array
from model.wheelmotion import WheelMotion, steering_axis


def wheel_curves(moving: Moving, wheels: tuple[WheelMotion, ...]) -> Iterator[Curve]:
    """Of each wheel over solved poses."""
    road = geometry.road_normal(wheels[0].contact, wheels[1].contact) if len(wheels) == 2 else None
    for wheel in wheels:
        yield from _alignment(moving.poses, wheel, road)
        yield from _steering_axis(moving, wheel)
        yield from _side_view(moving.poses, wheel)


def steering_curves(poses: Poses, wheels: tuple[WheelMotion, ...], wheelbase: float) -> Iterator[Curve]:
    """Of both steered wheels in a turn, with the distance in mm to the other axle."""
    if len(wheels) != 2 or poses.mechanism.steer is None:
        return
    left, right = wheels
    track = float((_ride_contact(left) - _ride_contact(right))[1])
    steered = [geometry.steer_angle(wheel.axis) for wheel in wheels]
    inner, outer = steergeometry.inner_and_outer(*steered)
    # Against straight ahead at ride height: toe that is set says nothing of how the steering is laid out.
    turned = [now - geometry.steer_angle(wheel.wheel.axis) for now, wheel in zip(steered, wheels, strict=True)]
    yield named.INNER.curve("axle", inner)
    yield named.OUTER.curve("axle", outer)
    yield named.IDEAL_OUTER.curve("axle", steergeometry.ideal_outer(inner, track, wheelbase))
    yield named.ACKERMANN.curve(
        "axle", steergeometry.ackermann(*steergeometry.inner_and_outer(*turned), track, wheelbase)
    )
    yield named.TURNING_CIRCLE.curve("axle", steergeometry.turning_circle(inner, outer, track, wheelbase))


def _ride_contact(wheel: WheelMotion) -> Array:
    """Contact (3,) of a wheel at ride height."""
    return geometry.contact_point(wheel.wheel.centre, wheel.wheel.axis, wheel.wheel.loaded_radius)


def _together(poses: Poses, wheel: WheelMotion) -> Array:
    """Twist (N, 6) of a wheel's carrier for a mm of all wheels together."""
    return np.asarray(wheel.twists[wheel_columns(poses.mechanism)].sum(axis=0))


def _alignment(poses: Poses, wheel: WheelMotion, road: Array | None) -> Iterator[Curve]:
    camber_rate, toe_rate = geometry.angle_rates(wheel.axis, _together(poses, wheel)[:, 3:], wheel.hand)
    yield named.CAMBER.curve(wheel.name, geometry.camber(wheel.axis, wheel.hand))
    if road is not None:
        yield named.CAMBER_TO_ROAD.curve(wheel.name, geometry.camber_to_road(wheel.axis, road, wheel.hand))
    yield named.CAMBER_CHANGE.curve(wheel.name, camber_rate)
    yield named.TOE.curve(wheel.name, geometry.toe(wheel.axis, wheel.hand))
    yield named.BUMP_STEER.curve(wheel.name, toe_rate)
    if poses.mechanism.steer is not None:
        yield named.STEER_ANGLE.curve(wheel.name, geometry.steer_angle(wheel.axis))
    yield named.WHEELBASE_CHANGE.curve(wheel.name, (wheel.contact - _ride_contact(wheel))[:, 0])


def _steering_axis(moving: Moving, wheel: WheelMotion) -> Iterator[Curve]:
    line = steering_axis(moving, wheel)
    if line is None:
        return
    point, direction = line
    scrub, trail = geometry.offsets_at_road(point, direction, wheel.contact, wheel.axis, wheel.hand)
    yield named.CASTER.curve(wheel.name, geometry.caster(direction))
    yield named.STEERING_AXIS_INCLINATION.curve(wheel.name, geometry.inclination(direction, wheel.hand))
    yield named.SCRUB_RADIUS.curve(wheel.name, scrub)
    yield named.MECHANICAL_TRAIL.curve(wheel.name, trail)


def _side_view(poses: Poses, wheel: WheelMotion) -> Iterator[Curve]:
    twist, of = _together(poses, wheel), wheel.wheel
    ahead, above = instantcentres.side_view_centre(twist, wheel.contact)
    yield named.SIDE_VIEW_AHEAD.curve(wheel.name, ahead)
    yield named.SIDE_VIEW_ABOVE.curve(wheel.name, above)
    cases = [(named.BRAKING_ANGLE, of.brake_on_carrier)]
    cases += [(named.DRIVE_ANGLE, of.drive_on_carrier)] * of.driven
    for kind, on_carrier in cases:
        moves = instantcentres.contact_moves(twist, wheel.contact, wheel.centre, wheel.axis, on_carrier=on_carrier)
        yield kind.curve(wheel.name, instantcentres.force_angle(moves))
