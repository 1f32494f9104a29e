"""Mechanism and travel in, poses out: every pose walks by itself from ride height to its drive values.

All poses walk at once. A walk is a straight line through the drive values; its step is the whole way at first and is
halved for those poses whose correction `model.newton` does not trust or whose determinant changes sign, so that
easy poses cost one step and no pose jumps to the other assembly. A pose whose step has shrunk to nothing is locked:
there the rows can hold a load on the drives without anything moving, and the member that carries most of that load
is the one that has run straight. A group with joints that give walks in the same way from rest to rest
(`model.equilibrium`); where that stops, the joint with the largest force is named.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model.bushings import Give, give_of, strain
from model.constraints import Index, System, evaluate, jacobian, ride_state, systems
from model.deadcentre import curving
from model.equilibrium import balance
from model.loads import joints_of, loads, put, room_for
from model.mechanism import Mechanism, Screw
from model.newton import Before, correct
from model.poses import Holding, Poses, Status
from model.ridestart import ride_start
from model.spatial import Array, about_point, rotation_about
from model.travel import Travel, differing

# Where a linkage only just does not lock it whirls past within nanometres of wheel travel. A step of 1/2²⁴ of 200 mm is
# 1e-5 mm: still well above the 1e-9 mm to which rows hold, so that each step moves the linkage and not its roundings.
SMALLEST_STEP = 2.0**-24
# A locked pose is given this little before its dead centre, where every group of bodies can be solved safely.
BACK_OFF = 1.0 - 2.0**-10
# Two halves that stop within 1/8192 of 200 mm, 0.02 mm, of each other stop together: no one can measure which is first.
SAME_STOP = 2.0**-13
# Links that curve alike to one part in a hundred run straight together, such as left and right of a symmetric axle.
ALIKE = 0.99
# Poses solved at once: about 5 MB of arrays for one body, which stays in cache.
CHUNK = 2048

Progress = Callable[[int, int], None]


def solve(mechanism: Mechanism, travel: Travel, progress: Progress | None = None) -> Poses:
    """Solve every pose of a travel.

    Args:
        mechanism: one whose freedoms have been counted (`model.mobility.check_freedoms`).
        travel: N poses.
        progress: called with poses done and poses in all, for a progress bar.

    Returns:
        the poses; one that cannot be reached has a status, not an exception.

    """
    poses = walked(mechanism, travel, progress)
    locked = np.flatnonzero(poses.reached < 1.0)
    if len(locked) == 0:
        return poses
    # Groups lock at different shares of the way; bring the whole vehicle back to where the first of them did.
    share = poses.reached[locked] * BACK_OFF
    last = walked(mechanism, replace(travel, values=travel.values[locked] * share[:, None]))
    poses.rotation[:, locked], poses.translation[:, locked] = last.rotation, last.translation
    poses.residual[locked] = last.residual
    if poses.holding is not None and last.holding is not None:
        poses.holding.drive[:, locked], poses.holding.energy[locked] = 0.0, 0.0
        put(poses.holding, last.holding, slice(None), locked)
    poses.reached[locked] = share * last.reached
    return poses


def driven_pose(screw: Screw, shares: Array) -> tuple[Array, Array]:
    """Rotation (N, 3, 3) and translation (N, 3) of a driven body at shares (N,) of its lock, positive to the left."""
    move = np.where(shares >= 0.0, shares * screw.left, -shares * screw.right)
    if screw.turns:
        rotation = rotation_about(screw.axis, move)
        return rotation, about_point(rotation, screw.point, screw.point)
    return np.broadcast_to(np.eye(3), (len(shares), 3, 3)), move[:, None] * screw.axis


def walked(mechanism: Mechanism, travel: Travel, progress: Progress | None = None) -> Poses:
    """The poses as far as each group of bodies gets by itself: where one locks, the others stand at the end of the way.

    This takes half as long as `solve` for those who ask of a locked pose only that it locks, and what stops it.
    """
    n, bodies = len(travel), len(mechanism.bodies)
    members = [part.member for parts in (mechanism.rows, mechanism.bushings, mechanism.elastic_links) for part in parts]
    locks = tuple(dict.fromkeys(members))
    poses = Poses(
        mechanism=mechanism,
        travel=travel,
        rotation=np.broadcast_to(np.eye(3), (bodies, n, 3, 3)).copy(),
        translation=np.zeros((bodies, n, 3)),
        status=np.zeros(n, dtype=np.int8),
        residual=np.zeros(n),
        solves=np.zeros(n, dtype=np.int64),
        reached=np.ones(n),
        locked_by=np.full(n, -1, dtype=np.intp),
        straight=np.zeros((len(locks), n), dtype=np.bool_),
        locks=locks,
        holding=room_for(mechanism, n),
    )
    for number, body in enumerate(mechanism.bodies):
        if body.screw is not None and mechanism.steer is not None:
            shares = travel.values[:, mechanism.steer]
            poses.rotation[number], poses.translation[number] = driven_pose(body.screw, shares)
    groups = [(system, *distinct(mechanism, system, travel.values)) for system in systems(mechanism)]
    total, done, joints = sum(len(first) for _, first, _ in groups), 0, 0
    for system, first, where in groups:
        # Poses that differ only in drives this group does not feel are solved once and shared out by `where`.
        values = travel.values[first]
        alone = len(first) == n
        for start in range(0, len(first), CHUNK):
            chunk = slice(start, start + CHUNK)
            part = _walk(mechanism, system, values[chunk])
            whole = first[chunk] if alone else np.flatnonzero((where >= start) & (where < start + CHUNK))
            _share_out(poses, system, part, whole, where[whole] - start)
            if poses.holding is not None and part.holding is not None:
                held = part.holding.take(where[whole] - start)
                put(poses.holding, held, slice(joints, joints + len(held.joints)), whole)
            done += len(part.reached)
            if progress is not None:
                progress(done, total)
        joints += len(joints_of(give_of(mechanism, system)))
    poses.status[:] = np.where(poses.reached < 1.0, Status.LOCKED, Status.SOLVED)
    return poses


def felt(mechanism: Mechanism, system: System) -> list[int]:
    """Columns of the drives that move a group."""
    columns = set(system.drives)
    if mechanism.steer is not None and any(mechanism.bodies[number].screw is not None for number in system.bodies):
        columns.add(mechanism.steer)
    return sorted(columns)


def distinct(mechanism: Mechanism, system: System, values: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Poses (M,) that differ in the drives a group feels, and for each pose (N,) which of them it equals."""
    columns = felt(mechanism, system)
    if len(columns) == values.shape[1]:
        everyone = np.arange(len(values))
        return everyone, everyone
    return differing(values, columns)


