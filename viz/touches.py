"""The patch where two parts touch, drawn over everything that hides it: pale ground, hatched, with a bright rim."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from vtkmodules.vtkRenderingCore import vtkRenderer

from model.spatial import Array
from model.triangles import Faces, Mesh
from viz import style
from viz.clipping import along_hatch, repeating
from viz.shapes import line_data, poly_data
from viz.studio import add_lines, add_textured
from viz.views import Camera

# Lines of the hatch are this far apart in px of the picture, and of 16 parts so many are line.
PITCH, LINE = 13.0, 5
# The ground between the lines: light enough to stand out from a tyre, and how solid (of 255).
GROUND, SOLID = (255, 226, 196), 225
# The rim: a coloured line within a white one, px wide, each so far (mm) nearer to the camera than what it lies on.
RIM = ((9.0, style.PAPER, 0.4), (4.0, style.TOUCH, 0.8))
# Pieces of a patch are in or out as a whole, so its edge is a saw's; so many passes leave a line of it.
PASSES = 5


class TouchActors:
    """The touching patch that is shown in a plotter."""

    def __init__(self, plotter: Any) -> None:
        """Begin without one."""
        self._plotter = plotter
        self._actors: list[Any] = []
        self._over: Any = None

    def close(self) -> None:
        """Take the patch away."""
        for actor in self._actors:
            self._over.RemoveActor(actor)
        self._actors = []

    def show(self, patches: Iterable[Mesh], camera: Camera, grain: float) -> None:
        """Draw that of the patches which faces the camera most; `grain` is the scale there in px per mm."""
        whole = [merged(patch) for patch in patches if len(patch.faces)]
        if not whole:
            return
        patch = max(whole, key=lambda mesh: _facing(mesh, camera.direction))
        edges = edges_of(patch.faces)
        patch = Mesh(smoother(patch.points, edges), patch.faces)
        picture = np.array([[(*style.TOUCH, 255)] * LINE + [(*GROUND, SOLID)] * (16 - LINE)] * 2, dtype=np.uint8)
        hatch, front = along_hatch(patch.points, camera, PITCH / grain, 1.0), self._front()
        self._actors = [add_textured(front, poly_data(patch), hatch, repeating(picture))]
        for width, colour, nearer in RIM:
            rim = line_data(patch.points + nearer * camera.direction, edges)
            self._actors.append(add_lines(front, rim, colour, width))

    def _front(self) -> Any:
        """A layer before the picture, with the same camera."""
        if self._over is None:
            window = self._plotter.render_window
            window.SetNumberOfLayers(2)
            self._over = vtkRenderer()
            self._over.SetLayer(1)
            self._over.InteractiveOff()
            self._over.SetActiveCamera(self._plotter.renderer.GetActiveCamera())
            window.AddRenderer(self._over)
        return self._over


def merged(mesh: Mesh) -> Mesh:
    """A mesh of loose triangles with the corners that they share made one."""
    points, numbers = np.unique(mesh.points.round(6), axis=0, return_inverse=True)
    return Mesh(points, numbers.reshape(-1)[mesh.faces])


def edges_of(faces: Faces) -> Faces:
    """The edges (k, 2) of triangles (m, 3) that have nothing beyond them."""
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    single, count = np.unique(edges, axis=0, return_counts=True)
    return np.asarray(single[count == 1])


def smoother(points: Array, edges: Faces) -> Array:
    """Points (n, 3), those on edges (k, 2) moved to where the edges run smoothly."""
    if not len(edges):
        return points
    from scipy.sparse import csr_array

    both = np.concatenate([edges, edges[:, ::-1]])
    beside = csr_array((np.ones(len(both)), (both[:, 0], both[:, 1])), (len(points), len(points)))
    count = np.bincount(both[:, 0], minlength=len(points))[:, None]
    for _ in range(PASSES):
        points = np.where(count > 0, 0.5 * (points + beside @ points / np.maximum(count, 1)), points)
    return points


def _facing(mesh: Mesh, direction: Array) -> float:
    """How large (mm²) a mesh is as it is seen from a direction (3,)."""
    a, b, c = (mesh.points[mesh.faces[:, corner]] for corner in range(3))
    return float(0.5 * np.abs(np.cross(b - a, c - a) @ direction).sum())
