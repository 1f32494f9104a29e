"""Usable travel as plain text: each motion a bar from ride height outwards, its stops numbered."""

from __future__ import annotations

from collections.abc import Sequence

from model.reaches import Reach
from model.units import Length
from viz.travelwords import Mark, Side, bars_of, spread

TEXT_WIDTH = 64


def text_bars(reaches: Sequence[Reach], units: Length) -> str:
    """The same for a terminal, 67 letters wide but for the words below each bar, which say what its numbers are."""
    bars = bars_of(reaches, units)
    if not bars:
        return ""
    parts = ["= usable   - asked for, out of reach   . beyond   | ride height   * typical limit"]
    for bar in bars:
        extent = max(bar.back.extent, bar.out.extent)
        columns = (TEXT_WIDTH // 2 - 1) / extent
        (back_tags, back), (out_tags, out) = (_half_text(side, columns) for side in (bar.back, bar.out))
        parts += ["", bar.title, f"  {back_tags[::-1]} {out_tags}".rstrip(), f"  {back[::-1]}|{out}".rstrip()]
        for side in (bar.back, bar.out):
            parts.append(f"  {side.head}")
            parts += [f"    {_digit(number)}  {mark.words} ({mark.weight})" for number, mark in enumerate(side.marks)]
    return "\n".join(parts) + "\n"


def _half_text(side: Side, columns: float) -> tuple[str, str]:
    """Tags and bar of one side from ride height outwards, one letter for each column."""
    half = TEXT_WIDTH // 2
    drawn = "".join(_fill(side, (column + 0.5) / columns) for column in range(half)).rstrip()
    tags = [" "] * half
    places = spread([float(_column(mark, columns)) for mark in side.marks], 1.0, (0.0, half - 1.0), 1.0)
    for number, place in enumerate(places):
        tags[round(place)] = _digit(number)
    return "".join(tags), drawn.ljust(half)


def _column(mark: Mark, columns: float) -> int:
    return round(mark.amount * columns)


def _fill(side: Side, amount: float) -> str:
    if amount <= side.usable:
        return "="
    return "-" if amount <= side.asked else "." if amount <= side.extent else " "


def _digit(number: int) -> str:
    """A stop's own sign in one letter: 1 to 9, then a to z."""
    return "123456789abcdefghijklmnopqrstuvwxyz"[number % 35]
