"""A comparison as JSON; docs/outputs.md documents the keys. mm, N, N·m, N/mm, Hz and degrees, always."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from model.comparison import Change, Comparison, Moved
from model.forces import MountLoad
from model.mechanism import Mechanism
from model.motionratio import MotionRatio
from model.mounting import Mounting, same_rate
from model.reaches import Reach
from model.review import Review
from model.spatial import Array
from model.units import Length
from model.verdicts import Finding
from viz.cautions import CAUTIONS
from viz.comparereport import summary_lines
from viz.loadsjson import mount_json
from viz.loadwords import FOR_COMPARISON, SPRING_CAUTION
from viz.report import finding_json
from viz.reviewjson import plain, reach_json

FORMAT = "fulltravel compare 1"


def comparison_json(compared: Comparison, names: Sequence[tuple[str, str | None]]) -> dict[str, Any]:
    """Everything that two suspensions differ by; `names` are the file of each and its variant, if it has one."""
    first, second = compared.first, compared.second
    return {
        "format": FORMAT,
        "first": _side(first, *names[0]),
        "second": _side(second, *names[1]),
        "answer": list(summary_lines(compared, Length.MM)),
        "moved": [_moved(each) for each in compared.moved],
        "motion_ratios": [
            {"coilover": one.coilover, "run": str(one.run), "first": _ratio(one), "second": _ratio(other)}
            for one, other in compared.ratios
        ],
        "coilovers": [_coilover(*pair) for pair in compared.mountings],
        "ride_frequency_hz": dict(zip(("first", "second"), map(_rounded, compared.frequencies), strict=True)),
        "frame_mounts": [*_mounts(compared, "rest"), *_mounts(compared, "bump")],
        "frame_mounts_unknown": next((loads.why for loads in compared.loads if loads.why), None),
        "changes": [_change(change, first.mechanism, second.mechanism) for change in compared.changes],
        "cautions": [FOR_COMPARISON, SPRING_CAUTION, *CAUTIONS],
    }


def _side(review: Review, scene: str, variant: str | None) -> dict[str, Any]:
    return {
        "scene": scene,
        "variant": variant,
        "title": review.mechanism.title,
        "verdict": review.verdict.state.value,
    }


def _moved(moved: Moved) -> dict[str, Any]:
    return {
        "point": moved.name,
        "on": {"first": moved.on, "second": moved.now_on},
        "at_mm": {"first": _three(moved.first), "second": _three(moved.second)},
        "by_mm": plain(moved.distance),
        "is_joint": moved.joint,
    }


def _ratio(ratio: MotionRatio) -> dict[str, Any]:
    return {
        "ride": round(ratio.ride, 6),
        "droop": round(ratio.droop, 6),
        "bump": round(ratio.bump, 6),
        "lowest": round(ratio.lowest, 6),
        "highest": round(ratio.highest, 6),
    }


def _coilover(first: Mounting, second: Mounting) -> dict[str, Any]:
    return {
        "coilover": first.coilover,
        "first": _mounting(first),
        "second": _mounting(second),
        "spring_for_same_wheel_rate_n_per_mm": _rounded(same_rate(first, second)),
    }


def _mounting(each: Mounting) -> dict[str, Any]:
    return {
        "motion_ratio": round(each.ratio, 6),
        "motion_ratio_change_per_mm": round(each.change, 9),
        "spring_rate_n_per_mm": _rounded(each.rate),
        "spring_force_n": _rounded(each.force),
        "wheel_rate_n_per_mm": _rounded(each.wheel_rate),
        "stroke_mm": plain(each.stroke),
        "stroke_left_in_mm": plain(each.room_in),
        "stroke_left_out_mm": plain(each.room_out),
    }


def _mounts(compared: Comparison, case: str) -> list[dict[str, Any]]:
    """What pushes the frame in both, in one of the cases."""
    one, other = (getattr(loads, case) for loads in compared.loads)
    return [
        {
            "case": {"rest": "at rest", "bump": "full bump, 3 times the weight at rest (typical)"}[case],
            "part": place[0],
            "place": place[1],
            "first": _mount(one.get(place)),
            "second": _mount(other.get(place)),
        }
        for place in dict.fromkeys([*one, *other])
    ]


def _mount(load: MountLoad | None) -> dict[str, Any] | None:
    if load is None:
        return None
    return {key: value for key, value in mount_json(load).items() if key not in ("part", "place", "on")}


def _change(change: Change, first: Mechanism, second: Mechanism) -> dict[str, Any]:
    known = change.first if change.first is not None else change.second
    named = {"what": known.what, "where": known.where} if isinstance(known, Finding) else {}
    return {
        "about": str(change.subject),
        **named,
        "first": _thing(change.first, first),
        "second": _thing(change.second, second),
        "better": str(change.better),
    }


def _thing(thing: Finding | Reach | None, mechanism: Mechanism) -> dict[str, Any] | None:
    match thing:
        case Finding():
            return finding_json(mechanism, thing)
        case Reach():
            return reach_json(thing)
    return None


def _rounded(value: float | None) -> float | None:
    return None if value is None else plain(value)


def _three(vector: Array) -> list[float]:
    return [plain(value) for value in vector.tolist()]
