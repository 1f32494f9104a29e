"""Who fights, by how much, and the plain verdict."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation
from zoo import FOUR_LINKS, GIVING, axle_scene, built, scene_data, travel_of

from model.constraints import systems
from model.findings import judge
from model.holding import Fight, Freedom, fights, misfits
from model.joints import JointKind
from model.measures import place_text
from model.mechanism import Mechanism
from model.solver import group_state, solve
from model.spatial import norm
from model.travel import grid
from model.verdicts import State

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
    for joint in fight.joints:
        assert forced[place_text(joint.member, joint.end)].used == joint.deflection.value


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
