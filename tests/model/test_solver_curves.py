"""Corners and axles of every shape against a brute force that follows the curve of their poses in steps of 1 mm."""

from __future__ import annotations

import numpy as np
import pytest
from along_curve import Corners, follow
from zoo import UP, travel_of

from model.mechanism import Anchor, Body, Distance, Drive, Mechanism, Motion, Offset, Row, Screw
from model.poses import Poses, Status
from model.solver import BACK_OFF, solve

# The brute force says where a curve turns back to what is left at the last of its steps: half a step from the fold of a
# curve of some 10 mm radius that is 0.1 mm or less of some 100 mm of travel. The walk backs off by 0.1 %.
NEAR = 2e-3 + 1.0 - BACK_OFF
HEIGHTS = 4

# Frame ends, knuckle ends and wheel centre of bars: lower arm (two), upper arm (two), tie rod. Invented.
FRAME = np.array([[140, 270, 195], [-160, 270, 190], [-75, 345, 376], [-275, 345, 368], [-105, 281, 228]], dtype=float)
ARMS = np.array([[8, 612, 185], [8, 612, 185], [-20, 582, 400], [-20, 582, 400], [-118, 582, 228]], dtype=float)
FIVE = np.array([[8, 612, 185], [-40, 600, 190], [20, 590, 400], [-40, 582, 400], [-118, 582, 228]], dtype=float)
HUB = np.array([[0, 670, 285]], dtype=float)
AXLE = np.array([[600, 400, 300], [600, -400, 300], [450, 250, 430], [450, -250, 430]], dtype=float)
BEAM = np.array([[20, 450, 240], [20, -450, 240], [-10, 120, 420], [-10, -120, 420]], dtype=float)
HUBS = np.array([[0, 700, 300], [0, -700, 300]], dtype=float)


def _mechanism(corners: Corners, number: int) -> Mechanism:
    frame, body, slide, wheels = (
        values[number] for values in (corners.frame, corners.body, corners.slide, corners.wheels)
    )
    bodies = [Body("frame", Motion.FIXED), Body("knuckle", Motion.FREE)]
    drives = [Drive(side, -500.0, 500.0) for side in ("left", "right")[: len(wheels)]]
    on = np.where(np.abs(slide).max(axis=1) > 0.0, 2, 0)
    if on.any():
        lock = float(np.linalg.norm(slide[-1]))
        bodies.append(Body("rack", Motion.DRIVEN, Screw(slide[-1] / lock, np.zeros(3), False, lock, -lock)))
        drives.append(Drive("steer", -1.0, 1.0))
    rows: list[Row] = [
        Distance(f"bar {k}", Anchor(int(on[k]), frame[k]), Anchor(1, body[k])) for k in range(len(frame))
    ]
    rows += [Offset("wheel", UP, Anchor(0, hub), Anchor(1, hub), k) for k, hub in enumerate(wheels)]
    return Mechanism(title="bars", bodies=tuple(bodies), rows=tuple(rows), drives=tuple(drives), points=())


def _random(kind: str, seed: int, count: int) -> Corners:
    """Corners and axles some 50 mm about a plain one, each asked for some heights that are often too far."""
    rng = np.random.default_rng(seed)
    frame, body, hubs = {"five links": (FRAME, FIVE, HUB), "live axle": (AXLE, BEAM, HUBS)}.get(
        kind, (FRAME, ARMS, HUB)
    )
    frame, body = (points + rng.uniform(-60.0, 60.0, (count, *points.shape)) for points in (frame, body))
    if kind in {"arms", "steered arms"}:
        body[:, 1], body[:, 3] = body[:, 0], body[:, 2]
    slide = np.zeros_like(frame)
    if kind == "steered arms":
        slide[:, -1, 1] = rng.choice([-1.0, 1.0], count) * rng.uniform(40.0, 95.0, count)
    heights = rng.uniform(60.0, 240.0, (count * HEIGHTS, len(hubs)))
    heights *= rng.choice([-1.0, 1.0], heights.shape, p=[0.75, 0.25])
    if kind == "live axle":
        heights *= 2.0
    frame, body, slide = (np.repeat(points, HEIGHTS, axis=0) for points in (frame, body, slide))
    return Corners(frame, body, slide, np.broadcast_to(hubs, (len(frame), *hubs.shape)), heights)


