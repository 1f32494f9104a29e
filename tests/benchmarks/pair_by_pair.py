"""The plain way to clearances: ask trimesh's CollisionManager for each pair in each pose. A reference for the ratios.

It gets the very meshes that we measure, less what lies near joints that a pair shares, and every manager is built
outside the clock. Convex meshes are given to it as triangles too: as convex bodies FCL answers wrongly between parallel
faces, by millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass
from time import perf_counter

import numpy as np
import trimesh

from model.envelopes import MeasuredPart
from model.members import posture
from model.pairs import Pair, without
from model.poses import Poses
from model.spatial import Array


class Managed(trimesh.collision.CollisionManager):
    """Always by triangles."""

    def _get_fcl_obj(self, mesh: trimesh.Trimesh) -> object:
        return trimesh.collision.mesh_to_BVH(mesh)


@dataclass
class PairByPair:
    """One pair of rigid parts over all poses: two managers and the 4×4 matrices (N, 4, 4) of both."""

    managers: tuple[Managed, Managed]
    matrices: tuple[Array, Array]

    @classmethod
    def of(cls, pair: Pair, parts: tuple[MeasuredPart, ...], poses: Poses) -> PairByPair:
        """Build the managers."""
        placed = posture(poses).parts
        managers, matrices = [], []
        for number in (pair.first, pair.second):
            mesh = without(parts[number].mesh, pair.joints)
            manager = Managed()
            manager.add_object("part", trimesh.Trimesh(mesh.points, mesh.faces, process=False))
            managers.append(manager)
            matrices.append(placed[parts[number].parts[0]].matrix())
        return cls((managers[0], managers[1]), (matrices[0], matrices[1]))

    def distances(self, poses: Array) -> Array:
        """Distance (n,) in some poses."""
        found = []
        for pose in poses:
            for manager, matrix in zip(self.managers, self.matrices, strict=True):
                manager.set_transform("part", matrix[pose])
            found.append(self.managers[0].min_distance_other(self.managers[1]))
        return np.array(found)

    def time(self, poses: Array) -> float:
        """Seconds a pose."""
        start = perf_counter()
        self.distances(poses)
        return (perf_counter() - start) / len(poses)
