"""The forces at joints, mounts and coilovers in a load case, by virtual work through the same rows as the motion.

Quasi-static: no part but what is unsprung has weight, nothing has inertia, dampers and bump stops push nothing. What
the ground does is given; in place of whatever holds the wheels at their heights stand the forces that the coilovers
would have to have (`model.statics`). Forces are for comparison and no check of strength.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from model.errors import CallError
from model.forcejoints import joint_pushes, merged, steering_pushes, tension_of
from model.forcepaths import Paths
from model.frameshapes import Lever, lever_of
from model.loadcases import Ground, Outside, ground_of, outside, travel_to
from model.mechanism import FRAME, Bar, Coilover, LoadCase, Mechanism
from model.members import ArmMotion, Posture, posture
from model.poses import Poses, Status
from model.pushes import Push, by_two_pivots, force_at, push, sum_of
from model.rates import rate_of, spring_force, strained_coilovers
from model.settling import settled
from model.solver import solve
from model.spatial import Array, dot, norm, unit
from model.statics import solve_statics
from model.tangents import velocities


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
    """The force in N along a link: positive pulls, negative pushes."""

    name: str
    axial: float


@dataclass(frozen=True)
class CoiloverLoad:
    """What a coilover would have to push with in N, and what its spring gives at its `length` in mm, if it has one."""

    name: str
    needed: float
    given: float | None
    length: float
    rate: float | None


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
    """The largest force (N) and moment about the vehicle's origin (N·mm) that are left over on one part."""

    part: str
    force: float
    moment: float


@dataclass(frozen=True, eq=False)
class CaseLoads:
    """Everything that one load case does; `poses` is the one pose it stands in.

    `mounts` are all ends of all members, on the frame and on moving parts; `left_over` is the sum of what acts on the
    whole: ground, weight and frame.
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


@dataclass(frozen=True, eq=False)
class Forces:
    """All forces in N poses: what members do at their ends, and `coilovers` (N, C) in N that push."""

    springs: tuple[Coilover, ...]
    coilovers: Array
    pushes: tuple[Push, ...]
    outside: Outside
    twists: tuple[tuple[Bar, Array, Array], ...]


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
    return tuple(_case(case, poses, now, found, number) for number, case in enumerate(stands))


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


def forces_in(poses: Poses, now: Posture, ground: Ground) -> Forces:
    """The forces in N poses that are reached, for N cases of the ground; raises `CallError` as `loads_of`."""
    mechanism, paths, n = poses.mechanism, Paths.of(poses.mechanism, now), len(poses)
    springs = _springs(mechanism)
    out = outside(mechanism, now, ground)
    bars, links, twists = _bars(mechanism, paths)
    given = [*out.pushes, *links]
    bodies: dict[str, Array] = {}
    for each in given:
        for name, wrench in paths.passed_on(each.on, each.wrench):
            bodies[name] = bodies.get(name, np.zeros((n, 6))) + wrench
    columns = [_column(paths, coilover) for coilover in springs]
    solution = solve_statics(poses, bodies, columns)
    pushed = [
        each
        for number, coilover in enumerate(springs)
        for each in _coilover_pushes(paths, coilover, solution.coilovers[:, number])
    ]
    joints = joint_pushes(mechanism, paths, solution, [*links, *pushed])
    pushes = [*joints, *pushed, *_struts(paths, mechanism.coilovers, [*joints, *pushed]), *links, *bars]
    return Forces(
        springs=springs,
        coilovers=solution.coilovers,
        pushes=merged([*pushes, *steering_pushes(mechanism, paths, pushes)]),
        outside=out,
        twists=twists,
    )


def _springs(mechanism: Mechanism) -> tuple[Coilover, ...]:
    """The coilovers that hold the wheels: those with a spring, or all where none has one."""
    sprung = tuple(coilover for coilover in mechanism.coilovers if coilover.spring is not None)
    springs = sprung or mechanism.coilovers
    if len(springs) != len(mechanism.wheels):
        raise CallError(
            f"this scene has {len(springs)} coilover{'s' * (len(springs) != 1)} to hold {len(mechanism.wheels)} "
            f"wheel{'s' * (len(mechanism.wheels) != 1)}, expected one to a wheel, since statics cannot share a "
            "load out among springs; add or take away coilovers."
        )
    links = {link.name: {end.on for end in link.ends} for link in mechanism.links}
    arms = {arm for bar in mechanism.bars for arm in bar.arms}
    for coilover in springs:
        for end in (coilover.top, coilover.bottom):
            if links.get(end.on, set()) & arms:
                raise CallError(
                    f'"{coilover.name}" sits on "{end.on}", an end link of an anti-roll bar; put it on another part.'
                )
    return springs


def _line(paths: Paths, coilover: Coilover) -> tuple[Array, Array, Array]:
    """Where a coilover's ends are (N, 3), and the direction (N, 3) from the bottom to the top."""
    top, bottom = paths.end(coilover.top), paths.end(coilover.bottom)
    return top, bottom, unit(top - bottom)


