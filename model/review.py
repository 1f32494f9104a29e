"""Everything that is known of a scene over its travel: what `check` prints and the sheet holds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.alignment import OutOfLine, out_of_line
from model.clocking import BetterClock, better_clocks
from model.drivelines import ShaftReport, shaft_reports
from model.findings import Verdict, judge
from model.hangers import BarTwist, bar_twists
from model.holding import Fight, fights
from model.mechanism import Mechanism
from model.poses import Poses, Status
from model.solver import Progress
from model.studs import StudWays, stud_ways
from model.windup import RideShift, WindUp, ride_shifts, wind_ups


@dataclass(frozen=True)
class Review:
    """A mechanism, its poses, the verdict on them, and what there is to say beside it.

    `viz.sections` puts the rest into words, for `check` and for the sheet alike.
    """

    mechanism: Mechanism
    poses: Poses
    verdict: Verdict
    fights: tuple[Fight, ...]
    better_clocks: tuple[BetterClock, ...]
    studs: tuple[StudWays, ...]
    wind_ups: tuple[WindUp, ...]
    ride_shifts: tuple[RideShift, ...]
    out_of_line: tuple[OutOfLine, ...]
    shafts: tuple[ShaftReport, ...]
    bar_twists: tuple[BarTwist, ...]


def review(poses: Poses, progress: Progress | None = None) -> Review:
    """Judge a mechanism over its poses and gather what else there is to say."""
    mechanism = poses.mechanism
    solved = poses.take(np.flatnonzero(poses.status == Status.SOLVED))
    return Review(
        mechanism=mechanism,
        poses=poses,
        verdict=judge(poses, progress),
        fights=fights(poses),
        better_clocks=better_clocks(solved),
        studs=stud_ways(solved),
        wind_ups=wind_ups(mechanism),
        ride_shifts=ride_shifts(mechanism),
        out_of_line=out_of_line(solved),
        shafts=shaft_reports(solved),
        bar_twists=bar_twists(poses),
    )
