"""What one change of pose costs the live window: its own work, and the drawing library's render of the same picture.

Every pose is one that was not shown before, so that nothing painted for an earlier one helps. What is measured is the
processor's time of the window's own thread: the machine may have other work.
"""

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
    """Milliseconds of processor: median and least of a step along a control, median of the first along another one.

    `render` is the median of the clock for a render.
    """

    step: float
    least: float
    other: float
    render: float


def window_cost(scene: Path, steps: int = 60, size: tuple[int, int] = SIZE) -> WindowCost:
    """Move both wheels from one end to the other, then change between controls; the window stands off screen."""
    offscreen.prepare()
    plotter = pv.Plotter(off_screen=True, window_size=list(size), lighting="none")
    light_up(plotter)
    window = Window(plotter, scene, None, read(scene, None))
    try:
        window.draw()
        while window.busy:
            window.tick()
            time.sleep(0.01)
        window.live.to_end(-1.0)
        window.moved()
        window.draw()
        step, render, other = [], [], []
        amounts = window.live.rail.amounts
        for number in np.linspace(1, len(amounts) - 1, min(steps, len(amounts) - 1)).astype(int):
            begun = time.thread_time()
            window.live.move(Cycle.BOTH, float(amounts[number]))
            window.moved()
            window.update()
            step.append(time.thread_time() - begun)
            begun = time.perf_counter()
            plotter.render_window.Render()
            render.append(time.perf_counter() - begun)
        for number in range(10):
            begun = time.thread_time()
            window.live.nudge((Cycle.LEFT, Cycle.RIGHT)[number % 2], -1.0, small=False)
            window.moved()
            window.update()
            other.append(time.thread_time() - begun)
        # The first few fetch code and memory for all that follow.
        median, least = np.median(step[2:]), min(step)
        return WindowCost(*(1e3 * float(t) for t in (median, least, np.median(other), np.median(render))))
    finally:
        window.close()
        plotter.close()


if __name__ == "__main__":
    for name in sys.argv[1:]:
        cost = window_cost(Path(name))
        print(
            f"{Path(name).stem}: {cost.step:.1f} ms a step, {cost.least:.1f} ms at least; {cost.other:.1f} ms another "
            f"control; {cost.render:.0f} ms a render, of which a step is {100.0 * cost.step / cost.render:.0f} %"
        )
