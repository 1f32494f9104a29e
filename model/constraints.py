"""Residuals and Jacobians of a group of bodies that are solved together.

Every row is a wrench. A small motion of a body is a twist (v, w): the velocity v of the body's point at the
origin and its rotation w, so that a point x of it moves by v + w × x. Then each kind of row changes by

    distance  (|d|² − L²) / 2L, d = a − b       S · (twist of a − twist of b),       S = (d/L, a × d/L)
    offset    n · (tip − base) − value          S · (twist of tip − twist of base),  S = (n, tip × n)
    square    ℓ (u · v − value)                 S · (twist of u − twist of v),       S = (0, ℓ u × v)

where n and base (u, v) ride on their bodies. S is the force along the link, or the couple about the hinge, with
which the row answers: its Plücker coordinates (Featherstone, Rigid Body Dynamics Algorithms, 2008, ch. 2).
One wrench serves both bodies with opposite signs; there is no other Jacobian in this project.

In this room and in `model.newton` poses run along the *last* axis: NumPy's inner loop then runs over poses, which
is several times as fast for arrays that are three or six wide otherwise. Nothing outside sees that order.
Lengths are about `System.origin`; moments and rotations are divided and multiplied by `System.length` so that every
column is in mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from model.mechanism import Distance, Mechanism, Motion, Offset, Row, Square
from model.spatial import Array
from model.wrenches import cross_first, point_tangent

Index = NDArray[np.intp]
Pick = slice | Index


@dataclass(frozen=True, eq=False)
class System:
    """Rows of one group of free bodies as arrays; slots are its bodies, the free ones first.

    `points` (4, K) and `directions` (4, M) are at ride height, about `origin` (3,), sorted by slot into `point_spans`
    and `direction_spans`; their fourth row is 1 or 0, so that one product with [R | t] carries them along.
    `distance` (2 × a), `offset` (3 × b: direction, base, tip) and `square` (2 × c) pick from them.
    `plus` and `minus` (m,) are the slots on which each row's wrench acts.
    """

    bodies: tuple[int, ...]
    free: int
    origin: Array
    length: float
    points: Array
    point_spans: tuple[slice, ...]
    directions: Array
    direction_spans: tuple[slice, ...]
    distance: tuple[Pick, ...]
    distance_length: Array
    offset: tuple[Pick, ...]
    offset_ride: Array
    offset_drive: Index
    square: tuple[Pick, ...]
    square_ride: Array
    plus: Index
    minus: Index
    members: tuple[str, ...]

    @property
    def unknowns(self) -> int:
        """Number of unknowns: six for each free body."""
        return 6 * self.free

    @property
    def drives(self) -> tuple[int, ...]:
        """Columns of the drives that appear in offset rows."""
        return tuple(sorted({drive for drive in self.offset_drive.tolist() if drive >= 0}))


@lru_cache(maxsize=8)  # a mechanism is solved many times: for its grid, for a film, for each pose asked for
def systems(mechanism: Mechanism) -> tuple[System, ...]:
    """The groups of free bodies that share rows; halves that share no moving part come apart."""
    free = [number for number, body in enumerate(mechanism.bodies) if body.motion is Motion.FREE]
    slot = {number: place for place, number in enumerate(free)}
    touched = [[slot[body] for body in bodies_of(row) if body in slot] for row in mechanism.rows]
    sprung = [(spring.part, spring.holder) for spring in mechanism.bushings]
    sprung += [link.bodies for link in mechanism.elastic_links]
    joined = [*touched, *([slot[body] for body in both if body in slot] for both in sprung)]
    labels = _grouped(len(free), [(both[0], both[-1]) for both in joined if both])
    return tuple(
        _system(
            [number for number in free if labels[slot[number]] == group],
            [row for row, both in zip(mechanism.rows, touched, strict=True) if both and labels[both[0]] == group],
            [both for both in sprung if any(labels[slot[body]] == group for body in both if body in slot)],
        )
        for group in np.unique(labels)
    )


def _grouped(count: int, pairs: Iterable[tuple[int, int]]) -> Index:
    """A number (count,) for each body, the same for those that pairs of them join: that of the first of its group."""
    labels = np.arange(count)
    for one, other in pairs:
        both = labels[[one, other]]
        labels[labels == both.max()] = both.min()
    return labels


def bodies_of(row: Row) -> tuple[int, int]:
    """The body on which the row's wrench acts with a plus, and the one with a minus."""
    match row:
        case Distance(a=a, b=b):
            return a.body, b.body
        case Offset(base=base, tip=tip):
            return tip.body, base.body
        case Square(body_a=first, body_b=second):
            return first, second


