"""What a scene file says once its adjusters are set: ride height is where they put it.

Every point that moved has a new place, wheels new camber and toe, bolts new directions; what a thread, a stack, a slot
or a seat has used up of its way is written too, and what a slip yoke has. Lengths follow from points.
What the two sides no longer have in common is written as [left, right], of points as "right NAME".
"""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from model import scene as written
from model.adjust import Setting
from model.adjustable import Adjuster, Eccentric, Perch, Shims, Slide, Slot, Thread
from model.fields import WORDS, DirectionValue
from model.members import Posture, Transform, point_positions, posture
from model.naming import MIRROR, SIDES
from model.scene import Scene
from model.spatial import Array, angle_between, norm, turn, unit
from model.wheelgeometry import camber, toe

Key = tuple[str | int, ...]
# A bolt that turned by less (rad, 0.03°) keeps its word or its vector in the file: no joint's angle shows it.
SAME_BOLT = 5e-4
# Mm, or degrees: less than what is written of a number.
SAME = 1e-5


@dataclass(frozen=True)
class Edit:
    """A new value for a key of the scene file."""

    key: Key
    value: Any


def edits(scene: Scene, setting: Setting) -> tuple[Edit, ...]:
    """What changes in a scene file for a setting, in the scene's units."""
    return tuple(_Moved(scene, setting).edits())


def edited(data: Mapping[str, Any], changes: Sequence[Edit]) -> dict[str, Any]:
    """A scene's data, as its TOML file holds it, with changes made."""
    new = copy.deepcopy(dict(data))
    for change in changes:
        table: Any = new
        for key in change.key[:-1]:
            table = table[key] if isinstance(key, int) else table.setdefault(key, {})
        table[change.key[-1]] = change.value
    return new


def rebuilt(scene: Scene, changes: Sequence[Edit]) -> Scene:
    """The scene with changes made."""
    return Scene.model_validate(
        edited(scene.model_dump(by_alias=True, exclude_unset=True, exclude={"variant"}), changes)
    )


