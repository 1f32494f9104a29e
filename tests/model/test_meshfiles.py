"""Mesh files as people bring them: read to the last digit, or refused in one sentence.

All files are made here by trimesh, or damaged from such a file; expectations are D.
"""

from __future__ import annotations

import json
import struct
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh

from model.errors import SceneError
from model.meshes import mesh_of
from model.solids import MeshFile
from model.spatial import rotation_about
from model.triangles import Mesh

FORMATS = ("stl", "obj", "ply", "glb")
SIZE = np.array([300.0, 60.0, 90.0])


def rail() -> trimesh.Trimesh:
    """A block of 300 × 60 × 90 mm beside the origin."""
    box = trimesh.creation.box(SIZE)
    box.apply_translation((20.0, 400.0, 250.0))
    return box


def read(path: Path, scale: float = 1.0, mirrored: bool = False, sheet: bool = False) -> Mesh:
    return mesh_of(MeshFile(str(path), scale, mirrored, sheet=sheet))


def refused(path: Path) -> str:
    with pytest.raises(SceneError) as caught:
        read(path)
    (sentence,) = caught.value.complaints
    assert str(path) in sentence
    assert sentence.endswith(".")
    assert "\n" not in sentence
    return sentence


def cut(path: Path, share: float) -> Path:
    data = path.read_bytes()
    path.write_bytes(data[: int(share * len(data))])
    return path


@pytest.mark.parametrize("suffix", FORMATS)
@pytest.mark.parametrize(("drawn_in", "scale"), [("mm", 1.0), ("in", 25.4), ("m", 1000.0)])
def test_every_format_in_every_unit(tmp_path, suffix, drawn_in, scale):
    file = tmp_path / f"rail.{suffix}"
    rail().apply_scale(1.0 / scale).export(file)
    mesh = read(file, scale)
    # STL and GLB hold seven digits.
    assert np.ptp(mesh.points, axis=0) == pytest.approx(SIZE, rel=1e-5), drawn_in
    assert mesh.volume == pytest.approx(SIZE.prod(), rel=1e-5)
    assert (len(mesh.points), len(mesh.faces)) == (8, 12)


def test_text_stl(tmp_path):
    file = tmp_path / "rail.stl"
    rail().export(file, file_type="stl_ascii")
    assert read(file).volume == pytest.approx(SIZE.prod(), rel=1e-5)


@pytest.mark.parametrize("tail", [b"\0", b"made by nobody", b" " * 500])
def test_a_binary_stl_with_more_after_its_last_triangle(tmp_path, tail):
    file = tmp_path / "rail.stl"
    rail().export(file)
    file.write_bytes(file.read_bytes() + tail)
    assert read(file).volume == pytest.approx(SIZE.prod(), rel=1e-5)


@pytest.mark.parametrize(("suffix", "kind"), [("stl", "stl_ascii"), ("obj", "obj")])
def test_a_text_with_a_byte_order_mark(tmp_path, suffix, kind):
    file = tmp_path / f"rail.{suffix}"
    rail().export(file, file_type=kind)
    file.write_bytes(b"\xef\xbb\xbf" + file.read_bytes())
    assert read(file).volume == pytest.approx(SIZE.prod(), rel=1e-5)


@pytest.mark.parametrize("suffix", FORMATS)
def test_a_mesh_is_scaled_then_turned_then_moved_then_mirrored(tmp_path, suffix):
    file = tmp_path / f"rail.{suffix}"
    rail().apply_scale(1e-3).export(file)
    turned, moved = rotation_about(np.array([0.0, 0.0, 1.0]), np.asarray(np.pi / 2)), np.array([1.0, 2.0, 3.0])
    left, right = (mesh_of(MeshFile(str(file), 1000.0, side, turned, moved)) for side in (False, True))
    # A quarter turn about z takes (x, y, z) to (−y, x, z).
    middle = 0.5 * (left.points.min(axis=0) + left.points.max(axis=0))
    assert middle == pytest.approx([-400.0 + 1.0, 20.0 + 2.0, 250.0 + 3.0], rel=1e-5)
    assert np.ptp(left.points, axis=0) == pytest.approx(SIZE[[1, 0, 2]], rel=1e-5)
    assert right.points == pytest.approx(left.points * [1.0, -1.0, 1.0])
    assert right.volume == pytest.approx(left.volume)


