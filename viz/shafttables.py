"""Driveshafts as small tables of words."""

from __future__ import annotations

from collections.abc import Callable

from model.drivelines import ShaftReport
from model.units import Length
from viz.tables import TextTable, angle_text
from viz.words import NOTHING


def shaft_tables(shaft: ShaftReport, units: Length) -> tuple[TextTable, ...]:
    """Its joints' angles, how evenly it turns, and what its travel takes from its length."""
    angles = TextTable(
        "Joint angles at ride height, and the largest over the travel",
        ("joint", "from the rear" if shaft.across else "from the side", "from above", "true", "largest over travel"),
        tuple(
            (place, *(angle_text(angle, signed=index < 2) for index, angle in enumerate(angles)))
            for place, *angles in zip(shaft.places, shaft.side, shaft.plan, shaft.true, shaft.largest, strict=True)
        ),
    )
    speed = "" if shaft.speed is None else f" at {shaft.speed:.0f} rpm"
    facts = [
        (
            "difference between ends",
            _pair(shaft.difference, shaft.most_difference, lambda angle: angle_text(abs(angle))),
        ),
        ("speed at the far end varies by", _pair(shaft.fluctuation, shaft.most_fluctuation, _percent)),
        (f"torsional acceleration{speed}", _pair(shaft.acceleration, shaft.most_acceleration, _acceleration)),
        ("as uneven as one joint of", _pair(shaft.equivalent, None, angle_text)),
        ("yokes turned against each other by", _pair(shaft.phase, None, lambda angle: angle_text(angle, signed=True))),
        ("runs most evenly with them turned by", _best_phase_text(shaft)),
        ("gets shorter by", (NOTHING, units.text(max(0.0, -shaft.shortest)))),
        ("gets longer by", (NOTHING, units.text(max(0.0, shaft.longest)))),
        ("spline in mesh, least", _pair(None, shaft.engaged, units.text)),
        ("room before it bottoms, least", _pair(None, shaft.room_in, units.text)),
        ("room before it comes out, least", _pair(None, shaft.room_out, units.text)),
    ]
    rows = tuple((name, *texts) for name, texts in facts if texts is not None)
    return angles, TextTable("Evenness and length", ("what", "at ride height", "most over the travel"), rows)


def _pair(ride: float | None, travel: float | None, text: Callable[[float], str]) -> tuple[str, str] | None:
    """A value at ride height and over the travel in words; nothing where there is neither."""
    if ride is None and travel is None:
        return None
    return (NOTHING if ride is None else text(ride), NOTHING if travel is None else text(travel))


def _percent(share: float) -> str:
    return f"{100.0 * share:.2f} %"


def _acceleration(value: float) -> str:
    return f"{value:.0f} rad/s²"


def _best_phase_text(shaft: ShaftReport) -> tuple[str, str] | None:
    if shaft.best_phase is None or shaft.best_fluctuation is None:
        return None
    return f"{angle_text(shaft.best_phase, signed=True)} (then {_percent(shaft.best_fluctuation)})", NOTHING
