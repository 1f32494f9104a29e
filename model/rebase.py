"""What a scene file says once its adjusters are set: ride height is where they put it.

Every point that moved has a new place, wheels new camber and toe, bolts new directions; what a thread, a stack, a slot
or a seat has used up of its way is written too, and what a slip yoke has. Lengths follow from points.
What the two sides no longer have in common is written as [left, right], of points as "right NAME".
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from pydantic import ValidationError

from model import scene as written
from model.adjust import Setting
from model.adjustable import Eccentric, Slide
from model.complaints import sentences
from model.edits import SAME, Edit, Key, Moved, edited
from model.errors import SceneError
from model.fields import WORDS, DirectionValue
from model.members import Transform, point_positions
from model.naming import MIRROR, SIDES
from model.rebasesettings import adjuster_edits, slip_edits, travel_edits
from model.scene import Scene
from model.spatial import Array, angle_between, norm, turn, unit
from model.wheelgeometry import camber, toe

# A bolt that turned by less (rad, 0.03°) keeps its word or its vector in the file: no joint's angle shows it.
SAME_BOLT = 5e-4


def edits(scene: Scene, setting: Setting) -> tuple[Edit, ...]:
    """What changes in a scene file for a setting, in the scene's units."""
    moved = Moved(scene, setting)
    rooms = (_points, _wheels, _bolts, _meshes, adjuster_edits, slip_edits, travel_edits)
    return tuple(edit for room in rooms for edit in room(moved))


def rebuilt(scene: Scene, changes: Sequence[Edit]) -> Scene:
    """The scene with changes made.

    Raises:
        SceneError: it is no scene with them.

    """
    data = edited(scene.model_dump(by_alias=True, exclude_unset=True, exclude={"variant"}), changes)
    try:
        return Scene.model_validate(data)
    except ValidationError as error:
        raise SceneError(sentences(error.errors(include_url=False), Scene)) from None


def _points(moved: Moved) -> Iterator[Edit]:
    now = {name: at[0] for name, at in point_positions(moved.mechanism, moved.now.parts).items()}
    now |= _carried(moved, now)
    for name in moved.scene.points:
        right = f"right {name}"
        own = next((now[each] for each in (f"left {name}", name) if each in now), None)
        written_apart = right in moved.scene.points
        if own is None and right in now and not written_apart:
            own = now[right] * MIRROR
        if own is not None and not _stands(moved, name, own):
            yield Edit(("points", name), _place(moved, own))
        if right not in now:
            continue
        apart = own is None or bool(norm(now[right] - own * MIRROR) > SAME)
        if not _stands(moved, right, now[right]) if written_apart else apart:
            yield Edit(("points", right), _place(moved, now[right]))


def _stands(moved: Moved, name: str, at: Array) -> bool:
    """Whether a point (3,) in mm is where the scene has it."""
    return bool(norm(at - np.array(moved.scene.points[name]) * moved.mm) <= SAME)


def _place(moved: Moved, at: Array) -> list[float]:
    return [moved.length(value) for value in at]


def _carried(moved: Moved, now: Mapping[str, Array]) -> dict[str, Array]:
    """Points on the frame that adjusters have moved."""
    found: dict[str, Array] = {}
    for each in moved.mechanism.adjusters:
        if isinstance(each, Slide | Eccentric):
            ways = [each.direction] if isinstance(each, Slide) else [each.towards, each.across]
            shift = np.array(ways).T @ each.moved(moved.settings[each.name])
            found |= {name: now[name] + shift for name in each.points}
    return found


def _wheels(moved: Moved) -> Iterator[Edit]:
    for name, entry in moved.scene.wheel.items():
        measured = {}
        for wheel in moved.mechanism.wheels:
            if wheel.name not in (name, f"left {name}", f"right {name}"):
                continue
            axis = turn(moved.now.parts[wheel.on].rotation[0], wheel.axis)
            hand = 1.0 if wheel.side == "left" else -1.0
            measured[wheel.side] = np.degrees([float(camber(axis, hand)), float(toe(axis, hand))])
        for number, key in enumerate(("camber", "toe")):
            values = {side: moved.number(value[number]) for side, value in measured.items()}
            yield from moved.sided(("wheel", name, key), getattr(entry, key), values, mirrored=entry.mirror)


