"""A scene becomes a mechanism: names resolved, halves mirrored, units left behind, freedoms counted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from model import mechanism as made
from model import scene as written
from model.errors import SceneError
from model.mechanism import FRAME, Anchor, Body, Distance, Drive, End, Mechanism, Motion, Offset, Row, Square
from model.mobility import check_freedoms, ride_twists
from model.naming import SIDES, Names
from model.scene import JointKind, Scene
from model.spatial import Array, square_to, unit

# Sizes for parts whose size the scene leaves open; they are only drawn. Common practice, no source.
LINK_DIAMETER, ARM_DIAMETER, AXLE_TUBE, AXLE_HOUSING, DAMPER_BODY = 32.0, 28.0, 76.0, 230.0, 50.0
SPRING_OVER_BODY, SPRING_WIRE, RIM_OVER_TYRE = 24.0, 11.0, 0.66
# Two points nearer than this cannot hold a part apart: less than a tape can tell.
SAME_PLACE = 0.1


def assemble(scene: Scene) -> Mechanism:
    """Build the mechanism of a scene.

    Raises:
        SceneError: with a sentence for each name that leads nowhere, each part that is loose or held twice over.

    """
    builder = _Builder(scene)
    mechanism = builder.build()
    check_freedoms(mechanism)
    return _steered_to_the_left(mechanism)


def _sides(entry: object) -> tuple[str | None, ...]:
    return SIDES if getattr(entry, "mirror", False) else (None,)


def _near(part: str, side: str | None) -> str:
    """A part's name as said on its own side: the left arm sits on the upright, not on the left upright."""
    return part if side is None else part.removeprefix(f"{side} ")


def _pivot_place(away: Array) -> str:
    """Which of an arm's two pivots this is, by the direction (3,) in which it lies from the other."""
    words = (("front", "rear"), ("left", "right"), ("upper", "lower"))
    longest = int(np.abs(away).argmax())
    return f"{words[longest][0 if away[longest] > 0 else 1]} pivot"


def _arms_that_carry(scene: Scene) -> set[str]:
    """Arms on which more than a coilover sits: they are bodies of their own."""
    ends = [end for link in scene.link.values() for end in (link.from_, link.to)]
    ends += [arm.ball for arm in scene.arm.values() if arm.ball is not None]
    holders = [end.on for end in ends] + [arm.on for arm in scene.arm.values()]
    holders += [entry.on for table in (scene.wheel, scene.strut) for entry in table.values()]
    holders += [strut.top.on for strut in scene.strut.values()]
    bare = {holder.removeprefix("left ").removeprefix("right ") for holder in holders} | set(holders)
    return {name for name, arm in scene.arm.items() if name in bare or arm.ball is None}


