"""The measured shape of a brake: its disc, and the space that its caliper fills, in ride-height coordinates."""

from __future__ import annotations

import numpy as np

from model.mechanism import Brake, Mechanism, Wheel
from model.outlines import flange_of, inboard_of
from model.solids import Material, PartSolids, Revolved, Sector, piece, ring
from model.spatial import Array, across, dot, unit

# A disc is half as wide inside, and pads reach in to six tenths of its radius (common practice, no source).
INSIDE, PADS = 0.5, 0.6
# Thickness of the hat that carries the disc, mm.
SHEET = 5.0


def brake_shape(brake: Brake, mechanism: Mechanism) -> list[PartSolids]:
    """Disc with its hat, and the envelope of the caliper where its size is known."""
    wheel = next(wheel for wheel in mechanism.wheels if wheel.name == brake.wheel)
    inward, radius = inboard_of(wheel), 0.5 * brake.diameter
    middle = wheel.centre + brake.inboard * inward
    disc = ring(middle, inward, 0.5 * brake.thickness, INSIDE * radius, radius, 0.05)
    pieces = [piece(wheel.on, Material.BALL, disc, _hat(brake, wheel, middle), label=brake.name)]
    if brake.caliper_outer is not None and brake.caliper_width is not None:
        half = 0.5 * brake.caliper_width
        outline = np.array(
            [[-half, PADS * radius], [half, PADS * radius], [half, brake.caliper_outer], [-half, brake.caliper_outer]]
        )
        caliper = Sector(middle, inward, caliper_direction(brake, wheel), outline, brake.caliper_span)
        pieces.append(piece(wheel.on, Material.CALIPER, caliper, label=brake.name))
    return pieces


def caliper_direction(brake: Brake, wheel: Wheel) -> Array:
    """Unit direction (3,) from the wheel's axis to the caliper's middle: 0 up, π/2 to the rear."""
    up, rear = (unit(across(np.array(line), wheel.axis)) for line in ([0.0, 0.0, 1.0], [-1.0, 0.0, 0.0]))
    return np.asarray(np.cos(brake.caliper_angle) * up + np.sin(brake.caliper_angle) * rear)


def _hat(brake: Brake, wheel: Wheel, middle: Array) -> Revolved:
    """The bell between the hub's flange and the disc: a ring inside the disc that reaches to the flange."""
    inward, outer = inboard_of(wheel), (INSIDE * 0.5 + 0.01) * brake.diameter
    to_flange = float(dot(flange_of(wheel) - middle, inward))
    near, far = sorted((0.0, to_flange)) if abs(to_flange) > SHEET else (-0.5 * SHEET, 0.5 * SHEET)
    profile = [(near, outer - SHEET), (far, outer - SHEET), (far, outer), (near, outer)]
    return Revolved(middle, inward, np.array(profile))
