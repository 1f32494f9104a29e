"""The space that a part needs over the whole travel: translucent, with its outline drawn."""

from __future__ import annotations

from typing import Any

import pyvista as pv
from vtkmodules.vtkFiltersHybrid import vtkPolyDataSilhouette
from vtkmodules.vtkRenderingCore import vtkPolyDataMapper

from model.triangles import Mesh
from viz import style
from viz.shapes import poly_data, shaded
from viz.studio import OVERSAMPLE, add_actor

# Edges sharper than this (degrees) are drawn as lines beside the outline.
EDGE = 60.0


class SweptActors:
    """Swept spaces in a plotter."""

    def __init__(self, plotter: Any) -> None:
        """Begin with none."""
        self._plotter = plotter
        self.labels: list[str] = []
        self.spaces: list[Mesh] = []

    def show(self, label: str, space: Mesh) -> None:
        """Add the space (vehicle coordinates, closed) of the part with a label."""
        points, normals, faces = shaded(space)
        data = poly_data(Mesh(points, faces))
        data.point_data["Normals"] = normals
        actor = add_actor(self._plotter, data, style.SWEPT_SPACE)
        actor.prop.opacity = style.SWEPT_SPACE.opacity
        # Its far side would only make it cloudy.
        actor.prop.culling = "back"
        self._plotter.renderer.AddActor(self._outline(space))
        self.labels.append(label)
        self.spaces.append(space)

    def _outline(self, space: Mesh) -> Any:
        """Lines where the surface turns away from the camera, and along its sharp edges."""
        outline = vtkPolyDataSilhouette()
        outline.SetInputData(poly_data(space))
        outline.SetCamera(self._plotter.renderer.GetActiveCamera())
        outline.SetEnableFeatureAngle(True)
        outline.SetFeatureAngle(EDGE)
        mapper: Any = vtkPolyDataMapper()
        mapper.SetInputConnection(outline.GetOutputPort())
        actor: Any = pv.Actor(mapper=None)
        actor.SetMapper(mapper)
        actor.prop.color = style.fraction(style.INK)
        actor.prop.line_width = 1.2 * OVERSAMPLE
        actor.prop.lighting = False
        return actor
