"""The forces in all constraint rows and springs of a suspension under given loads: one linear solve for all poses.

With ξ the small twists of the free bodies, J the Jacobian of the rows (`model.constraints`), λ the forces in them,
positive where a link pulls, and K what the bushes of a linkage that is held twice over answer with, every free body
is at rest, and every row keeps its length, where

    K ξ + Jᵀ λ − C s = w,      J ξ = 0.

w are the given loads, beside what bushes hold in the pose already. The rows that hold the wheels' heights are no part
of the vehicle: in their place stand the forces s of the coilovers, of which C says what 1 N does to the bodies
(virtual work through arms and links). Where rigid links hold everything just so, ξ is 0 and the forces follow from
geometry alone. Bushes answer in proportion to the extra load, at the geometry of the pose.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.bushings import Give, Strain, give_of, strain
from model.constraints import System, bodies_of, evaluate, systems
from model.errors import CallError
from model.mechanism import Distance, Mechanism, Motion, Offset, Row, Square
from model.poses import Poses
from model.pushes import Push, push
from model.solver import group_state
from model.spatial import Array, skew, unit
from model.tangents import stood

# Rotations and moments are multiplied and divided by this, mm, so that all unknowns are alike in size.
LENGTH = 1000.0
# A coilover that would have to push a hundred thousand times as hard as its load does not hold it: it lies dead.
WORST_CONDITION = 1e10


@dataclass(frozen=True, eq=False)
class Rows:
    """The rows of one group of bodies in N poses: wrenches (N, m, 6) on the first of two bodies, and which they are.

    A force of 1 N in a row acts with the negative wrench on body `plus` (m,) and with the wrench itself on `minus`.
    `drive` (m,) says which rows hold a wheel's height.
    """

    rows: tuple[Row, ...]
    wrench: Array
    plus: NDArray[np.intp]
    minus: NDArray[np.intp]
    drive: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Springs:
    """The joints with give of one group in N poses: how they stand, what holds them, and what they answer with.

    `at` on the first body of each and `other` on the second (N, K, 3) mm, what holds the first: `force` (N, K, 3) N and
    `couple` (N, K, 3) N·mm, `stiff` (N, K, 3, 3) N/mm and `turning` (N, K, 3, 3) N·mm/rad; couples of links are 0.
    """

    give: Give
    plus: NDArray[np.intp]
    minus: NDArray[np.intp]
    at: Array
    other: Array
    force: Array
    couple: Array
    stiff: Array
    turning: Array


@dataclass(frozen=True, eq=False)
class Solution:
    """What holds N poses: forces (N, m) in N in the `rows` that are no wheel's height, and of the coilovers (N, C).

    `held` are the joints that give: their pushes on what holds their bolts; of links that are springs, on both parts.
    """

    rows: tuple[Row, ...]
    tension: Array
    wrench: Array
    coilovers: Array
    held: tuple[Push, ...]


def solve_statics(poses: Poses, loads: dict[str, Array], coilovers: Sequence[dict[str, Array]]) -> Solution:
    """The forces that hold poses under loads.

    Args:
        poses: N poses that are reached.
        loads: wrench (N, 6) on each body that has one, about the vehicle's origin, in N and N·mm.
        coilovers: for each, what a force of 1 N with which it pushes its ends apart does to bodies, (N, 6) each; as
            many as there are wheels.

    Raises:
        CallError: in one of the poses the coilovers cannot hold the wheels.

    """
    mechanism, n = poses.mechanism, len(poses)
    groups, place = systems(mechanism), _places(mechanism)
    free = {body.name: slot for body, slot in zip(mechanism.bodies, place, strict=True) if slot >= 0}
    rows = [_rows_of(poses, system) for system in groups]
    springs = [_springs_of(poses, system) for system in groups]
    six, total = 6 * len(free), sum(len(group.rows) for group in rows)

    stiffness, held = np.zeros((n, six, six)), np.zeros((n, six))
    for group in springs:
        _add_stiffness(stiffness, held, group, place)
    columns = np.zeros((n, six, total))
    first = 0
    for part in rows:
        scaled = _scaled(part.wrench)
        for row, (one, other) in enumerate(zip(place[part.plus], place[part.minus], strict=True)):
            for slot, sign in ((one, 1.0), (other, -1.0)):
                if slot >= 0:
                    columns[:, 6 * slot : 6 * slot + 6, first + row] = sign * scaled[:, row]
        first += len(part.rows)
    drive = np.concatenate([part.drive for part in rows])
    pushing, load = np.zeros((n, six, len(coilovers))), np.zeros((n, six))
    for name, wrench in loads.items():
        if name in free:
            load[:, 6 * free[name] : 6 * free[name] + 6] += _scaled(wrench)
    for number, pushed in enumerate(coilovers):
        for name, wrench in pushed.items():
            if name in free:
                pushing[:, 6 * free[name] : 6 * free[name] + 6, number] += _scaled(wrench)

    kept = np.flatnonzero(~drive)
    # Rows in the stiffness's own unit, so that the elimination's pivots compare like with like.
    unit_of = np.maximum(np.einsum("nii->n", stiffness) / six, 1.0)[:, None, None]
    matrix = np.zeros((n, six + total, six + total))
    matrix[:, :six, :six] = stiffness
    matrix[:, :six, six : six + len(kept)] = columns[:, :, kept] * unit_of
    matrix[:, :six, six + len(kept) :] = -pushing * unit_of
    matrix[:, six:, :six] = np.swapaxes(columns, 1, 2) * unit_of
    if not (np.linalg.cond(matrix) < WORST_CONDITION).all():
        raise CallError(
            "the coilovers cannot hold the wheels in this pose, since they do not move with them; move their ends."
        )
    found = np.linalg.solve(matrix, np.concatenate([load - held, np.zeros((n, total))], axis=1)[..., None])[..., 0]
    forces = found[:, six:] * unit_of[:, 0]
    moved = np.zeros((n, len(mechanism.bodies), 6))
    moved[:, np.flatnonzero(place >= 0)] = found[:, :six].reshape(n, -1, 6)
    moved[..., 3:] /= LENGTH
    every = [row for part in rows for row in part.rows]
    return Solution(
        rows=tuple(every[number] for number in kept),
        tension=forces[:, : len(kept)],
        wrench=np.concatenate([part.wrench for part in rows], axis=1)[:, kept],
        coilovers=forces[:, len(kept) :],
        held=tuple(each for group in springs for each in _held(group, moved)),
    )


def _places(mechanism: Mechanism) -> NDArray[np.intp]:
    """The place of each body (B,) among the free ones, −1 for others."""
    free = np.array([body.motion is Motion.FREE for body in mechanism.bodies])
    return np.where(free, np.cumsum(free) - 1, -1)


def _scaled(wrench: Array) -> Array:
    """Wrenches (..., 6) with their moments divided by `LENGTH`."""
    return np.asarray(wrench / np.array([1.0, 1.0, 1.0, LENGTH, LENGTH, LENGTH]))


def _rows_of(poses: Poses, system: System) -> Rows:
    free = set(system.bodies[: system.free])
    mine = [row for row in poses.mechanism.rows if free & set(bodies_of(row))]
    kinds = (Distance, Offset, Square)
    ordered = sorted(mine, key=lambda row: kinds.index(type(row)))  # the order in which a system has them
    wrench = np.moveaxis(evaluate(system, group_state(poses, system), stood(poses))[1], (0, 2), (2, 0))
    force, moment = wrench[..., :3], wrench[..., 3:] * system.length
    bodies = np.array(system.bodies, dtype=np.intp)
    return Rows(
        rows=tuple(ordered),
        wrench=np.concatenate([force, moment + np.cross(system.origin, force)], axis=-1),
        plus=bodies[system.plus],
        minus=bodies[system.minus],
        drive=np.array([_holds_a_wheel(poses.mechanism, row) for row in ordered], dtype=bool),
    )


def _holds_a_wheel(mechanism: Mechanism, row: Row) -> bool:
    wheels = {wheel.side for wheel in mechanism.wheels}
    return isinstance(row, Offset) and row.drive is not None and mechanism.drives[row.drive].name in wheels


def _springs_of(poses: Poses, system: System) -> Springs:
    give = give_of(poses.mechanism, system)
    now = strain(give, group_state(poses, system))
    bodies, count = np.array(system.bodies, dtype=np.intp), len(give.bushings)
    couple = np.zeros_like(now.force)
    couple[:, :count] = now.couple
    stiff, turning = _rates(give, now)
    return Springs(
        give=give,
        plus=bodies[give.plus],
        minus=bodies[give.minus],
        at=_poses_first(now.at) + system.origin,
        other=_poses_first(now.at - now.apart) + system.origin,
        force=_poses_first(now.force),
        couple=_poses_first(couple),
        stiff=stiff,
        turning=turning,
    )


def _rates(give: Give, now: Strain) -> tuple[Array, Array]:
    """Stiffness of the springs (N, K, 3, 3) in N/mm against shifts, in N·mm/rad against turns."""
    count = len(give.bushings)
    bolt, along = (unit(_poses_first(a)) for a in (now.bolt, now.apart[:, count:] / now.span))
    axial = np.einsum("nki,nkj->nkij", bolt, bolt)
    square = np.eye(3) - axial
    links = np.einsum("nki,nkj->nkij", along, along) * give.rate[:, :, None]
    bushes = give.radial[:, :, None] * square + give.axial[:, :, None] * axial
    turning = give.cock[:, :, None] * square + give.turn[:, :, None] * axial
    return np.concatenate([bushes, links], axis=1), np.concatenate([turning, np.zeros_like(links)], axis=1)


def _poses_first(vectors: Array) -> Array:
    """(3, K, n) as (n, K, 3)."""
    return np.asarray(np.moveaxis(vectors, (0, 2), (2, 0)))


def _carry(at: Array) -> Array:
    """X (N, K, 6, 6) that takes a twist about the origin to that of the point at (N, K, 3)."""
    carried = np.broadcast_to(np.eye(6), (*at.shape[:-1], 6, 6)).copy()
    carried[..., :3, 3:] = -skew(at)
    return carried


def _add_stiffness(stiffness: Array, held: Array, group: Springs, place: NDArray[np.intp]) -> None:
    """Add to the stiffness (N, 6 U, 6 U) of the free bodies and to what they are held with (N, 6 U) already."""
    both = np.zeros((*group.at.shape[:-1], 6, 6))
    both[..., :3, :3], both[..., 3:, 3:] = group.stiff, group.turning
    carried = _carry(group.at)
    whole = np.swapaxes(carried, -1, -2) @ both @ carried
    scale = np.array([1.0, 1.0, 1.0, LENGTH, LENGTH, LENGTH])
    whole = whole / scale[:, None] / scale
    pulled = np.concatenate([group.force, np.cross(group.at, group.force) + group.couple], axis=-1) / scale
    for k, (one, other) in enumerate(zip(place[group.plus], place[group.minus], strict=True)):
        ends = [(slot, sign) for slot, sign in ((one, 1.0), (other, -1.0)) if slot >= 0]
        for slot, sign in ends:
            held[:, 6 * slot : 6 * slot + 6] += sign * pulled[:, k]
            for beside, against in ends:
                stiffness[:, 6 * slot : 6 * slot + 6, 6 * beside : 6 * beside + 6] += sign * against * whole[:, k]


def _held(group: Springs, moved: Array) -> list[Push]:
    """What joints with give do to what holds them, once the bodies have moved by twists (N, B, 6) more."""
    apart = moved[:, group.plus] - moved[:, group.minus]
    shift = apart[..., :3] + np.cross(apart[..., 3:], group.at)
    force = group.force + np.einsum("nkij,nkj->nki", group.stiff, shift)
    couple = group.couple + np.einsum("nkij,nkj->nki", group.turning, apart[..., 3:])
    found = []
    for k, bushing in enumerate(group.give.bushings):
        end = bushing.end
        found.append(push(bushing.member, end.place, end.on, group.at[:, k], force[:, k], couple[:, k]))
    for k, link in enumerate(group.give.links, start=len(found)):
        # What holds its first body against the link's pull is what the link does to the second.
        first, second = link.ends
        found.append(push(link.member, first.place, first.on, group.at[:, k], -force[:, k]))
        found.append(push(link.member, second.place, second.on, group.other[:, k], force[:, k]))
    return found
