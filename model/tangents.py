"""How fast everything moves with each drive while the others are held: tangents of the solved rows, no differences.

Where rigid links hold a group just so, all its twists follow from J twist = e, with J the Jacobian of the rows and e
what the drive asks of them: 1 of the row of a wheel's height, and of steering what the moving rack or pitman arm does
to every row that it takes part in. Where joints give, e asks the same of the rows that are left, and the tangent of
the equilibrium answers (`model.equilibrium.rest_motions`).
"""

from __future__ import annotations

import numpy as np

from model.bushings import give_of
from model.constraints import System, evaluate, jacobian, systems
from model.equilibrium import rest_motions
from model.loads import lock_twist
from model.mechanism import Arm, Link, Mechanism
from model.poses import Poses
from model.solver import CHUNK, distinct, felt, group_state
from model.spatial import Array, cross, dot, unit


def velocities(poses: Poses) -> Array:
    """How every body moves with each drive, the others held, where the poses stand.

    Args:
        poses: N poses.

    Returns:
        (D, B, N, 6) twists about the vehicle's origin, first the velocity of what is at the origin, then the rotation
        vector: mm and rad for each mm of a wheel's height, or for the whole of the lock to the side that is steered to
        (straight ahead: to the left). The point of a body that is at p moves by v + w × p. 0 where a body does not feel
        a drive; NaN in locked poses, where parts move ever faster.

    """
    mechanism = poses.mechanism
    found = np.zeros((len(mechanism.drives), len(mechanism.bodies), len(poses), 6))
    for system in systems(mechanism):
        _write(found, poses, system)
    if mechanism.steer is not None:
        shares = stood(poses)[mechanism.steer]
        for number, body in enumerate(mechanism.bodies):
            if body.screw is not None:
                found[mechanism.steer, number] = lock_twist(body.screw, np.zeros(3), shares).T
    found[:, :, poses.reached < 1.0] = np.nan
    return found


def part_velocity(poses: Poses, velocity: Array, name: str) -> Array:
    """Twists (D, N, 6) of a body, or of a plain arm or a link, which are none, from the `velocities` of all bodies."""
    mechanism = poses.mechanism
    arm = next((arm for arm in mechanism.arms if arm.name == name and not arm.body), None)
    if arm is not None:
        return _arm_velocity(poses, velocity, arm)
    if name in (body.name for body in mechanism.bodies):
        return np.asarray(velocity[:, mechanism.body_number(name)])
    return _link_velocity(poses, velocity, next(link for link in mechanism.links if link.name == name))


def _arm_velocity(poses: Poses, velocity: Array, arm: Arm) -> Array:
    """A plain arm turns about its pivots, on what holds them, at the rate at which its ball joint goes round them.

    With r from a pivot to the ball, and the ball moving by u against the holder, at (a × r)·u / |a × r|².
    """
    if arm.ball is None:
        raise AssertionError("an arm without a ball joint is a body")  # assembly makes it one
    holder, knuckle = poses.mechanism.body_number(arm.on), poses.mechanism.body_number(arm.ball.on)
    pivot, ball = _carried(poses, holder, arm.pivots[0].at), _carried(poses, knuckle, arm.ball.at)
    axis = unit(_carried(poses, holder, arm.pivots[1].at) - pivot)
    swept = cross(axis, ball - pivot)
    moving = point_velocity(velocity[:, knuckle] - velocity[:, holder], ball)
    rate = ((swept * moving).sum(axis=-1) / (swept * swept).sum(axis=-1))[..., None]
    return np.asarray(velocity[:, holder] + rate * np.concatenate([cross(pivot, axis), axis], axis=-1))


def _link_velocity(poses: Poses, velocity: Array, link: Link) -> Array:
    """A link turns with its line: with r from its first end to its second, which move by u and w, at r × (w − u) / r².

    About the line itself it is taken not to turn: nothing that is on the line feels that.
    """
    bodies = [poses.mechanism.body_number(end.on) for end in link.ends]
    first, second = (_carried(poses, body, end.at) for body, end in zip(bodies, link.ends, strict=True))
    start, stop = (point_velocity(velocity[:, body], at) for body, at in zip(bodies, (first, second), strict=True))
    line = second - first
    turn = cross(line, stop - start) / dot(line, line)[:, None]
    return np.concatenate([start - cross(turn, first), turn], axis=-1)


