"""What is written over a picture: a mark and a label at each joint that is over or close, and the caption."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from model.findings import Finding, State
from model.spatial import Array
from model.units import Length
from viz import style
from viz.labels import Box, Scale, leader, place_labels
from viz.words import finding_text

MARKED = (State.LOCKED, State.OVER, State.CLOSE)
# Labels beyond these would cover the picture; the worst come first and the caption counts the rest.
MOST_LABELS = 8
# A close-up's ring goes around the whole joint, some mm from its middle.
JOINT_RADIUS = 46.0


@dataclass(frozen=True)
class Mark:
    """One marked place: its findings, worst first, where its ring is (x, y), the ring's radius and the label's box.

    All in px.
    """

    where: str
    state: State
    findings: tuple[Finding, ...]
    at: tuple[float, float]
    radius: float
    label: Box | None


def draw_rings(picture: Image.Image, findings: Sequence[Finding], at: Array, grain: Array) -> None:
    """Ring what is locked or over, each with its sign; a film has no time for labels.

    Args:
        picture: changed in place.
        findings: worst first.
        at: where each is (k, 2) in px.
        grain: scale (k,) of the picture there, px per mm.

    """
    scale = Scale.of(picture.size)
    draw = ImageDraw.Draw(picture)
    for finding, (x, y), size in zip(reversed(findings), at[::-1], grain[::-1], strict=True):
        if finding.state in (State.LOCKED, State.OVER):
            radius = ring_radius(scale, float(size))
            _ring(draw, (float(x), float(y)), radius, finding.state, scale)
            corner = (float(x) + 0.9 * radius, float(y) - 0.9 * radius)
            draw_sign(draw, corner, 0.5 * scale.ring, finding.state)


def ring_radius(scale: Scale, grain: float) -> float:
    """Radius in px of a ring where the picture's scale is `grain` px per mm: around the whole joint in a close-up."""
    return max(scale.ring, JOINT_RADIUS * grain)


def grouped(findings: Iterable[Finding], looked_at: str | None = None) -> list[tuple[Finding, ...]]:
    """Findings that call for a mark, those of one place together, worst first; a place looked at always does."""
    places: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.state in MARKED or finding.where == looked_at:
            places.setdefault(finding.where, []).append(finding)
    return [tuple(group) for group in places.values()]


def draw_marks(
    picture: Image.Image,
    findings: Sequence[Finding],
    at: Array,
    grain: Array,
    busy: NDArray[np.bool_],
    units: Length,
    looked_at: str | None = None,
) -> tuple[Mark, ...]:
    """Ring and label the findings' places (k, 2) in px on a picture.

    Args:
        picture: changed in place.
        findings: those of one verdict, worst first.
        at: where each finding is, in px.
        grain: scale (k,) of the picture there, px per mm.
        busy: (height, width), true where the picture shows something that a label had better not cover.
        units: the person's unit of length.
        looked_at: a place that is marked whatever its state.

    """
    scale = Scale.of(picture.size)
    draw = ImageDraw.Draw(picture)
    number = {id(finding): k for k, finding in enumerate(findings)}
    groups = grouped(findings, looked_at)
    points = [(float(at[k, 0]), float(at[k, 1])) for k in (number[id(group[0])] for group in groups)]
    radii = [ring_radius(scale, float(grain[number[id(group[0])]])) for group in groups]
    lines = [_label_lines(group, units) for group in groups[:MOST_LABELS]]
    sizes = [_label_size(draw, rows, scale) for rows in lines]
    boxes: list[Box | None] = [*place_labels(points, radii, sizes, busy, scale), *[None] * (len(groups) - len(sizes))]
    for group, point, radius, box in zip(groups, points, radii, boxes, strict=True):
        if box is not None:
            _leader(draw, point, radius, box, style.STATES[group[0].state].colour, scale)
    for group, point, radius in zip(reversed(groups), reversed(points), reversed(radii), strict=True):
        _ring(draw, point, radius, group[0].state, scale)
    for group, rows, box in zip(groups, lines, boxes, strict=False):
        if box is not None:
            _label(draw, box, rows, group[0].state, scale)
    return tuple(
        Mark(group[0].where, group[0].state, group, point, radius, box)
        for group, point, radius, box in zip(groups, points, radii, boxes, strict=True)
    )


