"""What is said of a measure: its state, its worst pose, how much of how much; and the verdict on a scene."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from model.measures import Bound, Measure, Quantity
from model.spatial import Array

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
    the name of the member it belongs to. `where` may end with whom the value is owed to; `measured_at` is the place of
    the measure itself, which with `what` tells measures apart, and "" for a lock, which is of none. `ride`, `lowest`
    and `highest` are the value at ride height, None where that is not among the poses, and its range. `advice` says
    that its limit is only advised. `missed` says that cycling both wheels together, straight ahead, would have shown a
    better state.
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
    measured_at: str = ""

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


def with_more(verdict: Verdict, more: Iterable[Finding]) -> Verdict:
    """A verdict with findings of other rooms among its own."""
    return verdict_of([*verdict.findings, *more], verdict.poses, verdict.locked_poses)


def verdict_of(findings: Iterable[Finding], poses: int, locked_poses: int) -> Verdict:
    """The verdict that findings over so many poses amount to, some of which may lock."""
    found = tuple(sorted(findings, key=rank))
    return Verdict(worst_state(found), found, poses, locked_poses)


def worst_state(findings: Iterable[Finding]) -> State:
    """The state that decides: locked before over before close before clear."""
    states = {finding.state for finding in findings}
    return next((state for state in WORST_FIRST[:3] if state in states), State.CLEAR)


def rank(finding: Finding) -> tuple[int, float, str, str]:
    """What sorts findings: the state first, since a cautious limit is close at a smaller share than a given one."""
    return WORST_FIRST.index(finding.state), -round(finding.share, 9), finding.where, finding.what


def finding_of(
    measure: Measure, value: float, pose: int, drives: tuple[float, ...], at: Array, culprit: str | None = None
) -> Finding:
    """What a value of a measure is in one pose: its number, drive values (D,) and the place `at` (3,) there."""
    bound = measure.bound
    x, y, z = at.tolist()
    return Finding(
        what=measure.what,
        where=measure.where if culprit is None else f"{measure.where}, {culprit}",
        part=culprit or measure.part,
        state=state_of(value, measure),
        quantity=measure.quantity,
        used=float(value),
        limit=None if bound is None else float(bound.limit),
        typical=bound is not None and bound.typical,
        source="" if bound is None else bound.source,
        pose=pose,
        drives=drives,
        at=(x, y, z),
        at_least=bound is not None and bound.least,
        advice=bound is not None and bound.advice,
        lowest=value,
        highest=value,
        measured_at=measure.where,
    )


def badness(bound: Bound | None) -> float:
    """The sign that makes the worst value the largest."""
    return -1.0 if bound is not None and bound.least else 1.0


def state_of(value: float, measure: Measure) -> State:
    """The state of a value of a measure."""
    bound = measure.bound
    if bound is None:
        return State.UNJUDGED
    sign, slack = badness(bound), SLACK[measure.quantity]
    if sign * value > sign * bound.limit + slack and not bound.advice:
        return State.OVER
    return State.CLOSE if sign * value > sign * bound.close + slack else State.CLEAR
