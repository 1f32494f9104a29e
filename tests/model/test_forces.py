"""Forces at joints against hand statics, virtual work by tangents, the springs' energy, and the sum on every part."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.polynomial import Chebyshev
from numpy.polynomial.legendre import leggauss
from zoo import (
    FOUR_LINKS,
    NAMES,
    RIGID,
    UP,
    axle_scene,
    bar_on_the_axle,
    built,
    end,
    parallel_arms,
    pitman_scene,
    scene_data,
    steered_axle,
    trailing_arm,
    travel_of,
)

from model.errors import CallError, SceneError
from model.forces import CaseLoads, all_loads, loads_of, within_reach
from model.forcesolve import forces_in
from model.frameshapes import lever_of
from model.loadcases import FULL_BUMP, STATIC, Ground, cases_of, chosen_cases, ground_of, travel_to, typical_cases
from model.mechanism import FrameShape, LoadCase, Mechanism, Weights
from model.members import posture
from model.rates import spring_force
from model.solver import solve
from model.spatial import Array
from model.tangents import point_velocity, velocities
from model.wheelgeometry import contact_point

# Of forces of some kN: a linear solve of a few dozen unknowns loses a few of its sixteen digits.
ROUNDING = 1e-8
WEIGHT = 3000.0
HARD = LoadCase("braking in a turn", vertical=(1.4, 0.6), brake=0.7, side=0.5)
ROLLED = LoadCase("rolled", vertical=(1.4, 0.6), side=-0.5, at=(25.0, -20.0))


def _weighed(data: dict[str, Any], unsprung: float = 0.0) -> Mechanism:
    """A zoo scene's mechanism with `WEIGHT` N under each wheel."""
    return replace(built(data), weights=Weights(WEIGHT, WEIGHT, unsprung))


def _with_coilover(data: dict[str, Any], top: Array, foot: Array, on: str) -> dict[str, Any]:
    data = copy.deepcopy(data)
    data["points"] |= {"top eye": top.tolist(), "foot eye": foot.tolist()}
    length = float(np.linalg.norm(top - foot))
    data["coilover"] = {
        "coilover": {
            "top": end("top eye", "frame", "along"),
            "bottom": end("foot eye", on, "along"),
            "compressed": 0.6 * length,
            "extended": 1.4 * length,
        }
    }
    return data


def _upright_coilovers(data: dict[str, Any]) -> dict[str, Any]:
    """An axle's scene with upright coilovers beside its wheels."""
    data = _with_coilover(data, np.array([0.0, 500.0, 700.0]), np.array([0.0, 500.0, 300.0]), "axle")
    data["coilover"]["coilover"]["mirror"] = True
    return data


def _force(loads: CaseLoads, member: str, place: str) -> Array:
    (force,) = [mount.force for mount in loads.mounts if (mount.member, mount.place) == (member, place)]
    return force


def _axle() -> dict[str, Any]:
    data = steered_axle()
    data["points"] |= {"top eye": [0.0, 400.0, 700.0], "foot eye": [0.0, 450.0, 350.0]}
    data["coilover"] = {
        "coilover": {
            "top": end("top eye", "frame", "along"),
            "bottom": end("foot eye", "axle", "along"),
            "compressed": 200,
            "extended": 500,
            "mirror": True,
        }
    }
    return data


def _on_the_link() -> dict[str, Any]:
    data = scene_data("tarn_rear")
    front, rear = (np.array(data["points"][f"lower_{where}"]) for where in ("front", "rear"))
    data["points"]["on the link"] = (0.15 * front + 0.85 * rear).tolist()
    data["coilover"]["coilover"]["bottom"] |= {"on": "lower link", "point": "on the link"}
    return data


def _inboard() -> dict[str, Any]:
    data = scene_data("wren_front")
    data["wheel"]["wheel"] |= {"driven": True, "drive_torque": "frame", "brake_torque": "frame"}
    return data


def _driven_knuckles() -> dict[str, Any]:
    data = _axle()
    data["points"]["final drive"] = [0.0, 100.0, 300.0]
    data["axle"]["axle"]["housing"] = "final drive"
    data["wheel"]["wheel"]["driven"] = True
    return data


