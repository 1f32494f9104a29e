"""compare: two suspensions against each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from model.cycles import Cycle
from model.errors import CallError, SceneError
from model.units import Length
from viz.app import app
from viz.asked import Asked, travel_asked
from viz.calls import STEER_STEPS, WHEEL_STEPS, load, pixels, reviewed
from viz.chosen import Chosen, pair_chosen
from viz.looking import PLAIN_VIEW, gaps_of_each
from viz.options import (
    Bump,
    JsonFile,
    Left,
    Right,
    Roll,
    SceneFile,
    Steer,
    SteerSteps,
    Units,
    VariantNames,
    View,
    WheelSteps,
    output_option,
)
from viz.progress import Bar
from viz.terminal import show_written

if TYPE_CHECKING:
    from model.comparison import Comparison
    from model.mechanism import Mechanism
    from model.review import Review
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
    json_file: JsonFile = None,
    output: Annotated[
        Path | None,
        output_option("A picture (.png), a film (.mp4, .gif, .webp) or a page (.html) to write as well."),
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
    from model.travel import common
    from viz.comparejson import comparison_json
    from viz.comparereport import comparison_tables
    from viz.files import check_apart, check_folder, check_suffix, path_text, spare
    from viz.jsonfile import SCREEN, give_json, json_path
    from viz.printing import print_tables

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
    document = json_path(json_file)
    check_apart(document, output)
    pair = pair_chosen(scene, other, variant or ())
    (first, length), (second, _) = (load(one.file, units, output, one.variant) for one in pair)
    if document is not None:
        check_folder(document)
        spare(document, [one.file for one in pair])
    check_apart(output, document)
    shared = common(first, second)  # refused before anything is worked out, where the two cannot move alike
    film = _Run(cycle, seconds, fps) if filmed else None
    if output is not None and output.suffix.lower() != PAGE:
        _check_drawn((first, second), shared, output, asked, view, in_px, length, film)
    found = compared(*(_reviewed(*each, wheel_steps, steer_steps) for each in zip((first, second), pair, strict=True)))
    if not give_json(comparison_json(found, [(path_text(one.file), one.variant) for one in pair]), json_file):
        print_tables(lambda _narrow: comparison_tables(found, [one.name for one in pair], length))
    if output is None:
        return
    # On the screen stands nothing but the JSON that was asked for there.
    tell = show_written if json_file != SCREEN else _nothing
    if output.suffix.lower() == PAGE:
        from viz.page import write_page

        write_page([found.first, found.second], output, units=length, files=[one.file for one in pair], compared=found)
        tell(output, "both in one page, with a switch between them")
        return
    tell(output, _draw(found, [one.name for one in pair], output, asked, view, in_px, length, film))


def _reviewed(mechanism: Mechanism, of: Chosen, wheel_steps: int, steer_steps: int) -> Review:
    """The review of one of the two; a complaint names its file.

    Raises:
        SceneError: there is no pose to judge.

    """
    try:
        return reviewed(mechanism, wheel_steps, steer_steps, gaps=True, beyond=False)
    except SceneError as error:
        raise SceneError([f"{of.name}: {complaint}" for complaint in error.complaints]) from None


def _nothing(_output: Path, _words: str) -> None:
    """Say nothing of what was written."""


@dataclass(frozen=True)
class _Run:
    """How a film moves: which way, how many seconds a run takes, and frames a second."""

    cycle: Cycle
    seconds: float
    fps: int


def _check_drawn(
    mechanisms: tuple[Mechanism, Mechanism],
    shared: Mechanism,
    output: Path,
    asked: Asked,
    view: str,
    size: tuple[int, int],
    units: Length,
    film: _Run | None,
) -> None:
    """Refuse what cannot be drawn or filmed, before anything is worked out.

    Raises:
        CallError, DrawingError: the pose, the size, the view or the film is none that can be.

    """
    from model.solver import solve
    from model.travel import single
    from viz.encoders import Film, encoder_for
    from viz.sidebyside import check_pair_size, check_view

    check_pair_size(size, film=film is not None)
    if film is not None:
        encoder_for(output, Film(size, film.fps, 1))
    held = single(shared) if asked.worst else travel_asked(asked, shared, units)
    posed = [solve(mechanism, held) for mechanism in mechanisms]
    check_view(posed[0], view)
    for each in posed if view.startswith("gap:") else ():
        gaps_of_each(each, view)(0)


def _draw(
    found: Comparison,
    names: Sequence[str],
    output: Path,
    asked: Asked,
    view: str,
    size: tuple[int, int],
    units: Length,
    film: _Run | None,
) -> str:
    """Write a picture of both, or a film; what it is in words."""
    from model.solver import solve
    from model.travel import common, run_starts, runs_of
    from model.travel import cycle as cycle_travel
    from viz.comparewords import FIRST, SECOND
    from viz.words import RUN_WORD

    mechanisms = found.first.mechanism, found.second.mechanism
    shared = common(*mechanisms)
    if asked.worst:
        held, telling = _telling_pose(found, shared)
        view = telling if view == PLAIN_VIEW else view
    else:
        held = travel_asked(asked, shared, units)
    travel, frames = held, 1
    if film is not None:
        parts = runs_of(shared, film.cycle)
        frames = max(2, round(film.seconds * film.fps * len(parts)))
        starts = run_starts(len(parts), frames).tolist()
        travel = cycle_travel(shared, film.cycle, frames, held)
    from viz.sidebyside import Side, film_side_by_side, write_side_by_side

    one, two = (solve(mechanism, travel) for mechanism in mechanisms)
    gaps = [gaps_of_each(posed, view) if view.startswith("gap:") else None for posed in (one, two)]
    sides = Side(FIRST, names[0], one, gaps[0]), Side(SECOND, names[1], two, gaps[1])
    if film is None:
        write_side_by_side(found, sides, output, view=view, size=size, units=units)
        return "both side by side"
    runs = [(RUN_WORD[part], start) for part, start in zip(parts, starts, strict=False)]
    with Bar("filming") as bar:
        film_side_by_side(
            found, sides, output, view=view, size=size, fps=film.fps, units=units, runs=runs, progress=bar
        )
    return f"{frames} frames, {frames / film.fps:.1f} s"


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
