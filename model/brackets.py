"""What a joint is bolted into: two plates with a bolt through them, welded to the nearest tube."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.mechanism import End, Mechanism
from model.outlines import nearest_on, tubes_of
from model.solids import (
    Bead,
    Material,
    PartSolids,
    Prism,
    Solid,
    Tube,
    bolt_through,
    hexagon,
    piece,
    plane_axes,
    ring,
    rod,
    rounded,
)
from model.spatial import Array, across, dot, norm, square_to, unit
from model.welds import BEAD_RADIUS, Stem, even_outline, round_outline, weld

# A tube farther off than this is not what a bracket is welded to; the plates then end in a foot of their own.
BRACKET_REACH = 260.0
# How much wider plates get with every mm of length.
FLARE = 0.12
# From the joint's middle to a web between the plates, in rooms that the joint needs; a web is longer than that too.
WEB_ROOM = 1.4
# Plates that lead along a tube by more than this, a cosine, stand on its end.
END_ON = 0.7
CORNERS = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])


@dataclass(frozen=True)
class NearTube:
    """The tube of a part nearest to a point: how far its skin and where (3,) its middle line is, mm; its near leg."""

    clear: float
    gap: Array
    stem: Stem
    tube: tuple[Stem, ...]


@dataclass(frozen=True)
class Footing:
    """Where the plates of a bracket lead: direction (3,), length in mm, the tube's legs, where (3,) a stub meets it.

    Without a tube in reach there are no legs; without a stub, `weld` is None.
    """

    away: Array
    length: float
    tube: tuple[Stem, ...] = ()
    weld: Array | None = None


def clevis(
    end: End,
    member: str,
    inward: Array,
    gap: float,
    radius: float,
    bolt_radius: float,
    mechanism: Mechanism,
    clear: float | None = None,
) -> tuple[PartSolids, ...]:
    """Two plates beside a joint, their foot and the bolt; they reach for the nearest tube of what holds them.

    Args:
        end: the joint.
        member: whose it is.
        inward: unit direction (3,) into the member.
        gap: from the joint's middle to either plate.
        radius: of the plates' noses.
        bolt_radius: of the bolt.
        mechanism: where the tubes are looked up.
        clear: from the joint's middle to where a foot may be; as the nose unless given.

    """
    label, bolt, thickness = f"bracket of {member}, {end.place}", end.bolt, 5.0
    clear = clear or radius
    footing = bracket_footing(end.on, end.at, bolt, inward, (clear, gap), mechanism)
    length, axes = footing.length, plane_axes(bolt, footing.away)
    # Long plates are wider at their foot, as they carry the more bending there.
    wide = min(1.15 * radius + FLARE * max(0.0, length - 1.7 * radius), 1.3 * radius)
    turn = np.linspace(np.pi / 2, 3 * np.pi / 2, 15)
    nose = radius * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    outline = np.concatenate([nose, [[length, -wide], [length, wide]]])
    middles = [end.at + side * (gap + 0.5 * thickness) * bolt for side in (1.0, -1.0)]
    solids: list[Solid] = [Prism(middle, axes, outline, thickness) for middle in middles]
    if length > 1.2 * clear:
        foot = CORNERS * [0.5 * thickness, wide]
        middle = end.at + (length - 0.5 * thickness) * axes[:, 0]
        solids.append(Prism(middle, axes, foot, 2 * (gap + thickness)))
        web = length - WEB_ROOM * clear
        if web > WEB_ROOM * clear:
            # A web between long plates keeps them upright.
            solids.append(Prism(middle - 0.5 * web * axes[:, 0], axes, CORNERS * [0.5 * web, 2.0], 2 * gap))
        if footing.weld is not None and norm(footing.weld - middle) > 1.0:
            solids += _stub(middle, footing.away, footing.weld, 0.75 * radius, footing.tube)
    if footing.tube and footing.weld is None:
        reach = np.min(
            [np.nan_to_num(leg.entry(np.array(middles), footing.away), nan=length) for leg in footing.tube], 0
        )
        for middle, met in zip(middles, reach / length, strict=True):
            rim = CORNERS * [radius + met * (wide - radius), 0.5 * thickness]
            solids += weld(middle + even_outline(rim) @ axes[:, 1:].T, footing.away, footing.tube, length + 1.0)
    return (
        piece(end.on, Material.BRACKET, *solids, label=label),
        piece(end.on, Material.FASTENER, *bolt_through(end.at, bolt, gap + thickness, bolt_radius), label=label),
    )


def _stub(foot: Array, away: Array, stop: Array, radius: float, onto: tuple[Stem, ...]) -> list[Solid]:
    """A bent tube from a foot (3,), square to its plate, to a point (3,) of the tube that it is welded to."""
    line = rounded(np.stack([foot, foot + 0.9 * radius * away, stop]), 1.5 * radius, 7)
    direction = unit(line[-1] - line[-2])
    outline = round_outline(line[-2], direction, radius)
    beads = weld(outline, direction, onto, float(norm(line[-1] - line[-2])))
    plate = round_outline(foot + 2.5 * away, away, radius)
    return [Tube(line, radius), Bead(plate, BEAD_RADIUS), *beads]


def bracket_footing(
    part: str, at: Array, bolt: Array, inward: Array, room: tuple[float, float], mechanism: Mechanism
) -> Footing:
    """Where the plates of a bracket on a part lead.

    Short plates end inside the round tube beside them, or on the skin of a rectangular one.

    Args:
        part: what the bracket is welded to.
        at: the middle (3,) of what it holds.
        bolt: unit direction (3,) that the plates stand square to.
        inward: unit direction (3,) of the held member, away from which they point where nothing else decides.
        room: how far from the middle a foot may be, and how far the plates stand to each side, mm.
        mechanism: where the tubes are looked up.

    """
    radius, half = room
    back = across(-inward, bolt)
    back = unit(back) if norm(back) > 0.2 else square_to(bolt)
    nearest = nearest_tube(part, at, mechanism)
    if nearest is None or nearest.clear > BRACKET_REACH:
        return Footing(back, 1.7 * radius)
    stem = nearest.stem
    flat = across(nearest.gap, bolt)
    length, aside = float(norm(flat)), abs(float(dot(nearest.gap, bolt)))
    # Both plates, or at least the nearer one by half its bracket, end on the tube.
    if length > 1.0 and aside < max(stem.radius - half, 0.6 * stem.radius):
        away = unit(flat)
        corners = at + 1.15 * radius * np.cross(bolt, away) * np.array([[1.0], [-1.0]])
        met = stem.entry(corners, away)
        # On a flat skin all of the plates' end has to reach it, wherever it is met aslant.
        on_skin = stem.section is not None and bool(np.isfinite(met).all())
        reach = float(met.max()) + 1.0 if on_skin else length - _sunk(stem, away)
        return Footing(away, max(reach, 0.4 * radius), nearest.tube)
    if nearest.clear < 0.5 * radius:
        return Footing(back, 0.8 * radius)
    # The tube lies to the side, along the bolt: the plates point at it as far as they can, a stub leads on.
    toward = unit(flat) if length > 0.5 * radius else back
    return Footing(toward, 1.7 * radius, nearest.tube, at + nearest.gap)


def _sunk(stem: Stem, away: Array) -> float:
    """How far before a tube's middle line (mm) plates end: upon its end, or out of sight in a round one."""
    if abs(float(dot(away, unit(stem.leg[1] - stem.leg[0])))) > END_ON:
        return 0.0
    return 0.6 * stem.depth(away)


