"""What can stop a suspension, as signed signals over poses: above zero it is past its limit.

Some stops are *hard*: past them no real car goes (a damper at either end of its stroke, a solid spring, a strap, the
steering's own lock, a linkage that locks). The others harm something that gives way: a joint past its angle, a wound-up
bush, a taut hose, a shaft out of its slip, parts that touch. A bump stop that touches stops nothing by itself: from
there on it pushes back.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from model.drivelines import shaft_motions
from model.hangers import hanger_measures
from model.jointmeasures import ROOM_TO_SPIN, TILT_WORD, joint_measures, stroke_measures
from model.measures import Measure, Quantity, given_bound
from model.mechanism import Mechanism, Strap
from model.members import Posture, Stroke, posture
from model.poses import CHUNK, Poses
from model.spatial import Array, norm

# A limit that is met exactly is not passed: what the solver's promise of 1e-9 mm loses on the way, in mm.
SLACK = 1e-7


class Touches(Protocol):
    """Distances of pairs of parts, asked for again and again with poses of the same mechanism."""

    def __len__(self) -> int:
        """Return the number of pairs, P."""

    def __call__(self, poses: Poses, asked: NDArray[np.bool_] | None) -> Iterable[Measure]:
        """One measure for each pair: its distance in mm, zero or less where the parts are inside each other.

        Values that `asked` (P, N) does not ask for may be NaN. Where parts are far apart anything above zero will do,
        such as the distance of the boxes around them.
        """


class Cause(StrEnum):
    """What stops a suspension, in the words that a person reads."""

    BUMP_STOP = "bump stop touches"
    DAMPER_BOTTOM = "damper bottoms"
    COIL_BIND = "spring goes solid"
    TOP_OUT = "damper tops out"
    STRAP = "strap goes taut"
    HOSE = "hose goes taut"
    JOINT_ANGLE = "joint runs out of angle"
    BINDS = "bar binds on both its joints"
    WIND_UP = "bush is wound up past its limit"
    SLIP_IN = "shaft bottoms in its slip"
    SLIP_OUT = "shaft comes out of its slip"
    TOUCH = "parts touch"
    STRAIGHT = "link runs straight"
    LOCK = "steering reaches its lock"

    @property
    def hard(self) -> bool:
        """Whether no real car goes past it."""
        return self in _HARD

    @property
    def harms(self) -> bool:
        """Whether it is more than a bump stop that begins to push back."""
        return self is not Cause.BUMP_STOP


_HARD = frozenset(
    (Cause.DAMPER_BOTTOM, Cause.COIL_BIND, Cause.TOP_OUT, Cause.STRAP, Cause.STRAIGHT, Cause.LOCK),
)
_CAUSES = {
    **dict.fromkeys(TILT_WORD.values(), Cause.JOINT_ANGLE),
    "wind-up": Cause.WIND_UP,
    ROOM_TO_SPIN: Cause.BINDS,
    "stroke in": Cause.DAMPER_BOTTOM,
    "stroke out": Cause.TOP_OUT,
    "spring squeeze": Cause.COIL_BIND,
    "span": Cause.HOSE,
}


@dataclass(frozen=True)
class Signal:
    """How far past a limit, `past` (N,), something is over N poses: rad or mm, negative inside; at places (N, 3) in mm.

    `typical` is true where the limit is not the scene's own; `source` says where it comes from.
    """

    cause: Cause
    where: str
    part: str
    past: Array
    at: Array
    typical: bool
    source: str


def stop_signals(
    poses: Poses, touches: Touches | None = None, asked: NDArray[np.bool_] | None = None
) -> tuple[Signal, ...]:
    """Everything that can stop a suspension but its own linkage and lock, over N poses; touches come last.

    `asked` (P, N) says which touches have to be known.
    """
    now = posture(poses)
    return (
        *hard_signals(poses, now),
        *_bump_stops(now),
        *_measured(joint_measures(now, poses.mechanism)),
        *_measured(measure for measure in hanger_measures(poses, now) if measure.what == "span"),
        *_shafts(poses.mechanism, now),
        *(() if touches is None else map(_touch, touches(poses, asked))),
    )


def hard_signals(poses: Poses, now: Posture) -> tuple[Signal, ...]:
    """What no real car goes past: its dampers, its springs, its straps."""
    return (*_measured(stroke_measures(now)), *(_strap(strap, now) for strap in poses.mechanism.straps))


def inside(poses: Poses) -> NDArray[np.bool_]:
    """Which poses (N,) a real car can be put in: dampers within their stroke, springs not solid, straps not taut.

    Neither a joint's angle nor a gap nor a bump stop that touches stops a pose from being reached. Each pose is judged
    by itself, not by the way to it. A pose that the linkage locks before is judged by the last place that it reaches on
    the way: it stays where nothing else would have stopped it sooner, so that the lock is still found.
    """
    kept = np.empty(len(poses), dtype=bool)
    for start in range(0, len(poses), CHUNK):
        chunk = slice(start, start + CHUNK)
        part = poses.take(chunk)
        past = [signal.past for signal in hard_signals(part, posture(part))]
        kept[chunk] = np.all(np.array(past) <= SLACK, axis=0) if past else True
    return kept


def stops_passed(poses: Poses) -> tuple[str, ...]:
    """For each pose the hard stop that it lies furthest beyond, such as "spring goes solid, left coilover", or ""."""
    signals = hard_signals(poses, posture(poses))
    if not signals:
        return ("",) * len(poses)
    past = np.array([signal.past for signal in signals])
    words = [f"{signal.cause}, {signal.where}" for signal in signals]
    # What is no number is beyond nothing here: the linkage has locked, and that is said.
    return tuple(words[first] if most > SLACK else "" for first, most in zip(past.argmax(0), past.max(0), strict=True))


def _measured(measures: Iterable[Measure]) -> Iterator[Signal]:
    """Measures that have a limit, as signals."""
    for measure in measures:
        if measure.bound is not None:
            yield _signal(_CAUSES[measure.what], measure)


def _signal(cause: Cause, measure: Measure) -> Signal:
    bound = measure.bound
    if bound is None:
        raise AssertionError("only a measure with a limit can be past it")
    past = measure.values - bound.limit
    return Signal(
        cause, measure.where, measure.part, -past if bound.least else past, measure.at, bound.typical, bound.source
    )


def _touch(measure: Measure) -> Signal:
    """Two parts touch where nothing is left between them, whatever gap is wanted."""
    source = "" if measure.bound is None else measure.bound.source
    return Signal(Cause.TOUCH, measure.where, measure.part, -measure.values, measure.at, False, source)


def _bump_stops(now: Posture) -> Iterator[Signal]:
    """The stop on the shaft touches when what is left of the stroke is its own length."""
    for stroke in now.strokes:
        unit = stroke.coilover
        if unit.bump_stop:
            past = unit.compressed + unit.bump_stop - stroke.length
            source = "bump_stop in the scene file"
            yield Signal(Cause.BUMP_STOP, unit.name, unit.name, past, _middle(stroke), False, source)


def _middle(stroke: Stroke) -> Array:
    return np.asarray(0.5 * (stroke.top + stroke.bottom))


def _strap(strap: Strap, now: Posture) -> Signal:
    start, stop = (now.parts[end.on].point(end.at) for end in strap.ends)
    bound = given_bound(strap.length, "strap length in the scene file")
    span = Measure("span", strap.name, strap.name, Quantity.LENGTH, bound, norm(stop - start), 0.5 * (start + stop))
    return _signal(Cause.STRAP, span)


def _shafts(mechanism: Mechanism, now: Posture) -> Iterator[Signal]:
    """A driveshaft's joints, and its slip where it bottoms or comes out of its spline."""
    for motion in shaft_motions(mechanism, now.parts):
        name, slip, middle = motion.shaft.name, motion.shaft.slip, 0.5 * (motion.at[-2] + motion.at[-1])
        for joint, angle, at in zip(motion.shaft.joints, motion.true, motion.at, strict=True):
            limit = joint.joint.tilt
            if limit is not None:
                past, where = angle - limit.angle, f"{name}, {joint.place}"
                yield Signal(Cause.JOINT_ANGLE, where, name, past, at, limit.typical, limit.source)
        if slip is None:
            continue
        room_out = slip.engaged if slip.room_out is None else slip.room_out
        key = "engaged" if slip.room_out is None else "room_out"
        past_in = -motion.longer - slip.room_in
        yield Signal(Cause.SLIP_IN, name, name, past_in, middle, False, "room_in in the scene file")
        if room_out is not None:
            past_out = motion.longer - room_out
            yield Signal(Cause.SLIP_OUT, name, name, past_out, middle, False, f"{key} in the scene file")
