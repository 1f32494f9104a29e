"""page: one or two suspensions in 3D, for a browser."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from viz.app import app
from viz.calls import STEER_STEPS, WHEEL_STEPS, load, reviewed
from viz.chosen import chosen
from viz.options import Beyond, Output, Quick, SceneFile, SteerSteps, Units, VariantNames, WheelSteps
from viz.terminal import show_written


@app.command(short_help="Write a page that opens on a phone: the suspension in 3D, with sliders.")
def page(
    scene: SceneFile,
    output: Output,
    other: Annotated[
        Path | None,
        typer.Argument(metavar="OTHER", help="A second scene to switch to and back.", show_default=False),
    ] = None,
    variant: VariantNames = None,
    units: Units = None,
    quick: Quick = False,
    beyond: Beyond = False,
    wheel_steps: WheelSteps = WHEEL_STEPS,
    steer_steps: SteerSteps = STEER_STEPS,
) -> None:
    """Write one self-contained page (.html): the parts in 3D, sliders for wheels and steering, what is over or close.

    It fetches nothing and opens from a file, a stick or a message. With two scenes, or two variants of one, a switch
    shows one or the other in the same pose from the same place.
    """
    from viz.apart import Apart
    from viz.files import check_suffix
    from viz.page import write_page
    from viz.pagedata import packed
    from viz.pagetext import file_names

    check_suffix(output, {".html": ""})
    shown = chosen(scene, other, variant or ())
    mechanisms = []
    for one in shown:
        mechanism, length = load(one.file, units, output, one.variant)
        units = units or length
        mechanisms.append(mechanism)
    # Packing takes about as long as judging, and needs nothing of it.
    packing = [Apart(partial(packed, mechanism)) for mechanism in mechanisms]
    reviews = [reviewed(mechanism, wheel_steps, steer_steps, gaps=not quick, beyond=beyond) for mechanism in mechanisms]
    compared = None
    if len(reviews) > 1:
        from model.comparison import compare

        compared = compare(*reviews)
    files, waiting = [one.file for one in shown], [each.result for each in packing]
    size = write_page(reviews, output, units=units or length, files=files, compared=compared, packing=waiting)
    # Two of one title are told apart by their files.
    titles = list(dict.fromkeys(review.mechanism.title for review in reviews))
    which = f" ({' and '.join(file_names(files))})" if len(titles) < len(reviews) else ""
    show_written(output, f"{' and '.join(titles)}{which}; {size / 1e6:.1f} MB")
