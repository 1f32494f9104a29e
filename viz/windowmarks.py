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
from viz.gaps import GapMark, draw_dimension, gap_lines
from viz.labels import Box, Scale, Spot
from viz.marks import draw_sign, grouped
from viz.windowoverlay import Overlay, Sprite
from viz.windowpaint import SMALL, card, paste_line, width_of
from viz.words import finding_text

# More rings or labels would hide what they are about; the worst come first.
MOST_RINGS, MOST_LABELS = 12, 5
# Radius of a ring in letters, the room between ring and label, and that about a dimension line.
RING, GAP, ROOM = 1.15, 0.5, 2.4


class Marks:
    """The rings and labels of a window."""

    def __init__(self, overlay: Overlay) -> None:
        """Make room for as many as are ever shown."""
        self._rings = [overlay.sprite() for _ in range(MOST_RINGS)]
        self._dimension = overlay.sprite()
        self._labels = [overlay.sprite() for _ in range(MOST_LABELS)]
        self.groups: list[tuple[Finding, ...]] = []

    def take(self, findings: Sequence[Finding], chosen: str | None) -> Array:
        """Take in the findings of a pose, worst first; what is chosen comes before all. Returns places (k, 3) in mm."""
        groups = grouped(findings, chosen)
        groups.sort(key=lambda group: group[0].where != chosen)
        self.groups = groups[:MOST_RINGS]
        return np.array([group[0].at for group in self.groups]).reshape(-1, 3)

    def show(
        self,
        at: Array,
        frame: Box,
        taken: Sequence[Box],
        text: int,
        units: Length,
        *,
        labels: bool,
        gap: tuple[GapMark, Array] | None = None,
    ) -> None:
        """Stand rings at places (k, 2) in px of the window, inside a frame; labels keep off what is taken.

        A gap is a dimension line between two places (2, 2).
        """
        radius = RING * text
        spots = [(float(x), float(y)) for x, y in at]
        kept = [*taken, *((x - radius, y - radius, x + radius, y + radius) for x, y in spots)]
        left = list(self._labels) if labels else []
        for sprite in (*self._rings, *self._labels, self._dimension):
            sprite.hide()
        if gap is not None and all(_holds(frame, end) for end in gap[1].tolist()):
            mark, ends = gap
            self._dimension.show(*_placed_dimension(text, ends, mark.state))
            name, *told = gap_lines(mark, units)
            box = self._dimension.box or frame
            kept.append(box)
            self._stand(left, _card(text, mark.state, name, tuple(told)), box, frame, kept)
        for sprite, group, spot in zip(self._rings, self.groups, spots, strict=False):
            if not _holds(frame, spot):
                continue
            ring = _ring(text, group[0].state)
            sprite.show(ring, spot[0] - 0.5 * ring.width, spot[1] - 0.5 * ring.height)
            if left:
                title = f"{style.STATES[group[0].state].word}: {group[0].where}"
                rows = tuple(finding_text(found, units) for found in group[:3])
                box = (spot[0] - radius, spot[1] - radius, spot[0] + radius, spot[1] + radius)
                away = GAP * text
                self._stand(left, _card(text, group[0].state, title, rows), grown(box, away), frame, kept)

    def _stand(self, left: list[Sprite], label: Image.Image, beside: Box, frame: Box, kept: list[Box]) -> None:
        """Stand a label beside a box where there is room for it."""
        box = _free(beside, label.size, frame, kept) if left else None
        if box is not None:
            left.pop(0).show(label, box[0], box[1])
            kept.append(box)


def _holds(frame: Box, spot: Sequence[float]) -> bool:
    return frame[0] <= spot[0] < frame[2] and frame[1] <= spot[1] < frame[3]


def grown(box: Box, by: float) -> Box:
    """A box with a margin."""
    return box[0] - by, box[1] - by, box[2] + by, box[3] + by


def _free(beside: Box, size: tuple[int, int], frame: Box, kept: Sequence[Box]) -> Box | None:
    """A place for a label beside a box, if one is free."""
    (wide, tall), (x, y) = size, (0.5 * (beside[0] + beside[2]), 0.5 * (beside[1] + beside[3]))
    # Not straight above or below: a label there hides what stands up from a joint.
    aside_x, aside_y = 0.7 * (beside[2] - x), beside[3] - y
    for left, top in (
        (beside[2], y - 0.5 * tall),
        (beside[0] - wide, y - 0.5 * tall),
        (x + aside_x, y - aside_y - tall),
        (x + aside_x, y + aside_y),
        (x - aside_x - wide, y - aside_y - tall),
        (x - aside_x - wide, y + aside_y),
    ):
        box = (left, top, left + wide, top + tall)
        if box[0] < frame[0] or box[1] < frame[1] or box[2] > frame[2] or box[3] > frame[3]:
            continue
        if not any(box[0] < b[2] and b[0] < box[2] and box[1] < b[3] and b[1] < box[3] for b in kept):
            return box
    return None


def _placed_dimension(text: int, ends: Array, state: State) -> tuple[Image.Image, float, float]:
    """A dimension line between two places (2, 2) in px, and where its picture stands."""
    low, room = np.floor(ends.min(axis=0)), ROOM * text
    away = tuple((float(x), float(y)) for x, y in np.round(ends - low, 1))
    left, top = (low - room).tolist()
    return _dimension(text, away, state), left, top


@lru_cache(maxsize=16)
def _dimension(text: int, ends: tuple[Spot, ...], state: State) -> Image.Image:
    """A dimension line, drawn finely and scaled down."""
    fine, room, at = 2, round(ROOM * text), np.array(ends)
    size = tuple((np.ceil(at.max(axis=0)).astype(int) + 2 * room + 1).tolist())
    picture = Image.new("RGBA", (fine * size[0], fine * size[1]), (255, 255, 255, 0))
    scale = Scale(fine * text, fine * 0.9 * RING * text, fine * max(2, round(0.16 * text)), 0.0, 0)
    draw_dimension(ImageDraw.Draw(picture), fine * (at + room), state, scale)
    return picture.resize(size, Image.Resampling.BOX)


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
def _card(text: int, state: State, title: str, rows: tuple[str, ...]) -> Image.Image:
    """A label: a title with the sign of its state, and what is measured."""
    bold, plain = style.font(round(0.94 * text), bold=True), style.font(round(SMALL * text))
    look = style.STATES[state]
    wide = max(width_of(title, bold) + 1.5 * text, *(width_of(row, plain) for row in rows)) + 1.2 * text
    picture, draw = card((round(wide), round((1.3 * (len(rows) + 1) + 0.5) * text)), text, look.colour)
    draw_sign(draw, (1.1 * text, 0.95 * text), 0.44 * text, state)
    paste_line(picture, (2.0 * text, 0.95 * text), title, bold, look.colour)
    for number, row in enumerate(rows, start=1):
        draw.text((0.6 * text, (0.95 + 1.3 * number) * text), row, font=plain, fill=style.INK, anchor="lm")
    return picture