def _column(paths: Paths, coilover: Coilover) -> dict[str, Array]:
    """What 1 N with which a coilover pushes its ends apart does to bodies, (N, 6) each."""
    top, bottom, along = _line(paths, coilover)
    bodies: dict[str, Array] = {}
    for on, wrench in ((coilover.top.on, force_at(along, top)), (coilover.bottom.on, force_at(-along, bottom))):
        for name, passed in paths.passed_on(on, wrench):
            bodies[name] = bodies.get(name, np.zeros_like(passed)) + passed
    return bodies


def _coilover_pushes(paths: Paths, coilover: Coilover, force: Array) -> list[Push]:
    """What a coilover does at its ends; of a strut, which is one with its knuckle, at its top alone."""
    top, bottom, along = _line(paths, coilover)
    pull = force[:, None] * along
    pushes = [push(coilover.name, coilover.top.place, coilover.top.on, top, pull)]
    if not coilover.strut:
        pushes.append(push(coilover.name, coilover.bottom.place, coilover.bottom.on, bottom, -pull))
    return pushes


def _struts(paths: Paths, struts: Sequence[Coilover], pushes: Sequence[Push]) -> list[Push]:
    """What struts do to the knuckles that they are one with: the opposite of what they do at their tops."""
    found = []
    for strut in struts:
        mine = [each for each in pushes if each.member == strut.name]
        if strut.strut and mine:
            foot, total = paths.end(strut.bottom), -sum_of(mine, len(mine[0].at))
            force = total[:, :3]
            moment = total[:, 3:] - np.cross(foot, force)
            found.append(push(strut.name, strut.bottom.place, strut.bottom.on, foot, force, moment))
    return found


def _bars(mechanism: Mechanism, paths: Paths) -> tuple[list[Push], list[Push], tuple[tuple[Bar, Array, Array], ...]]:
    """What anti-roll bars do to what holds them, what their end links do, and each bar's twist and moment (N,).

    With a the bar's axis, u the direction of an end link from the arm's end and r the end from the axis, the pull T in
    it turns the arm by T a · (r × u), which is what the bar's twist answers with.
    """
    on_holder: list[Push] = []
    on_ends: list[Push] = []
    twists = []
    for bar in mechanism.bars:
        left, right = (_arm_of(paths.now, bar, arm) for arm in bar.arms)
        holder = paths.now.parts[bar.on]
        axis = holder.rotation @ bar.axis
        first, second = (paths.end(pivot) for pivot in bar.pivots)
        twist = left.turn - right.turn
        moment = (rate_of(bar) or 0.0) * twist
        mine = []
        for arm, answer in ((left, moment), (right, -moment)):
            link = next(link for link in mechanism.links if arm.arm in {end.on for end in link.ends})
            far = link.far_end(arm.arm)
            near = link.ends[0] if far is link.ends[1] else link.ends[1]
            at = paths.end(far)
            along = unit(at - arm.end)
            pull = answer / dot(axis, np.cross(arm.end - first, along))
            mine += [
                push(link.name, near.place, near.on, arm.end, pull[:, None] * along),
                push(link.name, far.place, far.on, at, -pull[:, None] * along),
            ]
        on_bar = [each for each in mine if each.on in bar.arms]
        forces = by_two_pivots(sum_of(on_bar, len(twist)), first, second)
        on_holder += [
            push(bar.name, pivot.place, pivot.on, at, force)
            for pivot, at, force in zip(bar.pivots, (first, second), forces, strict=True)
        ]
        on_ends += mine
        twists.append((bar, twist, moment))
    return on_holder, on_ends, tuple(twists)


