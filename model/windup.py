"""Bonded bushes: how far each is wound from where its bolt was tightened, and what that does to the ride height.

With both wheels at height z, l(z) the length of a spring and θ(z) the turn of a bush of rate k tightened at z_t, the
virtual work of a small rise balances the weight W on the wheels where

    Σ F(l) (−l'(z)) + Σ k (θ(z) − θ(z_t)) θ'(z) = W.

W is what the springs alone carry at ride height, z = 0: where bushes are tightened there, they carry nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np

from model.joints import JointKind
from model.limits import Limit
from model.mechanism import End, Mechanism
from model.members import JointMotion, Stroke, posture
from model.poses import Status
from model.preload import height_of
from model.rates import spring_force
from model.solver import solve
from model.spatial import Array
from model.travel import Travel, axis

# Heights solved for a spline: over a long travel every 10 mm, where a turn is smooth to a millionth of a degree.
HEIGHTS = 41
# Less than this (rad, or mm) through the whole travel is what the solver leaves over, and no motion.
STANDS_STILL = 1e-6

JointKey = tuple[str, str]


@dataclass(frozen=True)
class Wound:
    """A bush tightened at one height: "ride", "droop", "bump", or mm above ride height.

    Its wind-up at full droop, at ride height and at full bump, rad, signed right-handed about its bolt; `share` of its
    limit at the worst of the three; `torque` in N·mm that it carries there, `None` where its rate is not given.
    `locks_at` is the height in mm at which the linkage locks on the way to where it is to be tightened: it is taken to
    be tightened there. `None` where the linkage gets there.
    """

    tightened: str | float
    wind_up: tuple[float, float, float]
    share: float | None
    torque: tuple[float, float, float] | None
    locks_at: float | None = None


@dataclass(frozen=True)
class WindUp:
    """A bonded bush tightened at ride height, hanging, and as the scene says where that is a third way.

    `droop_locks_at` and `bump_locks_at` are the heights in mm at which the linkage locks on the way to full droop and
    full bump with both wheels together: what is said of droop or bump is then said of that height. `None` where the
    linkage gets there.
    """

    member: str
    end: End
    limit: Limit | None
    rate: float | None
    own: str | float
    wound: tuple[Wound, ...]
    droop_locks_at: float | None = None
    bump_locks_at: float | None = None


class NoShift(StrEnum):
    """Why a shift of ride height is not known."""

    NO_SPRING = "no spring is given"
    NO_RATE = "a bonded bush has no turning rate"
    NO_BALANCE = "there is no stable balance within the travel"


@dataclass(frozen=True)
class RideShift:
    """How much higher (mm) the vehicle sits at a wheel with all bushes tightened one way than with all at ride height.

    `tightened` is "droop", or "scene": each bush as the scene has it. `higher` is `None` for the reason `why`;
    `lacking` are the members that a number is missing of.
    """

    tightened: str
    wheel: str
    higher: float | None
    why: NoShift | None = None
    lacking: tuple[str, ...] = ()


def is_bonded(end: End) -> bool:
    """Whether a joint twists its rubber when it turns."""
    return end.joint.kind is JointKind.RUBBER_BUSH


def turns_at(mechanism: Mechanism, place: str | float) -> dict[JointKey, float]:
    """Turn in rad from ride height of every bonded bush with both wheels at one height, straight ahead.

    Where the linkage locks on the way, the turn at the last height that it reaches.
    """
    return _together_at(mechanism, place).turns


@dataclass(frozen=True)
class _Together:
    """Both wheels at one height: the bonded bushes in their order, how far each has turned, where the linkage locks."""

    ends: dict[JointKey, End]
    turns: dict[JointKey, float]
    locks_at: float | None


@lru_cache(maxsize=64)
def _together_at(mechanism: Mechanism, place: str | float) -> _Together:
    values = np.array([[height_of(drive, place) for drive in mechanism.drives]])
    poses = solve(mechanism, Travel(tuple(drive.name for drive in mechanism.drives), values))
    bonded = [joint for joint in posture(poses).joints if is_bonded(joint.end)]
    wheels = [column for column, drive in enumerate(mechanism.drives) if drive.name != "steer"]
    locked = poses.status[0] == Status.LOCKED
    return _Together(
        ends={_key(joint): joint.end for joint in bonded},
        turns={_key(joint): float(joint.turn[0]) for joint in bonded},
        locks_at=float(poses.reached[0] * values[0, wheels[0]]) if locked else None,
    )


def wind_up(mechanism: Mechanism, joint: JointMotion) -> Array:
    """Wind-up (N,) in rad of a bonded bush from where the scene says that it was tightened."""
    place = joint.end.joint.torqued_at
    return joint.turn if place == "ride" else joint.turn - turns_at(mechanism, place)[_key(joint)]


def wind_ups(mechanism: Mechanism) -> tuple[WindUp, ...]:
    """Every bonded bush, in the order in which its joint is measured."""
    droop, ride, bump = (_together_at(mechanism, place) for place in ("droop", "ride", "bump"))
    found = []
    for key, end in ride.ends.items():
        limits = end.joint
        ways: tuple[str | float, ...] = tuple(dict.fromkeys(["ride", "droop", limits.torqued_at]))
        turned = np.array([place.turns[key] for place in (droop, ride, bump)])
        tight = {way: _together_at(mechanism, way) for way in ways}
        wound = tuple(_wound(end, way, turned - tight[way].turns[key], tight[way].locks_at) for way in ways)
        found.append(
            WindUp(
                member=key[0],
                end=end,
                limit=limits.turn,
                rate=limits.rates.turn,
                own=limits.torqued_at,
                wound=wound,
                droop_locks_at=droop.locks_at,
                bump_locks_at=bump.locks_at,
            )
        )
    return tuple(found)


def _wound(end: End, way: str | float, twist: Array, locks_at: float | None) -> Wound:
    limit, rate = end.joint.turn, end.joint.rates.turn
    return Wound(
        tightened=way,
        wind_up=_three(twist),
        share=None if limit is None else float(np.abs(twist).max() / limit.angle),
        torque=None if rate is None else _three(rate * twist),
        locks_at=locks_at,
    )


def ride_shifts(mechanism: Mechanism) -> tuple[RideShift, ...]:
    """What each way of tightening does to the ride height at each wheel that a bonded bush feels.

    Wheels that one spring or bush feels both of stand together and shift alike; others are balanced each by itself.
    """
    shifts = []
    for sweep in _sweeps(mechanism):
        for way, places in _ways(sweep.bushes).items():
            higher, why, lacking = _higher(mechanism, sweep, places)
            names = [wheel.name for wheel in mechanism.wheels if wheel.side in sweep.sides]
            shifts += [RideShift(way, name, higher, why, lacking) for name in names]
    return tuple(shifts)


@dataclass(frozen=True)
class _Sweep:
    """What moves while the wheels of some sides go together through their travel, at heights (n,) in mm."""

    sides: tuple[str, ...]
    heights: Array
    strokes: tuple[Stroke, ...]
    bushes: tuple[JointMotion, ...]

    @classmethod
    def of(cls, mechanism: Mechanism, sides: tuple[str, ...]) -> _Sweep:
        heights = axis(next(drive for drive in mechanism.drives if drive.name in sides), HEIGHTS)
        names = tuple(drive.name for drive in mechanism.drives)
        values = np.stack([heights if name in sides else np.zeros(HEIGHTS) for name in names], axis=-1)
        poses = solve(mechanism, Travel(names, values))
        solved = np.flatnonzero(poses.status == Status.SOLVED)
        now = posture(poses.take(solved))
        return cls(
            sides=sides,
            heights=heights[solved],
            strokes=tuple(stroke for stroke in now.strokes if np.ptp(stroke.length) > STANDS_STILL),
            bushes=tuple(joint for joint in now.joints if is_bonded(joint.end) and np.ptp(joint.turn) > STANDS_STILL),
        )

    @property
    def felt(self) -> set[JointKey | str]:
        """Every spring and bush that moves."""
        return {stroke.coilover.name for stroke in self.strokes} | {_key(joint) for joint in self.bushes}


def _sweeps(mechanism: Mechanism) -> list[_Sweep]:
    """Each side's wheel by itself, or both together where a spring or bush feels both."""
    sides = tuple(drive.name for drive in mechanism.drives if drive.name != "steer")
    alone = [_Sweep.of(mechanism, (side,)) for side in sides]
    if len(sides) == 2 and alone[0].felt & alone[1].felt:
        return [_Sweep.of(mechanism, sides)]
    return alone


