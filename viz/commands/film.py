"""film: a run through the travel."""

from __future__ import annotations

from typing import Annotated

import typer

from model.cycles import Cycle
from viz.app import app
from viz.asked import Asked, travel_asked
from viz.calls import load, pixels
from viz.looking import PLAIN_VIEW, gaps_of_each
from viz.options import Bump, Left, Output, Right, Roll, SceneFile, Size, Steer, Units, VariantName, View
from viz.progress import Bar
from viz.terminal import show_written


@app.command(short_help="Film a run through the travel.")
def film(
    scene: SceneFile,
    output: Output,
    variant: VariantName = None,
    cycle: Annotated[Cycle, typer.Option("--cycle", help="Which way to move.")] = Cycle.ALL,
    seconds: Annotated[float, typer.Option("--seconds", help="How long one run takes.", min=0.2, max=120)] = 4.0,
    fps: Annotated[int, typer.Option("--fps", help="Frames a second.", min=1, max=120)] = 25,
    bump: Bump = 0.0,
    roll: Roll = 0.0,
    left: Left = None,
    right: Right = None,
    steer: Steer = 0.0,
    view: View = PLAIN_VIEW,
    size: Size = "1280x720",
    units: Units = None,
) -> None:
    """Film a cycle through the travel (.mp4, .gif or .webp).

    Wheel heights and steering that are asked for are held while the run moves the others: --cycle steer --bump 60 goes
    from lock to lock at bump.
    """
    from model.solver import solve
    from model.travel import cycle as cycle_travel
    from model.travel import run_starts, runs_of
    from viz.encoders import Film, encoder_for
    from viz.words import RUN_WORD

    size_in_px = pixels(size)
    mechanism, length = load(scene, units, output, variant)
    held = travel_asked(Asked(bump, roll, left, right, steer), mechanism, length)
    parts = runs_of(mechanism, cycle)
    frames = max(2, round(seconds * fps * len(parts)))
    encoder_for(output, Film(size_in_px, fps, frames))  # refused before anything is worked out
    posed = solve(mechanism, cycle_travel(mechanism, cycle, frames, held))
    starts = run_starts(len(parts), frames).tolist()
    runs = [(RUN_WORD[part], start) for part, start in zip(parts, starts, strict=False)]
    gaps = gaps_of_each(posed, view) if view.startswith("gap:") else None
    from viz.film import write_film

    with Bar("filming") as bar:
        write_film(posed, output, view=view, size=size_in_px, fps=fps, units=length, progress=bar, gaps=gaps, runs=runs)
    show_written(output, f"{frames} frames, {frames / fps:.1f} s")
