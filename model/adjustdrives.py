"""A mechanism in which each adjuster is one more drive, so that the solver walks from one setting to another.

No kind of row is added for it. Points on the frame that shims, a slot or an eccentric move go on a body of their own,
a carrier, that only a driven offset moves. A link with threads becomes a body: its eye keeps the far end, and along the
bar a driven offset, seen from the bar, sets how far the near part stands from where it stood. Where joints give, the
eye that is screwed sits on a carrier of its own instead, which slides along the link; of a link that is a spring along
its length the body is the threaded part, kept on the line through both ends, and the spring goes from there.

What an arm with a moved pivot was as two distances, it becomes as a body, so that its pivots can move apart from each
other. Only the `set` command sees such a mechanism.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from model.adjustable import Adjuster, Eccentric, Slide, Thread
from model.mechanism import (
    FRAME,
    Anchor,
    Arm,
    Body,
    Distance,
    Drive,
    End,
    Link,
    Mechanism,
    Motion,
    Offset,
    Row,
    Square,
)
from model.spatial import Array, square_to, unit


@dataclass(frozen=True, eq=False)
class Adjustable:
    """A mechanism with drives for its adjusters: which of its drives (k) each of them has.

    `carriers` are the bodies by which points on the frame move.
    """

    mechanism: Mechanism
    columns: Mapping[str, tuple[int, ...]]
    carriers: frozenset[str]


def adjustable(mechanism: Mechanism, adjusters: Sequence[Adjuster]) -> Adjustable:
    """The mechanism in which some of its adjusters are drives."""
    bench = _Bench(mechanism)
    for each in adjusters:
        if isinstance(each, Slide):
            bench.carry(each, each.points, [each.direction])
        elif isinstance(each, Eccentric):
            bench.carry(each, each.points, [each.towards, each.across])
    bench.free_arms()
    for each in adjusters:
        if isinstance(each, Thread):
            bench.thread(each)
    return Adjustable(bench.mechanism(), bench.columns, frozenset(name for _, _, name in bench.carried))


class _Bench:
    """Bodies, rows, drives and members as they change."""

    def __init__(self, mechanism: Mechanism) -> None:
        self.was = mechanism
        self.bodies, self.rows, self.drives = list(mechanism.bodies), list(mechanism.rows), list(mechanism.drives)
        self.links, self.arms, self.coilovers = mechanism.links, mechanism.arms, mechanism.coilovers
        self.bushings, self.elastic = list(mechanism.bushings), list(mechanism.elastic_links)
        self.columns: dict[str, tuple[int, ...]] = {}
        self.frame = mechanism.body_number(FRAME)
        self.carried: list[tuple[Array, int, str]] = []

    def body(self, name: str) -> int:
        """A new free body."""
        self.bodies.append(Body(name, Motion.FREE))
        return len(self.bodies) - 1

    def drive(self, adjuster: Adjuster) -> tuple[int, ...]:
        """New drives for an adjuster; they are bounded in its settings, not here."""
        first = len(self.drives)
        names = [f"{adjuster.name} {number + 1}" for number in range(adjuster.drives)]
        self.drives += [Drive(name, -np.inf, np.inf) for name in names]
        self.columns[adjuster.name] = tuple(range(first, len(self.drives)))
        return self.columns[adjuster.name]

    def fix(self, member: str, base: int, tip: int, at: Array, driven: Sequence[tuple[Array, int]]) -> None:
        """Six rows that keep a body on another, but for drives along directions (3,) square to each other."""
        along = [direction for direction, _ in driven]
        for direction, column in driven:
            self.rows.append(Offset(member, direction, Anchor(base, at), Anchor(tip, at), column))
        # What is left of space: the rest of an orthogonal basis that begins with the driven directions.
        basis = np.linalg.svd(np.array(along))[2][len(along) :]
        self.rows += [Offset(member, direction, Anchor(base, at), Anchor(tip, at)) for direction in basis]
        x, y, z = np.eye(3)
        self.rows += [Square(member, base, a, tip, b) for a, b in ((x, y), (y, z), (z, x))]

    def carry(self, adjuster: Adjuster, points: tuple[str, ...], directions: Sequence[Array]) -> None:
        """Points on the frame go on a carrier that drives move along directions."""
        name = f"carrier of {adjuster.name}"
        number, places = self.body(name), self._places(points)
        drives = self.drive(adjuster)
        self.fix(adjuster.name, self.frame, number, places[0], list(zip(directions, drives, strict=True)))
        own = self.rows[-6:]
        self.carried += [(at, number, name) for at in places]
        self.rows = [row if any(row is kept for kept in own) else self._on_carrier(row) for row in self.rows]
        self.links = tuple(
            replace(link, ends=(self._end(link.ends[0]), self._end(link.ends[1]))) for link in self.links
        )
        self.arms = tuple(self._arm(arm) for arm in self.arms)
        self.coilovers = tuple(
            replace(unit_, top=self._end(unit_.top), bottom=self._end(unit_.bottom)) for unit_ in self.coilovers
        )
        self.bushings = [
            replace(bush, end=self._end(bush.end), holder=self._body_at(bush.holder, bush.end.at))
            for bush in self.bushings
        ]
        self.elastic = [
            replace(
                link,
                ends=(self._end(link.ends[0]), self._end(link.ends[1])),
                bodies=(
                    self._body_at(link.bodies[0], link.ends[0].at),
                    self._body_at(link.bodies[1], link.ends[1].at),
                ),
            )
            for link in self.elastic
        ]

    def _places(self, points: tuple[str, ...]) -> list[Array]:
        """Where named points of the frame are."""
        found = {name: at for name, _, at in self.was.points}
        return [found[name] for name in points]

    def _body_at(self, body: int, at: Array) -> int:
        """The carrier of a place (3,) on the frame, or the body itself."""
        if body != self.frame:
            return body
        return next((number for place, number, _ in self.carried if np.array_equal(place, at)), body)

    def _end(self, end: End) -> End:
        """An end on the carrier of its place, if it has one."""
        body = self._body_at(self.frame, end.at)
        return replace(end, on=self.bodies[body].name) if end.on == FRAME and body != self.frame else end

    def _arm(self, arm: Arm) -> Arm:
        pivots = self._end(arm.pivots[0]), self._end(arm.pivots[1])
        return replace(arm, pivots=pivots, ball=None if arm.ball is None else self._end(arm.ball))

    def _on_carrier(self, row: Row) -> Row:
        """A row whose anchors on the frame are on carriers."""

        def moved(anchor: Anchor) -> Anchor:
            return replace(anchor, body=self._body_at(anchor.body, anchor.at))

        match row:
            case Distance(a=a, b=b):
                return replace(row, a=moved(a), b=moved(b))
            case Offset(base=base, tip=tip) if row.drive is None:
                return replace(row, base=moved(base), tip=moved(tip))
        return row

    def free_arms(self) -> None:
        """Plain arms with a pivot on a carrier become bodies on a hinge."""
        carriers = {name for _, _, name in self.carried}
        self.arms = tuple(
            self._hinged(arm) if not arm.body and {end.on for end in arm.pivots} & carriers else arm
            for arm in self.arms
        )

    def _hinged(self, arm: Arm) -> Arm:
        if arm.ball is None:
            raise AssertionError("an arm without a ball joint is a body")  # assembly makes it one
        self.rows = [row for row in self.rows if row.member != arm.name]
        number = self.body(arm.name)
        axis = unit(arm.pivots[1].at - arm.pivots[0].at)
        side = square_to(axis)
        across = np.array([side, np.cross(axis, side)])
        for end, directions in zip(arm.pivots, (np.eye(3), across), strict=True):
            self._together(arm.name, self._number(end.on), number, end.at, directions)
        self._together(arm.name, number, self._number(arm.ball.on), arm.ball.at, np.eye(3))
        return replace(arm, body=True)

    def _number(self, name: str) -> int:
        return next(number for number, body in enumerate(self.bodies) if body.name == name)

    def _together(self, member: str, base: int, tip: int, at: Array, directions: Array) -> None:
        self.rows += [Offset(member, direction, Anchor(base, at), Anchor(tip, at)) for direction in directions]

    def thread(self, thread: Thread) -> None:
        """A link gets a drive that makes it longer."""
        link = next(link for link in self.links if link.name == thread.link)
        (column,) = self.drive(thread)
        if any(bush.member == link.name for bush in self.bushings):
            self._sliding_eye(thread, link, column)
            return
        first, second = self._ends_of(link)
        number = self.body(link.name)
        outward = unit(first.at - second.at)
        side = square_to(outward)
        over = np.cross(outward, side)
        self.rows.append(Offset(link.name, outward, Anchor(number, first.at), first, column))
        self._bar(link.name, number, first, np.array([side, over]))
        self.rows.append(Square(link.name, number, side, first.body, over))
        spring = next((each for each in self.elastic if each.member == link.name), None)
        if spring is None:
            self._bar(link.name, number, second, np.eye(3))
        else:
            line = np.array([side, over])
            self.rows += [Offset(link.name, each, Anchor(number, first.at), second) for each in line]
            self.elastic = [
                replace(each, bodies=(number, each.bodies[1])) if each is spring else each for each in self.elastic
            ]

    def _bar(self, member: str, bar: int, end: Anchor, directions: Array) -> None:
        """Rows that keep an end on the bar along directions (k, 3) of the bar."""
        self.rows += [Offset(member, direction, Anchor(bar, end.at), end) for direction in directions]

    def _ends_of(self, link: Link) -> tuple[Anchor, Anchor]:
        """What a link's two ends are on; its row goes."""
        row = next((each for each in self.rows if isinstance(each, Distance) and each.member == link.name), None)
        if row is not None:
            self.rows = [each for each in self.rows if each is not row]
            return row.a, row.b
        spring = next(each for each in self.elastic if each.member == link.name)
        return Anchor(spring.bodies[0], link.ends[0].at), Anchor(spring.bodies[1], link.ends[1].at)

    def _sliding_eye(self, thread: Thread, link: Link, column: int) -> None:
        """The eye of the second end of a link on bushes slides along it on a carrier."""
        end = link.ends[1]
        bar, number = self._number(link.name), self.body(f"eye of {thread.name}")
        outward = unit(end.at - link.ends[0].at)
        self.fix(thread.name, bar, number, end.at, [(outward, column)])
        self.bushings = [
            replace(bush, part=number) if bush.member == link.name and bush.end.place == end.place else bush
            for bush in self.bushings
        ]

    def mechanism(self) -> Mechanism:
        """What has become of it."""
        return replace(
            self.was,
            bodies=tuple(self.bodies),
            rows=tuple(self.rows),
            drives=tuple(self.drives),
            links=self.links,
            arms=self.arms,
            coilovers=self.coilovers,
            bushings=tuple(self.bushings),
            elastic_links=tuple(self.elastic),
        )
