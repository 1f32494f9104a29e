"""The measured shape of a wheel with its tyre, in ride-height coordinates."""

from __future__ import annotations

import numpy as np

from model.mechanism import Wheel
from model.outlines import inboard_of
from model.solids import Material, Notched, PartSolids, Prism, Revolved, hexagon, piece, plane_axes, rod, stack
from model.spatial import Array, norm, square_to, unit

# The tyre is drawn this much larger than its loaded radius: a typical standing deflection is 2 to 4 % of the radius.
TYRE_OVER_LOADED = 1.025
# A tread is some three quarters as wide as the tyre where it bulges most (common practice, no source).
TREAD_OVER_WIDTH = 0.76
# Points on a shoulder and on a sidewall: no chord lies more than 0.1 mm inside the curve up to the tyre of a truck.
SHOULDER, SIDEWALL = 29, 25
# Depth of the grooves, mm; their middles as shares of half the tread.
GROOVE = 7.0
GROOVES = (0.67, 0.21)
# From block to block around the tread in mm, the slot's share of that, and by what share of it slots lean from the
# middle to the shoulder: a pattern for road and track (no source; drawn, not measured).
PITCH, SLOT, SLANT = 38.0, 0.17, 0.55
# Every so many of the shoulder's points do for a tread, whose blocks lie inside the measured tyre.
SHOULDER_STEP = 3


def wheel_shape(wheel: Wheel) -> list[PartSolids]:
    """Tyre with a tread and a rim with spokes, nuts and valve; it is drawn unloaded (see `TYRE_OVER_LOADED`)."""
    outward, half, rim = -inboard_of(wheel), 0.5 * wheel.width, 0.5 * wheel.rim_diameter
    lip, sheet = 0.78 * half, 5.0
    barrel = [
        (-lip, rim + 10),
        (-lip + 8, rim + 10),
        (-lip + 9, rim),
        (-0.2 * half, rim - 16),
        (0.3 * half, rim - 16),
        (lip - 9, rim),
        (lip - 8, rim + 10),
        (lip, rim + 10),
    ]
    inside = [(x, min(r, rim) - sheet) for x, r in reversed(barrel)]
    rim_ring = Revolved(wheel.centre, outward, np.array([*barrel, *inside]))
    disc = wheel.centre + 0.14 * wheel.width * outward
    hub = stack(disc, outward, (-6, 74), (8, 74), (14, 66), (16, 34), (26, 32), (30, 26))
    axes = plane_axes(outward, square_to(outward))
    spokes, nuts = [], []
    for angle in np.arange(5) * 2 * np.pi / 5:
        radial = axes @ [np.cos(angle), np.sin(angle), 0.0]
        outline = np.array([[55, -24], [rim - 18, -17], [rim - 18, 17], [55, 24]])
        spokes.append(Prism(disc, plane_axes(outward, radial), outline, 16.0))
        nuts.append(
            hexagon(
                disc + 52 * (axes @ [np.cos(angle + 0.63), np.sin(angle + 0.63), 0.0]) + 16 * outward, outward, 19, 14
            )
        )
    cap = stack(disc, outward, (24, 30), (33, 29), (36, 26), (37, 12))
    valve = axes @ [np.cos(0.63), np.sin(0.63), 0.0]
    # From the bore of the rim just inside its outer lip, as far out as a cap is unscrewed by hand.
    stem = wheel.centre + (rim - 14.0) * valve + (lip - 22.0) * outward
    return [
        piece(wheel.on, Material.TYRE, carcass(wheel), tread_of(wheel), label=wheel.name),
        piece(wheel.on, Material.RIM, rim_ring, hub, *spokes, label=wheel.name),
        piece(wheel.on, Material.FASTENER, *nuts, cap, label=wheel.name),
        piece(wheel.on, Material.RUBBER, rod(stem, stem + 26.0 * unit(outward - 0.35 * valve), 4.0), label=wheel.name),
    ]


def carcass(wheel: Wheel) -> Revolved:
    """The tyre to the floor of its grooves: sidewalls and the band that the tread stands on."""
    right, floor = _tyre_side(wheel), _floor(wheel)
    under = right[right[:, 1] < floor - 0.5]
    side = np.concatenate([under, [_at_radius(right, floor)]])
    return Revolved(wheel.centre, -inboard_of(wheel), np.concatenate([side, side[::-1] * [-1.0, 1.0]]))