def _system(free: list[int], rows: Sequence[Row], sprung: Sequence[tuple[int, int]]) -> System:
    distances = [row for row in rows if isinstance(row, Distance)]
    offsets = [row for row in rows if isinstance(row, Offset)]
    squares = [row for row in rows if isinstance(row, Square)]
    ordered: list[Row] = [*distances, *offsets, *squares]
    known = sorted({body for both in [*map(bodies_of, ordered), *sprung] for body in both} - set(free))
    bodies = [*free, *known]
    slot = {body: place for place, body in enumerate(bodies)}

    anchors = [*(row.a for row in distances), *(row.b for row in distances)]
    anchors += [*(row.base for row in offsets), *(row.tip for row in offsets)]
    places = np.array([anchor.at for anchor in anchors], dtype=float).reshape(-1, 3)
    # With no point at all the group has no row and is refused later; any origin will do until then.
    origin = places.mean(axis=0) if len(places) else np.zeros(3)
    spread = np.linalg.norm(places - origin, axis=1).max(initial=0.0)
    placed = [(slot[a.body], np.append(a.at - origin, 1.0)) for a in anchors]
    points, point_spans, point_of = _sorted_by_slot(placed, len(bodies))
    arrows = [(slot[row.base.body], np.append(row.direction, 0.0)) for row in offsets]
    arrows += [(slot[row.body_a], np.append(row.direction_a, 0.0)) for row in squares]
    arrows += [(slot[row.body_b], np.append(row.direction_b, 0.0)) for row in squares]
    directions, direction_spans, direction_of = _sorted_by_slot(arrows, len(bodies))

    one, two, three = len(distances), len(offsets), len(squares)
    distance = point_of[: 2 * one].reshape(2, one)
    base_tip = point_of[2 * one :].reshape(2, two)
    offset = np.vstack([direction_of[:two], base_tip])
    square = direction_of[two:].reshape(2, three)
    acts = np.array([[slot[body] for body in bodies_of(row)] for row in ordered], dtype=np.intp).reshape(-1, 2)
    return System(
        bodies=tuple(bodies),
        free=len(free),
        origin=origin,
        length=float(spread) or 1.0,
        points=points,
        point_spans=point_spans,
        directions=directions,
        direction_spans=direction_spans,
        distance=tuple(map(_pick, distance)),
        distance_length=np.linalg.norm(points[:, distance[0]] - points[:, distance[1]], axis=0),
        offset=tuple(map(_pick, offset)),
        offset_ride=(directions[:, offset[0]] * (points[:, offset[2]] - points[:, offset[1]])).sum(axis=0),
        offset_drive=np.array([-1 if row.drive is None else row.drive for row in offsets], dtype=np.intp),
        square=tuple(map(_pick, square)),
        square_ride=(directions[:, square[0]] * directions[:, square[1]]).sum(axis=0),
        plus=acts[:, 0],
        minus=acts[:, 1],
        members=tuple(row.member for row in ordered),
    )


def _sorted_by_slot(placed: Sequence[tuple[int, Array]], slots: int) -> tuple[Array, tuple[slice, ...], Index]:
    """Vectors (4, K) sorted by slot, the slice of each slot, and where each vector of `placed` has gone."""
    owner = np.array([slot for slot, _ in placed], dtype=np.intp)
    order = np.argsort(owner, kind="stable")
    vectors = np.array([vector for _, vector in placed], dtype=float).reshape(-1, 4)[order].T
    edges = np.searchsorted(owner[order], np.arange(slots + 1))
    where = np.empty(len(placed), dtype=np.intp)
    where[order] = np.arange(len(placed))
    return np.ascontiguousarray(vectors), tuple(slice(a, b) for a, b in pairwise(edges)), where


def carried(vectors: Array, spans: Sequence[slice], state: Array) -> Array:
    """Ride-height vectors (4, K) carried by their slots' transforms, (3, K, n)."""
    moved = np.empty((3, vectors.shape[1], state.shape[-1]))
    for slot, span in enumerate(spans):
        if span.stop > span.start:
            np.matmul(vectors[:, span].T, state[slot], out=moved[:, span])
    return moved


def _pick(index: Index) -> Pick:
    """A run of neighbours, as most systems have it, as a slice: it is then seen in place and not copied."""
    if len(index) and (np.diff(index) == 1).all():
        return slice(int(index[0]), int(index[-1]) + 1)
    return index


def _picked(vectors: Array, pick: Pick) -> Array:
    """Some of the vectors (3, K, n)."""
    return vectors[:, pick] if isinstance(pick, slice) else vectors.take(pick, axis=1)


