"""A scene becomes a mechanism: names resolved, halves mirrored, units left behind, freedoms counted."""

from __future__ import annotations

from model import adjustentries, attachments, entries, loadentries, steering, surroundings
from model import mechanism as made
from model.errors import SceneError
from model.mechanism import FRAME, Mechanism
from model.mobility import check_freedoms, check_held, check_turning
from model.preload import tightened
from model.scene import Scene
from model.softening import soften
from model.strays import check_points
from model.workbench import SAME_PLACE, Workbench, sides


def assemble(scene: Scene) -> Mechanism:
    """Build the mechanism of a scene.

    Raises:
        SceneError: with a sentence for each name that leads nowhere, each part that is loose, each joint that has to
            give and has no rates.

    """
    mechanism = _build(scene)
    check_freedoms(mechanism)
    mechanism = steering.steered_to_the_left(mechanism)
    check_turning(mechanism)
    check_held(mechanism)
    return tightened(soften(mechanism, scene.units, scene.joint))


def _build(scene: Scene) -> Mechanism:
    """Build every entry, or raise with all complaints."""
    bench = Workbench(scene)
    check_points(bench)
    wheels = [entries.wheel(bench, name, entry, side) for name, entry in scene.wheel.items() for side in sides(entry)]
    if scene.steering is not None:
        steering.steering(bench, scene.steering)
    for name, knuckle in scene.knuckle.items():
        for side in sides(knuckle):
            entries.kingpin(bench, name, knuckle, side)
    arms = [entries.arm(bench, name, entry, side) for name, entry in scene.arm.items() for side in sides(entry)]
    links = [entries.link(bench, name, entry, side) for name, entry in scene.link.items() for side in sides(entry)]
    struts = [entries.strut(bench, name, entry, side) for name, entry in scene.strut.items() for side in sides(entry)]
    units = [
        entries.coilover(bench, name, entry, side) for name, entry in scene.coilover.items() for side in sides(entry)
    ]
    bars = [attachments.bar(bench, name, entry) for name, entry in scene.bar.items()]
    attachments.check_end_links(bench, bars, links)
    attachments.check_on_links(bench, links, units)
    hoses = [attachments.hose(bench, name, entry, side) for name, entry in scene.hose.items() for side in sides(entry)]
    shafts = [
        attachments.shaft(bench, name, entry, side) for name, entry in scene.shaft.items() for side in sides(entry)
    ]
    beams = [entries.beam(bench, name, entry) for name, entry in scene.axle.items()]
    shapes = [entries.shape(bench, name, entry, side) for name, entry in scene.frame.items() for side in sides(entry)]
    named = (wheels, arms, links, struts, units, bars, hoses, shafts, beams, shapes)
    labels = {*bench.bodies, *(entry.name for table in named for entry in table)}
    labels |= {f"{unit.name} {half}" for unit in (*struts, *units) for half in ("shaft", "body", "spring")}
    brakes = [
        surroundings.brake(bench, name, entry, side) for name, entry in scene.brake.items() for side in sides(entry)
    ]
    labels |= {entry.name for entry in brakes}
    straps = [
        surroundings.strap(bench, name, entry, side) for name, entry in scene.strap.items() for side in sides(entry)
    ]
    own = [
        surroundings.own_mesh(bench, name, entry, side, labels)
        for name, entry in scene.mesh.items()
        for side in sides(entry)
    ]
    gaps = [
        surroundings.gap(bench, name, entry, side, labels) for name, entry in scene.gap.items() for side in sides(entry)
    ]
    adjusters = adjustentries.adjusters(bench, links, arms, (*struts, *units), len(wheels))
    cases = [loadentries.case(bench, name, entry) for name, entry in scene.case.items()]
    _check_halves(bench, wheels)
    for name in scene.points:
        if not {name, f"left {name}", f"right {name}"} & bench.points.keys():
            bench.points[name] = (FRAME, bench.names.point(f"[points] {name}", name, None)[1])
    if bench.names.complaints:
        raise SceneError(list(dict.fromkeys(bench.names.complaints)))
    return Mechanism(
        title=scene.title,
        bodies=tuple(bench.bodies.values()),
        rows=tuple(bench.rows),
        drives=tuple(bench.drives),
        points=tuple((name, holder, at) for name, (holder, at) in bench.points.items()),
        links=tuple(links),
        arms=tuple(arms),
        coilovers=(*struts, *units),
        wheels=tuple(wheels),
        beams=tuple(beams),
        pins=tuple(bench.pins),
        bars=tuple(bars),
        hoses=tuple(hoses),
        shafts=tuple(shafts),
        brakes=tuple(brakes),
        straps=tuple(straps),
        own_meshes=tuple(own),
        gaps=tuple(gaps),
        wanted=surroundings.wanted_gaps(bench, scene.wanted),
        weights=loadentries.weights(bench, scene.weights),
        cases=tuple(cases),
        adjusters=adjusters,
        shapes=tuple(shapes),
    )


def _check_halves(bench: Workbench, wheels: list[made.Wheel]) -> None:
    """Complain of a half that is written once where there are two: an axle's other wheel, a knuckle between arms."""
    scene = bench.scene
    for name in scene.axle:
        turning = {knuckle for knuckle, entry in scene.knuckle.items() if entry.on == name}
        carried = [wheel for wheel in wheels if {wheel.on, bench.names.base(wheel.on)} & {name, *turning}]
        if len(carried) == 1:
            bench.names.complain(
                f'[axle."{name}"]',
                f'carries "{carried[0].name}" and no other wheel; add mirror = true to it, or the other wheel.',
            )
    ends = [end for link in scene.link.values() if link.mirror for end in (link.from_, link.to)]
    ends += [arm.ball for arm in scene.arm.values() if arm.mirror and arm.ball is not None]
    held = {end.on for end in ends} | {strut.on for strut in scene.strut.values() if strut.mirror}
    held |= {wheel.on for wheel in scene.wheel.values() if wheel.mirror}
    for name, knuckle in scene.knuckle.items():
        # A single wheel in the middle of the vehicle may hang between mirrored arms.
        off = any(wheel.on == name and abs(wheel.centre[1]) > SAME_PLACE for wheel in wheels)
        if name in held and off and not knuckle.mirror:
            bench.names.complain(
                f'[knuckle."{name}"]', "is one part, and what names it is mirrored; add mirror = true to it."
            )
