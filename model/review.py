"""Everything that is known of a scene over its travel: what `check` prints and the sheet holds."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from model.alignment import OutOfLine, out_of_line
from model.bumpstops import stop_findings
from model.clocking import BetterClock, better_clocks
from model.drivelines import ShaftReport, shaft_reports
from model.edges import edge_values
from model.errors import SceneError
from model.findings import judge
from model.hangers import BarTwist, bar_twists
from model.holding import Fight, fights
from model.mechanism import Gap, Mechanism
from model.poses import Poses, Status
from model.reaches import Reach
from model.solver import Progress, solve
from model.stops import inside, stops_passed
from model.studs import StudWays, stud_ways
from model.travel import Travel
from model.usable import LOOK, STEPS, usable_travel
from model.verdicts import Finding, Verdict, with_more
from model.ways import ways_out
from model.windup import RideShift, WindUp, ride_shifts, wind_ups

if TYPE_CHECKING:
    from model.clearance import Clearance

# Two parts that stay farther apart than this, mm, are not looked at as stops of the travel.
NEAR = 10.0


@dataclass(frozen=True)
class Review:
    """A mechanism, its poses, the verdict on them, and what there is to say beside it.

    `outside` is the number of poses that lie beyond a hard stop and were left out; `clearances` is `None` where gaps
    were not measured; `unmeasured` are gaps that the scene wants between two parts that are never measured.
    `viz.sections` puts the rest into words, for `check` and for the sheet alike.
    """

    mechanism: Mechanism
    poses: Poses
    outside: int
    verdict: Verdict
    reaches: tuple[Reach, ...]
    clearances: tuple[Clearance, ...] | None
    unmeasured: tuple[Gap, ...]
    fights: tuple[Fight, ...]
    better_clocks: tuple[BetterClock, ...]
    studs: tuple[StudWays, ...]
    wind_ups: tuple[WindUp, ...]
    ride_shifts: tuple[RideShift, ...]
    out_of_line: tuple[OutOfLine, ...]
    shafts: tuple[ShaftReport, ...]
    bar_twists: tuple[BarTwist, ...]


def review(
    poses: Poses,
    judging: Progress | None = None,
    *,
    beyond: bool = False,
    gaps: bool = False,
    measuring: Progress | None = None,
) -> Review:
    """Judge a mechanism over its poses and gather what else there is to say.

    Args:
        poses: of a grid over the travel.
        judging: told how many poses are judged of how many.
        beyond: judge poses beyond hard stops, such as a damper's shortest length, too.
        gaps: measure the distances between parts as well.
        measuring: told how many pairs of parts are measured of how many.

    Raises:
        SceneError: every pose lies beyond a hard stop, so that there is none to judge.

    """
    mechanism = poses.mechanism
    usable = np.ones(len(poses), dtype=bool) if beyond else inside(poses)
    kept = np.flatnonzero(usable)
    if not len(kept):
        raise SceneError(_nowhere(poses))
    grid = poses.take(kept)
    # Between the last pose of the grid and a hard stop there is travel left: its end is looked at as well.
    edge = solve(mechanism, Travel(poses.travel.names, edge_values(poses, usable)))
    beside = grid.nearest(edge.travel.values)
    within, numbers = grid.joined(edge), np.concatenate([kept, kept[beside]])
    solved = grid.take(np.flatnonzero(grid.status == Status.SOLVED))
    measured = _gaps(grid, edge, beside, measuring) if gaps else (None, (), (), usable_travel(mechanism))
    found, untold, gap_findings, reaches = measured
    verdict = with_more(judge(within, judging), (*gap_findings, *stop_findings(reaches, within)))
    return Review(
        mechanism=mechanism,
        poses=poses,
        outside=len(poses) - len(grid),
        verdict=replace(
            verdict,
            poses=len(poses),
            findings=tuple(replace(one, pose=int(numbers[one.pose])) for one in verdict.findings),
        ),
        reaches=reaches,
        clearances=found,
        unmeasured=untold,
        fights=fights(grid),
        better_clocks=better_clocks(solved),
        studs=stud_ways(solved),
        wind_ups=wind_ups(mechanism),
        ride_shifts=ride_shifts(mechanism),
        out_of_line=out_of_line(solved),
        shafts=shaft_reports(solved),
        bar_twists=bar_twists(solved),
    )


def _nowhere(poses: Poses) -> str:
    """What is said where every pose lies beyond a hard stop, with the one that is passed at ride height or nearest."""
    (stop,) = stops_passed(poses.take(poses.nearest(np.zeros((1, len(poses.travel.names))))))
    return (
        f"every pose of {poses.mechanism.title} lies beyond a hard stop, at ride height already ({stop}), expected "
        "room to stand and to move there; correct the lengths of that part, or the spring and its preload."
    )


def _gaps(
    poses: Poses, edge: Poses, beside: NDArray[np.intp], measuring: Progress | None
) -> tuple[tuple[Clearance, ...], tuple[Gap, ...], tuple[Finding, ...], tuple[Reach, ...]]:
    """Clearances, wanted gaps without one, what they amount to, and the usable travel with near parts as stops.

    `beside` (M,) are the poses that lie beside those at the edge of the travel.
    """
    # The libraries that measure meshes are loaded only where gaps are measured.
    from model.clearance import clearances, least_of, unmeasured
    from model.envelopes import measured_parts
    from model.gaps import clearance_findings
    from model.placing import Shapes
    from model.touching import Touching

    shapes = Shapes(measured_parts(poses.mechanism))
    found = clearances(poses, shapes, measuring)
    if len(edge):
        more = (replace(each, pose=int(beside[each.pose])) for each in clearances(edge, shapes, refine=False))
        found = least_of(found, more)
    beyond = clearances(_beyond(poses.mechanism), shapes, refine=False, reach=NEAR)
    near = {frozenset(each.labels) for each in (*found, *beyond) if each.distance < NEAR}
    reaches = usable_travel(poses.mechanism, Touching(poses.mechanism, near, shapes) if near else None)
    return found, unmeasured(poses.mechanism, shapes), clearance_findings(found), reaches


def _beyond(mechanism: Mechanism) -> Poses:
    """Poses along the ways out that lie past the travel asked for or past a hard stop: what would be next is there."""
    shares = np.linspace(0.0, LOOK, STEPS + 1)
    lines = ways_out(mechanism)
    values = np.concatenate([line.start + shares[:, None] * (line.to - line.start) for line in lines])
    poses = solve(mechanism, Travel(tuple(drive.name for drive in mechanism.drives), values))
    past = (np.tile(shares, len(lines)) > 1.0) | ~inside(poses)
    return poses.take(np.flatnonzero(past & (poses.status == Status.SOLVED)))
