"""An independent solver: one pose at a time by `scipy.optimize.least_squares`, from point coordinates alone.

Bodies hang on bars from the frame; one row for each bar (its length) and for each driven height. A body's unknowns
are its translation in mm and its rotation vector times `SCALE`, so that all six are in mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

Array = NDArray[np.float64]
SCALE = 500.0  # mm; about half a vehicle's width, so that turns and shifts weigh alike
# As tight as makes a difference: from here on the residual is at the rounding of a vehicle's lengths, some 1e-12 mm.
TOLERANCE = 1e-10
EYE = np.eye(3)


@dataclass(frozen=True)
class Hung:
    """One body: bars from frame points (k, 3) to body points (k, 3), and points (w, 3) whose heights are driven.

    `slides` (k, 3) is how far each frame point moves at full left lock; zero where it is fixed.
    """

    frame: Array
    body: Array
    driven: Array
    slides: Array

    @property
    def ride(self) -> Array:
        """Lengths (k,) of the bars at ride height, mm."""
        return np.asarray(np.linalg.norm(self.frame - self.body, axis=1))


def turned(vector: Array) -> tuple[Array, Array]:
    """Rotation (3, 3) of a rotation vector (3,), and the matrix that takes its change to the small turn it makes."""
    angle = math.sqrt(float(vector @ vector))
    x, y, z = vector
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    if angle < 1e-6:  # the next terms of the series are below 1e-13 of these
        return EYE + cross + 0.5 * cross @ cross, EYE + 0.5 * cross
    square = cross @ cross
    one, two = math.sin(angle) / angle, (1.0 - math.cos(angle)) / angle**2
    return EYE + one * cross + two * square, EYE + two * cross + (1.0 - one) / angle**2 * square


class PoseByPose:
    """Solves the bodies of one mechanism together, pose by pose, each from a start that the caller gives."""

    def __init__(self, bodies: list[Hung], *, jacobian: bool = False, method: str = "trf") -> None:
        """Keep the bodies; `jacobian` gives scipy the analytic one instead of letting it difference."""
        self._bodies = bodies
        self._points = [np.vstack([body.body, body.driven]) for body in bodies]
        self._ride = [body.ride for body in bodies]
        self._jacobian, self._method = jacobian, method

    @property
    def unknowns(self) -> int:
        """Six for each body."""
        return 6 * len(self._bodies)

    def residual(self, x: Array, heights: Array, steer: float) -> Array:
        """Bar lengths and heights (m,) in mm, less what they should be, at unknowns x (6 U,)."""
        parts = []
        drive = 0
        for number, body in enumerate(self._bodies):
            move = x[6 * number : 6 * number + 6]
            now = self._points[number] @ turned(move[3:] / SCALE)[0].T + move[:3]
            bars, driven = len(body.body), len(body.driven)
            apart = now[:bars] - (body.frame + steer * body.slides)
            parts.append(np.sqrt((apart * apart).sum(axis=1)) - self._ride[number])
            parts.append(now[bars:, 2] - body.driven[:, 2] - heights[drive : drive + driven])
            drive += driven
        return np.concatenate(parts)

    def derivative(self, x: Array, heights: Array, steer: float) -> Array:
        """Jacobian (m, 6 U) of the residual; `heights` plays no part."""
        rows = sum(len(points) for points in self._points)
        matrix = np.zeros((rows, self.unknowns))
        row = 0
        for number, body in enumerate(self._bodies):
            move = x[6 * number : 6 * number + 6]
            rotation, spread = turned(move[3:] / SCALE)
            arms = self._points[number] @ rotation.T
            bars, count = len(body.body), len(self._points[number])
            apart = arms[:bars] + move[:3] - (body.frame + steer * body.slides)
            along = np.zeros((count, 3))
            along[:bars] = apart / np.sqrt((apart * apart).sum(axis=1))[:, None]
            along[bars:, 2] = 1.0
            block = matrix[row : row + count, 6 * number : 6 * number + 6]
            block[:, :3] = along
            block[:, 3:] = np.cross(arms, along) @ spread / SCALE
            row += count
        return matrix

    def pose(self, start: Array, heights: Array, steer: float = 0.0) -> Array:
        """Unknowns (6 U,) that hold every length at the driven heights (D,) mm and share of lock."""
        # trf's first trust region is as large as its start: one of 1e-13 mm at ride height would stop it there.
        found = least_squares(
            self.residual,
            start if np.abs(start).max() > 1e-6 else np.zeros(self.unknowns),
            jac=self.derivative if self._jacobian else "2-point",
            method=self._method,
            args=(heights, steer),
            xtol=TOLERANCE,
            ftol=TOLERANCE,
            gtol=TOLERANCE,
        )
        return np.asarray(found.x)

    def transforms(self, x: Array) -> list[tuple[Array, Array]]:
        """Rotation (3, 3) and translation (3,) mm of each body, from its ride-height place."""
        moves = x.reshape(-1, 6)
        return [(turned(move[3:] / SCALE)[0], move[:3]) for move in moves]

    def walk(self, heights: Array, steer: float, steps: int) -> Array:
        """The pose at the end of a straight walk from ride height in small steps, each starting from the last."""
        x = np.zeros(self.unknowns)
        for share in np.linspace(0.0, 1.0, steps + 1)[1:]:
            x = self.pose(x, share * heights, share * steer)
        return x
