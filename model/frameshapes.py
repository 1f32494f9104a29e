"""How far from the frame's middle lines a force acts on it, and the moment that this makes there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from model.mechanism import FrameShape
from model.spatial import Array, norm


@dataclass(frozen=True, eq=False)
class Lever:
    """From the nearest point (3,) on the middle line of a frame path to where a force acts.

    `arm` is the distance in mm, `moment` (3,) in N·mm what the force and its own moment make at that point.
    """

    path: str
    nearest: Array
    arm: float
    moment: Array


def lever_of(shapes: Sequence[FrameShape], at: Array, force: Array, moment: Array) -> Lever | None:
    """The lever of a force (3,) at (3,) with a moment (3,); None where the frame has no path.

    Frame shapes do not move: they are the frame.
    """
    nearest = [(shape.name, _nearest(shape.path, at)) for shape in shapes if shape.path is not None]
    if not nearest:
        return None
    name, point = min(nearest, key=lambda each: float(norm(at - each[1])))
    return Lever(name, point, float(norm(at - point)), np.cross(at - point, force) + moment)


def _nearest(path: Array, at: Array) -> Array:
    """The point (3,) of a broken line (k, 3) that is nearest to a point (3,)."""
    start, run = path[:-1], np.diff(path, axis=0)
    share = np.clip(((at - start) * run).sum(axis=1) / (run * run).sum(axis=1), 0.0, 1.0)
    feet = start + share[:, None] * run
    return np.asarray(feet[int(norm(at - feet).argmin())])
