"""Shapes that change with the pose: a spring's wire, a hanging hose, and what is wound between two parts."""

from __future__ import annotations

from functools import lru_cache

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
    square_to,
    triad,
    unit,
)

# Newton on sin u = q u from a bound just above: some five steps for a slack hose, two where it is nearly taut.
HOSE_STEPS = 8
# So much of a turn at each end of a spring lies a wire apart; what is left of its height goes to the turns between.
CLOSED = 0.75
# Shares of the way through what is wound at which its turn is worked out in full. Between them it is blended: the
# polynomial through four Chebyshev points errs by a⁴ / (4! 2⁷) in a turn by a rad, 2e-5 in one by half a radian.
KNOTS = 0.5 - 0.5 * np.cos((2.0 * np.arange(4) + 1.0) * np.pi / 8.0)


# A spring whose direction has more than this (a cosine) along the vehicle begins its coils elsewhere: springs swing far
# from there, or stay there, so that no coil jumps.
LENGTHWAYS = 0.95


def coil_start(along: Array) -> Array:
    """From the axis of a spring along unit directions (..., 3), the direction (..., 3) in which its wire begins.

    It turns smoothly with the spring, however far that leans.
    """
    helper = np.where(np.abs(along[..., :1]) < LENGTHWAYS, [1.0, 0.0, 0.0], [0.0, 0.0, 1.0])
    return unit(np.cross(along, helper))


def spring_line(spring: SpringSolid, top: Array, bottom: Array, per_turn: int = 24) -> Array:
    """Centre line (..., k, 3) of the wire between two seats (..., 3), its end turns closed: k is always the same.

    The wire touches both seats, so that the helix is one wire diameter shorter than the spring.
    """
    axis = top - bottom
    length = norm(axis)
    along = axis / length[..., None]
    wire = 2.0 * spring.wire_radius
    dead_share, rise_share, circle = _coiled(spring.coils, per_turn)
    rise = np.maximum(length - wire, 0.0)
    dead = np.minimum(wire, rise / spring.coils) * CLOSED
    height = spring.wire_radius + dead[..., None] * dead_share + rise[..., None] * rise_share
    axes = triad(along, coil_start(along))
    around = circle @ np.swapaxes(axes[..., 1:], -1, -2)
    return np.asarray(bottom[..., None, :] + height[..., None] * along[..., None, :] + spring.mean_radius * around)


@lru_cache(maxsize=32)
def _coiled(coils: float, per_turn: int) -> tuple[Array, Array, Array]:
    """Of points along a wire: shares (k,) of its closed ends' height and of the rest, cosine and sine around (k, 2)."""
    turns = np.linspace(0.0, coils, int(np.ceil(coils * per_turn)) + 1)
    ends, angle = [0.0, CLOSED, coils - CLOSED, coils], 2.0 * np.pi * turns
    dead, rise = (np.interp(turns, ends, heights) for heights in ([0.0, 1.0, -1.0, 0.0], [0.0, 0.0, 1.0, 1.0]))
    return dead, rise, np.stack([np.cos(angle), np.sin(angle)], axis=-1)


def hose_line(hose: HoseSolid, start: Array, stop: Array, count: int = 49) -> Array:
    """Centre line (count, 3) of a stretch of a hose between its ends (3,), see `arc_line`."""
    return arc_line(np.asarray(hose.length), hose.sag, np.linspace(*hose.stretch, count), start, stop)


