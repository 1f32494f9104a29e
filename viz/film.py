"""A run through poses as a film, with a caption and a curve that run along."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import numpy as np
from PIL import Image

from model.findings import judge, pose_text
from model.measures import Measure
from model.poses import Poses
from model.spatial import Array
from model.stops import stops_passed
from model.tracks import tracks, verdict_at
from model.units import Length
from model.verdicts import Finding, State, Verdict
from viz.curve import CurveStrip, strip_height
from viz.encoders import Encoder, Film, encoder_for
from viz.files import whole_file
from viz.gaps import GapMark, gap_lines, gap_named
from viz.labels import Scale
from viz.lens import Pixels, smoothed
from viz.marks import MARKED, draw_caption, draw_gap, draw_rings
from viz.occlusion import Depths
from viz.overlap import overlapped
from viz.stage import Stage
from viz.still import beyond_text, check_size, coned_finding, cut_text, state_of, verdict_text
from viz.views import Camera, is_gap, is_named, joint_name
from viz.words import finding_text, left_text

Progress = Callable[[int, int], None]
GapsAt = Callable[[int], Sequence[GapMark]]
Runs = Sequence[tuple[str, int]]
Drawn = TypeVar("Drawn")


def write_film(
    poses: Poses,
    output: Path,
    *,
    view: str = "three-quarter",
    size: tuple[int, int] = (1280, 720),
    fps: int = 25,
    units: Length = Length.MM,
    progress: Progress | None = None,
    gaps: GapsAt | None = None,
    runs: Runs = (),
) -> None:
    """Film the poses in their order, one frame each, with a camera that stands still.

    Args:
        poses: the frames.
        output: a .mp4, .gif or .webp file.
        view: a standard view, joint:NAME or gap:A, B.
        size: width and height in px, even for MP4.
        fps: frames a second.
        units: the person's unit of length.
        progress: is told how many frames are drawn of how many.
        gaps: gives the gaps of a pose by its number, worst first; those that are over are ringed. A view of a gap looks
            from where its smallest is seen best and needs that gap in every pose.
        runs: the parts of the film by name, each with the number of its first frame, for the curve.

    Raises:
        CallError: the file's suffix is another.
        DrawingError: the size or the view is not one of those, or this machine cannot draw.

    """
    film = Film(size, fps, len(poses))
    encoder = encoder_for(output, film)
    check_size(size)
    followed = tracks(poses)
    looked_at = None if is_named(view) or is_gap(view) else joint_name(view)
    measure = followed_measure(followed, poses, looked_at)
    strip = None if measure is None or is_gap(view) else strip_for(measure, poses, size, units, runs)
    foot = Scale.of(size).caption + (0 if strip is None else strip.size[1])
    with whole_file(output) as temporary, Stage(poses, (size[0], size[1] - foot)) as stage:
        stage.aim(camera_of(stage, view, gaps))
        frames = Frames(stage, size, units, followed, view, looked_at, gaps, strip)
        write_frames(frames.shot, frames.finished, encoder, temporary, film, progress)


def write_frames(
    shot: Callable[[int], Drawn],
    finish: Callable[[Drawn], Image.Image],
    encoder: Encoder,
    output: Path,
    film: Film,
    progress: Progress | None,
) -> None:
    """Draw each frame by its number here; finish and write those before it in another thread."""
    seen = np.linspace(0, film.count - 1, min(encoder.sample, film.count)).round().astype(int)
    sample = [finish(shot(int(number))) for number in seen]
    overlapped(_each(shot, film.count, progress), finish, lambda frames: encoder.write(output, film, frames, sample))


def _each(shot: Callable[[int], Drawn], count: int, progress: Progress | None) -> Iterator[Drawn]:
    for number in range(count):
        yield shot(number)
        if progress is not None:
            progress(number + 1, count)


def followed_measure(followed: Sequence[Measure], poses: Poses, looked_at: str | None) -> Measure | None:
    """The measure whose curve runs along: the worst of the run, or of the joint looked at; `None` without a limit."""
    changing = [measure for measure in followed if measure.bound is not None and changes(measure)]
    changing = [measure for measure in changing if measure.where == looked_at] or changing
    by_name = {(measure.what, measure.where): measure for measure in changing}
    ranked = (by_name.get((finding.what, finding.measured_at)) for finding in judge(poses).findings)
    return next((measure for measure in ranked if measure is not None), None)


def changes(measure: Measure) -> bool:
    """Whether a measure differs from pose to pose."""
    known = measure.values[np.isfinite(measure.values)]
    return len(known) > 0 and bool(known.min() < known.max())


def strip_for(measure: Measure, poses: Poses, size: tuple[int, int], units: Length, runs: Runs) -> CurveStrip | None:
    """A strip with a measure's curve for pictures of `size` in px; `None` where they have no room for it."""
    height = strip_height(size)
    return CurveStrip(measure, poses, (size[0], height), units, runs) if height else None


