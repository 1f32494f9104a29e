"""A steered live axle against an independent solve: where it stands, and what the joints of its steering do."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from pose_by_pose import turned
from scipy.optimize import brentq, least_squares
from scipy.spatial.transform import Rotation
from zoo import ACROSS, FOUR_LINKS, UP, built, pitman_scene, steered_axle, travel_of

from model.findings import judge
from model.members import JointMotion, Posture, posture
from model.poses import Status
from model.solver import solve
from model.spatial import Array
from model.toggle import NEAR, toggle_measures
from model.travel import grid

# scipy stops at steps of 1e-10 of some 100 mm; rods of 100 mm and more turn that into 1e-9 rad of a joint's angle.
PLACE, ANGLE = 1e-6, 1e-7
MIRROR = np.array([1.0, -1.0, 1.0])
DATA = steered_axle()
AT = {name: np.array(point) for name, point in DATA["points"].items()}
SIDES = {"left": np.ones(3), "right": MIRROR}
# Rolled, bumped and at full lock both ways.
VALUES = np.array([[0, 0, 1], [0, 0, -1], [70, -60, 1], [-70, 60, -1], [75, 75, -1], [-80, -80, 1]], dtype=float)


def _knuckle(x: Array, side: str, at: Array) -> Array:
    """A point of a knuckle: turned about its kingpin, then carried by the axle; x is 6 of the axle and 2 angles."""
    low, high = (AT[f"kingpin {which}"] * SIDES[side] for which in ("low", "high"))
    axis = (high - low) / np.linalg.norm(high - low)
    angle = x[6 + list(SIDES).index(side)] / 500.0
    return _axle(x, low + Rotation.from_rotvec(angle * axis).apply(at - low))


def _axle(x: Array, at: Array) -> Array:
    return np.asarray(turned(x[3:6] / 500.0)[0] @ at + x[:3])


def _pitman_end(share: float) -> Array:
    # Looking down, a pitman arm that points back swings its end to the right when it turns to the left.
    pivot = AT["pitman shaft"]
    return pivot + Rotation.from_rotvec(share * PITMAN * UP).apply(AT["pitman end"] - pivot)


def _residual(x: Array, pose: Array) -> Array:
    rows = [
        np.linalg.norm(_axle(x, np.array(body)) - frame) - np.linalg.norm(np.subtract(body, frame))
        for frame, body in FOUR_LINKS.values()
    ]
    ties = [AT["tie end"] * mirror for mirror in SIDES.values()]
    now = [_knuckle(x, side, at) for side, at in zip(SIDES, ties, strict=True)]
    rows.append(np.linalg.norm(now[0] - now[1]) - np.linalg.norm(ties[0] - ties[1]))
    arm = AT["arm end"] * MIRROR
    rows.append(
        np.linalg.norm(_knuckle(x, "right", arm) - _pitman_end(pose[2])) - np.linalg.norm(arm - AT["pitman end"])
    )
    rows += [
        _knuckle(x, side, AT["wheel_centre"] * mirror)[2] - AT["wheel_centre"][2] - height
        for (side, mirror), height in zip(SIDES.items(), pose[:2], strict=True)
    ]
    return np.array(rows)


MECHANISM = built(DATA)
SCREW = next(body.screw for body in MECHANISM.bodies if body.screw is not None)
PITMAN = SCREW.left


@pytest.fixture(scope="module")
def reference() -> list[Array]:
    """The same poses, each walked to in small steps from ride height."""
    found = []
    for pose in VALUES:
        x = np.zeros(8)
        for share in np.linspace(0.0, 1.0, 9)[1:]:
            x = least_squares(_residual, x, args=(share * pose,), xtol=1e-12, ftol=1e-12, gtol=1e-12, method="lm").x
        assert np.abs(_residual(x, VALUES[len(found)])).max() < 1e-8
        found.append(x)
    return found


@pytest.fixture(scope="module")
def now() -> Posture:
    poses = solve(MECHANISM, travel_of(MECHANISM, VALUES))
    assert (poses.status == Status.SOLVED).all()
    return posture(poses)


def test_it_stands_where_scipy_puts_it(now: Posture, reference: list[Array]) -> None:
    for number, x in enumerate(reference):
        for side, mirror in SIDES.items():
            for name in ("wheel_centre", "tie end", "kingpin high"):
                ours = now.parts[f"{side} knuckle"].point(AT[name] * mirror)[number]
                assert np.abs(ours - _knuckle(x, side, AT[name] * mirror)).max() < PLACE, (side, name)


def test_both_wheels_steer_and_the_way_that_is_asked_for(reference: list[Array]) -> None:
    for pose, x in zip(VALUES, reference, strict=True):
        # About the kingpin, which points up: positive to the left.
        assert (np.sign(x[6:]) == np.sign(pose[2])).all()
        assert (np.abs(x[6:]) / 500.0 > np.radians(15.0)).all()


def _joint(now: Posture, member: str, place: str) -> JointMotion:
    return next(joint for joint in now.joints if (joint.member, joint.end.place) == (member, place))


def _turn(x: Array, side: str | None) -> Array:
    """Rotation (3, 3) of a knuckle, or of the axle."""
    origin = np.zeros(3)
    place = (lambda at: _axle(x, at)) if side is None else (lambda at: _knuckle(x, side, at))
    return np.stack([place(e) - place(origin) for e in np.eye(3)], axis=-1)


def test_tie_rod_and_drag_link_swing_as_a_search_over_their_spin_finds(now: Posture, reference: list[Array]) -> None:
    spins = np.radians(np.arange(0.0, 180.0, 0.01))
    tie = [(side, AT["tie end"] * mirror) for side, mirror in SIDES.items()]
    for number, (pose, x) in enumerate(zip(VALUES, reference, strict=True)):
        ends = {
            "tie rod": [(_knuckle(x, side, at), _turn(x, side) @ UP, f"at {side} knuckle") for side, at in tie],
            "drag link": [
                (_pitman_end(pose[2]), UP, "at pitman arm"),
                (_knuckle(x, "right", AT["arm end"] * MIRROR), _turn(x, "right") @ UP, "at right knuckle"),
            ],
        }
        for name, ((start, first, here), (stop, second, there)) in ends.items():
            along = (stop - start) / np.linalg.norm(stop - start)
            side = np.cross(along, ACROSS + 0.3 * UP)
            side /= np.linalg.norm(side)
            heads = np.outer(np.cos(spins), side) + np.outer(np.sin(spins), np.cross(along, side))
            tilts = [np.arccos(np.minimum(np.abs(heads @ stud), 1.0)) for stud in (first, second)]
            worst = np.maximum(*tilts).min()
            ours = [_joint(now, name, place).tilt[number] for place in (here, there)]
            assert max(ours) == pytest.approx(worst, abs=np.radians(0.01)), (name, number)
            assert max(ours) > np.radians(0.5)  # something is measured


def test_studs_of_a_kingpin_turn_with_the_steering_and_do_not_swing(now: Posture, reference: list[Array]) -> None:
    for number, x in enumerate(reference):
        for side, angle in zip(SIDES, x[6:] / 500.0, strict=True):
            for place in ("upper kingpin", "lower kingpin"):
                joint = _joint(now, f"{side} knuckle", place)
                assert joint.tilt[number] < ANGLE, (side, place)
                assert abs(joint.turn[number]) == pytest.approx(abs(angle), abs=ANGLE)


def test_a_stud_that_leans_from_its_kingpin_swings_by_what_it_sweeps(reference: list[Array]) -> None:
    data = steered_axle()
    data["knuckle"]["knuckle"]["kingpin"][0]["bolt"] = "up"
    mechanism = built(data)
    now = posture(solve(mechanism, travel_of(mechanism, VALUES)))
    low, high = AT["kingpin low"], AT["kingpin high"]
    cosine = (high - low)[2] / np.linalg.norm(high - low)
    for number, x in enumerate(reference):
        # D: turned by δ about an axis that it leans ε from, a line swings by 2 asin(sin ε sin δ/2).
        swing = 2.0 * np.arcsin(np.sqrt(1.0 - cosine**2) * np.sin(0.5 * abs(x[6]) / 500.0))
        assert _joint(now, "left knuckle", "lower kingpin").tilt[number] == pytest.approx(swing, abs=ANGLE)


def test_every_steering_joint_is_judged_at_its_worst_lock() -> None:
    poses = solve(MECHANISM, grid(MECHANISM, 5, 5))
    assert (poses.status == Status.SOLVED).all()
    now, verdict = posture(poses), judge(poses)
    swings = {finding.where: finding for finding in verdict.findings if finding.what == "swing"}
    for member in ("tie rod", "drag link", "left knuckle", "right knuckle"):
        mine = [joint for joint in now.joints if joint.member == member]
        assert len(mine) == 2
        for joint in mine:
            finding = swings[f"{member}, {joint.end.place}"]
            assert finding.used == pytest.approx(joint.tilt.max(), abs=1e-9)
            assert finding.highest == pytest.approx(joint.tilt.max(), abs=1e-9)
    for name in ("tie rod, at left knuckle", "drag link, at right knuckle"):
        assert abs(swings[name].drives[2]) == 1.0


def test_it_is_far_from_any_toggle() -> None:
    for measure in toggle_measures(solve(MECHANISM, grid(MECHANISM, 3, 3))):
        assert measure.values.min() > NEAR.close, measure.where


def test_a_centre_link_swings_on_pitman_and_idler_as_three_roots_say() -> None:
    mechanism = built(pitman_scene(parallelogram=False))
    shares = np.array([-1.0, -0.6, 0.0, 0.5, 1.0])
    now = posture(solve(mechanism, travel_of(mechanism, shares[:, None] * [0.0, 0.0, 1.0])))
    data = pitman_scene(parallelogram=False)
    at = {name: np.array(point, dtype=float) for name, point in data["points"].items()}
    axes = [np.array(data["steering"]["pitman"]["axis"]), np.array(data["steering"]["idler"]["axis"])]
    pitman_axis, idler_axis = (axis / np.linalg.norm(axis) for axis in axes)
    screw = next(body.screw for body in mechanism.bodies if body.screw is not None)
    ride = at["idler end"] - at["pitman end"]
    length = float(np.linalg.norm(ride))
    flat = np.cross(pitman_axis, ride)
    flat /= np.linalg.norm(flat)
    for number, share in enumerate(shares):
        angle = share * screw.left if share > 0.0 else -share * screw.right
        near = _about(at["pitman end"], at["pitman shaft"], pitman_axis, angle)

        def far(turn: float) -> Array:
            return _about(at["idler end"], at["idler shaft"], idler_axis, turn)

        def miss(turn: float, near: Array = near, far: Callable[[float], Array] = far) -> float:
            return float(np.linalg.norm(far(turn) - near)) - length

        along = (far(brentq(miss, angle - 0.2, angle + 0.2, xtol=1e-13)) - near) / length
        level, _ = Rotation.align_vectors([along], [ride / length])

        def rolled(roll: float, along: Array = along, level: Rotation = level) -> Rotation:
            return Rotation.from_rotvec(roll * along) * level

        def lean(roll: float, rolled: Callable[[float], Rotation] = rolled) -> float:
            return float(pitman_axis @ rolled(roll).apply(flat))  # square to the pitman's shaft at ride height

        link = rolled(brentq(lean, -0.5, 0.5, xtol=1e-13))
        for place, axis in (("at pitman arm", pitman_axis), ("at idler arm", idler_axis)):
            swing = np.arccos(min(float(link.apply(axis) @ axis), 1.0))
            # An arc cosine keeps half the digits of a small angle.
            assert _joint(now, "centre link", place).tilt[number] == pytest.approx(swing, abs=1e-7)
    where = {finding.where for finding in judge(solve(mechanism, grid(mechanism, 3, 3))).findings}
    assert {"centre link, at pitman arm", "centre link, at idler arm", "left tie rod, at centre link"} <= where


def _about(point: Array, pivot: Array, axis: Array, angle: float) -> Array:
    return np.asarray(pivot + Rotation.from_rotvec(angle * axis).apply(point - pivot))
