"""The adjusters of a mechanism in mm and rad: how far each goes, what it moves, and to which values it can be set.

A setting is how far an adjuster is from where it stands in the scene: mm of a link's length, of a stack of shims, of a
slot and of a spring's seat; rad of an eccentric's turn.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import numpy as np

from model.spatial import Array

# Two settings nearer than this, mm or rad, are one: no thread, shim or mark tells them apart.
SAME_SETTING = 1e-6
# Stacks of more pieces than this are no stacks; it bounds the search for them.
MOST_PIECES = 12


@dataclass(frozen=True)
class Engaged:
    """A thread that a link's change of length screws out: its end, mm engaged now, its diameter, its share of it."""

    end: int
    length: float
    diameter: float
    share: float

    def at(self, setting: float) -> float:
        """Mm engaged with the link longer by a setting."""
        return self.length - self.share * setting


@dataclass(frozen=True, kw_only=True)
class Adjuster:
    """One adjuster: `entry` is its name in the scene, `side` its side where it is mirrored.

    `low` and `high` bound its setting; infinite where the scene does not say.
    """

    name: str
    entry: str
    side: str | None
    low: float
    high: float

    @property
    def drives(self) -> int:
        """How many numbers say how far it has moved what it moves."""
        return 1

    def moved(self, setting: float) -> Array:
        """Those numbers (k,) in mm at a setting."""
        return np.array([setting])

    def slopes(self, setting: float) -> Array:
        """How they change with it (k,)."""
        return np.ones(1)

    @property
    def grain(self) -> float:
        """How finely it is set, mm."""
        return 0.0

    def near(self, setting: float) -> tuple[float, ...]:
        """The nearest settings below and above that it can be put to; the same one where any can."""
        return (setting,)

    def choices(self, setting: float) -> tuple[float, ...]:
        """The settings next to one that are worth a comparison."""
        return self.near(setting)

    def pieces(self, setting: float) -> int:
        """How many loose pieces it takes at a setting."""
        del setting
        return 0


def _steps(setting: float, step: float, low: float, high: float) -> tuple[float, ...]:
    """The whole steps next to a setting, inside its bounds."""
    around = (np.floor(setting / step + SAME_SETTING) * step, np.ceil(setting / step - SAME_SETTING) * step)
    return tuple(
        sorted({float(each) + 0.0 for each in around if low - SAME_SETTING <= each <= high + SAME_SETTING} or {0.0})
    )


class Turning(StrEnum):
    """What is turned to make a link longer: an end that is unbolted, the bar on two threads, the bar on one."""

    END = "one"
    BOTH = "both"
    BAR = "bar"


@dataclass(frozen=True, kw_only=True)
class Thread(Adjuster):
    """A link with threads, `length` mm long now: `lead` is what a turn changes that by, `step` the least turn.

    `end` (0 or 1) is the end whose thread it is, of a bar with two the one with the right-hand thread. `left_hand` says
    that this end has a left-hand thread; `hand_known` is false where the scene does not say. `end_words` are what its
    ends are called, such as "front".
    """

    link: str
    length: float
    lead: float
    step: float
    turning: Turning
    end: int
    left_hand: bool
    hand_known: bool
    end_words: tuple[str, str]
    threads: tuple[Engaged, ...]

    @property
    def grain(self) -> float:
        """A step of its thread."""
        return self.step * self.lead

    def turns(self, setting: float) -> float:
        """Turns at a setting; positive makes the link longer."""
        return setting / self.lead

    def near(self, setting: float) -> tuple[float, ...]:
        """Whole steps of a turn."""
        return _steps(setting, self.grain, self.low, self.high)

    def clockwise(self, setting: float, seen_from: int) -> bool:
        """Whether the turn to a setting is clockwise as seen from beyond an end (0 or 1), looking along the bar.

        On a right-hand thread what is turned clockwise goes away from the eye. A rod end that goes away from an eye
        beyond it goes into its bar: shorter. A bar that goes away from an eye beyond an end leaves that end: longer.
        """
        longer = setting > 0.0
        seen_from_end = longer == (self.turning is not Turning.END)
        return (seen_from_end != self.left_hand) == (seen_from == self.end)


@dataclass(frozen=True, kw_only=True)
class Slide(Adjuster):
    """Points on the frame (names as a member's ends have them) that move along a unit direction (3,)."""

    points: tuple[str, ...]
    direction: Array


@dataclass(frozen=True, kw_only=True)
class Slot(Slide):
    """Points in a slot; `holes` is from hole to hole, `None` where they stop anywhere."""

    holes: float | None

    @property
    def grain(self) -> float:
        """From hole to hole."""
        return self.holes or 0.0

    def near(self, setting: float) -> tuple[float, ...]:
        """The next holes."""
        return (setting,) if self.holes is None else _steps(setting, self.holes, self.low, self.high)


