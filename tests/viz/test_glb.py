"""GLB files read back by the rules of glTF 2.0 and compared with the solver; the Khronos validator's word on them."""

from __future__ import annotations

import json
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from khronos import khronos_issues
from scipy.spatial.transform import Rotation, Slerp
from zoo import built, scene_data

from model.cycles import Cycle
from model.errors import CallError
from model.members import posture
from model.poses import Poses
from model.solver import solve
from model.travel import Travel, cycle, moves_of, runs_of
from viz import style
from viz.glb import Node, Surface, glb_bytes, told_apart
from viz.mesh import write_mesh, write_moving
from viz.motion import SAMPLES
from viz.rig import rig

SECONDS = 4.0
METRE = 1000.0
# What is promised of the motion between and at key frames.
PLACE, TURN = 0.5, np.radians(0.2)
# glTF 2.0: x left, y up, z forward, of a vehicle's x forward, y left, z up.
VEHICLE_FROM_GLTF = np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
KINDS = {5120: "<i1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
WIDTHS = {"SCALAR": 1, "VEC3": 3, "VEC4": 4}


@dataclass
class File:
    """A GLB file taken apart."""

    document: dict[str, Any]
    data: bytes

    def values(self, number: int) -> np.ndarray:
        accessor = self.document["accessors"][number]
        view = self.document["bufferViews"][accessor["bufferView"]]
        width, kind = WIDTHS[accessor["type"]], np.dtype(KINDS[accessor["componentType"]])
        stride = view.get("byteStride", width * kind.itemsize)
        rows = np.frombuffer(self.data, np.uint8, stride * accessor["count"], view["byteOffset"])
        rows = np.ascontiguousarray(rows.reshape(accessor["count"], stride)[:, : width * kind.itemsize])
        values = rows.view(kind).astype(float)
        return values / np.iinfo(kind).max if accessor.get("normalized") else values


def opened(data: bytes) -> File:
    magic, version, size = struct.unpack_from("<4sII", data)
    assert (magic, version, size) == (b"glTF", 2, len(data))
    length, kind = struct.unpack_from("<I4s", data, 12)
    assert kind == b"JSON"
    return File(json.loads(data[20 : 20 + length]), data[28 + length :])


@pytest.fixture(scope="module", params=["wren_front", "parcel_rear", "tarn_rear"])
def moved(request: pytest.FixtureRequest) -> tuple[Poses, list[Cycle]]:
    mechanism = built(scene_data(request.param))
    runs = runs_of(mechanism, Cycle.ALL)
    travels = [cycle(mechanism, run, SAMPLES) for run in runs]
    return solve(mechanism, Travel(travels[0].names, np.concatenate([one.values for one in travels]))), runs


@pytest.fixture(scope="module")
def written(moved: tuple[Poses, list[Cycle]], tmp_path_factory: pytest.TempPathFactory) -> Path:
    poses, runs = moved
    output = tmp_path_factory.mktemp("moving") / "moving.glb"
    write_moving(poses, list(runs), SECONDS, output)
    return output


def test_the_motion_is_the_solvers_at_key_frames_and_halfway_between(
    moved: tuple[Poses, list[Cycle]], written: Path
) -> None:
    poses, runs = moved
    file = opened(written.read_bytes())
    assert [animation["name"] for animation in file.document["animations"]] == list(runs)
    for run, animation in zip(runs, file.document["animations"], strict=True):
        keys = np.unique(np.concatenate([file.values(one["input"])[:, 0] for one in animation["samplers"]]))
        times = np.sort(np.concatenate([keys, 0.5 * (keys[1:] + keys[:-1])]))
        now = posture(solve(poses.mechanism, _at(poses, run, times / SECONDS)))
        rest = posture(poses.take(np.array([0])))
        checked = 0
        for number, node in enumerate(file.document["nodes"]):
            part = now.parts.get(node["name"])
            if part is None or part.rotation.shape[0] != len(times):
                continue
            place, turned = _played(file, animation, number, times)
            stood = _vehicle(np.array([node.get("translation", [0.0, 0.0, 0.0])]))[0]
            origin = rest.parts[node["name"]].rotation[0].T @ (stood - rest.parts[node["name"]].translation[0])
            assert np.linalg.norm(place - part.point(origin), axis=-1).max() <= PLACE, node["name"]
            apart = Rotation.from_matrix(part.rotation).inv() * turned
            assert apart.magnitude().max() <= TURN, node["name"]
            checked += 1
        assert checked > 8


def _at(poses: Poses, run: Cycle, share: np.ndarray) -> Travel:
    """The drive values of a run at shares of its time: a sine from droop to bump."""
    values = np.zeros((len(share), len(poses.travel.names)))
    swing = np.sin(2.0 * np.pi * share)
    for name, sign in moves_of(run).items():
        column = poses.travel.names.index(name)
        drive = poses.mechanism.drives[column]
        values[:, column] = np.where(sign * swing >= 0.0, drive.high, -drive.low) * sign * swing
    return Travel(poses.travel.names, values)


def _played(file: File, animation: dict[str, Any], number: int, times: np.ndarray) -> tuple[np.ndarray, Rotation]:
    """Where a node's origin is, (k, 3) in mm in vehicle axes, and its rotations at some times."""
    node = file.document["nodes"][number]
    place = np.repeat([node.get("translation", [0.0, 0.0, 0.0])], len(times), axis=0)
    turned = Rotation.from_quat(np.repeat([node.get("rotation", [0.0, 0.0, 0.0, 1.0])], len(times), axis=0))
    for channel in animation["channels"]:
        if channel["target"]["node"] != number:
            continue
        sampler = animation["samplers"][channel["sampler"]]
        keys, values = file.values(sampler["input"])[:, 0], file.values(sampler["output"])
        inside = np.clip(times, keys[0], keys[-1])
        if channel["target"]["path"] == "translation":
            place = np.stack([np.interp(inside, keys, column) for column in values.T], axis=-1)
        elif channel["target"]["path"] == "rotation":
            turned = Slerp(keys, Rotation.from_quat(values))(inside)
    change = Rotation.from_matrix(VEHICLE_FROM_GLTF)
    return _vehicle(place), change * turned * change.inv()


def _vehicle(points: np.ndarray) -> np.ndarray:
    return points * METRE @ VEHICLE_FROM_GLTF.T


def test_each_animation_ends_as_it_began(written: Path) -> None:
    file = opened(written.read_bytes())
    for animation in file.document["animations"]:
        for sampler in animation["samplers"]:
            times = file.values(sampler["input"])[:, 0]
            values = file.values(sampler["output"]).reshape(len(times), -1)
            assert (times[0], times[-1]) == (0.0, SECONDS)
            # 32-bit numbers of metres and quaternions.
            assert values[-1] == pytest.approx(values[0], abs=1e-6)


def test_a_moving_file_passes_the_khronos_validator_without_a_word(written: Path) -> None:
    issues = khronos_issues(written)
    assert issues["messages"] == []


def test_a_moving_roadster_is_small(tmp_path: Path) -> None:
    mechanism = built(scene_data("wren_front"))
    poses = solve(mechanism, cycle(mechanism, Cycle.STEER, SAMPLES))
    write_moving(poses, ["lock to lock"], SECONDS, tmp_path / "small.glb")
    assert (tmp_path / "small.glb").stat().st_size < 5e6


@pytest.mark.parametrize("suffix", [".stl", ".ply", ".obj"])
def test_other_formats_cannot_move(moved: tuple[Poses, list[Cycle]], tmp_path: Path, suffix: str) -> None:
    with pytest.raises(CallError, match=r"cannot hold motion.*\.glb"):
        write_moving(moved[0], list(moved[1]), SECONDS, tmp_path / f"axle{suffix}")
    assert list(tmp_path.iterdir()) == []


def test_quantised_points_are_those_of_the_whole_file(tmp_path: Path) -> None:
    mechanism = built(scene_data("wren_front"))
    found = rig(solve(mechanism, cycle(mechanism, Cycle.BOTH, SAMPLES)))
    whole, small = (opened(glb_bytes("Wren", found.nodes, quantised=flag)) for flag in (False, True))
    assert len(small.data) < 0.6 * len(whole.data)
    for number, node in enumerate(found.nodes):
        if not node.surfaces:
            continue
        carrier = small.document["nodes"][small.document["nodes"][number]["children"][-1]]
        scale = carrier["scale"][0]
        pair = zip(
            whole.document["meshes"][whole.document["nodes"][number]["mesh"]]["primitives"],
            small.document["meshes"][carrier["mesh"]]["primitives"],
            strict=True,
        )
        for fine, coarse in pair:
            true = whole.values(fine["attributes"]["POSITION"])
            steps = small.values(coarse["attributes"]["POSITION"])
            # Half a step, and what 32 bits lose.
            assert steps * scale == pytest.approx(true, abs=0.5 * scale + 1e-7)
            normals = small.values(coarse["attributes"]["NORMAL"])
            # Half a 127th on each axis.
            assert normals == pytest.approx(whole.values(fine["attributes"]["NORMAL"]), abs=0.5 / 127 + 1e-6)
    (tmp_path / "small.glb").write_bytes(glb_bytes("Wren", found.nodes, quantised=True))
    assert khronos_issues(tmp_path / "small.glb")["messages"] == []


def test_every_node_has_a_name_of_its_own(tmp_path: Path) -> None:
    assert told_apart(["bar", "hose", "bar", "bar 2", "bar"]) == ["bar", "hose", "bar 3", "bar 2", "bar 4"]
    output = tmp_path / "axle.glb"
    # A propshaft in pieces and a hose with its fittings: several nodes that a person knows by one name.
    mechanism = built(scene_data("wren_rear"))
    write_moving(solve(mechanism, cycle(mechanism, Cycle.BOTH, SAMPLES)), ["both"], SECONDS, output)
    document = opened(output.read_bytes()).document
    for kind in ("nodes", "meshes"):
        names = [each["name"] for each in document[kind]]
        assert len(names) == len(set(names))
        assert "propshaft" in names
        assert "propshaft 2" in names
    assert khronos_issues(output)["messages"] == []


def test_equal_surfaces_are_written_once() -> None:
    points = np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [0.0, 10.0, 0.0]])
    surface = Surface(("zinc", style.SWEPT_SPACE), points, np.array([[0, 1, 2]]))
    file = opened(glb_bytes("two", [Node("one", (surface,)), Node("other", (surface,), np.array([0.0, 5.0, 0.0]))]))
    assert len(file.document["meshes"]) == 1
    assert file.document["nodes"][1]["translation"] == [0.005, 0.0, 0.0]


def test_a_still_file_passes_the_khronos_validator_without_a_word(tmp_path: Path) -> None:
    mechanism = built(scene_data("tarn_rear"))
    still = solve(mechanism, Travel(("left", "right"), np.zeros((1, 2))))
    write_mesh(still, tmp_path / "axle.glb")
    assert khronos_issues(tmp_path / "axle.glb")["messages"] == []
