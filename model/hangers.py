"""What hangs on a suspension and may run out before its links do: anti-roll bars, hoses, threads."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from model.flexing import hose_middle
from model.hoseshapes import sag_of
from model.limits import GOOD_THREAD, LEAST_THREAD
from model.measures import Bound, Measure, Quantity, advised, at_ride, given_bound, place_text
from model.mechanism import Hose
from model.members import ArmMotion, JointMotion, Posture, posture
from model.poses import Poses, Status
from model.spatial import Array, norm

# Common practice, no source: at 40° between arm and end link the link pulls 1.6 times as hard as at a right angle.
# Within 1° of one line the least play lets the arm go over.
OVER_CENTRE = Bound(np.radians(1.0), np.radians(40.0), True, "typical: common practice, no source", least=True)
# P: near square to the bar's arm at ride height.
OFF_SQUARE = advised(np.radians(30.0), "typical: common practice, no source")
# P: never taut at droop with full lock. The last 5 % go into the bends beside the fixings.
SLACKEST = 0.95
# An arm that cannot meet its link points straight along it; an arc cosine next to 1 is good to some 1e-8 rad.
IN_LINE = 1e-6


@dataclass(frozen=True)
class BarTwist:
    """What an anti-roll bar goes through: lowest and highest turn of each arm from ride height, rad.

    `twist` is the largest angle in rad between its two arms, in pose number `pose` at `drives`. `flips` says that in
    some pose an arm is in line with its end link, beyond which it goes over centre.
    """

    bar: str
    left: tuple[float, float]
    right: tuple[float, float]
    twist: float
    pose: int
    drives: tuple[float, ...]
    flips: bool


def hanger_measures(poses: Poses, now: Posture) -> Iterator[Measure]:
    """Angle of each bar's arm to its end link, span of each hose, engagement of each thread, over solved poses."""
    ride = at_ride(poses.travel.values)
    for arm in now.bar_arms:
        yield _angle("over centre", arm, OVER_CENTRE, arm.to_link)
        yield _angle("off square", arm, OFF_SQUARE, np.where(ride, 0.5 * np.pi - arm.to_link, np.nan))
    for hose in poses.mechanism.hoses:
        yield _span(hose, now, sag_of((hose.ends[0].at, hose.ends[1].at), poses.mechanism))
    for joint in now.joints:
        diameter = joint.end.joint.fastening.thread_diameter
        if joint.end.engaged is not None and diameter is not None:
            yield _thread(joint, joint.end.engaged, diameter)


def bar_twists(poses: Poses) -> tuple[BarTwist, ...]:
    """Range, twist and flips of every anti-roll bar over the solved poses; none where no pose is solved."""
    bars = poses.mechanism.bars
    solved = np.flatnonzero(poses.status == Status.SOLVED)
    if not bars or len(solved) == 0:
        return ()
    arms = [posture(part).bar_arms for _, part in poses.solved_parts()]
    turns = np.concatenate([[arm.turn for arm in some] for some in arms], axis=1)
    to_links = np.concatenate([[arm.to_link for arm in some] for some in arms], axis=1)
    twists = []
    for number, bar in enumerate(bars):
        mine = slice(2 * number, 2 * number + 2)  # its left arm and its right one
        both, angle = turns[mine], to_links[mine]
        twist = np.abs(both[0] - both[1])
        pose = int(solved[twist.argmax()])
        low, high = both.min(axis=1), both.max(axis=1)
        twists.append(
            BarTwist(
                bar=bar.name,
                left=(float(low[0]), float(high[0])),
                right=(float(low[1]), float(high[1])),
                twist=float(twist.max()),
                pose=pose,
                drives=poses.stands_at(pose),
                flips=bool(angle.min() < IN_LINE),
            )
        )
    return tuple(twists)


def _angle(what: str, arm: ArmMotion, bound: Bound, values: Array) -> Measure:
    return Measure(what, f"{arm.arm}, end link", arm.arm, Quantity.ANGLE, bound, values, arm.end)


def _span(hose: Hose, now: Posture, sag: Array) -> Measure:
    start, stop = (now.parts[end.on].point(end.at) for end in hose.ends)
    bound = given_bound(hose.length, "hose length in the scene file", SLACKEST)
    middle = hose_middle(hose.length, sag, start, stop)
    return Measure("span", hose.name, hose.name, Quantity.LENGTH, bound, norm(stop - start), middle)


def _thread(joint: JointMotion, engaged: float, diameter: float) -> Measure:
    source = "typical: at least 1 to 1.5 thread diameters, a maker's note"
    bound = Bound(LEAST_THREAD * diameter, GOOD_THREAD * diameter, typical=True, source=source, least=True)
    values = np.full(len(joint.tilt), engaged)
    where = place_text(joint.member, joint.end)
    return Measure("thread engaged", where, joint.member, Quantity.LENGTH, bound, values, joint.at)
