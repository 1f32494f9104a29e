"""Curves of both wheels of an axle together: track, roll centre, where a beam axle and its pinion stand, shafts."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from model import curvenames as named
from model import instantcentres
from model import wheelgeometry as geometry
from model.curvenames import Curve
from model.drivelines import shaft_motions
from model.mechanism import Beam, Mechanism, Shaft
from model.rates import Moving
from model.spatial import Array, dot, turn
from model.tangents import point_velocity
from model.wheelmotion import WheelMotion


def axle_curves(moving: Moving, wheels: tuple[WheelMotion, ...]) -> Iterator[Curve]:
    """Of both wheels, of beam axles, over solved poses."""
    if len(wheels) == 2:
        left, right = wheels
        track = (left.contact - right.contact)[:, 1]
        yield named.TRACK.curve("axle", track)
        yield from _roll_centre(left, right)
    for beam in moving.poses.mechanism.beams:
        yield from _beam(moving, beam, wheels)


def shaft_curves(moving: Moving) -> Iterator[Curve]:
    """Of driveshafts over solved poses."""
    mechanism = moving.poses.mechanism
    holders = {joint.on for shaft in mechanism.shafts for joint in shaft.joints}
    parts = {name: moving.place(name) for name in holders}
    for motion in shaft_motions(mechanism, parts):
        for joint, angle in zip(motion.shaft.joints, motion.true, strict=True):
            yield named.JOINT_ANGLE.curve(f"{motion.shaft.name}, {joint.place}", angle)
        yield named.SHAFT_LENGTH.curve(motion.shaft.name, motion.longer)
        pinion = _pinion_of(mechanism, motion.shaft)
        if pinion is not None:
            beam, far, other = pinion
            flange = turn(parts[beam.name].rotation, _pinion_axis(beam))
            output = turn(parts[other].rotation, far)
            output = np.where(dot(output, flange)[:, None] < 0.0, -output, output)
            apart = geometry.rise(flange) - geometry.rise(output)
            yield named.PINION_TO_SHAFT.curve(motion.shaft.name, apart)


def _roll_centre(left: WheelMotion, right: WheelMotion) -> Iterator[Curve]:
    def moves(wheel: WheelMotion, twist: Array) -> Array:
        return point_velocity(twist, wheel.contact)

    if right.twists[left.column].any() or left.twists[right.column].any():
        rolled = (moves(wheel, wheel.twists[left.column] - wheel.twists[right.column]) for wheel in (left, right))
        one, other = rolled
        found = instantcentres.roll_centre_of_axle(left.contact, one, right.contact, other)
        kinds = named.AXLE_ROLL_CENTRE_HEIGHT, named.AXLE_ROLL_CENTRE_SIDE
    else:
        one, other = (moves(wheel, wheel.twists[wheel.column]) for wheel in (left, right))
        found = instantcentres.roll_centre_of_two(left.contact, one, right.contact, other)
        kinds = named.ROLL_CENTRE_HEIGHT, named.ROLL_CENTRE_SIDE
    sideways, height = found
    yield kinds[0].curve("axle", height)
    yield kinds[1].curve("axle", sideways)


def _beam(moving: Moving, beam: Beam, wheels: tuple[WheelMotion, ...]) -> Iterator[Curve]:
    placed = moving.place(beam.name)
    centres = [wheel.wheel.centre for wheel in wheels]
    middle = np.mean(centres, axis=0)
    yield named.SIDE_SHIFT.curve("axle", (placed.point(middle) - middle)[:, 1])
    if len(wheels) == 2:
        # Where the wheels' own centres would be if they did not steer: on the axle.
        left, right = (placed.point(centre) for centre in centres)
        yield named.AXLE_STEER.curve("axle", geometry.steer_angle(left - right))
        twists = moving.twist(beam.name)
        rolled = twists[wheels[0].column] - twists[wheels[1].column]
        yield named.ROLL_STEER.curve("axle", rolled[:, 5] / rolled[:, 3])
    if beam.housing is not None and beam.pinion is not None:
        yield named.PINION.curve("axle", geometry.rise(turn(placed.rotation, _pinion_axis(beam))))


def _pinion_axis(beam: Beam) -> Array:
    """From the middle of an axle's final drive to its pinion's flange (3,)."""
    if beam.housing is None or beam.pinion is None:
        raise AssertionError("an axle without a pinion")  # asked for only where it has one
    return beam.pinion - beam.housing


def _pinion_of(mechanism: Mechanism, shaft: Shaft) -> tuple[Beam, Array, str] | None:
    """The axle whose pinion a shaft turns, and the axis (3,) and holder of what turns the shaft at its other end."""
    first, last = shaft.joints[0], shaft.joints[-1]
    for near, far in ((last, first), (first, last)):
        beam = next((beam for beam in mechanism.beams if beam.name == near.on and beam.pinion is not None), None)
        if beam is not None and beam.housing is not None and far.axis is not None:
            return beam, far.axis, far.on
    return None
