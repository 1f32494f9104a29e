"""How badly rigid parts that are held twice over fit: a number of geometry alone, whatever their joints' rates.

Near where the parts rest, put them where the lengths of all links are kept as well as they can be at the given wheel
heights (least squares), and see how much each of them is off. A part that is moved by 1 mm costs as much as `STAY` mm
of length: what only the cocking of bushes keeps upright, as the radius arms of an axle, stays upright.
"""

from __future__ import annotations

import numpy as np

from model.constraints import System, evaluate, jacobian
from model.newton import advance, solve_rows
from model.spatial import Array

# What holds a part well holds it ten times as stiffly; the misfit of a linkage held well is then off by a hundredth.
STAY = 0.05
# Each Gauss-Newton step leaves some (misfit / length) / STAY² of the error: a fifth at 0.5 mm in 1000, mostly far less.
STEPS = 6


def misfits(system: System, state: Array, drives: Array, weight: Array) -> Array:
    """How far each row of a rigid group is off where all are kept as well as they can be.

    Args:
        system: a group of the rigid mechanism.
        state: (S, 3, 4, n), where the parts rest.
        drives: (D, n) drive values.
        weight: (m,) how much each row counts; one that counts nothing is let go, and is off by nothing.

    Returns:
        (n, m) in mm.

    """
    state, moved = state.copy(), np.zeros((state.shape[-1], system.unknowns))
    for _ in range(STEPS):
        residual, wrench = evaluate(system, state, drives)
        matrix = jacobian(system, wrench) * weight[:, None]
        turned = np.swapaxes(matrix, 1, 2)
        slope = (turned @ (residual.T * weight)[..., None])[..., 0] + STAY**2 * moved
        step = solve_rows(turned @ matrix + STAY**2 * np.eye(system.unknowns), -slope)
        moved += step
        advance(system, state, step.T)
    off = evaluate(system, state, drives)[0].T * (weight > 0.0)
    # A distance row is (|d|² − L²)/2L: back to |d| − L.
    rest = system.distance_length
    off[:, : len(rest)] = np.sqrt(np.maximum(rest**2 + 2.0 * rest * off[:, : len(rest)], 0.0)) - rest
    return np.abs(off)
