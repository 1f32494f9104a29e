"""Small pieces that every panel of the window is painted with: cards, cut and wrapped lines, a list of keys."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache

import numpy as np
from PIL import Image, ImageDraw

from model.spatial import Array
from model.verdicts import State
from viz import style
from viz.marks import draw_sign, fitted
from viz.windowoverlay import Pixels

# Red, green, blue and how solid.
Ink = tuple[int, int, int, int]
# Colours (n, n, 3) and how much of each pixel (n, n, 1) they cover.
Shape = tuple[Array, Array]
# What is chosen or moves: the blue of links.
ACCENT, ACCENT_GROUND = (38, 104, 170), (228, 238, 248)
# A card lets a little of the picture through.
CARD = (255, 255, 255, 236)
SMALL = 0.84


def card(size: tuple[int, int], text: int, edge: style.Colour = style.LINE) -> tuple[Image.Image, ImageDraw.ImageDraw]:
    """An empty card with round corners."""
    picture = Image.new("RGBA", size, (0, 0, 0, 0))
    draw = ImageDraw.Draw(picture)
    draw.rounded_rectangle((0, 0, size[0] - 1, size[1] - 1), 0.45 * text, fill=CARD, outline=edge, width=1)
    return picture, draw


@lru_cache(maxsize=4096)
def cut(text: str, font: style.Font, room: float) -> str:
    """A line cut short where it is wider than the room in px."""
    return fitted(_MEASURE, text, font, room)


def written(text: str, font: style.Font) -> float:
    """How wide a line is in px that `write` writes; letters are measured only once."""
    return sum(width_of(letter, font) for letter in text)


@lru_cache(maxsize=4096)
def width_of(text: str, font: style.Font) -> float:
    """How wide a line is in px."""
    return float(font.getlength(text))


def wrapped(text: str, font: style.Font, room: float) -> list[str]:
    """Lines of whole words that fit into the room in px; a word that does not is cut."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, font) <= room:
            lines[-1] = longer
        else:
            lines.append(cut(word, font, room))
    return lines


def paste_line(
    picture: Image.Image, middle: tuple[float, float], text: str, font: style.Font, colour: style.Colour
) -> None:
    """Write a line, from the middle of its left end, that is written again and again: it is set only once."""
    mask, above = _line(text, font)
    picture.paste((*colour, 255), (round(middle[0]), round(middle[1]) - above), mask)


def write(
    canvas: Pixels, at: tuple[float, float], text: str, font: style.Font, colour: style.Colour, ground: Ink
) -> None:
    """Write a line that is another in every pose into pixels of one ground, from the middle of its left end on.

    Letter by letter from pieces that are kept: to set a line anew takes ten times as long.
    """
    left, row = at[0], round(at[1])
    for letter in text:
        pixels, aside, above, advance = _letter(letter, font, colour, ground)
        x, y = round(left) + aside, row + above
        place = canvas[y : y + pixels.shape[0], x : x + pixels.shape[1]]
        place[:] = pixels[:, : place.shape[1]]
        left += advance


def stamp(canvas: Pixels, at: tuple[float, float], shape: Shape) -> None:
    """Lay a shape over pixels, its middle at a place; what would be beside them is left out."""
    colours, cover = shape
    half = colours.shape[0] // 2
    x, y = round(at[0]) - half, round(at[1]) - half
    cut_x, cut_y = max(-x, 0), max(-y, 0)
    place = canvas[max(y, 0) : y + 2 * half + 1, max(x, 0) : x + 2 * half + 1, :3]
    part = slice(cut_y, cut_y + place.shape[0]), slice(cut_x, cut_x + place.shape[1])
    place[:] = cover[part] * colours[part] + (1.0 - cover[part]) * place


@lru_cache(maxsize=32)
def sign(size: float, state: State) -> Shape:
    """The sign of a state, `size` px from its middle to its edge, for `stamp`."""
    half = math.ceil(1.5 * size) + 1
    return finely(half, lambda draw, middle, fine: draw_sign(draw, (middle, middle), fine * size, state))


def finely(half: int, paint: Callable[[ImageDraw.ImageDraw, float, int], None]) -> Shape:
    """A shape of `half` px to each side of its middle, painted several times as large."""
    fine, side = 4, 2 * half + 1
    picture = Image.new("RGBA", (fine * side, fine * side), (*style.PAPER, 0))
    paint(ImageDraw.Draw(picture), 0.5 * fine * side, fine)
    pixels = np.array(picture.resize((side, side), Image.Resampling.BOX), dtype=float)
    return pixels[..., :3], pixels[..., 3:] / 255.0


