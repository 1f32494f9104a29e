"""Forces in load cases as JSON; docs/outputs.md documents the keys. mm, N, N·m, degrees, always."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from model.forces import CaseLoads, CoiloverLoad, MountLoad, Residual
from model.spatial import Array
from viz.cautions import CAUTIONS
from viz.loadwords import FOR_COMPARISON, SPRING_CAUTION, notes_on
from viz.reviewjson import plain

FORMAT = "fulltravel loads 1"


def loads_json(loads: Sequence[CaseLoads], scene: str, left_out: Sequence[str] = ()) -> dict[str, Any]:
    """Everything of some cases of one scene; `left_out` are typical ones that the linkage does not reach."""
    mechanism = loads[0].poses.mechanism
    weights = mechanism.weights
    if weights is None:
        raise AssertionError("loads come from weights")
    return {
        "format": FORMAT,
        "scene": scene,
        "title": mechanism.title,
        "weights": {
            **{f"{wheel.side}_n": plain(weights.under(wheel.side)) for wheel in mechanism.wheels},
            "unsprung_n": plain(weights.unsprung),
        },
        "cases": [_case(each) for each in loads],
        "left_out": list(left_out),
        "notes": notes_on(loads),
        "cautions": [FOR_COMPARISON, SPRING_CAUTION, *CAUTIONS],
    }


def _case(loads: CaseLoads) -> dict[str, Any]:
    case, heights = loads.case, dict(zip(loads.poses.travel.names, loads.poses.stands_at(0), strict=True))
    return {
        "name": case.name,
        "typical": case.typical,
        "vertical": list(case.vertical),
        "brake": case.brake,
        "drive": case.drive,
        "side": case.side,
        **{f"{side}_mm": plain(heights[side]) for side in ("left", "right") if side in heights},
        "ground": [
            {"wheel": each.wheel, "at_mm": _three(each.at), "force_n": _three(each.force)} for each in loads.ground
        ],
        "coilovers": [_coilover(each) for each in loads.coilovers],
        "links": [
            {"part": each.name, "axial_n": plain(each.axial), "bent_nm": plain(each.bending / 1000.0)}
            for each in loads.links
        ],
        "mounts": [mount_json(each) for each in loads.mounts],
        "bars": [
            {
                "part": bar.name,
                "twist_deg": plain(math.degrees(bar.twist)),
                "moment_nm": plain(bar.moment / 1000.0) if bar.known else None,
            }
            for bar in loads.bars
        ],
        "steering": _steering(loads),
        "left_over": {"part": _residual(loads.residual), "whole": _residual(loads.left_over)},
    }


def _coilover(coilover: CoiloverLoad) -> dict[str, Any]:
    given = coilover.given
    return {
        "part": coilover.name,
        "length_mm": plain(coilover.length),
        "needed_n": plain(coilover.needed),
        "spring_gives_n": None if given is None else plain(given),
        "difference_n": None if given is None else plain(coilover.needed - given),
    }


def mount_json(mount: MountLoad) -> dict[str, Any]:
    """What a member does to what it is bolted to."""
    lever = mount.lever
    return {
        "part": mount.member,
        "place": mount.place,
        "on": mount.on,
        "at_mm": _three(mount.at),
        "force_n": _three(mount.force),
        "moment_nm": _three(mount.moment, 1000.0),
        "lever": None
        if lever is None
        else {
            "frame_path": lever.path,
            "nearest_mm": _three(lever.nearest),
            "arm_mm": plain(lever.arm),
            "moment_nm": _three(lever.moment, 1000.0),
        },
    }


def _steering(loads: CaseLoads) -> dict[str, Any] | None:
    steering = loads.steering
    if steering is None:
        return None
    key, scale = ("moment_nm", 1000.0) if steering.turns else ("force_n", 1.0)
    return {"part": steering.part, key: plain(steering.force / scale)}


def _residual(rest: Residual) -> dict[str, Any]:
    """With all digits: a balance that is right to 1e-9 N is not the same as one that is right to a thousandth."""
    return {"name": rest.part, "force_n": rest.force, "moment_nm": rest.moment / 1000.0}


def _three(vector: Array, unit: float = 1.0) -> list[float]:
    return [plain(float(x) / unit) for x in vector]
