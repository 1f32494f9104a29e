"""vehicle: a whole car from its front and its rear."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from viz.app import app
from viz.calls import load
from viz.options import JsonFile, Units, output_option
from viz.terminal import show_written

PICTURES = (".png", ".svg")


@app.command(short_help="Join a front and a rear: how the car rides, leans, dives and squats.")
def vehicle(
    file: Annotated[Path, typer.Argument(metavar="VEHICLE", help="The vehicle file (.toml).", show_default=False)],
    units: Units = None,
    output: Annotated[
        Path | None,
        output_option("A picture (.png) or a drawing (.svg) of the car from the side to write as well."),
    ] = None,
    json_file: JsonFile = None,
) -> None:
    """Join the scenes of a front and a rear to a whole car, at ride height.

    The vehicle file names both scenes and says what belongs to neither: wheelbase, weights, height of the centre of
    gravity, how braking is shared, which wheels drive. See scenes/vehicles.
    """
    from model.errors import SceneError
    from model.vehicle import whole_car
    from model.vehiclefile import read_vehicle
    from viz.files import check_apart, check_folder, check_suffix, is_stream, path_text, spare
    from viz.jsonfile import give_json, json_path
    from viz.printing import print_tables
    from viz.vehiclejson import vehicle_json
    from viz.vehiclewords import vehicle_tables

    record = read_vehicle(file)
    for written in (json_path(json_file), output):
        if written is not None:
            check_folder(written)
            spare(written, [file, Path(record.front), Path(record.rear)])
    check_apart(json_path(json_file), output)
    if output is not None:
        check_suffix(output, dict.fromkeys(PICTURES, ""))
    front, rear = (
        load(Path(scene), None, None, variant)[0]
        for scene, variant in ((record.front, record.front_variant), (record.rear, record.rear_variant))
    )
    try:
        car = whole_car(record, front, rear)
    except SceneError as error:
        raise SceneError([f"{path_text(file)}: {complaint}" for complaint in error.complaints]) from None
    # A stream holds the picture and nothing else.
    streamed = output is not None and is_stream(output)
    if not give_json(vehicle_json(car, path_text(file)), json_file) and not streamed:
        print_tables(lambda _narrow: vehicle_tables(car, units or record.units))
    if output is not None:
        from viz.vehicleplot import write_vehicle_plot

        write_vehicle_plot(car, output, units or record.units)
        show_written(output, "the car from the side")
