"""The window's face: where its panels stand, what they show, and what of them is at a place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from model.measures import Measure
from model.spatial import Array
from model.units import Length
from model.verdicts import Finding, State, Verdict
from viz.curve import CurveStrip
from viz.gaps import GapMark
from viz.labels import Box
from viz.windowbar import Bar, Slider, amount_text, caption, chip_at, chips, inside
from viz.windowcurve import CurvePanel
from viz.windowkeys import HELP, HELP_FOOT, RUN_WORDS, Act
from viz.windowlist import FindingList, Here
from viz.windowlive import Live
from viz.windowmarks import Marks
from viz.windowoverlay import Overlay, Pixels
from viz.windowpaint import count_words, empty_strip, help_card, notice
from viz.windowpose import Key
from viz.windowscreen import screen_scale

# Letters in px in a window of the plain size, and the smallest that can be read.
LETTER, SMALLEST, PLAIN = 15.0, 10.0, (1440.0, 900.0)
# Width of the list and height of the curve, in letters, and the margin about cards.
LIST, CURVE, PAD = 22.0, 5.4, 0.8
# Ride height is named below the curve where it is this share of the travel away from both ends.
NAME_ROOM = 0.25
NO_CURVE = "No curve: what is chosen is not followed from pose to pose."


@dataclass(frozen=True)
class Shown:
    """What the face shows beside the pose."""

    on: frozenset[Act]
    mistake: tuple[str, ...]
    note: str
    help: bool
    gap: GapMark | None = None


@dataclass(frozen=True)
class Hit:
    """What is at a place: a row of the list, a slider, a switch or button; `list` is true anywhere on the list."""

    row: int | None = None
    slider: int | None = None
    act: Act | None = None
    list: bool = False
    view: bool = False


class Face:
    """Everything that is drawn by letters and lines over a plotter's window."""

    def __init__(self, plotter: Any) -> None:
        """Make the panels; `arrange` gives them their places."""
        self.overlay = Overlay(plotter)
        self._least = SMALLEST * screen_scale(plotter)
        self.findings, self.bar = FindingList(), Bar()
        self.marks = Marks(self.overlay)
        names = ("list", "bar", "curve", "caption", "chips", "beyond", "mistake", "note", "help")
        self._sprites = {name: self.overlay.sprite() for name in names}
        self.size, self.text = (0, 0), 12
        self._strip: CurvePanel | None = None
        self._strip_of: tuple[Any, ...] = ()
        self._painted: dict[str, Any] = {}

    @property
    def view(self) -> Box:
        """Where the parts are drawn: left, top, right, bottom in px."""
        return LIST * self.text, 0.0, float(self.size[0]), self.size[1] - self.bar.size[1] - round(CURVE * self.text)

    def arrange(self) -> bool:
        """Fit the panels to the window; whether its size is another."""
        size = self.overlay.size
        if size == self.size:
            return False
        self.size = size
        share = min(size[0] / PLAIN[0], size[1] / PLAIN[1])
        self.text = round(max(self._least, LETTER * share))
        wide = round(LIST * self.text)
        self.findings.sized((wide, size[1]), self.text)
        self.bar.sized(max(1, size[0] - wide), self.text)
        self._painted.clear()
        return True

    def at(self, spot: tuple[float, float], sliders: int) -> Hit:
        """What is at a place in px of the window, with so many sliders in the bar."""
        boxes = {name: sprite.box for name, sprite in self._sprites.items()}
        if inside(boxes["help"], spot):
            return Hit(act=Act.HELP)
        box = boxes["chips"]
        if box is not None and inside(box, spot):
            return Hit(act=chip_at(spot[1] - box[1], self.text))
        if spot[0] < LIST * self.text:
            return Hit(row=self.findings.at(spot[1]), list=True)
        box = boxes["bar"]
        if box is not None and inside(box, spot):
            if self.bar.plays_at(spot[0] - box[0]):
                return Hit(act=Act.PLAY)
            return Hit(slider=self.bar.slider_at(spot[0] - box[0], sliders))
        return Hit(view=spot[1] < self.view[3])

    def amount_at(self, x: float, number: int, sliders: list[Slider]) -> float:
        """The amount that a slider gets at a place in px from the window's left edge."""
        return self.bar.amount_at(x - round(LIST * self.text), number, sliders[number], len(sliders))

    def paint(self, live: Live, verdict: Verdict, found: Mapping[Key, Finding], shown: Shown) -> None:
        """Show all panels as they are now; those that look the same are left alone."""
        units = live.scene.units
        left, top, right, bottom = self.view
        pad = PAD * self.text
        locked = live.rail.locked(live.pose)
        sliders = live.sliders()
        self.findings.rows = live.rows
        key = (live.rail, live.pose, live.rows, live.chosen, self.findings.scroll, shown.gap)
        if self._changed("list", key):
            here = Here(found, live.rail.followed, locked, units, live.judged.gaps is None)
            self._sprites["list"].show_pixels(self.findings.picture(here, live.chosen), 0, 0)
        if self._changed("bar", (sliders, live.run, live.playing)):
            picture = self.bar.picture(sliders, live.run, live.playing, units)
            self._sprites["bar"].show_pixels(picture, round(left), self.size[1] - self.bar.size[1])
        if self._changed("curve", (live.rail, live.pose, live.chosen, live.rows)):
            self._sprites["curve"].show_pixels(self._curve(live, units), round(left), round(bottom))
        switches = chips(self.text, shown.on)
        self._sprites["chips"].show(switches, right - pad - switches.width, top + pad)
        room = right - left - 3 * pad - switches.width
        words = live.rail.words(live.pose, units)
        told = count_words([finding.state for finding in verdict.findings])
        told = f"{told} at this pose"
        head = caption(round(room), self.text, live.scene.mechanism.title, words, told, verdict.state, bool(locked))
        self._sprites["caption"].show_pixels(head, left + pad, top + pad)
        below = top + 2 * pad + head.shape[0]
        below += self._tell("beyond", live.rail.beyond(live.pose), State.LOCKED, left + pad, below, round(room))
        self._tell("mistake", shown.mistake, State.OVER, left + pad, below, round(room))
        if shown.note:
            card = notice(self.text, round(room), (shown.note,), None)
            self._sprites["note"].show(card, left + pad, bottom - pad - card.height)
        else:
            self._sprites["note"].hide()
        if shown.help:
            card = help_card(self.text, HELP, HELP_FOOT)
            self._sprites["help"].show(card, 0.5 * (self.size[0] - card.width), 0.5 * (self.size[1] - card.height))
        else:
            self._sprites["help"].hide()

    def mark(self, at: Array, gap: tuple[GapMark, Array] | None, units: Length, *, labels: bool) -> None:
        """Stand the marks at places (k, 2), a gap's line between (2, 2), in px from the upper left corner of `view`."""
        left, top, right, bottom = self.view
        taken = [
            box
            for name in ("caption", "chips", "beyond", "mistake", "note")
            if (box := self._sprites[name].box) is not None
        ]
        corner, frame = np.array([left, top]), (left, top, right, bottom)
        placed = None if gap is None else (gap[0], gap[1] + corner)
        self.marks.show(at + corner, frame, taken, self.text, units, labels=labels, gap=placed)

    def _tell(self, name: str, lines: tuple[str, ...], state: State, left: float, top: float, room: int) -> float:
        """Show sentences on a card, or none; how much room in px it takes with what is left free below it."""
        if not lines:
            self._sprites[name].hide()
            return 0.0
        told = notice(self.text, room, lines, state)
        self._sprites[name].show(told, left, top)
        return told.height + PAD * self.text

    def _curve(self, live: Live, units: Length) -> Pixels:
        """The curve of what is chosen over the travel that moves, with a dot at the pose."""
        measure = live.curve
        size = (max(1, self.size[0] - round(LIST * self.text)), round(CURVE * self.text))
        if measure is None or not np.isfinite(measure.values).any():
            return empty_strip(size, self.text, NO_CURVE)
        key = (live.rail, measure.what, measure.where, size)
        if self._strip is None or self._strip_of != key:
            self._strip_of = key
            self._strip = CurvePanel(_strip(live, measure, size, units))
        return self._strip.picture(live.pose)

    def _changed(self, name: str, key: Any) -> bool:
        """Whether a panel has to be painted, remembering that it is."""
        before = self._painted.get(name)
        self._painted[name] = key
        return bool(before != key)


def _strip(live: Live, measure: Measure, size: tuple[int, int], units: Length) -> CurveStrip:
    rail = live.rail
    low, high = float(rail.amounts[0]), float(rail.amounts[-1])
    runs = [(f"{RUN_WORDS[rail.run]} {amount_text(rail.run, low, units)}", 0)]
    if low + NAME_ROOM * (high - low) < 0.0 < high - NAME_ROOM * (high - low):
        runs.append((amount_text(rail.run, 0.0, units), rail.nearest(0.0)))
    runs.append((amount_text(rail.run, high, units), len(rail.amounts) - 1))
    return CurveStrip(measure, rail.poses, size, units, runs)
