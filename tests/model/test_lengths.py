"""Every scene's every pose keeps its own lengths and shared points: recomputed from the transforms, not the solver's.

All of it is D: what a rigid part is.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from zoo import NAMES, built, pitman_scene, scene_data

from model.mechanism import Mechanism
from model.members import Posture, posture
from model.poses import Poses, Status
from model.solver import solve
from model.spatial import Array, norm
from model.travel import grid

# The promise of the solver, in mm: the rounding of a vehicle's lengths (some 1000 mm) is about 1e-12 mm.
PROMISE = 1e-9
# Rotations are products of a few dozen factors, each rounded to 1e-16.
SQUARE = 1e-13


def _solved(name: str) -> tuple[Mechanism, Poses, Posture]:
    mechanism = built(pitman_scene(parallelogram=False) if name == "pitman" else scene_data(name))
    poses = solve(mechanism, grid(mechanism, 11, 5))
    return mechanism, poses, posture(poses)


@pytest.fixture(scope="module", params=[*NAMES, "pitman"])
def solved(request: pytest.FixtureRequest) -> tuple[Mechanism, Poses, Posture]:
    """A scene over 11 × 11 heights and, where it steers, 5 positions of the steering."""
    return _solved(request.param)


def _kept(a: Array, b: Array, length: float) -> float:
    return float(np.abs(np.linalg.norm(a - b, axis=-1) - length).max())


def test_every_pose_is_solved_to_the_promise(solved: tuple[Mechanism, Poses, Posture]) -> None:
    mechanism, poses, _ = solved
    assert len(poses) == 11 * 11 * (1 if mechanism.steer is None else 5)
    assert (poses.status == Status.SOLVED).all()
    assert poses.residual.max() <= PROMISE
    assert (poses.reached == 1.0).all()
    assert (poses.locked_by == -1).all()


def test_every_part_stays_rigid(solved: tuple[Mechanism, Poses, Posture]) -> None:
    for name, part in solved[2].parts.items():
        products = part.rotation @ np.swapaxes(part.rotation, -1, -2)
        assert np.abs(products - np.eye(3)).max() < SQUARE, name
        assert np.abs(np.linalg.det(part.rotation) - 1.0).max() < SQUARE, name


def _rigid(mechanism: Mechanism, members: tuple[Any, ...]) -> tuple[Any, ...]:
    """Members that are rigidly joined: none in a linkage that moves by its joints' give."""
    return members if mechanism.rigid is None else ()


def test_what_gives_is_apart_by_the_deflection_of_its_joints(solved: tuple[Mechanism, Poses, Posture]) -> None:
    mechanism, poses, now = solved
    if poses.holding is None:
        return
    bodies = {body.name for body in mechanism.bodies}
    for (member, end), deflection in zip(poses.holding.joints, poses.holding.deflection, strict=True):
        if member in bodies:
            gap = now.parts[member].point(end.at) - now.parts[end.on].point(end.at)
            assert np.abs(norm(gap) - norm(deflection)).max() <= PROMISE, (member, end.place)


def test_links_keep_their_length_and_touch_both_holders(solved: tuple[Mechanism, Poses, Posture]) -> None:
    mechanism, _, now = solved
    assert mechanism.links
    for link in _rigid(mechanism, mechanism.links):
        ends = [now.parts[end.on].point(end.at) for end in link.ends]
        ride = float(np.linalg.norm(link.ends[0].at - link.ends[1].at))
        assert _kept(ends[0], ends[1], ride) <= PROMISE, link.name
        for end, there in zip(link.ends, ends, strict=True):
            assert _kept(now.parts[link.name].point(end.at), there, 0.0) <= PROMISE, link.name


def test_arms_stay_on_their_pivots_and_their_ball_joint(solved: tuple[Mechanism, Poses, Posture]) -> None:
    mechanism, _, now = solved
    for arm in _rigid(mechanism, mechanism.arms):
        assert arm.ball is not None
        ball = now.parts[arm.ball.on].point(arm.ball.at)
        for pivot in arm.pivots:
            inner = now.parts[arm.on].point(pivot.at)
            assert _kept(inner, ball, float(np.linalg.norm(pivot.at - arm.ball.at))) <= PROMISE, arm.name
            assert _kept(now.parts[arm.name].point(pivot.at), inner, 0.0) <= PROMISE, arm.name
        assert _kept(now.parts[arm.name].point(arm.ball.at), ball, 0.0) <= PROMISE, arm.name


