"""Meshes as the drawing library wants them: with normals that keep sharp edges sharp."""

from __future__ import annotations

from typing import Any

import numpy as np
from vtkmodules.vtkCommonCore import vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
from vtkmodules.vtkFiltersCore import vtkPolyDataNormals

from model.spatial import Array, norm
from model.triangles import Faces, Mesh
from viz.arrays import array_of, held_array, held_numbers

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
    points, faces = points_of(surface), faces_of(surface)
    normals = array_of(surface.GetPointData().GetNormals()).astype(float)
    size = norm(normals)
    normals = np.where(size[:, None] > 0.5, normals / np.maximum(size, 1e-12)[:, None], [0.0, 0.0, 1.0])
    return points, normals, faces


def smooth_normals(mesh: Mesh) -> Array:
    """Unit normals (n, 3) of the vertices, with no edge kept sharp."""
    finder = vtkPolyDataNormals()
    finder.SetInputData(poly_data(mesh))
    finder.SplittingOff()
    finder.ConsistencyOff()
    finder.Update()
    return array_of(finder.GetOutput().GetPointData().GetNormals()).astype(float)


def shaded_data(mesh: Mesh) -> Any:
    """The mesh as the drawing library wants it, with normals that keep its sharp edges sharp."""
    points, normals, faces = shaded(mesh)
    return poly_data(Mesh(points, faces), normals)


def poly_data(mesh: Mesh, normals: Array | None = None) -> Any:
    """The mesh as the drawing library wants it, on the memory of its arrays; with unit normals (n, 3) of its points."""
    surface: Any = vtkPolyData()
    surface.SetPoints(_points(mesh.points))
    cells = vtkCellArray()
    cells.SetData(3, held_numbers(mesh.faces))
    surface.SetPolys(cells)
    if normals is not None:
        surface.GetPointData().SetNormals(held_array(normals))
    return surface


def line_data(points: Array, edges: Faces) -> Any:
    """Lines as the drawing library wants them: points (n, 3) and the two ends (m, 2) of each by number."""
    lines: Any = vtkPolyData()
    lines.SetPoints(_points(points))
    cells = vtkCellArray()
    cells.SetData(2, held_numbers(edges))
    lines.SetLines(cells)
    return lines


def points_of(surface: Any) -> Array:
    """Vertices (n, 3) of a surface of the drawing library's."""
    return array_of(surface.GetPoints().GetData()).astype(float)


def faces_of(surface: Any) -> Faces:
    """Triangles (m, 3) of a surface of the drawing library's that has only such."""
    return array_of(surface.GetPolys().GetConnectivityArray()).reshape(-1, 3).astype(np.int64)


def _points(points: Array) -> Any:
    held = vtkPoints()
    held.SetData(held_array(points))
    return held
