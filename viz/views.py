"""Cameras that keep the whole travel in frame."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from model.errors import DrawingError
from model.spatial import Array, unit


class View(StrEnum):
    """The views that every scene has; `joint:NAME` is one more for each joint, part and point."""

    FRONT = "front"
    SIDE = "side"
    TOP = "top"
    THREE_QUARTER = "three-quarter"


JOINT = "joint:"

# Direction from the vehicle to the camera, and up in the picture (ISO 8855: x forward, y left, z up).
_DIRECTIONS = {
    View.FRONT: ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
    View.SIDE: ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    View.TOP: ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0)),
    View.THREE_QUARTER: ((0.74, 0.52, 0.43), (0.0, 0.0, 1.0)),
}
VIEW_ANGLE = 24.0  # degrees; about a 100 mm lens on small film, so that near parts do not loom
MARGIN = 1.06


@dataclass(frozen=True)
class Camera:
    """Where the camera stands, what it looks at and what is up, each (3,), in mm.

    `half_height` (mm) is set for a parallel view; a perspective one has the angle `VIEW_ANGLE`.
    """

    position: Array
    focus: Array
    up: Array
    half_height: float | None

    @property
    def direction(self) -> Array:
        """Unit direction (3,) from the focus to the camera."""
        return unit(self.position - self.focus)


def named_view(view: str, cloud: Array, aspect: float) -> Camera:
    """The camera of a plain view that keeps the points (k, 3) in frame; `aspect` is width over height."""
    direction, up = (np.array(vector) for vector in _DIRECTIONS[View(view)])
    if view == View.THREE_QUARTER:
        return perspective(unit(direction), up, cloud, aspect)
    return _parallel(direction, up, cloud, aspect)


def is_named(view: str) -> bool:
    """Whether this is one of the plain views."""
    return view in set(View)


def joint_name(view: str) -> str:
    """The NAME of `joint:NAME`.

    Raises:
        DrawingError: this is no view at all.

    """
    if not view.startswith(JOINT):
        raise DrawingError(f'There is no view "{view}"; choose {", ".join(View)} or {JOINT}NAME.')
    return view.removeprefix(JOINT).strip()


def unknown_name(name: str, known: list[str]) -> DrawingError:
    """What to say of a NAME that is no joint, part or point."""
    near = difflib.get_close_matches(name, known, n=3, cutoff=0.45)
    near = near or [word for word in known if name and name.casefold() in word.casefold()][:3]
    hint = " or ".join(f'"{word}"' for word in near or known[:3])
    return DrawingError(f'There is no joint, part or point "{name}" to look at; the nearest names are {hint}.')


def _axes(direction: Array, up: Array) -> Array:
    """Camera axes (3, 3) as columns: right, up in the picture, towards the camera."""
    right = unit(np.cross(up, direction))
    return np.stack([right, np.cross(direction, right), direction], axis=-1)


def _parallel(direction: Array, up: Array, cloud: Array, aspect: float) -> Camera:
    axes = _axes(direction, up)
    seen = cloud @ axes
    low, high = seen.min(axis=0), seen.max(axis=0)
    focus = axes @ (0.5 * (low + high))
    half = 0.5 * (high - low)
    distance = half[2] + 2000.0
    return Camera(focus + distance * direction, focus, axes[:, 1], MARGIN * float(max(half[1], half[0] / aspect)))


def perspective(direction: Array, up: Array, cloud: Array, aspect: float) -> Camera:
    """A perspective camera that looks along −`direction` (3,) and keeps the points (k, 3) in frame.

    With t the tangent of half the view angle, a point (x, y, z) in camera axes about the focus is in frame of a camera
    at distance D if |y| ≤ t (D − z) and |x| ≤ t a (D − z). Each side of the frame bounds D and the focus linearly:
    per axis, the tightest D for given slopes is half the spread of x/t + z and −x/t + z.
    """
    axes = _axes(direction, up)
    seen = cloud @ axes
    tangent = np.tan(np.radians(VIEW_ANGLE / 2.0)) / MARGIN
    depth = seen[:, 2]
    focus, distance = np.zeros(3), 0.0
    for column, slope in ((0, tangent * aspect), (1, tangent)):
        right, left = (seen[:, column] / slope + depth).max(), (-seen[:, column] / slope + depth).max()
        focus[column] = 0.5 * slope * (right - left)
        distance = max(distance, 0.5 * float(right + left))
    focus[2] = 0.5 * float(depth.min() + depth.max())
    centre = axes @ focus
    # `distance` counts from depth zero of the camera axes, the focus lies at its own depth.
    return Camera(centre + (distance - focus[2]) * direction, centre, axes[:, 1], None)
