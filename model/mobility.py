"""Freedoms counted at ride height: what is loose, what is held twice over, and the motion that the drives give.

The rank of the Jacobian decides, not a count of joints: a column it lacks is a motion that nothing stops, a row it
can do without is a part that is held twice over (Angeles, Fundamentals of Robotic Mechanical Systems, ch. 9).
"""

from __future__ import annotations

import numpy as np

from model.constraints import System, evaluate, jacobian, ride_state, systems
from model.errors import SceneError
from model.mechanism import Mechanism
from model.solver import residual_at_drive
from model.spatial import Array

# Singular values are in mm per mm: a well-held suspension has its smallest between 0.05 and 0.5. One below 1e-6 would
# let a joint 1 mm out of place move a part by a kilometre: that is a linkage that does not hold, not one held badly.
SINGULAR = 1e-6
# A body or row that takes part in a loose motion or in a fight with less than this share of the largest is left out.
SHARE = 0.2


def check_freedoms(mechanism: Mechanism) -> None:
    """Raise SceneError with one sentence for each part that is loose and each group that is held twice over."""
    complaints: list[str] = []
    for system in systems(mechanism):
        complaints += _complaints(mechanism, system)
    if complaints:
        raise SceneError(complaints)


def ride_rows(system: System, drives: int) -> Array:
    """The Jacobian (m, 6 U) at ride height."""
    _, wrench = evaluate(system, ride_state(system, 1), np.zeros((drives, 1)))
    return np.asarray(jacobian(system, wrench)[0])


def _complaints(mechanism: Mechanism, system: System) -> list[str]:
    rows = ride_rows(system, len(mechanism.drives)) if len(system.plus) else np.zeros((0, system.unknowns))
    left, values, right = np.linalg.svd(rows)
    rank = int(np.count_nonzero(values > SINGULAR))
    complaints = []
    loose = right[rank:]
    if len(loose):
        freedom = np.sqrt((loose.reshape(len(loose), system.free, 6) ** 2).sum(axis=(0, 2)))
        names = [
            mechanism.bodies[number].name
            for number, size in zip(system.bodies[: system.free], freedom, strict=True)
            if size > SHARE * freedom.max()
        ]
        complaints.append(
            f"{_joined(names)} {'is' if len(names) == 1 else 'are'} not held: {len(loose)} "
            f"{'motion stays' if len(loose) == 1 else 'motions stay'} free with every wheel height "
            "given; add the link, arm or strut that is missing, or check that the ends name the right part in `on`."
        )
    spare = left[:, rank:]
    if spare.shape[1]:
        effort = np.sqrt((spare**2).sum(axis=1))
        fighting = dict.fromkeys(
            member for member, size in zip(system.members, effort, strict=True) if size > SHARE * effort.max()
        )
        complaints.append(
            f"{_joined(list(fighting))} hold the same part {spare.shape[1] + 1} times over, so that it could move "
            "only by the give of its bushes; take one away, or free one end of it."
        )
    return complaints


def ride_twists(mechanism: Mechanism, drive: int) -> dict[str, Array]:
    """Rotation (3,) in rad of each free body for one unit of a drive, at ride height, where it feels the drive.

    From the tangent of the rows: J twist = −∂residual/∂drive, the latter by a unit step since rows are linear in it
    for wheel heights, and by a small step of the driven bodies for steering.
    """
    turned: dict[str, Array] = {}
    small = 1e-4  # of full lock: the rows of a driven body are curved by a rack's or arm's own length only
    for system in systems(mechanism):
        values = np.zeros((len(mechanism.drives), 1))
        values[drive] = small
        residual = residual_at_drive(mechanism, system, values)
        twist = np.linalg.lstsq(ride_rows(system, len(values)), -residual[:, 0], rcond=None)[0] / small
        for slot in range(system.free):
            name = mechanism.bodies[system.bodies[slot]].name
            turned[name] = np.asarray(twist[6 * slot + 3 : 6 * slot + 6] / system.length)
    return turned


def _joined(names: list[str]) -> str:
    quoted = [f'"{name}"' for name in names]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} and {quoted[-1]}"
