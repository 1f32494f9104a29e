"""Which parts pass a load on, and to what: plain arms and links cost no unknown and stand between bodies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from model.mechanism import Arm, End, Link, Mechanism
from model.members import Posture
from model.pushes import Push, Wrench, by_arm, by_two_ends, by_two_pivots, force_at, moment_about, push, sum_of
from model.spatial import Array


@dataclass(frozen=True, eq=False)
class Paths:
    """The plain arms and links of a mechanism by name, and where every part is in N poses."""

    now: Posture
    arms: dict[str, Arm]
    links: dict[str, Link]

    @classmethod
    def of(cls, mechanism: Mechanism, now: Posture) -> Paths:
        """Those of a mechanism; links that move the arm of an anti-roll bar are none."""
        bodies = {body.name for body in mechanism.bodies}
        bar_arms = {arm for bar in mechanism.bars for arm in bar.arms}
        links = [link for link in mechanism.links if not bar_arms & {end.on for end in link.ends}]
        return cls(
            now,
            {arm.name: arm for arm in mechanism.arms if not arm.body},
            {link.name: link for link in links if link.name not in bodies},
        )

    def place(self, on: str, at: Array) -> Array:
        """Where a ride-height point (3,) of a part is, (N, 3)."""
        return self.now.parts[on].point(at)

    def end(self, end: End) -> Array:
        """Where an end is, (N, 3), on what it is bolted to."""
        return self.place(end.on, end.at)

    def passed_on(self, name: str, wrench: Wrench) -> list[tuple[str, Wrench]]:
        """What a wrench (N, 6) on a part does to bodies."""
        if name in self.arms:
            arm = self.arms[name]
            ball, pivots = self.outer(arm), self.pivots(arm)
            to_ball = force_at(by_arm(wrench, pivots, self.end(ball)), self.end(ball))
            return [(ball.on, to_ball), (arm.on, wrench - to_ball)]
        if name in self.links:
            first, second = self.links[name].ends
            near, far = by_two_ends(wrench, self.end(first), self.end(second))
            return [(first.on, near), (second.on, far)]
        return [(name, wrench)]

    def outer(self, arm: Arm) -> End:
        """The ball joint of a plain arm."""
        if arm.ball is None:
            raise AssertionError("an arm without a ball joint is a body")  # assembly makes it one
        return arm.ball

    def pivots(self, arm: Arm) -> tuple[Array, Array]:
        """Where both pivots of an arm are, (N, 3)."""
        return self.end(arm.pivots[0]), self.end(arm.pivots[1])

    def arm_pushes(self, arm: Arm, on_it: Sequence[Push], held: Array) -> list[Push]:
        """What a plain arm does at its joints: `held` (N, 3) is what its two lengths do to its ball joint."""
        ball, (first, second) = self.outer(arm), self.pivots(arm)
        at, load = self.end(ball), sum_of(on_it, len(held))
        force = held + by_arm(load, (first, second), at)
        forces = by_two_pivots(load - force_at(force, at), first, second)
        pivots = [
            push(arm.name, pivot.place, pivot.on, place, each)
            for pivot, place, each in zip(arm.pivots, (first, second), forces, strict=True)
        ]
        return [*pivots, push(arm.name, ball.place, ball.on, at, force)]

    def link_pushes(self, link: Link, on_it: Sequence[Push]) -> list[Push]:
        """What a plain link does at its ends of what acts on it between them."""
        if not on_it:
            return []
        first, second = (self.end(end) for end in link.ends)
        both = by_two_ends(sum_of(on_it, len(first)), first, second)
        return [
            push(link.name, end.place, end.on, at, each[:, :3], moment_about(each, at))
            for end, at, each in zip(link.ends, (first, second), both, strict=True)
        ]
