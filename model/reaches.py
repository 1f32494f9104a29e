"""What stops a suspension on the way out, and how far it gets: the records of `model.usable`."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from model.stops import Cause
from model.ways import Way, WayOut


@dataclass(frozen=True)
class Stop:
    """Something that is passed on the way out, `amount` from ride height, in the unit of its `Reach`.

    `drives` (D,) are the drive values there and `at` (3,) is the place, in mm. `typical` is true where the limit is not
    the scene's own.
    """

    cause: Cause
    where: str
    part: str
    amount: float
    drives: tuple[float, ...]
    at: tuple[float, float, float]
    typical: bool
    source: str


@dataclass(frozen=True)
class Reach:
    """How far a suspension gets one way.

    `wheels` are the sides that move, those that go up first; none where it is the steering that moves. `steer` is where
    the steering is held. `asked`, `usable` and `looked` are mm of travel of the first of these wheels, or a share of
    lock: what the scene asks for, how much of that there is before a hard stop, and how far out was looked. Roll takes
    each wheel to the end of its own travel at once. `stops` are all that were found, nearest first. `to` (D,) are the
    drive values at `asked`.
    """

    way: Way
    wheels: tuple[str, ...]
    steer: float
    asked: float
    usable: float
    looked: float
    to: tuple[float, ...]
    stops: tuple[Stop, ...]

    @property
    def rising(self) -> tuple[str, ...]:
        """Sides of the wheels that go up."""
        return {Way.BUMP: self.wheels, Way.ROLL: self.wheels[:1]}.get(self.way, ())

    @property
    def stopped(self) -> bool:
        """Whether a hard stop comes before the end of the travel asked for."""
        return self.usable < self.asked

    @property
    def unharmed(self) -> float:
        """How far it goes before anything at all but a bump stop is passed, at most what is asked for."""
        return min([self.asked, *(stop.amount for stop in self.stops if stop.cause.harms)])


def in_order(stops: Iterable[Stop]) -> list[Stop]:
    """Stops, nearest first; of the same at the same place, such as a tyre and its rim, the nearest."""
    nearest: dict[tuple[Cause, str], Stop] = {}
    for stop in sorted(stops, key=lambda stop: (stop.amount, stop.where, stop.cause)):
        nearest.setdefault((stop.cause, stop.where), stop)
    return list(nearest.values())


def reach_along(line: WayOut, stops: Sequence[Stop], looked: float) -> Reach:
    """What a way's stops, nearest first, make of it, followed to the share `looked` of the travel asked for."""
    hard = [stop.amount for stop in stops if stop.cause.hard]
    return Reach(
        way=line.way,
        wheels=line.wheels,
        steer=line.steer,
        asked=line.asked,
        usable=min([line.asked, *hard]),
        looked=looked * line.asked,
        to=tuple(line.to.tolist()),
        stops=tuple(stops),
    )
