"""How much travel is really there: along each way out from ride height, what stops it first, and what would be next.

A way is a straight line through the drive values: one wheel alone, both together or crossed, straight ahead or with
the steering held at a lock; and the steering itself. It is followed from ride height to half as far again as the scene
asks. Every stop is a signal that passes zero (`model.stops`): nodes along the way bracket it, and the bracket is closed
on solved poses with Chandrupatla's method (scipy's `elementwise.find_root`), all ways and stops at once. Where a signal
bends over between two nodes, the top of the parabola through three of them is solved too, so that a stop that is only
just passed there is not missed. Where the linkage locks, the way ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.optimize.elementwise import find_root

from model.mechanism import Arm, Link, Mechanism, Motion
from model.poses import Poses, Status
from model.reaches import Reach, Stop, in_order, reach_along
from model.solver import BACK_OFF, solve
from model.spatial import Array
from model.stops import SLACK, Cause, Signal, Touches, stop_signals
from model.travel import Travel
from model.ways import Way, WayOut, ways_out

# How far a way is followed, as a share of the travel that the scene asks for, and in how many steps. At 18 steps a
# travel of 100 mm has a node every 8 mm, over which joints and dampers hardly bend.
LOOK, STEPS = 1.5, 18
# A root is closed to this share of the travel asked for, 0.0005 mm of 100 mm, or where its signal is this near zero, in
# rad or mm.
ROOT, ZERO = 5e-6, 1e-8
# Locks are known to this share, 0.05 mm of 100 mm; how far beyond one the edge of what works is looked at.
LOCK_ROOT, BESIDE = 5e-4, 0.03
# The tops of parabolas that come within this share of their own height below zero are looked at too.
NEARLY = 0.1

Numbers = NDArray[np.intp]


def usable_travel(mechanism: Mechanism, touches: Touches | None = None) -> tuple[Reach, ...]:
    """How far a suspension gets every way, and what stops it.

    Args:
        mechanism: one that the solver takes.
        touches: distances of the pairs of parts that are to count as stops.

    """
    search = _Search(mechanism, ways_out(mechanism), touches)
    found: list[list[Stop]] = [_own_lock(mechanism, line) for line in search.lines]
    looked = search.follow(found)
    return tuple(
        reach_along(line, in_order(stops), float(share))
        for line, stops, share in zip(search.lines, found, looked, strict=True)
    )


def _own_lock(mechanism: Mechanism, line: WayOut) -> list[Stop]:
    """The scene's own lock, on the ways that steer."""
    if line.way is not Way.LOCK:
        return []
    driven = next(body for body in mechanism.bodies if body.motion is Motion.DRIVEN and body.screw is not None)
    at = np.zeros(3) if driven.screw is None else driven.screw.point
    drives = tuple(line.to.tolist())
    return [Stop(Cause.LOCK, driven.name, driven.name, line.asked, drives, _triple(at), False, "the scene file")]


