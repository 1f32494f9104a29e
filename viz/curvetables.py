"""Curves as tables on the screen: at both ends of each run and at ride height."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from rich.console import Group
from rich.text import Text

from model import curvenames as named
from model.curvenames import Curve
from model.curveruns import CurveRun
from model.cycles import Cycle
from model.measures import at_ride
from model.mechanism import Mechanism
from model.poses import Poses, Status
from model.spatial import Array
from model.units import Length
from viz.cautions import CAUTIONS
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
    "Rigid parts and joints without play: the tyre's squash and the give of bushes and frame come on top. --explain "
    "says in one line what each of these is."
)
LOCKED_NOTE = "The linkage locks before it reaches some of these poses: a dash stands there, and nothing is counted."
BAR_NOTE = (
    "The anti-roll bar is taken as solid steel of typical stiffness (from memory of handbooks) and as thick as the "
    "scene says; where its maker gives a rate, write it into the scene."
)
SPRING_CAUTION = CAUTIONS[1]
# What is told of springs, with which goes the caution of what a spring can do.
SPRUNG = {kind.what for kind in (named.WHEEL_RATE, named.RIDE_FREQUENCY, named.ROLL_STIFFNESS)}


def curve_tables(
    runs: Sequence[CurveRun], only: Sequence[str] | None, units: Length, *, explain: bool, narrow: bool
) -> Group:
    """Each run as a table; a `narrow` screen has no room for slopes."""
    told: list[Section] = []
    shown: list[Curve] = []
    for run in runs:
        table = _run_table(run, only, units, sloped=not narrow and run.cycle is not Cycle.STEER)
        if table.rows:
            told.append(Section("", (table,)))
            shown += wanted(run.curves, run.cycle, only)
    locked = any((run.poses.status == Status.LOCKED).any() for run in runs)
    return _page(runs[0].poses.mechanism, told, shown, explain=explain, locked=locked)


def grid_tables(
    poses: Poses, curves: Sequence[Curve], only: Sequence[str] | None, units: Length, *, explain: bool
) -> Group:
    """What every curve is at ride height, and the least and the most of it over all poses of a grid."""
    chosen, (ride,) = named_like(curves, only) if only else curves, np.flatnonzero(at_ride(poses.travel.values))
    rows = [
        (each.where, each.what, *(value_text(each, value, units) for value in _ends(each.values, int(ride))))
        for each in chosen
    ]
    heads = ("where", "what", "least", "ride height", "most")
    table = TextTable("Over every pose of the travel", heads, _merged(rows, mirrored=False))
    locked = bool((poses.status == Status.LOCKED).any())
    return _page(poses.mechanism, [Section("", (table,))], chosen, explain=explain, locked=locked)


def _page(
    mechanism: Mechanism, sections: Sequence[Section], shown: Sequence[Curve], *, explain: bool, locked: bool
) -> Group:
    """A title, tables, what the curves in them are if that is asked for, and notes."""
    names = {each.what for each in shown}
    if explain:
        rows = tuple({each.what: (each.what, each.definition) for each in shown}.values())
        sections = [*sections, Section("", (TextTable("What these are", ("what", "meaning"), rows),))]
    taken = named.ROLL_STIFFNESS.what in names and any(bar.rate is None and bar.measured for bar in mechanism.bars)
    notes = [
        *([LOCKED_NOTE] if locked else []),
        NOTE,
        *([BAR_NOTE] if taken else []),
        *([SPRING_CAUTION] if names & SPRUNG else []),
    ]
    tables = [part for section in sections for part in section_parts(section)[1:]]
    tables = tables or [Text("None of these curves has a value over this cycle."), Text()]
    return Group(Text(mechanism.title, "bold"), Text(), *tables, *(Text(note, "dim") for note in notes))


def _ends(values: Array, ride: int) -> tuple[float, float, float]:
    """The least, that at ride height and the most of values (N,), NaN where there are none."""
    known = values[np.isfinite(values)] if np.isfinite(values).any() else np.array([np.nan])
    return float(known.min()), float(values[ride]), float(known.max())


def _run_table(run: CurveRun, only: Sequence[str] | None, units: Length, *, sloped: bool) -> TextTable:
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
            told += [(f"{row[0]}, right mirrored", *row[1:])] if row is left else []
        else:
            told.append(row)
    return tuple(told)
