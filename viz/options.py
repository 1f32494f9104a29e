"""The arguments and options that several commands share, each said once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from model.units import Length
from viz.files import output_path

SceneFile = Annotated[Path, typer.Argument(metavar="SCENE", help="The scene file (.toml).", show_default=False)]
VariantName = Annotated[
    str | None,
    typer.Option(
        "--variant",
        metavar="NAME",
        help="Take the scene with this [variant.NAME] of its file in it.",
        show_default=False,
    ),
]
VariantNames = Annotated[
    list[str] | None,
    typer.Option(
        "--variant",
        metavar="NAME",
        help="Take a scene with this [variant.NAME] of its file in it; give it twice for two, first SCENE's and then "
        'OTHER\'s, or two of the same scene. "as written" is the scene without any.',
        show_default=False,
    ),
]


def output_option(words: str) -> Any:
    """The option -o, with what a command can write in words."""
    return typer.Option("--output", "-o", metavar="FILE", help=words, parser=output_path, show_default=False)


Output = Annotated[Path, output_option("The file to write.")]
Units = Annotated[
    Length | None,
    typer.Option(
        "--units", help="Units to print, and of heights asked for. [default: the scene's own]", show_default=False
    ),
]
WheelSteps = Annotated[
    int, typer.Option("--wheel-steps", metavar="COUNT", help="Heights tried for each wheel, an odd number.")
]
SteerSteps = Annotated[
    int,
    typer.Option("--steer-steps", metavar="COUNT", help="Steering positions tried from lock to lock, an odd number."),
]
Bump = Annotated[
    float,
    typer.Option("--bump", metavar="HEIGHT", help="Both wheels this far above ride height (negative: below)."),
]
Roll = Annotated[
    float, typer.Option("--roll", metavar="HEIGHT", help="Left wheel up and right wheel down by this much.")
]
Left = Annotated[
    float | None,
    typer.Option("--left", metavar="HEIGHT", help="Left wheel this far above ride height.", show_default=False),
]
Right = Annotated[
    float | None,
    typer.Option("--right", metavar="HEIGHT", help="Right wheel this far above ride height.", show_default=False),
]
Steer = Annotated[
    float, typer.Option("--steer", metavar="PERCENT", help="Steering as a share of full lock, positive to the left.")
]
Worst = Annotated[
    bool,
    typer.Option(
        "--worst",
        help="The pose of the worst finding of all, or of the worst of the joint or gap that a close-up looks at.",
    ),
]
View = Annotated[
    str,
    typer.Option(
        "--view",
        metavar="VIEW",
        help="front, rear, side, top, three-quarter, rear-three-quarter, joint:NAME or gap:PART, PART.",
    ),
]
Size = Annotated[str, typer.Option("--size", metavar="WIDTHxHEIGHT", help="Size in pixels.")]
JsonFile = Annotated[
    str | None,
    typer.Option(
        "--json",
        metavar="FILE",
        help="Write everything as JSON as well; - for JSON on the screen instead of the tables.",
        show_default=False,
    ),
]
Quick = Annotated[
    bool,
    typer.Option("--quick", help="Leave out the gaps between parts, which take some seconds to measure."),
]
Beyond = Annotated[
    bool,
    typer.Option("--beyond", help="Judge what lies beyond hard stops too, such as a damper's shortest length."),
]
Swept = Annotated[
    str | None,
    typer.Option(
        "--swept", metavar="PART", help="The space that this part needs over the whole travel.", show_default=False
    ),
]
