"""Where a linkage with bushings comes to rest: the least energy of its springs with its rigid rows and drives held.

With W_k the wrenches of the springs, S_i those of the rows c_i and λ_i the forces (N) in the rows, a pose is at rest
where on every free body

    Σ ± W_k + Σ ± λ_i S_i = 0   and   c_i = 0.

Newton's method on both together, with the exact tangent T of the first (bushings, rows and the geometry of both):

    | T  Jᵀ | | step |     | imbalance |
    | J  0  | |  δλ  | = − | residual  |        (Nocedal & Wright, Numerical Optimization, 2006, sect. 18.1)

All poses at once; steps, trust and arrays are those of `model.newton`. As there a step counts only if it could be taken
back: the first correction from its end towards its start must lead to half the way gone. The energy must be least at
its end, too, but that alone would let a step pass over the end of one valley into the next.

T is taken with the forces that the step before foretold (`model.bushings`), as it is with λ: a long step, and a driven
part put into place, stretch links by what other parts have yet to make up, and forces from that are not true.

The force that a drive needs is the slope of the stored energy over the drive's value: −λ of a wheel's row; for steering
the work of all wrenches on the driven body. Only joints store energy: springs and dampers of coilovers are left out, as
they are off when a suspension is cycled by hand.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from model.bushings import Give, Strain, foretold, pulling, strain, tangents, wrenches
from model.constraints import System, evaluate, jacobian, ride_state, row_tangents
from model.newton import (
    CONTRACTION,
    ENOUGH,
    MAX_CORRECTIONS,
    NOISE,
    RESIDUAL,
    Before,
    Correction,
    advance,
    could_return,
    solve_rows,
    twists_between,
)
from model.spatial import Array
from model.wrenches import carried_tangent

# What is left of force on a body, as a share of the largest force in a joint; 1e-7 N where there is hardly any force.
# A joint of k N/mm cannot do better than k times the rounding error of a vehicle's lengths, some 1e-12 mm.
IMBALANCE, LEAST_IMBALANCE, ROUNDING = 1e-9, 1e-7, 1e-11
# A motion held by only 0.1 N/mm is as uncertain, in mm; the shortest step of a walk moves parts by ten times as much.
STILL = 1e-6


def balance(
    system: System, give: Give, state: Array, force: Array, drives: Array, before: Before, was: Give | None = None
) -> Correction:
    """Bring the free slots of `state` (S, 3, 4, n) and all forces (m + f, n), in place, to rest at drives (D, n).

    The forces are those in the m rows, then the f = `Give.forces` of the springs. `before` is where the free slots
    rest to begin with, there with the springs that `was` gives if they are others; only a way that could be taken back
    counts as converged.
    """
    n, rows = state.shape[-1], len(system.plus)
    gone = np.zeros((system.unknowns, n))
    sizes = np.full(n, np.inf)
    failed = np.zeros(n, dtype=bool)
    solves = np.zeros(n, dtype=np.int64)
    stands = np.zeros(n, dtype=bool)
    going = np.arange(n)
    for count in range(MAX_CORRECTIONS):
        moving, pull = state[..., going], force[:, going]
        now = strain(give, moving)
        matrix, right, scale = _equations(system, give, now, moving, pull, drives[:, going])
        step = solve_rows(matrix, -right.T).T
        shift, change = step[: system.unknowns], step[system.unknowns :]
        size = np.sqrt(np.einsum("un,un->n", shift, shift))
        solves[going] += 1
        last = sizes[going]
        # Before the first step `last` is infinite: nothing is wild then, and only a step of no size is enough.
        wild = ~np.isfinite(size) | ((size > CONTRACTION * last) & (size > NOISE))
        done = (size * (size / np.maximum(last, NOISE)) ** 2 < ENOUGH) if count else (size < ENOUGH)
        step[:, wild] = 0.0
        gone[:, going] += shift
        pull[:rows] += change * scale
        pull[rows:] = foretold(give, now, moving, _apart(system, give, shift), system.length)
        advance(system, moving, shift)
        state[: system.free, ..., going] = moving[: system.free]
        force[:, going] = pull
        failed[going] = wild
        sizes[going] = size
        ended = done & ~wild
        if ended.any():
            stop = going[ended]
            right = _way_back(system, give, moving[..., ended], pull[:, ended], drives[:, stop], before.take(stop), was)
            right[system.unknowns :] *= scale[:, ended]
            # The last correction is too small to make another matrix.
            back = solve_rows(matrix[ended], right.T).T[: system.unknowns]
            stands[stop] = _least(matrix[ended], system.unknowns) & could_return(gone[:, stop], back, STILL)
        going = going[~(done | wild)]
        if len(going) == 0:
            break
    failed[going] = True
    residual, left_over, largest = _left_over(system, give, state, force[:rows], drives)
    stiffest = max(float(rates.max(initial=0.0)) for rates in (give.radial, give.axial, give.rate))
    allowed = np.maximum(IMBALANCE * largest, max(LEAST_IMBALANCE, ROUNDING * stiffest))
    converged = ~failed & stands & (residual <= RESIDUAL) & (left_over <= allowed)
    # Of a matrix with m rows held, and with nothing but stiffness along them, m eigenvalues are negative.
    side = np.full(n, (-1.0) ** rows)
    return Correction(converged, residual, solves, side, left_over)


def _way_back(
    system: System, give: Give, state: Array, force: Array, drives: Array, before: Before, was: Give | None
) -> Array:
    """What going back to where a step began asks (6 U + m, n) of the free bodies' forces, in N, and the rows, in mm.

    To first order: of driven parts the twist that takes them back, of other springs the forces that they would have.
    """
    offset, first = np.flatnonzero(system.offset_drive >= 0), len(system.distance_length)
    right = np.zeros((system.unknowns + len(system.plus), 1, state.shape[-1]))
    right[system.unknowns + first + offset, 0] = (before.drives - drives)[system.offset_drive[offset]]
    if before.driven is not None:
        driven = np.zeros((6, len(system.bodies), 1, state.shape[-1]))
        driven[:, system.free :, 0] = twists_between(state[system.free :], before.driven, system.length)
        wrench = evaluate(system, state, drives)[1]
        apart = driven[:, system.minus] - driven[:, system.plus]
        right[system.unknowns :] += np.einsum("iman,imn->man", apart, wrench)
        _push(right, system, give, strain(give, state), state, force, wrench, driven)
    if was is not None:
        change = wrenches(strain(was, state), system) - wrenches(strain(give, state), system)
        right[: system.unknowns, 0] -= _gathered(system, give.plus, give.minus, change)
    return right[:, 0]


def _least(matrix: Array, six: int) -> NDArray[np.bool_]:
    """Where (n,) the energy is least: any motion that keeps to the rows of matrices (n, M, M) takes a force.

    A rest from which the linkage would snap away has a motion that takes less than none.
    """
    # Contiguous, since NumPy multiplies a batch of views several times more slowly.
    held, rows = np.ascontiguousarray(matrix[:, :six, :six]), np.ascontiguousarray(matrix[:, six:, :six])
    scale = np.trace(held, axis1=1, axis2=2)[:, None, None] / six
    try:
        # What is positive definite with some stiffness across the rows is so along them, where that adds nothing.
        np.linalg.cholesky(held + np.swapaxes(rows, 1, 2) @ (rows / scale))
    except np.linalg.LinAlgError:  # somewhere it is not; this says no more of that pose, nor of the others
        free = np.linalg.qr(np.swapaxes(rows, 1, 2), mode="complete").Q[:, :, rows.shape[1] :]
        return np.asarray(np.linalg.eigvalsh(np.swapaxes(free, 1, 2) @ held @ free)[:, 0] > 0.0)
    return np.ones(len(matrix), dtype=bool)


def relaxed(system: System, give: Give, n: int) -> Array:
    """Forces (m + f, n) of n poses in which nothing pulls."""
    return np.zeros((len(system.plus) + give.forces, n))


def unwound(give: Give, share: float = 0.0) -> Give:
    """The same springs with their bushes wound by a share of what they are."""
    return replace(give, wound=share * give.wound)


def ride_tangent(system: System, give: Give, drives: int) -> Array:
    """The matrix (6 U + m, 6 U + m) at ride height with no bush wound, where nothing is strained."""
    state, give = ride_state(system, 1), unwound(give)
    matrix, _, _ = _equations(system, give, strain(give, state), state, relaxed(system, give, 1), np.zeros((drives, 1)))
    return np.asarray(matrix[0])


def wrench_on(system: System, give: Give, state: Array, force: Array, drives: Array, slot: int) -> Array:
    """The wrench (6, n) that it takes to hold a slot's body, of springs and rows, moments divided by the length."""
    acting = evaluate(system, state, drives)[1] * force
    sprung = wrenches(strain(give, state), system)
    whole = np.zeros((6, state.shape[-1]))
    for plus, minus, wrench in ((give.plus, give.minus, sprung), (system.plus, system.minus, acting)):
        whole += wrench[:, plus == slot].sum(axis=1) - wrench[:, minus == slot].sum(axis=1)
    return whole


