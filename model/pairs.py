"""Which parts can meet, what is left out where they share a joint, and what distance is wanted of them.

Two shapes of the same member (a spring and its damper, the two arms of an anti-roll bar) never count, nor does a rack
with the tube it slides in, nor do two that ride on the same part: they are bolted together, such as a brake to its
upright or a bracket to its rail. But a wheel is measured against the brake that it goes round, outside the hat that it
is bolted to (nearer to the flange than the pads), and so are two on the same part of which a `[gap]` asks by name:
once, at ride height.

Members that share a joint touch there by design: of such a pair every triangle within `JOINT_ROOM` times the thickness
of the member, and at least `JOINT_LEAST`, of the joint's middle at ride height is left out, of both. The joint is one
with the part that holds it and with its brackets; of the frame's shapes only with the one that its bracket is drawn to
and with those that reach into its eye. Any other shape, and a wheel or a brake, is no neighbour and keeps all its
triangles.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from model.brackets import BRACKET_REACH, nearest_tube
from model.brakeshapes import PADS
from model.distances import RIBBON, Shape, nearest, ribbon
from model.envelopes import Kind, MeasuredPart
from model.mechanism import FRAME, Gap, Mechanism, Offset
from model.outlines import flange_of
from model.spatial import Array, norm
from model.triangles import Mesh

# A rod end is drawn with its insert ending 1.95 thicknesses of its bar from the middle; eyes, studs and the plates
# beside them reach no farther.
JOINT_ROOM = 2.0
JOINT_LEAST = 30.0  # mm
# What comes this near to a joint's middle, as a share of its room, is inside its eye.
EYE = 0.25
# A crank with the shaft that it turns on, a knuckle on its kingpin, mm.
SHAFT_ROOM = 60.0
# Triangles on the edge of what is left out are cut up to this share of its radius.
CUT = 0.1

# Typical distances in mm (docs/sources.md).
TYRE, WHEEL, SPRING = 25.0, 6.0, 6.0
TYRE_SOURCE = "vehicle inspection manual, tyre to body or frame"
WHEEL_SOURCE = "wheel to brake or arm"
SPRING_SOURCE = "common practice, spring to anything"
# Nearer than this is worth a look where no distance is wanted: what a tape under a car may be wrong by.
CLOSE = 3.0

WHEELS = (Kind.TYRE, Kind.RIM)
NO_NEIGHBOUR = (*WHEELS, Kind.BRAKE)


@dataclass(frozen=True)
class Wanted:
    """The least distance in mm that is wanted; `typical` where the scene does not give it."""

    least: float
    typical: bool
    source: str


@dataclass(frozen=True)
class Joint:
    """Where two members meet: the member's name, what it is bolted to, the middle (3,) and the room around it, mm.

    Of a joint on the frame `strangers` are the frame shapes that it is not bolted to.
    """

    member: str
    on: str
    at: Array
    room: float
    strangers: frozenset[str] = frozenset()

    @property
    def key(self) -> tuple[float, ...]:
        """What tells which triangles it leaves out."""
        return (*map(float, self.at), self.room)


@dataclass(frozen=True)
class Pair:
    """Two measured parts by their numbers, the joints that they share, and what is wanted between them.

    `still` is true where both ride on the same part: their distance is the same in every pose. `bolted` is true of a
    member and the bracket of its own joint, whose bolt may end inside the member: only surfaces that meet count.
    """

    first: int
    second: int
    joints: tuple[Joint, ...]
    wanted: Wanted
    still: bool = False
    bolted: bool = False


def pairs_of(mechanism: Mechanism, parts: tuple[MeasuredPart, ...]) -> Iterator[Pair]:
    """Every two parts that can meet and are not told to be left alone."""
    names = {shape.name for shape in mechanism.shapes}
    shapes = {part.label: Shape(part.mesh) for part in parts if part.label in names and part.parts == (FRAME,)}
    joints = tuple(_at_home(mechanism, joint, shapes) for joint in joints_of(mechanism))
    one = {f"{unit.name} body": unit.bottom.on for unit in mechanism.coilovers if unit.strut}
    # The tube in which a rack slides is among the fittings of the frame.
    slides = {FRAME, *(body.name for body in mechanism.bodies if body.screw is not None and not body.screw.turns)}
    places = [frozenset(one.get(name, name) for name in part.parts) for part in parts]
    for second, b in enumerate(parts):
        for first, a in enumerate(parts[:second]):
            still = places[first] == places[second]
            hubs = tuple(_hubs(mechanism, a, b)) if still else ()
            if a.member == b.member or slides == {a.label, b.label}:
                continue
            if still and not hubs and gap_of(mechanism, a, b) is None:
                continue
            wanted = wanted_of(mechanism, a, b)
            if wanted is not None:
                shared = hubs or tuple(joint for joint in joints if _meet(joint, a, b) or _meet(joint, b, a))
                yield Pair(first, second, shared, wanted, still, _bolted(a, b) or _bolted(b, a))


def _bolted(member: MeasuredPart, bracket: MeasuredPart) -> bool:
    """Whether the second is the bracket of one of the first's own joints."""
    return bracket.label.startswith(f"bracket of {member.member}, ")


