"""What one change of pose costs the live window: its own work, and the drawing library's render of the same picture."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pyvista as pv

from model.cycles import Cycle
from viz import offscreen
from viz.studio import light_up
from viz.window import Window
from viz.windowpose import read

SIZE = (1440, 900)


class WindowCost(NamedTuple):
    """Median milliseconds: of a step along a control, of the first step along another one, of a render."""

    step: float
    other: float
    render: float


def window_cost(scene: Path, steps: int = 60, size: tuple[int, int] = SIZE) -> WindowCost:
    """Move both wheels step by step, then change between controls; the window stands off screen."""
    offscreen.prepare()
    plotter = pv.Plotter(off_screen=True, window_size=list(size), lighting="none")
    light_up(plotter)
    window = Window(plotter, scene, None, read(scene, None))
    try:
        window.draw()
        while window.busy:
            window.tick()
            time.sleep(0.01)
        window.draw()
        step, render, other = [], [], []
        for number in range(steps):
            begun = time.perf_counter()
            window.live.nudge(Cycle.BOTH, 1.0 if number % 20 < 10 else -1.0, small=False)
            window.moved()
            window.update()
            step.append(time.perf_counter() - begun)
            begun = time.perf_counter()
            plotter.render_window.Render()
            render.append(time.perf_counter() - begun)
        for number in range(10):
            run = (Cycle.LEFT, Cycle.RIGHT)[number % 2]
            begun = time.perf_counter()
            window.live.nudge(run, 1.0, small=False)
            window.moved()
            window.update()
            other.append(time.perf_counter() - begun)
        return WindowCost(*(1e3 * float(np.median(times)) for times in (step[2:], other, render)))
    finally:
        plotter.close()


if __name__ == "__main__":
    for name in sys.argv[1:]:
        cost = window_cost(Path(name))
        print(f"{name}: {cost.step:.1f} ms a step, {cost.other:.1f} ms another control, {cost.render:.0f} ms a render")
