"""The gap that is chosen in the window, in the pose that is shown: measured beside the window, and only that one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from model.measures import GAP
from model.mechanism import Mechanism
from model.poses import Poses, Status
from model.spatial import Array
from model.verdicts import Finding
from viz.gaps import GapMark, view_of
from viz.looking import gaps_of_each
from viz.windowpose import Judged
from viz.windowwatch import Jobs

Drives = tuple[float, ...]
JOB = "gap"
# Drive values that differ by less than this, mm or shares of lock, are those of one pose.
SAME = 1e-9


class GapHere:
    """One gap in one pose; another is measured when it is asked for, one at a time."""

    def __init__(self, jobs: Jobs, changed: Callable[[], None]) -> None:
        """Know of none; `changed` is called when one has been measured."""
        self._jobs, self._changed = jobs, changed
        self._mechanism: Mechanism | None = None
        self._where = ""
        self._drives: Drives = ()
        self._known: GapMark | None = None

    def told(self, judged: Judged, finding: Finding, mechanism: Mechanism) -> GapMark | None:
        """What is known of a finding's gap at its worst, if it is of one; it is shown until another pose is asked."""
        mark = None if judged.gaps is None or finding.what != GAP else judged.gaps.get(finding.where)
        if mark is not None:
            self._mechanism, self._where = mechanism, finding.where
            self._drives, self._known = finding.drives, mark
        return mark

    def stands(self, drives: Array) -> bool:
        """Whether it is known at drive values (D,)."""
        return self._known is not None and bool(np.allclose(drives, self._drives, atol=SAME))

    def at(self, finding: Finding | None, judged: Judged, poses: Poses, pose: int) -> GapMark | None:
        """The gap of a finding in a pose where it is known; it is measured where it is not yet."""
        smallest = None if finding is None or finding.what != GAP else (judged.gaps or {}).get(finding.where)
        if finding is None or smallest is None or poses.status[pose] != Status.SOLVED:
            return None
        drives = poses.stands_at(pose)
        mine = poses.mechanism is self._mechanism and finding.where == self._where
        if mine and self.stands(np.array(drives)):
            return self._known
        if not self._jobs.runs(JOB):
            posed, where = poses.take(np.array([pose])), finding.where

            def take(mark: GapMark) -> None:
                self._mechanism, self._where, self._drives, self._known = posed.mechanism, where, drives, mark
                self._changed()

            self._jobs.start(JOB, partial(_measured, posed, view_of(smallest)), take)
        return None


def finding_of_gap(worst: Finding, mark: GapMark, drives: Drives) -> Finding:
    """What a gap amounts to in another pose than its worst."""
    x, y, z = mark.at.mean(axis=0).tolist()
    return replace(worst, state=mark.state, used=mark.distance, at=(x, y, z), drives=drives)


def _measured(posed: Poses, view: str) -> GapMark:
    (mark,) = gaps_of_each(posed, view)(0)
    return mark
