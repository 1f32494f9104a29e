"""Members measured once for many poses: what they feel, and that nothing shows of it."""

from __future__ import annotations

import numpy as np
import pytest
from zoo import NAMES, built, pitman_scene, scene_data, travel_of

from model import sharing
from model.mechanism import Mechanism
from model.members import Posture, posture
from model.poses import Poses, Status
from model.sharing import Sight, drives_felt
from model.solver import solve
from model.travel import grid


def test_a_side_that_is_sprung_apart_feels_its_own_wheel_and_the_steering() -> None:
    felt = drives_felt(built(scene_data("wren_front")))
    assert felt["frame"] == set()
    assert felt["rack"] == {2}
    assert (felt["left upright"], felt["right upright"]) == ({0, 2}, {1, 2})


def test_a_live_axle_feels_both_wheels() -> None:
    assert drives_felt(built(scene_data("wren_rear")))["axle"] == {0, 1}


def test_of_the_grid_a_side_sees_each_of_its_own_poses_once() -> None:
    mechanism = built(scene_data("wren_front"))
    poses = solve(mechanism, grid(mechanism, 5, 3))
    sight = Sight.of(poses, frozenset({0, 2}))
    assert sight.first is not None
    assert sight.where is not None
    assert (len(sight.first), len(sight.where)) == (5 * 3, 5 * 5 * 3)
    values = poses.travel.values
    assert (values[sight.first][sight.where][:, [0, 2]] == values[:, [0, 2]]).all()
    # With all drives felt, or nearly every pose different, there is nothing to share.
    assert Sight.of(poses, frozenset({0, 1, 2})).first is None
    alone = poses.take(np.arange(1))
    assert Sight.of(alone, frozenset({0})).first is None


def _same(one: Posture, other: Posture) -> None:
    """To a few roundings: BLAS sums batches of other sizes in other orders."""
    assert list(one.parts) == list(other.parts)
    for name, part in one.parts.items():
        assert np.abs(part.rotation - other.parts[name].rotation).max() <= 1e-12, name
        assert np.abs(part.translation - other.parts[name].translation).max() <= 1e-10, name
    for first, second in zip(one.joints, other.joints, strict=True):
        assert (first.member, first.end.place) == (second.member, second.end.place)
        for array in ("tilt", "turn", "at"):
            assert np.abs(getattr(first, array) - getattr(second, array)).max() <= 1e-9, first.member
    for stroke, twin in zip(one.strokes, other.strokes, strict=True):
        assert np.abs(stroke.length - twin.length).max() <= 1e-10
    for arm, twin_arm in zip(one.bar_arms, other.bar_arms, strict=True):
        assert np.abs(arm.turn - twin_arm.turn).max() <= 1e-12
    for room, twin_room in zip(one.spin_rooms, other.spin_rooms, strict=True):
        # The arc cosine near 1 loses half the digits.
        assert np.abs(room.width - twin_room.width).max() <= 1e-7


def _without_sharing(poses: Poses, monkeypatch: pytest.MonkeyPatch) -> Posture:
    with monkeypatch.context() as patch:
        patch.setattr(sharing, "WORTH_SHARING", 0.0)
        return posture(poses)


@pytest.mark.parametrize("name", [*NAMES, "pitman"])
def test_shared_poses_show_nowhere(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    mechanism = built(pitman_scene(parallelogram=True) if name == "pitman" else scene_data(name))
    poses = solve(mechanism, grid(mechanism, 5, 3))
    _same(posture(poses), _without_sharing(poses, monkeypatch))


def _locking() -> Mechanism:
    data = scene_data("wren_front")
    data["travel"] = {"bump": 300, "droop": 300}
    data["bar"], data["link"] = {}, {"tie rod": data["link"]["tie rod"]}
    return built(data)


def test_locked_poses_are_shared_by_where_they_stand(monkeypatch: pytest.MonkeyPatch) -> None:
    mechanism = _locking()
    poses = solve(mechanism, grid(mechanism, 5, 3))
    assert (poses.status == Status.LOCKED).any()
    assert (poses.status == Status.SOLVED).any()
    _same(posture(poses), _without_sharing(poses, monkeypatch))


def test_a_part_is_the_same_each_time_it_is_asked_for() -> None:
    mechanism = built(scene_data("wren_front"))
    now = posture(solve(mechanism, travel_of(mechanism, np.zeros((4, 3)))))
    assert now.parts["left lower arm"] is now.parts["left lower arm"]
    assert "left lower arm" in now.parts
    assert "no such arm" not in now.parts
    assert len(now.parts) == len(list(now.parts))
