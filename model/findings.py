"""Measures against limits: what, where, in which pose, how much of how much. Worst first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from model.drivelines import shaft_measures
from model.hangers import hanger_measures
from model.holding import forced_measures
from model.jointmeasures import joint_measures, stroke_measures
from model.measures import Bound, Measure, Quantity, at_ride, together
from model.mechanism import Mechanism
from model.members import Posture, posture
from model.poses import Poses, Status
from model.solver import Progress
from model.spatial import Array
from model.toggle import toggle_measures
from model.units import Length

# A limit that is met exactly is not exceeded, and poses that differ by roundings are equally bad: allow what doubles
# and the solver's promise of 1e-9 mm lose on the way, in rad, mm and rad/s².
SLACK = {Quantity.ANGLE: 1e-9, Quantity.LENGTH: 1e-7, Quantity.ACCELERATION: 1e-6}
# Less than nothing left of what must not run out counts as a hundred times over: worse than any angle, yet no lock.
MOST = 100.0


class State(StrEnum):
    """The verdict on one finding, and the worst of them on a scene."""

    LOCKED = "locked"
    OVER = "over"
    CLOSE = "close"
    CLEAR = "clear"
    UNJUDGED = "no limit"


WORST_FIRST = (State.LOCKED, State.OVER, State.CLOSE, State.CLEAR, State.UNJUDGED)


@dataclass(frozen=True)
class Finding:
    """One measure at one place, in the pose where it is worst; of equally bad poses the plainest.

    `used` and `limit` are in the unit of `quantity`; `limit` is None where there is none, and where `at_least` is true
    a floor and not a ceiling. `at` (3,) is the place in that pose, in mm. `drives` are the pose's drive values, `part`
    the name of the member it belongs to. `ride`, `lowest` and `highest` are the value at ride height, None where that
    is not among the poses, and its range. `advice` says that its limit is only advised. `missed` says that cycling both
    wheels together, straight ahead, would have shown a better state.
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
    at_least: bool = False
    advice: bool = False
    ride: float | None = None
    lowest: float | None = None
    highest: float | None = None
    missed: bool = False

    @property
    def over_at_ride(self) -> bool:
        """Whether it is past its limit while the vehicle just stands."""
        if self.state is not State.OVER or self.ride is None or self.limit is None:
            return False
        # A limit may be a NumPy number, and so its comparison.
        return bool(self.ride < self.limit if self.at_least else self.ride > self.limit)

    @property
    def margin(self) -> float | None:
        """What is left before the limit (negative: over)."""
        if self.limit is None:
            return None
        return self.used - self.limit if self.at_least else self.limit - self.used

    @property
    def share(self) -> float:
        """Used share of the limit; 0 without a limit, infinite where the linkage locks."""
        if self.state is State.LOCKED:
            return np.inf
        if self.limit is None:
            return 0.0
        if self.limit == 0.0:  # of nothing there is no share: either it holds, or it does not
            return MOST if self.state is State.OVER else 0.0
        return self.limit / max(self.used, self.limit / MOST) if self.at_least else self.used / self.limit


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


def judge(poses: Poses, progress: Progress | None = None) -> Verdict:
    """Every measure of a mechanism against its limit, each in its worst pose; locked poses are findings themselves."""
    solved, done = int(np.count_nonzero(poses.status == Status.SOLVED)), 0
    tallies: dict[tuple[str, str], _Tally] = {}
    for chosen, part in poses.solved_parts():
        ride, level = at_ride(part.travel.values), together(part.travel.names, part.travel.values)
        for measure in measures(part):
            tally = tallies.setdefault((measure.what, measure.where), _Tally(measure))
            tally.add(measure, part, chosen, ride, level)
        done += len(chosen)
        if progress is not None:
            progress(done, solved)
    findings = [*_locks(poses), *(tally.finding() for tally in tallies.values() if tally.seen)]
    findings.sort(key=_rank)
    return Verdict(
        state=worst_state(findings),
        findings=tuple(findings),
        poses=len(poses),
        locked_poses=int(np.count_nonzero(poses.status == Status.LOCKED)),
    )


def with_more(verdict: Verdict, more: Iterable[Finding]) -> Verdict:
    """A verdict with findings of other rooms among its own."""
    findings = sorted([*verdict.findings, *more], key=_rank)
    return replace(verdict, state=worst_state(findings), findings=tuple(findings))


def measures(poses: Poses) -> Iterator[Measure]:
    """Everything that is measured, over solved poses."""
    now = posture(poses)
    yield from joint_measures(now, poses.mechanism)
    yield from stroke_measures(now)
    yield from hanger_measures(poses, now)
    yield from toggle_measures(poses)
    yield from shaft_measures(poses, now)
    yield from forced_measures(poses, now)


def worst_state(findings: Iterable[Finding]) -> State:
    """The state that decides: locked before over before close before clear."""
    states = {finding.state for finding in findings}
    return next((state for state in WORST_FIRST[:3] if state in states), State.CLEAR)


def _rank(finding: Finding) -> tuple[int, float, str, str]:
    """What sorts findings: the state first, since a cautious limit is close at a smaller share than a given one."""
    return WORST_FIRST.index(finding.state), -round(finding.share, 9), finding.where, finding.what


