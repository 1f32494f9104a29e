"""Where every part is and what every joint does: bodies, then arms, links and coilovers that follow from them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.antiroll import arm_turn
from model.articulation import plane_polar, spin_between, tilt_between, twist_about
from model.joints import JointKind
from model.mechanism import Arm, Bar, Coilover, End, Link, Mechanism
from model.poses import Poses
from model.shaftpieces import place_pieces
from model.spatial import (
    Array,
    about_point,
    dot,
    homogeneous,
    move,
    norm,
    rotation_about,
    shortest_rotation,
    square_to,
    triad,
    turn,
    turn_about,
    unit,
)

# Heads that are threaded or pressed in square to their bar; a welded eye is taken to fit its bolt at ride height.
SQUARE_KINDS = frozenset({JointKind.ROD_END, JointKind.BALL_JOINT})
# Used only to weigh two ends against each other where neither the scene nor common practice has a limit.
NO_LIMIT = np.radians(20.0)


@dataclass(frozen=True)
class Transform:
    """Rotation (N, 3, 3) and translation (N, 3) in mm that take ride-height positions to each pose."""

    rotation: Array
    translation: Array

    def point(self, at: Array) -> Array:
        """Where a ride-height point (3,) is in each pose, (N, 3)."""
        return move(self.rotation, self.translation, at)

    def matrix(self) -> Array:
        """Return 4×4 matrices (N, 4, 4)."""
        return homogeneous(self.rotation, self.translation)


@dataclass(frozen=True)
class JointMotion:
    """One joint over all poses: tilt (N,) across its axis and turn (N,) about it, in rad, and where it is (N, 3)."""

    member: str
    end: End
    tilt: Array
    turn: Array
    at: Array


@dataclass(frozen=True)
class Stroke:
    """A coilover's or strut's length (N,) in mm between its ends (N, 3)."""

    coilover: Coilover
    length: Array
    top: Array
    bottom: Array


@dataclass(frozen=True)
class ArmMotion:
    """An anti-roll bar's arm over N poses: its turn (N,) and its angle (N,) to its end link, rad; its end (N, 3)."""

    bar: Bar
    arm: str
    turn: Array
    to_link: Array
    end: Array


@dataclass(frozen=True)
class Posture:
    """Every part's transform by its name, every joint's, coilover's and bar arm's motion over N poses."""

    parts: dict[str, Transform]
    joints: tuple[JointMotion, ...]
    strokes: tuple[Stroke, ...]
    bar_arms: tuple[ArmMotion, ...]


def halves(name: str) -> tuple[str, str]:
    """Part names of a coilover's upper half (shaft) and lower half (body)."""
    return f"{name} shaft", f"{name} body"


def posture(poses: Poses) -> Posture:
    """Place every part in every pose and measure every joint."""
    mechanism = poses.mechanism
    parts = {
        body.name: Transform(poses.rotation[number], poses.translation[number])
        for number, body in enumerate(mechanism.bodies)
    }
    joints: list[JointMotion] = []
    for arm in mechanism.arms:
        if not arm.body:
            parts[arm.name] = _arm_transform(arm, parts)
        joints += _arm_joints(arm, parts)
    joints += [
        _fitted_joint(pin.part, pin.end, parts[pin.part], parts[pin.end.on], pin.end.bolt) for pin in mechanism.pins
    ]
    bar_arms = []
    for bar in mechanism.bars:
        for number, (name, pivot) in enumerate(zip(bar.arms, bar.pivots, strict=True)):
            parts[name], motion = _bar_arm(mechanism, bar, number, parts)
            bar_arms.append(motion)
            joints.append(_fitted_joint(bar.name, pivot, parts[name], parts[bar.on], pivot.bolt))
    for link in mechanism.links:
        parts[link.name], motions = _link(link, parts)
        joints += motions
    strokes = []
    for coilover in mechanism.coilovers:
        motions, stroke = (_strut if coilover.strut else _coilover)(coilover, parts)
        joints += motions
        strokes.append(stroke)
    for shaft in mechanism.shafts:
        at = [parts[joint.on].point(joint.at) for joint in shaft.joints]
        parts |= {name: Transform(*placed) for name, placed in place_pieces(shaft, at).items()}
    return Posture(parts, tuple(joints), tuple(strokes), tuple(bar_arms))


def point_positions(mechanism: Mechanism, parts: dict[str, Transform]) -> dict[str, Array]:
    """Position (N, 3) in mm of every named point."""
    return {name: parts[holder].point(at) for name, holder, at in mechanism.points}


def _arm_transform(arm: Arm, parts: dict[str, Transform]) -> Transform:
    """Turn a plain arm about the line of its pivots so that it points at its ball joint."""
    if arm.ball is None:
        raise AssertionError("an arm without a ball joint is a body")  # assembly makes it one
    holder = parts[arm.on]
    pivot = arm.pivots[0].at
    axis = unit(arm.pivots[1].at - pivot)
    ball = parts[arm.ball.on].point(arm.ball.at)
    seen = np.einsum("...ji,...j->...i", holder.rotation, ball - holder.translation)
    rotation = holder.rotation @ rotation_about(axis, turn_about(axis, arm.ball.at - pivot, seen - pivot))
    return Transform(rotation, about_point(rotation, pivot, holder.point(pivot)))


