"""Curves along the runs of a cycle, as a person reads them: from full droop through ride height to full bump."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from model.curvenames import Curve
from model.curves import curves
from model.cycles import Cycle
from model.errors import CallError
from model.mechanism import Mechanism
from model.poses import Poses
from model.solver import solve
from model.spatial import Array
from model.travel import moves_of, runs_of, sweep

# The runs that tell the most, where none is asked for.
TELLING = (Cycle.BOTH, Cycle.CROSS, Cycle.STEER)


@dataclass(frozen=True, eq=False)
class CurveRun:
    """Curves over N poses of a run, from its lower end to its upper one; ride height is the pose in the middle.

    along (N,): height in mm of the wheel that rises first in the run's name, or steering as a share of lock.
    """

    cycle: Cycle
    poses: Poses
    along: Array
    curves: tuple[Curve, ...]

    @property
    def ride(self) -> int:
        """The number of the pose at ride height."""
        return len(self.along) // 2

    def slope(self, curve: Curve) -> float:
        """How much a curve changes at ride height for a mm of the run, from the poses on both sides of it.

        NaN beside a lock.
        """
        before, behind = self.ride - 1, self.ride + 1
        return float((curve.values[behind] - curve.values[before]) / (self.along[behind] - self.along[before]))


def chosen_runs(mechanism: Mechanism, cycle: Cycle | None) -> tuple[Cycle, ...]:
    """The runs of a cycle; without one both wheels together, crossed and lock to lock, or the only wheel.

    Raises:
        CallError: the scene does not have what the cycle moves.

    """
    possible = runs_of(mechanism, Cycle.ALL if cycle is None else cycle)
    telling = [run for run in possible if run in TELLING]
    return tuple(possible if cycle is not None or Cycle.BOTH not in telling else telling)


def curve_runs(
    mechanism: Mechanism, runs: Sequence[Cycle], steps: int, wheelbase: float | None = None
) -> tuple[CurveRun, ...]:
    """Solve and measure some runs in so many steps each.

    Raises:
        CallError: for steps among which ride height is not.

    """
    if steps < 3 or steps % 2 == 0:
        raise CallError(f"steps are {steps}, expected an odd number from 3 on, so that ride height is among them.")
    return tuple(_run(mechanism, run, steps, wheelbase) for run in runs)


def _run(mechanism: Mechanism, run: Cycle, steps: int, wheelbase: float | None) -> CurveRun:
    travel = sweep(mechanism, run, steps)
    poses = solve(mechanism, travel)
    return CurveRun(run, poses, travel.column(next(iter(moves_of(run)))), curves(poses, wheelbase))
