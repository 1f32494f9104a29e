"""What a film costs: the whole of it, against the drawing library's own renders of the same frames, set the same."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from model.cycles import Cycle
from model.mechanism import Mechanism
from model.solver import solve
from model.travel import cycle
from viz import offscreen
from viz.curve import strip_height
from viz.film import write_film
from viz.labels import Scale
from viz.stage import Stage
from viz.studio import lit_room


class FilmCost(NamedTuple):
    """Seconds for each frame: of the film from its poses to its file, and of the bare renders."""

    film: float
    bare: float


def film_cost(mechanism: Mechanism, frames: int, size: tuple[int, int]) -> FilmCost:
    """Film a run, and render its poses with the stage's own settings and nothing else."""
    poses = solve(mechanism, cycle(mechanism, Cycle.BOTH, frames))
    drawn = size[0], size[1] - Scale.of(size).caption - strip_height(size)
    offscreen.prepare()
    plotter = lit_room(drawn)
    with Stage(poses, drawn, plotter) as stage:
        stage.aim(stage.camera("three-quarter"))
        window = plotter.render_window
        window.Render()
        bare = 0.0
        for number in range(frames):
            stage.show(number)
            begun = time.perf_counter()
            window.Render()
            bare += time.perf_counter() - begun
    with tempfile.TemporaryDirectory() as folder:
        begun = time.perf_counter()
        write_film(poses, Path(folder) / "film.mp4", size=size)
        whole = time.perf_counter() - begun
    return FilmCost(whole / frames, bare / frames)