def _hubs(mechanism: Mechanism, a: MeasuredPart, b: MeasuredPart) -> Iterator[Joint]:
    """Where a wheel is bolted to its brake, if these are the two: within where the pads begin."""
    for wheel in mechanism.wheels:
        for brake in mechanism.brakes:
            if brake.wheel == wheel.name and {a.label, b.label} == {brake.name, wheel.name}:
                yield Joint(brake.name, wheel.name, flange_of(wheel), 0.5 * PADS * brake.diameter)


def _meet(joint: Joint, member: MeasuredPart, holder: MeasuredPart) -> bool:
    """Whether a joint ties a member to a holder."""
    if holder.kind in NO_NEIGHBOUR or member.kind in NO_NEIGHBOUR or holder.label in joint.strangers:
        return False
    own = joint.member in (member.member, member.label) or joint.member in member.parts
    return own and (joint.on in holder.parts or joint.on in (holder.member, holder.label))


def _at_home(mechanism: Mechanism, joint: Joint, shapes: dict[str, Shape]) -> Joint:
    """A joint that knows its strangers among the frame shapes.

    It is bolted to the tube that its bracket is drawn to, which is the nearest; where none is within `BRACKET_REACH`,
    to the nearest shape of any kind; and to those that reach into its eye, `EYE` of its room.
    """
    if joint.on != FRAME or not shapes:
        return joint
    tubes = {
        shape.name: found.clear
        for shape in mechanism.shapes
        if (found := nearest_tube(FRAME, joint.at, replace(mechanism, shapes=(shape,)))) is not None
    }
    point = Shape(ribbon(joint.at + np.array([[0.0, 0.0, 0.0], [RIBBON, 0.0, 0.0]])))
    still = np.eye(3), np.zeros(3)
    away = {name: nearest(shape, point, *still, apart=True).distance for name, shape in shapes.items()}
    home = min(tubes, key=tubes.__getitem__, default=None)
    if home is None or tubes[home] > BRACKET_REACH:
        home = min(away, key=away.__getitem__)
    return replace(joint, strangers=frozenset(each for each in away if each != home and away[each] > EYE * joint.room))


def joints_of(mechanism: Mechanism) -> Iterator[Joint]:
    """Every place at which members are tied together."""
    tied = [(link.name, end, link.diameter) for link in mechanism.links for end in link.ends]
    tied += [(arm.name, end, arm.diameter) for arm in mechanism.arms for end in arm.ends]
    tied += [(unit.name, end, unit.body_diameter) for unit in mechanism.coilovers for end in (unit.top, unit.bottom)]
    tied += [(bar.name, end, bar.diameter) for bar in mechanism.bars for end in bar.pivots]
    for member, end, thickness in tied:
        yield Joint(member, end.on, end.at, max(JOINT_ROOM * thickness, JOINT_LEAST))
    for pin in mechanism.pins:
        yield Joint(pin.part, pin.end.on, pin.end.at, SHAFT_ROOM)
    for body in mechanism.bodies:
        if body.screw is not None and body.screw.turns:
            yield Joint(body.name, FRAME, body.screw.point, SHAFT_ROOM)
    turning = {row.tip.body: row.tip.at for row in mechanism.rows if isinstance(row, Offset) and row.drive is None}
    for number, at in turning.items():
        yield Joint(mechanism.bodies[number].name, FRAME, at, SHAFT_ROOM)
    for shaft in mechanism.shafts:
        for joint in shaft.joints:
            yield Joint(shaft.name, joint.on, joint.at, max(JOINT_ROOM * shaft.diameter, JOINT_LEAST))
    for hose in mechanism.hoses:
        for fixing in hose.ends:
            yield Joint(hose.name, fixing.on, fixing.at, JOINT_LEAST)


