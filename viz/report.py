"""Findings as a table for a terminal and as JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from rich.console import Group
from rich.table import Table
from rich.text import Text

from model.findings import pose_text
from model.holding import Freedom
from model.measures import Quantity
from model.mechanism import Drive, Mechanism
from model.review import Review
from model.units import Length
from model.verdicts import Finding, State, Verdict
from viz.cautions import CAUTIONS
from viz.reviewjson import plain, review_json
from viz.sections import sections
from viz.tables import MOMENTS, Section
from viz.traveltext import text_bars
from viz.travelwords import telling
from viz.words import (
    ADVISED,
    BOTH,
    apart_text,
    both_names,
    both_of,
    keeps_clear,
    limit_text,
    margin_text,
    used_text,
    what_text,
)

# Terminal colours are the sixteen that every terminal lets its owner choose; the word says it without them.
_TERMINAL_STYLE = {
    State.LOCKED: "bold magenta",
    State.OVER: "bold red",
    State.CLOSE: "yellow",
    State.CLEAR: "green",
    State.UNJUDGED: "dim",
}

# Less than this share of lock is straight ahead in words.
STRAIGHT = 5e-4
SIDES = ("left", "right")

VERDICT_TEXT = {
    State.LOCKED: "LOCKS inside the travel",
    State.OVER: "OVER a limit",
    State.CLOSE: "clear, but CLOSE to a limit",
    State.CLEAR: "CLEAR",
}


def verdict_line(verdict: Verdict) -> str:
    """How it stands, in a few words."""
    counts = {
        word: sum(finding.state is state for finding in verdict.findings)
        for word, state in (("locked", State.LOCKED), ("over", State.OVER), ("close", State.CLOSE))
    }
    if all(finding.state is State.UNJUDGED for finding in verdict.findings):
        return "nothing here has a limit to be judged by"
    told = ", ".join(f"{count} {word}" for word, count in counts.items() if count)
    return VERDICT_TEXT[verdict.state] + (f" ({told} of {len(verdict.findings)})" if told else "")


def table(review: Review, length: Length, *, narrow: bool = False) -> Group:
    """Everything `check` prints: the verdict, the findings worst first, what the marks mean, the cautions.

    `narrow` says poses in few letters, for a terminal of some 80 columns.
    """
    mechanism, verdict = review.mechanism, review.verdict
    names = [drive.name for drive in mechanism.drives]
    pose = short_pose_text if narrow else pose_text
    head = Text.assemble(
        (mechanism.title, "bold"), ": ", (verdict_line(verdict), _TERMINAL_STYLE[verdict.state]),
        f". {_held_text(review)}{tried_text(mechanism, verdict, length)}{_outside_text(review)}",
    )  # fmt: skip
    lines = _lines([finding for finding in verdict.findings if not keeps_clear(finding)], names, length)
    rows = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 1 if narrow else 2, 0, 0))
    rows.add_column("", no_wrap=True)
    if narrow:  # what and where share a column that is never squeezed out
        rows.add_column("what, where", min_width=NARROW_PLACE)
    else:
        rows.add_column("what", no_wrap=True)
        rows.add_column("where")
    for name in ("used", "limit", "margin"):
        rows.add_column(name, justify="right", no_wrap=not narrow)
    rows.add_column("worst pose")
    for where, finding in lines:
        place = [f"{what_text(finding)}: {where}"] if narrow else [what_text(finding), where]
        rows.add_row(
            Text(finding.state.value, _TERMINAL_STYLE[finding.state]),
            *(Text(text) for text in place),
            used_text(finding, length),
            _short_limit(finding, length) if narrow else limit_text(finding, length),
            margin_text(finding, length),
            Text(f"{pose(names, finding.drives, length)}{MISSED * finding.missed}{AT_RIDE * finding.over_at_ride}"),
        )
    legend = f"worst pose: L left wheel, R right wheel, + up from ride height, in {length}."
    both = any(where.startswith(BOTH) for where, _ in lines)
    notes = [*([Text(legend)] if narrow else []), *([Text(BOTH_NOTE)] if both else []), *_notes(verdict)]
    told = sections(review, length)
    if any("·" in text for section in told for table in section.tables for row in table.rows for text in row):
        notes.insert(0, Text(MOMENTS))
    if review.clearances is None:
        notes.insert(
            0, Text("Gaps between parts were left out: without --quick they are measured, and what touches is found.")
        )
    notes[:0] = [
        Text(
            f"[gap] between {' and '.join(gap.between)} cannot be measured: they are one member, or their joint leaves "
            "nothing to measure."
        )
        for gap in review.unmeasured
    ]
    travel = text_bars(telling(review.reaches), length)
    more = [part for section in told for part in section_parts(section)]
    bars = [Text("How much travel there is", "bold"), Text(travel), Text()] if travel else []
    apart = apart_text(verdict.findings, length)
    rest = [Text(apart), Text()] if apart else []
    return Group(head, Text(), rows, Text(), *rest, *bars, *more, *notes)


def _short_limit(finding: Finding, length: Length) -> str:
    return limit_text(finding, length).replace("at least ", "≥ ").replace("advised ", "")


def _outside_text(review: Review) -> str:
    """How many of the poses no real car reaches."""
    if not review.outside:
        return ""
    return f" {review.outside:,} of them lie beyond a hard stop and are not judged; --beyond judges them too."


def _held_text(review: Review) -> str:
    """What there is to say up front of parts that are held more often than needed."""
    return "".join(f"Held twice over, it {_HELD[fight.verdict]}. " for fight in review.fights)


def _lines(findings: Sequence[Finding], names: Sequence[str], length: Length) -> list[tuple[str, Finding]]:
    """Findings with their places; a left one and a right one that say the same in mirrored poses are one line."""
    at = {(finding.where, finding.what): finding for finding in findings}
    lines: list[tuple[str, Finding]] = []
    told: set[tuple[str, str]] = set()
    for finding in findings:
        if (finding.where, finding.what) in told:
            continue
        left, right = (at.get((name, finding.what)) for name in both_names(finding.where) or ("", ""))
        if left is not None and right is not None and _alike(left, right, names, length):
            told |= {(left.where, left.what), (right.where, right.what)}
            lines.append((both_of(left.where), left))
        else:
            lines.append((finding.where, finding))
    return lines


def _alike(left: Finding, right: Finding, names: Sequence[str], length: Length) -> bool:
    """Whether two findings print the same, in poses that are each other's mirror image."""
    texts = [
        (finding.state, used_text(finding, length), limit_text(finding, length), finding.missed, finding.over_at_ride)
        for finding in (left, right)
    ]
    swapped = {"left": "right", "right": "left"}
    mirror = dict(zip(names, right.drives, strict=True))
    seen = [mirror[swapped[name]] if name in swapped and swapped[name] in mirror else -mirror[name] for name in names]
    return texts[0] == texts[1] and all(abs(a - b) < SAME_DRIVE for a, b in zip(left.drives, seen, strict=True))