@dataclass(frozen=True)
class _Walked:
    """What a walk of one group ends with: transforms (S, 3, 4, n) and a record for each pose (n,).

    `carried` (k, n) is the share of k `members` in what stops the walk there, 1 for the first of them, 0 where it
    arrives.
    """

    state: Array
    residual: Array
    solves: NDArray[np.int64]
    reached: Array
    members: tuple[str, ...]
    carried: Array
    holding: Holding | None


def _walk(mechanism: Mechanism, system: System, values: Array) -> _Walked:
    """Walk one group from ride height to drive values (n, D)."""
    n, give = len(values), give_of(mechanism, system)
    drives = np.ascontiguousarray(values.T)
    ride = ride_start(mechanism, system)
    state, force = np.repeat(ride.state, n, axis=-1), np.repeat(ride.force, n, axis=-1)
    steered = any(mechanism.bodies[number].screw is not None for number in system.bodies)
    reached, step = np.zeros(n), np.ones(n)
    residual, imbalance, solves = np.zeros(n), np.zeros(n), np.zeros(n, dtype=np.int64)
    going = np.arange(n) if ride.wound == 1.0 else np.arange(0)
    while len(going):
        share = np.minimum(reached[going] + step[going], 1.0)
        target = drives[:, going] * share
        everyone = len(going) == n
        trial_state = state.copy() if everyone else state[..., going]
        trial_force = force[:, going]
        _place_driven(mechanism, system, target, trial_state)
        driven = state[system.free :, ..., going] if steered else None
        alike = everyone and not steered and not reached.any()
        before = Before(drives[:, going] * reached[going], driven, alike)
        if give.members:
            trial = balance(system, give, trial_state, trial_force, target, before)
        else:
            trial = correct(system, trial_state, target, before)
        solves[going] += trial.solves
        good = trial.converged & (trial.side == ride.side)
        arrived = going[good]
        if everyone and good.all():
            state = trial_state
        else:
            state[..., arrived] = trial_state[..., good]
        force[:, arrived] = trial_force[:, good]
        reached[arrived], residual[arrived] = share[good], trial.residual[good]
        imbalance[arrived] = trial.imbalance[good]
        step[going[~good]] *= 0.5
        step[arrived] *= 2.0
        going = going[(reached[going] < 1.0) & (step[going] >= SMALLEST_STEP)]
    if not give.members:
        carried = _locked_by(system, state, drives * reached, reached)
        return _Walked(state, residual, solves, reached, system.members, carried, None)
    holding = loads(mechanism, system, give, state, force, drives * reached, imbalance)
    return _Walked(state, residual, solves, reached, give.members, _strained_most(give, state, reached), holding)


