"""The forces at joints, mounts and coilovers in a load case, by virtual work through the same rows as the motion.

Quasi-static: no part but what is unsprung has weight, nothing has inertia, dampers and bump stops push nothing. What
the ground does is given; in place of whatever holds the wheels at their heights stand the forces that the coilovers
would have to have (`model.forcesolve`). Forces are for comparison and no check of strength.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from model.errors import CallError
from model.forcejoints import tension_of
from model.forcesolve import Forces, forces_in, left_over, whole
from model.frameshapes import Lever, lever_of
from model.loadcases import ground_of, travel_to
from model.mechanism import FRAME, LoadCase, Mechanism
from model.members import Posture, posture
from model.poses import Poses, Status
from model.pushes import Push, sum_of
from model.rates import rate_of, spring_force, strained_coilovers
from model.settling import settled
from model.solver import solve
from model.spatial import Array, norm
from model.statics import LENGTH
from model.tangents import velocities

# The solve loses some eight of sixteen digits at worst and bushes are solved to 1e-7 N: a millionth of the largest
# force, and of 1 N at least, is above both, and far below any force that a wrong balance leaves out.
BALANCED = 1e-6


@dataclass(frozen=True, eq=False)
class MountLoad:
    """What a member does to the part `on`: force (3,) in N at (3,) in mm and moment (3,) in N·mm, vehicle axes.

    `lever` is how far from the middle line of the nearest frame path the force acts; None where `on` is no frame, or
    the scene has no frame path.
    """

    member: str
    place: str
    on: str
    at: Array
    force: Array
    moment: Array
    lever: Lever | None


@dataclass(frozen=True)
class LinkLoad:
    """The force in N along a link: positive pulls, negative pushes; the mean where a coilover sits on it.

    `bending` (N·mm) is the most that what sits on it bends it with, as a beam between its joints.
    """

    name: str
    axial: float
    bending: float


@dataclass(frozen=True)
class CoiloverLoad:
    """What a coilover would have to push with in N, and what its spring gives at its `length` in mm, if it has one."""

    name: str
    needed: float
    given: float | None
    length: float


@dataclass(frozen=True)
class BarLoad:
    """The moment (N·mm) in an anti-roll bar whose arms are turned against each other by `twist` rad.

    `known` is false where the scene gives neither its rate nor its diameter: its moment then counts as 0.
    """

    name: str
    twist: float
    moment: float
    known: bool


@dataclass(frozen=True)
class SteeringForce:
    """What holds a rack (N along it) or a pitman arm (N·mm about its shaft, `turns`), signed to the left."""

    part: str
    turns: bool
    force: float


@dataclass(frozen=True, eq=False)
class GroundLoad:
    """What the ground does to a wheel: force (3,) in N at its contact (3,) in mm."""

    wheel: str
    at: Array
    force: Array


@dataclass(frozen=True)
class Residual:
    """The force (N) and the moment about the vehicle's origin (N·mm) that are left over on one part."""

    part: str
    force: float
    moment: float

    @property
    def size(self) -> float:
        """The larger of both, in N: a moment counts as the force that has it at 1 m."""
        return max(self.force, self.moment / LENGTH)


@dataclass(frozen=True, eq=False)
class CaseLoads:
    """Everything that one load case does; `poses` is the one pose it stands in.

    `mounts` are all ends of all members, on the frame and on moving parts; `residual` is of the part on which most is
    left over, `left_over` of the whole: ground, weight and frame.
    """

    case: LoadCase
    poses: Poses
    ground: tuple[GroundLoad, ...]
    mounts: tuple[MountLoad, ...]
    links: tuple[LinkLoad, ...]
    coilovers: tuple[CoiloverLoad, ...]
    bars: tuple[BarLoad, ...]
    steering: SteeringForce | None
    residual: Residual
    left_over: Residual

    @property
    def on_frame(self) -> tuple[MountLoad, ...]:
        """The mounts on the frame."""
        return tuple(mount for mount in self.mounts if mount.on == FRAME)


def loads_of(mechanism: Mechanism, case: LoadCase) -> CaseLoads:
    """The forces of one load case.

    Raises:
        CallError: no weights, a pose that cannot be reached, or springs that statics cannot tell apart.

    """
    return all_loads(mechanism, [case])[0]


def all_loads(mechanism: Mechanism, cases: Sequence[LoadCase]) -> tuple[CaseLoads, ...]:
    """The forces of several load cases, solved together; raises as `loads_of`."""
    ground, travel, stands = ground_of(mechanism, cases), travel_to(mechanism, cases), list(cases)
    for number, case in enumerate(cases):
        if case.settles:
            stands[number], travel.values[number] = _settled(mechanism, case)
    poses = solve(mechanism, travel)
    for case, status in zip(cases, poses.status, strict=True):
        if status != Status.SOLVED:
            raise CallError(
                f'the linkage locks before it reaches the heights of the case "{case.name}"; give it another at.'
            )
    now = posture(poses)
    found = forces_in(poses, now, ground)
    return tuple(
        _case(case, poses, now, found, rests, number)
        for number, (case, rests) in enumerate(zip(stands, _balance(stands, mechanism, found), strict=True))
    )


