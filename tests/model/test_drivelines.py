"""Driveshafts over poses: closed forms on arms that swing and knuckles that shift, states, reports, mistakes."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from zoo import FOUR_LINKS, axle_scene, built, parallel_arms, scene_data, trailing_arm, travel_of

from model import hooke
from model.drivelines import ShaftMotion, ShaftReport, shaft_motions, shaft_reports
from model.errors import SceneError
from model.findings import judge
from model.members import posture
from model.solver import solve
from model.spatial import Array, angle_between, norm
from model.travel import grid
from model.verdicts import Finding, State, Verdict

# The solver's promise of 1e-9 mm, a few times over; over some 100 mm of a shaft that is 1e-11 rad.
LENGTH, TURN = 1e-8, 1e-10
HEIGHTS = np.array([-80.0, -30.0, 0.0, 45.0, 80.0])


def _motions(data: dict[str, Any], heights: Array) -> tuple[ShaftMotion, ...]:
    mechanism = built(data)
    return shaft_motions(mechanism, posture(solve(mechanism, travel_of(mechanism, heights))).parts)


def _judged(data: dict[str, Any]) -> tuple[Verdict, tuple[ShaftReport, ...]]:
    mechanism = built(data)
    poses = solve(mechanism, grid(mechanism, 5, 3))
    return judge(poses), shaft_reports(poses)


def _one(verdict: Verdict, what: str, where: str) -> Finding | None:
    return next((finding for finding in verdict.findings if (finding.what, finding.where) == (what, where)), None)


# -- a shaft to an arm that swings ------------------------------------------------------------------------------

PIVOT, GEARBOX, FLANGE = (np.array(at) for at in ([400.0, 450.0, 300.0], [900.0, 420.0, 340.0], [150.0, 420.0, 310.0]))


def swinging(**changes: Any) -> dict[str, Any]:
    """A trailing arm that turns about y at (400, ·, 300), and a shaft from the frame to a flange on it."""
    data = trailing_arm(400.0, 100.0)
    data["points"] |= {"gearbox": GEARBOX.tolist(), "flange": FLANGE.tolist()}
    data["shaft"] = {
        "prop": {
            "from": {"point": "gearbox", "on": "frame", "axis": "along"},
            "to": {"point": "flange", "on": "trailing arm", "axis": [1.0, 0.0, 0.03]},
            "slip": {"room_in": 40.0, "engaged": 90.0, "diameter": 34.0},
            "speed": 3000.0,
        }
        | changes
    }
    return data


def _swung(heights: Array) -> tuple[Array, Array]:
    """D: turn (N,) of the arm about y, and the flange's place (N, 3), with the wheel level with the pivot at ride."""
    turned = np.arcsin(heights / 400.0)  # positive about y lifts what is behind the pivot
    x, z = FLANGE[0] - PIVOT[0], FLANGE[2] - PIVOT[2]
    cosine, sine = np.cos(turned), np.sin(turned)
    place = np.stack([PIVOT[0] + x * cosine + z * sine, np.full_like(turned, FLANGE[1]),
                      PIVOT[2] - x * sine + z * cosine], axis=-1)  # fmt: skip
    return turned, place


def test_plunge_and_angles_of_a_shaft_to_a_swinging_arm() -> None:
    (motion,) = _motions(swinging(), HEIGHTS)
    turned, flange = _swung(HEIGHTS)
    # D: cosine rule in the triangle of gearbox, pivot and flange.
    far, near = np.hypot(*(GEARBOX - PIVOT)[[0, 2]]), np.hypot(*(FLANGE - PIVOT)[[0, 2]])
    at_pivot = np.pi - np.arctan2(40.0, 500.0) - np.arctan2(10.0, 250.0)
    length = np.sqrt(far**2 + near**2 - 2 * far * near * np.cos(at_pivot - turned))
    assert np.abs(motion.longer - (length - length[2])).max() < LENGTH
    assert np.abs(motion.at[1] - flange).max() < LENGTH
    # D: all in one upright plane, so that slopes subtract; what falls to the rear has a positive slope.
    shaft = np.arctan2(GEARBOX[2] - flange[:, 2], GEARBOX[0] - flange[:, 0])
    pinion = np.arctan(0.03) - turned
    assert np.abs(motion.side - np.stack([-shaft, shaft - pinion])).max() < TURN
    assert np.abs(motion.true - np.abs(motion.side)).max() < TURN
    assert np.abs(motion.plan).max() < TURN
    assert motion.difference is not None
    assert motion.kappa is not None
    assert np.abs(motion.difference - (motion.true[1] - motion.true[0])).max() < TURN
    # D: in one plane and in phase, what the joints stretch subtracts.
    first, second = hooke.kappa_of(motion.true)
    assert np.abs(motion.kappa - np.abs(first - second) / (1.0 - first * second)).max() < 1e-12