def _on_the_bushed_link() -> dict[str, Any]:
    data = scene_data("parcel_rear")
    front, rear = (np.array(data["points"][f"lower_{where}"]) for where in ("front", "rear"))
    data["points"]["on the link"] = (0.2 * front + 0.8 * rear).tolist()
    data["coilover"]["coilover"]["bottom"] |= {"on": "lower link", "point": "on the link"}
    data["coilover"]["coilover"]["extended"] = 800
    return data


SCENES = {name: scene_data(name) for name in NAMES} | {
    "centre link": pitman_scene(parallelogram=True),
    "centre link askew": pitman_scene(parallelogram=False),
    "knuckles on an axle": _axle(),
    "coilover on a link": _on_the_link(),
    "coilover on a link in rubber": _on_the_bushed_link(),
    "inboard brakes and final drive": _inboard(),
    "driven knuckles on an axle": _driven_knuckles(),
    "anti-roll bar on a live axle": bar_on_the_axle(),
}


@pytest.mark.parametrize("name", SCENES)
def test_what_acts_on_every_part_and_on_the_whole_adds_up_to_nothing(name: str) -> None:
    mechanism = _weighed(SCENES[name], unsprung=400.0)
    for loads in all_loads(mechanism, [*typical_cases(mechanism), HARD, ROLLED]):
        largest = max(float(np.abs(mount.force).max()) for mount in loads.mounts)
        assert largest > WEIGHT / 3.0
        for left in (loads.residual, loads.left_over):
            assert left.force < ROUNDING * largest
            assert left.moment < ROUNDING * largest * 1000.0
        # Ground, weight and frame, from the reported numbers alone.
        ground = sum(each.force for each in loads.ground) - 2 * 400.0 * UP
        on_frame = sum(mount.force for mount in loads.mounts if mount.on == "frame")
        assert np.abs(ground - on_frame).max() < ROUNDING * largest


@pytest.mark.parametrize("name", NAMES)
def test_many_cases_at_once_are_the_same_as_one_by_one(name: str) -> None:
    mechanism = built(scene_data(name))
    cases = [*cases_of(mechanism), ROLLED]
    for together, case in zip(all_loads(mechanism, cases), cases, strict=True):
        alone = loads_of(mechanism, case)
        for one, other in zip(together.mounts, alone.mounts, strict=True):
            assert (one.member, one.place, one.on) == (other.member, other.place, other.on)
            # Bushes are solved to 1e-7 N, and to a share of the largest force; 1 mN is far below both counted in kN.
            assert np.abs(one.force - other.force).max() < 1e-3


@pytest.mark.parametrize("name", NAMES)
def test_our_own_scenes_stand_on_their_springs(name: str) -> None:
    for coilover in loads_of(built(scene_data(name)), STATIC).coilovers:
        assert coilover.given is not None
        # The scenes' weights are whole kg that their springs nearly balance.
        assert coilover.needed == pytest.approx(coilover.given, rel=0.01)


def test_two_level_arms_take_the_wheel_as_a_couple_and_the_lever_doubles_the_coilover() -> None:
    # Balls at y = 600, z = 180 and 400; the wheel 70 mm outside them; an upright coilover halfway out on the lower arm.
    data = _with_coilover(parallel_arms(), np.array([0.0, 425.0, 600.0]), np.array([0.0, 425.0, 180.0]), "lower arm")
    loads = loads_of(_weighed(data), STATIC)
    couple = WEIGHT * 70.0 / 220.0
    assert loads.coilovers[0].needed == pytest.approx(2.0 * WEIGHT, rel=ROUNDING)
    # The wheel tips the knuckle in at the top: the upper ball is pushed out by the arm, the lower one pulled in.
    expected = {
        ("upper arm", "at knuckle"): [0.0, couple, 0.0],
        ("lower arm", "at knuckle"): [0.0, -couple, -WEIGHT],
        ("upper arm", "front pivot"): [0.0, -couple / 2.0, 0.0],
        # The lever: twice the weight halfway out, the weight at its end, so the pivots hold the arm down by the weight.
        ("lower arm", "front pivot"): [0.0, couple / 2.0, -WEIGHT / 2.0],
        ("lower arm", "rear pivot"): [0.0, couple / 2.0, -WEIGHT / 2.0],
        ("coilover", "at frame"): [0.0, 0.0, 2.0 * WEIGHT],
    }
    for (member, place), force in expected.items():
        assert _force(loads, member, place) == pytest.approx(np.array(force), abs=ROUNDING * WEIGHT * 10), member


