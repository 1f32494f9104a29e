"""Spaces that something fills: translucent, with their outlines drawn."""

from __future__ import annotations

from typing import Any

import pyvista as pv
from vtkmodules.vtkFiltersHybrid import vtkPolyDataSilhouette
from vtkmodules.vtkRenderingCore import vtkPolyDataMapper

from model.triangles import Mesh
from viz import style
from viz.contours import smooth_outline
from viz.shapes import poly_data, shaded
from viz.studio import OVERSAMPLE, add_actor

# Width of outlines in px.
LINE = 1.2


class SweptActors:
    """Spaces that parts need over the whole travel, in a plotter."""

    def __init__(self, plotter: Any) -> None:
        """Begin with none."""
        self._plotter = plotter
        self.labels: list[str] = []
        self.spaces: list[Mesh] = []

    def show(self, label: str, space: Mesh) -> None:
        """Add the space (vehicle coordinates, closed) of the part with a label."""
        _add_surface(self._plotter, space, style.SWEPT_SPACE)
        smooth_outline(self._plotter.renderer, space, LINE)
        self.labels.append(label)
        self.spaces.append(space)


def add_space(plotter: Any, space: Mesh, finish: style.Finish) -> list[pv.Actor]:
    """Put a closed space (vehicle coordinates) into a plotter: its surface and its outline."""
    surface = _add_surface(plotter, space, finish)
    outline = outline_of(space, plotter.renderer.GetActiveCamera(), LINE)
    plotter.renderer.AddActor(outline)
    return [surface, outline]


def _add_surface(plotter: Any, space: Mesh, finish: style.Finish) -> pv.Actor:
    points, normals, faces = shaded(space)
    data = poly_data(Mesh(points, faces))
    data.point_data["Normals"] = normals
    surface = add_actor(plotter, data, finish)
    surface.prop.opacity = finish.opacity
    # Its far side would only make it cloudy.
    surface.prop.culling = "back"
    return surface


def outline_of(mesh: Mesh, camera: Any, width: float) -> pv.Actor:
    """Lines, some px wide, where a surface turns away from the camera; they follow both when either moves."""
    outline = vtkPolyDataSilhouette()
    outline.SetInputData(poly_data(mesh))
    outline.SetCamera(camera)
    # Its own edges are no help: a grid's cells leave many.
    outline.SetEnableFeatureAngle(False)
    mapper: Any = vtkPolyDataMapper()
    mapper.SetInputConnection(outline.GetOutputPort())
    actor = pv.Actor(mapper=None)
    actor.SetMapper(mapper)
    outline.SetProp3D(actor)
    actor.prop.color = style.fraction(style.INK)
    actor.prop.line_width = width * OVERSAMPLE
    actor.prop.lighting = False
    return actor
