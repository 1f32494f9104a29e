"""What the window can show beside the parts: a ghost of ride height, a frame of glass, a part's swept space."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from model.mechanism import Mechanism
from model.triangles import Mesh
from viz import style
from viz.looking import swept_space
from viz.stage import Stage
from viz.studio import Actor
from viz.sweptspace import add_space
from viz.views import Camera
from viz.windowwatch import Jobs

# Seconds that a note about work that goes on stays at most.
LONG_NOTE = 60.0


class Extras:
    """They go with one stage in one plotter."""

    def __init__(self, plotter: Any, stage: Stage) -> None:
        """Begin with none."""
        self._plotter, self._stage = plotter, stage
        self._space: list[Actor] = []

    def seen_by(self, camera: Camera, *, glass: bool) -> None:
        """Fit to a camera; with a frame of glass, until the stage is aimed again."""
        if self._stage.ghost is not None:
            self._stage.ghost.stand_back(camera.direction)
        if glass:
            self._stage.see_through()

    def space(self, mesh: Mesh | None) -> None:
        """Show the space that a part needs, or none."""
        for actor in self._space:
            self._plotter.renderer.RemoveActor(actor)
        self._space = [] if mesh is None else add_space(self._plotter, mesh, style.SWEPT_SPACE)


class Sweeper:
    """Works out the space that a part needs over the travel, beside the window, since it takes seconds."""

    def __init__(self, jobs: Jobs, tell: Callable[[str, float | None], None], show: Callable[[Mesh], None]) -> None:
        """Know of none; `tell` gets a note and for how long, `show` what was asked for last."""
        self._jobs, self._tell, self._show = jobs, tell, show
        self.known: tuple[str, Mesh] | None = None
        self._wanted = ""

    def forget(self) -> None:
        """The scene is another: what was worked out, or still is, holds no more."""
        self.known, self._wanted = None, ""

    def want(self, mechanism: Mechanism, part: str) -> None:
        """Show the space of a part as soon as it is known."""
        self._wanted = part
        if self.known is not None and self.known[0] == part:
            self._show(self.known[1])
            return
        self._tell(f"Working out the space that {part} needs over the travel …", LONG_NOTE)
        self._jobs.start("sweeping", partial(swept_space, mechanism, part), partial(self._take, part), apart=True)

    def _take(self, part: str, mesh: Mesh) -> None:
        if part == self._wanted:
            self.known = part, mesh
            self._show(mesh)
            self._tell(f"This is the space that {part} needs over the travel.", None)
