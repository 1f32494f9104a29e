"""spring: which spring gives a ride frequency or a ride height, and which of a list comes nearest."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from model.errors import CallError
from viz.app import app
from viz.calls import load
from viz.exits import CLEAR, OVER
from viz.options import JsonFile, SceneFile, Units, VariantName

if TYPE_CHECKING:
    from model.springcorners import Corner
    from model.springpick import Fit
    from model.units import Length


@app.command(short_help="Which spring for a ride frequency or height.")
def spring(
    scene: SceneFile,
    frequency: Annotated[
        float | None,
        typer.Option("--frequency", metavar="HZ", help="The ride frequency wanted.", min=0.3, max=10.0),
    ] = None,
    rate: Annotated[
        float | None,
        typer.Option("--rate", metavar="RATE", help="The spring rate wanted, N/mm or lbf/in.", min=1e-3, max=1e5),
    ] = None,
    ride_height: Annotated[
        float,
        typer.Option(
            "--ride-height",
            metavar="HEIGHT",
            help="How much higher than now the vehicle is to stand (negative: lower).",
        ),
    ] = 0.0,
    springs: Annotated[
        Path | None,
        typer.Option("--list", metavar="FILE", help="Springs that can be had (.csv or .toml).", show_default=False),
    ] = None,
    coilover: Annotated[
        str | None,
        typer.Option("--coilover", metavar="NAME", help="Only this coilover.", show_default=False),
    ] = None,
    json_file: JsonFile = None,
    variant: VariantName = None,
    units: Units = None,
) -> None:
    """Work out which spring holds the vehicle where it stands, or higher or lower, with a ride frequency or rate.

    Says its preload, where its seat has to be, the length of the coilover at ride height, the stroke that is left each
    way, and whether its coils touch. Without a frequency or a rate it is the scene's own spring. A list is a .csv with
    the columns name, rate, free_length, solid_length and inside_diameter, or a .toml with [spring.NAME] tables, in the
    units of the scene; a .toml may say units = "mm" or "in" at its top.

    Exit code 0: it fits. 1: it does not, or nothing of the list does. 2: the scene or the call is wrong.
    """
    from model.reading import read_scene
    from model.springcorners import corner_named, corners
    from model.springlist import read_springs
    from model.springpick import fit, nearest
    from viz.files import check_folder, path_text, spare
    from viz.jsonfile import give_json, json_path
    from viz.printing import print_tables
    from viz.springjson import spring_json
    from viz.springtables import spring_tables

    if frequency is not None and rate is not None:
        raise CallError("--frequency and --rate are both given, and one follows from the other; keep one of them.")
    document = json_path(json_file)
    if document is not None:
        check_folder(document)
        spare(document, [scene, *([springs] if springs is not None else [])])
    mechanism, length = load(scene, units, None, variant)
    height = -ride_height * length.mm
    chosen = corner_named(corners(mechanism), coilover)
    for corner in chosen:
        if not corner.heights[0] <= height <= corner.heights[-1]:
            raise CallError(
                f"--ride-height {ride_height:g} is outside the travel of {length.text(-corner.heights[-1])} to "
                f"{length.text(-corner.heights[0])}; choose a height inside it."
            )
    needed = [_needed(corner, frequency, None if rate is None else rate * length.rate, height) for corner in chosen]
    offers = () if springs is None else read_springs(springs, read_scene(scene, variant).units)
    had = [
        nearest([fit(found.corner, offer.name, offer.rate, height, offer) for offer in offers], found.rate)
        for found in needed
        if offers
    ]
    if not give_json(spring_json(path_text(scene), mechanism.title, needed, had), json_file):
        words = _wanted(frequency, rate, ride_height, length)
        print_tables(lambda _narrow: spring_tables(mechanism.title, words, needed, had, length))
    fitting = all(found.fits for found in ([fits[0] for fits in had] if had else needed))
    raise typer.Exit(CLEAR if fitting else OVER)


def _needed(corner: Corner, frequency: float | None, rate: float | None, height: float) -> Fit:
    """The spring that does what is wanted at a corner."""
    from model.springpick import fit, offer_of, rate_for

    if frequency is not None:
        return fit(corner, "wanted", rate_for(corner, frequency, height), height)
    if rate is not None:
        return fit(corner, "wanted", rate, height)
    own = corner.coilover.spring
    if own is None:
        raise CallError(
            f'"{corner.coilover.name}" has no spring in the scene; add --frequency or --rate, or give it one.'
        )
    offer = offer_of(own)
    return fit(corner, offer.name, own.rate, height, offer)


def _wanted(frequency: float | None, rate: float | None, ride_height: float, units: Length) -> str:
    """What was asked for, in words."""
    what = "The scene's own spring"
    if frequency is not None:
        what = f"Wanted: a ride frequency of {frequency:g} Hz"
    elif rate is not None:
        what = f"Wanted: a spring of {units.rate_text(rate * units.rate)}"
    if ride_height == 0.0:
        return f"{what}, at the ride height of the scene."
    return f"{what}, {units.text(abs(ride_height) * units.mm)} {'higher' if ride_height > 0.0 else 'lower'} than now."
