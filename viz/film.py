"""A run through poses as a film: MP4, or an animated GIF or WebP."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import imageio_ffmpeg
import numpy as np
from PIL import Image

from model.errors import DrawingError
from model.findings import judge, pose_text
from model.poses import Poses
from model.units import Length
from model.verdicts import Finding, State, Verdict
from viz import style
from viz.files import whole_file
from viz.gaps import GapMark, gap_named
from viz.labels import Scale
from viz.marks import draw_caption, draw_gap, draw_rings
from viz.stage import Stage
from viz.still import check_size, coned_finding, cut_text, state_of, verdict_text
from viz.views import Camera, is_gap, is_named, joint_name
from viz.words import finding_text, left_text

Progress = Callable[[int, int], None]
GapsAt = Callable[[int], Sequence[GapMark]]
ffmpeg: Any = imageio_ffmpeg  # ships without annotations

# x264's own scale turned around by imageio-ffmpeg: 8 of 10 keeps edges of thin tubes clean.
MP4_QUALITY = 8
WEBP_QUALITY = 82
# Frames from which a GIF's colours are chosen: enough to meet every colour of a run.
PALETTE_FRAMES = 4
# Browsers slow down a GIF frame that is shorter than this many hundredths of a second.
SHORTEST_GIF_FRAME = 2


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
) -> None:
    """Film the poses in their order, one frame each, with a camera that stands still.

    Args:
        poses: the frames.
        output: a .mp4, .gif or .webp file.
        view: front, side, top, three-quarter, joint:NAME or gap:A, B.
        size: width and height in px, even for MP4.
        fps: frames a second.
        units: the person's unit of length.
        progress: is told how many frames are done of how many.
        gaps: gives the gaps of a pose by its number, worst first; those that are over are ringed. A view of a gap looks
            from where its smallest is seen best and needs that gap in every pose.

    Raises:
        DrawingError: the file's suffix, the size or the view is not one of those, or this machine cannot draw.

    """
    writers = {".mp4": _write_mp4, ".gif": _write_gif, ".webp": _write_webp}
    writer = writers.get(output.suffix.lower())
    if writer is None:
        raise DrawingError(f"{output.name} is no film that can be written, expected a name in {', '.join(writers)}.")
    check_size(size)
    if writer is _write_mp4 and (size[0] % 2 or size[1] % 2):
        raise DrawingError(
            f"An MP4 of {size[0]}x{size[1]} px cannot be written, expected an even width and height; "
            f"try {size[0] + size[0] % 2}x{size[1] + size[1] % 2}."
        )
    if writer is _write_gif and fps > 100 // SHORTEST_GIF_FRAME:
        raise DrawingError(f"A GIF of {fps} frames a second is not shown at that speed, expected 50 or fewer.")
    with whole_file(output) as temporary, Stage(poses, (size[0], size[1] - Scale.of(size).caption)) as stage:
        stage.aim(_camera(stage, view, gaps))
        writer(temporary, _Frames(stage, size, fps, units, view, gaps, progress))


def _camera(stage: Stage, view: str, gaps: GapsAt | None) -> Camera:
    """The camera of a film: a gap's is that of the pose in which it is smallest."""
    if not is_gap(view):
        return stage.camera(view)
    marks = [gap_named(view, [] if gaps is None else gaps(number)) for number in range(len(stage.poses))]
    smallest = min(range(len(marks)), key=lambda number: marks[number].distance)
    stage.show(smallest)
    return stage.camera(view, [marks[smallest]])


class _Frames:
    """The frames of a film, drawn when they are asked for."""

    def __init__(
        self,
        stage: Stage,
        size: tuple[int, int],
        fps: int,
        units: Length,
        view: str,
        gaps: GapsAt | None,
        progress: Progress | None,
    ) -> None:
        self.size = size
        self.fps = fps
        self._stage = stage
        self._units = units
        self._view, self._gaps = view, gaps
        self._looked_at = None if is_named(view) or is_gap(view) else joint_name(view)
        self._progress = progress

    def __len__(self) -> int:
        return len(self._stage.poses)

    def __iter__(self) -> Iterator[Image.Image]:
        for number in range(len(self)):
            yield self.frame(number)
            if self._progress is not None:
                self._progress(number + 1, len(self))

    def frame(self, number: int) -> Image.Image:
        """Draw one frame."""
        poses, stage = self._stage.poses, self._stage
        verdict = judge(poses.take(np.array([number])))
        stage.show(number)
        coned = coned_finding(verdict, self._looked_at) if self._looked_at is not None else None
        if coned is not None:
            stage.show_cone(coned.where, coned.state)
        gaps = [] if self._gaps is None else list(self._gaps(number))
        looked_at = gap_named(self._view, gaps) if is_gap(self._view) else None
        if looked_at is not None:
            stage.hatch(looked_at)
        drawn = stage.picture()
        places = np.array([finding.at for finding in verdict.findings]).reshape(-1, 3)
        if looked_at is not None:
            draw_gap(drawn, looked_at, stage.project(looked_at.at), self._units)
        else:
            ends = [(gap, stage.project(gap.at)) for gap in gaps]
            draw_rings(drawn, verdict.findings, stage.project(places), stage.pixels_per_mm(places), ends)
        picture = Image.new("RGB", self.size)
        picture.paste(drawn)
        draw_caption(
            picture,
            poses.mechanism.title,
            "; ".join([pose_text(poses.travel.names, poses.stands_at(number), self._units), *cut_text(stage.cut)]),
            state_of(verdict, gaps),
            verdict_text(verdict, gaps),
            _worst_text(verdict, self._units),
        )
        return picture