def test_the_pieces_of_a_shaft_stay_at_their_joints() -> None:
    mechanism = built(swinging())
    parts = posture(solve(mechanism, travel_of(mechanism, HEIGHTS))).parts
    _, flange = _swung(HEIGHTS)
    front, rear = parts["prop front"], parts["prop rear"]
    assert np.abs(front.point(GEARBOX) - GEARBOX).max() < LENGTH
    assert np.abs(rear.point(FLANGE) - flange).max() < LENGTH
    # Both lie along the line between the joints: what the front's end and the rear's start are apart is the plunge.
    along = (flange - GEARBOX) / norm(flange - GEARBOX)[:, None]
    for half in (front, rear):
        assert angle_between(half.rotation @ ((FLANGE - GEARBOX) / norm(FLANGE - GEARBOX)), along).max() < TURN
    assert np.abs(norm(rear.point(GEARBOX) - front.point(GEARBOX)) - np.abs(norm(flange - GEARBOX) - norm(
        FLANGE - GEARBOX))).max() < LENGTH  # fmt: skip
    assert np.abs(front.rotation[2] - np.eye(3)).max() < TURN


@pytest.mark.parametrize("end", ["from", "to"])
def test_an_axis_is_a_line_whichever_way_it_is_given(end: str) -> None:
    data = swinging()
    turned = copy.deepcopy(data)
    axis = {"from": [-2.0, 0.0, 0.0], "to": [-1.0, 0.0, -0.03]}[end]
    turned["shaft"]["prop"][end]["axis"] = axis
    (one,), (other,) = _motions(data, HEIGHTS), _motions(turned, HEIGHTS)
    assert np.array_equal(one.true, other.true)


def test_a_scene_in_inches_means_the_same() -> None:
    data = swinging()
    inches = copy.deepcopy(data)
    inches["units"] = "in"
    inches["points"] = {name: [x / 25.4 for x in at] for name, at in data["points"].items()}
    inches["travel"] = {"bump": 100 / 25.4, "droop": 100 / 25.4}
    inches["shaft"]["prop"]["slip"] = {key: value / 25.4 for key, value in data["shaft"]["prop"]["slip"].items()}
    for wheel in inches["wheel"].values():
        wheel |= {key: wheel[key] / 25.4 for key in ("loaded_radius", "width")}
    (mm,), (inch,) = _judged(data)[1], _judged(inches)[1]
    for key in ("true", "largest", "shortest", "longest", "engaged", "room_in", "acceleration", "equivalent"):
        assert getattr(mm, key) == pytest.approx(getattr(inch, key), rel=1e-9, abs=1e-9)


# -- what is judged ---------------------------------------------------------------------------------------------


def test_a_slip_yoke_keeps_its_spline_and_its_room() -> None:
    verdict, (report,) = _judged(swinging())
    (motion,) = _motions(swinging(), np.linspace(-100.0, 100.0, 5))
    held, room = _one(verdict, "spline engaged", "prop"), _one(verdict, "slip room left", "prop")
    assert held is not None
    assert room is not None
    assert held.used == pytest.approx(90.0 - motion.longer.max(), abs=LENGTH)
    assert room.used == pytest.approx(40.0 + motion.longer.min(), abs=LENGTH)
    assert (report.engaged, report.room_in) == pytest.approx((held.used, room.used), abs=LENGTH)
    assert (report.shortest, report.longest) == pytest.approx((motion.longer.min(), motion.longer.max()), abs=LENGTH)
    # P common practice: engaged by at least its spline's diameter; ¾ to 1 in of room.
    assert (held.limit, held.at_least, held.typical) == (34.0, True, True)
    assert (room.limit, room.at_least, room.typical) == (19.0, True, True)