@lru_cache(maxsize=4096)
def _letter(letter: str, font: style.Font, colour: style.Colour, ground: Ink) -> tuple[Pixels, int, int, float]:
    """The ink of a letter on its ground, how far that is aside and below the line's row, and where the next begins."""
    before, above, right, below = _MEASURE.textbbox((0, 0), letter, font=font, anchor="lm")
    left, top = math.floor(before), math.floor(above)
    size = max(1, math.ceil(right) - left), max(1, math.ceil(below) - top)
    picture = Image.new("RGBA", size, ground)
    ImageDraw.Draw(picture).text((-left, -top), letter, font=font, fill=colour, anchor="lm")
    return np.array(picture), left, top, width_of(letter, font)


@lru_cache(maxsize=128)
def _line(text: str, font: style.Font) -> tuple[Image.Image, int]:
    """How much of each pixel a line covers, and how far its middle is below its upper edge."""
    ascent, descent = font.getmetrics()
    mask = Image.new("L", (round(font.getlength(text)) + 2, ascent + descent))
    ImageDraw.Draw(mask).text((0, mask.height // 2), text, font=font, fill=255, anchor="lm")
    return mask, mask.height // 2


@lru_cache(maxsize=4)
def empty_strip(size: tuple[int, int], text: int, words: str) -> Pixels:
    """A strip where a curve would be, with a line in its middle."""
    picture, small = Image.new("RGBA", size, (*style.PAPER, 255)), style.font(round(SMALL * text))
    draw = ImageDraw.Draw(picture)
    draw.line((0, 0, size[0], 0), fill=style.LINE)
    words = cut(words, small, size[0] - 2.0 * text)
    draw.text((0.5 * size[0], 0.5 * size[1]), words, font=small, fill=style.QUIET_INK, anchor="mm")
    return np.array(picture)


@lru_cache(maxsize=16)
def notice(text: int, width: int, lines: tuple[str, ...], state: State | None) -> Image.Image:
    """A card with sentences; of a mistake with the sign and the edge of its state."""
    font, pad = style.font(text), round(0.8 * text)
    inset = pad + (round(1.6 * text) if state is not None else 0)
    told = [line for sentence in lines for line in wrapped(sentence, font, width - inset - pad)]
    wide = inset + pad + round(max((width_of(line, font) for line in told), default=0.0)) + 1
    step = round(1.4 * text)
    edge = style.LINE if state is None else style.STATES[state].colour
    picture, draw = card((wide, 2 * pad + step * len(told)), text, edge)
    if state is not None:
        draw_sign(draw, (pad + 0.5 * text, pad + 0.5 * step), 0.5 * text, state)
    for number, line in enumerate(told):
        draw.text((inset, pad + (number + 0.5) * step), line, font=font, fill=style.INK, anchor="lm")
    return picture


@lru_cache(maxsize=4)
def help_card(text: int, sections: tuple[tuple[str, tuple[tuple[str, str], ...]], ...], foot: str) -> Image.Image:
    """A card with lists of keys and what they do, two columns of them."""
    bold, plain, pad, step = style.font(text, bold=True), style.font(text), round(1.4 * text), round(1.7 * text)
    columns = (sections[: (len(sections) + 1) // 2], sections[(len(sections) + 1) // 2 :])
    keys = [max(width_of(key, bold) for _, rows in column for key, _ in rows) + 1.2 * text for column in columns]
    words = [max(width_of(word, plain) for _, rows in column for _, word in rows) for column in columns]
    wide = [round(key + word + 2.4 * text) for key, word in zip(keys, words, strict=True)]
    rows = max(sum(len(rows) + 2 for _, rows in column) for column in columns)
    picture, draw = card((2 * pad + sum(wide), 2 * pad + step * (rows + 1)), text)
    picture.putalpha(picture.getchannel("A").point(lambda alpha: 255 if alpha else 0))
    left = float(pad)
    for column, key_room, column_width in zip(columns, keys, wide, strict=True):
        y = pad + 0.5 * step
        for title, lines in column:
            draw.text((left, y), title, font=bold, fill=ACCENT, anchor="lm")
            for key, word in lines:
                y += step
                draw.text((left, y), key, font=bold, fill=style.INK, anchor="lm")
                draw.text((left + key_room, y), word, font=plain, fill=style.QUIET_INK, anchor="lm")
            y += 2 * step
        left += column_width
    draw.text((pad, picture.height - pad - 0.4 * step), foot, font=plain, fill=style.INK, anchor="lm")
    return picture


def count_words(states: Sequence[State]) -> str:
    """How many are over and how many close: "3 over, 1 close"; "clear" where none is."""
    told = [(state, list(states).count(state)) for state in (State.LOCKED, State.OVER, State.CLOSE)]
    return ", ".join(f"{count} {style.STATES[state].word}" for state, count in told if count) or "clear"


_MEASURE = ImageDraw.Draw(Image.new("L", (1, 1)))
