"""curves: what camber, toe, roll centre, wheel rate and the like do over the travel."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from model.cycles import Cycle
from model.errors import CallError
from viz.app import app
from viz.calls import STEER_STEPS, WHEEL_STEPS, load, solve_grid
from viz.options import SceneFile, SteerSteps, Units, VariantName, WheelSteps, output_option
from viz.terminal import show_written

if TYPE_CHECKING:
    from rich.console import RenderableType

    from model.mechanism import Mechanism
    from model.units import Length

TABLES = {".csv": "a table", ".json": "to read, with what each curve is"}
PICTURES = {".png": "a picture", ".svg": "a drawing"}
# mm; from less than any car has to more than any truck has.
SHORTEST, LONGEST = 500.0, 10_000.0


@app.command(short_help="Camber, toe, roll centre, wheel rate and more over the travel.")
def curves(
    scene: SceneFile,
    output: Annotated[
        Path | None,
        output_option("A table (.csv), .json with what each curve is, or a picture (.png, .svg) to write as well."),
    ] = None,
    cycle: Annotated[
        Cycle | None,
        typer.Option(
            "--cycle",
            help="Which way the suspension moves. [default: both wheels together, crossed, and lock to lock]",
            show_default=False,
        ),
    ] = None,
    only: Annotated[
        list[str] | None,
        typer.Option("--only", metavar="NAME", help="Only curves with this in their name; may be given again."),
    ] = None,
    steps: Annotated[
        int, typer.Option("--steps", metavar="COUNT", help="Poses of each run, an odd number.", min=3, max=2001)
    ] = 41,
    grid: Annotated[
        bool,
        typer.Option("--grid", help="Every combination of wheel heights and steering instead: the least and the most."),
    ] = False,
    wheelbase: Annotated[
        float | None,
        typer.Option(
            "--wheelbase",
            metavar="LENGTH",
            help="Distance to the other axle: then also Ackermann and the turning circle.",
            show_default=False,
        ),
    ] = None,
    explain: Annotated[bool, typer.Option("--explain", help="Say in one line what each curve is.")] = False,
    variant: VariantName = None,
    wheel_steps: WheelSteps = WHEEL_STEPS,
    steer_steps: SteerSteps = STEER_STEPS,
    units: Units = None,
) -> None:
    """Measure what the wheels, the axle, the springs and the steering do over the travel.

    Camber, toe and bump steer, caster and steering axis, scrub radius and trail, track and wheelbase, axle side shift
    and steer, pinion angle, roll centre, side view, motion ratios, wheel rates, ride frequency, roll stiffness and
    driveshaft angles. --explain says which way each counts and where it is defined.
    """
    from model.curveruns import CurveRun, chosen_runs, curve_runs
    from model.curves import curves as measured
    from viz.curvefiles import Part, write_curves
    from viz.curvetables import curve_tables, grid_tables
    from viz.curvetext import check_only
    from viz.files import check_suffix, is_stream, path_text
    from viz.printing import print_tables

    if output is not None:
        if grid and output.suffix.lower() in PICTURES:
            raise CallError("a picture follows a cycle and --grid has none; write .csv or .json, or leave --grid out.")
        check_suffix(output, TABLES if grid else TABLES | PICTURES)
    if grid and cycle is not None:
        raise CallError("--grid tries every pose and does not go with --cycle; use one or the other.")
    if steps % 2 == 0:
        raise CallError(
            f"--steps is {steps}, expected an odd number, so that ride height is among them; take {steps + 1}."
        )
    mechanism, length = load(scene, units, output, variant)
    base = _wheelbase(mechanism, wheelbase, length)
    runs: tuple[CurveRun, ...] = ()
    parts: list[Part]
    if grid:
        poses = solve_grid(mechanism, wheel_steps, steer_steps)
        parts = [("grid", poses, measured(poses, base))]
    else:
        runs = curve_runs(mechanism, chosen_runs(mechanism, cycle), steps, base)
        parts = [(run.cycle.value, run.poses, run.curves) for run in runs]
    check_only(parts[0][2], only)

    def tables(narrow: bool) -> RenderableType:
        if grid:
            return grid_tables(*parts[0][1:], only, length, explain=explain)
        return curve_tables(runs, only, length, explain=explain, narrow=narrow)

    # Where the file is a stream, tables would become a part of it.
    if output is None or not is_stream(output):
        print_tables(tables)
    if output is None:
        return
    if output.suffix.lower() in PICTURES:
        from viz.curveplot import write_plot

        write_plot(output, runs, only, length)
    else:
        write_curves(output, path_text(scene), parts, only, base)
    show_written(output, f"{sum(len(poses) for _, poses, _ in parts):,} poses")


def _wheelbase(mechanism: Mechanism, wheelbase: float | None, length: Length) -> float | None:
    """The distance to the other axle in mm.

    Raises:
        CallError: nothing steers, or no vehicle is that long.

    """
    if wheelbase is None:
        return None
    if mechanism.steer is None:
        raise CallError("--wheelbase is for steered wheels and this scene has no steering; leave it out.")
    low, high = (round(limit / length.mm) for limit in (SHORTEST, LONGEST))
    if not SHORTEST <= wheelbase * length.mm <= LONGEST:
        raise CallError(f"--wheelbase is {wheelbase:g} {length}, expected {low} to {high}; check its unit, or --units.")
    return wheelbase * length.mm
