"""A whole car from its two axles: how it rides, rolls, dives and squats. Pure formulas.

Weights and forces in N, lengths in mm, moments in N·mm, roll in rad; a lateral acceleration in shares of gravity.

The body is rigid and rolls about the line through both roll centres; the unsprung parts lean on their own wheels and
have their middle at the height of the wheels' centres (Gillespie, *Fundamentals of Vehicle Dynamics*, ch. 6, from
memory). With the body rolled by φ its weight stands aside of that line, which adds to the moment about it. Of one axle,
w is the sprung weight, z the roll centre's height, U the unsprung weight, r the wheels' radius, t the track, k the
stiffness in roll of springs and bar, q that of its tyres. What goes to the ground past the springs, g = w z + U r,
squashes the tyres as well, so that at 1 g, with W the sprung weight and h its middle above the roll axis,

    M = (k φ + g) q / (k + q)                          what the axle's tyres carry, ΔF t
    Σ (M − g) = W h + W h φ                            what springs and bars hold of the body
    φ = (W h + Σ g k / (k + q)) / (Σ k q / (k + q) − W h)

"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace


@dataclass(frozen=True)
class AxleAtRide:
    """One axle of a car at ride height.

    `weight` and `unsprung` are of both its wheels, N; `wheel_rate` of each of them, N/mm; `tyre_rate` likewise, `None`
    where it is not known. `springs` and `bar` are stiffnesses in roll, N·mm/rad. `track` is between the middles of the
    contact patches, `radius` the loaded one, `roll_centre` a height above the ground, mm.
    """

    weight: float
    unsprung: float
    wheel_rate: float
    tyre_rate: float | None
    track: float
    radius: float
    roll_centre: float
    springs: float
    bar: float

    @property
    def sprung(self) -> float:
        """What its springs carry, N."""
        return self.weight - self.unsprung

    @property
    def body(self) -> float:
        """Stiffness in roll of springs and bar, N·mm/rad."""
        return self.springs + self.bar

    @property
    def given_by_tyres(self) -> float:
        """How much of what springs and tyres give to a moment on the axle tyres give: k / (k + q); 0 of rigid ones."""
        if self.tyre_rate is None:
            return 0.0
        return self.body / (self.body + 0.5 * self.tyre_rate * self.track**2)

    @property
    def roll(self) -> float:
        """Its stiffness in roll, N·mm/rad: springs and bar, with the tyres in series: k q / (k + q)."""
        return self.body * (1.0 - self.given_by_tyres)

    @property
    def past_springs(self) -> float:
        """The moment at 1 g that goes to the ground past the springs, N·mm."""
        return self.sprung * self.roll_centre + self.unsprung * self.radius


@dataclass(frozen=True)
class LoadTransfer:
    """What moves from an axle's inner to its outer wheel at 1 g sideways, N, by the way it takes."""

    through_roll_centre: float
    through_springs: float
    unsprung: float

    @property
    def total(self) -> float:
        """All of it."""
        return self.through_roll_centre + self.through_springs + self.unsprung


@dataclass(frozen=True)
class Rolling:
    """How a car rolls.

    `gradient` in rad for each g sideways; `front_share` of the stiffness in roll; load transfer of either axle at 1 g.
    `arm` is how far the sprung weight's middle is above the roll axis, mm, `axis` the rise of that to the rear, rad.
    """

    arm: float
    axis: float
    gradient: float
    front_share: float
    front: LoadTransfer
    rear: LoadTransfer

    @property
    def front_transfer_share(self) -> float:
        """The front axle's share of the load transfer."""
        return self.front.total / (self.front.total + self.rear.total)


def sprung_height(front: AxleAtRide, rear: AxleAtRide, height: float) -> float:
    """Height of the sprung weight's middle, from that of the whole car's, mm."""
    unsprung = front.unsprung * front.radius + rear.unsprung * rear.radius
    return ((front.weight + rear.weight) * height - unsprung) / (front.sprung + rear.sprung)


def rolling(front: AxleAtRide, rear: AxleAtRide, wheelbase: float, height: float) -> Rolling | None:
    """How a car rolls whose centre of gravity is at a height; `None` where nothing holds it up in roll.

    Tyres count where the rates of both axles' are known: of one alone they would only make that end softer.
    """
    if front.tyre_rate is None or rear.tyre_rate is None:
        front, rear = replace(front, tyre_rate=None), replace(rear, tyre_rate=None)
    sprung = front.sprung + rear.sprung
    behind = rear.sprung / sprung  # of the wheelbase, from the front axle to the sprung weight's middle
    arm = sprung_height(front, rear, height) - (front.roll_centre + behind * (rear.roll_centre - front.roll_centre))
    stiffness = front.roll + rear.roll
    if stiffness <= sprung * arm or stiffness == 0.0:
        return None
    squashed = front.past_springs * front.given_by_tyres + rear.past_springs * rear.given_by_tyres
    gradient = (sprung * arm + squashed) / (stiffness - sprung * arm)
    return Rolling(
        arm=arm,
        axis=math.atan2(rear.roll_centre - front.roll_centre, wheelbase),
        gradient=gradient,
        front_share=front.roll / stiffness,
        front=_transfer(front, gradient),
        rear=_transfer(rear, gradient),
    )


def _transfer(axle: AxleAtRide, gradient: float) -> LoadTransfer:
    held = axle.roll * gradient - axle.past_springs * axle.given_by_tyres
    return LoadTransfer(
        through_roll_centre=axle.sprung * axle.roll_centre / axle.track,
        through_springs=held / axle.track,
        unsprung=axle.unsprung * axle.radius / axle.track,
    )


def pitch_transfer(weight: float, height: float, wheelbase: float) -> float:
    """What moves from one axle to the other at 1 g of braking or driving, N."""
    return weight * height / wheelbase
