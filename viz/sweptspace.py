"""Spaces that something fills: translucent, with their outlines drawn."""

from __future__ import annotations

from typing import Any

import pyvista as pv
from vtkmodules.vtkFiltersHybrid import vtkPolyDataSilhouette
from vtkmodules.vtkRenderingCore import vtkPolyDataMapper

from model.triangles import Mesh
from viz import style
from viz.shapes import poly_data, shaded
from viz.studio import OVERSAMPLE, add_actor


class SweptActors:
    """Spaces that parts need over the whole travel, in a plotter."""

    def __init__(self, plotter: Any) -> None:
        """Begin with none."""
        self._plotter = plotter
        self.labels: list[str] = []
        self.spaces: list[Mesh] = []

    def show(self, label: str, space: Mesh) -> None:
        """Add the space (vehicle coordinates, closed) of the part with a label."""
        add_space(self._plotter, space, style.SWEPT_SPACE)
        self.labels.append(label)
        self.spaces.append(space)


def add_space(plotter: Any, space: Mesh, finish: style.Finish) -> list[pv.Actor]:
    """Put a closed space (vehicle coordinates) into a plotter: its surface and its outline."""
    points, normals, faces = shaded(space)
    data = poly_data(Mesh(points, faces))
    data.point_data["Normals"] = normals
    surface = add_actor(plotter, data, finish)
    surface.prop.opacity = finish.opacity
    # Its far side would only make it cloudy.
    surface.prop.culling = "back"
    outline = _outline(space, plotter.renderer.GetActiveCamera())
    plotter.renderer.AddActor(outline)
    return [surface, outline]


def _outline(space: Mesh, camera: Any) -> pv.Actor:
    """Lines where a surface turns away from the camera; its own edges are no help, a grid's cells leave many."""
    outline = vtkPolyDataSilhouette()
    outline.SetInputData(poly_data(space))
    outline.SetCamera(camera)
    outline.SetEnableFeatureAngle(False)
    mapper: Any = vtkPolyDataMapper()
    mapper.SetInputConnection(outline.GetOutputPort())
    actor = pv.Actor(mapper=None)
    actor.SetMapper(mapper)
    actor.prop.color = style.fraction(style.INK)
    actor.prop.line_width = 1.2 * OVERSAMPLE
    actor.prop.lighting = False
    return actor
