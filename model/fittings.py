"""What a joint looks like: rod ends, ball joints, strut mounts, and through `model.bushshapes` bushes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.brackets import clevis, nearest_tube
from model.bushshapes import Eyelet, bush
from model.joints import BUSH_KINDS, STUD_KINDS, JointKind, Spacers
from model.mechanism import End, Mechanism
from model.outlines import stud_axis, towards
from model.solids import (
    Ball,
    Material,
    Prism,
    Revolved,
    Solid,
    hexagon,
    notched_ring,
    piece,
    plane_axes,
    ring,
    rod,
    stack,
)
from model.spatial import Array, across, dot, square_to, unit

# A tube farther above a strut's mount than this, mm, is not what holds it.
CHEEKS = 80.0
Eyes = dict[tuple[str, str], Array]


def eye_of(member: str, end: End, eyes: Eyes) -> Array:
    """Axis (3,) of an eye or housing at ride height, as it is measured; it fits its bolt where nothing else is said."""
    fitted = end.bolt if end.housing is None else end.housing
    return eyes.get((member, end.place), fitted)


def joint_fitting(
    end: End, member: str, part: str, inward: Array, size: float, paint: Material, mechanism: Mechanism, eye: Array
) -> Eyelet:
    """A joint at the end of a member's part.

    Args:
        end: the joint.
        member: whose it is.
        part: what its housing rides on.
        inward: unit direction (3,) into the part.
        size: diameter of its bar in mm.
        paint: of the bar.
        mechanism: what its bracket is on is looked up here.
        eye: axis (3,) of its hole or housing at ride height, as it is measured.

    """
    kind = end.joint.kind
    if kind is JointKind.ROD_END:
        return _rod_end(end, member, part, inward, size, paint, mechanism, eye)
    if kind in STUD_KINDS:
        return _ball_joint(end, part, inward, size, mechanism, eye)
    if kind in BUSH_KINDS:
        return bush(end, member, part, inward, size, paint, mechanism, eye)
    return strut_mount(end, inward, mechanism)


@dataclass(frozen=True)
class _Stack:
    """What stands beside a rod end's ball, in diameters of its thread: plates and bolt, and spacers by their steps."""

    plates: float
    bolt: float
    spacer: tuple[tuple[float, float], ...]


# Proportions of common hardware: wide cones let the head lean far and take a thinner bolt.
_STACKS = {
    Spacers.NONE: _Stack(0.64, 0.42, ()),
    Spacers.PLAIN: _Stack(0.95, 0.4, ((0.58, 0.52), (0.95, 0.62))),
    Spacers.HIGH_MISALIGNMENT: _Stack(1.4, 0.31, ((0.5, 0.42), (0.86, 0.42), (1.15, 0.66), (1.4, 0.66))),
}


def _rod_end(
    end: End, member: str, part: str, inward: Array, size: float, paint: Material, mechanism: Mechanism, eye: Array
) -> Eyelet:
    """Housing ring, threaded shank and jam nut on the part; ball, spacers, bolt and two plates on what holds it."""
    thread = 0.6 * size
    bolt, at = end.bolt, end.at
    ball, outer, half = 0.82 * thread, 1.22 * thread, 0.42 * thread
    mouth = np.sqrt(ball**2 - half**2) + 0.3
    bore = [
        (-half, mouth),
        (-0.5 * half, np.hypot(ball, 0.3) * 0.97),
        (0.0, ball + 0.1),
        (0.5 * half, 0.97 * ball + 0.3),
    ]
    ring = Revolved(
        at,
        eye,
        np.array([*bore, (half, mouth), (half, outer - 2), (half - 2, outer), (2 - half, outer), (-half, outer - 2)]),
    )
    root, nut, stop = 0.9 * outer, 2.15 * thread, 2.75 * thread
    ridges = np.linspace(1.45 * thread, stop, 14)
    shank = stack(
        at,
        inward,
        (root, 0.62 * thread),
        (1.45 * thread, 0.5 * thread),
        *[(float(x), (0.5 if k % 2 else 0.45) * thread) for k, x in enumerate(ridges)],
    )
    insert = stack(
        at,
        inward,
        (stop - 0.25 * thread, 0.42 * size),
        (stop, 0.5 * size + 1.5),
        (stop + 0.5 * thread, 0.5 * size + 1.5),
        (stop + 0.7 * thread, 0.5 * size),
    )
    flat = 0.62 * thread
    cap = float(np.sqrt(ball**2 - flat**2))
    angles = np.linspace(np.arccos(-flat / ball), np.arccos(flat / ball), 13)
    arc = [(float(ball * np.cos(a)), float(ball * np.sin(a))) for a in angles]
    sphere = stack(at, bolt, (-flat, cap), *arc[1:-1], (flat, cap))
    beside = _STACKS[end.joint.spacers or Spacers.PLAIN]
    steps = [(along * thread, wide * thread) for along, wide in beside.spacer]
    spacers = [stack(at, side * bolt, *steps) for side in (1.0, -1.0) if steps]
    held = clevis(end, member, inward, beside.plates * thread, 1.25 * thread, beside.bolt * thread, mechanism)
    return Eyelet(
        (
            piece(
                part, Material.FASTENER, ring, shank, hexagon(at + nut * inward, inward, 1.6 * thread, 0.55 * thread)
            ),
            piece(part, paint, insert),
            piece(end.on, Material.BALL, sphere, *spacers),
            *held,
        ),
        stop + 0.4 * thread,
    )