@pytest.mark.parametrize("suffix", FORMATS)
def test_an_empty_file(tmp_path, suffix):
    file = tmp_path / f"rail.{suffix}"
    file.write_bytes(b"")
    assert "is empty" in refused(file)


@pytest.mark.parametrize("suffix", FORMATS)
def test_a_text_file_with_the_name_of_a_mesh(tmp_path, suffix):
    file = tmp_path / f"rail.{suffix}"
    file.write_text("Dear all,\nthe rail is solid and its facets are fine.\n" * 20)
    sentence = refused(file)
    assert "whatever its name says" in sentence
    assert suffix.upper() in sentence


@pytest.mark.parametrize("suffix", FORMATS)
@pytest.mark.parametrize("share", [0.999, 0.9, 0.6, 0.3, 0.05])
def test_a_truncated_file(tmp_path, suffix, share):
    file = tmp_path / f"ball.{suffix}"
    trimesh.creation.icosphere(subdivisions=3, radius=200.0).export(file)
    sentence = refused(cut(file, share))
    # Nothing in an OBJ says how long it should be: what is cut off leaves a hole, or no triangles.
    assert "cut short" in sentence or suffix == "obj"


@pytest.mark.parametrize("share", [0.99, 0.5])
def test_a_truncated_text_stl(tmp_path, share):
    file = tmp_path / "rail.stl"
    rail().export(file, file_type="stl_ascii")
    assert "cut short" in refused(cut(file, share))


@pytest.mark.parametrize("share", [0.9, 0.5])
def test_a_truncated_text_ply(tmp_path, share):
    file = tmp_path / "rail.ply"
    file.write_bytes(trimesh.creation.icosphere(radius=90.0).export(file_type="ply", encoding="ascii"))
    assert "cut short" in refused(cut(file, share))


@pytest.mark.parametrize("suffix", FORMATS)
def test_an_open_mesh_says_how_many_edges(tmp_path, suffix):
    box, file = rail(), tmp_path / f"rail.{suffix}"
    box.update_faces(np.arange(12) != 5)
    box.export(file)
    assert "3 of its edges have a triangle on one side only" in refused(file)
    assert len(read(file, sheet=True).faces) == 11


@pytest.mark.parametrize("suffix", FORMATS)
def test_an_inverted_mesh(tmp_path, suffix):
    box, file = rail(), tmp_path / f"rail.{suffix}"
    box.invert()
    box.export(file)
    assert "is inside out" in refused(file)


def beside(moved: float, size: float = 40.0, inverted: bool = False) -> trimesh.Trimesh:
    """The block and a cube whose middle lies so far along it."""
    cube = trimesh.creation.box((size, size, size))
    cube.apply_translation(np.array([20.0 + moved, 400.0, 250.0]))
    if inverted:
        cube.invert()
    return trimesh.util.concatenate([rail(), cube])


@pytest.mark.parametrize("moved", [300.0, -300.0, 145.0])
def test_one_body_of_two_inside_out(tmp_path, moved):
    # Beside the block, or half out of its end.
    file = tmp_path / "rails.stl"
    beside(moved, inverted=True).export(file)
    assert "has 1 of its 2 bodies inside out: their triangles face inwards" in refused(file)
    beside(moved).export(file)
    assert read(file).volume == pytest.approx(SIZE.prod() + 40.0**3, rel=1e-5)


def test_a_cavity_faces_inwards(tmp_path):
    file = tmp_path / "hollow.stl"
    beside(60.0, inverted=True).export(file)
    assert read(file).volume == pytest.approx(SIZE.prod() - 40.0**3, rel=1e-5)


