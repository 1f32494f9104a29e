"""The eyes of a bar: which way each looks at ride height, and the spin at which they meet their bolts best.

Heads that are threaded in sit square to their bar and are turned against each other by the link's clock; a welded
eye is taken to fit its bolt at ride height. A bar has one eye, two, or none.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from model.articulation import Wave, plane_polar, spin_between
from model.joints import JointKind
from model.mechanism import End
from model.spatial import Array, square_to, triad, turn, unit

# Heads that are threaded or pressed in square to their bar; a welded eye is taken to fit its bolt at ride height.
SQUARE_KINDS = frozenset({JointKind.ROD_END, JointKind.BALL_JOINT})
# Used only to weigh two ends against each other where neither the scene nor common practice has a limit.
NO_LIMIT = float(np.radians(20.0))


@dataclass(frozen=True)
class Eye:
    """An eye of a bar: elevation (rad) of its axis, the side (±1) from which its bolt is seen, its azimuth (rad)."""

    end: End
    elevation: float
    sign: float
    azimuth: float

    def wave(self, axes: Array, holder: Array) -> Wave:
        """How its tilt goes with the spin of a bar with `axes` (..., 3, 3), bolted to a part turned by (..., 3, 3)."""
        length, azimuth, along = plane_polar(axes, self.sign * turn(holder, self.end.bolt))
        return Wave(length, along, azimuth - self.azimuth, self.elevation)

    def axis(self, ride_axes: Array, ride_spin: Array) -> Array:
        """The eye's axis (3,) at ride height, on the bolt's own side."""
        angle = ride_spin + self.azimuth
        flat = np.cos(angle) * ride_axes[:, 1] + np.sin(angle) * ride_axes[:, 2]
        return np.asarray(self.sign * (np.cos(self.elevation) * flat + np.sin(self.elevation) * ride_axes[:, 0]))

    @property
    def limit(self) -> float:
        """Largest tilt in rad, or the weight that stands in for it."""
        return self.end.joint.tilt.angle if self.end.joint.tilt is not None else NO_LIMIT


def eyes_of(ride_axes: Array, ends: tuple[End, ...], clock: float) -> list[Eye]:
    """The eyes among a bar's ends, clocked against the first of them; `ride_axes` (3, 3) at ride height.

    `clock` (rad) turns the second head against the first, right-handed about the direction from the first end to the
    second: seen from the first end along the bar, positive is clockwise.
    """
    heads = [end for end in ends if end.joint.kind is not JointKind.INLINE_BALL_JOINT]
    eyes = [Eye(end, _elevation(ride_axes, end), 1.0, 0.0) for end in heads]
    if len(eyes) < 2:
        return eyes
    spread = bolt_spread(ride_axes, heads[0], heads[1])
    if not any(map(is_square, heads)):
        return [eyes[0], replace(eyes[1], azimuth=spread)]
    sign = float(side_of(spread, np.array(clock)))
    return [eyes[0], replace(eyes[1], elevation=sign * eyes[1].elevation, sign=sign, azimuth=clock)]


def _elevation(ride_axes: Array, end: End) -> float:
    """How far (rad) an eye's axis leaves the plane square to its bar, seen from its bolt's or housing's own side."""
    if is_square(end):
        return 0.0
    length, _, along = plane_polar(ride_axes, _middle(end))
    return float(np.arctan2(along, length))


def _middle(end: End) -> Array:
    """The direction (3,) that an eye is made to fit at ride height."""
    return end.bolt if end.housing is None else end.housing


def side_of(spread: float, clock: Array) -> Array:
    """The side (...), ±1, from which a second head's bolt is seen, `spread` rad about the bar from the first one's.

    A bolt is a line: it is seen from the side on which it is nearer to the head at `clock` (...).
    """
    return np.where(np.cos(spread - clock) >= 0.0, 1.0, -1.0)


def bolt_spread(ride_axes: Array, first: End, second: End) -> float:
    """Azimuth in rad about a bar with axes (3, 3) from one end's bolt or housing to the other's."""
    azimuths = [plane_polar(ride_axes, _middle(end))[1] for end in (first, second)]
    return float(azimuths[1] - azimuths[0])


def is_square(end: End) -> bool:
    """Whether an eye's axis is square to its bar, whatever its bolt does at ride height."""
    return end.joint.kind in SQUARE_KINDS and end.housing is None


def best_spin(eyes: list[Eye], waves: list[Wave], shape: tuple[int, ...]) -> Array:
    """Spin (`shape`) in rad of a bar whose eyes' tilts go as `waves`."""
    if not waves:
        return np.zeros(shape)
    if len(waves) == 1:
        return waves[0].best
    return spin_between(waves[0], waves[1], (eyes[0].limit, eyes[1].limit))


@dataclass(frozen=True)
class FittedBar:
    """A bar as it is at ride height: its axes (3, 3), its eyes and its spin () there, in rad.

    `tilting` (k, 3) has for each of its k ends what tilts there: the axis of its eye, or of the bar itself at an
    inline joint.
    """

    ride: Array
    eyes: list[Eye]
    spin: Array
    tilting: Array

    @classmethod
    def between(cls, start: Array, stop: Array, ends: tuple[End, ...], clock: float) -> FittedBar:
        """Fit the eyes among `ends` of a bar between two points (3,)."""
        along = unit(stop - start)
        ride = triad(along, square_to(along))
        eyes = eyes_of(ride, ends, clock)
        spin = best_spin(eyes, [eye.wave(ride, np.eye(3)) for eye in eyes], ())
        axis_of = {id(eye.end): eye.axis(ride, spin) for eye in eyes}
        tilting = [axis_of.get(id(end), along if along @ end.bolt >= 0.0 else -along) for end in ends]
        return cls(ride, eyes, spin, np.array(tilting))

    def posed(self, start: Array, stop: Array, holders: list[Array]) -> tuple[Array, list[Wave]]:
        """Rotation (N, 3, 3) from ride height at the best spin of the bar between points (N, 3), and its eyes' waves.

        `holders` are the rotations (N, 3, 3) of what each eye is bolted to.
        """
        axes = swung(self.ride, unit(stop - start))
        waves = [eye.wave(axes, holder) for eye, holder in zip(self.eyes, holders, strict=True)]
        return spun(self.ride, axes, best_spin(self.eyes, waves, start.shape[:-1]) - self.spin), waves


def swung(ride: Array, along: Array) -> Array:
    """A bar's axes (..., 3, 3), at ride height (3, 3), after the smallest rotation that points it `along` (..., 3).

    With a the bar at ride height and b the bar now, a direction v square to a goes to v − (a + b)(b · v)/(1 + a · b).
    """
    both = (along + ride[:, 0]) / (1.0 + along @ ride[:, 0])[..., None]
    axes = np.empty((*along.shape, 3))
    axes[..., 0] = along
    for column in (1, 2):
        axes[..., column] = ride[:, column] - both * (along @ ride[:, column])[..., None]
    return axes


def spun(ride: Array, axes: Array, spin: Array) -> Array:
    """Rotation (..., 3, 3) from axes `ride` (3, 3) to `axes` (..., 3, 3) turned by `spin` (...) about the first."""
    cosine, sine = np.cos(spin)[..., None], np.sin(spin)[..., None]
    turned = np.empty_like(axes)
    turned[..., 0] = axes[..., 0]
    turned[..., 1] = cosine * axes[..., 1] + sine * axes[..., 2]
    turned[..., 2] = cosine * axes[..., 2] - sine * axes[..., 1]
    return (turned.reshape(-1, 3) @ ride.T).reshape(axes.shape)
