"""Bonded bushes, and bushes out of line, as small tables of words."""

from __future__ import annotations

from collections.abc import Sequence

from model.alignment import OutOfLine
from model.measures import place_text
from model.review import Review
from model.units import Length
from model.windup import NoShift, RideShift, WindUp, Wound
from viz.tables import LEAST_SHOWN, TextTable, angle_text, both_sides, height_text, moment_text
from viz.words import NOTHING

SIGNS = "+ and - only tell the two ways of turning apart."
TIGHTEN = "Tighten bonded bushes with the weight on the wheels."


def bush_tables(review: Review, units: Length) -> tuple[TextTable, ...]:
    """Wind-up of bonded bushes for each way of tightening them, and what it does to the ride height."""
    tables = []
    if review.wind_ups:
        rows = [_wound_row(bush, wound, units) for bush in review.wind_ups for wound in bush.wound]
        heads = ("bush", "tightened", "wound at droop", "at ride height", "at bump", "of its limit")
        tables.append(
            TextTable(
                "How far the rubber is wound and the moment that it then holds, by where its bolt was tightened",
                heads,
                both_sides(rows),
                note=" ".join([*_lock_notes(review.wind_ups, units), SIGNS, TIGHTEN]),
            )
        )
    if review.ride_shifts:
        shifts = tuple(
            (shift.wheel, _shift_way(shift.tightened), _shift_text(shift, units)) for shift in review.ride_shifts
        )
        caption = "What that does to the ride height"
        tables.append(TextTable(caption, ("wheel", "bushes tightened", "vehicle sits"), both_sides(shifts)))
    return tuple(tables)


def _wound_row(bush: WindUp, wound: Wound, units: Length) -> tuple[str, ...]:
    own = ", as in the scene" if wound.tightened == bush.own and bush.own != "ride" else ""
    typical = " (typical)" if bush.limit is not None and bush.limit.typical else ""
    torques = wound.torque or (None, None, None)
    return (
        place_text(bush.member, bush.end),
        f"{height_text(wound.tightened, units)}{own}{_locks_text(wound, units)}",
        *(_wound_text(angle, torque, units) for angle, torque in zip(wound.wind_up, torques, strict=True)),
        f"{_share_text(bush, wound)}{typical}",
    )


def _locks_text(wound: Wound, units: Length) -> str:
    return "" if wound.locks_at is None else f" (locks on the way, {height_text(wound.locks_at, units)}; taken there)"


def _lock_notes(bushes: Sequence[WindUp], units: Length) -> list[str]:
    """Where the linkage locks before an end of travel of which the table speaks."""
    locks = dict.fromkeys(
        (end, at)
        for bush in bushes
        for end, at in (("droop", bush.droop_locks_at), ("bump", bush.bump_locks_at))
        if at is not None
    )
    return [
        f"The linkage locks {height_text(at, units)}, before full {end}: what stands for {end} is taken there."
        for end, at in locks
    ]


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


def line_tables(arms: Sequence[OutOfLine], units: Length) -> tuple[TextTable, ...]:
    """Bolts of two bushes of one part that are not in line, and how far each bush cocks because of it."""
    rows = [
        (place_text(arm.member, bush.end), angle_text(arm.between), angle_text(bush.off_line),
         angle_text(bush.cocking), moment_text(bush.moment, units))
        for arm in arms
        for bush in arm.bushes
    ]  # fmt: skip
    heads = ("bush", "between both bolts", "bolt off the line of both", "cocks by up to", "moment")
    return (TextTable("Two bushes of one part whose bolts are not in line", heads, both_sides(rows)),) if rows else ()
