"""What must not change a result: solving one by one, a mirror, another place or heading, another unit. All D."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from zoo import NAMES, built, moved, pitman_scene, scene_data, travel_of

from model.findings import judge
from model.mechanism import Mechanism
from model.members import Posture, posture
from model.poses import Poses, Status
from model.solver import CHUNK, solve
from model.spatial import Array
from model.travel import Travel, grid
from model.units import MM_PER_INCH, N_PER_LBF

# The solver's promise in mm, and what 1e-9 mm at a lever of 50 mm (a bush's length, the shortest here) is in rad.
PROMISE, TURN = 1e-9, 2e-11
MIRROR = np.array([1.0, -1.0, 1.0])


def _scene(name: str) -> dict[str, Any]:
    return pitman_scene(parallelogram=False) if name == "pitman" else scene_data(name)


def _solved(mechanism: Mechanism, travel: Travel) -> tuple[Poses, Posture]:
    poses = solve(mechanism, travel)
    assert (poses.status == Status.SOLVED).all()
    return poses, posture(poses)


@pytest.mark.parametrize("name", [*NAMES, "pitman"])
def test_batched_equals_a_loop_of_single_solves(name: str) -> None:
    mechanism = built(_scene(name))
    poses, now = _solved(mechanism, grid(mechanism, 3, 3))
    for number in range(len(poses)):
        alone, alone_now = _solved(mechanism, travel_of(mechanism, poses.travel.values[number : number + 1]))
        # The same operations in the same order, but BLAS sums a batch of one in another order: a few roundings of
        # 1e-13 mm each.
        assert np.abs(alone.translation[:, 0] - poses.translation[:, number]).max() <= 1e-10
        assert np.abs(alone.rotation[:, 0] - poses.rotation[:, number]).max() <= 1e-12
        for one, many in zip(alone_now.joints, now.joints, strict=True):
            # An angle near 0 or between nearly parallel lines loses nothing by atan2.
            assert abs(one.tilt[0] - many.tilt[number]) <= 1e-10, (one.member, one.end.place)
            assert abs(one.turn[0] - many.turn[number]) <= 1e-10, (one.member, one.end.place)


def test_the_size_of_a_chunk_and_the_order_of_poses_do_not_show() -> None:
    mechanism = built(scene_data("tarn_rear"))
    rng = np.random.default_rng(1)
    values = rng.uniform(-200.0, 200.0, (CHUNK + 300, 2))
    poses, _ = _solved(mechanism, travel_of(mechanism, values))
    order = rng.permutation(len(values))
    shuffled, _ = _solved(mechanism, travel_of(mechanism, values[order]))
    axle = mechanism.body_number("axle")
    # The same roundings, except where a chunk's last few poses are summed in another order.
    assert np.abs(shuffled.translation[axle] - poses.translation[axle][order]).max() <= 1e-10
    assert np.abs(shuffled.rotation[axle] - poses.rotation[axle][order]).max() <= 1e-12


@pytest.mark.parametrize("name", ["wren_front", "parcel_front", "tarn_rear"])
def test_a_symmetric_car_does_on_the_right_what_it_did_on_the_left(name: str) -> None:
    # A final drive stands off the middle, and its shaft with it: without that the car is symmetric.
    mechanism = built(scene_data(name) | {"shaft": {}})
    travel = grid(mechanism, 5, 3)
    drives = travel.values.shape[1]
    swapped = travel.values[:, [1, 0, 2][:drives]] * [1.0, 1.0, -1.0][:drives]
    _, now = _solved(mechanism, travel)
    _, other = _solved(mechanism, travel_of(mechanism, swapped))
    for part, transform in now.parts.items():
        twin = other.parts[_other_side(part)]
        assert np.abs(MIRROR[:, None] * transform.rotation * MIRROR - twin.rotation).max() <= TURN, part
        assert np.abs(transform.translation * MIRROR - twin.translation).max() <= PROMISE, part
    twins = {(joint.member, joint.end.place): joint for joint in other.joints}
    for joint in now.joints:
        twin_joint = twins[_other_side(joint.member), _other_bush(joint.end.place)]
        assert np.abs(joint.tilt - twin_joint.tilt).max() <= TURN, joint.member
        assert np.abs(np.abs(joint.turn) - np.abs(twin_joint.turn)).max() <= TURN, joint.member


def _other_side(name: str) -> str:
    if name.startswith("left "):
        return name.replace("left ", "right ", 1)
    return name.replace("right ", "left ", 1)


def _other_bush(place: str) -> str:
    """A bar lies across the car: its bush on one side is the twin of that on the other."""
    return {"at its left bush": "at its right bush", "at its right bush": "at its left bush"}.get(place, place)


def test_a_scene_written_mirrored_gives_the_mirrored_result() -> None:
    data = scene_data("wren_rear")
    mirrored = copy.deepcopy(data)
    for point in ("upper_front", "upper_rear", "panhard_frame", "panhard_axle"):
        mirrored["points"][point][1] *= -1.0
    first, second = built(data), built(mirrored)
    travel = grid(first, 5)
    poses, now = _solved(first, travel)
    twins, twin_now = _solved(second, travel_of(second, travel.values[:, ::-1]))
    axle = first.body_number("axle")
    assert np.abs(MIRROR[:, None] * poses.rotation[axle] * MIRROR - twins.rotation[axle]).max() <= TURN
    assert np.abs(poses.translation[axle] * MIRROR - twins.translation[axle]).max() <= PROMISE
    # A panhard bar does draw the axle sideways, so that the mirror is not the thing itself.
    assert np.abs(poses.translation[axle][:, 1]).max() > 1.0
    joints = {(joint.member, joint.end.place): joint for joint in twin_now.joints}
    for joint in now.joints:
        twin = joints[_other_side(joint.member), joint.end.place]
        assert np.abs(joint.tilt - twin.tilt).max() <= TURN, joint.member


ROTATIONS = st.tuples(*[st.floats(-3.0, 3.0)] * 3).map(lambda v: Rotation.from_rotvec(v).as_matrix())
SHIFTS = st.tuples(*[st.integers(-3000, 3000)] * 3).map(lambda v: np.array(v, dtype=float))


@pytest.mark.parametrize("name", [*NAMES, "pitman"])
@given(turned=ROTATIONS, shift=SHIFTS)
@settings(max_examples=20, deadline=None)
def test_moving_and_turning_everything_moves_the_result_and_no_angle(name: str, turned: Array, shift: Array) -> None:
    mechanism = built(_scene(name))
    travel = grid(mechanism, 3, 3)
    poses, now = _solved(mechanism, travel)
    elsewhere, there = _solved(moved(mechanism, turned, shift), travel)
    # Everything is up to 5 m from the origin now: some 10 roundings of 5000 mm × 1e-16 and the promise on top.
    slack = 5.0 * PROMISE
    for number in range(len(mechanism.bodies)):
        rotation = turned @ poses.rotation[number] @ turned.T
        translation = poses.translation[number] @ turned.T + shift - rotation @ shift
        assert np.abs(elsewhere.rotation[number] - rotation).max() <= TURN
        assert np.abs(elsewhere.translation[number] - translation).max() <= slack
    for first, second in zip(now.joints, there.joints, strict=True):
        assert np.abs(first.tilt - second.tilt).max() <= 10.0 * TURN, (first.member, first.end.place)
        assert np.abs(first.turn - second.turn).max() <= 10.0 * TURN, (first.member, first.end.place)
        assert np.abs(first.at @ turned.T + shift - second.at).max() <= slack
    for one, other in zip(now.strokes, there.strokes, strict=True):
        assert np.abs(one.length - other.length).max() <= slack


LENGTH_KEYS = {
    "loaded_radius", "width", "rim_diameter", "diameter", "compressed", "extended", "bump_stop", "body_diameter",
    "tube_diameter", "housing_diameter", "free_length", "preload", "solid_length", "outside_diameter", "wire_diameter",
    "lock", "bump", "droop", "section", "size", "engaged", "thread_diameter", "length", "room_in", "room_out",
}  # fmt: skip


def _in_inches(value: Any, key: str = "") -> Any:
    """A scene's data with every length and rate in inches and lbf/in."""
    if key in ("rate", "radial", "axial"):
        return value * MM_PER_INCH / N_PER_LBF
    if key == "rates":
        turning = {
            name: value[name] * 1000.0 / (12.0 * N_PER_LBF * MM_PER_INCH) for name in ("turn", "cock") if name in value
        }
        return {name: _in_inches(entry, name) for name, entry in value.items()} | turning
    if isinstance(value, dict):
        angle = ("lock",) if value.get("kind") == "pitman" else ()
        return {
            name: entry if name in angle else _in_inches(entry, name if key != "points" else "point")
            for name, entry in value.items()
        }
    if key == "point" and isinstance(value, list):
        return [entry / MM_PER_INCH for entry in value]
    if key in LENGTH_KEYS:
        return [entry / MM_PER_INCH for entry in value] if isinstance(value, list) else value / MM_PER_INCH
    return [_in_inches(entry) for entry in value] if isinstance(value, list) else value


