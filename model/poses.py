"""The frozen result of a solve: where every body is in every pose, and whether the pose could be reached."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from model.mechanism import Mechanism
from model.spatial import Array
from model.travel import Travel


class Status(IntEnum):
    """What became of a pose."""

    SOLVED = 0
    LOCKED = 1


STATUS_TEXT = {
    Status.SOLVED: "reached, every length holds",
    Status.LOCKED: "the linkage locks before this pose; what is given is the last place it reaches on the way",
}


@dataclass(frozen=True)
class Poses:
    """Transforms of every body over a travel of N poses.

    rotation (B, N, 3, 3) and translation (B, N, 3) in mm take ride-height positions to the pose; status (N,) of
    `Status`; residual (N,) in mm; solves (N,) linear solves spent; reached (N,) share of the way from ride height to
    the pose that works (1 where solved); locked_by (N,) index into `locks`, −1 where solved.
    """

    mechanism: Mechanism
    travel: Travel
    rotation: Array
    translation: Array
    status: NDArray[np.int8]
    residual: Array
    solves: NDArray[np.int64]
    reached: Array
    locked_by: NDArray[np.intp]
    locks: tuple[str, ...]

    def __len__(self) -> int:
        """Return the number of poses."""
        return len(self.travel)

    def stands_at(self, number: int) -> tuple[float, ...]:
        """Drive values (D,) at which one pose stands: those asked for, or the last that a locked linkage reaches."""
        return tuple(float(value) for value in self.travel.values[number] * self.reached[number])

    def take(self, which: slice | NDArray[np.intp]) -> Poses:
        """Return some of the poses, in the order asked for."""
        return replace(
            self,
            travel=replace(self.travel, values=self.travel.values[which]),
            rotation=self.rotation[:, which],
            translation=self.translation[:, which],
            status=self.status[which],
            residual=self.residual[which],
            solves=self.solves[which],
            reached=self.reached[which],
            locked_by=self.locked_by[which],
        )
