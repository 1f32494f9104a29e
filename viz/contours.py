"""The outline of a surface of revolution: the line along which the smooth surface turns away from the camera.

On the surface at height s of its profile and angle θ about its axis, f(s, θ) = normal · (eye − point) is positive where
the surface faces the camera; the outline is f = 0. Between the corners of a grid of s and θ it is taken to be linear
(marching squares), so that the line does not run in steps along the edges of a mesh.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pyvista as pv
from numpy.typing import NDArray
from vtkmodules.vtkRenderingCore import vtkPolyDataMapper

from model.solids import Revolved
from model.spatial import Array, norm, square_to, triad
from viz import style
from viz.shapes import SHARP_EDGE
from viz.studio import OVERSAMPLE

# Steps about the axis: the middle of a chord is then 0.04 mm inside the circle of a truck's tyre.
STEPS = 240


class RevolvedOutline:
    """Lines, some px wide, that outline a ring-shaped surface of revolution; they follow the camera and the surface."""

    def __init__(self, renderer: Any, solid: Revolved, width: float) -> None:
        """Put the outline into a renderer; it is found anew whenever that draws and it is to be seen."""
        axes = triad(solid.axis, square_to(solid.axis))
        places, normals = _split(solid.profile)
        angle = np.linspace(0.0, 2.0 * np.pi, STEPS + 1)
        out = np.cos(angle)[:, None] * axes[:, 1] + np.sin(angle)[:, None] * axes[:, 2]
        self._points = solid.origin + places[:, :1, None] * axes[:, 0] + places[:, 1:, None] * out
        self._normals = normals[:, :1, None] * axes[:, 0] + normals[:, 1:, None] * out
        self._renderer = renderer
        self._data = pv.PolyData()
        self._seen: Array | None = None
        mapper: Any = vtkPolyDataMapper()
        mapper.SetInputData(self._data)
        self.actor = pv.Actor(mapper=None)
        self.actor.SetMapper(mapper)
        self.actor.prop.color = style.fraction(style.INK)
        self.actor.prop.line_width = width * OVERSAMPLE
        self.actor.prop.lighting = False
        renderer.AddActor(self.actor)
        renderer.AddObserver("StartEvent", self._follow)

    def _follow(self, *_: Any) -> None:
        if not self.actor.visibility:
            return
        camera = self._renderer.GetActiveCamera()
        eye = np.array([*camera.GetPosition(), 1.0])
        if camera.GetParallelProjection():
            eye = np.array([*(-part for part in camera.GetDirectionOfProjection()), 0.0])
        matrix: Array = pv.array_from_vtkmatrix(self.actor.GetMatrix()).astype(float)
        eye = np.linalg.solve(matrix, eye)
        if self._seen is None or not np.array_equal(eye, self._seen):
            self._seen = eye
            lines = outline(self._points, self._normals, eye)
            self._data.points = lines.reshape(-1, 3)
            ends = np.arange(2 * len(lines)).reshape(-1, 2)
            self._data.lines = np.column_stack([np.full(len(lines), 2), ends])


def outline(points: Array, normals: Array, eye: Array) -> Array:
    """Pieces (k, 2, 3) of the line along which a grid of points (n, m, 3) with normals turns away from the eye.

    The grid closes on itself along its first axis; `eye` (4,) is a point, or with a last part of 0 a direction.
    """
    turned = (normals * (eye[:3] - eye[3] * points)).sum(axis=-1)
    # Around each cell of the grid; an edge that the line crosses is crossed in the same spot seen from both its cells.
    corners = [_shifted(points, down, across) for down, across in ((0, 0), (1, 0), (1, 1), (0, 1))]
    values = [_shifted(turned, down, across) for down, across in ((0, 0), (1, 0), (1, 1), (0, 1))]
    crossed = np.stack([(values[k] > 0.0) != (values[(k + 1) % 4] > 0.0) for k in range(4)], axis=-1)
    rows, columns, sides = np.nonzero(crossed)
    start = np.stack(values, axis=-1)[rows, columns, sides]
    stop = np.stack(values, axis=-1)[rows, columns, (sides + 1) % 4]
    share = (start / (start - stop))[:, None]
    cells = np.stack(corners, axis=-2)
    spots = (1.0 - share) * cells[rows, columns, sides] + share * cells[rows, columns, (sides + 1) % 4]
    # Every cell has two spots or four, one after the other.
    return spots.reshape(-1, 2, 3)


def _shifted(values: Array, down: int, across: int) -> Array:
    """Values at one corner of every cell."""
    return np.roll(values, -down, axis=0)[:, across : values.shape[1] - 1 + across]


def _split(profile: Array) -> tuple[Array, Array]:
    """Places (n, 2) along a closed profile and the normals there; a sharp corner is there twice, once for each side."""
    edges = np.roll(profile, -1, axis=0) - profile
    along = edges / norm(edges)[:, None]
    ahead = np.stack([along[:, 1], -along[:, 0]], axis=-1)
    # Outwards whichever way the profile runs: its enclosed area has a sign.
    ahead *= np.sign(np.sum(profile[:, 0] * np.roll(profile[:, 1], -1) - profile[:, 1] * np.roll(profile[:, 0], -1)))
    behind = np.roll(ahead, 1, axis=0)
    sharp: NDArray[np.bool_] = (ahead * behind).sum(axis=-1) < np.cos(np.radians(SHARP_EDGE))
    middle = ahead + behind
    middle /= np.maximum(norm(middle), 1e-9)[:, None]
    pairs = np.where(sharp[:, None, None], np.stack([behind, ahead], axis=1), middle[:, None])
    kept = np.stack([np.ones_like(sharp), sharp], axis=1)
    return np.stack([profile, profile], axis=1)[kept], pairs[kept]
