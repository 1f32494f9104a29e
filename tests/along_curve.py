"""A brute-force reference: bodies on bars followed along the curve of their poses by arc length, many at once.

Pseudo arc length (Seydel, Practical Bifurcation and Stability Analysis, ch. 4; from memory): the share s of the way to
the asked heights is one more unknown, so that the curve has no dead centres; one that turns back in s has met one.
Nothing here but NumPy and point coordinates.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
# Rotations in mm at about the size of an upright, so that all unknowns weigh alike.
RADIUS = 300.0


@dataclass(frozen=True)
class Corners:
    """N bodies on k bars from frame (N, k, 3), sliding by `slide` (N, k, 3) at s = 1, to body (N, k, 3).

    Wheels (N, w, 3) rise by `heights` (N, w) at s = 1; k + w is six.
    """

    frame: Array
    body: Array
    slide: Array
    wheels: Array
    heights: Array

    def take(self, which: NDArray[np.intp]) -> Corners:
        """Return some of them."""
        return Corners(*(values[which] for values in vars(self).values()))

    def rows(self, rotation: Array, shift: Array, share: Array) -> tuple[Array, Array]:
        """Residuals (N, 6) in mm and their derivatives (N, 6, 7) by twist and by s · 1 mm."""
        ends, hubs = (points @ rotation.swapaxes(1, 2) + shift[:, None] for points in (self.body, self.wheels))
        apart = ends - self.frame - share[:, None, None] * self.slide
        length = np.linalg.norm(self.body - self.frame, axis=2)
        along = apart / length[..., None]
        residual = np.concatenate(
            [
                ((apart**2).sum(axis=2) - length**2) / (2.0 * length),
                hubs[..., 2] - self.wheels[..., 2] - share[:, None] * self.heights,
            ],
            axis=1,
        )
        force = np.concatenate([along, np.broadcast_to([0.0, 0.0, 1.0], hubs.shape)], axis=1)
        moment = np.cross(np.concatenate([ends, hubs], axis=1), force) / RADIUS
        by_share = np.concatenate([-(along * self.slide).sum(axis=2), -self.heights], axis=1)
        return residual, np.concatenate([force, moment, by_share[..., None]], axis=2)


def follow(corners: Corners, step: float = 1.0, longest: float = 3000.0) -> tuple[Array, Array, Array]:
    """The share s (N,) at which each curve turns back, or 1 where it arrives; rotation (N, 3, 3), shift (N, 3) there.

    NaN for a curve longer than `longest` mm. Steps are `step` mm of arc.
    """
    n = len(corners.frame)
    rotation, shift, share, end = np.tile(np.eye(3), (n, 1, 1)), np.zeros((n, 3)), np.zeros(n), np.full(n, np.nan)
    # One unit of s in mm, so that it weighs as much as what it does.
    unit = np.maximum(np.abs(corners.heights).max(axis=1), np.abs(corners.slide).max(axis=(1, 2)))
    before = np.tile(np.eye(7)[6], (n, 1))
    side = np.linalg.det(corners.rows(rotation, shift, share)[1][:, :, :6])
    going = np.arange(n)
    for _ in range(int(longest / step)):
        here = corners.take(going)
        at = rotation[going], shift[going], share[going]
        matrix = here.rows(*at)[1]
        turned = np.linalg.det(matrix[:, :, :6]) * side[going] <= 0.0
        end[going[turned]] = share[going[turned]]
        tangent = _bordered(matrix, unit[going], before[going], np.eye(7)[6])
        tangent /= np.linalg.norm(tangent, axis=1)[:, None]
        before[going] = tangent
        left = (1.0 - share[going]) * unit[going] / np.maximum(tangent[:, 6], 0.3)
        at = _moved(*at, tangent * np.minimum(step, left)[:, None], unit[going])
        for _ in range(4):
            residual, matrix = here.rows(*at)
            right = np.concatenate([-residual, np.zeros((len(going), 1))], axis=1)
            at = _moved(*at, _bordered(matrix, unit[going], tangent, right), unit[going])
        on = ~turned
        rotation[going[on]], shift[going[on]], share[going[on]] = (values[on] for values in at)
        arrived = on & (share[going] >= 1.0 - 1e-9)
        end[going[arrived]] = 1.0
        going = going[on & ~arrived]
        if len(going) == 0:
            break
    whole = np.flatnonzero(end == 1.0)
    at = rotation[whole], shift[whole], np.ones(len(whole))
    for _ in range(4):
        residual, matrix = corners.take(whole).rows(*at)
        back = np.linalg.solve(matrix[:, :, :6], -residual[..., None])[..., 0]
        at = _moved(*at, np.pad(back, ((0, 0), (0, 1))), unit[whole])
    rotation[whole], shift[whole] = at[:2]
    return end, rotation, shift


def _bordered(matrix: Array, unit: Array, border: Array, right: Array) -> Array:
    """Solve for steps (N, 7) whose part along `border` (N, 7) is the last of `right` (N, 7)."""
    scaled = matrix / np.concatenate([np.ones((len(unit), 6)), unit[:, None]], axis=1)[:, None]
    whole = np.concatenate([scaled, border[:, None]], axis=1)
    return np.asarray(np.linalg.solve(whole, np.broadcast_to(right, border.shape)[..., None])[..., 0])


def _moved(rotation: Array, shift: Array, share: Array, step: Array, unit: Array) -> tuple[Array, Array, Array]:
    """Moved by twists and shares (N, 7), by Rodrigues' formula."""
    turn = step[:, 3:6] / RADIUS
    angle = np.maximum(np.linalg.norm(turn, axis=1), 1e-12)[:, None, None]
    cross = np.cross(turn[:, None], np.eye(3)).swapaxes(1, 2)  # its columns are turn × x, turn × y, turn × z
    change = np.eye(3) + np.sin(angle) / angle * cross + (1.0 - np.cos(angle)) / angle**2 * (cross @ cross)
    moved = np.einsum("nij,nj->ni", change, shift) + step[:, :3]
    return change @ rotation, moved, share + step[:, 6] / unit
