"""Colours, materials, lights and fonts. Every state has a colour, a word and a shape."""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Literal

from PIL import ImageFont

from model.errors import DrawingError
from model.solids import Material
from model.verdicts import State

Colour = tuple[int, int, int]
Font = ImageFont.FreeTypeFont

# Drawing paper: a cool light ground that both dark rubber and bright metal stand out from.
SKY, GROUND = (246, 248, 250), (205, 212, 219)
INK, QUIET_INK, PAPER, LINE = (24, 30, 38), (92, 102, 114), (255, 255, 255), (196, 204, 212)
PAD = (128, 138, 149)
# The ground of a curve.
STRIP = (238, 241, 244)
# A point that is elsewhere in the other of two suspensions.
MOVED = (176, 0, 120)
# Forces as arrows: what members do to the frame, filled; what the ground does to the tyres, hollow.
FORCE, GROUND_FORCE = (190, 0, 84), (24, 30, 38)


class Shape(StrEnum):
    """The sign that says a state without its colour."""

    OCTAGON = "octagon"
    TRIANGLE = "triangle"
    DIAMOND = "diamond"
    DISC = "disc"
    RING = "ring"


@dataclass(frozen=True)
class StateLook:
    """How a state is shown: a colour (told apart by colour-blind people too), its word and its sign."""

    colour: Colour
    word: str
    shape: Shape


STATES = {
    State.LOCKED: StateLook((126, 36, 122), "locked", Shape.OCTAGON),
    State.OVER: StateLook((206, 60, 10), "over", Shape.TRIANGLE),
    State.CLOSE: StateLook((186, 122, 0), "close", Shape.DIAMOND),
    State.CLEAR: StateLook((0, 118, 92), "clear", Shape.DISC),
    State.UNJUDGED: StateLook((96, 106, 118), "no limit", Shape.RING),
}


# Where parts touch.
TOUCH = STATES[State.OVER].colour


@dataclass(frozen=True)
class Finish:
    """A material for physically based shading: sRGB colour, metallic and roughness from 0 to 1."""

    colour: Colour
    metallic: float
    roughness: float
    opacity: float = 1.0


# The space that a part needs over the travel.
SWEPT_SPACE = Finish((64, 150, 214), 0.0, 0.6, 0.3)
# What is measured of a part where less of it is drawn.
MEASURED_SPACE = Finish((228, 222, 206), 0.0, 0.6, 0.35)
FINISHES = {
    Material.FRAME: Finish((112, 119, 128), 0.0, 0.5),
    Material.BRACKET: Finish((118, 125, 134), 0.3, 0.5),
    Material.LINK: Finish((24, 88, 158), 0.1, 0.36),
    Material.ARM: Finish((12, 100, 104), 0.1, 0.36),
    Material.AXLE: Finish((42, 47, 54), 0.2, 0.4),
    Material.CAST: Finish((140, 144, 148), 0.55, 0.48),
    Material.STEERING: Finish((88, 74, 150), 0.1, 0.38),
    Material.FASTENER: Finish((190, 188, 178), 0.75, 0.36),
    Material.BALL: Finish((214, 218, 222), 0.9, 0.2),
    Material.RUBBER: Finish((20, 21, 23), 0.0, 0.7),
    Material.MARK: Finish((246, 246, 240), 0.0, 0.55),
    Material.DARK_MARK: Finish((22, 24, 28), 0.0, 0.55),
    Material.HOSE: Finish((34, 36, 40), 0.0, 0.5),
    Material.BAR: Finish((136, 52, 34), 0.1, 0.38),
    Material.SHAFT: Finish((84, 90, 98), 0.4, 0.38),
    Material.POLY: Finish((214, 178, 66), 0.0, 0.45),
    Material.BRONZE: Finish((176, 130, 72), 0.8, 0.4),
    Material.DAMPER: Finish((58, 62, 70), 0.45, 0.35),
    Material.SPRING: Finish((228, 222, 206), 0.1, 0.35),
    Material.TYRE: Finish((12, 13, 14), 0.0, 0.85),
    Material.RIM: Finish((160, 165, 172), 0.65, 0.36),
    Material.CALIPER: Finish((168, 58, 48), 0.2, 0.4),
    Material.WEBBING: Finish((72, 82, 54), 0.0, 0.8),
}


@dataclass(frozen=True)
class Trace:
    """A line of a plot: told apart by its dashes and by the sign at ride height too."""

    colour: Colour
    dash: Literal["-", "--", ":", "-."]
    sign: str


TRACES = (
    Trace((24, 88, 158), "-", "o"),
    Trace((200, 82, 0), "--", "s"),
    Trace((0, 118, 92), ":", "D"),
    Trace((126, 36, 122), "-.", "^"),
)


# Rubber by its wind-up's share of the limit: black where slack, amber where close, red where over.
_WOUND = ((0.0, (30, 32, 36)), (0.45, (92, 74, 40)), (0.9, (196, 132, 10)), (1.0, (214, 84, 16)), (1.5, (206, 40, 10)))


def wound_colour(share: float) -> Colour:
    """The colour of rubber that is wound to a share of its limit."""
    for (low, dark), (high, light) in pairwise(_WOUND):
        if share <= high:
            part = (share - low) / (high - low)
            red, green, blue = (round(a + part * (b - a)) for a, b in zip(dark, light, strict=True))
            return red, green, blue
    return _WOUND[-1][1]


@dataclass(frozen=True)
class Lamp:
    """A distant light: the direction (3,) it comes from as the camera sees it (right, up, towards); how strong."""

    direction: tuple[float, float, float]
    strength: float
    colour: Colour


# A large key over the left shoulder, a cool fill from the right, a rim light from behind that edges dark parts.
LAMPS = (
    Lamp((-0.6, 0.9, 0.8), 0.85, (255, 250, 242)),
    Lamp((0.95, 0.25, 0.55), 0.2, (228, 238, 255)),
    Lamp((0.25, 0.75, -0.9), 0.6, (255, 255, 255)),
)


def fraction(colour: Colour) -> tuple[float, float, float]:
    """A colour as three numbers from 0 to 1."""
    return colour[0] / 255.0, colour[1] / 255.0, colour[2] / 255.0


@cache
def font(size: int, bold: bool = False) -> Font:
    """A font for any European name, from matplotlib's data folder."""
    return ImageFont.truetype(str(_font_folder() / f"DejaVuSans{'-Bold' * bold}.ttf"), size)


@cache
def _font_folder() -> Path:
    found = importlib.util.find_spec("matplotlib")
    folder = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf" if found and found.origin else Path()
    if not (folder / "DejaVuSans.ttf").is_file():
        raise DrawingError("The font DejaVu Sans that comes with matplotlib is missing; install matplotlib again.")
    return folder
