"""Against exudyn, a general multibody code: every arm is a rigid body on a hinge there, every strut a real slide.

The models are built from point coordinates alone. Positions agree within 1e-6 mm: exudyn works in metres, and its
Newton iteration stops at a residual of 1e-13 m, which a linkage this well held turns into less than 1e-9 m.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from exudyn_rig import MIRROR, Rig
from zoo import built, scene_data

from model.members import point_positions, posture
from model.poses import Status
from model.solver import solve
from model.spatial import Array
from model.travel import grid

AGREE = 1e-6


def _points(data: dict[str, Any]) -> dict[str, Array]:
    return {name: np.array(at, dtype=float) for name, at in data["points"].items()}


def _compare(name: str, rig: Rig, watched: dict[str, tuple[Any, Array]], steps: tuple[int, int]) -> None:
    """Our positions of the watched points over the grid against the rig's."""
    mechanism = built(scene_data(name))
    poses = solve(mechanism, grid(mechanism, *steps))
    assert (poses.status == Status.SOLVED).all()
    ours = point_positions(mechanism, posture(poses).parts)
    theirs = np.stack(list(rig.run(_driven_values(rig, poses.travel.values), list(watched.values()))), axis=1)
    for (point, (_, ride)), track in zip(watched.items(), theirs, strict=True):
        # A point that stood still would agree with anything: the watched ones move by millimetres and more.
        assert np.linalg.norm(track - ride, axis=-1).max() > 5.0, point
        assert np.abs(ours[point] - track).max() < AGREE, point


def _driven_values(rig: Rig, values: Array) -> Array:
    """Drive values in the order in which the rig's points are driven: left height, right height, then the rack."""
    if values.shape[1] == 2:
        return values
    return np.hstack([values[:, :2], np.repeat(values[:, 2:], len(rig.driven) - 2, axis=1)])


@pytest.mark.parametrize("name", ["wren_rear", "tarn_rear"])
def test_live_axle_on_four_links(name: str) -> None:
    at = _points(scene_data(name))
    rig = Rig()
    axle = rig.body(np.array([0.0, 0.0, at["wheel_centre"][2]]))
    rig.height(axle, at["wheel_centre"])
    rig.height(axle, at["wheel_centre"] * MIRROR)
    bars = [(at["lower_front"], at["lower_rear"])]
    if name == "tarn_rear":
        bars.append((at["upper_front"], at["upper_rear"]))
    bars += [(front * MIRROR, rear * MIRROR) for front, rear in bars]
    if name == "wren_rear":
        bars += [(at["upper_front"], at["upper_rear"]), (at["panhard_frame"], at["panhard_axle"])]
    for front, rear in bars:
        rig.bar(rig.ground, front, axle, rear)
    watched = {
        f"{side} {point}": (axle, at[point] * mirror)
        for side, mirror in (("left", 1.0), ("right", MIRROR))
        for point in ("wheel_centre", "lower_rear", "coilover_foot")
    }
    _compare(name, rig, watched | {"pinion_flange": (axle, at["pinion_flange"])}, (5, 3))


def test_arms_with_tie_rods_and_a_rack() -> None:
    at = _points(scene_data("wren_front"))
    rig = Rig()
    corners = {}
    for side, mirror in (("left", np.ones(3)), ("right", MIRROR)):
        knuckle = rig.body(at["wheel_centre"] * mirror)
        rig.height(knuckle, at["wheel_centre"] * mirror)
        corners[side] = (knuckle, mirror)
    watched = {}
    # The rack sits behind the axle, so steering to the left slides it to the right, by 58 mm at full lock.
    rack = np.array([0.0, -58.0, 0.0])
    for side, (knuckle, mirror) in corners.items():
        arms = {
            which: rig.arm(
                (at[f"{which}_front_pivot"] * mirror, at[f"{which}_rear_pivot"] * mirror),
                at[f"{which}_ball"] * mirror,
                knuckle,
            )
            for which in ("lower", "upper")
        }
        rig.bar(rig.ground, at["rack_end"] * mirror, knuckle, at["tie_rod_outer"] * mirror, driven=rack)
        for point in ("wheel_centre", "lower_ball", "upper_ball", "tie_rod_outer"):
            watched[f"{side} {point}"] = (knuckle, at[point] * mirror)
        watched[f"{side} coilover_foot"] = (arms["lower"], at["coilover_foot"] * mirror)
    _compare("wren_front", rig, watched, (5, 5))


def test_struts_with_lower_arms_and_a_rack() -> None:
    at = _points(scene_data("parcel_front"))
    rig = Rig()
    corners = {}
    for side, mirror in (("left", np.ones(3)), ("right", MIRROR)):
        knuckle = rig.body(at["wheel_centre"] * mirror)
        rig.height(knuckle, at["wheel_centre"] * mirror)
        corners[side] = (knuckle, mirror)
    watched = {}
    rack = np.array([0.0, -72.0, 0.0])
    for side, (knuckle, mirror) in corners.items():
        rig.arm((at["arm_front_pivot"] * mirror, at["arm_rear_pivot"] * mirror), at["lower_ball"] * mirror, knuckle)
        shaft = rig.body(at["strut_top"] * mirror)
        rig.slide(knuckle, shaft, (at["strut_foot"] * mirror, at["strut_top"] * mirror))
        rig.ball(rig.ground, shaft, at["strut_top"] * mirror)
        rig.bar(rig.ground, at["rack_end"] * mirror, knuckle, at["tie_rod_outer"] * mirror, driven=rack)
        for point in ("wheel_centre", "lower_ball", "strut_foot", "tie_rod_outer"):
            watched[f"{side} {point}"] = (knuckle, at[point] * mirror)
    _compare("parcel_front", rig, watched, (5, 5))
