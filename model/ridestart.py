"""Where every walk starts: how a group of bodies stands at ride height.

Rigid links stand there as they are drawn. Bushes that were tightened elsewhere are wound up there (`model.preload`)
and push the parts aside; from where no bush is wound up they are wound step by step, as a walk goes, so that the
rest at ride height is the one next to the drawing and no other.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from model.bushings import give_of
from model.constraints import System, evaluate, jacobian, ride_state
from model.equilibrium import balance, relaxed, ride_tangent, unwound
from model.mechanism import Mechanism
from model.newton import Before
from model.spatial import Array

# Winding goes on by at least this share of the whole: bushes that push the parts out of the way faster let go of them.
LEAST_SHARE = 2.0**-12


@dataclass(frozen=True, eq=False)
class Start:
    """Transforms (S, 3, 4, 1) of a group at ride height and its forces (m + f, 1) as in `model.equilibrium`.

    `wound` is the share of what its bushes are wound up there with which it still stands, 1 where it does with all.
    `side` is the sign of the determinant that changes where a linkage passes through a dead centre.
    """

    state: Array
    force: Array
    wound: float
    side: float


@lru_cache(maxsize=32)
def ride_start(mechanism: Mechanism, system: System) -> Start:
    """How a group stands at ride height."""
    give, drives = give_of(mechanism, system), np.zeros((len(mechanism.drives), 1))
    state, force, share = ride_state(system, 1), relaxed(system, give, 1), 1.0
    if not give.members:
        side = np.linalg.det(jacobian(system, evaluate(system, state, drives)[1])[0])
        return Start(state, force, share, float(np.sign(side)))
    side = np.linalg.slogdet(ride_tangent(system, give, len(drives)))[0]
    if give.wound.any():
        share, step = 0.0, 1.0
        while share < 1.0 and step >= LEAST_SHARE:
            ahead = min(share + step, 1.0)
            trial, pull, before = state.copy(), force.copy(), Before(drives, None, alike=True)
            if balance(system, unwound(give, ahead), trial, pull, drives, before, unwound(give, share)).converged[0]:
                state, force, share, step = trial, pull, ahead, 2.0 * step
            else:
                step *= 0.5
    return Start(state, force, share, float(side))