@dataclass(frozen=True, kw_only=True)
class Shims(Slide):
    """Points that a stack of shims moves: `fitted` mm now, of thicknesses `sizes`."""

    fitted: float
    sizes: tuple[float, ...]

    @property
    def grain(self) -> float:
        """The thinnest shim."""
        return min(self.sizes)

    @cached_property
    def stacks(self) -> dict[float, tuple[float, ...]]:
        """Every stack that can be built, by its thickness: the one with the fewest pieces."""
        most = self.fitted + self.high
        stacks: dict[float, tuple[float, ...]] = {0.0: ()}
        last = dict(stacks)
        for _ in range(MOST_PIECES):
            made = {}
            for total, pieces in last.items():
                for size in self.sizes:
                    thickness = round(total + size, 6)
                    if thickness <= most + SAME_SETTING and thickness not in stacks:
                        made[thickness] = (*pieces, size)
            if not made:
                break
            stacks |= made
            last = made
        return stacks

    def near(self, setting: float) -> tuple[float, ...]:
        """The next thinner and the next thicker stack."""
        # The stack as it is may hold other pieces.
        thick = np.unique([0.0, *(total - self.fitted for total in self.stacks)])
        below, above = thick[thick <= setting + SAME_SETTING], thick[thick >= setting - SAME_SETTING]
        return tuple(sorted({float(each) for each in (*below[-1:], *above[:1])}))

    def choices(self, setting: float) -> tuple[float, ...]:
        """The next stacks and, up to a thinnest shim farther, those of fewer pieces than all that are nearer."""
        thick = [total - self.fitted for total in self.stacks if abs(total - self.fitted - setting) <= self.grain]
        found = set(self.near(setting))
        for side in (-1.0, 1.0):
            fewest = MOST_PIECES + 1
            for each in sorted((each for each in thick if side * (each - setting) >= 0.0), key=lambda x: side * x):
                if self.pieces(each) < fewest:
                    found.add(each)
                    fewest = self.pieces(each)
        return tuple(sorted(found))

    def pieces(self, setting: float) -> int:
        """Shims in the stack; none counts where it is not built of them."""
        return len(self.stack(setting))

    def stack(self, setting: float) -> tuple[float, ...]:
        """The pieces of the stack at a setting, thickest first; none where it cannot be built of them."""
        return tuple(sorted(self.stacks.get(round(self.fitted + setting, 6), ()), reverse=True))


@dataclass(frozen=True, kw_only=True)
class Eccentric(Adjuster):
    """Points on the frame that go round the hole of a bolt, `throw` mm from its middle.

    `towards` (3,) is where they are from the middle of the hole now, `across` (3,) where a quarter turn takes them:
    right-handed about `axis` (3,), on the right of a mirrored one left-handed. `step` (rad) is from mark to mark.
    """

    points: tuple[str, ...]
    axis: Array
    towards: Array
    across: Array
    throw: float
    step: float

    @property
    def drives(self) -> int:
        """Two: along `towards` and along `across`."""
        return 2

    @property
    def grain(self) -> float:
        """From mark to mark, round its hole."""
        return self.step * self.throw

    def moved(self, setting: float) -> Array:
        """How far along `towards` and `across`, mm."""
        return self.throw * np.array([np.cos(setting) - 1.0, np.sin(setting)])

    def slopes(self, setting: float) -> Array:
        """The same for a rad."""
        return self.throw * np.array([-np.sin(setting), np.cos(setting)])

    def clockwise_along(self, setting: float) -> bool:
        """Whether the turn to a setting is clockwise as one looks along the axis."""
        return bool(setting * np.dot(np.cross(self.axis, self.towards), self.across) > 0.0)

    def near(self, setting: float) -> tuple[float, ...]:
        """The next marks."""
        return _steps(setting, self.step, self.low, self.high)


@dataclass(frozen=True, kw_only=True)
class Perch(Adjuster):
    """The seat of a coilover's spring: `pitch` mm a turn, `step` the least turn, positive towards the spring.

    `preload` is by how many mm it squeezes the spring at full extension now.
    """

    coilover: str
    preload: float
    pitch: float
    step: float
    left_hand: bool

    @property
    def drives(self) -> int:
        """None: it moves the wheel through the balance of its spring."""
        return 0

    @property
    def grain(self) -> float:
        """A step of its thread."""
        return self.step * self.pitch

    def turns(self, setting: float) -> float:
        """Turns at a setting; positive towards the spring."""
        return setting / self.pitch

    def near(self, setting: float) -> tuple[float, ...]:
        """Whole steps of a turn."""
        return _steps(setting, self.grain, self.low, self.high)
