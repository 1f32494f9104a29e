"""What stands in a page in words: the findings of a scene, and what two scenes differ by."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from model.comparison import Comparison
from model.findings import pose_text
from model.review import Review
from model.units import Length
from model.verdicts import Finding, State
from viz.comparereport import summary_lines
from viz.comparewords import FIRST, SECOND, changes_table, moved_table
from viz.files import path_text
from viz.mountwords import force_table, mount_table
from viz.pagedata import PageScene, told
from viz.style import STATES
from viz.tables import TextTable
from viz.words import apart_text, limit_text, used_text, what_text

_TOLD = (State.LOCKED, State.OVER, State.CLOSE)
# Rows of a comparison's table that stand open; shares of poses below which none is told to be left out.
OPEN_ROWS, TOLD_SHARE = 6, 0.0005


@dataclass(frozen=True)
class Sign:
    """A state's word with its sign."""

    name: str
    word: str
    shape: str


@dataclass(frozen=True)
class Row:
    """One finding, in words."""

    where: str
    what: str
    state: Sign
    used: str
    limit: str
    pose: str
    missed: bool


@dataclass(frozen=True)
class InUnits:
    """A text in a unit of length."""

    units: str
    text: str


@dataclass(frozen=True)
class Part:
    """One of a page's scenes, in words, with its bytes in base64."""

    letter: str
    file: str
    title: str
    counts: tuple[tuple[int, Sign], ...]
    rows: tuple[Row, ...]
    more: bool
    apart: tuple[InUnits, ...]
    typical: bool
    tried: str
    hidden: str
    bytes: str


@dataclass(frozen=True)
class Difference:
    """What two scenes differ by, in a unit of length: the answer in sentences, and tables.

    Rows past the first few are `rest`.
    """

    units: str
    tables: tuple[TextTable, ...]
    answer: tuple[str, ...] = ()
    open_rows: int = OPEN_ROWS


def parts(
    reviews: Sequence[Review], scenes: Sequence[PageScene], files: Sequence[Path], units: Length
) -> tuple[Part, ...]:
    """Every scene of a page, in words."""
    letters = (FIRST, SECOND) if len(reviews) > 1 else ("",)
    names = file_names(files) or [""] * len(reviews)
    return tuple(
        _part(review, scene, letter, name, units)
        for review, scene, letter, name in zip(reviews, scenes, letters, names, strict=True)
    )


def file_names(files: Sequence[Path]) -> list[str]:
    """The names of files without their folders, but for the last one where two would be the same."""
    names = [path_text(Path(file.name)) for file in files]
    if len(set(names)) == len(names):
        return names
    if len(set(files)) == 1:  # two variants of one: their titles tell them apart
        return []
    return [path_text(Path(file.resolve().parent.name, file.name)) for file in files]


def differences(compared: Comparison | None) -> tuple[Difference, ...]:
    """What moved and what that changes, in mm and in inch."""
    if compared is None:
        return ()
    return tuple(_difference(compared, units) for units in Length)


def _difference(compared: Comparison, units: Length) -> Difference:
    """What two scenes differ by: the answer first; tables of coilovers and forces where there is something in them."""
    special = (table for table in (mount_table(compared, units), force_table(compared, units)) if table.rows)
    tables = (moved_table(compared, units), *special, changes_table(compared, units))
    return Difference(units.value, tables, summary_lines(compared, units))


def sign(state: State) -> Sign:
    """A state's word and sign."""
    look = STATES[state]
    return Sign("none" if state is State.UNJUDGED else state.value, look.word, look.shape.value)


def _part(review: Review, scene: PageScene, letter: str, file: str, units: Length) -> Part:
    findings = told(review)
    counts = {state: sum(finding.state is state for finding in findings) for state in STATES}
    bad = sum(finding.state in _TOLD for finding in findings)
    return Part(
        letter=letter,
        file=file,
        title=review.mechanism.title,
        counts=tuple((count, sign(state)) for state, count in counts.items() if count),
        rows=tuple(_row(finding, review, units) for finding in findings),
        more=0 < bad < len(findings),
        apart=tuple(_apart(review)),
        typical=any(finding.typical for finding in findings),
        tried=scene.data["tried"],
        hidden=f"{100 * scene.fit.hidden:.1f} %" if scene.fit.hidden > TOLD_SHARE else "",
        bytes=scene.bytes,
    )


def _apart(review: Review) -> Iterator[InUnits]:
    for units in Length:
        text = apart_text(review.verdict.findings, units, more="")
        if text:
            yield InUnits(units.value, text)


def _row(finding: Finding, review: Review, units: Length) -> Row:
    names = [drive.name for drive in review.mechanism.drives]
    locked, same = finding.state is State.LOCKED, finding.lowest is not None and finding.lowest == finding.highest
    limit = "" if finding.limit is None or locked else limit_text(finding, units)
    plain = limit and not finding.at_least and not finding.advice
    return Row(
        where=finding.where,
        what=what_text(finding),
        state=sign(finding.state),
        used="" if locked else used_text(finding, units),
        limit=f"of {limit}" if plain else limit,
        pose="" if same else pose_text(names, finding.drives, units),
        missed=finding.missed,
    )