def _solved(corners: Corners) -> list[Poses]:
    """The poses of each mechanism, of which `HEIGHTS` in a row share one."""
    solved = []
    for first in range(0, len(corners.frame), HEIGHTS):
        mechanism, values = _mechanism(corners, first), corners.heights[first : first + HEIGHTS]
        if mechanism.steer is not None:
            values = np.hstack([values, np.ones((len(values), 1))])
        solved.append(solve(mechanism, travel_of(mechanism, values)))
    return solved


def _agree(corners: Corners) -> int:
    """Compare every pose, and return how many of them lock."""
    end, rotation, shift = follow(corners)
    assert np.isfinite(end).all()
    poses = _solved(corners)
    reached = np.concatenate([each.reached for each in poses])
    status = np.concatenate([each.status for each in poses])
    whole = end == 1.0
    assert np.flatnonzero((status == Status.SOLVED) != whole).tolist() == []
    assert np.abs(reached - end)[~whole].max(initial=0.0) < NEAR
    # 1e-9 mm in a row, and no linkage here is so near a dead centre that it makes more than a thousand times of it.
    assert np.abs(np.concatenate([each.rotation[1] for each in poses]) - rotation)[whole].max(initial=0.0) < 1e-6
    assert (
        np.abs(np.concatenate([each.translation[1] for each in poses]) - shift)[whole].max(initial=0.0) < 1e-6 * 1000.0
    )
    return int(np.count_nonzero(~whole))


@pytest.mark.parametrize("kind", ["arms", "steered arms", "five links", "live axle"])
def test_random_suspensions_lock_where_the_curve_of_their_poses_turns_back(kind: str) -> None:
    assert _agree(_random(kind, seed=3, count=12)) > 0


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "count"), [("arms", 500), ("steered arms", 150), ("five links", 150), ("live axle", 150)]
)
def test_of_hundreds_none_locks_or_passes_falsely(kind: str, count: int) -> None:
    assert _agree(_random(kind, seed=2024, count=count)) > count // 20


def _one(points: list[list[float]], body: list[list[float]], hub: list[float], heights: list[float]) -> Corners:
    count = len(heights)
    frame, ends = (np.repeat(np.array(each)[None], count, axis=0) for each in (points, body))
    return Corners(frame, ends, np.zeros_like(frame), np.tile(hub, (count, 1, 1)), np.array(heights)[:, None])


def test_no_step_over_a_short_stretch_without_a_pose() -> None:
    """Two dead centres so close together that Newton's method, once beyond the second, converges well."""
    corner = _one(
        [
            [105.4, 225.2, 196.1],
            [-169.4, 258.6, 201.7],
            [-63.4, 258.0, 446.2],
            [-264.6, 263.5, 287.6],
            [-39.2, 332.5, 218.0],
        ],
        [[6.5, 539.0, 244.1], [6.5, 539.0, 244.1], [-8.1, 503.9, 490.7], [-8.1, 503.9, 490.7], [-97.0, 612.2, 313.7]],
        [26.9, 683.3, 263.9],
        [-150.4, -192.7, -204.6, -205.1],
    )
    assert _agree(corner) == HEIGHTS


def test_a_linkage_that_only_just_does_not_lock_is_followed_past() -> None:
    """Over a few µm of wheel travel the knuckle turns by degrees; before and after it is an everyday corner."""
    corner = _one(
        [
            [145.4, 226.9, 206.9],
            [-176.7, 292.2, 151.5],
            [-98.1, 325.6, 385.8],
            [-232.9, 307.4, 375.2],
            [-148.2, 280.1, 276.4],
        ],
        [
            [57.0, 584.9, 167.8],
            [-61.1, 570.1, 226.2],
            [18.9, 589.6, 405.6],
            [-85.6, 626.3, 375.6],
            [-74.2, 570.1, 220.9],
        ],
        [-12.8, 695.2, 309.2],
        [-143.8, -60.0, -20.0, -3.0],
    )
    assert _agree(corner) == 0
