"""Actors of what changes shape with the pose: springs, hoses, wound rubber. Triangles stay, points move."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.sparse import csr_array

from model.flexing import wound_shares, wound_skin
from model.meshes import WIRE_SIDES, Places, mesh_of, pliant_mesh, sections_of
from model.solids import HoseSolid, Material, Pliant, SpringSolid, WoundSolid
from model.spatial import Array, norm
from model.triangles import Faces, Mesh, joined
from viz import style
from viz.shapes import poly_data, shaded
from viz.studio import add_actor


class PliantActor:
    """One pliant solid in a plotter."""

    def __init__(self, plotter: Any, solid: Pliant, places: Places) -> None:
        """Build it as it is with its parts at `places`."""
        self.solid = solid
        self._ends = _ends(solid)
        self._stood = _standing(self._ends, places)
        self.faces: Faces
        if isinstance(solid, WoundSolid):
            # Its edges are sharp: they are found once, and turn with the points.
            self._points, self._normals, self.faces = shaded(joined(mesh_of(part) for part in solid.solids))
            self._shares = wound_shares(solid, self._points)
        else:
            self.faces = pliant_mesh(solid, places).faces
            self._sides, self._touching = _sides(solid), _touching(self.faces)
        points, normals = self._now(places)
        self.data = poly_data(Mesh(points, self.faces))
        self.data.point_data["Normals"] = normals
        # Written into where they are: new arrays for each pose cost more than the bending.
        self._arrays: tuple[Any, Any] = self.data.points, self.data.point_data["Normals"]
        self.actor = add_actor(plotter, self.data, style.FINISHES[solid.material])

    def show(self, places: Places, wound_share: float) -> None:
        """Move the points to where the parts are; rubber takes the colour of its wind-up's share of its limit."""
        standing = _standing(self._ends, places)
        if not np.array_equal(standing, self._stood):
            self._stood = standing
            for array, now in zip(self._arrays, self._now(places), strict=True):
                array[:] = now
            self.data.GetPoints().Modified()
            self._arrays[1].VTKObject.Modified()
        if (
            isinstance(self.solid, WoundSolid)
            and self.solid.joint is not None
            and self.solid.material is Material.RUBBER
        ):
            self.actor.prop.color = style.fraction(style.wound_colour(wound_share))

    def _now(self, places: Places) -> tuple[Array, Array]:
        """Points (n, 3) and unit normals (n, 3)."""
        solid = self.solid
        if not isinstance(solid, WoundSolid):
            mesh = pliant_mesh(solid, places)
            return mesh.points, self._smooth_normals(mesh.points) if self._sides is None else _skin(mesh, self._sides)
        ends = places(solid.near), places(solid.far)
        return wound_skin(solid, self._points, self._normals, self._shares, *ends)

    def _smooth_normals(self, points: Array) -> Array:
        """The mean direction (n, 3) of the triangles that touch each vertex."""
        a, b, c = (points[self.faces[:, corner]] for corner in range(3))
        return _unit(self._touching @ _unit(np.cross(b - a, c - a)))


def _sides(solid: SpringSolid | HoseSolid) -> int | None:
    """How many corners the sections of a round bar have; None for flat webbing."""
    if isinstance(solid, SpringSolid):
        return WIRE_SIDES
    return sections_of(solid.radius) if solid.width is None else None


def _skin(bar: Mesh, sides: int) -> Array:
    """Unit normals (n, 3) of a round bar: away from the middle of each section, and at the middle of each end out."""
    rings = bar.points[:-2].reshape(-1, sides, 3)
    middles = rings.mean(axis=1)
    ends = np.stack([middles[0] - middles[1], middles[-1] - middles[-2]])
    return _unit(np.concatenate([(rings - middles[:, None]).reshape(-1, 3), ends]))


def _ends(solid: Pliant) -> tuple[str, str]:
    """The two parts that a pliant solid reaches between."""
    match solid:
        case SpringSolid():
            return solid.top_part, solid.bottom_part
        case HoseSolid():
            return solid.parts
        case WoundSolid():
            return solid.near, solid.far


def _standing(parts: tuple[str, str], places: Places) -> Array:
    """Where two parts are, (2, 3, 4)."""
    return np.array([np.column_stack(places(part)) for part in parts])


def _unit(vectors: Array) -> Array:
    """Directions of vectors (n, 3); of none that is zero is any made up."""
    size = norm(vectors)
    return np.asarray(vectors / np.where(size > 0.0, size, 1.0)[:, None])


def _touching(faces: Faces) -> Any:
    """Sparse matrix that sums over the triangles (m, 3) which touch each vertex: the same in every pose."""
    corners, count = faces.ravel(), len(faces)
    return csr_array((np.ones(3 * count), (corners, np.repeat(np.arange(count), 3))), (int(faces.max()) + 1, count))