def _arm_joints(arm: Arm, parts: dict[str, Transform]) -> list[JointMotion]:
    motions = [_fitted_joint(arm.name, pivot, parts[arm.name], parts[arm.on], pivot.bolt) for pivot in arm.pivots]
    if arm.ball is not None:
        housing = arm.ball.bolt if arm.ball.housing is None else arm.ball.housing
        motions.append(_fitted_joint(arm.name, arm.ball, parts[arm.name], parts[arm.ball.on], housing))
    return motions


def _bar_arm(mechanism: Mechanism, bar: Bar, number: int, parts: dict[str, Transform]) -> tuple[Transform, ArmMotion]:
    """Turn one arm of an anti-roll bar about the bar's axis so that it meets its end link."""
    name, end = bar.arms[number], bar.ends[number]
    link = next(link for link in mechanism.links if name in (link.ends[0].on, link.ends[1].on))
    far = link.ends[1] if link.ends[0].on == name else link.ends[0]
    holder, pivot = parts[bar.on], bar.pivots[0].at
    axis = unit(bar.pivots[1].at - pivot)
    target = parts[far.on].point(far.at) - holder.translation
    seen = np.einsum("...ji,...j->...i", holder.rotation, target)
    turned, to_link = arm_turn(axis, pivot, end, far.at, seen)
    rotation = holder.rotation @ rotation_about(axis, turned)
    placed = Transform(rotation, about_point(rotation, pivot, holder.point(pivot)))
    return placed, ArmMotion(bar, name, turned, to_link, placed.point(end))


def _fitted_joint(member: str, end: End, part: Transform, holder: Transform, eye: Array) -> JointMotion:
    """Measure a joint whose eye axis (3,) at ride height is known; turn counts from ride height."""
    relative = np.swapaxes(holder.rotation, -1, -2) @ part.rotation
    return JointMotion(
        member=member,
        end=end,
        tilt=tilt_between(part.rotation, eye, holder.rotation, end.bolt),
        turn=twist_about(end.bolt, relative),
        at=holder.point(end.at),
    )


@dataclass(frozen=True)
class _Bar:
    """A bar's axes at ride height (3, 3) and in each pose (N, 3, 3), unspun, with x along it."""

    ride: Array
    posed: Array

    @classmethod
    def between(cls, start: Array, stop: Array, start_now: Array, stop_now: Array) -> _Bar:
        along, along_now = unit(stop - start), unit(stop_now - start_now)
        ride = triad(along, square_to(along))
        return cls(ride, shortest_rotation(along, along_now) @ ride)

    def spun(self, spin: Array, ride_spin: Array) -> Array:
        """Rotation (N, 3, 3) from ride height of a bar that has spin (N,) where it had `ride_spin` () at ride."""
        turned = rotation_about(np.array([1.0, 0.0, 0.0]), spin - ride_spin)
        return np.asarray(self.posed @ turned @ self.ride.T)


@dataclass(frozen=True)
class _Eye:
    """An eye of a bar: elevation (rad) of its axis, the side (±1) from which its bolt is seen, its azimuth (rad)."""

    end: End
    elevation: float
    sign: float
    azimuth: float

    def wave(self, axes: Array, holder: Array) -> tuple[Array, Array, Array]:
        """c, s and the best spin, each (...), for bar axes (..., 3, 3) and the holder's rotation (..., 3, 3)."""
        length, azimuth, along = plane_polar(axes, self.sign * turn(holder, self.end.bolt))
        return length * np.cos(self.elevation), along * np.sin(self.elevation), azimuth - self.azimuth

    def axis(self, ride_axes: Array, ride_spin: Array) -> Array:
        """The eye's axis (3,) at ride height, on the bolt's own side."""
        angle = ride_spin + self.azimuth
        flat = np.cos(angle) * ride_axes[:, 1] + np.sin(angle) * ride_axes[:, 2]
        return np.asarray(self.sign * (np.cos(self.elevation) * flat + np.sin(self.elevation) * ride_axes[:, 0]))

    @property
    def limit(self) -> float:
        """Largest tilt in rad, or the weight that stands in for it."""
        return self.end.joint.tilt.angle if self.end.joint.tilt is not None else float(NO_LIMIT)