def _carried(poses: Poses, body: int, at: Array) -> Array:
    """Where a ride-height point (3,) of a body is in each pose, (N, 3)."""
    return np.asarray(poses.rotation[body] @ at + poses.translation[body])


def point_velocity(twist: Array, at: Array) -> Array:
    """Velocity (..., 3) of a body's point that is at (..., 3), from its twist (..., 6) about the vehicle's origin."""
    return np.asarray(twist[..., :3] + cross(twist[..., 3:], at))


def stood(poses: Poses) -> Array:
    """Drive values (D, N) at which the poses stand."""
    return np.ascontiguousarray((poses.travel.values * poses.reached[:, None]).T)


def group_motions(poses: Poses, system: System, state: Array) -> Array:
    """How the free bodies of a group move with each drive that it feels, for N poses at transforms (S, 3, 4, N).

    Returns:
        twists (6 U, d, N) about `System.origin`, rotations × `System.length`, for each mm or whole lock of the drives
        `model.solver.felt`, in that order.

    """
    mechanism, drives = poses.mechanism, stood(poses)
    give, (_, wrench) = give_of(mechanism, system), evaluate(system, state, drives)
    every = felt(mechanism, system)
    driven = np.stack([_driven(mechanism, system, number, drives) for number in every], axis=2)
    asked = np.stack([_asked(system, wrench, number, driven[:, :, k]) for k, number in enumerate(every)], axis=1)
    if give.members:
        return rest_motions(system, give, state, drives, asked, driven)
    motions = np.asarray(np.linalg.solve(jacobian(system, wrench), np.moveaxis(asked, 2, 0)))
    return np.moveaxis(motions, 0, -1)


def _write(found: Array, poses: Poses, system: System) -> None:
    """Put the twists of a group's free bodies into those of all bodies (D, B, N, 6); locked poses are left out."""
    mechanism, columns = poses.mechanism, felt(poses.mechanism, system)
    reached = np.flatnonzero(poses.reached == 1.0)
    first, where = distinct(mechanism, system, poses.travel.values[reached])
    # Poses that differ only in drives this group does not feel are measured once, so many at a time that they stay in
    # cache.
    parts = [poses.take(reached[first[at : at + CHUNK]]) for at in range(0, len(first), CHUNK)]
    motions = [group_motions(part, system, group_state(part, system)) for part in parts]
    if not motions:
        return
    twist = np.concatenate(motions, axis=-1).reshape(system.free, 6, len(columns), -1)
    turn = np.moveaxis(twist[:, 3:] / system.length, 1, -1)
    moved = np.moveaxis(twist[:, :3], 1, -1) - cross(turn, system.origin)
    whole = np.concatenate([moved, turn], axis=-1)[:, :, where]
    for k, column in enumerate(columns):
        found[column, np.array(system.bodies[: system.free])[:, None], reached] = whole[:, k]


def _driven(mechanism: Mechanism, system: System, number: int, drives: Array) -> Array:
    """Twists (6, S, N) of driven slots for the whole of the lock; 0 for a wheel's height."""
    twists = np.zeros((6, len(system.bodies), drives.shape[1]))
    if number == mechanism.steer:
        for slot, body in enumerate(system.bodies):
            screw = mechanism.bodies[body].screw
            if screw is not None:
                twists[:, slot] = lock_twist(screw, system.origin, drives[number], system.length)
    return twists


def _asked(system: System, wrench: Array, number: int, driven: Array) -> Array:
    """What a drive asks of the rows (m, N): 1 mm of a wheel's height, or what twists (6, S, N) of driven slots do."""
    asked = np.asarray(np.einsum("imn,imn->mn", driven[:, system.minus] - driven[:, system.plus], wrench))
    first = len(system.distance_length)
    asked[first : first + len(system.offset_drive)][system.offset_drive == number] = 1.0
    return asked