def _apart(system: System, give: Give, shift: Array) -> Array:
    """What each spring's plus body moves more than its minus body (6, K, n), of twists (6 U, n)."""
    twist = np.zeros((6, len(system.bodies), shift.shape[-1]))
    twist[:, : system.free] = shift.reshape(system.free, 6, -1).swapaxes(0, 1)
    return np.asarray(twist[:, give.plus] - twist[:, give.minus])


def rest_motions(system: System, give: Give, state: Array, drives: Array, asked: Array, driven: Array) -> Array:
    """How the free bodies of a group that is at rest move with its drives.

    Args:
        system: the rows.
        give: the springs.
        state: (S, 3, 4, n), at rest.
        drives: (D, n) drive values there.
        asked: (m, A, n), what each of A motions of the drives asks of the rows, in mm.
        driven: (6, S, A, n), the twists of driven slots in each of them; 0 of the others.

    Returns:
        twists (6 U, A, n).

    """
    now, six = strain(give, state), system.unknowns
    wrench = evaluate(system, state, drives)[1]
    rows = jacobian(system, wrench)
    pull = _gathered(system, give.plus, give.minus, wrenches(now, system)).T[..., None]
    turned = np.swapaxes(rows, 1, 2)
    force = np.asarray(-np.linalg.solve(rows @ turned, rows @ pull)[..., 0].T)
    still = np.zeros((6, len(give.plus), state.shape[-1]))
    force = np.concatenate([force, foretold(give, now, state, still, system.length)])
    matrix, _, scale = _equations(system, give, now, state, force, drives)
    right = np.concatenate([np.zeros((six, *asked.shape[1:])), asked * scale])
    _push(right, system, give, now, state, force, wrench, driven)
    found = np.linalg.solve(matrix, np.moveaxis(right, 2, 0))
    return np.ascontiguousarray(np.moveaxis(found[:, :six], 0, -1))


