"""How high the wheels stand where springs and anti-roll bars hold a load.

With s the forces that the coilovers would have to have (`model.forcesolve`), f those that their springs give and S
their motion ratios, wheel w is pushed up by Q_w = Σ S_w (s − f). It stands where Q_w = 0, or at the end of its travel
where it is pushed on. Newton's method on the wheels that are not stopped.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from model.errors import CallError
from model.mechanism import Mechanism
from model.poses import Poses, Status
from model.solver import solve
from model.spatial import Array
from model.travel import Travel

# mm: a difference over this of a force that is smooth over hundreds of mm errs by a millionth; heights that change by
# less than a nanometre stay. A wheel that stays is held to within a thousandth of a N for each mm of its travel.
STEP, STAYS, HELD = 0.01, 1e-6, 1e-3
MOST_ROUNDS = 30

Push = Callable[[Poses], Array]


def settled(mechanism: Mechanism, name: str, push: Push) -> Array:
    """Heights (D,) of the drives at which a load is held, steering straight ahead.

    Args:
        mechanism: the suspension.
        name: of the load case, for the complaint.
        push: Q (N, W) in N for N poses.

    Raises:
        CallError: there are none, or the linkage locks on the way.

    """
    wheels = [number for number, drive in enumerate(mechanism.drives) if drive.name != "steer"]
    low, high = np.array([[mechanism.drives[number].low, mechanism.drives[number].high] for number in wheels]).T
    heights, around = np.zeros(len(wheels)), np.vstack([np.zeros(len(wheels)), STEP * np.eye(len(wheels))])
    for _ in range(MOST_ROUNDS):
        # Differences away from the nearer end of the travel, so that they stay inside it.
        sense = np.where(heights > 0.0, -1.0, 1.0)
        values = np.zeros((len(around), len(mechanism.drives)))
        values[:, wheels] = heights + sense * around
        poses = solve(mechanism, Travel(tuple(drive.name for drive in mechanism.drives), values))
        if (poses.status != Status.SOLVED).any():
            break
        here, *beside = push(poses)
        slope = (np.array(beside) - here).T * sense / STEP
        free = ~(((heights >= high) & (here > 0.0)) | ((heights <= low) & (here < 0.0)))
        change = np.zeros(len(wheels))
        change[free] = -np.linalg.lstsq(slope[np.ix_(free, free)], here[free], rcond=None)[0]
        reached = np.clip(heights + change, low, high)
        if np.abs(reached - heights).max(initial=0.0) < STAYS:
            if np.abs(here[free]).max(initial=0.0) > HELD * (high - low).max():
                break  # pushed away from the end of its travel, and farther the farther it goes: it falls over
            found = np.zeros(len(mechanism.drives))
            found[wheels] = reached
            return found
        heights = reached
    raise CallError(f'no heights are found at which the springs hold the case "{name}"; give it another at.')
