"""What a linkage that is held twice over lets itself be moved against: who fights, by how much, and what it takes.

Two numbers tell how badly rigid parts fight. The *freedoms* are what the rows without the wheels' heights leave over:
with fewer than there are wheels, one of them moves against the linkage. The *misfit* is geometry alone, whatever the
rates (`model.misfits`); rows that no bush softens count `HARD` times as much there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from model.constraints import System, evaluate, jacobian, ride_state
from model.joints import GIVING_KINDS
from model.loads import lock_travel
from model.measures import Bound, Measure, Quantity, place_text
from model.mechanism import End, Mechanism
from model.members import Posture
from model.misfits import misfits
from model.mobility import SINGULAR, HeldTwice, driven_rows, held_twice, kingpins
from model.poses import Holding, Poses, Status
from model.softening import straight_rates
from model.solver import group_state
from model.spatial import Array, norm
from model.tangents import stood

# Less than a tape can tell, in mm: lengths that are off by no more fit.
FITS = 0.1
# Metal in metal that is forced apart with more, in N, is locked: half a tonne in one joint, before the car has moved.
# A joint without rates of its own gives by 0.1 mm then. From memory, order of magnitude only.
LOCKS = 5000.0
FORCED_SOURCE = "typical: 5 kN in a joint of metal in metal that is held twice over, from memory"
# A row that counts a thousand times is off by a millionth of what the others are, far below `FITS`.
HARD = 1e3
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
class SteeringLoad:
    """What holds a rack (force in N along it) or a pitman arm (moment in N·mm about its shaft, `turns`) at most."""

    part: str
    turns: bool
    most: Peak


@dataclass(frozen=True)
class Fight:
    """One group of parts that is held more often than once, over the poses that were solved.

    `wheel_names` are its wheels. `members` fight at ride height, where `spare` rows are too many. `freedoms_ride`,
    `freedoms_least` and `freedoms_most` are what the linkage leaves to its `wheels` wheels at ride height and through
    travel. `misfit` (mm) is of the length of `worst_member`. `wheel_force` (N) is the most it takes at one wheel to
    hold a pose, at the wheel on the side `wheel`, and `roll_moment` (N·mm) the most that both wheels' forces make about
    the middle line of the vehicle, None where they share no axle; `steering` is the most it takes at the rack or pitman
    arm, None where that moves another group. Springs and dampers of coilovers are in none of them. `together` judges
    the poses with both wheels alike, `crossed` those with one up and one down, straight ahead; None where there are no
    such poses.
    """

    members: tuple[str, ...]
    wheel_names: tuple[str, ...]
    spare: int
    wheels: int
    freedoms_ride: int
    freedoms_least: int
    freedoms_most: int
    misfit: Peak
    worst_member: str
    wheel_force: Peak
    wheel: str
    roll_moment: Peak | None
    steering: SteeringLoad | None
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
    locked = ~reached | (_forced(holding, held) > LOCKS)
    wheels = [wheel for wheel in rigid.wheels if rigid.drive_number(wheel.side) in system.drives]
    forces = holding.drive[[rigid.drive_number(wheel.side) for wheel in wheels]]
    pushed = _peak(np.abs(forces).max(axis=0), poses, reached)
    moment = np.array([wheel.centre[1] for wheel in wheels]) @ forces
    holders = kingpins(rigid)
    shared = len({holders.get(wheel.on, wheel.on) for wheel in wheels}) < len(wheels)
    straight = np.abs(poses.travel.column("steer")) < SAME
    left, right = poses.travel.column("left"), poses.travel.column("right")
    pair = len(wheels) == 2
    return Fight(
        members=held.members,
        wheel_names=tuple(wheel.name for wheel in wheels),
        spare=held.spare,
        wheels=len(wheels),
        freedoms_ride=int(_freedoms(system, ride_state(system, 1), np.zeros((len(rigid.drives), 1)))[0]),
        freedoms_least=int(freedoms[reached].min(initial=system.unknowns)),
        freedoms_most=int(freedoms[reached].max(initial=0)),
        misfit=worst,
        worst_member=system.members[int(off[worst.pose].argmax())],
        wheel_force=pushed,
        wheel=wheels[int(np.abs(forces[:, pushed.pose]).argmax())].side,
        roll_moment=_peak(np.abs(moment), poses, reached) if shared else None,
        steering=_steering(poses, system, reached),
        joints=_joint_loads(poses, holding, system, reached),
        verdict=_verdict(locked, misfit),
        together=_verdict_among(locked, misfit, pair & straight & (np.abs(left - right) < SAME)),
        crossed=_verdict_among(locked, misfit, pair & straight & (left * right < 0.0)),
    )


def steering_force(poses: Poses) -> Array | None:
    """What holds the rack (N along its axis) or pitman arm (N·mm about its shaft) in each pose (N,).

    Signed along the way to the left. None where nothing is held twice over or nothing steers.
    """
    number, holding = poses.mechanism.steer, poses.holding
    if number is None or holding is None:
        return None
    screw = next(body.screw for body in poses.mechanism.bodies if body.screw is not None)
    return np.asarray(holding.drive[number] / np.abs(lock_travel(screw, stood(poses)[number])))


def _steering(poses: Poses, system: System, reached: Mask) -> SteeringLoad | None:
    driven = [poses.mechanism.bodies[number] for number in system.bodies]
    force = steering_force(poses)
    for body in driven:
        if body.screw is not None and force is not None:
            return SteeringLoad(body.name, body.screw.turns, _peak(np.abs(force), poses, reached))
    return None


def forced_measures(poses: Poses, now: Posture) -> Iterator[Measure]:
    """How far joints of metal in metal are forced apart where they fight, against what a force of `LOCKS` does.

    Only members that are held twice over fight: what another one carries, it carries however its joints are made.
    The length is that by which the joint gives under its force in its softer direction.
    """
    rigid, holding = poses.mechanism.rigid, poses.holding
    if rigid is None or holding is None:
        return
    at = {(joint.member, joint.end.place): joint.at for joint in now.joints}
    for number in sorted({number for held in held_twice(rigid) for number in _hard_joints(holding, held)}):
        member, end = holding.joints[number]
        softer = min(straight_rates(end))
        most = LOCKS / softer
        bound = Bound(most, 0.5 * most, typical=True, source=FORCED_SOURCE)
        where, apart = place_text(member, end), norm(holding.force[number]) / softer
        yield Measure("forced apart", where, member, Quantity.LENGTH, bound, apart, at[member, end.place])


def _hard_joints(holding: Holding, held: HeldTwice) -> list[int]:
    """Joints of metal in metal at the members that fight."""
    return [
        number
        for number, (member, end) in enumerate(holding.joints)
        if member in held.members and end.joint.kind not in GIVING_KINDS
    ]


def _forced(holding: Holding, held: HeldTwice) -> Array:
    """The most (N,) in N that forces a joint of metal in metal apart where it fights."""
    return np.asarray(norm(holding.force[_hard_joints(holding, held)]).max(axis=0, initial=0.0))


def _measured(poses: Poses, rigid: Mechanism, system: System) -> tuple[NDArray[np.intp], Array]:
    """Freedoms (N,) and misfits (N, m) of all rows."""
    weight = np.where(_hard(rigid, system), HARD, 1.0)
    freedoms, off = [], []
    for start in range(0, len(poses), CHUNK):
        part = poses.take(slice(start, start + CHUNK))
        state, drives = group_state(part, system), stood(part)
        freedoms.append(_freedoms(system, state, drives))
        off.append(misfits(system, state, drives, weight))
    return np.concatenate(freedoms), np.concatenate(off)


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
