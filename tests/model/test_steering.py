"""Steering and wheel angles: signs of ISO 8855, racks either side of the axle, pitman arms with idlers."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from pose_by_pose import Hung, PoseByPose
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation
from zoo import built, pitman_scene, scene_data, travel_of

from model.members import posture
from model.poses import Status
from model.solver import solve
from model.spatial import Array
from model.travel import grid

PROMISE = 1e-9  # the solver's own, mm
MIRROR = np.array([1.0, -1.0, 1.0])


def _headings(data: dict[str, Any], shares: Array) -> Array:
    """How far each wheel is turned about z, (wheels, N) in rad, at shares of lock with the wheels at ride height."""
    mechanism = built(data)
    values = np.zeros((len(shares), len(mechanism.drives)))
    values[:, -1] = shares
    poses = solve(mechanism, travel_of(mechanism, values))
    assert (poses.status == Status.SOLVED).all()
    headings = []
    for wheel in mechanism.wheels:
        axis = poses.rotation[mechanism.body_number(wheel.on)] @ wheel.axis
        headings.append(np.arctan2(-axis[:, 0], axis[:, 1]) - np.arctan2(-wheel.axis[0], wheel.axis[1]))
    return np.array(headings)


def _ahead(data: dict[str, Any]) -> dict[str, Any]:
    """The same front with its rack ahead of the axle."""
    for point in ("rack_end", "tie_rod_outer"):
        data["points"][point][0] *= -1.0
    return data


SCENES = {
    "rack behind": lambda: scene_data("wren_front"),
    "rack ahead": lambda: _ahead(scene_data("wren_front")),
    "strut": lambda: scene_data("parcel_front"),
    "pitman parallelogram": lambda: pitman_scene(parallelogram=True),
    "pitman": lambda: pitman_scene(parallelogram=False),
}


@pytest.mark.parametrize("name", SCENES)
def test_a_positive_share_of_lock_turns_both_wheels_to_the_left(name: str) -> None:
    shares = np.array([-1.0, -0.5, 0.0, 0.5, 1.0])
    turned = _headings(SCENES[name](), shares)
    # ISO 8855: a positive steer angle is a turn to the left, about z upward.
    assert (np.diff(turned, axis=1) > np.radians(3.0)).all()
    assert np.abs(turned[:, 2]).max() < 1e-11  # 1e-9 mm on a steering arm of 100 mm


def test_unequal_locks_belong_to_their_own_sides() -> None:
    data = scene_data("wren_front")
    del data["steering"]["lock"]
    data["steering"] |= {"lock_left": 50.0, "lock_right": 30.0}
    for scene in (data, _ahead(data)):
        mechanism = built(scene)
        poses = solve(mechanism, travel_of(mechanism, np.array([[0.0, 0.0, 1.0], [0.0, 0.0, -1.0], [0.0, 0.0, 0.5]])))
        moved = np.abs(poses.translation[mechanism.body_number("rack")][:, 1])
        assert np.abs(moved - [50.0, 30.0, 25.0]).max() < 1e-12  # one product each


@pytest.mark.parametrize(("toe", "camber"), [(0.4, -1.5), (-0.3, 2.0), (0.0, 0.0)])
def test_toe_in_and_camber_out_at_the_top_are_positive_on_both_sides(toe: float, camber: float) -> None:
    data = scene_data("wren_front")
    data["wheel"]["wheel"] |= {"toe": toe, "camber": camber}
    for wheel in built(data).wheels:
        outward = np.array([0.0, 1.0 if wheel.side == "left" else -1.0, 0.0])
        assert wheel.axis[1] > 0.9  # it points to the left on both sides
        assert abs(np.linalg.norm(wheel.axis) - 1.0) < 1e-15
        ahead = np.cross(wheel.axis, [0.0, 0.0, 1.0])
        ahead /= np.linalg.norm(ahead)
        assert ahead[0] > 0.9
        # ISO 8855: toe-in is positive, the front of the wheel nearer to the middle; camber is positive when the top
        # leans outward.
        assert abs(np.degrees(np.arcsin(-ahead @ outward)) - toe) < 1e-12
        top, level = np.cross(ahead, wheel.axis), np.cross([0.0, 0.0, 1.0], ahead)
        assert top[2] > 0.9
        assert abs(np.degrees(np.arcsin(top @ level)) * outward[1] - camber) < 1e-12


def test_parallelogram_steering_shifts_its_centre_link_and_never_turns_it() -> None:
    data = pitman_scene(parallelogram=True)
    mechanism = built(data)
    shares = np.linspace(-1.0, 1.0, 9)
    poses = solve(mechanism, travel_of(mechanism, np.array([[0.0, 0.0, share] for share in shares])))
    assert poses.residual.max() <= PROMISE
    link, idler, pitman = (mechanism.body_number(name) for name in ("centre link", "idler arm", "pitman arm"))
    arm = np.array(data["points"]["pitman end"]) - data["points"]["pitman shaft"]
    # D: both cranks turn alike by the share of 19°. They point back from their shafts, so that steering to the left,
    # which pulls the rear of each wheel to the right, turns them to the left (about +z), and with them the link's ends.
    for number, share in enumerate(shares):
        turned = Rotation.from_rotvec([0.0, 0.0, np.radians(19.0) * share]).as_matrix()
        assert np.abs(poses.rotation[pitman, number] - turned).max() < 1e-12  # one sine and cosine
        assert np.abs(poses.rotation[idler, number] - turned).max() < 1e-11  # 1e-9 mm on a crank of 170 mm
        assert np.abs(poses.rotation[link, number] - np.eye(3)).max() < 1e-11
        assert np.abs(poses.translation[link, number] - (turned @ arm - arm)).max() <= PROMISE


def test_a_general_pitman_linkage_agrees_with_one_angle_at_a_time_and_scipy() -> None:
    data = pitman_scene(parallelogram=False)
    mechanism = built(data)
    poses = solve(mechanism, grid(mechanism, 3, 5))
    assert (poses.status == Status.SOLVED).all()
    now = posture(poses)
    at = {name: np.array(point, dtype=float) for name, point in data["points"].items()}
    pitman_axis, idler_axis = (
        np.array(data["steering"][crank]["axis"]) / np.linalg.norm(data["steering"][crank]["axis"])
        for crank in ("pitman", "idler")
    )
    ride = at["idler end"] - at["pitman end"]
    corners = {side: _corner(at, mirror) for side, mirror in (("left", np.ones(3)), ("right", MIRROR))}
    for number, (left, right, share) in enumerate(poses.travel.values):
        swung = Rotation.from_rotvec(pitman_axis * np.radians(19.0) * share)
        end = swung.apply(at["pitman end"] - at["pitman shaft"]) + at["pitman shaft"]

        def idler_end(angle: float) -> Array:
            arm = Rotation.from_rotvec(idler_axis * angle).apply(at["idler end"] - at["idler shaft"])
            return np.asarray(arm + at["idler shaft"])

        # Reference: one unknown, the idler's angle, at which the centre link keeps its length.
        target = np.linalg.norm(ride)
        angle = brentq(
            lambda a, end=end, target=target: np.linalg.norm(idler_end(a) - end) - target, -0.7, 0.7, xtol=1e-14
        )
        # The link does not roll: its flat stays square to the pitman's shaft.
        frames = []
        for along, axis in ((ride, pitman_axis), (idler_end(angle) - end, swung.apply(pitman_axis))):
            x = along / np.linalg.norm(along)
            y = np.cross(axis, x) / np.linalg.norm(np.cross(axis, x))
            frames.append(np.stack([x, y, np.cross(x, y)], axis=-1))
        link = frames[1] @ frames[0].T
        # brentq to 1e-14 rad on 170 mm, over the rate at which the link's length changes: below 1e-9 mm.
        assert np.abs(now.parts["centre link"].point(at["pitman end"])[number] - end).max() < 1e-8
        assert np.abs(now.parts["centre link"].rotation[number] - link).max() < 1e-10
        for side, height in (("left", left), ("right", right)):
            mirror = np.ones(3) if side == "left" else MIRROR
            inner = at["rod inner"] * mirror
            slide = link @ (inner - at["pitman end"]) + end - inner
            corner = _with_slide(corners[side], slide)
            rotation, shift = corner.transforms(corner.walk(np.array([height]), 1.0, steps=6))[0]
            outer = at["tie_rod_outer"] * mirror
            ours = now.parts[f"{side} upright"].point(outer)[number]
            assert np.abs(ours - (rotation @ outer + shift)).max() < 1e-6  # scipy stops at 1e-10 of some 100 mm


def _corner(at: dict[str, Array], mirror: Array) -> Hung:
    inner = ["lower_front_pivot", "lower_rear_pivot", "upper_front_pivot", "upper_rear_pivot", "rod inner"]
    outer = ["lower_ball", "lower_ball", "upper_ball", "upper_ball", "tie_rod_outer"]
    frame, body = (np.array([at[name] * mirror for name in names]) for names in (inner, outer))
    return Hung(frame, body, (at["wheel_centre"] * mirror)[None], np.zeros((5, 3)))


def _with_slide(corner: Hung, slide: Array) -> PoseByPose:
    slides = np.zeros((5, 3))
    slides[4] = slide
    return PoseByPose([Hung(corner.frame, corner.body, corner.driven, slides)])


def test_joints_of_the_centre_link_turn_by_what_the_cranks_turn() -> None:
    mechanism = built(pitman_scene(parallelogram=True))
    poses = solve(mechanism, travel_of(mechanism, np.array([[0.0, 0.0, -1.0], [0.0, 0.0, 0.6]])))
    pins = [joint for joint in posture(poses).joints if joint.member == "centre link"]
    assert sorted(pin.end.place for pin in pins) == ["at idler arm", "at pitman arm"]
    for pin in pins:
        # D: the link shifts, the cranks turn by 19° × share; studs stand along the shafts, so nothing swings.
        assert np.abs(np.degrees(np.abs(pin.turn)) - [19.0, 11.4]).max() < 1e-9
        assert pin.tilt.max() < 1e-11
