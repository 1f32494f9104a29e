"""The wheels of a scene with the coilover that each moves: what a spring there carries, and how it moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from model.adjustable import Perch
from model.errors import CallError
from model.mechanism import Coilover, Mechanism, Wheel
from model.mobility import joined
from model.naming import suggestion
from model.poses import Status
from model.rates import lifted, shortening, spring_force, wheel_columns
from model.solver import solve
from model.spatial import Array
from model.tangents import velocities
from model.travel import Travel

# Heights over the travel at which springs are looked at, ride height among them.
HEIGHTS = 21
# A wheel moves its own coilover by at least this share more than the other wheel does; common practice, no source.
OWN = 0.1
# N: springs that push with less hang loose.
NOTHING = 1e-6


@dataclass(frozen=True, eq=False)
class Corner:
    """A wheel with its coilover over n heights (n,) of both wheels together, mm from ride height now.

    length (n,) mm between its eyes; ratio (n,) and change (n,) of its motion ratio for a mm of wheel. `sprung` is the
    weight in N that the spring carries at the wheel, `given` says that the scene's weights give it and not its spring.
    `perch` is the adjuster of its seat, if there is one.
    """

    coilover: Coilover
    wheel: Wheel
    heights: Array
    length: Array
    ratio: Array
    change: Array
    sprung: float
    given: bool
    perch: Perch | None

    @property
    def seats(self) -> float | None:
        """Mm between its spring's seats, the coilover fully out and the perch where it is; None without a spring."""
        spring = self.coilover.spring
        return None if spring is None else spring.free_length - spring.preload

    def at(self, height: float) -> tuple[float, float, float]:
        """Length, motion ratio and its change at a height of the wheel, mm, between those that were tried."""
        length, ratio, change = (
            float(np.interp(height, self.heights, each)) for each in (self.length, self.ratio, self.change)
        )
        return length, ratio, change


def corners(mechanism: Mechanism) -> tuple[Corner, ...]:
    """Every wheel with the coilover that it moves.

    Raises:
        CallError: there is not one coilover for each wheel, nothing says what it carries, or the travel locks.

    """
    drives = {drive.name: drive for drive in mechanism.drives}
    low, high = (_shared([getattr(drives[wheel.side], end) for wheel in mechanism.wheels]) for end in ("low", "high"))
    heights = np.concatenate([np.linspace(low, 0.0, HEIGHTS // 2 + 1)[:-1], np.linspace(0.0, high, HEIGHTS // 2 + 1)])
    columns = wheel_columns(mechanism)
    values = np.zeros((len(heights), len(mechanism.drives)))
    values[:, columns] = heights[:, None]
    poses = solve(mechanism, Travel(tuple(drives), values))
    reached = poses.status == Status.SOLVED
    if not reached[len(heights) // 2]:
        raise CallError("the linkage locks at ride height; correct the scene first.")
    poses, heights = poses.take(np.flatnonzero(reached)), heights[reached]
    velocity, found = velocities(poses), []
    raised = lifted(poses, velocity)
    for unit in mechanism.coilovers:
        length, _ = shortening(poses, velocity, unit)
        strained, ratio, change = raised[unit.name]
        ride = int(np.abs(heights).argmin())
        wheel = _wheel_of(mechanism, strained.ratios[:, ride])
        if wheel is None:
            raise CallError(
                f'"{unit.name}" is moved alike by both wheels; spring picking needs a coilover at each wheel.'
            )
        sprung, given = _sprung(mechanism, wheel, unit, length[ride], ratio[ride])
        perch = next(
            (each for each in mechanism.adjusters if isinstance(each, Perch) and each.coilover == unit.name), None
        )
        found.append(Corner(unit, wheel, heights, length, ratio, change, sprung, given, perch))
    sides = [corner.wheel.side for corner in found]
    if len(found) != len(mechanism.wheels) or len(set(sides)) != len(sides):
        names = joined([unit.name for unit in mechanism.coilovers]) if mechanism.coilovers else "none"
        raise CallError(
            f"spring picking needs one coilover at each of {len(mechanism.wheels)} wheels; the scene has {names}."
        )
    return tuple(found)


def _shared(ends: Sequence[float]) -> float:
    """The end of a travel that all wheels have, the nearest to ride height."""
    return min(ends, key=abs)


def _wheel_of(mechanism: Mechanism, rates: Array) -> Wheel | None:
    """The wheel that moves a coilover, by its rates (W,) with each; None where two move it alike."""
    order = np.argsort(-np.abs(rates))
    if len(rates) > 1 and abs(rates[order[1]]) > (1.0 - OWN) * abs(rates[order[0]]):
        return None
    side = mechanism.drives[wheel_columns(mechanism)[int(order[0])]].name
    return next(wheel for wheel in mechanism.wheels if wheel.side == side)


def _sprung(mechanism: Mechanism, wheel: Wheel, unit: Coilover, length: float, ratio: float) -> tuple[float, bool]:
    """The weight in N that a wheel's spring carries, and whether the scene's weights say so."""
    weights = mechanism.weights
    if weights is not None:
        return weights.under(wheel.side) - weights.unsprung, True
    force = float(spring_force(unit, np.array([length]))[0][0])
    if force < NOTHING:
        raise CallError(
            "nothing says what the springs carry; add a [weights] table with what the scales show under each wheel."
        )
    return force * ratio, False


def corner_named(found: Sequence[Corner], name: str | None) -> tuple[Corner, ...]:
    """All corners, or that of a coilover by name.

    Raises:
        CallError: no coilover is called so.

    """
    if name is None:
        return tuple(found)
    chosen = tuple(corner for corner in found if name in (corner.coilover.name, corner.coilover.name.partition(" ")[2]))
    if not chosen:
        known = [corner.coilover.name for corner in found]
        raise CallError(f'--coilover "{name}" is no coilover of this scene; {suggestion(name, known)}')
    return chosen