@pytest.mark.parametrize(
    ("left", "state"), [(18.9, State.OVER), (19.1, State.CLOSE), (25.3, State.CLOSE), (25.5, State.CLEAR)]
)
def test_a_slip_yoke_that_nearly_bottoms(left: float, state: State) -> None:
    (motion,) = _motions(swinging(), np.linspace(-100.0, 100.0, 5))
    slip = {"room_in": left - float(motion.longer.min()), "engaged": 90.0, "diameter": 34.0}
    found = _one(_judged(swinging(slip=slip))[0], "slip room left", "prop")
    assert found is not None
    assert (found.state, found.used) == (state, pytest.approx(left, abs=LENGTH))


def test_a_shaft_without_a_slip_shows_what_it_would_need() -> None:
    data = swinging()
    del data["shaft"]["prop"]["slip"]
    verdict, (report,) = _judged(data)
    found = _one(verdict, "change of length", "prop")
    assert found is not None
    assert (found.state, found.limit) == (State.UNJUDGED, None)
    assert found.used == pytest.approx(max(-report.shortest, report.longest), abs=LENGTH)
    assert (report.engaged, report.room_in, report.room_out) == (None, None, None)


@pytest.mark.parametrize("height", [-100.0, 100.0])
def test_a_change_of_length_is_one_whichever_way_it_goes(height: float) -> None:
    data = swinging()
    del data["shaft"]["prop"]["slip"]
    # Straight up from the arm's pivots a shaft gets longer one way and shorter the other.
    data["points"]["gearbox"] = [data["points"]["flange"][0] + 300.0, 0.0, data["points"]["flange"][2] + 400.0]
    data["shaft"]["prop"]["from"]["axis"] = [-3.0, 0.0, -4.0]
    data["shaft"]["prop"]["to"]["axis"] = [-3.0, 0.0, -4.0]
    mechanism = built(data)
    poses = solve(mechanism, travel_of(mechanism, np.array([[height]])))
    (motion,) = shaft_motions(mechanism, posture(poses).parts)
    assert np.sign(motion.longer[0]) == -np.sign(height)
    found = next(one for one in judge(poses).findings if one.what == "change of length")
    assert found.used == pytest.approx(abs(float(motion.longer[0])), abs=LENGTH)
    assert found.used > 10.0


def _bent(first: float, second: float, **changes: Any) -> dict[str, Any]:
    """A level shaft whose joints bend by so many degrees at ride height, both in the upright plane, as a Z."""
    data = swinging(**changes)
    data["points"]["gearbox"][2] = data["points"]["flange"][2]
    for end, angle in (("from", first), ("to", second)):
        data["shaft"]["prop"][end]["axis"] = [float(np.cos(np.radians(angle))), 0.0, float(np.sin(np.radians(angle)))]
    return data


