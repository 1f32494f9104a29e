"""The shape of every part as frozen solids in mm, at ride height in vehicle coordinates.

A part's solids ride along with the part (see `model.members.Posture`); only springs change shape, and get a new
centre line for each pose from `spring_line`. Sizes that no scene gives are proportions of common hardware: they
are drawn, never measured against.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np

from model.mechanism import FRAME, Arm, Beam, Coilover, End, FrameShape, Link, Mechanism, Motion, Offset, Wheel
from model.members import halves
from model.scene import JointKind
from model.spatial import Array, across, dot, norm, square_to, triad, unit

# The tyre is drawn this much larger than its loaded radius: a typical standing deflection is 2 to 4 % of the radius.
TYRE_OVER_LOADED = 1.025


class Material(StrEnum):
    """What a solid is made of; `viz.style` says how that looks."""

    FRAME = "frame paint"
    BRACKET = "bracket steel"
    LINK = "link paint"
    ARM = "arm paint"
    AXLE = "axle paint"
    CAST = "cast metal"
    STEERING = "steering paint"
    FASTENER = "zinc"
    BALL = "polished steel"
    RUBBER = "rubber"
    POLY = "polyurethane"
    BRONZE = "bronze"
    DAMPER = "damper body"
    SPRING = "spring paint"
    TYRE = "tyre"
    RIM = "rim"


@dataclass(frozen=True)
class Tube:
    """A closed round bar of one `radius` along a path (k, 3)."""

    path: Array
    radius: float


@dataclass(frozen=True)
class Rail:
    """A closed box bar along a path (k, 3); `section` is (width, height), the height as near to z as it can be."""

    path: Array
    section: tuple[float, float]


@dataclass(frozen=True)
class Ball:
    """A sphere about `centre` (3,)."""

    centre: Array
    radius: float


@dataclass(frozen=True)
class Revolved:
    """A profile (k, 2) of (along, radius) turned about a unit `axis` (3,) through `origin` (3,).

    A profile that begins and ends on the axis closes there; any other is a ring and closes on itself.
    """

    origin: Array
    axis: Array
    profile: Array


@dataclass(frozen=True)
class Prism:
    """A convex outline (k, 2) in the first two of `axes` (3, 3), `thickness` deep, its middle at `origin` (3,)."""

    origin: Array
    axes: Array
    outline: Array
    thickness: float


@dataclass(frozen=True)
class MeshFile:
    """Somebody's own mesh, scaled to mm and perhaps mirrored to the other side of the vehicle."""

    path: str
    scale: float
    mirrored: bool


Solid = Tube | Rail | Ball | Revolved | Prism | MeshFile


@dataclass(frozen=True)
class PartSolids:
    """Solids of one material that move with `part`; `label` is the name under which a person finds them."""

    part: str
    label: str
    material: Material
    solids: tuple[Solid, ...]


@dataclass(frozen=True)
class SpringSolid:
    """A round wire wound between two seats (3,), each on a part of its own, about the line of the seats."""

    label: str
    top_part: str
    top: Array
    bottom_part: str
    bottom: Array
    mean_radius: float
    wire_radius: float
    coils: float


@dataclass(frozen=True)
class SolidModel:
    """Everything there is to draw of a mechanism."""

    parts: tuple[PartSolids, ...]
    springs: tuple[SpringSolid, ...]


def solids_of(mechanism: Mechanism) -> SolidModel:
    """The shape of every part of a mechanism."""
    pieces: list[PartSolids] = []
    for shape in mechanism.shapes:
        pieces += _frame_shape(shape)
    for beam in mechanism.beams:
        pieces += _beam(beam, mechanism)
    for body in mechanism.bodies:
        if body.name in _plain_bodies(mechanism):
            pieces += _joined_points(body.name, mechanism)
    for arm in mechanism.arms:
        pieces += _arm(arm, mechanism)
    for link in mechanism.links:
        pieces += _link(link, mechanism)
    springs = []
    for unit_ in mechanism.coilovers:
        pieces += _coilover(unit_, mechanism)
        if unit_.spring is not None:
            springs.append(_spring(unit_))
    for wheel in mechanism.wheels:
        pieces += _wheel(wheel)
    return SolidModel(_merged(pieces), tuple(springs))


def _merged(pieces: Iterable[PartSolids]) -> tuple[PartSolids, ...]:
    groups: dict[tuple[str, str, Material], list[Solid]] = {}
    for piece in pieces:
        groups.setdefault((piece.part, piece.label, piece.material), []).extend(piece.solids)
    return tuple(PartSolids(*key, tuple(solids)) for key, solids in groups.items())


def _piece(part: str, material: Material, *solids: Solid, label: str | None = None) -> PartSolids:
    return PartSolids(part, label or part, material, solids)


# --- outlines and profiles -------------------------------------------------------------------------------------------


def _ring(origin: Array, axis: Array, half: float, inner: float, outer: float, bevel: float = 0.12) -> Revolved:
    """A sleeve or housing: from −half to half along the axis, its outer edges broken."""
    cut = bevel * min(outer - inner, half)
    profile = [(-half, inner), (half, inner), (half, outer - cut), (half - cut, outer), (cut - half, outer)]
    return Revolved(origin, axis, np.array([*profile, (-half, outer - cut)]))


