"""Where a mechanism is put together: its bodies, rows and points so far, and the few moves that build them."""

from __future__ import annotations

import numpy as np

from model import scene as written
from model.joints import SHAFT_KINDS, JointKind
from model.mechanism import FRAME, Anchor, Body, Drive, End, Fixing, Motion, Offset, Pin, Row
from model.naming import SIDES, Names
from model.scene import Scene
from model.scenery import Hose, Placing, Strap
from model.spatial import Array, rotation_about, square_to, unit

# Two points nearer than this cannot hold a part apart: less than a tape can tell.
SAME_PLACE = 0.1
# More thread than any rod end has, mm: what is more is in the other unit. Common practice, no source.
LONGEST_THREAD = 200.0


def sides(entry: object) -> tuple[str | None, ...]:
    """The sides for which an entry is built: both where it is mirrored, otherwise no side at all."""
    return SIDES if getattr(entry, "mirror", False) else (None,)


def near(part: str, side: str | None) -> str:
    """A part's name as said on its own side: the left arm sits on the upright, not on the left upright."""
    return part if side is None else part.removeprefix(f"{side} ")


def arms_that_carry(scene: Scene) -> set[str]:
    """Arms on which more than a coilover sits: they are bodies of their own."""
    # An arm under an end link stays as plain as one under a coilover.
    holding = [link for link in scene.link.values() if not is_end_link(scene, link)]
    ends = [end for link in holding for end in (link.from_, link.to)]
    ends += [arm.ball for arm in scene.arm.values() if arm.ball is not None]
    holders = [end.on for end in ends] + [arm.on for arm in scene.arm.values()]
    holders += [entry.on for table in (scene.wheel, scene.strut) for entry in table.values()]
    holders += [strut.top.on for strut in scene.strut.values()]
    holders += [knuckle.on for knuckle in scene.knuckle.values() if knuckle.on is not None]
    bare = {holder.removeprefix("left ").removeprefix("right ") for holder in holders} | set(holders)
    return {name for name, arm in scene.arm.items() if name in bare or arm.ball is None}


def is_end_link(scene: Scene, link: written.Link) -> bool:
    """Whether a link moves an arm of an anti-roll bar: it then holds nothing."""
    return any(end.on.removeprefix("left ").removeprefix("right ") in scene.bar for end in (link.from_, link.to))


def _steering_bodies(steering: written.Steering) -> dict[str, Motion]:
    """Names of the bodies that a steering brings, and how they move."""
    if steering.kind == "rack":
        return {"rack": Motion.DRIVEN}
    if steering.idler is None:
        return {"pitman arm": Motion.DRIVEN}
    return {"pitman arm": Motion.DRIVEN, "idler arm": Motion.FREE, "centre link": Motion.FREE}


