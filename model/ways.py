"""The ways out from ride height: straight lines through the drive values, to the end of the travel asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import product

import numpy as np

from model.mechanism import Drive, Mechanism
from model.spatial import Array


class Way(StrEnum):
    """Which way a suspension goes from ride height."""

    BUMP = "bump"
    DROOP = "droop"
    ROLL = "roll"
    LOCK = "lock"


@dataclass(frozen=True)
class WayOut:
    """Drive values (D,) at ride height and at the travel asked for, which is `asked` mm or a share of lock."""

    way: Way
    wheels: tuple[str, ...]
    steer: float
    start: Array
    to: Array
    asked: float


def ways_out(mechanism: Mechanism) -> tuple[WayOut, ...]:
    """Every way out, straight ahead first, then at full left and right lock, then the steering itself."""
    steer, still = mechanism.steer, np.zeros(len(mechanism.drives))
    wheels = [(column, drive) for column, drive in enumerate(mechanism.drives) if column != steer]
    held = [0.0] if steer is None else [0.0, mechanism.drives[steer].high, mechanism.drives[steer].low]
    lines = []
    for lock, ends in product(held, _wheel_ends(wheels)):
        start = still.copy()
        if steer is not None:
            start[steer] = lock
        to = start.copy()
        for column, end in ends:
            to[column] = end
        risen, fallen = ([each for each in ends if up == (each[1] > 0.0)] for up in (True, False))
        way = Way.ROLL if risen and fallen else Way.BUMP if risen else Way.DROOP
        sides = tuple(mechanism.drives[column].name for column, _ in (*risen, *fallen))
        lines.append(WayOut(way, sides, lock, start, to, abs((*risen, *fallen)[0][1])))
    if steer is not None:
        for end in (mechanism.drives[steer].high, mechanism.drives[steer].low):
            to = still.copy()
            to[steer] = end
            lines.append(WayOut(Way.LOCK, (), end, still, to, abs(end)))
    return tuple(lines)


def _wheel_ends(wheels: Sequence[tuple[int, Drive]]) -> list[list[tuple[int, float]]]:
    """Columns and ends of what moves: each wheel up and down, both up and down, crossed both ways."""
    ends = [[(column, end)] for column, drive in wheels for end in (drive.high, drive.low)]
    if len(wheels) == 2:
        (left, of_left), (right, of_right) = wheels
        ends += [
            [(left, a), (right, b)]
            for a, b in (
                (of_left.high, of_right.high),
                (of_left.low, of_right.low),
                (of_left.high, of_right.low),
                (of_left.low, of_right.high),
            )
        ]
    return ends
