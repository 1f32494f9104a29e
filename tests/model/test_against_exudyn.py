"""Against exudyn, a general multibody code: every arm is a rigid body on a hinge there, every strut a real slide.

The models are built from point coordinates alone. Positions agree within 1e-6 mm: exudyn works in metres, and its
Newton iteration stops at a residual of 1e-13 m, which a linkage this well held turns into less than 1e-9 m.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import exudyn
import exudyn.utilities as exu
import numpy as np
import pytest
from zoo import built, scene_data

from model.members import point_positions, posture
from model.poses import Status
from model.solver import solve
from model.spatial import Array
from model.travel import grid

METRE = 1000.0
AGREE = 1e-6
MIRROR = np.array([1.0, -1.0, 1.0])
# Substeps from ride height: exudyn's Newton iteration then starts next to its answer and cannot leave the assembly.
SUBSTEPS = 4


class Rig:
    """A rigid-body model in exudyn, in m, with points whose heights or places are set pose by pose."""

    def __init__(self) -> None:
        self.container = exudyn.SystemContainer()
        self.mbs = self.container.AddSystem()
        self.ground = self.mbs.CreateGround()
        self.origins: dict[Any, Array] = {self.ground: np.zeros(3)}
        self.driven: list[tuple[Any, Array, Array]] = []

    def body(self, at: Array) -> Any:
        """A rigid body with its reference point at (3,) mm; its mass plays no part in a static solve."""
        number = self.mbs.CreateRigidBody(
            referencePosition=at / METRE, inertia=exu.InertiaCuboid(density=1000.0, sideLengths=[0.1, 0.1, 0.1])
        )
        self.origins[number] = at
        return number

    def marker(self, body: Any, at: Array) -> Any:
        """A point (3,) mm on a body with the body's axes."""
        local = (at - self.origins[body]) / METRE
        return self.mbs.AddMarker(exu.MarkerBodyRigid(bodyNumber=body, localPosition=local))

    def bar(self, a: Any, at: Array, b: Any, to: Array, *, driven: Array | None = None) -> None:
        """A two-ended link; `driven` (3,) is the direction in which its first end slides when steered."""
        markers = [self.marker(a, at), self.marker(b, to)]
        length = float(np.linalg.norm(at - to)) / METRE
        self.mbs.AddObject(exu.DistanceConstraint(markerNumbers=markers, distance=length))
        if driven is not None:
            self.driven.append((markers[0], at, driven))

    def height(self, body: Any, at: Array) -> None:
        """A point of a body whose height is driven; x and y stay free."""
        markers = [self.marker(self.ground, at), self.marker(body, at)]
        self.mbs.AddObject(exu.GenericJoint(markerNumbers=markers, constrainedAxes=[0, 0, 1, 0, 0, 0]))
        self.driven.append((markers[0], at, np.array([0.0, 0.0, 1.0])))

    def ball(self, a: Any, b: Any, at: Array) -> None:
        """A spherical joint."""
        markers = [self.marker(a, at), self.marker(b, at)]
        self.mbs.AddObject(exu.SphericalJoint(markerNumbers=markers, constrainedAxes=[1, 1, 1]))

    def hinge(self, a: Any, b: Any, pivots: tuple[Array, Array]) -> None:
        """A revolute joint about the line through two points."""
        self._along_line(exu.RevoluteJointZ, a, b, *pivots)

    def slide(self, a: Any, b: Any, line: tuple[Array, Array]) -> None:
        """A prismatic joint: b slides along the line, which rides on a, without turning."""
        self._along_line(exu.GenericJoint, a, b, *line, constrainedAxes=[1, 1, 0, 1, 1, 1])

    def _along_line(self, joint: Any, a: Any, b: Any, start: Array, stop: Array, **more: Any) -> None:
        axis = (stop - start) / np.linalg.norm(stop - start)
        side = np.cross(axis, np.eye(3)[np.abs(axis).argmin()])
        side /= np.linalg.norm(side)
        frame = np.stack([side, np.cross(axis, side), axis], axis=-1)
        markers = [self._framed(body, start, frame) for body in (a, b)]
        self.mbs.AddObject(joint(markerNumbers=markers, **more))

    def _framed(self, body: Any, at: Array, frame: Array) -> Any:
        local = exudyn.HT(rotation=frame, translation=(at - self.origins[body]) / METRE)
        return self.mbs.AddMarker(exu.MarkerBodyRigid(bodyNumber=body, localHT=local))

    def arm(self, pivots: tuple[Array, Array], ball: Array, knuckle: Any) -> Any:
        """A whole rigid arm: a hinge on the ground and a ball joint on the knuckle."""
        number = self.body((pivots[0] + pivots[1] + ball) / 3.0)
        self.hinge(self.ground, number, pivots)
        self.ball(number, knuckle, ball)
        return number

    def run(self, values: Array, watched: list[tuple[Any, Array]]) -> Iterator[Array]:
        """Positions (W, 3) mm of watched points at each of the drive values (N, D), in the order of `driven`."""
        self.mbs.Assemble()
        settings = exudyn.SimulationSettings()
        settings.staticSolver.newton.relativeTolerance = 1e-10
        settings.staticSolver.newton.absoluteTolerance = 1e-13
        settings.staticSolver.numberOfLoadSteps = 1
        settings.staticSolver.verboseMode = 0
        settings.solution.file.write = False
        settings.linearSolver.solverType = exudyn.LinearSolverType.EigenDense
        ride = self.mbs.systemData.GetODE2Coordinates(exudyn.ConfigurationType.Initial)
        for pose in values:
            self.mbs.systemData.SetODE2Coordinates(ride, exudyn.ConfigurationType.Initial)
            for share in np.linspace(0.0, 1.0, SUBSTEPS + 1)[1:]:
                for (marker, at, direction), value in zip(self.driven, pose, strict=True):
                    self.mbs.SetMarkerParameter(marker, "localPosition", (at + share * value * direction) / METRE)
                assert self.mbs.SolveStatic(settings, updateInitialValues=True)
            yield np.array([self._position(body, at) for body, at in watched])

    def _position(self, body: Any, at: Array) -> Array:
        local = list((at - self.origins[body]) / METRE)
        kind = exudyn.OutputVariableType.Position
        return np.asarray(self.mbs.GetObjectOutputBody(body, kind, localPosition=local)) * METRE


