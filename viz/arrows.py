"""Forces in a load case as arrows over a picture: to one scale, each with its number, and a bar that says the scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from model.forces import CaseLoads
from model.naming import SIDES
from model.spatial import Array, norm
from model.units import N_PER_LBF, Length
from viz import style
from viz.labels import Box, Scale, leader, place_labels
from viz.loadwords import SHORT_NOTE

# The longest arrow as a share of the picture's height, and the share of it below which an arrow is left out.
LONGEST, SHORTEST = 0.26, 0.08
# Half the width of an arrow's shaft, and the length and half the width of its head, in rings.
SHAFT, HEAD, BARB = 0.17, 0.85, 0.42
# Arrows are drawn this many times larger and made smaller: their edges are then smooth.
FINE = 2
# What the two kinds of arrow are, in the legend.
TO_THE_FRAME, TO_ALL = "what members do to the frame", "what members do to what holds them"
TO_THE_TYRES = "what the ground does to the tyres"
# Spots along an arrow that labels keep off.
SPOTS = 12
# What a scale bar may be long, in N or lbf, and how much of the picture's width it takes at most.
STEPS, WIDEST = (1.0, 2.0, 5.0), 0.14


@dataclass(frozen=True, eq=False)
class Force:
    """One force: where it acts (3,) in mm, the force (3,) in N, its name, and whether the ground does it to a tyre."""

    name: str
    at: Array
    force: Array
    ground: bool


@dataclass(frozen=True, eq=False)
class Arrow:
    """A force in a picture: tail and head (2, 2) in px, and its text."""

    text: str
    ends: Array
    ground: bool

    @property
    def free_end(self) -> tuple[float, float]:
        """The end that is not where the force acts: there its number stands."""
        x, y = self.ends[0] if self.ground else self.ends[1]
        return float(x), float(y)


def forces_on(loads: CaseLoads, subject: str | None = None) -> tuple[list[Force], float]:
    """What the ground does to the tyres and members do to the frame, and the force in N below which it is left out.

    Of a `subject`, a part or one of its joints that is looked at from close by: what it does and what is done to it, at
    moving parts too.
    """
    forces = [
        Force(each.wheel, each.at, each.force, ground=True)
        for each in loads.ground
        if subject is None or not _across(each.wheel, subject)
    ]
    near = [each for each in loads.mounts if subject and (subject.startswith(each.member) or each.on == subject)]
    forces += [
        Force(
            f"{each.member}{'' if each.place == 'at frame' else f', {each.place}'}", each.at, each.force, ground=False
        )
        for each in near or loads.on_frame
    ]
    least = SHORTEST * max(float(norm(each.force)) for each in forces)
    return sorted(
        (each for each in forces if norm(each.force) >= least), key=lambda each: -float(norm(each.force))
    ), least


def _across(wheel: str, subject: str) -> bool:
    """Whether a wheel is on the other side than what is looked at from close by: there it would only be in the way."""
    return {name.partition(" ")[0] for name in (wheel, subject)} == set(SIDES)


def mm_per_newton(forces: Sequence[Force], grain: float, height: int) -> float:
    """The length of an arrow for 1 N, so that the longest is `LONGEST` of a picture with `grain` px for a mm."""
    return LONGEST * height / grain / max(float(norm(each.force)) for each in forces)


def arrow_ends(forces: Sequence[Force], length: float) -> Array:
    """Tails and heads (k, 2, 3) of arrows of `length` mm for 1 N: the ground's end where it pushes, others begin so."""
    return np.array(
        [
            [each.at - length * each.force, each.at] if each.ground else [each.at, each.at + length * each.force]
            for each in forces
        ]
    )


def arrows_of(forces: Sequence[Force], ends: Array, size: tuple[int, int], units: Length) -> list[Arrow]:
    """Arrows at ends (k, 2, 2) in px; those that act outside the picture are left out."""
    return [
        Arrow(f"{each.name} {units.force_text(float(norm(each.force)))}", both, each.ground)
        for each, both in zip(forces, ends, strict=True)
        if ((both >= 0.0) & (both < size)).all()
    ]


