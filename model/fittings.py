"""What a joint looks like: rod ends, bushes, ball joints, strut mounts and the brackets they are bolted into."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from model.joints import JointKind
from model.mechanism import FRAME, Arm, Beam, End, Mechanism, Wheel
from model.solids import (
    Ball,
    Material,
    PartSolids,
    Prism,
    Revolved,
    Solid,
    bolt_through,
    hexagon,
    piece,
    plane_axes,
    ring,
    rod,
    stack,
)
from model.spatial import Array, across, dot, norm, square_to, unit


@dataclass(frozen=True)
class Eyelet:
    """One joint as it is drawn: solids, and how far from its point (mm) the bar begins."""

    pieces: tuple[PartSolids, ...]
    reach: float


def joint_fitting(end: End, part: str, inward: Array, size: float, paint: Material, mechanism: Mechanism) -> Eyelet:
    """A joint at the end of a part; `inward` (3,) is the unit direction into the part, `size` its bar's diameter."""
    if end.joint.kind is JointKind.ROD_END:
        return _rod_end(end, part, inward, size, paint, mechanism)
    if end.joint.kind in (JointKind.BALL_JOINT, JointKind.INLINE_BALL_JOINT):
        return _ball_joint(end, part, inward, size, mechanism)
    if end.joint.kind is JointKind.STRUT_MOUNT:
        return strut_mount(end, inward)
    return _bush(end, part, inward, size, paint, mechanism)


def _rod_end(end: End, part: str, inward: Array, size: float, paint: Material, mechanism: Mechanism) -> Eyelet:
    """Housing ring, threaded shank and jam nut on the part; ball, spacers, bolt and two plates on what holds it."""
    thread = 0.6 * size
    eye, bolt, at = _square_eye(end, inward), end.bolt, end.at
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
    gap = 0.95 * thread
    spacers = [stack(at, side * bolt, (flat - 0.5, cap), (gap, 0.62 * thread)) for side in (1.0, -1.0)]
    held = _clevis(end, inward, gap, 1.25 * thread, 0.4 * thread, mechanism)
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


def _bush(end: End, part: str, inward: Array, size: float, paint: Material, mechanism: Mechanism) -> Eyelet:
    """Outer sleeve and rubber on the part; inner sleeve, bolt and two plates on what holds it."""
    outer, half, bolt_radius = 0.78 * size, 0.75 * size, 0.2 * size
    at, bolt = end.at, end.bolt
    kind = end.joint.kind
    pieces = [piece(part, paint, ring(at, bolt, half, outer - 3.5, outer))]
    if kind is JointKind.PLAIN_SLEEVE:
        pieces.append(piece(part, Material.BRONZE, ring(at, bolt, half + 1.5, 0.4 * size, outer - 3.2)))
    elif kind is JointKind.POLY_BUSH:
        flanges = [ring(at + side * (half + 2.0) * bolt, bolt, 2.4, 0.36 * size, outer + 1.0) for side in (1.0, -1.0)]
        pieces.append(piece(part, Material.POLY, ring(at, bolt, half, 0.36 * size, outer - 3.2), *flanges))
    else:
        bore = 0.36 * size
        middle = 0.5 * (outer + bore)
        bulge = [(-half - 1, bore), (half + 1, bore), (half + 2.5, middle), (half - 1, outer - 3.2)]
        bulge += [(1 - half, outer - 3.2), (-half - 2.5, middle)]
        pieces.append(piece(part, Material.RUBBER, Revolved(at, bolt, np.array(bulge))))
    gap = half + 6.0
    sleeve = ring(at, bolt, gap, 0.5 * bolt_radius, 0.37 * size)
    pieces.append(piece(end.on, Material.FASTENER, sleeve))
    return Eyelet((*pieces, *_clevis(end, inward, gap, outer, bolt_radius, mechanism)), outer - 1.5)


def _ball_joint(end: End, part: str, inward: Array, size: float, mechanism: Mechanism) -> Eyelet:
    """Cup and boot on the part; ball, stud, boss and nut on what holds it."""
    at, ball = end.at, 0.5 * size
    inline = end.joint.kind is JointKind.INLINE_BALL_JOINT
    stud = towards(end.bolt, -inward) if inline else stud_axis(end, mechanism)
    if inline:
        housing = -inward
    elif end.housing is not None:
        housing = end.housing
    else:
        on_arm = any(arm.name == part for arm in mechanism.arms)
        housing = stud if on_arm else _square_eye(end, inward)
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
    return Eyelet(
        (
            piece(part, Material.FASTENER, cup),
            piece(part, Material.RUBBER, boot),
            piece(end.on, Material.BALL, Ball(at, ball), pin),
            piece(end.on, Material.CAST, boss),
            piece(end.on, Material.FASTENER, hexagon(at + 3.4 * ball * stud, stud, 1.3 * ball, 0.6 * ball)),
        ),
        1.25 * ball,
    )


