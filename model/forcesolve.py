"""The forces in N poses under given loads: in coilovers, at every joint, and what is left over on every part.

What acts on plain arms and links is passed on to bodies (`model.forcepaths`), the rows and coilovers answer
(`model.statics`), and from the rows follows what members do at their joints (`model.forcejoints`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from model.errors import CallError
from model.forcejoints import joint_pushes, merged, steering_pushes
from model.forcepaths import Paths
from model.loadcases import Ground, Outside, outside
from model.mechanism import FRAME, Bar, Coilover, Mechanism
from model.members import ArmMotion, Posture, end_link_of
from model.poses import Poses
from model.pushes import Push, by_two_pivots, force_at, push, sum_of
from model.rates import rate_of
from model.spatial import Array, dot, unit
from model.statics import solve_statics


@dataclass(frozen=True, eq=False)
class Forces:
    """All forces in N poses: what members do at their ends, and `coilovers` (N, C) in N that push."""

    springs: tuple[Coilover, ...]
    coilovers: Array
    pushes: tuple[Push, ...]
    outside: Outside
    twists: tuple[tuple[Bar, Array, Array], ...]


def forces_in(poses: Poses, now: Posture, ground: Ground) -> Forces:
    """The forces in N poses that are reached, for N cases of the ground; raises `CallError` as `loads_of`."""
    mechanism, paths, n = poses.mechanism, Paths.of(poses.mechanism, now), len(poses)
    springs = _springs(mechanism)
    out = outside(mechanism, now, ground)
    bars, links, twists = _bars(mechanism, paths)
    given = [*out.pushes, *bars, *links]
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
    joints = joint_pushes(mechanism, paths, solution, [*bars, *links, *pushed])
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

    Twist is the right arm's turn less the left one's, as in `model.rates`. With a the bar's axis, u the direction of an
    end link from the arm's end and r the end from the axis, the pull T in the link turns the arm by T a · (r × u),
    which is what the bar's twist answers with.
    """
    on_holder: list[Push] = []
    on_ends: list[Push] = []
    twists = []
    for bar in mechanism.bars:
        left, right = (_arm_of(paths.now, bar, arm) for arm in bar.arms)
        holder = paths.now.parts[bar.on]
        axis = holder.rotation @ bar.axis
        first, second = (paths.end(pivot) for pivot in bar.pivots)
        twist = right.turn - left.turn
        moment = (rate_of(bar) or 0.0) * twist
        mine = []
        for arm, answer in ((left, -moment), (right, moment)):
            link = end_link_of(mechanism, arm.arm)
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


def left_over(mechanism: Mechanism, found: Forces) -> dict[str, Array]:
    """What acts on each part in sum, (N, 6) about the vehicle's origin: nothing, but for rounding.

    From the forces at the joints alone, member by member: every free body, arm, link, coilover and anti-roll bar.
    """
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