def draw_arrows(
    picture: Image.Image,
    arrows: Sequence[Arrow],
    busy: NDArray[np.bool_],
    px_per_newton: float,
    units: Length,
    told: str = TO_THE_FRAME,
) -> int:
    """Draw arrows with their numbers, a legend and a scale bar; how many numbers found no room.

    `busy` (height, width) is where the picture shows something; `px_per_newton` the scale of the arrows; `told` what
    the filled ones are.
    """
    scale = Scale.of(picture.size)
    rows = (told, TO_THE_TYRES, SHORT_NOTE)
    legend = _legend_box(busy, rows, scale)
    fine = Image.new("RGBA", (FINE * picture.width, FINE * picture.height), (*style.PAPER, 0))
    draw = ImageDraw.Draw(fine)
    for arrow in arrows:
        _draw_arrow(draw, FINE * arrow.ends, arrow.ground, FINE * scale.ring)
    layer = fine.reduce(FINE)
    picture.paste(layer, (0, 0), layer)
    bare = _label(picture, arrows, busy, scale, legend)
    _draw_legend(picture, legend, rows, scale, px_per_newton, units)
    return bare


def _label(picture: Image.Image, arrows: Sequence[Arrow], busy: NDArray[np.bool_], scale: Scale, legend: Box) -> int:
    face = _face(scale)
    sizes = [(face.getlength(arrow.text) + 0.9 * scale.text, 1.35 * scale.text) for arrow in arrows]
    taken = [legend, *(box for arrow in arrows for box in _along(arrow, scale))]
    boxes = place_labels([arrow.free_end for arrow in arrows], [0.0] * len(arrows), sizes, busy, scale, taken)
    draw = ImageDraw.Draw(picture)
    for arrow, box in zip(arrows, boxes, strict=True):
        if box is not None:
            line = leader(arrow.free_end, 0.0, box)
            if line is not None:
                draw.line((*line[0], *line[1]), fill=style.PAPER, width=scale.line + 2)
                draw.line((*line[0], *line[1]), fill=_colour(arrow), width=max(1, scale.line - 1))
    for arrow, box in zip(arrows, boxes, strict=True):
        if box is not None:
            draw.rounded_rectangle(box, 0.25 * scale.text, fill=style.PAPER, outline=_colour(arrow))
            middle = 0.5 * (box[0] + box[2]), 0.5 * (box[1] + box[3])
            draw.text(middle, arrow.text, font=face, fill=style.INK, anchor="mm")
    return sum(box is None for box in boxes)


def _colour(arrow: Arrow) -> style.Colour:
    return style.GROUND_FORCE if arrow.ground else style.FORCE


def _along(arrow: Arrow, scale: Scale) -> list[Box]:
    """Boxes in px along an arrow, which labels keep off; its free end is kept free as a label's point."""
    half = BARB * scale.ring
    spots = arrow.ends[0] + np.linspace(0.04, 0.96, SPOTS)[:, None] * (arrow.ends[1] - arrow.ends[0])
    return [(x - half, y - half, x + half, y + half) for x, y in spots.tolist()]


def _draw_arrow(draw: ImageDraw.ImageDraw, ends: Array, ground: bool, ring: float) -> None:
    """An arrow from tail to head (2, 2): filled, or hollow where the ground does it."""
    span = ends[1] - ends[0]
    length = float(np.hypot(*span))
    if length < 1.0:
        return
    along, across = span / length, np.array([-span[1], span[0]]) / length
    head = min(HEAD * ring, 0.7 * length)
    barb, shaft = head * BARB / HEAD, SHAFT * ring * min(1.0, head / (HEAD * ring))
    neck = ends[1] - head * along
    outline = [ends[0] + shaft * across, neck + shaft * across, neck + barb * across, ends[1]]
    outline += [neck - barb * across, neck - shaft * across, ends[0] - shaft * across]
    corners = [(float(x), float(y)) for x, y in outline]
    line = max(2, round(0.07 * ring))
    draw.polygon(corners, fill=(*style.PAPER, 255), outline=(*style.PAPER, 255))
    draw.line([*corners, corners[0]], fill=(*style.PAPER, 255), width=4 * line, joint="curve")
    ink = style.GROUND_FORCE if ground else style.FORCE
    fill = style.PAPER if ground else ink
    draw.polygon(corners, fill=(*fill, 255), outline=(*ink, 255), width=line)


