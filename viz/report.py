"""Findings as a table for a terminal and as JSON."""

from __future__ import annotations

import math
from typing import Any

from rich.console import Group
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from model.findings import Finding, Quantity, State, Verdict, pose_text
from model.mechanism import Drive, Mechanism
from model.units import Length, degrees_text
from viz.cautions import CAUTIONS

# Terminal colours are the sixteen that every terminal lets its owner choose; the word says it without them.
_TERMINAL_STYLE = {
    State.LOCKED: "bold magenta",
    State.OVER: "bold red",
    State.CLOSE: "yellow",
    State.CLEAR: "green",
    State.UNJUDGED: "dim",
}

VERDICT_TEXT = {
    State.LOCKED: "LOCKS inside the travel",
    State.OVER: "OVER a limit",
    State.CLOSE: "clear, but CLOSE to a limit",
    State.CLEAR: "CLEAR",
}


def amount_text(finding: Finding, amount: float | None, length: Length) -> str:
    """A finding's used, limit or margin for a person."""
    if amount is None:
        return "–"
    if finding.quantity is Quantity.ANGLE:
        return degrees_text(math.degrees(amount))
    return length.text(amount)


def verdict_line(verdict: Verdict) -> str:
    """One line that says how it stands."""
    return f"{VERDICT_TEXT[verdict.state]} in {verdict.poses:,} pose{'s' * (verdict.poses != 1)}"


def table(mechanism: Mechanism, verdict: Verdict, length: Length) -> Group:
    """Everything `check` prints: the verdict, the findings worst first, what the marks mean, the cautions."""
    head = Text.assemble(
        (mechanism.title, "bold"), ": ", (verdict_line(verdict), _TERMINAL_STYLE[verdict.state]),
        f" ({travel_text(mechanism, length)})",
    )  # fmt: skip
    rows = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
    for name in ("", "what", "where"):
        rows.add_column(name, no_wrap=name != "where")
    for name in ("used", "limit", "margin"):
        rows.add_column(name, justify="right", no_wrap=True)
    rows.add_column("worst pose")
    for finding in verdict.findings:
        limit = amount_text(finding, finding.limit, length) + ("*" if finding.typical else "")
        rows.add_row(
            Text(finding.state.value, _TERMINAL_STYLE[finding.state]),
            Text(finding.what),
            Text(finding.where),
            amount_text(finding, finding.used, length),
            limit,
            amount_text(finding, finding.margin, length),
            Text(pose_text([drive.name for drive in mechanism.drives], finding.drives, length)),
        )
    return Group(head, Text(), rows, Text(), *(Padding(line, (0, 0, 0, 0)) for line in _notes(verdict)))


def _notes(verdict: Verdict) -> list[Text]:
    notes = []
    if any(finding.typical for finding in verdict.findings):
        notes.append(
            Text("* typical limit, not the part maker's: put the maker's figure in the scene's [joint] table.")
        )
    if any(finding.state is State.UNJUDGED for finding in verdict.findings):
        notes.append(Text("no limit: the scene gives none and there is no typical one; ask the part maker."))
    if any(finding.state is State.LOCKED for finding in verdict.findings):
        notes.append(Text("locked: used is the wheel travel asked for, limit the last that the linkage can reach."))
    notes += [Text(caution, "dim") for caution in CAUTIONS]
    return notes


def travel_text(mechanism: Mechanism, length: Length) -> str:
    """The travel that was cycled, in words."""
    words = []
    wheel = next((drive for drive in mechanism.drives if drive.name != "steer"), None)
    if wheel is not None:
        words.append(f"{length.text(wheel.high)} bump, {length.text(-wheel.low)} droop, each wheel by itself")
    if mechanism.steer is not None:
        words.append("lock to lock")
    return ", ".join(words)


def as_json(scene: str, mechanism: Mechanism, verdict: Verdict) -> dict[str, Any]:
    """The keys of `check --json`; docs/outputs.md documents them. Lengths in mm and angles in degrees, always."""
    return {
        "format": "fulltravel check 1",
        "scene": scene,
        "title": mechanism.title,
        "verdict": verdict.state.value,
        "poses": verdict.poses,
        "locked_poses": verdict.locked_poses,
        "travel": {drive_key(drive, end): value for drive in mechanism.drives
                   for end, value in (("low", _drive_value(drive, drive.low)), ("high", _drive_value(drive, drive.high)))},
        "findings": [_finding_json(mechanism, finding) for finding in verdict.findings],
        "cautions": list(CAUTIONS),
    }  # fmt: skip


def drive_key(drive: Drive, suffix: str = "") -> str:
    """The key of a drive's value, unit included, such as `left_mm` or `steer_low_percent`."""
    middle = f"_{suffix}" if suffix else ""
    return f"{drive.name}{middle}_{'percent' if drive.name == 'steer' else 'mm'}"


def _drive_value(drive: Drive, value: float) -> float:
    return _plain(100.0 * value if drive.name == "steer" else value)


def _finding_json(mechanism: Mechanism, finding: Finding) -> dict[str, Any]:
    scale, unit = (180.0 / math.pi, "deg") if finding.quantity is Quantity.ANGLE else (1.0, "mm")
    amounts = {"used": finding.used, "limit": finding.limit, "margin": finding.margin}
    names = [drive.name for drive in mechanism.drives]
    return {
        "state": finding.state.value,
        "what": finding.what,
        "where": finding.where,
        "part": finding.part,
        **{f"{key}_{unit}": None if value is None else _plain(value * scale) for key, value in amounts.items()},
        "limit_is_typical": finding.typical,
        "limit_source": finding.source or None,
        "pose": {
            "number": finding.pose,
            "words": pose_text(names, finding.drives, Length.MM),
            **{drive_key(drive): _drive_value(drive, value)
               for drive, value in zip(mechanism.drives, finding.drives, strict=True)},
        },
        "at_mm": [_plain(value) for value in finding.at],
    }  # fmt: skip


def _plain(value: float) -> float:
    """A number to a thousandth: finer than any of these can be made or measured, and no −0."""
    return round(value, 3) + 0.0
