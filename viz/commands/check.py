"""check: what is over or close to a limit, worst first."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from viz.app import app
from viz.calls import load, reviewed
from viz.exits import CLEAR, OVER
from viz.options import Beyond, Quick, SceneFile, SteerSteps, Units, VariantName, WheelSteps
from viz.terminal import on_terminal, prints_unicode, show

# A table that is not read on a terminal is read by a program or in a file: there a row stays on its line.
WIDE = 200
# A terminal with fewer columns than this has no room for poses in words.
NARROW = 110


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

    output = None if json_file in (None, "-") else Path(json_file)
    mechanism, length = load(scene, units, output, variant)
    found = reviewed(mechanism, wheel_steps, steer_steps, gaps=not quick, beyond=beyond)
    findings = as_json(path_text(scene), found)
    if json_file == "-":
        # An escaped letter is the same letter in JSON, and can be printed anywhere.
        show(json.dumps(findings, ensure_ascii=not prints_unicode(), indent=2) + "\n")
    else:
        if output is not None:
            with whole_file(output) as temporary:
                temporary.write_text(json.dumps(findings, ensure_ascii=False, indent=2) + "\n", encoding="utf-8")
        page = io.StringIO()
        console = Console(
            file=page, force_terminal=on_terminal(), highlight=False, width=None if on_terminal() else WIDE
        )
        console.print(table(found, length, narrow=console.width < NARROW))
        show("".join(f"{line.rstrip()}\n" for line in page.getvalue().splitlines()))
    raise typer.Exit(OVER if found.verdict.state in (State.OVER, State.LOCKED) else CLEAR)
