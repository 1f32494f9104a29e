"""Mesh files read back by other programs: names, sizes in the format's own unit, closed surfaces, a clean GLB."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh
from khronos import khronos_issues
from zoo import built, scene_data

from model.errors import CallError
from model.members import posture
from model.poses import Poses
from model.solver import solve
from model.travel import single
from model.triangles import Mesh
from viz.mesh import pieces_of, write_mesh, write_swept

# Files hold 32-bit numbers, or four decimals: some 1e-4 mm at a vehicle's size.
STORED = 2e-3
METRE = 1000.0


@pytest.fixture(scope="module")
def poses() -> Poses:
    """A four-link rear axle crossed up, one of its links with a name from elsewhere."""
    mechanism = built(scene_data("tarn_rear"))
    links = (replace(mechanism.links[0], name="Längslenker 左"), *mechanism.links[1:])
    mechanism = replace(mechanism, links=links)
    return solve(mechanism, single(mechanism, left=120.0, right=-100.0))


def _bounds(poses: Poses) -> np.ndarray:
    points = np.concatenate([mesh.points for piece in pieces_of(poses, 0) for _, mesh in piece.meshes])
    return np.array([points.min(axis=0), points.max(axis=0)])


def test_glb_has_named_nodes_in_metres_with_y_up(poses: Poses, tmp_path: Path) -> None:
    write_mesh(poses, tmp_path / "axle.glb")
    scene = trimesh.load_scene(tmp_path / "axle.glb")
    names = {piece.name for piece in pieces_of(poses, 0)}
    assert names <= set(scene.graph.nodes)
    assert "Längslenker 左" in names
    vehicle = _bounds(poses)
    assert scene.bounds == pytest.approx(vehicle[:, [1, 2, 0]] / METRE, abs=STORED / METRE)


def test_glb_parts_stand_where_the_posture_has_them(poses: Poses, tmp_path: Path) -> None:
    write_mesh(poses, tmp_path / "axle.glb")
    scene = trimesh.load_scene(tmp_path / "axle.glb")
    now = posture(poses)
    wheel = poses.mechanism.wheels[0]
    corners = np.concatenate(
        [
            trimesh.transform_points(scene.geometry[geometry].vertices, matrix)
            for node in scene.graph.nodes_geometry
            for matrix, geometry in [scene.graph[node]]
            if node.startswith(wheel.name)
        ]
    )
    centre = now.parts[wheel.on].point(wheel.centre)[0]
    # A wheel is symmetrical about its middle plane but for its hub cap: height and length are.
    middle = 0.5 * (corners.min(axis=0) + corners.max(axis=0)) * METRE
    assert middle[1:] == pytest.approx(centre[[2, 0]], abs=1.0)


@pytest.mark.parametrize("suffix", [".stl", ".ply", ".obj"])
def test_other_formats_are_in_mm_and_closed(poses: Poses, tmp_path: Path, suffix: str) -> None:
    output = tmp_path / f"axle{suffix}"
    write_mesh(poses, output)
    mesh = trimesh.load_mesh(output, process=False)
    assert mesh.bounds == pytest.approx(_bounds(poses), abs=STORED)
    volume = sum(mesh.volume for piece in pieces_of(poses, 0) for _, mesh in piece.meshes)
    assert mesh.volume == pytest.approx(volume, rel=1e-4)
    if suffix != ".stl":  # an STL repeats every corner, so that nothing in it is joined
        assert mesh.is_watertight


def test_obj_names_its_objects(poses: Poses, tmp_path: Path) -> None:
    write_mesh(poses, tmp_path / "axle.obj")
    lines = (tmp_path / "axle.obj").read_text(encoding="utf-8").splitlines()
    assert [line[2:] for line in lines if line.startswith("o ")] == [piece.name for piece in pieces_of(poses, 0)]


def test_glb_passes_the_khronos_validator(poses: Poses, tmp_path: Path) -> None:
    write_mesh(poses, tmp_path / "axle.glb")
    issues = khronos_issues(tmp_path / "axle.glb")
    assert (issues["numErrors"], issues["numWarnings"]) == (0, 0), issues["messages"][:5]


def test_an_unknown_suffix_is_refused_and_leaves_nothing(poses: Poses, tmp_path: Path) -> None:
    with pytest.raises(CallError, match=r"axle\.step.*\.glb"):
        write_mesh(poses, tmp_path / "axle.step")
    assert list(tmp_path.iterdir()) == []


@pytest.fixture(scope="module")
def space() -> Mesh:
    """A ring: closed, and not convex."""
    whole = trimesh.creation.torus(300.0, 90.0).apply_translation([500.0, -700.0, 300.0])
    assert whole.is_watertight
    return Mesh(np.asarray(whole.vertices), np.asarray(whole.faces, dtype=np.int64))


@pytest.mark.parametrize(("suffix", "unit"), [(".glb", METRE), (".stl", 1.0), (".ply", 1.0), (".obj", 1.0)])
def test_a_swept_space_is_closed_in_every_format(space: Mesh, tmp_path: Path, suffix: str, unit: float) -> None:
    output = tmp_path / f"space{suffix}"
    write_swept(space, "Wren roadster", "left wheel", output)
    # Only an STL repeats its corners, which the loader joins.
    mesh = trimesh.load_mesh(output, process=suffix == ".stl")
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume * unit**3 == pytest.approx(space.volume, rel=1e-4)
    bounds = np.array([space.points.min(axis=0), space.points.max(axis=0)])
    expected = bounds[:, [1, 2, 0]] if suffix == ".glb" else bounds
    assert mesh.bounds * unit == pytest.approx(expected, abs=STORED)


def test_a_swept_space_has_a_name_and_passes_the_khronos_validator(space: Mesh, tmp_path: Path) -> None:
    write_swept(space, "Wren roadster", "left wheel", tmp_path / "space.glb")
    assert "space of left wheel" in trimesh.load_scene(tmp_path / "space.glb").graph.nodes
    issues = khronos_issues(tmp_path / "space.glb")
    assert (issues["numErrors"], issues["numWarnings"]) == (0, 0), issues["messages"][:5]


def test_a_swept_space_with_an_unknown_suffix_is_refused(space: Mesh, tmp_path: Path) -> None:
    with pytest.raises(CallError, match=r"space\.step.*\.glb"):
        write_swept(space, "Wren roadster", "left wheel", tmp_path / "space.step")
    assert list(tmp_path.iterdir()) == []
