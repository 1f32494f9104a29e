"""Bars along paths as closed triangle meshes: sections joined to one another, many bars at once."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from model.spatial import Array, across, dot, norm, skew, square_to, turn, unit
from model.triangles import Faces, Mesh


def swept(path: Array, radius: float, sides: int, facing: Array | None = None) -> Mesh:
    """A round bar along a path (k, 3), closed at both ends, see `swept_sections`."""
    return capped(path[:, None] + radius * swept_sections(path, sides, facing))


def swept_sections(path: Array, sides: int, facing: Array | None = None) -> Array:
    """Corners (..., k, n, 3) from the middles of the sections of round bars of a radius of 1 along paths (..., k, 3).

    They face directions (..., k, 3) that are not along the path, or else are carried along it without twist.
    """
    legs = unit(np.diff(path, axis=-2))
    before, after = legs[..., :-1, :], legs[..., 1:, :]
    along = unit(np.concatenate([legs[..., :1, :], before + after, legs[..., -1:, :]], axis=-2))
    normals = _without_twist(along) if facing is None else unit(across(facing, along))
    frame = np.stack([normals, turn(skew(along), normals)], axis=-2)
    # In a corner the section lies across the corner's half angle and is stretched so that both legs stay round.
    inner = before - after
    size = norm(inner)[..., None]
    inner = np.divide(inner, size, out=np.zeros_like(inner), where=size > 1e-9)
    stretch = 1.0 / np.maximum(dot(along[..., 1:-1, :], after), 0.35) - 1.0
    within = frame[..., 1:-1, :, :]
    within += (stretch[..., None] * dot(within, inner[..., None, :]))[..., None] * inner[..., None, :]
    angle = np.arange(sides) * 2.0 * np.pi / sides
    return np.asarray(np.stack([np.cos(angle), np.sin(angle)], axis=-1) @ frame)


def skin_of(path: Array, radius: Array, sections: Array) -> tuple[Array, Array]:
    """Vertices (..., p, 3) of `swept` bars with radii (...), and unit normals; those of their ends point outwards."""
    rings = path[..., None, :] + radius[..., None, None, None] * sections
    ends = unit(np.stack([path[..., 0, :] - path[..., 1, :], path[..., -1, :] - path[..., -2, :]], axis=-2))
    flat = (*path.shape[:-2], -1, 3)
    points = np.concatenate([rings.reshape(flat), path[..., [0, -1], :]], axis=-2)
    return points, np.concatenate([unit(sections).reshape(flat), ends], axis=-2)


def _without_twist(along: Array) -> Array:
    """Unit vectors (..., k, 3) square to directions (..., k, 3), each the one before laid square to its direction."""
    first = along[..., 0, :]
    start = square_to(first)
    middle = turn(skew(first), along[..., along.shape[-2] // 2, :])
    # Of a path in one plane what is square to the plane stays. What lies in it turns with the direction, and shrinks
    # by the cosine of every step.
    plane = np.where(norm(middle)[..., None] > 1e-6, middle, start)
    plane = (plane / norm(plane)[..., None])[..., None, :]
    if np.abs(dot(along, plane)).max() < 1e-12:
        beside, steps = turn(skew(plane), along), np.ones(along.shape[:-1])
        steps[..., 1:] = np.cumprod(dot(along[..., :-1, :], along[..., 1:, :]), axis=-1)
        out, within = dot(start, plane[..., 0, :]), dot(start, beside[..., 0, :])
        return unit(out[..., None, None] * plane + (within[..., None] * steps)[..., None] * beside)
    # Plain numbers: a film and a window bend hundreds of sections for each picture, and an array of three is slow.
    rows = []
    for before, line in zip(start.reshape(-1, 3).tolist(), along.reshape(-1, *along.shape[-2:]).tolist(), strict=True):
        x, y, z = before
        for a, b, c in line:
            reach = x * a + y * b + z * c
            x, y, z = x - reach * a, y - reach * b, z - reach * c
            size = math.sqrt(x * x + y * y + z * z)
            x, y, z = x / size, y / size, z / size
            rows.append((x, y, z))
    return np.array(rows).reshape(along.shape)


def capped(rings: Array) -> Mesh:
    """Sections (k, n, 3) joined to a closed bar."""
    count, sides = rings.shape[:2]
    points = np.concatenate(
        [rings.reshape(-1, 3), rings[0].mean(axis=0, keepdims=True), rings[-1].mean(axis=0, keepdims=True)]
    )
    return Mesh(points, bar_faces(count, sides))


def looped(rings: Array) -> Mesh:
    """Sections (k, n, 3) joined each to the next and the last to the first."""
    count, sides = rings.shape[:2]
    return Mesh(rings.reshape(-1, 3), loop_faces(count, sides))


@lru_cache(maxsize=256)
def loop_faces(count: int, sides: int) -> Faces:
    """Triangles of `count` sections of `sides` vertices each, the last joined to the first; never written to."""
    whole = np.concatenate([strip(row * sides, (row + 1) % count * sides, sides) for row in range(count)])
    whole.flags.writeable = False
    return whole


@lru_cache(maxsize=256)
def bar_faces(count: int, sides: int) -> Faces:
    """Triangles of `count` sections of `sides` vertices each, joined to a closed bar; shared, so never written to."""
    faces = [strip(row * sides, (row + 1) * sides, sides) for row in range(count - 1)]
    faces += [fan(count * sides, 0, sides)[:, ::-1], fan(count * sides + 1, (count - 1) * sides, sides)]
    whole = np.concatenate(faces)
    whole.flags.writeable = False
    return whole


def strip(lower: int, upper: int, count: int) -> Faces:
    """Triangles (2 count, 3) between two closed rings of vertices that start at `lower` and `upper`."""
    here = np.arange(count)
    there = (here + 1) % count
    first = np.stack([lower + here, lower + there, upper + there], axis=-1)
    second = np.stack([lower + here, upper + there, upper + here], axis=-1)
    return np.concatenate([first, second])


def fan(middle: int, ring: int, count: int) -> Faces:
    """Triangles (count, 3) from a middle vertex to a closed ring."""
    here = np.arange(count)
    return np.stack([np.full(count, middle), ring + here, ring + (here + 1) % count], axis=-1)
