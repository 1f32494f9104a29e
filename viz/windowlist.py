"""The list of findings at the window's left: grouped by the worst over the travel, each with its state at this pose."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

from PIL import Image, ImageDraw

from model.units import Length
from model.verdicts import Finding, State
from viz import style
from viz.marks import draw_sign
from viz.windowpaint import ACCENT, ACCENT_GROUND, SMALL, cut
from viz.windowpose import Key, key_of
from viz.words import limit_text, used_text, what_text

HEADINGS = {
    State.LOCKED: "Locks on the way",
    State.OVER: "Over on the way",
    State.CLOSE: "Close on the way",
    State.CLEAR: "Clear all the way",
    State.UNJUDGED: "Without a limit",
}
# The bar under a row ends at this share of the limit, which has a tick.
BAR_END = 1.25
# Heights in letters: of the panel's head and foot, a group's heading, a row.
HEAD, FOOT, HEADING, ROW = 3.0, 2.0, 1.9, 3.0
FOOT_TEXT = "n next, b before, or click"


@dataclass(frozen=True)
class Row:
    """A finding in its worst pose, and the curve that it is the worst point of; None for a lock."""

    worst: Finding
    key: Key | None


def rows_of(findings: Sequence[Finding], keys: Mapping[Key, object]) -> list[Row]:
    """Findings, worst first, as rows."""
    return [Row(finding, key_of(finding, keys)) for finding in findings]


class FindingList:
    """The panel; it remembers how far it is scrolled and where its rows are."""

    def __init__(self) -> None:
        """Begin with nothing to list."""
        self.rows: list[Row] = []
        self.scroll = 0.0
        self._text, self._size = 12, (1, 1)

    def sized(self, size: tuple[int, int], text: int) -> None:
        """Take a size (width, height) in px and that of letters."""
        self._size, self._text = size, text
        self.scrolled(0.0)

    def scrolled(self, by: float) -> None:
        """Scroll down by so many px, as far as there is something to see."""
        room = self._size[1] - (HEAD + FOOT) * self._text
        self.scroll = min(max(self.scroll + by, 0.0), max(0.0, self._tall() - room))

    def reveal(self, number: int) -> None:
        """Scroll so that a row is in sight."""
        for top, tall, row in self._places():
            if row == number:
                room = self._size[1] - (HEAD + FOOT) * self._text
                self.scroll = min(max(self.scroll, top + tall - room), top)

    def at(self, y: float) -> int | None:
        """The row at a height in px from the panel's upper edge."""
        inside = y - HEAD * self._text
        if not 0.0 <= inside < self._size[1] - (HEAD + FOOT) * self._text:
            return None
        found = (row for top, tall, row in self._places() if top <= inside + self.scroll < top + tall)
        return next((row for row in found if row is not None), None)

    def row_middle(self, number: int) -> float | None:
        """Height in px of the middle of a row from the panel's upper edge; None where it is out of sight."""
        room = self._size[1] - (HEAD + FOOT) * self._text
        for top, tall, row in self._places():
            middle = top + 0.5 * tall - self.scroll
            if row == number and 0.0 <= middle < room:
                return HEAD * self._text + middle
        return None

    def picture(
        self, now: Mapping[Key, Finding], locked: tuple[str, ...], chosen: int | None, units: Length
    ) -> Image.Image:
        """Draw the panel: `now` are the findings of the pose that is shown, `locked` the members that lock it."""
        (width, height), text = self._size, self._text
        picture = Image.new("RGBA", (width, height), (*style.PAPER, 255))
        top_edge, foot_edge = round(HEAD * text), height - round(FOOT * text)
        for top, tall, number in self._places():
            y = round(top_edge + top - self.scroll)
            if y + tall < top_edge or y > foot_edge:
                continue
            if number is None:
                state = self.rows[self._first_below(top)].worst.state
                count = sum(row.worst.state is state for row in self.rows)
                picture.paste(_heading(width, text, state, count), (0, y))
            else:
                picture.paste(self._row(self.rows[number], now, locked, number == chosen, units), (0, y))
        picture.paste(_head(width, text, len(self.rows)), (0, 0))
        picture.paste(_foot(width, round(FOOT * text), text), (0, foot_edge))
        self._scrollbar(ImageDraw.Draw(picture), top_edge, foot_edge)
        return picture

    def _row(
        self, row: Row, now: Mapping[Key, Finding], locked: tuple[str, ...], chosen: bool, units: Length
    ) -> Image.Image:
        worst, width, text = row.worst, self._size[0], self._text
        if row.key is None:
            mine = worst.part in locked
            value = "locks here" if mine else "moves here"
            state = State.LOCKED if mine else State.CLEAR
            return _row_picture(width, text, worst.where, worst.what, state, value, None, None, chosen)
        here = now.get(row.key)
        if here is None:
            name = row.key[1]
            return _row_picture(width, text, name, worst.what, None, "not measured here", None, None, chosen)
        limit = "" if here.limit is None else f" of {limit_text(here, units)}"
        value = (
            f"{used_text(here, units)}{limit.replace(' of at least', ', at least').replace(' of advised', ', advised')}"
        )
        shares = (None, None) if here.limit is None else (_step(here.share), _step(worst.share))
        return _row_picture(width, text, here.where, what_text(here), here.state, value, *shares, chosen)

    def _places(self) -> list[tuple[float, float, int | None]]:
        """Top, height in px and number of every row, and of the groups' headings, which have none."""
        places: list[tuple[float, float, int | None]] = []
        top, text = 0.0, self._text
        for _, group in groupby(enumerate(self.rows), lambda each: each[1].worst.state):
            places.append((top, HEADING * text, None))
            top += HEADING * text
            for number, _ in group:
                places.append((top, ROW * text, number))
                top += ROW * text
        return places

    def _first_below(self, top: float) -> int:
        return next(row for below, _, row in self._places() if below > top and row is not None)

    def _tall(self) -> float:
        places = self._places()
        return places[-1][0] + places[-1][1] if places else 0.0

    def _scrollbar(self, draw: ImageDraw.ImageDraw, top: int, foot: int) -> None:
        room, tall, text = foot - top, self._tall(), self._text
        if tall > room:
            start, length = top + room * self.scroll / tall, room * room / tall
            x = self._size[0] - 0.4 * text
            draw.rounded_rectangle((x, start, x + 0.25 * text, start + length), 0.12 * text, fill=style.LINE)


