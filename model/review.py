"""Everything that is known of a scene over its travel: what `check` prints and the sheet holds."""

from __future__ import annotations

from dataclasses import dataclass

from model.findings import Verdict, judge
from model.mechanism import Mechanism
from model.poses import Poses
from model.solver import Progress


@dataclass(frozen=True)
class Review:
    """A mechanism, its poses, the verdict on them, and what the joints have to say beside it."""

    mechanism: Mechanism
    poses: Poses
    verdict: Verdict


def review(poses: Poses, progress: Progress | None = None) -> Review:
    """Judge a mechanism over its poses and gather what else there is to say."""
    return Review(poses.mechanism, poses, judge(poses, progress))
