"""Lengths that a person sets when building: from eye to eye of bars and coilovers, the length of an arm, the track."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.mechanism import Arm, End, Mechanism
from model.members import Posture, posture
from model.poses import Poses
from model.spatial import Array, dot, norm, unit

TRACK = "track"


@dataclass(frozen=True)
class Span:
    """One length over N poses: its name, and the two points (N, 2, 3) in mm that it is measured between."""

    name: str
    points: Array

    @property
    def length(self) -> Array:
        """Length (N,) in mm."""
        return norm(self.points[:, 1] - self.points[:, 0])


def spans(poses: Poses) -> tuple[Span, ...]:
    """Every length that can be set: links and coilovers from eye to eye, shafts from joint to joint, arms, the track.

    An arm's is from its ball joint square to the line of its pivots. The track is measured across the vehicle between
    the middles of the two tyres where they stand, halfway between their heights where those differ.
    """
    mechanism, now = poses.mechanism, posture(poses)
    found = [Span(link.name, _between(now, *link.ends)) for link in mechanism.links]
    found += [Span(arm.name, _across(now, arm, arm.ball)) for arm in mechanism.arms if arm.ball is not None]
    found += [Span(unit_.name, _between(now, unit_.top, unit_.bottom)) for unit_ in mechanism.coilovers]
    for shaft in mechanism.shafts:
        near, far = shaft.joints[-2:]
        ends = [now.parts[joint.on].point(joint.at) for joint in (near, far)]
        found.append(Span(shaft.name, np.stack(ends, axis=1)))
    return (*found, *_track(now, mechanism))


def _between(now: Posture, first: End, second: End) -> Array:
    return np.stack([now.parts[end.on].point(end.at) for end in (first, second)], axis=1)


def _across(now: Posture, arm: Arm, ball: End) -> Array:
    """From the middle of an arm's ball joint to the foot of the perpendicular on the line of its pivots."""
    start, stop = (now.parts[pivot.on].point(pivot.at) for pivot in arm.pivots)
    at, along = now.parts[ball.on].point(ball.at), unit(stop - start)
    return np.stack([start + dot(at - start, along)[:, None] * along, at], axis=1)


def _track(now: Posture, mechanism: Mechanism) -> list[Span]:
    wheels = sorted(mechanism.wheels, key=lambda wheel: float(wheel.centre[1]))
    if len(wheels) != 2:
        return []
    feet = [now.parts[wheel.on].point(wheel.centre) - [0.0, 0.0, wheel.loaded_radius] for wheel in wheels]
    points = np.stack(feet[::-1], axis=1)
    points[:, :, [0, 2]] = points[:, :, [0, 2]].mean(axis=1, keepdims=True)
    return [Span(TRACK, points)]
