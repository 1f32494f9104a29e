"""set: which adjuster to turn, which way and how far, for what is wanted at ride height."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from model.errors import CallError, SceneError
from viz.app import app
from viz.calls import STEER_STEPS, WHEEL_STEPS, assembled, reviewed
from viz.exits import CLEAR, OVER
from viz.files import output_path
from viz.options import JsonFile, Quick, SceneFile, SteerSteps, Units, VariantName, WheelSteps
from viz.terminal import show_written


@app.command(name="set", short_help="Which adjuster to turn, and how far, for what you want.")
def set_(
    scene: SceneFile,
    want: Annotated[
        list[str] | None,
        typer.Option(
            "--want",
            metavar='"NAME = VALUE"',
            help='A value at ride height, such as "camber = -0.5" or "left toe = 0.1", in degrees, or in the unit of '
            "length that is printed; may be given again.",
            show_default=False,
        ),
    ] = None,
    only: Annotated[
        list[str] | None,
        typer.Option("--only", metavar="NAME", help="Turn only this adjuster; may be given again.", show_default=False),
    ] = None,
    write: Annotated[
        Path | None,
        typer.Option(
            "--write",
            metavar="FILE",
            help="Write the scene with the new setting in it.",
            parser=output_path,
            show_default=False,
        ),
    ] = None,
    json_file: JsonFile = None,
    quick: Quick = False,
    variant: VariantName = None,
    units: Units = None,
    wheel_steps: WheelSteps = WHEEL_STEPS,
    steer_steps: SteerSteps = STEER_STEPS,
) -> None:
    """Say which adjusters of the scene to turn, which way and how far, to reach what is wanted at ride height.

    Wanted can be: camber, toe, caster, pinion angle, axle shift, axle steer, ride height and whatever else `curves`
    measures, of both wheels or with "left" or "right" before it. A bind check of the new setting follows.

    Exit code 0: reached, and nothing over its limit. 1: not reached, or something is over. 2: the call is wrong.
    """
    from model.adjust import bench_of, setting_for
    from model.adjustwants import parsed
    from model.assembly import assemble
    from model.reading import scene_data, scene_from, scene_text
    from model.rebase import edits, rebuilt
    from model.verdicts import State
    from viz.files import check_apart, check_folder, check_suffix, path_text, spare, whole_file
    from viz.jsonfile import give_json, json_path
    from viz.printing import print_tables
    from viz.scenewriter import edited_text, written_words
    from viz.setjson import set_json
    from viz.settables import Checks, set_tables

    document = json_path(json_file)
    for output in (write, document):
        if output is not None:
            check_folder(output)
            spare(output, [scene])
    check_apart(write, document)
    if write is not None:
        check_suffix(write, {".toml": "a scene"})
    text = scene_text(scene)
    record = scene_from(scene_data(text, scene), scene, variant)
    mechanism, length = assembled(record, scene, write, variant), units or record.units
    bench, start = bench_of(mechanism)
    if not want:
        names = ", ".join(dict.fromkeys(value.what for value in start.measured))
        raise CallError(f'nothing is wanted; add --want "NAME = VALUE", where NAME is one of {names}.')
    wants = parsed(want, start.measured, length.mm)
    setting = setting_for(bench, start, wants, only or ())
    changes = edits(record, setting)
    try:
        after = assemble(rebuilt(record, changes))
    except SceneError as error:
        raise CallError(
            [f"with the new setting the scene would be wrong: {each}" for each in error.complaints]
        ) from None
    new_text = None if write is None else edited_text(text, scene, write, changes, variant)
    checks = Checks(
        *(reviewed(each, wheel_steps, steer_steps, gaps=not quick, beyond=False) for each in (mechanism, after))
    )
    on_screen = give_json(set_json(setting, checks, path_text(scene)), json_file)
    if not on_screen:
        print_tables(lambda _narrow: set_tables(setting, checks, length, mechanism.title))
    if write is not None and new_text is not None:
        with whole_file(write) as temporary:
            temporary.write_bytes(new_text.encode("utf-8"))
        if not on_screen:
            show_written(write, written_words(len(changes), record.variant, variant))
    over = checks.after.verdict.state in (State.OVER, State.LOCKED)
    raise typer.Exit(CLEAR if setting.met and not over else OVER)
