"""What a bush looks like: rubber that winds up between its sleeve and its shell, and bushes that turn on their sleeve.

Lines across the rubber run straight out where the bush is not wound; wound, they become spirals. On a bush that
turns, a line on the sleeve and one on the eye stand in one row at ride height.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.brackets import clevis
from model.joints import JointKind
from model.mechanism import End, Mechanism
from model.solids import Drawn, Material, PartSolids, Prism, Rail, Revolved, Solid, WoundSolid, piece, plane_axes, ring
from model.spatial import Array, rotation_about, shortest_rotation, square_to
from model.welds import Stem
from model.windup import turns_at

# Lines across each face of the rubber, mm wide, and points along each: enough for a smooth spiral.
HATCHES, HATCH_WIDTH, HATCH_POINTS = 12, 1.6, 9
# Lines around a bush that turns on its sleeve: few enough that no turn takes one to its neighbour's place.
MARKS = 4


@dataclass(frozen=True)
class Eyelet:
    """One joint as it is drawn: solids, how far from its point (mm) the bar begins, the shell that it is welded to."""

    pieces: tuple[Drawn, ...]
    reach: float
    shell: Stem | None = None


def bush(
    end: End, member: str, part: str, inward: Array, size: float, paint: Material, mechanism: Mechanism, eye: Array
) -> Eyelet:
    """Shell and filling on the part, inner sleeve, bolt and two narrow plates on what holds it.

    The plates leave the faces in sight; arguments as of `model.fittings.joint_fitting`.
    """
    shell, half, bolt_radius, sleeve = 0.78 * size, 0.75 * size, 0.2 * size, 0.37 * size
    at, bolt = end.at, end.bolt
    eye = eye if float(eye @ bolt) >= 0.0 else -eye
    bore, gap = shell - 3.5, half + 0.3 * size
    pieces: list[Drawn] = [
        piece(part, paint, ring(at, eye, half, bore, shell)),
        piece(end.on, Material.FASTENER, ring(at, bolt, gap, 0.5 * bolt_radius, sleeve)),
    ]
    match end.joint.kind:
        case JointKind.RUBBER_BUSH:
            pieces += _rubber(end, member, part, eye, (sleeve, bore, half), _slack(mechanism, member, end))
        case JointKind.POLY_BUSH:
            flanges = [
                ring(at + side * (half + 2.0) * eye, eye, 2.4, sleeve + 0.3, shell + 1.0) for side in (1.0, -1.0)
            ]
            pieces.append(piece(part, Material.POLY, ring(at, eye, half, sleeve + 0.3, bore + 0.2), *flanges))
            pieces += _marks(end, part, eye, half + 4.4, (sleeve, shell + 1.0), gap)
        case _:
            pieces.append(piece(part, Material.BRONZE, ring(at, eye, half + 1.5, sleeve + 0.3, bore + 0.2)))
            pieces += _marks(end, part, eye, half + 1.5, (sleeve, bore), gap)
    held = clevis(end, member, inward, gap, 0.62 * shell, bolt_radius, mechanism, clear=shell)
    return Eyelet((*pieces, *held), shell - 1.5, Stem(np.stack([at - half * eye, at + half * eye]), shell))


def _rubber(
    end: End, member: str, part: str, eye: Array, sizes: tuple[float, float, float], slack: float
) -> tuple[WoundSolid, ...]:
    """The rubber between sleeve and shell, and the lines across its two faces.

    `sizes` are the radii of sleeve and bore and half the length in mm, `slack` the turn in rad at which it is slack.
    """
    sleeve, bore, half = sizes
    at, bolt = end.at, end.bolt
    share = np.linspace(0.0, 1.0, HATCH_POINTS)
    out = sleeve + share * (bore - sleeve)
    # The faces bulge by a tenth of the rubber's thickness.
    rise = half + 0.4 * (bore - sleeve) * share * (1.0 - share)
    outline = np.concatenate([np.stack([-rise, out], -1), np.stack([rise, out], -1)[::-1]])
    body = Revolved(at, bolt, outline)
    first = square_to(bolt)
    lines = []
    for angle in np.arange(HATCHES) * 2.0 * np.pi / HATCHES:
        radial = rotation_about(bolt, angle) @ first
        for side in (1.0, -1.0):
            path = at + out[:, None] * radial + side * rise[:, None] * bolt
            lines.append(Rail(path, (HATCH_WIDTH, HATCH_WIDTH)))
    turned = rotation_about(bolt, np.asarray(-slack)) @ shortest_rotation(bolt, eye)
    return tuple(
        WoundSolid(
            label=f"rubber of {member}, {end.place}",
            material=material,
            near=end.on,
            far=part,
            origin=at,
            axis=bolt,
            span=(sleeve, bore),
            lengthwise=False,
            far_turn=turned,
            solids=solids,
            joint=(member, end.place),
        )
        for material, solids in ((Material.RUBBER, (body,)), (Material.MARK, tuple(lines)))
    )


def _slack(mechanism: Mechanism, member: str, end: End) -> float:
    """The turn in rad from ride height at which a bush was tightened."""
    place = end.joint.torqued_at
    return 0.0 if place == "ride" else turns_at(mechanism, place)[member, end.place]


def _marks(end: End, part: str, eye: Array, face: float, radii: tuple[float, float], gap: float) -> list[PartSolids]:
    """A painted line on each face of what turns, and one in its row on the sleeve that it turns on."""
    at, bolt = end.at, end.bolt
    inner, outer = radii
    ours: list[Solid] = []
    theirs: list[Solid] = []
    for angle in np.arange(MARKS) * 2.0 * np.pi / MARKS:
        up = rotation_about(bolt, angle) @ square_to(bolt)
        for side in (1.0, -1.0):
            middle = at + side * face * eye + (0.5 * (inner + outer) + 0.8) * up
            ours.append(Prism(middle, plane_axes(eye, up), _strip(outer - inner - 1.0), 1.2))
            beside = at + side * 0.5 * (face + gap) * bolt + inner * up
            theirs.append(Prism(beside, plane_axes(up, bolt), _strip(gap - face - 1.0), 1.2))
    return [piece(part, Material.MARK, *ours), piece(end.on, Material.DARK_MARK, *theirs)]


def _strip(length: float) -> Array:
    """Outline (4, 2) of a line of the hatches' width."""
    return 0.5 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [max(length, 1.0), 1.5 * HATCH_WIDTH]
