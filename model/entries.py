"""What each kind of entry in a scene adds to a mechanism: rows for the solver, members to measure and draw."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from model import mechanism as made
from model import scene as written
from model.joints import JointKind
from model.mechanism import FRAME, Distance, Drive, End, Offset
from model.scenery import FrameShape
from model.spatial import Array, norm, square_to, unit
from model.workbench import SAME_PLACE, Workbench, is_end_link

# Sizes for parts whose size the scene leaves open; they are only drawn. Common practice, no source.
LINK_DIAMETER, ARM_DIAMETER, AXLE_TUBE, AXLE_HOUSING, DAMPER_BODY = 32.0, 28.0, 76.0, 230.0, 50.0
SPRING_OVER_BODY, SPRING_WIRE, RIM_OVER_TYRE = 24.0, 11.0, 0.66

# From a kart's wheel to a large truck's, and then some: a wheel outside is a file in the other unit. Common practice.
SMALLEST_WHEEL, LARGEST_WHEEL = 90.0, 1000.0
# More than any vehicle has, mm, and a wheel's travel in wheel radii: what is more is in the other unit.
LEAST_BOLT_ANGLE = 30.0  # degrees; no joint tilts by the other 60
LONGEST_LINK, LONGEST_DAMPER, MOST_TRAVEL = 4000.0, 2000.0, 6.0


def wheel(bench: Workbench, name: str, entry: written.Wheel, side: str | None) -> made.Wheel:
    """A wheel: a row and a drive for its height."""
    full, where = bench.names.sided(name, side), f'[wheel."{name}"]'
    scene = bench.scene
    on = bench.names.part(f"{where} on", entry.on, side, [*scene.knuckle, *scene.axle, *scene.arm])
    centre = bench.place(f"{where} centre", entry.centre, on, side)
    at_side = "right" if centre[1] < 0 else "left"
    if np.isfinite(centre).all() and any(drive.name == at_side for drive in bench.drives):
        bench.names.complain(where, f"is a second wheel on the {at_side}; a scene has one axle's wheels.")
    else:
        up, number = np.array([0.0, 0.0, 1.0]), len(bench.drives)
        bench.rows.append(Offset(full, up, bench.anchor(FRAME, centre), bench.anchor(on, centre), number))
        bench.drives.append(Drive(at_side, -scene.travel.droop * bench.mm, scene.travel.bump * bench.mm))
    # Positive toe turns the front in, positive camber leans the top out: mirror images on the two sides.
    hand = 1.0 if at_side == "left" else -1.0
    toe, camber = (
        np.radians(bench.on_side(f"{where} {key}", getattr(entry, key), side)) * hand for key in ("toe", "camber")
    )
    axis = np.array([np.sin(toe) * np.cos(camber), np.cos(toe) * np.cos(camber), -np.sin(camber)])
    rim = entry.rim_diameter or 2.0 * RIM_OVER_TYRE * entry.loaded_radius
    radius = entry.loaded_radius * bench.mm
    if not SMALLEST_WHEEL <= radius <= LARGEST_WHEEL:
        bench.names.complain(
            where,
            f"has a loaded_radius of {entry.loaded_radius:g} {bench.scene.units}, expected {SMALLEST_WHEEL:g} to "
            f'{LARGEST_WHEEL:g} mm; check it, and units = "{bench.scene.units}" at the top of the file.',
        )
    for key in ("bump", "droop"):
        bench.within(f"[travel] {key}", "a wheel travel", getattr(scene.travel, key) * bench.mm, MOST_TRAVEL * radius)
    if rim >= 2.0 * entry.loaded_radius:
        bench.names.complain(where, "has a rim_diameter as large as its tyre; expected less than 2 × loaded_radius.")
    tread = entry.tread_width
    if tread is not None and tread > entry.width:
        bench.names.complain(where, "has a tread_width larger than its width; the tread is the narrower of the two.")
    return made.Wheel(
        name=full,
        side=at_side,
        on=on,
        centre=centre,
        axis=axis,
        loaded_radius=radius,
        width=entry.width * bench.mm,
        rim_diameter=rim * bench.mm,
        tread_width=None if tread is None else tread * bench.mm,
        growth=(entry.growth or 0.0) * bench.mm,
        driven=entry.driven,
        drive_on_carrier=_drive_on_carrier(bench, entry),
        brake_on_carrier=entry.brake_torque == "carrier",
        tyre_rate=None if entry.tyre_rate is None else entry.tyre_rate * bench.scene.units.rate,
    )


def _drive_on_carrier(bench: Workbench, entry: written.Wheel) -> bool:
    """Whether the torque that turns a wheel acts on its carrier: as the scene says, or on an axle with a housing."""
    if entry.drive_torque is not None:
        return entry.drive_torque == "carrier"
    knuckle = bench.scene.knuckle.get(entry.on)
    axle = bench.scene.axle.get(entry.on if knuckle is None or knuckle.on is None else knuckle.on)
    return axle is not None and axle.housing is not None


def link(bench: Workbench, name: str, entry: written.Link, side: str | None) -> made.Link:
    """A two-ended link: one distance."""
    full, where, known = bench.names.sided(name, side), f'[link."{name}"]', len(bench.names.complaints)
    start = bench.names.point(f"{where} from.point", entry.from_.point, side)[1]
    stop = bench.names.point(f"{where} to.point", entry.to.point, side)[1]
    bench.apart(where, start, stop, "both ends")
    bench.within(where, "a length between its points", float(norm(stop - start)), LONGEST_LINK)
    along = unit(stop - start) if np.linalg.norm(stop - start) > SAME_PLACE else np.array([1.0, 0.0, 0.0])
    ends = []
    for key, mount in (("from", entry.from_), ("to", entry.to)):
        inline = _kind(bench, mount.joint) == JointKind.INLINE_BALL_JOINT
        holders = [*bench.holders, *bench.scene.bar]
        ends.append(bench.end(f"{where} {key}", mount, side, holders, along if inline else None))
    first, second = _told_apart(ends[0], ends[1])
    if first.on == second.on and len(bench.names.complaints) == known:
        bench.names.complain(where, f'has both ends on "{first.on}", where it does nothing; check its `on` keys.')
    from_arm_to_arm = {bench.names.base(end.on) for end in (first, second)} <= bench.scene.bar.keys()
    if not bench.names.complaints and not from_arm_to_arm:
        for key, end in (("from", first), ("to", second)):
            _check_bolt(bench, f"{where} {key}", end, along)
    if not is_end_link(bench.scene, entry):
        bench.rows.append(Distance(full, bench.anchor(first.on, first.at), bench.anchor(second.on, second.at)))
    if entry.clock != 0.0 and not _can_be_clocked(first, second):
        kinds = " and ".join(f"{end.joint.kind}" for end in (first, second))
        bench.names.complain(
            where,
            f"has a clock of {entry.clock:g} degrees, but its ends are {kinds}: only a rod end or ball joint that is "
            "screwed in can be turned against another head; leave clock out or correct the joints.",
        )
    diameter = (entry.diameter or LINK_DIAMETER / bench.mm) * bench.mm
    # Seen in the mirror, clockwise is anticlockwise.
    clock = float(np.radians(-entry.clock if side == "right" else entry.clock))
    return made.Link(full, (first, second), clock, diameter)


def _check_bolt(bench: Workbench, where: str, end: End, along: Array) -> None:
    """Complain of a bolt that lies along its bar, as a copied direction may."""
    if end.joint.kind in (JointKind.ROD_END, JointKind.RUBBER_BUSH, JointKind.POLY_BUSH, JointKind.PLAIN_SLEEVE):
        off = np.degrees(np.arccos(np.clip(abs(end.bolt @ along), 0.0, 1.0)))
        if off < LEAST_BOLT_ANGLE:
            bench.names.complain(
                where,
                f"has a bolt that lies along the link, {off:.0f}° from it, where no eye can sit; expected one that "
                'crosses it: another of "across", "along" and "up", or a vector.',
            )


def arm(bench: Workbench, name: str, entry: written.Arm, side: str | None) -> made.Arm:
    """A control arm: two distances to its ball joint, or a hinge where more sits on it."""
    full, where = bench.names.sided(name, side), f'[arm."{name}"]'
    on = bench.names.part(f"{where} on", entry.on, side, bench.holders)
    places = [bench.names.point(f"{where} pivots", pivot.point, side)[1] for pivot in entry.pivots]
    bench.apart(where, places[0], places[1], "both pivots")
    apart = places[1] - places[0]
    axis = unit(apart) if np.linalg.norm(apart) > SAME_PLACE else np.array([1.0, 0.0, 0.0])
    pivots = []
    for number, pivot in enumerate(entry.pivots):
        mount = written.Mount(point=pivot.point, on=entry.on, joint=pivot.joint, bolt=pivot.bolt)
        end = bench.end(f"{where} pivots[{number}]", mount, side, bench.holders, axis)
        pivots.append(replace(end, place=_pivot_place(apart if number else -apart)))
    carries = name in bench.carrying
    ball = None
    if entry.ball is not None:
        ball = bench.end(f"{where} ball", entry.ball, side, bench.holders, np.array([0.0, 0.0, 1.0]))
        off_axis = np.linalg.norm(np.cross(ball.at - places[0], axis))
        if off_axis < SAME_PLACE:
            bench.names.complain(where, "has its ball joint on the line of its pivots; move it off that line.")
    if carries:
        bench.hinge(full, on, full, (places[0], places[1]))
        if ball is not None:
            bench.together(full, full, ball.on, ball.at, np.eye(3))
    elif ball is not None:
        bench.rows += [Distance(full, bench.anchor(on, at), bench.anchor(ball.on, ball.at)) for at in places]
    diameter = (entry.diameter or ARM_DIAMETER / bench.mm) * bench.mm
    return made.Arm(full, (pivots[0], pivots[1]), on, ball, carries, diameter)


def kingpin(bench: Workbench, name: str, entry: written.Knuckle, side: str | None) -> None:
    """A knuckle that turns on a steered axle about the line of its two joints."""
    if entry.on is None or entry.kingpin is None:
        return
    full, where = bench.names.sided(name, side), f'[knuckle."{name}"]'
    on = bench.names.part(f"{where} on", entry.on, side, bench.holders)
    places = [bench.names.point(f"{where} kingpin", pivot.point, side)[1] for pivot in entry.kingpin]
    bench.apart(where, places[0], places[1], "both joints of its kingpin")
    apart = places[1] - places[0]
    if np.linalg.norm(apart) < SAME_PLACE:
        return
    bench.hinge(full, on, full, (places[0], places[1]))
    for number, pivot in enumerate(entry.kingpin):
        mount = written.Mount(point=pivot.point, on=entry.on, joint=pivot.joint, bolt=pivot.bolt)
        end = bench.end(f"{where} kingpin[{number}]", mount, side, bench.holders, unit(apart))
        bench.pins.append(made.Pin(full, replace(end, place=_pivot_place(apart if number else -apart, "kingpin"))))


def coilover(bench: Workbench, name: str, entry: written.Coilover, side: str | None) -> made.Coilover:
    """A coilover: measured, holds nothing."""
    full, where = bench.names.sided(name, side), f'[coilover."{name}"]'
    holders = [*bench.holders, *bench.scene.link]
    top = bench.end(f"{where} top", entry.top, side, holders, None)
    bottom = bench.end(f"{where} bottom", entry.bottom, side, holders, None)
    top, bottom = _told_apart(top, bottom)
    bench.apart(where, top.at, bottom.at, "both eyes")
    return _damper(bench, full, where, entry, top, bottom, side, strut=False)


def strut(bench: Workbench, name: str, entry: written.Strut, side: str | None) -> made.Coilover:
    """A strut: two rows that keep its line through the top mount."""
    full, where = bench.names.sided(name, side), f'[strut."{name}"]'
    on = bench.names.part(f"{where} on", entry.on, side, [*bench.scene.knuckle, *bench.scene.axle, *bench.scene.arm])
    foot = bench.place(f"{where} foot", entry.foot, on, side)
    head = bench.names.point(f"{where} top.point", entry.top.point, side)[1]
    bench.apart(where, head, foot, "its top mount and its foot")
    axis = unit(head - foot) if np.linalg.norm(head - foot) > SAME_PLACE else np.array([0.0, 0.0, 1.0])
    top = bench.end(f"{where} top", entry.top, side, bench.holders, axis)
    # The foot is no joint: the strut is one with the knuckle there.
    bottom = End("at its foot", entry.foot, foot, on, bench.names.joint(where, JointKind.PLAIN_SLEEVE), axis)
    square = square_to(axis)
    for direction in (square, np.cross(axis, square)):
        bench.rows.append(Offset(full, direction, bench.anchor(on, foot), bench.anchor(top.on, top.at)))
    return _damper(bench, full, where, entry, top, bottom, side, strut=True)


def _damper(
    bench: Workbench,
    full: str,
    where: str,
    entry: written.Coilover | written.Strut,
    top: End,
    bottom: End,
    side: str | None,
    *,
    strut: bool,
) -> made.Coilover:
    compressed, extended = entry.compressed * bench.mm, entry.extended * bench.mm
    bench.within(where, "an extended length", extended, LONGEST_DAMPER)
    if compressed >= extended:
        bench.names.complain(
            where,
            f"is longer compressed ({entry.compressed:g}) than extended ({entry.extended:g}): full droop lies above "
            "full bump; swap the two.",
        )
    length = float(np.linalg.norm(top.at - bottom.at))
    if np.isfinite(length) and not compressed <= length <= extended:
        bench.names.complain(
            where,
            f"is {length / bench.mm:.4g} {bench.scene.units} long at ride height by its points, outside its compressed "
            f"{entry.compressed:g} to extended {entry.extended:g}; correct the points or the lengths.",
        )
    stop = None if entry.bump_stop is None else entry.bump_stop * bench.mm
    if stop is not None and stop >= extended - compressed:
        bench.names.complain(where, f"has a bump_stop ({entry.bump_stop:g}) as long as its stroke; shorten it.")
    body = (entry.body_diameter or DAMPER_BODY / bench.mm) * bench.mm
    return made.Coilover(
        name=full,
        top=top,
        bottom=bottom,
        compressed=compressed,
        extended=extended,
        spring=None if entry.spring is None else _spring(bench, f"{where} spring", entry.spring, body, side),
        bump_stop=stop,
        body_diameter=body,
        strut=strut,
    )


def _spring(bench: Workbench, where: str, entry: written.Spring, body: float, side: str | None) -> made.Spring:
    preload = bench.on_side(f"{where} preload", entry.preload, side)
    solid = None if entry.solid_length is None else entry.solid_length * bench.mm
    if entry.solid_length is not None and entry.solid_length >= entry.free_length:
        bench.names.complain(
            where,
            f"is as long solid ({entry.solid_length:g}) as free ({entry.free_length:g}); swap or correct them.",
        )
    bench.within(where, "a free_length", entry.free_length * bench.mm, LONGEST_DAMPER)
    if preload >= entry.free_length:
        bench.names.complain(where, f"has a preload ({preload:g}) as long as the spring; it is a length.")
    return made.Spring(
        rate=entry.rate * bench.scene.units.rate,
        free_length=entry.free_length * bench.mm,
        preload=preload * bench.mm,
        solid_length=solid,
        outside_diameter=entry.outside_diameter * bench.mm if entry.outside_diameter else body + 2 * SPRING_OVER_BODY,
        wire_diameter=entry.wire_diameter * bench.mm if entry.wire_diameter else SPRING_WIRE,
    )


def beam(bench: Workbench, name: str, entry: written.Axle) -> made.Beam:
    """How an axle looks."""
    where = f'[axle."{name}"]'
    housing = None if entry.housing is None else bench.place(f"{where} housing", entry.housing, name, None)
    pinion = None if entry.pinion is None else bench.place(f"{where} pinion", entry.pinion, name, None)
    return made.Beam(
        name,
        entry.tube_diameter * bench.mm if entry.tube_diameter else AXLE_TUBE,
        housing,
        entry.housing_diameter * bench.mm if entry.housing_diameter else AXLE_HOUSING,
        pinion,
    )


def shape(bench: Workbench, name: str, entry: FrameShape, side: str | None) -> made.FrameShape:
    """A frame shape for context."""
    full, where = bench.names.sided(name, side), f'[frame."{name}"]'
    given = [key for key in ("path", "centre", "mesh") if getattr(entry, key) is not None]
    if len(given) != 1:
        bench.names.complain(where, "needs exactly one of path (points), centre (of a box) and mesh (a file).")
    path = None
    if entry.path is not None:
        path = np.array([bench.place(f"{where} path", point, FRAME, side) for point in entry.path])
        if (entry.diameter is None) == (entry.section is None):
            bench.names.complain(where, "has a path and needs either diameter or section = [width, height].")
    centre = None
    if entry.centre is not None:
        centre = bench.place(f"{where} centre", entry.centre, FRAME, side)
        if entry.size is None:
            bench.names.complain(where, "has a centre and needs size = [length, width, height].")
    section, size = entry.section, entry.size
    placed = bench.placed(entry.place)
    return made.FrameShape(
        name=full,
        path=path,
        diameter=entry.diameter * bench.mm if entry.diameter else None,
        section=(section[0] * bench.mm, section[1] * bench.mm) if section else None,
        centre=centre,
        size=(size[0] * bench.mm, size[1] * bench.mm, size[2] * bench.mm) if size else None,
        mesh=entry.mesh,
        mesh_scale=entry.mesh_units.mm,
        mesh_open=entry.open,
        mirrored=side == "right",
        rotation=placed[0],
        move=placed[1],
    )


def _kind(bench: Workbench, joint: str) -> str:
    table = bench.scene.joint.get(joint)
    return joint if table is None else table.kind


def _can_be_clocked(first: End, second: End) -> bool:
    """Whether a link has two heads of which one at least is screwed in."""
    kinds = {first.joint.kind, second.joint.kind}
    return JointKind.INLINE_BALL_JOINT not in kinds and bool(kinds & {JointKind.ROD_END, JointKind.BALL_JOINT})


def _told_apart(first: End, second: End) -> tuple[End, End]:
    """Two ends of one member: where both sit on the same part their points tell them apart."""
    if first.place != second.place:
        return first, second
    return replace(first, place=f"at {first.point}"), replace(second, place=f"at {second.point}")


def _pivot_place(away: Array, what: str = "pivot") -> str:
    """Which of a part's two pivots this is, by the direction (3,) in which it lies from the other."""
    words = (("front", "rear"), ("left", "right"), ("upper", "lower"))
    longest = int(np.abs(away).argmax())
    return f"{words[longest][0 if away[longest] > 0 else 1]} {what}"