def with_triangles(file: Path, more: list[list[list[float]]], without: int = 0) -> Path:
    """A file of the block's triangles, less some of the first, and more of them."""
    corners = np.concatenate([rail().triangles[without:], np.array(more)])
    trimesh.Trimesh(corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3), process=False).export(file)
    return file


@pytest.mark.parametrize("share", [0.5, 0.3, 0.0])
def test_a_closed_block_with_a_triangle_of_no_area(tmp_path, share):
    start, stop = rail().vertices[rail().edges_unique[3]]
    sliver = [start, stop, start + share * (stop - start)]
    mesh = read(with_triangles(tmp_path / "rail.stl", [sliver]))
    assert len(mesh.faces) == 12
    assert mesh.volume == pytest.approx(SIZE.prod(), rel=1e-5)


def test_a_triangle_of_no_area_that_closes_a_gap_stays(tmp_path):
    # The first triangle is cut in two from its tip; its neighbour across the cut edge is not.
    start, stop, tip = rail().triangles[0]
    middle = 0.5 * (start + stop)
    halves = [[start, middle, tip], [middle, stop, tip]]
    file = tmp_path / "rail.stl"
    assert len(read(with_triangles(file, [*halves, [start, stop, middle]], without=1)).faces) == 14
    assert "3 of its edges have a triangle on one side only;" in refused(with_triangles(file, halves, without=1))


def test_an_open_mesh_says_which_of_its_triangles_have_no_area(tmp_path):
    # The sliver shares an edge with one triangle where the block has lost another, so that it closes that edge.
    start, stop, _ = rail().triangles[0]
    sliver = [start, stop, 0.5 * (start + stop)]
    sentence = refused(with_triangles(tmp_path / "rail.stl", [sliver], without=1))
    assert "on one side only and 1 of its triangles have no area; close it" in sentence


def test_a_mesh_wound_both_ways(tmp_path):
    box, file = rail(), tmp_path / "rail.obj"
    box.faces[4] = box.faces[4][::-1]
    file.write_text(
        "".join(f"v {x} {y} {z}\n" for x, y, z in box.vertices)
        + "".join(f"f {a} {b} {c}\n" for a, b, c in box.faces + 1)
    )
    assert "wound both ways: at 3 of its edges" in refused(file)


def test_a_flat_mesh(tmp_path):
    file = tmp_path / "plate.obj"
    file.write_text("v 0 0 0\nv 90 0 0\nv 0 90 0\nf 1 2 3\nf 3 2 1\n")
    assert "encloses no volume" in refused(file)


def test_two_blocks_that_touch_along_an_edge_are_closed(tmp_path):
    one, other = trimesh.creation.box((50, 50, 50)), trimesh.creation.box((50, 50, 50))
    other.apply_translation((50, 50, 0))
    file = tmp_path / "blocks.stl"
    trimesh.util.concatenate([one, other]).export(file)
    assert read(file).volume == pytest.approx(2 * 50.0**3)


@pytest.mark.parametrize("suffix", FORMATS)
@pytest.mark.parametrize("factor", [1e-3, 1e3])
def test_a_mesh_in_the_wrong_unit(tmp_path, suffix, factor):
    file = tmp_path / f"rail.{suffix}"
    rail().apply_scale(factor).export(file)
    assert f"is {0.3 * factor:.4g} m long, expected 0.005 to 20 m; set mesh_units" in refused(file)


@pytest.mark.parametrize("suffix", ["stl", "obj", "ply"])
@pytest.mark.parametrize("wrong", [np.nan, np.inf])
def test_a_mesh_with_a_vertex_that_is_no_number(tmp_path, suffix, wrong):
    file = tmp_path / f"rail.{suffix}"
    box = rail()
    if suffix == "stl":
        box.export(file)
        data = bytearray(file.read_bytes())
        data[96:100] = struct.pack("<f", wrong)
        file.write_bytes(data)
    else:
        points = np.array(box.vertices)
        points[3, 1] = wrong
        trimesh.Trimesh(points, box.faces, process=False).export(file)
    assert "has NaN or infinite coordinates in 1 of its vertices" in refused(file)


