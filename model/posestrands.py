"""What a page shows of a pose, as strands: where each part is, what each measure is, how far past a hard stop it is.

A bar with an eye at both ends spins to where the worse-off eye is as well off as can be. That spin has kinks which no
table follows, so such a bar is tabled as it would be without spin, with the bolts of its two eyes as it sees them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from model.articulation import Wave, spin_between
from model.eyes import FittedBar, swung
from model.measures import Measure, Quantity
from model.mechanism import Mechanism
from model.members import Posture, Transform, fitted_bars, posture
from model.posegrid import Mask, Sample, Stopped, Strand
from model.poses import Poses, Status
from model.solver import solve, walked
from model.spatial import Array, norm, turn, unit
from model.stops import hard_signals
from model.tracks import tracks
from model.travel import Travel

# What a page may be off by: a place in mm, a turn in rad.
PLACE, TURN = 0.5, float(np.radians(0.2))
# What a mark may be off by, in mm, and nodes along a drive that it may take: one that jumps from place to place takes
# more than any. These are among the nodes of the measures, so that they cost no poses of their own.
MARK, MARK_NODES = 3.0, 7
# What a number that is only read may be off by.
READING = {Quantity.ANGLE: float(np.radians(0.1)), Quantity.LENGTH: 0.1, Quantity.ACCELERATION: 10.0}
# Members that can be told apart as what stops a pose; a further bit stands for any other.
BITS = 61
# A place that stays this near to one point of a part, in mm, rides on it.
RIDES = 0.05
# Drive values, as shares of the travel, at which it is looked which measures have a value and what rides on what.
_LOOKED_AT = np.array([[0, 0, 0], [0.9, 0.8, 0.7], [-0.8, 0.9, -0.9], [0.7, -0.9, 0.6], [-0.9, -0.7, -0.5]])


@dataclass(frozen=True)
class Spinning:
    """A bar between two eyes: its axes (3, 3) and spin (rad) at ride height, its eyes' elevations and limits (rad)."""

    part: str
    ride: Array
    spin: float
    elevations: tuple[float, float]
    limits: tuple[float, float]


@dataclass(frozen=True)
class Spot:
    """A place that rides on a part: its ride-height position (3,) in mm."""

    part: str
    at: Array


@dataclass(frozen=True)
class Followed:
    """A measure that has a value in every pose; `squared` says that its strand holds the square of it.

    Its place rides on a part, or is a strand of its own, the name of which is then `spot`.
    """

    measure: Measure
    strand: str
    squared: bool
    spot: Spot | str


@dataclass(frozen=True)
class Strands:
    """The strands of a mechanism: all of them, and what each is.

    `parts` (names) have a strand each, of the place (3,) of their `centres` and a quaternion x, y, z, w; for a spinning
    bar the directions (3,) of its two eyes' bolts follow. `locks` are the members that may stop a pose, by their bits.
    """

    mechanism: Mechanism
    strands: tuple[Strand, ...]
    parts: tuple[str, ...]
    centres: dict[str, Array]
    spinning: dict[str, Spinning]
    followed: tuple[Followed, ...]
    stops: tuple[tuple[str, str, str], ...]
    locks: tuple[str, ...]
    sample: Sample


