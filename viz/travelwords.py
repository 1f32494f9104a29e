"""Usable travel in words: what goes out to both sides of ride height as one bar, its stops numbered from there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from model.reaches import Reach, Stop
from model.stops import Cause
from model.units import Length
from model.ways import Way

# Amounts, in mm or hundredths of a lock, that read alike: those of a left and a right part are told as one.
ALIKE = 0.05
PER_LOCK = 100.0
TYPICAL = "* typical limit"


class Weight(StrEnum):
    """What a stop does, in words."""

    STOPS = "stops it"
    HARMS = "harms, does not hold"
    PUSHES = "pushes back"


@dataclass(frozen=True)
class Mark:
    """One stop of a bar: `amount` from ride height in mm or % of lock, and what is said of it."""

    amount: float
    weight: Weight
    words: str


@dataclass(frozen=True)
class Side:
    """One way out from ride height; lengths in mm or % of lock, `head` says what there is of what is asked for."""

    head: str
    asked: float
    usable: float
    marks: tuple[Mark, ...]

    @property
    def extent(self) -> float:
        """How far out something is to be shown."""
        return max([self.asked, *(mark.amount for mark in self.marks)])


@dataclass(frozen=True)
class Bar:
    """Both ways of one motion, `back` drawn to the left of ride height and `out` to the right."""

    title: str
    back: Side
    out: Side
    steers: bool


def bars_of(reaches: Sequence[Reach], units: Length) -> tuple[Bar, ...]:
    """One bar for each motion: a wheel alone, both together, crossed, the steering; in the order of `reaches`."""
    pairs: dict[tuple[str, ...], dict[bool, Reach]] = {}
    for reach in reaches:
        pairs.setdefault(_motion(reach), {})[_drawn_out(reach)] = reach
    return tuple(
        Bar(_title(pair[True]), _side(pair[False], units), _side(pair[True], units), pair[True].way is Way.LOCK)
        for pair in pairs.values()
        if len(pair) == 2
    )


def telling(reaches: Sequence[Reach]) -> tuple[Reach, ...]:
    """Ways that a short account needs: straight ahead, the steering, and at full lock what ends early either way."""
    early = {_motion(reach) for reach in reaches if min(reach.usable, reach.unharmed) < reach.asked}
    return tuple(reach for reach in reaches if reach.steer == 0.0 or reach.way is Way.LOCK or _motion(reach) in early)


def _motion(reach: Reach) -> tuple[str, ...]:
    """What two opposite ways have in common."""
    if reach.way is Way.LOCK:
        return ("steering",)
    crossed = "crossed" if reach.way is Way.ROLL else "level"
    return (crossed, *sorted(reach.wheels), f"{reach.steer}")


def _drawn_out(reach: Reach) -> bool:
    """Whether a way is drawn to the right: up, left wheel up, right lock."""
    if reach.way is Way.LOCK:
        return reach.steer < 0.0
    return reach.way is Way.BUMP or (reach.way is Way.ROLL and reach.wheels[0] == "left")


def _title(reach: Reach) -> str:
    if reach.way is Way.LOCK:
        return "steering, wheels at ride height"
    held = "" if reach.steer == 0.0 else f", full {'left' if reach.steer > 0.0 else 'right'} lock"
    if reach.way is Way.ROLL:
        return f"crossed, by the wheel that goes up{held}"
    return f"both wheels{held}" if len(reach.wheels) == 2 else f"{reach.wheels[0]} wheel alone{held}"


def _side(reach: Reach, units: Length) -> Side:
    scale = PER_LOCK if reach.way is Way.LOCK else 1.0
    return Side(
        head=f"{_way_text(reach)}: {_reach_text(reach, units)}",
        asked=scale * reach.asked,
        usable=scale * reach.usable,
        marks=tuple(_mark(stops, reach, units) for stops in _alike(reach, scale)),
    )


def way_words(reach: Reach) -> str:
    """A way out in words: "both wheels, up"."""
    return f"{_title(reach)}, {_way_text(reach)}"


def _way_text(reach: Reach) -> str:
    if reach.way is Way.LOCK:
        return "to the left" if reach.steer > 0.0 else "to the right"
    if reach.way is Way.ROLL:
        return f"{reach.wheels[0]} up, {reach.wheels[1]} down"
    return "up" if reach.way is Way.BUMP else "down"


def amount_text(reach: Reach, amount: float, units: Length) -> str:
    """A travel for a person: a length, or a share of lock."""
    return f"{PER_LOCK * amount:.0f} % of lock" if reach.way is Way.LOCK else units.text(amount)


def _reach_text(reach: Reach, units: Length) -> str:
    """What there is of the travel asked for."""
    asked = amount_text(reach, reach.asked, units)
    harmed = "" if reach.unharmed >= reach.usable else f", unharmed to {amount_text(reach, reach.unharmed, units)}"
    if reach.stopped:
        return f"usable {amount_text(reach, reach.usable, units)} of {asked} asked for{harmed}"
    if reach.way is Way.LOCK:
        return f"as far as its lock{harmed}"
    if harmed:
        return f"all of {asked} asked for{harmed}"
    return f"nothing stops it inside the {asked} asked for"


def _alike(reach: Reach, scale: float) -> list[list[Stop]]:
    """Stops, with a left and a right part that do the same at the same place as one."""
    groups: list[list[Stop]] = []
    for stop in reach.stops:
        twin = next(
            (
                group
                for group in groups
                if len(group) == 1
                and group[0].cause is stop.cause
                and {group[0].where.partition(" ")[0], stop.where.partition(" ")[0]} == {"left", "right"}
                and group[0].where.partition(" ")[2] == stop.where.partition(" ")[2]
                and scale * (stop.amount - group[0].amount) < ALIKE
            ),
            None,
        )
        if twin is None:
            groups.append([stop])
        else:
            twin.append(stop)
    return groups


def _mark(stops: Sequence[Stop], reach: Reach, units: Length) -> Mark:
    stop = stops[0]
    where = stop.where if len(stops) == 1 else f"left and right {stop.where.partition(' ')[2]}"
    weight = Weight.PUSHES if stop.cause is Cause.BUMP_STOP else Weight.STOPS if stop.cause.hard else Weight.HARMS
    near = "at ride height" if stop.amount == 0.0 else amount_text(reach, stop.amount, units)
    words = f"{near}, {stop.cause}{'*' * stop.typical}: {where}"
    return Mark((PER_LOCK if reach.way is Way.LOCK else 1.0) * stop.amount, weight, words)


def spread(ticks: Sequence[float], outward: float, room: tuple[float, float], apart: float) -> list[float]:
    """Places for tags as near their ticks as they can be `apart` from each other inside `room`, in the same order.

    `ticks` run outwards from ride height, to the right where `outward` is 1 and to the left where it is −1. Tags that
    do not fit into the room share it out evenly.
    """
    if not ticks:
        return []
    near, far = sorted(outward * edge for edge in room)
    apart = min(apart, (far - near) / max(len(ticks) - 1, 1))
    places: list[float] = []
    for tick in ticks:
        places.append(max(outward * tick, places[-1] + apart if places else near))
    limit = far
    for number in reversed(range(len(places))):
        places[number] = min(places[number], limit)
        limit = places[number] - apart
    return [outward * place for place in places]
