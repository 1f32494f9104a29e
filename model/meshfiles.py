"""Mesh files that a person brings: read, checked, scaled to mm and placed.

A file is read by itself: what it refers to, such as a material or a picture, is never opened.
"""

from __future__ import annotations

import io
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from model.errors import SceneError
from model.meshformats import check_bytes, plain_bytes
from model.patches import inside
from model.solids import MeshFile
from model.spatial import Array, dot
from model.triangles import Faces, Mesh, edge_faults, odd_edges

# A shape on a frame, mm: a bracket's tab to a long truck's rail; a metre read as a mm or the like lies far outside.
SMALLEST_MESH, LARGEST_MESH = 5.0, 20_000.0
# A closed mesh that fills less than this share of a cube of its length encloses nothing that a part could be made of.
FLAT = 1e-9
# A triangle lower than this share of its longest edge has no area: coordinates hold seven digits.
SLIVER = 1e-6


def mesh_from_file(solid: MeshFile) -> Mesh:
    """Read a mesh file.

    Raises:
        SceneError: if it cannot be read, is empty, cut short, not closed, has a body that is inside out, holds what is
            no number, refers to other folders, or is of a size that no vehicle has.

    """
    named = f'The mesh file "{solid.path}"'
    path = Path(solid.path)
    try:
        status = path.stat()
        points, faces, complaint = _read(path, status.st_mtime_ns, status.st_size)
    except OSError as error:
        raise SceneError(
            f"{named} cannot be read ({(error.strerror or 'unknown reason').lower()}); check the file."
        ) from error
    complaint = complaint or _size_complaint(points * solid.scale) or _surface_complaint(points, faces, solid.sheet)
    if complaint:
        raise SceneError(f"{named} {complaint}")
    points = points * solid.scale
    if solid.rotation is not None:
        points = points @ solid.rotation.T
    if solid.move is not None:
        points = points + solid.move
    if solid.mirrored:
        points, faces = points * [1.0, -1.0, 1.0], faces[:, ::-1]
    return Mesh(points, faces)


@lru_cache(maxsize=16)
def _read(path: Path, changed: int, size: int) -> tuple[Array, Faces, str]:
    """Vertices (n, 3) in the file's own unit, each once, and triangles (m, 3); or what is wrong with the file.

    `changed` and `size` are of the file: one that is saved again is read again.
    """
    nothing = np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)
    suffix = path.suffix.lower().removeprefix(".")
    data = plain_bytes(path.read_bytes(), suffix)
    complaint = check_bytes(data, suffix)
    if complaint:
        return *nothing, complaint
    import trimesh  # half a second, and few scenes bring a mesh

    try:
        # Given bytes and not a name, the reader has no folder in which it could look for anything else.
        with np.errstate(all="ignore"):  # readers multiply what is no number before anyone can look at it
            loaded: Any = trimesh.load(
                io.BytesIO(data), file_type=suffix, force="mesh", process=False, skip_materials=True
            )
        points: Array = np.array(loaded.vertices, dtype=np.float64).reshape(-1, 3)
        faces: Faces = np.array(loaded.faces, dtype=np.int64).reshape(-1, 3)
    except Exception as error:  # each format has its own readers with their own kinds of failure
        reason = " ".join(str(error).split())[:120] or type(error).__name__
        return (
            *nothing,
            f"cannot be read ({reason}); save it again as STL, OBJ, PLY or GLB or take it out of the scene.",
        )
    if len(faces) == 0 or len(points) == 0:
        return *nothing, "holds no triangles; save it again as a triangle mesh."
    if faces.min() < 0 or faces.max() >= len(points):
        return *nothing, "names vertices that it does not hold; it is cut short, so save it again."
    used = np.zeros(len(points), dtype=bool)
    used[faces] = True
    count = int((used & ~np.isfinite(points).all(axis=1)).sum())
    if count:
        return (
            *nothing,
            f"has NaN or infinite coordinates in {count:,} of its vertices; repair it in the program that made it.",
        )
    numbers = np.cumsum(used) - 1
    return *_merged(points[used], numbers[faces]), ""


