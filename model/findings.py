"""Measures against limits: what, where, in which pose, how much of how much. Worst first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from model.drivelines import shaft_measures
from model.hangers import hanger_measures
from model.holding import forced_measures
from model.jointmeasures import joint_measures, stroke_measures
from model.measures import Measure, Quantity, at_ride, together
from model.mechanism import Mechanism
from model.members import Posture, posture
from model.poses import Poses, Status
from model.solver import Progress
from model.spatial import Array
from model.toggle import toggle_measures
from model.units import Length
from model.verdicts import SLACK, Finding, State, Verdict, badness, finding_of, state_of, verdict_of


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
    return verdict_of(findings, len(poses), int(np.count_nonzero(poses.status == Status.LOCKED)))


def measures(poses: Poses) -> Iterator[Measure]:
    """Everything that is measured, over solved poses."""
    now = posture(poses)
    yield from joint_measures(now, poses.mechanism)
    yield from stroke_measures(now)
    yield from hanger_measures(poses, now)
    yield from toggle_measures(poses)
    yield from shaft_measures(poses, now)
    yield from forced_measures(poses, now)


class _Tally:
    """One measure's worst pose and range so far."""

    def __init__(self, measure: Measure) -> None:
        self.measure = measure
        self.lowest, self.highest = np.inf, -np.inf
        self.ride: float | None = None
        self.together = -np.inf
        self.worst, self.pose, self.moved = -np.inf, -1, np.inf
        self.drives: tuple[float, ...] = ()
        self.at = np.zeros(3)
        self.culprit: str | None = None

    @property
    def seen(self) -> bool:
        """Whether the measure had a value in any pose."""
        return self.pose >= 0

    @property
    def sign(self) -> float:
        """What makes the worst value the largest."""
        return badness(self.measure.bound)

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
            self.pose, self.drives, self.at = int(numbers[pose]), poses.stands_at(pose), measure.at[pose]
            self.culprit = None
            if measure.culprit is not None and state_of(self.sign * worst, measure) is not State.CLEAR:
                self.culprit = measure.culprit(pose)

    def finding(self) -> Finding:
        """The measure as a finding."""
        plain = finding_of(self.measure, self.sign * self.worst, self.pose, self.drives, self.at, self.culprit)
        return replace(
            plain,
            ride=self.ride,
            lowest=float(self.lowest),
            highest=float(self.highest),
            missed=bool(np.isfinite(self.together))
            and state_of(self.sign * self.together, self.measure) is not plain.state,
        )


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
    for name, mine in zip(poses.locks, poses.straight, strict=True):
        locked = np.flatnonzero(mine)
        if len(locked) == 0:
            continue
        pose = int(locked[_moved(poses.travel.values[locked] * poses.reached[locked, None], poses).argmin()])
        quantity, asked = _asked(poses, pose)
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
    """Middle (3,) of a member in the only pose of `now`: of its joints, or of what is bolted to it."""
    places = [joint.at[0] for joint in now.joints if joint.member == name]
    places = places or [joint.at[0] for joint in now.joints if joint.end.on == name]
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
