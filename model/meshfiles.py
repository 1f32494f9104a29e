"""Mesh files that a person brings: read, checked, scaled to mm and placed."""

from __future__ import annotations

from typing import Any

import numpy as np
import trimesh

from model.errors import SceneError
from model.solids import MeshFile
from model.spatial import Array
from model.triangles import Faces, Mesh

# A shape on a frame, mm: a bracket's tab to a long truck's rail; a metre read as a mm or the like lies far outside.
SMALLEST_MESH, LARGEST_MESH = 5.0, 20_000.0


def mesh_from_file(solid: MeshFile) -> Mesh:
    """Read a mesh file.

    Raises:
        SceneError: if it cannot be read, is empty, or is of a size that no vehicle has.

    """
    try:
        loaded: Any = trimesh.load(solid.path, force="mesh")
        points: Array = np.array(loaded.vertices, dtype=np.float64) * solid.scale
        faces: Faces = np.array(loaded.faces, dtype=np.int64)
    except Exception as error:  # each format has its own readers with their own kinds of failure
        raise SceneError(
            f'The mesh file "{solid.path}" cannot be read ({error}); '
            "save it again as STL, OBJ, PLY or GLB or take it out of the scene."
        ) from error
    if len(faces) == 0:
        raise SceneError(f'The mesh file "{solid.path}" holds no triangles; save it again as a triangle mesh.')
    length = float(np.ptp(points, axis=0).max())
    if not SMALLEST_MESH <= length <= LARGEST_MESH:
        raise SceneError(
            f'The mesh file "{solid.path}" is {length / 1000:.4g} m long, expected {SMALLEST_MESH / 1000:g} to '
            f"{LARGEST_MESH / 1000:g} m; set mesh_units to the unit that it was drawn in."
        )
    if solid.mirrored:
        points, faces = points * [1.0, -1.0, 1.0], faces[:, ::-1]
    return Mesh(points, faces)
