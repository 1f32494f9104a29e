"""How much a coilover shortens while its wheels rise: its motion ratio, in mm of coilover per mm of wheel.

With the wheels moved together, and on an axle crossed up too, since there it differs. Some use the word for the inverse
of this: every output says which way round it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.cycles import Cycle
from model.mechanism import Mechanism
from model.members import Stroke, posture
from model.poses import Poses
from model.solver import solve
from model.spatial import Array
from model.tangents import part_velocity, point_velocity, velocities
from model.travel import Travel, moves_of, runs_of

HEIGHTS = 11
# A coilover that both wheels move alike to within a tenth stands in the middle: it has no side.
ALIKE = 0.1


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
    ends = [(mechanism.drives[column].low, mechanism.drives[column].high) for column in columns]
    # Crossed, one wheel's bump is the other's droop: both stay inside their travel.
    low = max(low if sign > 0 else -high for (low, high), sign in zip(ends, signs, strict=True))
    high = min(high if sign > 0 else -low for (low, high), sign in zip(ends, signs, strict=True))
    half = HEIGHTS // 2 + 1
    along = np.concatenate([np.linspace(low, 0.0, half)[:-1], np.linspace(0.0, high, half)])
    values = np.zeros((len(along), len(names)))
    values[:, columns] = along[:, None] * signs
    poses = solve(mechanism, Travel(names, values))
    moving, found = velocities(poses), []
    for stroke in posture(poses).strokes:
        rates = _shortening(poses, moving, stroke)[columns]
        side = _side(rates[:, half - 1])
        if side is None and run is Cycle.CROSS:
            continue
        sign = signs[0] if side is None else signs[side]
        found.append(MotionRatio(stroke.coilover.name, run, sign * along, sign * signs @ rates))
    return found


def _shortening(poses: Poses, moving: Array, stroke: Stroke) -> Array:
    """How much a coilover shortens with each drive (D, N), in mm for a mm of a wheel's height, from `velocities`."""
    top, bottom = (part_velocity(poses, moving, end.on) for end in (stroke.coilover.top, stroke.coilover.bottom))
    apart = point_velocity(top, stroke.top) - point_velocity(bottom, stroke.bottom)
    along = (stroke.top - stroke.bottom) / stroke.length[:, None]
    return np.asarray(-(apart * along).sum(axis=-1))


def _side(rates: Array) -> int | None:
    """Which of the wheels moves a coilover most, by its rates (W,) with each; None where they move it alike."""
    sizes = np.abs(rates)
    if np.ptp(sizes) <= ALIKE * sizes.max() and len(sizes) > 1:
        return None
    return int(sizes.argmax())
