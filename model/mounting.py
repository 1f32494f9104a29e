"""What a coilover does for its wheels where it is mounted, and what its mounts and the others do to the frame.

Raised by z with both wheels, a spring of rate k whose coilover shortens by S = ds/dz holds them with
d(F S)/dz = k S² + F dS/dz. Elsewhere, with the same F S, the same wheel rate takes k' of

    k' S'² + F' dS'/dz = k S² + F dS/dz        F' = F S / S'
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from model.errors import CallError
from model.forces import MountLoad, all_loads
from model.loadcases import FULL_BUMP, STATIC
from model.mechanism import Mechanism
from model.rates import lifted, rate_at_wheels, rate_of_spring, ride_frequency
from model.solver import solve
from model.tangents import velocities
from model.travel import single

# Less than this of a mm for a mm of wheel, a coilover does not move with its wheels: no spring there could hold them.
LEAST_RATIO = 0.01


@dataclass(frozen=True)
class Mounting:
    """A coilover at ride height, both wheels moved together.

    `ratio` is how much it shortens for 1 mm of wheel, `change` by how much that grows with each mm (1/mm). `rate` N/mm
    and `force` N are its spring's; `wheel_rate` N/mm is what that does at the wheels. `room_in` and `room_out` in mm of
    its `stroke` are left.
    """

    coilover: str
    ratio: float
    change: float
    stroke: float
    room_in: float
    room_out: float
    rate: float | None
    force: float | None
    wheel_rate: float | None


def mountings(mechanism: Mechanism) -> tuple[Mounting, ...]:
    """Every coilover of a mechanism at ride height."""
    poses = solve(mechanism, single(mechanism))
    raised = lifted(poses, velocities(poses))
    found = []
    for unit in mechanism.coilovers:
        strained, ratios, changes = raised[unit.name]
        ratio, change = float(ratios[0]), float(changes[0])
        length = float(np.linalg.norm(unit.top.at - unit.bottom.at))
        rate = None if unit.spring is None else unit.spring.rate
        force = None if unit.spring is None else float(strained.force[0])
        wheel_rate = None if rate is None or force is None else rate_at_wheels(rate, ratio, force, change)
        found.append(
            Mounting(
                coilover=unit.name,
                ratio=ratio,
                change=change,
                stroke=unit.stroke,
                room_in=length - unit.compressed,
                room_out=unit.extended - length,
                rate=rate,
                force=force,
                wheel_rate=wheel_rate,
            )
        )
    return tuple(found)


def same_rate(first: Mounting, second: Mounting) -> float | None:
    """The spring rate (N/mm) with which the second does at the wheels what the first does with its own spring.

    `None` where the first has no spring, or no spring does that in the second.
    """
    if first.wheel_rate is None or first.force is None or abs(second.ratio) < LEAST_RATIO:
        return None
    force = first.force * first.ratio / second.ratio
    rate = rate_of_spring(first.wheel_rate, second.ratio, force, second.change)
    return rate if rate > 0.0 else None


@dataclass(frozen=True)
class FrameLoads:
    """What members do to the frame, by member and place, at `rest` and in full `bump`; or `why` that is not known."""

    rest: Mapping[tuple[str, str], MountLoad]
    bump: Mapping[tuple[str, str], MountLoad]
    why: str = ""


def frame_loads(mechanism: Mechanism) -> FrameLoads:
    """The forces at all mounts on the frame, at rest and at full bump with three times the weight (a typical case)."""
    try:
        cases = all_loads(mechanism, [STATIC, FULL_BUMP])
    except CallError as error:
        return FrameLoads({}, {}, str(error))
    rest, bump = ({(each.member, each.place): each for each in case.on_frame} for case in cases)
    return FrameLoads(rest, bump)


def frequency(mechanism: Mechanism, found: Sequence[Mounting]) -> float | None:
    """Hz at which what the springs carry nods on all of them, both wheels together; `None` without weights or springs.

    Tyres give way in series where the scene has the rate of every one.
    """
    weights, rates = mechanism.weights, [each.wheel_rate for each in found if each.wheel_rate is not None]
    if weights is None or not rates:
        return None
    sprung = sum(weights.under(wheel.side) - weights.unsprung for wheel in mechanism.wheels)
    tyres = [wheel.tyre_rate for wheel in mechanism.wheels if wheel.tyre_rate is not None]
    tyre = sum(tyres) if len(tyres) == len(mechanism.wheels) else None
    hertz = float(ride_frequency(np.array(sum(rates)), sprung, tyre))
    return hertz if np.isfinite(hertz) else None
