"""What a place for a coilover comes to, in words: the answer first, then how far it moves, its spring, its forces."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from model.comparison import Comparison
from model.cycles import Cycle
from model.forces import MountLoad
from model.mechanism import Mechanism
from model.motionratio import MotionRatio
from model.mounting import Mounting, same_rate
from model.spatial import Array
from model.units import Length
from viz.comparewords import CHANGES, FIRST, SECOND, bare
from viz.loadwords import FOR_COMPARISON, SHORT_NOTE, Said, forces_said
from viz.tables import TextTable, both_sides
from viz.words import MINUS, NOTHING

LENGTH_WORD = {Length.MM: "mm", Length.INCH: "inch"}
# A part of a force that is less than this share of the whole is not told.
LEAST_PART = 0.05
# Forces and moments that differ by less than this share of the larger push alike: springs are made to some 5 % of
# their rate (typical, from memory).
ALIKE = 0.05
# Forces (N) below this do not matter beside what a wheel carries.
LEAST_FORCE = 10.0
# A mount that is nearer to the vehicle's middle, mm, is on its centre line: scenes are measured to a mm.
MIDDLE = 0.5
BUMP_NOTE = (
    "Full bump is three times the weight at rest with the wheels as far up as the scene lets them (a typical case, "
    "common practice, no source)."
)
RATE_NOTE = (
    "A motion ratio is how far the coilover moves for each mm of the wheel, both together or, crossed up, one up and "
    "the other as far down; none is better by itself. Wheel rates are at ride height, both wheels together: spring "
    "rate × ratio², and spring force × how the ratio changes (a ratio that grows with bump stiffens it)."
)
ARM_NOTE = "What bends a frame tube is the force times its distance from the tube's middle line."

Pairs = dict[tuple[str, str], tuple[MountLoad, MountLoad]]


def answer_lines(compared: Comparison, units: Length) -> tuple[str, ...]:
    """What the two places for a coilover differ by, in a few sentences; nothing where they do the same."""
    rows = [(first.coilover, *_answer(compared, first, second, units)) for first, second in compared.mountings]
    # Sentence by sentence: what left and right do alike is said once, even where they do not do all alike.
    most = max((len(row) for row in rows), default=1)
    told = both_sides([(row[0], row[number]) for number in range(1, most) for row in rows if number < len(row)])
    alone = len({name for name, _ in told}) == 1
    return tuple(sentence if alone else f"{name}: {sentence}" for name, sentence in told)


def mount_table(compared: Comparison, units: Length) -> TextTable:
    """How far coilovers move, what springs that takes and what stroke is left, in both."""
    rows = [row for first, second in compared.mountings for row in _mount_rows(compared, first, second, units)]
    if rows:
        rows += _frequency_rows(compared)
    differ = any(row[1] != row[2] for row in rows)
    return TextTable("Coilover and spring", CHANGES, both_sides(rows) if differ else (), RATE_NOTE)


def force_table(compared: Comparison, units: Length) -> TextTable:
    """What members push the frame with at rest and at full bump, where that differs, coilovers first."""
    rest, bump = (_paired(*(getattr(loads, case) for loads in compared.loads)) for case in ("rest", "bump"))
    coilovers = {first.coilover for first, _ in compared.mountings}
    rows: list[tuple[str, ...]] = []
    for place in sorted(rest, key=lambda place: place[0] not in coilovers):
        if all(_alike(*pairs[place]) for pairs in (rest, bump)):
            continue
        for words, pairs in (("at rest", rest), ("at full bump", bump)):
            rows += _force_rows(place, words, *pairs[place], units)
    notes = [FOR_COMPARISON, BUMP_NOTE, ARM_NOTE] if rows else [f"Forces are not told: {_why(compared)}"]
    return TextTable("What pushes the frame", CHANGES, both_sides(rows), " ".join(notes))


def _why(compared: Comparison) -> str:
    known = next((loads.why for loads in compared.loads if loads.why), "")
    return known or "they do not differ."


def _answer(compared: Comparison, first: Mounting, second: Mounting, units: Length) -> Iterator[str]:
    """The sentences on one coilover; none where its ratio is the same to what is printed."""
    ratios = [f"{each.ratio:.2f}" for each in (first, second)]
    if ratios[0] == ratios[1] and not _elsewhere(compared, first.coilover):
        return
    length = LENGTH_WORD[units]
    yield (
        f"For each {length} of wheel the coilover moves {ratios[0]} {length} in {FIRST} and {ratios[1]} {length} in "
        f"{SECOND}."
    )
    rate = same_rate(first, second)
    if rate is not None and first.rate is not None:
        wanted, mine = units.rate_text(rate), units.rate_text(first.rate)
        too = " and ride frequency" if compared.first.mechanism.weights == compared.second.mechanism.weights else ""
        yield (
            f"For the same wheel rate{too} {SECOND} needs a spring of {wanted}, {rate / first.rate:.2f} "
            f"times the {mine} of {FIRST}."
        )
    forces = [_top_force(loads.rest, first.coilover) for loads in compared.loads]
    bumps = [_top_force(loads.bump, first.coilover) for loads in compared.loads]
    if None not in forces and None not in bumps:
        pushes = [force or 0.0 for force in (*forces, *bumps)]
        texts = [*map(forces_said(pushes, units), pushes)]
        yield (
            f"The coilover pushes the frame with {texts[0]} in {FIRST} and {texts[1]} in {SECOND} at rest, {texts[2]} "
            f"and {texts[3]} at full bump ({SHORT_NOTE})."
        )
    for letter, review in ((FIRST, compared.first), (SECOND, compared.second)):
        link = _link_under(review.mechanism, first.coilover)
        if link is not None:
            yield f"In {letter} the spring bends the {bare(link)} that it stands on, which has to be made for that."


def _elsewhere(compared: Comparison, coilover: str) -> bool:
    """Whether an eye of a coilover is elsewhere in the second."""
    one, other = (
        next(each for each in review.mechanism.coilovers if each.name == coilover)
        for review in (compared.first, compared.second)
    )
    ends = zip((one.top, one.bottom), (other.top, other.bottom), strict=True)
    return any(mine.on != theirs.on or bool((mine.at != theirs.at).any()) for mine, theirs in ends)


def _link_under(mechanism: Mechanism, coilover: str) -> str | None:
    """The link that a coilover stands on, if it does."""
    unit = next(each for each in mechanism.coilovers if each.name == coilover)
    links = {link.name for link in mechanism.links}
    return next((end.on for end in (unit.bottom, unit.top) if end.on in links), None)


def _top_force(loads: Mapping[tuple[str, str], MountLoad], coilover: str) -> float | None:
    sizes = [float(np.linalg.norm(load.force)) for (member, _), load in loads.items() if member == coilover]
    return max(sizes, default=None)


def _mount_rows(compared: Comparison, first: Mounting, second: Mounting, units: Length) -> Iterator[tuple[str, ...]]:
    name = first.coilover

    def row(what: str, one: str, other: str) -> tuple[str, ...]:
        return f"{name}: {what}", one, other, NOTHING

    yield row("motion ratio", f"{first.ratio:.3f}", f"{second.ratio:.3f}")
    for one, other in (pair for pair in compared.ratios if pair[0].coilover == name):
        if one.run is Cycle.CROSS:
            yield row("motion ratio, crossed up", f"{one.ride:.3f}", f"{other.ride:.3f}")
        else:
            yield row("motion ratio, from full droop to full bump", *(_ends_text(each) for each in (one, other)))
    if first.rate is not None and second.rate is not None:
        yield row("spring", *(units.rate_text(rate) for rate in (first.rate, second.rate)))
        rate = same_rate(first, second)
        yield row(
            f"spring for the wheel rate of {FIRST}",
            units.rate_text(first.rate),
            "none does that" if rate is None else units.rate_text(rate),
        )
    if first.wheel_rate is not None and second.wheel_rate is not None:
        yield row("wheel rate", *(units.rate_text(rate) for rate in (first.wheel_rate, second.wheel_rate)))
    yield row("stroke to go at ride height", *(_room_text(each, units) for each in (first, second)))


def _ends_text(ratio: MotionRatio) -> str:
    """The ratio at full droop and at full bump, and by how much it changes."""
    share = 100.0 * (ratio.bump / ratio.droop - 1.0)
    return f"{ratio.droop:.3f} to {ratio.bump:.3f} ({share:+.0f} %)".replace("-", MINUS)


def _room_text(each: Mounting, units: Length) -> str:
    return f"{units.text(each.room_in)} in, {units.text(each.room_out)} out"


def _frequency_rows(compared: Comparison) -> list[tuple[str, ...]]:
    one, other = compared.frequencies
    if one is None or other is None:
        return []
    return [("ride frequency on these springs", f"{one:.2f} Hz", f"{other:.2f} Hz", NOTHING)]


def _paired(first: Mapping[tuple[str, str], MountLoad], second: Mapping[tuple[str, str], MountLoad]) -> Pairs:
    return {place: (first[place], second[place]) for place in first if place in second}


def _alike(first: MountLoad, second: MountLoad) -> bool:
    """Whether two push alike: nearly the same way, as hard, and as far off the tube."""
    apart = float(np.linalg.norm(second.force - first.force))
    moments = [0.0 if each.lever is None else float(np.linalg.norm(each.lever.moment)) for each in (first, second)]
    sizes = [float(np.linalg.norm(each.force)) for each in (first, second)]
    return apart <= max(ALIKE * max(sizes), LEAST_FORCE) and abs(moments[1] - moments[0]) <= ALIKE * max(moments)


def _force_rows(
    place: tuple[str, str], words: str, first: MountLoad, second: MountLoad, units: Length
) -> Iterator[tuple[str, ...]]:
    name = f"{place[0]}, {place[1]}"
    sizes = [float(np.linalg.norm(each.force)) for each in (first, second)]
    said = forces_said(sizes, units)
    yield (f"{name}: {words}", *(push_text(each, said) for each in (first, second)), _smaller(sizes))
    if first.lever is not None and second.lever is not None:
        moments = [float(np.linalg.norm(each.lever.moment)) for each in (first, second) if each.lever is not None]
        texts = [
            f"{units.moment_text(moment)} on the {bare(each.lever.path)}, {units.text(each.lever.arm)} off its middle"
            for moment, each in zip(moments, (first, second), strict=True)
            if each.lever is not None
        ]
        yield f"{name}: bends, {words}", texts[0], texts[1], _smaller(moments)


def _smaller(sizes: list[float]) -> str:
    """The letter of the smaller one, unless both are nearly alike."""
    if abs(sizes[1] - sizes[0]) <= ALIKE * max(sizes):
        return NOTHING
    return FIRST if sizes[0] < sizes[1] else SECOND


def push_text(load: MountLoad, said: Said) -> str:
    """How hard and which way a member pushes: "3556 N: 3501 N up, 625 N in"; in is towards the vehicle's middle.

    On the vehicle's centre line there is no in and out: sideways is left or right there.
    """
    size = float(np.linalg.norm(load.force))
    parts = sorted(_parts(load.force, float(load.at[1])), key=lambda part: -part[0])
    told = ", ".join(f"{said(part)} {way}" for part, way in parts if part > LEAST_PART * size)
    return f"{said(size)}: {told}" if told else said(size)


def _parts(force: Array, left: float) -> Iterator[tuple[float, str]]:
    """The parts of a force (3,) with the way each goes; `left` is how far left of the middle it acts."""
    ahead, side, up = force.tolist()
    across = (side, "left", "right") if abs(left) < MIDDLE else (side if left > 0.0 else -side, "out", "in")
    for size, more, less in ((ahead, "forward", "back"), across, (up, "up", "down")):
        yield abs(size), more if size > 0.0 else less
