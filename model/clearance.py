"""The smallest distance of every two parts that can meet, over all poses and between them.

Branch and bound for each pair (`model.search`). Of poses that differ only in drives which neither part feels one is
measured. A pose has a lower bound on its distance: from boxes, from what is known at other poses less what the parts
have moved since, and from the slab that fits between them (`model.distances`). FCL is asked where the bound, less what
the parts may do on the way to the next pose of the grid, is below the smallest distance so far. From every pose that
may have a smaller distance beside it the search then goes on between the poses, on solves of its own, with a step that
shrinks until it no longer matters.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from model.distances import Nearest
from model.envelopes import MeasuredPart, measured_parts
from model.measures import at_ride, together
from model.mechanism import Gap, Mechanism
from model.pairs import Wanted, gap_of, pairs_of
from model.placing import Placed, Shapes
from model.poses import Poses, Status
from model.search import Motion, Search
from model.solver import Progress, solve
from model.spatial import Array

# Parts that never come nearer than this and what is wanted of them are not reported, mm.
REACH = 35.0
# A grid of more poses than this is thinned: the search between its poses makes up for it.
MANY = 400
# Places between poses from which one pair's search goes on, and rounds of it: from half a step of the grid by this
# share each time, down to a thousandth of one.
STARTS, ROUNDS, SHRINK = 4, 8, 0.4
# Steps that gain less than this share of what the search is exact to are not taken: several may follow each other.
SMALLEST = 0.25


@dataclass(frozen=True)
class Clearance:
    """The smallest distance of two parts in mm; below zero: by how much one must be moved straight out.

    Attributes:
        labels: their names.
        parts: the parts whose transforms they ride on, the first of two for one that hangs between two.
        distance: the smallest over the travel, in poses of the grid and between them.
        points: the nearest point of either (2, 3) in that pose, in mm.
        pose: the number of the pose; of what is found between poses, of the one whose drive values are nearest.
        drives: the drive values at which it is, which may lie between those of poses.
        between: whether they do.
        ride: the distance at ride height; None where that is not among the poses.
        together: the smallest with both wheels together, straight ahead; None where there is no such pose.
        wanted: what is wanted.

    """

    labels: tuple[str, str]
    parts: tuple[str, str]
    distance: float
    points: Array
    pose: int
    drives: tuple[float, ...]
    between: bool
    ride: float | None
    together: float | None
    wanted: Wanted

    @property
    def left(self) -> float:
        """What is left before the wanted distance is missed, mm; below zero: missed."""
        return self.distance - self.wanted.least


def clearances(
    poses: Poses,
    parts: tuple[MeasuredPart, ...] | Shapes | None = None,
    progress: Progress | None = None,
    *,
    refine: bool = True,
    between: Collection[frozenset[str]] | None = None,
    reach: float = REACH,
) -> tuple[Clearance, ...]:
    """Clearances of every pair that comes within some reach of what is wanted, least left first.

    Args:
        poses: of a grid over the travel; those that lock are left out.
        parts: what is measured; everything unless given. `Shapes` keep what is built of them for the next call.
        progress: called with pairs done and pairs in all.
        refine: whether to look between the poses too.
        between: labels of the pairs that count; every pair that can meet unless given.
        reach: in mm; pairs that stay farther apart are left out.

    """
    if not isinstance(parts, Shapes):
        parts = Shapes(measured_parts(poses.mechanism) if parts is None else parts)
    solved = _plainest_first(poses)
    order = solved[_thinned(poses.travel.values[solved])] if refine else solved
    placed = Placed(poses.take(order), parts)
    pairs = [
        pair
        for pair in pairs_of(poses.mechanism, parts.parts)
        if (between is None or parts.labels(pair) in between) and placed.apart(pair) < reach + pair.wanted.least
    ]
    found: list[_Found] = []
    for done, pair in enumerate(pairs):
        search = Search(pair, placed, reach + pair.wanted.least, between=refine)
        if search.run():
            found.append(_Found.of(search))
        if progress is not None:
            progress(done + 1, len(pairs) + 1)
    if refine:
        _refine([start for each in found for start in each.starts], placed)
    if progress is not None:
        progress(len(pairs) + 1, len(pairs) + 1)
    merged = _merged([each.clearance(order) for each in found if each.smallest < each.search.limit])
    drives = np.array([each.drives for each in merged]).reshape(-1, len(poses.mechanism.drives))
    beside = solved[poses.take(solved).nearest(drives)]
    return tuple(
        replace(each, pose=int(pose)) if each.between else each for each, pose in zip(merged, beside, strict=True)
    )


def unmeasured(mechanism: Mechanism, shapes: Shapes) -> tuple[Gap, ...]:
    """The gaps that the scene wants between two that are not measured against each other.

    They are of one member, or rope and webbing that are not measured at all, or their joint leaves nothing of one.
    """
    pairs = [pair for pair in pairs_of(mechanism, shapes.parts) if shapes.left_of(pair)]
    measured = [gap_of(mechanism, shapes.parts[pair.first], shapes.parts[pair.second]) for pair in pairs]
    return tuple(gap for gap in mechanism.gaps if gap.wanted is not None and not any(gap is each for each in measured))


def _plainest_first(poses: Poses) -> NDArray[np.intp]:
    """Numbers of the solved poses by how far they are moved: what is found does not hang on the order they came in."""
    solved = np.flatnonzero(poses.status == Status.SOLVED)
    values = poses.travel.values[solved]
    moved = np.abs(values / np.maximum(np.abs(values).max(axis=0, initial=0.0), 1e-9)).sum(axis=1)
    return solved[np.lexsort((*values.T, np.round(moved, 9)))]


def _thinned(values: Array) -> NDArray[np.bool_]:
    """Which poses (N,) of drive values (N, D) are looked at: every second level of the finest drives, and their ends.

    What is left out is found between those that are kept. Ride height is among them.
    """
    kept = np.ones(len(values), dtype=bool)
    levels = [np.unique(column) for column in values.T]
    if len(values) < np.prod([len(level) for level in levels]):
        return kept
    while np.count_nonzero(kept) > MANY:
        most = max(map(len, levels))
        levels = [_every_second(level) if len(level) == most else level for level in levels]
        kept = np.all([np.isin(column, level) for column, level in zip(values.T, levels, strict=True)], axis=0)
    return kept


def _every_second(level: Array) -> Array:
    """Every second of sorted levels from the one at ride height on, and both ends."""
    ride = int(np.abs(level).argmin())
    return np.unique(np.concatenate([level[ride % 2 :: 2], level[[0, -1]]]))


def least_of(found: Iterable[Clearance], more: Iterable[Clearance]) -> tuple[Clearance, ...]:
    """Clearances over the travel, and those of more poses where they are smaller; ride height and the like stay."""
    known = {frozenset(each.labels): each for each in found}
    for each in more:
        mine = known.get(frozenset(each.labels), each)
        if each.distance <= mine.distance:
            known[frozenset(each.labels)] = replace(each, ride=mine.ride, together=mine.together, between=True)
    return tuple(sorted(known.values(), key=lambda clearance: (clearance.left, clearance.labels)))


def _merged(found: list[Clearance]) -> tuple[Clearance, ...]:
    """One clearance for each two labels: tyre and rim of a wheel are one, whichever has less left."""
    worst: dict[frozenset[str], Clearance] = {}
    for each in sorted(found, key=lambda clearance: (clearance.left, clearance.labels)):
        worst.setdefault(frozenset(each.labels), each)
    return tuple(worst.values())


@dataclass
class _Start:
    """A place from which a search goes on between poses: drive values (D,), step (D,), and what is nearest there."""

    search: Search
    drives: Array
    step: Array
    nearest: Nearest
    moved: bool = False
    going: bool = True


@dataclass(frozen=True)
class _Found:
    """What a pair's search over the poses has found, and from where it goes on."""

    search: Search
    starts: list[_Start]
    ride: float | None
    together: float | None

    @classmethod
    def of(cls, search: Search) -> _Found:
        """Look at ride height and at both wheels together too."""
        travel = search.placed.poses.travel
        seen = [
            np.isin(np.arange(len(search.first)), search.where[mask])
            for mask in (at_ride(travel.values), together(travel.names, travel.values))
        ]
        starts = []
        for number in search.starts(STARTS) if search.between else ():
            step = np.zeros(travel.values.shape[1])
            step[search.columns] = 0.5 * search.nodes.spacing()
            starts.append(_Start(search, travel.values[search.first[number]], step, search.known[number]))
        return cls(search, starts, *(search.smallest(mask) for mask in seen))

    @property
    def smallest(self) -> float:
        """The smallest distance that is known so far."""
        return min(_floor(self.search), *(start.nearest.distance for start in self.starts), np.inf)

    def clearance(self, order: NDArray[np.intp]) -> Clearance:
        """The record; `order` (N,) are the numbers of the placed poses in the whole."""
        search = self.search
        placed, pair = search.placed, search.pair
        values = placed.poses.travel.values
        number = search.best
        nearest, drives, between = search.known[number], values[search.first[number]], False
        start = min((s for s in self.starts if s.moved), key=lambda s: s.nearest.distance, default=None)
        if start is not None and start.nearest.distance < nearest.distance:
            nearest, drives, between = start.nearest, start.drives, True
        first, second = placed.shapes.parts[pair.first], placed.shapes.parts[pair.second]
        return Clearance(
            labels=(first.label, second.label),
            parts=(first.parts[0], second.parts[0]),
            distance=nearest.distance,
            points=nearest.points,
            pose=int(order[search.first[number]]),
            drives=tuple(map(float, drives)),
            between=between,
            ride=self.ride,
            together=self.together,
            wanted=pair.wanted,
        )


