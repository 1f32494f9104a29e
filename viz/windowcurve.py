"""The strip with a curve at the picture's foot in the window: what stays is drawn once, a pose moves a dot."""

from __future__ import annotations

import numpy as np

from viz import style
from viz.curve import TO, CurveStrip
from viz.windowoverlay import Pixels
from viz.windowpaint import cut, sign, stamp, write, written


class CurvePanel:
    """A strip and the pixels that show it."""

    def __init__(self, strip: CurveStrip) -> None:
        """Draw what stays."""
        self._strip = strip
        self._ground = np.array(strip.still.convert("RGBA"))
        self._canvas = self._ground.copy()

    def picture(self, pose: int) -> Pixels:
        """Paint it in one pose by its number; the pixels are the same array as before."""
        canvas, strip, text = self._canvas, self._strip, self._strip.text
        (width, height), (x, y) = strip.size, strip.at(pose)
        canvas[:] = self._ground
        state, value, left_over = strip.said(pose)
        line = max(1, height // 60)
        from_x = round(x - 0.5 * line)
        canvas[round(0.06 * height) : round(0.76 * height), from_x : from_x + line] = (*style.QUIET_INK, 255)
        if not np.isnan(y):
            stamp(canvas, (x, y), sign(0.42 * text, state))
        left = TO * width + 1.6 * text
        stamp(canvas, (left - 0.7 * text, 0.34 * height), sign(0.45 * text, state))
        room, ground = width - left - 0.4 * text, (*style.PAPER, 255)
        bold, plain = style.font(text, bold=True), style.font(round(0.85 * text))
        for row, words, font, colour in (
            (0.34, value, bold, style.STATES[state].colour),
            (0.66, left_over, plain, style.INK),
        ):
            told = words if written(words, font) <= room else cut(words, font, room)
            write(canvas, (left + 0.1 * text, row * height), told, font, colour, ground)
        return canvas
