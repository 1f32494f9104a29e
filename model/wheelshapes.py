"""The measured shape of a wheel with its tyre, in ride-height coordinates."""

from __future__ import annotations

import numpy as np

from model.mechanism import Wheel
from model.outlines import inboard_of
from model.solids import Material, PartSolids, Prism, Revolved, hexagon, piece, plane_axes, stack
from model.spatial import square_to

# The tyre is drawn this much larger than its loaded radius: a typical standing deflection is 2 to 4 % of the radius.
TYRE_OVER_LOADED = 1.025


def wheel_shape(wheel: Wheel) -> list[PartSolids]:
    """Tyre with round shoulders and a rim with spokes; the tyre is drawn unloaded (see `TYRE_OVER_LOADED`)."""
    outward, half = -inboard_of(wheel), 0.5 * wheel.width
    outer, rim = TYRE_OVER_LOADED * wheel.loaded_radius, 0.5 * wheel.rim_diameter
    wall = outer - rim
    turn = np.linspace(0.0, np.pi / 2, 10)
    # A rounded-off box above the widest place, an ellipse down to the bead below it.
    upper = [
        (float((0.66 + 0.34 * np.cos(t) ** 0.75) * half), float(rim + (0.5 + 0.5 * np.sin(t) ** 0.75) * wall))
        for t in turn
    ]
    lower = [
        (float((0.78 + 0.22 * np.sin(t)) * half), float(rim - 2 + 0.5 * wall * (1 - np.cos(t)))) for t in turn[:-1]
    ]
    depths = (0.0, 7.0, 7.0, 0.0)
    grooves = [
        (x * half, outer - depth)
        for middle in (0.44, 0.14)
        for x, depth in zip((middle + 0.05, middle + 0.04, middle - 0.04, middle - 0.05), depths, strict=True)
    ]
    right = [*lower, *upper, *grooves]
    left = [(-x, r) for x, r in reversed(right)]
    tyre = Revolved(wheel.centre, outward, np.array([*right, *left]))
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
        piece(wheel.on, Material.TYRE, tyre, label=wheel.name),
        piece(wheel.on, Material.RIM, rim_ring, hub, *spokes, label=wheel.name),
        piece(wheel.on, Material.FASTENER, *nuts, label=wheel.name),
    ]
