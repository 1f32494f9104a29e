"""Driveshafts over poses: joint angles, how unevenly they turn, and what their slip has left."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from model import hooke
from model.joints import JointKind
from model.limits import CLOSE_SHARE
from model.measures import Bound, Measure, Quantity, advised, angle_bound, at_ride, given_bound
from model.mechanism import Mechanism, Shaft
from model.members import Posture, Transform, posture
from model.poses import Poses
from model.spatial import Array, norm, turn, unit

# Typical, a factory manual and shaft makers: at ride height every joint bent by ½° to 3°, both ends within 1°.
LEAST_ANGLE, MOST_ANGLE, MOST_DIFFERENCE = np.radians(0.5), np.radians(3.0), np.radians(1.0)
ADVICE = "typical: ½° to 3° at ride height, ends within 1°, factory manual and shaft makers"
MOVING, BENT, ALIKE = (
    advised(LEAST_ANGLE, ADVICE, least=True),
    advised(MOST_ANGLE, ADVICE),
    advised(MOST_DIFFERENCE, ADVICE),
)
# Typical, a joint maker's limit: what is left uneven is no worse than one joint of 3°.
EVEN = Bound(
    np.radians(3.0),
    CLOSE_SHARE * np.radians(3.0),
    typical=True,
    source="typical: as uneven as one joint of 3°, a joint maker's limit",
)
# Typical, a table after SAE AE-7 §3.1.1, in rad/s².
SMOOTH = Bound(400.0, CLOSE_SHARE * 400.0, typical=True, source="typical: table after SAE AE-7 §3.1.1")
# Common practice, no source: ¾ in of room left before a slip yoke bottoms, better 1 in; mm.
ROOM = Bound(19.0, 25.4, True, "typical: ¾ to 1 in, common practice, no source", least=True)

ACROSS, UP, ALONG = np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])


@dataclass(frozen=True)
class ShaftMotion:
    """One driveshaft of J joints over N poses; angles in rad, lengths in mm.

    at (J, N, 3): the joints' middles. directions (J + 1, N, 3): of what turns, from what drives the shaft to what it
    drives. true (J, N): the joints' angles; side, plan (J, N): the same as seen from the side and from above, positive
    about the view's own axis (y and z of ISO 8855); of a shaft that runs across the car `side` is seen from the rear
    (about x). difference (N,): the last joint's angle less that of the joint before it, `None` unless both are
    universal. longer (N,): how much longer the shaft is than at ride height.
    """

    shaft: Shaft
    at: Array
    directions: Array
    true: Array
    side: Array
    plan: Array
    difference: Array | None
    longer: Array

    @property
    def kappa(self) -> Array | None:
        """Unevenness (N,) of the far end, see `model.hooke`; NaN where a universal joint is bent past square."""
        return self.kappa_at(self.shaft.phase)

    def kappa_at(self, phase: float) -> Array | None:
        """The same with another phase in rad of the last piece; `None` without a universal joint."""
        universal = _universal(self.shaft)
        return hooke.unevenness(self.directions, universal, _phases(self.shaft, phase)) if any(universal) else None

    @property
    def acceleration(self) -> Array | None:
        """Greatest angular acceleration (N,) of the far end in rad/s² at the scene's speed."""
        kappa = self.kappa
        if kappa is None or self.shaft.speed is None:
            return None
        return hooke.greatest_acceleration(kappa, self.shaft.speed * np.pi / 30.0)


@dataclass(frozen=True)
class ShaftReport:
    """One driveshaft at ride height, and what its travel takes from its slip; angles in rad, lengths in mm.

    places, true, side, plan, largest: of each joint its place, its angles as in `ShaftMotion`, and the largest true
    angle over the travel. across: the shaft runs across the car, so that `side` is seen from the rear. fluctuation:
    greatest less least speed of the far end as a share of the mean. acceleration in rad/s² at `speed` rpm. phase and
    best_phase: of the last piece, now and with the least unevenness; best_fluctuation: what would then be left.
    most_difference, most_fluctuation, most_acceleration: the same at their largest over the travel.
    shortest, longest: change of length from ride height over the travel. engaged, room_in, room_out: the least that is
    left over the travel. `None` where a shaft has no such thing.
    """

    name: str
    places: tuple[str, ...]
    across: bool
    true: tuple[float, ...]
    side: tuple[float, ...]
    plan: tuple[float, ...]
    largest: tuple[float, ...]
    difference: float | None
    phase: float | None
    best_phase: float | None
    fluctuation: float | None
    best_fluctuation: float | None
    equivalent: float | None
    speed: float | None
    acceleration: float | None
    most_difference: float | None
    most_fluctuation: float | None
    most_acceleration: float | None
    shortest: float
    longest: float
    engaged: float | None
    room_in: float | None
    room_out: float | None