def test_two_bars_of_a_bracket_share_a_load_by_the_triangle_of_forces() -> None:
    # Seen from the rear: an axle's panhard bar at 30° and a side force S; along the bar S / cos 30°.
    links = {
        "near lower": ((600, 400, 300), (0, 400, 300)),
        "far lower": ((600, -400, 300), (0, -400, 300)),
        "upper": ((600, 0, 500), (0, 0, 500)),
        "panhard": ((0, 300, 300 + 600 * np.tan(np.radians(30.0))), (0, -300, 300)),
    }
    data = _upright_coilovers(axle_scene(links))
    loads = loads_of(_weighed(data), LoadCase("side", side=0.5))
    axial = {link.name: link.axial for link in loads.links}
    # Both wheels are pushed to the left by half their weight, and the bar's frame end is on the left: it is pushed.
    side = 2 * 0.5 * WEIGHT
    assert axial["panhard"] == pytest.approx(-side / np.cos(np.radians(30.0)), rel=ROUNDING)
    # The bar pushes the axle down and the body up with S tan 30°, which takes that off the coilovers.
    carried = sum(coilover.needed for coilover in loads.coilovers)
    assert carried == pytest.approx(2 * WEIGHT - side * np.tan(np.radians(30.0)), rel=ROUNDING)


@pytest.mark.parametrize(
    ("keys", "case", "slope"),
    [
        ({}, LoadCase("braking", brake=0.5), 300.0 / 400.0),
        ({"brake_torque": "frame"}, LoadCase("braking", brake=0.5), 0.0),
        ({"driven": True, "drive_torque": "frame"}, LoadCase("driving", drive=0.5), 0.0),
        ({"driven": True, "drive_torque": "carrier"}, LoadCase("driving", drive=0.5), -300.0 / 400.0),
    ],
)
def test_jacking_force_is_force_times_tangent_to_the_instant_centre(
    keys: dict[str, Any], case: LoadCase, slope: float
) -> None:
    # Side view: the arm's pivot is 400 mm ahead of the wheel's centre and level with it, 300 mm above the ground. A
    # force whose torque the arm takes up acts at the ground, under an angle of atan(300/400) to the pivot; else at
    # the wheel's centre, level with the pivot. Textbook: jacking force = force × tan of that angle. A rear wheel's
    # brake pulls the body down so (anti-lift), its drive holds it up (anti-squat).
    data = trailing_arm()
    data["wheel"]["wheel"] |= keys
    data = _with_coilover(data, np.array([0.0, 650.0, 700.0]), np.array([0.0, 650.0, 300.0]), "trailing arm")
    loads = loads_of(_weighed(data), case)
    assert loads.coilovers[0].needed - WEIGHT == pytest.approx(slope * 0.5 * WEIGHT, abs=ROUNDING * WEIGHT)


def test_torque_of_a_driven_knuckle_goes_to_its_axle_and_inboard_torque_to_the_frame() -> None:
    drive = LoadCase("driving", drive=0.5)
    carried = loads_of(_weighed(_driven_knuckles()), drive)
    assert not [mount for mount in carried.mounts if mount.place == "through its final drive"]
    inboard = loads_of(_weighed(_inboard()), drive)
    torques = [mount.moment for mount in inboard.on_frame if mount.place == "through its final drive"]
    assert len(torques) == 2
    for torque in torques:
        # Force × loaded radius, about the wheel's axis, which toe and camber tilt a little.
        assert np.linalg.norm(torque) == pytest.approx(0.5 * WEIGHT * 285.0, rel=1e-6)
        assert torque[1] < 0.0  # the ground pulls the tyre ahead below: the reaction tips the frame back