def _step(share: float) -> float:
    """A share of a limit as it is drawn: in hundredths, so that pictures are found again."""
    return round(min(share, BAR_END), 2)


@lru_cache(maxsize=8)
def _head(width: int, text: int, count: int) -> Image.Image:
    picture = Image.new("RGBA", (width, round(HEAD * text)), (*style.PAPER, 255))
    draw = ImageDraw.Draw(picture)
    draw.text((0.9 * text, 1.05 * text), "At this pose", font=style.font(round(1.1 * text), bold=True), fill=style.INK,
              anchor="lm")  # fmt: skip
    told = f"{count} measured, worst of the travel first"
    small = style.font(round(SMALL * text))
    told = cut(told, small, width - 1.8 * text)
    draw.text((0.9 * text, 2.3 * text), told, font=small, fill=style.QUIET_INK, anchor="lm")
    return picture


@lru_cache(maxsize=8)
def _foot(width: int, height: int, text: int) -> Image.Image:
    picture = Image.new("RGBA", (width, height), (*style.PAPER, 255))
    draw = ImageDraw.Draw(picture)
    draw.line((0, 0, width, 0), fill=style.LINE)
    small = style.font(round(SMALL * text))
    draw.text((0.9 * text, 0.5 * height), cut(FOOT_TEXT, small, width - text), font=small, fill=style.QUIET_INK,
              anchor="lm")  # fmt: skip
    return picture


@lru_cache(maxsize=32)
def _heading(width: int, text: int, state: State, count: int) -> Image.Image:
    picture = Image.new("RGBA", (width, round(HEADING * text)), (*style.STRIP, 255))
    draw = ImageDraw.Draw(picture)
    middle = 0.5 * HEADING * text
    draw_sign(draw, (1.4 * text, middle), 0.42 * text, state)
    words, colour = f"{HEADINGS[state]}: {count}", style.STATES[state].colour
    draw.text((2.3 * text, middle), words, font=style.font(round(SMALL * text), bold=True), fill=colour, anchor="lm")
    return picture


@lru_cache(maxsize=256)
def _row_ground(width: int, text: int, where: str, what: str, bar: bool, chosen: bool) -> Image.Image:
    """What is the same in every pose of a row."""
    ground = ACCENT_GROUND if chosen else style.PAPER
    picture = Image.new("RGBA", (width, round(ROW * text)), (*ground, 255))
    draw = ImageDraw.Draw(picture)
    bold, small = style.font(text, bold=chosen), style.font(round(SMALL * text))
    draw.text((2.3 * text, 0.85 * text), cut(where, bold, width - 6.6 * text), font=bold, fill=style.INK, anchor="lm")
    draw.text((2.3 * text, 1.95 * text), cut(what, small, 0.42 * width), font=small, fill=style.QUIET_INK, anchor="lm")
    if chosen:
        draw.rectangle((0, 0, 0.3 * text, picture.height), fill=ACCENT)
    if bar:
        draw.rectangle((*_bar(width, text, 0.0), *_bar(width, text, BAR_END, 0.16)), fill=style.LINE)
        left, top = _bar(width, text, 1.0)
        draw.line((left, top - 0.16 * text, left, top + 0.32 * text), fill=style.INK, width=max(1, text // 10))
    return picture


def _bar(width: int, text: int, share: float, down: float = 0.0) -> tuple[float, float]:
    """A place on a row's bar at a share of the limit."""
    left, right = 2.3 * text, width - text
    return left + (right - left) * share / BAR_END, (2.52 + down) * text


@lru_cache(maxsize=512)
def _row_picture(
    width: int,
    text: int,
    where: str,
    what: str,
    state: State | None,
    value: str,
    share: float | None,
    worst: float | None,
    chosen: bool,
) -> Image.Image:
    """A row: state, place and word, the value against its limit, and a bar that ends a quarter past the limit."""
    picture = _row_ground(width, text, where, what, share is not None, chosen).copy()
    draw = ImageDraw.Draw(picture)
    edge = width - text
    if state is not None:
        look = style.STATES[state]
        draw_sign(draw, (1.4 * text, 0.85 * text), 0.46 * text, state)
        small = style.font(round(SMALL * text), bold=True)
        draw.text((edge, 0.85 * text), look.word, font=small, fill=look.colour, anchor="rm")
    small = style.font(round(SMALL * text))
    told = cut(value, small, edge - 2.7 * text - min(0.42 * width, small.getlength(what)))
    draw.text((edge, 1.95 * text), told, font=small, fill=style.INK, anchor="rm")
    if share is not None and worst is not None and state is not None:
        draw.rectangle(
            (*_bar(width, text, 0.0), *_bar(width, text, max(share, 0.0), 0.16)), fill=style.STATES[state].colour
        )
        x, y = _bar(width, text, max(worst, 0.0), 0.08)
        draw.polygon(
            [(x, y + 0.1 * text), (x - 0.2 * text, y + 0.42 * text), (x + 0.2 * text, y + 0.42 * text)],
            fill=style.QUIET_INK,
        )
    return picture
