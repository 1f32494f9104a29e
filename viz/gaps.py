"""The smallest distance between two parts as it is drawn: a dimension line with its number, and how it is looked at."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from PIL import ImageDraw

from model.errors import DrawingError
from model.spatial import Array
from model.triangles import Mesh
from model.units import Length
from model.verdicts import State
from viz import style
from viz.labels import Scale, Spot
from viz.views import GAP, unknown_name

# The finding that a gap is judged by, and what stands between the names of its two parts.
BETWEEN = " – "
# Parts that overlap touch, whatever else is said of them.
TOUCHES = "touches"
# A dimension line's tick and the arrow before it, as shares of a ring's radius; below this many arrows there is no
# room for them between the ticks, and they point at them from outside.
TICK, ARROW, TAIL, ROOM = 0.8, 0.5, 1.7, 3.0


@dataclass(frozen=True)
class GapMark:
    """One gap in one pose: two parts by their labels, their closest points `at` (2, 3), and the distance, in mm.

    A distance below zero is how deep the parts are in each other. `wanted` is None where nothing is asked for but that
    they do not touch; `typical` says that the figure is not the scene's own. `patches` are where the parts touch, one
    for each part or none, `measured` what is measured of a part where less of it is drawn (a spring's cylinder); both
    in vehicle coordinates of the pose.
    """

    labels: tuple[str, str]
    at: Array
    distance: float
    state: State
    wanted: float | None = None
    typical: bool = False
    patches: tuple[Mesh, ...] = ()
    measured: tuple[Mesh, ...] = ()

    @property
    def where(self) -> str:
        """The two parts, in words."""
        return BETWEEN.join(self.labels)

    @property
    def touches(self) -> bool:
        """Whether the parts touch or overlap."""
        return self.distance <= 0.0

    @property
    def word(self) -> str:
        """The state in a word; parts that touch are said to."""
        return TOUCHES if self.touches else style.STATES[self.state].word


def view_of(mark: GapMark) -> str:
    """The view that frames a gap."""
    return f"{GAP}{', '.join(mark.labels)}"


def gap_named(view: str, marks: Iterable[GapMark]) -> GapMark:
    """The gap that `gap:A, B` means, whichever of the two is named first.

    Raises:
        DrawingError: nothing, or nothing that is measured, has this pair of names.

    """
    marks = list(marks)
    first, second = pair_named(view, {label for mark in marks for label in mark.labels})
    found = next((mark for mark in marks if set(mark.labels) == {first, second}), None)
    if found is None:
        others = sorted({label for mark in marks if first in mark.labels for label in mark.labels} - {first})
        near = difflib.get_close_matches(second, others, n=3, cutoff=0.0)
        raise DrawingError(
            f'No gap is measured between "{first}" and "{second}", which move as one, are joined or never come near '
            f"each other; gaps of {first} are to {' or '.join(near)}."
        )
    return found


def pair_named(view: str, labels: Iterable[str]) -> tuple[str, str]:
    """The two labels of `gap:A, B`; a label may have a comma in it, and a dash with spaces parts them as well.

    Raises:
        DrawingError: one of them is missing or not among the labels.

    """
    text, known = view.removeprefix(GAP).strip(), sorted(labels)
    words = [
        (text[:at].strip(), text[at + len(mark) :].strip()) for mark in (",", BETWEEN) for at in _finds(text, mark)
    ]
    if not words:
        raise DrawingError(f'"{view}" names no two parts, expected {GAP}ONE PART, OTHER PART.')
    for first, second in words:
        if first in known and second in known and first != second:
            return first, second
    # One that is known says where the other begins.
    halves = next(((a, b) for a, b in words if a in known or b in known), words[0])
    raise unknown_name(next((half for half in halves if half not in known), halves[1]), known)


def _finds(text: str, mark: str) -> list[int]:
    return [at for at in range(len(text)) if text.startswith(mark, at)]


def gap_lines(mark: GapMark, units: Length) -> list[str]:
    """A gap's label: its state and its parts, then the number against what is wanted."""
    wanted = "" if mark.wanted is None else f", wanted {units.text(mark.wanted)}{' (typical)' * mark.typical}"
    if mark.touches:
        depth = f"{units.text(-mark.distance)} into each other" if mark.distance < 0.0 else "no gap"
        return [f"{mark.word}: {mark.where}", f"{depth}{wanted}"]
    return [f"{mark.word}: {mark.where}", f"gap {units.text(mark.distance)}{wanted}"]


def kept_free(at: Array, scale: Scale) -> tuple[Spot, float, list[Spot], float]:
    """What labels keep off: a dimension line's middle with a radius in px, and more spots along it with theirs."""
    start, stop = at
    length = float(np.hypot(*(stop - start)))
    if not is_roomy(at, scale):
        middle = 0.5 * (start + stop)
        return (float(middle[0]), float(middle[1])), 0.5 * length + TAIL * scale.ring, [], 0.0
    radius = TICK * scale.ring
    share = np.linspace(0.0, 1.0, max(3, 1 + int(length / radius)))[:, None]
    spots = [(float(x), float(y)) for x, y in start + share * (stop - start)]
    middle = spots.pop(len(spots) // 2)
    return middle, 0.5 * radius, spots, radius


def draw_dimension(draw: ImageDraw.ImageDraw, at: Array, state: State, scale: Scale) -> None:
    """A dimension line between two points (2, 2) in px: a tick across each end, and arrows that meet the ticks.

    Where there is no room between the ticks, the arrows point at them from outside, and the gap stays in sight.
    """
    start, stop = np.asarray(at, dtype=float)
    length = float(np.hypot(*(stop - start)))
    along = (stop - start) / length if length > 1e-6 else np.array([1.0, 0.0])
    cross = np.array([-along[1], along[0]])
    colour, line = style.STATES[state].colour, max(2, scale.line - 1)
    lines, tips, roomy = [], [], is_roomy(np.stack([start, stop]), scale)
    for end, out in ((start, -along), (stop, along)):
        lines.append((end - TICK * scale.ring * cross, end + TICK * scale.ring * cross))
        if roomy:
            tips.append((end, out))
        else:
            lines.append((end + out * 0.5 * ARROW * scale.ring, end + out * TAIL * scale.ring))
            tips.append((end, -out))
    if roomy:
        inset = 0.5 * ARROW * scale.ring * along
        lines.append((start + inset, stop - inset))
    arrows = [_arrow(tip, way, ARROW * scale.ring) for tip, way in tips]
    for grow, ink in ((2, style.PAPER), (0, colour)):
        for a, b in lines:
            draw.line((*a, *b), fill=ink, width=line + 2 * grow)
        for arrow in arrows:
            draw.polygon(arrow, fill=ink, outline=ink, width=1 + 2 * grow)


def is_roomy(at: Array, scale: Scale) -> bool:
    """Whether arrows have room between the ticks at two points (2, 2) in px."""
    return float(np.hypot(*(at[1] - at[0]))) >= ROOM * ARROW * scale.ring


def _arrow(tip: Array, way: Array, size: float) -> list[Spot]:
    """A slim arrow head that points along `way` (2,) to its tip."""
    foot, cross = tip - size * way, 0.3 * size * np.array([-way[1], way[0]])
    return [(float(x), float(y)) for x, y in (tip, foot + cross, foot - cross)]
