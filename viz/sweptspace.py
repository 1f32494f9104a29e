"""Spaces that something fills: translucent, with their outlines drawn."""

from __future__ import annotations

from typing import Any

from vtkmodules.vtkFiltersHybrid import vtkPolyDataSilhouette

from model.triangles import Mesh
from viz import style
from viz.contours import smooth_outline
from viz.shapes import poly_data, shaded_data
from viz.studio import Actor, add_actor, add_lines

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


def add_space(plotter: Any, space: Mesh, finish: style.Finish) -> list[Actor]:
    """Put a closed space (vehicle coordinates) into a plotter: its surface and its outline."""
    return [_add_surface(plotter, space, finish), add_outline(plotter.renderer, space, LINE)]


def _add_surface(plotter: Any, space: Mesh, finish: style.Finish) -> Actor:
    surface = add_actor(plotter, shaded_data(space), finish)
    surface.prop.opacity = finish.opacity
    return surface


def add_outline(renderer: Any, mesh: Mesh, width: float) -> Actor:
    """Put lines, some px wide, where a surface turns away from the camera; they follow both when either moves."""
    outline = vtkPolyDataSilhouette()
    outline.SetInputData(poly_data(mesh))
    outline.SetCamera(renderer.GetActiveCamera())
    # Its own edges are no help: a grid's cells leave many.
    outline.SetEnableFeatureAngle(False)
    actor = add_lines(renderer, None, style.INK, width)
    actor.GetMapper().SetInputConnection(outline.GetOutputPort())
    outline.SetProp3D(actor)
    return actor
