"""Named values over poses and what they are judged against: other rooms yield them, `model.findings` judges them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from model.limits import CLOSE_SHARE, Limit
from model.mechanism import End
from model.spatial import Array

# What is measured of two parts that may touch.
GAP = "gap"
# Drive values this near are the same.
SAME_DRIVE = 1e-9


class Quantity(StrEnum):
    """What kind of number a measure holds: an angle in rad, a length in mm, an angular acceleration in rad/s²."""

    ANGLE = "angle"
    LENGTH = "length"
    ACCELERATION = "acceleration"


@dataclass(frozen=True)
class Bound:
    """What values may not pass, in the measure's unit: at most `limit`, or at least where `least` is true.

    From `close` on it is worth a look. `typical` is true where the figure is not the scene's own. Past the limit of an
    `advice` is close and never over: what misses it wears, hums or works badly, and still moves.
    """

    limit: float
    close: float
    typical: bool
    source: str
    least: bool = False
    advice: bool = False


@dataclass(frozen=True)
class Measure:
    """Values (N,) over poses at places (N, 3) in mm; NaN in poses where there is nothing to measure.

    `culprit` names the member that a value is owed to in a pose, by its number, where that differs from pose to pose.
    """

    what: str
    where: str
    part: str
    quantity: Quantity
    bound: Bound | None
    values: Array
    at: Array
    culprit: Callable[[int], str] | None = None


def angle_bound(limit: Limit | None) -> Bound | None:
    """The bound of a joint's limit."""
    return None if limit is None else Bound(limit.angle, limit.close, limit.typical, limit.source)


def given_bound(limit: float, source: str, share: float = CLOSE_SHARE) -> Bound:
    """The bound of a length that the scene gives; from a share of it on it is close."""
    return Bound(limit, share * limit, typical=False, source=source)


def advised(limit: float, source: str, *, least: bool = False) -> Bound:
    """What is typical and only advised."""
    return Bound(limit, limit, typical=True, source=source, least=least, advice=True)


def place_text(member: str, end: End) -> str:
    """Where a joint is, in words."""
    return f"{member}, {end.place}"


def at_ride(drives: Array) -> NDArray[np.bool_]:
    """Which poses (N,) stand at ride height, of drive values (N, D)."""
    return np.asarray((np.abs(drives) < SAME_DRIVE).all(axis=1))


def together(names: Sequence[str], drives: Array) -> NDArray[np.bool_]:
    """Which poses (N,) are reached by cycling all wheels together, straight ahead, of drive values (N, D) by name."""
    steered = np.array([name == "steer" for name in names])
    wheels = drives[:, ~steered]
    level = (np.abs(wheels - wheels[:, :1]) < SAME_DRIVE).all(axis=1)
    return np.asarray(level & (np.abs(drives[:, steered]) < SAME_DRIVE).all(axis=1))
