"""The list of findings at the window's left: grouped by the worst over the travel, each with its state at this pose."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

import numpy as np
from PIL import Image, ImageDraw

from model.measures import GAP
from model.units import Length
from model.verdicts import Finding, State
from viz import style
from viz.marks import draw_sign
from viz.windowoverlay import Pixels
from viz.windowpaint import SMALL, cut
from viz.windowpose import Key, key_of
from viz.windowrows import ROW, Look, look_of, paint_row
from viz.words import NOTHING, used_text

HEADINGS = {
    State.LOCKED: "Locks on the way",
    State.OVER: "Over on the way",
    State.CLOSE: "Close on the way",
    State.CLEAR: "Clear all the way",
    State.UNJUDGED: "Without a limit",
}
# Heights in letters: of the panel's head and foot, a group's heading.
HEAD, FOOT, HEADING = 3.0, 2.0, 1.9
FOOT_TEXT = "n next, b before, or click"
# Why a row has no number in this pose.
LOCKED_HERE, RIDE_ONLY, WHOLE_TRAVEL = "not reached", "at ride height only", "of the whole travel"
MEASURING = f"{NOTHING} measuring"


@dataclass(frozen=True)
class Row:
    """A finding in its worst pose, and the curve that it is the worst point of; None for a lock."""

    worst: Finding
    key: Key | None


def rows_of(findings: Sequence[Finding]) -> list[Row]:
    """Findings, worst first, as rows."""
    return [Row(finding, key_of(finding)) for finding in findings]


@dataclass(frozen=True)
class Here:
    """What the list tells of a pose: its findings, what can be followed, members that lock it, and what is awaited."""

    found: Mapping[Key, Finding]
    followed: Collection[Key]
    locked: tuple[str, ...]
    units: Length
    gaps_awaited: bool = False

    def look(self, row: Row, *, chosen: bool) -> Look:
        """What a row shows."""
        worst = row.worst
        if row.key is None:
            mine = worst.part in self.locked
            words, state = ("locks here", State.LOCKED) if mine else ("moves here", State.CLEAR)
            return Look(worst.where, worst.what, state, words)
        here = self.found.get(row.key)
        if here is not None:
            return look_of(here, worst, self.units)
        if worst.what == GAP:
            # A gap takes a moment to measure: only the chosen one is.
            smallest = "touching" if worst.used <= 0.0 else used_text(worst, self.units)
            why = LOCKED_HERE if self.locked else MEASURING if chosen else f"{NOTHING} here, {smallest} at its worst"
        elif row.key not in self.followed:
            why = WHOLE_TRAVEL
        else:
            why = LOCKED_HERE if self.locked else RIDE_ONLY
        return Look(row.key[1], worst.what, None, "", why)


@dataclass(frozen=True)
class _Place:
    """Where a row, or the heading of a state's rows, is: px from the list's own upper edge, and its height."""

    top: float
    tall: float
    row: int | None
    heading: tuple[State, int]

    @property
    def middle(self) -> float:
        """Half way down it."""
        return self.top + 0.5 * self.tall


class FindingList:
    """The panel; it remembers how far it is scrolled and where its rows are."""

    def __init__(self) -> None:
        """Begin with nothing to list."""
        self.rows: list[Row] = []
        self.scroll = 0.0
        self._text, self._size = 12, (1, 1)
        self._canvas: Pixels = np.zeros((1, 1, 4), dtype=np.uint8)
        self._painted: dict[int, object] = {}
        self._placed: list[_Place] = []
        self._placed_for: object = None
        self._clean: object = None

    def sized(self, size: tuple[int, int], text: int) -> None:
        """Take a size (width, height) in px and that of letters."""
        self._size, self._text = size, text
        self._canvas = np.zeros((size[1], size[0], 4), dtype=np.uint8)
        self.scrolled(0.0)

    def scrolled(self, by: float) -> None:
        """Scroll down by so many px, as far as there is something to see."""
        room = self._size[1] - (HEAD + FOOT) * self._text
        self.scroll = min(max(self.scroll + by, 0.0), max(0.0, self._tall() - room))

    def reveal(self, number: int) -> None:
        """Scroll so that a row is in sight."""
        for place in self._places():
            if place.row == number:
                room = self._size[1] - (HEAD + FOOT) * self._text
                self.scroll = min(max(self.scroll, place.top + place.tall - room), place.top)

    def at(self, y: float) -> int | None:
        """The row at a height in px from the panel's upper edge."""
        inside = y - HEAD * self._text
        if not 0.0 <= inside < self._size[1] - (HEAD + FOOT) * self._text:
            return None
        inside += self.scroll
        rows = (place.row for place in self._places() if place.top <= inside < place.top + place.tall)
        return next((row for row in rows if row is not None), None)

    def row_middle(self, number: int) -> float | None:
        """Height in px of the middle of a row from the panel's upper edge; None where it is out of sight."""
        room = self._size[1] - (HEAD + FOOT) * self._text
        middles = (place.middle - self.scroll for place in self._places() if place.row == number)
        return next((HEAD * self._text + middle for middle in middles if 0.0 <= middle < room), None)

    def picture(self, here: Here, chosen: int | None) -> Pixels:
        """Paint the panel for a pose; what is shown already is left, and the pixels are the same array as before."""
        (width, height), text, canvas = self._size, self._text, self._canvas
        top_edge, foot_edge = round(HEAD * text), height - round(FOOT * text)
        if self._clean != (key := (self._size, text, self.scroll, self.rows, here.gaps_awaited)):
            self._clean = key
            self._painted.clear()
            canvas[:] = (*style.PAPER, 255)
            canvas[:top_edge] = _head(width, text, len(self.rows), here.gaps_awaited)
            canvas[foot_edge:] = _foot(width, height - foot_edge, text)
        for place in self._places():
            y, tall = round(top_edge + place.top - self.scroll), round(place.tall)
            above, below = max(top_edge - y, 0), min(foot_edge - y, tall)
            if below <= above:
                continue
            mine = place.row is not None and place.row == chosen
            shown = None if place.row is None else here.look(self.rows[place.row], chosen=mine)
            if self._painted.get(y) == (shown, mine, place.heading):
                continue
            self._painted[y] = shown, mine, place.heading
            piece = np.empty((tall, width, 4), dtype=np.uint8)
            if shown is None:
                piece[:] = _heading(width, text, *place.heading)
            else:
                paint_row(piece, text, shown, chosen=mine)
            canvas[y + above : y + below] = piece[above:below]
        self._scrollbar(top_edge, foot_edge)
        return canvas

    def _places(self) -> list[_Place]:
        """Every row and the headings of their states, from the top."""
        if self._placed_for != (self.rows, self._text):
            self._placed_for, self._placed, top, text = (self.rows, self._text), [], 0.0, self._text
            for state, group in groupby(enumerate(self.rows), lambda each: each[1].worst.state):
                numbers = [number for number, _ in group]
                for tall, row in ((HEADING * text, None), *((ROW * text, number) for number in numbers)):
                    self._placed.append(_Place(top, tall, row, (state, len(numbers))))
                    top += tall
        return self._placed

    def _tall(self) -> float:
        places = self._places()
        return places[-1].top + places[-1].tall if places else 0.0

    def _scrollbar(self, top: int, foot: int) -> None:
        room, tall, text = foot - top, self._tall(), self._text
        if tall > room:
            start, length = top + room * self.scroll / tall, room * room / tall
            x, wide = round(self._size[0] - 0.4 * text), max(2, round(0.25 * text))
            self._canvas[round(start) : round(start + length), x : x + wide] = (*style.LINE, 255)


