"""Curves as files for other programs: .csv (one row a pose) and .json, in mm, N and degrees."""

from __future__ import annotations

import csv
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from model.curvenames import Curve
from model.poses import Poses
from model.spatial import Array
from viz.cautions import CAUTIONS
from viz.curvetext import FILE_UNITS, key_of, named_like
from viz.files import whole_file
from viz.report import drive_key

# Digits that are written: far below what can be measured, far above what the solver leaves.
DIGITS = 10
# A part of the travel: its name, its poses, their curves.
Part = tuple[str, Poses, Sequence[Curve]]


def write_curves(
    output: Path, scene: str, parts: Sequence[Part], only: Sequence[str] | None, wheelbase: float | None
) -> None:
    """Write parts of a travel as .csv or .json, all curves or those of some names.

    Raises:
        CallError: if the file cannot be written.

    """
    chosen = [(name, poses, named_like(curves, only) if only else curves) for name, poses, curves in parts]
    with whole_file(output) as temporary:
        if output.suffix.lower() == ".json":
            record = _as_json(scene, chosen, wheelbase)
            temporary.write_text(json.dumps(record, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
        else:
            _write_csv(temporary, chosen)


def _write_csv(path: Path, parts: Sequence[Part]) -> None:
    """Parts under each other, one row a pose; empty where there is no value."""
    keys = list(dict.fromkeys(key for part in parts for key in _columns(part)))
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(["cycle", *keys])
        for part in parts:
            columns = _columns(part)
            for number in range(len(part[1])):
                row = [_cell(columns[key][number]) if key in columns else "" for key in keys]
                table.writerow([part[0], *row])


def _as_json(scene: str, parts: Sequence[Part], wheelbase: float | None) -> dict[str, Any]:
    """Parts with what each curve is; null where there is no value."""
    return {
        "format": "fulltravel curves 1",
        "scene": scene,
        "title": parts[0][1].mechanism.title,
        "wheelbase_mm": wheelbase,
        "runs": [_run_json(*part) for part in parts],
        "cautions": list(CAUTIONS),
    }


def _run_json(name: str, poses: Poses, curves: Sequence[Curve]) -> dict[str, Any]:
    return {
        "cycle": name,
        "drives": {key: _plain(values) for key, values in _drives(poses).items()},
        "curves": [
            {
                "key": key_of(each),
                "what": each.what,
                "where": each.where,
                "unit": FILE_UNITS[each.quantity][0],
                "definition": each.definition,
                "values": _plain(_scaled(each)),
            }
            for each in curves
        ],
    }


def _columns(part: Part) -> dict[str, Array]:
    _, poses, curves = part
    return _drives(poses) | {key_of(each): _scaled(each) for each in curves}


def _drives(poses: Poses) -> dict[str, Array]:
    return {
        drive_key(drive): poses.travel.values[:, column] * (100.0 if drive.name == "steer" else 1.0)
        for column, drive in enumerate(poses.mechanism.drives)
    }


def _scaled(curve: Curve) -> Array:
    return curve.values * FILE_UNITS[curve.quantity][1]


def _plain(values: Array) -> list[float | None]:
    return [None if np.isnan(value) else float(f"{value:.{DIGITS}g}") + 0.0 for value in values]


def _cell(value: float) -> str:
    return "" if np.isnan(value) else f"{value + 0.0:.{DIGITS}g}"
