"""How a suspension stands with its adjusters at some settings, what is measured there, and how that changes with each.

A perch is no drive: the wheels stand where the springs carry what they carry now. With R (C, W) the motion ratios of
coilovers and F (C,) the forces of their springs, the wheels feel Rᵀ F. What they feel at ride height, as the scene has
it, stays the load; from it follow the forces at any other heights, and from each force where the seat must be:

    Rᵀ F = load,     setting = F / rate − (preload + extended − length).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model.adjustable import Adjuster, Eccentric, Perch
from model.adjustdrives import Adjustable, adjustable
from model.adjustwants import Value, plain, values_of
from model.mechanism import Coilover, Mechanism
from model.poses import Poses, Status
from model.rates import beside, change_along, shortening, strained_coilovers, wheel_columns
from model.solver import solve
from model.spatial import Array
from model.tangents import velocities
from model.travel import Travel

Solver = Callable[[Mechanism, Travel], Poses]


@dataclass(frozen=True, eq=False)
class Stand:
    """One setting: settings (A,) of adjusters, heights (W,) of wheels in mm; what is measured there, values (V,).

    slopes (V, A + W) and perch_slopes (P, A + W) say how values and the seats of P perches change with settings (mm or
    rad; 0 of a perch itself) and heights; perches (P,) is where the seats must be for the wheels to stand so.
    """

    settings: Array
    heights: Array
    poses: Poses
    measured: tuple[Value, ...]
    values: Array
    slopes: Array
    perches: Array
    perch_slopes: Array


class Bench:
    """A mechanism whose adjusters can be turned; counts the calls of the solver."""

    def __init__(self, mechanism: Mechanism, adjusters: Sequence[Adjuster], solver: Solver = solve) -> None:
        """Make the adjusters drives."""
        self.mechanism, self.adjusters = mechanism, tuple(adjusters)
        self.adjusted: Adjustable = adjustable(mechanism, adjusters)
        self.calls = 0
        self._solver = solver
        self._names = tuple(drive.name for drive in self.adjusted.mechanism.drives)
        self.wheels = wheel_columns(mechanism)
        self.perches = [each for each in self.adjusters if isinstance(each, Perch)]
        # With their ends on what the adjusters move.
        units = {unit_.name: unit_ for unit_ in self.adjusted.mechanism.coilovers}
        self._seats: list[Coilover] = [units[perch.coilover] for perch in self.perches]
        self._load: Array | None = None
        self._wantable: dict[str, Value] = {}

    @property
    def carried(self) -> Array | None:
        """What the springs carry of each wheel (W,) at ride height as the scene has it, N; None without perches."""
        return self._load

    @property
    def is_perch(self) -> NDArray[np.bool_]:
        """Which adjusters (A,) are perches."""
        return np.array([isinstance(each, Perch) for each in self.adjusters], dtype=bool)

    def stand(self, settings: Array, heights: Array) -> Stand | None:
        """The suspension at settings (A,) and heights (W,); `None` where its linkage locks on the way."""
        drives = np.zeros((1, len(self._names)))
        drives[0, self.wheels] = heights
        for each, setting in zip(self.adjusters, settings, strict=True):
            if each.drives:
                drives[0, list(self.adjusted.columns[each.name])] = each.moved(float(setting))
        self.calls += 1
        poses = self._solver(self.adjusted.mechanism, Travel(self._names, drives))
        if poses.status[0] != Status.SOLVED:
            return None
        return self._measured(settings, heights, poses)

    def _measured(self, settings: Array, heights: Array, poses: Poses) -> Stand:
        """Measure a pose and, along the tangents of its drives, the poses beside it: the same values as at first.

        NaN where one of them has lost its meaning, such as a centre that has gone to infinity.
        """
        moves, scales = self._moves(settings)
        near = beside(poses, velocities(poses), list(moves))
        both = plain(self.adjusted, self.mechanism, _joined(poses, near))
        found = {value.name: value for value in values_of(both)}
        self._wantable = self._wantable or found
        nowhere = np.full(len(both), np.nan)
        measured = tuple(found.get(name, replace(was, values=nowhere)) for name, was in self._wantable.items())
        every = np.array([value.values for value in measured])
        slopes = change_along(every[:, 1:], 1)[..., 0].T * scales
        seats = self._seats_at(both)
        return Stand(
            settings=settings,
            heights=heights,
            poses=poses,
            measured=tuple(replace(value, values=value.values[:1]) for value in measured),
            values=every[:, 0],
            slopes=slopes,
            perches=seats[:, 0],
            perch_slopes=change_along(seats[:, 1:], 1)[..., 0].T * scales
            if self.perches
            else np.zeros((0, len(scales))),
        )

    def _moves(self, settings: Array) -> tuple[Array, Array]:
        """Moves (A + W, D) of drives by mm, and how many mm (A + W,) a unit of each setting or height is."""
        moves = np.zeros((len(self.adjusters) + len(self.wheels), len(self._names)))
        scales = np.ones(len(moves))
        for row, (each, setting) in enumerate(zip(self.adjusters, settings, strict=True)):
            scale = each.throw if isinstance(each, Eccentric) else float(each.drives > 0)
            scales[row] = scale
            if each.drives:
                moves[row, list(self.adjusted.columns[each.name])] = each.slopes(float(setting)) / scale
        moves[len(self.adjusters) + np.arange(len(self.wheels)), self.wheels] = 1.0
        return moves, scales

    def _seats_at(self, poses: Poses) -> Array:
        """Settings (P, N) of the perches with which the wheels stand as in poses that `plain` gives."""
        if not self.perches:
            return np.zeros((0, len(poses)))
        velocity = velocities(poses)
        strained = strained_coilovers(poses, velocity)
        felt = {name: each.ratios * each.force for name, each in strained.items()}
        if self._load is None:
            self._load = np.asarray(sum(felt.values()))[:, 0]
        names = [perch.coilover for perch in self.perches]
        rest = self._load[:, None] - sum((felt[name] for name in felt.keys() - set(names)), np.zeros((1, 1)))
        ratios = np.stack([strained[name].ratios for name in names])  # (P, W, N), as many perches as wheels
        forces = np.linalg.solve(np.moveaxis(ratios, (0, 1, 2), (2, 1, 0)), rest.T[..., None])[..., 0].T
        found = []
        for unit_, force in zip(self._seats, forces, strict=True):
            length, _ = shortening(poses, velocity, unit_)
            if unit_.spring is None:
                raise AssertionError("a perch has a spring")  # assembly complains of one that has none
            found.append(force / unit_.spring.rate - (unit_.spring.preload + unit_.extended - length))
        return np.array(found)


def _joined(first: Poses, second: Poses) -> Poses:
    """Poses of one mechanism, one after the other."""
    both = second.take(np.concatenate([[0], np.arange(len(second))]))
    for mine, own in ((both.rotation, first.rotation), (both.translation, first.translation)):
        mine[:, 0] = own[:, 0]
    both.travel.values[0] = first.travel.values[0]
    return both
