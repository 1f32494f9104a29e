"""Mesh files that people bring in place of a part's shape: drawn, measured and exported instead of it."""

from __future__ import annotations

from collections.abc import Sequence

from model.errors import SceneError
from model.mechanism import Mechanism, OwnMesh
from model.solids import Drawn, Material, MeshFile, PartSolids


def with_own_meshes(drawn: Sequence[Drawn], mechanism: Mechanism) -> list[Drawn]:
    """The same shapes with a part's own mesh, or meshes, wherever it has one; what is bolted to it stays.

    Raises:
        SceneError: a mesh is of something that has no shape, or whose shape is made of parts that move apart.

    """
    shapes = list(drawn)
    complaints: list[str] = []
    for label in dict.fromkeys(mesh.of for mesh in mechanism.own_meshes):
        meshes = [mesh for mesh in mechanism.own_meshes if mesh.of == label]
        ours = [shape for shape in shapes if shape.label == label]
        rigid = [shape for shape in ours if isinstance(shape, PartSolids)]
        if not rigid or len(rigid) < len(ours) or len({shape.part for shape in rigid}) > 1:
            complaints.append(_complaint(meshes[0], label))
            continue
        solids = tuple(MeshFile(mesh.file, mesh.scale, mesh.mirrored, mesh.rotation, mesh.move) for mesh in meshes)
        # What meets a wheel meets its tyre first.
        tyre = any(shape.material is Material.TYRE for shape in rigid)
        material = Material.TYRE if tyre else rigid[0].material
        shapes = [shape for shape in shapes if shape.label != label]
        shapes.append(PartSolids(rigid[0].part, label, material, solids))
    if complaints:
        raise SceneError(complaints)
    return shapes


def _complaint(mesh: OwnMesh, label: str) -> str:
    return (
        f'[mesh."{mesh.name}"] of is "{label}", which is not drawn as one rigid part; name a link, arm, knuckle, axle, '
        "wheel, brake or frame shape."
    )
