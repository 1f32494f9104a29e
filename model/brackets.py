"""What a joint is bolted into: two plates with a bolt through them, welded to the nearest tube."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from model.mechanism import End, Mechanism
from model.outlines import nearest_on, tubes_of
from model.solids import (
    Ball,
    Material,
    PartSolids,
    Prism,
    Solid,
    bolt_through,
    hexagon,
    piece,
    plane_axes,
    ring,
    rod,
)
from model.spatial import Array, across, dot, norm, square_to, unit

# A tube farther off than this is not what a bracket is welded to; the plates then end in a foot of their own.
BRACKET_REACH = 260.0


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
    away, length, weld = bracket_direction(end.on, end.at, bolt, inward, (clear, gap), mechanism)
    axes = plane_axes(bolt, away)
    turn = np.linspace(np.pi / 2, 3 * np.pi / 2, 15)
    nose = radius * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    outline = np.concatenate([nose, [[length, -1.15 * radius], [length, 1.15 * radius]]])
    solids: list[Solid] = [
        Prism(end.at + side * (gap + 0.5 * thickness) * bolt, axes, outline, thickness) for side in (1.0, -1.0)
    ]
    if length > 1.2 * clear:
        foot = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [0.5 * thickness, 1.15 * radius]
        middle = end.at + (length - 0.5 * thickness) * axes[:, 0]
        solids.append(Prism(middle, axes, foot, 2 * (gap + thickness)))
        if weld is not None and norm(weld - middle) > 1.0:
            solids += [rod(middle, weld, 0.75 * radius, 0.0), Ball(middle, 0.75 * radius)]
    return (
        piece(end.on, Material.BRACKET, *solids, label=label),
        piece(end.on, Material.FASTENER, *bolt_through(end.at, bolt, gap + thickness, bolt_radius), label=label),
    )


def bracket_direction(
    part: str, at: Array, bolt: Array, inward: Array, room: tuple[float, float], mechanism: Mechanism
) -> tuple[Array, float, Array | None]:
    """Where the plates of a bracket on a part lead.

    Args:
        part: what the bracket is welded to.
        at: the middle (3,) of what it holds.
        bolt: unit direction (3,) that the plates stand square to.
        inward: unit direction (3,) of the held member, away from which they point where nothing else decides.
        room: how far from the middle a foot may be, and how far the plates stand to each side, mm.
        mechanism: where the tubes are looked up.

    Returns:
        direction (3,), length in mm, and where (3,) a stub of tube leads on from their foot. Short plates end inside
        the tube beside them.

    """
    radius, half = room
    back = across(-inward, bolt)
    back = unit(back) if norm(back) > 0.2 else square_to(bolt)
    nearest = nearest_tube(part, at, mechanism)
    if nearest is None or nearest[0] > BRACKET_REACH:
        return back, 1.7 * radius, None
    clear, gap, thickness = nearest
    flat = across(gap, bolt)
    length, aside = float(norm(flat)), abs(float(dot(gap, bolt)))
    # Both plates, or at least the nearer one by half its bracket, end on the tube.
    if length > 1.0 and aside < max(thickness - half, 0.6 * thickness):
        return unit(flat), max(length - 0.6 * thickness, 0.4 * radius), None
    if clear < 0.5 * radius:
        return back, 0.8 * radius, None
    # The tube lies to the side, along the bolt: the plates point at it as far as they can, a stub leads on.
    toward = unit(flat) if length > 0.5 * radius else back
    return toward, 1.7 * radius, at + gap


def nearest_tube(part: str, at: Array, mechanism: Mechanism) -> tuple[float, Array, float] | None:
    """The tube of a part nearest to a point (3,): how far its skin and (3,) its middle line are, and its radius, mm."""
    found: tuple[float, Array, float] | None = None
    for line, radius in tubes_of(part, mechanism):
        for start, stop in pairwise(line):
            gap = nearest_on(np.stack([start, stop]), at) - at
            clear = float(norm(gap)) - radius
            if found is None or clear < found[0]:
                found = clear, gap, radius
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
    away, length, weld = bracket_direction(part, at, axis, square_to(axis), (skin, half), mechanism)
    axes = plane_axes(axis, away)
    base = max(length, skin + 4.0)
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    foot = Prism(at + (skin + 2.0) * away, axes, corners * [2.0, 1.75 * skin], 1.8 * half)
    post = Prism(at + 0.5 * (0.4 * skin + base) * away, axes, corners * [0.5 * (base - 0.4 * skin), 0.8 * skin], half)
    solids: list[Solid] = [ring(at, axis, 0.8 * half, skin - 0.5, skin + 3.0), foot, post]
    if weld is not None:
        solids.append(rod(at + base * away, weld, 0.42 * skin, 0.0))
    bolts = [
        hexagon(at + (skin - 1.0) * away + side * 1.4 * skin * axes[:, 1], away, 0.55 * skin, 0.3 * skin)
        for side in (1.0, -1.0)
    ]
    return [
        piece(part, block, ring(at, axis, half, bore + 0.3, skin), label=label),
        piece(part, Material.BRACKET, *solids, label=label),
        piece(part, Material.FASTENER, *bolts, label=label),
    ]
