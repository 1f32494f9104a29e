"""What stands behind the window: a scene's travel, tried once, and rails of poses that are solved when it moves."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from model.cycles import Cycle
from model.findings import judge, pose_text
from model.gaps import gap_name, gap_state
from model.measures import Measure
from model.mechanism import Drive, Mechanism
from model.members import posture
from model.meshfiles import mesh_from_file
from model.partshapes import solids_of
from model.poses import Poses, Status
from model.review import review
from model.solids import MeshFile
from model.solver import solve
from model.spatial import Array
from model.stops import SLACK, Signal, hard_signals
from model.tracks import tracks, verdict_at
from model.travel import Travel, grid, moves_of, runs_of
from model.units import Length
from model.verdicts import Finding, State, Verdict
from viz.calls import STEER_STEPS, WHEEL_STEPS, load
from viz.gaps import GapMark

# The travel is tried coarsely first, so that a window stands at once, and then as finely as `check` does.
COARSE, FINE = (7, 5), (WHEEL_STEPS, STEER_STEPS)
# A rail's steps: a mm, a twentieth of an inch, a percent of lock; strides of several where the travel is so long that
# it would take more than this many poses.
STEP_MM, STEP_INCH, STEP_LOCK, STRIDE, MOST_STEPS = 1.0, 0.05, 0.01, 5, 480
# Amounts nearer than this are one, in mm or shares of lock.
SAME = 1e-6

# What is measured where, with culprits left out: it names one curve.
Key = tuple[str, str]


@dataclass(frozen=True)
class Judged:
    """A verdict on a travel, and what each of its findings asks of the drives (D,) in its worst pose.

    `gaps` are the smallest gaps by their names as findings have them; `None` until they are measured.
    """

    verdict: Verdict
    asked: dict[int, tuple[float, ...]]
    gaps: dict[str, GapMark] | None = None

    @classmethod
    def of(cls, verdict: Verdict, poses: Poses, gaps: dict[str, GapMark] | None = None) -> Judged:
        """Take in the verdict on some poses."""
        numbers = {finding.pose for finding in verdict.findings}
        return cls(verdict, {number: tuple(poses.travel.values[number].tolist()) for number in numbers}, gaps)

    def worst_pose(self, finding: Finding) -> tuple[float, ...]:
        """Drive values (D,) of a finding's worst pose; of a lock those that the linkage does not reach."""
        return self.asked[finding.pose] if finding.state is State.LOCKED else finding.drives


@dataclass(frozen=True)
class Scene:
    """One reading of a scene file: its mechanism and its coarsely tried travel."""

    mechanism: Mechanism
    units: Length
    poses: Poses
    judged: Judged

    @property
    def meshes(self) -> list[Path]:
        """The mesh files that it is made of too."""
        files = (*(each.file for each in self.mechanism.own_meshes), *(each.mesh for each in self.mechanism.shapes))
        return [Path(file) for file in files if file is not None]


def read(path: Path, units: Length | None, variant: str | None = None) -> Scene:
    """Read a scene, or a variant of it, and try its travel coarsely.

    Raises:
        FulltravelError: the file is wrong, or a mesh file of it.

    """
    mechanism, length = load(path, units, variant=variant)
    for part in solids_of(mechanism).parts:
        for solid in part.solids:
            if isinstance(solid, MeshFile):
                mesh_from_file(solid)
    poses = solve(mechanism, grid(mechanism, *COARSE))
    return Scene(mechanism, length, poses, Judged.of(judge(poses), poses))


def finely(mechanism: Mechanism) -> Judged:
    """The verdict on the travel in as many poses as `check` tries."""
    poses = solve(mechanism, grid(mechanism, *FINE))
    return Judged.of(judge(poses), poses)


def with_gaps(mechanism: Mechanism) -> Judged:
    """The verdict that `check` gives, with the gaps between parts; it takes seconds.

    Raises:
        SceneError: a mesh file of the scene cannot be read or is no closed surface.

    """
    # The libraries that measure meshes take a while to load, and the window stands before that.
    from viz.gapmarks import plain_mark

    poses = solve(mechanism, grid(mechanism, *FINE))
    found = review(poses, gaps=True)
    marks = {gap_name(each): plain_mark(each, gap_state(each, each.distance)) for each in found.clearances or ()}
    return Judged.of(found.verdict, poses, marks)


def key_of(finding: Finding) -> Key | None:
    """The curve that a finding is the worst point of; None for a lock, which has none."""
    return (finding.what, finding.measured_at) if finding.measured_at else None


