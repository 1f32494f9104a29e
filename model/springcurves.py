"""Curves of springs and anti-roll bars: motion ratios, wheel rates, ride frequencies, roll stiffness."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from model import curvenames as named
from model import rates
from model.curvenames import Curve
from model.mechanism import Mechanism
from model.members import end_link_of
from model.poses import Poses
from model.rates import Moving, Strained
from model.sharing import Columns, drives_felt
from model.spatial import Array, across, norm
from model.tangents import velocities
from model.wheelmotion import WheelMotion


@dataclass(frozen=True, eq=False)
class _Held:
    """How much harder each of W wheels is held (W, N), N/mm, for a mm of a move: from spring rate, from geometry."""

    spring: Array
    geometry: Array

    @property
    def whole(self) -> Array:
        return self.spring + self.geometry


def spring_curves(moving: Moving, wheels: tuple[WheelMotion, ...]) -> Iterator[Curve]:
    """Of coilovers and bars over solved poses."""
    poses, coilovers, bars = moving.poses, moving.coilovers(), moving.bars()
    together, crossed = np.ones(len(wheels)), _crossed(poses.mechanism, wheels)
    mixed = _mixed(poses.mechanism)
    for each in coilovers.values():
        yield named.MOTION_RATIO.curve(each.name, together @ each.ratios)
    if mixed:
        yield from _crossed_ratios(coilovers, crossed)
    yield from _bar_ratios(moving, wheels, crossed)
    sprung = {each.name: coilovers[each.name] for each in poses.mechanism.coilovers if each.spring is not None}
    if not sprung and not (bars and len(wheels) == 2):
        return
    moves = [together, crossed] if mixed else [together]
    changes = _changes(moving, moves)
    if sprung:
        yield from _wheel_rates(poses, wheels, _held(sprung, together, changes[0]))
    if len(wheels) == 2:
        rolled = changes[1] if mixed else {name: crossed[:, None] * each for name, each in changes[0].items()}
        yield from _roll_stiffness(poses, wheels, _held(sprung, crossed, rolled), _held(bars, crossed, rolled))


def _crossed(mechanism: Mechanism, wheels: tuple[WheelMotion, ...]) -> Array:
    """mm of each wheel's drive for a mm of the left one up and the right one down (W,), in the order of the drives."""
    hands = {wheel.column: wheel.hand for wheel in wheels}
    return np.array([hands[column] for column in rates.wheel_columns(mechanism)])


@lru_cache(maxsize=8)
def _mixed(mechanism: Mechanism) -> bool:
    """Whether both wheels move one coilover, or one arm of a bar: then crossed up is not the same as together."""
    felt, both = drives_felt(mechanism), Columns(rates.wheel_columns(mechanism))
    follows = {arm.name: (arm.on, arm.ball.on) for arm in mechanism.arms if arm.ball is not None}
    follows |= {link.name: (link.ends[0].on, link.ends[1].on) for link in mechanism.links}

    def feels(*parts: str) -> Columns:
        """Drives that move any of some parts: bodies, or arms and links that follow from bodies."""
        each = (felt[part] if part in felt else feels(*follows[part]) for part in parts)
        return Columns().union(*each)

    ends = [(each.top.on, each.bottom.on) for each in mechanism.coilovers]
    ends += [(bar.on, end_link_of(mechanism, arm).far_end(arm).on) for bar in mechanism.bars for arm in bar.arms]
    return len(both) == 2 and any(both <= feels(*each) for each in ends)


def _changes(moving: Moving, moves: list[Array]) -> list[dict[str, Array]]:
    """Of each move of the wheels (W,): how motion ratios (W, N) change for a mm of it, by coilover and bar."""
    poses = moving.poses
    every = np.zeros((len(moves), len(poses.mechanism.drives)))
    every[:, rates.wheel_columns(poses.mechanism)] = moves
    beside = rates.beside(poses, moving.velocity, list(every))
    near = Moving(beside, velocities(beside))
    strained = near.coilovers() | near.bars()
    changes = {name: rates.change_along(each.ratios, len(poses)) for name, each in strained.items()}
    return [{name: each[number] for name, each in changes.items()} for number in range(len(moves))]


def _held(strained: Mapping[str, Strained], along: Array, changes: Mapping[str, Array]) -> _Held:
    parts = [
        rates.wheel_rates(each.ratios, each.force, each.rate, along, changes[name]) for name, each in strained.items()
    ]
    spring, geometry = (sum((part[k] for part in parts), np.zeros(())) for k in (0, 1))
    return _Held(np.asarray(spring), np.asarray(geometry))


def _crossed_ratios(coilovers: Mapping[str, Strained], crossed: Array) -> Iterator[Curve]:
    """A coilover that both wheels move alike stands in the middle, and crossed up has no side to be counted for."""
    for each in coilovers.values():
        weight = np.abs(each.ratios).max(axis=1)
        if np.ptp(weight) > rates.ALIKE * weight.max():
            side = crossed[int(weight.argmax())]
            yield named.MOTION_RATIO_CROSSED.curve(each.name, side * (crossed @ each.ratios))


def _bar_ratios(moving: Moving, wheels: tuple[WheelMotion, ...], crossed: Array) -> Iterator[Curve]:
    if len(wheels) < 2:
        return
    columns = rates.wheel_columns(moving.poses.mechanism)
    for bar in moving.poses.mechanism.bars:
        for number, hand in enumerate((1.0, -1.0)):
            lever = bar.ends[number] - bar.pivots[0].at
            upward = np.sign(np.cross(bar.axis, lever)[2])
            _, turning = moving.bar_arm(bar, number)
            travel = hand * upward * norm(across(lever, bar.axis)) * (crossed @ turning[columns])
            yield named.BAR_MOTION_RATIO.curve(bar.arms[number], travel)


def _wheel_rates(poses: Poses, wheels: tuple[WheelMotion, ...], held: _Held) -> Iterator[Curve]:
    columns, weights = rates.wheel_columns(poses.mechanism), poses.mechanism.weights
    for wheel in wheels:
        row = columns.index(wheel.column)
        rate = held.whole[row]
        yield named.WHEEL_RATE.curve(wheel.name, rate)
        yield named.RATE_OF_SPRING.curve(wheel.name, held.spring[row])
        yield named.RATE_OF_GEOMETRY.curve(wheel.name, held.geometry[row])
        if weights is not None:
            sprung = weights.under(wheel.wheel.side) - weights.unsprung
            frequency = rates.ride_frequency(rate, sprung, wheel.wheel.tyre_rate)
            yield named.RIDE_FREQUENCY.curve(wheel.name, frequency)


def _roll_stiffness(poses: Poses, wheels: tuple[WheelMotion, ...], springs: _Held, bars: _Held) -> Iterator[Curve]:
    left, right = wheels
    columns = rates.wheel_columns(poses.mechanism)
    order = [columns.index(wheel.column) for wheel in (left, right)]
    track = (left.contact - right.contact)[:, 1]
    found = []
    for held, where in ((springs, named.FROM_SPRINGS), (bars, named.FROM_BAR)):
        if held.whole.ndim:
            found.append(rates.roll_stiffness(held.whole[order], track))
            yield named.ROLL_STIFFNESS.curve(where, found[-1])
    if len(found) == 2:
        yield named.ROLL_STIFFNESS.curve("axle", found[0] + found[1])