class _Tally:
    """One measure's worst pose and range so far."""

    def __init__(self, measure: Measure) -> None:
        self.measure = measure
        self.lowest, self.highest = np.inf, -np.inf
        self.ride: float | None = None
        self.together = -np.inf
        self.worst, self.pose, self.moved = -np.inf, -1, np.inf
        self.drives: tuple[float, ...] = ()
        self.at = (0.0, 0.0, 0.0)
        self.culprit: str | None = None

    @property
    def seen(self) -> bool:
        """Whether the measure had a value in any pose."""
        return self.pose >= 0

    @property
    def sign(self) -> float:
        """What makes the worst value the largest."""
        return _sign(self.measure.bound)

    def add(
        self,
        measure: Measure,
        poses: Poses,
        numbers: NDArray[np.intp],
        ride: NDArray[np.bool_],
        level: NDArray[np.bool_],
    ) -> None:
        """Take in one chunk of poses whose numbers in the whole are `numbers` (N,)."""
        values = measure.values
        if np.isnan(values).all():
            return
        self.lowest, self.highest = min(self.lowest, np.nanmin(values)), max(self.highest, np.nanmax(values))
        ill = np.where(np.isnan(values), -np.inf, self.sign * values)
        self.together = max(self.together, float(ill[level].max(initial=-np.inf)))
        if ride.any() and np.isfinite(values[ride][0]):
            self.ride = float(values[ride][0])
        # The pose with the worst value; of several, the one that moves the least from ride height.
        slack = SLACK[measure.quantity]
        candidates = np.flatnonzero(ill >= ill.max() - slack)
        moved = _moved(poses.travel.values[candidates], poses)
        pose = int(candidates[moved.argmin()])
        worst, least_moved = float(ill[pose]), float(moved.min())
        if worst > self.worst + slack or (worst > self.worst - slack and least_moved < self.moved):
            self.worst, self.moved = worst, least_moved
            self.pose, self.drives, self.at = int(numbers[pose]), poses.stands_at(pose), _triple(measure.at[pose])
            self.culprit = None
            if measure.culprit is not None and _state(worst, measure.bound, slack) is not State.CLEAR:
                self.culprit = measure.culprit(pose)

    def finding(self) -> Finding:
        """The measure as a finding."""
        measure, bound = self.measure, self.measure.bound
        slack = SLACK[measure.quantity]
        state = _state(self.worst, bound, slack)
        return Finding(
            what=measure.what,
            where=measure.where if self.culprit is None else f"{measure.where}, {self.culprit}",
            part=self.culprit or measure.part,
            state=state,
            quantity=measure.quantity,
            used=self.sign * self.worst,
            limit=None if bound is None else bound.limit,
            typical=bound is not None and bound.typical,
            source="" if bound is None else bound.source,
            pose=self.pose,
            drives=self.drives,
            at=self.at,
            at_least=bound is not None and bound.least,
            advice=bound is not None and bound.advice,
            ride=self.ride,
            lowest=float(self.lowest),
            highest=float(self.highest),
            missed=bool(np.isfinite(self.together)) and _state(self.together, bound, slack) is not state,
        )


def _sign(bound: Bound | None) -> float:
    return -1.0 if bound is not None and bound.least else 1.0


def _state(ill: float, bound: Bound | None, slack: float) -> State:
    """The state of a value whose sign makes the worst the largest."""
    if bound is None:
        return State.UNJUDGED
    if ill > _sign(bound) * bound.limit + slack and not bound.advice:
        return State.OVER
    return State.CLOSE if ill > _sign(bound) * bound.close + slack else State.CLEAR


def _spans(mechanism: Mechanism) -> Array:
    """Travel (D,) of each drive to its farther end."""
    return np.array([max(-drive.low, drive.high) for drive in mechanism.drives])


def _moved(drives: Array, poses: Poses) -> Array:
    """How far poses (n, D) are from ride height (n,), each drive as a share of its travel."""
    return np.asarray(np.abs(drives / _spans(poses.mechanism)).sum(axis=1))


def _locks(poses: Poses) -> list[Finding]:
    """One finding for each member that runs straight, at the pose that gets least far from ride height."""
    findings = []
    level = together(poses.travel.names, poses.travel.values)
    for number in np.unique(poses.locked_by[poses.locked_by >= 0]):
        mine = poses.locked_by == number
        locked = np.flatnonzero(mine)
        pose = int(locked[_moved(poses.travel.values[locked] * poses.reached[locked, None], poses).argmin()])
        quantity, asked = _asked(poses, pose)
        name = poses.locks[number]
        now = posture(poses.take(np.array([pose])))
        findings.append(
            Finding(
                what="runs straight",
                where=name,
                part=name,
                state=State.LOCKED,
                quantity=quantity,
                used=asked,
                limit=asked * float(poses.reached[pose]),
                typical=False,
                source="the linkage itself",
                pose=pose,
                drives=poses.stands_at(pose),
                at=_triple(_member_place(poses.mechanism, now, name)),
                missed=bool(level.any() and not (mine & level).any()),
            )
        )
    return findings


def _asked(poses: Poses, pose: int) -> tuple[Quantity, float]:
    """The travel that a pose asks of the drive that it moves most, as a share of its own: a wheel, rack or pitman."""
    values = np.abs(poses.travel.values[pose])
    drive = int((values / _spans(poses.mechanism)).argmax())
    if drive != poses.mechanism.steer:
        return Quantity.LENGTH, float(values[drive])
    screw = next(body.screw for body in poses.mechanism.bodies if body.screw is not None)
    full = screw.left if poses.travel.values[pose, drive] > 0.0 else screw.right
    return Quantity.ANGLE if screw.turns else Quantity.LENGTH, float(values[drive] * abs(full))


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