@dataclass(frozen=True, eq=False)
class Rail:
    """Poses along one run through a pose: what a control moves, at `amounts` (n,) of mm or shares of lock.

    Two rails are the same only if they are one.
    """

    run: Cycle
    amounts: Array
    poses: Poses
    followed: dict[Key, Measure]
    stops: tuple[Signal, ...]

    def nearest(self, amount: float) -> int:
        """The number of the pose nearest to an amount."""
        return int(np.abs(self.amounts - amount).argmin())

    def verdict(self, pose: int) -> tuple[Verdict, dict[Key, Finding]]:
        """The verdict on one pose, and its findings by their curves; a locked pose has none but its locks."""
        verdict = verdict_at(self.followed.values(), self.poses, pose)
        return verdict, {key: found for found in verdict.findings if (key := key_of(found)) is not None}

    def locked(self, pose: int) -> tuple[str, ...]:
        """The members that lock a pose, if it does."""
        return tuple(name for name, does in zip(self.poses.locks, self.poses.straight[:, pose], strict=True) if does)

    def beyond(self, pose: int) -> tuple[str, ...]:
        """The hard stops that a pose lies beyond, a sentence for each: no real car goes there."""
        passed = [stop for stop in self.stops if stop.past[pose] > SLACK]
        return tuple(f"Beyond a hard stop: {stop.cause}, {stop.where}." for stop in passed)

    def words(self, pose: int, units: Length) -> str:
        """Where a pose stands, in words; of a locked one, what was asked for and what is shown instead."""
        names, stands = self.poses.travel.names, pose_text(self.poses.travel.names, self.poses.stands_at(pose), units)
        if self.poses.status[pose] != Status.LOCKED:
            return stands
        members = self.locked(pose)
        locks = f"{' and '.join(members)} run{'s' * (len(members) == 1)} straight" if members else "the linkage locks"
        asked = pose_text(names, self.poses.travel.values[pose].tolist(), units)
        return f"{asked}: {locks} before that; shown is the last place reached, {stands}"


def runs(mechanism: Mechanism) -> list[Cycle]:
    """What can be moved: each wheel, both together and crossed, the steering."""
    order = (Cycle.LEFT, Cycle.RIGHT, Cycle.BOTH, Cycle.CROSS, Cycle.STEER)
    possible = runs_of(mechanism, Cycle.ALL)
    return [run for run in order if run in possible]


def amount_of(mechanism: Mechanism, run: Cycle, drives: Array) -> float:
    """How far drive values (D,) are along a run: both wheels' middle, half of what they differ by, or one drive's."""
    way = _way(mechanism, run)
    return float(drives @ way / (way @ way))


def span_of(mechanism: Mechanism, run: Cycle, drives: Array) -> tuple[float, float]:
    """The least and the greatest amount of a run through drive values (D,) that keeps every drive in its travel."""
    way, amount = _way(mechanism, run), amount_of(mechanism, run, drives)
    low, high = -np.inf, np.inf
    for drive, value, sign in zip(mechanism.drives, drives.tolist(), way.tolist(), strict=True):
        if sign:
            ends = sorted((amount + (drive.low - value) / sign, amount + (drive.high - value) / sign))
            low, high = max(low, ends[0]), min(high, ends[1])
    return low, high


def moved(mechanism: Mechanism, run: Cycle, drives: Array, amount: float) -> Array:
    """Drive values (D,) moved along a run to an amount, held inside their travel."""
    low, high = span_of(mechanism, run, drives)
    shift = min(max(amount, low), high) - amount_of(mechanism, run, drives)
    return clamped(mechanism, drives + shift * _way(mechanism, run))


def clamped(mechanism: Mechanism, drives: Array) -> Array:
    """Drive values (..., D) held inside their travel."""
    ends = np.array([(drive.low, drive.high) for drive in mechanism.drives]).T
    return np.asarray(np.clip(drives, *ends))


def rail_through(mechanism: Mechanism, run: Cycle, drives: Array, units: Length) -> Rail:
    """Solve the poses of a run through drive values (D,), in even steps and at those values themselves."""
    low, high = span_of(mechanism, run, drives)
    amount, step = amount_of(mechanism, run, drives), step_of(run, units)
    if high - low > MOST_STEPS * step:
        step *= STRIDE * np.ceil((high - low) / (STRIDE * step * MOST_STEPS))
    even = step * np.arange(np.ceil(low / step), np.floor(high / step) + 1.0)
    amounts = np.unique(np.concatenate([even, [low, amount, high]]))
    far = np.concatenate([[True], np.diff(amounts) > SAME])
    amounts = amounts[far]
    # What was asked for stays what was asked for.
    amounts[np.abs(amounts - amount).argmin()] = amount
    way = _way(mechanism, run)
    values = clamped(mechanism, drives + (amounts - amount)[:, None] * way)
    poses = solve(mechanism, Travel(tuple(drive.name for drive in mechanism.drives), values))
    followed = {(measure.what, measure.where): measure for measure in tracks(poses)}
    return Rail(run, amounts, poses, followed, hard_signals(poses, posture(poses)))


def step_of(run: Cycle, units: Length) -> float:
    """The smallest step of a run, in mm or shares of lock."""
    if run is Cycle.STEER:
        return STEP_LOCK
    return STEP_MM if units is Length.MM else STEP_INCH * units.mm


def same_drives(before: tuple[Drive, ...], after: tuple[Drive, ...], drives: Array) -> Array:
    """Drive values (E,) of another mechanism that stand as those (D,) of one before, as far as it has the drives."""
    known = dict(zip((drive.name for drive in before), drives.tolist(), strict=True))
    return np.array([min(max(known.get(drive.name, 0.0), drive.low), drive.high) for drive in after])


def _way(mechanism: Mechanism, run: Cycle) -> Array:
    """How a run moves the drives (D,), for each mm or share of lock."""
    moves = moves_of(run)
    return np.array([moves.get(drive.name, 0.0) for drive in mechanism.drives])