@pytest.mark.parametrize("name", RIGID)
def test_coilovers_do_the_work_of_the_ground_on_any_linkage(name: str) -> None:
    # Virtual work with the tangents of the motion: a force at a wheel's contact, carried along with what carries the
    # wheel, works as far as that point moves; each coilover as far as it shortens.
    mechanism = replace(built(scene_data(name)), weights=Weights(WEIGHT, WEIGHT, 300.0))
    case = LoadCase("all at once", vertical=(1.4, 0.6), brake=0.7, side=0.5, at=(15.0, 15.0))
    poses = solve(mechanism, travel_to(mechanism, [case]))
    now, moving = posture(poses), velocities(poses)
    loads = loads_of(mechanism, case)
    work = np.zeros(len(mechanism.drives))
    for wheel, ground in zip(mechanism.wheels, loads.ground, strict=True):
        twist = moving[:, mechanism.body_number(wheel.on), 0]
        work += point_velocity(twist, ground.at) @ ground.force
        centre = now.parts[wheel.on].point(wheel.centre)[0]
        work -= 300.0 * point_velocity(twist, centre)[:, 2]
    lengths = _shortening(mechanism, case)
    for coilover, shortened in zip(loads.coilovers, lengths, strict=True):
        work -= coilover.needed * shortened
    wheels = [number for number, drive in enumerate(mechanism.drives) if drive.name != "steer"]
    # Differences over 0.02 mm leave (step/length)², some 1e-8, and roundings of 1e-11 mm of them.
    assert np.abs(work[wheels]).max() < 1e-5 * WEIGHT


def _shortening(mechanism: Mechanism, case: LoadCase, step: float = 0.01) -> Array:
    """How much each coilover (C, D) shortens for a mm of each drive, by central differences of solved poses."""
    at = travel_to(mechanism, [case]).values[0]
    moves = step * np.eye(len(mechanism.drives))
    poses = solve(mechanism, travel_of(mechanism, np.concatenate([at - moves, at + moves])))
    lengths = np.array([stroke.length for stroke in posture(poses).strokes])
    count = len(mechanism.drives)
    return (lengths[:, :count] - lengths[:, count:]) / (2.0 * step)


@pytest.mark.parametrize("name", RIGID)
def test_work_of_the_springs_is_the_work_of_the_wheels_force(name: str) -> None:
    mechanism = built(scene_data(name))
    mechanism = replace(mechanism, weights=Weights(1.0, 1.0, 0.0))
    drive = mechanism.drives[0]
    # Gauss points of a smooth run: 24 of them leave far less than 1e-9.
    nodes, share = leggauss(24)
    middle, half = 0.5 * (drive.high + drive.low), 0.5 * (drive.high - drive.low)
    heights = middle + half * nodes
    both = np.array([drive.name != "steer" for drive in mechanism.drives])
    poses = solve(mechanism, travel_of(mechanism, heights[:, None] * both))
    now, n = posture(poses), len(poses)
    # What each coilover needs for 1 N under one wheel; the wheels' forces at which the springs are in balance follow.
    still = np.zeros((n, 2))
    each = [forces_in(poses, now, Ground(still + one, still, still)) for one in np.eye(2)]
    given = []
    for coilover in each[0].springs:
        (length,) = [stroke.length for stroke in now.strokes if stroke.coilover is coilover]
        given.append(spring_force(coilover, length)[0])
    needed = np.stack([found.coilovers for found in each], axis=-1)
    balance = np.linalg.solve(needed, np.stack(given, axis=-1)[..., None])[..., 0]
    work = 0.0
    for wheel, up in zip(mechanism.wheels, balance.T, strict=True):
        carrier = now.parts[wheel.on]
        contact = contact_point(carrier.point(wheel.centre), carrier.rotation @ wheel.axis, wheel.loaded_radius)
        rise = Chebyshev.fit(heights, contact[:, 2], 23, domain=[drive.low, drive.high]).deriv()(heights)
        work += float((share * half) @ (up * rise))
    assert work == pytest.approx(_stored(mechanism, both), rel=1e-6)


