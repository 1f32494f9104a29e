"""Rings and labels in the window at what is over or close in the pose that is shown, and at what is chosen."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from PIL import Image, ImageDraw

from model.spatial import Array
from model.units import Length
from model.verdicts import Finding, State
from viz import style
from viz.labels import Box, Spot
from viz.marks import draw_sign, grouped
from viz.windowoverlay import Overlay
from viz.windowpaint import SMALL, card, width_of
from viz.words import finding_text

# More rings or labels would hide what they are about; the worst come first.
MOST_RINGS, MOST_LABELS = 12, 5
# Radius of a ring in letters, and the room between ring and label.
RING, GAP = 1.15, 0.5


class Marks:
    """The rings and labels of a window."""

    def __init__(self, overlay: Overlay) -> None:
        """Make room for as many as are ever shown."""
        self._rings = [overlay.sprite() for _ in range(MOST_RINGS)]
        self._labels = [overlay.sprite() for _ in range(MOST_LABELS)]
        self.groups: list[tuple[Finding, ...]] = []

    def take(self, findings: Sequence[Finding], chosen: str | None) -> Array:
        """Take in the findings of a pose, worst first; what is chosen comes before all. Returns places (k, 3) in mm."""
        groups = grouped(findings, chosen)
        groups.sort(key=lambda group: group[0].where != chosen)
        self.groups = groups[:MOST_RINGS]
        return np.array([group[0].at for group in self.groups]).reshape(-1, 3)

    def show(self, at: Array, frame: Box, taken: Sequence[Box], text: int, units: Length, *, labels: bool) -> None:
        """Stand rings at places (k, 2) in px of the window, inside a frame; labels keep off what is taken."""
        radius = RING * text
        spots = [(float(x), float(y)) for x, y in at]
        kept = [*taken, *((x - radius, y - radius, x + radius, y + radius) for x, y in spots)]
        left = list(self._labels) if labels else []
        for sprite in (*self._rings, *self._labels):
            sprite.hide()
        for sprite, group, spot in zip(self._rings, self.groups, spots, strict=False):
            if not (frame[0] <= spot[0] < frame[2] and frame[1] <= spot[1] < frame[3]):
                continue
            ring = _ring(text, group[0].state)
            sprite.show(ring, spot[0] - 0.5 * ring.width, spot[1] - 0.5 * ring.height)
            if not left:
                continue
            label = _label(
                text, group[0].state, group[0].where, tuple(finding_text(found, units) for found in group[:3])
            )
            box = _free(spot, radius + GAP * text, label.size, frame, kept)
            if box is not None:
                left.pop(0).show(label, box[0], box[1])
                kept.append(box)


def _free(spot: Spot, away: float, size: tuple[int, int], frame: Box, kept: Sequence[Box]) -> Box | None:
    """A place for a label beside a ring, if one is free."""
    wide, tall = size
    x, y = spot
    for left, top in (
        (x + away, y - 0.5 * tall),
        (x - away - wide, y - 0.5 * tall),
        (x + 0.7 * away, y - away - tall),
        (x + 0.7 * away, y + away),
        (x - 0.7 * away - wide, y - away - tall),
        (x - 0.7 * away - wide, y + away),
    ):
        box = (left, top, left + wide, top + tall)
        if box[0] < frame[0] or box[1] < frame[1] or box[2] > frame[2] or box[3] > frame[3]:
            continue
        if not any(box[0] < b[2] and b[0] < box[2] and box[1] < b[3] and b[1] < box[3] for b in kept):
            return box
    return None


@lru_cache(maxsize=16)
def _ring(text: int, state: State) -> Image.Image:
    """A ring with the sign of its state, drawn finely and scaled down."""
    fine, radius = 4, RING * text
    side = 2 * (round(radius * 1.5) + 2)
    picture = Image.new("RGBA", (fine * side, fine * side), (0, 0, 0, 0))
    draw, middle = ImageDraw.Draw(picture), 0.5 * fine * side
    for size, colour, width in (
        (fine * (radius + 0.09 * text), style.PAPER, fine * 0.36 * text),
        (fine * radius, style.STATES[state].colour, fine * 0.18 * text),
    ):
        draw.ellipse((middle - size, middle - size, middle + size, middle + size), outline=colour, width=round(width))
    place = (middle + 0.85 * fine * radius, middle - 0.85 * fine * radius)
    draw_sign(draw, place, 0.5 * fine * text, state)
    return picture.resize((side, side), Image.Resampling.BOX)


@lru_cache(maxsize=64)
def _label(text: int, state: State, where: str, rows: tuple[str, ...]) -> Image.Image:
    bold, plain = style.font(round(0.94 * text), bold=True), style.font(round(SMALL * text))
    look = style.STATES[state]
    title = f"{look.word}: {where}"
    wide = max(width_of(title, bold) + 1.5 * text, *(width_of(row, plain) for row in rows)) + 1.2 * text
    picture, draw = card((round(wide), round((1.3 * (len(rows) + 1) + 0.5) * text)), text, look.colour)
    draw_sign(draw, (1.1 * text, 0.95 * text), 0.44 * text, state)
    draw.text((2.0 * text, 0.95 * text), title, font=bold, fill=look.colour, anchor="lm")
    for number, row in enumerate(rows, start=1):
        draw.text((0.6 * text, (0.95 + 1.3 * number) * text), row, font=plain, fill=style.INK, anchor="lm")
    return picture