def test_a_point_cloud_holds_no_triangles(tmp_path):
    file = tmp_path / "cloud.ply"
    trimesh.PointCloud(np.random.default_rng(1).uniform(0, 100, (50, 3))).export(file)
    assert "holds no triangles" in refused(file)


def test_an_index_past_the_vertices(tmp_path):
    file = tmp_path / "rail.obj"
    file.write_text("v 0 0 0\nv 90 0 0\nv 0 90 0\nf 1 2 9\n")
    refused(file)


@pytest.mark.parametrize("name", ["../other/paint.mtl", "/etc/paint.mtl", "C:\\paint.mtl", "http://x.org/paint.mtl"])
def test_an_obj_that_refers_to_another_folder(tmp_path, name):
    file = tmp_path / "rail.obj"
    rail().export(file)
    file.write_text(f"mtllib {name}\n{file.read_text()}")
    assert f'refers to "{name}", outside its own folder' in refused(file)


def test_an_obj_whose_material_lies_beside_it_is_read_without_it(tmp_path):
    file = tmp_path / "rail.obj"
    rail().export(file)
    file.write_text(f"mtllib gone.mtl\nusemtl paint\n{file.read_text()}")
    assert read(file).volume == pytest.approx(SIZE.prod())


def edited_glb(file: Path, edit: Callable[[dict], None]) -> Path:
    """A GLB file whose JSON chunk has been changed."""
    data = file.read_bytes()
    length = struct.unpack("<I", data[12:16])[0]
    document = json.loads(data[20 : 20 + length])
    edit(document)
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    rest = data[20 + length :]
    head = struct.pack("<4sII", b"glTF", 2, 20 + len(text) + len(rest)) + struct.pack("<I4s", len(text), b"JSON")
    file.write_bytes(head + text + rest)
    return file


@pytest.mark.parametrize("key", ["buffers", "images"])
def test_a_glb_that_refers_to_another_folder(tmp_path, key):
    file = tmp_path / "rail.glb"
    rail().export(file)
    away = {"uri": "%2e%2e/away.bin", "byteLength": 4}
    edited_glb(file, lambda document: document.setdefault(key, []).append(away))
    assert "outside its own folder" in refused(file)


def test_a_glb_with_its_triangles_in_another_file(tmp_path):
    file = tmp_path / "rail.glb"
    rail().export(file)
    edited_glb(file, lambda document: document["buffers"][0].update(uri="rail.bin"))
    assert "as one GLB file" in refused(file)


def test_a_file_that_is_gone(tmp_path):
    assert "no such file" in refused(tmp_path / "gone.stl")


def test_a_file_that_is_saved_again_is_read_again(tmp_path):
    file = tmp_path / "rail.stl"
    rail().export(file)
    before = read(file)
    trimesh.creation.icosphere(radius=120.0).export(file)
    assert len(read(file).faces) > len(before.faces)


@pytest.mark.slow
@pytest.mark.parametrize("suffix", FORMATS)
def test_a_large_scan_loads_in_a_few_seconds(tmp_path, suffix):
    # Some 524,000 triangles: what a hand-held scanner gives. 1 to 5 s on a busy machine with two cores.
    ball = trimesh.creation.torus(400.0, 90.0, major_sections=512, minor_sections=512)
    assert len(ball.faces) > 500_000
    file = tmp_path / f"scan.{suffix}"
    ball.export(file)
    started = time.perf_counter()
    mesh = read(file)
    assert time.perf_counter() - started < 10.0
    assert mesh.volume == pytest.approx(2.0 * np.pi**2 * 400.0 * 90.0**2, rel=1e-3)