def _bolts(moved: Moved) -> Iterator[Edit]:
    for key, on, value, mirror in _directions(moved.scene):
        if isinstance(value[0], str) and not isinstance(value, str):
            continue  # two points, which have moved themselves
        along = np.array(WORDS[value] if isinstance(value, str) else value, dtype=float)
        turned = unit(along)
        sides = SIDES if mirror else (None,)
        images = []
        for side in sides:
            part = _part(moved, on, side)
            image = MIRROR if side == "right" else 1.0
            images.append(turned if part is None else image * turn(part.rotation[0], image * turned))
        new = unit(np.mean(images, axis=0))
        # An eye's bolt has no sense: a mirrored one may come back the other way round.
        if min(float(angle_between(new, turned)), float(angle_between(-new, turned))) > SAME_BOLT:
            yield Edit(key, [round(float(each), 6) + 0.0 for each in new])


def _part(moved: Moved, on: str, side: str | None) -> Transform | None:
    """What a part that an entry names has done; `None` for one that is nowhere, such as the frame."""
    parts = moved.now.parts
    names = (f"{side} {on}", on) if side is not None else (on,)
    found = next((name for name in names if name in parts), None)
    return None if found is None else parts[found]


def _meshes(moved: Moved) -> Iterator[Edit]:
    """Mesh files that stand for parts go with them; of a mirrored one the left half counts."""
    carried = {wheel.name: wheel.on for wheel in moved.mechanism.wheels}
    carried |= {brake.name: carried[brake.wheel] for brake in moved.mechanism.brakes}
    for name in moved.scene.mesh:
        own = next(mesh for mesh in moved.mechanism.own_meshes if mesh.name in (name, f"left {name}"))
        part = moved.now.parts.get(carried.get(own.of, own.of))
        if part is None:
            continue
        rotation = part.rotation[0] @ own.rotation
        shift = part.rotation[0] @ own.move + part.translation[0]
        if np.abs(rotation - own.rotation).max() > SAME_BOLT or norm(shift - own.move) > SAME:
            # R = R_z R_y R_x: about x, then y, then z.
            turned = (
                np.arctan2(rotation[2, 1], rotation[2, 2]),
                np.arctan2(-rotation[2, 0], np.hypot(rotation[2, 1], rotation[2, 2])),
                np.arctan2(rotation[1, 0], rotation[0, 0]),
            )
            place = {
                "turn": [round(float(np.degrees(angle)), 5) + 0.0 for angle in turned],
                "move": [moved.length(each) for each in shift],
            }
            yield Edit(("mesh", name, "place"), place)


def _directions(scene: Scene) -> Iterator[tuple[Key, str, DirectionValue, bool]]:
    """Directions that are written of what is bolted to a part: key, part, direction, whether the entry is mirrored."""
    for key, mount, mirror in _mounts(scene):
        for word in ("bolt", "housing_axis"):
            value = getattr(mount, word)
            if value is not None:
                yield (*key, word), mount.on, value, mirror
    for key, on, pivots, mirror in _pivots(scene):
        for number, pivot in enumerate(pivots):
            if pivot.bolt is not None:
                yield (*key, number, "bolt"), on, pivot.bolt, mirror
    for name, shaft in scene.shaft.items():
        for place, end in (("from", shaft.from_), ("to", shaft.to)):
            yield ("shaft", name, place, "axis"), end.on, end.axis, shaft.mirror


def _mounts(scene: Scene) -> Iterator[tuple[Key, written.Mount, bool]]:
    """Ends of members with their keys, and whether the entry is mirrored."""
    for name, link in scene.link.items():
        yield ("link", name, "from"), link.from_, link.mirror
        yield ("link", name, "to"), link.to, link.mirror
    for name, unit_ in scene.coilover.items():
        yield ("coilover", name, "top"), unit_.top, unit_.mirror
        yield ("coilover", name, "bottom"), unit_.bottom, unit_.mirror
    for name, strut in scene.strut.items():
        yield ("strut", name, "top"), strut.top, strut.mirror
    for name, arm in scene.arm.items():
        if arm.ball is not None:
            yield ("arm", name, "ball"), arm.ball, arm.mirror


def _pivots(scene: Scene) -> Iterator[tuple[Key, str, Sequence[written.Pivot], bool]]:
    """Pairs of pivots with their keys, the part that they sit on, and whether the entry is mirrored."""
    for name, arm in scene.arm.items():
        yield ("arm", name, "pivots"), arm.on, arm.pivots, arm.mirror
    for name, knuckle in scene.knuckle.items():
        if knuckle.on is not None and knuckle.kingpin is not None:
            yield ("knuckle", name, "kingpin"), knuckle.on, knuckle.kingpin, knuckle.mirror