def section_parts(section: Section) -> list[Text | Table]:
    """A section's heading and tables."""
    parts: list[Text | Table] = [Text(section.title, "bold")]
    for text in section.tables:
        parts.append(Text(f"{text.caption}:"))
        rows = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
        for head in text.heads:
            rows.add_column(head)
        for row in text.rows:
            rows.add_row(*(Text(cell) for cell in row))
        parts += [rows, *([Text(text.note, "dim")] if text.note else []), Text()]
    return parts


# What is said of the pose where a left part and a right one are in one line.
BOTH_NOTE = "left and right: the pose is the left one's; the right one's is its mirror image."
# Drive values nearer than this, in mm or shares of lock, print the same.
SAME_DRIVE = 1e-6
# Marks what is past its limit while the vehicle just stands.
AT_RIDE = " ‡"
# Characters for what and where on a narrow terminal.
NARROW_PLACE = 24
_HELD = {
    Freedom.FREE: "moves freely",
    Freedom.AGAINST: "moves against its bushes",
    Freedom.LOCKED: "is locked",
}
# Marks a worst pose that cycling both wheels together, straight ahead, would not have shown.
MISSED = " †"


def short_pose_text(names: Sequence[str], drives: Sequence[float], length: Length) -> str:
    """A pose in few letters: "L +70, R -60, full left"."""
    values = dict(zip(names, drives, strict=True))
    digits = 0 if length is Length.MM else 2
    heights = {side: round(values[side] / length.mm, digits) for side in SIDES if side in values}
    wheels = [
        f"{side[0].upper()} {height:+.{digits}f}" if height else f"{side[0].upper()} 0"
        for side, height in heights.items()
    ]
    steer = values.get("steer", 0.0)
    way = f", {100 * abs(steer):.0f} % {'left' if steer > 0 else 'right'}".replace("100 %", "full")
    return f"{', '.join(wheels)}{way if abs(steer) > STRAIGHT else ''}"


