"""The motion of a rig along runs through the travel, as animations with few key frames."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from model.spatial import Array, norm
from viz.glb import Animation, Channel, Path
from viz.rig import Rig

# Poses of one run that key frames are chosen from: of a wheel that goes 100 mm up and down, 0.01 mm are lost between.
SAMPLES = 241
# What linear motion between two key frames may be off the poses between them, well inside the 0.5 mm and 0.2° that
# are promised: of a node's place (mm), of its rotation (rad), of a vertex by its weights (mm).
PLACE, TURN, BEND = 0.2, np.radians(0.1), 0.15

# Given values (m, d) at shares (m,) of the way from one key frame (d,) to the next: how far (m,) linear motion is off.
Off = Callable[[Array, Array, Array, Array], Array]


def animations(found: Rig, runs: Sequence[str], seconds: float) -> tuple[Animation, ...]:
    """One animation for each run.

    Args:
        found: a rig of poses that are so many runs of `SAMPLES` poses each, evenly spaced in time, one after the other.
        runs: their names.
        seconds: how long each takes.

    """
    times = np.linspace(0.0, seconds, SAMPLES)
    whole = []
    for number, name in enumerate(runs):
        part = slice(number * SAMPLES, (number + 1) * SAMPLES)
        channels = [
            channel
            for node in range(len(found.movers))
            for channel in (
                _channel(node, Path.TRANSLATION, times, found.translation[node], part, _place_off, PLACE),
                _channel(node, Path.ROTATION, times, _on_one_side(found.rotation[node]), part, _turn_off, TURN),
                _channel(node, Path.WEIGHTS, times, found.weights[node], part, _bend_off(found, node), BEND),
            )
            if channel is not None
        ]
        whole.append(Animation(name, tuple(channels)))
    return tuple(whole)


def _channel(
    node: int, path: Path, times: Array, values: Array, part: slice, off: Off, tolerance: float
) -> Channel | None:
    """The motion of a node in a part of the values (N, d); none where it does not move in any run."""
    start = values[0]
    if not values.shape[1] or off(values, start, start, np.zeros(len(values))).max() <= tolerance:
        return None
    run = values[part]
    keys = key_frames(run, off, tolerance)
    return Channel(node, path, times[keys], run[keys])


def key_frames(values: Array, off: Off, tolerance: float) -> NDArray[np.intp]:
    """Numbers of the values (K, d) to keep so that no other is further off than a tolerance (Douglas and Peucker)."""
    kept = {0, len(values) - 1}
    spans = [(0, len(values) - 1)]
    while spans:
        first, last = spans.pop()
        between = np.arange(first + 1, last)
        if not len(between):
            continue
        misses = off(values[between], values[first], values[last], (between - first) / (last - first))
        if misses.max() > tolerance:
            worst = int(between[misses.argmax()])
            kept.add(worst)
            spans += [(first, worst), (worst, last)]
    return np.array(sorted(kept), dtype=np.intp)


def _place_off(values: Array, start: Array, stop: Array, share: Array) -> Array:
    return norm(values - _linear(start, stop, share))


def _linear(start: Array, stop: Array, share: Array) -> Array:
    return np.asarray(start + share[:, None] * (stop - start))


def _turn_off(values: Array, start: Array, stop: Array, share: Array) -> Array:
    """Angle (m,) between unit quaternions and those of an even turn from one to another."""
    cosine = float(np.clip(start @ stop, -1.0, 1.0))
    whole = np.arccos(cosine)
    if whole < 1e-6:
        between = _linear(start, stop, share)
    else:
        ends = np.stack([np.sin((1.0 - share) * whole), np.sin(share * whole)], axis=-1) / np.sin(whole)
        between = ends @ np.stack([start, stop])
    # Of quaternions θ/2 apart the difference has length 2 sin(θ/4).
    return np.asarray(4.0 * np.arcsin(np.minimum(0.5 * np.sqrt(((values - between) ** 2).sum(axis=-1)), 1.0)))


def _bend_off(found: Rig, node: int) -> Off:
    """How far the vertex that a node's shapes move most may be off, at most."""
    shifts = [surface.shifts for surface in found.nodes[node].surfaces if surface.shifts is not None]
    reach = np.array([norm(shape).max() for shape in shifts[0]]) if shifts else np.zeros(0)

    def off(values: Array, start: Array, stop: Array, share: Array) -> Array:
        return np.asarray(np.abs(values - _linear(start, stop, share)) @ reach)

    return off


def _on_one_side(rotation: Array) -> Array:
    """Quaternions (N, 4) whose sign is that of their neighbours' before them."""
    flips = np.where((rotation[1:] * rotation[:-1]).sum(axis=-1) < 0.0, -1.0, 1.0)
    return np.asarray(np.concatenate([[1.0], np.cumprod(flips)])[:, None] * rotation)