@dataclass
class _Search:
    """All ways of a mechanism, and what is asked of poses along them."""

    mechanism: Mechanism
    lines: tuple[WayOut, ...]
    touches: Touches | None

    @cached_property
    def signals(self) -> int:
        """How many signals there are, S."""
        still = self.poses(np.zeros(1, dtype=np.intp), np.zeros(1))
        touches = 0 if self.touches is None else len(self.touches)
        return 1 + len(stop_signals(still)) + touches

    def poses(self, line: Numbers, share: Array) -> Poses:
        """Solve poses at shares (n,) of the travel asked for along ways (n,)."""
        start, to = (np.array([getattr(each, key) for each in self.lines])[line] for key in ("start", "to"))
        names = tuple(drive.name for drive in self.mechanism.drives)
        return solve(self.mechanism, Travel(names, start + share[:, None] * (to - start)))

    def past(
        self, line: Numbers, share: Array, signal: Numbers | None = None
    ) -> tuple[Array, tuple[Signal, ...], Poses]:
        """Signals (S, n) there; the first of them is the linkage's own, 1 where it is locked and −1 where not.

        The others are NaN where it is locked. Where only one `signal` (n,) of each pose matters, no other touch
        is measured.
        """
        poses = self.poses(line, share)
        locked = poses.status == Status.LOCKED
        signals = stop_signals(poses, self.touches, self.asked(signal))
        values = np.array([np.where(locked, 1.0, -1.0), *(np.where(locked, np.nan, each.past) for each in signals)])
        return values, signals, poses

    def asked(self, signal: Numbers | None) -> NDArray[np.bool_] | None:
        """Which touches (P, n) are meant by signals (n,)."""
        if signal is None or self.touches is None:
            return None
        first = self.signals - len(self.touches)
        return np.asarray(signal == np.arange(first, self.signals)[:, None])

    def root(self, line: Numbers, signal: Numbers, low: Array, high: Array) -> Array:
        """Shares (n,) at which signals (n,) pass zero between `low` and `high` (n,)."""

        def value(share: Array, line: Array, signal: Array) -> Array:
            chosen = signal.astype(np.intp)
            values, _, _ = self.past(line.astype(np.intp), share, chosen)
            mine = values[chosen, np.arange(len(share))]
            # What locks between two poses that do not is past every limit.
            return np.where(np.isnan(mine), 1.0, mine)

        if len(line) == 0:
            return np.zeros(0)
        found = find_root(value, (low, high), args=(line, signal), tolerances={"xatol": ROOT, "fatol": ZERO})
        # An end at which the signal is zero but for roundings is the root itself.
        return np.where(found.success, found.x, low)

    def follow(self, found: list[list[Stop]]) -> Array:
        """Add each way's stops to `found`; give the shares (L,) of the travel asked for to which it was followed."""
        count = len(self.lines)
        nodes = np.linspace(0.0, LOOK, STEPS + 1)
        line, share = np.repeat(np.arange(count), len(nodes)), np.tile(nodes, count)
        values, _, poses = self.past(line, share)
        values = values.reshape(-1, count, len(nodes))
        ends = self._locks(nodes, poses, found)
        # What the solver reaches beyond a lock by another road is not on this way.
        values[:, nodes > ends[:, None]] = np.nan
        low, high, where, signal = self._brackets(nodes, values, ends)
        share = self.root(where, signal, low, high)
        first = dict(zip(zip(where.tolist(), signal.tolist(), strict=True), share.tolist(), strict=True))
        # Past at ride height already, and getting worse: the way is stopped before it begins.
        begun = (values[1:, :, 0] > 0.0) & (values[1:, :, 1] > values[1:, :, 0] + SLACK)
        first |= {(int(way), int(number) + 1): 0.0 for number, way in np.argwhere(begun)}
        if first:
            self._tell(first, found)
        return ends

    def _tell(self, first: dict[tuple[int, int], float], found: list[list[Stop]]) -> None:
        """Write stops, by way and signal and the share at which each is passed, into `found`."""
        line, signal = np.array(list(first)).T
        _, signals, poses = self.past(line, np.array(list(first.values())), signal)
        for pose, (way, number, share) in enumerate(zip(line, signal, first.values(), strict=True)):
            told = signals[number - 1]
            found[way].append(
                Stop(
                    cause=told.cause,
                    where=told.where,
                    part=told.part,
                    amount=share * self.lines[way].asked,
                    drives=tuple(poses.travel.values[pose].tolist()),
                    at=_triple(told.at[pose]),
                    typical=told.typical,
                    source=told.source,
                )
            )

    def _locks(self, nodes: Array, poses: Poses, found: list[list[Stop]]) -> Array:
        """Find where each way locks, of poses (L · K) at its nodes; give the last shares (L,) that surely work."""
        ends = np.full(len(self.lines), nodes[-1])
        locked = (poses.status == Status.LOCKED).reshape(len(self.lines), -1)
        stuck = np.flatnonzero(locked.any(axis=1))
        first = locked[stuck].argmax(axis=1)
        pose = stuck * len(nodes) + first
        # A way that begins at ride height is the way that the solver walks: it knows where it stopped.
        ends[stuck] = nodes[first] * np.minimum(poses.reached[pose] / BACK_OFF, 1.0)
        held = np.array([self.lines[way].start.any() for way in stuck], dtype=bool)
        at_once, later = held & (first == 0), held & (first > 0)
        ends[stuck[at_once]] = 0.0
        going, node = stuck[later], first[later]
        ends[going] = self._held_locks(going, nodes[node - 1], nodes[node])
        for way, name in zip(stuck, (poses.locks[poses.locked_by[number]] for number in pose), strict=True):
            line = self.lines[way]
            found[way].append(
                Stop(
                    cause=Cause.STRAIGHT,
                    where=name,
                    part=name,
                    amount=float(ends[way]) * line.asked,
                    drives=tuple((line.start + ends[way] * (line.to - line.start)).tolist()),
                    at=_middle(self.mechanism, name),
                    typical=False,
                    source="the linkage itself",
                )
            )
        ends[stuck] = np.maximum(np.minimum(ends[stuck] * BACK_OFF, ends[stuck] - LOCK_ROOT), 0.0)
        return ends

    def _held_locks(self, line: Numbers, low: Array, high: Array) -> Array:
        """Shares (n,) between `low`, which works, and `high`, which locks, at which ways held at a lock end.

        The solver walks to a pose from ride height, steering and wheels at once, and stops on the edge of what the
        linkage can do. Where the share of that walk is s, the edge is at s of the lock and s times the pose's travel:
        two such places give the edge's direction, a third and a fourth close to the lock give it there.
        """
        if len(line) == 0:
            return np.zeros(0)

        def edge(share: Array) -> tuple[Array, Array]:
            walked = np.minimum(self.poses(line, share).reached / BACK_OFF, 1.0)
            return walked * share, walked

        def at_the_lock(near: tuple[Array, Array], far: tuple[Array, Array]) -> Array:
            apart = near[1] - far[1]
            steep = (near[0] - far[0]) / np.where(apart == 0.0, 1.0, apart)
            return np.clip(near[0] + (1.0 - near[1]) * steep, low, high)

        near, far = edge(high), edge(high + BESIDE)
        for beyond in (0.1 * BESIDE, 0.01 * BESIDE):
            near, far = edge(np.minimum(at_the_lock(near, far) + beyond, high - 0.1 * beyond)), near
        return at_the_lock(near, far)

    def _brackets(self, nodes: Array, values: Array, ends: Array) -> tuple[Array, Array, Numbers, Numbers]:
        """Low and high shares (n,) between which signals (n,) of ways (n,) are first passed, of values (S, L, K)."""
        before, after = values[:, :, :-1], values[:, :, 1:]
        signal, line, node = np.nonzero((before <= 0.0) & (after > 0.0))
        mine = signal > 0
        parts = [(nodes[node][mine], nodes[node + 1][mine], line[mine], signal[mine])]
        # The tops of parabolas, and the last place before a lock: both are solved before they count.
        parts += self._checked(*_tops(nodes, values))
        locked = np.flatnonzero(ends < nodes[-1])
        last = np.searchsorted(nodes, ends[locked], side="right") - 1
        everyone = np.arange(1, len(values))
        signal, way = (each.ravel() for each in np.meshgrid(everyone, np.arange(len(locked)), indexing="ij"))
        low = nodes[last[way]]
        inside = values[signal, locked[way], last[way]] <= 0.0
        parts += self._checked(low[inside], ends[locked[way]][inside], locked[way][inside], signal[inside])
        low, high, line, signal = (np.concatenate(each) for each in zip(*parts, strict=True))
        # Of each way and signal the first one.
        order = np.argsort(low, kind="stable")
        _, first = np.unique(np.stack([line, signal])[:, order], axis=1, return_index=True)
        chosen = order[first]
        return low[chosen], high[chosen], line[chosen], signal[chosen]

    def _checked(
        self, low: Array, high: Array, line: Numbers, signal: Numbers
    ) -> list[tuple[Array, Array, Numbers, Numbers]]:
        """Those brackets whose signal is truly past its limit at their upper share."""
        if len(low) == 0:
            return []
        values, _, _ = self.past(line, high, signal)
        past = (values[signal, np.arange(len(line))] > 0.0) & (low < high)
        return [(low[past], high[past], line[past], signal[past])]