def _face(scale: Scale) -> style.Font:
    return style.font(round(0.78 * scale.text), bold=True)


def _legend_box(busy: NDArray[np.bool_], rows: Sequence[str], scale: Scale) -> Box:
    """Where the legend stands: in the corner of the picture that shows least."""
    height, width = busy.shape
    face = style.font(round(0.78 * scale.text))
    wide = max(face.getlength(row) for row in rows) + 4.6 * scale.text
    tall, pad = 7.0 * scale.text, 0.6 * scale.text
    corners = [(x, y) for y in (pad, height - tall - pad) for x in (pad, width - wide - pad)]
    boxes: list[Box] = [(x, y, x + wide, y + tall) for x, y in corners]
    return min(boxes, key=lambda box: float(busy[int(box[1]) : int(box[3]), int(box[0]) : int(box[2])].mean()))


def _draw_legend(
    picture: Image.Image, box: Box, rows: Sequence[str], scale: Scale, px_per_newton: float, units: Length
) -> None:
    """Say what the two kinds of arrow are, how long a round force is, and what all of it is for."""
    text, (left, top, _, _) = scale.text, box
    newton, label = _round_force(px_per_newton, WIDEST * picture.width, units)
    fine = Image.new("RGBA", (FINE * picture.width, FINE * picture.height), (*style.PAPER, 0))
    draw = ImageDraw.Draw(fine)
    draw.rounded_rectangle([FINE * x for x in box], FINE * 0.3 * text, fill=(*style.PAPER, 236), outline=style.LINE)
    for row, ground in enumerate((False, True)):
        y = top + (1.1 + 1.6 * row) * text
        ends = np.array([[left + 0.7 * text, y], [left + 3.2 * text, y]])
        _draw_arrow(draw, FINE * ends, ground, FINE * scale.ring)
    layer = fine.reduce(FINE)
    picture.paste(layer, (0, 0), layer)
    draw, plain = ImageDraw.Draw(picture), style.font(round(0.78 * text))
    for row, words in enumerate(rows[:2]):
        draw.text((left + 3.9 * text, top + (1.1 + 1.6 * row) * text), words, font=plain, fill=style.INK, anchor="lm")
    start, y, long = left + 0.8 * text, top + 4.35 * text, newton * px_per_newton
    line = max(2, scale.line)
    draw.line((start, y, start + long, y), fill=style.INK, width=line)
    for x in (start, start + long):
        draw.line((x, y - 0.35 * text, x, y + 0.35 * text), fill=style.INK, width=line)
    draw.text((start + long + 0.5 * text, y), label, font=_face(scale), fill=style.INK, anchor="lm")
    draw.text((left + 0.7 * text, top + 5.95 * text), rows[2], font=plain, fill=style.INK, anchor="lm")


def _round_force(px_per_newton: float, room: float, units: Length) -> tuple[float, str]:
    """The largest round force in N whose arrow has room, and its text."""
    one = 1.0 if units is Length.MM else N_PER_LBF
    most = room / px_per_newton / one
    decade = 10.0 ** np.floor(np.log10(most))
    value = max(step * decade for step in STEPS if step * decade <= most)
    text = f"{value:,.0f} lbf" if units is Length.INCH else f"{value / 1000:g} kN" if value >= 1000 else f"{value:g} N"
    return value * one, text
