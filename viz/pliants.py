"""Actors of what changes shape with the pose: springs, hoses, wound rubber. Triangles stay, points move."""

from __future__ import annotations

from typing import Any

import numpy as np

from model.flexing import wound, wound_shares
from model.meshes import Places, mesh_of, pliant_mesh
from model.solids import Material, Pliant, WoundSolid
from model.spatial import Array
from model.triangles import Faces, Mesh, joined
from viz import style
from viz.shapes import poly_data, shaded
from viz.studio import add_actor


class PliantActor:
    """One pliant solid in a plotter."""

    def __init__(self, plotter: Any, solid: Pliant, places: Places) -> None:
        """Build it as it is with its parts at `places`."""
        self.solid = solid
        self.faces: Faces
        if isinstance(solid, WoundSolid):
            # Its edges are sharp: they are found once, and turn with the points.
            self._points, self._normals, self.faces = shaded(joined(mesh_of(part) for part in solid.solids))
            self._shares = wound_shares(solid, self._points)
        else:
            self.faces = pliant_mesh(solid, places).faces
        points, normals = self._now(places)
        self.data = poly_data(Mesh(points, self.faces))
        self.data.point_data["Normals"] = normals
        self.actor = add_actor(plotter, self.data, style.FINISHES[solid.material])

    def show(self, places: Places, wound_share: float) -> None:
        """Move the points to where the parts are; rubber takes the colour of its wind-up's share of its limit."""
        self.data.points, self.data.point_data["Normals"] = self._now(places)
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
            return mesh.points, _smooth_normals(mesh)
        points, turned = wound(solid, self._points, self._shares, places(solid.near), places(solid.far))
        return points, np.einsum("nij,nj->ni", turned, self._normals)


def _smooth_normals(mesh: Mesh) -> Array:
    surface = poly_data(mesh).compute_normals(cell_normals=False, split_vertices=False, consistent_normals=False)
    return np.asarray(surface.point_data["Normals"])
