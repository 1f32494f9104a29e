"""Measures against limits: what, where, in which pose, how much of how much. Worst first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from model.limits import CLOSE_SHARE, Limit
from model.mechanism import End, Mechanism
from model.members import JointMotion, Posture, Stroke, posture
from model.poses import Poses, Status
from model.scene import JointKind
from model.solver import Progress
from model.spatial import Array
from model.units import Length

# Poses measured at once: some 20 MB for a four-link axle, whatever the size of the grid.
CHUNK = 16384
# A limit that is met exactly is not exceeded: allow what doubles lose on the way.
SLACK = 1e-9


class State(StrEnum):
    """The verdict on one finding, and the worst of them on a scene."""

    LOCKED = "locked"
    OVER = "over"
    CLOSE = "close"
    CLEAR = "clear"
    UNJUDGED = "no limit"


class Quantity(StrEnum):
    """What kind of number a finding holds: an angle in rad or a length in mm."""

    ANGLE = "angle"
    LENGTH = "length"


@dataclass(frozen=True)
class Finding:
    """One measure at one place, in the pose where it is worst.

    `used` and `limit` are in rad or mm; `limit` is None where there is none. `at` (3,) is the place in that pose,
    in mm. `drives` are the pose's drive values, `part` the name of the member it belongs to.
    """

    what: str
    where: str
    part: str
    state: State
    quantity: Quantity
    used: float
    limit: float | None
    typical: bool
    source: str
    pose: int
    drives: tuple[float, ...]
    at: tuple[float, float, float]

    @property
    def margin(self) -> float | None:
        """What is left before the limit (negative: over), in rad or mm."""
        return None if self.limit is None else self.limit - self.used

    @property
    def share(self) -> float:
        """Used share of the limit; 0 without a limit, infinite where the linkage locks."""
        if self.state is State.LOCKED:
            return np.inf
        return 0.0 if self.limit is None else self.used / self.limit


@dataclass(frozen=True)
class Verdict:
    """All findings of a scene over a travel, worst first."""

    state: State
    findings: tuple[Finding, ...]
    poses: int
    locked_poses: int

    @property
    def worst(self) -> Finding | None:
        """The finding on top, if there is any."""
        return self.findings[0] if self.findings else None


@dataclass(frozen=True)
class _Measure:
    """A measure over a chunk of poses: values (N,) against limits, and where it is (N, 3)."""

    what: str
    where: str
    part: str
    quantity: Quantity
    limit: float | None
    close: float
    typical: bool
    source: str
    values: Array
    at: Array


TILT_WORD = {
    JointKind.ROD_END: "tilt",
    JointKind.STRUT_MOUNT: "tilt",
    JointKind.BALL_JOINT: "swing",
    JointKind.INLINE_BALL_JOINT: "swing",
    JointKind.RUBBER_BUSH: "cocking",
    JointKind.POLY_BUSH: "cocking",
    JointKind.PLAIN_SLEEVE: "cocking",
}


def judge(poses: Poses, progress: Progress | None = None) -> Verdict:
    """Every measure of a mechanism against its limit, each in its worst pose; locked poses are findings themselves."""
    solved = np.flatnonzero(poses.status == Status.SOLVED)
    worst: dict[tuple[str, str], Finding] = {}
    for start in range(0, len(solved), CHUNK):
        chosen = solved[start : start + CHUNK]
        part = poses.take(chosen)
        for measure in _measures(posture(part)):
            finding = _finding(measure, part, chosen)
            known = worst.get((finding.what, finding.where))
            if known is None or _is_worse(finding, known, part):
                worst[finding.what, finding.where] = finding
        if progress is not None:
            progress(min(start + CHUNK, len(solved)), len(solved))
    findings = [*_locks(poses), *worst.values()]
    findings.sort(key=lambda finding: (-round(finding.share, 9), finding.limit is None, finding.where, finding.what))
    return Verdict(
        state=worst_state(findings),
        findings=tuple(findings),
        poses=len(poses),
        locked_poses=int(np.count_nonzero(poses.status == Status.LOCKED)),
    )


def worst_state(findings: Iterable[Finding]) -> State:
    """The state that decides: locked before over before close before clear."""
    order = [State.LOCKED, State.OVER, State.CLOSE]
    states = {finding.state for finding in findings}
    return next((state for state in order if state in states), State.CLEAR)


def place_text(member: str, end: End) -> str:
    """Where a joint is, in words."""
    return f"{member}, {end.place}"


def _measures(now: Posture) -> Iterator[_Measure]:
    for joint in now.joints:
        yield from _joint_measures(joint)
    for stroke in now.strokes:
        yield from _stroke_measures(stroke)


def _joint_measures(joint: JointMotion) -> Iterator[_Measure]:
    limits = joint.end.joint
    where = place_text(joint.member, joint.end)
    yield _angle(TILT_WORD[limits.kind], where, joint, limits.tilt, joint.tilt)
    if limits.turn is not None:
        yield _angle("wind-up", where, joint, limits.turn, np.abs(joint.turn))


def _angle(what: str, where: str, joint: JointMotion, limit: Limit | None, values: Array) -> _Measure:
    return _Measure(
        what=what,
        where=where,
        part=joint.member,
        quantity=Quantity.ANGLE,
        limit=None if limit is None else limit.angle,
        close=np.inf if limit is None else limit.close,
        typical=limit is not None and limit.typical,
        source="" if limit is None else limit.source,
        values=values,
        at=joint.at,
    )


def _stroke_measures(stroke: Stroke) -> Iterator[_Measure]:
    unit = stroke.coilover
    middle = 0.5 * (stroke.top + stroke.bottom)

    def length(what: str, limit: float, values: Array, close: float, source: str) -> _Measure:
        return _Measure(what, unit.name, unit.name, Quantity.LENGTH, limit, close, False, source, values, middle)

    close = CLOSE_SHARE * unit.stroke
    given = "compressed and extended length in the scene file"
    yield length("stroke in", unit.stroke, unit.extended - stroke.length, close, given)
    yield length("stroke out", unit.stroke, stroke.length - unit.compressed, close, given)
    if unit.spring is not None and unit.spring.solid_length is not None:
        # At full extension the spring is squeezed by its preload; from there it follows the shaft.
        room = unit.spring.free_length - unit.spring.solid_length
        squeezed = unit.spring.preload + unit.extended - stroke.length
        yield length("spring squeeze", room, squeezed, CLOSE_SHARE * room, "solid length in the scene file")


def _finding(measure: _Measure, poses: Poses, numbers: NDArray[np.intp]) -> Finding:
    pose = _plainest_worst(measure.values, poses)
    used = float(measure.values[pose])
    if measure.limit is None:
        state = State.UNJUDGED
    elif used > measure.limit + SLACK:
        state = State.OVER
    else:
        state = State.CLOSE if used > measure.close + SLACK else State.CLEAR
    return Finding(
        what=measure.what,
        where=measure.where,
        part=measure.part,
        state=state,
        quantity=measure.quantity,
        used=used,
        limit=measure.limit,
        typical=measure.typical,
        source=measure.source,
        pose=int(numbers[pose]),
        drives=poses.stands_at(pose),
        at=_triple(measure.at[pose]),
    )


def _plainest_worst(values: Array, poses: Poses) -> int:
    """The pose with the largest value; of several, the one that moves the least from ride height."""
    worst = np.flatnonzero(values >= values.max() - SLACK)
    return int(worst[_moved(poses.travel.values[worst], poses).argmin()])


def _is_worse(finding: Finding, known: Finding, poses: Poses) -> bool:
    """Whether a finding goes before one of another chunk: larger, or as large in a plainer pose."""
    if abs(finding.used - known.used) > SLACK:
        return finding.used > known.used
    ours, theirs = _moved(np.array([finding.drives, known.drives]), poses)
    return bool(ours < theirs)


def _moved(drives: Array, poses: Poses) -> Array:
    """How far poses (n, D) are from ride height (n,), each drive as a share of its travel."""
    span = np.array([max(-drive.low, drive.high) for drive in poses.mechanism.drives])
    return np.asarray(np.abs(drives / span).sum(axis=1))


def _locks(poses: Poses) -> list[Finding]:
    """One finding for each member that runs straight, at the pose that gets least far from ride height."""
    findings = []
    for number in np.unique(poses.locked_by[poses.locked_by >= 0]):
        mine = np.flatnonzero(poses.locked_by == number)
        values = poses.travel.values[mine]
        size = np.abs(values[:, [name != "steer" for name in poses.travel.names]]).max(axis=1, initial=0.0)
        reach = size * poses.reached[mine]
        pose = mine[int(reach.argmin())]
        name = poses.locks[number]
        now = posture(poses.take(np.array([pose])))
        findings.append(
            Finding(
                what="runs straight",
                where=name,
                part=name,
                state=State.LOCKED,
                quantity=Quantity.LENGTH,
                used=float(size[int(reach.argmin())]),
                limit=float(reach.min()),
                typical=False,
                source="the linkage itself",
                pose=int(pose),
                drives=poses.stands_at(int(pose)),
                at=_triple(_member_place(poses.mechanism, now, name)),
            )
        )
    return findings


def _member_place(mechanism: Mechanism, now: Posture, name: str) -> Array:
    """Middle (3,) of a member in the only pose of `now`; the vehicle's origin for one without joints of its own."""
    places = [joint.at[0] for joint in now.joints if joint.member == name]
    places += [now.parts[wheel.on].point(wheel.centre)[0] for wheel in mechanism.wheels if wheel.name == name]
    return np.asarray(np.mean(places, axis=0)) if places else np.zeros(3)


def _triple(values: Array) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])


def pose_text(names: Sequence[str], drives: Sequence[float], length: Length) -> str:
    """A pose in words: "left wheel 70 mm up, right wheel 60 mm down, full left lock"."""
    values = dict(zip(names, drives, strict=True))
    words = []
    left, right = values.get("left"), values.get("right")
    if left is not None and right is not None and abs(left - right) < 0.05:
        words.append(f"both wheels {_height_text(left, length)}")
    else:
        words += [f"{side} wheel {_height_text(values[side], length)}" for side in ("left", "right") if side in values]
    steer = values.get("steer", 0.0)
    if abs(steer) > 5e-4:
        side = "left" if steer > 0 else "right"
        share = "full" if abs(steer) > 0.9995 else f"{100 * abs(steer):.0f} %"
        words.append(f"{share} {side} lock")
    return ", ".join(words)


def _height_text(mm: float, length: Length) -> str:
    if abs(mm) < 0.05:
        return "at ride height"
    return f"{length.text(abs(mm))} {'up' if mm > 0 else 'down'}"
