"""What hangs on a suspension and does not hold it: anti-roll bars, brake hoses, driveshafts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from model import mechanism as made
from model import scene as written
from model.fields import DirectionValue
from model.joints import SHAFT_KINDS, JointKind
from model.mechanism import ShaftJoint
from model.naming import SIDES
from model.scenery import Hose
from model.spatial import Array, dot, norm, unit
from model.workbench import SAME_PLACE, Workbench, near

# Sizes for parts whose size the scene leaves open; they are only drawn. Common practice, no source.
BAR_DIAMETER, SHAFT_DIAMETER = 22.0, 60.0
# Cosine of 89°: no joint turns that far bent, so that an axis so near square to its shaft is a wrong one.
SQUARE = float(np.cos(np.radians(89.0)))


def bar(bench: Workbench, name: str, entry: written.Bar) -> made.Bar:
    """An anti-roll bar whose arms turn about the line of its bushes."""
    where = f'[bar."{name}"]'
    on = bench.names.part(f"{where} on", entry.on, None, bench.holders)
    places = [bench.names.point(f"{where} pivots", pivot.point, None)[1] for pivot in entry.pivots]
    bench.apart(where, places[0], places[1], "both bushes")
    tips = [bench.names.point(f"{where} ends", end, None)[1] for end in entry.ends]
    bench.apart(where, tips[0], tips[1], "the ends of both arms")
    for what, pair in (("pivots", places), ("ends", tips)):
        if pair[0][1] < pair[1][1] - SAME_PLACE:
            bench.names.complain(where, f"has its right one first in {what}; write the left one first.")
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
    rate = None if entry.rate is None else entry.rate * bench.scene.units.turn_rate
    return made.Bar(
        name=name,
        on=on,
        pivots=(pivots[0], pivots[1]),
        arms=(arms[0], arms[1]),
        ends=(ends[0], ends[1]),
        diameter=diameter,
        rate=rate,
        measured=entry.diameter is not None,
    )


# More than any vehicle has, mm: what is longer is in the other unit. Common practice, no source.
LONGEST_HOSE, LONGEST_SLIP = 2000.0, 600.0


def check_end_links(bench: Workbench, bars: Sequence[made.Bar], links: Sequence[made.Link]) -> None:
    """Complain of a bar's arm that not exactly one end link moves, or one that does not move it."""
    if bench.names.complaints:  # a name that leads nowhere stands for the frame: what follows from it is no news
        return
    for bar in bars:
        for side, arm in zip(SIDES, bar.arms, strict=True):
            mine = [link for link in links if arm in (link.ends[0].on, link.ends[1].on)]
            fault = _end_link_fault(bench, bar, arm, mine[0]) if len(mine) == 1 else None
            if not mine:
                fault = f'has no end link on its {side} arm; add a link with an end that is on = "{bar.name}".'
            elif len(mine) > 1:
                fault = f"has {len(mine)} end links on its {side} arm, expected one; take one away."
            if fault is not None:
                bench.names.complain(f'[bar."{bar.name}"]', fault)


def _end_link_fault(bench: Workbench, bar: made.Bar, arm: str, link: made.Link) -> str | None:
    """What keeps the only end link of an arm from moving it, if anything does."""
    far = link.far_end(arm)
    near_end = link.ends[0] if far is link.ends[1] else link.ends[1]
    apart = float(norm(near_end.at - bar.ends[bar.arms.index(arm)]))
    if apart > SAME_PLACE:
        unit_of_length = bench.scene.units
        return (
            f'has an end link "{link.name}" whose point "{near_end.point}" is {apart / bench.mm:.4g} {unit_of_length} '
            "from the end of its arm; name the same point in ends and in the link."
        )
    if far.on in bench.bar_arms:
        return f'has an end link "{link.name}" from arm to arm; put its other end on the part that goes up and down.'
    if far.on == bar.on:
        return (
            f'has an end link "{link.name}" to the "{bar.on}", to which it is bolted itself, so that nothing moves its '
            "arm; put that end on another part."
        )
    pivot, other = (bush.at for bush in bar.pivots)
    if np.linalg.norm(np.cross(far.at - pivot, other - pivot)) < SAME_PLACE * np.linalg.norm(other - pivot):
        return f'has an end link "{link.name}" that ends on the line of its bushes; move it off that line.'
    return None


# How far, in mm, a coilover's eye may stand off the line of the link that it is on: what a tape is off by under a car
# (common practice, no source).
OFF_LINE = 3.0


def check_on_links(bench: Workbench, links: Sequence[made.Link], units: Sequence[made.Coilover]) -> None:
    """Complain of a coilover that pushes on a link beside the line of its two ends, or on an end link.

    A link turns freely about that line, so that the spring would roll it over until a joint meets its bracket.
    """
    if bench.names.complaints:  # a name that leads nowhere, or to two parts, is told of first
        return
    told = set()
    for unit_, key in ((each, key) for each in units for key in ("top", "bottom")):
        end: made.End = getattr(unit_, key)
        link = next((link for link in links if link.name == end.on), None)
        place = f'[coilover."{bench.names.base(unit_.name)}"] {key}.point'
        if link is None or place in told:
            continue
        if bench.bar_arms & {each.on for each in link.ends}:
            told.add(place)
            bench.names.complain(
                place,
                f'is on "{bench.names.base(link.name)}", which moves an anti-roll bar and holds nothing; put it on the '
                "part that goes up and down.",
            )
            continue
        first, along = link.ends[0].at, unit(link.ends[1].at - link.ends[0].at)
        nearest = first + dot(end.at - first, along) * along
        off = float(norm(end.at - nearest))
        if off > OFF_LINE:
            told.add(place)
            at = ", ".join(f"{value:.5g}" for value in (nearest / bench.mm).tolist())
            bench.names.complain(
                place,
                f'is {off / bench.mm:.3g} {bench.scene.units} off the line of "{bench.names.base(link.name)}", which '
                f"turns freely about that line and would roll over under the spring; move it onto the line, nearest at "
                f"[{at}], or write the link as an [arm] if a wide bush keeps it from turning.",
            )


