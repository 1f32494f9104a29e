"""Where labels go: each near its place, on empty ground, none over another, over a mark or across another's leader."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.spatial import Array

Box = tuple[float, float, float, float]  # left, top, right, bottom in pixels
Spot = tuple[float, float]

# What it costs a label, as a share of the picture's width to stand away by instead: to cover the model with all of
# itself, and to have its leader run under another label or through another mark.
COVERING, CROSSING = 0.33, 0.3
# A leader is followed at this many spots.
SPOTS = 14
# From so many times its text's size on a picture's caption has room for pose and worst finding side by side, and for
# title and verdict; below, each has a row of its own. A row's height, in text sizes.
WIDE, NARROW, ROW = 60, 42, 1.4
# Rows of a caption of two columns, and of one in which nothing stands beside anything.
SIDE_BY_SIDE, STACKED = 2, 4


@dataclass(frozen=True)
class Scale:
    """Sizes in px that go with a picture's size."""

    text: int
    ring: float
    line: int
    gap: float
    caption: int
    rows: int = SIDE_BY_SIDE

    @classmethod
    def of(cls, size: tuple[int, int]) -> Scale:
        """Sizes for a picture of (width, height)."""
        base = min(size[0] / 1600.0, size[1] / 1000.0)
        text = max(11, round(21 * base))
        rows = SIDE_BY_SIDE if size[0] >= WIDE * text else STACKED - (size[0] >= NARROW * text)
        caption = round((0.8 + ROW * rows) * text)
        return cls(text, max(7.0, 22.0 * base), max(2, round(3.4 * base)), max(3.0, 9.0 * base), caption, rows)


def place_labels(
    points: Sequence[Spot],
    radii: Sequence[float],
    sizes: Sequence[tuple[float, float]],
    busy: NDArray[np.bool_],
    scale: Scale,
    taken: Sequence[Box] = (),
) -> list[Box | None]:
    """A box for each label, near its point and on an empty part of the picture; None where there is no room.

    No box meets another, a point's ring, what is `taken` or the picture's edge, and none covers another's leader.
    Points without a label are kept free too.
    """
    height, width = busy.shape
    covered = np.zeros((height + 1, width + 1))
    covered[1:, 1:] = busy.cumsum(axis=0).cumsum(axis=1)
    rings: list[Box] = [
        (x - clear, y - clear, x + clear, y + clear)
        for (x, y), clear in zip(points, (radius + scale.gap for radius in radii), strict=True)
    ]
    placed: list[Box] = list(taken)
    leaders: list[Array] = []
    boxes: list[Box | None] = []
    step = max(4, scale.text // 2)
    for number, ((x, y), (wide, tall)) in enumerate(zip(points, sizes, strict=False)):
        left, top = np.meshgrid(
            np.arange(scale.gap, width - wide - scale.gap, step), np.arange(scale.gap, height - tall - scale.gap, step)
        )
        free = np.ones(left.shape, dtype=bool)
        for box in (*rings, *placed):
            free &= (left >= box[2]) | (left + wide <= box[0]) | (top >= box[3]) | (top + tall <= box[1])
        for spots in leaders:
            for spot in spots:
                free &= (left > spot[0]) | (left + wide < spot[0]) | (top > spot[1]) | (top + tall < spot[1])
        if not free.any():
            boxes.append(None)
            continue
        rows, columns = top.astype(int), left.astype(int)
        down, across = (rows + int(tall)).clip(max=height), (columns + int(wide)).clip(max=width)
        hidden = covered[down, across] - covered[rows, across] - covered[down, columns] + covered[rows, columns]
        near = np.stack([np.clip(x, left, left + wide), np.clip(y, top, top + tall)], axis=-1)
        reach = np.hypot(near[..., 0] - x, near[..., 1] - y)
        others = [*placed, *(ring for other, ring in enumerate(rings) if other != number)]
        crossed = _crossed((x, y), near, others)
        cost = reach + width * (COVERING * hidden / (wide * tall) + CROSSING * crossed)
        cost = np.where(free, cost, np.inf)
        row, column = np.unravel_index(int(cost.argmin()), cost.shape)
        start, above, gap = float(left[row, column]), float(top[row, column]), scale.gap
        boxes.append((start, above, start + wide, above + tall))
        placed.append((start - gap, above - gap, start + wide + gap, above + tall + gap))
        leaders.append(_along((x, y), near[row, column]))
    return boxes


def leader(at: Spot, radius: float, box: Box) -> tuple[Spot, Spot] | None:
    """From the edge of a ring about a point to the nearest side of its label; None where the two touch."""
    x, y = float(np.clip(at[0], box[0], box[2])), float(np.clip(at[1], box[1], box[3]))
    length = float(np.hypot(x - at[0], y - at[1]))
    if length <= radius:
        return None
    return (at[0] + (x - at[0]) * radius / length, at[1] + (y - at[1]) * radius / length), (x, y)


def _along(at: Spot, stop: Array) -> Array:
    """Spots (..., SPOTS, 2) along straight lines from a point to others (..., 2)."""
    share = np.linspace(0.0, 1.0, SPOTS)[:, None]
    return np.asarray(np.array(at) + share * (stop[..., None, :] - np.array(at)))


def _crossed(at: Spot, stop: Array, others: Sequence[Box]) -> Array:
    """How many of the boxes a straight line from a point to others (..., 2) runs through, (...)."""
    spots = _along(at, stop)
    crossed = np.zeros(stop.shape[:-1])
    for left, top, right, bottom in others:
        inside = (spots[..., 0] > left) & (spots[..., 0] < right) & (spots[..., 1] > top) & (spots[..., 1] < bottom)
        crossed += inside.any(axis=-1)
    return crossed
