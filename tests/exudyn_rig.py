"""Models in exudyn, a general multibody code, built from point coordinates alone."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import exudyn
import exudyn.utilities as exu
import numpy as np

from model.spatial import Array

METRE = 1000.0
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
        self.held: list[Any] = []
        self.springs: list[Any] = []
        self.bars: list[Any] = []
        self.balls: list[Any] = []

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

    def bar(
        self, a: Any, at: Array, b: Any, to: Array, *, driven: Array | None = None, length: float | None = None
    ) -> None:
        """A two-ended link, as long as its ends are apart or of a `length` in mm that a solve then brings about.

        `driven` (3,) is the direction in which its first end slides when steered.
        """
        markers = [self.marker(a, at), self.marker(b, to)]
        length = (float(np.linalg.norm(at - to)) if length is None else length) / METRE
        self.bars.append(self.mbs.AddObject(exu.DistanceConstraint(markerNumbers=markers, distance=length)))
        if driven is not None:
            self.driven.append((markers[0], at, driven))

    def height(self, body: Any, at: Array) -> None:
        """A point of a body whose height is driven; x and y stay free."""
        markers = [self.marker(self.ground, at), self.marker(body, at)]
        joint = exu.GenericJoint(markerNumbers=markers, constrainedAxes=[0, 0, 1, 0, 0, 0])
        self.held.append(self.mbs.AddObject(joint))
        self.driven.append((markers[0], at, np.array([0.0, 0.0, 1.0])))

    def ball(self, a: Any, b: Any, at: Array) -> None:
        """A spherical joint."""
        markers = [self.marker(a, at), self.marker(b, at)]
        self.balls.append(self.mbs.AddObject(exu.SphericalJoint(markerNumbers=markers, constrainedAxes=[1, 1, 1])))

    def hinge(self, a: Any, b: Any, pivots: tuple[Array, Array]) -> None:
        """A revolute joint about the line through two points."""
        self._along_line(exu.RevoluteJointZ, a, b, *pivots)

    def slide(self, a: Any, b: Any, line: tuple[Array, Array]) -> None:
        """A prismatic joint: b slides along the line, which rides on a, without turning."""
        self._along_line(exu.GenericJoint, a, b, *line, constrainedAxes=[1, 1, 0, 1, 1, 1])

    def bush(self, holder: Any, part: Any, at: Array, bolt: Array, rates: dict[str, float]) -> None:
        """A 6×6 bush: radial, axial in N/mm, turn, cock in N·m for a degree, its third axis along the bolt."""
        frame = _frame(bolt)
        stiffness = np.zeros((6, 6))
        along = [rates["radial"], rates["radial"], rates["axial"]]
        about = [rates["cock"], rates["cock"], rates["turn"]]
        stiffness[range(6), range(6)] = [*(METRE * np.array(along)), *np.degrees(about)]
        markers = [self._framed(body, at, frame) for body in (holder, part)]
        spring = exu.RigidBodySpringDamper(markerNumbers=markers, stiffness=stiffness)
        self.springs.append(self.mbs.AddObject(spring))

    def spring(self, a: Any, at: Array, b: Any, to: Array, rate: float, free: float) -> None:
        """A coil spring between two points: rate in N/mm, loose at a distance of `free` mm."""
        markers = [self.marker(a, at), self.marker(b, to)]
        self.mbs.AddObject(
            exu.SpringDamper(markerNumbers=markers, stiffness=rate * METRE, referenceLength=free / METRE)
        )

    def push(self, body: Any, at: Array, force: Array) -> None:
        """A force (3,) in N on a body at (3,) mm."""
        self.mbs.AddLoad(exu.Force(markerNumber=self.marker(body, at), loadVector=list(force)))

    def tensions(self) -> Array:
        """Forces in N with which the two-ended links pull, in the order in which they were put in."""
        kind = exudyn.OutputVariableType.Force
        # exudyn's force is the multiplier of |apart| = length, positive where its markers are pushed apart.
        return -np.array([self.mbs.GetObjectOutput(bar, kind) for bar in self.bars])

    def at_balls(self) -> Array:
        """Forces (K, 3) in N of the first on the second body of each spherical joint."""
        kind = exudyn.OutputVariableType.Force
        return np.array([self.mbs.GetObjectOutput(ball, kind) for ball in self.balls])

    def holding(self) -> Array:
        """Forces in N with which the driven heights are held, upwards positive."""
        kind = exudyn.OutputVariableType.ForceLocal
        return np.array([self.mbs.GetObjectOutput(joint, kind)[2] for joint in self.held])

    def strained(self) -> tuple[Array, Array]:
        """Deflection in mm and force in N of each bush, (K, 3), bolt last."""
        kinds = (exudyn.OutputVariableType.DisplacementLocal, exudyn.OutputVariableType.ForceLocal)
        shift, force = (np.array([self.mbs.GetObjectOutput(k, kind)[:3] for k in self.springs]) for kind in kinds)
        return shift * METRE, force

    def _along_line(self, joint: Any, a: Any, b: Any, start: Array, stop: Array, **more: Any) -> None:
        frame = _frame((stop - start) / np.linalg.norm(stop - start))
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


def _frame(axis: Array) -> Array:
    """Axes (3, 3) as columns, the third along a unit direction (3,)."""
    side = np.cross(axis, np.eye(3)[np.abs(axis).argmin()])
    side /= np.linalg.norm(side)
    return np.stack([side, np.cross(axis, side), axis], axis=-1)