@lru_cache(maxsize=8)
def _head(width: int, text: int, count: int, awaited: bool) -> Pixels:
    picture = Image.new("RGBA", (width, round(HEAD * text)), (*style.PAPER, 255))
    draw = ImageDraw.Draw(picture)
    draw.text((0.9 * text, 1.05 * text), "At this pose", font=style.font(round(1.1 * text), bold=True), fill=style.INK,
              anchor="lm")  # fmt: skip
    told = f"{count} measured, {'gaps are still to come' if awaited else 'worst of the travel first'}"
    small = style.font(round(SMALL * text))
    told = cut(told, small, width - 1.8 * text)
    draw.text((0.9 * text, 2.3 * text), told, font=small, fill=style.QUIET_INK, anchor="lm")
    return np.asarray(picture)


@lru_cache(maxsize=8)
def _foot(width: int, height: int, text: int) -> Pixels:
    picture = Image.new("RGBA", (width, height), (*style.PAPER, 255))
    draw = ImageDraw.Draw(picture)
    draw.line((0, 0, width, 0), fill=style.LINE)
    small = style.font(round(SMALL * text))
    draw.text((0.9 * text, 0.5 * height), cut(FOOT_TEXT, small, width - text), font=small, fill=style.QUIET_INK,
              anchor="lm")  # fmt: skip
    return np.asarray(picture)


@lru_cache(maxsize=32)
def _heading(width: int, text: int, state: State, count: int) -> Pixels:
    picture = Image.new("RGBA", (width, round(HEADING * text)), (*style.STRIP, 255))
    draw = ImageDraw.Draw(picture)
    middle = 0.5 * HEADING * text
    draw_sign(draw, (1.4 * text, middle), 0.42 * text, state)
    words, colour = f"{HEADINGS[state]}: {count}", style.STATES[state].colour
    draw.text((2.3 * text, middle), words, font=style.font(round(SMALL * text), bold=True), fill=colour, anchor="lm")
    return np.asarray(picture)
