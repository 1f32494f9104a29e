"""Springs, hoses and wound rubber as one mesh and a few shapes that are mixed from pose to pose.

The points of such a part over M poses, seen from a frame that goes with it, are the rows of a matrix of which a few
singular vectors say nearly all. A spring and a hose have one shape for each distance between their ends: the weights
are found for a table of distances. What is wound has one for each place of its far part as seen from the near one: the
weights are those that fit some of its vertices best.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model.errors import DrawingError
from model.flexing import coil_start, wound, wound_shares
from model.members import Transform
from model.meshes import mesh_of, pliant_mesh
from model.solids import HoseSolid, Pliant, SpringSolid, WoundSolid
from model.spatial import Array, across, move, norm, rotation_vector, square_to, triad, turn
from model.triangles import Faces, joined
from viz.shapes import shaded, smooth_normals

# How far in mm a vertex may be from where its own mesh has it, in any pose; and from where the fitted poses have it.
TOLERANCE, FIT = 0.2, 0.1
# Distances in the first table of a spring or hose, and in the largest that is tried.
FEWEST_SPANS, MOST_SPANS = 17, 257
# Poses that a wound part is fitted to at first; poses that it is checked on; how often those that miss are added; how
# near in mm to one that is fitted another need not be.
FITTED, CHECKED, ROUNDS, NEAR = 24, 48, 4, 0.02
# Vertices all over a wound part from which its weights are found.
PROBES = 48
# Poses for which some vertices are worked out at once: about 30 MB.
CHUNK = 4096

Places = Mapping[str, Transform]
Which = NDArray[np.intp]


@dataclass(frozen=True)
class ShapeKeys:
    """A pliant part: points and normals (n, 3) at rest and faces (m, 3), in mm in `frame`, which moves over N poses.

    weights (N, T) mix shifts (T, n, 3) into the points and turns (T, n, 3) into the normals.
    """

    solid: Pliant
    frame: Transform
    points: Array
    normals: Array
    faces: Faces
    shifts: Array
    turns: Array
    weights: Array


def shape_keys(solid: Pliant, places: Places, rest: int) -> ShapeKeys:
    """The shapes of a part over N poses; all weights are 0 in the pose at rest.

    Args:
        solid: what changes shape.
        places: where each part is in each pose.
        rest: number of that pose.

    Raises:
        DrawingError: its shapes cannot be mixed from a few.

    """
    if isinstance(solid, WoundSolid):
        return _wound_keys(solid, places[solid.near], places[solid.far], rest)
    if isinstance(solid, SpringSolid):
        start, stop = places[solid.bottom_part].point(solid.bottom), places[solid.top_part].point(solid.top)
    else:
        start, stop = (places[part].point(at) for part, at in zip(solid.parts, solid.ends, strict=True))
    spans = norm(stop - start)
    frame = Transform(_along(solid, (stop - start) / np.maximum(spans, 1e-9)[:, None]), start)
    return _span_keys(solid, frame, spans, rest)


def _along(solid: SpringSolid | HoseSolid, along: Array) -> Array:
    """Frames (N, 3, 3): x is along unit directions (N, 3), y is where a hose hangs or away from where a coil begins."""
    if isinstance(solid, SpringSolid):
        # The coils of one along x begin at −y.
        return triad(along, -coil_start(along))
    hang = across(solid.sag, along)
    return triad(along, np.where(norm(hang)[:, None] > 1e-6, hang, square_to(along)))


def _between(solid: SpringSolid | HoseSolid, span: float) -> SpringSolid | HoseSolid:
    """The same part with its ends on the x axis, `span` apart."""
    start, stop = np.zeros(3), np.array([span, 0.0, 0.0])
    if isinstance(solid, SpringSolid):
        return replace(solid, bottom=start, top=stop)
    return replace(solid, ends=(start, stop), sag=np.array([0.0, 1.0, 0.0]))


def _span_keys(solid: SpringSolid | HoseSolid, frame: Transform, spans: Array, rest: int) -> ShapeKeys:
    """Shapes by the distance between two ends (N,)."""
    still = (np.eye(3), np.zeros(3))
    taut = solid.length if isinstance(solid, HoseSolid) else None

    def points_at(table: Array) -> Array:
        meshes = [pliant_mesh(_between(solid, span), lambda _: still) for span in _spans(table, taut).tolist()]
        return np.array([mesh.points for mesh in meshes]).reshape(len(table), *base.points.shape)

    base = pliant_mesh(_between(solid, float(spans[rest])), lambda _: still)
    marks = _marks(spans, taut)
    low, high, count = float(marks.min()), float(marks.max()), FEWEST_SPANS
    while count <= MOST_SPANS:
        # A hose stops bending where it is taut, at 0.
        bends = [0.0] if taut is not None and low < 0.0 < high else []
        table = np.unique([*np.linspace(low, high, count), marks[rest], *bends])
        samples = points_at(table)
        shifts, mixed = _shapes(samples - base.points)
        halves = 0.5 * (table[1:] + table[:-1])
        if _off(points_at(halves), base.points, shifts, _looked_up(halves, table, mixed)) <= TOLERANCE:
            break
        count = 2 * count - 1
    else:
        raise DrawingError(f"{solid.label} changes shape too much to be written as a few shapes; export single poses.")
    normals = smooth_normals(base)
    changes = np.array([smooth_normals(replace(base, points=points)) for points in samples]) - normals
    weights = _looked_up(marks, table, mixed)
    return ShapeKeys(solid, frame, base.points, normals, base.faces, shifts, _fitted(mixed, changes), weights)


def _marks(spans: Array, taut: float | None) -> Array:
    """What a shape grows evenly with: the distance between two ends (k,), but the root of the slack of a slack hose."""
    if taut is None:
        return spans
    return np.where(spans < taut, -np.sqrt(np.maximum(taut - spans, 0.0)), spans - taut)


def _spans(marks: Array, taut: float | None) -> Array:
    """The distances (k,) to which marks belong."""
    if taut is None:
        return marks
    return np.where(marks < 0.0, taut - marks**2, taut + marks)


def _looked_up(marks: Array, table: Array, mixed: Array) -> Array:
    """Weights (k, T) at marks (k,), straight between those (m, T) of a table (m,)."""
    columns = [np.interp(marks, table, column) for column in mixed.T]
    return np.stack(columns, axis=-1) if columns else np.zeros((len(marks), 0))


def _wound_keys(solid: WoundSolid, near: Transform, far: Transform, rest: int) -> ShapeKeys:
    """Shapes by where the far part is as seen from the near one."""
    frame = Transform(near.rotation, near.point(solid.origin))
    back = np.swapaxes(near.rotation, -1, -2)
    # Both parts seen from the near one: it stands still.
    place = (back @ far.rotation, turn(back, far.translation - near.translation))
    points, normals, faces = shaded(joined(mesh_of(part) for part in solid.solids))
    share = wound_shares(solid, points)

    def seen(which: Which, vertices: Which | slice = slice(None)) -> tuple[Array, Array]:
        there = (place[0][which], place[1][which])
        still = (np.broadcast_to(np.eye(3), there[0].shape), np.zeros_like(there[1]))
        at, turned = wound(solid, points[vertices], share[vertices], still, there)
        return at - solid.origin, np.einsum("...nij,nj->...ni", turned, normals[vertices])

    (base,), (base_normals,) = seen(np.array([rest]))
    reach = float(norm(points - solid.origin).max())
    # Two poses whose marks (N, 6) are alike have the same shape, to that many mm.
    marks = np.concatenate([reach * rotation_vector(place[0]), move(*place, solid.origin) - solid.origin], axis=-1)
    fitted = _apart(marks, rest, FITTED)
    checked = np.unique(np.linspace(0, len(marks) - 1, CHECKED).astype(np.intp))
    for _ in range(ROUNDS):
        at, turned = seen(fitted)
        shifts, _ = _shapes(at - base)
        weights = _mixed(seen, base, shifts, len(marks))
        misses = _offs(seen(checked)[0], base, shifts, weights[checked])
        if misses.max() <= TOLERANCE:
            break
        fitted = np.unique([*fitted, *checked[misses > 0.5 * TOLERANCE]])
    else:
        raise DrawingError(f"{solid.label} changes shape too much to be written as a few shapes; export single poses.")
    turns = _fitted(weights[fitted], turned - base_normals)
    return ShapeKeys(solid, frame, base, base_normals, faces, shifts, turns, weights)


def _mixed(seen: Callable[[Which, Which], tuple[Array, Array]], base: Array, shifts: Array, count: int) -> Array:
    """Weights (count, T) that bring base (n, 3) with shifts (T, n, 3) nearest to where some vertices are `seen`."""
    if not len(shifts):
        return np.zeros((count, 0))
    probes = np.unique(np.linspace(0, shifts.shape[1] - 1, PROBES).astype(np.intp))
    back = np.linalg.pinv(shifts[:, probes].reshape(len(shifts), -1))
    blocks = [np.arange(start, min(start + CHUNK, count)) for start in range(0, count, CHUNK)]
    return np.concatenate([(seen(block, probes)[0] - base[probes]).reshape(len(block), -1) @ back for block in blocks])


def _shapes(changes: Array) -> tuple[Array, Array]:
    """The fewest shapes (T, n, 3), and weights (M, T) up to 1 of them, that give changes (M, n, 3) to within FIT."""
    flat = changes.reshape(len(changes), -1)
    # The rows are few and long: their singular values are had faster from the square of the matrix. Below a millionth
    # of the largest they are noise.
    square, left = np.linalg.eigh(flat @ flat.T)
    told = square > 1e-12 * square[-1]
    size, left = np.sqrt(square[told])[::-1], left[:, told][:, ::-1]
    mixed, right = left * size, (left / size).T @ flat
    kept = next(
        count
        for count in range(len(size) + 1)
        if count == len(size)
        or norm((flat - mixed[:, :count] @ right[:count]).reshape(changes.shape)).max(initial=0.0) <= FIT
    )
    largest = np.abs(mixed[:, :kept]).max(axis=0)
    return (right[:kept] * largest[:, None]).reshape(kept, *changes.shape[1:]), mixed[:, :kept] / largest


def _fitted(weights: Array, changes: Array) -> Array:
    """Shapes (T, n, 3) that weights (M, T) mix to come nearest to changes (M, n, 3)."""
    found = np.linalg.pinv(weights) @ changes.reshape(len(changes), -1)
    return np.asarray(found.reshape(weights.shape[1], *changes.shape[1:]))


def _offs(true: Array, base: Array, shifts: Array, weights: Array) -> Array:
    """How far (M,) the worst vertex of each of M shapes (M, n, 3) is from where the mixed shapes have it."""
    return np.asarray(norm(true - base - np.tensordot(weights, shifts, axes=1)).max(axis=-1))


def _off(true: Array, base: Array, shifts: Array, weights: Array) -> float:
    return float(_offs(true, base, shifts, weights).max(initial=0.0))


def _apart(marks: Array, first: int, most: int) -> Which:
    """Numbers of poses whose marks (N, d) lie far apart: from `first` on, each is the farthest from those before."""
    chosen = [first]
    nearest = np.asarray(((marks - marks[first]) ** 2).sum(axis=1))
    while len(chosen) < most and nearest.max() > NEAR**2:
        chosen.append(int(nearest.argmax()))
        nearest = np.minimum(nearest, ((marks - marks[chosen[-1]]) ** 2).sum(axis=1))
    return np.array(chosen, dtype=np.intp)