# S typical at ride height: at least ½°, at most 3°, ends within 1° of each other; 3° equivalent; 400 rad/s² (facts of
# the trade). Advice makes it close; over are only the stop, 30° typical, and unevenness.
@pytest.mark.parametrize(
    ("angles", "what", "where", "state"),
    [
        ((2.0, 2.0), "joint angle at ride height", "prop, at frame", State.CLEAR),
        ((3.1, 3.1), "joint angle at ride height", "prop, at frame", State.CLOSE),
        ((12.0, 12.0), "joint angle at ride height", "prop, at trailing arm", State.CLOSE),
        ((31.0, 31.0), "joint angle at ride height", "prop, at trailing arm", State.CLOSE),
        ((0.6, 0.6), "least joint angle at ride height", "prop, at frame", State.CLEAR),
        ((0.4, 0.4), "least joint angle at ride height", "prop, at frame", State.CLOSE),
        ((0.0, 0.0), "least joint angle at ride height", "prop, at trailing arm", State.CLOSE),
        ((1.0, 1.9), "difference of ends at ride height", "prop", State.CLEAR),
        ((1.0, 2.1), "difference of ends at ride height", "prop", State.CLOSE),
        ((2.1, 1.0), "difference of ends at ride height", "prop", State.CLOSE),
        ((2.0, 2.0), "equivalent angle at ride height", "prop", State.CLEAR),
        ((1.0, 3.0), "equivalent angle at ride height", "prop", State.CLOSE),
        ((1.0, 3.2), "equivalent angle at ride height", "prop", State.OVER),
        ((2.0, 2.0), "torsional acceleration at ride height", "prop", State.CLEAR),
        ((1.0, 3.9), "torsional acceleration at ride height", "prop", State.OVER),
    ],
)
def test_advice_is_close_and_only_stops_and_unevenness_are_over(
    angles: tuple[float, float], what: str, where: str, state: State | None
) -> None:
    found = _one(_judged(_bent(*angles))[0], what, where)
    assert (None if found is None else found.state) == state
    if found is not None:
        assert found.typical
        assert found.source.startswith("typical: ")
        assert found.drives == (0.0,)  # judged at ride height only
        assert found.lowest == found.highest == found.ride


def test_acceleration_is_that_of_the_equivalent_joint_at_the_scenes_speed() -> None:
    _, (report,) = _judged(_bent(4.0, 1.0, speed=1500.0))
    # S rule of the table after SAE AE-7 §3.1.1, (b1² − b2²)·ω²; the exact form is within a hundredth at such angles.
    rule = (np.radians(4.0) ** 2 - np.radians(1.0) ** 2) * (1500.0 * np.pi / 30.0) ** 2
    assert report.acceleration == pytest.approx(rule, rel=0.01)
    assert report.equivalent == pytest.approx(np.sqrt(np.radians(4.0) ** 2 - np.radians(1.0) ** 2), rel=0.01)
    assert report.fluctuation is not None
    assert report.equivalent is not None
    # D: 1/cos β − cos β of the equivalent joint.
    assert report.fluctuation == pytest.approx(1 / np.cos(report.equivalent) - np.cos(report.equivalent), rel=1e-9)
    assert report.difference == pytest.approx(np.radians(-3.0), abs=TURN)
    assert report.speed == 1500.0
    verdict, (still,) = _judged(_bent(4.0, 1.0, speed=None))
    assert (still.acceleration, still.equivalent) == (None, pytest.approx(report.equivalent))
    assert _one(verdict, "torsional acceleration at ride height", "prop") is None


@pytest.mark.parametrize("angles", [(1.0, 12.0), (12.0, 1.0)])
def test_the_most_that_the_ends_differ_by_is_one_whichever_is_bent_more(angles: tuple[float, float]) -> None:
    data = _bent(*angles)
    _, (report,) = _judged(data)
    mechanism = built(data)
    (motion,) = shaft_motions(mechanism, posture(solve(mechanism, grid(mechanism, 5, 3))).parts)
    assert report.most_difference == pytest.approx(np.abs(motion.true[1] - motion.true[0]).max(), abs=TURN)
    assert report.most_difference >= np.radians(11.0) - TURN


def test_the_report_has_the_most_uneven_pose_of_the_travel() -> None:
    data = _bent(1.0, 1.5)
    _, (report,) = _judged(data)
    mechanism = built(data)
    poses = solve(mechanism, grid(mechanism, 5, 3))
    (motion,) = shaft_motions(mechanism, posture(poses).parts)
    # D: two joints in one upright plane with yokes in line pass on cos b1 / cos b2 at one end of the turn and its
    # inverse at the other (Bevan: one joint passes on cos b and 1 / cos b).
    ratio = np.cos(motion.true[0]) / np.cos(motion.true[1])
    uneven = np.abs(ratio - 1.0 / ratio)
    assert report.most_fluctuation == pytest.approx(uneven.max(), rel=1e-9)
    assert report.most_difference == pytest.approx(np.abs(motion.true[1] - motion.true[0]).max(), abs=TURN)
    assert report.fluctuation is not None
    assert report.most_fluctuation > 2.0 * report.fluctuation
    # S Bevan's greatest acceleration is that of the joint that is as uneven.
    alike = np.arccos(np.minimum(ratio, 1.0 / ratio).min())
    most = hooke.greatest_acceleration(hooke.kappa_of(np.array([alike])), 3000.0 * np.pi / 30.0)[0]
    assert report.most_acceleration == pytest.approx(most, rel=1e-9)


