"""Where every part is and what every joint does: bodies, then arms, links and coilovers that follow from them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache, partial

import numpy as np

from model.antiroll import arm_turn
from model.articulation import Wave, spin_band, tilt_between, twist_about
from model.eyes import FittedBar
from model.mechanism import FRAME, Arm, Bar, Coilover, End, Link, Mechanism, Pin, Shaft
from model.poses import Poses
from model.shaftpieces import place_pieces
from model.sharing import Columns, Sight, Spread, drives_felt
from model.spatial import (
    Array,
    about_point,
    homogeneous,
    move,
    norm,
    rotation_about,
    turn_about,
    unit,
)


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
    """One joint over all poses: tilt (N,) across its axis and turn (N,) about it, in rad, and where it is (N, 3).

    `part` is the part of the member that carries the joint's eye: a half of a coilover, an arm of an anti-roll bar.
    """

    member: str
    part: str
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
class SpinRoom:
    """How wide (N,), in rad, the band of spins is that both eyes of a link allow, negative where it binds.

    `at` (N, 3) is the middle of the link.
    """

    link: Link
    width: Array
    at: Array


@dataclass(frozen=True)
class Posture:
    """Every part's transform by its name; every joint, coilover, bar's arm and link between two eyes over N poses."""

    parts: Mapping[str, Transform]
    joints: tuple[JointMotion, ...]
    strokes: tuple[Stroke, ...]
    bar_arms: tuple[ArmMotion, ...]
    spin_rooms: tuple[SpinRoom, ...]


def halves(name: str) -> tuple[str, str]:
    """Part names of a coilover's upper half (shaft) and lower half (body)."""
    return f"{name} shaft", f"{name} body"


def posture(poses: Poses) -> Posture:
    """Place every part in every pose and measure every joint."""
    mechanism, bars = poses.mechanism, fitted_bars(poses.mechanism)
    found = _Gathering(poses)
    for arm in mechanism.arms:
        held = [end.on for end in (*arm.pivots, arm.ball) if end is not None]
        found.add([arm.name, *held] if arm.body else held, partial(_arm, arm))
    for pin in mechanism.pins:
        found.add([pin.part, pin.end.on], partial(_pin, pin))
    for bar in mechanism.bars:
        for number, name in enumerate(bar.arms):
            far = end_link_of(mechanism, name).far_end(name)
            found.add([bar.on, far.on], partial(_bar_arm, bar, number, far))
    for link in mechanism.links:
        body = [body.name for body in mechanism.bodies if body.name == link.name]
        found.add([*body, *(end.on for end in link.ends)], partial(_link, link, bars[link.name, link.ends[0].place]))
    for coilover in mechanism.coilovers:
        measure = partial(_strut, coilover) if coilover.strut else partial(_coilover, coilover, bars)
        found.add([coilover.top.on, coilover.bottom.on], measure)
    for shaft in mechanism.shafts:
        found.add([joint.on for joint in shaft.joints], partial(_shaft, shaft))
    return found.whole()


@dataclass(frozen=True)
class _Found:
    """What one member gives: its parts, and the motions of its joints and of itself."""

    parts: dict[str, Transform] = field(default_factory=dict)
    joints: tuple[JointMotion, ...] = ()
    strokes: tuple[Stroke, ...] = ()
    bar_arms: tuple[ArmMotion, ...] = ()
    spin_rooms: tuple[SpinRoom, ...] = ()


class _Gathering:
    """What has been found so far; each member is measured in the poses that differ for its holders alone."""

    def __init__(self, poses: Poses) -> None:
        self.poses = poses
        bodies = zip(poses.mechanism.bodies, poses.rotation, poses.translation, strict=True)
        self.parts = Spread({body.name: Transform(*placed) for body, *placed in bodies})
        self.found: list[tuple[Sight, _Found]] = []
        self.felt = dict(drives_felt(poses.mechanism))
        self.sights: dict[Columns, tuple[Sight, dict[str, Transform]]] = {}

    def add(self, holders: list[str], measure: Callable[[dict[str, Transform]], _Found]) -> None:
        """Measure a member that these parts hold."""
        columns = Columns().union(*(self.felt[holder] for holder in holders))
        if columns not in self.sights:
            self.sights[columns] = Sight.of(self.poses, columns), {}
        sight, seen = self.sights[columns]
        for holder in holders:
            if holder not in seen:
                seen[holder] = sight.some(self.parts[holder])
        found = measure(seen)
        seen |= found.parts
        self.parts.add(sight, found.parts)
        self.felt |= dict.fromkeys(found.parts, columns)
        self.found.append((sight, found))

    def whole(self) -> Posture:
        """Everything in all poses."""
        return Posture(
            self.parts,
            tuple(sight.spread(each) for sight, found in self.found for each in found.joints),
            tuple(sight.spread(each) for sight, found in self.found for each in found.strokes),
            tuple(sight.spread(each) for sight, found in self.found for each in found.bar_arms),
            tuple(sight.spread(each) for sight, found in self.found for each in found.spin_rooms),
        )