def _rod(start: Array, stop: Array, radius: float, bevel: float = 0.15) -> Revolved:
    """A cylinder between two points with broken edges."""
    length, cut = float(norm(stop - start)), bevel * radius
    cut = min(cut, 0.4 * length)
    profile = [
        (0.0, 0.0),
        (0.0, radius - cut),
        (cut, radius),
        (length - cut, radius),
        (length, radius - cut),
        (length, 0),
    ]
    return Revolved(start, unit(stop - start), np.array(profile))


def _stack(origin: Array, axis: Array, *steps: tuple[float, float]) -> Revolved:
    """A turned part from (along, radius) steps, closed on its axis at both ends."""
    return Revolved(origin, axis, np.array([(steps[0][0], 0.0), *steps, (steps[-1][0], 0.0)]))


def _hexagon(origin: Array, axis: Array, across_flats: float, thickness: float) -> Prism:
    """A nut or bolt head about an axis."""
    angles = np.arange(6) * np.pi / 3.0
    outline = across_flats / np.sqrt(3.0) * np.stack([np.cos(angles), np.sin(angles)], axis=-1)
    return Prism(origin, _plane_axes(axis, square_to(axis)), outline, thickness)


def _plane_axes(normal: Array, reference: Array) -> Array:
    """Axes (3, 3) whose third is `normal` and whose first points towards `reference`."""
    z = unit(normal)
    x = unit(across(reference, z))
    return np.stack([x, np.cross(z, x), z], axis=-1)


def _bolt(middle: Array, axis: Array, half: float, radius: float) -> tuple[Solid, ...]:
    """A through bolt with head, nut and washers."""
    flats = 3.0 * radius
    return (
        _rod(middle - (half + 2.4 * radius) * axis, middle + (half + 0.6 * radius) * axis, radius),
        _ring(middle + (half + 0.15 * radius) * axis, axis, 0.15 * radius, 0.5 * radius, 1.9 * radius),
        _ring(middle - (half + 0.15 * radius) * axis, axis, 0.15 * radius, 0.5 * radius, 1.9 * radius),
        _hexagon(middle + (half + 0.9 * radius) * axis, axis, flats, 1.2 * radius),
        _hexagon(middle - (half + 1.2 * radius) * axis, axis, flats, 1.7 * radius),
    )


def rounded(path: Array, bend: float, steps: int = 8) -> Array:
    """A path (k, 3) with its corners bent to a radius in mm, less where a leg is too short for it."""
    if len(path) < 3:
        return path
    points: list[Array] = [path[0]]
    for before, corner, after in zip(path[:-2], path[1:-1], path[2:], strict=True):
        back, ahead = before - corner, after - corner
        room = 0.45 * min(float(norm(back)), float(norm(ahead)))
        a, b = unit(back), unit(ahead)
        half_angle = 0.5 * float(np.arccos(np.clip(dot(a, b), -1.0, 1.0)))
        if np.pi / 2 - half_angle < 1e-3:
            continue
        reach = min(room, bend / np.tan(half_angle))
        share = np.linspace(0.0, 1.0, steps)[:, None]
        # A quadratic curve between the two tangent points is within a wall's thickness of the bender's arc.
        points += list(corner + reach * ((1 - share) ** 2 * a + share**2 * b))
    return np.array([*points, path[-1]])


# --- what a joint looks like -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Eyelet:
    """One joint as it is drawn: solids, and how far from its point (mm) the bar begins."""

    pieces: tuple[PartSolids, ...]
    reach: float


def _joint(end: End, part: str, inward: Array, size: float, paint: Material, mechanism: Mechanism) -> _Eyelet:
    """A joint at the end of a part; `inward` (3,) is the unit direction into the part, `size` its bar's diameter."""
    if end.joint.kind is JointKind.ROD_END:
        return _rod_end(end, part, inward, size, paint, mechanism)
    if end.joint.kind in (JointKind.BALL_JOINT, JointKind.INLINE_BALL_JOINT):
        return _ball_joint(end, part, inward, size, mechanism)
    if end.joint.kind is JointKind.STRUT_MOUNT:
        return _strut_mount(end, inward)
    return _bush(end, part, inward, size, paint, mechanism)