def _stored(mechanism: Mechanism, both: Array) -> float:
    """Energy (N·mm) that the springs take up from full droop to full bump: ½ k x² at both ends."""
    drive = mechanism.drives[0]
    poses = solve(mechanism, travel_of(mechanism, np.array([[drive.low], [drive.high]]) * both))
    energy = 0.0
    for stroke in posture(poses).strokes:
        spring = stroke.coilover.spring
        assert spring is not None
        low, high = np.maximum(spring.preload + stroke.coilover.extended - stroke.length, 0.0)
        assert low > 0.0  # a spring that hangs loose has a kink, which Gauss points do not like
        energy += 0.5 * spring.rate * (high**2 - low**2)
    return energy


def test_a_link_that_carries_a_coilover_is_bent_as_a_beam_between_its_joints() -> None:
    data = _on_the_link()
    loads = loads_of(built(data), STATIC)
    (link,) = [link for link in loads.links if link.name == "left lower link"]
    front, rear = (np.array(data["points"][f"lower_{where}"]) for where in ("front", "rear"))
    along = (rear - front) / np.linalg.norm(rear - front)
    force = _force(loads, "left coilover", "at lower link")
    across = float(np.linalg.norm(force - (force @ along) * along))
    # Handbook: a beam on two supports under a force P at a share a of its length L is bent with P a (1 − a) L.
    assert link.bending == pytest.approx(across * 0.85 * 0.15 * float(np.linalg.norm(rear - front)), rel=1e-9)
    assert {other.bending for other in loads.links if "upper" in other.name} == {0.0}


def test_levers_run_from_the_nearest_middle_line() -> None:
    rail = FrameShape("rail", path=np.array([[-500.0, 400.0, 400.0], [500.0, 400.0, 400.0]]), section=(50.0, 100.0))
    post = FrameShape("post", path=np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 900.0]]), diameter=40.0)
    lever = lever_of([post, rail], np.array([100.0, 430.0, 360.0]), np.array([0.0, 0.0, 2000.0]), np.zeros(3))
    assert lever is not None
    assert (lever.path, lever.arm) == ("rail", pytest.approx(50.0))
    # (0, 30, −40) × (0, 0, 2000)
    assert lever.moment == pytest.approx([60000.0, 0.0, 0.0])
    assert lever_of([], np.zeros(3), UP, np.zeros(3)) is None


def _refused(data: dict[str, Any], **case: Any) -> str:
    with pytest.raises(SceneError) as caught:
        built(data | {"case": {"own": case}})
    (complaint,) = caught.value.complaints
    return complaint


def test_cases_are_read_in_the_scenes_own_unit_and_refused_outside_the_travel() -> None:
    data = scene_data("wren_rear") | {"case": {"own": {"vertical": [2.0, 1.0], "drive": 0.5, "at": ["bump", -30]}}}
    (case,) = built(data).cases
    assert (case.name, case.vertical, case.drive, case.at) == ("own", (2.0, 1.0), 0.5, ("bump", -30.0))
    assert not case.typical
    assert cases_of(built(data)) == (case,)
    assert "inside [travel]" in _refused(scene_data("wren_rear"), at=400.0)
    assert "no wheel is driven" in _refused(scene_data("wren_front"), drive=0.5)


def test_scenes_that_statics_cannot_answer_for_are_refused_in_one_sentence() -> None:
    bare = scene_data("wren_rear")
    del bare["weights"]
    with pytest.raises(CallError, match=r"no \[weights\]"):
        loads_of(built(bare), STATIC)
    with pytest.raises(CallError, match="no wheel is driven"):
        loads_of(built(scene_data("wren_front")), LoadCase("driving", drive=0.5))
    sagging = scene_data("wren_rear")
    sagging |= {"coilover": {}, "adjust": {}}
    with pytest.raises(CallError, match="0 coilovers to hold 2 wheels"):
        loads_of(built(sagging), STATIC)
    level = _with_coilover(trailing_arm(), np.array([400.0, 650.0, 700.0]), np.array([400.0, 650.0, 300.0]), "")
    level["coilover"]["coilover"]["bottom"]["on"] = "trailing arm"
    with pytest.raises(CallError, match="cannot hold the wheels"):  # its foot is on the line that the arm turns about
        loads_of(_weighed(level), STATIC)


