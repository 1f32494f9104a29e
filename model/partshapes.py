"""The measured shape of every part, in ride-height coordinates, from a mechanism."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from model.dampershapes import coil_spring, damper
from model.fittings import BOSS, beam_line, flange_of, inboard_of, joint_fitting, nearest_on, outer_end, stud_axis
from model.joints import JointKind
from model.mechanism import FRAME, Arm, Beam, FrameShape, Link, Mechanism, Motion, Offset, Wheel
from model.solids import (
    Ball,
    Material,
    MeshFile,
    PartSolids,
    Prism,
    Rail,
    Revolved,
    Solid,
    SolidModel,
    Tube,
    hexagon,
    piece,
    plane_axes,
    ring,
    rod,
    rounded,
    stack,
)
from model.spatial import Array, across, dot, norm, square_to, unit

# The tyre is drawn this much larger than its loaded radius: a typical standing deflection is 2 to 4 % of the radius.
TYRE_OVER_LOADED = 1.025


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
        pieces += damper(unit_, mechanism)
        if unit_.spring is not None:
            springs.append(coil_spring(unit_))
    for wheel in mechanism.wheels:
        pieces += _wheel(wheel)
    return SolidModel(_merged(pieces), tuple(springs))


def _merged(pieces: Iterable[PartSolids]) -> tuple[PartSolids, ...]:
    groups: dict[tuple[str, str, Material], list[Solid]] = {}
    for part in pieces:
        groups.setdefault((part.part, part.label, part.material), []).extend(part.solids)
    return tuple(PartSolids(*key, tuple(solids)) for key, solids in groups.items())


def _link(link: Link, mechanism: Mechanism) -> list[PartSolids]:
    first, second = link.ends
    along = unit(second.at - first.at)
    steered = {first.on, second.on} & {body.name for body in mechanism.bodies if body.motion is Motion.DRIVEN}
    paint = Material.STEERING if steered else Material.LINK
    heads = [
        joint_fitting(end, link.name, inward, link.diameter, paint, mechanism)
        for end, inward in ((first, along), (second, -along))
    ]
    length = float(norm(second.at - first.at))
    reach = [min(head.reach, 0.45 * length) for head in heads]
    tube = rod(first.at + reach[0] * along, second.at - reach[1] * along, 0.5 * link.diameter, 0.08)
    return [piece(link.name, paint, tube), *heads[0].pieces, *heads[1].pieces]


def _arm(arm: Arm, mechanism: Mechanism) -> list[PartSolids]:
    outer = outer_end(arm, mechanism)
    radius = 0.5 * arm.diameter
    pieces: list[PartSolids] = []
    legs: list[Array] = []
    stop = 0.0 if arm.ball is None else 1.2 * radius
    for pivot in arm.pivots:
        inward = unit(outer - pivot.at)
        head = joint_fitting(pivot, arm.name, inward, arm.diameter, Material.ARM, mechanism)
        pieces += head.pieces
        leg = np.array([pivot.at + head.reach * inward, outer - stop * inward])
        legs.append(leg)
    tubes: list[Solid] = [rod(leg[0], leg[1], radius, 0.08) for leg in legs]
    share = 0.3
    cross = [leg[0] + share * (leg[1] - leg[0]) for leg in legs]
    if norm(cross[1] - cross[0]) > 4 * radius:
        tubes.append(rod(cross[0], cross[1], 0.8 * radius, 0.0))
    if arm.ball is not None:
        inward = unit(0.5 * (arm.pivots[0].at + arm.pivots[1].at) - outer)
        pieces += joint_fitting(arm.ball, arm.name, inward, 1.25 * arm.diameter, Material.ARM, mechanism).pieces
    else:
        tubes.append(Ball(outer, 1.15 * radius))
        pieces += [piece for wheel in mechanism.wheels if wheel.on == arm.name for piece in _hub(wheel, outer, radius)]
    known = [*(pivot.at for pivot in arm.pivots), outer]
    for at in _loose_points(arm.name, known, mechanism):
        # A spring or damper bracket's post, from the nearest leg or the cross-tube.
        foot = min((nearest_on(line, at) for line in (*legs, np.array(cross))), key=lambda q: float(norm(q - at)))
        if norm(at - foot) > 2 * radius:
            tubes.append(rod(foot, at + 0.8 * radius * unit(foot - at), 0.6 * radius, 0.0))
    return [piece(arm.name, Material.ARM, *tubes), *pieces]


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
    inner = flange_of(wheel) + 42.0 * inboard_of(wheel)
    bars: list[Solid] = []
    for point in _loose_points(part, [], mechanism):
        at = _seat(part, point, mechanism)
        if norm(at - inner) < 20.0:
            continue
        knee = inner + 0.55 * (at - inner)
        bars += [rod(inner, at, 13.0), rod(inner, knee, 17.0)]
    return [piece(part, Material.CAST, *bars, Ball(inner, 26.0)), *_hub(wheel, inner, 26.0)]


def _seat(part: str, point: Array, mechanism: Mechanism) -> Array:
    """Where (3,) a part takes hold of the joint at one of its points: a ball stud's boss, else the point itself."""
    studs = [(arm.ball, 1.25 * arm.diameter) for arm in mechanism.arms if arm.ball is not None]
    studs += [(end, link.diameter) for link in mechanism.links for end in link.ends]
    for end, size in studs:
        held = end.on == part and norm(end.at - point) < 1.0
        if held and end.joint.kind is JointKind.BALL_JOINT:
            return end.at + BOSS * 0.5 * size * stud_axis(end, mechanism)
    return point


