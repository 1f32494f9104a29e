"""Axles on links that give are not carried over the end of one rest into another: against walks in small steps."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from zoo import axle_scene, built, travel_of

from model.bushings import give_of
from model.constraints import ride_state, systems
from model.equilibrium import balance, relaxed
from model.mechanism import Mechanism
from model.newton import Before
from model.poses import Status
from model.solver import BACK_OFF, SMALLEST_STEP, solve
from model.spatial import Array

# Ends of the travel, as shares of bump of the left and the right wheel.
ENDS = np.array([[1.0, 1.0], [-1.0, -1.0], [1.0, -1.0], [1.0, 0.0], [-1.0, 0.5]])
# The reference walks in at least so many steps, and none of them moves a body by more than this, in mm.
STEPS, MOST = 64, 12.0


def _axle(seed: int) -> Mechanism:
    """An axle on five links at random, one too many, on rod ends or on bushes of 100 to 30,000 N/mm."""
    chance = np.random.default_rng(seed)
    pick = chance.uniform
    links: dict[str, Any] = {
        "near lower": (
            (pick(150, 600), pick(300, 500), 300 + pick(-100, 100)),
            (20, pick(350, 500), 240 + pick(-40, 40)),
        ),
        "far lower": (
            (pick(150, 600), -pick(300, 500), 300 + pick(-100, 100)),
            (20, -pick(350, 500), 240 + pick(-40, 40)),
        ),
        "upper": ((pick(150, 500), pick(-300, 300), 430 + pick(-80, 80)), (-10, pick(-200, 200), 420 + pick(-60, 60))),
        "upper two": (
            (pick(150, 500), pick(-300, 300), 430 + pick(-80, 80)),
            (-10, pick(-200, 200), 420 + pick(-60, 60)),
        ),
        "panhard": ((-120, pick(0, 450), 310 + pick(-150, 150)), (-120, -pick(50, 420), 300 + pick(-40, 40))),
    }
    data = axle_scene(links, pick(100, 400))
    radial, kind = 10 ** pick(2, 4.5), chance.integers(3)
    if kind:
        rates = {
            "radial": radial,
            "axial": radial * pick(0.1, 0.5),
            "turn": 10 ** pick(-2, 1),
            "cock": 10 ** pick(-2, 1),
        }
        data["joint"] = {"bush": {"kind": "rubber bush", "turn": 25, "cock": 5, "source": "made up", "rates": rates}}
        for link in data["link"].values():
            if kind == 1 or chance.random() < 0.5:
                link["from"]["joint"] = link["to"]["joint"] = "bush"
    return built(data)


def _small_steps(mechanism: Mechanism, values: Array) -> tuple[Array, Array]:
    """How far (N,) walks in small steps to drive values (N, D) get, and the transforms (S, 3, 4, N) there."""
    (system,) = systems(mechanism)
    give, n, drives = give_of(mechanism, system), len(values), values.T
    state, force = ride_state(system, n), relaxed(system, give, n)
    reached, step, going = np.zeros(n), np.full(n, 1.0 / STEPS), np.arange(n)
    while len(going):
        share = np.minimum(reached[going] + step[going], 1.0)
        trial, pull = state[..., going], force[:, going]
        before = Before(drives[:, going] * reached[going], None, alike=False)
        good = balance(system, give, trial, pull, drives[:, going] * share, before).converged
        good &= np.abs(trial - state[..., going])[: system.free, :, 3].max(axis=(0, 1)) < MOST
        arrived = going[good]
        state[..., arrived], force[:, arrived], reached[arrived] = trial[..., good], pull[:, good], share[good]
        step[going[~good]] *= 0.5
        step[arrived] = np.minimum(2.0 * step[arrived], 1.0 / STEPS)
        going = going[(reached[going] < 1.0) & (step[going] >= SMALLEST_STEP)]
    return reached, state


# The axle of seed 30 snaps half-way down; a step from ride height would land, well converged, on what lies beyond.
@pytest.mark.parametrize("seed", [28, 29, 30, 31])
def test_a_walk_ends_where_small_steps_do(seed: int) -> None:
    mechanism = _axle(seed)
    (system,) = systems(mechanism)
    values = mechanism.drives[0].high * ENDS
    poses = solve(mechanism, travel_of(mechanism, values))
    reached, state = _small_steps(mechanism, values)
    assert ((poses.status == Status.LOCKED) == (reached < 1.0)).all()
    # What is given of a locked pose is backed off from its last place; both walks stop within their smallest steps.
    assert np.abs(poses.reached - np.where(reached < 1.0, BACK_OFF, 1.0) * reached).max() < 1e-3
    whole = reached == 1.0
    slots = list(system.bodies[: system.free])
    turned = np.moveaxis(state[: system.free, :, :3], -1, 1)[:, whole]
    # Forces balanced to a millionth of a newton leave soft bushes good to some 1e-6 mm; rotations count over a metre.
    assert np.abs(poses.rotation[slots][:, whole] - turned).max() < 1e-7
