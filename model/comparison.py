"""Two suspensions against each other: which points moved, and what that changes, with the better one named."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

import numpy as np

from model.cycles import Cycle
from model.measures import GAP, Quantity
from model.mechanism import Mechanism
from model.motionratio import MotionRatio, motion_ratios
from model.mounting import FrameLoads, Mounting, frame_loads, frequency, mountings
from model.reaches import Reach
from model.review import Review
from model.spatial import Array
from model.verdicts import MOST, WORST_FIRST, Finding, State
from model.ways import Way

# Points that differ by less, in mm, have not been moved: a tape does not show it.
SAME_PLACE = 0.05
# Differences below these are none: half the last digit that is printed, in rad, mm, rad/s², and of a ratio.
ANGLE, LENGTH, ACCELERATION, RATIO = np.radians(0.05), 0.05, 0.5, 0.0005
LEAST = {Quantity.ANGLE: ANGLE, Quantity.LENGTH: LENGTH, Quantity.ACCELERATION: ACCELERATION}

Thing = TypeVar("Thing")
BAD = (State.LOCKED, State.OVER, State.CLOSE)


class Subject(StrEnum):
    """What a change is about."""

    LIMIT = "limit"
    TRAVEL = "travel"


class Better(StrEnum):
    """Which of the two is better off."""

    FIRST = "first"
    SECOND = "second"
    NEITHER = "neither"


@dataclass(frozen=True)
class Moved:
    """A point by its name, and where it is at ride height (3,) in mm in either; `on` and `now_on` are what holds it.

    `joint` says that a member is bolted there, and not only a shape of the frame drawn through it.
    """

    name: str
    on: str
    now_on: str
    first: Array
    second: Array
    joint: bool = True

    @property
    def distance(self) -> float:
        """How far apart the two are, in mm."""
        return float(np.linalg.norm(self.second - self.first))


@dataclass(frozen=True)
class Change:
    """One thing that is not the same in both.

    `first` and `second` are a `Finding` or a `Reach`, by `subject`; `None` where only the other has it. `weight`
    sorts changes: by the change of state first, then by how much of the limit it is about.
    """

    subject: Subject
    first: Finding | Reach | None
    second: Finding | Reach | None
    better: Better
    weight: tuple[int, float]

    @property
    def worse(self) -> Finding | None:
        """The finding of the one that is worse off, or with more of its limit used; `None` for what is no finding."""
        found = [one for one in (self.first, self.second) if isinstance(one, Finding)]
        if self.better is Better.FIRST and isinstance(self.second, Finding):
            return self.second
        if self.better is Better.SECOND and isinstance(self.first, Finding):
            return self.first
        return max(found, key=lambda finding: finding.share, default=None)


@dataclass(frozen=True)
class Comparison:
    """Two reviewed suspensions, the points that moved, farthest first, and what changed, most telling first.

    `ratios` are those that are not alike, of coilovers moved the same way; `mountings` are of coilovers of the same
    name; `frequencies` in Hz and `loads` on the frame are of either.
    """

    first: Review
    second: Review
    moved: tuple[Moved, ...]
    changes: tuple[Change, ...]
    ratios: tuple[tuple[MotionRatio, MotionRatio], ...] = ()
    mountings: tuple[tuple[Mounting, Mounting], ...] = ()
    frequencies: tuple[float | None, float | None] = (None, None)
    loads: tuple[FrameLoads, FrameLoads] = (FrameLoads({}, {}), FrameLoads({}, {}))


def compare(first: Review, second: Review) -> Comparison:
    """Compare two suspensions that were reviewed over their travel."""
    one, other = first.mechanism, second.mechanism
    changes = [
        *_findings(first, second),
        *_reaches(first.reaches, second.reaches),
    ]
    # Of a left part and a right one the last digits differ: they stay in the order in which they came.
    changes.sort(key=lambda change: (-change.weight[0], -round(change.weight[1], 6)))
    ours, others = mountings(one), mountings(other)
    return Comparison(
        first,
        second,
        moved_points(one, other),
        tuple(changes),
        ratios=tuple(_ratios(motion_ratios(one), motion_ratios(other))),
        mountings=tuple(
            (mine, theirs)
            for mine, theirs in _paired(ours, others, lambda each: each.coilover)
            if mine is not None and theirs is not None
        ),
        frequencies=(frequency(one, ours), frequency(other, others)),
        loads=(frame_loads(one), frame_loads(other)),
    )


def marked_points(compared: Comparison) -> tuple[Moved, ...]:
    """The points that moved and are worth a mark: joints, or else what only shapes the frame."""
    return tuple(moved for moved in compared.moved if moved.joint) or compared.moved


def moved_points(first: Mechanism, second: Mechanism) -> tuple[Moved, ...]:
    """Points of the same name that are not at the same place on the same part: joints first, then farthest first."""
    places = {name: (on, at) for name, on, at in second.points}
    ends = _ends(first)
    both = (
        Moved(name, on, places[name][0], at, places[name][1], joint=tuple(at.tolist()) in ends)
        for name, on, at in first.points
        if name in places
    )
    moved = (each for each in both if each.distance > SAME_PLACE or each.on != each.now_on)
    return tuple(sorted(moved, key=lambda each: (not each.joint, -each.distance)))


def _ends(mechanism: Mechanism) -> set[tuple[float, ...]]:
    """The places at which members are bolted to something."""
    ends = [end for link in mechanism.links for end in link.ends]
    ends += [end for arm in mechanism.arms for end in arm.ends]
    ends += [end for unit in mechanism.coilovers for end in (unit.top, unit.bottom)]
    return {tuple(end.at.tolist()) for end in ends}


def _findings(first: Review, second: Review) -> Iterator[Change]:
    def name(finding: Finding) -> tuple[str, str]:
        return finding.what, finding.measured_at or finding.where

    parts = {finding.part for finding in first.verdict.findings} & {finding.part for finding in second.verdict.findings}
    for one, other in _paired(first.verdict.findings, second.verdict.findings, name):
        if one is None or other is None:
            # Of two that are clear of each other, that they stay farther apart still in the other one is no news.
            known = one or other
            if known is None or known.what != GAP or known.state in BAD:
                yield _lone(one, other, parts)
            continue
        if one.state is State.LOCKED and other.state is State.LOCKED:
            continue  # where exactly either locks first hangs on the grid; `Reach` tells how far each gets
        states = WORST_FIRST.index(other.state) - WORST_FIRST.index(one.state)
        margins = _difference(one.margin, other.margin)
        used = abs(other.used - one.used)
        if states == 0 and max(abs(margins), used) < LEAST[one.quantity]:
            continue
        better = _better(states or margins) if one.limit is not None and other.limit is not None else Better.NEITHER
        share = abs(_finite(other.share) - _finite(one.share))
        yield Change(Subject.LIMIT, one, other, better, (abs(states), share))


def _lone(one: Finding | None, other: Finding | None, parts: Collection[str]) -> Change:
    """What only one has: a gap, since in the other the two stay farther apart than is looked at; a lock; or a part.

    The one without is better off where it has the part, of which there is then nothing to say.
    """
    known = one or other
    if known is None or known.state not in BAD or not (known.what == GAP or known.part in parts):
        return Change(Subject.LIMIT, one, other, Better.NEITHER, (0, 0.0))
    states = WORST_FIRST.index(State.CLEAR) - WORST_FIRST.index(known.state)
    return Change(Subject.LIMIT, one, other, Better.FIRST if one is None else Better.SECOND, (states, 0.0))


def _reaches(first: Sequence[Reach], second: Sequence[Reach]) -> Iterator[Change]:
    def name(reach: Reach) -> tuple[Way, tuple[str, ...], float]:
        return reach.way, reach.wheels, reach.steer

    for one, other in _paired(first, second, name):
        if one is not None and other is not None and abs(other.usable - one.usable) >= LENGTH:
            change = other.usable - one.usable
            stopped = int(one.stopped != other.stopped)
            yield Change(
                Subject.TRAVEL, one, other, _better(change), (stopped, abs(change) / max(one.asked, other.asked))
            )


def _ratios(first: Sequence[MotionRatio], second: Sequence[MotionRatio]) -> Iterator[tuple[MotionRatio, MotionRatio]]:
    """Motion ratios of the same coilover, moved the same way, that are not the same."""

    def name(ratio: MotionRatio) -> tuple[str, Cycle]:
        return ratio.coilover, ratio.run

    for one, other in _paired(first, second, name):
        if one is not None and other is not None and abs(other.ride - one.ride) >= RATIO:
            yield one, other


def _paired(
    first: Iterable[Thing], second: Iterable[Thing], name: Callable[[Thing], Hashable]
) -> Iterator[tuple[Thing | None, Thing | None]]:
    """Things of the same name in both, in the order of the first; what only one has comes with `None`."""
    ones, others = ({name(thing): thing for thing in things} for things in (first, second))
    for key in dict.fromkeys([*ones, *others]):
        yield ones.get(key), others.get(key)


def _difference(one: float | None, other: float | None) -> float:
    """By how much a margin is larger in the second; 0 where one has none."""
    return 0.0 if one is None or other is None else other - one


def _finite(share: float) -> float:
    """A share of a limit; of a lock, as bad as anything gets."""
    return min(share, MOST)


def _better(gain: float) -> Better:
    """Which is better, by what the second gains."""
    return Better.NEITHER if gain == 0.0 else Better.SECOND if gain > 0.0 else Better.FIRST
