"""What is inside closed meshes: their pieces, those of them that are closed, and the winding number of a point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from model.spatial import Array, dot, norm
from model.triangles import Mesh


@dataclass(frozen=True)
class Solid:
    """A closed piece of a mesh, and its lowest and highest corner (3,)."""

    mesh: Mesh
    low: Array
    high: Array


def solids_in(mesh: Mesh) -> tuple[Solid, ...]:
    """Those pieces of a mesh that are closed."""
    piece = pieces(mesh)
    found = (Mesh(mesh.points, mesh.faces[piece == number]) for number in range(piece.max() + 1))
    return tuple(Solid(each, *box_of(each)) for each in found if closed(each))


def any_inside(solids: Sequence[Solid], points: Array) -> bool:
    """Whether any of some points (n, 3) is inside solids that may overlap or be hollows of each other."""
    turns = np.zeros(len(points))
    for solid in solids:
        for number in np.flatnonzero(((points >= solid.low) & (points <= solid.high)).all(axis=1)):
            turns[number] += winding(solid.mesh, points[number])
    return bool((turns > 0.5).any())


def box_of(mesh: Mesh) -> tuple[Array, Array]:
    """Lowest and highest corner (3,) of a mesh."""
    used = mesh.points[np.unique(mesh.faces)]
    return used.min(axis=0), used.max(axis=0)


def pieces(mesh: Mesh) -> NDArray[np.intp]:
    """The piece (n,) that each triangle of a mesh belongs to: triangles hang together by corners at the same place."""
    _, same = np.unique(np.round(mesh.points, 6), axis=0, return_inverse=True)
    faces = same.ravel()[mesh.faces]
    links = faces[:, [0, 1]], faces[:, [1, 2]]
    start, stop = np.concatenate(links).T
    count = len(mesh.points)
    _, of_corner = connected_components(coo_array((np.ones(len(start)), (start, stop)), shape=(count, count)))
    return np.asarray(np.unique(of_corner[faces[:, 0]], return_inverse=True)[1])


def closed(mesh: Mesh) -> bool:
    """Whether every edge has a triangle on both sides, so that there is an inside."""
    edges = mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    code = edges[:, 0] * (len(mesh.points) + 1) + edges[:, 1]
    back = edges[:, 1] * (len(mesh.points) + 1) + edges[:, 0]
    return bool(np.array_equal(np.sort(code), np.sort(back)))


def winding(mesh: Mesh, at: Array) -> float:
    """How many times a closed mesh goes round a point (3,): the solid angle of its triangles over 4π.

    Solid angle of a triangle by Van Oosterom and Strackee (1983): tan(Ω/2) = a·(b×c) / (abc + a·b c + b·c a + c·a b).
    """
    a, b, c = (mesh.points[mesh.faces[:, corner]] - at for corner in range(3))
    la, lb, lc = norm(a), norm(b), norm(c)
    below = la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb
    return float(np.arctan2(dot(a, np.cross(b, c)), below).sum() / (2.0 * np.pi))
