"""The lines along which parts run: tubes that a bracket can be welded to, a wheel's flange, an arm's outer end."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from model.joints import JointKind
from model.mechanism import FRAME, Arm, Bar, Beam, End, Mechanism, Wheel
from model.spatial import Array, dot, norm, unit
from model.welds import Stem, stems

# The middle of the boss that a ball stud is drawn into, in radii of the ball from its centre.
BOSS = 2.4
# From the middle of a kingpin to the end of the axle's tube, in mm.
KINGPIN_ROOM = 95.0
# From a shaft joint's middle to the end of its yoke, in radii of the shaft.
YOKE = 2.1
# The ball of an arm's outer joint, as a share of the arm's diameter.
ARM_BALL = 1.25


def tubes_of(part: str, mechanism: Mechanism) -> list[list[Stem]]:
    """The tubes that a part is made of, each by its legs, where a bracket can be welded on."""
    if part == FRAME:
        return [
            stems(shape.path, shape.diameter, shape.section) for shape in mechanism.shapes if shape.path is not None
        ]
    lines = [line for beam in mechanism.beams if beam.name == part for line in beam_lines(beam, mechanism)]
    lines += [
        (np.array([end.at for end in link.ends]), 0.5 * link.diameter) for link in mechanism.links if link.name == part
    ]
    lines += [
        (np.array([pivot.at, outer]), 0.5 * arm.diameter)
        for arm in mechanism.arms
        if arm.name == part
        for pivot in arm.pivots
        for outer in [outer_end(arm, mechanism)]
    ]
    lines += [
        (bar_line(bar, number, mechanism), 0.5 * bar.diameter)
        for bar in mechanism.bars
        for number, name in enumerate(bar.arms)
        if name == part
    ]
    return [stems(line, 2.0 * radius, None) for line, radius in lines if len(line) > 1]


def middle_of(mechanism: Mechanism, part: str) -> Array:
    """Mean (3,) of the wheel centres on a part, of its points where it carries no wheel."""
    centres = [wheel.centre for wheel in mechanism.wheels if wheel.on == part]
    centres = centres or [at for _, holder, at in mechanism.points if holder == part]
    return np.mean(centres, axis=0) if centres else np.zeros(3)


def outer_end(arm: Arm, mechanism: Mechanism) -> Array:
    """Where an arm's tubes meet (3,): its ball joint, or just inside the wheel it carries."""
    if arm.ball is not None:
        return arm.ball.at
    wheels = [wheel for wheel in mechanism.wheels if wheel.on == arm.name]
    if wheels:
        return flange_of(wheels[0]) + 45.0 * inboard_of(wheels[0])
    others = [at for _, holder, at in mechanism.points if holder == arm.name]
    middle = 0.5 * (arm.pivots[0].at + arm.pivots[1].at)
    return max(others, key=lambda at: float(norm(at - middle)), default=middle + np.array([0.0, 0.0, 100.0]))


def beam_line(beam: Beam, mechanism: Mechanism) -> Array:
    """Middle line (2, 3) of an axle tube, from right to left, ending at the hubs or just inside its kingpins."""
    ends = [flange_of(wheel) + 40.0 * inboard_of(wheel) for wheel in mechanism.wheels if wheel.on == beam.name]
    for pins in kingpins_of(beam, mechanism).values():
        middle = np.mean([pin.at for pin in pins], axis=0)
        ends.append(middle - np.array([0.0, np.copysign(KINGPIN_ROOM, middle[1]), 0.0]))
    return np.array(sorted(ends, key=lambda end: float(end[1])))


def kingpins_of(beam: Beam, mechanism: Mechanism) -> dict[str, list[End]]:
    """The joints of each knuckle that turns on an axle about a kingpin, lower one first, by the knuckle's name."""
    pins: dict[str, list[End]] = {}
    for pin in mechanism.pins:
        if pin.end.on == beam.name:
            pins.setdefault(pin.part, []).append(pin.end)
    return {part: sorted(ends, key=lambda end: float(end.at[2])) for part, ends in pins.items() if len(ends) == 2}


