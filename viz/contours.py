"""Outlines: lines along which a smooth surface turns away from the camera, found on the surface and not on its mesh.

On a surface of revolution at height s of its profile and angle θ about its axis, f(s, θ) = normal · (eye − point) is
positive where the surface faces the camera; the outline is f = 0. Between the corners of a grid of s and θ, as between
those of a triangle, it is taken to be linear (marching squares), so that the line does not run in steps along the edges
of a mesh.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from model.solids import Revolved
from model.spatial import Array, norm, square_to, triad
from model.triangles import Faces, Mesh
from viz import style
from viz.shapes import SHARP_EDGE, line_data, smooth_normals
from viz.studio import Actor, add_lines

# Steps about the axis: the middle of a chord is then 0.1 mm inside the circle of a truck's tyre.
STEPS = 160
# What is found cell by cell is rough at the size of a cell: its normals are averaged with their neighbours' so often.
PASSES = 6


class _Outline:
    """Lines, some px wide, along which a smooth surface turns away from the camera; they follow both."""

    def __init__(self, renderer: Any, width: float, lines: Callable[[Array], Array]) -> None:
        """Put the outline into a renderer; `lines` is asked for it anew whenever that draws and it is to be seen."""
        self._lines = lines
        self._data = line_data(np.zeros((0, 3)), np.zeros((0, 2), dtype=np.int64))
        self._seen: Array | None = None
        self.actor = add_lines(renderer, self._data, style.INK, width)
        # The renderer is not kept here: it would keep itself alive.
        self._watch = renderer.AddObserver("StartEvent", self._follow)

    def _follow(self, renderer: Any, _: str) -> None:
        if not renderer.HasViewProp(self.actor):
            renderer.RemoveObserver(self._watch)
            return
        if not self.actor.visibility:
            return
        camera = renderer.GetActiveCamera()
        eye = np.array([*camera.GetPosition(), 1.0])
        if camera.GetParallelProjection():
            eye = np.array([*(-part for part in camera.GetDirectionOfProjection()), 0.0])
        eye = np.linalg.solve(pv.array_from_vtkmatrix(self.actor.GetMatrix()).astype(float), eye)
        if self._seen is None or not np.array_equal(eye, self._seen):
            self._seen = eye
            lines = self._lines(eye)
            self._data.ShallowCopy(line_data(lines.reshape(-1, 3), np.arange(2 * len(lines)).reshape(-1, 2)))


def revolved_outline(renderer: Any, solid: Revolved, width: float) -> Actor:
    """The outline of a ring-shaped surface of revolution in a renderer, `width` px wide."""
    axes = triad(solid.axis, square_to(solid.axis))
    places, normals = _split(solid.profile)
    angle = np.linspace(0.0, 2.0 * np.pi, STEPS + 1)
    out = np.cos(angle)[:, None] * axes[:, 1] + np.sin(angle)[:, None] * axes[:, 2]
    points = solid.origin + places[:, :1, None] * axes[:, 0] + places[:, 1:, None] * out
    turned = normals[:, :1, None] * axes[:, 0] + normals[:, 1:, None] * out
    return _Outline(renderer, width, lambda eye: outline(points, turned, eye)).actor


def smooth_outline(renderer: Any, mesh: Mesh, width: float) -> Actor:
    """The outline of a closed mesh without sharp edges in a renderer, `width` px wide."""
    from scipy.sparse import csr_array

    normals, faces = smooth_normals(mesh), mesh.faces
    both = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    beside = csr_array((np.ones(len(both)), (both[:, 0], both[:, 1])), (len(normals), len(normals)))
    for _ in range(PASSES):
        normals = normals + beside @ normals
        normals /= np.maximum(norm(normals), 1e-9)[:, None]
    return _Outline(renderer, width, lambda eye: mesh_outline(mesh.points, normals, faces, eye)).actor


def mesh_outline(points: Array, normals: Array, faces: Faces, eye: Array) -> Array:
    """Pieces (k, 2, 3) of the line along which triangles (m, 3) of points (n, 3) turn away from the eye."""
    turned = (normals * (eye[:3] - eye[3] * points)).sum(axis=-1)[faces]
    ahead = np.roll(turned, -1, axis=1)
    # A triangle is crossed along two of its edges or along none.
    rows, sides = np.nonzero((turned > 0.0) != (ahead > 0.0))
    start, stop = turned[rows, sides], ahead[rows, sides]
    share = (start / (start - stop))[:, None]
    spots: Array = (1.0 - share) * points[faces[rows, sides]] + share * points[faces[rows, (sides + 1) % 3]]
    return spots.reshape(-1, 2, 3)


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
