"""A whole car of two scenes at ride height: how it bounces, rolls, and what its links do under braking and driving."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from model import curvenames as named
from model.curvenames import Curve, Kind
from model.curves import curves
from model.errors import SceneError
from model.instantcentres import anti
from model.mechanism import Mechanism
from model.rates import ride_frequency
from model.solver import solve
from model.travel import single
from model.vehiclefile import SAME_WEIGHT, Vehicle
from model.wholecar import AxleAtRide, Rolling, pitch_transfer, rolling

# Heights of a car's centre of gravity and wheelbases in loaded radii of its wheels: wider than any car, so that only a
# lost digit or another unit is out of them. Common practice, no source.
HEIGHTS, WHEELBASES = (0.6, 5.0), (3.0, 25.0)


@dataclass(frozen=True)
class AxleReading:
    """One axle of a car: what it is at ride height, and how it answers.

    `frequency` in Hz of the body on its springs, `anti_brake` and `anti_drive` the shares of the moved load that go
    through its links (1: all of it, `None` where its wheels do not drive). `brake_slope` is the rise to the rear of the
    line along which braking lifts the body, mm for a mm.
    """

    title: str
    at_ride: AxleAtRide
    frequency: float
    anti_brake: float
    anti_drive: float | None
    brake_slope: float


@dataclass(frozen=True)
class WholeCar:
    """A car: both axles, how it rolls (`None` where nothing holds it up in roll), what moves between the axles at 1 g.

    `weight` in N; `front_share` of it; `transfer` from one axle to the other under 1 g of braking or driving, N.
    """

    vehicle: Vehicle
    front: AxleReading
    rear: AxleReading
    rolling: Rolling | None
    weight: float
    front_share: float
    transfer: float

    @property
    def lifts(self) -> tuple[float, float]:
        """The sideways accelerations in g at which the inner front and the inner rear wheel carry nothing any more."""
        if self.rolling is None:
            return 0.0, 0.0
        ends = ((self.front, self.rolling.front), (self.rear, self.rolling.rear))
        front, rear = (0.5 * axle.at_ride.weight / moved.total for axle, moved in ends)
        return front, rear

    @property
    def tips_at(self) -> float:
        """The sideways acceleration in g at which nothing holds it on its inner wheels any more, tyres permitting."""
        if self.rolling is None:
            return 0.0
        ends = ((self.front, self.rolling.front), (self.rear, self.rolling.rear))
        held = sum(0.5 * axle.at_ride.weight * axle.at_ride.track for axle, _ in ends)
        return held / sum(moved.total * axle.at_ride.track for axle, moved in ends)

    @property
    def front_extra(self) -> float:
        """By how much the front's share of the load transfer is more than its share of the weight."""
        return 0.0 if self.rolling is None else self.rolling.front_transfer_share - self.front_share

    @property
    def frequency_ratio(self) -> float:
        """The rear's ride frequency over the front's."""
        return self.rear.frequency / self.front.frequency


def whole_car(vehicle: Vehicle, front: Mechanism, rear: Mechanism) -> WholeCar:
    """Join two suspensions to a car.

    Raises:
        SceneError: a scene lacks what a whole car needs, or its weights are not those of the vehicle.

    """
    mm, newton = vehicle.units.mm, vehicle.units.weight
    given = _weights(vehicle, newton)
    complaints = [*_lacking("front", front), *_lacking("rear", rear)]
    if not complaints:
        complaints = [*_contradictions(given, front, rear, vehicle), *_out_of_proportion(vehicle, front, rear)]
    if complaints:
        raise SceneError(complaints)
    weights = given or (_on_scales(front), _on_scales(rear))
    wheelbase, height = vehicle.wheelbase * mm, vehicle.centre_of_gravity_height * mm
    readings = [
        _reading(mechanism, weight, wheelbase, height, ahead=ahead, brake=brake, drive=drive)
        for mechanism, weight, ahead, brake, drive in (
            (front, weights[0], True, 0.01 * vehicle.brake_front_percent, vehicle.drive_front),
            (rear, weights[1], False, 1.0 - 0.01 * vehicle.brake_front_percent, 1.0 - vehicle.drive_front),
        )
    ]
    return WholeCar(
        vehicle=vehicle,
        front=readings[0],
        rear=readings[1],
        rolling=rolling(readings[0].at_ride, readings[1].at_ride, wheelbase, height),
        weight=sum(weights),
        front_share=weights[0] / sum(weights),
        transfer=pitch_transfer(sum(weights), height, wheelbase),
    )


def _weights(vehicle: Vehicle, newton: float) -> tuple[float, float] | None:
    """Weights in N on the front and on the rear wheels; `None` where the vehicle file leaves them to the scenes."""
    if vehicle.weights is None:
        return None
    corners = vehicle.weights.corners
    if corners is not None:
        return newton * sum(corners[:2]), newton * sum(corners[2:])
    if vehicle.weights.total is None or vehicle.weights.front_percent is None:
        raise AssertionError("weights without corners have a total and a share")  # the record sees to it
    total, share = newton * vehicle.weights.total, 0.01 * vehicle.weights.front_percent
    return share * total, (1.0 - share) * total


