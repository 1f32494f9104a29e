"""The pose files: what is in them fits together and comes back as it was. Expectations are the file's promises (D)."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from zoo import built, scene_data, trailing_arm

from model.errors import CallError
from model.mechanism import Mechanism
from model.poses import Poses, Status
from model.solver import solve
from model.travel import Travel, grid
from viz import posefile
from viz.files import check_suffix
from viz.posefile import FORMATS, write_poses

PER_POSE = {"status", "residual_mm", "reached_share"}
# The solver's own bound on a residual (model.newton.RESIDUAL).
RESIDUAL = 1e-9


def solved(mechanism: Mechanism, wheel_steps: int = 3, steer_steps: int = 3) -> Poses:
    return solve(mechanism, grid(mechanism, wheel_steps, steer_steps))


def written(poses: Poses, output: Path) -> Any:
    """The file reread by a general library."""
    write_poses(poses, "scenes/some.toml", output)
    if output.suffix == ".json":
        return json.loads(output.read_text(encoding="utf-8"))
    with np.load(output, allow_pickle=False) as archive:
        return dict(archive)


@pytest.fixture(scope="module")
def front() -> Poses:
    return solved(built(scene_data("wren_front")))


def test_npz_keys_and_shapes(front, tmp_path):
    file = written(front, tmp_path / "poses.npz")
    n, parts, points = len(front), len(file["part_names"]), len(file["point_names"])
    shapes = {key: array.shape for key, array in file.items()}
    assert shapes == {
        "format": (),
        "scene": (),
        "title": (),
        "status_words": (2,),
        "part_names": (parts,),
        "point_names": (points,),
        "left_mm": (n,),
        "right_mm": (n,),
        "steer_percent": (n,),
        "status": (n,),
        "residual_mm": (n,),
        "reached_share": (n,),
        "transforms": (n, parts, 4, 4),
        "points_mm": (n, points, 3),
    }
    assert str(file["format"]) == "fulltravel poses 1"
    assert str(file["title"]) == front.mechanism.title
    assert (file["residual_mm"] <= RESIDUAL).all()


def test_every_transform_times_the_ride_height_point_is_the_point(front, tmp_path):
    file = written(front, tmp_path / "poses.npz")
    ride = int(np.flatnonzero((file["left_mm"] == 0) & (file["right_mm"] == 0) & (file["steer_percent"] == 0))[0])
    names = list(file["part_names"])
    # At ride height every transform is the identity, so that the file's own points there are the scene's.
    np.testing.assert_allclose(file["transforms"][ride], np.broadcast_to(np.eye(4), (len(names), 4, 4)), atol=1e-12)
    for column, (name, holder, at) in enumerate(front.mechanism.points):
        assert file["point_names"][column] == name
        moved = file["transforms"][:, names.index(holder)] @ np.append(file["points_mm"][ride, column], 1.0)
        # Rounding of 1000 mm in doubles.
        np.testing.assert_allclose(moved[:, :3], file["points_mm"][:, column], rtol=0, atol=1e-9)
        np.testing.assert_allclose(file["points_mm"][ride, column], at, rtol=0, atol=1e-9)


def test_json_says_what_npz_says(front, tmp_path):
    archive = written(front, tmp_path / "poses.npz")
    document = written(front, tmp_path / "poses.json")
    assert list(document) == ["format", "scene", "title", "status_words", "poses"]
    for number, pose in enumerate(document["poses"]):
        assert pose.keys() == {"left_mm", "right_mm", "steer_percent", "parts", "points_mm"} | PER_POSE
        for key in ("left_mm", "right_mm", "steer_percent", *PER_POSE):
            assert pose[key] == archive[key][number]
        # Numbers are written with all their digits: exactly the same ones come back.
        assert list(pose["parts"]) == list(archive["part_names"])
        np.testing.assert_array_equal(list(pose["parts"].values()), archive["transforms"][number])
        np.testing.assert_array_equal(list(pose["points_mm"].values()), archive["points_mm"][number])


@pytest.mark.parametrize("suffix", [".npz", ".json"])
def test_a_locked_pose_says_so_and_how_far_it_gets(suffix, tmp_path):
    # D: a wheel on an arm of 100 mm cannot rise by 150 mm; it stands 100 mm up when the arm points straight up.
    poses = solved(built(trailing_arm(radius=100.0, travel=150.0)))
    file = written(poses, tmp_path / f"poses{suffix}")
    if suffix == ".json":
        rows = [(pose["left_mm"], pose["status"], pose["reached_share"]) for pose in file["poses"]]
        assert file["status_words"]["1"].startswith("the linkage locks before this pose")
    else:
        rows = list(zip(file["left_mm"], file["status"], file["reached_share"], strict=True))
        assert file["status_words"][Status.LOCKED].startswith("the linkage locks before this pose")
    assert [(left, status) for left, status, _ in rows] == [(-150, 1), (0, 0), (150, 1)]
    for left, status, reached in rows:
        # The solver stops within 1/8192 of the way, and backs off by another 1/1024.
        assert reached == pytest.approx(100 / 150 if status else 1.0, abs=2e-3), left


def test_chunks_leave_no_trace(front, tmp_path, monkeypatch):
    whole = written(front, tmp_path / "whole.npz")
    monkeypatch.setattr(posefile, "CHUNK", 4)
    chunked = written(front, tmp_path / "chunked.npz")
    assert whole.keys() == chunked.keys()
    for key, array in whole.items():
        np.testing.assert_array_equal(array, chunked[key], err_msg=key)


def test_progress_ends_at_the_total(front, tmp_path):
    calls: list[tuple[int, int]] = []
    write_poses(front, "s", tmp_path / "poses.npz", lambda done, total: calls.append((done, total)))
    done, totals = zip(*calls, strict=True)
    assert set(totals) == {done[-1]}
    assert list(done) == sorted(done)


def test_names_in_any_script_come_back(tmp_path):
    data = json.loads(json.dumps(trailing_arm()).replace("trailing arm", "рычаг <b>[red]"))
    data["points"]["车轮 κέντρο"] = data["points"].pop("centre")
    data["wheel"]["wheel"]["centre"] = "车轮 κέντρο"
    poses = solved(built(data))
    archive = written(poses, tmp_path / "poses.npz")
    document = written(poses, tmp_path / "poses.json")
    assert "рычаг <b>[red]" in archive["part_names"]
    assert "车轮 κέντρο" in archive["point_names"]
    assert document["title"] == "рычаг <b>[red]"
    assert "车轮 κέντρο" in document["poses"][0]["points_mm"]
    assert "κέντρο" in (tmp_path / "poses.json").read_text(encoding="utf-8")  # readable, not escaped


def test_too_many_poses_for_json_are_refused_before_any_is_written(tmp_path):
    mechanism = built(trailing_arm())
    many = Travel(("left",), np.zeros((posefile.LARGEST_JSON + 1, 1)))
    poses = solve(mechanism, many)
    output = tmp_path / "poses.json"
    with pytest.raises(CallError) as caught:
        write_poses(poses, "s", output)
    assert caught.value.complaints == (
        f"{output} would hold 5,001 poses, expected 5,000 at most in a .json; write .npz or take fewer steps.",
    )
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("name", "ending"), [("poses.csv", ".csv"), ("poses", "nothing"), ("npz", "nothing")])
def test_other_suffixes(name, ending, tmp_path):
    with pytest.raises(CallError) as caught:
        check_suffix(tmp_path / name, FORMATS)
    assert caught.value.complaints == (
        f"{tmp_path / name} ends in {ending}, expected .npz (small) or .json (to read); rename it.",
    )


@pytest.mark.parametrize("name", ["a.npz", "a.NPZ", "a.b.Json"])
def test_suffixes_in_any_case(name):
    assert check_suffix(Path(name), FORMATS) in (".npz", ".json")
