"""The parts as a mesh file: GLB and OBJ with a name for each part, STL and PLY as one mesh; a GLB may move."""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from model.errors import CallError
from model.members import Posture, posture
from model.meshes import mesh_of, pliant_mesh
from model.partshapes import solids_of
from model.poses import Poses
from model.solids import Material
from model.triangles import Mesh, joined
from viz import style
from viz.files import check_suffix, whole_file
from viz.glb import Node, Paint, Surface, glb_bytes
from viz.motion import animations
from viz.rig import rig
from viz.shapes import shaded

Writer = Callable[[str, tuple["Piece", ...]], bytes]


@dataclass(frozen=True)
class Piece:
    """What moves as one under one name: a mesh for each paint, in mm in vehicle coordinates of the pose.

    One that is `whole` is for other programs to work on: in every format each of its edges is shared by two triangles,
    and its shading is flat.
    """

    name: str
    meshes: tuple[tuple[Paint, Mesh], ...]
    whole: bool = False


def write_mesh(poses: Poses, output: Path, *, pose: int = 0) -> None:
    """Write every part as it stands in a pose.

    Args:
        poses: the solved poses.
        output: .glb (metres, y up, z forward), or .stl, .ply or .obj (mm, x forward, y left, z up).
        pose: number of the pose.

    Raises:
        CallError: the file's suffix is none of these.
        SceneError: a mesh file of the scene cannot be read.

    """
    writer, title = _writer(output), poses.mechanism.title
    if writer is _glb:
        data = glb_bytes(title, rig(poses.take(np.array([pose]))).nodes)
    else:
        data = writer(title, pieces_of(poses, pose))
    with whole_file(output) as temporary:
        temporary.write_bytes(data)


def write_moving(poses: Poses, runs: Sequence[str], seconds: float, output: Path) -> None:
    """Write every part with an animation for each run through the travel.

    Args:
        poses: so many runs of `motion.SAMPLES` solved poses each, one after the other.
        runs: their names.
        seconds: how long each takes.
        output: .glb.

    Raises:
        CallError: the file's suffix is another.
        SceneError: a mesh file of the scene cannot be read.

    """
    check_moving(output)
    found = rig(poses)
    data = glb_bytes(poses.mechanism.title, found.nodes, animations(found, runs, seconds))
    with whole_file(output) as temporary:
        temporary.write_bytes(data)


def write_swept(space: Mesh, title: str, label: str, output: Path) -> None:
    """Write the space that a part needs over the travel, as one closed mesh to cut or bend around.

    Args:
        space: closed, in mm in vehicle coordinates.
        title: of the scene.
        label: the part's.
        output: as for `write_mesh`.

    Raises:
        CallError: the file's suffix is none that can be written.

    """
    writer = _writer(output)
    piece = Piece(f"space of {label}", ((("swept space", style.SWEPT_SPACE), space),), whole=True)
    with whole_file(output) as temporary:
        temporary.write_bytes(writer(title, (piece,)))


def check_format(output: Path) -> None:
    """Refuse a file name whose suffix is no mesh format, before anything is worked out.

    Raises:
        CallError: for another suffix.

    """
    _writer(output)


def check_moving(output: Path) -> None:
    """Refuse a file name whose suffix is no format that holds motion, before anything is worked out.

    Raises:
        CallError: for another suffix.

    """
    if _writer(output) is not _glb:
        raise CallError(f"{output.name} cannot hold motion, expected a name in .glb; leave --cycle out for one pose.")


def _writer(output: Path) -> Writer:
    """What writes a file of this suffix."""
    writers: dict[str, Writer] = {".glb": _glb, ".stl": _stl, ".ply": _ply, ".obj": _obj}
    return writers[check_suffix(output, dict.fromkeys(writers, ""))]


def pieces_of(poses: Poses, pose: int) -> tuple[Piece, ...]:
    """Every part of a pose under its name."""
    now: Posture = posture(poses.take(np.array([pose])))
    model = solids_of(poses.mechanism)
    named: dict[str, list[tuple[Paint, Mesh]]] = {}
    for part in model.parts:
        mesh, place = joined(mesh_of(solid) for solid in part.solids), now.parts[part.part]
        moved = Mesh(mesh.points @ place.rotation[0].T + place.translation[0], mesh.faces)
        named.setdefault(part.label, []).append((_paint(part.material), moved))
    for solid in model.pliant:
        mesh = pliant_mesh(solid, lambda part: (now.parts[part].rotation[0], now.parts[part].translation[0]))
        named.setdefault(solid.label, []).append((_paint(solid.material), mesh))
    return tuple(Piece(name, tuple(meshes)) for name, meshes in named.items())


def _paint(material: Material) -> Paint:
    return material.value, style.FINISHES[material]


def _glb(title: str, pieces: tuple[Piece, ...]) -> bytes:
    return glb_bytes(
        title, [Node(piece.name, tuple(_surface(piece, *one) for one in piece.meshes)) for piece in pieces]
    )


def _surface(piece: Piece, paint: Paint, mesh: Mesh) -> Surface:
    points, normals, faces = (mesh.points, None, mesh.faces) if piece.whole else shaded(mesh)
    return Surface(paint, points, faces, normals)


def _whole(pieces: tuple[Piece, ...]) -> Mesh:
    return joined(mesh for piece in pieces for _, mesh in piece.meshes)


def _stl(title: str, pieces: tuple[Piece, ...]) -> bytes:
    mesh = _whole(pieces)
    corners = mesh.points[mesh.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normals, axis=1, keepdims=True)
    records = np.zeros(len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    records["normal"] = np.divide(normals, size, out=np.zeros_like(normals), where=size > 0.0)
    records["corners"] = corners
    # Readers take a header that begins with "solid" for the text format.
    header = f"fulltravel, mm: {title}".encode("ascii", "replace")[:80].ljust(80)
    return header + struct.pack("<I", len(records)) + records.tobytes()


def _ply(title: str, pieces: tuple[Piece, ...]) -> bytes:
    mesh = _whole(pieces)
    header = [
        "ply",
        "format binary_little_endian 1.0",
        f"comment fulltravel, mm: {title.encode('ascii', 'replace').decode()}",
        f"element vertex {len(mesh.points)}",
        *(f"property float {axis}" for axis in "xyz"),
        f"element face {len(mesh.faces)}",
        "property list uchar int vertex_indices",
        "end_header\n",
    ]
    faces = np.zeros(len(mesh.faces), dtype=[("count", "u1"), ("corners", "<i4", 3)])
    faces["count"], faces["corners"] = 3, mesh.faces
    return "\n".join(header).encode("ascii") + mesh.points.astype("<f4").tobytes() + faces.tobytes()


def _obj(title: str, pieces: tuple[Piece, ...]) -> bytes:
    lines = [f"# fulltravel, mm, x forward, y left, z up: {title}"]
    first = 1
    for piece in pieces:
        mesh = joined(mesh for _, mesh in piece.meshes)
        lines.append(f"o {piece.name}")
        lines += [f"v {x:.4f} {y:.4f} {z:.4f}" for x, y, z in mesh.points.tolist()]
        lines += [f"f {a} {b} {c}" for a, b, c in (mesh.faces + first).tolist()]
        first += len(mesh.points)
    return ("\n".join(lines) + "\n").encode()
