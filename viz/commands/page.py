"""page: one or two suspensions in 3D, for a browser."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from viz.app import app
from viz.calls import load, reviewed
from viz.options import Beyond, Output, Quick, SceneFile, SteerSteps, Units, WheelSteps
from viz.terminal import show_written


@app.command(short_help="Write a page that opens on a phone: the suspension in 3D, with sliders.")
def page(
    scene: SceneFile,
    output: Output,
    other: Annotated[
        Path | None,
        typer.Argument(metavar="[OTHER]", help="A second scene to switch to and back.", show_default=False),
    ] = None,
    units: Units = None,
    quick: Quick = False,
    beyond: Beyond = False,
    wheel_steps: WheelSteps = 21,
    steer_steps: SteerSteps = 11,
) -> None:
    """Write one self-contained page (.html): the parts in 3D, sliders for wheels and steering, what is over or close.

    It fetches nothing and opens from a file, a stick or a message. With two scenes a switch shows one or the other in
    the same pose from the same place.
    """
    from viz.files import check_suffix
    from viz.page import write_page

    check_suffix(output, {".html": ""})
    files = (scene,) if other is None else (scene, other)
    reviews = []
    for one in files:
        mechanism, length = load(one, units, output)
        units = units or length
        reviews.append(reviewed(mechanism, wheel_steps, steer_steps, gaps=not quick, beyond=beyond))
    compared = None
    if len(reviews) > 1:
        from model.comparison import compare

        compared = compare(*reviews)
    size = write_page(reviews, output, units=length, files=files, compared=compared)
    show_written(output, f"{', '.join(review.mechanism.title for review in reviews)}; {size / 1e6:.1f} MB")