def shaft_motions(mechanism: Mechanism, parts: Mapping[str, Transform]) -> tuple[ShaftMotion, ...]:
    """What every driveshaft does in every pose of its holders' transforms."""
    return tuple(_motion(shaft, parts) for shaft in mechanism.shafts)


def runs_across(shaft: Shaft) -> bool:
    """Whether a shaft runs across the car rather than along it."""
    run = shaft.joints[-1].at - shaft.joints[0].at
    return bool(abs(run[1]) > abs(run[0]))


def _motion(shaft: Shaft, parts: Mapping[str, Transform]) -> ShaftMotion:
    at = np.stack([parts[joint.on].point(joint.at) for joint in shaft.joints])
    axes = [turn(parts[joint.on].rotation, joint.axis)[None] for joint in shaft.joints if joint.axis is not None]
    directions = np.concatenate([axes[0], unit(np.diff(at, axis=0)), axes[-1]])
    true = hooke.joint_angles(directions)
    return ShaftMotion(
        shaft=shaft,
        at=at,
        directions=directions,
        true=true,
        side=hooke.seen_angles(directions, ALONG if runs_across(shaft) else ACROSS),
        plan=hooke.seen_angles(directions, UP),
        difference=true[-1] - true[-2] if all(_universal(shaft)[-2:]) else None,
        longer=norm(at[-1] - at[-2]) - norm(shaft.joints[-1].at - shaft.joints[-2].at),
    )


def _at_rest(shaft: Shaft) -> ShaftMotion:
    """A shaft at ride height, as the only pose."""
    still = Transform(np.eye(3)[None], np.zeros((1, 3)))
    return _motion(shaft, {joint.on: still for joint in shaft.joints})


def _universal(shaft: Shaft) -> list[bool]:
    return [joint.joint.kind is JointKind.UNIVERSAL_JOINT for joint in shaft.joints]


def _phases(shaft: Shaft, last: float) -> list[float]:
    """Phase of each piece in rad; the yokes of a first piece are taken to be in line, as is common practice."""
    return [*[0.0] * (len(shaft.joints) - 2), last]


def shaft_measures(poses: Poses, now: Posture) -> Iterator[Measure]:
    """Joint angles, unevenness and slip of every driveshaft, over solved poses; unevenness at ride height only."""
    ride = at_ride(poses.travel.values)
    for motion in shaft_motions(poses.mechanism, now.parts):
        yield from _angle_measures(motion)
        for rest in _ride_measures(_at_rest(motion.shaft)):
            values, at = np.where(ride, rest.values, np.nan), np.broadcast_to(rest.at, (len(ride), 3))
            yield replace(rest, values=values, at=at)
        yield from _length_measures(motion)


def _angle_measures(motion: ShaftMotion) -> Iterator[Measure]:
    for number, joint in enumerate(motion.shaft.joints):
        yield _at_joint("joint angle", motion, number, angle_bound(joint.joint.tilt), motion.true[number])


def _ride_measures(motion: ShaftMotion) -> Iterator[Measure]:
    """What is only asked of universal joints at ride height, where a shaft spends its life."""
    for number, universal in enumerate(_universal(motion.shaft)):
        if universal:
            angle = motion.true[number]
            yield _at_joint("joint angle at ride height", motion, number, BENT, angle)
            # A joint that stands straight never turns its needles, which then wear into the cross.
            yield _at_joint("least joint angle at ride height", motion, number, MOVING, angle)
    if motion.difference is not None:
        yield _of_shaft("difference of ends at ride height", motion, Quantity.ANGLE, ALIKE, np.abs(motion.difference))
    kappa, acceleration = motion.kappa, motion.acceleration
    if kappa is not None:
        angle = hooke.equivalent_angle(kappa)
        yield _of_shaft("equivalent angle at ride height", motion, Quantity.ANGLE, EVEN, angle)
    if acceleration is not None:
        yield _of_shaft("torsional acceleration at ride height", motion, Quantity.ACCELERATION, SMOOTH, acceleration)


def _length_measures(motion: ShaftMotion) -> Iterator[Measure]:
    slip = motion.shaft.slip

    def length(what: str, bound: Bound | None, values: Array) -> Measure:
        return _of_shaft(what, motion, Quantity.LENGTH, bound, values)

    if slip is None:
        yield length("change of length", None, np.abs(motion.longer))
    elif slip.room_out is not None:
        yield length("plunge in", given_bound(slip.room_in, "room_in in the scene file"), -motion.longer)
        yield length("plunge out", given_bound(slip.room_out, "room_out in the scene file"), motion.longer)
    elif slip.engaged is not None and slip.diameter is not None:
        held = "typical: engaged by its spline's diameter, common practice, no source"
        mesh = Bound(slip.diameter, slip.diameter / CLOSE_SHARE, typical=True, source=held, least=True)
        yield length("spline engaged", mesh, slip.engaged - motion.longer)
        yield length("slip room left", ROOM, slip.room_in + motion.longer)