def ride_state(system: System, n: int) -> Array:
    """Transforms (S, 3, 4, n) of n poses at ride height."""
    return np.broadcast_to(np.eye(3, 4)[..., None], (len(system.bodies), 3, 4, n)).copy()


def evaluate(system: System, state: Array, drives: Array) -> tuple[Array, Array]:
    """Residuals and wrenches of all rows.

    Args:
        system: the rows.
        state: (S, 3, 4, n), the rotation and translation of each slot, mm, about `System.origin`.
        drives: (D, n) drive values of the whole mechanism.

    Returns:
        residual (m, n) in mm and wrenches (6, m, n), the moment part divided by `System.length`.

    """
    points = carried(system.points, system.point_spans, state)
    directions = carried(system.directions, system.direction_spans, state)
    n = state.shape[-1]
    one, two = len(system.distance_length), len(system.offset_drive)
    rows = len(system.plus)
    residual, wrench = np.empty((rows, n)), np.empty((6, rows, n))

    along, by_offset, by_square = slice(0, one), slice(one, one + two), slice(one + two, rows)
    length = system.distance_length[:, None]
    a = _picked(points, system.distance[0])
    apart = a - _picked(points, system.distance[1])
    np.divide(np.einsum("irn,irn->rn", apart, apart), 2.0 * length, out=residual[along])
    residual[along] -= 0.5 * length
    np.divide(apart, length, out=wrench[:3, along])
    cross_first(a, wrench[:3, along], out=wrench[3:, along])

    normal, tip = _picked(directions, system.offset[0]), _picked(points, system.offset[2])
    wanted = np.where(system.offset_drive[:, None] >= 0, drives[system.offset_drive], 0.0)
    np.einsum("irn,irn->rn", normal, tip - _picked(points, system.offset[1]), out=residual[by_offset])
    residual[by_offset] -= system.offset_ride[:, None] + wanted
    wrench[:3, by_offset] = normal
    cross_first(tip, normal, out=wrench[3:, by_offset])
    wrench[3:, : one + two] /= system.length

    if rows > one + two:
        u, v = _picked(directions, system.square[0]), _picked(directions, system.square[1])
        residual[by_square] = system.length * ((u * v).sum(axis=0) - system.square_ride[:, None])
        wrench[:3, by_square] = 0.0
        cross_first(u, v, out=wrench[3:, by_square])
    return residual, wrench


def row_tangents(system: System, state: Array, force: Array, acting: Array) -> Array:
    """How the rows' wrenches change as the bodies move (see `model.wrenches`).

    Args:
        system: the rows.
        state: (S, 3, 4, n) as for `evaluate`.
        force: (m, n) in N with which each row answers.
        acting: (6, m, n), the wrenches times those forces.

    Returns:
        H (6, 6, m, n) of each row.

    """
    points = carried(system.points, system.point_spans, state)
    directions = carried(system.directions, system.direction_spans, state)
    one, two = len(system.distance_length), len(system.offset_drive)
    tips = np.concatenate([_picked(points, system.distance[0]), _picked(points, system.offset[2])], axis=1)
    stiffness = np.zeros((3, 3, one + two, state.shape[-1]))
    for axis in range(3):  # a link's force swings with the link; the direction of an offset stays with its base
        stiffness[axis, axis, :one] = force[:one] / system.distance_length[:, None]
    tangent = np.zeros((6, *acting.shape))
    pulls = acting[:3, : one + two]
    tangent[:, :, : one + two] = point_tangent(tips / system.length, pulls, stiffness, system.length)
    if len(system.plus) > one + two:
        u, v = _picked(directions, system.square[0]), _picked(directions, system.square[1])
        level = (u * v).sum(axis=0) * np.eye(3)[:, :, None, None]
        tangent[3:, 3:, one + two :] = (u[:, None] * v[None] - level) * force[one + two :] / system.length
    return tangent


def jacobian(system: System, wrench: Array) -> Array:
    """Derivative (n, m, 6 U) of the residuals with respect to the twists of the free slots, columns in mm."""
    if system.free == 1 and not system.plus.any():
        return wrench.transpose(2, 1, 0)  # one body that every row pulls with a plus: its wrenches are the rows
    columns = np.zeros((system.unknowns, *wrench.shape[1:]))
    for slot in range(system.free):
        block = columns[6 * slot : 6 * slot + 6]
        plus, minus = np.flatnonzero(system.plus == slot), np.flatnonzero(system.minus == slot)
        block[:, plus] = wrench[:, plus]
        block[:, minus] = -wrench[:, minus]
    return columns.transpose(2, 1, 0)