def test_yokes_out_of_phase_are_told_from_yokes_in_phase() -> None:
    _, (now,) = _judged(_bent(5.0, 5.0))
    _, (out,) = _judged(_bent(5.0, 5.0, phase=90))
    assert now.fluctuation == pytest.approx(0.0, abs=1e-15)
    # D: a quarter turn out, both joints' fluctuations add: s = 1/cos² β.
    assert out.fluctuation == pytest.approx(np.cos(np.radians(5)) ** -2 - np.cos(np.radians(5)) ** 2, rel=1e-9)
    assert (out.phase, out.best_fluctuation) == (pytest.approx(0.5 * np.pi), pytest.approx(0.0, abs=1e-15))
    assert out.best_phase == pytest.approx(0.0, abs=1e-9)


def test_the_best_phase_follows_the_planes_of_the_joints() -> None:
    data = _bent(4.0, 4.0)
    # D: the rear joint bends in the level plane, a quarter turn from the front one's.
    turned = [float(np.cos(np.radians(4))), float(np.sin(np.radians(4))), 0.0]
    data["shaft"]["prop"]["to"]["axis"] = turned
    _, (report,) = _judged(data)
    assert abs(report.best_phase or 0.0) == pytest.approx(0.5 * np.pi, abs=1e-9)
    assert report.best_fluctuation == pytest.approx(0.0, abs=1e-12)
    assert np.degrees(report.side) == pytest.approx([4.0, 0.0], abs=1e-9) or np.degrees(report.side) == pytest.approx(
        [-4.0, 0.0], abs=1e-9
    )
    assert np.degrees(np.abs(report.plan)) == pytest.approx([0.0, 4.0], abs=1e-9)
    assert np.degrees(report.true) == pytest.approx([4.0, 4.0], abs=1e-9)


# -- two pieces -------------------------------------------------------------------------------------------------


def two_piece() -> dict[str, Any]:
    """The swinging shaft with a centre bearing on the frame."""
    data = swinging(carrier={"point": "bearing", "on": "frame"})
    data["points"] |= {"gearbox": [1500.0, 420.0, 380.0], "bearing": GEARBOX.tolist()}
    return data


def test_the_first_piece_stands_still_and_the_last_one_plunges() -> None:
    mechanism = built(two_piece())
    poses = solve(mechanism, travel_of(mechanism, HEIGHTS))
    parts = posture(poses).parts
    (motion,), (one,) = shaft_motions(mechanism, parts), _motions(swinging(), HEIGHTS)
    assert np.abs(parts["prop first piece"].matrix() - np.eye(4)).max() < 1e-12
    assert np.abs(parts["prop front"].point(GEARBOX) - GEARBOX).max() < LENGTH
    assert np.abs(motion.longer - one.longer).max() < LENGTH
    assert np.abs(motion.true[2] - one.true[1]).max() < TURN
    # D: slopes of 40 in 600 mm at the gearbox and, at the centre bearing, of what the last piece has beyond it.
    first = np.arctan(40.0 / 600.0)
    shaft = np.arctan2(GEARBOX[2] - motion.at[2, :, 2], GEARBOX[0] - motion.at[2, :, 0])
    assert np.abs(motion.side[:2] - np.stack([np.full(5, -first), first - shaft])).max() < TURN
    assert [joint.place for joint in motion.shaft.joints] == ["at frame", "at centre bearing", "at trailing arm"]
    verdict, _ = _judged(two_piece())
    for place in ("at frame", "at centre bearing", "at trailing arm"):
        assert _one(verdict, "joint angle", f"prop, {place}") is not None