def _merged(points: Array, faces: Faces) -> tuple[Array, Faces]:
    """The same surface with vertices in the same place made one, without triangles that have no area for that."""
    # Sorting numbers is ten times faster than sorting rows of them: each column of coordinates is added as a digit.
    place = np.zeros(len(points), dtype=np.int64)
    for column in points.T:
        values, digit = np.unique(column, return_inverse=True)
        _, place = np.unique(place * len(values) + digit, return_inverse=True)
    _, first = np.unique(place, return_index=True)
    corners = place[faces]
    whole = (corners != np.roll(corners, 1, axis=1)).all(axis=1)
    return points[first], _without_loose_slivers(points[first], corners[whole])


def _slivers(points: Array, faces: Faces) -> NDArray[np.bool_]:
    """Which triangles have no area, as their corners lie in one line."""
    first, one, other = (points[faces[:, corner]] for corner in range(3))
    one, other = one - first, other - first
    along, across, both = dot(one, one), dot(other, other), dot(one, other)
    longest = np.maximum(np.maximum(along, across), along + across - 2.0 * both)
    return np.asarray(along * across - both**2 <= (SLIVER * longest) ** 2)


def _without_loose_slivers(points: Array, faces: Faces) -> Faces:
    """The triangles without those of no area that open all three of their edges: others of them close a gap."""
    slivers = _slivers(points, faces)
    if not slivers.any():
        return faces
    loose = slivers & odd_edges(faces).all(axis=1)
    return faces[~loose]


def _size_complaint(points: Array) -> str:
    length = float(np.ptp(points, axis=0).max())
    if SMALLEST_MESH <= length <= LARGEST_MESH:
        return ""
    return (
        f"is {length / 1000:.4g} m long, expected {SMALLEST_MESH / 1000:g} to {LARGEST_MESH / 1000:g} m; set "
        "mesh_units (units in a [mesh] table) to the unit that it was drawn in."
    )


def _surface_complaint(points: Array, faces: Faces, sheet: bool) -> str:
    """What keeps a surface from enclosing a solid; a sheet need not."""
    if sheet:
        return ""
    open_edges, wrong_edges = edge_faults(faces)
    if open_edges:
        flat = int(_slivers(points, faces).sum())
        also = f" and {flat:,} of its triangles have no area" if flat else ""
        return (
            f"is not closed: {open_edges:,} of its edges have a triangle on one side only{also}; close it, or if it is "
            "a scan of one side of a frame shape, say open = true."
        )
    if wrong_edges:
        return (
            f"is wound both ways: at {wrong_edges:,} of its edges one triangle faces in and its neighbour out; make "
            "its normals consistent in the program that made it."
        )
    return _inward_complaint(Mesh(points - points.mean(axis=0), faces))


def _inward_complaint(mesh: Mesh) -> str:
    """Which bodies of a closed mesh face inwards and are no cavity of another."""
    from scipy.sparse import coo_array  # a quarter of a second, and few scenes bring a mesh
    from scipy.sparse.csgraph import connected_components

    faces, count = mesh.faces, len(mesh.points)
    edges: Any = coo_array((np.ones(2 * len(faces)), (faces[:, [0, 0]].ravel(), faces[:, 1:].ravel())), (count, count))
    bodies, body = connected_components(edges, directed=False)
    sizes = np.bincount(body[faces[:, 0]], mesh.volumes, bodies)
    least = FLAT * float(np.ptp(mesh.points, axis=0).max()) ** 3
    outward, inward = sizes > least, np.flatnonzero(sizes < -least)
    if not outward.any() and not len(inward):
        return "is flat: it encloses no volume; give it its thickness."
    if not outward.any():
        return "is inside out: its triangles face inwards; turn its normals round in the program that made it."
    if not len(inward):
        return ""
    held = inside(mesh.points[np.isin(body, inward)], Mesh(mesh.points, faces[outward[body[faces[:, 0]]]]))
    astray = np.unique(body[np.isin(body, inward)][~held])
    if not len(astray):
        return ""
    return (
        f"has {len(astray):,} of its {bodies:,} bodies inside out: their triangles face inwards and they are no cavity "
        "of another; turn their normals round in the program that made it."
    )
