"""Every measure followed from pose to pose: what a film, a window and a page show of the pose they are in."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model.findings import judge, measures
from model.measures import Measure, at_ride
from model.poses import Poses, Status
from model.verdicts import Finding, State, Verdict, finding_of, state_of, verdict_of


@dataclass(frozen=True)
class _Culprits:
    """Whom a value is owed to, of chunks of poses: the numbers (n,) of each with its measure."""

    pieces: tuple[tuple[NDArray[np.intp], Measure], ...]

    def __call__(self, pose: int) -> str:
        for chosen, measure in self.pieces:
            place = int(np.searchsorted(chosen, pose))
            if place < len(chosen) and chosen[place] == pose and measure.culprit is not None:
                return measure.culprit(place)
        return self.pieces[0][1].part


def tracks(poses: Poses) -> tuple[Measure, ...]:
    """Every measure over all of some poses (N,), NaN where they lock, in the order in which `measures` gives them."""
    pieces: dict[tuple[str, str], list[tuple[NDArray[np.intp], Measure]]] = {}
    for chosen, part in poses.solved_parts():
        for measure in measures(part):
            pieces.setdefault((measure.what, measure.where), []).append((chosen, measure))
    return tuple(_track(tuple(each), len(poses)) for each in pieces.values())


def verdict_at(followed: Iterable[Measure], poses: Poses, pose: int) -> Verdict:
    """The verdict on one of the poses that were followed, by its number: that of `judge` on it alone."""
    if poses.status[pose] == Status.LOCKED:
        return judge(poses.take(np.array([pose])))
    return verdict_of(findings_at((each for each in followed if not np.isnan(each.values[pose])), poses, pose), 1, 0)


def finding_at(followed: Measure, poses: Poses, pose: int) -> Finding:
    """What a followed measure that has a value in one of the poses is there."""
    (found,) = findings_at([followed], poses, pose)
    return found


def findings_at(followed: Iterable[Measure], poses: Poses, pose: int) -> list[Finding]:
    """What followed measures that have values in one of the poses are there."""
    found, stands, ride = [], poses.stands_at(pose), at_ride(poses.travel.values[[pose]])[0]
    for measure in followed:
        value = float(measure.values[pose])
        # Whom it is owed to takes work to say and matters only where there is something to say.
        guilty = measure.culprit is not None and state_of(value, measure) is not State.CLEAR
        culprit = measure.culprit(pose) if guilty and measure.culprit is not None else None
        found.append(finding_of(measure, value, pose, stands, measure.at[pose], culprit))
    return [replace(each, ride=each.used) for each in found] if ride else found


def _track(pieces: tuple[tuple[NDArray[np.intp], Measure], ...], count: int) -> Measure:
    """One measure over all poses, from its chunks."""
    first = pieces[0][1]
    values, at = np.full(count, np.nan), np.full((count, 3), np.nan)
    for chosen, measure in pieces:
        values[chosen], at[chosen] = measure.values, measure.at
    return replace(first, values=values, at=at, culprit=None if first.culprit is None else _Culprits(pieces))
