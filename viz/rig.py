"""A mechanism as nodes in the frames of their parts, with how each moves and changes shape from pose to pose."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import chain

import numpy as np
from scipy.spatial.transform import Rotation

from model.mechanism import Mechanism
from model.members import Transform, posture
from model.meshes import mesh_of
from model.partshapes import solids_of
from model.poses import Poses
from model.solids import Material, PartSolids
from model.spatial import Array
from model.triangles import joined
from viz import style
from viz.glb import Node, Surface
from viz.shapekeys import ShapeKeys, shape_keys
from viz.shapes import shaded


@dataclass(frozen=True)
class Rig:
    """Nodes, of which the first B move over N poses; the rest hang on them and ride along.

    `movers` (B) are the parts' names, and for what changes shape the names under which a person finds it. `nodes` stand
    as in the pose at rest. rotation (B, N, 4) are unit quaternions x, y, z, w, each on the side of the one at rest, so
    that neighbours are; translation (B, N, 3) is in mm. weights: for each mover (N, T), where T is 0 if it is rigid.
    All of it is in vehicle axes (x forward, y left, z up): see `viz.glb.to_gltf`.
    """

    nodes: tuple[Node, ...]
    movers: tuple[str, ...]
    rotation: Array
    translation: Array
    weights: tuple[Array, ...]


def origins_of(mechanism: Mechanism) -> dict[str, Array]:
    """Where the node of each rigid part has its origin (3,) at ride height: in the middle of what it is made of."""
    return {part: _middle(pieces) for part, pieces in _by_part(solids_of(mechanism).parts).items()}


def rig(poses: Poses, rest: int = 0, origins: Mapping[str, Array] | None = None) -> Rig:
    """The nodes of a mechanism and their motion.

    What changes shape is within `viz.shapekeys.TOLERANCE` of its own mesh.

    Args:
        poses: N solved poses.
        rest: number of the pose in which the nodes stand, with all weights 0.
        origins: of `origins_of`, where they are known.

    Raises:
        SceneError, DrawingError: a mesh file of the scene does not fit or cannot be read.

    """
    now, model = posture(poses), solids_of(poses.mechanism)
    places = {name: _spread(place, len(poses)) for name, place in now.parts.items()}
    by_part = _by_part(model.parts)
    pliant = [shape_keys(solid, places, rest) for solid in model.pliant]
    movers = [*by_part, *(keys.solid.label for keys in pliant)]
    origins = origins_of(poses.mechanism) if origins is None else origins
    frames = [Transform(places[part].rotation, places[part].point(origins[part])) for part in by_part]
    frames += [keys.frame for keys in pliant]
    rotation = np.array([_quaternions(frame.rotation, rest) for frame in frames])
    translation = np.array([frame.translation for frame in frames])
    heads: list[Node] = []
    riders: list[Node] = []
    for number, (part, pieces) in enumerate(by_part.items()):
        node, riding = _part_nodes(part, pieces, origins[part], len(movers) + len(riders))
        heads.append(replace(node, translation=translation[number, rest], rotation=rotation[number, rest]))
        riders += riding
    for number, keys in enumerate(pliant, start=len(heads)):
        heads.append(
            Node(keys.solid.label, (_pliant_surface(keys),), translation[number, rest], rotation[number, rest])
        )
    rigid = np.zeros((len(poses), 0))
    weights = (*(rigid for _ in by_part), *(keys.weights for keys in pliant))
    return Rig((*heads, *riders), tuple(movers), rotation, translation, weights)


def _by_part(parts: Iterable[PartSolids]) -> dict[str, list[PartSolids]]:
    """What each part is made of."""
    found: dict[str, list[PartSolids]] = {}
    for solids in parts:
        found.setdefault(solids.part, []).append(solids)
    return found


def _part_nodes(part: str, pieces: list[PartSolids], origin: Array, first: int) -> tuple[Node, list[Node]]:
    """A part's node with what bears its name; nodes, numbered from `first`, for what rides on it under other names."""
    labels = list(dict.fromkeys(piece.label for piece in pieces))
    own: tuple[Surface, ...] = ()
    riding = []
    for label in labels:
        named = [piece for piece in pieces if piece.label == label]
        if label == part:
            own = _surfaces(named, origin)
        else:
            middle = _middle(named)
            riding.append(Node(label, _surfaces(named, middle), middle - origin))
    return Node(part, own, children=tuple(range(first, first + len(riding)))), riding


def _surfaces(pieces: list[PartSolids], origin: Array) -> tuple[Surface, ...]:
    """One surface for each material, seen from `origin` (3,)."""
    surfaces = []
    for material in dict.fromkeys(piece.material for piece in pieces):
        solids = chain.from_iterable(piece.solids for piece in pieces if piece.material is material)
        points, normals, faces = shaded(joined(mesh_of(solid) for solid in solids))
        surfaces.append(Surface(_paint(material), points - origin, faces, normals))
    return tuple(surfaces)


def _pliant_surface(keys: ShapeKeys) -> Surface:
    return Surface(_paint(keys.solid.material), keys.points, keys.faces, keys.normals, keys.shifts, keys.turns)


def _paint(material: Material) -> tuple[str, style.Finish]:
    return material.value, style.FINISHES[material]


def _middle(pieces: list[PartSolids]) -> Array:
    """The middle (3,) of the box about what a part is made of: an error of its turn between poses shows least so."""
    points = np.concatenate([mesh_of(solid).points for piece in pieces for solid in piece.solids])
    return np.asarray(0.5 * (points.min(axis=0) + points.max(axis=0)))


def _spread(place: Transform, count: int) -> Transform:
    return Transform(np.broadcast_to(place.rotation, (count, 3, 3)), np.broadcast_to(place.translation, (count, 3)))


def _quaternions(rotation: Array, rest: int) -> Array:
    """Unit quaternions (N, 4), x, y, z, w, of rotations (N, 3, 3), each on the side of the one at rest."""
    found = Rotation.from_matrix(rotation).as_quat()
    return np.asarray(np.where(found @ found[rest] < 0.0, -1.0, 1.0)[:, None] * found)
