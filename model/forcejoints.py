"""From the forces in rows to what members do at their joints."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

import numpy as np

from model.forcepaths import Paths
from model.mechanism import FRAME, End, Mechanism, Motion, Offset, Row, Square
from model.pushes import Push, by_two_pivots, push, sum_of
from model.spatial import Array
from model.statics import Solution


def joint_pushes(mechanism: Mechanism, paths: Paths, found: Solution, on_members: Sequence[Push]) -> list[Push]:
    """What all members do at their joints but coilovers and anti-roll bars.

    Args:
        mechanism: the suspension.
        paths: its plain arms and links.
        found: the forces in its rows.
        on_members: what acts on arms and links between their joints.

    """
    pushes = list(found.held)
    for arm in paths.arms.values():
        lengths = [number for number, row in enumerate(found.rows) if row.member == arm.name]
        held = np.einsum("nr,nri->ni", found.tension[:, lengths], found.wrench[:, lengths, :3])
        pushes += paths.arm_pushes(arm, [each for each in on_members if each.on == arm.name], held)
    for link in paths.links.values():
        pushes += paths.link_pushes(link, [each for each in on_members if each.on == link.name])
        for number, row in enumerate(found.rows):
            if row.member == link.name:
                pull = found.tension[:, number, None] * found.wrench[:, number, :3]
                for end, sign in zip(link.ends, (-1.0, 1.0), strict=True):
                    pushes.append(push(link.name, end.place, end.on, paths.end(end), sign * pull))
    pushes += _shared_points(mechanism, paths, found)
    return pushes


def steering_pushes(mechanism: Mechanism, paths: Paths, pushes: Sequence[Push]) -> list[Push]:
    """What a rack does to its housing, or a pitman arm to its shaft, of all that acts on it."""
    found = []
    for body in mechanism.bodies:
        on_it = [each for each in pushes if each.on == body.name]
        if body.motion is Motion.DRIVEN and body.screw is not None and on_it:
            if body.screw.turns:
                place, at = "at its shaft", np.broadcast_to(body.screw.point, on_it[0].at.shape)
            else:
                place, at = "in its housing", np.mean([each.at for each in on_it], axis=0)
            total = sum_of(on_it, len(at))
            found.append(_as_push(body.name, place, FRAME, at, total))
    return found


def merged(pushes: Sequence[Push]) -> tuple[Push, ...]:
    """The same with one push for each end of a member."""
    ends: dict[tuple[str, str, str], list[Push]] = {}
    for each in pushes:
        ends.setdefault((each.member, each.place, each.on), []).append(each)
    return tuple(
        group[0] if len(group) == 1 else _as_push(*key, group[0].at, sum_of(group, len(group[0].at)))
        for key, group in ends.items()
    )


def _as_push(member: str, place: str, on: str, at: Array, wrench: Array) -> Push:
    force = wrench[:, :3]
    return push(member, place, on, at, force, wrench[:, 3:] - np.cross(at, force))


def _shared_points(mechanism: Mechanism, paths: Paths, found: Solution) -> list[Push]:
    """What hinges, ball joints of arms that are bodies, struts and centre links do, from their `Offset` rows."""
    ends = _ends(mechanism)
    joints = []
    numbered = [(row, number) for number, row in enumerate(found.rows) if isinstance(row, Offset)]
    for key, rows in groupby(numbered, key=lambda each: _joint_key(each[0])):
        member, base, tip, _ = key
        some = list(rows)
        places = [number for _, number in some]
        row = some[0][0]
        force = np.einsum("nr,nri->ni", found.tension[:, places], found.wrench[:, places, :3])
        # The rows push the tip back and the base ahead; a member with no body of its own acts on the tip.
        body, sign = (base, 1.0) if member == mechanism.bodies[tip].name else (tip, -1.0)
        name = mechanism.bodies[body].name
        place = ends.get((member, name, _key_of(row.tip.at)), "")
        at = paths.place(mechanism.bodies[tip].name, row.tip.at)
        joints.append(push(member, place, name, at, sign * force))
    pushes = _couples(mechanism, found, joints)
    for (member, on), group in _by_pair(joints).items():
        if len(group) == 2 and all(each.place for each in group):
            forces = by_two_pivots(sum_of(group, len(group[0].at)), group[0].at, group[1].at)
            pushes += [push(member, each.place, on, each.at, f) for each, f in zip(group, forces, strict=True)]
        else:
            place = group[0].place or "at its shaft"
            pushes.append(_as_push(member, place, on, group[0].at, sum_of(group, len(group[0].at))))
    return pushes


def _couples(mechanism: Mechanism, found: Solution, joints: Sequence[Push]) -> list[Push]:
    """What rows that keep two bodies square do, at the joint that the same member has there."""
    pushes = []
    for number, row in enumerate(found.rows):
        if isinstance(row, Square):
            own = row.member == mechanism.bodies[row.body_b].name
            on = mechanism.bodies[row.body_a if own else row.body_b].name
            couple = (-1.0 if own else 1.0) * found.tension[:, number, None] * found.wrench[:, number, 3:]
            there = next(each for each in joints if (each.member, each.on) == (row.member, on))
            pushes.append(push(row.member, there.place, on, there.at, np.zeros_like(couple), couple))
    return pushes


def _by_pair(joints: Sequence[Push]) -> dict[tuple[str, str], list[Push]]:
    pairs: dict[tuple[str, str], list[Push]] = {}
    for each in joints:
        pairs.setdefault((each.member, each.on), []).append(each)
    return pairs


def _ends(mechanism: Mechanism) -> dict[tuple[str, str, tuple[float, ...]], str]:
    """The place of each end of arms, pins and struts, by member, what it is on and where it is at ride height."""
    ends: list[tuple[str, End]] = [(pin.part, pin.end) for pin in mechanism.pins]
    ends += [(arm.name, end) for arm in mechanism.arms for end in arm.ends]
    ends += [(strut.name, strut.top) for strut in mechanism.coilovers if strut.strut]
    return {(member, end.on, _key_of(end.at)): end.place for member, end in ends}


def _key_of(at: Array) -> tuple[float, ...]:
    return tuple(float(x) for x in at)


def _joint_key(row: Row) -> tuple[str, int, int, tuple[float, ...]]:
    if not isinstance(row, Offset):
        raise AssertionError("only rows that share a point have one")
    return row.member, row.base.body, row.tip.body, _key_of(row.tip.at)


def tension_of(link_pushes: Sequence[Push]) -> Array:
    """Tension (N,) in N of a link from what it does at its two ends, the mean where something sits between them."""
    first, second = link_pushes
    along = second.at - first.at
    length = np.sqrt((along**2).sum(axis=1))
    return np.asarray(0.5 * ((first.force - second.force) * along).sum(axis=1) / length)
