"""Meshes as the drawing library wants them: with normals that keep sharp edges sharp."""

from __future__ import annotations

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
    return np.asarray(surface.points, dtype=float), normals, surface.faces.reshape(-1, 4)[:, 1:].astype(np.int64)


def smooth_normals(mesh: Mesh) -> Array:
    """Unit normals (n, 3) of the vertices, with no edge kept sharp."""
    surface = poly_data(mesh).compute_normals(cell_normals=False, split_vertices=False, consistent_normals=False)
    return np.asarray(surface.point_data["Normals"], dtype=float)


def poly_data(mesh: Mesh) -> pv.PolyData:
    """The mesh as the drawing library wants it."""
    counts = np.full((len(mesh.faces), 1), 3)
    return pv.PolyData(mesh.points, np.hstack([counts, mesh.faces]).ravel())
