"""The actors of every part of a mechanism: meshes are built once and moved by matrices, pliant ones get new points."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from vtkmodules.vtkCommonMath import vtkMatrix4x4

from model.meshes import Matrices, mesh_of, places_of, pliant_mesh
from model.solids import Material, MeshFile, PartSolids, Pliant, SolidModel
from model.spatial import Array, norm
from model.triangles import Mesh, joined
from viz import style
from viz.closeups import JOINT_SIZE
from viz.cutaway import Block
from viz.pliants import Pliants
from viz.shapes import shaded_data
from viz.studio import Actor, add_actor
from viz.views import Camera, shown

# What leaves less than this share of a joint in sight is in the way.
MOSTLY_SHOWN = 0.75
# How solid what stands in front of a joint stays.
IN_THE_WAY = 0.3


@dataclass(frozen=True)
class _Moving:
    """One rigid actor with what it shows."""

    solids: PartSolids
    mesh: Mesh
    actor: Actor

    def placed(self, now: Matrices) -> Array:
        """Its vertices (n, 3) in a pose."""
        return _moved(self.mesh.points, now[self.solids.part])


class _PartPlaces:
    """One matrix of the library's for each part, which all its actors share."""

    def __init__(self, moving: list[_Moving]) -> None:
        self._names = list(dict.fromkeys(each.solids.part for each in moving))
        self._matrices = [vtkMatrix4x4() for _ in self._names]
        self._stood = np.tile(np.eye(4), (len(self._names), 1, 1))
        for each in moving:
            each.actor.SetUserMatrix(self._matrices[self._names.index(each.solids.part)])

    def move(self, now: Matrices) -> None:
        """Move what stands elsewhere than before."""
        standing = np.array([now[name] for name in self._names])
        for number in np.flatnonzero((standing != self._stood).any(axis=(1, 2))):
            self._matrices[number].DeepCopy(standing[number].ravel().tolist())
        self._stood = standing


class DrawnParts:
    """Everything that is drawn of a mechanism, in a plotter."""

    def __init__(self, plotter: Any, model: SolidModel, now: Matrices) -> None:
        """Build every mesh and actor, what is pliant with its parts where they are `now`."""
        self._moving = [_part(plotter, solids) for solids in model.parts]
        self._places = _PartPlaces(self._moving)
        self._bending = Pliants(plotter, model.pliant, now)
        self._pliants = self._bending.actors
        self.labels = {name for moving in self._moving for name in (moving.solids.label, moving.solids.part)}
        self.labels |= {pliant.solid.label for pliant in self._pliants}

    def rigid(self) -> Iterator[tuple[PartSolids, Actor]]:
        """Every rigid part with its actor."""
        return ((moving.solids, moving.actor) for moving in self._moving)

    def move(self, now: Matrices, wound_share: Callable[[Pliant], float]) -> None:
        """Move every part to a pose."""
        self._places.move(now)
        self._bending.show(now, wound_share)

    def make_solid(self) -> None:
        """Look through nothing."""
        for actor in (*(moving.actor for moving in self._moving), *(pliant.actor for pliant in self._pliants)):
            actor.prop.opacity = 1.0

    def clear_the_view(self, camera: Camera, now: Matrices, left: Collection[str]) -> None:
        """In a close-up of a joint, turn to glass what stands before it; what has a label in `left` stays as it is."""
        for moving in self._moving:
            if moving.solids.label in left:
                continue
            hides = camera.target is not None and (
                (moving.solids.label == camera.glass and moving.solids.material is Material.BRACKET)
                or _hides(moving.placed(now), moving.mesh.faces, camera.target, camera.direction)
            )
            moving.actor.prop.opacity = IN_THE_WAY if hides else 1.0
        for pliant in self._pliants:
            hides = camera.target is not None and _hides(pliant.points, pliant.faces, camera.target, camera.direction)
            pliant.actor.prop.opacity = IN_THE_WAY if hides else 1.0

    def blocks(self, now: Matrices) -> list[Block]:
        """Everything that is drawn, as it stands in a pose."""
        blocks, places = [], places_of(now)
        for moving in self._moving:
            meshes = [mesh_of(solid) for solid in moving.solids.solids]
            placed = [Mesh(_moved(mesh.points, now[moving.solids.part]), mesh.faces) for mesh in meshes]
            blocks.append(Block(moving.solids.label, moving.solids.material, tuple(placed), moving.actor))
        for pliant in self._pliants:
            solid = pliant.solid
            blocks.append(Block(solid.label, solid.material, (pliant_mesh(solid, places),), pliant.actor))
        return blocks

    def triangles(self, now: Matrices, without: Collection[str]) -> Array:
        """Triangles (m, 3, 3) in a pose of everything but what has one of these labels."""
        rigid = [moving for moving in self._moving if moving.solids.label not in without]
        blocks = [moving.placed(now)[moving.mesh.faces] for moving in rigid]
        bending = [pliant for pliant in self._pliants if pliant.solid.label not in without]
        blocks += [pliant.points[pliant.faces] for pliant in bending]
        return np.concatenate(blocks)

    def boxes(self, part: str | None, poses: Matrices, wheels: Collection[str], *, ride: bool) -> list[Array]:
        """Corners (n, 8, 3) or (8, 3) of the boxes about every part, or about one by its name, over poses.

        With `ride` at ride height too. What is pliant counts, as it is shown, only where it is asked for.
        """
        corners = []
        for moving in self._moving:
            label = moving.solids.label
            # What carries a wheel is shown without it.
            if part in (None, label) or (part == moving.solids.part and label not in wheels):
                box, matrices = box_corners(moving.mesh.points), poses[moving.solids.part]
                corners.append(np.einsum("nij,kj->nki", matrices[:, :3, :3], box) + matrices[:, None, :3, 3])
                if ride:
                    corners.append(box)
        named = [pliant for pliant in self._pliants if pliant.solid.label == part]
        return [*corners, *(box_corners(pliant.points) for pliant in named)]


def box_corners(points: Array) -> Array:
    """Corners (8, 3) of the box about points (k, 3)."""
    low, high = points.min(axis=0), points.max(axis=0)
    return np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])


def _moved(points: Array, matrix: Array) -> Array:
    return np.asarray(points @ matrix[:3, :3].T + matrix[:3, 3])


def _hides(points: Array, faces: Any, target: Array, direction: Array) -> bool:
    """Whether a mesh (n, 3), (m, 3) covers a good part of a joint at `target` (3,), seen along −`direction` (3,).

    What is nearer to the joint than its own size belongs to it and hides nothing.
    """
    offset = points - target
    middle = 0.5 * (offset.min(axis=0) + offset.max(axis=0))
    radius, ahead = float(norm(offset - middle).max()), float(middle @ direction)
    if ahead < -radius or norm(middle - ahead * direction) > radius + JOINT_SIZE:
        return False
    triangles = offset[faces]
    outside = triangles[(norm(triangles) > JOINT_SIZE).all(axis=1)]
    return len(outside) > 0 and shown(direction, outside, 0.8 * JOINT_SIZE) < MOSTLY_SHOWN


def _part(plotter: Any, solids: PartSolids) -> _Moving:
    mesh = joined(mesh_of(solid) for solid in solids.solids)
    closed = not any(isinstance(solid, MeshFile) and solid.sheet for solid in solids.solids)
    actor = add_actor(plotter, shaded_data(mesh), style.FINISHES[solids.material], closed=closed)
    return _Moving(solids, mesh, actor)
