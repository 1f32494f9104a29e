"""What a review has to say beside its findings, as small tables of words: `check` prints them, the sheet holds them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from model.clocking import BetterClock
from model.findings import pose_text
from model.hangers import BarTwist
from model.holding import Fight, Peak
from model.measures import place_text
from model.review import Review
from model.studs import StudWays, Way, WaySwing
from model.units import Length
from viz.bushtables import bush_tables, line_tables
from viz.shafttables import shaft_tables
from viz.tables import LEAST_SHOWN, Section, TextTable, angle_text, both_sides, moment_text
from viz.words import NOTHING


def sections(review: Review, units: Length) -> tuple[Section, ...]:
    """Every section that the review has something for."""
    every = (
        *(
            Section(f"{_whose(fight, review)}held twice over: {fight.verdict}", _fight_tables(fight, review, units))
            for fight in review.fights
        ),
        Section("Clocking", _clock_tables(review.better_clocks)),
        Section("Ball joints", _stud_tables(review.studs)),
        Section("Bonded bushes", bush_tables(review, units)),
        Section("Bushes out of line", line_tables(review.out_of_line, units)),
        *(Section(f"Driveshaft: {shaft.name}", shaft_tables(shaft, units)) for shaft in review.shafts),
        Section("Anti-roll bar", _bar_tables(review.bar_twists, review, units)),
    )
    return tuple(replace(one, title=one.title[:1].upper() + one.title[1:]) for one in every if one.tables)


def _fight_tables(fight: Fight, review: Review, units: Length) -> tuple[TextTable, ...]:
    """What a linkage that is held twice over does, and what each of its joints takes at most."""
    names = tuple(drive.name for drive in review.mechanism.drives)

    def peak(value: Peak, text: str) -> str:
        return f"{text} ({pose_text(names, value.drives, units)})"

    facts: tuple[tuple[str, ...], ...] = (
        ("parts that together hold too much", ", ".join(fight.members)),
        ("ways in which they hold it twice", str(fight.spare)),
        (
            "if nothing gave, its wheels could go",
            f"{fight.freedoms_ride} way{'s' * (fight.freedoms_ride != 1)} at ride height, {_least_most(fight)} through "
            f"travel, of the {fight.wheels} that they need",
        ),
        ("both wheels together", NOTHING if fight.together is None else str(fight.together)),
        ("crossed up", NOTHING if fight.crossed is None else str(fight.crossed)),
        (
            "lengths miss each other by up to",
            peak(fight.misfit, f"{units.text(fight.misfit.value)}, {fight.worst_member}"),
        ),
        (
            f"force to hold the {fight.wheel} wheel",
            peak(fight.wheel_force, units.force_text(fight.wheel_force.value)),
        ),
    )
    if fight.roll_moment is not None:
        held = peak(fight.roll_moment, moment_text(fight.roll_moment.value, units))
        facts += (("moment to hold the axle in roll", held),)
    if fight.steering is not None:
        most = fight.steering.most
        text = moment_text(most.value, units) if fight.steering.turns else units.force_text(most.value)
        facts += ((f"to hold the {fight.steering.part}", peak(most, text)),)
    loads = tuple(
        (
            place_text(joint.member, joint.end),
            units.fine_text(joint.deflection.value),
            units.force_text(joint.force.value),
            moment_text(joint.moment.value, units),
        )
        for joint in fight.joints
    )
    return (
        TextTable(
            "Over-constrained, it moves by the give of its joints; forces without springs, dampers and weights",
            ("over the whole travel", "value"),
            facts,
        ),
        TextTable("Most that each joint takes", ("joint", "gives by", "force", "moment"), both_sides(loads)),
    )


def _whose(fight: Fight, review: Review) -> str:
    """Which wheels a group carries, where the scene has others beside them."""
    return "" if len(fight.wheel_names) == len(review.mechanism.wheels) else f"{', '.join(fight.wheel_names)}: "


def _least_most(fight: Fight) -> str:
    if fight.freedoms_least == fight.freedoms_most:
        return str(fight.freedoms_least)
    return f"{fight.freedoms_least} to {fight.freedoms_most}"


def _clock_tables(clocks: Sequence[BetterClock]) -> tuple[TextTable, ...]:
    """Which bars would do better with their heads turned against each other."""
    rows = tuple(
        (
            clock.link,
            angle_text(clock.now, signed=True),
            angle_text(clock.better, signed=True),
            f"{100.0 * clock.share_now:.0f} %",
            f"{100.0 * clock.share_then:.0f} %",
            angle_text(clock.given_back),
        )
        for clock in clocks
    )
    heads = ("bar", "clock now", "better", "of its limit now", "then", "given back")
    note = "The clock is how far the second head is turned against the first: positive clockwise, seen from the first."
    return (TextTable("Heads that would do better clocked anew", heads, rows, note),) if rows else ()


def _stud_tables(studs: Sequence[StudWays]) -> tuple[TextTable, ...]:
    """How far each stud leans each way, and how much room is left there."""
    tables: dict[tuple[str, ...], list[tuple[str, ...]]] = {}
    for stud in studs:
        ways = tuple(str(way.way) for way in stud.ways)
        row = (
            place_text(stud.member, stud.end),
            angle_text(stud.ride),
            *(_way_text(way) for way in stud.ways),
            NOTHING if stud.furthest is None else str(stud.furthest),
        )
        tables.setdefault(ways, []).append(row)
    heads = ("joint", "at ride height")
    note = "Room: how much further it can lean that way where it can least; a lean to the side takes from it."
    return tuple(
        TextTable(
            "How far the stud leans from the middle of its housing, each way",
            (*heads, *(f"to the {way}" if way not in (Way.UP, Way.DOWN) else way for way in ways), "leans most"),
            both_sides(rows),
            note,
        )
        for ways, rows in tables.items()
    )


def _way_text(way: WaySwing) -> str:
    room = "" if way.left is None else ", no room" if way.left < LEAST_SHOWN else f", room {angle_text(way.left)}"
    return f"{angle_text(way.swing)}{room}"


def _bar_tables(bars: Iterable[BarTwist], review: Review, units: Length) -> tuple[TextTable, ...]:
    names = tuple(drive.name for drive in review.mechanism.drives)
    rows = [
        (
            bar.bar,
            _span_text(bar.left),
            _span_text(bar.right),
            angle_text(bar.twist),
            pose_text(names, bar.drives, units),
            "go over centre" if bar.flips else "never go over centre",
        )
        for bar in bars
    ]
    heads = ("bar", "left arm turns", "right arm turns", "largest twist", "in this pose", "end links")
    return (TextTable("How far its arms turn", heads, tuple(rows)),) if rows else ()


def _span_text(span: tuple[float, float]) -> str:
    return f"{angle_text(span[0], signed=True)} to {angle_text(span[1], signed=True)}"
