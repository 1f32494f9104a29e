"""Which settings of adjusters bring what is measured to what is wanted: bounded Gauss-Newton.

With s the settings, v(s) what is measured and J = dv/ds from tangents, each step is the bounded least-squares problem

    min |W (v + J δ − wanted)|² + κ² |K (u + J_u δ − u₀)|² + ε² |s + δ|²        low ≤ s + δ ≤ high

(Nocedal & Wright, Numerical Optimization, 2006, sect. 10.3). The weights W and K make everything mm: an angle counts as
what it moves the tread of a tyre. κ and ε are so small that they only choose where several settings would do: the one
that leaves what nobody asked for (u, such as toe where camber is wanted) as it was, then the one that turns least.

Perches are settings whose place follows from the heights h of the wheels: dp = P_s ds + P_h dh, so that their own
columns of J are J_h P_h⁻¹, and those of the others J_s − J_h P_h⁻¹ P_s.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import lsq_linear

from model.adjustable import Eccentric
from model.adjuststand import Bench, Stand
from model.adjustwants import Want
from model.curvenames import Amount
from model.errors import CallError
from model.spatial import Array

Mask = NDArray[np.bool_]
Index = NDArray[np.intp]
# Chooses among settings that do as well; what it adds to a want is a share of ε² of what is turned.
LEAST_TURNING = 1e-6
# What is kept where it can be counts as this share of a want; of one that is out of reach in any case, as that share;
# where settings are rounded, as much as one.
KEEPING, RESTORING = 1e-3, 0.1
# By how much each counts: a tenth of a degree of toe wears tyres, and no one feels some mm of wheelbase.
KEPT = {
    "camber": 1.0,
    "toe": 4.0,
    "caster": 1.0,
    "axle steer": 4.0,
    "axle shift": 2.0,
    "pinion angle": 1.0,
    "ride height": 1.0,
    "wheelbase change": 0.1,
}
# What is there for a want moves it, for what it moves of all that is to stay, by at least this share of what the best
# does, and by at least this much; mm for a mm of the adjuster that stands for moving nothing else.
NEAR_BEST, LEAST_SHARE, LEAST_COST = 0.2, 0.02, 1e-3
# Mm, weighted, that what is kept may stray more for an adjuster less to turn.
STRAY = 2.0
# Mm a setting may go in one step where the scene gives it no bound.
LONGEST_STEP = 40.0
# Mm, weighted: a hundredth of what a tape shows.
REACHED = 0.01
# Mm or rad: settings that change by less have arrived.
ARRIVED = 1e-6
# A mm of ratio: a motion ratio 0.01 off counts as 1 mm.
RATIO_MM = 100.0
# Calls of the solver in all; rounding takes the last of them, or three where it moves a spring's seat.
MOST_CALLS = 10
SEATING = 3
# A search whose next step would make good for more than this share of what is missed has not come to its end.
SETTLED = 0.05


@dataclass(frozen=True, eq=False)
class Aim:
    """What is wanted (k,) and what had better stay (j,): rows of what is measured, values, weights in mm a unit.

    What is to stay counts as a share `keeping` of what is wanted.
    """

    wants: tuple[Want, ...]
    rows: Index
    wanted: Array
    weights: Array
    kept_rows: Index
    kept: Array
    kept_weights: Array
    keeping: float

    def missed(self, stand: Stand) -> Array:
        """By how much each want is missed (k,), in weighted mm."""
        return np.asarray(self.weights * (stand.values[self.rows] - self.wanted))

    def strayed(self, stand: Stand) -> Array:
        """By how much each of what had better stay has moved (j,), in weighted mm."""
        return np.asarray(self.kept_weights * (stand.values[self.kept_rows] - self.kept))

    def cost(self, stand: Stand) -> float:
        """What a search makes least, in weighted mm; NaN where a want or what is to stay has lost its meaning."""
        return float(np.hypot(np.linalg.norm(self.missed(stand)), self.keeping * np.linalg.norm(self.strayed(stand))))


def aim_at(wants: Sequence[Want], stand: Stand, radius: float) -> Aim:
    """The rows and weights of wants, and of what is kept; `radius` (mm) is a tyre's."""
    weight = {Amount.ANGLE: radius, Amount.RATIO: RATIO_MM}
    names = [value.name for value in stand.measured]
    wanted = [want.name for want in wants]
    stays = [k for k, value in enumerate(stand.measured) if value.what in KEPT and value.name not in wanted]
    return Aim(
        tuple(wants),
        np.array([names.index(name) for name in wanted], dtype=np.intp),
        np.array([want.value for want in wants]),
        np.array([weight.get(want.quantity, 1.0) for want in wants]),
        np.array(stays, dtype=np.intp),
        stand.values[stays],
        np.array([KEPT[stand.measured[k].what] * weight.get(stand.measured[k].quantity, 1.0) for k in stays]),
        KEEPING,
    )


