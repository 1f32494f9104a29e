"""What hangs on a suspension and does not hold it: anti-roll bars, brake hoses, driveshafts."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from model import mechanism as made
from model import scene as written
from model.fields import DirectionValue
from model.joints import SHAFT_KINDS, JointKind
from model.mechanism import Fixing, ShaftJoint
from model.naming import SIDES
from model.spatial import Array, unit
from model.workbench import SAME_PLACE, Workbench, near

# Sizes for parts whose size the scene leaves open; they are only drawn. Common practice, no source.
BAR_DIAMETER, SHAFT_DIAMETER = 22.0, 60.0


def bar(bench: Workbench, name: str, entry: written.Bar) -> made.Bar:
    """An anti-roll bar whose arms turn about the line of its bushes."""
    where = f'[bar."{name}"]'
    on = bench.names.part(f"{where} on", entry.on, None, bench.holders)
    places = [bench.names.point(f"{where} pivots", pivot.point, None)[1] for pivot in entry.pivots]
    bench.apart(where, places[0], places[1], "both bushes")
    apart = places[1] - places[0]
    axis = unit(apart) if np.linalg.norm(apart) > SAME_PLACE else np.array([0.0, -1.0, 0.0])
    pivots, arms, ends = [], [], []
    for number, (pivot, end, side) in enumerate(zip(entry.pivots, entry.ends, SIDES, strict=True)):
        mount = written.Mount(point=pivot.point, on=entry.on, joint=pivot.joint, bolt=pivot.bolt)
        bush = bench.end(f"{where} pivots[{number}]", mount, None, bench.holders, axis)
        pivots.append(replace(bush, place=f"at its {side} bush"))
        arms.append(bench.names.sided(name, side))
        ends.append(bench.place(f"{where} ends[{number}]", end, arms[-1], None))
        if np.linalg.norm(np.cross(ends[-1] - places[0], axis)) < SAME_PLACE:
            bench.names.complain(where, "has the end of an arm on the line of its bushes; move it off that line.")
    diameter = (entry.diameter or BAR_DIAMETER / bench.mm) * bench.mm
    return made.Bar(name, on, (pivots[0], pivots[1]), (arms[0], arms[1]), (ends[0], ends[1]), diameter)


def check_end_links(bench: Workbench) -> None:
    """Complain of a bar's arm that no end link moves, or more than one."""
    for arm, links in bench.bar_arms.items():
        side, _, name = arm.partition(" ")
        where = f'[bar."{name}"]'
        if not links:
            bench.names.complain(
                where, f'has no end link on its {side} arm; add a link with an end that is on = "{name}".'
            )
        elif len(links) > 1:
            bench.names.complain(where, f"has {len(links)} end links on its {side} arm, expected one; take one away.")


def hose(bench: Workbench, name: str, entry: written.Hose, side: str | None) -> made.Hose:
    """A hose between two fixings."""
    full, where = bench.names.sided(name, side), f'[hose."{name}"]'
    ends = []
    for key, end in (("from", entry.from_), ("to", entry.to)):
        on = bench.names.part(f"{where} {key}.on", end.on, side, [*bench.holders, *bench.scene.link])
        at = bench.place(f"{where} {key}.point", end.point, on, side)
        ends.append(Fixing(f"at {near(on, side)}", on, at))
    length, apart = entry.length * bench.mm, float(np.linalg.norm(ends[0].at - ends[1].at))
    if apart >= length:
        bench.names.complain(
            where,
            f"is {entry.length:g} {bench.scene.units} long but its fixings are {apart / bench.mm:.4g} apart at ride "
            "height already; correct the length or the points.",
        )
    return made.Hose(full, (ends[0], ends[1]), length)


def shaft(bench: Workbench, name: str, entry: written.Shaft, side: str | None) -> made.Shaft:
    """A driveshaft of one or two pieces."""
    full, where = bench.names.sided(name, side), f'[shaft."{name}"]'
    joints = [_shaft_joint(bench, f"{where} from", entry.from_, side, entry.from_.axis)]
    if entry.carrier is not None:
        joints.append(_shaft_joint(bench, f"{where} carrier", entry.carrier, side, None))
    joints.append(_shaft_joint(bench, f"{where} to", entry.to, side, entry.to.axis))
    for first, second in pairwise(joints):
        bench.apart(where, first.at, second.at, "two of its joints")
    slip = entry.slip
    return made.Shaft(
        name=full,
        joints=tuple(joints),
        phase=float(np.radians(entry.phase)),
        speed=entry.speed,
        slip=None if slip is None else _slip(bench, slip),
        diameter=(entry.diameter or SHAFT_DIAMETER / bench.mm) * bench.mm,
    )


def _shaft_joint(
    bench: Workbench,
    where: str,
    entry: written.ShaftEnd | written.Carrier,
    side: str | None,
    axis: DirectionValue | None,
) -> ShaftJoint:
    on = bench.names.part(f"{where}.on", entry.on, side, bench.holders)
    at = bench.place(f"{where}.point", entry.point, on, side)
    joint = bench.names.joint(f"{where}.joint", entry.joint)
    if joint.kind not in SHAFT_KINDS:
        known = " or ".join(f'"{kind}"' for kind in JointKind if kind in SHAFT_KINDS)
        bench.names.complain(f"{where}.joint", f"is a {joint.kind}, which no shaft turns through; expected {known}.")
    direction: Array | None = None if axis is None else bench.names.direction(f"{where}.axis", axis, side)
    return ShaftJoint(f"at {near(on, side)}", on, at, joint, direction)


def _slip(bench: Workbench, slip: written.Slip) -> made.Slip:
    def scaled(value: float | None) -> float | None:
        return None if value is None else value * bench.mm

    return made.Slip(slip.room_in * bench.mm, scaled(slip.room_out), scaled(slip.engaged), scaled(slip.diameter))
