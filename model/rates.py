"""How stiff a suspension stands: what each spring does at the wheels, and how often the body nods on them.

A spring that is strained by s under a force F(s) holds the wheels, at heights z_w, with Q_w = F S_w, where
S_w = ds/dz_w is its motion ratio. Raised along d, the wheels feel the change

    dQ_w/dd = k S_w (Σ_u S_u d_u) + F dS_w/dd        k = dF/ds

the first part from the spring's rate, the second from the linkage that carries the spring's force in a way that
changes. S_w comes from tangents. dS_w/dd is a difference of tangents at the poses a little before and behind, to which
bodies go along their own velocity: what such a step leaves out is the same before and behind, to the second order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from model.antiroll import bar_rate
from model.mechanism import Bar, Coilover, Mechanism
from model.members import Transform, arm_transform, bar_arm_turn, end_link_of, link_transform
from model.poses import Poses
from model.spatial import Array, across, cross, dot, norm, rotation_about, turn, unit
from model.tangents import part_velocity, point_velocity, velocities
from model.units import KG_FORCE

# mm of wheel from a pose to those before and behind: over lengths of 100 mm and more what a difference leaves out is a
# share of (step/length)² ≈ 1e-7, and what roundings of 1e-13 of a ratio add is 1e-12 a mm.
STEP = 0.05
# A coilover that both wheels move alike to within a tenth stands in the middle: it has no side.
ALIKE = 0.1
# Standard gravity, mm/s².
GRAVITY = 1000.0 * KG_FORCE


@dataclass(frozen=True, eq=False)
class Strained:
    """Something elastic over N poses: force (N,) at a strain, rate (N,) = dforce/dstrain, and its motion ratios.

    ratios (W, N): how much it is strained for 1 mm of each of W wheels. Of a coilover: N, N/mm, mm of shortening for a
    mm; of an anti-roll bar: N·mm, N·mm/rad, rad between its arms for a mm.
    """

    name: str
    force: Array
    rate: Array
    ratios: Array


def wheel_columns(mechanism: Mechanism) -> list[int]:
    """Columns of the wheels' drives."""
    return [number for number, drive in enumerate(mechanism.drives) if drive.name != "steer"]


def place_of(poses: Poses, name: str) -> Transform:
    """Transform of a body, or of a plain arm or a link, which follow from bodies."""
    mechanism = poses.mechanism

    def body(of: str) -> Transform:
        number = mechanism.body_number(of)
        return Transform(poses.rotation[number], poses.translation[number])

    if name in (each.name for each in mechanism.bodies):
        return body(name)
    link = next((link for link in mechanism.links if link.name == name), None)
    if link is not None:
        return link_transform(mechanism, link, {end.on: body(end.on) for end in link.ends})
    arm = next(arm for arm in mechanism.arms if arm.name == name)
    if arm.ball is None:
        raise AssertionError("an arm without a ball joint is a body")  # assembly makes it one
    return arm_transform(arm, {holder: body(holder) for holder in (arm.on, arm.ball.on)})