def hose(bench: Workbench, name: str, entry: Hose, side: str | None) -> made.Hose:
    """A hose between two fixings."""
    full, where = bench.names.sided(name, side), f'[hose."{name}"]'
    ends, length = bench.slack(where, entry, side)
    bench.within(where, "a length", length, LONGEST_HOSE)
    return made.Hose(full, ends, length)


def shaft(bench: Workbench, name: str, entry: written.Shaft, side: str | None) -> made.Shaft:
    """A driveshaft of one or two pieces; its axes all point the way it runs, from its first joint to its last."""
    full, where = bench.names.sided(name, side), f'[shaft."{name}"]'
    first = _shaft_joint(bench, f"{where} from", entry.from_, side, entry.from_.axis)
    last = _shaft_joint(bench, f"{where} to", entry.to, side, entry.to.axis)
    if first.on == last.on:  # the places need two names: say the points
        first = replace(first, place=f"at {entry.from_.point}")
        last = replace(last, place=f"at {entry.to.point}")
    middle = []
    if entry.carrier is not None:
        carrier = _shaft_joint(bench, f"{where} carrier", entry.carrier, side, None)
        middle.append(replace(carrier, place="at centre bearing"))
        _check_first_piece(bench, where, first, carrier, last)
    for one, next_one in pairwise([first, *middle, last]):
        bench.apart(where, one.at, next_one.at, "two of its joints")
    first = _laid_along(bench, f"{where} from", first, [*middle, last][0].at - first.at)
    last = _laid_along(bench, f"{where} to", last, last.at - [first, *middle][-1].at)
    _check_yokes(bench, where, entry, (first, *middle, last))
    return made.Shaft(
        name=full,
        joints=(first, *middle, last),
        # Seen in the mirror, clockwise is anticlockwise.
        phase=float(np.radians(-entry.phase if side == "right" else entry.phase)),
        speed=entry.speed,
        slip=None if entry.slip is None else _slip(bench, f"{where} slip", entry.slip),
        diameter=(entry.diameter or SHAFT_DIAMETER / bench.mm) * bench.mm,
    )


def _laid_along(bench: Workbench, where: str, joint: ShaftJoint, run: Array) -> ShaftJoint:
    """The joint with its axis, which is a line, pointing the way the shaft runs (3,)."""
    if joint.axis is None:
        return joint
    along = float(dot(joint.axis, run))
    if abs(along) < SQUARE * float(norm(run)):
        bench.names.complain(
            f"{where}.axis",
            "stands square to the shaft, expected the direction of what the joint turns with, such as a gearbox "
            "output, a pinion or a hub; correct it.",
        )
    return replace(joint, axis=-joint.axis) if along < 0.0 else joint


def _check_first_piece(bench: Workbench, where: str, first: ShaftJoint, carrier: ShaftJoint, last: ShaftJoint) -> None:
    """Complain of a first piece that would have to change its length, and of one that the last doubles back on."""
    if first.on != carrier.on:
        bench.names.complain(
            f"{where} carrier.on",
            f'is "{carrier.on}" but from.on is "{first.on}", and the first piece of a shaft cannot change its length; '
            "put both on the same part.",
        )
    one, other = carrier.at - first.at, last.at - carrier.at
    if float(dot(one, other)) < SQUARE * float(norm(one) * norm(other)):
        bench.names.complain(
            f"{where} carrier",
            "has the last piece standing square to the first or doubling back on it; correct the points.",
        )


def _check_yokes(bench: Workbench, where: str, entry: written.Shaft, joints: tuple[ShaftJoint, ...]) -> None:
    """Complain of what only universal joints have."""
    universal = [joint.joint.kind is JointKind.UNIVERSAL_JOINT for joint in joints]
    if "phase" in entry.model_fields_set and not all(universal[-2:]):
        bench.names.complain(
            where, "has a phase, which only a piece with a universal joint at both ends has; leave out phase."
        )
    if entry.speed is not None and not any(universal):
        bench.names.complain(
            where, "has a speed but no universal joint, so that it turns evenly at any; leave out speed."
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


def _slip(bench: Workbench, where: str, slip: written.Slip) -> made.Slip:
    def scaled(value: float | None) -> float | None:
        return None if value is None else value * bench.mm

    for key in ("room_in", "room_out", "engaged", "diameter"):
        article = "an" if key == "engaged" else "a"
        bench.within(where, f"{article} {key}", scaled(getattr(slip, key)), LONGEST_SLIP)
    return made.Slip(slip.room_in * bench.mm, scaled(slip.room_out), scaled(slip.engaged), scaled(slip.diameter))
