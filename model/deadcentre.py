"""Which row turns a linkage back at a dead centre, where a link comes into line with its own motion.

There the Jacobian J has a right null vector, a motion that changes no row at first, and a left null vector λ, forces in
the rows that balance each other and the drive. What turns the drive back is the second order, Σ λ_i f_i'' along that
motion: the row with the largest share of it belongs to the member that runs straight. A member that only swings carries
a force there too, but its row does not curve. Poses run along the last axis, as in `model.constraints`.
"""

from __future__ import annotations

import numpy as np

from model.constraints import Index, System, evaluate
from model.newton import advance
from model.spatial import Array
from model.wrenches import cross_first


def straightest_row(system: System, state: Array, drives: Array, motion: Array, load: Array) -> Index:
    """Rows (n,) that curve most under their load along a motion, of arguments as for `curving`."""
    return np.asarray(curving(system, state, drives, motion, load).argmax(axis=0))


def curving(system: System, state: Array, drives: Array, motion: Array, load: Array) -> Array:
    """How much each row (m, n) curves under its load along a motion, as a size; 0 for a drive's own row.

    Args:
        system: the rows.
        state: (S, 3, 4, n), the pose.
        drives: (D, n) drive values.
        motion: twists (6 U, n) of some 1 mm, which is small beside any link.
        load: forces (m, n) in the rows, of any size.

    """
    curvature = -2.0 * evaluate(system, state, drives)[0]
    twist = motion.reshape(system.free, 6, -1).swapaxes(0, 1)
    bend = 0.5 * cross_first(twist[3:] / system.length, twist[:3])
    for step in (motion, -motion):
        moved = state.copy()
        advance(system, moved, step)
        moved[: system.free, :, 3] += bend.swapaxes(0, 1)  # to second order along the screw, not only to first
        curvature += evaluate(system, moved, drives)[0]
    share = np.abs(load * curvature)
    first_offset = len(system.distance_length)
    share[first_offset : first_offset + len(system.offset_drive)][system.offset_drive >= 0] = 0.0
    return np.asarray(share)