def _points(data: dict[str, Any]) -> dict[str, Array]:
    return {name: np.array(at, dtype=float) for name, at in data["points"].items()}


def _compare(name: str, rig: Rig, watched: dict[str, tuple[Any, Array]], steps: tuple[int, int]) -> None:
    """Our positions of the watched points over the grid against the rig's."""
    mechanism = built(scene_data(name))
    poses = solve(mechanism, grid(mechanism, *steps))
    assert (poses.status == Status.SOLVED).all()
    ours = point_positions(mechanism, posture(poses).parts)
    theirs = np.stack(list(rig.run(_driven_values(rig, poses.travel.values), list(watched.values()))), axis=1)
    for (point, (_, ride)), track in zip(watched.items(), theirs, strict=True):
        # A point that stood still would agree with anything: the watched ones move by millimetres and more.
        assert np.linalg.norm(track - ride, axis=-1).max() > 5.0, point
        assert np.abs(ours[point] - track).max() < AGREE, point


def _driven_values(rig: Rig, values: Array) -> Array:
    """Drive values in the order in which the rig's points are driven: left height, right height, then the rack."""
    if values.shape[1] == 2:
        return values
    return np.hstack([values[:, :2], np.repeat(values[:, 2:], len(rig.driven) - 2, axis=1)])