def gap_of(mechanism: Mechanism, a: MeasuredPart, b: MeasuredPart) -> Gap | None:
    """The `[gap]` of the scene that names two parts."""
    names = [{part.label, part.member} for part in (a, b)]
    for gap in mechanism.gaps:
        one, other = gap.between
        if (one in names[0] and other in names[1]) or (other in names[0] and one in names[1]):
            return gap
    return None


def wanted_of(mechanism: Mechanism, a: MeasuredPart, b: MeasuredPart) -> Wanted | None:
    """What is wanted between two parts: of the scene for these two, for their kinds, or typical; None: not measured."""
    gap = gap_of(mechanism, a, b)
    if gap is not None:
        return None if gap.wanted is None else Wanted(gap.wanted, typical=False, source="[gap] in the scene file")
    given, kinds = mechanism.wanted, {a.kind, b.kind}
    on_frame = [part.parts == (FRAME,) for part in (a, b)]
    typical, source, own = 0.0, "parts must not touch", given.other
    if Kind.SPRING in kinds:
        typical, source, own = SPRING, SPRING_SOURCE, given.spring
    elif Kind.TYRE in kinds and any(on_frame):
        typical, source, own = TYRE, TYRE_SOURCE, given.tyre
    elif kinds & set(WHEELS) and kinds & {Kind.BRAKE, Kind.ARM, Kind.LINK}:
        typical, source, own = WHEEL, WHEEL_SOURCE, given.wheel
    elif Kind.HOSE in kinds:
        own = given.hose
    elif Kind.SHAFT in kinds:
        own = given.shaft
    if own is not None:
        return Wanted(own, typical=False, source="[wanted] in the scene file")
    return Wanted(typical, typical=typical > 0.0, source=source)


def without(mesh: Mesh, joints: tuple[Joint, ...], *, whole: bool = False) -> Mesh:
    """A mesh without its triangles near joints; those on the edge are cut up first, unless kept `whole`."""
    for joint in joints:
        mesh = _without(mesh, joint.at, joint.room, whole)
    return mesh


def _without(mesh: Mesh, at: Array, room: float, whole: bool) -> Mesh:
    triangles = mesh.points[mesh.faces]
    if not whole and len(mesh.faces):
        middle = triangles.mean(axis=1)
        reach = norm(triangles - middle[:, None]).max(axis=1)
        near = norm(middle - at) - reach < room
        if not near.any():
            return mesh
        cut = _cut_up(triangles[near], at, room)
        faces = np.arange(3 * len(cut)).reshape(-1, 3) + len(mesh.points)
        mesh = Mesh(np.concatenate([mesh.points, cut.reshape(-1, 3)]), np.concatenate([mesh.faces[~near], faces]))
        triangles = mesh.points[mesh.faces]
    away = norm(triangles.mean(axis=1) - at) >= room
    return mesh if away.all() else Mesh(mesh.points, mesh.faces[away])


def _cut_up(triangles: Array, at: Array, room: float) -> Array:
    """Triangles (n, 3, 3) halved across their longest edges until those on the edge of a ball are small."""
    done = []
    while len(triangles):
        edges = norm(np.roll(triangles, -1, axis=1) - triangles)
        longest = edges.argmax(axis=1)
        far = norm(triangles - at)
        middle = triangles.mean(axis=1)
        outside = norm(middle - at) - norm(triangles - middle[:, None]).max(axis=1) >= room
        finished = (edges.max(axis=1) <= CUT * room) | (far.max(axis=1) < room) | outside
        done.append(triangles[finished])
        rest, first = triangles[~finished], longest[~finished]
        rows = np.arange(len(rest))
        a, b, c = (rest[rows, (first + k) % 3] for k in range(3))
        half = 0.5 * (a + b)
        triangles = np.concatenate([np.stack([a, half, c], axis=1), np.stack([half, b, c], axis=1)])
    return np.concatenate(done)
