"""loads: the forces at joints, mounts and coilovers in load cases."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from model.errors import CallError
from viz.app import app
from viz.calls import load, pixels
from viz.looking import PLAIN_VIEW
from viz.options import JsonFile, SceneFile, Size, Units, VariantName, View, output_option
from viz.terminal import show_written

Cases = Annotated[
    list[str] | None,
    typer.Option(
        "--case", metavar="NAME", help="Only this load case; may be given again. [default: all]", show_default=False
    ),
]


@app.command(short_help="Forces at joints, mounts and coilovers in load cases.")
def loads(
    scene: SceneFile,
    case: Cases = None,
    json_file: JsonFile = None,
    output: Annotated[
        Path | None,
        output_option("A picture (.png) of one case, as arrows."),
    ] = None,
    view: View = PLAIN_VIEW,
    size: Size = "1600x1000",
    variant: VariantName = None,
    units: Units = None,
) -> None:
    """Work out the force in every link, at every mount and in every coilover, for each load case of the scene.

    A scene without [case] tables is given typical ones. One case alone is told with directions, levers to the frame and
    all joints. Forces are for comparison, not a strength check: a licensed engineer does that.
    """
    from model.forces import all_loads, within_reach
    from model.loadcases import chosen_cases
    from viz.files import check_apart, check_folder, check_suffix, path_text, spare
    from viz.jsonfile import give_json, json_path
    from viz.loadsjson import loads_json
    from viz.loadtables import load_tables
    from viz.printing import print_tables

    if output is not None:
        check_suffix(output, {".png": "a picture"})
    size_in_px, document = pixels(size), json_path(json_file)
    check_apart(document, output)
    mechanism, length = load(scene, units, output, variant)
    if document is not None:
        check_folder(document)
        spare(document, [scene])
    chosen = chosen_cases(mechanism, case or ())
    cases = chosen if case else within_reach(mechanism, chosen)
    if output is not None and len(cases) > 1:
        raise CallError(f"a picture is of one load case and {len(cases)} are chosen; add --case NAME.")
    found = all_loads(mechanism, cases)
    drawn = 0
    if output is not None:
        from viz.loadstill import write_load_still

        drawn = write_load_still(found[0], output, view=view, size=size_in_px, units=length)
    left_out = [one.name for one in chosen if one not in cases]
    if give_json(loads_json(found, path_text(scene), left_out), json_file):
        return
    print_tables(lambda _narrow: load_tables(found, length, left_out))
    if output is not None:
        show_written(output, f"the load case {cases[0].name}, {drawn} forces")
