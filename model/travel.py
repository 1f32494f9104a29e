"""Which poses to solve: the full grid over left wheel, right wheel and steering, or an ordered cycle through it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model.cycles import Cycle
from model.errors import CallError
from model.mechanism import Drive, Mechanism
from model.spatial import Array


@dataclass(frozen=True)
class Travel:
    """Drive values (N, D) in the order of `names`: wheel heights in mm from ride height, steering as share of lock."""

    names: tuple[str, ...]
    values: Array

    def __len__(self) -> int:
        """Return the number of poses."""
        return len(self.values)

    def column(self, name: str) -> Array:
        """Values (N,) of one drive; zeros where the scene does not have it."""
        return self.values[:, self.names.index(name)] if name in self.names else np.zeros(len(self))


def differing(values: Array, columns: Iterable[int]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Poses (M,) of drive values (N, D) that differ in some columns, and for each pose (N,) which of them it equals."""
    code = np.zeros(len(values), dtype=np.int64)
    for column in columns:
        _, level = np.unique(values[:, column], return_inverse=True)
        code = code * (int(level.max(initial=0)) + 1) + level
    _, first, where = np.unique(code, return_index=True, return_inverse=True)
    return first, where


def axis(drive: Drive, steps: int) -> Array:
    """Values (steps,) from low to high with ride height among them; `steps` is odd and at least 3."""
    half = (steps + 1) // 2
    return np.concatenate([np.linspace(drive.low, 0.0, half)[:-1], np.linspace(0.0, drive.high, half)])


def grid(mechanism: Mechanism, wheel_steps: int = 21, steer_steps: int = 11) -> Travel:
    """Every combination of left wheel, right wheel and steering."""
    for what, steps in (("wheel steps", wheel_steps), ("steering steps", steer_steps)):
        if steps < 3 or steps % 2 == 0:
            raise CallError(f"{what} are {steps}, expected an odd number from 3 on, so that ride height is among them.")
    axes = [axis(drive, steer_steps if drive.name == "steer" else wheel_steps) for drive in mechanism.drives]
    mesh = np.meshgrid(*axes, indexing="ij")
    return Travel(_names(mechanism), np.stack([values.ravel() for values in mesh], axis=-1))


def single(mechanism: Mechanism, **values: float) -> Travel:
    """One pose; drives that are not named stay at ride height. Values outside the scene's travel are refused."""
    chosen = np.zeros((1, len(mechanism.drives)))
    for name, value in values.items():
        if value == 0.0:
            continue
        column = next((k for k, drive in enumerate(mechanism.drives) if drive.name == name), None)
        if column is None:
            raise CallError(f"this scene has no {_WORDS[name]} to move; leave that option out.")
        drive = mechanism.drives[column]
        slack = 1e-9 * (drive.high - drive.low)
        if not drive.low - slack <= value <= drive.high + slack:
            raise CallError(
                f"{_WORDS[name]} {_range_text(drive, value)}; choose a value inside it or widen [travel] in the scene."
            )
        chosen[0, column] = value
    return Travel(_names(mechanism), chosen)


def cycle(mechanism: Mechanism, kind: Cycle, frames: int, held: Travel | None = None) -> Travel:
    """An ordered run of `frames` poses, slow at its ends; `all` joins the runs that this scene can make.

    Drives that a run does not move stand at ride height, or as in the only pose of `held`.
    """
    if frames < 2:
        raise CallError(f"a film of {frames} frame{'s' * (frames != 1)} does not move, expected at least 2.")
    drives = {drive.name: column for column, drive in enumerate(mechanism.drives)}
    runs = runs_of(mechanism, kind)
    shares = np.diff(run_starts(len(runs), frames))
    values = []
    for run, count in zip(runs, shares, strict=True):
        swing = np.sin(np.linspace(0.0, 2.0 * np.pi, count, endpoint=run is runs[-1]))
        poses = np.zeros((count, len(drives))) if held is None else np.repeat(held.values, count, axis=0)
        for name, sign in _MOVES[run].items():
            drive = mechanism.drives[drives[name]]
            poses[:, drives[name]] = np.where(sign * swing >= 0, drive.high, -drive.low) * sign * swing
        values.append(poses)
    return Travel(_names(mechanism), np.concatenate(values))


