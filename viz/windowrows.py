"""A row of the list of findings, painted into pixels: what stays is painted once, a pose changes only its number."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from PIL import Image, ImageDraw

from model.units import Length
from model.verdicts import Finding, State
from viz import style
from viz.marks import draw_sign
from viz.windowoverlay import Pixels
from viz.windowpaint import ACCENT, ACCENT_GROUND, SMALL, cut, width_of, write, written
from viz.words import limit_text, used_text, what_text

# The bar under a row ends at this share of the limit, which has a tick.
BAR_END = 1.25
# In letters: height of a row, its second line, the room that its number always has, and the least of what is measured.
ROW, SECOND, NUMBER, NAME = 3.0, 1.85, 3.7, 3.0


@dataclass(frozen=True)
class Look:
    """What a row shows: where and what is measured, its state and number here, its limit, and shares of that limit.

    Without a number `limit` says why.
    """

    where: str
    what: str
    state: State | None
    value: str
    limit: str = ""
    share: float | None = None
    worst: float = 0.0


def look_of(here: Finding, worst: Finding, units: Length) -> Look:
    """What a row shows of a finding in a pose, beside what it is at its worst."""
    limit = "" if here.limit is None else f" of {limit_text(here, units)}"
    limit = limit.replace(" of at least", ", at least").replace(" of advised", ", advised").replace(" of no", ", no")
    shares = (None, 0.0) if not here.limit else (min(max(here.share, 0.0), BAR_END), _step(worst.share))
    return Look(here.where, what_text(here), here.state, used_text(here, units), limit, *shares)


def paint_row(canvas: Pixels, text: int, look: Look, *, chosen: bool) -> None:
    """Paint a row over the whole of `canvas` (height, width, 4)."""
    width = canvas.shape[1]
    bar, worst = look.share is not None, look.worst
    ground = _ground(width, text, look.where, look.what, look.state, look.limit, bar, worst, bool(look.value), chosen)
    canvas[:] = ground
    font, back = style.font(round(SMALL * text)), ACCENT_GROUND if chosen else style.PAPER
    left = width - text - width_of(look.limit, font) - written(look.value, font)
    write(canvas, (max(left, 0.0), SECOND * text), look.value, font, style.INK, (*back, 255))
    if look.share is not None and look.state is not None:
        (x, y), (x_to, y_to) = _bar(width, text, 0.0), _bar(width, text, look.share, 0.16)
        canvas[round(y) : round(y_to) + 1, round(x) : round(x_to) + 1] = (*style.STATES[look.state].colour, 255)


def _step(share: float) -> float:
    """A share of a limit as it is drawn: in hundredths, so that grounds are found again."""
    return round(min(max(share, 0.0), BAR_END), 2)


@lru_cache(maxsize=512)
def _ground(
    width: int,
    text: int,
    where: str,
    what: str,
    state: State | None,
    limit: str,
    bar: bool,
    worst: float,
    number: bool,
    chosen: bool,
) -> Pixels:
    """All of a row but its number: state, place and word, limit, and an empty bar that ends a quarter past it."""
    picture = Image.new("RGBA", (width, round(ROW * text)), (*(ACCENT_GROUND if chosen else style.PAPER), 255))
    draw, edge = ImageDraw.Draw(picture), width - text
    bold, small, strong = (
        style.font(text, bold=chosen),
        *(style.font(round(SMALL * text), bold=b) for b in (False, True)),
    )
    draw.text(
        (2.3 * text, 0.85 * text),
        cut(where, bold, width - (3.3 if state is None else 6.6) * text),
        font=bold,
        fill=style.INK,
        anchor="lm",
    )
    room = edge - 2.3 * text - width_of(limit, small) - (NUMBER if number else 1.0) * text
    told = cut(what, small, max(room, NAME * text))
    draw.text((2.3 * text, round(SECOND * text)), told, font=small, fill=style.QUIET_INK, anchor="lm")
    draw.text((edge, round(SECOND * text)), limit, font=small, fill=style.INK, anchor="rm")
    if chosen:
        draw.rectangle((0, 0, 0.3 * text, picture.height), fill=ACCENT)
    if state is not None:
        look = style.STATES[state]
        draw_sign(draw, (1.4 * text, 0.85 * text), 0.46 * text, state)
        draw.text((edge, 0.85 * text), look.word, font=strong, fill=look.colour, anchor="rm")
    if bar:
        draw.rectangle((*_bar(width, text, 0.0), *_bar(width, text, BAR_END, 0.16)), fill=style.LINE)
        left, top = _bar(width, text, 1.0)
        draw.line((left, top - 0.16 * text, left, top + 0.32 * text), fill=style.INK, width=max(1, text // 10))
        x, y = _bar(width, text, worst, 0.08)
        draw.polygon(
            [(x, y + 0.1 * text), (x - 0.2 * text, y + 0.42 * text), (x + 0.2 * text, y + 0.42 * text)],
            fill=style.QUIET_INK,
        )
    return np.array(picture)


def _bar(width: int, text: int, share: float, down: float = 0.0) -> tuple[float, float]:
    """A place on a row's bar at a share of the limit."""
    left, right = 2.3 * text, width - text
    return left + (right - left) * share / BAR_END, (2.52 + down) * text
