"""Lengths as dimension lines: drawn beside what they measure, where the picture is free, with their numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from model.errors import DrawingError
from model.spans import Span
from model.spatial import Array
from model.units import Length
from viz import style
from viz.labels import Box, Scale
from viz.views import near_names

# How far beside its points a line may stand, in rings, to either side: from on them to where it is hard to follow.
OFFSETS = (1.6, 2.6, 3.8, 5.2, 7.0, 9.0, 12.0)
# What it costs, as a share of the line that covers something, to stand a ring farther away.
AWAY = 0.03
# A number that covers something is worse than a line that does: so many times.
HIDING = 4.0
# A number that lies over one of the line's own ends.
ON_END = 3.0
# Lines shorter than this many rings have no room for two arrows.
SHORTEST = 1.4
# Spots along a line at which it is seen whether it covers something, and beside which other labels keep off.
SPOTS = 24
# Lines are drawn this many times larger.
FINE = 2
# An extension line begins and ends this many rings from its point and beyond the line; an arrow's length and its half
# width in rings.
CLEAR, BEYOND, ARROW, SLIM = 0.3, 0.35, 0.62, 0.17


@dataclass(frozen=True)
class Dimension:
    """One length in a picture: the points (2, 2) in px that it is between, the line's ends (2, 2), its text's box."""

    text: str
    points: Array
    line: Array
    label: Box


def spans_named(names: Sequence[str], known: Iterable[Span]) -> list[Span]:
    """The lengths that a person asks for, in that order.

    Raises:
        DrawingError: no length has one of the names.

    """
    by_name = {span.name: span for span in known}
    for name in names:
        if name not in by_name:
            near = near_names(name, list(by_name))
            raise DrawingError(f'There is no length "{name}" to measure; the nearest names are {near}.')
    return [by_name[name] for name in dict.fromkeys(names)]


def place_dimensions(
    spans: Sequence[tuple[Span, Array]],
    pose: int,
    units: Length,
    busy: NDArray[np.bool_],
    scale: Scale,
    taken: Sequence[Box] = (),
) -> list[Dimension]:
    """Find a place for each length; none where there is no room for it.

    Args:
        spans: each with its two points (2, 2) in px.
        pose: number of the pose that is drawn.
        units: the person's unit of length.
        busy: (height, width), true where the picture shows something.
        scale: of the picture.
        taken: boxes in px that no number may meet.

    """
    placed: list[Dimension] = []
    kept = list(taken)
    for span, points in spans:
        found = _placed(_text(span, pose, units), points, busy, scale, kept)
        if found is not None:
            placed.append(found)
            kept += kept_off(found, scale)
    return placed


def kept_off(dimension: Dimension, scale: Scale) -> list[Box]:
    """Boxes in px that other labels keep off: the number, and what is along the line."""
    half = 0.4 * scale.ring
    spots = dimension.line[0] + np.linspace(0.0, 1.0, SPOTS)[:, None] * (dimension.line[1] - dimension.line[0])
    return [dimension.label, *((x - half, y - half, x + half, y + half) for x, y in spots.tolist())]


def end_on(asked: Iterable[Span], found: Iterable[Dimension], pose: int, units: Length) -> list[str]:
    """Lengths that were asked for and have no room from where the picture is looked at, for the caption."""
    drawn = {one.text for one in found}
    return [text for span in asked if (text := _text(span, pose, units)) not in drawn]


def draw_dimensions(picture: Image.Image, found: Sequence[Dimension]) -> None:
    """Draw lines with arrows between extension lines, each with its number across it."""
    if not found:
        return
    scale = Scale.of(picture.size)
    # Slanted lines are drawn larger and made smaller: their edges are then smooth.
    fine = Image.new("RGBA", (FINE * picture.width, FINE * picture.height), (*style.PAPER, 0))
    draw = ImageDraw.Draw(fine)
    for one in found:
        _draw_lines(draw, one, FINE * scale.ring, FINE * max(2, scale.line - 2))
    layer = fine.reduce(FINE)
    picture.paste(layer, (0, 0), layer)
    draw, face = ImageDraw.Draw(picture), _face(scale)
    for one in found:
        draw.rounded_rectangle(one.label, 0.25 * scale.text, fill=style.PAPER, outline=style.LINE)
        middle = 0.5 * (one.label[0] + one.label[2]), 0.5 * (one.label[1] + one.label[3])
        draw.text(middle, one.text, font=face, fill=style.INK, anchor="mm")


def _draw_lines(draw: ImageDraw.ImageDraw, one: Dimension, ring: float, width: int) -> None:
    points, line = FINE * one.points, FINE * one.line
    along = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
    inset = 0.5 * ARROW * ring * along
    lines, arrows = [(line[0] + inset, line[1] - inset)], []
    for point, end, way in zip(points, line, (along, -along), strict=True):
        aside = (end - point) / np.hypot(*(end - point))
        lines.append((point + CLEAR * ring * aside, end + BEYOND * ring * aside))
        foot, cross = end + ARROW * ring * way, SLIM * ring * np.array([-way[1], way[0]])
        arrows.append([(float(x), float(y)) for x, y in (end, foot + cross, foot - cross)])
    for grow, ink in ((2 * FINE, style.PAPER), (0, style.INK)):
        for start, stop in lines:
            draw.line((*start.tolist(), *stop.tolist()), fill=(*ink, 255), width=width + 2 * grow)
        for arrow in arrows:
            draw.polygon(arrow, fill=(*ink, 255), outline=(*ink, 255), width=1 + 2 * grow)


def _text(span: Span, pose: int, units: Length) -> str:
    return f"{span.name} {units.text(float(span.length[pose]))}"


def _face(scale: Scale) -> style.Font:
    return style.font(round(0.8 * scale.text), bold=True)


def _placed(text: str, points: Array, busy: NDArray[np.bool_], scale: Scale, kept: Sequence[Box]) -> Dimension | None:
    """Where a length covers least: to either side, near or farther, its number in the middle or beside it."""
    span = points[1] - points[0]
    length = float(np.hypot(*span))
    if length < SHORTEST * scale.ring:
        return None
    height, width = busy.shape
    across = np.array([-span[1], span[0]]) / length
    half = np.array([0.5 * _face(scale).getlength(text) + 0.5 * scale.text, 0.75 * scale.text])
    best: tuple[float, Dimension] | None = None
    for offset in OFFSETS:
        for side in (1.0, -1.0):
            line = points + side * offset * scale.ring * across
            spots = line[0] + np.linspace(0.0, 1.0, SPOTS)[:, None] * span
            for share in (0.5, 0.35, 0.65, 0.2, 0.8):
                middle = line[0] + share * span
                box: Box = (*(middle - half).tolist(), *(middle + half).tolist())
                inside = ((spots >= 0) & (spots < (width, height))).all()
                inside &= box[0] >= 0 and box[1] >= 0 and box[2] < width and box[3] < height
                if not inside or any(_meets(box, other) for other in kept):
                    continue
                if any(_within(spots, other) for other in kept):
                    continue
                # A number over an arrow, or over a line to a point, hides where the length begins.
                ends = sum(
                    _holds(box, end, ARROW * scale.ring)
                    or _within(point + np.linspace(0.0, 1.0, SPOTS)[:, None] * (end - point), box)
                    for point, end in zip(points, line, strict=True)
                )
                columns, rows = spots.astype(int).T
                hidden = busy[int(box[1]) : int(box[3]) + 1, int(box[0]) : int(box[2]) + 1].mean()
                cost = float(busy[rows, columns].mean()) + HIDING * float(hidden) + AWAY * offset + ON_END * ends
                cost += 0.1 * abs(share - 0.5)
                if best is None or cost < best[0]:
                    best = cost, Dimension(text, points, line, box)
    return None if best is None else best[1]


def _holds(box: Box, spot: Array, room: float) -> bool:
    """Whether a box reaches within some px of a spot (2,)."""
    x, y = spot
    return bool(box[0] - room < x < box[2] + room and box[1] - room < y < box[3] + room)


def _meets(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _within(spots: Array, box: Box) -> bool:
    x, y = spots.T
    return bool(((x > box[0]) & (x < box[2]) & (y > box[1]) & (y < box[3])).any())
