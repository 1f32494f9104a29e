"""curves: what camber, toe, roll centre, wheel rate and the like do over the travel."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from model.cycles import Cycle
from model.errors import CallError
from viz.app import app
from viz.calls import STEER_STEPS, WHEEL_STEPS, load, solve_grid
from viz.options import SceneFile, SteerSteps, Units, VariantName, WheelSteps
from viz.terminal import show_written

if TYPE_CHECKING:
    from collections.abc import Sequence

    from model.curveruns import CurveRun
    from model.mechanism import Mechanism
    from model.poses import Poses
    from model.units import Length
    from viz.curvefiles import Part

TABLES = {".csv": "a table", ".json": "to read, with what each curve is"}
PICTURES = {".png": "a picture", ".svg": "a drawing"}
# mm; from less than any car has to more than any truck has.
SHORTEST, LONGEST = 500.0, 10_000.0


@app.command(short_help="Camber, toe, roll centre, wheel rate and more over the travel.")
def curves(
    scene: SceneFile,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="A table (.csv), .json with what each curve is, or a picture (.png, .svg) to write as well.",
            show_default=False,
        ),
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
    variant: VariantName = None,
    wheel_steps: WheelSteps = WHEEL_STEPS,
    steer_steps: SteerSteps = STEER_STEPS,
    units: Units = None,
) -> None:
    """Measure what the wheels, the axle, the springs and the steering do over the travel.

    Camber, toe and bump steer, caster and steering axis, scrub radius and trail, track and wheelbase, axle side shift
    and steer, pinion angle, roll centre, side view, motion ratios, wheel rates, ride frequency, roll stiffness and
    driveshaft angles. Which way each counts and where it is defined stands beside it in a .json.
    """
    from viz.curvefiles import write_curves
    from viz.files import check_suffix, path_text

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
    if grid:
        parts = [_over_grid(solve_grid(mechanism, wheel_steps, steer_steps), only, base, length)]
    else:
        runs = _over_runs(mechanism, cycle, only, steps, base, length)
        parts = [(run.cycle.value, run.poses, run.curves) for run in runs]
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


def _over_runs(
    mechanism: Mechanism,
    cycle: Cycle | None,
    only: Sequence[str] | None,
    steps: int,
    wheelbase: float | None,
    length: Length,
) -> tuple[CurveRun, ...]:
    """Measure and print the runs of a cycle."""
    from model.curveruns import chosen_runs, curve_runs
    from viz.curvetables import curve_tables
    from viz.curvetext import check_only
    from viz.printing import print_tables

    runs = curve_runs(mechanism, chosen_runs(mechanism, cycle), steps, wheelbase)
    check_only(runs[0].curves, only)
    print_tables(lambda _narrow: curve_tables(mechanism.title, runs, only, length))
    return runs


def _over_grid(poses: Poses, only: Sequence[str] | None, wheelbase: float | None, length: Length) -> Part:
    """Measure and print every pose of a grid."""
    from model.curves import curves as measured
    from viz.curvetables import grid_tables
    from viz.curvetext import check_only
    from viz.printing import print_tables

    found = measured(poses, wheelbase)
    check_only(found, only)
    print_tables(lambda _narrow: grid_tables(poses, found, only, length))
    return "grid", poses, found