def _place_driven(mechanism: Mechanism, system: System, drives: Array, state: Array) -> None:
    """Write the driven slots' transforms at drive values (D, n) into `state` (S, 3, 4, n)."""
    for slot, number in enumerate(system.bodies):
        screw = mechanism.bodies[number].screw
        if screw is not None and mechanism.steer is not None:
            turned, moved = driven_pose(screw, drives[mechanism.steer])
            state[slot, :, :3] = np.moveaxis(turned, 0, -1)
            state[slot, :, 3] = (moved + turned @ system.origin - system.origin).T


def residual_at_drive(mechanism: Mechanism, system: System, drives: Array) -> Array:
    """Residuals (m, n) in mm with all free bodies at ride height and the drives at (D, n)."""
    state = ride_state(system, drives.shape[1])
    _place_driven(mechanism, system, drives, state)
    return evaluate(system, state, drives)[0]


def _strained_most(give: Give, state: Array, reached: Array) -> Array:
    """Force (k, n) in each joint as a share of the largest one, for poses that stopped before the end."""
    carried = np.zeros((len(give.members), len(reached)))
    stuck = np.flatnonzero(reached < 1.0)
    carried[:, stuck] = _of_the_largest(np.linalg.norm(strain(give, state[..., stuck]).force, axis=0))
    return carried


def _locked_by(system: System, state: Array, drives: Array, reached: Array) -> Array:
    """How far each row (m, n) has run straight, beside the one that has most, for poses that stopped before the end.

    There the Jacobian has a right null vector, a motion that changes no row at first, and a left one, forces in the
    rows that balance each other and the drive.
    """
    carried = np.zeros((len(system.plus), len(reached)))
    stuck = np.flatnonzero(reached < 1.0)
    if len(stuck) == 0:
        return carried
    here, at = state[..., stuck], drives[:, stuck]
    left, _, right = np.linalg.svd(jacobian(system, evaluate(system, here, at)[1]))
    carried[:, stuck] = _of_the_largest(curving(system, here, at, right[:, -1].T, left[..., -1].T))
    return carried


def _of_the_largest(sizes: Array) -> Array:
    """Sizes (k, n) as shares of the largest one (n,) of each pose."""
    return np.asarray(sizes / np.maximum(sizes.max(axis=0), np.finfo(float).tiny))


def group_state(poses: Poses, system: System) -> Array:
    """Transforms (S, 3, 4, N) of a group's bodies over all poses, about `System.origin`."""
    bodies = list(system.bodies)
    state = np.empty((len(bodies), 3, 4, len(poses)))
    rotation = poses.rotation[bodies]
    state[:, :, :3] = np.moveaxis(rotation, 1, -1)
    state[:, :, 3] = np.swapaxes(poses.translation[bodies] - system.origin + rotation @ system.origin, 1, 2)
    return state


def _share_out(poses: Poses, system: System, part: _Walked, whole: NDArray[np.intp], where: NDArray[np.intp]) -> None:
    """Write a group's distinct poses into all poses that equal them."""
    for slot in range(system.free):
        number = system.bodies[slot]
        rotation = np.moveaxis(part.state[slot, :, :3], -1, 0)
        # From the group's own origin to the vehicle's: x → R (x − o) + t + o.
        translation = part.state[slot, :, 3].T + system.origin - rotation @ system.origin
        poses.rotation[number, whole] = rotation[where]
        poses.translation[number, whole] = translation[where]
    poses.residual[whole] = np.maximum(poses.residual[whole], part.residual[where])
    poses.solves[whole] += part.solves[where]
    _name_what_stops(poses, part, whole, where)
    poses.reached[whole] = np.minimum(poses.reached[whole], part.reached[where])


def _name_what_stops(poses: Poses, part: _Walked, whole: NDArray[np.intp], where: NDArray[np.intp]) -> None:
    """Put a group's members down as what stops poses, where it stops before the groups so far or with them."""
    stopped = np.flatnonzero(part.reached[where] < 1.0)
    if len(stopped) == 0:
        return
    whole, where = whole[stopped], where[stopped]
    own, others = part.reached[where], poses.reached[whole]
    lock: Index = np.array([poses.locks.index(name) for name in part.members], dtype=np.intp)
    earlier = own < others
    poses.locked_by[whole[earlier]] = lock[part.carried.argmax(axis=0)][where[earlier]]
    poses.straight[:, whole[own < others - SAME_STOP]] = False
    beside = own <= others + SAME_STOP
    for row, number in enumerate(lock):
        poses.straight[number, whole[beside & (part.carried[row, where] >= ALIKE)]] = True
