"""A small picture of the whole in a corner of a close-up, with a ring where the close-up is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from model.spatial import Array
from viz import style
from viz.gaps import GapMark
from viz.labels import Box, Scale
from viz.marks import draw_place
from viz.stage import Stage

# Its width as a share of the picture's.
SHARE = 0.24


def locator(stage: Stage, mark: GapMark) -> Image.Image:
    """The whole as it stands, seen from the side of the gap, with a ring at the gap. The stage is left aimed so."""
    middle = mark.at.mean(axis=0)
    stage.aim(stage.overview(bool(middle[1] < 0.0)))
    picture = stage.picture()
    small = picture.resize((round(SHARE * picture.width), round(SHARE * picture.height)), Image.Resampling.LANCZOS)
    x, y = stage.project(middle[None])[0] * SHARE
    draw_place(small, (float(x), float(y)), mark.state)
    return small


def paste_locator(picture: Image.Image, small: Image.Image, busy: NDArray[np.bool_], ends: Sequence[Array]) -> Box:
    """Put the small picture into the corner that is emptiest and off the points (2, 2) in px; the room it takes."""
    edge = round(1.5 * Scale.of(picture.size).gap)
    wide, tall = small.size
    corners = [
        (left, top) for left in (edge, picture.width - wide - edge) for top in (edge, picture.height - tall - edge)
    ]

    def cost(corner: tuple[int, int]) -> float:
        left, top = corner
        hidden = float(busy[top : top + tall, left : left + wide].mean())
        near = [
            float(np.hypot(*(np.clip(point, (left, top), (left + wide, top + tall)) - point))) / picture.width
            for both in ends
            for point in both
        ]
        return hidden + (10.0 if min(near, default=1.0) < 0.05 else 0.0)

    left, top = min(corners, key=cost)
    picture.paste(small, (left, top))
    box = (left, top, left + wide, top + tall)
    ImageDraw.Draw(picture).rectangle(box, outline=style.QUIET_INK, width=max(1, Scale.of(picture.size).line // 2))
    gap = Scale.of(picture.size).gap
    return left - gap, top - gap, left + wide + gap, top + tall + gap
