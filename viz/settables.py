"""What `set` prints: what to turn, what it reaches, what else changes, threads, and the bind check before and after."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rich.console import Group
from rich.table import Table
from rich.text import Text

from model.adjust import Setting
from model.adjustable import Perch, Shims, Thread, Turning
from model.adjustsearch import KEPT
from model.adjustwants import Value
from model.curvenames import Amount
from model.joints import JointKind
from model.limits import GOOD_THREAD, LEAST_THREAD
from model.members import posture
from model.mobility import joined
from model.review import Review
from model.units import Length
from model.verdicts import Finding, State
from model.windup import is_bonded
from viz.cautions import CAUTIONS
from viz.report import section_parts, verdict_line
from viz.setwords import STAYS, do_text, from_to, length_text, nuts_text, signed_text, what_text
from viz.tables import Section, TextTable, both_sides
from viz.words import NOTHING, limit_text, used_text

# Of what was not asked for, these are told where they change, beside what is kept where it can be.
ALSO = ("scrub radius", "mechanical trail", "steering-axis inclination", "roll centre height", "track", "motion ratio")
# Least change that is told: rad (0.02°), mm, of a ratio.
LEAST_TOLD = {Amount.ANGLE: math.radians(0.02), Amount.LENGTH: 0.2, Amount.RATIO: 0.005}
# Findings in the table of the bind check: the worst of them.
MOST_FINDINGS = 12
# Share by which springs and weights may disagree: springs keep their rate within some 5 % (typical, from memory).
BALANCED = 0.05
# Mm: what is as long as this is a size and no change, and needs no sign.
UNSIGNED = 50.0
# A rubber bush that turns by less (rad, 0.5°) is left as it is bolted: a thirtieth of what one typically bears.
WOUND = math.radians(0.5)
BUSHES = (
    "Rubber bushes turn with this: slacken their bolts first, and tighten them again with the wheels where they stand "
    "then."
)
MEASURE = (
    "Measure again with the weight on the wheels after rolling the vehicle to and fro: bushes and tyres take a set."
)
SPRING_CAUTION = (
    "A spring's seat is turned with the wheel hanging and the vehicle on stands, never with the weight on it; a "
    "squeezed spring set free can maim or kill."
)
HEIGHT_NOTE = (
    "Ride height: the springs carry what they carry now; the tilt of the whole vehicle, when one end is raised, is not "
    "in these values."
)
STANDS_NOTE = (
    "The wheels are taken to stand as high as they do now: a longer link or a mount that moved changes how the springs "
    'hold them. Ask for "ride height = 0" as well, or bring it back with the springs\' seats.'
)
UNBOLTED_NOTE = (
    "A link that is unbolted sets free what it holds: one link at a time, the axle and both springs held on stands, "
    "the driveshaft watched."
)
SHIMS_NOTE = (
    "Shims: slacken that pivot's bolts, and tighten them again to the part maker's torque, with a thread or more past "
    "the nut."
)
KEPT_NOTE = "What nobody asked for is kept as it is where the adjusters allow it."


@dataclass(frozen=True)
class Checks:
    """The bind check before and with the new setting."""

    before: Review
    after: Review


def set_tables(setting: Setting, checks: Checks, units: Length, title: str) -> Group:
    """Everything about one setting."""
    told: list[Text | Table] = [Text(f"{title}: set at ride height", "bold"), *_headline(setting), Text()]
    tables = [_turns(setting, units), _reached(setting, units), _changed(setting, units), _threads(setting, units)]
    tables.append(_findings(checks, units))
    for table in tables:
        if table.rows:
            told += section_parts(Section("", (table,)))[1:]
    verdicts = [verdict_line(each.verdict) for each in (checks.before, checks.after)]
    told += [Text(f"Bind check before: {verdicts[0]}"), Text(f"Bind check with the new setting: {verdicts[1]}", "bold")]
    return Group(*told, Text(), *(Text(line, "dim") for line in notes(setting)))


def notes(setting: Setting) -> list[str]:
    """What a person has to know beside the numbers."""
    turned = [each.adjuster for each in setting.turned if each.rounded != 0.0]
    bushes = [joint for joint in posture(setting.stand.poses).joints if is_bonded(joint.end)]
    lines = [KEPT_NOTE, MEASURE]
    threads = [(each.link, nuts_text(each, _kinds(setting, each))) for each in turned if isinstance(each, Thread)]
    lines += [f"{link[0].upper()}{link[1:]}: {text}" for link, text in both_sides(threads)]
    lines += [BUSHES] * any(abs(float(joint.turn[0])) > WOUND for joint in bushes)
    if any(isinstance(each, Thread) and each.turning is Turning.END for each in turned):
        lines.append(UNBOLTED_NOTE)
    if any(isinstance(each, Shims) for each in turned):
        lines.append(SHIMS_NOTE)
    seats = any(isinstance(each, Perch) for each in turned)
    lines += [STANDS_NOTE] * (bool(turned) and not seats)
    lines += CAUTIONS[:3]
    if seats:
        lines += [HEIGHT_NOTE, SPRING_CAUTION]
        if setting.unbalanced is not None and abs(setting.unbalanced) > BALANCED:
            more = "more" if setting.unbalanced > 0.0 else "less"
            lines.append(
                f"As the scene has them the springs carry {abs(setting.unbalanced):.0%} {more} at ride height than its "
                "[weights] say: check rates, preload and weights before you trust the turns of their seats."
            )
    open_ended = [
        each.adjuster.link
        for each in setting.turned
        if isinstance(each.adjuster, Thread) and each.rounded < 0.0 and math.isinf(each.adjuster.low)
    ]
    if open_ended:
        lines.append(
            f"The scene does not say how much shorter {joined(open_ended)} can get: look how far the threads go in."
        )
    unbounded = [
        each.adjuster.link
        for each in setting.turned
        if isinstance(each.adjuster, Thread) and each.rounded > 0.0 and not each.adjuster.threads
    ]
    if unbounded:
        lines.append(
            f"The scene does not say how far the threads of {joined(unbounded)} are engaged: make sure of at least "
            f"{GOOD_THREAD:g} diameters before you drive."
        )
    return lines


def _kinds(setting: Setting, thread: Thread) -> tuple[JointKind, JointKind]:
    """What sits at the two ends of a link with threads."""
    link = next(link for link in setting.bench.mechanism.links if link.name == thread.link)
    return link.ends[0].joint.kind, link.ends[1].joint.kind


def _headline(setting: Setting) -> list[Text]:
    if setting.met:
        return []
    names = joined([each.name for each in setting.out])
    return [
        Text(
            f"NOT REACHED: {names} {'is' if len(setting.out) == 1 else 'are'} at the end of what can be turned. What "
            "follows is the nearest that can be had.",
            "bold",
        )
    ]


def _turns(setting: Setting, units: Length) -> TextTable:
    rows = [
        (each.adjuster.name, what_text(each), *from_to(each, units), do_text(each, units))
        for each in setting.turned
        if each.rounded != 0.0
    ]
    moving = {each.adjuster.entry for each in setting.turned if each.rounded != 0.0}
    at_rest = [each.adjuster for each in setting.turned if each.rounded == 0.0]
    # Of an entry that is turned on one side the other side is told by its own name.
    still = list(dict.fromkeys(each.name if each.entry in moving else each.entry for each in at_rest))
    rows = rows or [("nothing", NOTHING, NOTHING, NOTHING, "it stands as near as it can be set")]
    note = f"{STAYS[0].upper()}{STAYS[1:]}: {', '.join(still)}." if still and setting.met else ""
    return TextTable("What to turn", ("adjuster", "", "now", "new", "do this"), both_sides(rows, signs=True), note)


def _reached(setting: Setting, units: Length) -> TextTable:
    rows = [
        (
            each.want.name,
            value_text(each.want.quantity, each.before, units),
            value_text(each.want.quantity, each.want.value, units),
            value_text(each.want.quantity, each.exact, units),
            value_text(each.want.quantity, each.rounded, units),
            value_text(each.want.quantity, each.rounded - each.want.value, units),
        )
        for each in setting.reached
    ]
    heads = ("", "before", "wanted", "turned exactly", "as it can be set", "off by")
    return TextTable("What it reaches", heads, both_sides(rows, signs=True))


def _changed(setting: Setting, units: Length) -> TextTable:
    wanted = {each.want.name for each in setting.reached}
    rows = [
        (
            before.name,
            value_text(before.quantity, float(before.values[0]), units),
            value_text(after.quantity, float(after.values[0]), units),
        )
        for before, after in zip(setting.before, setting.after, strict=True)
        if before.name not in wanted and _told(before, after)
    ]
    return TextTable("What else changes", ("", "before", "new"), both_sides(rows, signs=True))


def _told(before: Value, after: Value) -> bool:
    least = LEAST_TOLD.get(before.quantity)
    known = before.what in KEPT or before.what in ALSO
    return known and least is not None and abs(float(after.values[0] - before.values[0])) >= least


def _threads(setting: Setting, units: Length) -> TextTable:
    rows = [
        (
            f"{each.adjuster.link}, {each.adjuster.end_words[thread.end]} end",
            length_text(thread.length, units),
            length_text(thread.at(each.rounded), units),
            f"{thread.at(each.rounded) / thread.diameter:.1f}",
            engaged_text(thread.at(each.rounded) / thread.diameter),
        )
        for each in setting.turned
        if isinstance(each.adjuster, Thread) and each.rounded != 0.0
        for thread in each.adjuster.threads
    ]
    return TextTable("Thread engaged", ("", "before", "new", "diameters", ""), both_sides(rows, signs=True))


def engaged_text(diameters: float) -> str:
    """What is said of a thread that is engaged by so many diameters."""
    if diameters < LEAST_THREAD:
        return "TOO LITTLE: at least 1 to 1.5 diameters (typical)"
    return "close: 1.5 diameters are better (typical)" if diameters < GOOD_THREAD else "enough"


def _findings(checks: Checks, units: Length) -> TextTable:
    before = {_key(finding): finding for finding in checks.before.verdict.findings}
    after = [each for each in checks.after.verdict.findings if each.state in (State.LOCKED, State.OVER, State.CLOSE)]
    known = {_key(finding) for finding in checks.after.verdict.findings}
    gone = [
        finding
        for key, finding in before.items()
        if finding.state in (State.LOCKED, State.OVER)
        and (key not in known or all(_key(each) != key for each in after))
    ]
    rows = [
        (each.where, each.what, _state(before.get(_key(each)), units), _state(each, units))
        for each in after[:MOST_FINDINGS]
    ]
    rows += [(each.where, each.what, _state(each, units), "clear") for each in gone[:MOST_FINDINGS]]
    note = f"{len(after) - MOST_FINDINGS} more are close or over." if len(after) > MOST_FINDINGS else ""
    return TextTable("Close to a limit or over it", ("where", "what", "before", "new"), tuple(rows), note)


def _key(finding: Finding) -> tuple[str, str]:
    return finding.what, finding.measured_at or finding.where


def _state(finding: Finding | None, units: Length) -> str:
    if finding is None:
        return NOTHING
    limit = limit_text(finding, units)
    return f"{finding.state}: {used_text(finding, units)}{'' if limit == NOTHING else f' of {limit}'}"


def value_text(quantity: Amount, value: float, units: Length) -> str:
    """A value as finely as it is set: hundredths of a degree, tenths of a mm."""
    if quantity is Amount.ANGLE:
        return signed_text(math.degrees(value), 2, "°")
    if quantity is Amount.RATIO:
        return signed_text(value, 3).removeprefix("+")
    return length_text(round(value, 6), units, signed=abs(value) < UNSIGNED)
