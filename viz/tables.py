"""Small tables of words, and the numbers in their cells; `check` prints them, the sheet holds them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from model.units import Length, degrees_text
from viz.words import MINUS, NOTHING, both_names, both_of

# An angle (rad) that is printed as more than 0.0°.
LEAST_SHOWN = math.radians(0.05)


@dataclass(frozen=True)
class TextTable:
    """A small table of texts; the first cell of a row names it, `hand` heads an empty column to write in."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
    hand: str = ""


@dataclass(frozen=True)
class Section:
    """A heading with its tables."""

    title: str
    tables: tuple[TextTable, ...]


MOMENTS = (
    "Moments in these tables are what rubber or a linkage carries, worked out from the scene; none of them is a torque "
    "to tighten anything to."
)


def both_sides(rows: Sequence[tuple[str, ...]], *, signs: bool = False) -> tuple[tuple[str, ...], ...]:
    """Rows of a left and a right part that say the same as one.

    Without `signs` those are left aside, and the left one's are kept: both sides do the same, mirrored.
    """
    merged: list[tuple[str, ...]] = []
    texts = [[cell if signs else cell.lstrip(f"+-{MINUS}") for cell in row[1:]] for row in rows]
    gone: set[int] = set()
    for number, row in enumerate(rows):
        if number in gone:
            continue
        names = set(both_names(row[0]) or ())
        twin = next(
            (
                other
                for other in range(number + 1, len(rows))
                if names == {row[0], rows[other][0]} and texts[other] == texts[number]
            ),
            None,
        )
        if twin is None:
            merged.append(row)
        else:
            gone.add(twin)
            left = min(row, rows[twin], key=lambda either: either[0])
            merged.append((both_of(row[0]), *left[1:]))
    return tuple(merged)


def angle_text(radians: float | None, *, signed: bool = False) -> str:
    """An angle in degrees; a dash where there is none."""
    if radians is None:
        return NOTHING
    degrees = math.degrees(radians)
    return f"{degrees:+.1f}°" if signed and abs(degrees) >= 0.05 else degrees_text(abs(degrees) if signed else degrees)


def moment_text(newton_mm: float | None, units: Length) -> str:
    """A moment; a dash where there is none."""
    if newton_mm is None:
        return NOTHING
    return units.moment_text(newton_mm)


def height_text(place: str | float, units: Length) -> str:
    """Where a bush was tightened, in words."""
    words = {"ride": "at ride height", "droop": "hanging at full droop", "bump": "at full bump"}
    if isinstance(place, str):
        return words[place]
    return f"{units.text(abs(place))} {'above' if place >= 0.0 else 'below'} ride height"
