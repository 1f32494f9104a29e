"""From wants to settings: which turns of which adjuster reach what is wanted at ride height, and what it then is."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from model.adjustable import Adjuster
from model.adjustrounding import rounded
from model.adjustsearch import (
    REACHED,
    RESTORING,
    Aim,
    Mask,
    aim_at,
    fewest,
    fitting,
    ran_out,
    search,
    settled,
    slopes_of,
    stand_at,
)
from model.adjuststand import Bench, Stand
from model.adjustwants import RIDE_HEIGHT, Value, Want
from model.errors import CallError
from model.mechanism import Mechanism
from model.mobility import joined
from model.naming import suggestion

# Mm, weighted, that a value moves for a mm of an adjuster: with less the adjuster does nothing for it.
NO_EFFECT = 1e-6


@dataclass(frozen=True)
class Reached:
    """One want: the value before, with exact settings, and with what the adjusters can be put to; rad, mm or 1."""

    want: Want
    before: float
    exact: float
    rounded: float


@dataclass(frozen=True)
class Turned:
    """One adjuster: its exact and its rounded setting from where it stands; `played` is false where it was left."""

    adjuster: Adjuster
    exact: float
    rounded: float
    played: bool


@dataclass(frozen=True, eq=False)
class Setting:
    """What reaches the wants, or comes nearest: `out` are the adjusters that ran out of their way.

    before and after are everything measured before and with the rounded settings, in one order; `bench` and `stand`
    are the mechanism with its adjusters turned so. `calls` of the solver were needed. `unbalanced` is by which share
    the springs carry more (positive) or less than the scene's weights say, `None` where neither tells.
    """

    reached: tuple[Reached, ...]
    turned: tuple[Turned, ...]
    out: tuple[Adjuster, ...]
    met: bool
    before: tuple[Value, ...]
    after: tuple[Value, ...]
    bench: Bench
    stand: Stand
    calls: int
    unbalanced: float | None


def bench_of(mechanism: Mechanism) -> tuple[Bench, Stand]:
    """A mechanism with all its adjusters, and how it stands now.

    Raises:
        CallError: it has none.

    """
    if not mechanism.adjusters:
        raise CallError(
            "this scene has nothing that can be set; say what can be turned, shimmed or slid in [adjust.NAME] tables "
            "(see docs/scene-file.md)."
        )
    bench = Bench(mechanism, mechanism.adjusters)
    start = bench.stand(np.zeros(len(bench.adjusters)), np.zeros(len(bench.wheels)))
    if start is None:
        raise AssertionError("ride height is where the walk starts")  # the solver reaches where nothing moves
    return bench, start


def setting_for(bench: Bench, start: Stand, wants: Sequence[Want], only: Collection[str] = ()) -> Setting:
    """The settings that reach the wants, or the nearest that can be.

    Args:
        bench: the mechanism with its adjusters.
        start: how it stands now.
        wants: at least one.
        only: names of adjusters, or of entries for both sides of one, if others may not be turned.

    Raises:
        CallError: nothing that may be turned moves a want, or wants contradict each other.

    """
    radius = float(np.mean([wheel.loaded_radius for wheel in bench.mechanism.wheels]))
    aim = aim_at(wants, start, radius)
    riding = any(want.name.endswith(RIDE_HEIGHT) for want in wants)
    playing = _playing(bench, only, riding=riding)
    _check_effect(bench, start, aim, playing, riding=riding)
    fit = _fit(bench, start, aim, playing, only, riding=riding)
    some = fewest(bench, start, aim, fit, riding=riding)
    exact = search(bench, start, aim, some, riding=riding)
    if np.abs(aim.missed(exact)).max() > REACHED and (some != fit).any():
        some, exact = fit, search(bench, exact, aim, fit, riding=riding)
    met = bool(np.abs(aim.missed(exact)).max() <= REACHED)
    out = () if met else ran_out(bench, exact, aim, some, riding=riding)
    if not met and not out:
        if not settled(bench, exact, aim, some, riding=riding):
            what = joined([want.name for want in wants])
            raise CallError(f"{what} cannot be found in {bench.calls} steps from what is now; want less at a time.")
        raise CallError(_contradiction(aim, exact))
    # What can be had is kept, and the adjusters that are not there for it bring back what it has moved.
    had = aim if met else replace(aim, wanted=exact.values[aim.rows], keeping=RESTORING)
    some = some | fewest(bench, exact, had, some | (playing & ~fit), riding=riding)
    exact = search(bench, exact, had, some, riding=riding)
    settings = rounded(bench, exact, aim, some, riding=riding)
    stand = stand_at(bench, exact, settings, riding=riding)
    ends = zip(aim.wants, aim.rows, strict=True)
    return Setting(
        reached=tuple(
            Reached(want, float(start.values[row]), float(exact.values[row]), float(stand.values[row]))
            for want, row in ends
        ),
        turned=tuple(
            Turned(each, float(exact.settings[number]), float(settings[number]), bool(some[number]))
            for number, each in enumerate(bench.adjusters)
        ),
        out=tuple(bench.adjusters[number] for number in out),
        met=met,
        before=start.measured,
        after=stand.measured,
        bench=bench,
        stand=stand,
        calls=bench.calls,
        unbalanced=_unbalanced(bench),
    )


def _fit(bench: Bench, start: Stand, aim: Aim, playing: Mask, only: Collection[str], *, riding: bool) -> Mask:
    """Which adjusters (A,) are there for the wants; all that are named where others may not be turned."""
    fit, served = fitting(bench, start, aim, playing, riding=riding)
    if served.all():
        return fit
    if only:
        return playing
    lacking = joined([want.name for want, serves in zip(aim.wants, served, strict=True) if not serves])
    raise CallError(
        f"no adjuster of this scene is there for {lacking}: what moves it a little moves toe, camber or the like far "
        "more; want something else, or name adjusters with --only to use them all the same."
    )


def _unbalanced(bench: Bench) -> float | None:
    """By which share what the springs carry is off what the scene's weights say, where it is most."""
    weights, mechanism = bench.mechanism.weights, bench.mechanism
    if weights is None or bench.carried is None:
        return None
    weighed = [weights.under(mechanism.drives[column].name) - weights.unsprung for column in bench.wheels]
    off = bench.carried / np.array(weighed) - 1.0
    return float(off[np.abs(off).argmax()])


