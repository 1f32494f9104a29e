"""The shape of a limit strap: webbing that hangs anew in each pose, and the pins that hold it."""

from __future__ import annotations

import numpy as np

from model.hoseshapes import foot_of, sag_of
from model.mechanism import Mechanism, Strap
from model.solids import Drawn, HoseSolid, Material, Solid, piece, rod
from model.spatial import norm, unit

# Webbing is some 50 mm wide and three layers thick (common practice, no source); its pin is a bolt of half an inch.
WIDTH, HALF_THICKNESS, PIN_RADIUS = 50.0, 3.0, 6.4


def strap_shape(strap: Strap, mechanism: Mechanism) -> list[Drawn]:
    """The webbing, and on each part a pin on a small tab."""
    first, second = strap.ends
    webbing = HoseSolid(
        label=strap.name,
        material=Material.WEBBING,
        parts=(first.on, second.on),
        ends=(first.at, second.at),
        length=strap.length,
        sag=sag_of((first.at, second.at), mechanism),
        radius=HALF_THICKNESS,
        width=WIDTH,
    )
    side = unit(np.cross(unit(second.at - first.at), webbing.sag))
    drawn: list[Drawn] = [webbing]
    for fixing in strap.ends:
        steel: list[Solid] = [rod(fixing.at - 0.62 * WIDTH * side, fixing.at + 0.62 * WIDTH * side, PIN_RADIUS)]
        foot = foot_of(fixing, mechanism)
        if foot is not None and norm(foot - fixing.at) > 1.0:
            steel.append(rod(fixing.at, foot, 0.8 * PIN_RADIUS, 0.0))
        drawn.append(piece(fixing.on, Material.FASTENER, *steel, label=strap.name))
    return drawn