def slopes_of(bench: Bench, stand: Stand, *, riding: bool) -> Array:
    """How what is measured changes with each setting (V, A): heights held, or with `riding` the springs' seats."""
    count = len(bench.adjusters)
    own, by_height = stand.slopes[:, :count], stand.slopes[:, count:]
    if not riding:
        return own
    seat_by_setting, seat_by_height = stand.perch_slopes[:, :count], stand.perch_slopes[:, count:]
    follow = by_height @ np.linalg.inv(seat_by_height)
    slopes = own - follow @ seat_by_setting
    slopes[:, bench.is_perch] = follow
    return slopes


def search(bench: Bench, start: Stand, aim: Aim, playing: Mask, *, riding: bool) -> Stand:
    """The settings at which the wants are met, or missed by least inside the bounds.

    Args:
        bench: the mechanism.
        start: where it stands now.
        aim: the wants.
        playing: which adjusters (A,) may be turned.
        riding: whether the wheels' heights follow the springs' seats; otherwise they are held.

    """
    here, last, share = start, aim.cost(start), 1.0
    step = _step(bench, here, aim, playing, riding=riding)
    while bench.calls < MOST_CALLS - _last_calls(riding):
        trial = _gone(bench, here, share * step, riding=riding)
        cost = np.inf if trial is None else aim.cost(trial)
        if trial is None or not cost <= last + 0.1 * REACHED:
            share *= 0.5
            continue
        here, last, share = trial, cost, 1.0
        step = _step(bench, here, aim, playing, riding=riding)
        if np.abs(step).max(initial=0.0) < ARRIVED or np.abs(aim.missed(here)).max() < ARRIVED:
            break
    return here


def fitting(bench: Bench, start: Stand, aim: Aim, playing: Mask, *, riding: bool) -> tuple[Mask, Mask]:
    """Which adjusters (A,) of those that may be turned are there for the wants, and which wants (k,) have one.

    A tie rod can gain a little camber by much toe. Each adjuster has, for a want, a share: how far it moves that for
    what it moves of all that is to stay. Of the two sides of an entry what both do alike, or against each other, counts
    as well as what each does. There for a want is what comes near the best share of all.
    """
    slopes = slopes_of(bench, start, riding=riding) / mm_of(bench)
    wanted, kept = aim.weights[:, None] * slopes[aim.rows], aim.kept_weights[:, None] * slopes[aim.kept_rows]
    entries = [own for own in _entries(bench) if playing[own].any()]
    shares = np.zeros((len(entries), len(aim.rows)))
    for number, own in enumerate(entries):
        sides = np.eye(len(own))
        ways = np.vstack([sides, [1.0, 1.0], [1.0, -1.0]]) if len(own) == 2 else sides
        costs = np.maximum(np.linalg.norm(kept[:, own] @ ways.T, axis=0), LEAST_COST)
        shares[number] = (np.abs(wanted[:, own] @ ways.T) / costs).max(axis=1)
    best = shares.max(axis=0, initial=0.0)
    near = (shares >= np.maximum(NEAR_BEST * best, LEAST_SHARE)).any(axis=1)
    fits = np.zeros(len(playing), dtype=bool)
    fits[[k for own, fit in zip(entries, near, strict=True) if fit for k in own]] = True
    return playing & fits, best >= LEAST_SHARE


def settled(bench: Bench, stand: Stand, aim: Aim, playing: Mask, *, riding: bool) -> bool:
    """Whether a search has come to its end there: what is missed can be made no less, to first order."""
    step, missed = _step(bench, stand, aim, playing, riding=riding), aim.missed(stand)
    ahead = missed + aim.weights * (slopes_of(bench, stand, riding=riding)[aim.rows] @ step)
    return bool(np.linalg.norm(ahead) > (1.0 - SETTLED) * np.linalg.norm(missed) - REACHED)


def _last_calls(riding: bool) -> int:
    """Calls of the solver that rounding takes at most."""
    return SEATING if riding else 1


def fewest(bench: Bench, start: Stand, aim: Aim, playing: Mask, *, riding: bool) -> Mask:
    """Those of the adjusters that may be turned (A,) without which the wants would be missed by more.

    By the slopes at the start; both sides of one entry stay or go together, and what is set most coarsely goes first.
    """
    slopes = slopes_of(bench, start, riding=riding)

    def foretold(which: Mask) -> Array:
        step = _step(bench, start, aim, which, riding=riding)
        missed = aim.missed(start) + aim.weights * (slopes[aim.rows] @ step)
        strayed = aim.strayed(start) + aim.kept_weights * (slopes[aim.kept_rows] @ step)
        return np.array([np.linalg.norm(missed), np.linalg.norm(strayed)])

    allowed = foretold(playing) + np.array([REACHED, STRAY])
    for own in sorted(_entries(bench), key=lambda own: -sum(bench.adjusters[number].grain for number in own)):
        without = playing.copy()
        without[own] = False
        if without.any() and (foretold(without) <= allowed).all():
            playing = without
    return playing