def _ways(bushes: tuple[JointMotion, ...]) -> dict[str, dict[JointKey, str | float]]:
    """Where each bush is tightened, in each way of tightening them all that differs from all at ride height."""
    scene = {_key(joint): joint.end.joint.torqued_at for joint in bushes}
    droop: dict[JointKey, str | float] = dict.fromkeys(scene, "droop")
    ways = {"droop": droop} if scene else {}
    return ways if set(scene.values()) <= {"ride"} or scene == droop else ways | {"scene": scene}


def _higher(
    mechanism: Mechanism, sweep: _Sweep, places: dict[JointKey, str | float]
) -> tuple[float | None, NoShift | None, tuple[str, ...]]:
    """How much higher (mm) the vehicle sits, or why that is not known and which members a number is missing of."""
    from scipy.interpolate import CubicSpline
    from scipy.optimize import brentq

    springs = [(stroke.coilover, stroke.length) for stroke in sweep.strokes if stroke.coilover.spring is not None]
    if not springs:
        return None, NoShift.NO_SPRING, tuple(stroke.coilover.name for stroke in sweep.strokes)
    bare = [joint.member for joint in sweep.bushes if joint.end.joint.rates.turn is None]
    if bare:
        return None, NoShift.NO_RATE, tuple(dict.fromkeys(bare))
    lengths = [(coilover, CubicSpline(sweep.heights, length)) for coilover, length in springs]
    turns = [
        (joint.end.joint.rates.turn or 0.0, CubicSpline(sweep.heights, joint.turn), turns_at(mechanism, place)[key])
        for joint in sweep.bushes
        for key in [_key(joint)]
        for place in [places[key]]
    ]

    def carried(z: float) -> float:
        return -sum(float(spring_force(coilover, length(z))[0]) * float(length(z, 1)) for coilover, length in lengths)

    weight = carried(0.0)

    def excess(z: float) -> float:
        wound = sum(rate * (float(turn(z)) - tight) * float(turn(z, 1)) for rate, turn, tight in turns)
        return carried(z) + wound - weight

    rising = np.array([excess(float(z)) for z in sweep.heights])
    crossings = np.flatnonzero((rising[:-1] < 0.0) & (rising[1:] >= 0.0))
    if len(crossings) == 0:
        return None, NoShift.NO_BALANCE, ()
    first = int(crossings[np.abs(sweep.heights[crossings]).argmin()])
    return -float(brentq(excess, sweep.heights[first], sweep.heights[first + 1], xtol=1e-9)), None, ()


def _key(joint: JointMotion) -> JointKey:
    return joint.member, joint.end.place


def _three(values: Array) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])