# The middle of the boss that a ball stud is drawn into, in radii of the ball from its centre.
BOSS = 2.4


def stud_axis(end: End, mechanism: Mechanism) -> Array:
    """Direction (3,) in which a ball stud stands: along its bolt, to the side of the part that holds it."""
    return towards(end.bolt, middle_of(mechanism, end.on) - end.at)


def towards(line: Array, side: Array) -> Array:
    """A line (3,) pointing to the side that `side` (3,) lies on."""
    return line if dot(line, side) >= 0.0 else -line


def strut_mount(end: End, inward: Array) -> Eyelet:
    """A rubber mount with its steel plate, on what holds it."""
    axis = end.bolt if dot(end.bolt, inward) < 0.0 else -end.bolt
    dome = stack(end.at, axis, (-14, 30), (-12, 36), (8, 38), (16, 30), (20, 18))
    plate = stack(end.at, axis, (-4, 60), (-3, 62), (1, 62), (2, 60))
    studs = [
        rod(foot, foot + 22 * axis, 4.5)
        for angle in np.arange(3) * 2 * np.pi / 3
        for foot in (end.at + 50 * (plane_axes(axis, square_to(axis)) @ [np.cos(angle), np.sin(angle), 0.0]),)
    ]
    return Eyelet(
        (
            piece(end.on, Material.RUBBER, dome),
            piece(end.on, Material.BRACKET, plate),
            piece(end.on, Material.FASTENER, *studs, hexagon(end.at + 24 * axis, axis, 24, 9)),
        ),
        14.0,
    )


def _square_eye(end: End, inward: Array) -> Array:
    """The axis (3,) of a head that is square to its bar, as near to its bolt as it can be."""
    flat = across(end.bolt, inward)
    return unit(flat) if norm(flat) > 1e-6 else square_to(inward)


def _clevis(
    end: End, inward: Array, gap: float, radius: float, bolt_radius: float, mechanism: Mechanism
) -> tuple[PartSolids, ...]:
    """Two plates beside a joint, their foot and the bolt; they reach for the nearest tube of what holds them."""
    bolt, thickness = end.bolt, 5.0
    away, length, weld = bracket_direction(end, inward, radius, mechanism)
    axes = plane_axes(bolt, away)
    turn = np.linspace(np.pi / 2, 3 * np.pi / 2, 15)
    nose = radius * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    outline = np.concatenate([nose, [[length, -1.15 * radius], [length, 1.15 * radius]]])
    solids: list[Solid] = [
        Prism(end.at + side * (gap + 0.5 * thickness) * bolt, axes, outline, thickness) for side in (1.0, -1.0)
    ]
    if length > 1.2 * radius:
        foot = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [0.5 * thickness, 1.15 * radius]
        middle = end.at + (length - 0.5 * thickness) * axes[:, 0]
        solids.append(Prism(middle, axes, foot, 2 * (gap + thickness)))
        if weld is not None and norm(weld - middle) > 1.0:
            solids.append(rod(middle, weld, 0.75 * radius, 0.0))
    return (
        piece(end.on, Material.BRACKET, *solids),
        piece(end.on, Material.FASTENER, *bolt_through(end.at, bolt, gap + thickness, bolt_radius)),
    )


# A tube farther off than this is not what a bracket is welded to; the plates then end in a foot of their own.
BRACKET_REACH = 260.0