def arc_line(length: Array, sag: Array, share: Array, start: Array, stop: Array) -> Array:
    """Points (..., k, 3) at shares (..., k) of hoses of lengths (...) in mm, each an arc of its true length.

    A brake hose is too stiff for its weight to shape it: between two fixings it bends evenly. An arc of length L and
    half angle u has the chord d = L sin u / u. A taut hose is straight. It goes between ends (..., 3) and hangs towards
    the unit direction `sag` (..., 3).
    """
    chord = stop - start
    gap = norm(chord)
    along = unit(np.where(gap[..., None] > 1e-9, chord, square_to(sag)))
    hang = across(sag, along)
    hang = unit(np.where(norm(hang)[..., None] > 1e-6, hang, square_to(along)))
    half = _half_angle(gap / length)[..., None]
    angle = (2.0 * share - 1.0) * half
    out, sink = (0.5 * length[..., None] / half * way for way in (np.sin(angle), np.cos(angle) - np.cos(half)))
    bent = (
        0.5 * (start + stop)[..., None, :] + out[..., None] * along[..., None, :] + sink[..., None] * hang[..., None, :]
    )
    straight = start[..., None, :] + share[..., None] * chord[..., None, :]
    return np.where((gap < length)[..., None, None], bent, straight)


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
    """The half angles u (...) in rad of arcs whose chords are shares q (...) of their lengths: sin u / u = q.

    sin u / u ≤ 1 − u² / 6 + u⁴ / 120 bounds u from above, and so does π. sin u − q u is concave up to there, so that
    Newton's steps from a bound never pass the root.
    """
    # Nearer to taut than this the arc is flat to a ten-thousandth of its length.
    share = np.minimum(share, 1.0 - 1e-9)
    slack = 120.0 * (1.0 - share)
    u = np.minimum(np.sqrt(slack / (10.0 + np.sqrt(np.maximum(100.0 - slack, 0.0)))), np.pi)
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
    starts, stops, axis, angle = _winding(solid.origin, solid.axis, solid.far_turn, near, far)
    turned = near[0][..., None, :, :] @ rotation_about(axis[..., None, :], share * angle)
    moved = np.einsum("...nij,nj->...ni", turned, points - solid.origin)
    return starts + share[:, None] * (stops - starts) + moved, turned


def knot_weights(share: Array) -> Array:
    """How much (n, 4) what is wound is at shares (n,) of what it is at each of the `KNOTS`: Lagrange's polynomials."""
    weights = np.ones((len(share), len(KNOTS)))
    for number, knot in enumerate(KNOTS):
        for other in np.delete(KNOTS, number):
            weights[:, number] *= (share - other) / (knot - other)
    return weights


def wound_knots(
    origin: Array, axis: Array, far_turn: Array, near: tuple[Array, Array], far: tuple[Array, Array]
) -> Array:
    """What takes vertices of wound solids from ride height to where they would be at each of the `KNOTS`.

    Args:
        origin: (w, 3) of w solids.
        axis: (w, 3).
        far_turn: (w, 3, 3).
        near: rotations (w, 3, 3) and translations (w, 3) of their near parts.
        far: the same of their far parts.

    Returns:
        (w, 4, 4, 3), knot by knot: a row (v, 1), with v (3,) the vertex from its solid's origin, times this is the
        vertex moved; (v, 0) times this is a direction turned.

    """
    starts, stops, axis, angle = _winding(origin, axis, far_turn, near, far)
    turned = near[0][:, None] @ rotation_about(axis[:, None], KNOTS * angle)
    moved = starts + KNOTS[:, None] * (stops - starts)
    return np.concatenate([np.swapaxes(turned, -1, -2), moved[:, :, None]], axis=2)


def _winding(
    origin: Array, plain: Array, far_turn: Array, near: tuple[Array, Array], far: tuple[Array, Array]
) -> tuple[Array, Array, Array, Array]:
    """Where both parts take a wound solid's origin (..., 1, 3); axis (..., 3), angle (..., 1) of the turn between.

    Where there is no turn, the axis is the `plain` one (..., 3).
    """
    starts, stops = (move(*place, origin)[..., None, :] for place in (near, far))
    vector = rotation_vector(np.swapaxes(near[0], -1, -2) @ far[0] @ far_turn)
    angle = norm(vector)[..., None]
    return starts, stops, np.where(angle > 1e-12, vector / np.maximum(angle, 1e-12), plain), angle