def _worst_text(verdict: Verdict, units: Length) -> str:
    """The finding that is nearest to its limit or furthest over it, with what is left."""
    limited: list[Finding] = [
        finding for finding in verdict.findings if finding.limit is not None or finding.state is State.LOCKED
    ]
    if not limited:
        return ""
    return f"{limited[0].where}: {finding_text(limited[0], units)}{left_text(limited[0], units)}"


def _write_mp4(output: Path, frames: _Frames) -> None:
    try:
        writer = ffmpeg.write_frames(
            str(output),
            frames.size,
            fps=frames.fps,
            codec="libx264",
            pix_fmt_in="rgb24",
            pix_fmt_out="yuv420p",
            quality=MP4_QUALITY,
            macro_block_size=1,
            ffmpeg_log_level="error",
            output_params=["-movflags", "+faststart"],
        )
        writer.send(None)
    except (RuntimeError, OSError) as error:
        raise DrawingError(f"The MP4 writer does not start ({error}); install imageio-ffmpeg again.") from error
    try:
        for frame in frames:
            writer.send(frame.tobytes())
    finally:
        writer.close()


def _write_gif(output: Path, frames: _Frames) -> None:
    """One palette for all frames and no dither: what stands still then costs nothing."""
    chosen = np.linspace(0, len(frames) - 1, min(PALETTE_FRAMES, len(frames))).round().astype(int)
    sheet = Image.new("RGB", (frames.size[0], frames.size[1] * len(chosen)))
    for row, number in enumerate(chosen):
        sheet.paste(frames.frame(int(number)), (0, row * frames.size[1]))
    palette = _palette(sheet)
    small = (frame.quantize(palette=palette, dither=Image.Dither.NONE) for frame in frames)
    # A GIF counts time in hundredths of a second.
    _write_animation(output, small, _durations(frames, 10), format="GIF", optimize=False, disposal=1)


def _palette(sheet: Image.Image) -> Image.Image:
    """The colours of a sheet of frames, and those of every state, which are too small on it to be chosen."""
    kept = [style.INK, style.QUIET_INK, style.PAPER, *(look.colour for look in style.STATES.values())]
    kept += [_blend(colour, style.PAPER) for colour in kept]
    room = 256 - len(kept)
    common = sheet.quantize(colors=room, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE).getpalette() or []
    palette = Image.new("P", (1, 1))
    palette.putpalette([*common[: 3 * room], *(part for colour in kept for part in colour)])
    return palette


def _blend(colour: style.Colour, other: style.Colour) -> style.Colour:
    """Half of each: the edge of a letter."""
    red, green, blue = ((a + b) // 2 for a, b in zip(colour, other, strict=True))
    return red, green, blue


def _write_webp(output: Path, frames: _Frames) -> None:
    _write_animation(output, iter(frames), _durations(frames, 1), format="WEBP", quality=WEBP_QUALITY, method=3)


def _durations(frames: _Frames, grain: int) -> list[int]:
    """How long each frame stays, in whole multiples of `grain` ms that keep step with the frame rate."""
    edges = np.round(np.arange(len(frames) + 1) * 1000 / (grain * frames.fps)).astype(int)
    return [int(grain * (stop - start)) for start, stop in pairwise(edges)]


def _write_animation(output: Path, pictures: Iterator[Image.Image], durations: list[int], **options: Any) -> None:
    # Pillow leaves a file that it opened itself open when it is interrupted.
    with output.open("wb") as file:
        next(pictures).save(file, save_all=True, append_images=pictures, duration=durations, loop=0, **options)
