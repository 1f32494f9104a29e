"""Rotations, directions and rigid transforms as plain functions on arrays with leading batch axes.

A transform is a rotation `(..., 3, 3)` and a translation `(..., 3)`: it maps x to R x + t.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def dot(a: Array, b: Array) -> Array:
    """Scalar product of `(..., 3)` vectors, shape `(...)`."""
    return np.asarray(np.einsum("...i,...i->...", a, b))


def cross(a: Array, b: Array) -> Array:
    """Vector product of `(..., 3)` vectors; of a few poses in a third of the time that NumPy's own takes."""
    x, y, z = a[..., 0], a[..., 1], a[..., 2]
    u, v, w = b[..., 0], b[..., 1], b[..., 2]
    return np.stack([y * w - z * v, z * u - x * w, x * v - y * u], axis=-1)


def norm(a: Array) -> Array:
    """Length of `(..., 3)` vectors, shape `(...)`."""
    return np.sqrt(dot(a, a))


def unit(a: Array) -> Array:
    """Directions of `(..., 3)` vectors; the caller sees to it that none is zero."""
    return a / norm(a)[..., None]


def across(a: Array, direction: Array) -> Array:
    """The part of `(..., 3)` vectors that is square to the unit `direction`."""
    return a - dot(a, direction)[..., None] * direction


def angle_between(a: Array, b: Array) -> Array:
    """Angle between `(..., 3)` vectors in rad, 0 to π, exact near 0 and π (atan2 of sine and cosine)."""
    return np.arctan2(norm(np.cross(a, b)), dot(a, b))


def turn_about(axis: Array, a: Array, b: Array) -> Array:
    """Signed angle in rad that turns a into b about the unit `axis`, both seen along it, right-handed."""
    return np.arctan2(dot(turn(skew(axis), a), b), dot(across(a, axis), b))


def rotation_about(axis: Array, angle: Array) -> Array:
    """Rotation `(..., 3, 3)` by `angle` rad about the unit `axis` `(..., 3)` (Rodrigues' formula)."""
    angle = np.asarray(angle, dtype=float)[..., None, None]
    outer = axis[..., :, None] * axis[..., None, :]
    return np.asarray(np.cos(angle) * (np.eye(3) - outer) + np.sin(angle) * skew(axis) + outer)


def rotation_vector(rotation: Array) -> Array:
    """Axis times angle `(..., 3)` in rad of rotations `(..., 3, 3)` short of half a turn."""
    twice_sine = np.stack(
        [
            rotation[..., 2, 1] - rotation[..., 1, 2],
            rotation[..., 0, 2] - rotation[..., 2, 0],
            rotation[..., 1, 0] - rotation[..., 0, 1],
        ],
        axis=-1,
    )
    size = norm(twice_sine)
    angle = np.arctan2(size, np.einsum("...ii->...", rotation) - 1.0)
    # For small angles the sine is the angle.
    scale = np.divide(angle, size, out=np.full_like(size, 0.5), where=size > 1e-9)
    return np.asarray(scale[..., None] * twice_sine)


# The skew matrices of the three axes, each as a row.
_SKEW = np.array(
    [[0, 0, 0, 0, 0, -1, 0, 1, 0], [0, 0, 1, 0, 0, 0, -1, 0, 0], [0, -1, 0, 1, 0, 0, 0, 0, 0]], dtype=float
)


def skew(a: Array) -> Array:
    """The matrix `(..., 3, 3)` whose product with b is a × b."""
    return np.asarray((a @ _SKEW).reshape(*a.shape, 3))


def shortest_rotation(a: Array, b: Array) -> Array:
    """The smallest rotation `(..., 3, 3)` that turns unit a into unit b; a = −b has no single answer."""
    cross = skew(np.cross(a, b))
    return np.eye(3) + cross + cross @ cross / (1.0 + dot(a, b))[..., None, None]


def square_to(direction: Array) -> Array:
    """A unit vector `(..., 3)` square to the unit `direction`, the same one for the same direction."""
    helper = np.where(np.abs(direction[..., 2:]) < 0.8, [0.0, 0.0, 1.0], [1.0, 0.0, 0.0])
    return unit(turn(skew(direction), helper))


def triad(direction: Array, reference: Array) -> Array:
    """Right-handed axes as columns `(..., 3, 3)`: x along `direction`, y towards `reference`."""
    x = unit(direction)
    y = unit(across(np.broadcast_to(reference, x.shape), x))
    return np.stack([x, y, turn(skew(x), y)], axis=-1)


def move(rotation: Array, translation: Array, points: Array) -> Array:
    """R x + t for one point `(3,)` per transform, or for points `(..., 3)` that fit the batch axes."""
    return turn(rotation, points) + translation


def turn(rotation: Array, directions: Array) -> Array:
    """R d for directions `(..., 3)` that fit the batch axes."""
    if directions.ndim == 1:  # one product of two plain matrices is several times faster
        return np.asarray((rotation.reshape(-1, 3) @ directions).reshape(rotation.shape[:-1]))
    return np.asarray(np.einsum("...ij,...j->...i", rotation, directions))


def about_point(rotation: Array, before: Array, after: Array) -> Array:
    """Translation `(..., 3)` of the transform with this rotation that takes point `before` to `after`."""
    return after - turn(rotation, before)


def homogeneous(rotation: Array, translation: Array) -> Array:
    """The 4×4 matrix `(..., 4, 4)` of a transform."""
    matrix = np.zeros((*rotation.shape[:-2], 4, 4))
    matrix[..., :3, :3], matrix[..., :3, 3], matrix[..., 3, 3] = rotation, translation, 1.0
    return matrix