def _eyes(bar: _Bar, ends: tuple[End, ...], clock: float) -> list[_Eye]:
    """The eyes among a bar's ends, clocked against the first of them."""
    eyes: list[_Eye] = []
    first_azimuth = 0.0
    for end in ends:
        if end.joint.kind is JointKind.INLINE_BALL_JOINT:
            continue
        length, azimuth, along = plane_polar(bar.ride, end.bolt if end.housing is None else end.housing)
        square = _is_square(end)
        elevation = 0.0 if square else float(np.arctan2(along, length))
        if not eyes:
            first_azimuth = float(azimuth)
            eyes.append(_Eye(end, elevation, 1.0, 0.0))
            continue
        apart = float(azimuth) - first_azimuth
        if not square and not _is_square(eyes[0].end):
            eyes.append(_Eye(end, elevation, 1.0, apart))
            continue
        # A bolt is a line: see it from the side on which it is nearer to the clocked head.
        sign = 1.0 if np.cos(apart - clock) >= 0.0 else -1.0
        eyes.append(_Eye(end, sign * elevation, sign, clock))
    return eyes


def _is_square(end: End) -> bool:
    """Whether an eye's axis is square to its bar, whatever its bolt does at ride height."""
    return end.joint.kind in SQUARE_KINDS and end.housing is None


def _best_spin(eyes: list[_Eye], axes: Array, holders: list[Array]) -> Array:
    """Spin (...) in rad of a bar with axes (..., 3, 3) whose eyes are bolted to holders (..., 3, 3)."""
    waves = [eye.wave(axes, holder) for eye, holder in zip(eyes, holders, strict=True)]
    if not waves:
        return np.zeros(axes.shape[:-2])
    if len(waves) == 1:
        return waves[0][2]
    return spin_between(waves[0], waves[1], (eyes[0].limit, eyes[1].limit))


def _spun_bar(bar: _Bar, eyes: list[_Eye], parts: dict[str, Transform]) -> tuple[Array, Array]:
    """Rotation (N, 3, 3) of a bar at its best spin in each pose, and its spin () at ride height."""
    ride_spin = _best_spin(eyes, bar.ride, [np.eye(3)] * len(eyes))
    spin = _best_spin(eyes, bar.posed, [parts[eye.end.on].rotation for eye in eyes])
    return bar.spun(spin, ride_spin), ride_spin


def _end_motion(
    member: str, end: End, bar: _Bar, rotation: Array, eyes: list[_Eye], ride_spin: Array, holder: Transform
) -> JointMotion:
    """Measure one end of a bar: its eye against the bolt, or its own direction against an inline joint's housing."""
    eye = next((eye for eye in eyes if eye.end is end), None)
    if eye is not None:
        axis = eye.axis(bar.ride, ride_spin)
    else:
        axis = bar.ride[:, 0] if dot(bar.ride[:, 0], end.bolt) >= 0.0 else -bar.ride[:, 0]
    relative = np.swapaxes(holder.rotation, -1, -2) @ rotation
    return JointMotion(
        member=member,
        end=end,
        tilt=tilt_between(rotation, axis, holder.rotation, end.bolt),
        turn=twist_about(end.bolt, relative),
        at=holder.point(end.at),
    )


def _link(link: Link, parts: dict[str, Transform]) -> tuple[Transform, list[JointMotion]]:
    first, second = link.ends
    start, stop = parts[first.on].point(first.at), parts[second.on].point(second.at)
    bar = _Bar.between(first.at, second.at, start, stop)
    eyes = _eyes(bar, link.ends, link.clock)
    rotation, ride_spin = _spun_bar(bar, eyes, parts)
    motions = [_end_motion(link.name, end, bar, rotation, eyes, ride_spin, parts[end.on]) for end in link.ends]
    return Transform(rotation, about_point(rotation, first.at, start)), motions


def _coilover(coilover: Coilover, parts: dict[str, Transform]) -> tuple[list[JointMotion], Stroke]:
    """Place both halves, each at its own best spin: the shaft turns freely in the body."""
    ends = (coilover.top, coilover.bottom)
    top, bottom = (parts[end.on].point(end.at) for end in ends)
    bar = _Bar.between(coilover.top.at, coilover.bottom.at, top, bottom)
    motions = []
    for end, now, half in zip(ends, (top, bottom), halves(coilover.name), strict=True):
        eyes = _eyes(bar, (end,), 0.0)
        rotation, ride_spin = _spun_bar(bar, eyes, parts)
        parts[half] = Transform(rotation, about_point(rotation, end.at, now))
        motions.append(_end_motion(coilover.name, end, bar, rotation, eyes, ride_spin, parts[end.on]))
    return motions, Stroke(coilover, norm(bottom - top), top, bottom)


def _strut(strut: Coilover, parts: dict[str, Transform]) -> tuple[list[JointMotion], Stroke]:
    """Place a strut: its body is one with the knuckle, its shaft hangs from the top mount along the same line."""
    knuckle = parts[strut.bottom.on]
    top, foot = parts[strut.top.on].point(strut.top.at), knuckle.point(strut.bottom.at)
    shaft, body = halves(strut.name)
    parts[body] = knuckle
    parts[shaft] = Transform(knuckle.rotation, about_point(knuckle.rotation, strut.top.at, top))
    motion = _fitted_joint(strut.name, strut.top, parts[shaft], parts[strut.top.on], strut.top.bolt)
    return [motion], Stroke(strut, norm(foot - top), top, foot)
