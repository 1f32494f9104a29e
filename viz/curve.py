"""The curve of one measure over a run of poses, as a strip for the foot of a picture, with a dot at the pose shown."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from itertools import pairwise

import numpy as np
from PIL import Image, ImageDraw

from model.measures import Measure
from model.poses import Poses, Status
from model.spatial import Array
from model.tracks import finding_at
from model.units import Length
from model.verdicts import State, state_of
from viz import style
from viz.labels import Scale
from viz.marks import draw_sign, fitted
from viz.words import NOTHING, left_text, limit_text, used_text, what_text

# Drawn this many times as large and scaled down, so that slopes are smooth.
FINE = 2
# Where the curve begins and ends, as shares of the width: names stand to its left, the value to its right.
FROM, TO = 0.27, 0.84
# Room above and below the curve, as a share of its range.
ROOM = 0.12
# Smaller text than this, in px, is not read.
LEAST_TEXT = 8
BAD = (State.LOCKED, State.OVER)
# What is said of a pose in which there is nothing to measure, such as what is only told of ride height.
NOT_HERE = "not measured here"


class CurveStrip:
    """A strip for the pictures of a run of N poses: the curve is drawn once, a dot and the value for each pose.

    `runs` are the names of the parts of the run and the number of the pose at which each begins.
    """

    def __init__(
        self,
        measure: Measure,
        poses: Poses,
        size: tuple[int, int],
        units: Length,
        runs: Sequence[tuple[str, int]] = (),
    ) -> None:
        """Take in what to draw on a strip of `size` (width, height) in px."""
        self.size = size
        self._measure, self._poses, self._units, self._runs = measure, poses, units, runs
        self.text = max(9, round(0.2 * size[1]))

    def picture(self, pose: int) -> Image.Image:
        """Draw the strip of one pose by its number."""
        strip = self.still.copy()
        draw = ImageDraw.Draw(strip)
        x, y = self.at(pose)
        width, height = self.size
        draw.line((x, 0.06 * height, x, 0.76 * height), fill=style.QUIET_INK, width=max(1, height // 60))
        left, text = TO * width + 1.6 * self.text, self.text
        bold, plain = style.font(text, bold=True), style.font(round(0.85 * text))
        state, value, left_over = self.said(pose)
        if not np.isnan(y):
            draw_sign(draw, (x, y), 0.42 * text, state)
        draw_sign(draw, (left - 0.7 * text, 0.34 * height), 0.45 * text, state)
        room = width - left - 0.4 * text
        draw_fitted(draw, (left + 0.1 * text, 0.34 * height), value, bold, style.STATES[state].colour, room)
        draw_fitted(draw, (left + 0.1 * text, 0.66 * height), left_over, plain, style.INK, room)
        return strip

    def said(self, pose: int) -> tuple[State, str, str]:
        """The state of a pose, its value and what is left before the limit, in words."""
        if self._poses.status[pose] == Status.LOCKED:
            return State.LOCKED, style.STATES[State.LOCKED].word, ""
        if np.isnan(self._measure.values[pose]):
            return State.UNJUDGED, NOTHING, NOT_HERE
        found = finding_at(self._measure, self._poses, pose)
        return found.state, used_text(found, self._units), left_text(found, self._units).removeprefix(", ")

    def at(self, pose: int) -> tuple[float, float]:
        """Where a pose is on the strip (x, y) in px; y is NaN where it has no value."""
        x, y = self._places[pose]
        return float(x), float(y)

    @cached_property
    def _range(self) -> tuple[float, float]:
        """What the curve's foot and head stand for, in the measure's unit: its values and its limit."""
        values = [value for value in self._measure.values if np.isfinite(value)]
        if self._measure.bound is not None:
            values.append(self._measure.bound.limit)
        low, high = min(values, default=0.0), max(values, default=1.0)
        pad = ROOM * (high - low) if high > low else 1.0
        return low - pad, high + pad

    def _height(self, values: Array) -> Array:
        """Heights of values on the strip in px from its upper edge."""
        low, high = self._range
        return np.asarray(self.size[1] * (0.76 - 0.70 * (values - low) / (high - low)))

    @cached_property
    def _places(self) -> Array:
        """Where each pose is (N, 2) in px."""
        along = np.linspace(FROM * self.size[0], TO * self.size[0], len(self._poses))
        return np.stack([along, self._height(self._measure.values)], axis=1)

    @cached_property
    def still(self) -> Image.Image:
        """What is the same in every pose."""
        width, height = (FINE * side for side in self.size)
        picture = Image.new("RGB", (width, height), style.PAPER)
        draw = ImageDraw.Draw(picture)
        text, thin = FINE * self.text, max(1, height // 70)
        bold, plain, small = style.font(text, bold=True), style.font(round(0.85 * text)), style.font(round(0.72 * text))
        draw.line((0, 0, width, 0), fill=style.LINE, width=thin)
        draw.rectangle((FROM * width, 0.06 * height, TO * width, 0.76 * height), fill=style.STRIP)
        measure = self._measure
        known = int(np.flatnonzero(np.isfinite(measure.values))[0])
        found = finding_at(measure, self._poses, known)
        pad, room = 1.1 * text, FROM * width - 2.0 * text
        draw_fitted(draw, (pad, 0.34 * height), measure.where, bold, style.INK, room)
        limit = "" if found.limit is None else f", limit {limit_text(found, self._units)}"
        what = found.what if found.what == what_text(found) else measure.what
        draw_fitted(draw, (pad, 0.66 * height), f"{what}{limit}", plain, style.QUIET_INK, room)
        if measure.bound is not None:
            level = FINE * float(self._height(np.array(measure.bound.limit)))
            _dashes(draw, (FROM * width, TO * width), level, 0.5 * text, thin)
        for name, start in self._runs:
            x = FINE * self._places[min(start, len(self._places) - 1), 0]
            draw.line((x, 0.06 * height, x, 0.8 * height), fill=style.LINE, width=thin)
            draw.text((x + 0.3 * text, 0.89 * height), name, font=small, fill=style.QUIET_INK, anchor="lm")
        self._trace(draw, thin)
        return picture.reduce(FINE)

    def _trace(self, draw: ImageDraw.ImageDraw, thin: int) -> None:
        """Draw the curve, thicker where it is over and in the colour of each state."""
        places = FINE * self._places
        states = [None if np.isnan(v) else state_of(float(v), self._measure) for v in self._measure.values]
        for (first, second), (before, after) in zip(pairwise(places.tolist()), pairwise(states), strict=True):
            if before is None or after is None:
                continue
            state = before if before in BAD else after
            width = (5 if state in BAD else 3) * thin
            draw.line((*first, *second), fill=style.STATES[state].colour, width=width)


def draw_fitted(
    draw: ImageDraw.ImageDraw, at: tuple[float, float], text: str, font: style.Font, colour: style.Colour, room: float
) -> None:
    """Write a line from its left middle on; smaller where it is wider than the room in px, and cut short in the end."""
    while font.size > LEAST_TEXT and draw.textlength(text, font=font) > room:
        font = font.font_variant(size=font.size - 1)
    draw.text(at, fitted(draw, text, font, room), font=font, fill=colour, anchor="lm")


def strip_height(size: tuple[int, int]) -> int:
    """How tall a strip goes with a picture of `size` in px; 0 where the picture has no room for one."""
    return 0 if size[1] < SMALLEST_WITH_STRIP else round(4.6 * Scale.of(size).text)


# A picture less tall than this, in px, is all taken up by the parts.
SMALLEST_WITH_STRIP = 320


def _dashes(draw: ImageDraw.ImageDraw, ends: tuple[float, float], level: float, dash: float, width: int) -> None:
    """A dashed level line: a limit."""
    for start in np.arange(ends[0], ends[1], 2.0 * dash).tolist():
        draw.line((start, level, min(start + dash, ends[1]), level), fill=style.INK, width=width)
