"""What the window can show beside the parts: a ghost of ride height, a frame of glass, a part's swept space."""

from __future__ import annotations

from typing import Any

import pyvista as pv

from model.triangles import Mesh
from viz import style
from viz.ghost import Ghost, see_through
from viz.stage import Stage
from viz.sweptspace import add_space
from viz.views import Camera


class Extras:
    """They go with one stage in one plotter."""

    def __init__(self, plotter: Any, stage: Stage) -> None:
        """Begin with none."""
        self._renderer = plotter.renderer
        self._plotter, self._stage = plotter, stage
        wheels = [wheel.name for wheel in stage.poses.mechanism.wheels]
        self._ghost = Ghost(plotter.renderer, stage.drawn(), wheels)
        self._space: list[pv.Actor] = []

    def ghost(self, *, on: bool) -> None:
        """Show every part that moves as it stands at ride height."""
        self._ghost.show(on)

    def seen_by(self, camera: Camera, *, glass: bool) -> None:
        """Fit to a camera; with a frame of glass, until the stage is aimed again."""
        self._ghost.stand_back(camera.direction)
        if glass:
            see_through(self._stage.drawn())

    def space(self, mesh: Mesh | None) -> None:
        """Show the space that a part needs, or none."""
        for actor in self._space:
            self._plotter.remove_actor(actor)
            self._renderer.RemoveActor(actor)
        self._space = [] if mesh is None else add_space(self._plotter, mesh, style.SWEPT_SPACE)
