"""A travel ruler beside each wheel: how far up or down it may go, and how far of that it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw

from model.mechanism import Wheel
from model.poses import Poses
from model.spatial import Array
from model.units import Length
from viz import style
from viz.labels import Box, Scale
from viz.stage import Stage

# A ruler stands this far (mm) outside the tyre; one that is seen nearly from its end, shorter than this many rings, is
# left out.
BESIDE, SHORTEST = 70.0, 3.0
# Ticks that would be closer than this many rings are left out.
CLOSEST = 0.65
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


def rulers(stage: Stage, poses: Poses, pose: int, units: Length) -> list[Ruler]:
    """The rulers of the wheels that a stage shows in a pose: beside each tyre, on the side that is in sight."""
    heights = dict(zip(poses.travel.names, poses.stands_at(pose), strict=True))
    found: list[Ruler] = []
    for wheel in poses.mechanism.wheels:
        drive = next((drive for drive in poses.mechanism.drives if drive.name == wheel.side), None)
        if drive is None or wheel.side not in heights:
            continue
        step = TICK[units] * units.mm
        ticks = step * np.arange(np.ceil(drive.low / step), np.floor(drive.high / step) + 1.0)
        if step * float(stage.pixels_per_mm(wheel.centre[None])[0]) < CLOSEST * Scale.of(stage.size).ring:
            ticks = ticks[:0]
        marks = np.array([drive.low, drive.high, 0.0, heights[wheel.side], *ticks])
        line = _stand(stage, wheel) + marks[:, None] * [0.0, 0.0, 1.0]
        seen = stage.project(line)
        inside = ((seen >= 0) & (seen <= stage.size)).all()
        if inside and np.hypot(*(seen[1] - seen[0])) >= SHORTEST * Scale.of(stage.size).ring:
            foot, top, ride, at = seen[:4]
            ruler = Ruler(wheel.name, foot, top, ride, at, seen[4:], drive.low, drive.high, heights[wheel.side])
            # From the side one ruler hides the other.
            if all(np.hypot(*(ruler.foot - other.foot)) > 4.0 * Scale.of(stage.size).ring for other in found):
                found.append(ruler)
    return found


def _stand(stage: Stage, wheel: Wheel) -> Array:
    """Where (3,) a ruler's ride height is: outside the tyre, or before or behind it where that is out of sight."""
    out = wheel.axis if wheel.centre[1] >= 0.0 else -wheel.axis
    look = stage.look_from
    if abs(float(out @ look)) < 0.4 or (0.0 < float(out @ look) < 0.9):
        return np.asarray(wheel.centre + (0.5 * wheel.width + BESIDE) * out)
    ahead = np.array([1.0 if look[0] >= 0.0 else -1.0, 0.0, 0.0])
    return np.asarray(wheel.centre + (wheel.loaded_radius + BESIDE) * ahead)


def draw_rulers(picture: Image.Image, found: Sequence[Ruler], units: Length) -> list[Box]:
    """Draw rulers and return the boxes in px that they fill, which labels keep off."""
    draw = ImageDraw.Draw(picture)
    scale = Scale.of(picture.size)
    return [box for ruler in found for box in _draw(draw, ruler, units, scale, picture.width)]


def _draw(draw: ImageDraw.ImageDraw, ruler: Ruler, units: Length, scale: Scale, width: int) -> list[Box]:
    ring, line = scale.ring, max(2, scale.line - 1)
    # Figures stand on the side that is farther from the middle of the picture, the pointer on the other.
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
    plain, bold = style.font(round(0.72 * scale.text)), style.font(round(0.8 * scale.text), bold=True)
    boxes: list[Box] = []
    # Above and below the ruler, so that figures never meet however short it is in the picture.
    share = _share_text(ruler, units)
    for at, rise, text, face in (
        (ruler.top, -1.7 * scale.text, share, bold),
        (ruler.top, -0.6 * scale.text, f"{units.text(ruler.high)} up", plain),
        (ruler.foot, 0.75 * scale.text, f"{units.text(-ruler.low)} down", plain),
    ):
        half = 0.5 * draw.textlength(text, font=face)
        middle = float(np.clip(at[0], half + scale.gap, width - half - scale.gap))
        tall = at[1] + rise
        draw.text((middle, tall), text, font=face, fill=style.INK, anchor="mm", stroke_width=3, stroke_fill=style.PAPER)
        boxes.append((middle - half, tall - 0.5 * scale.text, middle + half, tall + 0.5 * scale.text))
    xs = (ruler.foot[0], ruler.top[0], ruler.foot[0] - ring, ruler.foot[0] + ring)
    boxes.append((min(xs), float(ruler.top[1]), max(xs), float(ruler.foot[1])))
    return boxes


def _share_text(ruler: Ruler, units: Length) -> str:
    """How far of its travel a wheel is, in words."""
    if abs(ruler.now) < 0.05:
        return "at ride height"
    whole, way = (ruler.high, "up") if ruler.now > 0.0 else (ruler.low, "down")
    share = f" of {units.text(abs(whole))}" if whole else ""
    return f"{units.text(abs(ruler.now))}{share} {way}"