def _entries(bench: Bench) -> list[list[int]]:
    """Numbers of the adjusters of each entry of the scene: one, or both sides of a mirrored one."""
    found: dict[str, list[int]] = {}
    for number, each in enumerate(bench.adjusters):
        found.setdefault(each.entry, []).append(number)
    return list(found.values())


def stand_at(bench: Bench, near: Stand, settings: Array, *, riding: bool) -> Stand:
    """The suspension at settings (A,) next to those of a stand; the wheels where the springs' seats let them.

    Raises:
        CallError: the linkage locks there.

    """
    here = near
    for _ in range(_last_calls(riding)):
        heights = here.heights + (_heights(bench, here, settings) if riding else 0.0)
        found = bench.stand(settings, heights)
        if found is None:
            raise CallError("at the rounded settings the linkage locks; ask for a value nearer to the one now.")
        here = found
        if not riding or np.abs(here.perches - settings[bench.is_perch]).max() < 10.0 * ARRIVED:
            break
    return here


def ran_out(bench: Bench, stand: Stand, aim: Aim, playing: Mask, *, riding: bool) -> tuple[int, ...]:
    """Numbers of the adjusters that stand at an end of their way and would have to go on for the wants."""
    slopes = aim.weights[:, None] * slopes_of(bench, stand, riding=riding)[aim.rows]
    downhill = -slopes.T @ aim.missed(stand)
    low, high = _bounds(bench)
    at_low, at_high = stand.settings <= low + ARRIVED, stand.settings >= high - ARRIVED
    out = playing & ((at_low & (downhill < 0.0)) | (at_high & (downhill > 0.0)))
    # What would hardly help is not what ran out.
    return tuple(int(number) for number in np.flatnonzero(out & (np.abs(downhill) > 0.05 * np.abs(downhill).max())))


def _step(bench: Bench, stand: Stand, aim: Aim, playing: Mask, *, riding: bool) -> Array:
    """The change (A,) of settings that misses the wants by least, to first order."""
    numbers = np.flatnonzero(playing)
    step = np.zeros(len(playing))
    low, high = (each[numbers] - stand.settings[numbers] for each in _bounds(bench))
    open_ = high - low > ARRIVED
    numbers, low, high = numbers[open_], low[open_], high[open_]
    if len(numbers) == 0:
        return step
    mm = mm_of(bench)[numbers]
    slopes = slopes_of(bench, stand, riding=riding)[:, numbers] / mm
    matrix = np.concatenate(
        [
            aim.weights[:, None] * slopes[aim.rows],
            aim.keeping * aim.kept_weights[:, None] * slopes[aim.kept_rows],
            LEAST_TURNING * np.eye(len(numbers)),
        ]
    )
    right = -np.concatenate(
        [aim.missed(stand), aim.keeping * aim.strayed(stand), LEAST_TURNING * stand.settings[numbers] * mm]
    )
    bounds = np.clip(low * mm, -LONGEST_STEP, 0.0), np.clip(high * mm, 0.0, LONGEST_STEP)
    step[numbers] = lsq_linear(matrix, right, bounds, method="bvls").x / mm
    return step


def _gone(bench: Bench, stand: Stand, step: Array, *, riding: bool) -> Stand | None:
    """The suspension a step (A,) further; with `riding` its settings of perches are read from where it stands then."""
    settings = stand.settings + step
    heights = stand.heights + (_heights(bench, stand, settings) if riding else 0.0)
    found = bench.stand(settings, heights)
    if found is None or not riding:
        return found
    seated = settings.copy()
    seated[bench.is_perch] = found.perches
    return replace(found, settings=seated)


def _heights(bench: Bench, stand: Stand, settings: Array) -> Array:
    """How the wheels' heights (W,) change to first order with settings (A,) of everything, perches too."""
    count = len(bench.adjusters)
    wanted = settings[bench.is_perch] - stand.perches
    moved = stand.perch_slopes[:, :count] @ (settings - stand.settings)
    return np.asarray(np.linalg.solve(stand.perch_slopes[:, count:], wanted - moved))


def _bounds(bench: Bench) -> tuple[Array, Array]:
    """Lowest and highest settings (A,) of the adjusters."""
    return np.array([each.low for each in bench.adjusters]), np.array([each.high for each in bench.adjusters])


def mm_of(bench: Bench) -> Array:
    """Mm a unit of each setting (A,): 1, and of an eccentric its throw."""
    return np.array([each.throw if isinstance(each, Eccentric) else 1.0 for each in bench.adjusters])
