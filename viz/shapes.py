"""Meshes as the drawing library wants them: with normals that keep sharp edges sharp."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyvista as pv

from model.spatial import Array, norm
from model.triangles import Faces, Mesh

# Edges sharper than this stay sharp under smooth shading.
SHARP_EDGE = 38.0


def shaded(mesh: Mesh) -> tuple[Array, Array, Faces]:
    """Vertices (n, 3), unit normals (n, 3) and triangles (m, 3), with vertices doubled along sharp edges."""
    surface = poly_data(mesh).compute_normals(
        cell_normals=False, split_vertices=True, feature_angle=SHARP_EDGE, consistent_normals=False
    )
    normals = np.asarray(surface.point_data["Normals"], dtype=float)
    size = norm(normals)
    normals = np.where(size[:, None] > 0.5, normals / np.maximum(size, 1e-12)[:, None], [0.0, 0.0, 1.0])
    return points_of(surface), normals, faces_of(surface)


def smooth_normals(mesh: Mesh) -> Array:
    """Unit normals (n, 3) of the vertices, with no edge kept sharp."""
    surface = poly_data(mesh).compute_normals(cell_normals=False, split_vertices=False, consistent_normals=False)
    return np.asarray(surface.point_data["Normals"], dtype=float)


def shaded_data(mesh: Mesh) -> pv.PolyData:
    """The mesh as the drawing library wants it, with normals that keep its sharp edges sharp."""
    points, normals, faces = shaded(mesh)
    return poly_data(Mesh(points, faces), normals)


def poly_data(mesh: Mesh, normals: Array | None = None) -> pv.PolyData:
    """The mesh as the drawing library wants it; with unit normals (n, 3) of its points."""
    faces: Any = mesh.faces
    surface: pv.PolyData = pv.PolyData.from_regular_faces(mesh.points, faces)
    if normals is not None:
        surface.point_data.active_normals = normals
    return surface


def line_data(points: Array, edges: Faces) -> pv.PolyData:
    """Lines as the drawing library wants them: points (n, 3) and the two ends (m, 2) of each by number."""
    lines = pv.PolyData()
    lines.points = points
    lines.lines = np.column_stack([np.full(len(edges), 2), edges])
    return lines


def points_of(surface: pv.PolyData) -> Array:
    """Vertices (n, 3) of a surface of the drawing library's."""
    return np.asarray(surface.points, dtype=float)


def faces_of(surface: pv.PolyData) -> Faces:
    """Triangles (m, 3) of a surface of the drawing library's that has only such."""
    return np.asarray(surface.regular_faces, dtype=np.int64)
