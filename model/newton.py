"""The batched Newton iteration: arrays in, arrays out, a verdict for each pose. Poses run along the last axis.

Each body's step is a twist; its rotation is applied by Cayley's map (Lie groups: Iserles et al., Acta Numerica 2000,
sect. 8.3), which is a rotation to the last bit and agrees with the exponential to second order, so Newton's method
stays quadratic. A step is trusted only while every correction is at most half the one before: then the start lies
where Newton's method converges to the solution next to it (Deuflhard, Newton Methods for Nonlinear Problems, 2011,
sect. 2.1 and 5.1); otherwise the caller takes a shorter step, and a linkage never jumps to its other assembly.

Contraction alone sees the way ahead. Two dead centres close together, with no pose between them, can be stepped over:
before them the linkage runs ever faster, the iteration lands on the far side, where it is slow, and converges well. So
a step is only trusted if it could be taken back: the first correction from its end towards its start, which is the
motion at the end, must lead there to half the way gone. Before a dead centre motion goes as 1/√(travel left); steps of
up to three quarters of the travel left pass.
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
# How far the first correction back may miss the start, as a share of the way gone; the same as ahead.
RETURN = 0.5
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


@dataclass(frozen=True)
class Before:
    """Where a step starts: drive values (D, n), and transforms of the slots that are not free, None if none moves.

    `alike` says that all poses start from the same place.
    """

    drives: Array
    driven: Array | None
    alike: bool

    def take(self, which: NDArray[np.intp]) -> Before:
        """Return some of the poses."""
        driven = None if self.driven is None else self.driven[..., which]
        return Before(self.drives[:, which], driven, self.alike)


def solve_rows(matrix: Array, right: Array) -> Array:
    """Solve (n, m, m), or one (1, m, m) for all, against (n, m); exactly singular ones get the least-norm answer."""
    alone = len(matrix) == 1
    columns = right.T[None] if alone else right[..., None]
    try:
        solution = np.linalg.solve(matrix, columns)
    except np.linalg.LinAlgError:
        solution = np.linalg.pinv(matrix) @ columns
    return np.asarray(solution[0].T if alone else solution[..., 0])


def correct(system: System, state: Array, drives: Array, before: Before) -> Correction:
    """Bring the free slots of `state` (S, 3, 4, n), in place, to where all rows hold at the drive values (D, n).

    `before` is where the free slots come from; only a way that could be taken back counts as converged.
    """
    n = state.shape[-1]
    gone = np.zeros((system.unknowns, n))
    sizes = np.full(n, np.inf)
    failed = np.zeros(n, dtype=bool)
    solves = np.zeros(n, dtype=np.int64)
    going = np.arange(n)
    for count in range(MAX_CORRECTIONS):
        everyone = len(going) == n
        here = slice(None) if everyone else going
        moving = state if everyone else state[..., going]
        if count == 0 and before.alike:  # one Jacobian for all
            residual, wrench = evaluate(system, state[..., :1], before.drives[:, :1])
            residual = _shifted(system, residual, drives - before.drives)
        else:
            residual, wrench = evaluate(system, moving, drives[:, here])
        step = solve_rows(jacobian(system, wrench), -residual.T).T
        size = np.sqrt(np.einsum("un,un->n", step, step))
        solves[here] += 1
        last = sizes[here]
        # Before the first step `last` is infinite: nothing is wild then, and only a step of no size is enough.
        wild = ~np.isfinite(size) | ((size > CONTRACTION * last) & (size > NOISE))
        if count == 0:
            turned = np.abs(step.reshape(system.free, 6, -1)[:, 3:]).max(axis=(0, 1))
            wild |= turned > MOST_TURN * system.length
        done = (size * (size / last) ** 2 < ENOUGH) if count else (size < ENOUGH)
        if wild.any():
            step[:, wild] = 0.0
        advance(system, moving, step)
        gone[:, here] += step
        if not everyone:
            state[: system.free, ..., going] = moving[: system.free]
        failed[here] = wild
        sizes[here] = size
        going = going[~(done | wild)]
        if len(going) == 0:
            break
    failed[going] = True
    residual, wrench = evaluate(system, state, drives)
    largest = np.abs(residual).max(axis=0)
    matrix = jacobian(system, wrench)
    side = np.sign(np.linalg.det(matrix))
    back = solve_rows(matrix, -_taken_back(system, state, residual, drives, before).T).T
    good = ~failed & (largest <= RESIDUAL) & could_return(gone, back)
    return Correction(good, largest, solves, side, np.zeros(n))


def could_return(gone: Array, back: Array, noise: float = NOISE) -> NDArray[np.bool_]:
    """Where (n,) a first correction back (6 U, n) makes good for at least half of the way gone (6 U, n).

    A way no longer than `noise` (mm) is none.
    """
    missed = gone + back
    allowed = RETURN**2 * np.einsum("un,un->n", gone, gone) + noise**2
    return np.asarray(np.einsum("un,un->n", missed, missed) <= allowed)


def _taken_back(system: System, state: Array, residual: Array, drives: Array, before: Before) -> Array:
    """Residuals (m, n) at `state` with the drives and all that they carry along as they were before the step."""
    if before.driven is not None:
        start = state.copy()
        start[system.free :] = before.driven
        return evaluate(system, start, before.drives)[0]
    return _shifted(system, residual, before.drives - drives)


def _shifted(system: System, residual: Array, change: Array) -> Array:
    """Residuals (m, n) where drives that carry nothing along change by (D, n), of residuals (m, n) or (m, 1)."""
    shifted = np.repeat(residual, change.shape[1], axis=1) if residual.shape[1] == 1 else residual.copy()
    rows = np.flatnonzero(system.offset_drive >= 0)
    shifted[len(system.distance_length) + rows] -= change[system.offset_drive[rows]]
    return shifted


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


def twists_between(state: Array, wanted: Array, length: float) -> Array:
    """The twists (6, S, n), rotations × `length`, by which `advance` takes transforms (S, 3, 4, n) to others."""
    turned = np.einsum("sijn,skjn->sikn", wanted[:, :, :3], state[:, :, :3])
    # Cayley's map backwards: the half turn's tangent along its axis, from the skew part over 1 + trace.
    skewed = np.stack(
        [turned[:, 2, 1] - turned[:, 1, 2], turned[:, 0, 2] - turned[:, 2, 0], turned[:, 1, 0] - turned[:, 0, 1]]
    )
    turn = 2.0 * skewed / (1.0 + np.einsum("siin->sn", turned))
    moved = wanted[:, :, 3] - np.einsum("sijn,sjn->sin", turned, state[:, :, 3])
    return np.concatenate([moved.swapaxes(0, 1), turn * length])