class Moving:
    """Poses with the `velocities` of all bodies; every part is placed, and its twist worked out, once."""

    def __init__(self, poses: Poses, velocity: Array) -> None:
        """Begin with nothing known."""
        self.poses, self.velocity = poses, velocity
        self._places: dict[str, Transform] = {}
        self._twists: dict[str, Array] = {}
        self._arms: dict[str, tuple[Array, Array]] = {}

    def place(self, name: str) -> Transform:
        """Transform of a part."""
        if name not in self._places:
            self._places[name] = place_of(self.poses, name)
        return self._places[name]

    def twist(self, name: str) -> Array:
        """Twists (D, N, 6) of a part, one for each drive."""
        if name not in self._twists:
            self._twists[name] = part_velocity(self.poses, self.velocity, name)
        return self._twists[name]

    def shortening(self, unit_: Coilover) -> tuple[Array, Array]:
        """Length (N,) in mm of a coilover, and how much it shortens with each drive (D, N)."""
        top, bottom = (self.place(end.on).point(end.at) for end in (unit_.top, unit_.bottom))
        moved = [self.twist(end.on) for end in (unit_.top, unit_.bottom)]
        apart = point_velocity(moved[0], top) - point_velocity(moved[1], bottom)
        return norm(top - bottom), -(apart * unit(top - bottom)).sum(axis=-1)

    def coilovers(self) -> dict[str, Strained]:
        """Every coilover, by name."""
        columns, found = wheel_columns(self.poses.mechanism), {}
        for each in self.poses.mechanism.coilovers:
            length, rates = self.shortening(each)
            force, rate = spring_force(each, length)
            found[each.name] = Strained(each.name, force, rate, rates[columns])
        return found

    def bar_arm(self, bar: Bar, number: int) -> tuple[Array, Array]:
        """Turn (N,) in rad of an arm about its bar, and how fast it turns with each drive (D, N).

        The end link keeps its length: along it, both its ends move alike. With u from the arm's end to the other end of
        the link, r from the axis to the arm's end and a the axis, the arm turns at u·v / u·(a × r), v the velocity of
        the far end against the arm's end were it still.
        """
        name = bar.arms[number]
        if name not in self._arms:
            self._arms[name] = self._bar_arm(bar, number)
        return self._arms[name]

    def _bar_arm(self, bar: Bar, number: int) -> tuple[Array, Array]:
        far = end_link_of(self.poses.mechanism, bar.arms[number]).far_end(bar.arms[number])
        holder, other = self.place(bar.on), self.place(far.on)
        turned, _ = bar_arm_turn(bar, number, far, {bar.on: holder, far.on: other})
        lever = bar.ends[number] - bar.pivots[0].at
        swung = turn(holder.rotation, turn(rotation_about(bar.axis, turned), lever))
        end, target = holder.point(bar.pivots[0].at) + swung, other.point(far.at)
        along = target - end
        moved = point_velocity(self.twist(far.on), target) - point_velocity(self.twist(bar.on), end)
        way = cross(turn(holder.rotation, bar.axis), swung)
        return turned, (moved * along).sum(axis=-1) / dot(way, along)

    def bars(self) -> dict[str, Strained]:
        """Every anti-roll bar that the scene gives a rate or a diameter, by name."""
        columns, found = wheel_columns(self.poses.mechanism), {}
        for bar in self.poses.mechanism.bars:
            stiff = rate_of(bar)
            if stiff is not None:
                (left, left_rates), (right, right_rates) = (self.bar_arm(bar, number) for number in (0, 1))
                rate = np.full(len(self.poses), stiff)
                found[bar.name] = Strained(bar.name, rate * (right - left), rate, (right_rates - left_rates)[columns])
        return found


def shortening(poses: Poses, velocity: Array, unit_: Coilover) -> tuple[Array, Array]:
    """Length (N,) in mm of a coilover, and how much it shortens with each drive (D, N), from all bodies' velocities."""
    return Moving(poses, velocity).shortening(unit_)


def strained_coilovers(poses: Poses, velocity: Array) -> dict[str, Strained]:
    """Every coilover over N poses, by name."""
    return Moving(poses, velocity).coilovers()


def spring_force(unit_: Coilover, length: Array) -> tuple[Array, Array]:
    """Force (N,) in N of a coilover's spring at lengths (N,) in mm, and its rate (N,): none where it is loose."""
    if unit_.spring is None:
        return np.zeros_like(length), np.zeros_like(length)
    squeezed = unit_.spring.preload + unit_.extended - length
    rate = np.where(squeezed > 0.0, unit_.spring.rate, 0.0)
    return rate * squeezed, rate


def rate_of(bar: Bar) -> float | None:
    """Moment for a turn of one arm of a bar against the other in N·mm/rad: the scene's, or that of solid steel."""
    if bar.rate is not None:
        return bar.rate
    if not bar.measured:
        return None
    from_bush = np.stack([end - pivot.at for end, pivot in zip(bar.ends, bar.pivots, strict=True)])
    middle = float(norm(bar.pivots[1].at - bar.pivots[0].at))
    return bar_rate(bar.diameter, middle, norm(across(from_bush, bar.axis)), norm(from_bush))


