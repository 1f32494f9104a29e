"""Distances between triangle meshes, and cheap bounds on them over many poses.

Distances come from FCL, on a tree of each mesh that is built once. The bounds rest on two facts. Where no point of a
part moves farther than m between two poses, its distance to anything that stands still changes by at most m. And two
parts between which a slab fits are at least as far apart as the slab is thick: the slab that touches both at their
nearest points in one pose is nearly the thickest in the poses around it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise, product

import fcl
import numpy as np
from scipy.spatial import ConvexHull, QhullError

from model.insides import Solid, any_inside, box_of, pieces, solids_in
from model.spatial import Array, norm, square_to, unit
from model.triangles import Mesh

# A depth is found to this, mm: a hundredth of what a tape can tell.
DEPTH_STEP = 0.01
# The 26 directions to a cube's faces, edges and corners: each direction in space is within 28 degrees of one.
CUBE = unit(np.array([d for d in product((-1.0, 0.0, 1.0), repeat=3) if any(d)]))
# From the best of those the search turns by half as much each time, down to a quarter of a degree.
TURNS = np.radians(16.0) * 0.5 ** np.arange(7)

# Width of a line's triangles, mm: FCL wants them to have an area.
RIBBON = 0.002

NEAREST = fcl.DistanceRequest(enable_nearest_points=True)
TOUCH = fcl.CollisionRequest(num_max_contacts=1)


class Shape:
    """A mesh with the tree that FCL searches; points and boxes are in the mesh's own coordinates, mm.

    `skin` is a thickness about the mesh that belongs to the shape: a hose is its middle line in a skin. `whole` is the
    mesh with what joints leave out of it: another part may lie inside it.
    """

    def __init__(self, mesh: Mesh, skin: float = 0.0, whole: Mesh | None = None) -> None:
        """Keep a mesh with at least one triangle; its tree is built when it is first asked for."""
        self.mesh, self.skin, self.whole = mesh, skin, mesh if whole is None else whole

    @cached_property
    def still(self) -> fcl.CollisionObject:
        """The tree where it stands."""
        return fcl.CollisionObject(self._tree, fcl.Transform())

    @cached_property
    def moved(self) -> fcl.CollisionObject:
        """The tree where it was last moved to."""
        return fcl.CollisionObject(self._tree, fcl.Transform())

    @cached_property
    def _tree(self) -> fcl.BVHModel:
        tree = fcl.BVHModel()
        tree.beginModel(len(self.mesh.points), len(self.mesh.faces))
        tree.addSubModel(np.ascontiguousarray(self.mesh.points), np.ascontiguousarray(self.mesh.faces))
        tree.endModel()
        return tree

    @cached_property
    def box(self) -> tuple[Array, Array]:
        """Lowest and highest corner (3,)."""
        return box_of(self.mesh)

    @cached_property
    def hull(self) -> Array:
        """Corners (h, 3) of the convex hull."""
        points = self.mesh.points[np.unique(self.mesh.faces)]
        try:
            return np.asarray(points[ConvexHull(points).vertices])
        except QhullError:  # a flat mesh has no hull: all its points serve
            return points

    @cached_property
    def probes(self) -> Array:
        """The middle (n, 3) of one triangle of every piece of the mesh."""
        _, first = np.unique(pieces(self.mesh), return_index=True)
        return np.asarray(self.mesh.points[self.mesh.faces[first]].mean(axis=1))

    @cached_property
    def solids(self) -> tuple[Solid, ...]:
        """Those pieces of the whole that are closed."""
        return solids_in(self.whole)

    def holds(self, points: Array) -> bool:
        """Whether any of some points (n, 3) is inside the whole, not in a hollow of it."""
        return any_inside(self.solids, points)


@dataclass(frozen=True)
class Nearest:
    """Distance in mm, negative where the parts overlap, and the nearest point of either (2, 3).

    Where they overlap, the distance is how far the second would have to be moved straight out, in the best direction
    that is found, until they part, and the points are those at which they part last. `way` (3,) is the unit direction
    from the first part to the second.
    """

    distance: float
    points: Array
    way: Array


def nearest(
    first: Shape,
    second: Shape,
    rotation: Array,
    translation: Array,
    hint: Array | None = None,
    *,
    apart: bool = False,
) -> Nearest:
    """Nearest points of two parts.

    Args:
        first: stands still.
        second: is placed by rotation (3, 3) and translation (3,) in mm; so are the points of the result.
        rotation: of the second part.
        translation: of the second part.
        hint: a direction (3,) in which to look first for the way out where they overlap.
        apart: known to be apart: neither can be inside the other.

    """
    bare = _nearest(first, second, rotation, translation, hint, apart)
    thick = first.skin + second.skin
    if thick == 0.0:
        return bare
    points = bare.points + np.outer([first.skin, -second.skin], bare.way)
    return Nearest(bare.distance - thick, points, bare.way)


def _nearest(
    first: Shape, second: Shape, rotation: Array, translation: Array, hint: Array | None, apart: bool
) -> Nearest:
    """Nearest points of two meshes without their skins."""
    second.moved.setTransform(fcl.Transform(rotation, translation))
    found = fcl.DistanceResult()
    distance = float(fcl.distance(first.still, second.moved, NEAREST, found))
    if distance <= 0.0 or (not apart and _swallowed(first, second, rotation, translation)):
        return _way_out(first, second, rotation, translation, hint)
    points = np.array(found.nearest_points)
    return Nearest(distance, points, unit(points[1] - points[0]))


def overlapping(first: Shape, second: Shape, rotation: Array, translation: Array) -> bool:
    """Whether the surfaces of two meshes meet, or one closed part lies wholly inside the other."""
    second.moved.setTransform(fcl.Transform(rotation, translation))
    if fcl.collide(first.still, second.moved, TOUCH, fcl.CollisionResult()):
        return True
    return _swallowed(first, second, rotation, translation)


def _swallowed(first: Shape, second: Shape, rotation: Array, translation: Array) -> bool:
    """Whether a piece of one of two meshes whose surfaces do not meet lies inside the whole of the other.

    Where the surfaces do not meet a piece is inside with all of it or not at all. What joints leave out of a mesh has
    no say, since it may be inside by design; what they leave out of the other is there all the same.
    """
    return first.holds(second.probes @ rotation.T + translation) or second.holds(
        (first.probes - translation) @ rotation
    )


def _way_out(first: Shape, second: Shape, rotation: Array, translation: Array, hint: Array | None) -> Nearest:
    """The shortest straight way out of an overlap: the best of `CUBE`, and what is found from there."""
    middle = rotation @ np.mean(second.box, axis=0) + translation - np.mean(first.box, axis=0)
    ways = [*CUBE, *([] if norm(middle) < 1e-9 else [unit(middle)]), *([] if hint is None else [hint])]
    hull = second.hull @ rotation.T + translation
    # Moved this far, the second part has left the slab in which the first lies: that is always enough.
    enough = np.array([float((first.hull @ way).max() - (hull @ way).min()) for way in ways])
    order = np.argsort(enough, kind="stable")
    way = ways[order[0]]
    depth = _depth(first, second, rotation, translation, way, float(enough[order[0]]))
    for number in order[1:]:
        depth, way = _better(first, second, (rotation, translation), ways[number], (depth, way))
    for turn in TURNS:
        side = square_to(way)
        for aside in (side, -side, np.cross(way, side), -np.cross(way, side)):
            turned = np.cos(turn) * way + np.sin(turn) * aside
            depth, way = _better(first, second, (rotation, translation), turned, (depth, way))
    second.moved.setTransform(fcl.Transform(rotation, translation + (depth + DEPTH_STEP) * way))
    found = fcl.DistanceResult()
    fcl.distance(first.still, second.moved, NEAREST, found)
    a, b = found.nearest_points
    return Nearest(-depth, np.array([a, b - (depth + DEPTH_STEP) * way]), way)


def _better(
    first: Shape, second: Shape, placed: tuple[Array, Array], way: Array, best: tuple[float, Array]
) -> tuple[float, Array]:
    """The better of a new way out and the best so far, each with its depth."""
    short = best[0] - DEPTH_STEP
    if short <= 0.0 or overlapping(first, second, placed[0], placed[1] + short * way):
        return best
    return _depth(first, second, *placed, way, short), way


def _depth(first: Shape, second: Shape, rotation: Array, translation: Array, way: Array, enough: float) -> float:
    """How far along a way (3,) the second part must go to be free; at most `enough`, which is known to do."""
    caught, free = 0.0, enough
    while free - caught > DEPTH_STEP:
        halfway = 0.5 * (caught + free)
        if overlapping(first, second, rotation, translation + halfway * way):
            caught = halfway
        else:
            free = halfway
    return free


def ribbon(line: Array) -> Mesh:
    """A line (k, 3) as triangles that are hardly wider than it: `RIBBON` to one side."""
    legs = unit(np.diff(line, axis=0))
    aside = np.eye(3)[np.abs(legs).argmin(axis=1)]
    points = np.concatenate([line, line[:-1] + RIBBON * unit(np.cross(legs, aside))])
    first = np.arange(len(legs))
    return Mesh(points, np.stack([first, first + 1, first + len(line)], axis=-1))


def corners(low: Array, high: Array) -> Array:
    """The corners (8, 3) of a box."""
    return np.array(list(product(*zip(low, high, strict=True))))


def boxes_apart(low: Array, high: Array, other_low: Array, other_high: Array) -> Array:
    """Distance (...) between boxes along the axes, given by their corners (..., 3)."""
    return norm(np.maximum(0.0, np.maximum(low - other_high, other_low - high)))


def farthest_moved(points: Array, origin: Array) -> Array:
    """How far (N, K) each of K pieces is moved at most from one pose (K, P, 3) to others, of points (N, K, P, 3).

    A rigid piece moves no point farther than it moves a corner of a box around it: the move is an affine function of
    the point, and the length of one is convex.
    """
    gone = points - origin
    return np.asarray(np.sqrt(np.einsum("nkpi,nkpi->nkp", gone, gone).max(axis=2)))


def sliced(mesh: Mesh, count: int) -> Array:
    """Corners (K, 8, 3) of boxes around the slices of a mesh, at most `count`, cut square to its longest side."""
    triangles = mesh.points[mesh.faces]
    low, high = triangles.min(axis=1), triangles.max(axis=1)
    axis = int((high.max(axis=0) - low.min(axis=0)).argmax())
    boxes = []
    for start, stop in pairwise(np.linspace(low[:, axis].min(), high[:, axis].max(), count + 1)):
        some = (high[:, axis] >= start) & (low[:, axis] <= stop)
        if some.any():
            lowest, highest = low[some].min(axis=0), high[some].max(axis=0)
            lowest[axis], highest[axis] = max(lowest[axis], start), min(highest[axis], stop)
            boxes.append(corners(lowest, highest))
    return np.array(boxes)
