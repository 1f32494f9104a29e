"""What every joint of a linkage with give carries, along its own axes, and what holds its drives."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from model.bushings import Give, energy, give_of, strain, swings
from model.constraints import System, systems
from model.equilibrium import wrench_on
from model.mechanism import End, Mechanism, Screw
from model.poses import Holding
from model.spatial import Array, square_to, triad


def joints_of(give: Give) -> list[tuple[str, End]]:
    """The joints of a system's springs: those of its bushings, then both ends of each link that is a spring."""
    sprung = [(bushing.member, bushing.end) for bushing in give.bushings]
    return [*sprung, *((link.member, end) for link in give.links for end in link.ends)]


def room_for(mechanism: Mechanism, n: int) -> Holding | None:
    """Room for what holds n poses, filled with zeros; None if the mechanism has no joints that give."""
    joints = [joint for system in systems(mechanism) for joint in joints_of(give_of(mechanism, system))]
    if not joints:
        return None
    deflection, rotation, force, moment = np.zeros((4, len(joints), n, 3))
    drives, axes = np.zeros((len(mechanism.drives), n)), np.zeros((len(joints), 3, 3))
    return Holding(drives, np.zeros(n), np.zeros(n), tuple(joints), axes, deflection, rotation, force, moment)


def put(whole: Holding, part: Holding, joints: slice, poses: NDArray[np.intp]) -> None:
    """Write the joints of one group in some poses into the whole, and add what the group needs of drives and energy."""
    whole.axes[joints] = part.axes
    whole.deflection[joints, poses], whole.rotation[joints, poses] = part.deflection, part.rotation
    whole.force[joints, poses], whole.moment[joints, poses] = part.force, part.moment
    whole.drive[:, poses] += part.drive
    whole.energy[poses] += part.energy
    whole.imbalance[poses] = np.maximum(whole.imbalance[poses], part.imbalance)


def loads(
    mechanism: Mechanism, system: System, give: Give, state: Array, force: Array, drives: Array, imbalance: Array
) -> Holding:
    """Loads of one system that is at rest, with arrays as `model.equilibrium.balance` has them."""
    force = force[: len(system.plus)]
    now, count = strain(give, state), len(give.bushings)
    axes = np.array([triad(end.bolt, square_to(end.bolt)) for _, end in joints_of(give)]).reshape(-1, 3, 3)
    moment = np.zeros((3, len(axes), state.shape[-1]))
    deflection, rotation, pull = np.zeros_like(moment), np.zeros_like(moment), np.zeros_like(moment)
    deflection[:, :count], rotation[:, :count] = now.apart[:, :count], swings(now)
    pull[:, :count], moment[:, :count] = now.force[:, :count], now.couple
    holders = list(give.minus[:count])
    for number, link in enumerate(give.links):
        k, first = count + number, count + 2 * number
        # A link in tension is drawn out of both its joints, towards its own middle.
        for end, sign in enumerate((-1.0, 1.0)):
            pull[:, first + end] = sign * now.force[:, k]
            deflection[:, first + end] = pull[:, first + end] / link.rates[end]
        holders += [give.plus[k], give.minus[k]]

    def along_axes(vectors: Array) -> Array:
        """(3, J, n) in the vehicle's axes as (J, n, 3) along the joints' own."""
        return np.asarray(np.einsum("jab,jcan,cjn->jnb", axes, state[holders][:, :, :3], vectors))

    turned = along_axes(rotation)
    turned[:count, :, 0] = now.turn
    return Holding(
        drive=_drive_forces(mechanism, system, give, state, force, drives),
        energy=energy(give, now),
        imbalance=imbalance,
        joints=tuple(joints_of(give)),
        axes=axes,
        deflection=along_axes(deflection),
        rotation=turned,
        force=along_axes(pull),
        moment=along_axes(moment),
    )


def _drive_forces(mechanism: Mechanism, system: System, give: Give, state: Array, force: Array, drives: Array) -> Array:
    """Force on each drive (D, n): the slope of the stored energy over the drive's value."""
    held = np.zeros(drives.shape)
    for row, drive in enumerate(system.offset_drive, start=len(system.distance_length)):
        if drive >= 0:
            held[drive] -= force[row]
    for slot, number in enumerate(system.bodies):
        screw = mechanism.bodies[number].screw
        if screw is not None and mechanism.steer is not None:
            twist = lock_twist(screw, system.origin, drives[mechanism.steer], system.length)
            wrench = wrench_on(system, give, state, force, drives, slot)
            held[mechanism.steer] += np.einsum("in,in->n", wrench, twist)
    return held


def lock_travel(screw: Screw, shares: Array) -> Array:
    """How far (mm or rad) a driven body would go for the whole of its lock at shares (n,) of it, signed to the left."""
    return np.where(shares >= 0.0, screw.left, -screw.right)


def bytes_per_pose(mechanism: Mechanism) -> int:
    """Memory that one pose keeps for good once it is solved: where all bodies are, and what holds or stops them."""
    joints = [joint for system in systems(mechanism) for joint in joints_of(give_of(mechanism, system))]
    locks = {part.member for parts in (mechanism.rows, mechanism.bushings, mechanism.elastic_links) for part in parts}
    drives = len(mechanism.drives)
    numbers = len(mechanism.bodies) * (9 + 3) + drives + 4  # residual, solves, reached, locked_by
    if joints:
        numbers += 4 * 3 * len(joints) + drives + 2  # energy, imbalance
    return np.dtype(float).itemsize * numbers + 1 + len(locks)  # status, and which members stop it


def lock_twist(screw: Screw, origin: Array, shares: Array, length: float = 1.0) -> Array:
    """How a driven body moves (6, n), as a twist about an origin, rotation × `length`, for the whole of its lock."""
    travel = lock_travel(screw, shares)
    if not screw.turns:
        return np.concatenate([screw.axis, np.zeros(3)])[:, None] * travel
    swept = np.cross(screw.point - origin, screw.axis)
    return np.concatenate([swept, length * screw.axis])[:, None] * travel
