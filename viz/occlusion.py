"""Soft contact shadow: how much of its surroundings each pixel loses to what stands close before it.

From the depth of a drawn picture alone, with samples in pairs as in Loos and Sloan, "Volumetric obscurance" (2010): of
two pixels on opposite sides of a third, the mean of their depths is the third's on any plane. What they are nearer by
hides part of the light; what is nearer by much more than the reach is another thing, far in front, and hides nothing.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Depths = NDArray[np.float32]

# Discs about each pixel: radius as a share of the picture's height, pairs of pixels in it, every how many pixels it is
# looked at, and how often what comes out is smoothed, so that single pairs do not show. The small one darkens corners,
# the large one what stands behind something; that is soft and needs no full grid.
DISCS = ((0.008, 10, 1, 1), (0.032, 20, 2, 5))
# How dark the deepest corner is.
STRENGTH = 0.62
# A step in depth of this many radii counts in full; one of more than `FAR` radii hides nothing.
FULL, FAR = 0.8, 2.5


def occlusion(depth: Depths) -> Depths:
    """Share (height, width) of its light that each pixel loses, from 0 to 1.

    Args:
        depth: of every pixel (height, width), larger is farther, in px of the picture at that depth; infinite where
            there is nothing, which neither hides nor is hidden.

    """
    whole = np.zeros(depth.shape, dtype=np.float32)
    drawn = np.isfinite(depth)
    if not drawn.any():
        return whole
    # Only the part of the picture that shows something is looked at.
    rows, columns = (np.flatnonzero(drawn.any(axis=axis)) for axis in (1, 0))
    part = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    drawn = drawn[part]
    behind = np.float32(depth[part].max(initial=-np.inf, where=drawn) + 2.0 * FAR * depth.shape[0])
    solid = np.where(drawn, depth[part], behind).astype(np.float32)
    lost = np.zeros(solid.shape, dtype=np.float32)
    for share, pairs, grid, soft in DISCS:
        there = _lost(solid[::grid, ::grid] / np.float32(grid), share * depth.shape[0] / grid, pairs)
        for _ in range(soft):
            there = _softer(there)
        lost = np.maximum(lost, _finer(there, grid, lost.shape))
    whole[part] = np.where(drawn, np.float32(STRENGTH) * lost, np.float32(0.0))
    return whole


def _lost(depth: Depths, radius: float, pairs: int) -> Depths:
    """Share of the light lost in a disc of `radius` px, its pairs spread by the golden angle (Vogel's spiral)."""
    reach = int(np.ceil(radius))
    wide = np.pad(depth, reach, mode="edge")
    height, width = depth.shape
    full, far = np.float32(FULL * radius), np.float32(FAR * radius)
    lost, both = np.zeros(depth.shape, dtype=np.float32), np.empty(depth.shape, dtype=np.float32)
    step, share = np.empty_like(both), np.empty_like(both)
    for number in range(pairs):
        angle, away = number * np.pi * (3.0 - np.sqrt(5.0)), radius * np.sqrt((number + 0.5) / pairs)
        x, y = round(away * np.cos(angle)), round(away * np.sin(angle))
        both.fill(0.0)
        for top, left in ((reach + y, reach + x), (reach - y, reach - x)):
            # Every operation writes where the last one did: fetching memory for each would take as long again.
            np.subtract(depth, wide[top : top + height, left : left + width], out=step)
            np.multiply(step, -2.0 / far, out=share)
            share += 2.0
            step *= np.clip(share, 0.0, 1.0, out=share)
            both += np.clip(step, -full, full, out=step)
        lost += np.clip(both, 0.0, full, out=both)
    return lost / np.float32(pairs * full)


def _softer(values: Depths) -> Depths:
    """Each pixel with a quarter of its neighbours' values, along both axes; beyond the edge is the edge's own value."""
    wide = np.pad(values, ((1, 1), (0, 0)), mode="edge")
    values = (wide[:-2] + values + values + wide[2:]) * np.float32(0.25)
    wide = np.pad(values, ((0, 0), (1, 1)), mode="edge")
    return (wide[:, :-2] + values + values + wide[:, 2:]) * np.float32(0.25)


def _finer(values: Depths, grid: int, shape: tuple[int, ...]) -> Depths:
    """Values of every `grid`-th pixel, for every pixel of a picture of this shape."""
    if grid == 1:
        return values
    rows, columns = (np.arange(size) // grid for size in shape)
    return _softer(values[rows[:, None], columns])
