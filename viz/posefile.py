"""Every part's transform and every point's position in every pose, as .npz (size) or .json (reading)."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.lib import format as npy
from numpy.typing import NDArray

from model.errors import CallError
from model.members import Posture, point_positions, posture
from model.poses import STATUS_TEXT, Poses, Status
from model.spatial import Array
from viz.files import check_suffix, path_text, whole_file
from viz.report import drive_key

# Poses held as 4×4 matrices at once: some 30 MB for a whole front suspension.
CHUNK = 8192
# A .json of more poses than this is tens of MB that nobody reads.
LARGEST_JSON = 5000
FORMATS = {".npz": "small", ".json": "to read"}


def write_poses(poses: Poses, scene: str, output: Path, progress: Callable[[int, int], None] | None = None) -> None:
    """Write all poses to a .npz or .json file.

    Raises:
        CallError: for another suffix, or for more poses than a .json should hold.

    """
    suffix = check_suffix(output, FORMATS)
    if suffix == ".json" and len(poses) > LARGEST_JSON:
        raise CallError(
            f"{path_text(output)} would hold {len(poses):,} poses, expected {LARGEST_JSON:,} at most in a .json; "
            "write .npz or take fewer steps."
        )
    with whole_file(output) as temporary:
        if suffix == ".npz":
            _write_npz(poses, scene, temporary, progress)
        else:
            temporary.write_text(json.dumps(_as_json(poses, scene), ensure_ascii=False, indent=1), encoding="utf-8")


def _tables(poses: Poses) -> dict[str, NDArray[Any]]:
    """What there is one of for each pose: drive values, status, residual, share of the way reached."""
    values: dict[str, NDArray[Any]] = {
        drive_key(drive): poses.travel.values[:, column] * (100.0 if drive.name == "steer" else 1.0)
        for column, drive in enumerate(poses.mechanism.drives)
    }
    return values | {
        "status": poses.status,
        "residual_mm": poses.residual,
        "reached_share": poses.reached,
    }


def _write_npz(poses: Poses, scene: str, path: Path, progress: Callable[[int, int], None] | None) -> None:
    first = posture(poses.take(slice(0, 1)))
    parts = list(first.parts)
    points = list(point_positions(poses.mechanism, first.parts))
    names = {
        "format": np.array("fulltravel poses 1"),
        "scene": np.array(scene),
        "title": np.array(poses.mechanism.title),
        "status_words": np.array([STATUS_TEXT[status] for status in Status]),
        "part_names": np.array(parts),
        "point_names": np.array(points),
    }
    passes: list[tuple[str, tuple[int, ...], Callable[[Posture], Array]]] = [
        ("transforms", (len(parts), 4, 4), lambda now: np.stack([now.parts[p].matrix() for p in parts], axis=1)),
        ("points_mm", (len(points), 3), lambda now: _stacked_points(poses, now)),
    ]
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name, array in {**names, **_tables(poses)}.items():
            with archive.open(f"{name}.npy", "w", force_zip64=True) as entry:
                npy.write_array(entry, np.asarray(array), allow_pickle=False)
        for number, (name, shape, take) in enumerate(passes):
            with archive.open(f"{name}.npy", "w", force_zip64=True) as entry:
                header = {"descr": "<f8", "fortran_order": False, "shape": (len(poses), *shape)}
                npy.write_array_header_2_0(entry, header)
                for done, chunk in _chunks(poses):
                    entry.write(np.ascontiguousarray(take(posture(chunk)), dtype="<f8").tobytes())
                    if progress is not None:
                        progress(number * len(poses) + done, len(passes) * len(poses))


def _stacked_points(poses: Poses, now: Posture) -> Array:
    """Every point (N, P, 3) in mm, in the order of `point_names`."""
    return np.stack(list(point_positions(poses.mechanism, now.parts).values()), axis=1)


def _chunks(poses: Poses) -> Iterator[tuple[int, Poses]]:
    for start in range(0, len(poses), CHUNK):
        stop = min(start + CHUNK, len(poses))
        yield stop, poses.take(slice(start, stop))


def _as_json(poses: Poses, scene: str) -> dict[str, Any]:
    now = posture(poses)
    tables = _tables(poses)
    places = point_positions(poses.mechanism, now.parts)
    matrices = {name: part.matrix() for name, part in now.parts.items()}
    return {
        "format": "fulltravel poses 1",
        "scene": scene,
        "title": poses.mechanism.title,
        "status_words": {str(int(status)): text for status, text in STATUS_TEXT.items()},
        "poses": [
            {
                **{key: column[number].item() for key, column in tables.items()},
                "parts": {name: matrix[number].tolist() for name, matrix in matrices.items()},
                "points_mm": {name: place[number].tolist() for name, place in places.items()},
            }
            for number in range(len(poses))
        ],
    }
