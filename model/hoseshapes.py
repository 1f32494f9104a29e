"""The shape of a brake hose: the hose itself, which hangs anew in each pose, and what it is fixed with."""

from __future__ import annotations

import numpy as np

from model.brackets import BRACKET_REACH, nearest_tube
from model.flexing import hose_line
from model.mechanism import Fixing, Hose, Mechanism
from model.outlines import flange_of, inboard_of
from model.solids import Drawn, HoseSolid, Material, Solid, hexagon, piece, ring, rod
from model.spatial import Array, norm, unit

# A brake hose is some 10 to 11 mm thick and is crimped into ends of some 14 mm (common practice, no source).
RADIUS, CRIMP_RADIUS, CRIMP_LENGTH = 5.3, 7.2, 26.0
# A hose that stands this steep at ride height bends along the vehicle and not down.
STEEP = 0.75


def hose_shape(hose: Hose, mechanism: Mechanism) -> list[Drawn]:
    """The hose, the crimped ends that bend with it, and on each part a nut on a small tab."""
    sag = sag_of((hose.ends[0].at, hose.ends[1].at), mechanism)
    crimp = min(0.15, CRIMP_LENGTH / hose.length)

    def stretch(material: Material, radius: float, share: tuple[float, float]) -> HoseSolid:
        first, second = hose.ends
        return HoseSolid(
            label=hose.name,
            material=material,
            parts=(first.on, second.on),
            ends=(first.at, second.at),
            length=hose.length,
            sag=sag,
            radius=radius,
            stretch=share,
        )

    whole = stretch(Material.HOSE, RADIUS, (0.0, 1.0))
    line = hose_line(whole, hose.ends[0].at, hose.ends[1].at)
    outward = (unit(line[0] - line[1]), unit(line[-1] - line[-2]))
    drawn: list[Drawn] = [
        whole,
        stretch(Material.FASTENER, CRIMP_RADIUS, (0.0, crimp)),
        stretch(Material.FASTENER, CRIMP_RADIUS, (1.0 - crimp, 1.0)),
    ]
    for fixing, direction in zip(hose.ends, outward, strict=True):
        drawn += _fixing(hose.name, fixing, direction, mechanism)
    return drawn


def sag_of(ends: tuple[Array, Array], mechanism: Mechanism) -> Array:
    """The direction (3,) in which a hose between two points (3,) hangs: down, or along the vehicle where it is steep.

    Along the vehicle it hangs away from the wheels.
    """
    first, second = ends
    if abs(float(unit(second - first)[2])) < STEEP:
        return np.array([0.0, 0.0, -1.0])
    middle = float(np.mean([wheel.centre[0] for wheel in mechanism.wheels])) if mechanism.wheels else 0.0
    return np.array([1.0 if 0.5 * (first + second)[0] > middle else -1.0, 0.0, 0.0])


def _fixing(name: str, fixing: Fixing, direction: Array, mechanism: Mechanism) -> list[Drawn]:
    """A nut with its clip at the end of a hose, on a tab that leads to the nearest tube or hub of the part."""
    at = fixing.at
    metal: list[Solid] = [hexagon(at + 6.0 * direction, direction, 17.0, 12.0), ring(at, direction, 1.5, 6.0, 13.0)]
    foot = foot_of(fixing, mechanism)
    drawn: list[Drawn] = [piece(fixing.on, Material.FASTENER, *metal, label=name)]
    if foot is not None and norm(foot - at) > 1.0:
        drawn.append(piece(fixing.on, Material.BRACKET, rod(at, foot, 5.0, 0.0), label=name))
    return drawn


def foot_of(fixing: Fixing, mechanism: Mechanism) -> Array | None:
    """Where (3,) a tab can be welded on: the part's nearest tube, or the hub that it carries."""
    nearest = nearest_tube(fixing.on, fixing.at, mechanism)
    if nearest is not None and nearest.clear < BRACKET_REACH:
        return np.asarray(fixing.at + nearest.gap)
    hubs = [flange_of(wheel) + 42.0 * inboard_of(wheel) for wheel in mechanism.wheels if wheel.on == fixing.on]
    return min(hubs, key=lambda hub: float(norm(hub - fixing.at)), default=None)
