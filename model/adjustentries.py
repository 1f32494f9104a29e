"""What the [adjust] entries of a scene give to a mechanism, and what is said of those that cannot be."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from model import adjustable as made
from model import mechanism as parts
from model.adjusters import Adjuster
from model.limits import LEAST_THREAD
from model.mechanism import FRAME, End
from model.naming import SIDES, suggestion
from model.spatial import Array, across, norm, rotation_about, turn, unit
from model.units import MM_PER_INCH
from model.workbench import Workbench

# Common practice, no source: an eye is put back on its bolt every half turn; a nut has six flats.
HALF_TURN, FLAT = 0.5, 1.0 / 6.0
# A direction nearer to the bolt of an eccentric than this (sine of 5°) does not say where it points.
LEAST_SINE = 0.09


def adjuster(
    bench: Workbench,
    name: str,
    entry: Adjuster,
    side: str | None,
    links: Sequence[parts.Link],
    arms: Sequence[parts.Arm],
    coilovers: Sequence[parts.Coilover],
) -> made.Adjuster | None:
    """One adjuster, where nothing is wrong with it."""
    before = len(bench.names.complaints)
    match entry.kind:
        case "thread":
            found: made.Adjuster | None = _thread(bench, name, entry, side, links)
        case "perch":
            found = _perch(bench, name, entry, side, coilovers)
        case _:
            found = _moving(bench, name, entry, side, [*links, *arms, *coilovers])
    return found if len(bench.names.complaints) == before else None


def check_adjusters(bench: Workbench, adjusters: Sequence[made.Adjuster], wheels: int) -> None:
    """Complain of two adjusters of one thing, and of a perch that would lift one corner alone."""
    moved: dict[str, str] = {}
    for each in adjusters:
        for what in _moves(each):
            if what in moved:
                bench.names.complain(
                    f'[adjust."{each.entry}"]',
                    f'moves "{what}", which [adjust."{moved[what]}"] moves already; keep one of the two.',
                )
            moved.setdefault(what, each.entry)
    perches = [each for each in adjusters if isinstance(each, made.Perch)]
    if perches and len(perches) != wheels:
        bench.names.complain(
            f'[adjust."{perches[0].entry}"]',
            f"is the only perch for {wheels} wheels; ride height needs one for each: add mirror = true."
            if len(perches) < wheels
            else f"is one of {len(perches)} perches for {wheels} wheel{'s' * (wheels > 1)}; ride height needs one for "
            "each: take the others out.",
        )


def _moves(adjuster: made.Adjuster) -> tuple[str, ...]:
    match adjuster:
        case made.Thread(link=link):
            return (link,)
        case made.Perch(coilover=coilover):
            return (coilover,)
        case made.Slide(points=points) | made.Eccentric(points=points):
            return points
    return ()


def _thread(
    bench: Workbench, name: str, entry: Adjuster, side: str | None, links: Sequence[parts.Link]
) -> made.Thread | None:
    where = f'[adjust."{name}"]'
    full = _member(bench, f"{where} of", entry.of or "", side, bench.scene.link, "a link")
    link = next((link for link in links if link.name == full), None)
    if link is None:
        return None
    if {bench.names.base(end.on) for end in link.ends} & bench.scene.bar.keys():
        bench.names.complain(
            where, f'is on "{full}", which moves an anti-roll bar and no wheel; `set` cannot use it: take it out.'
        )
    pitch = MM_PER_INCH / entry.threads_per_inch if entry.threads_per_inch else (entry.pitch or 0.0) * bench.mm
    turning = made.Turning(entry.ends or "one")
    both = turning is made.Turning.BOTH
    left = {"from": 0, "to": 1}.get(entry.left_hand or "")
    # Of a bar with two threads that end counts which has the right-hand one.
    end = 1 - (left or 0) if both else ("from", "to").index(entry.end)
    share = 0.5 if both else 1.0
    threads = tuple(
        made.Engaged(number, each.engaged, each.joint.fastening.thread_diameter, share)
        for number, each in enumerate(link.ends)
        if (both or number == end) and each.engaged is not None and each.joint.fastening.thread_diameter is not None
    )
    low, high = (
        math.inf if value is None else bench.on_side(f"{where} {key}", value, side) * bench.mm
        for key, value in (("shorter", entry.shorter), ("longer", entry.longer))
    )
    for thread in threads:
        high = min(high, max(0.0, (thread.length - LEAST_THREAD * thread.diameter) / share))
    return made.Thread(
        name=bench.names.sided(name, side),
        entry=name,
        side=side,
        low=-low,
        high=high,
        link=full,
        length=float(norm(link.ends[1].at - link.ends[0].at)),
        lead=pitch * (2.0 if both else 1.0),
        step=entry.turns or (HALF_TURN if turning is made.Turning.END else FLAT),
        turning=turning,
        end=end,
        left_hand=not both and left == end,
        hand_known=entry.left_hand is not None,
        end_words=_end_words(link.ends[0].at, link.ends[1].at),
        threads=threads,
    )


def _member(bench: Workbench, where: str, name: str, side: str | None, choices: Iterable[str], what: str) -> str:
    """Full name of the member that an adjuster is of."""
    known = list(choices)
    if bench.names.base(name) not in known:
        bench.names.complain(where, f'is "{name}", expected the name of {what}; {suggestion(name, known)}')
        return ""
    return bench.names.part(where, name, side, known)


def _end_words(one: Array, other: Array) -> tuple[str, str]:
    """What a person calls two ends at (3,) and (3,)."""
    longest = int(np.abs(one - other).argmax())
    if longest == 1 and one[1] * other[1] > 0.0:  # both on one side of the vehicle
        return ("outer", "inner") if abs(one[1]) > abs(other[1]) else ("inner", "outer")
    first, second = (("front", "rear"), ("left", "right"), ("upper", "lower"))[longest]
    return (first, second) if one[longest] > other[longest] else (second, first)


def _perch(
    bench: Workbench, name: str, entry: Adjuster, side: str | None, coilovers: Sequence[parts.Coilover]
) -> made.Perch | None:
    where = f'[adjust."{name}"]'
    choices = [*bench.scene.coilover, *bench.scene.strut]
    full = _member(bench, f"{where} of", entry.of or "", side, choices, "a coilover or strut")
    coilover = next((each for each in coilovers if each.name == full), None)
    if coilover is None:
        return None
    if coilover.spring is None:
        bench.names.complain(where, f'is the seat of the spring of "{full}", which has none; add spring = {{ … }}.')
        return None
    low, high = _low_high(bench, where, entry, side)
    return made.Perch(
        name=bench.names.sided(name, side),
        entry=name,
        side=side,
        low=max(low, -coilover.spring.preload),
        high=high,
        coilover=full,
        preload=coilover.spring.preload,
        pitch=(entry.pitch or 0.0) * bench.mm,
        step=entry.turns or HALF_TURN,
        left_hand=entry.left_hand == "perch",
    )


def _moving(
    bench: Workbench,
    name: str,
    entry: Adjuster,
    side: str | None,
    members: Sequence[parts.Link | parts.Arm | parts.Coilover],
) -> made.Adjuster | None:
    where = f'[adjust."{name}"]'
    hung = [end for member in members for end in _ends(member) if end.on == FRAME]
    names = []
    for number, point in enumerate(entry.points or ()):
        full, at = bench.names.point(f"{where} points[{number}]", point, side)
        held = [end for end in hung if np.array_equal(end.at, at)]
        if np.isfinite(at).all() and not held:
            bench.names.complain(
                f"{where} points[{number}]",
                f'is "{point}", where no link, arm or coilover is bolted to the frame; name the point of such an end.',
            )
        names.append(full)
    direction = bench.names.direction(f"{where} direction", entry.direction or "up", side)
    full_name, points = bench.names.sided(name, side), tuple(names)
    if entry.kind == "eccentric":
        return _eccentric(bench, where, full_name, name, entry, side, points, direction)
    if entry.kind == "slot":
        low, high = _low_high(bench, where, entry, side)
        return made.Slot(
            name=full_name,
            entry=name,
            side=side,
            low=low,
            high=high,
            points=points,
            direction=direction,
            holes=None if entry.holes is None else entry.holes * bench.mm,
        )
    fitted, most = bench.on_side(f"{where} fitted", entry.fitted, side), entry.most or 0.0
    if fitted > most:
        bench.names.complain(where, f"has {fitted:g} fitted and {most:g} as its most; correct one of them.")
    return made.Shims(
        name=full_name,
        entry=name,
        side=side,
        low=-fitted * bench.mm,
        high=(most - fitted) * bench.mm,
        points=points,
        direction=direction,
        fitted=fitted * bench.mm,
        sizes=tuple(size * bench.mm for size in entry.sizes or ()),
    )


def _low_high(bench: Workbench, where: str, entry: Adjuster, side: str | None) -> tuple[float, float]:
    """How far a slot or a perch goes either way, mm."""
    low, high = (
        bench.on_side(f"{where} {key}", value or 0.0, side) * bench.mm
        for key, value in (("low", entry.low), ("high", entry.high))
    )
    return low, high


def _eccentric(
    bench: Workbench,
    where: str,
    full_name: str,
    name: str,
    entry: Adjuster,
    side: str | None,
    points: tuple[str, ...],
    direction: Array,
) -> made.Eccentric | None:
    axis = bench.names.direction(f"{where} axis", entry.axis or "along", side)
    square = across(direction, axis)
    if np.linalg.norm(square) < LEAST_SINE:
        bench.names.complain(where, "has a direction along its own bolt; give one that crosses it.")
        return None
    # The right-hand one is the mirror image: it turns the other way about its own bolt.
    hand = -1.0 if side == "right" else 1.0
    turned = math.radians(bench.on_side(f"{where} turned", entry.turned, side))
    towards = turn(rotation_about(axis, np.array(hand * turned)), unit(square))
    return made.Eccentric(
        name=full_name,
        entry=name,
        side=side,
        low=-math.pi,
        high=math.pi,
        points=points,
        axis=axis,
        towards=towards,
        across=hand * np.cross(axis, towards),
        throw=(entry.throw or 0.0) * bench.mm,
        step=math.radians(entry.degrees),
    )


def _ends(member: parts.Link | parts.Arm | parts.Coilover) -> tuple[End, ...]:
    """What may sit on the frame."""
    return (member.top, member.bottom) if isinstance(member, parts.Coilover) else member.ends


def adjusters(
    bench: Workbench,
    links: Sequence[parts.Link],
    arms: Sequence[parts.Arm],
    coilovers: Sequence[parts.Coilover],
    wheels: int,
) -> tuple[made.Adjuster, ...]:
    """Every adjuster of a scene, one for each side where it is mirrored."""
    found = [
        adjuster(bench, name, entry, side, links, arms, coilovers)
        for name, entry in bench.scene.adjust.items()
        for side in (SIDES if entry.mirror else (None,))
    ]
    good = [each for each in found if each is not None]
    if not bench.names.complaints:
        check_adjusters(bench, good, wheels)
    return tuple(good)
