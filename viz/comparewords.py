"""A comparison in words: what moved and what that changes, as rows of a table."""

from __future__ import annotations

from collections.abc import Sequence

from model.bumpstops import TOO_LATE
from model.comparison import Better, Change, Comparison, Moved, marked_points
from model.measures import GAP
from model.reaches import Reach
from model.units import Length
from model.verdicts import Finding, State
from viz import style
from viz.tables import TextTable, both_sides
from viz.travelwords import amount_text, way_words
from viz.words import NOTHING, against_text, what_text

# The two by letter, in the order in which they were given.
FIRST, SECOND = "A", "B"
BETTER_WORD = {Better.FIRST: FIRST, Better.SECOND: SECOND, Better.NEITHER: NOTHING}
NOT_THERE = "not there"
BAD = (State.LOCKED, State.OVER)
CHANGES = ("what", FIRST, SECOND, "better")
# Components of a move below this, in mm, are not told.
LEAST_MOVE = 0.05
TYPICAL_NOTE = "* typical limit, not the part maker's."
LONE_NOTE = "Not there: only one of the two has it."


def moved_table(compared: Comparison, units: Length) -> TextTable:
    """Which points are elsewhere in the second, and how far which way."""
    return TextTable(
        "Points that moved from A to B", ("point", "on", "by", "which way"), _moved_rows(compared.moved, units)
    )


def _moved_rows(moved: Sequence[Moved], units: Length) -> tuple[tuple[str, ...], ...]:
    rows = [(each.name, _holder_text(each), units.text(each.distance), move_text(each, units)) for each in moved]
    return both_sides(rows)


def changes_table(compared: Comparison, units: Length) -> TextTable:
    """What is not the same in both, most telling first."""
    rows = [change_row(change, units) for change in compared.changes]
    told = both_sides([row for row in rows if row[1] != row[2]])
    cells = [cell for row in told for cell in row]
    notes = (
        ("*" in "".join(cells), TYPICAL_NOTE),
        (any(cell == NOT_THERE for cell in cells), LONE_NOTE),
    )
    return TextTable("What that changes", CHANGES, told, " ".join(note for shown, note in notes if shown))


def over_lines(compared: Comparison) -> tuple[str, ...]:
    """What is over a limit in only one of the two, a line for each that has something."""
    lines = []
    verdicts = compared.first.verdict, compared.second.verdict
    ones, others = ({_bad_name(one): one for one in verdict.findings if one.state in BAD} for verdict in verdicts)
    for letter, mine, theirs in ((FIRST, ones, others), (SECOND, others, ones)):
        rows = [(f"{one.where} ({what_text(one)})", "") for name, one in mine.items() if name not in theirs]
        if rows:
            lines.append(f"Over in {letter} only: {', '.join(row[0] for row in both_sides(rows))}.")
    return tuple(lines)


def _bad_name(finding: Finding) -> tuple[str, str]:
    return finding.what, finding.measured_at or finding.where


def change_row(change: Change, units: Length) -> tuple[str, str, str, str]:
    """One change: what it is of, how it is in either, and the letter of the better one."""
    known = change.first if change.first is not None else change.second
    match known:
        case Finding():
            name = f"{known.where}: {what_text(known)}"
        case Reach():
            name = f"usable travel: {way_words(known)}"
        case None:
            raise ValueError("a change is of something")
    absent = _absent(known) if isinstance(known, Finding) else NOT_THERE
    first, second = (absent if each is None else _cell(each, units) for each in (change.first, change.second))
    return name, first, second, BETTER_WORD[change.better]


def _absent(known: Finding) -> str:
    """What is said of the one that has nothing like a finding of the other."""
    if known.what == GAP:
        return "far apart"
    if known.what == TOO_LATE:
        return "in time"
    return "does not lock" if known.state is State.LOCKED else NOT_THERE


def _cell(thing: Finding | Reach, units: Length) -> str:
    match thing:
        case Finding(state=State.LOCKED):
            return "locks"
        case Finding():
            star = "*" if thing.typical else ""
            return f"{against_text(thing, units)}{star}, {style.STATES[thing.state].word}"
        case Reach():
            return f"{amount_text(thing, thing.usable, units)} of {amount_text(thing, thing.asked, units)}"


def moved_text(compared: Comparison, units: Length) -> str:
    """What moved in a line: of a single point which way, of several how far each."""
    rows = _moved_rows(marked_points(compared), units)
    if len(rows) == 1:
        ((point, on, _, which),) = rows
        return f"{point} on {on}: {which}"
    return "; ".join(f"{point} on {on} by {by}" for point, on, by, _ in rows) or "no point of the same name"


def _holder_text(moved: Moved) -> str:
    return moved.on if moved.on == moved.now_on else f"{bare(moved.now_on)} instead of {bare(moved.on)}"


def bare(name: str) -> str:
    """A part's name without its side."""
    return name.removeprefix("left ").removeprefix("right ")


def move_text(moved: Moved, units: Length) -> str:
    """Which way a point moved: "12.0 mm forward, 30.0 mm in, 5.0 mm up"; in and out are towards and from the middle."""
    ahead, left, up = (moved.second - moved.first).tolist()
    out = left if moved.first[1] + moved.second[1] > 0.0 else -left
    words = ((ahead, "forward", "back"), (out, "out", "in"), (up, "up", "down"))
    told = [(size, more if size > 0.0 else less) for size, more, less in words if abs(size) > LEAST_MOVE]
    return ", ".join(f"{units.text(abs(size))} {way}" for size, way in told)
