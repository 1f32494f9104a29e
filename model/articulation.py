"""What a joint does: eye axes, the spin of a bar about its own length, tilt and turn. Arrays with leading batch axes.

An *eye* is the hole of a bush, the ball of a rod end or the housing of a ball joint; its axis rides on the bar. The
bolt rides on the part that the bar is bolted to. Tilt is the angle between the two lines. A bar with two eyes can
spin about its own length, and takes the spin at which the worse of its two ends is as small as it can be, each end
counted as a share of its limit.

With φ the spin, an eye axis at azimuth α and elevation ε above the plane square to the bar, and a bolt whose part in
that plane has length p and azimuth ψ and whose part along the bar is q,

    cos(tilt) = c cos(φ + α − ψ) + s,    c = p cos ε,  s = q sin ε.

For a square eye (ε = 0) the least tilt over all spins is asin|bolt · bar|: half a turn from square no head can help.
"""

from __future__ import annotations

import numpy as np

from model.spatial import Array, angle_between, dot, turn


def plane_polar(axes: Array, direction: Array) -> tuple[Array, Array, Array]:
    """Length p and azimuth ψ (rad) of `direction` (..., 3) in the plane square to a bar, and its part q along it.

    `axes` (..., 3, 3) has the bar as its first column; azimuth counts from the second to the third.
    """
    along, y, z = (dot(axes[..., column], direction) for column in range(3))
    return np.hypot(y, z), np.arctan2(z, y), along


def spin_between(
    first: tuple[Array, Array, Array], second: tuple[Array, Array, Array], limits: tuple[float, float]
) -> Array:
    """Spin (...) in rad at which the larger of two tilts, as shares of their limits, is as small as it can be.

    Args:
        first: c, s and the azimuth (rad) of the spin at which the first end has its least tilt, each (...).
        second: the same for the second end.
        limits: the two ends' limits in rad; only their ratio matters.

    """
    (c1, s1, best1), (c2, s2, best2) = first, second
    apart = np.remainder(best2 - best1 + np.pi, 2.0 * np.pi) - np.pi
    span, direction = np.abs(apart), np.where(apart < 0.0, -1.0, 1.0)
    # Equal limits: c1 cos τ + s1 = c2 cos(span − τ) + s2 is one cosine; its falling crossing is where the tilts meet.
    a, b = c1 - c2 * np.cos(span), c2 * np.sin(span)
    size = np.hypot(a, b)
    ratio = np.divide(s2 - s1, size, out=np.ones_like(size), where=size > 0.0)
    tau = np.clip(np.arccos(np.clip(ratio, -1.0, 1.0)) - np.arctan2(b, a), 0.0, span)
    if not np.isclose(limits[0], limits[1], rtol=1e-12):
        tau = _meet(c1, s1, c2, s2, span, limits)
    return np.asarray(best1 + direction * tau)


def _meet(c1: Array, s1: Array, c2: Array, s2: Array, span: Array, limits: tuple[float, float]) -> Array:
    """Where two tilts are the same share of different limits: one rises and one falls with τ from 0 to `span`."""
    from scipy.optimize import elementwise

    def excess(tau: Array, c1: Array, s1: Array, c2: Array, s2: Array, span: Array) -> Array:
        first = np.arccos(np.clip(c1 * np.cos(tau) + s1, -1.0, 1.0))
        second = np.arccos(np.clip(c2 * np.cos(span - tau) + s2, -1.0, 1.0))
        return np.asarray(first / limits[0] - second / limits[1])

    args = (c1, s1, c2, s2, span)
    low, high = excess(np.zeros_like(span), *args), excess(span, *args)
    root = elementwise.find_root(excess, (np.zeros_like(span), span), args=args).x
    # No crossing: one end is the worse one throughout, and takes its own best spin.
    return np.where(low >= 0.0, 0.0, np.where(high <= 0.0, span, root))


def twist_about(axis: Array, rotation: Array) -> Array:
    """Turn (...) in rad about the unit `axis` (..., 3) that is in a rotation (..., 3, 3): its swing-twist part.

    tan(θ/2) = axis · q_v / q_w with q the rotation's quaternion (Dobrowolski, arXiv:1506.05481, sect. 3).
    """
    skewed = np.stack(
        [
            rotation[..., 2, 1] - rotation[..., 1, 2],
            rotation[..., 0, 2] - rotation[..., 2, 0],
            rotation[..., 1, 0] - rotation[..., 0, 1],
        ],
        axis=-1,
    )
    return np.asarray(2.0 * np.arctan2(dot(axis, skewed), 1.0 + np.einsum("...ii->...", rotation)))


def tilt_between(part: Array, eye: Array, holder: Array, bolt: Array) -> Array:
    """Angle (...) in rad between an eye axis (3,) that rides on `part` (..., 3, 3) and a bolt (3,) on `holder`."""
    return angle_between(turn(part, eye), turn(holder, bolt))
