"""An anti-roll bar's arm that its end link turns: closed form over poses, leading batch axes.

Seen along the bar's axis the arm's end runs on a circle of radius r, the other end of its link is at radius ρ; they
are `along` apart in the axis's direction. The link's length L fixes the angle Δ between the two radii:

    cos Δ = (r² + ρ² + along² − L²) / 2 r ρ.

The arm stays on the side of Δ on which it is at ride height; where |cos Δ| > 1 it has run over centre.

A bar of solid steel gives way by the twist of its middle, B long, and the bending of both arms, each C long from its
bush to its end, which is A from the axis. A moment T turns the arms against each other by

    T B / (G π D⁴/32) + Σ T C³ / (3 E π D⁴/64 · A²).
"""

from __future__ import annotations

import numpy as np

from model.spatial import Array, across, dot, norm, turn_about

# Typical of steel, N/mm², from memory of handbooks: the same for every grade to a few per cent.
YOUNGS_MODULUS, SHEAR_MODULUS = 206_000.0, 80_000.0


def arm_turn(axis: Array, pivot: Array, end: Array, ride: Array, target: Array) -> tuple[Array, Array]:
    """How far an arm has turned, and how far it is from over centre.

    Args:
        axis: unit direction (3,) of the bar.
        pivot: a point (3,) on the bar's axis.
        end: the arm's end (3,) at ride height.
        ride: the other end (3,) of its link at ride height.
        target: the same (..., 3) in each pose, seen from what carries the bar.

    Returns:
        turn about the axis (...) in rad, and the angle (...) in rad between arm and link, both seen along the axis, 0
        to π/2: at 0 they are in one line, and the bar can flip over.

    """
    length = norm(end - ride)
    radius = across(end - pivot, axis)
    r, before = norm(radius), across(ride - pivot, axis)
    now = across(target - pivot, axis)
    rho, along = norm(now), dot(target - end, axis)
    cosine = (r**2 + rho**2 + along**2 - length**2) / (2.0 * r * rho)
    side = np.where(turn_about(axis, before, radius) < 0.0, -1.0, 1.0)
    apart = side * np.arccos(np.clip(cosine, -1.0, 1.0))
    turned = turn_about(axis, before, now) + apart - turn_about(axis, before, radius)
    turned = np.remainder(turned + np.pi, 2.0 * np.pi) - np.pi
    # From the arm's end the link goes ρ sin Δ across the arm and ρ cos Δ − r along it.
    return turned, np.arctan2(np.abs(rho * np.sin(apart)), np.abs(rho * np.cos(apart) - r))


def bar_rate(
    diameter: float,
    middle: float,
    levers: Array,
    arms: Array,
    *,
    young: float = YOUNGS_MODULUS,
    shear: float = SHEAR_MODULUS,
) -> float:
    """Moment T for a turn of one arm against the other, N·mm/rad.

    Args:
        diameter: D, mm.
        middle: B, mm.
        levers: A of both arms (2,), mm.
        arms: C of both arms (2,), mm.
        young: E, N/mm².
        shear: G, N/mm².

    """
    fourth = np.pi * diameter**4
    twist = middle * 32.0 / (shear * fourth)
    bend = float(np.sum(arms**3 / levers**2)) * 64.0 / (3.0 * young * fourth)
    return float(1.0 / (twist + bend))
