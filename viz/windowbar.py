"""What surrounds the picture in the window: sliders at its foot, the pose at its head, switches at its right."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from PIL import Image, ImageDraw

from model.cycles import Cycle
from model.units import Length
from model.verdicts import State
from viz import style
from viz.labels import Box
from viz.marks import draw_sign
from viz.windowkeys import BUTTONS, CHIP_WORDS, RUN_KEYS, RUN_WORDS, TOGGLES, Act
from viz.windowoverlay import Pixels
from viz.windowpaint import (
    ACCENT,
    ACCENT_GROUND,
    CARD,
    SMALL,
    Shape,
    card,
    cut,
    finely,
    paste_line,
    stamp,
    width_of,
    wrapped,
    write,
    written,
)

# Heights and widths in letters: the bar, its play button, a slider's margin, a switch.
BAR, PLAY, INSET, CHIP, CHIP_WIDE = 4.4, 4.0, 1.2, 1.9, 10.4
# The caption grows by so many letters at a time.
STEP = 4.0
RUN_LETTER = {run: letter for letter, run in RUN_KEYS.items()}


@dataclass(frozen=True)
class Slider:
    """One control: its run, the amounts that it goes between and the one that it shows, in mm or shares of lock."""

    run: Cycle
    low: float
    high: float
    amount: float


def amount_text(run: Cycle, amount: float, units: Length) -> str:
    """How far a run is, with its sign: "+35 mm", "40 % left"."""
    if run is Cycle.STEER:
        percent = round(100.0 * amount)
        return f"{abs(percent)} % {'left' if percent > 0 else 'right'}" if percent else "straight"
    text = units.text(abs(amount))
    return f"{'+' if amount > 0 else '−'}{text}" if any(digit in text for digit in "123456789") else "ride height"


class Bar:
    """The sliders and the play button; it knows where they are."""

    def __init__(self) -> None:
        """Begin with no room."""
        self.size, self._text = (1, 1), 12
        self._canvas: Pixels = np.zeros((1, 1, 4), dtype=np.uint8)
        self._painted: dict[int, object] = {}

    def sized(self, width: int, text: int) -> None:
        """Take a width in px and the size of letters."""
        self.size, self._text = (width, round(BAR * text)), text
        self._canvas = np.full((self.size[1], width, 4), (*style.PAPER, 255), dtype=np.uint8)
        self._painted.clear()

    def picture(self, sliders: Sequence[Slider], chosen: Cycle, playing: bool, units: Length) -> Pixels:
        """Paint what is new of the bar; the pixels are the same array as before."""
        canvas, text, height = self._canvas, self._text, self.size[1]
        play = _play(round(PLAY * text), height, text, playing)
        canvas[:, : play.shape[1]] = play
        wide = self._wide(len(sliders))
        for number, slider in enumerate(sliders):
            left, shown = self._left(number, len(sliders)), (len(sliders), slider, units, slider.run is chosen)
            if self._painted.get(number) != shown:
                self._painted[number] = shown
                _paint_slider(canvas[:, left : left + wide], text, slider, units, chosen=slider.run is chosen)
        canvas[0] = (*style.LINE, 255)
        return canvas

    def plays_at(self, x: float) -> bool:
        """Whether the play button is at a place in px from the bar's left edge."""
        return x < PLAY * self._text

    def slider_at(self, x: float, count: int) -> int | None:
        """The number of the slider at a place, of so many."""
        number = int((x - PLAY * self._text) // max(self._wide(count), 1))
        return number if 0 <= number < count and not self.plays_at(x) else None

    def amount_at(self, x: float, number: int, slider: Slider, count: int) -> float:
        """The amount that a slider has where its knob is put at a place in px from the bar's left edge."""
        inset = INSET * self._text
        left, room = self._left(number, count) + inset, self._wide(count) - 2 * inset
        share = min(max((x - left) / room, 0.0), 1.0)
        return slider.low + share * (slider.high - slider.low)

    def knob(self, number: int, slider: Slider, count: int) -> tuple[float, float]:
        """Where a slider's knob is (x, y) in px from the bar's upper left corner."""
        inset, share = INSET * self._text, (slider.amount - slider.low) / max(slider.high - slider.low, 1e-9)
        return self._left(number, count) + inset + share * (self._wide(count) - 2 * inset), KNOB_AT * self._text

    def _wide(self, count: int) -> int:
        return int((self.size[0] - PLAY * self._text) / max(count, 1))

    def _left(self, number: int, count: int) -> int:
        return round(PLAY * self._text) + number * self._wide(count)


# Letters from the bar's upper edge to a slider's line.
KNOB_AT = 3.1


@lru_cache(maxsize=4)
def _play(width: int, height: int, text: int, playing: bool) -> Pixels:
    picture = Image.new("RGBA", (width, height), (*style.PAPER, 255))
    draw = ImageDraw.Draw(picture)
    x, y, size = 0.5 * width, 0.42 * height, 0.75 * text
    if playing:
        for side in (-1, 1):
            middle = x + 0.5 * side * size
            draw.rectangle((middle - 0.22 * size, y - size, middle + 0.22 * size, y + size), fill=ACCENT)
    else:
        draw.polygon([(x - 0.7 * size, y - size), (x - 0.7 * size, y + size), (x + size, y)], fill=ACCENT)
    small = style.font(round(SMALL * text))
    draw.text((x, 0.83 * height), "space", font=small, fill=style.QUIET_INK, anchor="mm")
    return np.array(picture)


def _paint_slider(cell: Pixels, text: int, slider: Slider, units: Length, *, chosen: bool) -> None:
    """Paint a slider over the whole of a cell (height, width, 4) of the bar."""
    height, width, _ = cell.shape
    span, inset, line = max(slider.high - slider.low, 1e-9), INSET * text, KNOB_AT * text
    share, ride = (slider.amount - slider.low) / span, round(-slider.low / span, 3)
    cell[:] = _track(width, height, text, slider.run, ride, chosen)
    bold, ground = style.font(text, bold=chosen), (*(ACCENT_GROUND if chosen else style.PAPER), 255)
    told, room = amount_text(slider.run, slider.amount, units), width - 1.6 * inset
    told = told if written(told, bold) <= room else cut(told, bold, room)
    write(cell, (inset, 2.0 * text), told, bold, style.INK, ground)
    zero, knob = (round(inset + at * (width - 2.0 * inset)) for at in (ride, share))
    colour = ACCENT if chosen else style.QUIET_INK
    cell[round(line - 0.12 * text) : round(line + 0.12 * text) + 1, min(zero, knob) : max(zero, knob)] = (*colour, 255)
    stamp(cell, (knob, line), _knob(text, colour))


@lru_cache(maxsize=4)
def _knob(text: int, colour: style.Colour) -> Shape:
    def paint(draw: ImageDraw.ImageDraw, middle: float, fine: int) -> None:
        low, high = middle - 0.48 * text * fine, middle + 0.48 * text * fine
        draw.ellipse((low, low, high, high), fill=colour, outline=style.PAPER, width=fine * max(1, text // 8))

    return finely(round(0.48 * text) + 1, paint)


@lru_cache(maxsize=32)
def _track(width: int, height: int, text: int, run: Cycle, ride: float, chosen: bool) -> Pixels:
    """What is the same of a slider wherever its knob is: its name, its line and where ride height is on it."""
    picture = Image.new("RGBA", (width, height), (*(ACCENT_GROUND if chosen else style.PAPER), 255))
    draw, small = ImageDraw.Draw(picture), style.font(round(SMALL * text))
    inset, line = INSET * text, KNOB_AT * text
    name = cut(f"{RUN_LETTER[run]}  {RUN_WORDS[run]}", small, width - 1.6 * inset)
    draw.text((inset, 0.8 * text), name, font=small, fill=ACCENT if chosen else style.QUIET_INK, anchor="lm")
    draw.rounded_rectangle((inset, line - 0.12 * text, width - inset, line + 0.12 * text), 0.12 * text, fill=style.LINE)
    zero = inset + ride * (width - 2.0 * inset)
    draw.line((zero, line - 0.5 * text, zero, line + 0.5 * text), fill=style.INK, width=max(1, text // 9))
    return np.array(picture)


@lru_cache(maxsize=32)
def caption(room: int, text: int, title: str, pose: str, verdict: str, state: State, locked: bool) -> Pixels:
    """The card at the picture's head: title, the pose in words, the verdict on it; a locked pose in its own colour."""
    font, pad, shift = style.font(text, bold=locked), 0.9 * text, 1.4 * text * locked
    most = room - 2 * pad
    fits = written(pose, font) <= most - shift
    lines = [pose] if fits else wrapped(pose, font, most - shift) if locked else [cut(pose, font, most)]
    # In steps, so that the card does not change with every pose.
    wide = STEP * text * math.ceil((max(written(line, font) for line in lines) + shift) / (STEP * text))
    canvas = _caption_ground(room, text, title, wide, len(lines), verdict, state, locked).copy()
    colour = style.STATES[State.LOCKED].colour if locked else style.QUIET_INK
    for number, line in enumerate(lines):
        write(canvas, (pad + shift, (2.9 + 1.5 * number) * text), line, font, colour, CARD)
    return canvas


@lru_cache(maxsize=32)
def _caption_ground(
    room: int, text: int, title: str, wide: float, lines: int, verdict: str, state: State, locked: bool
) -> Pixels:
    """All of the card but the pose, for which it leaves room for so many lines of this width in px."""
    bold, said = style.font(round(1.15 * text), bold=True), style.font(text, bold=True)
    pad, shift, look = 0.9 * text, 1.4 * text, style.STATES[state]
    wide = max(width_of(title, bold), width_of(verdict, said) + shift, wide)
    width = round(min(room, wide + 2 * pad + 0.2 * text))
    size = width, round((4.1 + 1.5 * lines) * text)
    picture, draw = card(size, text, look.colour if locked else style.LINE)
    paste_line(picture, (pad, 1.35 * text), cut(title, bold, width - 2 * pad), bold, style.INK)
    if locked:
        draw_sign(draw, (pad + 0.5 * text, 2.9 * text), 0.5 * text, State.LOCKED)
    y = (2.9 + 1.5 * lines) * text
    draw_sign(draw, (pad + 0.5 * text, y), 0.5 * text, state)
    paste_line(picture, (pad + shift, y), cut(verdict, said, width - 2 * pad - shift), said, look.colour)
    return np.array(picture)


@lru_cache(maxsize=32)
def chips(text: int, on: frozenset[Act]) -> Image.Image:
    """Switches and buttons, one under another; what is on has a tick in its box."""
    acts = [*TOGGLES, *BUTTONS]
    picture, draw = card((round(CHIP_WIDE * text), round((CHIP * len(acts) + 0.6) * text)), text)
    plain, bold = style.font(round(0.92 * text)), style.font(round(0.92 * text), bold=True)
    for number, act in enumerate(acts):
        y = (0.3 + CHIP * (number + 0.5)) * text
        letter = TOGGLES.get(act) or BUTTONS[act]
        draw.text((1.0 * text, y), letter, font=bold, fill=ACCENT, anchor="mm")
        draw.text((1.9 * text, y), CHIP_WORDS[act], font=plain, fill=style.INK, anchor="lm")
        if act in TOGGLES:
            right, half = (CHIP_WIDE - 0.7) * text, 0.46 * text
            box = (right - 2 * half, y - half, right, y + half)
            draw.rounded_rectangle(box, 0.2 * text, fill=ACCENT if act in on else style.PAPER, outline=style.QUIET_INK)
            if act in on:
                tick = [
                    (right - 1.6 * half, y),
                    (right - 1.1 * half, y + 0.5 * half),
                    (right - 0.4 * half, y - 0.5 * half),
                ]
                draw.line(tick, fill=style.PAPER, width=max(2, text // 7))
    return picture


def chip_at(y: float, text: int) -> Act | None:
    """The switch or button at a height in px from the upper edge of `chips`."""
    acts = [*TOGGLES, *BUTTONS]
    number = int((y / text - 0.3) // CHIP)
    return acts[number] if 0 <= number < len(acts) else None


def inside(box: Box | None, at: tuple[float, float]) -> bool:
    """Whether a place is in a box."""
    return box is not None and box[0] <= at[0] < box[2] and box[1] <= at[1] < box[3]