def strands_of(mechanism: Mechanism, centres: dict[str, Array]) -> Strands:
    """The strands of a mechanism, its parts placed by their `centres` (3,) at ride height.

    Those of spinning bars are moved to the middle of the bar.
    """
    names = tuple(drive.name for drive in mechanism.drives)
    ends = np.array([[drive.low, drive.high] for drive in mechanism.drives])
    looked = _LOOKED_AT[:, : len(names)]
    poses = solve(mechanism, Travel(names, np.where(looked < 0.0, -looked * ends[:, 0], looked * ends[:, 1])))
    now, found = posture(poses), tracks(poses)
    spinning = _spinning(mechanism, now)
    # What is placed without its spin is placed by a point about which it spins.
    on_axis = {link.name: 0.5 * (link.ends[0].at + link.ends[1].at) for link in mechanism.links}
    centres = centres | {name: on_axis[name] for name in spinning}
    parts = tuple(name for name in now.parts if name in centres)
    solved = poses.status == Status.SOLVED
    live = [k for k, measure in enumerate(found) if np.isfinite(measure.values[solved]).all()]
    keys = [(found[k].what, found[k].where) for k in live]
    squared = [found[k].quantity is Quantity.ANGLE and bool((found[k].values[solved] >= 0.0).all()) for k in live]
    spots = {key: _spot(found[k].at[solved], now, parts, solved) for key, k in zip(keys, live, strict=True)}
    roaming = [key for key, spot in spots.items() if spot is None]
    stops = tuple((signal.cause.value, signal.where, f"stop {k}") for k, signal in enumerate(hard_signals(poses, now)))

    def sample(drives: Array) -> tuple[Array, Stopped]:
        posed = walked(mechanism, Travel(names, drives))
        placed = posture(posed)
        measured = {(measure.what, measure.where): measure for measure in tracks(posed)}
        columns = [_placed(name, placed, centres, spinning, mechanism) for name in parts]
        for key, root in zip(keys, squared, strict=True):
            values = measured[key].values if key in measured else np.zeros(len(drives))
            columns.append(np.nan_to_num(values)[:, None] ** (2 if root else 1))
        columns += [np.nan_to_num(measured[key].at if key in measured else np.zeros((1, 3))) for key in roaming]
        columns += [signal.past[:, None] for signal in hard_signals(posed, placed)]
        whole = [np.broadcast_to(block, (len(drives), block.shape[-1])) for block in columns]
        return np.concatenate(whole, axis=1), stopped_by(posed)

    strands: list[Strand] = []

    def add(
        name: str, kind: str, width: int, share: Callable[[Array, Array], Array], strict: bool, finest: int = 129
    ) -> None:
        start = strands[-1].stop if strands else 0
        strands.append(Strand(name, kind, start, start + width, share, strict, finest))

    for name in parts:
        if name in spinning:
            add(f"part {name}", "place", 13, _spun_share(spinning[name]), True)
        else:
            add(f"part {name}", "place", 7, place_share, True)
    followed = []
    for k, key, root in zip(live, keys, squared, strict=True):
        measure = found[k]
        add(f"measure {k}", "measure", 1, _reading_share(READING[measure.quantity], root), False)
        followed.append(Followed(measure, f"measure {k}", root, spots[key] or f"spot {key}"))
    for key in roaming:
        add(f"spot {key}", "spot", 3, _mark_share, False, MARK_NODES)
    for _, _, name in stops:
        add(name, "measure", 1, _reading_share(READING[Quantity.LENGTH], False), False)
    return Strands(mechanism, tuple(strands), parts, centres, spinning, tuple(followed), stops, poses.locks, sample)


def stopped_by(poses: Poses) -> Stopped:
    """What stops each of some poses (N,): a bit for each of their `locks` that does, by its number; 0 where solved."""
    found = np.zeros(len(poses), dtype=np.int64)
    for number, straight in enumerate(poses.straight[:BITS]):
        found |= np.where(straight, 1 << number, 0)
    locked = poses.status != Status.SOLVED
    return np.where(locked, np.where(found == 0, 1 << BITS, found), 0)


def quaternions(rotation: Array) -> Array:
    """Unit quaternions (N, 4), x, y, z, w, of rotations (N, 3, 3), each nearer to no turn than its opposite."""
    found = Rotation.from_matrix(rotation).as_quat()
    return np.asarray(np.where(found[:, 3:] < 0.0, -found, found))


def place_share(true: Array, read: Array) -> Array:
    """How far a place and a quaternion (n, 7) that were read are off, as a share (n,) of PLACE and TURN."""
    turned = read[:, 3:7] / norm(read[:, 3:7])[:, None]
    apart = 2.0 * norm(true[:, 3:7] - turned)
    return np.maximum(norm(true[:, :3] - read[:, :3]) / PLACE, apart / TURN)