def nearest_tube(part: str, at: Array, mechanism: Mechanism) -> NearTube | None:
    """The tube of a part nearest to a point (3,)."""
    found: NearTube | None = None
    for tube in tubes_of(part, mechanism):
        for stem in tube:
            gap = nearest_on(stem.leg, at) - at
            clear = float(norm(gap)) - stem.radius
            if found is None or clear < found.clear:
                found = NearTube(clear, gap, stem, tuple(tube))
    return found


def saddle(
    part: str,
    at: Array,
    axis: Array,
    bore: float,
    mechanism: Mechanism,
    label: str,
    block: Material = Material.RUBBER,
) -> list[PartSolids]:
    """A soft block about a round bar with the strap and the foot that hold it on a part.

    Args:
        part: what it is bolted to.
        at: the middle (3,) of the bar in the block.
        axis: unit direction (3,) of the bar.
        bore: radius of the bar in mm.
        mechanism: where the tubes are looked up.
        label: the name under which a person finds it.
        block: what the block is made of.

    """
    skin, half = 1.9 * bore, 1.1 * bore
    footing = bracket_footing(part, at, axis, square_to(axis), (skin, half), mechanism)
    away, stop = footing.away, footing.weld
    axes = plane_axes(axis, away)
    base = max(footing.length, skin + 4.0)
    foot = Prism(at + (skin + 2.0) * away, axes, CORNERS * [2.0, 1.75 * skin], 1.8 * half)
    post = Prism(at + 0.5 * (0.4 * skin + base) * away, axes, CORNERS * [0.5 * (base - 0.4 * skin), 0.8 * skin], half)
    solids: list[Solid] = [ring(at, axis, 0.8 * half, skin - 0.5, skin + 3.0), foot, post]
    if stop is not None:
        solids.append(rod(at + base * away, stop, 0.42 * skin, 0.0))
    bolts = [
        hexagon(at + (skin - 1.0) * away + side * 1.4 * skin * axes[:, 1], away, 0.55 * skin, 0.3 * skin)
        for side in (1.0, -1.0)
    ]
    return [
        piece(part, block, ring(at, axis, half, bore + 0.3, skin), label=label),
        piece(part, Material.BRACKET, *solids, label=label),
        piece(part, Material.FASTENER, *bolts, label=label),
    ]
