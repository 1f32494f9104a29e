"""still: one pose as a picture."""

from __future__ import annotations

from typing import Annotated

import typer

from model.errors import CallError
from viz.aids import Aids
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

Case = Annotated[
    str | None,
    typer.Option(
        "--case",
        metavar="NAME",
        help="The forces of this load case as arrows, in its pose; `fulltravel loads` lists the cases.",
        show_default=False,
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
    case: Case = None,
    size: Size = "1600x1000",
    units: Units = None,
) -> None:
    """Draw one pose as a picture (.png), with what is over its limit marked and named."""
    from model.findings import judge

    size_in_px = pixels(size)
    mechanism, length = load(scene, units, output, variant)
    asked = Asked(bump, roll, left, right, steer, worst)
    aids = Aids(ruler, ghost, see_through, section, tuple(measure or ()))
    if case is not None:
        _check_case(asked, aids, swept)
        from model.forces import loads_of
        from model.loadcases import chosen_cases
        from viz.loadstill import write_load_still

        loads = loads_of(mechanism, chosen_cases(mechanism, [case])[0])
        write_load_still(loads, output, view=view, size=size_in_px, units=length, aids=aids)
        show_written(output, pose_words(loads.poses, length))
        return
    posed, view, marks = looked_at(mechanism, length, asked, view)
    space = None if swept is None else (swept, swept_space(mechanism, swept))
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
        aids=aids,
    )
    show_written(output, pose_words(posed, length))


def _check_case(asked: Asked, aids: Aids, swept: str | None) -> None:
    """Refuse what does not go with a load case, which has its own pose and its own marks.

    Raises:
        CallError: a pose, or an aid that would hide the arrows.

    """
    if asked.options or asked.worst:
        raise CallError("--case has its own pose; leave the options of the pose out, or --case.")
    if aids.ruler or aids.section or aids.measure or swept is not None:
        raise CallError(
            "--case draws forces and does not go with --ruler, --section, --measure or --swept; leave them out."
        )
