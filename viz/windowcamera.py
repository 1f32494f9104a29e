"""How a hand moves the camera, and how it flies from one place to another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from model.spatial import Array, norm, unit
from viz.views import UP, VIEW_ANGLE, Camera, camera_axes

# Degrees that the camera goes round for a drag across the window's height, and how near it gets to straight above.
TURN, STEEPEST = 220.0, 87.0
# A step of the mouse wheel brings it nearer by this share.
ZOOM = 0.12
# Seconds that a flight takes.
FLIGHT = 0.45


def upright(camera: Camera) -> Camera:
    """A camera that a hand can turn: one that looks straight down gets the least tilt that says where up is."""
    direction = camera.direction
    steepest = np.sin(np.radians(STEEPEST))
    if abs(direction[2]) > steepest:
        level = -np.sign(direction[2]) * np.array([camera.up[0], camera.up[1], 0.0])
        rise = np.sign(direction[2]) * steepest
        direction = unit(level) * np.sqrt(1.0 - rise**2) + rise * UP
    distance = float(norm(camera.position - camera.focus))
    up = camera_axes(direction, UP)[:, 1]
    return replace(camera, position=camera.focus + distance * direction, up=up)


def turned(camera: Camera, across: float, down: float) -> Camera:
    """Go round the focus after a drag by shares of the window's height."""
    camera = upright(camera)
    direction, distance = camera.direction, float(norm(camera.position - camera.focus))
    turn = np.arctan2(direction[1], direction[0]) - np.radians(TURN * across)
    rise = np.degrees(np.arcsin(np.clip(direction[2], -1.0, 1.0))) + TURN * down
    rise = np.radians(np.clip(rise, -STEEPEST, STEEPEST))
    level = np.array([np.cos(turn), np.sin(turn), 0.0])
    direction = np.cos(rise) * level + np.sin(rise) * UP
    up = camera_axes(direction, UP)[:, 1]
    return replace(camera, position=camera.focus + distance * direction, up=up)


def shifted(camera: Camera, across: float, down: float) -> Camera:
    """Move camera and focus sideways, so that what is at the focus follows a drag by shares of the window's height."""
    axes = camera_axes(camera.direction, camera.up)
    shift = seen_height(camera) * (down * axes[:, 1] - across * axes[:, 0])
    return replace(camera, position=camera.position + shift, focus=camera.focus + shift)


def neared(camera: Camera, steps: float) -> Camera:
    """Come nearer by steps of the mouse wheel."""
    share = float((1.0 - ZOOM) ** steps)
    if camera.half_height is not None:
        return replace(camera, half_height=share * camera.half_height)
    return replace(camera, position=camera.focus + share * (camera.position - camera.focus))


def seen_height(camera: Camera) -> float:
    """How much is in sight at the focus from foot to head of the picture, in mm."""
    if camera.half_height is not None:
        return 2.0 * camera.half_height
    return float(2.0 * norm(camera.position - camera.focus) * np.tan(np.radians(VIEW_ANGLE / 2.0)))


def between(start: Camera, stop: Camera, share: float) -> Camera:
    """A camera on the way from one to another, slow at both ends; the views' own marks are those of the end."""
    if share >= 1.0 or start.half_height != stop.half_height:
        return stop
    ease = share * share * (3.0 - 2.0 * share)
    focus = start.focus + ease * (stop.focus - start.focus)
    near, far = (float(norm(camera.position - camera.focus)) for camera in (start, stop))
    distance = near ** (1.0 - ease) * far**ease
    direction = _along(start.direction, stop.direction, ease)
    up = camera_axes(direction, UP)[:, 1] if abs(direction[2]) < 0.999 else stop.up
    return replace(stop, position=focus + distance * direction, focus=focus, up=up)


def _along(start: Array, stop: Array, share: float) -> Array:
    """A direction (3,) on the great circle between two."""
    angle = float(np.arccos(np.clip(start @ stop, -1.0, 1.0)))
    if not 1e-6 < angle < np.pi - 1e-6:
        return stop
    return np.asarray((np.sin((1.0 - share) * angle) * start + np.sin(share * angle) * stop) / np.sin(angle))
