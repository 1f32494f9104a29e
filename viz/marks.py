"""What is written over a picture: a mark and a label at each joint that is over or close, and the caption."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from model.measures import GAP
from model.spatial import Array
from model.units import Length
from model.verdicts import Finding, State
from viz import style
from viz.gaps import GapMark, draw_dimension, gap_lines, is_roomy, kept_free
from viz.labels import ROW, SIDE_BY_SIDE, STACKED, Box, Scale, Spot, leader, place_labels
from viz.words import finding_text

MARKED = (State.LOCKED, State.OVER, State.CLOSE)
# Labels beyond these would cover the picture; the worst come first and the caption counts the rest.
MOST_LABELS = 8
# What is said of a place behind other parts, and the pitch in degrees of the dashes of its ring.
HIDDEN, DASH = "hidden behind other parts", 30
# A close-up's ring goes around the whole joint, some mm from its middle.
JOINT_RADIUS = 46.0


@dataclass(frozen=True)
class Mark:
    """One marked place: its findings, worst first, where its ring is (x, y), the ring's radius and the label's box.

    All in px. A gap's has no ring: the middle of its dimension line, and the radius that is kept free about it. A place
    that is `hidden` behind other parts has a broken ring, and its label says so.
    """

    where: str
    state: State
    findings: tuple[Finding, ...]
    at: tuple[float, float]
    radius: float
    label: Box | None
    hidden: bool = False


def draw_rings(
    picture: Image.Image,
    findings: Sequence[Finding],
    at: Array,
    grain: Array,
    gaps: Sequence[tuple[GapMark, Array]] = (),
) -> None:
    """Ring what is locked or over, each with its sign; a film has no time for labels.

    Args:
        picture: changed in place.
        findings: worst first.
        at: where each is (k, 2) in px.
        grain: scale (k,) of the picture there, px per mm.
        gaps: each with its two points (2, 2) in px.

    """
    scale = Scale.of(picture.size)
    draw = ImageDraw.Draw(picture)
    rings = [
        (finding.state, (float(x), float(y)), ring_radius(scale, float(size)))
        for finding, (x, y), size in zip(findings, at, grain, strict=True)
    ]
    for gap, ends in gaps:
        x, y = ends.mean(axis=0)
        rings.append((gap.state, (float(x), float(y)), scale.ring))
    for state, point, radius in reversed(rings):
        if state in (State.LOCKED, State.OVER):
            _ring(draw, point, radius, state, scale)
            draw_sign(draw, (point[0] + 0.9 * radius, point[1] - 0.9 * radius), 0.5 * scale.ring, state)


def draw_gap(picture: Image.Image, gap: GapMark, ends: Array, units: Length) -> None:
    """Draw a gap as a dimension line between two points (2, 2) in px with its label, on a picture without others."""
    busy = np.zeros((picture.height, picture.width), dtype=bool)
    draw_marks(picture, (), np.zeros((0, 2)), np.zeros(0), busy, units, gaps=[(gap, ends)])


def draw_place(picture: Image.Image, at: tuple[float, float], state: State) -> None:
    """Ring one place, with its sign, whatever its state."""
    scale = Scale.of(picture.size)
    draw = ImageDraw.Draw(picture)
    _ring(draw, at, scale.ring, state, scale)
    draw_sign(draw, (at[0] + 0.9 * scale.ring, at[1] - 0.9 * scale.ring), 0.5 * scale.ring, state)


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


@dataclass(frozen=True)
class _Note:
    """What is drawn at one place: a ring, or a dimension line between two points (2, 2), with the rows of a label.

    `touches` says that the dimension line is that of parts which touch.
    """

    mark: Mark
    rows: list[str]
    dimension: Array | None = None
    touches: bool = False


def draw_marks(
    picture: Image.Image,
    findings: Sequence[Finding],
    at: Array,
    grain: Array,
    busy: NDArray[np.bool_],
    units: Length,
    looked_at: str | None = None,
    gaps: Sequence[tuple[GapMark, Array]] = (),
    taken: Sequence[Box] = (),
    hidden: NDArray[np.bool_] | None = None,
) -> tuple[Mark, ...]:
    """Ring and label the findings' places (k, 2) in px on a picture, and draw gaps as dimension lines.

    Args:
        picture: changed in place.
        findings: those of one verdict, worst first.
        at: where each finding is, in px.
        grain: scale (k,) of the picture there, px per mm.
        busy: (height, width), true where the picture shows something that a label had better not cover.
        units: the person's unit of length.
        looked_at: a place that is marked whatever its state.
        gaps: each with its two points (2, 2) in px, worst first; they take the place of their findings' rings.
        taken: where no label may go, in px.
        hidden: which of the places (k,) are hidden behind other parts; none unless given.

    """
    scale = Scale.of(picture.size)
    draw = ImageDraw.Draw(picture)
    number = {id(finding): k for k, finding in enumerate(findings)}
    notes, more, radii = [], [], []
    for gap, ends in gaps:
        middle, radius, others, around = kept_free(ends, scale)
        notes.append(
            _Note(Mark(gap.where, gap.state, (), middle, radius, None), gap_lines(gap, units), ends, gap.touches)
        )
        more += others
        radii += [around] * len(others)
    drawn = {gap.where for gap, _ in gaps}
    ringed = [finding for finding in findings if finding.what != GAP or finding.where not in drawn]
    for group in grouped(ringed, looked_at):
        k = number[id(group[0])]
        point, radius = (float(at[k, 0]), float(at[k, 1])), ring_radius(scale, float(grain[k]))
        behind = hidden is not None and bool(hidden[k])
        mark = Mark(group[0].where, group[0].state, group, point, radius, None, behind)
        notes.append(_Note(mark, [*_rows(group, units), *([HIDDEN] * behind)]))
    notes = _placed(draw, notes, more, radii, busy, scale, taken)
    for note in notes:
        if note.mark.label is not None:
            colour = style.STATES[note.mark.state].colour
            _leader(draw, note.mark.at, note.mark.radius, note.mark.label, colour, scale)
    for note in reversed(notes):
        if note.dimension is None:
            _ring(draw, note.mark.at, note.mark.radius, note.mark.state, scale, broken=note.mark.hidden)
        elif not note.touches or is_roomy(note.dimension, scale):
            # On a touching patch that is no deeper than arrows are long they would only hide it.
            draw_dimension(draw, note.dimension, note.mark.state, scale)
    for note in notes:
        if note.mark.label is not None:
            _label(draw, note.mark.label, note.rows, note.mark.state, scale)
    return tuple(note.mark for note in notes)


def _placed(
    draw: ImageDraw.ImageDraw,
    notes: Sequence[_Note],
    more: Sequence[Spot],
    radii: Sequence[float],
    busy: NDArray[np.bool_],
    scale: Scale,
    taken: Sequence[Box],
) -> list[_Note]:
    """Notes with a box for each label that has room; `more` spots with radii are kept free as well."""
    sizes = [_label_size(draw, note.rows, scale) for note in notes[:MOST_LABELS]]
    points = [*(note.mark.at for note in notes), *more]
    boxes = place_labels(points, [*(note.mark.radius for note in notes), *radii], sizes, busy, scale, taken)
    boxes += [None] * (len(notes) - len(sizes))
    return [replace(note, mark=replace(note.mark, label=box)) for note, box in zip(notes, boxes, strict=True)]


def draw_caption(picture: Image.Image, title: str, pose: str, state: State, verdict: str, more: str = "") -> None:
    """Fill the strip at the foot of a picture: title and pose on the left, the verdict with its sign on the right.

    In a narrow picture they stand one below the other.
    """
    scale = Scale.of(picture.size)
    width, height = picture.size
    top = height - scale.caption
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, top, width, height), fill=style.PAPER)
    draw.line((0, top, width, top), fill=style.LINE, width=max(1, scale.line // 2))
    bold, plain = style.font(scale.text, bold=True), style.font(round(0.82 * scale.text))
    rows = [top + (0.48 + ROW * (row + 0.5)) * scale.text for row in range(scale.rows)]
    beside, stacked = scale.rows == SIDE_BY_SIDE, scale.rows == STACKED
    pad, sign = 1.1 * scale.text, 1.3 * scale.text
    right = width - pad
    wide = max(draw.textlength(verdict, font=bold), draw.textlength(more, font=plain) if beside else 0.0)
    edge = pad + 0.6 * scale.text + sign if stacked else right - wide
    free = right if stacked else edge - sign - pad - scale.text
    said = rows[1] if stacked else 0.5 * (rows[0] + rows[1]) if beside and not more else rows[0]

    def write(at: Spot, text: str, font: style.Font, colour: style.Colour, end: float) -> None:
        draw.text(at, fitted(draw, text, font, end - at[0]), font=font, fill=colour, anchor="lm")

    draw_sign(draw, (edge - sign, said), 0.62 * scale.text, state)
    # What a number was fitted to may be a rounding wider.
    write((edge, said), verdict, bold, style.STATES[state].colour, right + 1.0)
    write((pad, rows[0]), title, bold, style.INK, free)
    write((pad, rows[max(1, scale.rows - 2)]), pose, plain, style.QUIET_INK, free if beside else right)
    write((edge if beside else pad, rows[-1]), more, plain, style.QUIET_INK, right + 1.0)


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


def _ring(
    draw: ImageDraw.ImageDraw,
    at: tuple[float, float],
    radius: float,
    state: State,
    scale: Scale,
    *,
    broken: bool = False,
) -> None:
    """A ring about a joint that leaves the joint itself in sight; a close one is thinner, one that is hidden broken."""
    line = scale.line if state in (State.LOCKED, State.OVER) else max(2, scale.line - 1)
    dashes = [(start, start + 0.6 * DASH) for start in range(0, 360, DASH)] if broken else [(0, 360)]
    for grow, colour, width in ((line - 1, style.PAPER, 3 * line - 2), (0, style.STATES[state].colour, line)):
        size = radius + grow
        for start, stop in dashes:
            draw.arc((at[0] - size, at[1] - size, at[0] + size, at[1] + size), start, stop, fill=colour, width=width)


def _leader(
    draw: ImageDraw.ImageDraw, at: tuple[float, float], radius: float, box: Box, colour: style.Colour, scale: Scale
) -> None:
    """A line from the ring's edge to the nearest side of the label."""
    line = leader(at, radius, box)
    if line is not None:
        draw.line((*line[0], *line[1]), fill=style.PAPER, width=scale.line + 3)
        draw.line((*line[0], *line[1]), fill=colour, width=max(2, scale.line - 1))


def _rows(group: tuple[Finding, ...], units: Length) -> list[str]:
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


def fitted(draw: ImageDraw.ImageDraw, text: str, font: style.Font, room: float) -> str:
    """The text, cut short with an ellipsis where it is wider than the room in px."""
    if draw.textlength(text, font=font) <= room:
        return text
    while text and draw.textlength(text + "…", font=font) > room:
        text = text[:-1]
    return text.rstrip() + "…"
