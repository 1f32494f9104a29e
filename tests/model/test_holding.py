"""Who fights, by how much, and the plain verdict."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation
from zoo import FOUR_LINKS, GIVING, axle_scene, built, parallel_arms, scene_data, travel_of

from model.constraints import systems
from model.findings import judge
from model.holding import FITS, LOCKS, Fight, Freedom, fights, forced_measures, steering_force
from model.joints import JointKind
from model.loads import bytes_per_pose
from model.measures import place_text
from model.mechanism import Mechanism
from model.members import posture
from model.misfits import misfits
from model.solver import group_state, solve
from model.spatial import norm
from model.travel import grid
from model.verdicts import State, state_of

RUBBER = {"kind": "rubber bush", "rates": {"radial": 5000, "axial": 1000, "turn": 1.5, "cock": 6}}


def _parallel(upper_length: float = 500.0, joint: str = "rod end") -> dict[str, Any]:
    """An axle on four links straight along the car and a long bar across, all level at ride height."""
    links: dict[str, Any] = {"panhard": ((-120, 600, 300), (-120, -600, 300))}
    for side, y in (("near", 450.0), ("far", -450.0)):
        links[f"{side} lower"] = ((500.0, y, 220.0), (0.0, y, 220.0))
        links[f"{side} upper"] = ((upper_length, y, 420.0), (0.0, y, 420.0))
    data = axle_scene(links)
    data["joint"] = {"bush": copy.deepcopy(RUBBER)}
    for link in data["link"].values():
        for end in ("from", "to"):
            link[end]["joint"] = joint
    return data


def _fight(mechanism: Mechanism, steps: int = 9) -> Fight:
    (fight,) = fights(solve(mechanism, grid(mechanism, steps, 3)))
    return fight


def test_four_links_fight_nobody() -> None:
    mechanism = built(axle_scene(FOUR_LINKS))
    poses = solve(mechanism, grid(mechanism, 3))
    assert poses.holding is None
    assert fights(poses) == ()


def test_a_parallelogram_on_each_side_moves_freely_with_both_wheels() -> None:
    fight = _fight(built(_parallel()))
    assert (fight.spare, fight.wheels, fight.freedoms_ride) == (1, 2, 2)
    assert set(fight.members) == {f"{side} {level}" for side in ("near", "far") for level in ("lower", "upper")}
    assert fight.together is Freedom.FREE


def test_crossed_up_equal_links_hardly_fight_and_unequal_ones_lock_where_nothing_gives() -> None:
    # D: an upper link of L' beside a lower one of L wants to tip its end of the axle by h²/2 (1/L' − 1/L) over the
    # 200 mm between them, alike at droop and bump: it is one wheel alone that twists the axle.
    equal, unequal = _fight(built(_parallel())), _fight(built(_parallel(upper_length=300.0)))
    assert equal.misfit.value < 0.1
    assert equal.verdict is Freedom.FREE
    assert unequal.together is Freedom.FREE
    assert unequal.verdict is Freedom.LOCKED
    given = _fight(built(_parallel(upper_length=300.0, joint="bush")))
    # The same geometry; the two rest in slightly different places, near which the lengths are fitted.
    assert given.misfit.value == pytest.approx(unequal.misfit.value, rel=0.01)
    assert given.verdict is Freedom.AGAINST


def test_the_misfit_of_one_wheel_alone_by_hand() -> None:
    fight = _fight(built(_parallel(upper_length=300.0)), steps=5)
    # D: one wheel up by 80 at y = ±700 lifts the links at 450 by 40 ± 51.4 mm. What the four want in x,
    # h²/2L each, has a part that no shift, pitch or yaw makes up: a quarter of lower left − upper left − lower right +
    # upper right. The bar across and the tilt change that by some per cent.
    near, far = 40.0 + 80.0 * 450.0 / 1400.0, 40.0 - 80.0 * 450.0 / 1400.0
    wanted = (near**2 - far**2) / 2.0 * (1.0 / 300.0 - 1.0 / 500.0) / 4.0
    assert fight.misfit.value == pytest.approx(wanted, rel=0.1)
    assert sorted(np.abs(fight.misfit.drives)) == [0.0, 80.0]


def test_misfits_are_scipys_least_squares() -> None:
    soft = built(scene_data("parcel_rear"))
    mechanism = soft.rigid
    assert mechanism is not None
    links = [(link.name, *link.ends) for link in mechanism.links]
    (system,) = systems(mechanism)
    values = np.array([[60.0, -70.0], [75.0, 0.0]])
    rest = group_state(solve(soft, travel_of(soft, values)), system)
    ours = misfits(system, rest, values.T, np.where(np.arange(7) < 5, 1.0, 1e3))
    for pose, heights in enumerate(values):
        centres = [wheel.centre for wheel in mechanism.wheels]

        def off(x: np.ndarray, heights: np.ndarray = heights, centres: list[np.ndarray] = centres) -> np.ndarray:
            turned = Rotation.from_rotvec(x[3:]).as_matrix()
            spans = [np.linalg.norm(turned @ b.at + x[:3] - a.at) - np.linalg.norm(b.at - a.at) for _, a, b in links]
            lifts = [(turned @ c + x[:3])[2] - c[2] - height for c, height in zip(centres, heights, strict=True)]
            return np.array([*spans, *(1e3 * np.array(lifts))])

        found = least_squares(off, np.zeros(6), x_scale=[1, 1, 1, 1e-3, 1e-3, 1e-3], xtol=1e-15, ftol=1e-15, gtol=1e-15)
        # Least squares of |d| − L here, of (|d|² − L²)/2L there, which differ by r²/2L; ours stays near to rest.
        assert np.abs(ours[pose, :5] - np.abs(found.fun[:5])).max() < 0.005


@pytest.mark.parametrize("name", GIVING)
def test_the_scenes_move_freely_together_and_against_their_bushes_crossed(name: str) -> None:
    mechanism = built(scene_data(name))
    poses = solve(mechanism, grid(mechanism, 5, 3))
    (fight,) = fights(poses)
    assert (fight.spare, fight.wheels) == (1, 2)
    assert (fight.freedoms_ride, fight.freedoms_least, fight.freedoms_most) == (1, 1, 1)
    assert (fight.verdict, fight.together, fight.crossed) == (Freedom.AGAINST, Freedom.FREE, Freedom.AGAINST)
    # The peaks are those of the arrays they were taken from.
    holding = poses.holding
    assert holding is not None
    assert fight.wheel_force.value == np.abs(holding.drive[:2]).max()
    assert fight.wheel_force.drives == poses.stands_at(fight.wheel_force.pose)
    assert abs(holding.drive[mechanism.drive_number(fight.wheel), fight.wheel_force.pose]) == fight.wheel_force.value
    track = mechanism.wheels[0].centre[1]
    moment = np.abs(track * (holding.drive[0] - holding.drive[1]))
    assert fight.roll_moment is not None
    assert fight.roll_moment.value == pytest.approx(moment.max(), rel=1e-12)
    assert len(fight.joints) == len(holding.joints)
    for number, load in enumerate(fight.joints):
        assert load.deflection.value == norm(holding.deflection[number]).max()
        assert load.force.value == norm(holding.force[number]).max()


def test_bumps_alone_or_crossed_alone_say_only_what_they_know() -> None:
    mechanism = built(scene_data("parcel_rear"))
    both = fights(solve(mechanism, travel_of(mechanism, np.array([[50.0, 50.0], [-50.0, -50.0]]))))[0]
    assert (both.verdict, both.together, both.crossed) == (Freedom.FREE, Freedom.FREE, None)
    crossed = fights(solve(mechanism, travel_of(mechanism, np.array([[70.0, -70.0]]))))[0]
    assert (crossed.verdict, crossed.together, crossed.crossed) == (Freedom.AGAINST, None, Freedom.AGAINST)


def test_five_links_on_rod_ends_are_locked_and_each_joint_says_how_far_it_is_forced() -> None:
    # S engineering forum; D: five two-ended links over-constrain a live axle. Without rubber nothing gives.
    fifth = {"second upper": ((400, 250, 440), (-10, 260, 430))}
    poses = solve(mechanism := built(axle_scene(FOUR_LINKS | fifth)), grid(mechanism, 5))
    (fight,) = fights(poses)
    assert fight.verdict is Freedom.LOCKED
    verdict = judge(poses)
    assert verdict.state is State.OVER
    forced = {finding.where: finding for finding in verdict.findings if finding.what == "forced apart"}
    assert {finding.state for finding in forced.values()} >= {State.OVER}
    # The bar across has no part in the fight: what it carries holds the axle, and is not judged.
    assert set(fight.members) == {"near lower", "far lower", "upper", "second upper"}
    fighting = {place_text(joint.member, joint.end): joint for joint in fight.joints if joint.member != "panhard"}
    assert forced.keys() == fighting.keys()
    for where, joint in fighting.items():
        assert forced[where].used == pytest.approx(joint.deflection.value, rel=1e-12)
        # 5 kN in a joint of 50 kN/mm.
        assert forced[where].limit == pytest.approx(0.1, rel=1e-12)


def test_one_bush_in_the_fight_does_not_save_the_rod_ends_beside_it() -> None:
    # A joint without rubber that is forced apart by a tenth of a mm carries 5 kN: nobody cycles that by hand.
    data = axle_scene(FOUR_LINKS | {"second upper": ((400, 250, 440), (-10, 260, 430))})
    data["joint"] = {"bush": copy.deepcopy(RUBBER)}
    data["link"]["near lower"]["from"]["joint"] = "bush"
    (fight,) = fights(solve(mechanism := built(data), grid(mechanism, 5)))
    assert max(joint.deflection.value for joint in fight.joints if joint.end.joint.kind is JointKind.ROD_END) > 0.1
    assert fight.verdict is Freedom.LOCKED


def test_bushes_are_not_judged_for_being_forced() -> None:
    poses = solve(mechanism := built(scene_data("parcel_rear")), grid(mechanism, 3))
    assert not [finding for finding in judge(poses).findings if finding.what == "forced apart"]


def test_a_joint_is_forced_by_what_it_carries_and_not_by_how_far_it_gives() -> None:
    data = axle_scene(FOUR_LINKS | {"second upper": ((400, 250, 440), (-10, 260, 430))})
    metal = solve(mechanism := built(data), grid(mechanism, 3))
    # The same joints with a maker's rates of a tenth: they give by far more and carry far less.
    data["joint"] = {"soft eye": {"kind": "rod end", "rates": {"radial": 500, "axial": 400}}}
    for link in data["link"].values():
        for end in ("from", "to"):
            link[end]["joint"] = "soft eye"
    soft = solve(mechanism := built(data), grid(mechanism, 3))
    given = fights(soft)[0]
    # D: where all are a hundred times softer the linkage rests much where it did, and takes a hundredth of the force.
    assert max(joint.deflection.value for joint in given.joints) > FITS
    assert max(joint.force.value for joint in given.joints) < 0.02 * max(
        joint.force.value for joint in fights(metal)[0].joints
    )
    assert (given.verdict, fights(metal)[0].verdict) == (Freedom.AGAINST, Freedom.LOCKED)
    forced = [finding for finding in judge(soft).findings if finding.what == "forced apart"]
    assert {finding.state for finding in forced} == {State.CLEAR}
    # 5 kN over the softer of its two rates, and its own force over the same.
    for finding in forced:
        joint = next(each for each in given.joints if place_text(each.member, each.end) == finding.where)
        assert finding.limit == pytest.approx(LOCKS / 400.0, rel=1e-12)
        assert finding.used == pytest.approx(joint.force.value / 400.0, rel=1e-12)


@pytest.mark.parametrize(("force", "state"), [(2400.0, State.CLEAR), (4900.0, State.CLOSE), (5100.0, State.OVER)])
def test_from_half_a_tonne_on_metal_in_metal_is_forced(force: float, state: State) -> None:
    data = axle_scene(FOUR_LINKS | {"second upper": ((400, 250, 440), (-10, 260, 430))})
    mechanism = built(data)
    poses = solve(mechanism, travel_of(mechanism, np.array([[30.0, -30.0]])))
    holding = poses.holding
    assert holding is not None
    number = next(k for k, (member, _) in enumerate(holding.joints) if member == "upper")
    pull = np.zeros_like(holding.force)
    pull[number, 0] = [0.0, 0.6 * force, -0.8 * force]
    pushed = replace(poses, holding=replace(holding, force=pull))
    states = [measure for measure in forced_measures(pushed, posture(pushed)) if measure.values[0] > 0.0]
    assert [state_of(float(measure.values[0]), measure) for measure in states] == [state]
    verdict = fights(pushed)[0].verdict
    assert (verdict is Freedom.LOCKED) == (state is State.OVER)


def test_steering_is_held_by_the_slope_of_the_energy_along_the_pitman_arms_turn() -> None:
    mechanism = built(scene_data("tarn_front"))
    steer = mechanism.steer
    assert steer is not None
    step, at = 1e-4, np.array([[80.0, -90.0, 0.7], [80.0, -90.0, -0.7], [-60.0, 40.0, 0.4]])
    poses = solve(mechanism, travel_of(mechanism, at))
    force = steering_force(poses)
    assert force is not None
    stored = []
    for sign in (1.0, -1.0):
        nudged = at.copy()
        nudged[:, steer] += sign * step
        holding = solve(mechanism, travel_of(mechanism, nudged)).holding
        assert holding is not None
        stored.append(holding.energy)
    # The scene's lock is 26 degrees each way; a share of it turns the arm by as much, left or right. A central
    # difference: the solver's 1e-9 of the energy over the step, and its own third derivative.
    turned = 2.0 * step * np.radians(26.0)
    assert force == pytest.approx((stored[0] - stored[1]) / turned, rel=1e-4)
    assert force.min() < 0.0 < force.max()
    fight = fights(poses)[0]
    assert fight.steering is not None
    assert (fight.steering.part, fight.steering.turns) == ("pitman arm", True)
    assert fight.steering.most.value == np.abs(force).max()
    assert fight.wheel_names == ("left wheel", "right wheel")
    rear = solve(rigid := built(scene_data("parcel_rear")), grid(rigid, 3))
    assert steering_force(rear) is None
    assert fights(rear)[0].steering is None


def _corner(mirror: bool) -> dict[str, Any]:
    """A wheel on two parallel arms with a tie rod too many, all in rubber; or one on each side."""
    data = parallel_arms()
    rod = data["link"]["tie rod"]
    data["points"] |= {"second inner": [110.0, 250.0, 300.0], "second outer": [110.0, 600.0, 300.0]}
    second = {"from": rod["from"] | {"point": "second inner"}, "to": rod["to"] | {"point": "second outer"}}
    data["link"] = {"tie rod": rod, "second rod": second}
    data["joint"] = {"bush": copy.deepcopy(RUBBER)}
    for arm in data["arm"].values():
        for pivot in arm["pivots"]:
            pivot["joint"] = "bush"
    for table in ("knuckle", "wheel", "arm", "link") if mirror else ():
        for entry in data[table].values():
            entry["mirror"] = True
    return data


def test_one_wheel_has_no_roll_and_says_its_name() -> None:
    (fight,) = fights(solve(mechanism := built(_corner(mirror=False)), grid(mechanism, 3)))
    assert (fight.wheels, fight.wheel_names, fight.roll_moment) == (1, ("wheel",), None)
    assert (fight.together, fight.crossed) == (None, None)
    both = fights(solve(mechanism := built(_corner(mirror=True)), grid(mechanism, 3)))
    assert [one.wheel_names for one in both] == [("left wheel",), ("right wheel",)]
    assert [one.roll_moment for one in both] == [None, None]


def test_crossed_is_one_up_and_one_down_straight_ahead() -> None:
    # One wheel alone at its height is not crossed up; nor is a pose with the wheels steered.
    van = built(scene_data("parcel_rear"))
    (alone,) = fights(solve(van, travel_of(van, np.array([[75.0, 0.0], [0.0, -85.0], [0.0, 0.0]]))))
    assert (alone.together, alone.crossed) == (Freedom.FREE, None)
    pickup = built(scene_data("tarn_front"))
    (steered,) = fights(solve(pickup, travel_of(pickup, np.array([[80.0, -90.0, 0.5], [60.0, 60.0, -0.5]]))))
    assert (steered.together, steered.crossed) == (None, None)
    assert steered.verdict is Freedom.AGAINST


def test_the_wheel_named_carries_most_be_it_up_or_down() -> None:
    van = built(scene_data("parcel_rear"))
    poses = solve(van, travel_of(van, np.array([[75.0, -85.0]])))
    holding = poses.holding
    assert holding is not None
    for pushed, named in (([-500.0, 300.0], "left"), ([300.0, -500.0], "right"), ([500.0, -300.0], "left")):
        drive = np.array(pushed)[:, None]
        (fight,) = fights(replace(poses, holding=replace(holding, drive=drive)))
        assert (fight.wheel, fight.wheel_force.value) == (named, 500.0)


@pytest.mark.parametrize("name", ["wren_front", "parcel_rear", "tarn_front"])
def test_memory_a_pose_is_what_its_arrays_take(name: str) -> None:
    mechanism = built(scene_data(name))
    poses = solve(mechanism, grid(mechanism, 5, 3))
    records = [poses, poses.travel] + ([] if poses.holding is None else [poses.holding])
    # Arrays that have a pose along one of their axes; the axes of joints have none.
    kept = [value for record in records for value in vars(record).values() if isinstance(value, np.ndarray)]
    taken = sum(array.nbytes for array in kept if len(poses) in array.shape)
    assert bytes_per_pose(mechanism) == pytest.approx(taken / len(poses), rel=0.01)
