"""Meshes cut by a plane, and the hatch of what is cut."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyvista as pv
from vtkmodules.vtkCommonDataModel import vtkPlane, vtkPlaneCollection
from vtkmodules.vtkFiltersGeneral import vtkClipClosedSurface

from model.spatial import Array
from model.triangles import Mesh
from viz import style
from viz.shapes import faces_of, points_of, poly_data
from viz.studio import Texture
from viz.views import Camera, camera_axes


def clipped(mesh: Mesh, origin: Array, keep: Array) -> tuple[Mesh, Mesh]:
    """What is left of a mesh on the side of a plane that `keep` (3,) points to, and the face of the cut.

    A mesh that is not closed is cut and has no face.
    """
    plane, planes = vtkPlane(), vtkPlaneCollection()
    plane.SetOrigin(origin.tolist())
    plane.SetNormal(keep.tolist())
    planes.AddItem(plane)
    clip = vtkClipClosedSurface()
    clip.SetInputData(poly_data(mesh))
    clip.SetClippingPlanes(planes)
    clip.SetScalarModeToLabels()
    clip.Update()
    cut = pv.wrap(clip.GetOutput()).triangulate()
    if not cut.n_cells:
        nothing = Mesh(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64))
        return nothing, nothing
    faces, points = faces_of(cut), points_of(cut)
    new = np.asarray(cut.cell_data["Labels"]) != 0
    return _only(points, faces[~new]), _only(points, faces[new])


def _only(points: Array, faces: Any) -> Mesh:
    used, numbers = np.unique(faces, return_inverse=True)
    return Mesh(points[used], numbers.reshape(-1, 3).astype(np.int64))


def along_hatch(points: Array, camera: Camera, pitch: float, way: float) -> Array:
    """Texture coordinates (n, 2) that run across lines at 45° in the picture, `pitch` mm apart."""
    axes = camera_axes(camera.direction, camera.up)
    run = (points - camera.focus) @ (axes[:, 0] + way * axes[:, 1]) / (np.sqrt(2.0) * pitch)
    return np.stack([run, np.full(len(run), 0.5)], axis=-1)


def repeating(picture: Any) -> Any:
    """A texture that is repeated beyond its edges."""
    texture = Texture(picture)
    texture.repeat = True
    texture.interpolate = True
    return texture


def paler(colour: style.Colour, share: float) -> style.Colour:
    """A share of a colour, the rest of it white."""
    red, green, blue = (round(share * part + (1.0 - share) * 255) for part in colour)
    return red, green, blue