def _push(
    right: Array, system: System, give: Give, now: Strain, state: Array, force: Array, wrench: Array, driven: Array
) -> None:
    """Take off a right-hand side (M, A, n) what twists (6, S, A, n) of driven slots do to the free bodies' forces."""
    if not driven.any():
        return
    own, carried = _wrench_changes(system, give, now, state, force, wrench)
    plus, minus = np.concatenate([give.plus, system.plus]), np.concatenate([give.minus, system.minus])
    for k, (one, other) in enumerate(zip(plus, minus, strict=True)):
        change = np.einsum("ijn,jan->ian", own[:, :, k], driven[:, one] - driven[:, other])
        change += np.einsum("ijn,jan->ian", carried[:, :, k], driven[:, other])
        for slot, sign in ((one, -1.0), (other, 1.0)):
            if slot < system.free:
                right[6 * slot : 6 * slot + 6] += sign * change


def _wrench_changes(
    system: System, give: Give, now: Strain, state: Array, force: Array, wrench: Array
) -> tuple[Array, Array]:
    """H and C of `model.wrenches`, (6, 6, K + m, n), of springs and rows under forces (m + f, n)."""
    rows = len(system.plus)
    told, acting = pulling(give, now, state, force[rows:]), wrench * force[:rows]
    own = np.concatenate([tangents(give, told, system), row_tangents(system, state, force[:rows], acting)], axis=2)
    return own, carried_tangent(np.concatenate([wrenches(told, system), acting], axis=1), system.length)