def _notes(verdict: Verdict) -> list[Text]:
    notes = []
    if any(finding.typical for finding in verdict.findings):
        notes.append(
            Text(
                "* typical, not the part maker's; if it is a joint's limit, put the maker's in its [joint.NAME] table."
            )
        )
    if any(finding.missed for finding in verdict.findings):
        notes.append(Text("† cycling both wheels together, straight ahead, would not have shown this."))
    if any(finding.over_at_ride for finding in verdict.findings):
        notes.append(Text("‡ past its limit at ride height already: turn its bolt or bracket, or move a point."))
    if any(finding.advice for finding in verdict.findings):
        notes.append(Text(ADVISED))
    if any(finding.state is State.UNJUDGED for finding in verdict.findings):
        notes.append(Text("no limit: the scene gives none and there is no typical one; ask the part maker."))
    if any(finding.state is State.LOCKED for finding in verdict.findings):
        notes.append(
            Text(
                "locked: used is the travel asked for, of wheels or steering, limit the last that the linkage reaches."
            )
        )
    notes += [Text(caution, "dim") for caution in CAUTIONS]
    return notes


def tried_text(mechanism: Mechanism, verdict: Verdict, length: Length) -> str:
    """What was tried, and how much of it the linkage could not reach."""
    tried = f"Tried {verdict.poses:,} pose{'s' * (verdict.poses != 1)}: {travel_text(mechanism, length)}"
    return f"{tried}; {verdict.locked_poses:,} of them lock." if verdict.locked_poses else f"{tried}."


def travel_text(mechanism: Mechanism, length: Length) -> str:
    """The travel that was cycled, in words."""
    words = []
    wheel = next((drive for drive in mechanism.drives if drive.name != "steer"), None)
    if wheel is not None:
        words.append(f"{length.text(wheel.high)} bump, {length.text(-wheel.low)} droop")
        if sum(drive.name != "steer" for drive in mechanism.drives) > 1:
            words.append("each wheel by itself")
    if mechanism.steer is not None:
        words.append("lock to lock")
    return ", ".join(words)


def as_json(scene: str, review: Review) -> dict[str, Any]:
    """The keys of `check --json`; docs/outputs.md documents them. Lengths in mm and angles in degrees, always."""
    mechanism, verdict = review.mechanism, review.verdict
    return {
        "format": "fulltravel check 1",
        "scene": scene,
        "title": mechanism.title,
        "verdict": verdict.state.value,
        "poses": verdict.poses,
        "locked_poses": verdict.locked_poses,
        "poses_beyond_hard_stops": review.outside,
        "gaps_measured": review.clearances is not None,
        "travel": {drive_key(drive, end): _drive_value(drive, value)
                   for drive in mechanism.drives for end, value in (("low", drive.low), ("high", drive.high))},
        "findings": [finding_json(mechanism, finding) for finding in verdict.findings],
        **review_json(review),
        "cautions": list(CAUTIONS),
    }  # fmt: skip


def drive_key(drive: Drive, suffix: str = "") -> str:
    """The key of a drive's value, unit included, such as `left_mm` or `steer_low_percent`."""
    middle = f"_{suffix}" if suffix else ""
    return f"{drive.name}{middle}_{'percent' if drive.name == 'steer' else 'mm'}"


def _drive_value(drive: Drive, value: float) -> float:
    return plain(100.0 * value if drive.name == "steer" else value)


# What turns an amount into the unit that its key names.
_UNIT = {
    Quantity.ANGLE: (180.0 / math.pi, "deg"),
    Quantity.LENGTH: (1.0, "mm"),
    Quantity.ACCELERATION: (1.0, "rad_per_s2"),
}


def finding_json(mechanism: Mechanism, finding: Finding) -> dict[str, Any]:
    """The keys of one finding."""
    scale, unit = _UNIT[finding.quantity]
    amounts = {
        "used": finding.used,
        "limit": finding.limit,
        "margin": finding.margin,
        "ride": finding.ride,
        "lowest": finding.lowest,
        "highest": finding.highest,
    }
    names = [drive.name for drive in mechanism.drives]
    return {
        "state": finding.state.value,
        "what": finding.what,
        "where": finding.where,
        "part": finding.part,
        **{f"{key}_{unit}": None if value is None else plain(value * scale) for key, value in amounts.items()},
        "limit_is_least": finding.at_least,
        "limit_is_typical": finding.typical,
        "limit_source": finding.source or None,
        "pose": {
            "number": finding.pose,
            "words": pose_text(names, finding.drives, Length.MM),
            **{drive_key(drive): _drive_value(drive, value)
               for drive, value in zip(mechanism.drives, finding.drives, strict=True)},
        },
        "missed_by_both_together": finding.missed,
        "at_mm": [plain(value) for value in finding.at],
    }  # fmt: skip