def test_struts_pass_through_their_top_mount(solved: tuple[Mechanism, Poses, Posture]) -> None:
    mechanism, _, now = solved
    for strut in (unit for unit in mechanism.coilovers if unit.strut):
        knuckle = now.parts[strut.bottom.on]
        line = (strut.top.at - strut.bottom.at) / np.linalg.norm(strut.top.at - strut.bottom.at)
        to_mount = now.parts[strut.top.on].point(strut.top.at) - knuckle.point(strut.bottom.at)
        assert np.linalg.norm(np.cross(to_mount, knuckle.rotation @ line), axis=-1).max() <= PROMISE, strut.name


def test_coilover_lengths_are_eye_to_eye(solved: tuple[Mechanism, Poses, Posture]) -> None:
    mechanism, _, now = solved
    assert len(now.strokes) == len(mechanism.coilovers) == 2
    for unit, stroke in zip(mechanism.coilovers, now.strokes, strict=True):
        eyes = [now.parts[end.on].point(end.at) for end in (unit.top, unit.bottom)]
        assert np.abs(np.linalg.norm(eyes[0] - eyes[1], axis=-1) - stroke.length).max() <= PROMISE
        for end, half in zip((unit.top, unit.bottom), (f"{unit.name} shaft", f"{unit.name} body"), strict=True):
            assert _kept(now.parts[half].point(end.at), now.parts[end.on].point(end.at), 0.0) <= PROMISE


def test_wheels_are_as_high_as_they_are_driven(solved: tuple[Mechanism, Poses, Posture]) -> None:
    mechanism, poses, now = solved
    assert len(mechanism.wheels) == 2
    for wheel in mechanism.wheels:
        height = now.parts[wheel.on].point(wheel.centre)[:, 2] - wheel.centre[2]
        assert np.abs(height - poses.travel.column(wheel.side)).max() <= PROMISE


def test_driven_steering_moves_as_written() -> None:
    for name, lock in (("wren_front", 58.0), ("parcel_front", 72.0)):
        mechanism, poses, now = _solved(name)
        moved = now.parts["rack"].translation
        # A positive share steers left; both racks sit behind the axle, so the rack itself goes to the right.
        assert np.abs(moved[:, 1] + lock * poses.travel.column("steer")).max() <= PROMISE
        assert np.abs(moved[:, [0, 2]]).max() == 0.0
        assert (now.parts["rack"].rotation == np.eye(3)).all(), mechanism.title


def test_centre_link_joins_both_cranks_and_does_not_roll() -> None:
    mechanism, _, now = _solved("pitman")
    points = {name: at for name, _, at in mechanism.points}
    link, pitman, idler = (now.parts[name] for name in ("centre link", "pitman arm", "idler arm"))
    assert _kept(link.point(points["pitman end"]), pitman.point(points["pitman end"]), 0.0) <= PROMISE
    assert _kept(link.point(points["idler end"]), idler.point(points["idler end"]), 0.0) <= PROMISE
    shaft = np.array([0.06, -0.04, 1.0])
    for along in (0.0, 100.0):
        pivot = points["idler shaft"] + along * shaft / np.linalg.norm(shaft)
        assert _kept(idler.point(pivot), np.broadcast_to(pivot, (len(idler.translation), 3)), 0.0) <= PROMISE
    axis = np.array([0.05, 0.08, 1.0]) / np.linalg.norm([0.05, 0.08, 1.0])
    flat = np.cross(axis, points["idler end"] - points["pitman end"])
    flat /= np.linalg.norm(flat)
    held = np.einsum("ni,ni->n", pitman.rotation @ axis, link.rotation @ flat)
    # Square to 1e-12 rad: the residual of that row is this angle times a length of some 300 mm.
    assert np.abs(held).max() < 1e-11
