"""Forces at joints over poses: what a member does to the part it is bolted to, and how members pass loads on.

Arrays have poses first. A wrench `(N, 6)` is a force and its moment about the vehicle's origin, in N and N·mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from model.spatial import Array, across, dot, norm, unit

Wrench = Array


@dataclass(frozen=True, eq=False)
class Push:
    """What a member does to the part `on` at a place: force (N, 3) in N at (N, 3) in mm, moment (N, 3) in N·mm.

    In the vehicle's axes. What the part does to the member is the opposite.
    """

    member: str
    place: str
    on: str
    at: Array
    force: Array
    moment: Array

    @property
    def wrench(self) -> Wrench:
        """Force and moment about the vehicle's origin, (N, 6)."""
        return force_at(self.force, self.at, self.moment)


def push(member: str, place: str, on: str, at: Array, force: Array, moment: Array | None = None) -> Push:
    """A push; without a moment it has none."""
    return Push(member, place, on, at, force, np.zeros_like(force) if moment is None else moment)


def sum_of(pushes: Sequence[Push], poses: int) -> Wrench:
    """The wrench (N, 6) of several pushes together."""
    return np.sum([each.wrench for each in pushes], axis=0) if pushes else np.zeros((poses, 6))


def moment_about(wrench: Wrench, at: Array) -> Array:
    """The moment (N, 3) in N·mm of a wrench (N, 6) about points (N, 3)."""
    return np.asarray(wrench[:, 3:] - np.cross(at, wrench[:, :3]))


def by_two_pivots(wrench: Wrench, first: Array, second: Array) -> tuple[Array, Array]:
    """The forces (N, 3) at two pivots (N, 3) that together are a wrench (N, 6), but for a moment about their line.

    What goes along the line cannot be told apart by statics of rigid parts: each pivot gets half. With u the direction
    from the first to the second, L their distance and M the moment about the first, u × (M × u) = M square to u gives
    the force M × u / L square to the line at the second.
    """
    apart = second - first
    along, length = unit(apart), norm(apart)[:, None]
    half = 0.5 * dot(wrench[:, :3], along)[:, None] * along
    far = np.cross(moment_about(wrench, first), along) / length
    return across(wrench[:, :3], along) - far + half, far + half


def by_two_ends(wrench: Wrench, first: Array, second: Array) -> tuple[Wrench, Wrench]:
    """What a bar passes on to the joints at its two ends (N, 3) of a wrench (N, 6) that acts on it.

    Square to the bar as a beam on two supports; along it half to each end, which only shifts the bar's own tension;
    the moment about the bar, which only its joints can take, half to each end.
    """
    near, far = by_two_pivots(wrench, first, second)
    along = unit(second - first)
    twist = 0.5 * dot(moment_about(wrench, first), along)[:, None] * along
    return force_at(near, first, twist), force_at(far, second, twist)


def by_arm(wrench: Wrench, pivots: tuple[Array, Array], ball: Array) -> Array:
    """The force (N, 3) with which an arm on two pivots passes a wrench (N, 6) on to its ball joint (N, 3).

    Virtual work: with a the line of the pivots and s = a × (ball − pivot) the ball moves by s while the wrench turns
    the arm by one, so that s · force = a · moment. Square to s the ball joint's force does no work; it is the tension
    in the lines from the pivots to the ball.
    """
    axis = unit(pivots[1] - pivots[0])
    swept = np.cross(axis, ball - pivots[0])
    return np.asarray((dot(axis, moment_about(wrench, pivots[0])) / dot(swept, swept))[:, None] * swept)


def force_at(force: Array, at: Array, moment: Array | float = 0.0) -> Wrench:
    """The wrench (N, 6) of forces (N, 3) at points (N, 3), with moments (N, 3) of their own."""
    return np.concatenate([force, np.cross(at, force) + moment], axis=-1)
