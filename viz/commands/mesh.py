"""mesh: the parts, still or moving, or the space that one sweeps, as a 3D model."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from model.cycles import Cycle
from model.errors import CallError
from viz.app import app
from viz.asked import Asked
from viz.calls import load, pose_words
from viz.looking import one_pose, swept_space
from viz.options import Bump, Left, Output, Right, Roll, SceneFile, Steer, Swept, Units, VariantName, Worst
from viz.terminal import show_written

if TYPE_CHECKING:
    from pathlib import Path

    from model.mechanism import Mechanism
    from model.travel import Travel

MEGABYTE = 1e6


@app.command(short_help="Export the parts in one pose, or moving, as a 3D model.")
def mesh(
    scene: SceneFile,
    output: Output,
    variant: VariantName = None,
    bump: Bump = 0.0,
    roll: Roll = 0.0,
    left: Left = None,
    right: Right = None,
    steer: Steer = 0.0,
    worst: Worst = False,
    cycle: Annotated[
        Cycle | None,
        typer.Option("--cycle", help="Let the parts of a .glb move: one animation for each run.", show_default=False),
    ] = None,
    seconds: Annotated[float, typer.Option("--seconds", help="How long one run takes.", min=0.2, max=120)] = 4.0,
    swept: Swept = None,
    units: Units = None,
) -> None:
    """Export the parts in one pose (.glb, .obj with names; .stl, .ply as one mesh), or with --swept a swept space.

    With --cycle the parts of a .glb move; wheel heights and steering that are asked for are held while a run moves the
    others. A .glb is in metres with y up, as glTF wants it; the other files are in mm with z up.
    """
    if cycle is not None and (worst or swept is not None):
        other = "--worst" if worst else "--swept"
        raise CallError(f"--cycle moves the parts and {other} shows them at rest; leave one of the two out.")
    mechanism, length = load(scene, units, output, variant)
    from viz.mesh import check_format, check_moving, write_mesh, write_swept

    check_format(output)
    if cycle is not None:
        check_moving(output)
    posed = one_pose(mechanism, length, Asked(bump, roll, left, right, steer, worst))
    if cycle is not None:
        words = _write_moving(mechanism, cycle, seconds, posed.travel, output)
    elif swept is not None:
        write_swept(swept_space(mechanism, swept), mechanism.title, swept, output)
        words = f"the space that {swept} needs over the whole travel"
    else:
        write_mesh(posed, output)
        words = pose_words(posed, length)
    show_written(output, words)


def _write_moving(mechanism: Mechanism, cycle: Cycle, seconds: float, held: Travel, output: Path) -> str:
    """Write the parts as they move and say how."""
    import numpy as np

    from model.solver import solve
    from model.travel import cycle as cycle_travel
    from model.travel import runs_of
    from viz.mesh import write_moving
    from viz.motion import SAMPLES
    from viz.progress import Bar
    from viz.words import RUN_WORD

    runs = runs_of(mechanism, cycle)
    travels = [cycle_travel(mechanism, run, SAMPLES, held) for run in runs]
    travel = type(held)(held.names, np.concatenate([each.values for each in travels]))
    with Bar("solving") as bar:
        posed = solve(mechanism, travel, bar)
    names = [RUN_WORD[run] for run in runs]
    write_moving(posed, names, seconds, output)
    return f"{', '.join(names)}, {seconds:g} s each, {output.stat().st_size / MEGABYTE:.1f} MB"
