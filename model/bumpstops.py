"""Bump stops that act too late: what they are there to keep from happening comes first."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from model.measures import Quantity
from model.mechanism import Coilover, Mechanism, Wheel
from model.poses import Poses
from model.reaches import Reach, Stop
from model.stops import Cause
from model.verdicts import Finding, State

# A bump stop that is late by less than this, mm, acts at the same moment as far as anyone can build.
LATE = 0.05
TOO_LATE = "bump stop acts too late"
# What stands between the names of two parts that touch.
BETWEEN = " – "
ACTS_FIRST = "published: a bump stop acts before the damper bottoms, before coil bind, before the tyre touches"


def stop_findings(reaches: Sequence[Reach], poses: Poses) -> tuple[Finding, ...]:
    """Bump stops that act later than the damper bottoms, its spring goes solid or the tyre on their side touches.

    Of each bump stop and each of these the worst way counts; `used` is by how many mm of wheel travel it is late. It is
    over where that happens inside the travel asked for, close where only beyond. A damper without a `bump_stop` in the
    scene is not judged, nor is a tyre that touches at ride height already. `pose` is the one of `poses` that is nearest
    to where it happens; `drives` say where.
    """
    mechanism = poses.mechanism
    late: dict[tuple[str, Cause, str], Finding] = {}
    for reach in reaches:
        for unit in mechanism.coilovers if reach.rising else ():
            acts = [stop.amount for stop in reach.stops if stop.cause is Cause.BUMP_STOP and stop.where == unit.name]
            for stop in reach.stops if unit.bump_stop else ():
                by = min(acts, default=reach.looked) - stop.amount
                key = unit.name, stop.cause, stop.where
                if not _must_come_later(stop, unit, reach, mechanism) or by <= LATE:
                    continue
                found = _late(stop, unit, by, reach, poses)
                # Late inside the travel asked for is worse than later still beyond it.
                if key not in late or _badness(found) > _badness(late[key]):
                    late[key] = found
    return tuple(late.values())


def _badness(found: Finding) -> tuple[bool, float]:
    return found.state is State.OVER, found.used


def _must_come_later(stop: Stop, unit: Coilover, reach: Reach, mechanism: Mechanism) -> bool:
    """Whether a stop is one that a coilover's bump stop has to act before."""
    if stop.cause in (Cause.DAMPER_BOTTOM, Cause.COIL_BIND):
        return stop.where == unit.name
    if stop.cause is not Cause.TOUCH or stop.amount == 0.0:
        return False
    mine = [wheel.name for wheel in mechanism.wheels if wheel.side in reach.rising and _beside(wheel, unit)]
    return any(name in mine for name in stop.where.split(BETWEEN))


def _beside(wheel: Wheel, unit: Coilover) -> bool:
    """Whether a coilover is on a wheel's side of the car."""
    return bool(wheel.centre[1] * unit.bottom.at[1] >= 0.0)


def _late(stop: Stop, unit: Coilover, by: float, reach: Reach, poses: Poses) -> Finding:
    before = stop.where.replace(BETWEEN, " meets the ") if stop.cause is Cause.TOUCH else str(stop.cause)
    where = f"{unit.name}, after the {before}"
    return Finding(
        what=TOO_LATE,
        where=where,
        part=unit.name,
        state=State.OVER if stop.amount <= reach.asked else State.CLOSE,
        quantity=Quantity.LENGTH,
        used=by,
        limit=0.0,
        typical=False,
        source=ACTS_FIRST,
        pose=int(poses.nearest(np.array([stop.drives]))[0]),
        drives=stop.drives,
        at=stop.at,
        measured_at=where,
    )