def _at_joint(what: str, motion: ShaftMotion, number: int, bound: Bound | None, values: Array) -> Measure:
    where = f"{motion.shaft.name}, {motion.shaft.joints[number].place}"
    return Measure(what, where, motion.shaft.name, Quantity.ANGLE, bound, values, motion.at[number])


def _of_shaft(what: str, motion: ShaftMotion, quantity: Quantity, bound: Bound | None, values: Array) -> Measure:
    name, middle = motion.shaft.name, 0.5 * (motion.at[-2] + motion.at[-1])
    return Measure(what, name, name, quantity, bound, values, middle)


@dataclass(frozen=True)
class _Range:
    """What a shaft goes through over some poses: largest true angles (J,), difference of ends, unevenness, lengths."""

    angles: Array
    difference: float
    kappa: float
    shortest: float
    longest: float

    @classmethod
    def of(cls, motion: ShaftMotion) -> _Range:
        apart, kappa = motion.difference, motion.kappa
        return cls(
            angles=motion.true.max(axis=1),
            difference=0.0 if apart is None else float(np.abs(apart).max()),
            # NaN is a joint bent past square: its angle says so.
            kappa=0.0 if kappa is None else float(np.nan_to_num(kappa).max()),
            shortest=float(motion.longer.min()),
            longest=float(motion.longer.max()),
        )

    def and_(self, other: _Range) -> _Range:
        """What both went through."""
        return _Range(
            np.maximum(self.angles, other.angles),
            max(self.difference, other.difference),
            max(self.kappa, other.kappa),
            min(self.shortest, other.shortest),
            max(self.longest, other.longest),
        )


def shaft_reports(poses: Poses) -> tuple[ShaftReport, ...]:
    """Every driveshaft at ride height and over the solved poses."""
    shafts = poses.mechanism.shafts
    if not shafts:
        return ()
    ranges = [_Range.of(_at_rest(shaft)) for shaft in shafts]
    for _, part in poses.solved_parts():
        motions = shaft_motions(poses.mechanism, posture(part).parts)
        ranges = [known.and_(_Range.of(motion)) for known, motion in zip(ranges, motions, strict=True)]
    return tuple(map(_report, shafts, ranges))


def _report(shaft: Shaft, over: _Range) -> ShaftReport:
    ride, universal = _at_rest(shaft), _universal(shaft)
    kappa, best = ride.kappa, None
    phase = best_phase = None
    if all(universal[-2:]):
        phase = shaft.phase
        best_phase = float(hooke.best_phase(ride.directions, universal, _phases(shaft, phase))[0])
        best = ride.kappa_at(best_phase)
    most = np.array([over.kappa])
    slip = shaft.slip
    return ShaftReport(
        name=shaft.name,
        places=tuple(joint.place for joint in shaft.joints),
        across=runs_across(shaft),
        true=tuple(ride.true[:, 0].tolist()),
        side=tuple(ride.side[:, 0].tolist()),
        plan=tuple(ride.plan[:, 0].tolist()),
        largest=tuple(over.angles.tolist()),
        difference=_first(ride.difference),
        phase=phase,
        best_phase=best_phase,
        fluctuation=None if kappa is None else float(hooke.fluctuation(kappa)[0]),
        best_fluctuation=None if best is None else float(hooke.fluctuation(best)[0]),
        equivalent=None if kappa is None else float(hooke.equivalent_angle(kappa)[0]),
        speed=shaft.speed,
        acceleration=_first(ride.acceleration),
        most_difference=None if ride.difference is None else over.difference,
        most_fluctuation=None if kappa is None else float(hooke.fluctuation(most)[0]),
        most_acceleration=None
        if kappa is None or shaft.speed is None
        else float(hooke.greatest_acceleration(most, shaft.speed * np.pi / 30.0)[0]),
        shortest=over.shortest,
        longest=over.longest,
        engaged=None if slip is None or slip.engaged is None else slip.engaged - over.longest,
        room_in=None if slip is None else slip.room_in + over.shortest,
        room_out=None if slip is None or slip.room_out is None else slip.room_out - over.longest,
    )


def _first(values: Array | None) -> float | None:
    return None if values is None else float(values[0])
