"""The command line: one short function per command; prints and exit codes, nothing else.

Only typer is imported here: NumPy, PyVista and the rest wait until a command needs them.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from model.cycles import Cycle
from model.errors import CallError, FulltravelError
from model.units import Length
from viz.progress import Bar

if TYPE_CHECKING:
    from model.mechanism import Mechanism
    from model.poses import Poses
    from model.travel import Travel

CLEAR, OVER, WRONG, STOPPED = 0, 1, 2, 130

app = typer.Typer(
    name="fulltravel",
    help="See a suspension move through its whole travel: what binds, what runs out of angle or stroke, and where.",
    epilog="Begin with: fulltravel check scenes/wren_rear.toml",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

SceneFile = Annotated[Path, typer.Argument(metavar="SCENE", help="The scene file (.toml).", show_default=False)]
Output = Annotated[Path, typer.Option("--output", "-o", help="The file to write.", show_default=False)]
Units = Annotated[
    Length | None, typer.Option("--units", help="Units to print. [default: the scene's own]", show_default=False)
]
WheelSteps = Annotated[int, typer.Option("--wheel-steps", help="Heights tried for each wheel, an odd number.")]
SteerSteps = Annotated[
    int, typer.Option("--steer-steps", help="Steering positions tried from lock to lock, an odd number.")
]
Bump = Annotated[float, typer.Option("--bump", help="Both wheels up from ride height (negative: down), in --units.")]
Roll = Annotated[float, typer.Option("--roll", help="Left wheel up and right wheel down by this much, in --units.")]
Left = Annotated[
    float | None, typer.Option("--left", help="Left wheel up from ride height, in --units.", show_default=False)
]
Right = Annotated[
    float | None, typer.Option("--right", help="Right wheel up from ride height, in --units.", show_default=False)
]
Steer = Annotated[float, typer.Option("--steer", help="Steering in percent of lock, positive to the left.")]
Worst = Annotated[bool, typer.Option("--worst", help="The pose of the worst finding, instead of one chosen by hand.")]
View = Annotated[str, typer.Option("--view", help="front, side, top, three-quarter or joint:NAME.")]
Size = Annotated[str, typer.Option("--size", metavar="WIDTHxHEIGHT", help="Size in pixels.")]


@app.command()
def check(
    scene: SceneFile,
    units: Units = None,
    json_file: Annotated[
        str | None,
        typer.Option(
            "--json", metavar="FILE", help="Write the findings as JSON; - for the screen.", show_default=False
        ),
    ] = None,
    wheel_steps: WheelSteps = 21,
    steer_steps: SteerSteps = 11,
) -> None:
    """Cycle through the whole travel and list what is over or close to a limit, worst first.

    Tries every combination of left wheel height, right wheel height and steering.
    Exit code 0: clear. 1: something is over its limit. 2: the scene or the call is wrong.
    """
    import json

    from rich.console import Console

    from model.findings import State, judge
    from viz.files import whole_file
    from viz.report import as_json, table

    mechanism, length = _load(scene, units)
    poses = _solve_grid(mechanism, wheel_steps, steer_steps)
    with Bar("judging") as bar:
        verdict = judge(poses, bar)
    document = json.dumps(as_json(str(scene), mechanism, verdict), ensure_ascii=False, indent=2)
    if json_file == "-":
        typer.echo(document)
    else:
        if json_file is not None:
            with whole_file(Path(json_file)) as temporary:
                temporary.write_text(document + "\n", encoding="utf-8")
        console = Console(highlight=False, width=None if sys.stdout.isatty() else 140)
        console.print(table(mechanism, verdict, length))
    raise typer.Exit(OVER if verdict.state in (State.OVER, State.LOCKED) else CLEAR)


@app.command()
def poses(scene: SceneFile, output: Output, wheel_steps: WheelSteps = 21, steer_steps: SteerSteps = 11) -> None:
    """Write every part's 4x4 transform and every point's position in every pose (.npz or .json).

    A transform takes a ride-height position to the pose; lengths are in mm.
    """
    from viz.posefile import write_poses

    mechanism, _ = _load(scene, None)
    solved = _solve_grid(mechanism, wheel_steps, steer_steps)
    with Bar("writing") as bar:
        write_poses(solved, str(scene), output, bar)
    typer.echo(f"{output}: {len(solved):,} poses")


@app.command()
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
    size: Size = "1600x1000",
    units: Units = None,
) -> None:
    """Draw one pose as a picture (.png), with what is over its limit marked and named."""
    from model.findings import judge
    from viz.still import write_still

    mechanism, length = _load(scene, units)
    posed = _one_pose(mechanism, length, bump, roll, left, right, steer, worst=worst)
    write_still(posed, judge(posed), output, view=view, size=_size(size), units=length)
    typer.echo(f"{output}: {_pose_words(posed, length)}")


@app.command()
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
    from viz.film import write_film

    mechanism, length = _load(scene, units)
    frames = max(2, round(seconds * fps * len(runs_of(mechanism, cycle))))
    posed = solve(mechanism, cycle_travel(mechanism, cycle, frames))
    with Bar("filming") as bar:
        write_film(posed, output, view=view, size=_size(size), fps=fps, units=length, progress=bar)
    typer.echo(f"{output}: {frames} frames, {frames / fps:.1f} s")


@app.command()
def mesh(
    scene: SceneFile,
    output: Output,
    bump: Bump = 0.0,
    roll: Roll = 0.0,
    left: Left = None,
    right: Right = None,
    steer: Steer = 0.0,
    worst: Worst = False,
    units: Units = None,
) -> None:
    """Export the parts in one pose (.glb, .obj with names; .stl, .ply as one mesh).

    A .glb is in metres with y up, as glTF wants it; the others are in mm with z up.
    """
    from viz.mesh import write_mesh

    mechanism, length = _load(scene, units)
    posed = _one_pose(mechanism, length, bump, roll, left, right, steer, worst=worst)
    write_mesh(posed, output)
    typer.echo(f"{output}: {_pose_words(posed, length)}")


@app.command()
def schema() -> None:
    """Print a JSON Schema of the scene file, for editors that check and complete TOML."""
    import json

    from model.scene import Scene

    document = {"$schema": "https://json-schema.org/draft/2020-12/schema"} | Scene.model_json_schema()
    typer.echo(json.dumps(document, indent=2))


def _load(scene: Path, units: Length | None) -> tuple[Mechanism, Length]:
    """Read and assemble a scene; every complaint names the file."""
    from model.assembly import assemble
    from model.errors import SceneError
    from model.reading import read_scene

    record = read_scene(scene)
    try:
        return assemble(record), units or record.units
    except SceneError as error:
        raise SceneError([f"{scene}: {complaint}" for complaint in error.complaints]) from None


def _solve_grid(mechanism: Mechanism, wheel_steps: int, steer_steps: int) -> Poses:
    from model.solver import solve
    from model.travel import grid

    with Bar("solving") as bar:
        return solve(mechanism, grid(mechanism, wheel_steps, steer_steps), bar)


def _one_pose(
    mechanism: Mechanism,
    length: Length,
    bump: float,
    roll: float,
    left: float | None,
    right: float | None,
    steer: float,
    *,
    worst: bool,
) -> Poses:
    """The pose that the options ask for, solved."""
    import numpy as np

    from model.findings import judge
    from model.solver import solve

    by_hand = [
        name
        for name, value in (
            ("--bump", bump),
            ("--roll", roll),
            ("--left", left),
            ("--right", right),
            ("--steer", steer),
        )
        if value
    ]
    if worst:
        if by_hand:
            raise CallError(
                f"--worst chooses the pose itself and does not go with {', '.join(by_hand)}; use one or the other."
            )
        found = judge(grid_poses := _solve_grid(mechanism, 21, 11)).worst
        if found is None:
            raise CallError("this scene has no joint or coilover to judge, so it has no worst pose; leave --worst out.")
        return grid_poses.take(np.array([found.pose]))
    return solve(mechanism, _hand_pose(mechanism, length, bump, roll, left, right, steer))


def _hand_pose(
    mechanism: Mechanism,
    length: Length,
    bump: float,
    roll: float,
    left: float | None,
    right: float | None,
    steer: float,
) -> Travel:
    from model.travel import single

    if (bump or roll) and (left is not None or right is not None):
        raise CallError("--bump and --roll do not go with --left and --right; use one pair or the other.")
    heights = {"left": bump + roll if left is None else left, "right": bump - roll if right is None else right}
    present = {drive.name for drive in mechanism.drives}
    if left is None and right is None:
        heights = {side: height for side, height in heights.items() if side in present}
    return single(mechanism, **{side: height * length.mm for side, height in heights.items()}, steer=steer / 100.0)


def _pose_words(poses: Poses, length: Length) -> str:
    from model.findings import pose_text

    return pose_text(poses.travel.names, tuple(poses.travel.values[0] * poses.reached[0]), length)


def _size(text: str) -> tuple[int, int]:
    width, _, height = text.lower().partition("x")
    if not (width.isdecimal() and height.isdecimal()) or not (64 <= int(width) <= 8192 and 64 <= int(height) <= 8192):
        raise CallError(f'--size is "{text}", expected WIDTHxHEIGHT from 64x64 to 8192x8192, such as 1600x1000.')
    return int(width), int(height)


def main() -> None:
    """Run the command line; every error is a sentence on stderr and an exit code, never a traceback."""
    try:
        app()
    except FulltravelError as error:
        for complaint in error.complaints:
            typer.echo(f"fulltravel: {complaint}", err=True)
        raise SystemExit(WRONG) from None
    except BrokenPipeError:
        # The reader of a pipe, such as `head`, has had enough.
        sys.stderr.close()
        raise SystemExit(CLEAR) from None
    except KeyboardInterrupt:
        typer.echo("fulltravel: stopped; nothing was written.", err=True)
        raise SystemExit(STOPPED) from None
    except MemoryError:
        typer.echo("fulltravel: not enough memory for this many poses; take fewer steps.", err=True)
        raise SystemExit(WRONG) from None
