"""Wheel rates against exudyn, a general multibody code: how much harder its wheels are held when they are raised.

The models are built from point coordinates alone, with springs between the coilovers' eyes and the wheels held at their
heights; the rate is the difference of the forces that hold them, a little above and below.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from exudyn_rig import MIRROR, Rig
from zoo import built, scene_data

from model.curves import curve
from model.mechanism import Mechanism
from model.solver import solve
from model.spatial import Array
from model.travel import Travel

# mm above and below. Over lengths L of 300 mm and more the difference leaves out some (step/L)² = 4e-5 of the rate;
# what was asked for is a thousandth.
STEP = 2.0
AGREE = 1e-3
HEIGHTS = (-40.0, 0.0, 40.0)
SIDES = (("left", np.ones(3)), ("right", MIRROR))


def _points(data: dict[str, Any]) -> dict[str, Array]:
    return {name: np.array(at, dtype=float) for name, at in data["points"].items()}


def _sprung(rig: Rig, data: dict[str, Any], side: Array, lower: Any) -> None:
    """The coilover's spring between the frame and what carries its foot."""
    at, unit = _points(data), data["coilover"]["coilover"]
    ends = (at[unit[key]["point"]] * side for key in ("top", "bottom"))
    top, bottom = ends
    rig.spring(rig.ground, top, lower, bottom, unit["spring"]["rate"], unit["extended"] + unit["spring"]["preload"])


def _rates(rig: Rig, watched: list[tuple[Any, Array]]) -> Array:
    """Rate (H, 2) in N/mm of both wheels at some heights, moved together."""
    values = [[height + way * STEP] * 2 for height in HEIGHTS for way in (-1.0, 1.0)]
    held = np.array([rig.holding() for _ in rig.run(np.array(values), watched)])
    return np.asarray((held[1::2] - held[::2]) / (2.0 * STEP))


def _ours(mechanism: Mechanism) -> Array:
    values = np.zeros((len(HEIGHTS), len(mechanism.drives)))
    names = tuple(drive.name for drive in mechanism.drives)
    for wheel in ("left", "right"):
        values[:, names.index(wheel)] = HEIGHTS
    poses = solve(mechanism, Travel(names, values))
    return np.stack([curve(poses, "wheel rate", f"{side} wheel").values for side, _ in SIDES], axis=-1)


@pytest.mark.parametrize("name", ["wren_rear", "tarn_rear"])
def test_live_axles(name: str) -> None:
    data = scene_data(name)
    at, rig = _points(data), Rig()
    axle = rig.body(np.array([0.0, 0.0, at["wheel_centre"][2]]))
    for entry in data["link"].values():
        ends = [at[entry[key]["point"]] for key in ("from", "to")]
        for _, side in SIDES if entry.get("mirror") else SIDES[:1]:
            rig.bar(rig.ground, ends[0] * side, axle, ends[1] * side)
    for _, side in SIDES:
        _sprung(rig, data, side, axle)
        rig.height(axle, at["wheel_centre"] * side)
    theirs, ours = _rates(rig, [(axle, at["wheel_centre"])]), _ours(built(data))
    assert theirs.min() > 5.0
    assert ours == pytest.approx(theirs, rel=AGREE)


def test_coilovers_on_lower_arms() -> None:
    data = scene_data("wren_front")
    at, rig, watched = _points(data), Rig(), []
    for _, side in SIDES:
        upright = rig.body(at["wheel_centre"] * side)
        lower, _ = (
            rig.arm(
                (at[f"{arm}_front_pivot"] * side, at[f"{arm}_rear_pivot"] * side), at[f"{arm}_ball"] * side, upright
            )
            for arm in ("lower", "upper")
        )
        rig.bar(rig.ground, at["rack_end"] * side, upright, at["tie_rod_outer"] * side)
        _sprung(rig, data, side, lower)
        rig.height(upright, at["wheel_centre"] * side)
        watched.append((upright, at["wheel_centre"] * side))
    theirs, ours = _rates(rig, watched), _ours(built(data))
    assert theirs.min() > 5.0
    assert ours == pytest.approx(theirs, rel=AGREE)