class _Moved:
    """A scene and where its parts have gone."""

    def __init__(self, scene: Scene, setting: Setting) -> None:
        self.scene, self.setting = scene, setting
        self.mechanism = setting.bench.mechanism
        self.mm = scene.units.mm
        self.digits = 4 if self.mm == 1.0 else 6
        self.settings = {each.adjuster.name: each.rounded for each in setting.turned}
        self.now: Posture = posture(setting.stand.poses)
        self.risen = float(np.mean(setting.stand.heights))

    def edits(self) -> Iterator[Edit]:
        """All of them."""
        yield from self._points()
        yield from self._wheels()
        yield from self._bolts()
        yield from self._adjusters()
        yield from self._slips()
        yield from self._travel()

    def _number(self, value: float) -> float:
        """A number as it is written."""
        return round(float(value), self.digits) + 0.0

    def _length(self, mm: float) -> float:
        return self._number(mm / self.mm)

    def _points(self) -> Iterator[Edit]:
        now = {name: at[0] for name, at in point_positions(self.mechanism, self.now.parts).items()}
        now |= self._carried(now)
        for name in self.scene.points:
            right = f"right {name}"
            own = next((now[each] for each in (f"left {name}", name) if each in now), None)
            written_apart = right in self.scene.points
            if own is None and right in now and not written_apart:
                own = now[right] * MIRROR
            if own is not None and not self._stands(name, own):
                yield Edit(("points", name), self._place(own))
            if right not in now:
                continue
            apart = own is None or bool(norm(now[right] - own * MIRROR) > SAME)
            if not self._stands(right, now[right]) if written_apart else apart:
                yield Edit(("points", right), self._place(now[right]))

    def _stands(self, name: str, at: Array) -> bool:
        """Whether a point (3,) in mm is where the scene has it."""
        return bool(norm(at - np.array(self.scene.points[name]) * self.mm) <= SAME)

    def _place(self, at: Array) -> list[float]:
        return [self._length(value) for value in at]

    def _carried(self, now: Mapping[str, Array]) -> dict[str, Array]:
        """Points on the frame that adjusters have moved."""
        moved: dict[str, Array] = {}
        for each in self.mechanism.adjusters:
            if isinstance(each, Slide | Eccentric):
                ways = [each.direction] if isinstance(each, Slide) else [each.towards, each.across]
                shift = np.array(ways).T @ each.moved(self.settings[each.name])
                moved |= {name: now[name] + shift for name in each.points}
        return moved

    def _wheels(self) -> Iterator[Edit]:
        for name, entry in self.scene.wheel.items():
            measured = {}
            for wheel in self.mechanism.wheels:
                if wheel.name not in (name, f"left {name}", f"right {name}"):
                    continue
                axis = turn(self.now.parts[wheel.on].rotation[0], wheel.axis)
                hand = 1.0 if wheel.side == "left" else -1.0
                measured[wheel.side] = np.degrees([float(camber(axis, hand)), float(toe(axis, hand))])
            for number, key in enumerate(("camber", "toe")):
                values = {side: self._number(value[number]) for side, value in measured.items()}
                yield from self._sided(("wheel", name, key), getattr(entry, key), values, mirrored=entry.mirror)

    def _sided(
        self, key: Key, was: float | tuple[float, float] | None, values: Mapping[str, float], *, mirrored: bool
    ) -> Iterator[Edit]:
        """One number, or [left, right] where a mirrored entry's differ; nothing where it stays."""
        if mirrored:
            both = [values[side] for side in SIDES]
            new: float | list[float] = both[0] if abs(both[0] - both[1]) <= 2.0 * SAME else both
        else:
            new = next(iter(values.values()))
        before = [0.0 if was is None else was] if not isinstance(was, tuple) else list(was)
        if np.abs(np.subtract(new, before if len(before) > 1 else before[0])).max() > SAME:
            yield Edit(key, new)

    def _bolts(self) -> Iterator[Edit]:
        for key, on, value, mirror in _directions(self.scene):
            if isinstance(value[0], str) and not isinstance(value, str):
                continue  # two points, which have moved themselves
            along = np.array(WORDS[value] if isinstance(value, str) else value, dtype=float)
            turned = unit(along)
            sides = SIDES if mirror else (None,)
            images = []
            for side in sides:
                part = self._part(on, side)
                image = MIRROR if side == "right" else 1.0
                images.append(turned if part is None else image * turn(part.rotation[0], image * turned))
            new = unit(np.mean(images, axis=0))
            # An eye's bolt has no sense: a mirrored one may come back the other way round.
            if min(float(angle_between(new, turned)), float(angle_between(-new, turned))) > SAME_BOLT:
                yield Edit(key, [round(float(each), 6) + 0.0 for each in new])

    def _part(self, on: str, side: str | None) -> Transform | None:
        """What a part that an entry names has done; `None` for one that is nowhere, such as the frame."""
        parts = self.now.parts
        names = (f"{side} {on}", on) if side is not None else (on,)
        found = next((name for name in names if name in parts), None)
        return None if found is None else parts[found]

    def _adjusters(self) -> Iterator[Edit]:
        for name, entry in self.scene.adjust.items():
            own = [each for each in self.mechanism.adjusters if each.entry == name]
            if not any(self.settings[each.name] for each in own):
                continue
            for key, was, value in self._changes(own[0]):
                values = {(each.side or "left"): self._written(each, key, was, value) for each in own}
                before = getattr(entry, key)
                yield from self._sided(("adjust", name, key), before, values, mirrored=entry.mirror)
            if isinstance(own[0], Thread):
                yield from self._engaged(own)
            if isinstance(own[0], Perch):
                yield from self._preload(own)

    def _changes(self, adjuster: Adjuster) -> list[tuple[str, str, float]]:
        """Keys of an adjuster's entry that follow its setting: the key, what it is of, and its sign."""
        match adjuster:
            case Thread():
                ways = [("shorter", 1.0), ("longer", -1.0)]
                entry = self.scene.adjust[adjuster.entry]
                return [(key, key, sign) for key, sign in ways if getattr(entry, key) is not None]
            case Shims():
                return [("fitted", "fitted", 1.0)]
            case Slot() | Perch():
                return [("low", "low", -1.0), ("high", "high", -1.0)]
            case Eccentric():
                return [("turned", "turned", 1.0)]
        return []

    def _written(self, adjuster: Adjuster, key: str, was: str, sign: float) -> float:
        """The new number of a key on one side."""
        before = getattr(self.scene.adjust[adjuster.entry], was)
        value = before[adjuster.side == "right"] if isinstance(before, tuple) else float(before)
        setting = self.settings[adjuster.name]
        if key == "turned":
            return self._number((value + np.degrees(setting) + 180.0) % 360.0 - 180.0)
        new = self._number(value + sign * setting / self.mm)
        return min(new, 0.0) if key == "low" else max(new, 0.0)

    def _engaged(self, threads: Sequence[Adjuster]) -> Iterator[Edit]:
        for number, key in enumerate(("from", "to")):
            values = {}
            for each in threads:
                if not isinstance(each, Thread):
                    continue
                for thread in each.threads:
                    if thread.end == number:
                        values[each.side or "left"] = self._length(thread.at(self.settings[each.name]))
            if len(values) != len(threads):
                continue
            link = self.mechanism_link(threads[0])
            mount = (link.from_, link.to)[number]
            yield from self._sided(
                ("link", self._entry(threads[0]), key, "engaged"), mount.engaged, values, mirrored=link.mirror
            )

    def mechanism_link(self, thread: Adjuster) -> written.Link:
        """The entry of the link that a thread is on."""
        return self.scene.link[self._entry(thread)]

    def _entry(self, thread: Adjuster) -> str:
        of = self.scene.adjust[thread.entry].of or ""
        return of if of in self.scene.link else of.removeprefix("left ").removeprefix("right ")

    def _preload(self, perches: Sequence[Adjuster]) -> Iterator[Edit]:
        of = self.scene.adjust[perches[0].entry].of or ""
        base = of if of in self.scene.coilover or of in self.scene.strut else of.partition(" ")[2]
        table = "coilover" if base in self.scene.coilover else "strut"
        entry = self.scene.coilover.get(base) or self.scene.strut[base]
        springs = {unit_.name: unit_.spring for unit_ in self.mechanism.coilovers}
        values = {}
        for each in perches:
            spring = springs[each.coilover] if isinstance(each, Perch) else None
            if spring is not None:
                values[each.side or "left"] = self._length(max(spring.preload + self.settings[each.name], 0.0))
        if entry.spring is not None:
            key = (table, base, "spring", "preload")
            yield from self._sided(key, entry.spring.preload, values, mirrored=entry.mirror)

    def _slips(self) -> Iterator[Edit]:
        for name, entry in self.scene.shaft.items():
            if entry.slip is None:
                continue
            longer = [self._longer(shaft.name) for shaft in self.mechanism.shafts if shaft.name.endswith(name)]
            change = float(np.mean(longer)) / self.mm
            for key, sign in (("room_in", 1.0), ("engaged", -1.0), ("room_out", -1.0)):
                was = getattr(entry.slip, key)
                if was is not None and abs(change) > SAME:
                    yield Edit(("shaft", name, "slip", key), self._number(max(was + sign * change, 0.001)))

    def _longer(self, name: str) -> float:
        """How much longer than before, in mm, the last piece of a shaft has to be."""
        shaft = next(shaft for shaft in self.mechanism.shafts if shaft.name == name)
        near, far = shaft.joints[-2:]
        places = [
            self.now.parts[joint.on].point(joint.at)[0] if joint.on in self.now.parts else joint.at
            for joint in (near, far)
        ]
        return float(norm(places[1] - places[0]) - norm(far.at - near.at))

    def _travel(self) -> Iterator[Edit]:
        if abs(self.risen) <= SAME:
            return
        shift = self.risen / self.mm
        yield Edit(("travel", "bump"), self._number(self.scene.travel.bump - shift))
        yield Edit(("travel", "droop"), self._number(self.scene.travel.droop + shift))
        for name, joint in self.scene.joint.items():
            if isinstance(joint.torqued_at, float):
                yield Edit(("joint", name, "torqued_at"), self._number(joint.torqued_at - shift))


