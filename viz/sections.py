"""What a review has to say beside its findings, as small tables of words: `check` prints them, the sheet holds them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from model.alignment import OutOfLine
from model.clocking import BetterClock
from model.drivelines import ShaftReport
from model.findings import pose_text
from model.hangers import BarTwist
from model.holding import Fight, Peak
from model.measures import place_text
from model.review import Review
from model.studs import StudWays, Way, WaySwing
from model.units import N_PER_LBF, Length, degrees_text
from model.windup import NoShift, RideShift, WindUp, Wound
from viz.words import NOTHING

# An angle (rad) that is printed as more than 0.0°.
LEAST_SHOWN = math.radians(0.05)


@dataclass(frozen=True)
class TextTable:
    """A small table of texts; the first cell of a row names it, `hand` heads an empty column to write in."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
    hand: str = ""


@dataclass(frozen=True)
class Section:
    """A heading with its tables."""

    title: str
    tables: tuple[TextTable, ...]


MOMENTS = (
    "Moments in these tables are what rubber or a linkage carries, worked out from the scene; none of them is a torque "
    "to tighten anything to."
)


def sections(review: Review, units: Length) -> tuple[Section, ...]:
    """Every section that the review has something for."""
    every = (
        *(Section(f"Held twice over: {fight.verdict}", _fight_tables(fight, review, units)) for fight in review.fights),
        Section("Clocking", _clock_tables(review.better_clocks)),
        Section("Ball joints", _stud_tables(review.studs)),
        Section("Bonded bushes", _bush_tables(review, units)),
        Section("Bushes out of line", _line_tables(review.out_of_line, units)),
        *(Section(f"Driveshaft: {shaft.name}", _shaft_tables(shaft, units)) for shaft in review.shafts),
        Section("Anti-roll bar", _bar_tables(review.bar_twists, review, units)),
    )
    return tuple(section for section in every if section.tables)


def _both_sides(rows: Sequence[tuple[str, ...]]) -> tuple[tuple[str, ...], ...]:
    """Rows of a left and a right part that say the same, signs aside, as one; the left one's signs are kept."""
    merged: list[tuple[str, ...]] = []
    texts = [[cell.lstrip("+-") for cell in row[1:]] for row in rows]
    gone: set[int] = set()
    for number, row in enumerate(rows):
        if number in gone:
            continue
        side, _, rest = row[0].partition(" ")
        twin = next(
            (
                other
                for other in range(number + 1, len(rows))
                if side == "left" and rows[other][0] == f"right {rest}" and texts[other] == texts[number]
            ),
            None,
        )
        if twin is None:
            merged.append(row)
        else:
            gone.add(twin)
            merged.append((f"left and right {rest}", *row[1:]))
    return tuple(merged)


def angle_text(radians: float | None, *, signed: bool = False) -> str:
    """An angle in degrees; a dash where there is none."""
    if radians is None:
        return NOTHING
    degrees = math.degrees(radians)
    return f"{degrees:+.1f}°" if signed and abs(degrees) >= 0.05 else degrees_text(abs(degrees) if signed else degrees)


def moment_text(newton_mm: float | None, units: Length) -> str:
    """A moment in N·m, or lbf·ft where lengths are in inches."""
    if newton_mm is None:
        return NOTHING
    return f"{round(newton_mm / units.moment, 1) + 0.0:.1f} {'N·m' if units is Length.MM else 'lbf·ft'}"


def force_text(newton: float, units: Length) -> str:
    """A force in N, kN from 10,000 N on, or lbf where lengths are in inches."""
    if units is Length.INCH:
        return f"{newton / N_PER_LBF:,.0f} lbf"
    return f"{newton / 1000.0:.1f} kN" if newton >= 9_950.0 else f"{newton:.0f} N"


def height_text(place: str | float, units: Length) -> str:
    """Where a bush was tightened, in words."""
    words = {"ride": "at ride height", "droop": "hanging at full droop", "bump": "at full bump"}
    if isinstance(place, str):
        return words[place]
    return f"{units.text(abs(place))} {'above' if place >= 0.0 else 'below'} ride height"


