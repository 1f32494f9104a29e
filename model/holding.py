"""What a linkage that is held twice over lets itself be moved against: who fights, by how much, and what it takes.

Two numbers tell how badly rigid parts fight. The *freedoms* are what the rows without the wheels' heights leave over:
with fewer than there are wheels, one of them moves against the linkage. The *misfit* is geometry alone, whatever the
rates: near where the parts rest, put them where the lengths of all links are kept as well as they can be at the given
wheel heights (least squares), and see how much the worst of them is off. Rows that no bush softens count `HARD` times
as much, and a part that is moved by 1 mm costs as much as `STAY` mm of length: what only the cocking of bushes keeps
upright, as the radius arms of an axle, stays upright.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from model.constraints import System, evaluate, jacobian, ride_state
from model.joints import GIVING_KINDS
from model.measures import Bound, Measure, Quantity, place_text
from model.mechanism import End, Mechanism
from model.members import Posture
from model.mobility import SINGULAR, HeldTwice, driven_rows, held_twice
from model.newton import advance, solve_rows
from model.poses import Holding, Poses, Status
from model.solver import group_state
from model.spatial import Array, norm

# Less than a tape can tell: lengths that are off by no more fit. A rod end, ball joint or sleeve that is forced apart
# by more carries some 5 kN, half a tonne, before the car has moved (from memory, order of magnitude only).
FITS = 0.1
FORCED = Bound(FITS, 0.5 * FITS, typical=True, source="typical: metal in metal does not give, from memory")
# A row that counts a thousand times is off by a millionth of what the others are, far below `FITS`.
HARD = 1e3
# What holds a part well holds it ten times as stiffly; the misfit of a linkage held well is then off by a hundredth.
STAY = 0.05
# Each Gauss-Newton step leaves some (misfit / length) / STAY² of the error: a fifth at 0.5 mm in 1000, mostly far less.
STEPS = 6
# Two drive values nearer than this are the same.
SAME = 1e-9
# Poses measured at once: some 30 MB for a live axle with steered knuckles.
CHUNK = 4096

Mask = NDArray[np.bool_]


class Freedom(StrEnum):
    """How a linkage lets itself be moved."""

    FREE = "moves freely"
    AGAINST = "moves against its bushes"
    LOCKED = "locked"


@dataclass(frozen=True)
class Peak:
    """The largest value over the poses that are reached, and the pose's number and drive values."""

    value: float
    pose: int
    drives: tuple[float, ...]


@dataclass(frozen=True)
class JointLoad:
    """What one joint takes at most: deflection in mm, force in N, moment in N·mm."""

    member: str
    end: End
    deflection: Peak
    force: Peak
    moment: Peak


@dataclass(frozen=True)
class Fight:
    """One group of parts that is held more often than once, over the poses that were solved.

    `members` fight at ride height, where `spare` rows are too many. `freedoms_ride`, `freedoms_least` and
    `freedoms_most` are what the linkage leaves to its `wheels` wheels at ride height and through travel. `misfit` (mm)
    is of the length of `worst_member`. `wheel_force` (N) is the most it takes at one wheel to hold a pose, at the wheel
    on the side `wheel`, and `roll_moment` (N·mm) the most that all wheels' forces make about the middle line of the
    vehicle; springs and dampers of coilovers are in neither. `together` judges the poses with both wheels alike,
    `crossed` those with one up and one down, straight ahead; None where there are no such poses.
    """

    members: tuple[str, ...]
    spare: int
    wheels: int
    freedoms_ride: int
    freedoms_least: int
    freedoms_most: int
    misfit: Peak
    worst_member: str
    wheel_force: Peak
    wheel: str
    roll_moment: Peak
    joints: tuple[JointLoad, ...]
    verdict: Freedom
    together: Freedom | None
    crossed: Freedom | None


def fights(poses: Poses) -> tuple[Fight, ...]:
    """Every group of parts that is held twice over; empty where rigid links hold everything just so."""
    rigid, holding = poses.mechanism.rigid, poses.holding
    if rigid is None or holding is None:
        return ()
    return tuple(_fight(poses, holding, rigid, held) for held in held_twice(rigid))


def _fight(poses: Poses, holding: Holding, rigid: Mechanism, held: HeldTwice) -> Fight:
    system, reached = held.system, poses.status == Status.SOLVED
    freedoms, off = _measured(poses, rigid, system)
    misfit = off.max(axis=1)
    worst = _peak(misfit, poses, reached)
    locked = ~reached | (_forced(holding, system) > FITS)
    wheels = [wheel for wheel in rigid.wheels if rigid.drive_number(wheel.side) in system.drives]
    forces = holding.drive[[rigid.drive_number(wheel.side) for wheel in wheels]]
    pushed = _peak(np.abs(forces).max(axis=0), poses, reached)
    moment = np.array([wheel.centre[1] for wheel in wheels]) @ forces
    straight = np.abs(poses.travel.column("steer")) < SAME
    left, right = poses.travel.column("left"), poses.travel.column("right")
    pair = len(wheels) == 2
    return Fight(
        members=held.members,
        spare=held.spare,
        wheels=len(wheels),
        freedoms_ride=int(_freedoms(system, ride_state(system, 1), np.zeros((len(rigid.drives), 1)))[0]),
        freedoms_least=int(freedoms[reached].min(initial=system.unknowns)),
        freedoms_most=int(freedoms[reached].max(initial=0)),
        misfit=worst,
        worst_member=system.members[int(off[worst.pose].argmax())],
        wheel_force=pushed,
        wheel=wheels[int(np.abs(forces[:, pushed.pose]).argmax())].side,
        roll_moment=_peak(np.abs(moment), poses, reached),
        joints=_joint_loads(poses, holding, system, reached),
        verdict=_verdict(locked, misfit),
        together=_verdict_among(locked, misfit, pair & straight & (np.abs(left - right) < SAME)),
        crossed=_verdict_among(locked, misfit, pair & straight & (left * right < 0.0)),
    )


