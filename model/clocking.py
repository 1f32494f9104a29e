"""How the two heads of a bar should be clocked against each other, and what that gives back.

Only the difference of the two best spins changes with the clock, so a sweep over clocks costs no new pose: with the
second head turned by Δ its best spin is Δ less, and a bolt, being a line, is seen from the side that is then nearer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model.articulation import Wave, apart, spin_between
from model.eyes import FittedBar, bolt_spread, is_square, side_of, swung
from model.measures import at_ride
from model.mechanism import Link
from model.members import Posture, fitted_bars, posture
from model.poses import CHUNK, Poses, Status
from model.spatial import Array, unit

# Less than half a degree of tilt is less than a person can measure at a joint under a car.
WORTH = float(np.radians(0.5))
# A head is clocked by eye to a degree or two. Common practice, no source.
SETTABLE = float(np.radians(2.0))
# Poses that the search looks at, beside ride height, the corners of the travel and the worst pose as it is now.
POSES = 400
# Three sweeps: over half a turn by 2°, then around the best by a tenth and by two hundredths of a degree.
SWEEPS = ((90.0, 91), (2.0, 41), (0.1, 11))
# Shares nearer than this are the same: what is left of a search in steps of a fiftieth of a degree.
AS_GOOD = 1e-6


@dataclass(frozen=True)
class BetterClock:
    """A link whose heads would do better at another angle to each other.

    `now` and `better` are clocks in rad, −π/2 to π/2, as `clock` in the scene file: how far the second head (the one
    at `to`) is turned against the first. Positive is clockwise as seen from the first end along the bar; a head is
    symmetric, so that half a turn changes nothing. The right-hand one of a mirrored link is the mirror image: its
    clock has the other sign.

    `share_now` and `share_then` are the largest tilt at either end over all poses as a share of that end's limit;
    `given_back` is by how much, in rad, the largest tilt of the end that is worse now would lessen. `place` names it.
    """

    link: str
    place: str
    now: float
    better: float
    share_now: float
    share_then: float
    given_back: float


def better_clocks(poses: Poses) -> tuple[BetterClock, ...]:
    """Links of which at least half a degree would be given back at the worse end by turning a head by 2° or more.

    Looks at the solved poses, of a great many at an even choice of them. A link that is a body, because its joints
    give, does not spin freely and is left out.
    """
    mechanism = poses.mechanism
    solved = poses.take(np.flatnonzero(poses.status == Status.SOLVED))
    if len(solved) == 0:
        return ()
    solved = solved.take(_few(solved.travel.values, CHUNK))
    now, bars = posture(solved), fitted_bars(mechanism)
    chosen = _few(solved.travel.values, POSES)
    bodies = {body.name for body in mechanism.bodies}
    found = []
    for link in mechanism.links:
        bar = bars[link.name, link.ends[0].place]
        limits = [eye.end.joint.tilt for eye in bar.eyes]
        if link.name in bodies or len(limits) != 2 or None in limits or not any(map(is_square, link.ends)):
            continue
        found.append(_better(link, _Heads.of(link, bar, now), chosen))
    return tuple(clock for clock in found if clock is not None)


@dataclass(frozen=True)
class _Heads:
    """Both eyes' waves (N,) with the second as if unclocked and seen from its bolt's own side, and their limits.

    `spread` (rad) is the azimuth from the first bolt to the second at ride height.
    """

    first: Wave
    second: Wave
    spread: float
    limits: tuple[float, float]

    @classmethod
    def of(cls, link: Link, bar: FittedBar, now: Posture) -> _Heads:
        start, stop = (now.parts[end.on].point(end.at) for end in link.ends)
        axes = swung(bar.ride, unit(stop - start))
        first, second = bar.eyes
        waves = [eye.wave(axes, now.parts[eye.end.on].rotation) for eye in (first, replace(second, sign=1.0))]
        # What the eye was given for its own side and clock is taken back.
        raw = replace(waves[1], best=waves[1].best + second.azimuth, elevation=second.sign * second.elevation)
        return cls(waves[0], raw, bolt_spread(bar.ride, first.end, second.end), (first.limit, second.limit))

    def take(self, which: NDArray[np.intp]) -> _Heads:
        return replace(self, first=self.first.take(which), second=self.second.take(which))

    def tilts(self, clocks: Array) -> Array:
        """Both tilts (2, K, N) in rad at the best spin, with the heads at clocks (K,) to each other."""
        side = side_of(self.spread, clocks)[:, None]
        seen = Wave(
            p=self.second.p,
            q=side * self.second.q,
            best=self.second.best - clocks[:, None] + np.where(side < 0.0, np.pi, 0.0),
            elevation=side * self.second.elevation,
        )
        spin = spin_between(self.first, seen, self.limits)
        return np.stack([self.first.tilt(spin), seen.tilt(spin)])

    def worst(self, clocks: Array) -> Array:
        """The largest tilt (2, K) of each end over all poses, in rad."""
        return np.asarray(self.tilts(clocks).max(axis=-1))

    def shares(self, clocks: Array) -> Array:
        """The largest share (K,) of its limit that either end uses over all poses."""
        return np.asarray((self.worst(clocks) / np.array(self.limits)[:, None]).max(axis=0))


def _better(link: Link, heads: _Heads, chosen: NDArray[np.intp]) -> BetterClock | None:
    now = _half_turn(np.array(link.clock))
    tilts = heads.tilts(np.array([now]))[:, 0] / np.array(heads.limits)[:, None]
    few = heads.take(np.append(chosen, tilts.max(axis=0).argmax()))
    better = now
    for reach, steps in SWEEPS:
        clocks = better + np.radians(np.linspace(-reach, reach, steps))
        used = few.shares(clocks)
        # Of clocks that are as good as each other the one nearest to how the heads stand now.
        good = clocks[used <= used.min() + AS_GOOD]
        better = good[np.abs(_half_turn(good - now)).argmin()]
    better = _half_turn(better)
    clocks = np.array([now, better])
    worst, used = heads.worst(clocks), heads.shares(clocks)
    lessened = worst[:, 0] - worst[:, 1]
    # The best spin shares a shortage out evenly, so that both ends are as badly off; where one is worse, no spin serves
    # it, no clock either, and none is found. Of the two the one that gets more back.
    end = int(lessened.argmax())
    back = float(lessened[end])
    if back < WORTH or np.abs(_half_turn(better - now)) < SETTABLE:
        return None
    return BetterClock(link.name, link.ends[end].place, float(now), float(better), float(used[0]), float(used[1]), back)


def _half_turn(clock: Array) -> Array:
    """The same clock of symmetric heads (...) within a quarter turn either way, rad."""
    return np.asarray(0.5 * apart(np.zeros(()), 2.0 * clock))


def _few(values: Array, count: int) -> NDArray[np.intp]:
    """Numbers of `count` poses spread over drive values (N, D), of ride height and of the corners."""
    corners = ((values == values.min(axis=0)) | (values == values.max(axis=0))).all(axis=1)
    even = np.linspace(0, len(values) - 1, min(count, len(values))).round().astype(np.intp)
    return np.unique(np.concatenate([even, np.flatnonzero(corners | at_ride(values))]))
