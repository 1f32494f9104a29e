"""Where a part that is welded on meets the tube that it is welded to, and the bead along that line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from model.boxbars import box_outline, leg_axes
from model.solids import Bead, rounded
from model.spatial import Array, across, dot, norm, square_to, triad, unit

# Radius of a bead in mm: a fillet of about 4 mm, as on tubes with walls of 3 mm (common practice, no source).
BEAD_RADIUS = 2.6
# How far the edges of a rectangular tube are broken, as a share of its smaller side.
BROKEN = 0.09
# From section to section along a bead, in mm, and the fewest of them.
RIPPLES, FEWEST = 5.0, 12
# A line of a weld that runs along the tube for more than this many times its width is no weld: it grazes the tube.
GRAZING = 3.0
# No tube is farther off than this, in mm.
FAR = 1e5
# Bends of round tubes have this radius in radii of the tube, and so many points.
BEND, BEND_STEPS = 4.0, 6


@dataclass(frozen=True)
class Stem:
    """One straight leg (2, 3) of a tube: round with a `radius`, or with a `section` (width, height) along `axes`.

    The `axes` (3, 3) of a rectangular one are along it, across and up; its radius is half its smaller side.
    """

    leg: Array
    radius: float
    section: tuple[float, float] | None = None
    axes: Array | None = None

    def depth(self, direction: Array) -> float:
        """From its middle line to its skin in a unit direction (3,) square to it, in mm."""
        if self.section is None or self.axes is None:
            return self.radius
        reach = np.abs(direction @ self.axes[:, 1:])
        return float((0.5 * np.array(self.section) / np.maximum(reach, 1e-9)).min())

    def entry(self, starts: Array, direction: Array, beyond: float = 0.0) -> Array:
        """How far (k,) from points (k, 3) outside a unit direction (3,) first meets its skin; nan where it does not.

        The skin may be met so far `beyond` its two ends, in mm.
        """
        along = unit(self.leg[1] - self.leg[0])
        offset = starts - self.leg[0]
        if self.section is None or self.axes is None:
            reach = self._round_entry(offset, direction, along)
        else:
            reach = self._box_entry(offset, direction, self.axes, self.section)
        at = dot(offset + reach[:, None] * direction, along)
        along_it = (at >= -beyond) & (at <= norm(self.leg[1] - self.leg[0]) + beyond)
        return np.where(along_it & (reach > 0.0), reach, np.nan)

    def _round_entry(self, offset: Array, direction: Array, along: Array) -> Array:
        """The nearer root of |o + s d|² = r² with o (k, 3) and d (3,) square to the tube."""
        beside, speed = across(offset, along), across(direction, along)
        square = float(dot(speed, speed))
        half, rest = dot(beside, speed), dot(beside, beside) - self.radius**2
        inner = half**2 - square * rest
        met = (inner >= 0.0) & (square > 1e-9)
        return np.where(met, (-half - np.sqrt(np.maximum(inner, 0.0))) / max(square, 1e-9), np.nan)

    @staticmethod
    def _box_entry(offset: Array, direction: Array, axes: Array, section: tuple[float, float]) -> Array:
        """The last of the two slabs to be entered, if that is before the first is left."""
        place, speed = offset @ axes[:, 1:], direction @ axes[:, 1:]
        speed = np.where(np.abs(speed) < 1e-9, 1e-9, speed)
        walls = np.stack([(side * 0.5 * np.array(section) - place) / speed for side in (-1.0, 1.0)])
        first, last = walls.min(axis=0).max(axis=1), walls.max(axis=0).min(axis=1)
        return np.where(first < last, first, np.nan)


def stems(path: Array, diameter: float | None, section: tuple[float, float] | None) -> list[Stem]:
    """The legs of a tube along a path (k, 3); the bends of a round one are short legs."""
    if section is None:
        radius = 0.5 * (diameter or 40.0)
        bent = rounded(path, BEND * radius, BEND_STEPS)
        return [Stem(bent[number : number + 2], radius) for number in range(len(bent) - 1)]
    legs = [path[number : number + 2] for number in range(len(path) - 1)]
    frames = leg_axes(unit(np.diff(path, axis=0)))
    return [Stem(leg, 0.5 * min(section), section, axes) for leg, axes in zip(legs, frames, strict=True)]


def weld(outline: Array, direction: Array, onto: Sequence[Stem], furthest: float = np.inf) -> tuple[Bead, ...]:
    """The bead around what has an outline (k, 3) and runs on in a unit direction (3,) into a tube's legs.

    Nothing where some of it misses the tube, only grazes it, or meets it beyond `furthest` mm.
    """
    # In a bend the legs' skins leave wedges between them.
    beyond = 0.0 if len(onto) == 1 else 0.5 * onto[0].radius
    reach = np.min([np.nan_to_num(leg.entry(outline, direction, beyond), nan=np.inf) for leg in onto], axis=0)
    wide = float(norm(outline - outline.mean(axis=0)).max())
    if reach.max() > min(furthest, FAR) or np.ptp(reach) > GRAZING * 2.0 * wide:
        return ()
    return (Bead(outline + reach[:, None] * direction, BEAD_RADIUS),)


def round_outline(middle: Array, direction: Array, radius: float) -> Array:
    """The outline (k, 3) of a round bar at a point (3,) of its middle line."""
    count = max(FEWEST, 2 * round(np.pi * radius / RIPPLES))
    axes = triad(direction, square_to(direction))
    angle = np.arange(count) * 2.0 * np.pi / count
    return np.asarray(middle + radius * (np.cos(angle)[:, None] * axes[:, 1] + np.sin(angle)[:, None] * axes[:, 2]))


def box_outline_at(middle: Array, axes: Array, section: tuple[float, float]) -> Array:
    """The outline (k, 3) of a rectangular bar with `axes` (3, 3) along, across and up, at a point (3,) of its line."""
    return np.asarray(middle + even_outline(box_outline(section, BROKEN * min(section))) @ axes[:, 1:].T)


def even_outline(corners: Array) -> Array:
    """Points (k, 2) about evenly along the closed line through corners (n, 2)."""
    closed = np.concatenate([corners, corners[:1]])
    ahead = np.concatenate([[0.0], np.cumsum(norm(np.diff(closed, axis=0)))])
    count = max(FEWEST, 2 * round(ahead[-1] / (2.0 * RIPPLES)))
    spots = np.arange(count) * ahead[-1] / count
    return np.stack([np.interp(spots, ahead, closed[:, column]) for column in (0, 1)], axis=-1)


def end_welds(own: Sequence[Stem], others: Sequence[Sequence[Stem]]) -> list[Bead]:
    """The beads where the two ends of a tube run into other tubes, each given by its legs."""
    beads: list[Bead] = []
    for stem, stop, start in ((own[0], *own[0].leg), (own[-1], *own[-1].leg[::-1])):
        direction, length = unit(stop - start), float(norm(stop - start))
        if stem.section is None or stem.axes is None:
            outline = round_outline(start, direction, stem.radius)
        else:
            outline = box_outline_at(start, stem.axes, stem.section)
        for other in others:
            beads += weld(outline, direction, other, length)
    return beads
