"""Which spring holds a wheel at a wanted height, with a wanted ride frequency, and what each spring would do there.

With W the sprung weight on a wheel, S the motion ratio of its coilover at ride height (mm of coilover for a mm of
wheel, both wheels together) and k the spring's rate

    force at ride height   F = W / S
    wheel rate             K = k S² + F dS/dh       (Barton & Fieldhouse, Automotive Chassis Engineering, eq. 3.33, and
                                                     what the change of the motion ratio adds)
    ride frequency         f = √(K g / W) / 2π      (McLean, Engineering Mechanics, Schaum; with a tyre in series)

The spring is squeezed by F / k there. With its seat moved by p from where it is now, the seats are d − p apart, d their
distance now at that length of the coilover; a spring of free length L fits where L − F / k = d − p.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from model.errors import CallError
from model.mechanism import Spring
from model.rates import GRAVITY, rate_at_wheels, rate_of_spring, ride_frequency
from model.springcorners import Corner

# Mm of steel that has to be left between coils at full compression; common practice, no source.
SPARE = 5.0
# Mm between a spring's inside and the damper's body; common practice, no source.
ROUND_BODY = 2.0
# Mm that a spring may hang loose: its own weight and the rubber of its seats take that up; common practice, no source.
PLAY = 0.5


@dataclass(frozen=True)
class Offer:
    """A spring that can be had: rate N/mm, lengths mm; `None` where its maker does not say."""

    name: str
    rate: float
    free_length: float
    solid_length: float | None = None
    inside_diameter: float | None = None


class Trouble(StrEnum):
    """What may be wrong with a spring; `MINOR` ones do not keep it from fitting."""

    SOLID = "its coils touch before full bump"
    SEAT = "its seat cannot be moved so far"
    NARROW = "it is too narrow for the damper's body"
    AT_END = "the damper is at its end at ride height"
    LOOSE = "it hangs loose at full extension"
    NEARLY_SOLID = "its coils nearly touch at full bump"
    SOLID_FULLY_IN = "its coils touch before the damper is fully in"


MINOR = (Trouble.LOOSE, Trouble.NEARLY_SOLID, Trouble.SOLID_FULLY_IN)


@dataclass(frozen=True)
class Moment:
    """A spring at a place of the travel: force N, stored J; the ratio is that of the coilover there, if it is one."""

    place: str
    ratio: float | None
    force: float
    energy: float


@dataclass(frozen=True)
class Fit:
    """A spring on a corner at a height: forces N, lengths mm, rates N/mm, energies J.

    `preload` is how much it is squeezed at full extension; below zero it hangs loose there. `bump_left` and
    `droop_left` are shares of the stroke. `perch` is how far its seat has to go from where it is, towards the spring;
    `installed` its length at ride height; `spare` is what is left before its coils touch at full bump, `spare_in` with
    the damper fully in, where it is squeezed by `most`. `troubles` come with how many mm they are about.
    """

    corner: Corner
    name: str
    height: float
    rate: float
    free_length: float | None
    force: float
    squeezed: float
    preload: float
    length: float
    bump_left: float
    droop_left: float
    perch: float | None
    installed: float | None
    most: float
    spare: float | None
    spare_in: float | None
    wheel_rate: float
    frequency: float
    moments: tuple[Moment, ...]
    troubles: tuple[tuple[Trouble, float], ...] = ()

    @property
    def fits(self) -> bool:
        """Whether nothing keeps it from fitting."""
        return all(trouble in MINOR for trouble, _ in self.troubles)


def rate_for(corner: Corner, frequency: float, height: float = 0.0) -> float:
    """The spring rate in N/mm that gives a ride frequency in Hz with the wheel at a height in mm from ride height now.

    Raises:
        CallError: the tyre alone is softer than that, or the linkage alone gives more.

    """
    _, ratio, change = corner.at(height)
    stiff = (2.0 * math.pi * frequency) ** 2 * corner.sprung / GRAVITY
    tyre = corner.wheel.tyre_rate
    if tyre is not None:
        if stiff >= tyre:
            raise CallError(
                f"{frequency:g} Hz is more than the tyre alone gives with this weight on it; want less, or check "
                "tyre_rate and [weights]."
            )
        stiff = stiff * tyre / (tyre - stiff)
    rate = rate_of_spring(stiff, ratio, corner.sprung / ratio, change)
    if rate <= 0.0:
        raise CallError(
            f"{frequency:g} Hz is less than the linkage gives by itself; want more than "
            f"{float(ride_frequency(np.array(corner.sprung / ratio * change), corner.sprung)):.2f} Hz."
        )
    return rate


def fit(corner: Corner, name: str, rate: float, height: float = 0.0, offer: Offer | None = None) -> Fit:
    """What a spring does on a corner whose wheel stands at a height in mm from ride height now.

    Args:
        corner: the wheel and its coilover.
        name: what the spring is called.
        rate: N/mm.
        height: of the wheel against the frame, mm; negative raises the vehicle.
        offer: a spring that can be had; without one only what follows from the rate is known.

    """
    unit = corner.coilover
    length, ratio, change = corner.at(height)
    force = corner.sprung / ratio
    squeezed = force / rate
    out = unit.extended - length
    wheel_rate = rate_at_wheels(rate, ratio, force, change)
    most = squeezed + length - unit.compressed
    seats = corner.seats
    free = None if offer is None else offer.free_length
    solid = None if offer is None else offer.solid_length
    installed = None if free is None else free - squeezed
    left = None if free is None or solid is None else free - solid
    found = Fit(
        corner=corner,
        name=name,
        height=height,
        rate=rate,
        free_length=free,
        force=force,
        squeezed=squeezed,
        preload=squeezed - out,
        length=length,
        bump_left=(length - unit.compressed) / unit.stroke,
        droop_left=out / unit.stroke,
        perch=None if seats is None or installed is None else seats - out - installed,
        installed=installed,
        most=most,
        spare=None if left is None else left - (squeezed + length - float(corner.length[-1])),
        spare_in=None if left is None else left - most,
        wheel_rate=wheel_rate,
        frequency=float(ride_frequency(np.array(wheel_rate), corner.sprung, corner.wheel.tyre_rate)),
        moments=_moments(corner, rate, squeezed, length, ratio, most),
    )
    return replace(found, troubles=tuple(_troubles(found, offer)))


def _moments(
    corner: Corner, rate: float, squeezed: float, length: float, ratio: float, most: float
) -> tuple[Moment, ...]:
    """The spring over the travel."""
    hanging, bumped = (max(squeezed + length - float(corner.length[end]), 0.0) for end in (0, -1))
    places = [
        ("full droop", float(corner.ratio[0]), hanging),
        ("ride height", ratio, squeezed),
        ("full bump", float(corner.ratio[-1]), bumped),
        ("damper fully in", None, most),
    ]
    return tuple(Moment(place, each, rate * mm, 0.5 * rate * mm**2 / 1000.0) for place, each, mm in places)


def _troubles(found: Fit, offer: Offer | None) -> Iterator[tuple[Trouble, float]]:
    """What is wrong with a spring, and by how many mm."""
    corner = found.corner
    if not 0.0 < found.bump_left < 1.0:
        yield Trouble.AT_END, found.length
    if found.spare is not None and found.spare_in is not None:
        if found.spare < 0.0:
            yield Trouble.SOLID, -found.spare
        elif found.spare < SPARE:
            yield Trouble.NEARLY_SOLID, found.spare
        elif found.spare_in < 0.0:
            yield Trouble.SOLID_FULLY_IN, -found.spare_in
    if found.perch is not None and corner.perch is not None:
        beyond = max(found.perch - corner.perch.high, corner.perch.low - found.perch)
        if beyond > 0.0:
            yield Trouble.SEAT, beyond
    if offer is not None and offer.inside_diameter is not None:
        short = corner.coilover.body_diameter + ROUND_BODY - offer.inside_diameter
        if short > 0.0:
            yield Trouble.NARROW, short
    if found.preload < -PLAY:
        yield Trouble.LOOSE, -found.preload


def offer_of(spring: Spring) -> Offer:
    """The spring that a scene has now."""
    inside = spring.outside_diameter - 2.0 * spring.wire_diameter
    return Offer("the scene's spring", spring.rate, spring.free_length, spring.solid_length, inside)


def free_lengths(found: Fit) -> tuple[float, float, float] | None:
    """Free lengths in mm that fit: with the perch where it is, and with it at its ends; None without a spring now.

    Without an adjuster for the perch all three are the same.
    """
    seats = found.corner.seats
    if seats is None:
        return None
    out = found.corner.coilover.extended - found.length
    now = seats - out + found.squeezed
    perch = found.corner.perch
    return (now, now, now) if perch is None else (now, now - perch.high, now - perch.low)


def nearest(fits: Sequence[Fit], rate: float) -> tuple[Fit, ...]:
    """Springs that can be had, the best first: what fits before what does not, then by their rate's share of a rate."""
    return tuple(sorted(fits, key=lambda found: (not found.fits, abs(math.log(found.rate / rate)), found.name)))
