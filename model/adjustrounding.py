"""Settings that adjusters can be put to, next to exact ones: the best of all combinations, with few shims."""

from __future__ import annotations

from itertools import product

import numpy as np

from model.adjustable import Adjuster
from model.adjustsearch import LEAST_TURNING, Aim, Mask, mm_of, slopes_of
from model.adjuststand import Bench, Stand
from model.spatial import Array

# Mm, weighted: to be off by as much, a twenty-fifth of a degree at the tread, makes up for one shim more in a stack.
A_PIECE = 0.2
# Combinations of rounded settings that are compared; of more, those are left out that are worst by themselves.
MOST_COMBINATIONS = 65536


def rounded(bench: Bench, exact: Stand, aim: Aim, playing: Mask, *, riding: bool) -> Array:
    """The settings (A,) next to the exact ones that the adjusters can be put to and that miss the wants by least.

    Stacks of shims miss them by a little more where that saves pieces: m² + `A_PIECE`² × pieces is least, m what is
    missed, so that the two sides are judged apart.
    """
    slopes = slopes_of(bench, exact, riding=riding)
    wanted = aim.weights[:, None] * slopes[aim.rows]
    kept = aim.kept_weights[:, None] * slopes[aim.kept_rows]
    numbers = np.flatnonzero(playing)
    players = [bench.adjusters[number] for number in numbers]
    most = max(int(MOST_COMBINATIONS ** (1.0 / max(len(numbers), 1))), 1)
    felt = np.hypot(np.linalg.norm(wanted, axis=0), np.linalg.norm(kept, axis=0))
    choices = [
        _best(each, float(exact.settings[number]), float(felt[number]), most)
        for number, each in zip(numbers, players, strict=True)
    ]
    settings = exact.settings.copy()
    every = np.array(list(product(*choices))).reshape(-1, len(numbers))
    off = every - exact.settings[numbers]
    missed = aim.missed(exact) + off @ wanted[:, numbers].T
    strayed = off @ kept[:, numbers].T  # from where exact settings leave it
    pieces = [[each.pieces(setting) for setting in some] for each, some in zip(players, choices, strict=True)]
    cost = (missed**2).sum(axis=1) + (strayed**2).sum(axis=1)
    cost += A_PIECE**2 * np.array(list(product(*pieces))).sum(axis=1)
    # Of what does alike, what is turned least.
    cost += LEAST_TURNING * np.abs(every * mm_of(bench)[numbers]).sum(axis=1)
    settings[numbers] = every[int(cost.argmin())]
    return settings


def _best(adjuster: Adjuster, exact: float, felt: float, most: int) -> list[float]:
    """The settings next to an exact one that are best by themselves; `felt` is mm, weighted, for a unit of them."""

    def cost(setting: float) -> tuple[float, float]:
        off = abs(setting - exact)
        return (felt * off) ** 2 + A_PIECE**2 * adjuster.pieces(setting), off

    return sorted(adjuster.choices(exact), key=cost)[:most]
