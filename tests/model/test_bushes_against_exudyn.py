"""Linkages that are held twice over, against exudyn's static solutions with a 6×6 bush at every joint.

Every link and arm is a rigid body there too. exudyn takes the rotation in a bush as three angles in sequence, turn
last, ours as swing and twist; they differ by the product of the two angles, some per cent of a moment at 10° of turn.
"""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from exudyn_rig import MIRROR, Rig
from zoo import ALONG, built, scene_data, travel_of

from model.mechanism import Mechanism
from model.poses import Status
from model.solver import solve
from model.spatial import Array, norm

# Both wheels up and down, crossed up both ways, one wheel alone: as shares of full bump and droop.
SHARES = np.array([[1.0, 1.0], [-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0], [1.0, 0.0], [0.0, -1.0], [0.4, -0.3]])


def _on_the_axle(name: str) -> dict[str, Any]:
    """A scene's axle with the wheels fixed to it: no knuckles, no steering."""
    data = copy.deepcopy(scene_data(name))
    data["wheel"]["wheel"]["on"] = "axle"
    for table in ("knuckle", "steering"):
        data.pop(table, None)
    for link in ("drag link", "tie rod"):
        data["link"].pop(link, None)
    return data


def _poses(mechanism: Mechanism) -> Array:
    drive = mechanism.drives[0]
    return np.where(SHARES > 0.0, drive.high, -drive.low) * SHARES


def _rig(data: dict[str, Any], mechanism: Mechanism) -> Rig:
    """Bodies and bushes from the scene's own table, in the order in which the mechanism has its bushings."""
    at = {name: np.array(point, dtype=float) for name, point in data["points"].items()}
    rig = Rig()
    axle = rig.body(np.array([0.0, 0.0, at["wheel_centre"][2]]))
    rig.height(axle, at["wheel_centre"])
    rig.height(axle, at["wheel_centre"] * MIRROR)
    bodies = {"frame": rig.ground, "axle": axle}
    for bushing in mechanism.bushings:
        end = bushing.end
        bodies.setdefault(bushing.member, None)
        if bodies[bushing.member] is None:
            others = [other.end.at for other in mechanism.bushings if other.member == bushing.member]
            bodies[bushing.member] = rig.body(np.mean(others, axis=0))
        rates = data["joint"][end.joint.name]["rates"]
        rig.bush(bodies[end.on], bodies[bushing.member], end.at, end.bolt, rates)
    return rig


@pytest.mark.parametrize("name", ["parcel_rear", "tarn_front"])
def test_holding_forces_and_bush_deflections_agree_within_one_per_cent(name: str) -> None:
    data = _on_the_axle(name)
    mechanism = built(data)
    values = _poses(mechanism)
    poses = solve(mechanism, travel_of(mechanism, values))
    assert (poses.status == Status.SOLVED).all()
    holding = poses.holding
    assert holding is not None
    rig = _rig(data, mechanism)
    ours = norm(holding.deflection), norm(holding.force)
    for pose, _ in enumerate(rig.run(values, [(rig.ground, ALONG)])):
        drive = rig.holding()
        assert np.abs(holding.drive[:, pose] - drive).max() <= 0.01 * np.abs(drive).max()
        for mine, theirs in zip(ours, rig.strained(), strict=True):
            there = np.linalg.norm(theirs, axis=1)
            # Of the largest: a bush that does next to nothing is told apart from nothing no better.
            assert np.abs(mine[:, pose] - there).max() <= 0.01 * there.max()