def _playing(bench: Bench, only: Collection[str], *, riding: bool) -> Mask:
    """Which adjusters (A,) may be turned: perches only for a ride height."""
    names = [{each.entry, each.name} for each in bench.adjusters]
    known = [name for each in bench.adjusters for name in (each.entry, each.name)]
    for name in only:
        if name not in known:
            raise CallError(f'--only "{name}" is no adjuster of this scene; {suggestion(name, known)}')
    chosen = np.array([not only or bool(each & set(only)) for each in names])
    return chosen & (~bench.is_perch | riding)


def _check_effect(bench: Bench, start: Stand, aim: Aim, playing: Mask, *, riding: bool) -> None:
    """Complain of wants that nothing moves."""
    if riding and not bench.is_perch.any():
        raise CallError(
            "nothing in this scene sets the ride height; give the seat of a coilover's spring as an adjuster of kind "
            '"perch" (see docs/scene-file.md).'
        )
    slopes = aim.weights[:, None] * slopes_of(bench, start, riding=riding)[aim.rows]
    moved = np.abs(slopes[:, playing]).max(axis=1, initial=0.0)
    idle = [want.name for want, most in zip(aim.wants, moved, strict=True) if most < NO_EFFECT]
    if idle:
        names = list(dict.fromkeys(each.entry for each, plays in zip(bench.adjusters, playing, strict=True) if plays))
        raise CallError(
            f"no adjuster moves {joined(idle)} (there are: {', '.join(names) or 'none'}); want something else, or add "
            "an [adjust.NAME] that moves it."
        )


def _contradiction(aim: Aim, stand: Stand) -> str:
    missed = np.abs(aim.missed(stand))
    names = [want.name for want, miss in zip(aim.wants, missed, strict=True) if miss > REACHED]
    every = [want.name for want in aim.wants]
    what = joined(names if len(names) > 1 else every)
    return f"{what} cannot be had together: the adjusters move them together; leave one of them out or add an adjuster."
