"""How a wrench that two bodies exert on each other changes as they move. Arrays with poses along the last axis.

A wrench is (F, x × F / ℓ), a twist (v, ℓ w), about one origin, with ℓ a length that brings all six to one unit. A
wrench W acts with a plus on one body and with a minus on another. Let the minus body move by the twist ξ and the plus
body by ξ + η: moved together by ξ the two would carry W along, and η alone changes it as their joint says,

    δW = C ξ + H η,    C ξ = (w × F, w × N + v × F),

(the cross product of a twist and a force: Featherstone, Rigid Body Dynamics Algorithms, 2008, ch. 2).
"""

from __future__ import annotations

import numpy as np

from model.spatial import Array


def cross_first(a: Array, b: Array, out: Array | None = None) -> Array:
    """a × b for vectors along the first axis `(3, ...)`, written to `out` where given."""
    shape = np.broadcast_shapes(a.shape, b.shape)
    result = np.empty(shape) if out is None else out
    product = np.empty(shape[1:])
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        np.multiply(a[j], b[k], out=result[i])
        np.multiply(a[k], b[j], out=product)
        result[i] -= product
    return result


def skew_first(a: Array) -> Array:
    """The matrices (3, 3, ...) whose product with b is a × b, for a (3, ...)."""
    matrix = np.zeros((3, *a.shape))
    matrix[0, 1], matrix[0, 2], matrix[1, 2] = -a[2], a[1], -a[0]
    matrix[1, 0], matrix[2, 0], matrix[2, 1] = a[2], -a[1], a[0]
    return matrix


def times(a: Array, b: Array) -> Array:
    """Products (i, k, ...) of matrices (i, j, ...) and (j, k, ...)."""
    product = a[:, 0, None] * b[None, 0]
    for j in range(1, len(b)):
        product += a[:, j, None] * b[None, j]
    return product


def point_tangent(at: Array, force: Array, stiffness: Array, length: float) -> Array:
    """H (6, 6, ...) of a force (3, ...) in N at a point of the plus body, with ∂force/∂point (3, 3, ...) in N/mm.

    `at` (3, ...) is the point divided by ℓ = `length` mm. With P = [at ×] the point moves by (1, −P) η, and
    δ(at × F) = at × δF − F × δpoint / ℓ.
    """
    arm = skew_first(at)
    tangent = np.empty((6, 6, *at.shape[1:]))
    tangent[:3, :3] = stiffness
    tangent[:3, 3:] = -times(stiffness, arm)
    lower = times(arm, stiffness) - skew_first(force) / length
    tangent[3:, :3] = lower
    tangent[3:, 3:] = -times(lower, arm)
    return tangent


def carried_tangent(wrench: Array, length: float) -> Array:
    """C (6, 6, ...) of wrenches (6, ...): what becomes of them as both bodies move together."""
    tangent = np.zeros((6, *wrench.shape))
    force = skew_first(wrench[:3]) / length
    tangent[:3, 3:] = -force
    tangent[3:, :3] = -force
    tangent[3:, 3:] = -skew_first(wrench[3:]) / length
    return tangent