def eye_axes(mechanism: Mechanism) -> dict[tuple[str, str], Array]:
    """What tilts against the bolt at each joint: unit axis (3,) at ride height, by member and place of its end.

    It is the axis of an eye, of a ball joint's housing, or of the bar itself at an inline ball joint.
    """
    axes = {(pin.part, pin.end.place): pin.end.bolt for pin in mechanism.pins}
    for arm in mechanism.arms:
        axes |= {(arm.name, pivot.place): pivot.bolt for pivot in arm.pivots}
        if arm.ball is not None:
            axes[arm.name, arm.ball.place] = _ball_housing(arm.ball)
    axes |= {(bar.name, pivot.place): pivot.bolt for bar in mechanism.bars for pivot in bar.pivots}
    axes |= {(strut.name, strut.top.place): strut.top.bolt for strut in mechanism.coilovers if strut.strut}
    bars = fitted_bars(mechanism)
    for link in mechanism.links:
        for end, axis in zip(link.ends, bars[link.name, link.ends[0].place].tilting, strict=True):
            axes[link.name, end.place] = axis
    for damper in mechanism.coilovers:
        axes |= {key: bars[key].tilting[0] for key in bars if key[0] == damper.name}
    return axes


def _ball_housing(ball: End) -> Array:
    """The middle (3,) of an arm's ball joint's swing at ride height."""
    return ball.bolt if ball.housing is None else ball.housing


def point_positions(mechanism: Mechanism, parts: Mapping[str, Transform]) -> dict[str, Array]:
    """Position (N, 3) in mm of every named point."""
    return {name: parts[holder].point(at) for name, holder, at in mechanism.points}


def _arm(arm: Arm, parts: dict[str, Transform]) -> _Found:
    """Place a plain arm; measure its joints."""
    placed = parts[arm.name] if arm.body else arm_transform(arm, parts)
    joints = [_fitted_joint(arm.name, arm.name, pivot, placed, parts[arm.on], pivot.bolt) for pivot in arm.pivots]
    if arm.ball is not None:
        joints.append(_fitted_joint(arm.name, arm.name, arm.ball, placed, parts[arm.ball.on], _ball_housing(arm.ball)))
    return _Found({} if arm.body else {arm.name: placed}, tuple(joints))


def arm_transform(arm: Arm, parts: Mapping[str, Transform]) -> Transform:
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


def _pin(pin: Pin, parts: dict[str, Transform]) -> _Found:
    part, holder = parts[pin.part], parts[pin.end.on]
    return _Found(joints=(_fitted_joint(pin.part, pin.part, pin.end, part, holder, pin.end.bolt),))


def _bar_arm(bar: Bar, number: int, far: End, parts: dict[str, Transform]) -> _Found:
    """Turn one arm of an anti-roll bar about the bar's axis so that it meets its end link, whose other end is `far`."""
    name, end, bush = bar.arms[number], bar.ends[number], bar.pivots[number]
    holder, pivot, axis = parts[bar.on], bar.pivots[0].at, bar.axis
    turned, to_link = bar_arm_turn(bar, number, far, parts)
    rotation = holder.rotation @ rotation_about(axis, turned)
    placed = Transform(rotation, about_point(rotation, pivot, holder.point(pivot)))
    return _Found(
        parts={name: placed},
        joints=(_fitted_joint(bar.name, name, bush, placed, holder, bush.bolt),),
        bar_arms=(ArmMotion(bar, name, turned, to_link, placed.point(end)),),
    )


def bar_arm_turn(bar: Bar, number: int, far: End, parts: Mapping[str, Transform]) -> tuple[Array, Array]:
    """How far an arm of an anti-roll bar has turned, and its angle to its end link, whose other end is `far`: (N,)."""
    holder = parts[bar.on]
    target = parts[far.on].point(far.at) - holder.translation
    seen = np.einsum("...ji,...j->...i", holder.rotation, target)
    return arm_turn(bar.axis, bar.pivots[0].at, bar.ends[number], far.at, seen)


def end_link_of(mechanism: Mechanism, arm: str) -> Link:
    """The end link that holds an arm of an anti-roll bar."""
    return next(link for link in mechanism.links if arm in (link.ends[0].on, link.ends[1].on))


def _fitted_joint(member: str, name: str, end: End, part: Transform, holder: Transform, eye: Array) -> JointMotion:
    """Measure a joint whose eye axis (3,) at ride height is on the part of this name; turn counts from ride height."""
    return JointMotion(
        member=member,
        part=name,
        end=end,
        tilt=tilt_between(part.rotation, eye, holder.rotation, end.bolt),
        turn=twist_about(end.bolt, part.rotation, holder.rotation),
        # The frame stands still: one place serves all poses.
        at=np.broadcast_to(end.at, holder.translation.shape) if end.on == FRAME else holder.point(end.at),
    )


