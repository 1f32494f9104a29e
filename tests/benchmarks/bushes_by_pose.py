"""An independent way to rest: one pose at a time by `scipy.optimize.least_squares` on the joints' energy.

A live axle with both wheels on it, on links with a bush at either end, from point coordinates alone. The residuals are
the roots of the energies, so that half their sum of squares is the energy. Heights are held without a penalty: with the
axle's rotation as yaw, roll and pitch in that order, its roll and its height follow from those of the wheels.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from model.constraints import systems
from model.mechanism import Mechanism
from model.poses import Poses
from model.solver import CHUNK

Array = NDArray[np.float64]
RATES = ("radial", "axial", "turn", "cock")
ENERGY = 1e-6  # of the largest, between the two sides
SCALE = 500.0  # mm; about half a vehicle's width, so that turns and shifts weigh alike
# The energy is then good to some 1e-12 of itself, like ours.
TOLERANCE = 1e-10


@dataclass(frozen=True)
class Hung:
    """An axle on L links: points of their ends (2, L, 3), first those on the frame, and their bolts (2, L, 3).

    `rates` (4, 2, L): radial, axial in N/mm, turn, cock in N·mm/rad. `wound` (2, L) are the turns in rad at which the
    bushes are relaxed. `wheel` (3,) is the left wheel's centre.
    """

    at: Array
    bolts: Array
    rates: Array
    wound: Array
    wheel: Array


def rotations(vectors: Array) -> Array:
    """Rotations (L, 3, 3) of rotation vectors (L, 3)."""
    angle = np.sqrt((vectors**2).sum(axis=1))[:, None, None]
    cross = np.zeros((len(vectors), 3, 3))
    x, y, z = vectors.T
    cross[:, 0, 1], cross[:, 0, 2], cross[:, 1, 2] = -z, y, -x
    cross -= cross.swapaxes(1, 2)
    return np.eye(3) + np.sinc(angle / np.pi) * cross + 0.5 * np.sinc(angle / (2.0 * np.pi)) ** 2 * cross @ cross


class RestByPose:
    """Brings one axle to rest, pose by pose, each from a start that the caller gives."""

    def __init__(self, hung: Hung, method: str = "trf") -> None:
        """Keep the axle's links."""
        self._hung, self._method = hung, method
        self._middle = hung.at.mean(axis=0)
        self._radial, axial, self._turn, self._cock = hung.rates
        self._more = np.sqrt(axial) - np.sqrt(self._radial)

    @property
    def unknowns(self) -> int:
        """Yaw, pitch and two shifts of the axle, six for each link."""
        return 4 + 6 * len(self._middle)

    def axle(self, x: Array, heights: Array) -> tuple[Array, Array]:
        """Rotation (3, 3) and translation (3,) of the axle at wheel heights (2,)."""
        yaw, pitch = x[:2] / SCALE
        roll = np.arcsin((heights[0] - heights[1]) / (2.0 * self._hung.wheel[1]))
        (sy, sr, sp), (cy, cr, cp) = np.sin([yaw, roll, pitch]), np.cos([yaw, roll, pitch])
        turned = np.array([[cy, -sy, 0.0], [sy, cy, 0.0], [0.0, 0.0, 1.0]])
        turned = turned @ [[1.0, 0.0, 0.0], [0.0, cr, -sr], [0.0, sr, cr]]
        turned = turned @ [[cp, 0.0, sp], [0.0, 1.0, 0.0], [-sp, 0.0, cp]]
        up = self._hung.wheel[2] + heights[0] - turned[2] @ self._hung.wheel
        return turned, np.array([x[2], x[3], up])

    def residual(self, x: Array, heights: Array) -> Array:
        """Roots of the bushes' energies: 7 for each, half the sum of their squares is N·mm."""
        hung = self._hung
        turned, shift = self.axle(x, heights)
        links = x[4:].reshape(-1, 6)
        linked = rotations(links[:, 3:] / SCALE)
        eyes = np.einsum("lij,slj->sli", linked, hung.at - self._middle) + self._middle + links[:, :3]
        held, bolts = hung.at.copy(), hung.bolts.copy()
        held[1], bolts[1] = hung.at[1] @ turned.T + shift, hung.bolts[1] @ turned.T
        apart = eyes - held
        along = (apart * bolts).sum(axis=2)
        pulled = np.sqrt(self._radial)[..., None] * apart + (self._more * along)[..., None] * bolts
        e = np.einsum("lij,slj->sli", linked, hung.bolts)
        cross = np.stack(
            [
                bolts[..., 1] * e[..., 2] - bolts[..., 2] * e[..., 1],
                bolts[..., 2] * e[..., 0] - bolts[..., 0] * e[..., 2],
                bolts[..., 0] * e[..., 1] - bolts[..., 1] * e[..., 0],
            ],
            axis=-1,
        )
        sine = np.sqrt((cross**2).sum(axis=2))
        swing = np.arctan2(sine, (bolts * e).sum(axis=2)) / np.where(sine > 0.0, sine, 1.0)
        cocked = (np.sqrt(self._cock) * swing)[..., None] * cross
        relative = np.stack([linked, turned.T @ linked])
        skewed = np.stack(
            [
                relative[..., 2, 1] - relative[..., 1, 2],
                relative[..., 0, 2] - relative[..., 2, 0],
                relative[..., 1, 0] - relative[..., 0, 1],
            ],
            axis=-1,
        )
        trace = relative[..., 0, 0] + relative[..., 1, 1] + relative[..., 2, 2]
        turned_by = 2.0 * np.arctan2((skewed * hung.bolts).sum(axis=2), 1.0 + trace)
        twist = np.sqrt(self._turn) * (turned_by - hung.wound)
        return np.concatenate([pulled.ravel(), cocked.ravel(), twist.ravel()])

    def pose(self, start: Array, heights: Array) -> tuple[Array, float]:
        """Unknowns at rest at wheel heights (2,) mm, and the energy in N·mm."""
        found = least_squares(
            self.residual,
            start if np.abs(start).max() > 1e-6 else np.zeros(self.unknowns),
            method=self._method,
            args=(heights,),
            xtol=TOLERANCE,
            ftol=TOLERANCE,
            gtol=TOLERANCE,
        )
        return np.asarray(found.x), float(found.cost)

    def walk(self, heights: Array, steps: int) -> Array:
        """The pose at the end of a straight walk from ride height in small steps, each starting from the last."""
        x = np.zeros(self.unknowns)
        for share in np.linspace(0.0, 1.0, steps + 1)[1:]:
            x, _ = self.pose(x, share * heights)
        return x