@pytest.mark.parametrize("name", ["wren_rear", "tarn_rear"])
def test_live_axle_on_four_links(name: str) -> None:
    at = _points(scene_data(name))
    rig = Rig()
    axle = rig.body(np.array([0.0, 0.0, at["wheel_centre"][2]]))
    rig.height(axle, at["wheel_centre"])
    rig.height(axle, at["wheel_centre"] * MIRROR)
    bars = [(at["lower_front"], at["lower_rear"])]
    if name == "tarn_rear":
        bars.append((at["upper_front"], at["upper_rear"]))
    bars += [(front * MIRROR, rear * MIRROR) for front, rear in bars]
    if name == "wren_rear":
        bars += [(at["upper_front"], at["upper_rear"]), (at["panhard_frame"], at["panhard_axle"])]
    for front, rear in bars:
        rig.bar(rig.ground, front, axle, rear)
    watched = {
        f"{side} {point}": (axle, at[point] * mirror)
        for side, mirror in (("left", 1.0), ("right", MIRROR))
        for point in ("wheel_centre", "lower_rear", "coilover_foot")
    }
    _compare(name, rig, watched | {"pinion_flange": (axle, at["pinion_flange"])}, (5, 3))


def test_arms_with_tie_rods_and_a_rack() -> None:
    at = _points(scene_data("wren_front"))
    rig = Rig()
    corners = {}
    for side, mirror in (("left", np.ones(3)), ("right", MIRROR)):
        knuckle = rig.body(at["wheel_centre"] * mirror)
        rig.height(knuckle, at["wheel_centre"] * mirror)
        corners[side] = (knuckle, mirror)
    watched = {}
    # The rack sits behind the axle, so steering to the left slides it to the right, by 58 mm at full lock.
    rack = np.array([0.0, -58.0, 0.0])
    for side, (knuckle, mirror) in corners.items():
        arms = {
            which: rig.arm(
                (at[f"{which}_front_pivot"] * mirror, at[f"{which}_rear_pivot"] * mirror),
                at[f"{which}_ball"] * mirror,
                knuckle,
            )
            for which in ("lower", "upper")
        }
        rig.bar(rig.ground, at["rack_end"] * mirror, knuckle, at["tie_rod_outer"] * mirror, driven=rack)
        for point in ("wheel_centre", "lower_ball", "upper_ball", "tie_rod_outer"):
            watched[f"{side} {point}"] = (knuckle, at[point] * mirror)
        watched[f"{side} coilover_foot"] = (arms["lower"], at["coilover_foot"] * mirror)
    _compare("wren_front", rig, watched, (5, 5))


def test_struts_with_lower_arms_and_a_rack() -> None:
    at = _points(scene_data("parcel_front"))
    rig = Rig()
    corners = {}
    for side, mirror in (("left", np.ones(3)), ("right", MIRROR)):
        knuckle = rig.body(at["wheel_centre"] * mirror)
        rig.height(knuckle, at["wheel_centre"] * mirror)
        corners[side] = (knuckle, mirror)
    watched = {}
    rack = np.array([0.0, -72.0, 0.0])
    for side, (knuckle, mirror) in corners.items():
        rig.arm((at["arm_front_pivot"] * mirror, at["arm_rear_pivot"] * mirror), at["lower_ball"] * mirror, knuckle)
        shaft = rig.body(at["strut_top"] * mirror)
        rig.slide(knuckle, shaft, (at["strut_foot"] * mirror, at["strut_top"] * mirror))
        rig.ball(rig.ground, shaft, at["strut_top"] * mirror)
        rig.bar(rig.ground, at["rack_end"] * mirror, knuckle, at["tie_rod_outer"] * mirror, driven=rack)
        for point in ("wheel_centre", "lower_ball", "strut_foot", "tie_rod_outer"):
            watched[f"{side} {point}"] = (knuckle, at[point] * mirror)
    _compare("parcel_front", rig, watched, (5, 5))