def sweep(mechanism: Mechanism, run: Cycle, steps: int) -> Travel:
    """One run from its lower end to its upper end, evenly on each side of ride height, which stands in the middle.

    `steps` is odd and at least 3. Crossed up, one wheel's bump is the other's droop: both stay inside their travel.
    """
    moves = {drive.name: _MOVES[run][drive.name] for drive in mechanism.drives if drive.name in _MOVES[run]}
    ends = [(drive.low, drive.high) for drive in mechanism.drives if drive.name in moves]
    low = max(low if sign > 0 else -high for (low, high), sign in zip(ends, moves.values(), strict=True))
    high = min(high if sign > 0 else -low for (low, high), sign in zip(ends, moves.values(), strict=True))
    along = axis(Drive(run.value, low, high), steps)
    values = np.zeros((steps, len(mechanism.drives)))
    for column, drive in enumerate(mechanism.drives):
        values[:, column] = moves.get(drive.name, 0.0) * along
    return Travel(_names(mechanism), values)


def run_starts(runs: int, frames: int) -> NDArray[np.intp]:
    """Where in a cycle of so many frames each of its runs begins, and where the last one ends (runs + 1,)."""
    return np.round(np.linspace(0, frames, runs + 1)).astype(np.intp)


_MOVES: dict[Cycle, dict[str, float]] = {
    Cycle.BOTH: {"left": 1.0, "right": 1.0},
    Cycle.CROSS: {"left": 1.0, "right": -1.0},
    Cycle.LEFT: {"left": 1.0},
    Cycle.RIGHT: {"right": 1.0},
    Cycle.STEER: {"steer": 1.0},
}


def common(first: Mechanism, second: Mechanism) -> Mechanism:
    """The first of two mechanisms with only that travel which both of them have.

    Raises:
        CallError: they do not move the same wheels, or only one of them steers.

    """
    if _names(first) != _names(second):
        one, other = (", ".join(_WORDS[name] for name in _names(each)) for each in (first, second))
        raise CallError(
            f'"{first.title}" moves {one} and "{second.title}" moves {other}, expected the same of both; compare a '
            "front with a front or a rear with a rear."
        )
    shared = [
        replace(one, low=max(one.low, other.low), high=min(one.high, other.high))
        for one, other in zip(first.drives, second.drives, strict=True)
    ]
    return replace(first, drives=tuple(shared))


def moves_of(run: Cycle) -> Mapping[str, float]:
    """Which drives a run moves, and which way, while it goes up."""
    return _MOVES[run]


def runs_of(mechanism: Mechanism, kind: Cycle) -> list[Cycle]:
    """The runs that a cycle is made of; refuses one that moves what the scene does not have."""
    present = {drive.name for drive in mechanism.drives}
    possible = [run for run, move in _MOVES.items() if move.keys() <= present]
    if kind is Cycle.ALL:
        return possible
    if kind not in possible:
        choices = ", ".join([*possible, Cycle.ALL])
        raise CallError(f'this scene cannot run through the cycle "{kind}"; choose one of {choices}.')
    return [kind]


_WORDS = {"left": "left wheel", "right": "right wheel", "steer": "steering"}


def _range_text(drive: Drive, value: float) -> str:
    if drive.name == "steer":
        return f"at {100 * value:.0f} % is outside its travel of {100 * drive.low:.0f} to {100 * drive.high:.0f} %"
    return f"at {value:.1f} mm is outside its travel of {drive.low:.1f} to {drive.high:.1f} mm"


def _names(mechanism: Mechanism) -> tuple[str, ...]:
    return tuple(drive.name for drive in mechanism.drives)
