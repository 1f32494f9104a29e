"""still: one pose as a picture."""

from __future__ import annotations

from typing import Annotated

import typer

from viz.app import app
from viz.asked import Asked
from viz.calls import load, pixels, pose_words
from viz.looking import PLAIN_VIEW, looked_at, swept_space
from viz.options import Bump, Left, Output, Right, Roll, SceneFile, Size, Steer, Swept, Units, VariantName, View, Worst
from viz.terminal import show_written

Ruler = Annotated[bool, typer.Option("--ruler", help="A ruler beside each wheel: how far of its travel it is.")]
Ghost = Annotated[bool, typer.Option("--ghost", help="Show pale where every part stands at ride height.")]
SeeThrough = Annotated[bool, typer.Option("--see-through", help="See through the frame and its brackets.")]
Section = Annotated[
    bool, typer.Option("--section", help="With --view joint:NAME: cut away everything in front of the joint.")
]

Measure = Annotated[
    list[str] | None,
    typer.Option(
        metavar="NAME",
        help="Draw a length: of a link, an arm, a coilover or a shaft by its name, or track. May be given again.",
    ),
]


@app.command(short_help="Draw one pose as a picture.")
def still(
    scene: SceneFile,
    output: Output,
    variant: VariantName = None,
    bump: Bump = 0.0,
    roll: Roll = 0.0,
    left: Left = None,
    right: Right = None,
    steer: Steer = 0.0,
    worst: Worst = False,
    view: View = PLAIN_VIEW,
    swept: Swept = None,
    ruler: Ruler = False,
    ghost: Ghost = False,
    see_through: SeeThrough = False,
    section: Section = False,
    measure: Measure = None,
    size: Size = "1600x1000",
    units: Units = None,
) -> None:
    """Draw one pose as a picture (.png), with what is over its limit marked and named."""
    from model.findings import judge

    size_in_px = pixels(size)
    mechanism, length = load(scene, units, output, variant)
    posed, view, marks = looked_at(mechanism, length, Asked(bump, roll, left, right, steer, worst), view)
    space = None if swept is None else (swept, swept_space(mechanism, swept))
    from viz.aids import Aids
    from viz.still import write_still

    write_still(
        posed,
        judge(posed),
        output,
        view=view,
        size=size_in_px,
        units=length,
        gaps=marks,
        swept=space,
        aids=Aids(ruler, ghost, see_through, section, tuple(measure or ())),
    )
    show_written(output, pose_words(posed, length))
