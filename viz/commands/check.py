"""check: what is over or close to a limit, worst first."""

from __future__ import annotations

from typing import Annotated

import typer

from viz.app import app
from viz.calls import STEER_STEPS, WHEEL_STEPS, load, reviewed
from viz.exits import CLEAR, OVER
from viz.options import Beyond, Quick, SceneFile, SteerSteps, Units, VariantName, WheelSteps
from viz.terminal import show

# The last line of the table, for who meets these words for the first time.
WORDS = "What these words mean: docs/outputs.md#words\n"


@app.command(short_help="List what binds or runs out, worst first.")
def check(
    scene: SceneFile,
    variant: VariantName = None,
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
    quick: Quick = False,
    beyond: Beyond = False,
    wheel_steps: WheelSteps = WHEEL_STEPS,
    steer_steps: SteerSteps = STEER_STEPS,
) -> None:
    """Cycle through the whole travel and list what is over or close to a limit, worst first.

    Tries every combination of left wheel height, right wheel height and steering.

    Exit code 0: clear. 1: something is over its limit. 2: the scene or the call is wrong.
    """
    from model.verdicts import State
    from viz.files import path_text
    from viz.jsonfile import give_json, json_path
    from viz.printing import print_tables
    from viz.report import as_json, table

    mechanism, length = load(scene, units, json_path(json_file), variant)
    found = reviewed(mechanism, wheel_steps, steer_steps, gaps=not quick, beyond=beyond)
    if not give_json(as_json(path_text(scene), found), json_file):
        print_tables(lambda narrow: table(found, length, narrow=narrow))
        show(f"\n{WORDS}")
    raise typer.Exit(OVER if found.verdict.state in (State.OVER, State.LOCKED) else CLEAR)
