"""The measured shape of a wheel with its tyre, in ride-height coordinates."""

from __future__ import annotations

import numpy as np

from model.mechanism import Wheel
from model.outlines import inboard_of
from model.solids import Material, PartSolids, Prism, Revolved, hexagon, piece, plane_axes, stack
from model.spatial import Array, norm, square_to

# The tyre is drawn this much larger than its loaded radius: a typical standing deflection is 2 to 4 % of the radius.
TYRE_OVER_LOADED = 1.025
# A tread is some three quarters as wide as the tyre where it bulges most (common practice, no source).
TREAD_OVER_WIDTH = 0.76
# Points on a shoulder and on a sidewall: no chord lies more than 0.1 mm inside the curve up to the tyre of a truck.
SHOULDER, SIDEWALL = 29, 25
# Depth of the grooves, mm.
GROOVE = 7.0


def wheel_shape(wheel: Wheel) -> list[PartSolids]:
    """Tyre with round shoulders and a rim with spokes; the tyre is drawn unloaded (see `TYRE_OVER_LOADED`)."""
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
    return [
        piece(wheel.on, Material.TYRE, Revolved(wheel.centre, outward, tyre_section(wheel)), label=wheel.name),
        piece(wheel.on, Material.RIM, rim_ring, hub, *spokes, label=wheel.name),
        piece(wheel.on, Material.FASTENER, *nuts, label=wheel.name),
    ]


def grown_tyre(wheel: Wheel) -> Revolved:
    """The tyre as it is measured: larger by its growth all round, its grooves closed."""
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


def tyre_section(wheel: Wheel) -> Array:
    """The section (k, 2) of a tyre as (along the axis, radius) in mm, with its grooves: a ring."""
    right = _tyre_side(wheel)
    tread, outer = right[-1]
    depths = (0.0, GROOVE, GROOVE, 0.0)
    grooves = np.array(
        [
            (share * tread, outer - depth)
            for middle in (0.67, 0.21)
            for share, depth in zip((middle + 0.08, middle + 0.06, middle - 0.06, middle - 0.08), depths, strict=True)
        ]
    )
    right = np.concatenate([right, grooves])
    return np.concatenate([right, right[::-1] * [-1.0, 1.0]])


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
