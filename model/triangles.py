"""Closed triangle meshes as arrays: vertices in mm, triangles wound so that their normals point outwards."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.spatial import Array, dot

Faces = NDArray[np.int64]


@dataclass(frozen=True)
class Mesh:
    """Vertices (n, 3) in mm and triangles (m, 3)."""

    points: Array
    faces: Faces

    @property
    def volume(self) -> float:
        """Enclosed volume in mm³; negative for inward winding."""
        return float(self.volumes.sum())

    @property
    def volumes(self) -> Array:
        """Volume (m,) in mm³ between each triangle and the origin; positive where it faces away from there."""
        a, b, c = (self.points[self.faces[:, corner]] for corner in range(3))
        return np.asarray(dot(a, np.cross(b, c)) / 6.0)

    def outward(self) -> Mesh:
        """The same mesh with outward winding."""
        return self if self.volume >= 0.0 else Mesh(self.points, self.faces[:, ::-1])


def joined(meshes: Iterable[Mesh]) -> Mesh:
    """Several meshes in one, in order."""
    parts = list(meshes)
    starts = np.cumsum([0, *(len(mesh.points) for mesh in parts)])
    return Mesh(
        np.concatenate([mesh.points for mesh in parts]),
        np.concatenate([mesh.faces + start for mesh, start in zip(parts, starts, strict=False)]),
    )


def edge_faults(faces: Faces) -> tuple[int, int]:
    """How many edges of triangles (m, 3) are open, and how many of the others are not run through once each way.

    Where parts of a mesh touch along an edge it has four triangles; it is closed if two run along it each way.
    """
    starts, stops, number, count = _edges(faces)
    balance = np.bincount(number, weights=np.where(starts < stops, 1.0, -1.0))
    odd = count % 2 == 1
    return int(odd.sum()), int((~odd & (balance != 0.0)).sum())


def odd_edges(faces: Faces) -> NDArray[np.bool_]:
    """Which edges (m, 3) of triangles (m, 3) belong to an odd number of them."""
    _, _, number, count = _edges(faces)
    return np.asarray((count % 2 == 1)[number].reshape(-1, 3))


def _edges(faces: Faces) -> tuple[Faces, Faces, Faces, Faces]:
    """Where each side (3 m,) of triangles starts and stops, the number of its edge, and how many sides an edge has."""
    starts, stops = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    low, high = np.minimum(starts, stops), np.maximum(starts, stops)
    _, number, count = np.unique(low * (int(faces.max()) + 1) + high, return_inverse=True, return_counts=True)
    return starts, stops, number, count
