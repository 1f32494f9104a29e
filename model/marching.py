"""The surface on which a field on a grid is zero, as a closed mesh: marching tetrahedra.

Every cube of the grid is cut into the six tetrahedra that share its long diagonal (Kuhn's division), in each of which
the field is taken as linear. Two tetrahedra that meet cut their common face alike, so that the surface has no holes.
"""

from __future__ import annotations

from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from model.signedfields import Counts, Field
from model.spatial import Array
from model.triangles import Faces, Mesh

Truths = NDArray[np.bool_]
# No grid point may be nearer to the surface than this share of a cell, which would make slivers: nearer ones count as
# inside.
CLEAR = 0.02


def _tetrahedra() -> Counts:
    """The six tetrahedra (6, 4, 3) of a cube by the corners they have, all wound the same way."""
    found = []
    for order in permutations(range(3)):
        corners = np.cumsum([np.zeros(3, dtype=np.int64), *np.eye(3, dtype=np.int64)[list(order)]], axis=0)
        turned = np.linalg.det((corners[1:] - corners[0]).astype(float)) < 0.0
        found.append(corners[[0, 2, 1, 3]] if turned else corners)
    return np.array(found)


TETRAHEDRA = _tetrahedra()
# Even orders of a tetrahedron's corners, by which one comes first; and by which two of them do.
_FIRST = {0: (0, 1, 2, 3), 1: (1, 0, 3, 2), 2: (2, 0, 1, 3), 3: (3, 0, 2, 1)}
_PAIRS = {
    (0, 1): (0, 1, 2, 3),
    (0, 2): (0, 2, 3, 1),
    (0, 3): (0, 3, 1, 2),
    (1, 2): (1, 2, 0, 3),
    (1, 3): (1, 3, 2, 0),
    (2, 3): (2, 3, 0, 1),
}


def _cuts() -> dict[int, list[tuple[tuple[int, int], ...]]]:
    """Triangles by the corners inside (a bit each): three edges (inside corner, outside corner) for each triangle."""
    cuts: dict[int, list[tuple[tuple[int, int], ...]]] = {}
    for one, (i, j, k, m) in _FIRST.items():
        cuts[1 << one] = [((i, j), (i, k), (i, m))]
        cuts[15 - (1 << one)] = [((j, i), (m, i), (k, i))]
    for (one, other), (i, j, k, m) in _PAIRS.items():
        cuts[(1 << one) | (1 << other)] = [((i, k), (i, m), (j, m)), ((i, k), (j, m), (j, k))]
    return cuts


CUTS = _cuts()


def zero_surface(field: Field) -> Mesh:
    """The closed surface about where a field is negative; it must be positive all round the grid's border."""
    values = np.where(np.abs(field.values) < CLEAR * field.cell, -CLEAR * field.cell, field.values)
    shape, inside = values.shape, values < 0.0
    mixed = np.zeros(tuple(count - 1 for count in shape), dtype=bool)
    base = _corner(inside, (0, 0, 0))
    for corner in np.ndindex(2, 2, 2):
        mixed |= _corner(inside, corner) != base
    cubes = np.stack(np.nonzero(mixed), axis=-1)
    flat_values, flat_inside = values.ravel(), inside.ravel()
    size = int(np.prod(shape))
    edges: list[Counts] = []
    for tetrahedron in TETRAHEDRA:
        nodes = np.stack([np.ravel_multi_index(tuple((cubes + corner).T), shape) for corner in tetrahedron], axis=-1)
        pattern = (flat_inside[nodes] << np.arange(4)).sum(axis=-1)
        for which, triangles in CUTS.items():
            chosen = nodes[pattern == which]
            for triangle in triangles:
                edges.append(np.stack([chosen[:, a] * size + chosen[:, b] for a, b in triangle], axis=-1))
    keys, numbers = np.unique(np.concatenate(edges), return_inverse=True)
    start, stop = np.divmod(keys, size)
    share = flat_values[start] / (flat_values[start] - flat_values[stop])
    places = [np.stack(np.unravel_index(node, shape), axis=-1) for node in (start, stop)]
    points: Array = field.low + field.cell * (places[0] + share[:, None] * (places[1] - places[0]))
    faces: Faces = numbers.reshape(-1, 3).astype(np.int64)
    return Mesh(points, faces)


def linear_values(field: Field, points: Array) -> tuple[Array, Counts]:
    """A field at points (n, 3) as linear in each tetrahedron, (n,), and the grid points (n, 4) it is taken from."""
    at = (points - field.low) / field.cell
    base = np.clip(np.floor(at).astype(np.int64), 0, np.array(field.values.shape) - 2)
    part = at - base
    order = np.argsort(-part, axis=-1)
    steps = np.concatenate(
        [np.zeros((len(at), 1, 3), dtype=np.int64), np.cumsum(np.eye(3, dtype=np.int64)[order], 1)], 1
    )
    nodes = np.ravel_multi_index(tuple(np.moveaxis(base[:, None] + steps, -1, 0)), field.values.shape)
    values = field.values.ravel()[nodes]
    sorted_part = np.take_along_axis(part, order, axis=-1)
    return values[:, 0] + (np.diff(values, axis=1) * sorted_part).sum(axis=-1), nodes


def _corner(inside: Truths, corner: tuple[int, ...]) -> Truths:
    """The corners of all cubes that lie in one direction (0 or 1 along each axis)."""
    return inside[tuple(slice(step, count - 1 + step) for step, count in zip(corner, inside.shape, strict=True))]
