"""Branch and bound for one pair of parts: the smallest distance over the poses, and where a smaller one may hide."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from model.distances import Nearest, boxes_apart, farthest_moved
from model.nodes import Nodes
from model.pairs import CLOSE, Pair
from model.placing import Placed
from model.spatial import Array, norm

# Distances are found to this, mm.
FINE = 0.008
# Depths of parts that overlap, mm: they want moving by more than this anyway.
COARSE = 0.1
# Poses in which the depth of one pair's overlap is found.
DEPTHS = 100
# Poses that are asked beyond those of the grid's own smallest distance because a smaller one may be beside them, and
# known distances that bound what is beside others.
BESIDE, TOLD = 100, 30
# A corner of a cell stands for the others where none is lower by more than this, mm: from it the search goes on.
LOW = 1.0
# The slab between two parts bounds other poses where it is at least this share of the distance in its own.
WORTH = 0.5


Which = slice | NDArray[np.intp]
EVERY = slice(None)


@dataclass(frozen=True)
class View:
    """How some points move over M poses, seen from where others stand still.

    `points` are arrays (M, K, P, 3) whose motions add up: of each of K pieces P points that hold it in their hull.
    `apart` (M, K) is a lower bound on the distance of each piece, of no use (−inf) where boxes overlap.
    """

    points: tuple[Array, ...]
    apart: Array

    def near(self, number: int, distance: float, which: Which, slack: Array | None = None) -> Array:
        """Lower bound (n,) on the distance in some poses from what it is in one; less `slack` (M, K) of each piece.

        A piece far from the other part may move far: it counts from its own bound.
        """
        known = np.maximum(distance, self.apart[number])
        bound = np.maximum(known - self.moved(number, which), self.apart[which])
        return np.asarray((bound if slack is None else bound - slack[which]).min(axis=1))

    def moved(self, number: int, which: Which = EVERY) -> Array:
        """How far (n, K) each piece moves at most from one pose to some."""
        # A shape that changes is one piece: what it moves adds to every piece of the other.
        return sum((farthest_moved(p[which], p[number]) for p in self.points), start=np.zeros((1, 1)))


class Motion:
    """How two parts move against each other over M poses: the second as the first sees it, or both in the vehicle."""

    def __init__(self, pair: Pair, placed: Placed, which: NDArray[np.intp]) -> None:
        """Follow a pair over some poses (M,) of those that are placed."""
        shapes = placed.shapes
        self.pair, self.placed = pair, placed
        self.rigid = shapes.parts[pair.first].rigid, shapes.parts[pair.second].rigid
        self.skin = placed.skin(pair)
        self.turned, moved = placed.frame(pair.first, which)
        turned, translation = placed.frame(pair.second, which)
        self.rotation = np.swapaxes(self.turned, 1, 2) @ turned
        self.translation = np.einsum("nji,nj->ni", self.turned, translation - moved)
        second = _seen(placed.points(pair.second, which, pair.joints), self.turned, moved)
        own = placed.points(pair.first, which, pair.joints)
        # A part seen by itself stands still.
        first = _seen(own[:1], self.turned[:1], moved[:1]) if self.rigid[0] else own
        self.first, self.second = (points.reshape(len(points), -1, 3) for points in (first, second))
        self.views = [self._view((second,) if self.rigid[0] else (second, own), first)]
        if all(self.rigid):
            backwards = _seen(placed.points(pair.second, which[:1], pair.joints), turned[:1], translation[:1])
            self.views.append(self._view((_seen(own, turned, translation),), backwards))

    def _view(self, points: tuple[Array, ...], still: Array) -> View:
        """The view of points (M, K, P, 3) from others (M or 1, L, P, 3), in L pieces."""
        low, high = still.min(axis=2)[:, :, None], still.max(axis=2)[:, :, None]
        apart = boxes_apart(low, high, points[0].min(axis=2)[:, None], points[0].max(axis=2)[:, None]).min(axis=1)
        # Boxes that overlap say nothing of how deep the parts in them do.
        return View(points, np.where(apart > 0.0, apart - self.skin, -np.inf))

    @property
    def apart(self) -> Array:
        """Lower bound (M,) on the distance by boxes alone."""
        return np.asarray(np.max([view.apart.min(axis=1) for view in self.views], axis=0))

    def near(
        self, number: int, distance: float, which: Which = EVERY, slack: Sequence[Array | None] = (None, None)
    ) -> Array:
        """Lower bound (n,) on the distance in some poses from what it is in one, less a slack for each view."""
        bounds = [view.near(number, distance, which, loose) for view, loose in zip(self.views, slack, strict=False)]
        return np.asarray(np.max(bounds, axis=0))

    def moved(self, number: int) -> Array:
        """How far (M,) the two move against each other at most from one pose to every other."""
        return np.asarray(np.min([view.moved(number).max(axis=1) for view in self.views], axis=0))

    def slab(
        self, found: Nearest, number: int, which: Which = EVERY, sag: Callable[[Array], Array] | None = None
    ) -> Array | None:
        """Thickness (n,) in some poses of the slab between the two that is square to the way between them in one pose.

        None where it is too thin in that pose itself to say anything of others. `sag` tells how far values (n, P) may
        fall beside the poses: with it the thickness holds for the corners of what is around them.
        """
        way = found.way @ self.turned[number]
        here = slice(number, number + 1)
        if self._bottom(way, here, here).min() - self._top(way, here).max() - self.skin < WORTH * found.distance:
            return None
        bottom, top = self._bottom(way, here, which), self._top(way, which)
        if sag is not None:
            bottom = bottom - sag(bottom)
            top = top if self.rigid[0] else top + sag(-top)
        return np.asarray(bottom.min(axis=1) - top.max(axis=1) - self.skin)

    def _top(self, way: Array, which: Which) -> Array:
        """How far (n or 1, P) points of the first part reach along a way (3,)."""
        if self.rigid[0]:
            return np.asarray((self.placed.hulls(self.pair)[0] @ way).max(keepdims=True)[None])
        return np.asarray(self.first[which] @ way)

    def _bottom(self, way: Array, here: slice, which: Which) -> Array:
        """Where (n, P) points of the second part begin along a way (3,).

        Of a rigid part they are the corners of its hull that may be foremost: one is not that lies farther behind the
        foremost in the pose `here` than the turning between that pose and all others can bring it forward.
        """
        if not self.rigid[1]:
            return np.asarray(self.second[which] @ way)
        hull, ways, (base,) = self.placed.hulls(self.pair)[1], way @ self.rotation[which], way @ self.rotation[here]
        behind = hull @ base
        foremost = behind.argmin()
        turned = norm(ways - base).max()
        some = hull[behind - behind[foremost] <= turned * norm(hull - hull[foremost])]
        return np.asarray(ways @ some.T + (self.translation[which] @ way)[:, None])


def _seen(points: Array, turned: Array, moved: Array) -> Array:
    """Points (M, K, P, 3) as a part sees them that is turned (M, 3, 3) and moved (M, 3)."""
    return (points - moved[:, None, None]) @ turned[:, None]


class Search:
    """One pair over the poses that differ for it."""

    def __init__(self, pair: Pair, placed: Placed, limit: float, *, between: bool = True) -> None:
        """Bound the distances of a pair by boxes.

        From the distance `limit` on it is of no interest. `between` says whether what is between poses matters; where
        no pose comes within the limit, it does from the distance on from which the pair would be close.
        """
        self.pair, self.placed, self.limit, self.between = pair, placed, limit, between
        self.matters = pair.wanted.least + CLOSE
        self.columns = placed.felt_by(pair)
        values = placed.poses.travel.values
        self.first, self.where = placed.distinct(tuple(self.columns))
        self.values = values[self.first][:, self.columns]
        self.motion = Motion(pair, placed, self.first)
        self.lower = self.motion.apart
        self.known: dict[int, Nearest] = {}
        self.tolerance = FINE

    @property
    def best(self) -> int:
        """The pose with the smallest distance among those that are known."""
        return min(self.known, key=lambda number: (self.known[number].distance, number))

    def run(self) -> bool:
        """Find the smallest distance over the poses and what may be beside them; False where it is of no interest."""
        if not self.placed.shapes.left_of(self.pair):
            return False
        if self.between:
            self._prepare()
        if self.lower.min() >= self.limit and (not self.between or self.beside.min() >= self.matters):
            return False
        best, depths = np.inf, 0
        while depths < DEPTHS:
            candidates = self._open(self.lower, min(best - self.tolerance, self.limit))
            if len(candidates) == 0:
                break
            found = self.measure(int(candidates[self.lower[candidates].argmin()]), candidates)
            best = min(best, found.distance)
            depths += found.distance <= 0.0
        if self.between:
            self._look_beside(DEPTHS - depths if depths else BESIDE)
        return best < self.limit or bool(self.between and self.known and self.starts(1))

    def _prepare(self) -> None:
        """Bound what is beside the poses by boxes."""
        self.nodes = Nodes.of(self.values)
        self.halfway = [self.nodes.halfway(view.points) for view in self.motion.views]
        views = zip(self.motion.views, self.halfway, strict=True)
        self.beside = np.max([(view.apart - half).min(axis=1) for view, half in views], axis=0)

    def _look_beside(self, most: int) -> None:
        """Ask for poses beside which a smaller distance may be, up to so many."""
        nearest = sorted(self.known, key=lambda number: self.known[number].distance)
        for number in nearest[:TOLD]:
            if self.beside[number] < self._floor():
                self._tell(number)
        for _ in range(most):
            candidates = self._hiding()
            if len(candidates) == 0:
                return
            number = int(candidates[self.lower[candidates].argmin()])
            self.measure(number, np.flatnonzero(self.beside < self._floor()))
            self._tell(number)

    def _hiding(self) -> NDArray[np.intp]:
        """Poses to ask for: corners of cells in which a smaller distance may be and of which no low corner is known."""
        if self.nodes.table is None:
            return np.zeros(0, dtype=np.intp)
        known = self._distances()
        open_ = self.nodes.in_cells(self.beside, np.maximum, -np.inf) < self._floor()
        lowest = self.nodes.in_cells(self.lower, np.minimum, np.inf)
        open_ &= self.nodes.in_cells(known, np.minimum, np.inf) > lowest + LOW
        return np.flatnonzero(self.nodes.corners_of(open_) & np.isinf(known))

    def _distances(self) -> Array:
        """The distances (M,) that are known, infinite where none is."""
        known = np.full(len(self.first), np.inf)
        for number, found in self.known.items():
            known[number] = found.distance
        return known

    def _floor(self) -> float:
        """The distance below which a smaller one counts."""
        best = self.known[self.best].distance if self.known else np.inf
        return best - self.tolerance if best < self.limit else self.matters

    def _tell(self, number: int) -> None:
        """Bound what is beside poses by what is known at one."""
        found = self.known[number]
        which = np.flatnonzero(self.beside < self._floor())
        self.beside[which] = np.maximum(
            self.beside[which], self.motion.near(number, found.distance, which, self.halfway)
        )
        hiding = self.beside < self._floor()
        if found.distance <= 0.0 or not hiding.any():
            return
        # The nodes of the cells around, and one more on every side for what is between them.
        which = np.flatnonzero(self.nodes.around(hiding, 2))
        thick = self.motion.slab(found, number, which, partial(self.nodes.sag, which=which))
        if thick is not None:
            all_thick = np.full(len(self.first), np.inf)
            all_thick[which] = thick
            around = self.nodes.lowest_around(all_thick)
            self.beside[hiding] = np.maximum(self.beside, around)[hiding]

    def _open(self, bound: Array, below: float) -> NDArray[np.intp]:
        """Poses that are not known yet and whose bound is below a distance."""
        open_ = bound < below
        open_[list(self.known)] = False
        return np.flatnonzero(open_)

    def smallest(self, among: NDArray[np.bool_]) -> float | None:
        """The smallest distance at some of the poses (M,) alone; None where there are none."""
        if not among.any():
            return None
        best = min((found.distance for number, found in self.known.items() if among[number]), default=np.inf)
        for _ in range(DEPTHS if self.tolerance == COARSE else len(self.first)):
            candidates = self._open(np.where(among, self.lower, np.inf), best - self.tolerance)
            if len(candidates) == 0:
                break
            found = self.measure(int(candidates[self.lower[candidates].argmin()]), candidates)
            best = min(best, found.distance)
        return best

    def measure(self, number: int, which: NDArray[np.intp]) -> Nearest:
        """Ask FCL for one pose, and bound some others by what it says."""
        hint = self.known[self.best].way if self.known else None
        found = self.placed.nearest(self.pair, int(self.first[number]), hint, apart=bool(self.lower[number] > 0.0))
        self.known[number] = found
        if found.distance <= 0.0:
            self.tolerance = COARSE
        bound = self.motion.near(number, found.distance, which)
        thick = self.motion.slab(found, number, which) if found.distance > 0.0 else None
        self.lower[which] = np.maximum(self.lower[which], bound if thick is None else np.maximum(bound, thick))
        return found

    def starts(self, most: int) -> list[int]:
        """Poses beside which a smaller distance may be, the smallest first: at most so many."""
        floor = self._floor()
        known = self._distances()
        lows = (self.beside < floor) & np.isfinite(known) & (known <= self.nodes.lowest_around(known))
        return sorted(np.flatnonzero(lows).tolist(), key=lambda number: (known[number], number))[:most]