def hung_in_bushes(mechanism: Mechanism) -> Hung:
    """The axle of a mechanism whose links all have a bush at either end, as bare coordinates and rates."""
    ends = [[b for b in mechanism.bushings if (b.end.on == "frame") == on_frame] for on_frame in (True, False)]
    return Hung(
        at=np.array([[b.end.at for b in some] for some in ends]),
        bolts=np.array([[b.end.bolt for b in some] for some in ends]),
        rates=np.array([[[getattr(b, way) for b in some] for some in ends] for way in RATES]),
        wound=np.array([[b.wound for b in some] for some in ends]),
        wheel=next(wheel.centre for wheel in mechanism.wheels if wheel.side == "left"),
    )


def rest_time(solver: RestByPose, poses: Poses, runs: list[list[int]]) -> float:
    """Seconds a pose that scipy takes to bring the axle to rest, each from its neighbour; looks at every energy."""
    spent, count = 0.0, 0
    assert poses.holding is not None
    for numbers in runs:
        heights = poses.travel.values[numbers]
        x = solver.walk(heights[0], steps=8)
        for number, height in zip(numbers[1:], heights[1:], strict=True):
            start = perf_counter()
            x, stored = solver.pose(x, height)
            spent += perf_counter() - start
            count += 1
            off = abs(stored - poses.holding.energy[number])
            if off > ENERGY * poses.holding.energy.max():
                raise RuntimeError(f"scipy's energy is off by {off:.1e} N·mm: the two sides solve unlike things.")
    return spent / count


def rest_floor(mechanism: Mechanism, poses: Poses) -> Callable[[], object]:
    """NumPy's batched solve alone, on matrices as large and as many as ours, in batches of our size."""
    (system,) = systems(mechanism)
    size = system.unknowns + len(system.plus)
    matrix = np.eye(size) + np.random.default_rng(0).normal(size=(min(CHUNK, len(poses)), size, size)) / size
    going = [int((poses.solves > count).sum()) for count in range(int(poses.solves.max()))]

    def run() -> None:
        for alive in going:
            for start in range(0, alive, CHUNK):
                np.linalg.solve(matrix[: min(CHUNK, alive - start)], matrix[: min(CHUNK, alive - start), :, :1])

    return run
