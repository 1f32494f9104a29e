"""What a suspension does over its travel, as named curves over poses: camber, toe, motion ratio, wheel rate."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from model import curvenames as named
from model import rates as springs
from model import wheelgeometry as geometry
from model.curvenames import Amount, Curve
from model.mechanism import Beam
from model.poses import Poses, Status
from model.spatial import Array
from model.tangents import velocities
from model.wheelmotion import WheelMotion, steering_axis, wheel_motions

__all__ = ["Amount", "Curve", "curve", "curves"]


def curves(poses: Poses) -> tuple[Curve, ...]:
    """Every curve of a scene over N poses; NaN in poses that lock."""
    solved = np.flatnonzero(poses.status == Status.SOLVED)
    if len(solved) == 0:
        return ()
    whole = len(solved) == len(poses)
    found = tuple(_measured(poses if whole else poses.take(solved)))
    if whole:
        return found
    spread = np.full((len(found), len(poses)), np.nan)
    spread[:, solved] = [each.values for each in found]
    return tuple(replace(each, values=values) for each, values in zip(found, spread, strict=True))


def curve(poses: Poses, what: str, where: str = "") -> Curve:
    """One curve by its name and place; without a place the first of that name.

    Raises:
        KeyError: the scene has no such curve.

    """
    for each in curves(poses):
        if each.what == what and where in ("", each.where):
            return each
    raise KeyError(what, where)


def _measured(poses: Poses) -> Iterator[Curve]:
    """All curves over poses that are solved."""
    velocity = velocities(poses)
    wheels = wheel_motions(poses, velocity)
    for wheel in wheels:
        yield from _of_wheel(poses, velocity, wheel)
    for beam in poses.mechanism.beams:
        yield from _of_axle(poses, beam, wheels)
    yield from _of_springs(poses, velocity, wheels)


def _of_wheel(poses: Poses, velocity: Array, wheel: WheelMotion) -> Iterator[Curve]:
    yield named.CAMBER.curve(wheel.name, geometry.camber(wheel.axis, wheel.hand))
    yield named.TOE.curve(wheel.name, geometry.toe(wheel.axis, wheel.hand))
    line = steering_axis(poses, velocity, wheel)
    if line is not None:
        point, direction = line
        yield named.CASTER.curve(wheel.name, geometry.caster(direction))
        yield named.STEERING_AXIS_INCLINATION.curve(wheel.name, geometry.inclination(direction, wheel.hand))
        scrub, trail = geometry.offsets_at_road(point, direction, wheel.contact, wheel.axis, wheel.hand)
        yield named.SCRUB_RADIUS.curve(wheel.name, scrub)
        yield named.MECHANICAL_TRAIL.curve(wheel.name, trail)


def _of_axle(poses: Poses, beam: Beam, wheels: tuple[WheelMotion, ...]) -> Iterator[Curve]:
    number = poses.mechanism.body_number(beam.name)
    turned, shifted = poses.rotation[number], poses.translation[number]
    ends = [turned @ wheel.wheel.centre + shifted for wheel in wheels]
    middle = sum(wheel.wheel.centre for wheel in wheels) / len(wheels)
    yield named.SIDE_SHIFT.curve("axle", (turned @ middle + shifted - middle)[:, 1])
    if len(ends) == 2:
        yield named.AXLE_STEER.curve("axle", geometry.steer_angle(ends[0] - ends[1]))
    if beam.housing is not None and beam.pinion is not None:
        yield named.PINION.curve("axle", geometry.inclination_of_shaft(turned @ (beam.pinion - beam.housing)))


def _of_springs(poses: Poses, velocity: Array, wheels: tuple[WheelMotion, ...]) -> Iterator[Curve]:
    """Motion ratios and what follows from them, both wheels together."""
    strained = springs.strained_coilovers(poses, velocity)
    together = np.ones(len(wheels))
    for each in strained.values():
        yield named.MOTION_RATIO.curve(each.name, together @ each.ratios)
    if not any(each.rate.any() for each in strained.values()):
        return
    move = np.zeros(len(poses.mechanism.drives))
    move[springs.wheel_columns(poses.mechanism)] = 1.0
    ends = springs.beside(poses, velocity, [move])
    near = springs.strained_coilovers(ends, velocities(ends))
    spring, geometric = np.zeros((2, len(wheels), len(poses)))
    for name, each in strained.items():
        (change,) = springs.change_along(near[name].ratios, len(poses))
        parts = springs.wheel_rates(each.ratios, each.force, each.rate, together, change)
        spring, geometric = spring + parts[0], geometric + parts[1]
    # Drives stand in the order of the scene's wheels, the curves left first.
    columns = springs.wheel_columns(poses.mechanism)
    for wheel in wheels:
        row = columns.index(wheel.column)
        yield named.WHEEL_RATE.curve(wheel.name, spring[row] + geometric[row])
        yield named.RATE_OF_SPRING.curve(wheel.name, spring[row])
        yield named.RATE_OF_GEOMETRY.curve(wheel.name, geometric[row])