@lru_cache(maxsize=32)
def fitted_bars(mechanism: Mechanism) -> dict[tuple[str, str], FittedBar]:
    """Links, and each half of a coilover by its own end, at ride height; keyed by member and place of an end."""
    bars: dict[tuple[str, str], FittedBar] = {}
    for link in mechanism.links:
        bar = FittedBar.between(link.ends[0].at, link.ends[1].at, link.ends, link.clock)
        bars |= dict.fromkeys([(link.name, end.place) for end in link.ends], bar)
    for damper in mechanism.coilovers:
        for end in () if damper.strut else (damper.top, damper.bottom):
            bars[damper.name, end.place] = FittedBar.between(damper.top.at, damper.bottom.at, (end,), 0.0)
    return bars


def _link(link: Link, bar: FittedBar, parts: dict[str, Transform]) -> _Found:
    """Place a link at its best spin, unless it is a body, whose joints' give has placed it."""
    if link.name in parts:
        return _Found(joints=_bar_joints(link.name, link.name, link.ends, bar, parts, parts[link.name]))
    placed, waves = _spun_link(link, bar, parts)
    start, stop = (parts[end.on].point(end.at) for end in link.ends)
    joints = _bar_joints(link.name, link.name, link.ends, bar, parts, placed)
    limits = [eye.end.joint.tilt for eye in bar.eyes]
    if len(limits) != 2 or limits[0] is None or limits[1] is None:
        return _Found({link.name: placed}, joints)
    low, high = spin_band(waves[0], waves[1], (limits[0].angle, limits[1].angle))
    room = SpinRoom(link, high - low, 0.5 * (start + stop))
    return _Found({link.name: placed}, joints, spin_rooms=(room,))


def _spun_link(link: Link, bar: FittedBar, parts: Mapping[str, Transform]) -> tuple[Transform, list[Wave]]:
    """Where a link is at its best spin, and the waves of its eyes."""
    start, stop = (parts[end.on].point(end.at) for end in link.ends)
    rotation, waves = bar.posed(start, stop, [parts[eye.end.on].rotation for eye in bar.eyes])
    return Transform(rotation, about_point(rotation, link.ends[0].at, start)), waves


def link_transform(mechanism: Mechanism, link: Link, parts: Mapping[str, Transform]) -> Transform:
    """Where a link that is no body is in each pose, from where the parts are that it is bolted to."""
    return _spun_link(link, fitted_bars(mechanism)[link.name, link.ends[0].place], parts)[0]


def _bar_joints(
    member: str, name: str, ends: tuple[End, ...], bar: FittedBar, parts: dict[str, Transform], placed: Transform
) -> tuple[JointMotion, ...]:
    return tuple(
        _fitted_joint(member, name, end, placed, parts[end.on], axis)
        for end, axis in zip(ends, bar.tilting, strict=True)
    )


def _coilover(coilover: Coilover, bars: dict[tuple[str, str], FittedBar], parts: dict[str, Transform]) -> _Found:
    """Place both halves, each at its own best spin: the shaft turns freely in the body."""
    ends = (coilover.top, coilover.bottom)
    top, bottom = (parts[end.on].point(end.at) for end in ends)
    placed: dict[str, Transform] = {}
    joints: tuple[JointMotion, ...] = ()
    for end, now, half in zip(ends, (top, bottom), halves(coilover.name), strict=True):
        bar = bars[coilover.name, end.place]
        rotation, _ = bar.posed(top, bottom, [parts[eye.end.on].rotation for eye in bar.eyes])
        placed[half] = Transform(rotation, about_point(rotation, end.at, now))
        joints += _bar_joints(coilover.name, half, (end,), bar, parts, placed[half])
    return _Found(placed, joints, (Stroke(coilover, norm(bottom - top), top, bottom),))


def _strut(strut: Coilover, parts: dict[str, Transform]) -> _Found:
    """Place a strut: its body is one with the knuckle, its shaft hangs from the top mount along the same line."""
    knuckle = parts[strut.bottom.on]
    top, foot = parts[strut.top.on].point(strut.top.at), knuckle.point(strut.bottom.at)
    shaft, body = halves(strut.name)
    hung = Transform(knuckle.rotation, about_point(knuckle.rotation, strut.top.at, top))
    joint = _fitted_joint(strut.name, shaft, strut.top, hung, parts[strut.top.on], strut.top.bolt)
    return _Found({shaft: hung, body: knuckle}, (joint,), (Stroke(strut, norm(foot - top), top, foot),))


def _shaft(shaft: Shaft, parts: dict[str, Transform]) -> _Found:
    """Place the pieces of a driveshaft."""
    at = [parts[joint.on].point(joint.at) for joint in shaft.joints]
    return _Found({name: Transform(*placed) for name, placed in place_pieces(shaft, at).items()})
