"""How both steered wheels point in a turn: ideal angles and turning circles, as plain functions on arrays."""

from __future__ import annotations

import numpy as np

from model.spatial import Array

# Straight on there is no turn to judge, and the toe that is set drowns what little there is: rad, common practice.
LEAST_TURN = np.radians(5.0)


def ideal_outer(inner: Array, track: float, wheelbase: float) -> Array:
    """Steer angle (...) in rad of the outer wheel that rolls about the same point as the inner one, ISO 8855 7.1.9.

    cot(outer) − cot(inner) = track/wheelbase, with inner (...) in rad, above 0.
    """
    return np.arctan2(1.0, 1.0 / np.tan(inner) + track / wheelbase)


def inner_and_outer(left: Array, right: Array) -> tuple[Array, Array]:
    """Sizes (...) in rad of the steer angles of the wheels inside and outside the turn; NaN of less than 5°.

    Args:
        left, right: steer angles (...) in rad of both wheels, positive to the left.

    """
    turned = 0.5 * (left + right)
    signs = np.where(np.abs(turned) < LEAST_TURN, np.nan, np.sign(turned))
    return signs * np.where(turned > 0.0, left, right), signs * np.where(turned > 0.0, right, left)


def ackermann(inner: Array, outer: Array, track: float, wheelbase: float) -> Array:
    """Difference of both steer angles as a share (...) of the ideal one: 1 rolls without scrub, 0 is parallel."""
    return np.asarray((inner - outer) / (inner - ideal_outer(inner, track, wheelbase)))


def turning_circle(inner: Array, outer: Array, track: float, wheelbase: float) -> Array:
    """Diameter (...) in mm of the circle of the outer wheel's contact in a slow turn, the other axle not steered.

    Where both wheels do not agree on a centre, the mean of both cotangents counts: each slips as much as the other.
    """
    out = 0.5 * wheelbase * (1.0 / np.tan(inner) + 1.0 / np.tan(outer))
    return np.asarray(2.0 * np.hypot(wheelbase, out + 0.5 * track))
