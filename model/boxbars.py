"""The sections of a box bar along its path: full with sharp edges, or a rectangular tube with broken edges."""

from __future__ import annotations

import numpy as np

from model.solids import Rail
from model.spatial import Array, dot, shortest_rotation, unit


def rail_sections(rail: Rail) -> Array:
    """Sections (k, n, 3) that make a bar when each is joined to the next.

    The first and last of a full one are capped; a tube's run over its outside and back inside to the first.
    """
    path, wall = rail.path, rail.wall
    if wall is None:
        return _along(path, box_outline(rail.section))
    width, height = rail.section
    outer = _along(path, box_outline(rail.section, 1.5 * wall))
    inner = _along(path, box_outline((width - 2.0 * wall, height - 2.0 * wall), 0.8 * wall))
    return np.concatenate([outer, inner[::-1]])


def box_outline(section: tuple[float, float], cut: float = 0.0) -> Array:
    """The outline (k, 2) of a box section (width, height), each edge broken by a flat of `cut` mm each way."""
    corners = 0.5 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * section
    if cut <= 0.0:
        return corners
    beside = np.array([[[0, 1], [1, 0]], [[-1, 0], [0, 1]], [[0, -1], [-1, 0]], [[1, 0], [0, -1]]])
    return (corners[:, None] + cut * beside).reshape(-1, 2)


def _along(path: Array, outline: Array) -> Array:
    """The sections (k, n, 3) of a bar with an outline (n, 2) across and up, at every corner of its path (k, 3)."""
    legs = unit(np.diff(path, axis=0))
    sections = [outline @ axes[:, 1:].T for axes in leg_axes(legs)]
    rings = [path[0] + sections[0]]
    for corner, before, after, section in zip(path[1:-1], legs[:-1], legs[1:], sections[:-1], strict=True):
        # Both legs end in the plane that halves their corner; the sharpest ones would run on without end.
        mitre = unit(before + after)
        run_on = dot(section, mitre) / max(float(dot(before, mitre)), 0.3)
        rings.append(corner + section - run_on[:, None] * before)
    rings.append(path[-1] + sections[-1])
    return np.array(rings)


def leg_axes(legs: Array) -> list[Array]:
    """Axes (3, 3) along, across and up of each leg (k, 3) of a box bar that turns its corners without twist.

    The most level leg has its height as near to z as it can be.
    """
    level = int(np.abs(legs[:, 2]).argmin())
    up = np.array([0.0, 0.0, 1.0]) if abs(legs[level, 2]) < 0.95 else np.array([1.0, 0.0, 0.0])
    side = unit(np.cross(up, legs[level]))
    axes: dict[int, Array] = {level: np.stack([legs[level], side, np.cross(legs[level], side)], axis=-1)}
    for number in range(level + 1, len(legs)):
        axes[number] = shortest_rotation(legs[number - 1], legs[number]) @ axes[number - 1]
    for number in range(level - 1, -1, -1):
        axes[number] = shortest_rotation(legs[number + 1], legs[number]) @ axes[number + 1]
    return [axes[number] for number in range(len(legs))]
