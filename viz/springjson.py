"""What `spring` found, as JSON: mm, N, N/mm, Hz, J."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from model.springpick import Fit, free_lengths
from viz.springtables import notes


def spring_json(scene: str, title: str, needed: Sequence[Fit], had: Sequence[Sequence[Fit]]) -> dict[str, Any]:
    """The spring that does what is wanted at each wheel, and what springs of a list do there, the nearest first."""
    return {
        "format": "fulltravel spring 1",
        "scene": scene,
        "title": title,
        "needed": [_fit(found) for found in needed],
        "list": [_fit(found) for fits in had for found in fits],
        "notes": notes(needed),
    }


def _fit(found: Fit) -> dict[str, Any]:
    corner, lengths = found.corner, free_lengths(found)
    return {
        "coilover": corner.coilover.name,
        "spring": found.name,
        "sprung_n": _rounded(corner.sprung),
        "weights_given": corner.given,
        "ride_height_mm": _rounded(-found.height),
        "rate_n_per_mm": _rounded(found.rate),
        "wheel_rate_n_per_mm": _rounded(found.wheel_rate),
        "ride_frequency_hz": _rounded(found.frequency),
        "force_at_ride_n": _rounded(found.force),
        "squeezed_at_ride_mm": _rounded(found.squeezed),
        "preload_mm": _rounded(found.preload),
        "eye_to_eye_mm": _rounded(found.length),
        "stroke_left_up": _rounded(found.bump_left),
        "stroke_left_down": _rounded(found.droop_left),
        "seat_moves_mm": _rounded(found.perch),
        "installed_length_mm": _rounded(found.installed),
        "fits_free_length_mm": None if lengths is None else [_rounded(each) for each in lengths],
        "spare_at_full_bump_mm": _rounded(found.spare),
        "spare_fully_in_mm": _rounded(found.spare_in),
        "travel": [
            {
                "at": each.place,
                "motion_ratio": _rounded(each.ratio),
                "force_n": _rounded(each.force),
                "energy_j": _rounded(each.energy),
            }
            for each in found.moments
        ],
        "fits": found.fits,
        "troubles": [{"what": str(trouble), "by_mm": _rounded(mm)} for trouble, mm in found.troubles],
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4) + 0.0