def _lacking(which: str, mechanism: Mechanism) -> list[str]:
    wheels = {wheel.side for wheel in mechanism.wheels}
    found = []
    if wheels != {"left", "right"}:
        found.append(
            f'{which}: "{mechanism.title}" has no wheel on either side, which a car needs; take another scene.'
        )
    if mechanism.weights is None:
        found.append(
            f'{which}: "{mechanism.title}" has no [weights], and a car needs what is unsprung; add them to that scene.'
        )
    if not any(unit.spring is not None for unit in mechanism.coilovers):
        found.append(f'{which}: "{mechanism.title}" has no spring to stand on; add one to that scene.')
    return found


def _contradictions(
    given: tuple[float, float] | None, front: Mechanism, rear: Mechanism, vehicle: Vehicle
) -> list[str]:
    """Complaints where the vehicle's weights are not those of its scenes."""
    said = vehicle.units.weight_text
    return [
        f'{which}: the vehicle puts {said(weight)} on this axle, and [weights] of "{mechanism.title}" say '
        f"{said(_on_scales(mechanism))}; correct one of them, and check units at the top of both files."
        for which, weight, mechanism in zip(("front", "rear"), given or (), (front, rear), strict=False)
        if abs(weight - _on_scales(mechanism)) > SAME_WEIGHT * weight
    ]


def _out_of_proportion(vehicle: Vehicle, front: Mechanism, rear: Mechanism) -> list[str]:
    """Complaints of a wheelbase or a centre of gravity that no car on these wheels has."""
    radius = min(wheel.loaded_radius for wheel in (*front.wheels, *rear.wheels))
    found = []
    for key, bounds in (("centre_of_gravity_height", HEIGHTS), ("wheelbase", WHEELBASES)):
        value = getattr(vehicle, key)
        low, high = (bound * radius / vehicle.units.mm for bound in bounds)
        if not low <= value <= high:
            found.append(
                f"{key} is {value:g} {vehicle.units}, expected {low:.0f} to {high:.0f} {vehicle.units} on these "
                "wheels; check its digits and the file's units."
            )
    return found


def _on_scales(mechanism: Mechanism) -> float:
    """What the ground carries under both wheels, N."""
    return 0.0 if mechanism.weights is None else mechanism.weights.left + mechanism.weights.right


def _reading(
    mechanism: Mechanism, weight: float, wheelbase: float, height: float, *, ahead: bool, brake: float, drive: float
) -> AxleReading:
    found = _AtRide(curves(solve(mechanism, single(mechanism))))
    unsprung = 0.0 if mechanism.weights is None else 2.0 * mechanism.weights.unsprung
    tyres = [wheel.tyre_rate for wheel in mechanism.wheels if wheel.tyre_rate is not None]
    axle = AxleAtRide(
        weight=weight,
        unsprung=unsprung,
        wheel_rate=found.mean(named.WHEEL_RATE),
        tyre_rate=float(np.mean(tyres)) if len(tyres) == len(mechanism.wheels) else None,
        track=found.mean(named.TRACK),
        radius=float(np.mean([wheel.loaded_radius for wheel in mechanism.wheels])),
        roll_centre=found.mean(named.ROLL_CENTRE_HEIGHT),
        springs=found.sum(named.ROLL_STIFFNESS, named.FROM_SPRINGS),
        bar=found.sum(named.ROLL_STIFFNESS, named.FROM_BAR),
    )

    def share(kind: Kind, force: float) -> float:
        angles = found.of(kind)
        return float(np.mean(anti(angles, front=ahead, share=force, wheelbase=wheelbase, height=height)))

    return AxleReading(
        title=mechanism.title,
        at_ride=axle,
        frequency=float(ride_frequency(np.array(axle.wheel_rate), 0.5 * axle.sprung, axle.tyre_rate)),
        anti_brake=share(named.BRAKING_ANGLE, brake),
        anti_drive=share(named.DRIVE_ANGLE, drive) if drive > 0.0 else None,
        brake_slope=float(np.mean(np.tan(found.of(named.BRAKING_ANGLE)))),
    )


class _AtRide:
    """Curves of one pose, by kind and place."""

    def __init__(self, found: Iterable[Curve]) -> None:
        self._found = tuple(found)

    def of(self, kind: Kind, where: str = "") -> np.ndarray:
        """Values (k,) of all curves of a kind, or of those at a place."""
        chosen = [each.values[0] for each in self._found if each.what == kind.what and where in ("", each.where)]
        return np.array(chosen, dtype=float)

    def mean(self, kind: Kind) -> float:
        return float(np.mean(self.of(kind)))

    def sum(self, kind: Kind, where: str) -> float:
        return float(np.sum(self.of(kind, where)))
