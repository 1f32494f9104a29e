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

from model.bushings import give_of
from model.constraints import Index, System, evaluate, jacobian, systems
from model.deadcentre import straightest_row
from model.loads import lock_travel
from model.measures import Measure, Quantity, advised
from model.mechanism import Mechanism, Screw
from model.poses import Poses
from model.solver import CHUNK, distinct, felt, group_state
from model.spatial import Array, norm
from model.tangents import group_motions, stood
from model.wrenches import cross_first

# What the fastest joint moves, in mm: the last 10 mm before the linkage locks are what one sees and feels.
LAST = 10.0
# Common practice, no source: less than 3 mm is a link within 17° of its dead centre, some 5 % of its length away from
# it, with 3.3 times the wheel's load in it. It still moves: only the lock itself is more than a warning.
NEAR = advised(3.0, "typical: common practice, no source", least=True)


def toggle_measures(poses: Poses) -> Iterator[Measure]:
    """How far each drive gets while the fastest joint moves 10 mm, over solved poses."""
    mechanism = poses.mechanism
    groups = [_Group.of(poses, system) for system in systems(mechanism)]
    for number in range(len(mechanism.drives)):
        moved = [group for group in groups if number in group.drives]
        if not moved:
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
    motion = _motions(poses, system, state)
    twists = motion.reshape(system.free, 6, *motion.shape[1:])
    slots, points = _joint_points(poses.mechanism, system)
    points = np.einsum("kijn,jk->ikn", state[slots], points)[:, None]
    velocity = np.moveaxis(twists[slots], (1, 2), (0, 1))  # (6, D, K, N)
    velocity = velocity[:3] + cross_first(velocity[3:] / system.length, points)
    speed = np.sqrt(np.einsum("idkn,idkn->dkn", velocity, velocity))
    fastest = speed.argmax(axis=1)
    place = points[:, 0][:, fastest, np.arange(len(poses))] + system.origin[:, None, None]
    return np.asarray(speed.max(axis=1)), np.moveaxis(place, 0, -1)


def _joint_points(mechanism: Mechanism, system: System) -> tuple[Index, Array]:
    """Slots (K,) and ride-height points (4, K), about the origin, of all joints and wheel centres on free bodies."""
    slots, points = _all_points(mechanism, system)
    return slots[slots < system.free], points[:, slots < system.free]


def _all_points(mechanism: Mechanism, system: System) -> tuple[Index, Array]:
    """The same on all bodies: of rows, of springs' parts and of what those are bolted to."""
    give = give_of(mechanism, system)
    sizes = [span.stop - span.start for span in system.point_spans]
    slots = np.concatenate([np.repeat(np.arange(len(sizes)), sizes), give.plus, give.minus])
    return slots, np.concatenate([system.points, give.plus_at, give.minus_at], axis=1)


def _motions(poses: Poses, system: System, state: Array) -> Array:
    """The twists (6 U, D, N) per mm of each drive that the group feels: of a wheel, a rack or a pitman arm's end."""
    mechanism, motions = poses.mechanism, group_motions(poses, system, state)
    for k, number in enumerate(felt(mechanism, system)):
        if number == mechanism.steer:
            motions[:, k] /= _whole_lock(mechanism, stood(poses)[number])
    return motions


def _whole_lock(mechanism: Mechanism, shares: Array) -> Array:
    """How far (N,), in mm, a rack or a pitman arm's end goes for the whole of its lock."""
    number, screw = next((number, body.screw) for number, body in enumerate(mechanism.bodies) if body.screw is not None)
    return lock_travel(screw, shares) * (_reach(mechanism, number, screw) if screw.turns else 1.0)


def _reach(mechanism: Mechanism, body: int, screw: Screw) -> float:
    """How far (mm) from its shaft the farthest end of a pitman arm is, whatever group that end moves."""
    farthest = 0.0
    for system in systems(mechanism):
        slots, points = _all_points(mechanism, system)
        ends = points[:3, np.array(system.bodies)[slots] == body].T + system.origin - screw.point
        farthest = max(farthest, float(norm(np.cross(screw.axis, ends)).max(initial=0.0)))
    return farthest


def _straightest(poses: Poses, groups: list[System], fastest: Index, number: int, pose: int) -> str:
    """The member that comes into line with its motion in one pose, as far as one does.

    Where joints give it is looked for among the rows of the rigid linkage: those of links that hardly change.
    """
    system, one = groups[fastest[pose]], poses.take(np.array([pose]))
    moving = _motions(one, system, group_state(one, system))[:, felt(one.mechanism, system).index(number)]
    if one.mechanism.rigid is not None:
        rigid = next(each for each in systems(one.mechanism.rigid) if each.bodies[0] in system.bodies[: system.free])
        system, moving = rigid, _same_motion(system, rigid, moving)
    state, drives = group_state(one, system), np.ascontiguousarray(one.travel.values.T)
    rows = jacobian(system, evaluate(system, state, drives)[1])[0]
    moving /= np.linalg.norm(moving)  # 1 mm in all
    load = np.linalg.lstsq(rows.T, moving, rcond=None)[0]
    (row,) = straightest_row(system, state, drives, moving, load)
    return str(system.members[row])


def _same_motion(system: System, other: System, motion: Array) -> Array:
    """Twists (6 U, n) of a system's bodies as those (6 V, n) of another's, which are among them."""
    slots = [system.bodies.index(body) for body in other.bodies[: other.free]]
    twist = motion.reshape(system.free, 6, -1)[slots].swapaxes(0, 1)
    turn = twist[3:] / system.length
    away = np.broadcast_to((other.origin - system.origin)[:, None, None], turn.shape)
    moved = np.concatenate([twist[:3] + cross_first(turn, away), turn * other.length])
    return np.ascontiguousarray(moved.swapaxes(0, 1)).reshape(other.unknowns, -1)