def _rod_end(end: End, part: str, inward: Array, size: float, paint: Material, mechanism: Mechanism) -> _Eyelet:
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
    shank = _stack(
        at,
        inward,
        (root, 0.62 * thread),
        (1.45 * thread, 0.5 * thread),
        *[(float(x), (0.5 if k % 2 else 0.45) * thread) for k, x in enumerate(ridges)],
    )
    insert = _stack(
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
    sphere = _stack(at, bolt, (-flat, cap), *arc[1:-1], (flat, cap))
    gap = 0.95 * thread
    spacers = [_stack(at, side * bolt, (flat - 0.5, cap), (gap, 0.62 * thread)) for side in (1.0, -1.0)]
    held = _clevis(end, inward, gap, 1.25 * thread, 0.4 * thread, mechanism)
    return _Eyelet(
        (
            _piece(
                part, Material.FASTENER, ring, shank, _hexagon(at + nut * inward, inward, 1.6 * thread, 0.55 * thread)
            ),
            _piece(part, paint, insert),
            _piece(end.on, Material.BALL, sphere, *spacers),
            *held,
        ),
        stop + 0.4 * thread,
    )


def _bush(end: End, part: str, inward: Array, size: float, paint: Material, mechanism: Mechanism) -> _Eyelet:
    """Outer sleeve and rubber on the part; inner sleeve, bolt and two plates on what holds it."""
    outer, half, bolt_radius = 0.78 * size, 0.75 * size, 0.2 * size
    at, bolt = end.at, end.bolt
    kind = end.joint.kind
    pieces = [_piece(part, paint, _ring(at, bolt, half, outer - 3.5, outer))]
    if kind is JointKind.PLAIN_SLEEVE:
        pieces.append(_piece(part, Material.BRONZE, _ring(at, bolt, half + 1.5, 0.4 * size, outer - 3.2)))
    elif kind is JointKind.POLY_BUSH:
        flanges = [_ring(at + side * (half + 2.0) * bolt, bolt, 2.4, 0.36 * size, outer + 1.0) for side in (1.0, -1.0)]
        pieces.append(_piece(part, Material.POLY, _ring(at, bolt, half, 0.36 * size, outer - 3.2), *flanges))
    else:
        bore = 0.36 * size
        middle = 0.5 * (outer + bore)
        bulge = [(-half - 1, bore), (half + 1, bore), (half + 2.5, middle), (half - 1, outer - 3.2)]
        bulge += [(1 - half, outer - 3.2), (-half - 2.5, middle)]
        pieces.append(_piece(part, Material.RUBBER, Revolved(at, bolt, np.array(bulge))))
    gap = half + 6.0
    sleeve = _ring(at, bolt, gap, 0.5 * bolt_radius, 0.37 * size)
    pieces.append(_piece(end.on, Material.FASTENER, sleeve))
    return _Eyelet((*pieces, *_clevis(end, inward, gap, outer, bolt_radius, mechanism)), outer - 1.5)


def _ball_joint(end: End, part: str, inward: Array, size: float, mechanism: Mechanism) -> _Eyelet:
    """Cup and boot on the part; ball, stud, boss and nut on what holds it."""
    at, ball = end.at, 0.5 * size
    inline = end.joint.kind is JointKind.INLINE_BALL_JOINT
    stud = _towards(end.bolt, -inward) if inline else _stud(end, mechanism)
    housing = (
        -inward
        if inline
        else end.housing
        if end.housing is not None
        else stud
        if part in {arm.name for arm in mechanism.arms}
        else _square_eye(end, inward)
    )
    up = housing if dot(housing, stud) >= 0.0 else -housing
    cup = _stack(
        at,
        up,
        (-1.25 * ball, 0.62 * ball),
        (-1.15 * ball, 1.1 * ball),
        (-0.85 * ball, 1.32 * ball),
        (0.55 * ball, 1.32 * ball),
        (0.7 * ball, 1.2 * ball),
        (0.7 * ball, 0.8 * ball),
    )
    boot = _stack(
        at,
        up,
        (0.68 * ball, 1.15 * ball),
        (0.95 * ball, 1.22 * ball),
        (1.2 * ball, 1.02 * ball),
        (1.35 * ball, 1.0 * ball),
        (1.6 * ball, 0.7 * ball),
    )
    pin = _stack(
        at,
        stud,
        (0.3 * ball, 0.5 * ball),
        (1.5 * ball, 0.5 * ball),
        (3.0 * ball, 0.38 * ball),
        (3.9 * ball, 0.36 * ball),
    )
    boss = _stack(
        at,
        stud,
        (1.75 * ball, 0.72 * ball),
        (1.85 * ball, 0.8 * ball),
        (2.95 * ball, 0.8 * ball),
        (3.05 * ball, 0.72 * ball),
    )
    return _Eyelet(
        (
            _piece(part, Material.FASTENER, cup),
            _piece(part, Material.RUBBER, boot),
            _piece(end.on, Material.BALL, Ball(at, ball), pin),
            _piece(end.on, Material.CAST, boss),
            _piece(end.on, Material.FASTENER, _hexagon(at + 3.4 * ball * stud, stud, 1.3 * ball, 0.6 * ball)),
        ),
        1.25 * ball,
    )


# The middle of the boss that a ball stud is drawn into, in radii of the ball from its centre.
BOSS = 2.4


def _stud(end: End, mechanism: Mechanism) -> Array:
    """Direction (3,) in which a ball stud stands: along its bolt, to the side of the part that holds it."""
    return _towards(end.bolt, _middle(mechanism, end.on) - end.at)


def _towards(line: Array, side: Array) -> Array:
    return line if dot(line, side) >= 0.0 else -line


def _strut_mount(end: End, inward: Array) -> _Eyelet:
    """A rubber mount with its steel plate, on what holds it."""
    axis = end.bolt if dot(end.bolt, inward) < 0.0 else -end.bolt
    dome = _stack(end.at, axis, (-14, 30), (-12, 36), (8, 38), (16, 30), (20, 18))
    plate = _stack(end.at, axis, (-4, 60), (-3, 62), (1, 62), (2, 60))
    studs = [
        _rod(foot, foot + 22 * axis, 4.5)
        for angle in np.arange(3) * 2 * np.pi / 3
        for foot in (end.at + 50 * (_plane_axes(axis, square_to(axis)) @ [np.cos(angle), np.sin(angle), 0.0]),)
    ]
    return _Eyelet(
        (
            _piece(end.on, Material.RUBBER, dome),
            _piece(end.on, Material.BRACKET, plate),
            _piece(end.on, Material.FASTENER, *studs, _hexagon(end.at + 24 * axis, axis, 24, 9)),
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
    away, length, weld = _bracket_direction(end, inward, radius, mechanism)
    axes = _plane_axes(bolt, away)
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
            solids.append(_rod(middle, weld, 0.75 * radius, 0.0))
    return (
        _piece(end.on, Material.BRACKET, *solids),
        _piece(end.on, Material.FASTENER, *_bolt(end.at, bolt, gap + thickness, bolt_radius)),
    )


# A tube farther off than this is not what a bracket is welded to; the plates then end in a foot of their own.
BRACKET_REACH = 260.0


def _bracket_direction(
    end: End, inward: Array, radius: float, mechanism: Mechanism
) -> tuple[Array, float, Array | None]:
    """Where a bracket's plates point (3,), how long they are in mm, and to where (3,) a stub of tube leads on.

    Short plates end inside the tube beside them.
    """
    back = across(-inward, end.bolt)
    back = unit(back) if norm(back) > 0.2 else square_to(end.bolt)
    nearest: tuple[float, Array, float] | None = None
    for line, thickness in _tubes(end.on, mechanism):
        for start, stop in pairwise(line):
            gap = _nearest(np.stack([start, stop]), end.at) - end.at
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


def _tubes(part: str, mechanism: Mechanism) -> list[tuple[Array, float]]:
    """Middle lines (k, 3) and radii of what a part is made of, where a bracket can be welded on."""
    if part == FRAME:
        return [
            (shape.path, 0.5 * (shape.diameter or min(shape.section or (40.0, 40.0))))
            for shape in mechanism.shapes
            if shape.path is not None
        ]
    lines = [line for beam in mechanism.beams if beam.name == part for line in _beam_lines(beam, mechanism)]
    lines += [
        (np.array([end.at for end in link.ends]), 0.5 * link.diameter) for link in mechanism.links if link.name == part
    ]
    lines += [
        (np.array([pivot.at, outer]), 0.5 * arm.diameter)
        for arm in mechanism.arms
        if arm.name == part
        for pivot in arm.pivots
        for outer in [_outer_end(arm, mechanism)]
    ]
    return [(line, radius) for line, radius in lines if len(line) > 1]


def _middle(mechanism: Mechanism, part: str) -> Array:
    """Mean (3,) of the wheel centres on a part, of its points where it carries no wheel."""
    centres = [wheel.centre for wheel in mechanism.wheels if wheel.on == part]
    centres = centres or [at for _, holder, at in mechanism.points if holder == part]
    return np.mean(centres, axis=0) if centres else np.zeros(3)


# --- parts -----------------------------------------------------------------------------------------------------------


def _link(link: Link, mechanism: Mechanism) -> list[PartSolids]:
    first, second = link.ends
    along = unit(second.at - first.at)
    steered = {first.on, second.on} & {body.name for body in mechanism.bodies if body.motion is Motion.DRIVEN}
    paint = Material.STEERING if steered else Material.LINK
    heads = [
        _joint(end, link.name, inward, link.diameter, paint, mechanism)
        for end, inward in ((first, along), (second, -along))
    ]
    length = float(norm(second.at - first.at))
    reach = [min(head.reach, 0.45 * length) for head in heads]
    tube = _rod(first.at + reach[0] * along, second.at - reach[1] * along, 0.5 * link.diameter, 0.08)
    return [_piece(link.name, paint, tube), *heads[0].pieces, *heads[1].pieces]


def _outer_end(arm: Arm, mechanism: Mechanism) -> Array:
    """Where an arm's tubes meet (3,): its ball joint, or just inside the wheel it carries."""
    if arm.ball is not None:
        return arm.ball.at
    wheels = [wheel for wheel in mechanism.wheels if wheel.on == arm.name]
    if wheels:
        return _flange(wheels[0]) + 45.0 * _inboard(wheels[0])
    others = [at for _, holder, at in mechanism.points if holder == arm.name]
    middle = 0.5 * (arm.pivots[0].at + arm.pivots[1].at)
    return max(others, key=lambda at: float(norm(at - middle)), default=middle + np.array([0.0, 0.0, 100.0]))


def _arm(arm: Arm, mechanism: Mechanism) -> list[PartSolids]:
    outer = _outer_end(arm, mechanism)
    radius = 0.5 * arm.diameter
    pieces: list[PartSolids] = []
    legs: list[Array] = []
    stop = 0.0 if arm.ball is None else 1.2 * radius
    for pivot in arm.pivots:
        inward = unit(outer - pivot.at)
        head = _joint(pivot, arm.name, inward, arm.diameter, Material.ARM, mechanism)
        pieces += head.pieces
        leg = np.array([pivot.at + head.reach * inward, outer - stop * inward])
        legs.append(leg)
    tubes: list[Solid] = [_rod(leg[0], leg[1], radius, 0.08) for leg in legs]
    share = 0.3
    cross = [leg[0] + share * (leg[1] - leg[0]) for leg in legs]
    if norm(cross[1] - cross[0]) > 4 * radius:
        tubes.append(_rod(cross[0], cross[1], 0.8 * radius, 0.0))
    if arm.ball is not None:
        inward = unit(0.5 * (arm.pivots[0].at + arm.pivots[1].at) - outer)
        pieces += _joint(arm.ball, arm.name, inward, 1.25 * arm.diameter, Material.ARM, mechanism).pieces
    else:
        tubes.append(Ball(outer, 1.15 * radius))
        pieces += [piece for wheel in mechanism.wheels if wheel.on == arm.name for piece in _hub(wheel, outer, radius)]
    known = [*(pivot.at for pivot in arm.pivots), outer]
    for at in _loose_points(arm.name, known, mechanism):
        # A spring or damper bracket's post, from the nearest leg or the cross-tube.
        foot = min((_nearest(line, at) for line in (*legs, np.array(cross))), key=lambda q: float(norm(q - at)))
        if norm(at - foot) > 2 * radius:
            tubes.append(_rod(foot, at + 0.8 * radius * unit(foot - at), 0.6 * radius, 0.0))
    return [_piece(arm.name, Material.ARM, *tubes), *pieces]


def _nearest(line: Array, at: Array) -> Array:
    span = line[1] - line[0]
    share = np.clip(dot(at - line[0], span) / max(float(dot(span, span)), 1e-9), 0.0, 1.0)
    return np.asarray(line[0] + share * span)


def _loose_points(part: str, known: Sequence[Array], mechanism: Mechanism) -> list[Array]:
    """Points (3,) on a part other than those already drawn and wheel centres."""
    taken = [*known, *(wheel.centre for wheel in mechanism.wheels)]
    places = [at for _, holder, at in mechanism.points if holder == part]
    places += [pin.end.at for pin in mechanism.pins if pin.part == part]
    return [at for at in places if all(norm(at - other) > 1.0 for other in taken)]


def _plain_bodies(mechanism: Mechanism) -> set[str]:
    """Bodies without a record of their own: knuckles, the rack, steering arms, the centre link."""
    described = {FRAME, *(beam.name for beam in mechanism.beams), *(arm.name for arm in mechanism.arms)}
    return {body.name for body in mechanism.bodies} - described


def _joined_points(part: str, mechanism: Mechanism) -> list[PartSolids]:
    """A body drawn as bars between its points: an upright about its hub, or a bar of the steering."""
    wheels = [wheel for wheel in mechanism.wheels if wheel.on == part]
    if wheels:
        return _upright(part, wheels[0], mechanism)
    points = _loose_points(part, [], mechanism)
    return _steering_bar(part, points, mechanism) if points else []


def _upright(part: str, wheel: Wheel, mechanism: Mechanism) -> list[PartSolids]:
    """Hub, spindle and a bar to what holds each joint; the bars meet at the spindle's inner end."""
    inner = _flange(wheel) + 42.0 * _inboard(wheel)
    bars: list[Solid] = []
    for point in _loose_points(part, [], mechanism):
        at = _seat(part, point, mechanism)
        if norm(at - inner) < 20.0:
            continue
        knee = inner + 0.55 * (at - inner)
        bars += [_rod(inner, at, 13.0), _rod(inner, knee, 17.0)]
    return [_piece(part, Material.CAST, *bars, Ball(inner, 26.0)), *_hub(wheel, inner, 26.0)]


def _seat(part: str, point: Array, mechanism: Mechanism) -> Array:
    """Where (3,) a part takes hold of the joint at one of its points: a ball stud's boss, else the point itself."""
    studs = [(arm.ball, 1.25 * arm.diameter) for arm in mechanism.arms if arm.ball is not None]
    studs += [(end, link.diameter) for link in mechanism.links for end in link.ends]
    for end, size in studs:
        held = end.on == part and norm(end.at - point) < 1.0
        if held and end.joint.kind is JointKind.BALL_JOINT:
            return end.at + BOSS * 0.5 * size * _stud(end, mechanism)
    return point


def _inboard(wheel: Wheel) -> Array:
    """Unit direction (3,) along a wheel's spin axis towards the middle of the vehicle."""
    return -wheel.axis if wheel.centre[1] >= 0.0 else wheel.axis


def _flange(wheel: Wheel) -> Array:
    """Where the rim's disc bolts to the hub (3,)."""
    return wheel.centre - 0.12 * wheel.width * _inboard(wheel)


def _hub(wheel: Wheel, inner: Array, radius: float) -> list[PartSolids]:
    """Hub flange and spindle from the rim's disc to `inner`, with the brake disc that fits the rim."""
    inward, flange = _inboard(wheel), _flange(wheel)
    reach = float(norm(inner - flange))
    spindle = _stack(flange, inward, (0.0, 68), (10, 68), (12, 40), (0.6 * reach, 36), (reach, radius + 2))
    disc = 0.36 * wheel.rim_diameter
    brake = _ring(flange + 24.0 * inward, inward, 11.0, 0.5 * disc, disc, 0.05)
    hat = _stack(flange, inward, (11.0, 0.53 * disc), (14.0, 0.56 * disc), (26.0, 0.56 * disc))
    return [_piece(wheel.on, Material.CAST, spindle), _piece(wheel.on, Material.BALL, brake, hat, label=wheel.name)]


def _steering_bar(part: str, points: Sequence[Array], mechanism: Mechanism) -> list[PartSolids]:
    """A rack in its tube, a crank with its shaft, or a bar through a body's points."""
    body = mechanism.bodies[mechanism.body_number(part)]
    if body.screw is not None and not body.screw.turns:
        axis = body.screw.axis
        return _rack(part, sorted(points, key=lambda at: float(dot(at, axis))), axis)
    shaft = _shaft(part, mechanism)
    if shaft is None:
        middle = np.mean(points, axis=0)
        spread = max(points, key=lambda at: float(norm(at - middle))) - middle
        line = np.array(sorted(points, key=lambda at: float(dot(at - middle, spread))))
        bar = Tube(line, 13.0) if len(line) > 1 else Ball(line[0], 16.0)
        return [_piece(part, Material.STEERING, bar)]
    at, axis = shaft
    up = axis if axis[2] >= 0.0 else -axis
    arms = [Tube(np.array([at, point]), 13.0) for point in points if norm(point - at) > 1.0]
    # A driven crank hangs below its gear, any other turns in a plain bracket.
    gear = [(24, 26), (30, 38), (95, 38), (100, 30), (112, 30)] if body.screw is not None else [(22, 20), (60, 20)]
    return [
        _piece(part, Material.STEERING, _rod(at - 20 * up, at + 20 * up, 22.0), *arms),
        _piece(FRAME, Material.CAST, _stack(at, up, *gear)),
    ]


def _shaft(part: str, mechanism: Mechanism) -> tuple[Array, Array] | None:
    """A point (3,) and unit direction (3,) of the shaft about which a body turns on the frame, if it does."""
    number = mechanism.body_number(part)
    screw = mechanism.bodies[number].screw
    if screw is not None:
        return screw.point, screw.axis
    pivots = [
        row.tip.at
        for row in mechanism.rows
        if isinstance(row, Offset) and row.drive is None and row.tip.body == number
        if mechanism.bodies[row.base.body].motion is Motion.FIXED
    ]
    apart = [at for at in pivots if norm(at - pivots[0]) > 1.0]
    return (pivots[0], unit(apart[0] - pivots[0])) if apart else None


def _rack(part: str, points: Sequence[Array], axis: Array) -> list[PartSolids]:
    """The bar that slides, and on the frame the tube it slides in."""
    start, stop = points[0], points[-1]
    length = float(norm(stop - start))
    if length < 1.0:
        start, stop, length = start - 150 * axis, start + 150 * axis, 300.0
    middle, along = 0.5 * (start + stop), unit(stop - start)
    housing = _rod(middle - 0.3 * length * along, middle + 0.3 * length * along, 24.0)
    pinion = middle + 0.2 * length * along
    up = across(np.array([0.0, 0.0, 1.0]), along)
    tower = _rod(pinion - 25 * unit(up), pinion + 62 * unit(up), 22.0)
    return [
        _piece(part, Material.BALL, Tube(np.array([start, stop]), 12.0)),
        _piece(FRAME, Material.CAST, housing, tower),
    ]


def _beam_line(beam: Beam, mechanism: Mechanism) -> Array:
    """Middle line (2, 3) of an axle tube, from right to left, ending at the hubs."""
    wheels = sorted((w for w in mechanism.wheels if w.on == beam.name), key=lambda wheel: float(wheel.centre[1]))
    return np.array([_flange(wheel) + 40.0 * _inboard(wheel) for wheel in wheels])


def _beam_lines(beam: Beam, mechanism: Mechanism) -> list[tuple[Array, float]]:
    """Middle lines and radii of an axle's tube and, where it has one, its centre housing."""
    line = _beam_line(beam, mechanism)
    lines = [(line, 0.5 * beam.tube_diameter)]
    if beam.housing is not None and len(line) == 2:
        half = 0.25 * beam.housing_diameter * unit(line[1] - line[0])
        lines.append((np.stack([beam.housing - half, beam.housing + half]), 0.45 * beam.housing_diameter))
    return lines


def _beam(beam: Beam, mechanism: Mechanism) -> list[PartSolids]:
    """An axle: tube, hubs, centre housing with its cover, pinion nose and flange."""
    line = _beam_line(beam, mechanism)
    radius = 0.5 * beam.tube_diameter
    wheels = [wheel for wheel in mechanism.wheels if wheel.on == beam.name]
    pieces = [piece for wheel in wheels for piece in _hub(wheel, _flange(wheel) + 40.0 * _inboard(wheel), radius)]
    solids: list[Solid] = []
    if len(line) == 2:
        solids.append(Tube(line, radius))
    across_car = unit(line[-1] - line[0]) if len(line) == 2 else np.array([0.0, 1.0, 0.0])
    if beam.housing is not None:
        size = 0.5 * beam.housing_diameter
        bulb = _stack(
            beam.housing,
            across_car,
            (-1.25 * size, radius + 3),
            (-0.85 * size, 0.62 * size),
            (-0.5 * size, 0.93 * size),
            (0.5 * size, 0.93 * size),
            (0.85 * size, 0.62 * size),
            (1.25 * size, radius + 3),
        )
        nose = beam.pinion if beam.pinion is not None else beam.housing + np.array([1.6 * size, 0.0, 0.0])
        forward = unit(nose - beam.housing)
        back = across(-forward, across_car)
        back = unit(back)
        cover = _stack(
            beam.housing,
            back,
            (0.62 * size, 1.0 * size),
            (0.78 * size, 1.0 * size),
            (0.8 * size, 0.86 * size),
            (1.02 * size, 0.7 * size),
            (1.12 * size, 0.42 * size),
            (1.14 * size, 0.1 * size),
        )
        turn = _plane_axes(back, across_car)
        bolts = [
            _hexagon(beam.housing + 0.8 * size * back + 0.93 * size * (turn @ [np.cos(a), np.sin(a), 0.0]), back, 11, 9)
            for a in np.arange(10) * np.pi / 5
        ]
        solids += [bulb, cover]
        pieces.append(_piece(beam.name, Material.FASTENER, *bolts))
        if beam.pinion is not None:
            reach = float(norm(beam.pinion - beam.housing))
            solids.append(
                _stack(
                    beam.housing,
                    forward,
                    (0.5 * size, 0.75 * size),
                    (0.62 * reach, 0.42 * size),
                    (reach - 26, 0.34 * size),
                )
            )
            flange = _stack(beam.housing, forward, (reach - 27, 20), (reach - 10, 20), (reach - 9, 48), (reach, 48))
            pieces.append(_piece(beam.name, Material.FASTENER, flange))
    return [_piece(beam.name, Material.AXLE, *solids), *pieces]


def _wheel(wheel: Wheel) -> list[PartSolids]:
    """Tyre with round shoulders and a rim with spokes; the tyre is drawn unloaded (see `TYRE_OVER_LOADED`)."""
    outward, half = -_inboard(wheel), 0.5 * wheel.width
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
    hub = _stack(disc, outward, (-6, 74), (8, 74), (14, 66), (16, 34), (26, 32), (30, 26))
    axes = _plane_axes(outward, square_to(outward))
    spokes, nuts = [], []
    for angle in np.arange(5) * 2 * np.pi / 5:
        radial = axes @ [np.cos(angle), np.sin(angle), 0.0]
        outline = np.array([[55, -24], [rim - 18, -17], [rim - 18, 17], [55, 24]])
        spokes.append(Prism(disc, _plane_axes(outward, radial), outline, 16.0))
        nuts.append(
            _hexagon(
                disc + 52 * (axes @ [np.cos(angle + 0.63), np.sin(angle + 0.63), 0.0]) + 16 * outward, outward, 19, 14
            )
        )
    return [
        _piece(wheel.on, Material.TYRE, tyre, label=wheel.name),
        _piece(wheel.on, Material.RIM, rim_ring, hub, *spokes, label=wheel.name),
        _piece(wheel.on, Material.FASTENER, *nuts, label=wheel.name),
    ]


def _frame_shape(shape: FrameShape) -> list[PartSolids]:
    solids: list[Solid] = []
    if shape.path is not None and shape.section is not None:
        solids.append(Rail(shape.path, shape.section))
    elif shape.path is not None:
        diameter = shape.diameter or 40.0
        solids.append(Tube(rounded(shape.path, 2.0 * diameter), 0.5 * diameter))
    elif shape.centre is not None and shape.size is not None:
        corners = 0.5 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array(shape.size[:2])
        solids.append(Prism(shape.centre, np.eye(3), corners, shape.size[2]))
    elif shape.mesh is not None:
        solids.append(MeshFile(shape.mesh, shape.mesh_scale, shape.mirrored))
    return [_piece(FRAME, Material.FRAME, *solids, label=shape.name)]


# --- coilovers and their springs -------------------------------------------------------------------------------------


def _coilover(unit_: Coilover, mechanism: Mechanism) -> list[PartSolids]:
    """Shaft, bump stop and upper perch on the upper half; body and lower perch on the lower half."""
    shaft, body = halves(unit_.name)
    down = unit(unit_.bottom.at - unit_.top.at)
    radius = 0.5 * unit_.body_diameter
    top = _joint(unit_.top, shaft, down, 0.62 * unit_.body_diameter, Material.FASTENER, mechanism)
    pieces = list(top.pieces)
    head = max(top.reach, 14.0)
    # The body ends where full bump leaves just the upper eye above it.
    body_length = unit_.compressed - head - 6.0
    foot = unit_.bottom.at
    low = 0.0
    if not unit_.strut:
        bottom = _joint(unit_.bottom, body, -down, 0.62 * unit_.body_diameter, Material.FASTENER, mechanism)
        pieces += bottom.pieces
        low = bottom.reach
    # At full bump the shaft's end stands just inside the body's closed end.
    rod_end = unit_.top.at + (unit_.compressed - low - 12.0) * down
    cap = [(body_length - 12, radius + 2), (body_length + 4, radius + 2), (body_length + 5, 0.5 * radius)]
    pieces += [
        _piece(shaft, Material.BALL, _rod(unit_.top.at + 0.9 * head * down, rod_end, 0.3 * radius + 4.0)),
        _piece(
            shaft,
            Material.FASTENER,
            _rod(unit_.top.at + 0.85 * top.reach * down, unit_.top.at + (head + 5) * down, 0.55 * radius),
        ),
        _piece(
            body,
            Material.DAMPER,
            _stack(
                foot,
                -down,
                (0.9 * low, 0.6 * radius),
                (low + 8, radius),
                (body_length - 5, radius),
                (body_length, radius - 5),
            ),
        ),
        _piece(body, Material.FASTENER, _stack(foot, -down, *cap)),
    ]
    if unit_.bump_stop:
        length, wide = unit_.bump_stop, 0.8 * radius
        steps = [
            (head + 4 + share * length, wide * bulge)
            for share, bulge in (
                (0, 1.0),
                (0.18, 1.05),
                (0.3, 0.85),
                (0.45, 0.95),
                (0.6, 0.75),
                (0.8, 0.8),
                (1.0, 0.55),
            )
        ]
        pieces.append(_piece(shaft, Material.RUBBER, _stack(unit_.top.at, down, *steps)))
    if unit_.spring is not None:
        spring = _spring(unit_)
        seat = spring.mean_radius + spring.wire_radius + 2.0
        hat = _stack(spring.top, -down, (0, seat), (3, seat), (5, 0.8 * seat), (9, 0.5 * seat))
        cup = _stack(spring.bottom, down, (0, seat), (3, seat), (5, radius + 6), (16, radius + 6))
        pieces += [_piece(shaft, Material.FASTENER, hat), _piece(body, Material.FASTENER, cup)]
    if unit_.strut:
        clamp = [_ring(foot - (0.5 * low + x) * down, down, 14.0, radius - 1, radius + 7) for x in (30.0, 80.0)]
        pieces.append(_piece(body, Material.CAST, *clamp))
    return pieces


def _spring(unit_: Coilover) -> SpringSolid:
    """A coilover's spring between its perches, which stand where the spring's length and preload put them."""
    if unit_.spring is None:
        raise AssertionError("the caller knows that there is a spring")
    spring = unit_.spring
    shaft, body = halves(unit_.name)
    down = unit(unit_.bottom.at - unit_.top.at)
    beside = unit_.extended - (spring.free_length - spring.preload)
    above = min(38.0, 0.4 * beside)
    wire = spring.wire_diameter
    return SpringSolid(
        label=f"{unit_.name} spring",
        top_part=shaft,
        top=unit_.top.at + above * down,
        bottom_part=body,
        bottom=unit_.bottom.at - (beside - above) * down,
        mean_radius=0.5 * (spring.outside_diameter - wire),
        wire_radius=0.5 * wire,
        coils=_coils(unit_),
    )


def _coils(unit_: Coilover) -> float:
    """Turns of wire: those that are solid at the given solid length, else as many as leave a gap at full bump."""
    spring = unit_.spring
    if spring is None:
        raise AssertionError("the caller knows that there is a spring")
    if spring.solid_length is not None:
        return max(3.0, spring.solid_length / spring.wire_diameter - 1.0)
    shortest = spring.free_length - spring.preload - unit_.stroke
    # Common road and off-road springs have 6 to 9 turns; a third of a wire is left between them at full bump.
    return float(np.clip(shortest / (1.35 * spring.wire_diameter), 3.0, 8.5))


def spring_line(spring: SpringSolid, top: Array, bottom: Array, per_turn: int = 24) -> Array:
    """Centre line (k, 3) of the wire between two seats (3,), its end turns closed: k is the same for every pose.

    The wire touches both seats, so that the helix is one wire diameter shorter than the spring.
    """
    axis = top - bottom
    length = float(norm(axis))
    along = axis / length
    turns = np.linspace(0.0, spring.coils, int(np.ceil(spring.coils * per_turn)) + 1)
    wire = 2.0 * spring.wire_radius
    # Three quarters of a turn at each end lie a wire apart; what is left of the height goes to the turns between.
    closed = 0.75
    rise = max(length - wire, 0.0)
    dead = min(wire, rise / spring.coils) * closed
    height = np.interp(turns, [0.0, closed, spring.coils - closed, spring.coils], [0.0, dead, rise - dead, rise])
    axes = triad(along, square_to(along))
    angle = 2.0 * np.pi * turns
    circle = spring.mean_radius * (np.cos(angle)[:, None] * axes[:, 1] + np.sin(angle)[:, None] * axes[:, 2])
    return np.asarray(bottom + (spring.wire_radius + height)[:, None] * along + circle)