def beside(poses: Poses, velocity: Array, moves: Sequence[Array]) -> Poses:
    """Poses to which bodies have gone on along their own velocity: before, then behind, for each of some moves.

    Args:
        poses: N poses.
        velocity: the `velocities` of all bodies there.
        moves: M times (D,), mm of each drive for each mm of the move.

    Returns:
        2 M N poses, `STEP` mm of the move from the N.

    """
    steps = [sign * STEP * move for move in moves for sign in (-1.0, 1.0)]
    every = poses.take(np.tile(np.arange(len(poses)), len(steps)))
    twist = np.concatenate([np.tensordot(step, velocity, axes=1) for step in steps], axis=1)
    size = norm(twist[..., 3:])
    about = twist[..., 3:] / np.where(size > 0.0, size, 1.0)[..., None]
    rotation = rotation_about(about, size)
    return replace(
        every,
        rotation=rotation @ every.rotation,
        translation=turn(rotation, every.translation) + twist[..., :3],
        travel=replace(every.travel, values=every.travel.values + np.repeat(steps, len(poses), axis=0)),
    )


def change_along(values: Array, count: int) -> Array:
    """Changes (M, ..., N) for a mm of each of M moves, of values (..., 2 M N) at the poses `beside` N = `count`."""
    before, behind = np.moveaxis(values.reshape(*values.shape[:-1], -1, 2, count), (-3, -2), (1, 0))
    return np.asarray(behind - before) / (2.0 * STEP)


def roll_stiffness(rates: Array, track: Array) -> Array:
    """Moment (...) for a turn of the body against the road, N·mm/rad, from what the wheels feel while they cross.

    Args:
        rates: (2, ...) how much harder the left wheel and the right wheel are held, N/mm, for a mm that the left one
            rises while the right one falls as far.
        track: (...) sideways distance of the wheels, mm.

    Returns:
        M = t/2 (Q_left − Q_right), and the turn moves each wheel by t/2 for a rad: dM/dφ = t²/4 (rates[0] − rates[1]).

    """
    return np.asarray(0.25 * track**2 * (rates[0] - rates[1]))


def wheel_rates(ratios: Array, force: Array, rate: Array, along: Array, change: Array) -> tuple[Array, Array]:
    """How much harder each wheel is held for a mm along a direction: from spring rate, and from geometry.

    Args:
        ratios: (W, N) motion ratios S.
        force: (N,) in N.
        rate: (N,) in N/mm.
        along: (W,) mm of each wheel.
        change: (W, N) of S for a mm along it.

    Returns:
        (W, N) and (W, N) in N/mm.

    """
    return ratios * (rate * (along @ ratios)), force * change


def rate_at_wheels(rate: float, ratio: float, force: float, change: float) -> float:
    """What a spring does to wheels that rise together, N/mm: d(F S)/dz = k S² + F dS/dz.

    Args:
        rate: k of the spring, N/mm.
        ratio: S, mm that it is strained for a mm of all wheels.
        force: F, N.
        change: dS/dz, 1/mm.

    """
    return rate * ratio**2 + force * change


def rate_of_spring(at_wheels: float, ratio: float, force: float, change: float) -> float:
    """The k in N/mm with which `rate_at_wheels` is what is given; not above 0 where no spring does that."""
    return (at_wheels - force * change) / ratio**2


def lifted(poses: Poses, velocity: Array) -> dict[str, tuple[Strained, Array, Array]]:
    """Every coilover by name, with its motion ratio S (N,) and dS/dz (N,), 1/mm, as all wheels rise together."""
    mechanism = poses.mechanism
    move = np.zeros(len(mechanism.drives))
    move[wheel_columns(mechanism)] = 1.0
    near = beside(poses, velocity, [move])
    around = strained_coilovers(near, velocities(near))
    return {
        name: (each, each.ratios.sum(axis=0), change_along(around[name].ratios.sum(axis=0), len(poses))[0])
        for name, each in strained_coilovers(poses, velocity).items()
    }


def ride_frequency(rate: Array, weight: float, tyre_rate: float | None = None) -> Array:
    """Undamped natural frequency (...) in Hz of a sprung weight in N on a wheel rate (...) in N/mm: √(k g/W)/2π.

    The tyre, where its rate is given, gives way in series: k = k_w k_t/(k_w + k_t). NaN where the rate is not above 0.
    """
    firm = np.where(rate > 0.0, rate, np.nan)
    series = firm if tyre_rate is None else firm * tyre_rate / (firm + tyre_rate)
    return np.sqrt(series * GRAVITY / weight) / (2.0 * np.pi)