def forced_measures(poses: Poses, now: Posture) -> Iterator[Measure]:
    """How far each joint of metal in metal is forced apart, over poses of a linkage that is held twice over."""
    if poses.holding is None:
        return
    at = {(joint.member, joint.end.place): joint.at for joint in now.joints}
    for (member, end), give in zip(poses.holding.joints, norm(poses.holding.deflection), strict=True):
        if end.joint.kind not in GIVING_KINDS:
            where = place_text(member, end)
            yield Measure("forced apart", where, member, Quantity.LENGTH, FORCED, give, at[member, end.place])


def _forced(holding: Holding, system: System) -> Array:
    """The most (N,) that a joint of metal in metal of this system is forced apart, in mm."""
    hard = [
        number
        for number, (member, end) in enumerate(holding.joints)
        if member in system.members and end.joint.kind not in GIVING_KINDS
    ]
    return np.asarray(norm(holding.deflection[hard]).max(axis=0, initial=0.0))


def _measured(poses: Poses, rigid: Mechanism, system: System) -> tuple[NDArray[np.intp], Array]:
    """Freedoms (N,) and misfits (N, m) of all rows."""
    weight = np.where(_hard(rigid, system), HARD, 1.0)
    freedoms, off = [], []
    for start in range(0, len(poses), CHUNK):
        part = poses.take(slice(start, start + CHUNK))
        state, drives = group_state(part, system), _stood(part)
        freedoms.append(_freedoms(system, state, drives))
        off.append(misfits(system, state, drives, weight))
    return np.concatenate(freedoms), np.concatenate(off)


def misfits(system: System, state: Array, drives: Array, weight: Array) -> Array:
    """How far each row of a rigid group is off where all are kept as well as they can be.

    Args:
        system: a group of the rigid mechanism.
        state: (S, 3, 4, n), where the parts rest.
        drives: (D, n) drive values.
        weight: (m,) how much each row counts; one that counts nothing is let go, and is off by nothing.

    Returns:
        (n, m) in mm.

    """
    state, moved = state.copy(), np.zeros((state.shape[-1], system.unknowns))
    for _ in range(STEPS):
        residual, wrench = evaluate(system, state, drives)
        matrix = jacobian(system, wrench) * weight[:, None]
        turned = np.swapaxes(matrix, 1, 2)
        slope = (turned @ (residual.T * weight)[..., None])[..., 0] + STAY**2 * moved
        step = solve_rows(turned @ matrix + STAY**2 * np.eye(system.unknowns), -slope)
        moved += step
        advance(system, state, step.T)
    off = evaluate(system, state, drives)[0].T * (weight > 0.0)
    # A distance row is (|d|² − L²)/2L: back to |d| − L.
    rest = system.distance_length
    off[:, : len(rest)] = np.sqrt(np.maximum(rest**2 + 2.0 * rest * off[:, : len(rest)], 0.0)) - rest
    return np.abs(off)


def _verdict(locked: Mask, misfit: Array) -> Freedom:
    if locked.any():
        return Freedom.LOCKED
    return Freedom.AGAINST if misfit.max(initial=0.0) > FITS else Freedom.FREE


def _verdict_among(locked: Mask, misfit: Array, among: Mask) -> Freedom | None:
    return _verdict(locked[among], misfit[among]) if among.any() else None


def _hard(rigid: Mechanism, system: System) -> Mask:
    """Rows (m,) that are no link's and no arm's: nothing softens them."""
    soft = {link.name for link in rigid.links} | {arm.name for arm in rigid.arms}
    return np.array([name not in soft for name in system.members])


def _stood(poses: Poses) -> Array:
    """Drive values (D, N) at which the poses stand."""
    return np.ascontiguousarray((poses.travel.values * poses.reached[:, None]).T)


def _freedoms(system: System, state: Array, drives: Array) -> NDArray[np.intp]:
    """What the rows without the wheels' heights leave free, per pose (n,)."""
    rows = jacobian(system, evaluate(system, state, drives)[1])[:, ~driven_rows(system)]
    values = np.linalg.svd(rows, compute_uv=False)
    return np.asarray(system.unknowns - np.count_nonzero(values > SINGULAR, axis=1))


def _joint_loads(poses: Poses, holding: Holding, system: System, reached: Mask) -> tuple[JointLoad, ...]:
    return tuple(
        JointLoad(
            member=member,
            end=end,
            deflection=_peak(norm(holding.deflection[number]), poses, reached),
            force=_peak(norm(holding.force[number]), poses, reached),
            moment=_peak(norm(holding.moment[number]), poses, reached),
        )
        for number, (member, end) in enumerate(holding.joints)
        if member in system.members
    )


def _peak(values: Array, poses: Poses, reached: Mask) -> Peak:
    """The largest of values (N,) among poses that are reached; zero where none is."""
    pose = int(np.where(reached, values, -1.0).argmax())
    return Peak(float(values[pose]) if reached[pose] else 0.0, pose, poses.stands_at(pose))