def _hub(wheel: Wheel, inner: Array, radius: float) -> list[PartSolids]:
    """Hub flange and spindle from the rim's disc to `inner`, with the brake disc that fits the rim."""
    inward, flange = inboard_of(wheel), flange_of(wheel)
    reach = float(norm(inner - flange))
    spindle = stack(flange, inward, (0.0, 68), (10, 68), (12, 40), (0.6 * reach, 36), (reach, radius + 2))
    disc = 0.36 * wheel.rim_diameter
    brake = ring(flange + 24.0 * inward, inward, 11.0, 0.5 * disc, disc, 0.05)
    hat = stack(flange, inward, (11.0, 0.53 * disc), (14.0, 0.56 * disc), (26.0, 0.56 * disc))
    return [piece(wheel.on, Material.CAST, spindle), piece(wheel.on, Material.BALL, brake, hat, label=wheel.name)]


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
        return [piece(part, Material.STEERING, bar)]
    at, axis = shaft
    up = axis if axis[2] >= 0.0 else -axis
    arms = [Tube(np.array([at, point]), 13.0) for point in points if norm(point - at) > 1.0]
    # A driven crank hangs below its gear, any other turns in a plain bracket.
    gear = [(24, 26), (30, 38), (95, 38), (100, 30), (112, 30)] if body.screw is not None else [(22, 20), (60, 20)]
    return [
        piece(part, Material.STEERING, rod(at - 20 * up, at + 20 * up, 22.0), *arms),
        piece(FRAME, Material.CAST, stack(at, up, *gear)),
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
    housing = rod(middle - 0.3 * length * along, middle + 0.3 * length * along, 24.0)
    pinion = middle + 0.2 * length * along
    up = across(np.array([0.0, 0.0, 1.0]), along)
    tower = rod(pinion - 25 * unit(up), pinion + 62 * unit(up), 22.0)
    return [
        piece(part, Material.BALL, Tube(np.array([start, stop]), 12.0)),
        piece(FRAME, Material.CAST, housing, tower),
    ]


def _beam(beam: Beam, mechanism: Mechanism) -> list[PartSolids]:
    """An axle: tube, hubs, centre housing with its cover, pinion nose and flange."""
    line = beam_line(beam, mechanism)
    radius = 0.5 * beam.tube_diameter
    wheels = [wheel for wheel in mechanism.wheels if wheel.on == beam.name]
    pieces = [piece for wheel in wheels for piece in _hub(wheel, flange_of(wheel) + 40.0 * inboard_of(wheel), radius)]
    solids: list[Solid] = []
    if len(line) == 2:
        solids.append(Tube(line, radius))
    across_car = unit(line[-1] - line[0]) if len(line) == 2 else np.array([0.0, 1.0, 0.0])
    if beam.housing is not None:
        size = 0.5 * beam.housing_diameter
        bulb = stack(
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
        cover = stack(
            beam.housing,
            back,
            (0.62 * size, 1.0 * size),
            (0.78 * size, 1.0 * size),
            (0.8 * size, 0.86 * size),
            (1.02 * size, 0.7 * size),
            (1.12 * size, 0.42 * size),
            (1.14 * size, 0.1 * size),
        )
        turn = plane_axes(back, across_car)
        bolts = [
            hexagon(beam.housing + 0.8 * size * back + 0.93 * size * (turn @ [np.cos(a), np.sin(a), 0.0]), back, 11, 9)
            for a in np.arange(10) * np.pi / 5
        ]
        solids += [bulb, cover]
        pieces.append(piece(beam.name, Material.FASTENER, *bolts))
        if beam.pinion is not None:
            reach = float(norm(beam.pinion - beam.housing))
            solids.append(
                stack(
                    beam.housing,
                    forward,
                    (0.5 * size, 0.75 * size),
                    (0.62 * reach, 0.42 * size),
                    (reach - 26, 0.34 * size),
                )
            )
            flange = stack(beam.housing, forward, (reach - 27, 20), (reach - 10, 20), (reach - 9, 48), (reach, 48))
            pieces.append(piece(beam.name, Material.FASTENER, flange))
    return [piece(beam.name, Material.AXLE, *solids), *pieces]


def _wheel(wheel: Wheel) -> list[PartSolids]:
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
    return [piece(FRAME, Material.FRAME, *solids, label=shape.name)]