def _balance(cases: Sequence[LoadCase], mechanism: Mechanism, found: Forces) -> list[tuple[Residual, Residual]]:
    """What is left over in each case on the part where it is most, and on the whole; refused where it is no rounding.

    Raises:
        CallError: the forces on a part do not add up to nothing, which is a mistake in this program.

    """
    parts = left_over(mechanism, found)
    largest = np.max([norm(each.force) for each in (*found.pushes, *found.outside.pushes)], axis=0)
    balance = []
    for number, (case, rest) in enumerate(zip(cases, whole(found), strict=True)):
        each = [_residual(part, wrench[number]) for part, wrench in parts.items()]
        pair = max(each, key=lambda one: one.size), _residual("the whole", rest)
        worst = max(pair, key=lambda one: one.size)
        if not worst.size <= BALANCED * max(float(largest[number]), 1.0):
            raise CallError(
                f'the forces on "{worst.part}" in the case "{case.name}" leave {worst.force:.3g} N and '
                f"{worst.moment / 1000.0:.3g} N·m over, expected nothing, which is a mistake in this program; trust "
                "none of its forces for this scene, and report it."
            )
        balance.append(pair)
    return balance


def within_reach(mechanism: Mechanism, cases: Sequence[LoadCase]) -> tuple[LoadCase, ...]:
    """The same cases without typical ones at heights that the linkage does not reach: nobody has asked for those."""
    status = solve(mechanism, travel_to(mechanism, cases)).status
    return tuple(case for case, at in zip(cases, status, strict=True) if at == Status.SOLVED or not case.typical)


def _settled(mechanism: Mechanism, case: LoadCase) -> tuple[LoadCase, Array]:
    """Heights (D,) at which springs and bars hold a case; a typical one that they cannot hold stands at ride height."""

    def push_up(poses: Poses) -> Array:
        found = forces_in(poses, posture(poses), ground_of(mechanism, [case] * len(poses)))
        springs = strained_coilovers(poses, velocities(poses))
        lacking = found.coilovers.T - [springs[coilover.name].force for coilover in found.springs]
        ratios = np.array([springs[coilover.name].ratios for coilover in found.springs])
        return np.asarray(np.einsum("cwn,cn->nw", ratios, lacking))

    try:
        return case, settled(mechanism, case.name, push_up)
    except CallError:
        if not case.typical:
            raise
        return replace(case, at=("ride", "ride")), np.zeros(len(mechanism.drives))


def _case(
    case: LoadCase, poses: Poses, now: Posture, found: Forces, rests: tuple[Residual, Residual], number: int
) -> CaseLoads:
    """One of the cases by itself."""
    mechanism = poses.mechanism
    frame_torques = [each for each in found.outside.pushes if each.on == FRAME and each.moment[number].any()]
    mounts = tuple(_mount(mechanism, each, number) for each in (*found.pushes, *frame_torques))
    lengths = {stroke.coilover.name: float(stroke.length[number]) for stroke in now.strokes}
    steering = next((body for body in mechanism.bodies if body.screw is not None), None)
    residual, rest = rests
    return CaseLoads(
        case=case,
        poses=poses.take(np.array([number])),
        ground=tuple(
            GroundLoad(wheel.name, at[number], force[number])
            for wheel, at, force in zip(mechanism.wheels, found.outside.contact, found.outside.force, strict=True)
        ),
        mounts=mounts,
        links=tuple(_link(link.name, found, number) for link in mechanism.links),
        coilovers=tuple(
            CoiloverLoad(
                name=coilover.name,
                needed=float(force[number]),
                given=None
                if coilover.spring is None
                else float(spring_force(coilover, np.array(lengths[coilover.name]))[0]),
                length=lengths[coilover.name],
            )
            for coilover, force in zip(found.springs, found.coilovers.T, strict=True)
        ),
        bars=tuple(
            BarLoad(bar.name, float(twist[number]), float(moment[number]), rate_of(bar) is not None)
            for bar, twist, moment in found.twists
        ),
        steering=None if steering is None or steering.screw is None else _steering(steering.name, poses, found, number),
        residual=residual,
        left_over=rest,
    )


def _link(name: str, found: Forces, number: int) -> LinkLoad:
    """A link's tension, and how far what sits on it bends it: the force at its first end times the way from there."""
    ends = [each for each in found.pushes if each.member == name]
    start, pull = ends[0].at[number], ends[0].force[number]
    bent = [float(norm(np.cross(each.at[number] - start, pull))) for each in found.pushes if each.on == name]
    return LinkLoad(name, float(tension_of(ends)[number]), max(bent, default=0.0))


def _residual(part: str, wrench: Array) -> Residual:
    return Residual(part, float(norm(wrench[:3])), float(norm(wrench[3:])))


def _mount(mechanism: Mechanism, each: Push, number: int) -> MountLoad:
    at, force, moment = each.at[number], each.force[number], each.moment[number]
    lever = lever_of(mechanism.shapes, at, force, moment) if each.on == FRAME else None
    return MountLoad(each.member, each.place, each.on, at, force, moment, lever)


def _steering(part: str, poses: Poses, found: Forces, number: int) -> SteeringForce | None:
    screw = next(body.screw for body in poses.mechanism.bodies if body.name == part)
    mine = [each for each in found.pushes if each.member == part]
    if screw is None or not mine:
        return None
    # What the part does to the frame is what the gear does to the part, the other way round.
    wrench, hand = sum_of(mine, len(poses))[number], np.sign(screw.left)
    held = -(wrench[3:] - np.cross(screw.point, wrench[:3])) if screw.turns else -wrench[:3]
    return SteeringForce(part, screw.turns, float(hand * held @ screw.axis))
