"""What the ground does to the wheels in a load case, and which cases are typical."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from model.errors import CallError
from model.mechanism import FRAME, LoadCase, Mechanism, Wheel
from model.members import Posture
from model.mobility import kingpins
from model.naming import suggestion
from model.preload import height_of
from model.pushes import Push, push
from model.spatial import Array
from model.travel import Travel
from model.wheelgeometry import contact_point, heading

STATIC = LoadCase("at rest", typical=True)
FULL_BUMP = LoadCase("bump", vertical=(3.0, 3.0), at=("bump", "bump"), typical=True)
# Common practice, no source: three times the weight at full bump, braking with 0.9 of it, driving with 0.6, and a turn
# at 0.6 g in which half of the inner wheel's weight goes over to the outer one, as if all of it sat 0.4 tracks high.
_TYPICAL = (STATIC, FULL_BUMP, LoadCase("braking", brake=0.9, typical=True))
_DRIVING = LoadCase("driving", drive=0.6, typical=True)
_TURN = LoadCase("right-hand turn", (1.5, 0.5), side=-0.6, at=("settled", "settled"), typical=True)


@dataclass(frozen=True, eq=False)
class Ground:
    """What the ground does to W wheels in N cases, in N: up, ahead along each wheel's own heading, and to its left."""

    up: Array
    ahead: Array
    left: Array


@dataclass(frozen=True, eq=False)
class Outside:
    """What comes from outside in N poses: at each wheel the ground's force (N, 3) at its contact (N, 3), and weight.

    `pushes` are the same as the parts feel them: torque that the frame takes up does not pass through the linkage.
    """

    contact: tuple[Array, ...]
    force: tuple[Array, ...]
    centre: tuple[Array, ...]
    weight: tuple[Array, ...]
    pushes: tuple[Push, ...]


def cases_of(mechanism: Mechanism) -> tuple[LoadCase, ...]:
    """The scene's load cases; where it has none, typical ones."""
    return mechanism.cases or typical_cases(mechanism)


def typical_cases(mechanism: Mechanism) -> tuple[LoadCase, ...]:
    """Cases that are common practice: at rest, full bump, braking, driving where a wheel is driven, a turn."""
    driven = (_DRIVING,) if any(wheel.driven for wheel in mechanism.wheels) else ()
    turn = (_TURN,) if len(mechanism.wheels) == 2 else ()
    return (*_TYPICAL, *driven, *turn)


def chosen_cases(mechanism: Mechanism, names: Sequence[str]) -> tuple[LoadCase, ...]:
    """The cases that a person names, in that order, of the scene's own and of typical ones; `cases_of` without a name.

    Raises:
        CallError: no case has one of the names.

    """
    known = {case.name: case for case in (*typical_cases(mechanism), *mechanism.cases)}
    for name in names:
        if name not in known:
            near = suggestion(name, known, f"there are {', '.join(known)}.")
            raise CallError(f'there is no load case "{name}"; {near}')
    return tuple(known[name] for name in dict.fromkeys(names)) or cases_of(mechanism)


def travel_to(mechanism: Mechanism, cases: Sequence[LoadCase]) -> Travel:
    """The poses of cases, straight ahead; at ride height where the wheels settle."""
    values = np.zeros((len(cases), len(mechanism.drives)))
    for column, drive in enumerate(mechanism.drives):
        if drive.name != "steer":
            side = int(drive.name == "right")
            values[:, column] = [0.0 if case.settles else height_of(drive, case.at[side]) for case in cases]
    return Travel(tuple(drive.name for drive in mechanism.drives), values)


def ground_of(mechanism: Mechanism, cases: Sequence[LoadCase]) -> Ground:
    """What the ground does in each case.

    Raises:
        CallError: the scene has no weights, or a case drives and no wheel is driven.

    """
    weights = mechanism.weights
    if weights is None:
        raise CallError(
            "this scene has no [weights], from which all loads follow; add it with wheel = what the scales say under "
            "each wheel."
        )
    for case in cases:
        if case.drive and not any(wheel.driven for wheel in mechanism.wheels):
            raise CallError(
                f'the case "{case.name}" drives, and no wheel is driven; add driven = true to the wheel in the scene.'
            )
    wheels = mechanism.wheels
    up = np.array(
        [[case.vertical[wheel.side == "right"] * weights.under(wheel.side) for wheel in wheels] for case in cases]
    )
    ahead = np.array([[case.drive * wheel.driven - case.brake for wheel in wheels] for case in cases])
    side = np.array([case.side for case in cases])[:, None]
    return Ground(up, ahead * up, side * up)


def outside(mechanism: Mechanism, now: Posture, ground: Ground) -> Outside:
    """What the ground and the weight of what is unsprung do in N poses.

    The vertical and the side force act on what carries the wheel at the contact. So does a force along the vehicle
    where the carrier takes up the wheel's torque; where the frame does, the wheel's bearing passes on the force alone,
    at the wheel's centre, and the torque goes to the frame. The unsprung weight is taken to act at the wheel's centre.
    """
    weights = mechanism.weights
    if weights is None:
        raise AssertionError("`ground_of` has refused a scene without weights")
    turning = kingpins(mechanism)
    found: list[tuple[Array, Array, Array, Array]] = []
    pushes: list[Push] = []
    for number, wheel in enumerate(mechanism.wheels):
        carrier = now.parts[wheel.on]
        centre, axis = carrier.point(wheel.centre), carrier.rotation @ wheel.axis
        contact, along = contact_point(centre, axis, wheel.loaded_radius), heading(axis)
        upright = np.broadcast_to([0.0, 0.0, 1.0], along.shape)
        ahead = ground.ahead[:, number, None] * along
        standing = ground.up[:, number, None] * upright + ground.left[:, number, None] * np.cross(upright, along)
        weight = -weights.unsprung * upright
        pushes += [
            push(wheel.name, "at its tyre", wheel.on, contact, standing),
            push(wheel.name, "at its centre", wheel.on, centre, ahead + weight),
        ]
        torque = np.cross(contact - centre, ahead)
        for part, words, pulled in (
            (_brakes_on(wheel), "through its brake", ground.ahead[:, number] < 0.0),
            (_driven_on(wheel, turning), "through its final drive", ground.ahead[:, number] > 0.0),
        ):
            pushes.append(push(wheel.name, words, part, centre, np.zeros_like(torque), torque * pulled[:, None]))
        found.append((contact, standing + ahead, centre, weight))
    contacts, forces, centres, weighed = zip(*found, strict=True)
    return Outside(contacts, forces, centres, weighed, tuple(pushes))


def _brakes_on(wheel: Wheel) -> str:
    return wheel.on if wheel.brake_on_carrier else FRAME


def _driven_on(wheel: Wheel, turning: dict[str, str]) -> str:
    """What takes up the torque that drives a wheel: behind a knuckle with a kingpin, the axle that it turns on."""
    return turning.get(wheel.on, wheel.on) if wheel.drive_on_carrier else FRAME
