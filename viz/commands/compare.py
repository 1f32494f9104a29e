"""compare: two suspensions against each other."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from model.cycles import Cycle
from model.errors import CallError
from viz.app import app
from viz.asked import Asked, travel_asked
from viz.calls import STEER_STEPS, WHEEL_STEPS, load, pixels, reviewed
from viz.chosen import pair_chosen
from viz.looking import PLAIN_VIEW, gaps_of_each
from viz.options import Bump, Left, Right, Roll, SceneFile, Steer, SteerSteps, Units, VariantNames, View, WheelSteps
from viz.progress import Bar
from viz.terminal import show_written

if TYPE_CHECKING:
    from model.comparison import Comparison
    from model.mechanism import Mechanism
    from model.travel import Travel

PICTURE, FILMS, PAGE = ".png", (".mp4", ".gif", ".webp"), ".html"
PICTURE_SIZE, FILM_SIZE = "1600x1000", "1280x720"


@app.command(short_help="Compare two suspensions, or two places for a mount.")
def compare(
    scene: SceneFile,
    other: Annotated[
        Path | None,
        typer.Argument(
            metavar="OTHER", help="The scene to compare it with; or compare variants of one.", show_default=False
        ),
    ] = None,
    variant: VariantNames = None,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="A picture (.png), a film (.mp4, .gif, .webp) or a page (.html) to write as well.",
            show_default=False,
        ),
    ] = None,
    bump: Bump = 0.0,
    roll: Roll = 0.0,
    left: Left = None,
    right: Right = None,
    steer: Steer = 0.0,
    worst: Annotated[bool, typer.Option("--worst", help="A picture of the worst pose of what changes most.")] = False,
    view: View = PLAIN_VIEW,
    cycle: Annotated[Cycle, typer.Option("--cycle", help="Which way a film moves.")] = Cycle.ALL,
    seconds: Annotated[
        float, typer.Option("--seconds", help="How long one run of a film takes.", min=0.2, max=120)
    ] = 4.0,
    fps: Annotated[int, typer.Option("--fps", help="Frames a second of a film.", min=1, max=120)] = 25,
    size: Annotated[
        str | None,
        typer.Option(
            "--size",
            metavar="WIDTHxHEIGHT",
            help=f"Size in pixels. [default: {PICTURE_SIZE}, a film {FILM_SIZE}]",
            show_default=False,
        ),
    ] = None,
    wheel_steps: WheelSteps = WHEEL_STEPS,
    steer_steps: SteerSteps = STEER_STEPS,
    units: Units = None,
) -> None:
    """Compare two suspensions: which points moved, what that changes, and which of the two is better off.

    Write what is different into the scene under [variant.NAME], or into a copy of it, and compare the two: `compare
    SCENE OTHER`, or `compare SCENE --variant NAME` against the scene as written, or `--variant` twice. With -o also a
    picture or a film of both side by side, in the same pose and seen from the same place, or a page to switch between
    them.
    """
    from model.comparison import compare as compared
    from model.solver import solve
    from model.travel import common, run_starts, runs_of
    from model.travel import cycle as cycle_travel
    from viz.comparereport import comparison_tables
    from viz.comparewords import FIRST, SECOND
    from viz.files import check_suffix
    from viz.printing import print_tables
    from viz.words import RUN_WORD

    asked = Asked(bump, roll, left, right, steer, worst)
    asked.check()
    if output is None and (asked.options or worst or size is not None):
        raise CallError("a pose and a size are of the picture, and none is written; add -o FILE or leave them out.")
    filmed = output is not None and output.suffix.lower() in FILMS
    if filmed and worst:
        raise CallError("--worst is one pose and a film runs through many; write a picture, or leave --worst out.")
    in_px = pixels(size or (FILM_SIZE if filmed else PICTURE_SIZE))
    if output is not None:
        check_suffix(output, dict.fromkeys((PICTURE, *FILMS, PAGE), ""))
    pair = pair_chosen(scene, other, variant or ())
    (first, length), (second, _) = (load(one.file, units, output, one.variant) for one in pair)
    names = [one.name for one in pair]
    shared = common(first, second)
    found = compared(*(reviewed(each, wheel_steps, steer_steps, gaps=True, beyond=False) for each in (first, second)))
    print_tables(lambda _narrow: comparison_tables(found, names, length))
    if output is None:
        return
    if output.suffix.lower() == PAGE:
        from viz.page import write_page

        write_page([found.first, found.second], output, units=length, files=[one.file for one in pair], compared=found)
        show_written(output, "both in one page, with a switch between them")
        return
    held = travel_asked(asked, shared, length) if not worst else None
    if held is None:
        held, telling = _telling_pose(found, shared)
        view = telling if view == PLAIN_VIEW else view
    parts = runs_of(shared, cycle)
    frames = max(2, round(seconds * fps * len(parts)))
    starts = run_starts(len(parts), frames).tolist()
    travel = cycle_travel(shared, cycle, frames, held) if filmed else held
    from viz.sidebyside import Side, film_side_by_side, write_side_by_side

    one, two = (solve(mechanism, travel) for mechanism in (first, second))
    gaps = [gaps_of_each(posed, view) if view.startswith("gap:") else None for posed in (one, two)]
    sides = Side(FIRST, names[0], one, gaps[0]), Side(SECOND, names[1], two, gaps[1])
    if filmed:
        runs = [(RUN_WORD[part], start) for part, start in zip(parts, starts, strict=False)]
        with Bar("filming") as bar:
            film_side_by_side(
                found, sides, output, view=view, size=in_px, fps=fps, units=length, runs=runs, progress=bar
            )
        show_written(output, f"{frames} frames, {frames / fps:.1f} s")
    else:
        write_side_by_side(found, sides, output, view=view, size=in_px, units=length)
        show_written(output, "both side by side")


def _telling_pose(found: Comparison, shared: Mechanism) -> tuple[Travel, str]:
    """The pose, inside the travel that both have, in which what changes most is worst in either, and what to look at.

    Raises:
        CallError: nothing that has a worst pose changes.

    """
    import numpy as np

    from model.measures import GAP
    from model.travel import Travel
    from viz.gaps import BETWEEN

    worst = next((worse for change in found.changes if (worse := change.worse) is not None), None)
    if worst is None:
        raise CallError("nothing that is judged changes between the two, so there is no worst pose; leave --worst out.")
    low, high = np.array([[drive.low, drive.high] for drive in shared.drives]).T
    one, _, other = worst.where.partition(BETWEEN)
    view = f"gap:{one}, {other}" if worst.what == GAP else PLAIN_VIEW
    return Travel(tuple(drive.name for drive in shared.drives), np.clip([worst.drives], low, high)), view