def camera_of(stage: Stage, view: str, gaps: GapsAt | None) -> Camera:
    """The camera of a film: a gap's is that of the pose in which it is smallest."""
    if not is_gap(view):
        return stage.camera(view)
    marks = [gap_named(view, [] if gaps is None else gaps(number)) for number in range(len(stage.poses))]
    smallest = min(range(len(marks)), key=lambda number: marks[number].distance)
    stage.show(smallest)
    return stage.camera(view, [marks[smallest]])


@dataclass(frozen=True)
class Shot:
    """What the stage gives of one pose: its pixels and depths, and where findings (k, 2) and gaps are in px."""

    pose: int
    pixels: Pixels
    depths: Depths
    verdict: Verdict
    at: Array
    grain: Array
    gaps: Sequence[tuple[GapMark, Array]]
    said: Sequence[str]


class Frames:
    """The frames of a film: drawn by the thread that holds the stage, finished by any."""

    def __init__(
        self,
        stage: Stage,
        size: tuple[int, int],
        units: Length,
        followed: tuple[Measure, ...],
        view: str,
        looked_at: str | None,
        gaps: GapsAt | None,
        strip: CurveStrip | None,
        *,
        beside: bool = False,
    ) -> None:
        """Take in a stage that is aimed, and what to say of its poses in frames of `size` in px.

        `beside`: a verdict on the whole travel stands beside that on the pose, which then says that it is of the pose.
        """
        self._beside = beside
        self._stage, self._size, self._units, self._followed = stage, size, units, followed
        self._view, self._looked_at, self._gaps, self._strip = view, looked_at, gaps, strip
        self._passed = stops_passed(stage.poses)

    def shot(self, pose: int) -> Shot:
        """Draw one pose."""
        stage = self._stage
        verdict = verdict_at(self._followed, stage.poses, pose)
        stage.show(pose)
        coned = coned_finding(verdict, self._looked_at) if self._looked_at is not None else None
        if coned is not None:
            stage.show_cone(coned.where, coned.state)
        gaps = [] if self._gaps is None else list(self._gaps(pose))
        if is_gap(self._view):
            gaps = [gap_named(self._view, gaps)]
            stage.hatch(gaps[0])
        pixels, depths = stage.pixels(), stage.depths()
        places = np.array([finding.at for finding in verdict.findings]).reshape(-1, 3)
        return Shot(
            pose,
            pixels,
            depths,
            verdict,
            stage.project(places),
            stage.pixels_per_mm(places),
            [(gap, stage.project(gap.at)) for gap in gaps],
            cut_text(stage.cut),
        )

    def finished(self, shot: Shot) -> Image.Image:
        """The whole frame, with what is written on it."""
        poses, verdict, gaps = self._stage.poses, shot.verdict, [gap for gap, _ in shot.gaps]
        drawn = smoothed(shot.pixels, shot.depths)
        if is_gap(self._view):
            draw_gap(drawn, *shot.gaps[0], self._units)
        else:
            draw_rings(drawn, verdict.findings, shot.at, shot.grain, shot.gaps)
        picture = Image.new("RGB", self._size)
        picture.paste(drawn)
        if self._strip is not None:
            picture.paste(self._strip.picture(shot.pose), (0, drawn.height))
        draw_caption(
            picture,
            poses.mechanism.title,
            "; ".join(
                [
                    pose_text(poses.travel.names, poses.stands_at(shot.pose), self._units),
                    *beyond_text(self._passed[shot.pose]),
                    *shot.said,
                ]
            ),
            state_of(verdict, gaps),
            verdict_text(verdict, gaps) + " in this pose" * (self._beside and state_of(verdict, gaps) in MARKED),
            gap_lines(gaps[0], self._units)[1] if is_gap(self._view) else _worst_text(verdict.findings, self._units),
        )
        return picture


def _worst_text(findings: Iterable[Finding], units: Length) -> str:
    """The finding that is nearest to its limit or furthest over it, with what is left."""
    limited = [finding for finding in findings if finding.limit is not None or finding.state is State.LOCKED]
    if not limited:
        return ""
    return f"{limited[0].where}: {finding_text(limited[0], units)}{left_text(limited[0], units)}"