class Workbench:
    """Bodies, rows, points, drives and pins as they gather; complaints gather in `names`."""

    def __init__(self, scene: Scene) -> None:
        """Name every body of the scene."""
        self.scene = scene
        self.mm = scene.units.mm
        self.names = Names(scene)
        self.carrying = arms_that_carry(scene)
        self.rows: list[Row] = []
        self.points: dict[str, tuple[str, Array]] = {}
        self.drives: list[Drive] = []
        self.pins: list[Pin] = []
        self.bar_arms = {self.names.sided(name, side) for name in scene.bar for side in SIDES}
        self.bodies: dict[str, Body] = {FRAME: Body(FRAME, Motion.FIXED)}
        for table in (
            scene.knuckle,
            scene.axle,
            {name: scene.arm[name] for name in scene.arm if name in self.carrying},
        ):
            for name, entry in table.items():
                for side in sides(entry):
                    full = self.names.sided(name, side)
                    self.bodies[full] = Body(full, Motion.FREE)
        self.holders = [FRAME, *scene.knuckle, *scene.axle, *scene.arm]
        if scene.steering is not None:
            parts = _steering_bodies(scene.steering)
            self.bodies.update({name: Body(name, motion) for name, motion in parts.items()})
            self.holders += parts

    def anchor(self, body: str, at: Array) -> Anchor:
        """A ride-height point (3,) that a body carries."""
        return Anchor(list(self.bodies).index(body), at)

    def place(self, where: str, name: str, holder: str, side: str | None) -> Array:
        """Position (3,) of a point that a part carries; the part is noted as its holder."""
        full, at = self.names.point(where, name, side)
        self.points.setdefault(full, (holder, at))
        return at

    def together(self, member: str, base: str, tip: str, at: Array, directions: Array) -> None:
        """Rows that keep one point of two bodies together along directions (k, 3) on the base."""
        for direction in directions:
            self.rows.append(Offset(member, direction, self.anchor(base, at), self.anchor(tip, at)))

    def hinge(self, member: str, base: str, part: str, pivots: tuple[Array, Array]) -> None:
        """Five rows: the part turns on the base about the line through two points."""
        axis = unit(pivots[1] - pivots[0])
        side = square_to(axis)
        self.together(member, base, part, pivots[0], np.eye(3))
        self.together(member, base, part, pivots[1], np.array([side, np.cross(axis, side)]))

    def apart(self, where: str, a: Array, b: Array, what: str) -> None:
        """Complain unless two points (3,) are apart."""
        gap = float(np.linalg.norm(a - b))
        if gap < SAME_PLACE:
            self.names.complain(where, f"has {what} in the same place; set the points apart by the part's length.")

    def within(self, where: str, what: str, mm: float | None, most: float) -> None:
        """Complain of a length in mm that no part has: the file is in the other unit, or a digit slipped."""
        if mm is not None and mm > most:
            units = self.scene.units
            self.names.complain(
                where,
                f"has {what} of {mm / self.mm:g} {units}, expected {most / self.mm:.4g} {units} at most; check it, and "
                f'units = "{units}" at the top of the file.',
            )

    def on_side(self, where: str, value: float | tuple[float, float], side: str | None) -> float:
        """A number that is written once for both sides, or as [left, right]."""
        if not isinstance(value, tuple):
            return value
        if side is None:
            self.names.complain(
                where,
                f"is [{value[0]:g}, {value[1]:g}], one for each side, and this entry has one side only; give one "
                "number, or add mirror = true.",
            )
        return value[side == "right"]

    def slack(self, where: str, entry: Hose | Strap, side: str | None) -> tuple[tuple[Fixing, Fixing], float]:
        """Both fixings of what hangs between two parts, and its length in mm, which ride height must leave slack."""
        ends = []
        for key, end in (("from", entry.from_), ("to", entry.to)):
            on = self.names.part(f"{where} {key}.on", end.on, side, [*self.holders, *self.scene.link])
            at = self.place(f"{where} {key}.point", end.point, on, side)
            ends.append(Fixing(f"at {near(on, side)}", on, at))
        length, apart = entry.length * self.mm, float(np.linalg.norm(ends[0].at - ends[1].at))
        if apart >= length:
            self.names.complain(
                where,
                f"is {entry.length:g} {self.scene.units} long but its fixings are {apart / self.mm:.4g} apart at ride "
                "height already; correct the length or the points.",
            )
        return (ends[0], ends[1]), length

    def end(self, where: str, mount: written.Mount, side: str | None, holders: list[str], along: Array | None) -> End:
        """One end as written; `along` (3,) is the bolt where none is given, `None` where one must be."""
        on = self.names.part(f"{where}.on", mount.on, side, holders)
        at = self.place(f"{where}.point", mount.point, on, side)
        joint = self.names.joint(f"{where}.joint", mount.joint)
        if joint.kind is JointKind.BALL_JOINT and along is None:
            along = np.array([0.0, 0.0, 1.0])
        if mount.bolt is not None:
            bolt = self.names.direction(f"{where}.bolt", mount.bolt, side)
        elif along is not None:
            bolt = along
        else:
            self.names.complain(
                where, 'has no bolt direction; add bolt = "across", "along", "up", a vector or two points.'
            )
            bolt = np.array([0.0, 1.0, 0.0])
        housing = None
        if mount.housing_axis is not None:
            if joint.kind not in (JointKind.BALL_JOINT, JointKind.INLINE_BALL_JOINT):
                self.names.complain(where, f"has a housing_axis, which only ball joints have; this is a {joint.kind}.")
            housing = self.names.direction(f"{where}.housing_axis", mount.housing_axis, side)
        if joint.kind in SHAFT_KINDS:
            others = ", ".join(kind for kind in JointKind if kind not in SHAFT_KINDS)
            self.names.complain(f"{where}.joint", f"is a {joint.kind}, which only shafts have; choose {others}.")
        elif mount.engaged is not None and not self._threaded(mount.joint):
            self.names.complain(
                where,
                f'is engaged, but its joint "{mount.joint}" has no thread_diameter; give it one in a [joint] table, or '
                "leave engaged out.",
            )
        engaged = None if mount.engaged is None else self.on_side(f"{where}.engaged", mount.engaged, side) * self.mm
        self.within(where, "an engaged thread", engaged, LONGEST_THREAD)
        return End(f"at {near(on, side)}", mount.point, at, on, joint, bolt, housing, engaged)

    def _threaded(self, joint: str) -> bool:
        """Whether a joint's table says how thick its thread is."""
        return joint in self.scene.joint and self.scene.joint[joint].thread_diameter is not None

    def placed(self, place: Placing | None) -> tuple[Array, Array]:
        """Rotation (3, 3) and move (3,) in mm of a mesh file: about x, then y, then z, then along."""
        turned = np.eye(3)
        if place is None:
            return turned, np.zeros(3)
        for axis, degrees in zip(np.eye(3), place.turn or (0.0, 0.0, 0.0), strict=True):
            turned = rotation_about(axis, np.radians(degrees)) @ turned
        return turned, np.array(place.move or (0.0, 0.0, 0.0)) * self.mm