def _tops(nodes: Array, values: Array) -> tuple[Array, Array, Numbers, Numbers]:
    """Brackets as in `_brackets` for signals that bend over just below or above zero between nodes inside."""
    left, middle, right = values[1:, :, :-2], values[1:, :, 1:-1], values[1:, :, 2:]
    bend = left - 2.0 * middle + right
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = 0.5 * (left - right) / bend
        top = middle - 0.25 * (left - right) * shift
        height = top - np.minimum(left, right)
        near = (middle <= 0.0) & (middle >= left) & (middle >= right) & (bend < 0.0) & (top > -NEARLY * height)
    signal, line, node = np.nonzero(near)
    step = nodes[1] - nodes[0]
    at = nodes[node + 1] + step * shift[near]
    low = np.where(shift[near] < 0.0, nodes[node], nodes[node + 1])
    return low, at, line, signal + 1


def _middle(mechanism: Mechanism, name: str) -> tuple[float, float, float]:
    """Middle of a member's joints at ride height, or of the wheel of that name; else the vehicle's origin."""
    members: list[Link | Arm] = [*mechanism.links, *mechanism.arms]
    places = [end.at for member in members if member.name == name for end in member.ends]
    places += [wheel.centre for wheel in mechanism.wheels if wheel.name == name]
    return _triple(np.mean(places, axis=0) if places else np.zeros(3))


def _triple(values: Array) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])