def _directions(scene: Scene) -> Iterator[tuple[Key, str, DirectionValue, bool]]:
    """Directions that are written of what is bolted to a part: key, part, direction, whether the entry is mirrored."""
    mounts: list[tuple[Key, written.Mount, bool]] = []
    for name, link in scene.link.items():
        mounts += [(("link", name, "from"), link.from_, link.mirror), (("link", name, "to"), link.to, link.mirror)]
    for name, unit_ in scene.coilover.items():
        mounts += [(("coilover", name, "top"), unit_.top, unit_.mirror)]
        mounts += [(("coilover", name, "bottom"), unit_.bottom, unit_.mirror)]
    for name, strut in scene.strut.items():
        mounts.append((("strut", name, "top"), strut.top, strut.mirror))
    for name, arm in scene.arm.items():
        if arm.ball is not None:
            mounts.append((("arm", name, "ball"), arm.ball, arm.mirror))
        for number, pivot in enumerate(arm.pivots):
            if pivot.bolt is not None:
                yield ("arm", name, "pivots", number, "bolt"), arm.on, pivot.bolt, arm.mirror
    for key, mount, mirror in mounts:
        for word in ("bolt", "housing_axis"):
            value = getattr(mount, word)
            if value is not None:
                yield (*key, word), mount.on, value, mirror
    for name, shaft in scene.shaft.items():
        for place, end in (("from", shaft.from_), ("to", shaft.to)):
            yield ("shaft", name, place, "axis"), end.on, end.axis, shaft.mirror
