"""What the window can show beside the parts: a ghost of ride height, a frame of glass, a part's swept space."""

from __future__ import annotations

from typing import Any

import pyvista as pv

from model.solids import Material
from model.triangles import Mesh
from viz import style
from viz.stage import Stage
from viz.sweptspace import add_space

# How solid a ghost is and what colour, and how solid a frame that is seen through.
GHOST, GHOST_COLOUR, GLASS = 0.16, (70, 92, 130), 0.22
FIXED = (Material.FRAME, Material.BRACKET)


class Extras:
    """They go with one stage in one plotter."""

    def __init__(self, plotter: Any, stage: Stage) -> None:
        """Begin with none."""
        self._renderer = plotter.renderer
        self._plotter, self._stage = plotter, stage
        self._ghosts: list[pv.Actor] = []
        self._space: list[pv.Actor] = []

    def ghost(self, on: bool) -> None:
        """Show every part that moves as it stands at ride height, where no part is moved at all."""
        if on and not self._ghosts:
            self._ghosts = [self._ghost(actor) for solids, actor in self._stage.drawn() if solids.material not in FIXED]
            for ghost in self._ghosts:
                self._renderer.AddActor(ghost)
        for ghost in self._ghosts:
            ghost.visibility = on

    def glass(self) -> None:
        """See through the frame and its brackets, until the stage is aimed again."""
        for solids, actor in self._stage.drawn():
            if solids.material in FIXED:
                actor.prop.opacity = GLASS

    def space(self, mesh: Mesh | None) -> None:
        """Show the space that a part needs, or none."""
        for actor in self._space:
            self._plotter.remove_actor(actor)
            self._renderer.RemoveActor(actor)
        self._space = [] if mesh is None else add_space(self._plotter, mesh, style.SWEPT_SPACE)

    def _ghost(self, actor: pv.Actor) -> pv.Actor:
        # Not the actor's own mapper: it would take on the ghost's plain shading.
        mapper: Any = pv.DataSetMapper(actor.mapper.dataset)
        mapper.scalar_visibility = False
        ghost = pv.Actor(mapper=mapper)
        ghost.prop.color = style.fraction(GHOST_COLOUR)
        ghost.prop.opacity = GHOST
        ghost.prop.culling = "back"
        return ghost
