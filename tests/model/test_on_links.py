"""A coilover on a two-ended link: how fast it shortens against poses solved again, and where it may sit.

That it may only sit on the line of the link's ends follows from statics (D): a link with a joint at either end carries
no moment about that line, so that a force beside it turns the link until something stops it.
"""

from __future__ import annotations

import copy

import numpy as np
import pytest
from zoo import LOWER_FRONT, LOWER_REAR, built, on_link, scene_data, travel_of

from model.errors import SceneError
from model.members import posture
from model.motionratio import motion_ratios
from model.rates import shortening
from model.solver import solve
from model.tangents import part_velocity, point_velocity, velocities


def test_the_ratio_on_a_link_is_what_poses_solved_again_differ_by() -> None:
    mechanism = built(on_link(0.7))
    chance, step = np.random.default_rng(3), 0.5
    values = chance.uniform(-150.0, 150.0, size=(8, 2))
    poses = solve(mechanism, travel_of(mechanism, values))
    moving, unit_ = velocities(poses), mechanism.coilovers[0]
    length, rates = shortening(poses, moving, unit_)
    assert length == pytest.approx(posture(poses).strokes[0].length, abs=1e-9)
    for column in range(2):
        lengths = [
            posture(solve(mechanism, travel_of(mechanism, values + k * step * np.eye(2)[column]))).strokes[0].length
            for k in (-2, -1, 1, 2)
        ]
        slope = (8.0 * (lengths[2] - lengths[1]) - (lengths[3] - lengths[0])) / (12.0 * step)
        # The solver's 1e-9 mm over a step of 0.5 mm, and step⁴ times fifth derivatives, are below 1e-7.
        assert rates[column] == pytest.approx(-slope, abs=1e-7)


def test_a_point_of_a_link_moves_in_proportion_between_its_ends() -> None:
    mechanism = built(on_link(0.7))
    poses = solve(mechanism, travel_of(mechanism, np.array([[60.0, -40.0], [0.0, 0.0]])))
    moving = velocities(poses)
    placed = posture(poses).parts["left lower link"]
    twist = part_velocity(poses, moving, "left lower link")
    near, middle, far = (
        point_velocity(twist, placed.point(LOWER_FRONT + share * (LOWER_REAR - LOWER_FRONT)))
        for share in (0.0, 0.7, 1.0)
    )
    assert near == pytest.approx(np.zeros_like(near), abs=1e-12)  # bolted to the frame
    assert middle == pytest.approx(0.7 * far, abs=1e-12)


def test_the_nearer_to_the_frame_the_smaller_the_ratio() -> None:
    ride = [motion_ratios(built(on_link(share)))[0].ride for share in (0.9, 0.7, 0.5)]
    assert ride == sorted(ride, reverse=True)


@pytest.mark.parametrize(("off", "right"), [(0.0, True), (2.9, True), (3.2, False), (-40.0, False)])
def test_a_coilover_off_the_line_of_its_link_is_refused(off: float, right: bool) -> None:
    if right:
        assert built(on_link(0.7, off)).coilovers[0].bottom.on == "left lower link"
        return
    with pytest.raises(SceneError) as raised:
        built(on_link(0.7, off))
    (sentence,) = raised.value.complaints
    assert sentence.startswith('[coilover."coilover"] bottom.point is ')
    assert 'off the line of "lower link"' in sentence
    named = np.array([float(number) for number in sentence.partition("nearest at [")[2].partition("]")[0].split(",")])
    line = (LOWER_REAR - LOWER_FRONT) / np.linalg.norm(LOWER_REAR - LOWER_FRONT)
    assert np.linalg.norm(np.cross(named - LOWER_FRONT, line)) < 0.1  # it is printed to five digits


def test_a_coilover_on_an_end_link_is_refused() -> None:
    data = copy.deepcopy(scene_data("wren_front"))
    data["coilover"]["coilover"]["bottom"] |= {"on": "end link", "point": "end_link_foot"}
    with pytest.raises(SceneError, match="moves an anti-roll bar and holds nothing"):
        built(data)
