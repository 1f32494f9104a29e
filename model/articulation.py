"""What a joint does: the spin of a bar about its own length, tilt and turn. Arrays with leading batch axes.

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

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.spatial import Array, norm, skew, turn

# Newton's steps are quadratic once the bracket holds them; halving alone brings π to rounding in 53.
STEPS = 60
# A spin this near (rad) is a tilt as near, a hundredth of what the solver promises of a body's rotation.
ENOUGH = 1e-13
# A step of Newton's method this small has squared what is left to that.
NEARLY = 1e-7
# Keeps Newton's step finite where neither tilt feels the spin; halving takes over from there.
LEAST_RISE = 1e-12


@dataclass(frozen=True)
class Wave:
    """How an end's tilt goes with its bar's spin: p, q and the spin of least tilt ψ − α, each (...), and ε; rad."""

    p: Array
    q: Array
    best: Array
    elevation: float | Array

    def take(self, which: NDArray[np.intp]) -> Wave:
        """Return some of the poses of a wave (N,)."""
        return Wave(self.p[which], self.q[which], self.best[which], self.elevation)

    @property
    def c(self) -> Array:
        """The part of cos(tilt) that goes with the spin, (...)."""
        return np.asarray(self.p * np.cos(self.elevation))

    @property
    def s(self) -> Array:
        """The part of cos(tilt) that stays, (...)."""
        return np.asarray(self.q * np.sin(self.elevation))

    def sides(self, away: Array) -> tuple[Array, Array]:
        """Sine and cosine (...) of the tilt at `away` (...) rad from the best spin, both exact."""
        sine, cosine = np.sin(self.elevation), np.cos(self.elevation)
        flat = cosine * np.cos(away)
        across = np.sqrt((cosine * np.sin(away)) ** 2 + (sine * self.p - flat * self.q) ** 2)
        return across, flat * self.p + sine * self.q

    def tilt(self, spin: Array) -> Array:
        """Tilt (...) in rad at a spin (...)."""
        return np.arctan2(*self.sides(spin - self.best))

    @property
    def least(self) -> Array:
        """Tilt (...) in rad at the best spin."""
        return np.abs(np.arctan2(self.q, self.p) - self.elevation)


def plane_polar(axes: Array, direction: Array) -> tuple[Array, Array, Array]:
    """Length p and azimuth ψ (rad) of `direction` (..., 3) in the plane square to a bar, and its part q along it.

    `axes` (..., 3, 3) has the bar as its first column; azimuth counts from the second to the third.
    """
    along, y, z = np.einsum("...ij,...i->j...", axes, direction)
    return np.sqrt(y**2 + z**2), np.arctan2(z, y), along


def apart(first: Array, second: Array) -> Array:
    """How far the angle `second` is from `first`, −π to π."""
    return np.asarray(np.remainder(second - first + np.pi, 2.0 * np.pi) - np.pi)


def spin_between(first: Wave, second: Wave, limits: tuple[float, float]) -> Array:
    """Spin (...) in rad at which the larger of two tilts, as shares of their `limits` (rad), is as small as it can be.

    Only the limits' ratio matters.
    """
    ahead = apart(first.best, second.best)
    span, direction = np.abs(ahead), np.where(ahead < 0.0, -1.0, 1.0)
    if np.isclose(limits[0], limits[1], rtol=1e-12):
        # c1 cos τ + s1 = c2 cos(span − τ) + s2 is one cosine; its falling crossing is where the tilts meet.
        a, b = first.c - second.c * np.cos(span), second.c * np.sin(span)
        size = np.hypot(a, b)
        ratio = np.divide(second.s - first.s, size, out=np.ones_like(size), where=size > 0.0)
        tau = np.clip(np.arccos(np.clip(ratio, -1.0, 1.0)) - np.arctan2(b, a), 0.0, span)
    else:
        tau = _meet(first, second, span, limits)
    return np.asarray(first.best + direction * tau)


def _meet(first: Wave, second: Wave, span: Array, limits: tuple[float, float]) -> Array:
    """Where two tilts are the same share of different limits: one rises and one falls with τ (...) from 0 to `span`.

    Newton's method on the difference of the two shares, halving the bracket where a step would leave it. Without a
    crossing one end is the worse one throughout, and the bracket is closed on its own best spin.
    """
    none = np.zeros_like(span)
    first_worse = first.least / limits[0] >= second.tilt(second.best + span) / limits[1]
    second_worse = first.tilt(first.best + span) / limits[0] <= second.least / limits[1]
    low = np.where(second_worse & ~first_worse, span, none)
    high = np.where(first_worse, none, span)
    tau = np.clip(_meet_nearly(first, second, span, limits), low, high)
    for _ in range(STEPS):
        share1, rise1 = _share(first, tau, limits[0])
        share2, rise2 = _share(second, span - tau, limits[1])
        excess = share1 - share2
        falls_short = (excess < 0.0) & (low < high)
        low, high = np.where(falls_short, tau, low), np.where(falls_short | (low == high), high, tau)
        step = tau - excess / (rise1 + rise2)
        trusted = (step >= low) & (step <= high) | (low == high)
        following = np.clip(np.where(trusted, step, 0.5 * (low + high)), low, high)
        moved = np.abs(following - tau).max(initial=0.0)
        tau = following
        if moved < ENOUGH or (moved < NEARLY and trusted.all()):
            break
    return tau


def _meet_nearly(first: Wave, second: Wave, span: Array, limits: tuple[float, float]) -> Array:
    """The same to within a few parts in a thousand, from tilt² = least² + c τ², which holds for small angles."""
    a, b = first.c / limits[0] ** 2, second.c / limits[1] ** 2
    # (a − b) τ² + 2 b span τ + rest = 0, solved so that a = b does not divide by zero.
    rest = (first.least / limits[0]) ** 2 - (second.least / limits[1]) ** 2 - b * span**2
    slope = b * span
    below = slope + np.sqrt(np.maximum(slope**2 - (a - b) * rest, 0.0))
    return np.divide(-rest, below, out=np.zeros_like(span), where=below > 0.0)


def _share(wave: Wave, away: Array, limit: float) -> tuple[Array, Array]:
    """Tilt (...) as a share of its limit at `away` (...) rad from the best spin, and how fast it rises from there."""
    sine, cosine = wave.sides(away)
    # Where the tilt is 0 it is a cone's tip, and rises by 1; a bolt along its bar does not feel the spin at all.
    slope = np.divide(wave.c * np.sin(away), sine, out=np.ones_like(sine), where=sine > 0.0)
    return np.arctan2(sine, cosine) / limit, np.maximum(slope, LEAST_RISE) / limit


def spin_band(first: Wave, second: Wave, limits: tuple[float, float]) -> tuple[Array, Array]:
    """Lowest and highest spin (...) in rad that keep both ends within their `limits` (rad).

    Each end allows an arc, its best spin ± arccos((cos L − s)/c); the band is where both arcs lie over each other, of
    two such places the one between the two best spins. Where no spin serves, high is less than low: by what the arcs
    are short of each other, or by twice the angle by which an end's least tilt is over its limit.
    """
    ahead = apart(first.best, second.best)
    half1, half2 = _half_arc(first, limits[0]), _half_arc(second, limits[1])
    low = np.maximum(-half1, np.where(half2 < np.pi, ahead - half2, -np.pi))
    high = np.minimum(half1, np.where(half2 < np.pi, ahead + half2, np.pi))
    # An end that allows every spin bounds nothing: the other end's arc is the band.
    free = (half1 >= np.pi) & (half2 < np.pi)
    low, high = np.where(free, ahead - half2, low), np.where(free, ahead + half2, high)
    return first.best + low, first.best + high


def _half_arc(wave: Wave, limit: float) -> Array:
    """Half the arc (...) of spins in rad that an end allows: π where any, negative where none."""
    reach = np.cos(limit) - wave.s
    ratio = np.divide(reach, wave.c, out=np.where(reach > 0.0, 2.0, -2.0), where=wave.c > 0.0)
    return np.where(ratio > 1.0, np.minimum(limit - wave.least, 0.0), np.arccos(np.clip(ratio, -1.0, 1.0)))


def twist_about(axis: Array, part: Array, holder: Array) -> Array:
    """Turn (...) in rad of a part about the unit `axis` (3,) of what holds it: the swing-twist part of its rotation.

    `part` and `holder` are rotations (..., 3, 3) from ride height; −π to π.
    tan(θ/2) = axis · q_v / q_w with q the quaternion of holderᵀ part (Dobrowolski, arXiv:1506.05481, sect. 3); both
    are sums over the entries of that matrix: 4 q_w² is one plus its trace, 4 q_w axis · q_v is its product with the
    axis's skew matrix.
    """
    skewed = (holder.reshape(-1, 3) @ skew(axis)).reshape(holder.shape)
    trace = np.einsum("...ij,...ij->...", holder, part)
    return np.asarray(2.0 * np.arctan2(np.einsum("...ij,...ij->...", skewed, part), 1.0 + trace))


def tilt_between(part: Array, eye: Array, holder: Array, bolt: Array) -> Array:
    """Angle (...) in rad between an eye axis (3,) that rides on `part` (..., 3, 3) and a bolt (3,) on `holder`.

    2 atan2(|a − b|, |a + b|), exact near 0 and π (W. Kahan, "Mangled angles").
    """
    a, b = turn(part, eye), turn(holder, bolt)
    return np.asarray(2.0 * np.arctan2(norm(a - b), norm(a + b)))
