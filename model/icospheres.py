"""Spheres of even triangles: an icosahedron whose triangles are cut in four and pushed out, again and again."""

from __future__ import annotations

from functools import cache

import numpy as np

from model.spatial import unit
from model.triangles import Faces, Mesh


@cache
def unit_sphere(subdivisions: int) -> Mesh:
    """A closed mesh of a sphere of radius 1 about the origin, with 20 · 4ⁿ triangles."""
    if subdivisions == 0:
        return _icosahedron()
    coarse = unit_sphere(subdivisions - 1)
    a, b, c = coarse.faces.T
    edges = np.concatenate([[a, b], [b, c], [c, a]], axis=1).T
    ends, numbers = np.unique(np.sort(edges, axis=1), axis=0, return_inverse=True)
    middles = unit(coarse.points[ends].sum(axis=1))
    ab, bc, ca = len(coarse.points) + numbers.reshape(3, -1)
    faces = np.concatenate(
        [np.stack(corners, axis=-1) for corners in ((a, ab, ca), (b, bc, ab), (c, ca, bc), (ab, bc, ca))]
    )
    return Mesh(np.concatenate([coarse.points, middles]), faces)


def _icosahedron() -> Mesh:
    """Its twelve corners are those of three golden rectangles, square to each other."""
    golden = 0.5 * (1.0 + np.sqrt(5.0))
    flat = np.array([[side, up * golden, 0.0] for side in (-1.0, 1.0) for up in (-1.0, 1.0)])
    corners = np.concatenate([flat, flat[:, [2, 0, 1]], flat[:, [1, 2, 0]]])
    near = np.linalg.norm(corners[:, None] - corners, axis=-1) < 2.1  # neighbours are 2 apart, the next 2 · golden
    triples = [
        (i, j, k) for i in range(12) for j in range(i) for k in range(j) if near[i, j] and near[j, k] and near[k, i]
    ]
    return Mesh(unit(corners), _outward(corners, np.array(triples)))


def _outward(corners: np.ndarray, faces: Faces) -> Faces:
    """The same triangles (m, 3) of a solid about the origin, each wound so that it faces away from it."""
    a, b, c = (corners[faces[:, corner]] for corner in range(3))
    inward = np.einsum("ij,ij->i", np.cross(b - a, c - a), a) < 0.0
    return np.where(inward[:, None], faces[:, ::-1], faces).astype(np.int64)
