"""Velocities from tangents against central differences of poses solved again, and against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from zoo import NAMES, built, pitman_scene, scene_data, short_steering_arm, trailing_arm, travel_of

from model.mechanism import Mechanism
from model.poses import Status
from model.solver import solve
from model.spatial import Array
from model.tangents import velocities


def _scene(name: str) -> Mechanism:
    return built(pitman_scene(parallelogram=False) if name == "pitman" else scene_data(name))


def _differences(mechanism: Mechanism, values: Array, column: int, step: float) -> Array:
    """Twists (B, N, 6) by differences of the fourth order over poses that are solved again."""
    solved = [solve(mechanism, travel_of(mechanism, values + k * step * np.eye(values.shape[1])[column]))
              for k in (-2, -1, 0, 1, 2)]  # fmt: skip
    assert all((poses.status == Status.SOLVED).all() for poses in solved)

    def slope(kind: str) -> Array:
        two_below, below, _, above, two_above = (np.asarray(getattr(poses, kind)) for poses in solved)
        return (8.0 * (above - below) - (two_above - two_below)) / (12.0 * step)

    here = solved[2]
    # R' = [w ×] R and t' = v + w × t.
    spin = slope("rotation") @ np.swapaxes(here.rotation, -1, -2)
    turn = 0.5 * np.stack(
        [spin[..., 2, 1] - spin[..., 1, 2], spin[..., 0, 2] - spin[..., 2, 0], spin[..., 1, 0] - spin[..., 0, 1]],
        axis=-1,
    )
    return np.concatenate([slope("translation") - np.cross(turn, here.translation), turn], axis=-1)


@pytest.mark.parametrize("name", [*NAMES, "pitman"])
def test_velocities_are_what_poses_solved_again_differ_by(name: str) -> None:
    mechanism = _scene(name)
    chance = np.random.default_rng(7)
    low, high = (np.array([getattr(drive, end) for drive in mechanism.drives]) for end in ("low", "high"))
    values = low + (high - low) * chance.uniform(0.03, 0.97, size=(12, len(low)))
    found = velocities(solve(mechanism, travel_of(mechanism, values)))
    for column in range(len(low)):
        # The solver's 1e-9 mm over a step of 1 mm (or 2 % of the lock), and step⁴ times fifth derivatives: 1e-9.
        step = 0.02 if column == mechanism.steer else 1.0
        wanted = _differences(mechanism, values, column, step)
        for part, unit in ((slice(0, 3), 1.0), (slice(3, 6), 1e-3)):
            # Of a body that hardly moves, of what 1 mm of a wheel is: a share of 1 mm, and of 1 mm over a metre.
            size = np.maximum(np.linalg.norm(wanted[..., part], axis=-1), unit)
            off = np.linalg.norm(found[column, ..., part] - wanted[..., part], axis=-1)
            assert (off / size).max() < 1e-6, (mechanism.drives[column].name, part)


def test_a_trailing_arm_turns_by_one_over_its_reach() -> None:
    mechanism = built(trailing_arm(400.0))
    heights = np.array([-90.0, 0.0, 70.0])
    found = velocities(solve(mechanism, travel_of(mechanism, heights)))[0, mechanism.body_number("trailing arm")]
    # D: sin θ = height / 400; the arm turns about the pivots' line, at x = 400 and z = 300, nose up as the wheel rises.
    rate = 1.0 / np.sqrt(400.0**2 - heights**2)
    assert np.abs(found[:, 3:] - rate[:, None] * [0.0, 1.0, 0.0]).max() < 1e-12
    # What would be at the origin goes round that line too: v = −w × pivot.
    assert np.abs(found[:, :3] - rate[:, None] * [-300.0, 0.0, 400.0]).max() < 1e-9


def test_a_part_that_does_not_feel_a_drive_does_not_move_and_a_locked_pose_has_no_velocity() -> None:
    mechanism = built(short_steering_arm())
    poses = solve(mechanism, travel_of(mechanism, np.array([[0.0, 0.0, 0.3], [0.0, 0.0, -1.0]])))
    assert poses.status.tolist() == [Status.SOLVED, Status.LOCKED]
    found = velocities(poses)
    left, right = (mechanism.body_number(f"{side} upright") for side in ("left", "right"))
    drives = {drive.name: number for number, drive in enumerate(mechanism.drives)}
    assert np.abs(found[drives["left"], right, 0]).max() == 0.0
    assert np.abs(found[drives["left"], left, 0]).max() > 0.5
    # D: the scene's lock of 58 mm for the whole of it, along the rack.
    slid = found[drives["steer"], mechanism.body_number("rack"), 0]
    assert np.abs(slid) == pytest.approx([0.0, 58.0, 0.0, 0.0, 0.0, 0.0])
    assert np.isnan(found[:, :, 1]).all()
