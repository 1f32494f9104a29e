"""A million poses stay in bounded memory: solved and judged in a process of their own, whose peak the system counts."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

RATIOS = Path(__file__).parents[1] / "benchmarks" / "ratios.py"
# The promise of the project: under 1.5 GB for a million poses, the program itself and NumPy included.
MOST = 1.5e9


@pytest.mark.slow
@pytest.mark.parametrize(
    ("scene", "wheel_steps", "steer_steps", "poses"),
    [("wren_rear", 1001, 3, 1_002_001), ("wren_front", 101, 101, 1_030_301)],
)
def test_a_million_poses_stay_under_one_and_a_half_gigabytes(
    scene: str, wheel_steps: int, steer_steps: int, poses: int
) -> None:
    command = [sys.executable, str(RATIOS), "--million", scene, str(wheel_steps), str(steer_steps)]
    done = subprocess.run(command, check=True, capture_output=True, text=True, timeout=300)
    million = json.loads(done.stdout)
    assert million["poses"] == poses
    assert million["locked"] == 0
    assert million["residual_mm"] <= 1e-9  # the solver's promise
    assert 1e8 < million["peak_bytes"] < MOST
