"""The frozen result of a solve: where every body is in every pose, whether the pose could be reached, what holds it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from model.mechanism import End, Mechanism
from model.spatial import Array
from model.travel import Travel

# Poses measured at once: some 20 MB for a four-link axle, whatever the size of the grid.
CHUNK = 16384


class Status(IntEnum):
    """What became of a pose."""

    SOLVED = 0
    LOCKED = 1


STATUS_TEXT = {
    Status.SOLVED: "reached, every length holds",
    Status.LOCKED: "the linkage locks before this pose; what is given is the last place it reaches on the way",
}


@dataclass(frozen=True)
class Holding:
    """What it takes to hold N poses of a linkage that moves against its joints' give, which is relaxed at ride height.

    drive (D, N): force in N up on each wheel; steering, in N·mm for the whole of its lock to that side. Springs and
    dampers of coilovers are not in it. energy (N,) in N·mm is what the joints store, imbalance (N,) in N what the
    solution leaves over.

    `joints` are J pairs of a member and its end. axes (J, 3, 3): columns bolt and two directions square to it, at ride
    height; they ride on what the end is bolted to. Along them, all (J, N, 3): deflection (mm) of the member's eye from
    the bolt, rotation (rad) of the member, turn about the bolt first and then cocking; force (N) and moment (N·mm) that
    keep the member so.
    """

    drive: Array
    energy: Array
    imbalance: Array
    joints: tuple[tuple[str, End], ...]
    axes: Array
    deflection: Array
    rotation: Array
    force: Array
    moment: Array

    def take(self, which: slice | NDArray[np.intp]) -> Holding:
        """Return some of the poses, in the order asked for."""
        return replace(
            self,
            drive=self.drive[:, which],
            energy=self.energy[which],
            imbalance=self.imbalance[which],
            deflection=self.deflection[:, which],
            rotation=self.rotation[:, which],
            force=self.force[:, which],
            moment=self.moment[:, which],
        )

    def joined(self, more: Holding) -> Holding:
        """These poses and then some more of the same linkage."""
        return replace(
            self,
            drive=np.concatenate([self.drive, more.drive], axis=1),
            energy=np.concatenate([self.energy, more.energy]),
            imbalance=np.concatenate([self.imbalance, more.imbalance]),
            deflection=np.concatenate([self.deflection, more.deflection], axis=1),
            rotation=np.concatenate([self.rotation, more.rotation], axis=1),
            force=np.concatenate([self.force, more.force], axis=1),
            moment=np.concatenate([self.moment, more.moment], axis=1),
        )


@dataclass(frozen=True)
class Poses:
    """Transforms of every body over a travel of N poses.

    rotation (B, N, 3, 3) and translation (B, N, 3) in mm take ride-height positions to the pose; status (N,) of
    `Status`; residual (N,) in mm; solves (N,) linear solves spent; reached (N,) share of the way from ride height to
    the pose that works (1 where solved); locked_by (N,) index into `locks` of the member that stops it there, −1 where
    solved. Several may do so at once, such as left and right of a car with both wheels down: straight (K, N) says
    which of the K `locks` do. `holding` is None where rigid links hold everything just so.
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
    straight: NDArray[np.bool_]
    locks: tuple[str, ...]
    holding: Holding | None = None

    def __len__(self) -> int:
        """Return the number of poses."""
        return len(self.travel)

    def stands_at(self, number: int) -> tuple[float, ...]:
        """Drive values (D,) at which one pose stands: those asked for, or the last that a locked linkage reaches."""
        return tuple(float(value) for value in self.travel.values[number] * self.reached[number])

    def nearest(self, values: Array) -> NDArray[np.intp]:
        """Which pose (M,) is nearest to each of some drive values (M, D), each drive counted in its span."""
        from scipy.spatial import KDTree  # only who asks for it waits until it is loaded

        spans = np.array([drive.high - drive.low for drive in self.mechanism.drives])
        return np.asarray(KDTree(self.travel.values / spans).query(values / spans, p=1)[1], dtype=np.intp)

    def joined(self, more: Poses) -> Poses:
        """These poses and then some more of the same mechanism."""
        return replace(
            self,
            travel=replace(self.travel, values=np.concatenate([self.travel.values, more.travel.values])),
            rotation=np.concatenate([self.rotation, more.rotation], axis=1),
            translation=np.concatenate([self.translation, more.translation], axis=1),
            status=np.concatenate([self.status, more.status]),
            residual=np.concatenate([self.residual, more.residual]),
            solves=np.concatenate([self.solves, more.solves]),
            reached=np.concatenate([self.reached, more.reached]),
            locked_by=np.concatenate([self.locked_by, more.locked_by]),
            straight=np.concatenate([self.straight, more.straight], axis=1),
            holding=None if self.holding is None or more.holding is None else self.holding.joined(more.holding),
        )

    def solved_parts(self) -> Iterator[tuple[NDArray[np.intp], Poses]]:
        """The solved poses, so many at a time that memory stays small: their numbers (n,) and themselves."""
        solved = np.flatnonzero(self.status == Status.SOLVED)
        for start in range(0, len(solved), CHUNK):
            chosen = solved[start : start + CHUNK]
            yield chosen, self.take(chosen)

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
            straight=self.straight[:, which],
            holding=None if self.holding is None else self.holding.take(which),
        )