def _ball_joint(end: End, part: str, inward: Array, size: float, mechanism: Mechanism, eye: Array) -> Eyelet:
    """Cup and boot on the part; ball, stud, boss and nut on what holds it."""
    at, ball = end.at, 0.5 * size
    inline = end.joint.kind is JointKind.INLINE_BALL_JOINT
    stud = towards(end.bolt, -inward) if inline else stud_axis(end, mechanism)
    housing = -inward if inline else eye
    up = housing if dot(housing, stud) >= 0.0 else -housing
    cup = stack(
        at,
        up,
        (-1.25 * ball, 0.62 * ball),
        (-1.15 * ball, 1.1 * ball),
        (-0.85 * ball, 1.32 * ball),
        (0.55 * ball, 1.32 * ball),
        (0.7 * ball, 1.2 * ball),
        (0.7 * ball, 0.8 * ball),
    )
    boot = stack(
        at,
        up,
        (0.68 * ball, 1.15 * ball),
        (0.95 * ball, 1.22 * ball),
        (1.2 * ball, 1.02 * ball),
        (1.35 * ball, 1.0 * ball),
        (1.6 * ball, 0.7 * ball),
    )
    pin = stack(
        at,
        stud,
        (0.3 * ball, 0.5 * ball),
        (1.5 * ball, 0.5 * ball),
        (3.0 * ball, 0.38 * ball),
        (3.9 * ball, 0.36 * ball),
    )
    boss = stack(
        at,
        stud,
        (1.75 * ball, 0.72 * ball),
        (1.85 * ball, 0.8 * ball),
        (2.95 * ball, 0.8 * ball),
        (3.05 * ball, 0.72 * ball),
    )
    if inline:
        # Its stud is screwed into the bar that it stands on: no boss, no nut.
        pieces = (
            piece(part, Material.FASTENER, cup),
            piece(end.on, Material.BALL, Ball(at, ball), pin),
        )
        return Eyelet(pieces, 1.25 * ball)
    # A castle nut, and the split pin through two of its slots.
    beside = 0.7 * ball * square_to(stud)
    nut = (
        hexagon(at + 3.4 * ball * stud, stud, 1.3 * ball, 0.6 * ball),
        notched_ring(at, stud, (3.65 * ball, 4.0 * ball), (0.33 * ball, 0.58 * ball), 6, 0.22 * ball),
        rod(at + 3.86 * ball * stud - beside, at + 3.86 * ball * stud + beside, 0.08 * ball),
    )
    nipple = stack(
        at,
        -up,
        (1.2 * ball, 0.22 * ball),
        (1.38 * ball, 0.22 * ball),
        (1.39 * ball, 0.11 * ball),
        (1.52 * ball, 0.11 * ball),
        (1.6 * ball, 0.16 * ball),
        (1.68 * ball, 0.07 * ball),
    )
    return Eyelet(
        (
            piece(part, Material.FASTENER, cup, nipple),
            piece(part, Material.RUBBER, boot),
            piece(end.on, Material.BALL, Ball(at, ball), pin),
            piece(end.on, Material.CAST, boss),
            piece(end.on, Material.FASTENER, *nut),
        ),
        1.25 * ball,
    )


def strut_mount(end: End, inward: Array, mechanism: Mechanism) -> Eyelet:
    """A rubber mount with its steel plate and a ring for its studs; two cheeks lead to the tube that holds it."""
    axis = end.bolt if dot(end.bolt, inward) < 0.0 else -end.bolt
    dome = stack(end.at, axis, (-14, 30), (-12, 36), (8, 38), (16, 30), (20, 18))
    plate = stack(end.at, axis, (-4, 60), (-3, 62), (1, 62), (2, 60))
    seat = ring(end.at + 4.0 * axis, axis, 2.0, 40.0, 66.0)
    fasteners: list[Solid] = [hexagon(end.at + 24 * axis, axis, 24, 9)]
    for angle in np.arange(3) * 2 * np.pi / 3:
        foot = end.at + 50 * (plane_axes(axis, square_to(axis)) @ [np.cos(angle), np.sin(angle), 0.0])
        fasteners += [rod(foot, foot + 22 * axis, 4.5), hexagon(foot + 10.0 * axis, axis, 14.0, 8.0)]
    return Eyelet(
        (
            piece(end.on, Material.RUBBER, dome),
            piece(end.on, Material.BRACKET, plate, seat, *_cheeks(end, axis, mechanism)),
            piece(end.on, Material.FASTENER, *fasteners),
        ),
        14.0,
    )


def _cheeks(end: End, axis: Array, mechanism: Mechanism) -> list[Solid]:
    """Two plates from the ring of a strut mount to both sides of the tube above it; none where no tube is near."""
    nearest = nearest_tube(end.on, end.at, mechanism)
    if nearest is None or nearest.clear > CHEEKS:
        return []
    along = unit(nearest.stem.leg[1] - nearest.stem.leg[0])
    side = unit(across(np.cross(axis, along), axis))
    height, out = float(dot(nearest.gap, axis)), nearest.stem.depth(side) + 1.5
    if height < 20.0 or out > 62.0:
        return []
    axes = np.stack([np.cross(side, axis), axis, side], axis=-1)
    middle = float(dot(nearest.gap, axes[:, 0]))
    outline = np.array([[-38.0, 4.0], [38.0, 4.0], [middle + 24.0, height], [middle - 24.0, height]])
    return [Prism(end.at + way * out * side, axes, outline, 4.0) for way in (1.0, -1.0)]
