"""view: a live window on the scene."""

from __future__ import annotations

from typing import Annotated

import typer

from viz.app import app
from viz.calls import pixels
from viz.exits import STOPPED
from viz.options import SceneFile, Units, VariantName


@app.command(short_help="Open a live window that follows the scene file.")
def view(
    scene: SceneFile,
    variant: VariantName = None,
    size: Annotated[str, typer.Option("--size", metavar="WIDTHxHEIGHT", help="Size to open at.")] = "1440x900",
    units: Units = None,
) -> None:
    """Open a live window: move wheels and steering, see every finding at that pose, and edit the file meanwhile.

    Press h in the window for its keys.
    """
    from viz.windowscreen import check_screen

    size_in_px = pixels(size)
    check_screen()
    from viz.still import check_size
    from viz.windowloop import show_window

    check_size(size_in_px)
    if not show_window(scene, units, size_in_px, variant):
        # Stopped from outside; pictures may have been written, so that nothing is said of it.
        raise SystemExit(STOPPED)