@pytest.mark.parametrize("name", NAMES)
def test_inches_equal_millimetres(name: str) -> None:
    data = scene_data(name)
    metric, imperial = built(data), built(_in_inches(data) | {"units": "in"})
    # Division and multiplication by 25.4 round once each: 1e-13 mm on a vehicle's lengths, through linkage 1e-9 mm.
    assert np.abs([a.low - b.low for a, b in zip(metric.drives, imperial.drives, strict=True)]).max() < 1e-12
    poses, now = _solved(metric, grid(metric, 5, 3))
    others, other_now = _solved(imperial, grid(imperial, 5, 3))
    assert np.abs(poses.translation - others.translation).max() <= PROMISE
    assert np.abs(poses.rotation - others.rotation).max() <= TURN
    for one, other in zip(now.strokes, other_now.strokes, strict=True):
        assert np.abs(one.length - other.length).max() <= PROMISE
        assert one.coilover.spring is not None
        assert other.coilover.spring is not None
        assert one.coilover.spring.rate == pytest.approx(other.coilover.spring.rate, rel=1e-14)  # two roundings
    first, second = judge(poses), judge(others)
    assert first.state == second.state
    used = {(finding.what, finding.where): finding.used for finding in second.findings}
    assert len(used) == len(first.findings)
    for finding in first.findings:
        assert abs(finding.used - used[finding.what, finding.where]) <= PROMISE
