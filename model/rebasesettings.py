"""What a scene file says of adjusters, threads, springs, slip yokes and travel once its adjusters are set."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from model import scene as written
from model.adjustable import Adjuster, Eccentric, Perch, Shims, Slot, Thread
from model.edits import SAME, Edit, Moved
from model.errors import CallError
from model.spatial import norm


def adjuster_edits(moved: Moved) -> Iterator[Edit]:
    """What is left of each adjuster's way, what its threads and springs hold on by."""
    for name, entry in moved.scene.adjust.items():
        own = [each for each in moved.mechanism.adjusters if each.entry == name]
        if not any(moved.settings[each.name] for each in own):
            continue
        for key, was, value in _changes(moved, own[0]):
            values = {(each.side or "left"): _written(moved, each, key, was, value) for each in own}
            before = getattr(entry, key)
            yield from moved.sided(("adjust", name, key), before, values, mirrored=entry.mirror)
        if isinstance(own[0], Thread):
            yield from _engaged(moved, own)
        if isinstance(own[0], Perch):
            yield from _preload(moved, own)


def _changes(moved: Moved, adjuster: Adjuster) -> list[tuple[str, str, float]]:
    """Keys of an adjuster's entry that follow its setting: the key, what it is of, and its sign."""
    match adjuster:
        case Thread():
            ways = [("shorter", 1.0), ("longer", -1.0)]
            entry = moved.scene.adjust[adjuster.entry]
            return [(key, key, sign) for key, sign in ways if getattr(entry, key) is not None]
        case Shims():
            return [("fitted", "fitted", 1.0)]
        case Slot() | Perch():
            return [("low", "low", -1.0), ("high", "high", -1.0)]
        case Eccentric():
            return [("turned", "turned", 1.0)]
    return []


def _written(moved: Moved, adjuster: Adjuster, key: str, was: str, sign: float) -> float:
    """The new number of a key on one side."""
    before = getattr(moved.scene.adjust[adjuster.entry], was)
    value = before[adjuster.side == "right"] if isinstance(before, tuple) else float(before)
    setting = moved.settings[adjuster.name]
    if key == "turned":
        return moved.number((value + np.degrees(setting) + 180.0) % 360.0 - 180.0)
    new = moved.number(value + sign * setting / moved.mm)
    return min(new, 0.0) if key == "low" else max(new, 0.0)


def _engaged(moved: Moved, threads: Sequence[Adjuster]) -> Iterator[Edit]:
    for number, key in enumerate(("from", "to")):
        values = {}
        for each in threads:
            if not isinstance(each, Thread):
                continue
            for thread in each.threads:
                if thread.end == number:
                    values[each.side or "left"] = moved.length(thread.at(moved.settings[each.name]))
        if len(values) != len(threads):
            continue
        link = _link_of(moved, threads[0])
        mount = (link.from_, link.to)[number]
        yield from moved.sided(
            ("link", _entry(moved, threads[0]), key, "engaged"), mount.engaged, values, mirrored=link.mirror
        )


def _link_of(moved: Moved, thread: Adjuster) -> written.Link:
    """The entry of the link that a thread is on."""
    return moved.scene.link[_entry(moved, thread)]


def _entry(moved: Moved, thread: Adjuster) -> str:
    of = moved.scene.adjust[thread.entry].of or ""
    return of if of in moved.scene.link else of.removeprefix("left ").removeprefix("right ")


def _preload(moved: Moved, perches: Sequence[Adjuster]) -> Iterator[Edit]:
    of = moved.scene.adjust[perches[0].entry].of or ""
    base = of if of in moved.scene.coilover or of in moved.scene.strut else of.partition(" ")[2]
    table = "coilover" if base in moved.scene.coilover else "strut"
    entry = moved.scene.coilover.get(base) or moved.scene.strut[base]
    springs = {unit_.name: unit_.spring for unit_ in moved.mechanism.coilovers}
    values = {}
    for each in perches:
        spring = springs[each.coilover] if isinstance(each, Perch) else None
        if spring is not None:
            values[each.side or "left"] = moved.length(max(spring.preload + moved.settings[each.name], 0.0))
    if entry.spring is not None:
        key = (table, base, "spring", "preload")
        yield from moved.sided(key, entry.spring.preload, values, mirrored=entry.mirror)


def slip_edits(moved: Moved) -> Iterator[Edit]:
    """How far a slip yoke or a plunging joint has gone in."""
    for name, entry in moved.scene.shaft.items():
        if entry.slip is None:
            continue
        own = (name, f"left {name}", f"right {name}")
        longer = [_longer(moved, shaft.name) for shaft in moved.mechanism.shafts if shaft.name in own]
        change = float(np.mean(longer)) / moved.mm
        for key, sign in (("room_in", 1.0), ("engaged", -1.0), ("room_out", -1.0)):
            was = getattr(entry.slip, key)
            if was is not None and abs(change) > SAME:
                yield Edit(("shaft", name, "slip", key), moved.number(max(was + sign * change, 0.001)))


def _longer(moved: Moved, name: str) -> float:
    """How much longer than before, in mm, the last piece of a shaft has to be."""
    shaft = next(shaft for shaft in moved.mechanism.shafts if shaft.name == name)
    near, far = shaft.joints[-2:]
    places = [
        moved.now.parts[joint.on].point(joint.at)[0] if joint.on in moved.now.parts else joint.at
        for joint in (near, far)
    ]
    return float(norm(places[1] - places[0]) - norm(far.at - near.at))


def travel_edits(moved: Moved) -> Iterator[Edit]:
    """The travel to the same ends, and heights at which bolts were tightened, from the new ride height.

    Raises:
        CallError: no travel is left one way.

    """
    if abs(moved.risen) <= SAME:
        return
    shift = moved.risen / moved.mm
    way, left = (
        ("bump", moved.scene.travel.bump - shift) if shift > 0.0 else ("droop", moved.scene.travel.droop + shift)
    )
    if left <= SAME:
        units = moved.scene.units
        raise CallError(
            f"with the ride height wanted the wheels stand {units.text(abs(moved.risen))} nearer to full {way}, and "
            f"[travel] {way} is {units.text(getattr(moved.scene.travel, way) * moved.mm)}, so that no {way} is left; "
            f"want less, or give {way} more travel in the scene if there is more."
        )
    yield Edit(("travel", "bump"), moved.number(moved.scene.travel.bump - shift))
    yield Edit(("travel", "droop"), moved.number(moved.scene.travel.droop + shift))
    for name, joint in moved.scene.joint.items():
        if isinstance(joint.torqued_at, float):
            yield Edit(("joint", name, "torqued_at"), moved.number(joint.torqued_at - shift))
