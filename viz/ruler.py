"""A travel ruler beside each wheel: how far up or down it may go, and where it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from model.mechanism import Wheel
from model.poses import Poses
from model.spatial import Array
from model.units import Length
from viz import style
from viz.labels import Box, Scale
from viz.stage import Stage
from viz.views import UP

# A ruler stands this far (mm) beside the tyre, or where that is not free so much farther; its figures need this much
# (mm) beyond, which the camera keeps in frame.
BESIDE, ROOM = (70.0, 170.0), 110.0
# One that is seen nearly from its end, shorter than this many rings, is left out: its figures would stand in it.
SHORTEST = 3.0
# Ticks that would be closer than this many rings are left out: a third of a ring is a tick's own length.
CLOSEST = 0.65
# Rulers of two wheels whose feet are closer than this many rings would be written over each other.
APART = 4.0
# What a place costs beside the share of it that covers something: one that is farther from its wheel, and one that
# is before or behind instead of outside.
FARTHER, ASIDE = 0.03, 0.06
# Where all of that is covered, a ruler moves in the picture, so many rings right and down; what a ring of that costs.
SHIFTS = tuple((right, down) for right in (0.0, -4.0, 4.0, -8.0, 8.0) for down in (0.0, -5.0, 5.0, -10.0))
AWAY = 0.02
# A tick every so many mm or inches.
TICK = {Length.MM: 20.0, Length.INCH: 1.0}


@dataclass(frozen=True)
class Ruler:
    """One wheel's ruler in a picture: its foot and its top, where ride height and the wheel are, (2,) in px each.

    `ticks` (k, 2) are in px too; `low`, `high` and `now` are heights in mm from ride height.
    """

    wheel: str
    foot: Array
    top: Array
    ride: Array
    at: Array
    ticks: Array
    low: float
    high: float
    now: float


def ruler_room(poses: Poses) -> Array:
    """Points (k, 3) that a camera keeps in frame so that rulers have room outside the wheels."""
    points = []
    for wheel in poses.mechanism.wheels:
        side = wheel.centre + (0.5 * wheel.width + BESIDE[0] + ROOM) * _out(wheel)
        ends = [drive for drive in poses.mechanism.drives if drive.name == wheel.side]
        heights = [height for drive in ends for height in (drive.low - ROOM, drive.high + ROOM)]
        points += [side + height * UP for height in heights]
    return np.array(points).reshape(-1, 3)


def rulers(stage: Stage, poses: Poses, pose: int, units: Length, busy: NDArray[np.bool_]) -> list[Ruler]:
    """The rulers of the wheels that a stage shows in a pose, each beside its tyre where the picture is free.

    Args:
        stage: is aimed and shows the pose.
        poses: of which it is one.
        pose: its number.
        units: the person's unit of length.
        busy: (height, width), true where the picture shows something.

    """
    heights = dict(zip(poses.travel.names, poses.stands_at(pose), strict=True))
    scale = Scale.of(stage.size)
    found: list[Ruler] = []
    for wheel in poses.mechanism.wheels:
        drive = next((drive for drive in poses.mechanism.drives if drive.name == wheel.side), None)
        if drive is None or wheel.side not in heights:
            continue
        step = TICK[units] * units.mm
        ticks = step * np.arange(np.ceil(drive.low / step), np.floor(drive.high / step) + 1.0)
        if step * float(stage.pixels_per_mm(wheel.centre[None])[0]) < CLOSEST * scale.ring:
            ticks = ticks[:0]
        marks = np.array([drive.low, drive.high, 0.0, heights[wheel.side], *ticks])
        best: tuple[float, Ruler] | None = None
        for cost, place in _places(wheel):
            seen = stage.project(place + marks[:, None] * UP)
            if np.hypot(*(seen[1] - seen[0])) < SHORTEST * scale.ring:
                continue
            for shift in SHIFTS:
                moved = seen + scale.ring * np.array(shift)
                foot, top, ride, at = moved[:4]
                ruler = Ruler(wheel.name, foot, top, ride, at, moved[4:], drive.low, drive.high, heights[wheel.side])
                total = cost + AWAY * float(np.hypot(*shift)) + _covered(ruler, units, scale, busy)
                if ((moved >= 0) & (moved <= stage.size)).all() and (best is None or total < best[0]):
                    best = total, ruler
        # From the side one ruler hides the other.
        if best is not None and all(np.hypot(*(best[1].foot - one.foot)) > APART * scale.ring for one in found):
            found.append(best[1])
    return found


def _out(wheel: Wheel) -> Array:
    return wheel.axis if wheel.centre[1] >= 0.0 else -wheel.axis


def _places(wheel: Wheel) -> list[tuple[float, Array]]:
    """Where (3,) a ruler's ride height may be, each with what it costs: outside the tyre, before it or behind it."""
    places = []
    for number, beside in enumerate(BESIDE):
        places.append((number * FARTHER, wheel.centre + (0.5 * wheel.width + beside) * _out(wheel)))
        for way in (1.0, -1.0):
            ahead = way * (wheel.loaded_radius + beside) * np.array([1.0, 0.0, 0.0])
            places.append((ASIDE + number * FARTHER, wheel.centre + ahead))
    return places


