"""Hooke joints in a chain: how unevenly the far end of a driveshaft turns. Pure arrays, leading batch axes.

One joint. Two shafts a and b meet at the angle β, n = a × b is square to both. The cross keeps the pins of both yokes
square to each other. With θ the turn of a's pin about a and φ that of b's pin about b less a quarter turn, both from n,

    tan φ = cos β tan θ        (Bevan, Theory of Machines, ch. 4)

so that the direction z = exp(iθ) goes to that of diag(1, cos β) z, or, a factor apart, of z + t z̄ with t = tan²(β/2).

A chain. Between two joints the pin is turned by the shaft's phase and seen from the next joint's n: a factor exp(iδ).
A product of such maps is again z → p z + q z̄, which stretches the plane by |p| + |q| one way and by |p| − |q| the
other. Its rate of turn is (|p|² − |q|²) / |p z + q z̄|²: the far end's speed runs between 1/s and s times that of the
near end, s = (|p| + |q|) / (|p| − |q|), twice a turn. A single joint has |q|/|p| = tan²(β/2) and s = 1/cos β, so that
every chain turns just as unevenly as one joint of its *equivalent angle* 2 atan √κ, κ = |q|/|p|.

Acceleration. With k = 2κ/(1 + κ²) and φ twice the near end's turn, the speed ratio is √(1 − k²) / (1 − k cos φ). Its
rate of change is greatest where k cos² φ + cos φ = 2k.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from model.spatial import Array, angle_between, norm, square_to, turn_about

Complex = NDArray[np.complex128]

# The sine of a joint angle below which its plane is lost in rounding; its t is then below 1e-16 and adds nothing.
STRAIGHT = 1e-8


def joint_angles(directions: Array) -> Array:
    """True angles (J, ...) in rad of the joints between successive shafts.

    Args:
        directions: (J + 1, ..., 3) from the near end to the far end, each pointing onwards.

    """
    return angle_between(directions[:-1], directions[1:])


def seen_angles(directions: Array, view: Array) -> Array:
    """Angles (J, ...) in rad of the joints as seen along the unit vector `view` (3,), positive about it."""
    return turn_about(view, directions[:-1], directions[1:])


def unevenness(directions: Array, universal: Sequence[bool], phases: Sequence[float]) -> Array:
    """κ (...) of a chain of joints: 0 where the far end turns evenly; NaN where a universal joint is bent past square.

    Args:
        directions: (J + 1, ..., 3) as for `joint_angles`.
        universal: of each joint, whether it is a Hooke joint; others pass every turn on evenly.
        phases: J − 1 angles in rad by which the pin behind each shaft is turned about it against the pin before it.

    """
    p, q = _before_last(directions, universal, phases)
    t = _stretch(directions, universal)[-1]
    p, q = _turned((p, q), phases[-1] - _plane_turn(directions)[-1]) if len(phases) else (p, q)
    p, q = p + t * q.conj(), q + t * p.conj()
    return np.asarray(np.abs(q) / np.abs(p))


def best_phase(directions: Array, universal: Sequence[bool], phases: Sequence[float]) -> Array:
    """Phase (...) in rad of the last shaft, −π/2 to π/2, at which a chain of two joints or more turns most evenly.

    Turned by δ, a chain p z + q z̄ leaves the last joint with q exp(iδ) + t p̄ exp(−iδ), which is least where the two are
    opposite: 2δ = π − arg(p q). 0 where it makes no difference.
    """
    p, q = _before_last(directions, universal, phases)
    needed = _plane_turn(directions)[-1] + 0.5 * (np.pi - np.angle(p * q))
    matters = np.minimum(np.abs(q), _stretch(directions, universal)[-1]) > STRAIGHT**2
    return np.where(matters, np.remainder(needed + 0.5 * np.pi, np.pi) - 0.5 * np.pi, 0.0)


def fluctuation(kappa: Array) -> Array:
    """Greatest less least speed (...) as a share of the mean: s − 1/s."""
    return 4.0 * kappa / (1.0 - kappa**2)


def equivalent_angle(kappa: Array) -> Array:
    """Angle (...) in rad of the one Hooke joint that turns as unevenly."""
    return 2.0 * np.arctan(np.sqrt(kappa))


def kappa_of(angle: Array) -> Array:
    """κ (...) of one Hooke joint bent by an angle (...) in rad below π/2."""
    return np.tan(0.5 * angle) ** 2


def greatest_acceleration(kappa: Array, speed: float) -> Array:
    """Greatest acceleration (...) in rad/s² of the far end while the near end turns steadily at `speed` rad/s."""
    k = 2.0 * kappa / (1.0 + kappa**2)
    cosine = 4.0 * k / (1.0 + np.sqrt(1.0 + 8.0 * k**2))
    return 2.0 * speed**2 * k * np.sqrt((1.0 - k**2) * (1.0 - cosine**2)) / (1.0 - k * cosine) ** 2


def _stretch(directions: Array, universal: Sequence[bool]) -> Array:
    """t (J, ...) of each joint: tan²(β/2), 0 for one that is no Hooke joint."""
    angles = joint_angles(directions)
    t = np.where(angles < 0.5 * np.pi, kappa_of(angles), np.nan)
    hooke = np.reshape(np.array(universal, dtype=bool), (-1, *[1] * (t.ndim - 1)))
    return np.where(hooke, t, 0.0)


def _plane_turn(directions: Array) -> Array:
    """Turn (J − 1, ...) in rad about each inner shaft from the plane of the joint before it to that of the next."""
    near, far = directions[:-1], directions[1:]
    square = np.cross(near, far)
    square = np.where((norm(square) > STRAIGHT)[..., None], square, square_to(near))
    return turn_about(directions[1:-1], square[:-1], square[1:])


def _before_last(directions: Array, universal: Sequence[bool], phases: Sequence[float]) -> tuple[Complex, Complex]:
    """p and q (...) of a chain from its near end up to the pin that stands before its last shaft."""
    stretches, plane_turns = _stretch(directions, universal), _plane_turn(directions)
    p = np.ones(stretches.shape[1:], dtype=complex)
    q = np.zeros_like(p)
    for number, t in enumerate(stretches[:-1]):
        if number:
            p, q = _turned((p, q), phases[number - 1] - plane_turns[number - 1])
        p, q = p + t * q.conj(), q + t * p.conj()
        if universal[number]:
            p, q = 1j * p, 1j * q
    return p, q


def _turned(chain: tuple[Complex, Complex], angle: Array) -> tuple[Complex, Complex]:
    """A chain whose far end is turned by an angle (...) in rad."""
    factor = np.exp(1j * angle)
    return factor * chain[0], factor * chain[1]
