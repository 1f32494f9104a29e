"""The batched Newton iteration: arrays in, arrays out, a verdict for each pose. Poses run along the last axis.

Each body's step is a twist; its rotation is applied by Cayley's map (Lie groups: Iserles et al., Acta Numerica 2000,
sect. 8.3), which is a rotation to the last bit and agrees with the exponential to second order, so Newton's method
stays quadratic. A step is trusted only while every correction is at most half the one before: then the start lies
where Newton's method converges to the solution next to it (Deuflhard, Newton Methods for Nonlinear Problems, 2011,
sect. 2.1 and 5.1); otherwise the caller takes a shorter step, and a linkage never jumps to its other assembly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.constraints import System, evaluate, jacobian
from model.spatial import Array
from model.wrenches import cross_first

CONTRACTION = 0.5
# A first correction that turns a part by more (rad) may reach past two dead centres at once, where contraction and
# the determinant's sign tell nothing; a suspension's parts turn by less over their whole travel.
MOST_TURN = 0.5
# With corrections e0 > e1 the next one is about e1 (e1/e0)²; at 1e-11 mm it is below what doubles hold of 1000 mm.
ENOUGH = 1e-11
# The lengths of a vehicle (some 1000 mm) carry a rounding error of about 1e-12 mm; corrections this small are noise.
NOISE = 1e-9
MAX_CORRECTIONS = 12
RESIDUAL = 1e-9


@dataclass(frozen=True)
class Correction:
    """How the iteration ended: a verdict, the largest residual (mm) and the solves spent, per pose.

    `side` is the sign of the Jacobian's determinant: it changes where a linkage passes through a dead centre.
    """

    converged: NDArray[np.bool_]
    residual: Array
    solves: NDArray[np.int64]
    side: Array
    imbalance: Array


def solve_rows(matrix: Array, right: Array) -> Array:
    """Solve (n, m, m) against (n, m); a pose whose matrix is exactly singular gets the least-norm answer."""
    try:
        solution = np.linalg.solve(matrix, right[..., None])
    except np.linalg.LinAlgError:
        solution = np.linalg.pinv(matrix) @ right[..., None]
    return np.asarray(solution[..., 0])


def correct(system: System, state: Array, drives: Array) -> Correction:
    """Bring the free slots of `state` (S, 3, 4, n), in place, to where all rows hold at the drive values (D, n)."""
    n = state.shape[-1]
    before = np.full(n, np.inf)
    failed = np.zeros(n, dtype=bool)
    solves = np.zeros(n, dtype=np.int64)
    going = np.arange(n)
    for count in range(MAX_CORRECTIONS):
        everyone = len(going) == n
        here = slice(None) if everyone else going
        moving = state if everyone else state[..., going]
        residual, wrench = evaluate(system, moving, drives[:, here])
        step = solve_rows(jacobian(system, wrench), -residual.T).T
        size = np.sqrt(np.einsum("un,un->n", step, step))
        solves[here] += 1
        last = before[here]
        # Before the first step `last` is infinite: nothing is wild then, and only a step of no size is enough.
        wild = ~np.isfinite(size) | ((size > CONTRACTION * last) & (size > NOISE))
        if count == 0:
            turned = np.abs(step.reshape(system.free, 6, -1)[:, 3:]).max(axis=(0, 1))
            wild |= turned > MOST_TURN * system.length
        done = (size * (size / last) ** 2 < ENOUGH) if count else (size < ENOUGH)
        if wild.any():
            step[:, wild] = 0.0
        advance(system, moving, step)
        if not everyone:
            state[: system.free, ..., going] = moving[: system.free]
        failed[here] = wild
        before[here] = size
        going = going[~(done | wild)]
        if len(going) == 0:
            break
    failed[going] = True
    residual, wrench = evaluate(system, state, drives)
    largest = np.abs(residual).max(axis=0)
    side = np.sign(np.linalg.det(jacobian(system, wrench)))
    return Correction(~failed & (largest <= RESIDUAL), largest, solves, side, np.zeros(n))


def advance(system: System, state: Array, step: Array) -> None:
    """Move the free slots of `state` (S, 3, 4, n), in place, by twists (6 U, n) with rotations × `System.length`."""
    twist = step.reshape(system.free, 6, -1)
    # The columns of a rotation and its translation turn alike: four vectors (3, U, 4, n).
    vectors = state[: system.free].swapaxes(0, 1)
    half = (twist[:, 3:] * (0.5 / system.length)).swapaxes(0, 1)[:, :, None]
    once = cross_first(half, vectors)
    change = cross_first(half, once)
    change += once
    change *= 2.0 / (1.0 + np.einsum("i...,i...->...", half, half))
    vectors += change
    state[: system.free, :, 3] += twist[:, :3]
