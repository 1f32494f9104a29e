"""The command line: one short function per command; prints and exit codes, nothing else.

Only typer is imported here: NumPy, PyVista and the rest wait until a command needs them.
"""

from __future__ import annotations

import os
import signal
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from model.cycles import Cycle
from model.errors import FulltravelError
from viz.calls import gap_looked_at, load, one_pose, pixels, pose_words, reviewed, solve_grid, swept_space
from viz.options import (
    Beyond,
    Bump,
    Gaps,
    Left,
    Output,
    Right,
    Roll,
    SceneFile,
    Size,
    Steer,
    SteerSteps,
    Swept,
    Units,
    View,
    WheelSteps,
    Worst,
)
from viz.progress import Bar
from viz.terminal import complain, on_terminal, print_anything, prints_unicode, show

if TYPE_CHECKING:
    pass

CLEAR, OVER, WRONG, STOPPED = 0, 1, 2, 130
# A table that is not read on a terminal is read by a program or in a file: there a row stays on its line.
WIDE = 200
# A terminal with fewer columns than this has no room for poses in words.
NARROW = 110

app = typer.Typer(
    name="fulltravel",
    help="See a suspension move through its whole travel: what binds, what runs out of angle or stroke, and where.",
    epilog="Begin with: fulltravel check scenes/wren_rear.toml",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _print_version(asked: bool) -> None:
    if asked:
        from importlib.metadata import version

        show(f"fulltravel {version('fulltravel')}\n")
        raise typer.Exit


@app.callback()
def _before_every_command(
    _version: Annotated[
        bool, typer.Option("--version", help="Print the version and stop.", is_eager=True, callback=_print_version)
    ] = False,
) -> None:
    pass


@app.command(short_help="List what binds or runs out, worst first.")
def check(
    scene: SceneFile,
    units: Units = None,
    json_file: Annotated[
        str | None,
        typer.Option(
            "--json",
            metavar="FILE",
            help="Write the findings as JSON as well; - for JSON on the screen instead of the table.",
            show_default=False,
        ),
    ] = None,
    gaps: Gaps = False,
    beyond: Beyond = False,
    wheel_steps: WheelSteps = 21,
    steer_steps: SteerSteps = 11,
) -> None:
    """Cycle through the whole travel and list what is over or close to a limit, worst first.

    Tries every combination of left wheel height, right wheel height and steering.

    Exit code 0: clear. 1: something is over its limit. 2: the scene or the call is wrong.
    """
    import io
    import json

    from rich.console import Console

    from model.verdicts import State
    from viz.files import path_text, whole_file
    from viz.report import as_json, table

    mechanism, length = load(scene, units)
    found = reviewed(mechanism, wheel_steps, steer_steps, gaps=gaps, beyond=beyond)
    findings = as_json(path_text(scene), found)
    if json_file == "-":
        # An escaped letter is the same letter in JSON, and can be printed anywhere.
        show(json.dumps(findings, ensure_ascii=not prints_unicode(), indent=2) + "\n")
    else:
        if json_file is not None:
            with whole_file(Path(json_file)) as temporary:
                temporary.write_text(json.dumps(findings, ensure_ascii=False, indent=2) + "\n", encoding="utf-8")
        page = io.StringIO()
        console = Console(
            file=page, force_terminal=on_terminal(), highlight=False, width=None if on_terminal() else WIDE
        )
        console.print(table(found, length, narrow=console.width < NARROW))
        show("".join(f"{line.rstrip()}\n" for line in page.getvalue().splitlines()))
    raise typer.Exit(OVER if found.verdict.state in (State.OVER, State.LOCKED) else CLEAR)


@app.command(short_help="Write the sheet to hold under the car.")
def sheet(
    scene: SceneFile,
    output: Output,
    units: Units = None,
    gaps: Gaps = False,
    wheel_steps: WheelSteps = 21,
    steer_steps: SteerSteps = 11,
) -> None:
    """Write the sheet to hold under the car before final torque (.html): print it on A4 or Letter.

    What to set at ride height, every joint with its fastener, angle, range and limit, the torque as your scene gives
    it, and boxes to tick.
    """
    from viz.files import check_suffix, path_text
    from viz.sheet import write_sheet

    check_suffix(output, {".html": ""})
    mechanism, length = load(scene, units)
    found = reviewed(mechanism, wheel_steps, steer_steps, gaps=gaps, beyond=False)
    write_sheet(found, path_text(scene), output, units=length)
    show(f"{path_text(output)}: {len(found.verdict.findings)} findings\n")


@app.command(short_help="Write where every part and point is in every pose.")
def poses(scene: SceneFile, output: Output, wheel_steps: WheelSteps = 21, steer_steps: SteerSteps = 11) -> None:
    """Write every part's 4x4 transform and every point's position in every pose (.npz or .json).

    A transform takes a ride-height position to the pose; lengths are in mm.
    """
    from viz.files import check_suffix, path_text
    from viz.posefile import FORMATS, write_poses

    check_suffix(output, FORMATS)
    mechanism, _ = load(scene, None)
    solved = solve_grid(mechanism, wheel_steps, steer_steps)
    with Bar("writing") as bar:
        write_poses(solved, path_text(scene), output, bar)
    show(f"{path_text(output)}: {len(solved):,} poses\n")


@app.command(short_help="Draw one pose as a picture.")
def still(
    scene: SceneFile,
    output: Output,
    bump: Bump = 0.0,
    roll: Roll = 0.0,
    left: Left = None,
    right: Right = None,
    steer: Steer = 0.0,
    worst: Worst = False,
    view: View = "three-quarter",
    swept: Swept = None,
    size: Size = "1600x1000",
    units: Units = None,
) -> None:
    """Draw one pose as a picture (.png), with what is over its limit marked and named."""
    from model.findings import judge
    from viz.files import path_text

    size_in_px = pixels(size)
    mechanism, length = load(scene, units)
    of_gap = view.startswith("gap:")
    posed = one_pose(mechanism, length, bump, roll, left, right, steer, worst=worst and not of_gap, view=view)
    posed, marks = gap_looked_at(mechanism, view, posed, worst=worst) if of_gap else (posed, [])
    space = None if swept is None else (swept, swept_space(mechanism, swept))
    from viz.still import write_still

    write_still(posed, judge(posed), output, view=view, size=size_in_px, units=length, gaps=marks, swept=space)
    show(f"{path_text(output)}: {pose_words(posed, length)}\n")


@app.command(short_help="Film a run through the travel.")
def film(
    scene: SceneFile,
    output: Output,
    cycle: Annotated[Cycle, typer.Option("--cycle", help="Which way to move.")] = Cycle.ALL,
    seconds: Annotated[float, typer.Option("--seconds", help="How long one run takes.", min=0.2, max=120)] = 4.0,
    fps: Annotated[int, typer.Option("--fps", help="Frames a second.", min=1, max=120)] = 25,
    view: View = "three-quarter",
    size: Size = "1280x720",
    units: Units = None,
) -> None:
    """Film a cycle through the travel (.mp4, .gif or .webp)."""
    from model.solver import solve
    from model.travel import cycle as cycle_travel
    from model.travel import runs_of
    from viz.files import path_text

    size_in_px = pixels(size)
    mechanism, length = load(scene, units)
    frames = max(2, round(seconds * fps * len(runs_of(mechanism, cycle))))
    posed = solve(mechanism, cycle_travel(mechanism, cycle, frames))
    from viz.film import write_film

    with Bar("filming") as bar:
        write_film(posed, output, view=view, size=size_in_px, fps=fps, units=length, progress=bar)
    show(f"{path_text(output)}: {frames} frames, {frames / fps:.1f} s\n")


@app.command(short_help="Export the parts in one pose as a 3D model.")
def mesh(
    scene: SceneFile,
    output: Output,
    bump: Bump = 0.0,
    roll: Roll = 0.0,
    left: Left = None,
    right: Right = None,
    steer: Steer = 0.0,
    worst: Worst = False,
    swept: Swept = None,
    units: Units = None,
) -> None:
    """Export the parts in one pose (.glb, .obj with names; .stl, .ply as one mesh), or with --swept a swept space.

    A .glb is in metres with y up, as glTF wants it; the others are in mm with z up.
    """
    from viz.files import path_text

    mechanism, length = load(scene, units)
    posed = one_pose(mechanism, length, bump, roll, left, right, steer, worst=worst)
    from viz.mesh import check_format, write_mesh, write_swept

    if swept is not None:
        check_format(output)
        write_swept(swept_space(mechanism, swept), mechanism.title, swept, output)
        show(f"{path_text(output)}: the space that {swept} needs over the whole travel\n")
        return
    write_mesh(posed, output)
    show(f"{path_text(output)}: {pose_words(posed, length)}\n")


@app.command(short_help="Print a JSON Schema of the scene file, for editors.")
def schema() -> None:
    """Print a JSON Schema of the scene file, for editors that check and complete TOML."""
    import json

    from model.scene import Scene

    document = {"$schema": "https://json-schema.org/draft/2020-12/schema"} | Scene.model_json_schema()
    show(json.dumps(document, indent=2) + "\n")


# What the option parser says, in plainer words.
_PLAINER = {
    "Value error, ": "",
    "Input should be a valid integer, unable to parse string as an integer": "expected a whole number",
    "Input should be a valid number, unable to parse string as a number": "expected a number",
    "Input should be": "expected a number",
    ". Did you mean": "; did you mean",
    "\n": " ",
}


def _usage_sentence(error: Any) -> str:
    """What is wrong with a call, from the option parser's own exception."""
    message = str(error.format_message())
    for theirs, ours in _PLAINER.items():
        message = message.replace(theirs, ours)
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else "fulltravel"
    return f"{message[:1].lower()}{message[1:].rstrip('.?')}; see {command} --help."


def _surprise(error: Exception) -> int:
    """What no other room foresaw: one sentence all the same, and the traceback for whoever asks for it."""
    if os.environ.get("FULLTRAVEL_TRACEBACK"):
        raise error
    complain(
        f"this is a fault of the program itself ({type(error).__name__}: {error}); report it with the scene file and "
        "what FULLTRAVEL_TRACEBACK=1 prints before the command."
    )
    return WRONG


def main() -> None:
    """Run the command line; every error is a sentence on stderr and an exit code, never a traceback."""
    print_anything()
    # A stop from outside, such as `timeout`, tidies up like Ctrl-C.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    raise SystemExit(_run())


def _run() -> int:
    try:
        code = app(prog_name="fulltravel", standalone_mode=False)
    except FulltravelError as error:
        for complaint in error.complaints:
            complain(complaint)
        return WRONG
    except (KeyboardInterrupt, typer.Abort):
        code = STOPPED
    except MemoryError:
        complain("not enough memory for this many poses; take fewer steps.")
        return WRONG
    except Exception as error:
        # Typer's own exceptions share no public class across its versions, only this method.
        if not hasattr(error, "format_message"):
            return _surprise(error)
        if type(error).__name__ == "NoArgsIsHelpError":
            show(error.format_message() + "\n")
        else:
            complain(_usage_sentence(error))
        return WRONG
    if code == STOPPED:
        complain("stopped; nothing was written.")
    return code or CLEAR