def _fight_tables(fight: Fight, review: Review, units: Length) -> tuple[TextTable, ...]:
    """What a linkage that is held twice over does, and what each of its joints takes at most."""
    names = tuple(drive.name for drive in review.mechanism.drives)

    def peak(value: Peak, text: str) -> str:
        return f"{text} ({pose_text(names, value.drives, units)})"

    facts = (
        ("these hold more than they can", ", ".join(fight.members)),
        ("too many by", str(fight.spare)),
        (
            "without any give its wheels could go",
            f"{fight.freedoms_ride} way{'s' * (fight.freedoms_ride != 1)} at ride height, {_least_most(fight)} through "
            f"travel, of the {fight.wheels} that they need",
        ),
        ("both wheels together", NOTHING if fight.together is None else str(fight.together)),
        ("crossed up", NOTHING if fight.crossed is None else str(fight.crossed)),
        ("lengths do not fit by", peak(fight.misfit, f"{units.text(fight.misfit.value)}, {fight.worst_member}")),
        (
            f"force to hold the {fight.wheel} wheel",
            peak(fight.wheel_force, force_text(fight.wheel_force.value, units)),
        ),
        ("moment to hold the axle in roll", peak(fight.roll_moment, moment_text(fight.roll_moment.value, units))),
    )
    loads = tuple(
        (
            place_text(joint.member, joint.end),
            units.fine_text(joint.deflection.value),
            force_text(joint.force.value, units),
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
        TextTable("Most that each joint takes", ("joint", "gives by", "force", "moment"), _both_sides(loads)),
    )


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
        moves = any(way.swing >= LEAST_SHOWN for way in stud.ways)
        row = (
            place_text(stud.member, stud.end),
            angle_text(stud.ride),
            *(_way_text(way) for way in stud.ways),
            str(stud.furthest) if moves else NOTHING,
        )
        tables.setdefault(ways, []).append(row)
    heads = ("joint", "at ride height")
    note = "Room: how much further it could lean that way in its worst pose; leaning to the side takes room ahead."
    return tuple(
        TextTable(
            "How far the stud leans from the middle of its housing, each way",
            (*heads, *(f"to the {way}" if way not in (Way.UP, Way.DOWN) else way for way in ways), "leans most"),
            _both_sides(rows),
            note,
        )
        for ways, rows in tables.items()
    )


def _way_text(way: WaySwing) -> str:
    room = "" if way.left is None else ", no room" if way.left < LEAST_SHOWN else f", room {angle_text(way.left)}"
    return f"{angle_text(way.swing)}{room}"


def _bush_tables(review: Review, units: Length) -> tuple[TextTable, ...]:
    """Wind-up of bonded bushes for each way of tightening them, and what it does to the ride height."""
    tables = []
    if review.wind_ups:
        rows = [_wound_row(bush, wound, units) for bush in review.wind_ups for wound in bush.wound]
        heads = ("bush", "tightened", "wound at droop", "at ride height", "at bump", "of its limit")
        tables.append(
            TextTable(
                "How far the rubber is wound and the moment that it then holds, by where its bolt was tightened",
                heads,
                _both_sides(rows),
                note="Tighten bonded bushes with the weight on the wheels.",
            )
        )
    if review.ride_shifts:
        shifts = tuple(
            (shift.wheel, _shift_way(shift.tightened), _shift_text(shift, units)) for shift in review.ride_shifts
        )
        caption = "What that does to the ride height"
        tables.append(TextTable(caption, ("wheel", "bushes tightened", "vehicle sits"), _both_sides(shifts)))
    return tuple(tables)


def _wound_row(bush: WindUp, wound: Wound, units: Length) -> tuple[str, ...]:
    own = ", as in the scene" if wound.tightened == bush.own and bush.own != "ride" else ""
    typical = " (typical)" if bush.limit is not None and bush.limit.typical else ""
    torques = wound.torque or (None, None, None)
    return (
        place_text(bush.member, bush.end),
        f"{height_text(wound.tightened, units)}{own}",
        *(_wound_text(angle, torque, units) for angle, torque in zip(wound.wind_up, torques, strict=True)),
        f"{_share_text(bush, wound)}{typical}",
    )


def _wound_text(angle: float, torque: float | None, units: Length) -> str:
    """How far rubber is wound, and the moment that it then holds where its rate is known."""
    words = angle_text(angle, signed=True)
    return words if torque is None or abs(angle) < LEAST_SHOWN else f"{words}, {moment_text(abs(torque), units)}"


def _share_text(bush: WindUp, wound: Wound) -> str:
    if wound.share is None or bush.limit is None:
        return NOTHING
    close = bush.limit.close / bush.limit.angle
    return f"{100.0 * wound.share:.0f} %{', over' if wound.share > 1.0 else ', close' if wound.share > close else ''}"


def _shift_way(tightened: str) -> str:
    return "as the scene says" if tightened == "scene" else height_text(tightened, Length.MM)


# What to put into the scene so that a shift of the ride height can be worked out.
_REMEDY = {
    NoShift.NO_SPRING: "give its coilover a spring",
    NoShift.NO_RATE: "give its [joint.NAME] rates = { turn = … }",
    NoShift.NO_BALANCE: "check rates and springs",
}


def _shift_text(shift: RideShift, units: Length) -> str:
    if shift.higher is None:
        lacking = f" ({', '.join(shift.lacking)})" if shift.lacking else ""
        return f"not known: {shift.why}{lacking}; {_REMEDY[shift.why]}" if shift.why else NOTHING
    if abs(shift.higher) < 0.05:
        return "as before"
    return f"{units.text(abs(shift.higher))} {'higher' if shift.higher > 0.0 else 'lower'}"


def _line_tables(arms: Sequence[OutOfLine], units: Length) -> tuple[TextTable, ...]:
    rows = [
        (place_text(arm.member, bush.end), angle_text(arm.between), angle_text(bush.off_line),
         angle_text(bush.cocking), moment_text(bush.moment, units))
        for arm in arms
        for bush in arm.bushes
    ]  # fmt: skip
    heads = ("bush", "between both bolts", "bolt off the line of both", "cocks by up to", "moment")
    return (TextTable("Two bushes of one part whose bolts are not in line", heads, _both_sides(rows)),) if rows else ()


def _shaft_tables(shaft: ShaftReport, units: Length) -> tuple[TextTable, ...]:
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
        ("yokes at its ends, turned by", _pair(shaft.phase, None, lambda angle: angle_text(angle, signed=True))),
        ("best for even running", _best_phase_text(shaft)),
        ("gets shorter by", (NOTHING, units.text(max(-shaft.shortest, 0.0)))),
        ("gets longer by", (NOTHING, units.text(max(shaft.longest, 0.0)))),
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


def _size(angle: float) -> str:
    return angle_text(abs(angle))


def _percent(share: float) -> str:
    return f"{100.0 * share:.2f} %"


def _acceleration(value: float) -> str:
    return f"{value:.0f} rad/s²"


def _best_phase_text(shaft: ShaftReport) -> tuple[str, str] | None:
    if shaft.best_phase is None or shaft.best_fluctuation is None:
        return None
    return f"{angle_text(shaft.best_phase, signed=True)} (then {_percent(shaft.best_fluctuation)})", NOTHING


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
