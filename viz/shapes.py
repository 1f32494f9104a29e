"""Meshes as the drawing library wants them: with normals that keep sharp edges sharp."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyvista as pv
from vtkmodules.vtkFiltersCore import vtkPolyDataNormals

from model.spatial import Array, norm
from model.triangles import Faces, Mesh

# Edges sharper than this stay sharp under smooth shading.
SHARP_EDGE = 38.0


def shaded(mesh: Mesh) -> tuple[Array, Array, Faces]:
    """Vertices (n, 3), unit normals (n, 3) and triangles (m, 3), with vertices doubled along sharp edges."""
    finder = vtkPolyDataNormals()
    finder.SetInputData(poly_data(mesh))
    finder.SetFeatureAngle(SHARP_EDGE)
    finder.ConsistencyOff()
    finder.Update()
    surface = finder.GetOutput()
    normals = pv.convert_array(surface.GetPointData().GetNormals()).astype(float)
    faces = pv.convert_array(surface.GetPolys().GetConnectivityArray()).reshape(-1, 3)
    points = pv.convert_array(surface.GetPoints().GetData()).astype(float)
    size = norm(normals)
    normals = np.where(size[:, None] > 0.5, normals / np.maximum(size, 1e-12)[:, None], [0.0, 0.0, 1.0])
    return points, normals, faces.astype(np.int64)


def smooth_normals(mesh: Mesh) -> Array:
    """Unit normals (n, 3) of the vertices, with no edge kept sharp."""
    surface = poly_data(mesh).compute_normals(cell_normals=False, split_vertices=False, consistent_normals=False)
    return np.asarray(surface.point_data["Normals"], dtype=float)


def poly_data(mesh: Mesh) -> pv.PolyData:
    """The mesh as the drawing library wants it."""
    faces: Any = mesh.faces  # the library's annotation knows no width of integers
    surface: pv.PolyData = pv.PolyData.from_regular_faces(mesh.points, faces)
    return surface
