"""How much a coilover shortens while its wheels rise: its motion ratio, in mm of coilover per mm of wheel.

With the wheels moved together, and on an axle crossed up too, since there it differs. Milliken & Milliken, Race Car
Vehicle Dynamics, 1995, ch. 16, call its inverse by the same name: every output says which way round it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.cycles import Cycle
from model.mechanism import Mechanism
from model.members import posture
from model.poses import Status
from model.solver import solve
from model.spatial import Array
from model.travel import Travel, moves_of, runs_of

# Lengths are taken this far above and below each height, in mm. What the slope misses by grows with the square of it:
# less than 1e-6 for links of a few hundred mm.
STEP = 0.5
HEIGHTS = 11


@dataclass(frozen=True, eq=False)
class MotionRatio:
    """A coilover's motion ratio (n,) at heights (n,) in mm of the wheel on its side; NaN beyond a lock.

    `run` is the way the wheels move: both together, or crossed.
    """

    coilover: str
    run: Cycle
    heights: Array
    ratios: Array

    @property
    def ride(self) -> float:
        """The ratio at ride height."""
        return float(self.ratios[int(np.abs(self.heights).argmin())])

    @property
    def lowest(self) -> float:
        """The lowest over the travel."""
        return float(np.nanmin(self.ratios))

    @property
    def highest(self) -> float:
        """The highest over the travel."""
        return float(np.nanmax(self.ratios))


def motion_ratios(mechanism: Mechanism) -> tuple[MotionRatio, ...]:
    """The motion ratios of all coilovers, wheels together and crossed (a single wheel: moved alone)."""
    possible = runs_of(mechanism, Cycle.ALL)
    runs = [run for run in (Cycle.BOTH, Cycle.CROSS) if run in possible]
    found = [each for run in runs or possible[:1] for each in _along(mechanism, run)]
    return tuple(found)


def _along(mechanism: Mechanism, run: Cycle) -> list[MotionRatio]:
    moves = moves_of(run)
    names = tuple(drive.name for drive in mechanism.drives)
    drives = [mechanism.drives[names.index(name)] for name in moves]
    # Crossed, one wheel's bump is the other's droop: both stay inside their travel.
    low = max(
        sign * (drive.low if sign > 0 else drive.high) for drive, sign in zip(drives, moves.values(), strict=True)
    )
    high = min(
        sign * (drive.high if sign > 0 else drive.low) for drive, sign in zip(drives, moves.values(), strict=True)
    )
    along = np.concatenate(
        [np.linspace(low + STEP, 0.0, HEIGHTS // 2 + 1)[:-1], np.linspace(0.0, high - STEP, HEIGHTS // 2 + 1)]
    )
    values = np.zeros((2, len(along), len(names)))
    for name, sign in moves.items():
        values[:, :, names.index(name)] = sign * (along + np.array([[-STEP], [STEP]]))
    poses = solve(mechanism, Travel(names, values.reshape(-1, len(names))))
    known = np.where(poses.status == Status.SOLVED, 0.0, np.nan)
    found = []
    for stroke in posture(poses).strokes:
        name = stroke.coilover.name
        side = next((side for side in moves if name.startswith(side)), next(iter(moves)))
        below, above = (stroke.length + known).reshape(2, -1)
        found.append(MotionRatio(name, run, moves[side] * along, moves[side] * (below - above) / (2.0 * STEP)))
    return found