def _refine(starts: list[_Start], placed: Placed) -> None:
    """Go on between the poses: all starts at once, each to the best place around it, with shrinking steps."""
    poses = placed.poses
    low, high = poses.travel.values.min(axis=0), poses.travel.values.max(axis=0)
    for _ in range(ROUNDS):
        going = [start for start in starts if start.going]
        if not going:
            return
        places = [_around(start, low, high) for start in going]
        solved = solve(poses.mechanism, replace(poses.travel, values=np.concatenate(places)))
        now = Placed(solved, placed.shapes)
        reached = solved.status == Status.SOLVED
        after = 0
        for start, tried in zip(going, places, strict=True):
            numbers = np.arange(after, after + len(tried))
            after += len(tried)
            _step(start, now, numbers[reached[numbers]])


def _around(start: _Start, low: Array, high: Array) -> Array:
    """Drive values (n, D) of a place, first, and of those a step away along each drive and, of two, across them."""
    felt = np.flatnonzero(start.step)
    ways = [way for way in product((-1.0, 0.0, 1.0), repeat=len(felt)) if any(way)]
    if len(felt) > 2:
        ways = [way for way in ways if 0.0 not in way or np.count_nonzero(way) == 1]
    tried = np.repeat(start.drives[None], len(ways) + 1, axis=0)
    tried[1:, felt] += np.array(ways) * start.step[felt]
    tried = np.clip(tried, low, high)
    return np.concatenate([tried[:1], tried[1:][(tried[1:] != start.drives).any(axis=1)]])


def _step(start: _Start, now: Placed, numbers: NDArray[np.intp]) -> None:
    """Move a start to the best of some poses, of which the first is where it stands; stop where none can be better."""
    search, best = start.search, start.nearest
    motion = Motion(search.pair, now, numbers)
    lower = motion.near(0, best.distance)
    thick = motion.slab(best, 0) if best.distance > 0.0 else None
    if thick is not None:
        lower = np.maximum(lower, thick)
    finer = SMALLEST * search.tolerance
    promising = np.flatnonzero(lower[1:] < best.distance - finer) + 1
    start.going = len(promising) > 0 and lower.min() < _floor(search)
    for number in promising[np.argsort(lower[promising], kind="stable")]:
        if lower[number] >= start.nearest.distance - finer:
            continue
        found = now.nearest(search.pair, int(numbers[number]), best.way, apart=bool(lower[number] > 0.0))
        if found.distance < start.nearest.distance:
            start.nearest, start.drives, start.moved = found, now.poses.travel.values[numbers[number]], True
    start.step = start.step * SHRINK


def _floor(search: Search) -> float:
    """The smallest distance of a pair over the poses."""
    return search.known[search.best].distance