def _equations(
    system: System, give: Give, now: Strain, state: Array, force: Array, drives: Array
) -> tuple[Array, Array, Array]:
    """Matrix (n, M, M), right-hand side (M, n) and the unit (1, n) of the rows' forces in it, in N."""
    n, six, rows = state.shape[-1], system.unknowns, len(system.plus)
    residual, wrench = evaluate(system, state, drives)
    columns = jacobian(system, wrench).transpose(2, 1, 0)
    matrix = np.zeros((six + rows, six + rows, n))
    own, carried = _wrench_changes(system, give, now, state, force, wrench)
    plus, minus = np.concatenate([give.plus, system.plus]), np.concatenate([give.minus, system.minus])
    for k, (one, other) in enumerate(zip(plus, minus, strict=True)):
        first, second = slice(6 * one, 6 * one + 6), slice(6 * other, 6 * other + 6)
        if one < system.free:
            matrix[first, first] += own[:, :, k]
        if other < system.free:
            matrix[second, second] += own[:, :, k] - carried[:, :, k]
        if max(one, other) < system.free:
            matrix[second, first] -= own[:, :, k]
            matrix[first, second] -= own[:, :, k] - carried[:, :, k]
    # Rows in N/mm like the rest of the matrix, so that the elimination's pivots compare like with like.
    scale = np.einsum("iin->n", matrix[:six, :six])[None] / six
    matrix[:six, six:] = columns * scale
    matrix[six:, :six] = columns.swapaxes(0, 1) * scale
    right = np.empty((six + rows, n))
    right[:six] = _gathered(system, plus, minus, np.concatenate([wrenches(now, system), wrench * force[:rows]], axis=1))
    right[six:] = residual * scale
    return matrix.transpose(2, 0, 1), right, scale


def _gathered(system: System, plus: NDArray[np.intp], minus: NDArray[np.intp], pull: Array) -> Array:
    """Sum (6 U, n) of wrenches (6, K, n) on each free body."""
    total = np.zeros((system.free, 6, pull.shape[-1]))
    for k, (one, other) in enumerate(zip(plus, minus, strict=True)):
        if one < system.free:
            total[one] += pull[:, k]
        if other < system.free:
            total[other] -= pull[:, k]
    return total.reshape(system.unknowns, -1)


def _left_over(system: System, give: Give, state: Array, force: Array, drives: Array) -> tuple[Array, Array, Array]:
    """Largest residual (n,) mm, largest force left over on a body (n,) N, and largest force in play (n,) N."""
    residual, wrench = evaluate(system, state, drives)
    pull = np.concatenate([wrenches(strain(give, state), system), wrench * force], axis=1)
    plus, minus = np.concatenate([give.plus, system.plus]), np.concatenate([give.minus, system.minus])
    left_over = np.abs(_gathered(system, plus, minus, pull)).max(axis=0)
    return np.abs(residual).max(axis=0), left_over, np.abs(pull).max(axis=(0, 1))
