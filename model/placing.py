"""Measured parts over poses: where each is, which drives it feels, and the distance of two of them in one pose."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import cached_property
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from model.distances import Nearest, Shape, boxes_apart, nearest, ribbon, sliced
from model.envelopes import MeasuredPart, at_ride_height
from model.flexing import hose_line
from model.members import posture
from model.meshes import Places, carried
from model.pairs import Joint, Pair, without
from model.poses import Poses
from model.solids import HoseSolid
from model.spatial import Array
from model.travel import differing
from model.triangles import Mesh

Numbers = NDArray[np.intp]
Keys = tuple[tuple[float, ...], ...]

# A part whose transforms agree to this, mm and in its rotation, stands in the same place: the solver keeps 1e-9 mm.
SAME_PLACE = 1e-7
# Of a shape that changes with the pose so many points are followed; between them it moves hardly more than they do.
FOLLOWED = 240
# A rigid part is followed in so many slices: of a long one the near end moves little and the far end is far away.
SLICES = 4


class Shapes:
    """The tree of every part, with and without what lies near its joints; built once for all poses."""

    def __init__(self, parts: Iterable[MeasuredPart]) -> None:
        """Keep the parts, each stretch of a hose by itself; trees are built when they are asked for."""
        self.parts = tuple(single(parts))
        self._slices: dict[tuple[int, Keys], Array] = {}
        self._kept: dict[tuple[int, Keys], Shape | None] = {}

    def __getitem__(self, number: int) -> Shape:
        """The whole of a part, at ride height."""
        shape = self.of(number, ())
        if shape is None:
            raise AssertionError("a measured part has triangles")
        return shape

    def labels(self, pair: Pair) -> frozenset[str]:
        """What the two parts of a pair are called."""
        return frozenset((self.parts[pair.first].label, self.parts[pair.second].label))

    def left_of(self, pair: Pair) -> bool:
        """Whether the joints of a pair leave something of both."""
        return all(self.of(number, pair.joints) is not None for number in (pair.first, pair.second))

    def slices(self, number: int, joints: tuple[Joint, ...]) -> Array:
        """Corners (K, 8, 3) of boxes around the slices of a rigid part without what is near joints."""
        key = number, tuple(joint.key for joint in joints)
        if key not in self._slices:
            shape = self.of(number, joints)
            self._slices[key] = sliced((shape or self[number]).mesh, SLICES)
        return self._slices[key]

    def of(self, number: int, joints: tuple[Joint, ...]) -> Shape | None:
        """A part without what is near joints, at ride height; None where nothing is left."""
        key = number, tuple(joint.key for joint in joints)
        if key not in self._kept:
            part = self.parts[number]
            mesh, skin = core(part, at_ride_height)
            left = without(mesh, joints, whole=not part.rigid)
            if joints and len(left.faces) == len(mesh.faces):
                self._kept[key] = self[number]
            else:
                self._kept[key] = Shape(left, skin, mesh) if len(left.faces) else None
        return self._kept[key]


def single(parts: Iterable[MeasuredPart]) -> Iterator[MeasuredPart]:
    """The parts, each stretch of a hose by itself: it is measured as its middle line in a skin."""
    for part in parts:
        if part.pliant and all(isinstance(solid, HoseSolid) for solid in part.pliant):
            yield from (replace(part, pliant=(solid,)) for solid in part.pliant)
        else:
            yield part


def core(part: MeasuredPart, places: Places) -> tuple[Mesh, float]:
    """What is measured of a part, and the skin about it: of a hose its middle line in a skin, of others all."""
    (hose,) = part.pliant if len(part.pliant) == 1 else (None,)
    if isinstance(hose, HoseSolid):
        start, stop = (carried(places, name, at) for name, at in zip(hose.parts, hose.ends, strict=True))
        return ribbon(hose_line(hose, start, stop)), hose.radius
    return (part.mesh if part.rigid else part.at(places)), 0.0


class Placed:
    """Measured parts in N poses."""

    def __init__(self, poses: Poses, shapes: Shapes) -> None:
        """Place every part of a mechanism in solved poses."""
        self.poses, self.shapes = poses, shapes
        self.parts = posture(poses).parts
        self._distinct: dict[tuple[int, ...], tuple[Numbers, Numbers]] = {}
        self._columns: dict[str, tuple[int, ...]] = {}
        self._meshes: dict[tuple[int, int], Mesh] = {}
        self._bent: dict[tuple[int, int, Keys], Shape] = {}

    def columns(self, part: str) -> tuple[int, ...]:
        """The fewest columns of the drives on which a part's place depends."""
        if part not in self._columns:
            placed, values = self.parts[part], self.poses.travel.values
            everything = np.concatenate([placed.rotation.reshape(-1, 9) * 1e3, placed.translation], axis=1)
            count = values.shape[1]
            for chosen in (some for size in range(count + 1) for some in combinations(range(count), size)):
                first, where = self.distinct(chosen)
                if len(first) == len(values) or np.abs(everything - everything[first][where]).max() < SAME_PLACE * 1e3:
                    break
            self._columns[part] = chosen
        return self._columns[part]

    def distinct(self, columns: tuple[int, ...]) -> tuple[Numbers, Numbers]:
        """Poses (M,) that differ in some columns of the drives, and for each pose (N,) which of them it equals."""
        if columns not in self._distinct:
            self._distinct[columns] = differing(self.poses.travel.values, columns)
        return self._distinct[columns]

    def felt(self, number: int) -> frozenset[int]:
        """Columns of the drives on which a measured part's place and shape depend."""
        return frozenset().union(*(self.columns(part) for part in self.shapes.parts[number].parts))

    def felt_by(self, pair: Pair) -> list[int]:
        """Columns of the drives on which the distance of two parts depends, in order."""
        return [] if pair.still else sorted(self.felt(pair.first) | self.felt(pair.second))

    def mesh(self, number: int, pose: int) -> Mesh:
        """What is measured of a part that changes its shape, in one pose."""
        if (number, pose) not in self._meshes:

            def places(part: str) -> tuple[Array, Array]:
                return self.parts[part].rotation[pose], self.parts[part].translation[pose]

            self._meshes[number, pose] = core(self.shapes.parts[number], places)[0]
        return self._meshes[number, pose]

    def frame(self, number: int, which: Numbers) -> tuple[Array, Array]:
        """Rotation (n, 3, 3) and translation (n, 3) of a part in some poses; at rest for one that changes its shape."""
        part = self.shapes.parts[number]
        if not part.rigid:
            return np.broadcast_to(np.eye(3), (len(which), 3, 3)), np.zeros((len(which), 3))
        placed = self.parts[part.parts[0]]
        return placed.rotation[which], placed.translation[which]

    def points(self, number: int, which: Numbers, joints: tuple[Joint, ...] = ()) -> Array:
        """Points (n, K, P, 3) that hold the K pieces of a part in their hulls in some poses.

        Of a rigid part they are the corners of boxes around its slices, of any other points of its mesh, in one piece.
        """
        part = self.shapes.parts[number]
        if part.rigid:
            rotation, translation = self.frame(number, which)
            slices = self.shapes.slices(number, joints)
            return slices @ np.swapaxes(rotation, 1, 2)[:, None] + translation[:, None, None]
        step = 1 + len(self.shapes[number].mesh.points) // FOLLOWED
        return np.array([self.mesh(number, int(pose)).points[::step] for pose in which])[:, None]

    @cached_property
    def swept_boxes(self) -> tuple[Array, Array]:
        """Boxes (P, 3) along the axes of the vehicle that hold each part in all poses."""
        lows, highs = [], []
        for number in range(len(self.shapes.parts)):
            first, _ = self.distinct(tuple(sorted(self.felt(number))))
            points = self.points(number, first).reshape(-1, 3)
            lows.append(points.min(axis=0))
            highs.append(points.max(axis=0))
        return np.array(lows), np.array(highs)

    def apart(self, pair: Pair) -> float:
        """A distance that two parts keep in all poses."""
        (low, high), a, b = self.swept_boxes, pair.first, pair.second
        return float(boxes_apart(low[a], high[a], low[b], high[b])) - self.skin(pair)

    def skin(self, pair: Pair) -> float:
        """The skins of both parts of a pair."""
        return self.shapes[pair.first].skin + self.shapes[pair.second].skin

    def hulls(self, pair: Pair) -> tuple[Array, Array]:
        """Convex hulls (h, 3) of what the joints of a pair leave of both, at ride height."""
        first, second = (self.shapes.of(number, pair.joints) for number in (pair.first, pair.second))
        if first is None or second is None:
            raise AssertionError("the caller knows that something is left of both")
        return first.hull, second.hull

    def nearest(self, pair: Pair, pose: int, hint: Array | None = None, *, apart: bool = False) -> Nearest:
        """Nearest points of a pair in a pose, in the vehicle; `hint` (3,) and `apart` as in `model.distances`."""
        alone = np.array([pose])
        (rotation,), (translation,) = self.frame(pair.first, alone)
        (turned,), (moved,) = self.frame(pair.second, alone)
        first, second = (self._shape(number, pair.joints, pose) for number in (pair.first, pair.second))
        seen = None if hint is None else hint @ rotation
        found = nearest(
            first, second, rotation.T @ turned, (moved - translation) @ rotation, seen, apart=apart or pair.bolted
        )
        return Nearest(found.distance, found.points @ rotation.T + translation, rotation @ found.way)

    def _shape(self, number: int, joints: tuple[Joint, ...], pose: int) -> Shape:
        """The tree of a part without what is near joints; of one that changes its shape, in this pose."""
        part, left = self.shapes.parts[number], self.shapes.of(number, joints)
        if left is None:
            raise AssertionError("the caller knows that something is left")
        if part.rigid:
            return left
        key = number, pose, () if left is self.shapes[number] else tuple(joint.key for joint in joints)
        if key not in self._bent:
            whole = self.mesh(number, pose)
            self._bent[key] = Shape(Mesh(whole.points, left.mesh.faces), left.skin, whole)
        return self._bent[key]