def beam_lines(beam: Beam, mechanism: Mechanism) -> list[tuple[Array, float]]:
    """Middle lines and radii of an axle's tube and, where it has one, its centre housing."""
    line = beam_line(beam, mechanism)
    lines = [(line, 0.5 * beam.tube_diameter)]
    if beam.housing is not None and len(line) == 2:
        half = 0.25 * beam.housing_diameter * unit(line[1] - line[0])
        lines.append((np.stack([beam.housing - half, beam.housing + half]), 0.45 * beam.housing_diameter))
    return lines


def inboard_of(wheel: Wheel) -> Array:
    """Unit direction (3,) along a wheel's spin axis towards the middle of the vehicle."""
    return -wheel.axis if wheel.centre[1] >= 0.0 else wheel.axis


def flange_of(wheel: Wheel) -> Array:
    """Where the rim's disc bolts to the hub (3,)."""
    return wheel.centre - 0.12 * wheel.width * inboard_of(wheel)


def nearest_on(line: Array, at: Array) -> Array:
    """The point (3,) of a line between two points (2, 3) that is nearest to a point (3,)."""
    span = line[1] - line[0]
    share = np.clip(dot(at - line[0], span) / max(float(dot(span, span)), 1e-9), 0.0, 1.0)
    return np.asarray(line[0] + share * span)


def stud_axis(end: End, mechanism: Mechanism) -> Array:
    """Direction (3,) in which a ball stud stands: along its bolt, to the side of the part that holds it."""
    return towards(end.bolt, middle_of(mechanism, end.on) - end.at)


def into_member(mechanism: Mechanism, member: str, end: End) -> Array:
    """From one end (3,) of a link, coilover or strut to its other end."""
    ends = [link.ends for link in mechanism.links if link.name == member]
    ends += [(damper.top, damper.bottom) for damper in mechanism.coilovers if damper.name == member]
    first, second = ends[0]
    return np.asarray((second if end is first else first).at - end.at)


def towards(line: Array, side: Array) -> Array:
    """A line (3,) pointing to the side that `side` (3,) lies on."""
    return line if dot(line, side) >= 0.0 else -line


def loose_points(part: str, known: Sequence[Array], mechanism: Mechanism) -> list[Array]:
    """Points (3,) on a part other than those already drawn, wheel centres, and where hoses and shafts end."""
    taken = [*known, *(wheel.centre for wheel in mechanism.wheels)]
    taken += [fixing.at for hose in mechanism.hoses for fixing in hose.ends if fixing.on == part]
    taken += [joint.at for shaft in mechanism.shafts for joint in shaft.joints if joint.on == part]
    held = [end.at for link in mechanism.links for end in link.ends if end.on == part]
    places = [at for _, holder, at in mechanism.points if holder == part]
    places += [pin.end.at for pin in mechanism.pins if pin.part == part]
    free = [at for at in places if all(norm(at - other) > 1.0 for other in taken)]
    return [*free, *(at for at in held if all(norm(at - other) > 1.0 for other in (*free, *known)))]


def seat_of(part: str, point: Array, mechanism: Mechanism) -> Array:
    """Where (3,) a part takes hold of the joint at one of its points: a ball stud's boss, else the point itself."""
    studs = [(arm.ball, ARM_BALL * arm.diameter) for arm in mechanism.arms if arm.ball is not None]
    studs += [(end, link.diameter) for link in mechanism.links for end in link.ends]
    for end, size in studs:
        held = end.on == part and norm(end.at - point) < 1.0
        if held and end.joint.kind is JointKind.BALL_JOINT:
            return end.at + BOSS * 0.5 * size * stud_axis(end, mechanism)
    return point


def bar_line(bar: Bar, number: int, mechanism: Mechanism) -> Array:
    """Middle line (3, 3) of an anti-roll bar's arm: its bush, its knee, and where it takes hold of its end link."""
    bush, end = bar.pivots[number].at, bar.ends[number]
    out = unit(bush - bar.pivots[1 - number].at)
    # The bar runs on beyond its bush, then turns towards its end.
    knee = bush + max(0.8 * float(dot(end - bush, out)), 1.8 * bar.diameter) * out
    seat = seat_of(bar.arms[number], end, mechanism)
    if norm(seat - end) < 1.0:
        short = max(
            (link.diameter for link in mechanism.links for e in link.ends if e.on == bar.arms[number]), default=0.0
        )
        seat = end - min(1.5 * short, 0.4 * float(norm(end - knee))) * unit(end - knee)
    return np.array([bush, knee, seat])
