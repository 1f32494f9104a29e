"""Springs as tables on the screen: what is needed, what it does at ride height and over the travel, what can be had."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from rich.console import Group
from rich.table import Table
from rich.text import Text

from model.limits import RIDE_FREQUENCY
from model.springpick import Fit, Trouble, free_lengths
from model.units import Length
from viz.cautions import CAUTIONS
from viz.report import section_parts
from viz.setwords import length_text, signed_text
from viz.tables import Section, TextTable, both_sides
from viz.words import NOTHING, both_names, both_of

# Springs of a list in its table: the nearest of them.
MOST = 8
TYPICAL_STROKE = (
    "Typical: a street car stands with about half of its stroke left each way, an off-road one with 30 to 40 % for "
    "droop."
)
METHOD = (
    "The spring and its motion ratio alone: no friction, no bushes, no gas in the damper (which pushes, too, and lifts "
    "the vehicle a little), no bump stop, no bar. Both wheels together."
)
LENGTHS = "A spring's free length fits where its seats are as far apart as it is long under its load at ride height."
ENERGY = "What a spring stores is let go at once when it slips: keep clear of its ends, and use a compressor that fits."
WEIGHED = (
    "Wheel rate and ride frequency are those under the load that [weights] give; `curves` takes what the scene's own "
    "spring pushes with: where the two are not quite the same, neither are its wheel rates and these."
)
UNWEIGHED = "The scene has no [weights]: what its own spring carries at ride height now is taken as the load."


def spring_tables(title: str, wanted: str, needed: Sequence[Fit], had: Sequence[Sequence[Fit]], units: Length) -> Group:
    """What is needed of a spring at each wheel, and what springs from a list do there, the nearest first.

    Args:
        title: of the scene.
        wanted: what was asked for, in words.
        needed: for each wheel the spring that does it.
        had: for each wheel springs of a list; empty without one.
        units: those of what is printed.

    """
    told: list[Text | Table] = [Text(f"{title}: springs", "bold"), Text(wanted), Text()]
    tables = [_needed(needed, units), _stands(needed, units), _travel(needed, units), _lengths(needed, units)]
    alike = _alike(had, units)
    tables += [_had(fits, units, both=len(alike) < len(had)) for fits in alike]
    for table in tables:
        if table.rows:
            told += section_parts(Section("", (table,)))[1:]
    rows = [(found.corner.coilover.name, text) for found in needed for text in trouble_texts(found, units)]
    told += [Text(f"{name}: {text}.", "bold") for name, text in both_sides(rows, signs=True)]
    return Group(*told, *(Text(line, "dim") for line in notes(needed)))


def notes(needed: Sequence[Fit]) -> list[str]:
    """What has to be known beside the numbers."""
    lines = [TYPICAL_STROKE, _typical_frequencies(), METHOD, LENGTHS]
    lines.append(WEIGHED if all(found.corner.given for found in needed) else UNWEIGHED)
    return [*lines, ENERGY, CAUTIONS[1]]


def _typical_frequencies() -> str:
    bounds = [f"{bound:.1f}" for bound in RIDE_FREQUENCY.bounds]
    spans = [f"below {bounds[0]} Hz", *(f"{low} to {high} Hz" for low, high in pairwise(bounds))]
    words = [
        f"{span} {word}" for span, word in zip([*spans, f"above {bounds[-1]} Hz"], RIDE_FREQUENCY.words, strict=True)
    ]
    return f"Typical ride frequencies, common practice, no source: {'; '.join(words)}."


def _needed(needed: Sequence[Fit], units: Length) -> TextTable:
    rows = [
        (
            found.corner.coilover.name,
            units.weight_text(found.corner.sprung),
            units.rate_text(found.rate),
            units.rate_text(found.wheel_rate),
            f"{found.frequency:.2f} Hz",
            units.force_text(found.force),
        )
        for found in needed
    ]
    heads = ("coilover", "carries", "spring rate", "wheel rate", "ride frequency", "spring pushes at ride height")
    return TextTable("The spring", heads, both_sides(rows, signs=True))


def _stands(needed: Sequence[Fit], units: Length) -> TextTable:
    rows = [
        (
            found.corner.coilover.name,
            length_text(found.length, units),
            f"{100.0 * found.bump_left:.0f} %",
            f"{100.0 * found.droop_left:.0f} %",
            length_text(found.squeezed, units),
            _preload_text(found, units),
            _perch_text(found, units),
        )
        for found in needed
    ]
    heads = (
        "coilover",
        "eye to eye",
        "stroke left up",
        "stroke left down",
        "squeezed by its load",
        "squeezed when hanging",
        "seat to move",
    )
    return TextTable("At ride height", heads, both_sides(rows, signs=True))


def _preload_text(found: Fit, units: Length) -> str:
    if any(trouble is Trouble.LOOSE for trouble, _ in found.troubles):
        return f"loose by {length_text(-found.preload, units)}"
    return length_text(max(found.preload, 0.0), units)


def _perch_text(found: Fit, units: Length) -> str:
    if found.perch is None:
        return NOTHING
    text = length_text(round(found.perch, 2), units, signed=True)
    perch = found.corner.perch
    return text if perch is None else f"{text} ({_signed(perch.turns(found.perch))} turns)"


def _signed(turns: float) -> str:
    """Turns with a sign, unless there is nothing to turn."""
    return signed_text(turns, 1) if abs(turns) >= 0.05 else "0"


def _travel(needed: Sequence[Fit], units: Length) -> TextTable:
    rows = [
        (
            found.corner.coilover.name,
            moment.place,
            NOTHING if moment.ratio is None else signed_text(moment.ratio, 3).removeprefix("+"),
            units.force_text(moment.force),
            _joule(moment.energy, units),
        )
        for found in needed
        for moment in found.moments
    ]
    heads = ("coilover", "at", "motion ratio", "spring pushes", "spring stores")
    return TextTable("Over the travel", heads, _pairs(rows))


def _pairs(rows: Sequence[tuple[str, ...]]) -> tuple[tuple[str, ...], ...]:
    """Rows of the same place on both sides as one, where they say the same."""
    merged: list[tuple[str, ...]] = []
    for word in dict.fromkeys(row[1] for row in rows):
        same = both_sides([(row[0], *row[2:]) for row in rows if row[1] == word], signs=True)
        merged += [(row[0], word, *row[1:]) for row in same]
    return tuple(sorted(merged, key=lambda row: row[0]))


def trouble_texts(found: Fit, units: Length) -> list[str]:
    """What is wrong with a spring, in words."""
    words = {
        Trouble.SOLID: "its coils touch {} before full bump",
        Trouble.SEAT: "its seat would have to go {} further than it can",
        Trouble.NARROW: "inside it is {} too narrow for the damper's body",
        Trouble.AT_END: "the damper is at its end at this height",
        Trouble.LOOSE: "it hangs loose by {} with the damper fully out: a helper spring or a strap keeps it seated",
        Trouble.NEARLY_SOLID: "at full bump its coils are only {} from touching",
        Trouble.SOLID_FULLY_IN: "its coils touch {} before the damper is fully in: the bump stop has to stop it sooner",
    }
    return [words[trouble].format(units.text(mm)) for trouble, mm in found.troubles]


def _joule(energy: float, units: Length) -> str:
    """An energy: J, or foot-pounds where lengths are in inches."""
    # 1 ft·lbf is 12 in of 25.4 mm times 4.448 N.
    return f"{energy:.0f} J" if units is Length.MM else f"{1000.0 * energy / units.moment:.0f} ft·lbf"


def _lengths(needed: Sequence[Fit], units: Length) -> TextTable:
    rows = []
    for found in needed:
        fits = free_lengths(found)
        if fits is None:
            continue
        now, low, high = fits
        rows.append(
            (
                found.corner.coilover.name,
                length_text(now, units),
                NOTHING if low == high else f"{length_text(low, units, bare=True)} to {length_text(high, units)}",
                length_text(found.most, units),
                length_text(now - found.most, units),
                NOTHING if found.spare is None else length_text(found.spare, units, signed=True),
            )
        )
    heads = (
        "coilover",
        "free length that fits now",
        "over the seat's thread",
        "squeezed, damper fully in",
        "so solid at most",
        "to spare at full bump",
    )
    return TextTable("Length of the spring", heads, both_sides(rows, signs=True))


def _alike(had: Sequence[Sequence[Fit]], units: Length) -> list[Sequence[Fit]]:
    """The lists of both sides, or one of them where they say the same."""
    if len(had) == 2 and _had_rows(had[0], units) == _had_rows(had[1], units):
        return [had[0]]
    return list(had)


def _had(fits: Sequence[Fit], units: Length, *, both: bool) -> TextTable:
    more = f"{len(fits) - MOST} more in the list." if len(fits) > MOST else ""
    caption = f"Springs of the list, the nearest first ({_named(fits, both=both)})" if fits else ""
    heads = ("spring", "rate", "ride frequency", "squeezed when hanging", "seat to move", "to spare at full bump", "")
    return TextTable(caption, heads, _had_rows(fits, units), more)


def _named(fits: Sequence[Fit], *, both: bool) -> str:
    name = fits[0].corner.coilover.name
    return both_of(name) if both and both_names(name) else name


def _had_rows(fits: Sequence[Fit], units: Length) -> tuple[tuple[str, ...], ...]:
    return tuple(
        (
            found.name,
            units.rate_text(found.rate),
            f"{found.frequency:.2f} Hz",
            _preload_text(found, units),
            _perch_text(found, units),
            NOTHING if found.spare is None else length_text(found.spare, units, signed=True),
            "; ".join(trouble_texts(found, units)) or "fits",
        )
        for found in fits[:MOST]
    )