def test_typical_cases_are_said_to_be_typical() -> None:
    rear, front = built(scene_data("wren_rear")), built(scene_data("wren_front"))
    assert all(case.typical for case in typical_cases(rear))
    assert {case.name for case in typical_cases(rear)} - {case.name for case in typical_cases(front)} == {"driving"}
    assert FULL_BUMP.typical


def test_wheels_settle_where_their_springs_and_the_bar_hold_the_load() -> None:
    mechanism = built(scene_data("wren_front"))
    turn = LoadCase("turn", vertical=(1.4, 0.6), side=-0.4, at=("settled", "settled"))
    loads = loads_of(mechanism, turn)
    heights = loads.poses.travel.values[0]
    assert heights[0] > 10.0 > -10.0 > heights[1]
    for coilover in loads.coilovers:
        assert coilover.given is not None
        # Newton's method stops within a thousandth of a N for each mm of travel.
        assert coilover.needed == pytest.approx(coilover.given, abs=0.5)
    stiff = replace(mechanism, bars=(replace(mechanism.bars[0], rate=1e8),))
    held = loads_of(stiff, turn).poses.travel.values[0]
    # A bar that is several times as stiff leaves little roll, and no wheel's load changes the mean height by much.
    assert held[0] - held[1] < 0.5 * (heights[0] - heights[1])


def test_wheels_settle_at_the_end_of_their_travel_under_more_than_the_springs_hold() -> None:
    mechanism = built(scene_data("wren_rear"))
    loads = loads_of(mechanism, LoadCase("heavy", vertical=(3.0, 3.0), at=("settled", "settled")))
    assert loads.poses.travel.values[0] == pytest.approx([drive.high for drive in mechanism.drives])
    rest = loads_of(mechanism, LoadCase("rest", at=("settled", "settled")))
    # The scene's weights are what its springs hold at ride height, to a kg or two: some mm.
    assert np.abs(rest.poses.travel.values[0]).max() < 3.0


def test_forces_of_two_loads_add_up() -> None:
    # Statics in one pose is linear in the load; without unsprung weight nothing is left when there is none.
    mechanism = _weighed(scene_data("wren_front"))
    first, second = LoadCase("up", vertical=(1.3, 0.8)), LoadCase("push", brake=0.6, side=0.4)
    poses = solve(mechanism, travel_to(mechanism, [STATIC]))
    now, grounds = posture(poses), [ground_of(mechanism, [case]) for case in (first, second)]
    one, other = (forces_in(poses, now, ground) for ground in grounds)
    summed = Ground(*(getattr(grounds[0], key) + getattr(grounds[1], key) for key in ("up", "ahead", "left")))
    both = forces_in(poses, now, summed)
    for a, b, together in zip(one.pushes, other.pushes, both.pushes, strict=True):
        assert together.force == pytest.approx(a.force + b.force, abs=ROUNDING * WEIGHT * 10)


def test_a_case_that_the_linkage_does_not_reach_is_refused() -> None:
    links = FOUR_LINKS | {"panhard": ((-120, 60, 310), (-120, -60, 300))}
    data = _upright_coilovers(axle_scene(links, travel=150.0))
    with pytest.raises(CallError, match='locks before it reaches the heights of the case "bump"'):
        loads_of(_weighed(data), FULL_BUMP)
    reached = within_reach(_weighed(data), typical_cases(_weighed(data)))
    assert [case.name for case in reached] == ["at rest", "braking", "right-hand turn"]
    own = replace(FULL_BUMP, typical=False)
    assert within_reach(_weighed(data), [own]) == (own,)


def test_typical_cases_can_be_named_beside_the_scenes_own() -> None:
    mechanism = built(scene_data("wren_rear") | {"case": {"own": {"vertical": 2.0}, "bump": {"vertical": 4.0}}})
    assert [case.name for case in chosen_cases(mechanism, [])] == ["own", "bump"]
    own, bump, rest = chosen_cases(mechanism, ["own", "bump", "at rest"])
    assert (own.typical, bump.typical, rest.typical) == (False, False, True)
    assert bump.vertical == (4.0, 4.0)
    with pytest.raises(CallError, match='did you mean "braking"'):
        chosen_cases(mechanism, ["brakin"])
