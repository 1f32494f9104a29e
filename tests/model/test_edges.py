"""The edge of the usable travel: on every line of the grid that leaves it, inside, and nothing is left beyond."""

from __future__ import annotations

import numpy as np
import pytest
from zoo import built, scene_data

from model.edges import HALVINGS, edge_values
from model.errors import SceneError
from model.review import review
from model.solver import solve
from model.stops import inside
from model.travel import Travel, grid


def test_edges_are_inside_and_a_halving_farther_is_not() -> None:
    data = scene_data("wren_front")
    # Bottoms before the 70 mm of bump that the scene asks for.
    data["coilover"]["coilover"]["compressed"] = 331.2
    mechanism = built(data)
    poses = solve(mechanism, grid(mechanism, 5, 3))
    kept = inside(poses)
    assert 0 < np.count_nonzero(kept) < len(poses)
    edge = edge_values(poses, kept)
    assert len(edge) > 10
    assert inside(solve(mechanism, Travel(poses.travel.names, edge))).all()
    # Straight ahead a wheel's own line is left at one height, whatever the other does.
    steer, left = poses.travel.column("steer"), poses.travel.names.index("left")
    assert np.isin(edge[:, poses.travel.names.index("steer")], np.unique(steer)).any()
    level = edge[(edge[:, 2] == 0.0) & (edge[:, left] > 40.0)][:, left]
    heights = level[level < 69.0]
    assert len(heights)
    step = 35.0 / 2**HALVINGS
    assert np.ptp(heights) <= step + 1e-9
    beyond = Travel(poses.travel.names, np.array([[heights.max() + 2.0 * step, 0.0, 0.0]]))
    assert not inside(solve(mechanism, beyond)).any()


def test_a_stroke_is_judged_up_to_the_stop_and_not_to_the_last_pose_of_the_grid() -> None:
    data = scene_data("wren_front")
    data["coilover"]["coilover"]["compressed"] = 331.2
    mechanism = built(data)
    found = review(solve(mechanism, grid(mechanism, 5, 3)))
    stroke = next(one for one in found.verdict.findings if (one.what, one.where) == ("stroke in", "left coilover"))
    # All of the stroke is used at the stop, but for what the last halving leaves.
    assert stroke.limit is not None
    assert stroke.used == pytest.approx(stroke.limit, abs=0.2)
    assert stroke.used <= stroke.limit + 1e-6


def test_a_grid_that_lies_inside_has_no_edge() -> None:
    mechanism = built(scene_data("wren_rear"))
    poses = solve(mechanism, grid(mechanism, 3, 3))
    assert len(edge_values(poses, np.ones(len(poses), dtype=bool))) == 0


def test_a_spring_that_is_solid_at_ride_height_leaves_no_pose_to_judge() -> None:
    data = scene_data("wren_rear")
    spring = data["coilover"]["coilover"]["spring"]
    # Squeezed to its solid length with the damper at full length: any shorter and there is no room for the coils.
    spring["preload"] = spring["free_length"] - spring["solid_length"]
    mechanism = built(data)
    poses = solve(mechanism, grid(mechanism, 3, 3))
    with pytest.raises(SceneError, match=r"at ride height already \(spring goes solid, left coilover\)"):
        review(poses)
    assert review(poses, beyond=True).outside == 0
