"""Curves as tables on the screen: at both ends of each run and at ride height."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from rich.console import Group
from rich.table import Table
from rich.text import Text

from model.curvenames import Curve
from model.curveruns import CurveRun
from model.cycles import Cycle
from model.measures import at_ride
from model.poses import Poses
from model.spatial import Array
from model.units import Length
from viz.curvetext import named_like, slope_head, slope_text, value_text, wanted
from viz.report import section_parts
from viz.tables import Section, TextTable
from viz.words import NOTHING, both_names, both_of

# What the two ends of each run are, and what ride height is called in it.
ENDS = {
    Cycle.BOTH: ("full droop", "ride height", "full bump"),
    Cycle.CROSS: ("left down, right up", "ride height", "left up, right down"),
    Cycle.LEFT: ("left down", "ride height", "left up"),
    Cycle.RIGHT: ("right down", "ride height", "right up"),
    Cycle.STEER: ("full right", "straight ahead", "full left"),
}
TITLE = {
    Cycle.BOTH: "Both wheels together",
    Cycle.CROSS: "Crossed up, as the body rolls",
    Cycle.LEFT: "Left wheel alone",
    Cycle.RIGHT: "Right wheel alone",
    Cycle.STEER: "Lock to lock, at ride height",
}
NOTE = (
    "Rigid parts and joints without play: the tyre's squash and the give of bushes and frame come on top. A file "
    "(-o curves.json) says in one line what each of these is."
)


def curve_tables(title: str, runs: Sequence[CurveRun], only: Sequence[str] | None, units: Length) -> Group:
    """Each run as a table."""
    told: list[Text | Table] = [Text(title, "bold"), Text()]
    for run in runs:
        table = _run_table(run, only, units)
        if table.rows:
            told += section_parts(Section("", (table,)))[1:]
    return Group(*told, Text(NOTE, "dim"))


def grid_tables(poses: Poses, curves: Sequence[Curve], only: Sequence[str] | None, units: Length) -> Group:
    """What every curve is at ride height, and the least and the most of it over all poses of a grid."""
    chosen, (ride,) = named_like(curves, only) if only else curves, np.flatnonzero(at_ride(poses.travel.values))
    rows = [
        (
            each.where,
            each.what,
            *(value_text(each, value, units) for value in _ends(each.values, int(ride))),
        )
        for each in chosen
    ]
    heads = ("where", "what", "least", "ride height", "most")
    table = TextTable("Over every pose of the travel", heads, _merged(rows, mirrored=False))
    title = Text(poses.mechanism.title, "bold")
    return Group(title, Text(), *section_parts(Section("", (table,)))[1:], Text(NOTE, "dim"))


def _ends(values: Array, ride: int) -> tuple[float, float, float]:
    """The least, that at ride height and the most of values (N,), NaN where there are none."""
    known = values[np.isfinite(values)] if np.isfinite(values).any() else np.array([np.nan])
    return float(known.min()), float(values[ride]), float(known.max())


def _run_table(run: CurveRun, only: Sequence[str] | None, units: Length) -> TextTable:
    sloped = run.cycle is not Cycle.STEER
    heads = ("where", "what", *ENDS[run.cycle], *([slope_head(units)] if sloped else []))
    rows = []
    for each in wanted(run.curves, run.cycle, only):
        texts = [value_text(each, float(each.values[number]), units) for number in (0, run.ride, -1)]
        slope = [slope_text(each, run.slope(each), units)] if sloped else []
        if any(text != NOTHING for text in texts):
            rows.append((each.where, each.what, *texts, *slope))
    return TextTable(TITLE[run.cycle], heads, _merged(rows, mirrored=True))


def _merged(rows: Sequence[tuple[str, ...]], *, mirrored: bool) -> tuple[tuple[str, ...], ...]:
    """Rows of the left and the right that say the same as one; `mirrored`: also of a right one that runs backwards."""
    told: list[tuple[str, ...]] = []
    known = {row[:2]: row for row in rows}
    for row in rows:
        names = both_names(row[0])
        left, right = (known.get((name, row[1])) for name in names or ("", ""))
        if left is None or right is None:
            told.append(row)
        elif left[1:] == right[1:]:
            told += [(both_of(row[0]), *row[1:])] if row is left else []
        elif mirrored and left[2:5] == right[4:1:-1]:
            told += [(f"{row[0]} (right: mirrored)", *row[1:])] if row is left else []
        else:
            told.append(row)
    return tuple(told)
