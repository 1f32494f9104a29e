"""What a close-up is of: a joint, a part or a point by its name, and how it is best looked at."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from model.joints import BUSH_KINDS
from model.measures import place_text
from model.mechanism import Mechanism, Wheel
from model.members import Posture, halves
from model.spatial import Array, norm, unit
from viz.views import BALL, UP, Camera, perspective, unknown_name

# A close-up shows a ball of this radius (mm) about a joint; what is nearer than the second belongs to the joint.
JOINT_REACH, JOINT_SIZE = 170.0, 75.0
# A bush is looked at from nearer, half along its bolt (the cosine), so that its face shows.
BUSH_REACH, BUSH_ALONG = 115.0, 0.72
# Shares of the way between a part's two joints at which it is to be in sight.
SPOTS = np.array([0.15, 0.5, 0.85])
# A part's close-up shows this much around it, in mm.
PART_MARGIN = 120.0
# A wheel is looked at from ahead and above too (x, y, z), beside from outside.
WHEEL_LOOK = np.array([0.66, 0.0, 0.36])


@dataclass(frozen=True)
class Subject:
    """What a close-up keeps in frame.

    `track` (k, 3) are the places to keep in frame with `margin` mm about each, `middle` (3,) what is looked at, `size`
    the radius in mm of what belongs to it. `bolt` (3,) is the direction of a joint's bolt, `best_along` the cosine of
    the angle to it that shows the joint best, `glass` the label of what then stands in front. `joint` says that it is
    one place and not a whole part. `look` is the direction (3,) to look from, where it is not sought. A whole part is
    in sight where its `spots` (k, 3) are, unless what has a label in `own` hides them: that is itself.
    """

    track: Array
    middle: Array
    size: float
    margin: float
    joint: bool
    bolt: Array | None = None
    best_along: float = 0.0
    glass: str | None = None
    look: Array | None = None
    spots: Array | None = None
    own: frozenset[str] = frozenset()


def wheel_look(wheel: Wheel) -> Array:
    """The direction (3,) from which a wheel shows both its rim and its tread: half from outside, half from ahead."""
    out = wheel.axis if wheel.centre[1] >= 0.0 else -wheel.axis
    return unit(0.66 * out + WHEEL_LOOK)


def subject_of(
    name: str,
    now: Posture,
    mechanism: Mechanism,
    pose: int,
    labels: Iterable[str],
    cloud: Callable[[str], Array],
) -> Subject:
    """Find what a name means: a joint first, then a part, then a point.

    Args:
        name: as a person wrote it.
        now: where everything is.
        mechanism: of which it is.
        pose: number of the pose that is shown.
        labels: names under which parts are drawn.
        cloud: corners (k, 3) of a part by its name, over all poses.

    Raises:
        DrawingError: nothing has this name.

    """
    joints = {place_text(joint.member, joint.end): joint for joint in now.joints}
    points = {point: (holder, at) for point, holder, at in mechanism.points}
    points |= {f"{shaft.name}, {at.place}": (at.on, at.at) for shaft in mechanism.shafts for at in shaft.joints}
    units = {unit.name for unit in mechanism.coilovers}
    known = {*labels, *units}
    if name in joints:
        joint = joints[name]
        bolt = now.parts[joint.end.on].rotation[pose] @ joint.end.bolt
        if joint.end.joint.kind in BUSH_KINDS:
            glass = f"bracket of {name}"
            return Subject(joint.at, joint.at[pose], JOINT_SIZE, BUSH_REACH, True, bolt, BUSH_ALONG, glass)
        return Subject(joint.at, joint.at[pose], JOINT_SIZE, JOINT_REACH, True, bolt)
    if name in known:
        own = frozenset([*halves(name), f"{name} spring"] if name in units else [name])
        corners = np.concatenate([cloud(part) for part in (halves(name) if name in units else (name,))])
        size = 0.5 * float(norm(corners.max(axis=0) - corners.min(axis=0)))
        wheel = next((wheel for wheel in mechanism.wheels if wheel.name == name), None)
        look = None if wheel is None else wheel_look(wheel)
        spots = _spots(name, now, pose)
        return Subject(corners, corners.mean(axis=0), size, PART_MARGIN, False, look=look, spots=spots, own=own)
    if name in points:
        holder, at = points[name]
        track = now.parts[holder].point(at)
        return Subject(track, track[pose], JOINT_SIZE, JOINT_REACH, True)
    raise unknown_name(name, [*joints, *sorted(known), *points])


def _spots(name: str, now: Posture, pose: int) -> Array | None:
    """Places (k, 3) along a damper or another part between its two joints in a pose; None where it has not two."""
    ends = [at[pose] for each in now.strokes if each.coilover.name == name for at in (each.top, each.bottom)]
    ends = ends or [joint.at[pose] for joint in now.joints if joint.member == name]
    return None if len(ends) != 2 else ends[0] + SPOTS[:, None] * (ends[1] - ends[0])


def close_camera(name: str, seen: Subject, direction: Array, aspect: float) -> Camera:
    """The camera of a close-up of what has this name, from a direction (3,); `aspect` is width over height."""
    cloud = (seen.track[:, None] + seen.margin * BALL).reshape(-1, 3)
    camera = perspective(direction, UP, cloud, aspect)
    if not seen.joint:
        return replace(camera, close=True, part=name)
    return replace(camera, target=seen.middle, close=True, glass=seen.glass)
