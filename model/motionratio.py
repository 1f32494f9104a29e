"""How much a coilover shortens while its wheels rise: its motion ratio, in mm of coilover per mm of wheel.

With the wheels moved together, and on an axle crossed up too, since there it differs. Some use the word for the inverse
of this: every output says which way round it is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from model.cycles import Cycle
from model.mechanism import Mechanism
from model.rates import ALIKE, shortening
from model.solver import solve
from model.spatial import Array
from model.tangents import velocities
from model.travel import moves_of, runs_of, sweep

HEIGHTS = 11


@dataclass(frozen=True, eq=False)
class MotionRatio:
    """A coilover's motion ratio (n,) at heights (n,) in mm of the wheel on its side; NaN beyond a lock.

    `run` is the way the wheels move: both together, or crossed. A coilover in the middle has no side, and crossed none.
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
    def droop(self) -> float:
        """The ratio at full droop, or as far down as the linkage gets."""
        return self._at(np.argmin)

    @property
    def bump(self) -> float:
        """The ratio at full bump, or as far up as the linkage gets."""
        return self._at(np.argmax)

    def _at(self, end: Callable[[Array], np.intp]) -> float:
        known = np.isfinite(self.ratios)
        return float(self.ratios[known][end(self.heights[known])])

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
    runs = [run for run in (Cycle.BOTH, Cycle.CROSS) if run in possible] or possible[:1]
    return tuple(each for run in runs for each in _along(mechanism, run))


def _along(mechanism: Mechanism, run: Cycle) -> list[MotionRatio]:
    moves = moves_of(run)
    names = tuple(drive.name for drive in mechanism.drives)
    columns, signs = [names.index(name) for name in moves], np.array(list(moves.values()))
    poses = solve(mechanism, sweep(mechanism, run, HEIGHTS))
    along = signs[0] * poses.travel.values[:, columns[0]]
    moving, found = velocities(poses), []
    for unit in mechanism.coilovers:
        rates = shortening(poses, moving, unit)[1][columns]
        side = _side(rates[:, HEIGHTS // 2])
        if side is None and run is Cycle.CROSS:
            continue
        sign = signs[0] if side is None else signs[side]
        found.append(MotionRatio(unit.name, run, sign * along, sign * signs @ rates))
    return found


def _side(rates: Array) -> int | None:
    """Which of the wheels moves a coilover most, by its rates (W,) with each; None where they move it alike."""
    sizes = np.abs(rates)
    if np.ptp(sizes) <= ALIKE * sizes.max() and len(sizes) > 1:
        return None
    return int(sizes.argmax())
