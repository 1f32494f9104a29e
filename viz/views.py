"""Cameras that keep the whole travel in frame."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from model.errors import DrawingError
from model.spatial import Array, unit


class View(StrEnum):
    """The views that every scene has; `joint:NAME` is one more for each joint, part and point, `gap:A, B` for two."""

    FRONT = "front"
    REAR = "rear"
    SIDE = "side"
    TOP = "top"
    THREE_QUARTER = "three-quarter"
    REAR_THREE_QUARTER = "rear-three-quarter"


JOINT, GAP = "joint:", "gap:"

# Direction from the vehicle to the camera, and up in the picture (ISO 8855: x forward, y left, z up).
_DIRECTIONS = {
    View.FRONT: ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
    View.REAR: ((-1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
    View.SIDE: ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    View.TOP: ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0)),
    View.THREE_QUARTER: ((0.74, 0.52, 0.43), (0.0, 0.0, 1.0)),
    View.REAR_THREE_QUARTER: ((-0.74, 0.52, 0.43), (0.0, 0.0, 1.0)),
}
VIEW_ANGLE = 24.0  # degrees; about a 100 mm lens on small film, so that near parts do not loom
MARGIN = 1.06
# Eight points (8, 3) about a place that stand for a ball of radius 1 about it.
BALL = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) / np.sqrt(3)


@dataclass(frozen=True)
class Camera:
    """Where the camera stands, what it looks at and what is up, each (3,), in mm.

    `half_height` (mm) is set for a parallel view; a perspective one has the angle `VIEW_ANGLE`. `close` says that this
    is a close-up, of a joint at `target` (3,) or of a whole `part` by its name; `glass` is the label of what by its
    nature stands in front of the joint. A close-up of a gap has its closest points in `gap` (2, 3) and its parts'
    labels in `pair`; `touches` says that they overlap.
    """

    position: Array
    focus: Array
    up: Array
    half_height: float | None
    target: Array | None = None
    close: bool = False
    glass: str | None = None
    gap: Array | None = None
    pair: tuple[str, ...] = ()
    touches: bool = False
    part: str | None = None

    @property
    def direction(self) -> Array:
        """Unit direction (3,) from the focus to the camera."""
        return unit(self.position - self.focus)


def named_view(view: str, cloud: Array, aspect: float) -> Camera:
    """The camera of a plain view that keeps the points (k, 3) in frame; `aspect` is width over height."""
    direction, up = (np.array(vector) for vector in _DIRECTIONS[View(view)])
    if view in (View.THREE_QUARTER, View.REAR_THREE_QUARTER):
        return perspective(unit(direction), up, cloud, aspect)
    return _parallel(direction, up, cloud, aspect)


def three_quarter(cloud: Array, aspect: float, from_right: bool) -> Camera:
    """The three-quarter view of points (k, 3), from the left or from the right."""
    flip = np.array([1.0, -1.0 if from_right else 1.0, 1.0])
    camera = named_view(View.THREE_QUARTER, cloud * flip, aspect)
    return replace(camera, position=camera.position * flip, focus=camera.focus * flip, up=camera.up * flip)


def is_named(view: str) -> bool:
    """Whether this is one of the plain views."""
    return view in set(View)


def is_gap(view: str) -> bool:
    """Whether this is the view of a gap."""
    return view.startswith(GAP)


def joint_name(view: str) -> str:
    """The NAME of `joint:NAME`.

    Raises:
        DrawingError: this is no view at all.

    """
    if not view.startswith(JOINT):
        choice = f"{', '.join(View)}, {JOINT}NAME or {GAP}ONE PART, OTHER PART"
        raise DrawingError(f'There is no view "{view}"; choose {choice}.')
    return view.removeprefix(JOINT).strip()


def unknown_name(name: str, known: list[str]) -> DrawingError:
    """What to say of a NAME that is no joint, part or point."""
    return DrawingError(
        f'There is no joint, part or point "{name}" to look at; the nearest names are {near_names(name, known)}.'
    )


def near_names(name: str, known: list[str]) -> str:
    """The names that are most like one that is not known, as a person reads them."""
    near = difflib.get_close_matches(name, known, n=3, cutoff=0.45)
    near = near or [word for word in known if name and name.casefold() in word.casefold()][:3]
    return " or ".join(f'"{word}"' for word in near or known[:3])


def camera_axes(direction: Array, up: Array) -> Array:
    """Axes (3, 3) of a camera as columns: right, up in the picture, towards the camera."""
    right = unit(np.cross(up, direction))
    return np.stack([right, np.cross(direction, right), direction], axis=-1)


def _parallel(direction: Array, up: Array, cloud: Array, aspect: float) -> Camera:
    axes = camera_axes(direction, up)
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
    axes = camera_axes(direction, up)
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


UP = np.array([0.0, 0.0, 1.0])

# A part is in sight at a place where a disc of this radius in mm is.
SPOT = 35.0
# Directions that a close-up is tried from: all around, from a little below to well above.
_CLOSE_UPS = [
    unit(np.array([np.cos(turn) * np.cos(rise), np.sin(turn) * np.cos(rise), np.sin(rise)]))
    for rise in np.radians([8.0, 28.0, 50.0, -18.0])
    for turn in np.arange(16) * np.pi / 8.0
]


def clearest(
    target: Array,
    size: float,
    bolt: Array | None,
    triangles: Array,
    best_along: float = 0.0,
    veils: Array | None = None,
) -> Array:
    """The direction (3,) from which a joint at `target` (3,) is least hidden by triangles (m, 3, 3), in mm.

    What lies within `size` of the joint belongs to it and hides nothing. A joint's tilt shows best from the side, and
    a bush's faces from half in front of them: `best_along` is the cosine of the look's angle to the `bolt` (3,); one
    that is further off counts as up to a fifth hidden. `veils` (k, 3, 3) are turned to glass where they are in front;
    a look through them counts as a quarter hidden.
    """
    outside = (triangles - target)[(np.linalg.norm(triangles - target, axis=2) > size).all(axis=1)]
    middles = outside.mean(axis=1)
    reaches = np.linalg.norm(outside - middles[:, None], axis=2).max(axis=1)
    away, radius = np.einsum("ij,ij->i", middles, middles), 0.8 * size
    best, best_score = _CLOSE_UPS[0], -np.inf
    for direction in _CLOSE_UPS:
        depth = middles @ direction
        near = (away - depth**2 < (radius + reaches) ** 2) & (depth > -reaches)
        axes = camera_axes(direction, UP)
        astray = 0.0 if bolt is None else abs(abs(float(direction @ bolt)) - best_along)
        # From slightly above looks natural; it decides only between views that show equally much.
        veiled = 0.0 if veils is None else 1.0 - _shown((veils - target) @ camera_axes(direction, UP), radius)
        score = (
            _shown(outside[near] @ axes, radius) - 0.2 * astray - 0.25 * veiled - 0.03 * abs(float(direction[2]) - 0.45)
        )
        if score > best_score:
            best, best_score = direction, score
    return best


def clearest_whole(spots: Array, triangles: Array, veils: Array) -> Array:
    """The direction (3,) from which places along a part (k, 3) are least hidden by others' triangles (m, 3, 3), in mm.

    A look through `veils` (n, 3, 3), which are turned to glass where they are in front, counts as a quarter hidden.
    """
    middle = spots.mean(axis=0)
    middles = triangles.mean(axis=1) - middle
    reaches = np.linalg.norm(triangles - triangles.mean(axis=1)[:, None], axis=2).max(axis=1)
    away, half = np.einsum("ij,ij->i", middles, middles), float(np.linalg.norm(spots - middle, axis=1).max()) + SPOT
    best, best_score = _CLOSE_UPS[0], -np.inf
    for direction in _CLOSE_UPS:
        depth = middles @ direction
        near = triangles[(away - depth**2 < (half + reaches) ** 2) & (depth > -reaches - half)]
        axes = camera_axes(direction, UP)
        score = -0.03 * abs(float(direction[2]) - 0.45)
        for spot in spots:
            free, clear = (_shown((block - spot) @ axes, SPOT) for block in (near, veils))
            score += (free - 0.25 * (1.0 - clear)) / len(spots)
        # Along the part it would be seen from its end.
        score -= 0.5 * abs(float(direction @ unit(spots[-1] - spots[0])))
        if score > best_score:
            best, best_score = direction, score
    return best


def shown(direction: Array, triangles: Array, radius: float) -> float:
    """Share of a disc of `radius` mm about the origin, seen along −`direction`, that triangles (m, 3, 3) leave free."""
    return _shown(triangles @ camera_axes(direction, UP), radius)


def _shown(seen: Array, radius: float) -> float:
    """Share of a disc about the origin that no triangle (m, 3, 3) in camera axes covers from in front."""
    ring = np.arange(8) * np.pi / 4.0
    spots = np.concatenate(
        [[[0.0, 0.0]], *(share * radius * np.stack([np.cos(ring), np.sin(ring)], -1) for share in (0.5, 1))]
    )
    a, b, c = (seen[:, corner] for corner in range(3))
    sides = []
    for start, stop in ((a, b), (b, c), (c, a)):
        edge = (stop - start)[:, None, :2]
        to_spot = spots[None] - start[:, None, :2]
        sides.append(edge[..., 0] * to_spot[..., 1] - edge[..., 1] * to_spot[..., 0])
    turn = np.stack(sides)
    inside = (turn >= 0.0).all(axis=0) | (turn <= 0.0).all(axis=0)
    # Each side's product weighs the corner that is opposite to it: the depth of the triangle at the spot.
    weight = turn.sum(axis=0)
    depth = turn[1] * a[:, None, 2] + turn[2] * b[:, None, 2] + turn[0] * c[:, None, 2]
    in_front = np.divide(depth, weight, out=np.zeros_like(depth), where=weight != 0.0) > 0.0
    return 1.0 - float((inside & in_front).any(axis=0).mean())