def draw_caption(picture: Image.Image, title: str, pose: str, state: State, verdict: str, more: str = "") -> None:
    """Fill the strip at the foot of a picture: title and pose on the left, the verdict with its sign on the right."""
    scale = Scale.of(picture.size)
    width, height = picture.size
    top = height - scale.caption
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, top, width, height), fill=style.PAPER)
    draw.line((0, top, width, top), fill=style.LINE, width=max(1, scale.line // 2))
    bold, plain = style.font(scale.text, bold=True), style.font(round(0.82 * scale.text))
    look = style.STATES[state]
    pad, middle = 1.1 * scale.text, top + scale.caption / 2
    wide = max(draw.textlength(verdict, font=bold), draw.textlength(more, font=plain))
    edge = width - pad - wide
    sign = edge - 1.3 * scale.text
    upper, lower = middle - 0.62 * scale.text, middle + 0.78 * scale.text
    draw_sign(draw, (sign, upper if more else middle), 0.62 * scale.text, state)
    draw.text((edge, upper if more else middle), verdict, font=bold, fill=look.colour, anchor="lm")
    draw.text((edge, lower), more, font=plain, fill=style.QUIET_INK, anchor="lm")
    room = sign - 2 * pad - scale.text
    draw.text((pad, upper), _fitted(draw, title, bold, room), font=bold, fill=style.INK, anchor="lm")
    draw.text((pad, lower), _fitted(draw, pose, plain, room), font=plain, fill=style.QUIET_INK, anchor="lm")


def draw_sign(draw: ImageDraw.ImageDraw, at: tuple[float, float], radius: float, state: State) -> None:
    """The shape that says a state without its colour, filled, about a point."""
    look = style.STATES[state]
    x, y = at
    match look.shape:
        case style.Shape.DISC:
            draw.ellipse((x - radius, y - radius, x + radius, y + radius), fill=look.colour)
        case style.Shape.RING:
            width = max(2, round(0.35 * radius))
            draw.ellipse((x - radius, y - radius, x + radius, y + radius), outline=look.colour, width=width)
        case shape:
            draw.polygon(_corners(shape, at, radius), fill=look.colour)


_STARTS = {style.Shape.OCTAGON: (8, np.pi / 8), style.Shape.TRIANGLE: (3, -np.pi / 2), style.Shape.DIAMOND: (4, 0.0)}


def _corners(shape: style.Shape, at: tuple[float, float], radius: float) -> list[tuple[float, float]]:
    count, start = _STARTS[shape]
    size = radius * (1.25 if shape is style.Shape.TRIANGLE else 1.1)
    low = 0.15 * radius if shape is style.Shape.TRIANGLE else 0.0
    angles = start + np.arange(count) * 2 * np.pi / count
    return [(float(at[0] + size * np.cos(a)), float(at[1] + low + size * np.sin(a))) for a in angles]


def _ring(draw: ImageDraw.ImageDraw, at: tuple[float, float], radius: float, state: State, scale: Scale) -> None:
    """A ring about a joint that leaves the joint itself in sight; a close one is thinner."""
    line = scale.line if state in (State.LOCKED, State.OVER) else max(2, scale.line - 1)
    for grow, colour, width in ((line - 1, style.PAPER, 3 * line - 2), (0, style.STATES[state].colour, line)):
        size = radius + grow
        draw.ellipse((at[0] - size, at[1] - size, at[0] + size, at[1] + size), outline=colour, width=width)


def _leader(
    draw: ImageDraw.ImageDraw, at: tuple[float, float], radius: float, box: Box, colour: style.Colour, scale: Scale
) -> None:
    """A line from the ring's edge to the nearest side of the label."""
    line = leader(at, radius, box)
    if line is not None:
        draw.line((*line[0], *line[1]), fill=style.PAPER, width=scale.line + 3)
        draw.line((*line[0], *line[1]), fill=colour, width=max(2, scale.line - 1))


def _label_lines(group: tuple[Finding, ...], units: Length) -> list[str]:
    return [
        f"{style.STATES[group[0].state].word}: {group[0].where}",
        *(finding_text(finding, units) for finding in group),
    ]


def _label_size(draw: ImageDraw.ImageDraw, rows: Sequence[str], scale: Scale) -> tuple[float, float]:
    bold, plain = style.font(round(0.8 * scale.text), bold=True), style.font(round(0.76 * scale.text))
    wide = max(
        draw.textlength(rows[0], font=bold) + 1.5 * scale.text, *(draw.textlength(row, font=plain) for row in rows[1:])
    )
    return wide + 1.1 * scale.text, (1.05 * len(rows) + 0.55) * scale.text


def _label(draw: ImageDraw.ImageDraw, box: Box, rows: Sequence[str], state: State, scale: Scale) -> None:
    bold, plain = style.font(round(0.8 * scale.text), bold=True), style.font(round(0.76 * scale.text))
    colour = style.STATES[state].colour
    draw.rounded_rectangle(box, 0.3 * scale.text, fill=style.PAPER, outline=colour, width=max(1, scale.line // 2))
    left, y = box[0] + 0.55 * scale.text, box[1] + 0.82 * scale.text
    draw_sign(draw, (left + 0.5 * scale.text, y), 0.42 * scale.text, state)
    draw.text((left + 1.4 * scale.text, y), rows[0], font=bold, fill=colour, anchor="lm")
    for number, row in enumerate(rows[1:], start=1):
        draw.text((left, y + 1.05 * number * scale.text), row, font=plain, fill=style.INK, anchor="lm")


def _fitted(draw: ImageDraw.ImageDraw, text: str, font: style.Font, room: float) -> str:
    """The text, cut short with an ellipsis where it is wider than the room in px."""
    if draw.textlength(text, font=font) <= room:
        return text
    while text and draw.textlength(text + "…", font=font) > room:
        text = text[:-1]
    return text.rstrip() + "…"
