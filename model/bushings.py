"""Joints with give as springs: energy, wrench and tangent of bushings and of links that turn freely on both ends.

A bushing sits between a holder, which carries its bolt a, and a part, which carries its eye e (a = e at ride height).
With d the way from the holder's point to the part's point, θ the angle from a to e and τ the turn of the part about a
(the twist of its swing-twist decomposition), its energy is

    E = ½ k_r |d|² + ½ (k_a − k_r)(a·d)² + ½ k_c θ² + ½ k_t τ²,

and what it takes to hold the part so is the gradient of E, exactly:

    force   F = k_r d + (k_a − k_r)(a·d) a      at the part's point,
    couple  M = k_c θ/sin θ (a × e) + k_t τ b,  b = (a + e)/(1 + a·e).

b follows from τ' = b·ω: a turn about a or about e is all twist, and a pure swing turns about lines square to a + e.
On the holder the same wrench acts with a minus, since E does not change when both move together.
A link that turns freely on both ends has E = ½ k (|d| − L)².

A bush that was tightened elsewhere than at ride height is relaxed there: τ then counts from its turn at that height.

Newton's method treats the springs' forces as unknowns of their own. A stiff joint that a step has left some hundredths
of a mm apart pulls with tonnes; the tangent is taken with the force that the step foretold instead, f + k (e · step),
the multiplier of a compliant constraint (from memory: Magisano, Leonetti & Garcea, Comput. Methods Appl. Mech. Engrg
313, 2017, "mixed integration points"). The matrix stays as large, and stiff joints cost no more steps than soft ones.

Poses run along the last axis; lengths and moments are about `System.origin`, moments divided by `System.length`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from model.constraints import Index, System
from model.mechanism import Bushing, Mechanism, TwoForceLink
from model.spatial import Array, norm
from model.wrenches import cross_first, point_tangent, skew_first

# Below this angle the series of x/sin x is exact to the last bit.
SMALL = 1e-4


@dataclass(frozen=True, eq=False)
class Give:
    """The springs of one system as arrays: K of them, first B bushings, then links that are springs.

    `plus` and `minus` (K,) are the slots on which each wrench acts: part and holder of a bushing, first and second end
    of a link. `plus_at`, `minus_at` (4, K) are their points at ride height about `System.origin`, `bolt` (4, B); rates
    (B, 1) and (K − B, 1), turns `wound` (B, 1) at which bushings are relaxed, lengths `rest` (K − B, 1).
    """

    bushings: tuple[Bushing, ...]
    links: tuple[TwoForceLink, ...]
    plus: Index
    minus: Index
    plus_at: Array
    minus_at: Array
    bolt: Array
    radial: Array
    axial: Array
    turn: Array
    cock: Array
    wound: Array
    rate: Array
    rest: Array

    @property
    def forces(self) -> int:
        """Numbers that say what the springs pull with: four for each bushing, one for each link."""
        return 4 * len(self.bushings) + len(self.links)

    @property
    def members(self) -> tuple[str, ...]:
        """Names (K,) of the parts that the springs belong to."""
        return (*(bushing.member for bushing in self.bushings), *(link.member for link in self.links))


@dataclass(frozen=True, eq=False)
class Strain:
    """How the springs stand in n poses, in the vehicle's axes.

    Points and forces (3, K, n), `apart` from minus to plus; of bushings bolt and eye (3, B, n), turn and cocking (B, n)
    in rad, `twisted` (B, n) the turn from where they are relaxed, couple (3, B, n) in N·mm; of links their lengths
    (K − B, n).
    """

    at: Array
    apart: Array
    force: Array
    bolt: Array
    eye: Array
    turn: Array
    cock: Array
    twisted: Array
    couple: Array
    span: Array


@lru_cache(maxsize=32)
def give_of(mechanism: Mechanism, system: System) -> Give:
    """The springs of a system."""
    slot = {body: place for place, body in enumerate(system.bodies)}
    free = set(system.bodies[: system.free])
    bushings = tuple(b for b in mechanism.bushings if {b.part, b.holder} & free)
    links = tuple(link for link in mechanism.elastic_links if set(link.bodies) & free)
    ends = [(b.part, b.end.at, b.holder, b.end.at) for b in bushings]
    ends += [(k.bodies[0], k.ends[0].at, k.bodies[1], k.ends[1].at) for k in links]

    def points(places: list[Array], last: float) -> Array:
        return np.array([[*place, last] for place in places]).reshape(-1, 4).T

    def column(values: list[float]) -> Array:
        return np.array(values).reshape(-1, 1)

    return Give(
        bushings=bushings,
        links=links,
        plus=np.array([slot[plus] for plus, *_ in ends], dtype=np.intp),
        minus=np.array([slot[minus] for _, _, minus, _ in ends], dtype=np.intp),
        plus_at=points([at - system.origin for _, at, *_ in ends], 1.0),
        minus_at=points([at - system.origin for *_, at in ends], 1.0),
        bolt=points([b.end.bolt for b in bushings], 0.0),
        radial=column([b.radial for b in bushings]),
        axial=column([b.axial for b in bushings]),
        turn=column([b.turn for b in bushings]),
        cock=column([b.cock for b in bushings]),
        wound=column([b.wound for b in bushings]),
        rate=column([1.0 / (1.0 / k.rates[0] + 1.0 / k.rates[1]) for k in links]),
        rest=column([float(np.linalg.norm(k.ends[0].at - k.ends[1].at)) for k in links]),
    )


def strain(give: Give, state: Array) -> Strain:
    """How all springs stand with the bodies at `state` (S, 3, 4, n)."""
    count = len(give.bushings)
    part, holder = state[give.plus], state[give.minus]
    at = np.einsum("kijn,jk->ikn", part, give.plus_at)
    apart = at - np.einsum("kijn,jk->ikn", holder, give.minus_at)
    bolt = np.einsum("kijn,jk->ikn", holder[:count], give.bolt)
    eye = np.einsum("kijn,jk->ikn", part[:count], give.bolt)
    cock = np.arctan2(norm(np.moveaxis(cross_first(bolt, eye), 0, -1)), _dot(bolt, eye))
    turn = _twist(give.bolt[:3], part[:count, :, :3], holder[:count, :, :3])
    force = np.empty_like(at)
    along = _dot(bolt, apart[:, :count])
    force[:, :count] = give.radial * apart[:, :count] + (give.axial - give.radial) * along * bolt
    span = np.sqrt(_dot(apart[:, count:], apart[:, count:]))
    force[:, count:] = give.rate * (1.0 - give.rest / span) * apart[:, count:]
    now = Strain(at, apart, force, bolt, eye, turn, cock, turn - give.wound, np.zeros(0), span)
    return replace(now, couple=give.cock * swings(now) + give.turn * now.twisted * _both(now))


def swings(now: Strain) -> Array:
    """Rotation vectors (3, B, n) in rad of the shortest turns from bolts to eyes."""
    return np.asarray(_over_sine(now.cock) * cross_first(now.bolt, now.eye))


def foretold(give: Give, now: Strain, state: Array, twist: Array, length: float) -> Array:
    """What the springs will pull with (`Give.forces`, n) to first order after a step.

    Args:
        give: the springs.
        now: how they stand before the step.
        state: (S, 3, 4, n) before the step.
        twist: (6, K, n), what each plus body moves more than its minus body, rotations × `length`.
        length: `System.length`.

    Returns:
        for each bushing its force along the holder's axes (N) and its turn from where it is relaxed (rad), then the
        tension (N) of each link.

    """
    count, rotation = len(give.bushings), twist[3:] / length
    shift = twist[:3] + cross_first(rotation, now.at)
    along = now.apart[:, count:] / now.span
    tension = give.rate * (now.span - give.rest + _dot(along, shift[:, count:]))
    shift = shift[:, :count]
    pull = now.force[:, :count] + give.radial * shift + (give.axial - give.radial) * _dot(now.bolt, shift) * now.bolt
    pull = np.einsum("kjin,jkn->ikn", state[give.minus[:count], :, :3], pull)
    twisted = now.twisted + _dot(_both(now), rotation[:, :count])
    return np.concatenate([pull.reshape(3 * count, pull.shape[2]), twisted, tension])


def pulling(give: Give, now: Strain, state: Array, forces: Array) -> Strain:
    """The same stand of the springs, but with forces (`Give.forces`, n) as `foretold` gives them."""
    count = len(give.bushings)
    pull = forces[: 3 * count].reshape(3, count, forces.shape[1])
    pull = np.einsum("kijn,jkn->ikn", state[give.minus[:count], :, :3], pull)
    tension = forces[4 * count :] * now.apart[:, count:] / now.span
    twisted = forces[3 * count : 4 * count]
    couple = now.couple + give.turn * (twisted - now.twisted) * _both(now)
    return replace(now, force=np.concatenate([pull, tension], axis=1), twisted=twisted, couple=couple)


def _both(now: Strain) -> Array:
    """b (3, B, n) = (a + e)/(1 + a·e), along which a rotation is all turn about the bolt."""
    return np.asarray((now.bolt + now.eye) / (1.0 + _dot(now.bolt, now.eye)))


def wrenches(now: Strain, system: System) -> Array:
    """The wrenches (6, K, n) with which the springs are held, moments divided by `System.length`."""
    wrench = np.concatenate([now.force, cross_first(now.at, now.force) / system.length])
    wrench[3:, : now.couple.shape[1]] += now.couple / system.length
    return wrench


def energy(give: Give, now: Strain) -> Array:
    """Energy (n,) in N·mm stored in all springs."""
    count = len(give.bushings)
    work = 0.5 * _dot(now.force[:, :count], now.apart[:, :count])
    work += 0.5 * (give.cock * now.cock**2 + give.turn * now.twisted**2)
    stretch = 0.5 * give.rate * (now.span - give.rest) ** 2
    return np.asarray(work.sum(axis=0) + stretch.sum(axis=0))


def tangents(give: Give, now: Strain, system: System) -> Array:
    """How the wrenches change as the bodies move: H (6, 6, K, n) of `model.wrenches`."""
    count = len(give.bushings)
    stiffness = np.empty((3, *now.at.shape))
    unit = np.eye(3)[:, :, None, None]
    stiffness[:, :, :count] = give.radial * unit + (give.axial - give.radial) * now.bolt[:, None] * now.bolt[None]
    along = now.apart[:, count:] / now.span
    outer = along[:, None] * along[None]
    swinging = _dot(now.force[:, count:], along) / now.span
    stiffness[:, :, count:] = give.rate * outer + swinging * (unit - outer)
    tangent = point_tangent(now.at / system.length, now.force, stiffness, system.length)
    tangent[3:, 3:, :count] += _couple_tangent(give, now) / system.length**2
    return tangent


def _couple_tangent(give: Give, now: Strain) -> Array:
    """∂couple/∂rotation (3, 3, B, n) in N·mm/rad, with the holder at rest: δe = ω × e, δθ = ω · (a × e)/sin θ."""
    a, e = now.bolt, now.eye
    unit = np.eye(3)[:, :, None, None]
    cross, cosine = cross_first(a, e), _dot(a, e)
    swing = _over_sine(now.cock) * (cosine * unit - e[:, None] * a[None])
    swing += _slope_over_sine(now.cock) * cross[:, None] * cross[None]
    both = _both(now)
    # δb = (ω × e)/(1 + a·e) + b (ω · (a × e))/(1 + a·e)
    change = (both[:, None] * cross[None] - skew_first(e)) / (1.0 + cosine)
    twist = both[:, None] * both[None] + now.twisted * change
    return np.asarray(give.cock * swing + give.turn * twist)


def _twist(bolt: Array, part: Array, holder: Array) -> Array:
    """Turn (B, n) in rad about bolts (3, B) of parts seen from holders, both (B, 3, 3, n): tan(τ/2) = a·q_v / q_w."""
    relative = np.einsum("kjin,kjln->kiln", holder, part)
    skewed = np.stack(
        [
            relative[:, 2, 1] - relative[:, 1, 2],
            relative[:, 0, 2] - relative[:, 2, 0],
            relative[:, 1, 0] - relative[:, 0, 1],
        ]
    )
    return np.asarray(2.0 * np.arctan2(_dot(bolt[..., None], skewed), 1.0 + np.einsum("kiin->kn", relative)))


def _over_sine(angle: Array) -> Array:
    """x / sin x."""
    small = angle < SMALL
    safe = np.where(small, 1.0, angle)
    return np.asarray(np.where(small, 1.0 + angle**2 / 6.0, safe / np.sin(safe)))


def _slope_over_sine(angle: Array) -> Array:
    """The derivative of x / sin x, over sin x: (sin x − x cos x)/sin³ x, which is 1/3 at 0."""
    small = angle < 1e-2  # the plain form's difference loses digits early; the series errs by 2x⁴/63 there
    safe = np.where(small, 1.0, angle)
    plain = (np.sin(safe) - safe * np.cos(safe)) / np.sin(safe) ** 3
    return np.asarray(np.where(small, 1.0 / 3.0 + 2.0 * angle**2 / 15.0, plain))


def _dot(a: Array, b: Array) -> Array:
    return np.asarray(np.einsum("i...,i...->...", a, b))
