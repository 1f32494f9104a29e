"""The loop that a live window runs in: what a hand does, what time does, and a picture where something changed."""

from __future__ import annotations

import time
from pathlib import Path

from model.units import Length
from viz.window import Window
from viz.windowhand import Hand
from viz.windowinput import Inputs, Stop, stoppable
from viz.windowpose import read
from viz.windowscreen import CARD_SAMPLES, REST_SAMPLES, has_card, open_plotter, smooth_edges
from viz.windowwatch import FileWatch

# Seconds that the window sleeps when nothing happens.
NAP = 0.01
# Seconds of rest after which edges are smoothed where a picture takes less than the second.
REST, QUICK = 0.6, 0.3


def show_window(path: Path, units: Length | None, size: tuple[int, int], variant: str | None = None) -> bool:
    """Open a window on a scene file, or a variant of it, until it is closed; false where it was stopped from outside.

    Raises:
        FulltravelError: there is no screen, or the file is wrong to begin with.

    """
    watch = FileWatch(path)
    scene = read(path, units, variant)
    watch.follow(path, *scene.meshes)
    plotter = open_plotter(size, f"fulltravel: {scene.mechanism.title}")
    try:
        with stoppable() as stop:
            window = Window(plotter, path, units, scene, watch, variant)
            try:
                return run(window, stop)
            finally:
                window.close()
    finally:
        plotter.close()


def run(window: Window, stop: Stop) -> bool:
    """Show a window until it is closed; false where it was stopped."""
    inputs, hand = Inputs(window.plotter), Hand(window)
    window.draw()
    card = has_card(window.plotter)
    if card:
        smooth_edges(window.plotter, CARD_SAMPLES)
        window.stale()
    rough, since = False, 0.0
    while not (window.closed or stop.asked):
        for each in inputs.take():
            hand.do(each)
        window.tick()
        if window.dirty:
            window.draw()
            rough, since = not card and window.took < QUICK, time.monotonic()
        elif rough and time.monotonic() - since > REST:
            # On the processor smooth edges take too long for a moving picture: only what rests gets them.
            rough = False
            smooth_edges(window.plotter, REST_SAMPLES)
            window.plotter.render_window.Render()
            smooth_edges(window.plotter, 0)
        else:
            time.sleep(NAP)
    return not stop.asked
