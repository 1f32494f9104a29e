"""How near a linkage is to a toggle: how far a drive still gets while the fastest joint moves 10 mm.

Let a wheel rise by 1 mm, or the rack or pitman arm's end move by 1 mm, with the other drives held. All parts then move
by twists J⁻¹ e, where J is the Jacobian of the rows and e what the drive does to them, and the fastest joint or wheel
centre moves by v ≥ 1 mm. The share 1/v is the smallest singular value of what matters here: the motion that the
linkage can make, as its joints see it in mm, against what it does to the drive. A link that comes into line with its
motion sends v to infinity: then the drive gets 10/v mm out of 10 mm of that motion, and with the drive held the link
would have to stretch by as much (where it carries the drive's whole load; otherwise in the ratio of the two forces).
Nothing else changes 1/v much: on a suspension far from any toggle joints move about as much as their wheel, whatever
its size, and however narrow the base that a part is held on. (σ of J itself is small on a narrow base, too.)

Links that swing by φ from square to their motion leave 10 cos φ: 7.1 mm at 45°, 3.4 mm at 70°, 1.7 mm at 80°.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np

from model.constraints import Index, System, carried, evaluate, jacobian, systems
from model.deadcentre import straightest_row
from model.measures import Measure, Quantity, advised
from model.mechanism import Mechanism
from model.poses import Poses
from model.solver import CHUNK, distinct, felt, group_state
from model.spatial import Array, norm
from model.wrenches import cross_first

# What the fastest joint moves, in mm: the last 10 mm before the linkage locks are what one sees and feels.
LAST = 10.0
# Common practice, no source: less than 3 mm is a link within 17° of its dead centre, some 5 % of its length away from
# it, with 3.3 times the wheel's load in it. It still moves: only the lock itself is more than a warning.
NEAR = advised(3.0, "typical: common practice, no source", least=True)


def toggle_measures(poses: Poses) -> Iterator[Measure]:
    """How far each drive gets while the fastest joint moves 10 mm, over solved poses; none where joints give."""
    mechanism = poses.mechanism
    groups = [_Group.of(poses, system) for system in systems(mechanism) if len(system.plus) == system.unknowns]
    for number in range(len(mechanism.drives)):
        moved = [group for group in groups if number in group.drives]
        if len(moved) < sum(number in felt(mechanism, system) for system in systems(mechanism)):
            continue
        speeds = np.array([group.speed[group.drives.index(number)] for group in moved])
        places = np.array([group.place[group.drives.index(number)] for group in moved])
        fastest, pose = speeds.argmax(axis=0), np.arange(len(poses))
        part = _driven_part(mechanism, number)
        yield Measure(
            what="toggle",
            where=part,
            part=part,
            quantity=Quantity.LENGTH,
            bound=NEAR,
            values=LAST / np.maximum(speeds[fastest, pose], 1.0),
            at=places[fastest, pose],
            culprit=partial(_straightest, poses, [group.system for group in moved], fastest, number),
        )


def _driven_part(mechanism: Mechanism, number: int) -> str:
    """The wheel, rack or pitman arm that a drive moves."""
    if number == mechanism.steer:
        return next(body.name for body in mechanism.bodies if body.screw is not None)
    drive = mechanism.drives[number].name
    return next((wheel.name for wheel in mechanism.wheels if wheel.side == drive), drive)


@dataclass(frozen=True)
class _Group:
    """Speed (D, N) of a group's fastest joint per mm of each drive that it feels, and where it is (D, N, 3)."""

    system: System
    drives: list[int]
    speed: Array
    place: Array

    @classmethod
    def of(cls, poses: Poses, system: System) -> _Group:
        """Measure each pose once that differs in what the group feels, so many at a time that they stay in cache."""
        first, where = distinct(poses.mechanism, system, poses.travel.values)
        parts = [_fastest(poses.take(first[at : at + CHUNK]), system) for at in range(0, len(first), CHUNK)]
        speed, place = (np.concatenate(each, axis=1)[:, where] for each in zip(*parts, strict=True))
        return cls(system, felt(poses.mechanism, system), speed, place)


def _fastest(poses: Poses, system: System) -> tuple[Array, Array]:
    """Speed (D, N) of the fastest joint of a group per mm of each drive that it feels, and where it is (D, N, 3)."""
    state = group_state(poses, system)
    _, motion = _motions(poses, system, state)
    points = carried(system.points, system.point_spans, state)[:, None]
    velocity = [
        motion[6 * slot : 6 * slot + 3, :, None]
        + cross_first(motion[6 * slot + 3 : 6 * slot + 6, :, None] / system.length, points[:, :, span])
        for slot, span in enumerate(system.point_spans[: system.free])
    ]
    joined = np.concatenate(velocity, axis=2)
    speed = np.sqrt(np.einsum("idkn,idkn->dkn", joined, joined))
    fastest = speed.argmax(axis=1)
    place = points[:, 0][:, fastest, np.arange(len(poses))] + system.origin[:, None, None]
    return np.asarray(speed.max(axis=1)), np.moveaxis(place, 0, -1)


def _motions(poses: Poses, system: System, state: Array) -> tuple[Array, Array]:
    """The Jacobian (N, m, m) and the twists (6 U, D, N) per mm of each drive that the group feels."""
    _, wrench = evaluate(system, state, np.ascontiguousarray(poses.travel.values.T))
    matrix = jacobian(system, wrench)
    asked = [_asked(poses.mechanism, system, wrench, number) for number in felt(poses.mechanism, system)]
    motions = np.asarray(np.linalg.solve(matrix, np.moveaxis(np.array(asked), (0, 2), (2, 0))))
    return matrix, np.moveaxis(motions, 0, -1)


def _asked(mechanism: Mechanism, system: System, wrench: Array, number: int) -> Array:
    """What 1 mm of a drive asks of the rows (m, N): of a wheel's height, or of a rack's or pitman arm's end."""
    asked = np.zeros(wrench.shape[1:])
    if number != mechanism.steer:
        first = len(system.distance_length)
        asked[first : first + len(system.offset_drive)][system.offset_drive == number] = 1.0
        return asked
    for slot, body in enumerate(system.bodies):
        screw = mechanism.bodies[body].screw
        if screw is None:
            continue
        twist, farthest = np.concatenate([screw.axis, np.zeros(3)]), 1.0
        if screw.turns:
            pivot = screw.point - system.origin
            twist = np.concatenate([np.cross(pivot, screw.axis), system.length * screw.axis])
            ends = system.points[:3, system.point_spans[slot]].T - pivot
            farthest = float(norm(np.cross(screw.axis, ends)).max())
        sign = (system.minus == slot).astype(float) - (system.plus == slot)
        asked += sign[:, None] * np.einsum("i,imn->mn", twist / farthest, wrench)
    return asked


def _straightest(poses: Poses, groups: list[System], fastest: Index, number: int, pose: int) -> str:
    """The member that comes into line with its motion in one pose, as far as one does."""
    system, one = groups[fastest[pose]], poses.take(np.array([pose]))
    state = group_state(one, system)
    matrix, motions = _motions(one, system, state)
    motion = motions[:, felt(one.mechanism, system).index(number)]
    load = np.linalg.solve(matrix[0].T, motion)
    motion /= np.linalg.norm(motion)  # 1 mm in all
    drives = np.ascontiguousarray(one.travel.values.T)
    (row,) = straightest_row(system, state, drives, motion, load)
    return str(system.members[row])