class _Builder:
    """Collects bodies, rows and members entry by entry; complaints gather in `names`."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.mm = scene.units.mm
        self.names = Names(scene)
        self.carrying = _arms_that_carry(scene)
        self.rows: list[Row] = []
        self.points: dict[str, tuple[str, Array]] = {}
        self.drives: list[Drive] = []
        self.pins: list[made.Pin] = []
        self.bodies: dict[str, Body] = {FRAME: Body(FRAME, Motion.FIXED)}
        for table in (
            scene.knuckle,
            scene.axle,
            {name: scene.arm[name] for name in scene.arm if name in self.carrying},
        ):
            for name, entry in table.items():
                for side in _sides(entry):
                    full = self.names.sided(name, side)
                    self.bodies[full] = Body(full, Motion.FREE)
        self.holders = [FRAME, *scene.knuckle, *scene.axle, *scene.arm]
        if scene.steering is not None:
            parts = steering_bodies(scene.steering)
            self.bodies.update({name: Body(name, motion) for name, motion in parts.items()})
            self.holders += parts

    def build(self) -> Mechanism:
        """Build everything, or raise with all complaints."""
        scene = self.scene
        wheels = [self._wheel(name, entry, side) for name, entry in scene.wheel.items() for side in _sides(entry)]
        if scene.steering is not None:
            self._steering(scene.steering)
        arms = [self._arm(name, entry, side) for name, entry in scene.arm.items() for side in _sides(entry)]
        links = [self._link(name, entry, side) for name, entry in scene.link.items() for side in _sides(entry)]
        struts = [self._strut(name, entry, side) for name, entry in scene.strut.items() for side in _sides(entry)]
        units = [self._coilover(name, entry, side) for name, entry in scene.coilover.items() for side in _sides(entry)]
        beams = [self._beam(name, entry) for name, entry in scene.axle.items()]
        shapes = [self._shape(name, entry, side) for name, entry in scene.frame.items() for side in _sides(entry)]
        for name in scene.points:
            if not {name, f"left {name}", f"right {name}"} & self.points.keys():
                self.points[name] = (FRAME, self.names.point(f"[points] {name}", name, None)[1])
        if self.names.complaints:
            raise SceneError(list(dict.fromkeys(self.names.complaints)))
        return Mechanism(
            title=scene.title,
            bodies=tuple(self.bodies.values()),
            rows=tuple(self.rows),
            drives=tuple(self.drives),
            points=tuple((name, holder, at) for name, (holder, at) in self.points.items()),
            links=tuple(links),
            arms=tuple(arms),
            coilovers=(*struts, *units),
            wheels=tuple(wheels),
            beams=tuple(beams),
            pins=tuple(self.pins),
            shapes=tuple(shapes),
        )

    # -- small helpers -------------------------------------------------------------------------------------------

    def _anchor(self, body: str, at: Array) -> Anchor:
        return Anchor(list(self.bodies).index(body), at)

    def _place(self, where: str, name: str, holder: str, side: str | None) -> Array:
        """Position (3,) of a point that a part carries; the part is noted as its holder."""
        full, at = self.names.point(where, name, side)
        self.points.setdefault(full, (holder, at))
        return at

    def _together(self, member: str, base: str, tip: str, at: Array, directions: Array) -> None:
        """Rows that keep one point of two bodies together along directions (k, 3) on the base."""
        for direction in directions:
            self.rows.append(Offset(member, direction, self._anchor(base, at), self._anchor(tip, at)))

    def _hinge(self, member: str, base: str, part: str, pivots: tuple[Array, Array]) -> None:
        """Five rows: the part turns on the base about the line through two points."""
        axis = unit(pivots[1] - pivots[0])
        side = square_to(axis)
        self._together(member, base, part, pivots[0], np.eye(3))
        self._together(member, base, part, pivots[1], np.array([side, np.cross(axis, side)]))

    def _apart(self, where: str, a: Array, b: Array, what: str) -> None:
        gap = float(np.linalg.norm(a - b))
        if gap < SAME_PLACE:
            self.names.complain(where, f"has {what} in the same place; set the points apart by the part's length.")

    def _end(self, where: str, mount: written.Mount, side: str | None, holders: list[str], along: Array | None) -> End:
        """One end as written; `along` (3,) is the bolt where none is given, `None` where one must be."""
        on = self.names.part(f"{where}.on", mount.on, side, holders)
        at = self._place(f"{where}.point", mount.point, on, side)
        joint = self.names.joint(f"{where}.joint", mount.joint)
        ball = joint.kind in (JointKind.BALL_JOINT, JointKind.INLINE_BALL_JOINT)
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
            if not ball:
                self.names.complain(where, f"has a housing_axis, which only ball joints have; this is a {joint.kind}.")
            housing = self.names.direction(f"{where}.housing_axis", mount.housing_axis, side)
        return End(f"at {_near(on, side)}", mount.point, at, on, joint, bolt, housing)

    # -- entries -------------------------------------------------------------------------------------------------

    def _wheel(self, name: str, entry: written.Wheel, side: str | None) -> made.Wheel:
        full, where = self.names.sided(name, side), f'[wheel."{name}"]'
        scene = self.scene
        on = self.names.part(f"{where} on", entry.on, side, [*scene.knuckle, *scene.axle, *scene.arm])
        centre = self._place(f"{where} centre", entry.centre, on, side)
        at_side = "right" if centre[1] < 0 else "left"
        if any(drive.name == at_side for drive in self.drives):
            self.names.complain(where, f"is a second wheel on the {at_side}; a scene has one axle's wheels.")
        else:
            up, number = np.array([0.0, 0.0, 1.0]), len(self.drives)
            self.rows.append(Offset(full, up, self._anchor(FRAME, centre), self._anchor(on, centre), number))
            self.drives.append(Drive(at_side, -scene.travel.droop * self.mm, scene.travel.bump * self.mm))
        # Positive toe turns the front in, positive camber leans the top out: mirror images on the two sides.
        hand = 1.0 if at_side == "left" else -1.0
        toe, camber = np.radians(entry.toe) * hand, np.radians(entry.camber) * hand
        axis = np.array([np.sin(toe) * np.cos(camber), np.cos(toe) * np.cos(camber), -np.sin(camber)])
        rim = entry.rim_diameter or 2.0 * RIM_OVER_TYRE * entry.loaded_radius
        if rim >= 2.0 * entry.loaded_radius:
            self.names.complain(where, "has a rim_diameter as large as its tyre; expected less than 2 × loaded_radius.")
        return made.Wheel(
            full, at_side, on, centre, axis, entry.loaded_radius * self.mm, entry.width * self.mm, rim * self.mm
        )

    def _link(self, name: str, entry: written.Link, side: str | None) -> made.Link:
        full, where = self.names.sided(name, side), f'[link."{name}"]'
        start = self.names.point(f"{where} from.point", entry.from_.point, side)[1]
        stop = self.names.point(f"{where} to.point", entry.to.point, side)[1]
        self._apart(where, start, stop, "both ends")
        along = unit(stop - start) if np.linalg.norm(stop - start) > SAME_PLACE else np.array([1.0, 0.0, 0.0])
        ends = []
        for key, mount in (("from", entry.from_), ("to", entry.to)):
            inline = self._kind(mount.joint) == JointKind.INLINE_BALL_JOINT
            ends.append(self._end(f"{where} {key}", mount, side, self.holders, along if inline else None))
        first, second = self._told_apart(ends[0], ends[1])
        if first.on == second.on:
            self.names.complain(where, f'has both ends on "{first.on}", where it does nothing; check its `on` keys.')
        self.rows.append(Distance(full, self._anchor(first.on, first.at), self._anchor(second.on, second.at)))
        diameter = (entry.diameter or LINK_DIAMETER / self.mm) * self.mm
        return made.Link(full, (first, second), float(np.radians(entry.clock)), diameter)

    def _arm(self, name: str, entry: written.Arm, side: str | None) -> made.Arm:
        full, where = self.names.sided(name, side), f'[arm."{name}"]'
        on = self.names.part(f"{where} on", entry.on, side, self.holders)
        places = [self.names.point(f"{where} pivots", pivot.point, side)[1] for pivot in entry.pivots]
        self._apart(where, places[0], places[1], "both pivots")
        apart = places[1] - places[0]
        axis = unit(apart) if np.linalg.norm(apart) > SAME_PLACE else np.array([1.0, 0.0, 0.0])
        pivots = []
        for number, pivot in enumerate(entry.pivots):
            mount = written.Mount(point=pivot.point, on=entry.on, joint=pivot.joint, bolt=pivot.bolt)
            end = self._end(f"{where} pivots[{number}]", mount, side, self.holders, axis)
            pivots.append(replace(end, place=_pivot_place(apart if number else -apart)))
        carries = name in self.carrying
        ball = None
        if entry.ball is not None:
            ball = self._end(f"{where} ball", entry.ball, side, self.holders, np.array([0.0, 0.0, 1.0]))
            off_axis = np.linalg.norm(np.cross(ball.at - places[0], axis))
            if off_axis < SAME_PLACE:
                self.names.complain(where, "has its ball joint on the line of its pivots; move it off that line.")
        if carries:
            self._hinge(full, on, full, (places[0], places[1]))
            if ball is not None:
                self._together(full, full, ball.on, ball.at, np.eye(3))
        elif ball is not None:
            self.rows += [Distance(full, self._anchor(on, at), self._anchor(ball.on, ball.at)) for at in places]
        diameter = (entry.diameter or ARM_DIAMETER / self.mm) * self.mm
        return made.Arm(full, (pivots[0], pivots[1]), on, ball, carries, diameter)

    def _coilover(self, name: str, entry: written.Coilover, side: str | None) -> made.Coilover:
        full, where = self.names.sided(name, side), f'[coilover."{name}"]'
        holders = [*self.holders, *self.scene.link]
        top = self._end(f"{where} top", entry.top, side, holders, None)
        bottom = self._end(f"{where} bottom", entry.bottom, side, holders, None)
        top, bottom = self._told_apart(top, bottom)
        self._apart(where, top.at, bottom.at, "both eyes")
        return self._damper(full, where, entry, top, bottom, strut=False)

    def _strut(self, name: str, entry: written.Strut, side: str | None) -> made.Coilover:
        full, where = self.names.sided(name, side), f'[strut."{name}"]'
        on = self.names.part(f"{where} on", entry.on, side, [*self.scene.knuckle, *self.scene.axle, *self.scene.arm])
        foot = self._place(f"{where} foot", entry.foot, on, side)
        head = self.names.point(f"{where} top.point", entry.top.point, side)[1]
        self._apart(where, head, foot, "its top mount and its foot")
        axis = unit(head - foot) if np.linalg.norm(head - foot) > SAME_PLACE else np.array([0.0, 0.0, 1.0])
        top = self._end(f"{where} top", entry.top, side, self.holders, axis)
        # The foot is no joint: the strut is one with the knuckle there.
        bottom = End("at its foot", entry.foot, foot, on, self.names.joint(where, JointKind.PLAIN_SLEEVE), axis)
        square = square_to(axis)
        for direction in (square, np.cross(axis, square)):
            self.rows.append(Offset(full, direction, self._anchor(on, foot), self._anchor(top.on, top.at)))
        return self._damper(full, where, entry, top, bottom, strut=True)

    def _damper(
        self, full: str, where: str, entry: written.Coilover | written.Strut, top: End, bottom: End, *, strut: bool
    ) -> made.Coilover:
        compressed, extended = entry.compressed * self.mm, entry.extended * self.mm
        if compressed >= extended:
            self.names.complain(
                where,
                f"is longer compressed ({entry.compressed:g}) than extended ({entry.extended:g}): full droop lies above "
                "full bump; swap the two.",
            )
        length = float(np.linalg.norm(top.at - bottom.at))
        if not compressed <= length <= extended:
            self.names.complain(
                where,
                f"is {length / self.mm:.4g} {self.scene.units} long at ride height by its points, outside its compressed "
                f"{entry.compressed:g} to extended {entry.extended:g}; correct the points or the lengths.",
            )
        stop = None if entry.bump_stop is None else entry.bump_stop * self.mm
        if stop is not None and stop >= extended - compressed:
            self.names.complain(where, f"has a bump_stop ({entry.bump_stop:g}) as long as its stroke; shorten it.")
        body = (entry.body_diameter or DAMPER_BODY / self.mm) * self.mm
        return made.Coilover(
            name=full,
            top=top,
            bottom=bottom,
            compressed=compressed,
            extended=extended,
            spring=None if entry.spring is None else self._spring(f"{where} spring", entry.spring, body),
            bump_stop=stop,
            body_diameter=body,
            strut=strut,
        )

    def _spring(self, where: str, entry: written.Spring, body: float) -> made.Spring:
        solid = None if entry.solid_length is None else entry.solid_length * self.mm
        if entry.solid_length is not None and entry.solid_length >= entry.free_length:
            self.names.complain(
                where,
                f"is as long solid ({entry.solid_length:g}) as free ({entry.free_length:g}); swap or correct them.",
            )
        if entry.preload >= entry.free_length:
            self.names.complain(where, f"has a preload ({entry.preload:g}) as long as the spring; it is a length.")
        return made.Spring(
            rate=entry.rate * self.scene.units.rate,
            free_length=entry.free_length * self.mm,
            preload=entry.preload * self.mm,
            solid_length=solid,
            outside_diameter=entry.outside_diameter * self.mm
            if entry.outside_diameter
            else body + 2 * SPRING_OVER_BODY,
            wire_diameter=entry.wire_diameter * self.mm if entry.wire_diameter else SPRING_WIRE,
        )

    def _beam(self, name: str, entry: written.Axle) -> made.Beam:
        where = f'[axle."{name}"]'
        housing = None if entry.housing is None else self._place(f"{where} housing", entry.housing, name, None)
        pinion = None if entry.pinion is None else self._place(f"{where} pinion", entry.pinion, name, None)
        return made.Beam(
            name,
            entry.tube_diameter * self.mm if entry.tube_diameter else AXLE_TUBE,
            housing,
            entry.housing_diameter * self.mm if entry.housing_diameter else AXLE_HOUSING,
            pinion,
        )

    def _shape(self, name: str, entry: written.FrameShape, side: str | None) -> made.FrameShape:
        full, where = self.names.sided(name, side), f'[frame."{name}"]'
        given = [key for key in ("path", "centre", "mesh") if getattr(entry, key) is not None]
        if len(given) != 1:
            self.names.complain(where, "needs exactly one of path (points), centre (of a box) and mesh (a file).")
        path = None
        if entry.path is not None:
            path = np.array([self._place(f"{where} path", point, FRAME, side) for point in entry.path])
            if (entry.diameter is None) == (entry.section is None):
                self.names.complain(where, "has a path and needs either diameter or section = [width, height].")
        centre = None
        if entry.centre is not None:
            centre = self._place(f"{where} centre", entry.centre, FRAME, side)
            if entry.size is None:
                self.names.complain(where, "has a centre and needs size = [length, width, height].")
        section, size = entry.section, entry.size
        return made.FrameShape(
            name=full,
            path=path,
            diameter=entry.diameter * self.mm if entry.diameter else None,
            section=(section[0] * self.mm, section[1] * self.mm) if section else None,
            centre=centre,
            size=(size[0] * self.mm, size[1] * self.mm, size[2] * self.mm) if size else None,
            mesh=entry.mesh,
            mesh_scale=entry.mesh_units.mm,
            mirrored=side == "right",
        )

    # -- steering ------------------------------------------------------------------------------------------------

    def _steering(self, entry: written.Steering) -> None:
        left, right = entry.lock_left or entry.lock, entry.lock_right or entry.lock
        where = "[steering]"
        if left is None or right is None:
            self.names.complain(where, "needs lock, or lock_left and lock_right: how far it goes each way.")
            return
        self.drives.append(Drive("steer", -1.0, 1.0))
        if entry.kind == "rack":
            if entry.pitman is not None or entry.idler is not None:
                self.names.complain(
                    where, 'is a rack and has no pitman or idler; use kind = "pitman" or leave them out.'
                )
            axis = self.names.direction(f"{where} axis", entry.axis, None)
            screw = made.Screw(axis, np.zeros(3), False, left * self.mm, -right * self.mm)
            self.bodies["rack"] = Body("rack", Motion.DRIVEN, screw)
            return
        if entry.pitman is None:
            self.names.complain(where, 'has kind = "pitman" and needs a pitman = { pivot, axis, end }.')
            return
        if max(left, right) >= 90.0:
            self.names.complain(
                where, f"has a lock of {max(left, right):g}°, expected less than 90 each way, in degrees."
            )
        pivot, axis, _ = self._crank(f"{where} pitman", entry.pitman, "pitman arm")
        screw = made.Screw(axis, pivot, True, float(np.radians(left)), -float(np.radians(right)))
        self.bodies["pitman arm"] = Body("pitman arm", Motion.DRIVEN, screw)
        if entry.idler is not None:
            self._centre_link(entry.pitman, entry.idler)

    def _crank(self, where: str, crank: written.Crank, name: str) -> tuple[Array, Array, Array]:
        pivot = self._place(f"{where}.pivot", crank.pivot, FRAME, None)
        axis = self.names.direction(f"{where}.axis", crank.axis, None)
        end = self._place(f"{where}.end", crank.end, name, None)
        if np.linalg.norm(np.cross(end - pivot, axis)) < SAME_PLACE:
            self.names.complain(where, "has its end on its own shaft; move the end off the shaft's line.")
        return pivot, axis, end

    def _centre_link(self, pitman: written.Crank, idler: written.Crank) -> None:
        """A bar between two cranks: it shares a point with each and does not roll about its own length."""
        _, axis, end = self._crank("[steering] pitman", pitman, "pitman arm")
        pivot, idler_axis, idler_end = self._crank("[steering] idler", idler, "idler arm")
        self._hinge("idler arm", FRAME, "idler arm", (pivot, pivot + 100.0 * idler_axis))
        self._together("centre link", "pitman arm", "centre link", end, np.eye(3))
        self._together("centre link", "idler arm", "centre link", idler_end, np.eye(3))
        flat = np.cross(axis, idler_end - end)
        if np.linalg.norm(flat) < SAME_PLACE:
            self.names.complain("[steering]", "has its centre link along the pitman's shaft; move the idler's end.")
            return
        arm, link = (list(self.bodies).index(name) for name in ("pitman arm", "centre link"))
        self.rows.append(Square("centre link", arm, axis, link, unit(flat)))
        for crank, part, direction in ((pitman, "pitman arm", axis), (idler, "idler arm", idler_axis)):
            where = f"[steering] {part.split()[0]}.joint"
            place = self.names.point(where, crank.end, None)[1]
            joint = self.names.joint(where, crank.joint)
            self.pins.append(made.Pin("centre link", End(f"at {part}", crank.end, place, part, joint, direction)))

    def _kind(self, joint: str) -> str:
        table = self.scene.joint.get(joint)
        return joint if table is None else table.kind

    @staticmethod
    def _told_apart(first: End, second: End) -> tuple[End, End]:
        """Two ends of one member: where both sit on the same part their points tell them apart."""
        if first.place != second.place:
            return first, second
        return replace(first, place=f"at {first.point}"), replace(second, place=f"at {second.point}")


def steering_bodies(steering: written.Steering) -> dict[str, Motion]:
    """Names of the bodies that a steering brings, and how they move."""
    if steering.kind == "rack":
        return {"rack": Motion.DRIVEN}
    if steering.idler is None:
        return {"pitman arm": Motion.DRIVEN}
    return {"pitman arm": Motion.DRIVEN, "idler arm": Motion.FREE, "centre link": Motion.FREE}


def _steered_to_the_left(mechanism: Mechanism) -> Mechanism:
    """Choose the driven body's sense so that a positive share of lock turns the wheels to the left (ISO 8855)."""
    if mechanism.steer is None:
        return mechanism
    turned = ride_twists(mechanism, mechanism.steer)
    rate = sum(float(turned[wheel.on][2]) for wheel in mechanism.wheels if wheel.on in turned)
    if abs(rate) < 1e-6:
        raise SceneError('[steering] moves no wheel: no link joins it to a knuckle; add a tie rod with on = "rack".')
    if rate > 0.0:
        return mechanism
    bodies = tuple(
        body
        if body.screw is None
        else replace(body, screw=replace(body.screw, left=-body.screw.left, right=-body.screw.right))
        for body in mechanism.bodies
    )
    return replace(mechanism, bodies=bodies)