# -- half shafts ------------------------------------------------------------------------------------------------

PLUNGING = {"room_in": 25.0, "room_out": 20.0}


def test_plunge_of_a_half_shaft_to_a_knuckle_that_only_shifts() -> None:
    data = parallel_arms(350.0)
    data["points"] |= {"inner": [0.0, 200.0, 290.0], "outer": [0.0, 600.0, 290.0]}
    data["shaft"] = {
        "half shaft": {
            "from": {"point": "inner", "on": "frame", "axis": "across", "joint": "constant-velocity joint"},
            "to": {"point": "outer", "on": "knuckle", "axis": "across", "joint": "constant-velocity joint"},
            "slip": PLUNGING,
        }
    }
    (motion,) = _motions(data, HEIGHTS)
    # D: the knuckle shifts by the chord of a 350 mm arm, and does not turn.
    inward = 350.0 - np.sqrt(350.0**2 - HEIGHTS**2)
    assert np.abs(motion.longer - (np.hypot(400.0 - inward, HEIGHTS) - 400.0)).max() < LENGTH
    slope = np.arctan2(HEIGHTS, 400.0 - inward)
    assert np.abs(motion.true - np.abs(slope)).max() < TURN
    assert np.abs(np.abs(motion.side) - np.abs(slope)).max() < TURN  # seen from the rear
    assert (motion.kappa, motion.difference, motion.acceleration) == (None, None, None)
    verdict, (report,) = _judged(data)
    # Both joints have no typical limit of their own: what is not given is measured and not judged.
    assert {finding.what for finding in verdict.findings if finding.part == "half shaft"} == {
        "joint angle", "plunge in", "plunge out",
    }  # fmt: skip
    into, out = _one(verdict, "plunge in", "half shaft"), _one(verdict, "plunge out", "half shaft")
    assert into is not None
    assert out is not None
    assert (into.limit, out.limit, into.typical) == (25.0, 20.0, False)
    assert report.across
    assert (report.room_in, report.room_out) == pytest.approx((25.0 - into.used, 20.0 - out.used), abs=LENGTH)
    assert (report.phase, report.best_phase, report.fluctuation, report.equivalent) == (None, None, None, None)


def independent_rear() -> dict[str, Any]:
    """A-arms, toe links to the frame, and half shafts from a final drive that is bolted to the frame."""
    data = scene_data("wren_front")
    del data["steering"]
    for name in ("bar", "hose", "shaft"):
        data.pop(name, None)
    data["link"] = {"toe link": data["link"]["tie rod"]}
    data["link"]["toe link"]["from"] |= {"on": "frame"}
    data["points"]["drive"] = [15.0, 120.0, 275.0]
    data["joint"]["half shaft joint"] = {"kind": "constant-velocity joint", "swing": 22, "source": "maker's sheet"}
    data["shaft"] = {
        "half shaft": {
            "mirror": True,
            "from": {"point": "drive", "on": "frame", "axis": "across", "joint": "half shaft joint"},
            "to": {"point": "wheel_centre", "on": "upright", "axis": "across", "joint": "half shaft joint"},
            "slip": PLUNGING,
        }
    }
    return data


def test_both_half_shafts_of_an_independent_rear_do_the_same() -> None:
    mechanism = built(independent_rear())
    poses = solve(mechanism, grid(mechanism, 5))
    left, right = shaft_motions(mechanism, posture(poses).parts)
    swapped = [int(np.flatnonzero((poses.travel.values == pair[::-1]).all(axis=1))[0]) for pair in poses.travel.values]
    assert (left.shaft.name, right.shaft.name) == ("left half shaft", "right half shaft")
    assert np.abs(left.longer - right.longer[swapped]).max() < LENGTH
    assert np.abs(left.true - right.true[:, swapped]).max() < TURN
    # D: the plunge is what the distance between both joints changes by.
    hub = left.at[1]
    assert (
        np.abs(left.longer - (norm(hub - [15.0, 120.0, 275.0]) - norm(np.array([-15.0, 550.0, 10.0])))).max() < LENGTH
    )
    verdict = judge(poses)
    angle = _one(verdict, "joint angle", "left half shaft, at upright")
    assert angle is not None
    assert (np.degrees(angle.limit or 0.0), angle.typical, angle.source) == (
        pytest.approx(22.0),
        False,
        "maker's sheet",
    )