def spin_of(bar: Spinning, columns: Array) -> Array:
    """Spin (n,) from that at ride height of a bar whose eyes' bolts are columns (n, 6)."""
    first, second = (
        Wave(np.hypot(bolt[:, 1], bolt[:, 2]), bolt[:, 0], np.arctan2(bolt[:, 2], bolt[:, 1]), elevation)
        for bolt, elevation in zip((columns[:, :3], columns[:, 3:]), bar.elevations, strict=True)
    )
    return spin_between(first, second, bar.limits)


def _spun_share(bar: Spinning) -> Callable[[Array, Array], Array]:
    def share(true: Array, read: Array) -> Array:
        off = np.abs(spin_of(bar, true[:, 7:]) - spin_of(bar, read[:, 7:]))
        return place_share(true[:, :7], read[:, :7]) + off / TURN

    return share


def _reading_share(allowed: float, squared: bool) -> Callable[[Array, Array], Array]:
    def share(true: Array, read: Array) -> Array:
        one, other = true[:, 0], read[:, 0]
        if squared:
            one, other = np.sqrt(np.maximum(one, 0.0)), np.sqrt(np.maximum(other, 0.0))
        return np.abs(one - other) / allowed

    return share


def _mark_share(true: Array, read: Array) -> Array:
    return np.asarray(norm(true - read) / MARK)


def _spinning(mechanism: Mechanism, now: Posture) -> dict[str, Spinning]:
    """Bars that choose their spin between two eyes, unless they are bodies, whose joints' give has placed them."""
    bodies = {body.name for body in mechanism.bodies}
    found = {}
    for link in mechanism.links:
        bar = fitted_bars(mechanism)[link.name, link.ends[0].place]
        if link.name in bodies or len(bar.eyes) != 2:
            continue
        one, other = bar.eyes
        elevations, limits = (one.elevation, other.elevation), (one.limit, other.limit)
        found[link.name] = Spinning(link.name, bar.ride, float(bar.spin), elevations, limits)
    return found


def _placed(
    name: str, now: Posture, centres: dict[str, Array], spinning: dict[str, Spinning], mechanism: Mechanism
) -> Array:
    """The columns (N, k) of one part."""
    place = now.parts[name]
    at = place.point(centres[name])
    if name not in spinning:
        return np.concatenate([at, quaternions(place.rotation)], axis=1)
    link = next(link for link in mechanism.links if link.name == name)
    bar: FittedBar = fitted_bars(mechanism)[name, link.ends[0].place]
    axes = swung(bar.ride, unit(turn(place.rotation, bar.ride[:, 0])))
    waves = [eye.wave(axes, now.parts[eye.end.on].rotation) for eye in bar.eyes]
    columns = [_bolt(wave, float(bar.spin)) for wave in waves]
    plain = quaternions(axes @ bar.ride.T)
    return np.concatenate([np.broadcast_to(each, (len(at), each.shape[-1])) for each in (at, plain, *columns)], axis=1)


def _bolt(wave: Wave, spin: float) -> Array:
    """The bolt (N, 3) of an eye as its bar sees it at the spin of ride height: along the bar, at its best spin, square.

    Unlike the best spin itself these are smooth where a bolt comes to lie along its bar.
    """
    best = wave.best - spin
    return np.stack(np.broadcast_arrays(wave.q, wave.p * np.cos(best), wave.p * np.sin(best)), axis=-1)


def _spot(at: Array, now: Posture, parts: tuple[str, ...], solved: Mask) -> Spot | None:
    """The part on which a place (n, 3) in the solved poses rides."""
    for name in parts:
        place: Transform = now.parts[name]
        rotation, translation = (
            np.broadcast_to(each, (len(solved), *each.shape[1:]))[solved]
            for each in (place.rotation, place.translation)
        )
        back = np.einsum("nji,nj->ni", rotation, at - translation)
        if np.ptp(back, axis=0).max() < RIDES:
            return Spot(name, back[0])
    return None


def posed(mechanism: Mechanism, drives: Array) -> Poses:
    """Poses at drive values (N, D)."""
    return solve(mechanism, Travel(tuple(drive.name for drive in mechanism.drives), drives))