def _arm_of(now: Posture, bar: Bar, name: str) -> ArmMotion:
    return next(each for each in now.bar_arms if each.bar is bar and each.arm == name)


def left_over(poses: Poses, found: Forces) -> dict[str, Array]:
    """What acts on each part in sum, (N, 6) about the vehicle's origin: nothing, but for rounding.

    From the forces at the joints alone, member by member: every free body, arm, link, coilover and anti-roll bar.
    """
    mechanism = poses.mechanism
    of_bar = {arm: bar.name for bar in mechanism.bars for arm in bar.arms}
    wheels = {wheel.name for wheel in mechanism.wheels}
    total: dict[str, Array] = {}
    for each in (*found.pushes, *found.outside.pushes):
        part = of_bar.get(each.on, each.on)
        total[part] = total.get(part, 0.0) + each.wrench
        if each.member not in wheels:
            total[each.member] = total.get(each.member, 0.0) - each.wrench
    total.pop(FRAME, None)
    return total


def whole(found: Forces) -> Array:
    """Ground, weight and frame in sum, (N, 6): nothing, but for rounding, since the frame holds all the rest."""
    out = found.outside
    on_frame = [each.wrench for each in (*found.pushes, *out.pushes) if each.on == FRAME]
    ground = [force_at(force, at) for force, at in zip(out.force, out.contact, strict=True)]
    weight = [force_at(force, at) for force, at in zip(out.weight, out.centre, strict=True)]
    return np.asarray(np.sum([*ground, *weight], axis=0) - np.sum(on_frame, axis=0))


def _case(case: LoadCase, poses: Poses, now: Posture, found: Forces, number: int) -> CaseLoads:
    """One of the cases by itself."""
    mechanism = poses.mechanism
    frame_torques = [each for each in found.outside.pushes if each.on == FRAME and each.moment[number].any()]
    mounts = tuple(_mount(mechanism, each, number) for each in (*found.pushes, *frame_torques))
    lengths = {stroke.coilover.name: float(stroke.length[number]) for stroke in now.strokes}
    steering = next((body for body in mechanism.bodies if body.screw is not None), None)
    worst = max(left_over(poses, found).items(), key=lambda item: float(np.abs(item[1][number, :3]).max()))
    rest = whole(found)[number]
    return CaseLoads(
        case=case,
        poses=poses.take(np.array([number])),
        ground=tuple(
            GroundLoad(wheel.name, at[number], force[number])
            for wheel, at, force in zip(mechanism.wheels, found.outside.contact, found.outside.force, strict=True)
        ),
        mounts=mounts,
        links=tuple(
            LinkLoad(link.name, float(tension_of([each for each in found.pushes if each.member == link.name])[number]))
            for link in mechanism.links
        ),
        coilovers=tuple(
            CoiloverLoad(
                name=coilover.name,
                needed=float(force[number]),
                given=None
                if coilover.spring is None
                else float(spring_force(coilover, np.array(lengths[coilover.name]))[0]),
                length=lengths[coilover.name],
                rate=None if coilover.spring is None else coilover.spring.rate,
            )
            for coilover, force in zip(found.springs, found.coilovers.T, strict=True)
        ),
        bars=tuple(
            BarLoad(bar.name, float(twist[number]), float(moment[number]), rate_of(bar) is not None)
            for bar, twist, moment in found.twists
        ),
        steering=None if steering is None or steering.screw is None else _steering(steering.name, poses, found, number),
        residual=_residual(worst[0], worst[1][number]),
        left_over=_residual("the whole", rest),
    )


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