def bracket_direction(
    end: End, inward: Array, radius: float, mechanism: Mechanism
) -> tuple[Array, float, Array | None]:
    """Where a bracket's plates point (3,), how long they are in mm, and to where (3,) a stub of tube leads on.

    Short plates end inside the tube beside them.
    """
    back = across(-inward, end.bolt)
    back = unit(back) if norm(back) > 0.2 else square_to(end.bolt)
    nearest: tuple[float, Array, float] | None = None
    for line, thickness in tubes_of(end.on, mechanism):
        for start, stop in pairwise(line):
            gap = nearest_on(np.stack([start, stop]), end.at) - end.at
            clear = float(norm(gap)) - thickness
            if nearest is None or clear < nearest[0]:
                nearest = clear, gap, thickness
    if nearest is None or nearest[0] > BRACKET_REACH:
        return back, 1.7 * radius, None
    clear, gap, thickness = nearest
    flat = across(gap, end.bolt)
    length = float(norm(flat))
    if length > 0.6 * norm(gap) and length > 1.0:
        return unit(flat), max(length - 0.6 * thickness, 0.4 * radius), None
    if clear < 0.5 * radius:
        return back, 0.8 * radius, None
    # The tube lies to the side, along the bolt: the plates point at it as far as they can.
    aside = unit(flat) if length > 0.5 * radius else back
    return aside, 1.7 * radius, end.at + gap


def tubes_of(part: str, mechanism: Mechanism) -> list[tuple[Array, float]]:
    """Middle lines (k, 3) and radii of what a part is made of, where a bracket can be welded on."""
    if part == FRAME:
        return [
            (shape.path, 0.5 * (shape.diameter or min(shape.section or (40.0, 40.0))))
            for shape in mechanism.shapes
            if shape.path is not None
        ]
    lines = [line for beam in mechanism.beams if beam.name == part for line in beam_lines(beam, mechanism)]
    lines += [
        (np.array([end.at for end in link.ends]), 0.5 * link.diameter) for link in mechanism.links if link.name == part
    ]
    lines += [
        (np.array([pivot.at, outer]), 0.5 * arm.diameter)
        for arm in mechanism.arms
        if arm.name == part
        for pivot in arm.pivots
        for outer in [outer_end(arm, mechanism)]
    ]
    return [(line, radius) for line, radius in lines if len(line) > 1]


def middle_of(mechanism: Mechanism, part: str) -> Array:
    """Mean (3,) of the wheel centres on a part, of its points where it carries no wheel."""
    centres = [wheel.centre for wheel in mechanism.wheels if wheel.on == part]
    centres = centres or [at for _, holder, at in mechanism.points if holder == part]
    return np.mean(centres, axis=0) if centres else np.zeros(3)


def outer_end(arm: Arm, mechanism: Mechanism) -> Array:
    """Where an arm's tubes meet (3,): its ball joint, or just inside the wheel it carries."""
    if arm.ball is not None:
        return arm.ball.at
    wheels = [wheel for wheel in mechanism.wheels if wheel.on == arm.name]
    if wheels:
        return flange_of(wheels[0]) + 45.0 * inboard_of(wheels[0])
    others = [at for _, holder, at in mechanism.points if holder == arm.name]
    middle = 0.5 * (arm.pivots[0].at + arm.pivots[1].at)
    return max(others, key=lambda at: float(norm(at - middle)), default=middle + np.array([0.0, 0.0, 100.0]))


def beam_line(beam: Beam, mechanism: Mechanism) -> Array:
    """Middle line (2, 3) of an axle tube, from right to left, ending at the hubs."""
    wheels = sorted((w for w in mechanism.wheels if w.on == beam.name), key=lambda wheel: float(wheel.centre[1]))
    return np.array([flange_of(wheel) + 40.0 * inboard_of(wheel) for wheel in wheels])


def beam_lines(beam: Beam, mechanism: Mechanism) -> list[tuple[Array, float]]:
    """Middle lines and radii of an axle's tube and, where it has one, its centre housing."""
    line = beam_line(beam, mechanism)
    lines = [(line, 0.5 * beam.tube_diameter)]
    if beam.housing is not None and len(line) == 2:
        half = 0.25 * beam.housing_diameter * unit(line[1] - line[0])
        lines.append((np.stack([beam.housing - half, beam.housing + half]), 0.45 * beam.housing_diameter))
    return lines


def inboard_of(wheel: Wheel) -> Array:
    """Unit direction (3,) along a wheel's spin axis towards the middle of the vehicle."""
    return -wheel.axis if wheel.centre[1] >= 0.0 else wheel.axis


def flange_of(wheel: Wheel) -> Array:
    """Where the rim's disc bolts to the hub (3,)."""
    return wheel.centre - 0.12 * wheel.width * inboard_of(wheel)


def nearest_on(line: Array, at: Array) -> Array:
    """The point (3,) of a line between two points (2, 3) that is nearest to a point (3,)."""
    span = line[1] - line[0]
    share = np.clip(dot(at - line[0], span) / max(float(dot(span, span)), 1e-9), 0.0, 1.0)
    return np.asarray(line[0] + share * span)
