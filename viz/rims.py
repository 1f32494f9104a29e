"""The edges of cut faces, without what lies within another face of the same part or behind one that is before it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from model.spatial import Array
from model.triangles import Mesh

# Corners of triangles that are nearer to each other than this are one, in mm.
SAME = 1e-5


def edges_of(face: Mesh) -> Array:
    """The edges (k, 2, 3) of a flat face: those that only one of its triangles has."""
    _, first, numbers = np.unique(np.round(face.points / SAME), axis=0, return_index=True, return_inverse=True)
    corners = numbers.reshape(-1)[face.faces]
    sides = np.sort(np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]]), axis=1)
    sides, times = np.unique(sides, axis=0, return_counts=True)
    outer = sides[(times == 1) & (sides[:, 0] != sides[:, 1])]
    return np.asarray(face.points[first][outer])


def pieces_of(edges: Array, longest: float) -> Array:
    """Edges (k, 2, 3) in pieces (m, 2, 3) of at most a length in mm."""
    span = edges[:, 1] - edges[:, 0]
    count = np.maximum(1, np.ceil(np.sqrt((span**2).sum(axis=1)) / longest).astype(int))
    which = np.repeat(np.arange(len(edges)), count)
    number = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    share = np.stack([number, number + 1], axis=-1) / count[which, None]
    return np.asarray(edges[which, None, 0] + share[..., None] * span[which, None])


def within(spots: Array, edges: Array) -> NDArray[np.bool_]:
    """Which spots (m, 2) the closed lines with edges (k, 2, 2) go around, by how often a ray from each crosses them."""
    (x, y), (a, b) = spots.T, (edges[:, 0], edges[:, 1])
    straddles = (a[None, :, 1] > y[:, None]) != (b[None, :, 1] > y[:, None])
    rise = np.where(a[:, 1] == b[:, 1], 1.0, b[:, 1] - a[:, 1])
    crossing = a[:, 0] + (y[:, None] - a[:, 1]) / rise * (b[:, 0] - a[:, 0])
    return np.asarray((straddles & (crossing > x[:, None])).sum(axis=1) % 2 == 1)


def seen_rims(faces: Sequence[Mesh], layers: Sequence[int], axes: Array, longest: float) -> list[Array]:
    """The pieces (m, 2, 3) of the edges of each of some faces that are to be drawn.

    Args:
        faces: flat, square to the look.
        layers: one for each; those of a lower one are drawn over those of a higher one.
        axes: (3, 3), of the camera; the picture is seen along the last.
        longest: of a piece, mm: so finely is an edge cut off.

    """
    outlines = [edges_of(face) for face in faces]
    flat = [outline @ axes[:, :2] for outline in outlines]
    rims = []
    for own, (outline, layer) in enumerate(zip(outlines, layers, strict=True)):
        pieces = pieces_of(outline, longest)
        spots = pieces.mean(axis=1) @ axes[:, :2]
        hidden = np.zeros(len(spots), dtype=bool)
        for other, over in enumerate(layers):
            if other == own or over > layer or not len(flat[other]):
                continue
            corners = flat[other].reshape(-1, 2)
            near = np.flatnonzero(((spots > corners.min(axis=0)) & (spots < corners.max(axis=0))).all(axis=1) & ~hidden)
            hidden[near] = within(spots[near], flat[other])
        rims.append(pieces[~hidden])
    return rims