def _covered(ruler: Ruler, units: Length, scale: Scale, busy: NDArray[np.bool_]) -> float:
    """Share of a ruler's room in the picture that covers something."""
    width = busy.shape[1]
    boxes = [box for _, _, box in _figures(ruler, units, scale, width)] + [_body(ruler, scale)]
    parts = [busy[max(0, int(box[1])) : int(box[3]) + 1, max(0, int(box[0])) : int(box[2]) + 1] for box in boxes]
    return sum(int(part.sum()) for part in parts) / max(1, sum(part.size for part in parts))


def draw_rulers(picture: Image.Image, found: Sequence[Ruler], units: Length) -> list[Box]:
    """Draw rulers and return the boxes in px that they fill, which labels keep off."""
    draw = ImageDraw.Draw(picture)
    scale = Scale.of(picture.size)
    return [box for ruler in found for box in _draw(draw, ruler, units, scale, picture.width)]


def _draw(draw: ImageDraw.ImageDraw, ruler: Ruler, units: Length, scale: Scale, width: int) -> list[Box]:
    ring, line = scale.ring, max(2, scale.line - 1)
    # Ticks stand on the side that is farther from the middle of the picture, the pointer on the other.
    out = 1.0 if ruler.ride[0] >= 0.5 * width else -1.0
    lines = [((*ruler.foot,), (*ruler.top,))]
    lines += [((*tick,), (tick[0] + out * 0.3 * ring, tick[1])) for tick in ruler.ticks]
    lines += [((end[0], end[1]), (end[0] + out * 0.6 * ring, end[1])) for end in (ruler.foot, ruler.top)]
    lines.append(((ruler.ride[0] - out * 0.4 * ring, ruler.ride[1]), (ruler.ride[0] + out * 0.6 * ring, ruler.ride[1])))
    x, y = ruler.at
    tip = [(x, y), (x - out * 0.75 * ring, y - 0.42 * ring), (x - out * 0.75 * ring, y + 0.42 * ring)]
    for grow, ink in ((2, style.PAPER), (0, style.INK)):
        for start, stop in lines:
            draw.line((*start, *stop), fill=ink, width=line + 2 * grow)
        draw.polygon(tip, fill=ink, outline=ink, width=1 + 2 * grow)
    figures = _figures(ruler, units, scale, width)
    for text, face, box in figures:
        middle = 0.5 * (box[0] + box[2]), 0.5 * (box[1] + box[3])
        draw.text(middle, text, font=face, fill=style.INK, anchor="mm", stroke_width=3, stroke_fill=style.PAPER)
    return [*(box for _, _, box in figures), _body(ruler, scale)]


def _figures(ruler: Ruler, units: Length, scale: Scale, width: int) -> list[tuple[str, style.Font, Box]]:
    """What is written at a ruler, in which font and where: above and below it, so that figures never meet."""
    plain, bold = style.font(round(0.72 * scale.text)), style.font(round(0.8 * scale.text), bold=True)
    figures = []
    for at, rise, text, face in (
        (ruler.top, -1.7 * scale.text, _now_text(ruler, units), bold),
        (ruler.top, -0.6 * scale.text, f"{units.text(ruler.high)} up", plain),
        (ruler.foot, 0.75 * scale.text, f"{units.text(-ruler.low)} down", plain),
    ):
        half = 0.5 * face.getlength(text)
        middle = float(np.clip(at[0], half + scale.gap, width - half - scale.gap))
        tall = float(at[1]) + rise
        figures.append((text, face, (middle - half, tall - 0.5 * scale.text, middle + half, tall + 0.5 * scale.text)))
    return figures


def _body(ruler: Ruler, scale: Scale) -> Box:
    """The box in px about a ruler without its figures."""
    xs = (float(ruler.foot[0]), float(ruler.top[0]))
    return min(xs) - scale.ring, float(ruler.top[1]), max(xs) + scale.ring, float(ruler.foot[1])


def _now_text(ruler: Ruler, units: Length) -> str:
    """Where a wheel is, in words; how far it may go stands at the ruler's ends."""
    if abs(ruler.now) < 0.05:
        return "at ride height"
    return f"{units.text(abs(ruler.now))} {'up' if ruler.now > 0.0 else 'down'}"