def tread_of(wheel: Wheel) -> Notched:
    """Five ribs between four grooves, all but the middle one cut into blocks by slots that run aslant."""
    right, floor = _tyre_side(wheel), _floor(wheel)
    tread, outer = right[-1]
    low = floor - 1.0
    shoulder = right[(right[:, 1] > floor + 0.5)][::SHOULDER_STEP]
    rows = [(shoulder[0][0] - 4.0, low, True), (*_at_radius(right, floor), True)]
    rows += [(*point, True) for point in shoulder.tolist()] + [(tread, outer, True)]
    for middle in GROOVES:
        inner, wide = middle != GROOVES[-1], (0.08, 0.06)
        rows += [((middle + wide[0]) * tread, outer, True), ((middle + wide[1]) * tread, low, True)]
        rows += [((middle - wide[1]) * tread, low, inner), ((middle - wide[0]) * tread, outer, inner)]
    half = np.array([row[:2] for row in rows])
    cut = np.array([row[2] for row in rows])
    # Slots lean as on an arrow; those of the second rib stand half a pitch on from those of the shoulder.
    lean = SLANT * half[:, 0] / tread
    lean[half[:, 0] < GROOVES[0] * tread] += 0.5
    profile = np.concatenate([half, half[::-1] * [-1.0, 1.0]])
    sunk = np.concatenate([cut, cut[::-1]])
    below = np.where(sunk[:, None], np.stack([profile[:, 0], np.full(len(profile), low)], -1), profile)
    count = round(2.0 * np.pi * outer / PITCH)
    turned = np.concatenate([lean, lean[::-1]])
    return Notched(wheel.centre, -inboard_of(wheel), profile, below, count, SLOT, turned, land=2)


def ground_below(wheel: Wheel, rotation: Array) -> Array:
    """How far (...) in mm the ground is below the centre of a wheel whose part is turned by rotations (..., 3, 3).

    An upright tyre is loaded to its loaded radius; a leaning one sinks in as far, with its lower shoulder.
    """
    section = _tyre_side(wheel)
    lean = np.abs((rotation @ wheel.axis)[..., 2])
    lowest = lean[..., None] * section[:, 0] + np.sqrt(1.0 - lean**2)[..., None] * section[:, 1]
    return np.asarray(lowest.max(axis=-1) - (TYRE_OVER_LOADED - 1.0) * wheel.loaded_radius)


def _floor(wheel: Wheel) -> float:
    return TYRE_OVER_LOADED * wheel.loaded_radius - GROOVE


def _at_radius(side: Array, radius: float) -> Array:
    """Where (2,) one side (k, 2) of a tyre's section reaches a radius on its shoulder."""
    return np.array([np.interp(radius, side[:, 1], side[:, 0]), radius])


def grown_tyre(wheel: Wheel) -> Revolved:
    """The tyre as it is measured: larger by its growth all round, its grooves and slots closed."""
    right = _tyre_side(wheel)
    outline = np.concatenate([right, right[::-1] * [-1.0, 1.0]])
    edges = np.diff(outline, axis=0)
    # The outline runs from the right bead over the tread to the left one: outwards is to the right of each edge.
    normals = np.stack([edges[:, 1], -edges[:, 0]], axis=-1) / norm(edges)[:, None]
    both = np.concatenate([normals[:1], normals[:-1] + normals[1:], normals[-1:]])
    both /= norm(both)[:, None]
    # A corner moves so far that both its edges move by the growth.
    reach = wheel.growth / np.maximum((both * np.concatenate([normals, normals[-1:]])).sum(axis=-1), 0.5)
    return Revolved(wheel.centre, -inboard_of(wheel), outline + reach[:, None] * both)


def _tyre_side(wheel: Wheel) -> Array:
    """One side (k, 2) of a tyre's section, from the bead to the edge of the tread.

    Its widest place, of the given width, is halfway up the wall; above it a round shoulder leads to the tread, below it
    an ellipse to the bead.
    """
    half, rim = 0.5 * wheel.width, 0.5 * wheel.rim_diameter
    wall = TYRE_OVER_LOADED * wheel.loaded_radius - rim
    tread = 0.5 * (wheel.tread_width or TREAD_OVER_WIDTH * wheel.width)
    # Steps that grow from both ends: the power below bends most there.
    turn = 0.5 * np.pi * (0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, SHOULDER)))
    upper = np.stack(
        [tread + (half - tread) * np.cos(turn) ** 0.75, rim + (0.5 + 0.5 * np.sin(turn) ** 0.75) * wall], axis=-1
    )
    turn = np.linspace(0.0, 0.5 * np.pi, SIDEWALL)[:-1]
    lower = np.stack(
        [(0.78 + 0.22 * np.sin(turn)) * half, rim - 2.0 + (0.5 * wall + 2.0) * (1.0 - np.cos(turn))], axis=-1
    )
    return np.concatenate([lower, upper])