def test_mirrored_yokes_are_turned_the_other_way() -> None:
    data = independent_rear()
    for end in ("from", "to"):
        data["shaft"]["half shaft"][end]["joint"] = "universal joint"
    data["shaft"]["half shaft"] |= {"phase": 20}
    mechanism = built(data)
    poses = solve(mechanism, travel_of(mechanism, np.column_stack([HEIGHTS, HEIGHTS]) * 0.5))
    left, right = shaft_motions(mechanism, posture(poses).parts)
    assert left.kappa is not None
    assert right.kappa is not None
    assert np.abs(left.kappa - right.kappa).max() < TURN
    still, other = shaft_reports(poses)
    assert (still.phase, other.phase) == pytest.approx(np.radians([20.0, -20.0]))
    assert still.best_phase == pytest.approx(-(other.best_phase or 0.0), abs=1e-9)


# -- scenes and mistakes ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "joints"), [("wren_rear", 2), ("tarn_rear", 3)])
def test_the_scenes_shafts_run_evenly_and_keep_their_slip(name: str, joints: int) -> None:
    verdict, (report,) = _judged(scene_data(name))
    assert len(report.true) == joints
    mine = [finding for finding in verdict.findings if finding.part == "propshaft"]
    assert mine
    assert all(finding.state in (State.CLEAR, State.CLOSE) for finding in mine)


def test_a_scene_without_shafts_has_no_reports() -> None:
    assert _judged(axle_scene(FOUR_LINKS))[1] == ()


CARRIER = {"point": "bearing", "on": "frame"}


@pytest.mark.parametrize(
    ("changes", "complaint"),
    [
        (
            {"from": {"point": "gearbox", "on": "frame", "axis": "across"}},
            '[shaft."prop"] from.axis stands square to the shaft, expected the direction of what the joint turns with, '
            "such as a gearbox output, a pinion or a hub; correct it.",
        ),
        (
            {"carrier": CARRIER | {"on": "trailing arm"}},
            '[shaft."prop"] carrier.on is "trailing arm" but from.on is "frame", and the first piece of a shaft cannot '
            "change its length; put both on the same part.",
        ),
        (
            {"carrier": CARRIER | {"point": "behind"}},
            '[shaft."prop"] carrier has the last piece standing square to the first or doubling back on it; correct '
            "the points.",
        ),
        (
            {
                "from": {"point": "gearbox", "on": "frame", "axis": "along", "joint": "constant-velocity joint"},
                "phase": 5,
            },
            '[shaft."prop"] has a phase, which only a piece with a universal joint at both ends has; leave out phase.',
        ),
        (
            {
                "from": {"point": "gearbox", "on": "frame", "axis": "along", "joint": "constant-velocity joint"},
                "to": {"point": "flange", "on": "trailing arm", "axis": "along", "joint": "constant-velocity joint"},
            },
            '[shaft."prop"] has a speed but no universal joint, so that it turns evenly at any; leave out speed.',
        ),
        (
            {"carrier": CARRIER | {"point": "gearbox"}},
            '[shaft."prop"] has two of its joints in the same place; set the points apart by the part\'s length.',
        ),
    ],
)
def test_one_sentence_for_each_mistake(changes: dict[str, Any], complaint: str) -> None:
    data = swinging(**changes)
    data["points"] |= {"bearing": [600.0, 420.0, 330.0], "behind": [-200.0, 420.0, 330.0]}
    with pytest.raises(SceneError) as error:
        built(data)
    assert complaint in error.value.complaints


def test_a_shaft_between_two_places_on_one_part_names_its_points() -> None:
    data = swinging(to={"point": "flange", "on": "frame", "axis": "along"})
    shaft = built(data).shafts[0]
    assert [joint.place for joint in shaft.joints] == ["at gearbox", "at flange"]
