"""Freedoms counted at ride height: what is loose, what is held twice over, and the motion that the drives give.

The rank of the Jacobian decides, not a count of joints: a column it lacks is a motion that nothing stops, a row it
can do without is a part that is held twice over (Angeles, Fundamentals of Robotic Mechanical Systems, ch. 9).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.constraints import System, evaluate, jacobian, ride_state, systems
from model.errors import SceneError
from model.mechanism import Mechanism
from model.solver import group_state, residual_at_drive, solve
from model.spatial import Array
from model.tangents import stood
from model.travel import Travel

# Singular values are in mm per mm: a well-held suspension has its smallest between 0.05 and 0.5. One below 1e-6 would
# let a joint 1 mm out of place move a part by a kilometre: that is a linkage that does not hold, not one held badly.
SINGULAR = 1e-6
# Below this a joint 1 mm out of place moves a part by half a metre: it is held by what its geometry happens to leave,
# as an axle on two long arms is sideways. A linkage that only just stands at a dead centre does so in one pose alone:
# what is as badly held in two others, this share of the travel up and down, is not held.
HARDLY, ASIDE = 2e-3, 0.25
# A body or row that takes part in a loose motion or in a fight with less than this share of the largest is left out.
SHARE = 0.2
# The motions of a part along and about the three axes.
WAYS = ("moves along the vehicle", "moves sideways", "moves up and down", "leans", "pitches", "turns to the side")


@dataclass(frozen=True)
class HeldTwice:
    """A system with `spare` rows more than it can do without, and the members that fight because of them."""

    system: System
    spare: int
    members: tuple[str, ...]


def check_freedoms(mechanism: Mechanism) -> None:
    """Raise SceneError with one sentence for each group of rigid parts that is loose."""
    complaints = [_loose_text(mechanism, system) for system in systems(mechanism)]
    if any(complaints):
        raise SceneError([text for text in complaints if text is not None])


def check_turning(mechanism: Mechanism) -> None:
    """Raise SceneError where knuckles turn freely on what holds their kingpins, which stands still.

    What a leaning kingpin's turn does to the wheel's height hides that from a count of rows with the heights given.
    """
    complaints = [_turning_text(mechanism, system) for system in systems(mechanism)]
    if any(complaints):
        raise SceneError([text for text in complaints if text is not None])


def check_held(mechanism: Mechanism) -> None:
    """Raise SceneError where parts are held by rank alone, and a joint out by a hair lets one move far."""
    complaints = [_hardly_text(mechanism, system) for system in systems(mechanism)]
    if any(complaints):
        raise SceneError([text for text in complaints if text is not None])


def kingpins(mechanism: Mechanism) -> dict[str, str]:
    """The part on which each knuckle with a kingpin turns."""
    ends = [(pin.part, pin.end.on) for pin in mechanism.pins]
    return {part: holder for part, holder in ends if ends.count((part, holder)) == 2}  # a kingpin's two joints


def _turning_text(mechanism: Mechanism, system: System) -> str | None:
    turning = kingpins(mechanism)
    knuckles = [slot for slot in range(system.free) if mechanism.bodies[system.bodies[slot]].name in turning]
    if not knuckles:
        return None
    holders = set(turning.values())
    moved = [slot for slot in range(system.free) if mechanism.bodies[system.bodies[slot]].name not in holders]
    columns = np.concatenate([np.arange(6 * slot, 6 * slot + 6) for slot in moved])
    rows = ride_rows(system, len(mechanism.drives))[~driven_rows(system)][:, columns]
    _, values, right = np.linalg.svd(rows)
    free = np.zeros((len(columns) - np.count_nonzero(values > SINGULAR), system.unknowns))
    free[:, columns] = right[len(columns) - len(free) :]
    sizes = {slot: float(np.abs(free[:, 6 * slot : 6 * slot + 6]).max(initial=0.0)) for slot in knuckles}
    loose = [slot for slot in knuckles if sizes[slot] > SINGULAR]
    if not loose:
        return None
    names = [mechanism.bodies[system.bodies[slot]].name for slot in loose]
    turns = "is not held: it turns freely about its kingpin"
    if len(names) > 1:
        turns = "are not held: they turn freely about their kingpins"
    return (
        f"{joined(names)} {turns}; add the tie rod or drag link that is missing, or check that the ends name the right "
        "part in `on`."
    )


def driven_rows(system: System) -> NDArray[np.bool_]:
    """Rows (m,) that give a wheel its height."""
    first = len(system.distance_length)
    driven = np.zeros(len(system.plus), dtype=bool)
    driven[first : first + len(system.offset_drive)] = system.offset_drive >= 0
    return driven


def held_twice(mechanism: Mechanism) -> tuple[HeldTwice, ...]:
    """The systems of rigid parts that are held more often than once at ride height."""
    found = []
    for system in systems(mechanism):
        left, rank, _ = _decomposed(mechanism, system)
        spare = left[:, rank:]
        if spare.shape[1] == 0:
            continue
        effort = np.sqrt((spare**2).sum(axis=1))
        fighting = [name for name, size in zip(system.members, effort, strict=True) if size > SHARE * effort.max()]
        found.append(HeldTwice(system, spare.shape[1], tuple(dict.fromkeys(fighting))))
    return tuple(found)


def ride_rows(system: System, drives: int) -> Array:
    """The Jacobian (m, 6 U) at ride height."""
    _, wrench = evaluate(system, ride_state(system, 1), np.zeros((drives, 1)))
    return np.asarray(jacobian(system, wrench)[0])


def _decomposed(mechanism: Mechanism, system: System) -> tuple[Array, int, Array]:
    """Left vectors (m, m), rank and right vectors (6 U, 6 U) of the rows at ride height."""
    rows = ride_rows(system, len(mechanism.drives)) if len(system.plus) else np.zeros((0, system.unknowns))
    left, values, right = np.linalg.svd(rows)
    return left, int(np.count_nonzero(values > SINGULAR)), right


def _loose_text(mechanism: Mechanism, system: System) -> str | None:
    _, rank, right = _decomposed(mechanism, system)
    loose = right[rank:]
    if len(loose) == 0:
        return None
    names = moving(mechanism, system, loose)
    return (
        f"{joined(names)} {'is' if len(names) == 1 else 'are'} not held: {len(loose)} "
        f"{'motion stays' if len(loose) == 1 else 'motions stay'} free with every wheel height "
        "given; add the link, arm or strut that is missing, or check that the ends name the right part in `on`."
    )


def _hardly_text(mechanism: Mechanism, system: System) -> str | None:
    """A sentence for a group that is held just so at ride height and hardly so, there and in two other poses."""
    rows = ride_rows(system, len(mechanism.drives))
    if rows.shape[0] != rows.shape[1] or np.linalg.svd(rows, compute_uv=False)[-1] > HARDLY:
        return None
    ends = np.array([[drive.low, drive.high] for drive in mechanism.drives if drive.name != "steer"])
    values = np.zeros((2, len(mechanism.drives)))
    values[:, [drive.name != "steer" for drive in mechanism.drives]] = ASIDE * ends.T
    poses = solve(mechanism, Travel(tuple(drive.name for drive in mechanism.drives), values))
    wrench = evaluate(system, group_state(poses, system), stood(poses))[1]
    if (np.linalg.svd(jacobian(system, wrench), compute_uv=False)[:, -1] > HARDLY).any():
        return None
    _, held, right = np.linalg.svd(rows)
    # A knuckle turns along with what its kingpin is on: that is what lacks a link.
    motion, pins = right[-1].reshape(system.free, 6), kingpins(mechanism)
    names = [mechanism.bodies[number].name for number in system.bodies[: system.free]]
    carried = {pins[name] for name in names if name in pins} & set(names)
    chosen = [k for k, name in enumerate(names) if name in carried] or list(range(len(names)))
    name, twist = max(((names[k], motion[k]) for k in chosen), key=lambda each: float(np.abs(each[1]).max()))
    way = int(np.abs(twist).argmax())
    by = abs(float(twist[way])) / float(held[-1])
    return (
        f'"{name}" is not held: with every wheel height given it still {WAYS[way]}, by about {by:.0f} mm where its '
        "joints are out by 1 mm; add the link, arm or strut that is missing, or check that the ends name the right "
        "part in `on`."
    )


def moving(mechanism: Mechanism, system: System, motions: Array) -> list[str]:
    """Names of the free bodies that have a good share in some motions (k, 6 U)."""
    freedom = np.sqrt((motions.reshape(len(motions), system.free, 6) ** 2).sum(axis=(0, 2)))
    return [
        mechanism.bodies[number].name
        for number, size in zip(system.bodies[: system.free], freedom, strict=True)
        if size > SHARE * freedom.max()
    ]


def ride_twists(mechanism: Mechanism, drive: int) -> dict[str, Array]:
    """Rotation (3,) in rad of each free body for one unit of a drive, at ride height, where it feels the drive.

    From the tangent of the rows: J twist = −∂residual/∂drive, the latter by a unit step since rows are linear in it
    for wheel heights, and by a small step of the driven bodies for steering.
    """
    turned: dict[str, Array] = {}
    small = 1e-4  # of full lock: the rows of a driven body are curved by a rack's or arm's own length only
    for system in systems(mechanism):
        values = np.zeros((len(mechanism.drives), 1))
        values[drive] = small
        residual = residual_at_drive(mechanism, system, values)
        twist = np.linalg.lstsq(ride_rows(system, len(values)), -residual[:, 0], rcond=None)[0] / small
        for slot in range(system.free):
            name = mechanism.bodies[system.bodies[slot]].name
            turned[name] = np.asarray(twist[6 * slot + 3 : 6 * slot + 6] / system.length)
    return turned


def joined(names: list[str]) -> str:
    """Names in quotes, as a list in a sentence."""
    quoted = [f'"{name}"' for name in names]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} and {quoted[-1]}"
