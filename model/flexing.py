"""Shapes that change with the pose: a spring's wire, a hanging hose, and what is wound between two parts."""

from __future__ import annotations

import numpy as np

from model.solids import HoseSolid, SpringSolid, WoundSolid
from model.spatial import (
    Array,
    across,
    dot,
    move,
    norm,
    rotation_about,
    rotation_vector,
    skew,
    square_to,
    triad,
    unit,
)

# Newton on sin u = q u from π: some five steps for a slack hose, one halving a step where it is nearly taut.
HOSE_STEPS = 40


def spring_line(spring: SpringSolid, top: Array, bottom: Array, per_turn: int = 24) -> Array:
    """Centre line (k, 3) of the wire between two seats (3,), its end turns closed: k is the same for every pose.

    The wire touches both seats, so that the helix is one wire diameter shorter than the spring.
    """
    axis = top - bottom
    length = float(norm(axis))
    along = axis / length
    turns = np.linspace(0.0, spring.coils, int(np.ceil(spring.coils * per_turn)) + 1)
    wire = 2.0 * spring.wire_radius
    # Three quarters of a turn at each end lie a wire apart; what is left of the height goes to the turns between.
    closed = 0.75
    rise = max(length - wire, 0.0)
    dead = min(wire, rise / spring.coils) * closed
    height = np.interp(turns, [0.0, closed, spring.coils - closed, spring.coils], [0.0, dead, rise - dead, rise])
    axes = triad(along, square_to(along))
    angle = 2.0 * np.pi * turns
    circle = spring.mean_radius * (np.cos(angle)[:, None] * axes[:, 1] + np.sin(angle)[:, None] * axes[:, 2])
    return np.asarray(bottom + (spring.wire_radius + height)[:, None] * along + circle)


def hose_line(hose: HoseSolid, start: Array, stop: Array, count: int = 49) -> Array:
    """Centre line (count, 3) of a stretch of a hose between its ends (3,): an arc of its true length.

    A brake hose is too stiff for its weight to shape it: between two fixings it bends evenly. An arc of length L and
    half angle u has the chord d = L sin u / u. A taut hose is straight.
    """
    chord = stop - start
    gap = float(norm(chord))
    share = np.linspace(*hose.stretch, count)[:, None]
    if gap >= hose.length:
        return np.asarray(start + share * chord)
    along = chord / gap if gap > 1e-9 else square_to(hose.sag)
    hang = across(hose.sag, along)
    hang = unit(hang) if norm(hang) > 1e-6 else square_to(along)
    half = float(_half_angle(np.asarray(gap / hose.length)))
    radius = 0.5 * hose.length / half
    angle = (2.0 * share - 1.0) * half
    middle = 0.5 * (start + stop)
    return np.asarray(middle + radius * (np.sin(angle) * along + (np.cos(angle) - np.cos(half)) * hang))


def hose_middle(length: float, sag: Array, start: Array, stop: Array) -> Array:
    """The middle (..., 3) of a hose of a length in mm between its ends (..., 3), see `hose_line`; `sag` is (3,)."""
    chord = stop - start
    gap = norm(chord)
    along = unit(np.where(gap[..., None] > 1e-9, chord, [1.0, 0.0, 0.0]))
    hang = across(np.broadcast_to(sag, along.shape), along)
    hang = unit(np.where(norm(hang)[..., None] > 1e-6, hang, square_to(along)))
    half = _half_angle(gap / length)
    depth = np.where(gap < length, 0.5 * length / half * (1.0 - np.cos(half)), 0.0)
    return np.asarray(0.5 * (start + stop) + depth[..., None] * hang)


def _half_angle(share: Array) -> Array:
    """The half angles u (...) in rad of arcs whose chords are shares (...) of their lengths: sin u / u = share.

    sin u − share · u is concave up to π, so that Newton's steps from there never pass the root.
    """
    # Nearer to taut than this the arc is flat to a ten-thousandth of its length.
    share = np.minimum(share, 1.0 - 1e-9)
    u = np.full(share.shape, np.pi)
    for _ in range(HOSE_STEPS):
        u = u - (np.sin(u) - share * u) / (np.cos(u) - share)
    return np.asarray(np.maximum(u, 1e-6))


def wound_shares(solid: WoundSolid, points: Array) -> Array:
    """Share (n,) of the way from a wound solid's near part to its far one, for ride-height points (n, 3)."""
    offset = points - solid.origin
    reach = dot(offset, solid.axis) if solid.lengthwise else norm(across(offset, solid.axis))
    first, last = solid.span
    return np.asarray(np.clip((reach - first) / (last - first), 0.0, 1.0))


def wound(
    solid: WoundSolid, points: Array, share: Array, near: tuple[Array, Array], far: tuple[Array, Array]
) -> tuple[Array, Array]:
    """Where points (n, 3) of a wound solid are, and how they are turned.

    Args:
        solid: what is wound.
        points: at ride height, the far side not yet turned by `far_turn`.
        share: (n,), of `wound_shares`.
        near: rotation (..., 3, 3) and translation (..., 3) of the near part.
        far: the same of the far part.

    Returns:
        positions (..., n, 3) and rotations (..., n, 3, 3): between the parts the turn grows evenly about one axis.

    """
    starts, stops, axis, angle = _winding(solid, near, far)
    turned = near[0][..., None, :, :] @ rotation_about(axis[..., None, :], share * angle)
    moved = np.einsum("...nij,nj->...ni", turned, points - solid.origin)
    return starts + share[:, None] * (stops - starts) + moved, turned


def wound_skin(
    solid: WoundSolid,
    points: Array,
    normals: Array,
    share: Array,
    near: tuple[Array, Array],
    far: tuple[Array, Array],
) -> tuple[Array, Array]:
    """Where points (n, 3) of a wound solid and their normals (n, 3) are in one pose, both (n, 3).

    As `wound`, by Rodrigues' formula on the vectors themselves: a matrix for each of them is slow to make.
    """
    starts, stops, axis, angle = _winding(solid, near, far)
    cosine, sine = np.cos(share * angle)[:, None], np.sin(share * angle)[:, None]
    across_axis, along_axis = skew(axis).T, np.outer(axis, axis)

    def turned(vectors: Array) -> Array:
        along = vectors @ along_axis
        return np.asarray((along + cosine * (vectors - along) + sine * (vectors @ across_axis)) @ near[0].T)

    return starts + share[:, None] * (stops - starts) + turned(points - solid.origin), turned(normals)


def _winding(
    solid: WoundSolid, near: tuple[Array, Array], far: tuple[Array, Array]
) -> tuple[Array, Array, Array, Array]:
    """Where both parts take a wound solid's origin (..., 1, 3); axis (..., 3), angle (..., 1) of the turn between."""
    starts, stops = (move(*place, solid.origin)[..., None, :] for place in (near, far))
    vector = rotation_vector(np.swapaxes(near[0], -1, -2) @ far[0] @ solid.far_turn)
    angle = norm(vector)[..., None]
    return starts, stops, np.where(angle > 1e-12, vector / np.maximum(angle, 1e-12), solid.axis), angle
