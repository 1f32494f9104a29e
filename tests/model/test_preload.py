"""Bushes tightened elsewhere than at ride height, in linkages that move by their give."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from bushes_by_pose import RestByPose, hung_in_bushes
from zoo import GIVING, built, scene_data, travel_of

from model.errors import SceneError
from model.members import posture
from model.poses import Holding, Poses, Status
from model.solver import solve
from model.windup import turns_at, wind_up


def _tightened(name: str, **places: Any) -> dict[str, Any]:
    """A scene with the bushes of some [joint] tables, underscores for spaces, tightened elsewhere."""
    data = copy.deepcopy(scene_data(name))
    for joint, place in places.items():
        data["joint"][joint.replace("_", " ")]["torqued_at"] = place
    return data


def _all_at_droop(name: str, **factors: float) -> dict[str, Any]:
    """A scene with all bonded bushes tightened at full droop and their rates multiplied."""
    data = copy.deepcopy(scene_data(name))
    for joint in data["joint"].values():
        if "turn" in joint.get("rates", {}):
            joint["torqued_at"] = "droop"
            for key, by in factors.items():
                joint["rates"][key] *= by
    return data


def _held(poses: Poses) -> Holding:
    assert (poses.status == Status.SOLVED).all()
    assert poses.holding is not None
    return poses.holding


def test_where_nothing_is_said_all_is_relaxed_at_ride_height() -> None:
    assert {bushing.wound for bushing in built(scene_data("parcel_rear")).bushings} == {0.0}
    # A height of zero is ride height.
    assert {bushing.wound for bushing in built(_tightened("parcel_rear", link_bush=0.0)).bushings} == {0.0}


def test_a_bush_carries_no_moment_about_its_bolt_where_it_was_tightened() -> None:
    mechanism = built(_tightened("parcel_rear", link_bush="droop", panhard_bush=40.0))
    poses = solve(mechanism, travel_of(mechanism, np.array([[-85.0, -85.0], [40.0, 40.0], [0.0, 0.0]])))
    holding = _held(poses)
    for number, (member, _) in enumerate(holding.joints):
        here, there = (0, 1) if "link" in member else (1, 0)
        along = np.abs(holding.moment[number, :, 0])
        # Nothing of the turn; what a cocked bush's moment has along its own bolt is of the second order.
        rate = next(bushing.turn for bushing in mechanism.bushings if bushing.member == member)
        assert along[here] < 1e-3 * rate * abs(holding.rotation[number, 2, 0] - holding.rotation[number, here, 0])
        assert along[there] > 0.01 * rate


def test_scipy_finds_the_same_rest_with_the_same_bushes_wound() -> None:
    mechanism = built(_tightened("parcel_rear", link_bush="droop", panhard_bush="bump"))
    values = np.array([[0.0, 0.0], [75.0, 75.0], [75.0, -85.0], [-85.0, 0.0]])
    poses = solve(mechanism, travel_of(mechanism, values))
    holding, solver = _held(poses), RestByPose(hung_in_bushes(mechanism))
    axle = mechanism.body_number("axle")
    assert holding.energy[0] > 1e4  # wound up at ride height already, and pushed there
    assert np.abs(holding.drive[:, 0]).min() > 10.0
    for pose, heights in enumerate(values):
        x, _ = solver.pose(np.full(solver.unknowns, 1e-3), np.zeros(2))
        for share in np.linspace(0.0, 1.0, 7)[1:]:
            x, stored = solver.pose(x, share * heights)
        turned, shift = solver.axle(x, heights)
        assert holding.energy[pose] == pytest.approx(stored, rel=1e-8)  # scipy stops at changes of 1e-10
        # An energy good to 1e-10 of itself leaves the place good to 1e-5 of what the bushes give, some 0.5 mm.
        assert np.abs(poses.rotation[axle, pose] - turned).max() < 1e-7
        assert np.abs(poses.translation[axle, pose] - shift).max() < 1e-4


def test_the_wheels_are_pushed_back_to_where_the_bushes_were_tightened() -> None:
    # Common sense and D: tightened hanging, the bushes want the wheels down; it takes a push up to hold ride height.
    for place, sign in (("droop", 1.0), ("bump", -1.0)):
        mechanism = built(_tightened("parcel_rear", link_bush=place, panhard_bush=place))
        holding = _held(solve(mechanism, travel_of(mechanism, np.zeros((1, 2)))))
        assert (sign * holding.drive[:, 0] > 10.0).all()


@pytest.mark.parametrize("place", ["droop", 30.0])
def test_the_wind_up_that_is_measured_is_the_one_that_pulls(place: str | float) -> None:
    mechanism = built(
        _tightened("tarn_front", radius_arm_axle_bush=place, radius_arm_frame_bush="bump", panhard_bush="droop")
    )
    poses = solve(mechanism, travel_of(mechanism, np.array([[0.0, 0.0, 0.0], [60.0, -70.0, 0.5]])))
    holding = _held(poses)
    joints = {(joint.member, joint.end.place): joint for joint in posture(poses).joints}
    for bushing in mechanism.bushings:
        key = bushing.member, bushing.end.place
        assert turns_at(mechanism, bushing.end.joint.torqued_at)[key] == pytest.approx(bushing.wound, abs=1e-7)
        number = [(member, end.place) for member, end in holding.joints].index(key)
        twisted = holding.rotation[number, :, 0] - bushing.wound
        assert wind_up(mechanism, joints[key]) == pytest.approx(twisted, abs=1e-7)


def test_the_work_of_the_holding_forces_is_what_wound_bushes_store_more() -> None:
    mechanism = built(_tightened("parcel_rear", link_bush="droop"))
    end = np.array([75.0, -85.0])
    # Gauss's rule along the straight path in the drives: exact to far below 1e-6 for forces as smooth as these.
    nodes, weights = np.polynomial.legendre.leggauss(16)
    shares = np.concatenate([[0.0], 0.5 * (nodes + 1.0), [1.0]])
    holding = _held(solve(mechanism, travel_of(mechanism, shares[:, None] * end)))
    work = 0.5 * weights @ (end @ holding.drive[:, 1:-1])
    assert work == pytest.approx(holding.energy[-1] - holding.energy[0], rel=1e-6)


@pytest.mark.parametrize("name", GIVING)
def test_bushes_a_thousand_times_as_stiff_wind_up_by_the_same_turn_and_stand_at_ride_height(name: str) -> None:
    # D: no bush carries a moment about its bolt where all were tightened, so that its rate does not matter there.
    soft, stiff = (built(_all_at_droop(name, turn=by)) for by in (1.0, 1e3))
    turns = [np.array([bushing.wound for bushing in each.bushings]) for each in (soft, stiff)]
    assert np.abs(turns[0]).max() > 0.1
    assert np.abs(turns[0] - turns[1]).max() < 1e-8
    low = [drive.low if drive.name != "steer" else 0.0 for drive in stiff.drives]
    values = np.array([np.zeros(len(low)), low])
    first, second = (_held(solve(each, travel_of(each, values))).energy for each in (soft, stiff))
    assert second[0] > 100.0 * first[0] > 1e5
    assert second[1] == pytest.approx(first[1], rel=1e-6)


@pytest.mark.slow
def test_rest_at_ride_height_is_the_one_that_winding_up_in_small_steps_leads_to() -> None:
    mechanism = built(_all_at_droop("parcel_rear", turn=1e3))
    solver = RestByPose(hung_in_bushes(mechanism))
    x = np.full(solver.unknowns, 1e-3)
    for share in np.linspace(0.0, 1.0, 9)[1:]:
        bushings = tuple(replace(bushing, wound=share * bushing.wound) for bushing in mechanism.bushings)
        solver = RestByPose(hung_in_bushes(replace(mechanism, bushings=bushings)))
        x, stored = solver.pose(x, np.zeros(2))
    holding = _held(solve(mechanism, travel_of(mechanism, np.zeros((1, 2)))))
    assert holding.energy[0] == pytest.approx(stored, rel=1e-8)  # scipy stops at changes of 1e-10


def test_the_way_to_ride_height_counts_as_its_own_where_nothing_is_asked() -> None:
    mechanism = built(_tightened("parcel_rear", link_bush="droop", panhard_bush=40.0))
    poses = solve(mechanism, travel_of(mechanism, np.zeros((2, 2))))
    assert (poses.status == Status.SOLVED).all()
    assert (poses.solves <= 2).all()


@pytest.mark.parametrize(
    ("factors", "why"),
    [
        ({"turn": 1e3, "cock": 1e-3}, "wound up from there they keep their parts from ride height"),
        ({"turn": 1e5, "radial": 0.01, "axial": 0.01}, "how their parts stand where they are tightened is not found"),
    ],
    ids=str,
)
def test_bushes_that_find_no_rest_are_refused_in_one_sentence(factors: dict[str, float], why: str) -> None:
    with pytest.raises(SceneError) as refused:
        built(_all_at_droop("parcel_rear", **factors))
    assert str(refused.value).endswith(
        f'"link bush" and "panhard bush" are tightened elsewhere than at ride height, and {why}; check `torqued_at` '
        "and the turn rates."
    )
