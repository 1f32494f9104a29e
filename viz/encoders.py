"""Films on disk: MP4, or an animated GIF or WebP. Each takes its frames one by one as they are drawn."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import imageio_ffmpeg
import numpy as np
from PIL import Image

from model.errors import DrawingError
from viz import style
from viz.files import check_suffix

ffmpeg: Any = imageio_ffmpeg  # ships without annotations

# x264's own scale turned around by imageio-ffmpeg: 8 of 10 keeps edges of thin tubes clean.
MP4_QUALITY = 8
# Less than half the default's work for a file of the same size: most of a frame is the same as the last one's.
MP4_PRESET = "veryfast"
WEBP_QUALITY = 82
# Frames from which a GIF's colours are chosen: enough to meet every colour of a run.
PALETTE_FRAMES = 4
# Browsers slow down a GIF frame that is shorter than this many hundredths of a second.
SHORTEST_GIF_FRAME = 2


@dataclass(frozen=True)
class Film:
    """What is written: `size` (width, height) in px, frames a second, and how many frames in all."""

    size: tuple[int, int]
    fps: int
    count: int


Write = Callable[[Path, Film, Iterator[Image.Image], Sequence[Image.Image]], None]


@dataclass(frozen=True)
class Encoder:
    """A way to write a film's frames, and how many of them it wants to see beforehand, spread over the film."""

    write: Write
    sample: int = 0


def encoder_for(output: Path, film: Film) -> Encoder:
    """The encoder of a file by its suffix.

    Raises:
        CallError: for another suffix.
        DrawingError: for a size or speed that the format does not have.

    """
    suffix, size = check_suffix(output, dict.fromkeys(ENCODERS, "")), film.size
    if suffix == ".mp4" and (size[0] % 2 or size[1] % 2):
        raise DrawingError(
            f"An MP4 of {size[0]}x{size[1]} px cannot be written, expected an even width and height; "
            f"try {size[0] + size[0] % 2}x{size[1] + size[1] % 2}."
        )
    if suffix == ".gif" and film.fps > 100 // SHORTEST_GIF_FRAME:
        raise DrawingError(f"A GIF of {film.fps} frames a second is not shown at that speed, expected 50 or fewer.")
    return ENCODERS[suffix]


def _write_mp4(output: Path, film: Film, frames: Iterator[Image.Image], _sample: Sequence[Image.Image]) -> None:
    try:
        writer = ffmpeg.write_frames(
            str(output),
            film.size,
            fps=film.fps,
            codec="libx264",
            pix_fmt_in="rgb24",
            pix_fmt_out="yuv420p",
            quality=MP4_QUALITY,
            macro_block_size=1,
            ffmpeg_log_level="error",
            output_params=["-preset", MP4_PRESET, "-movflags", "+faststart", "-f", "mp4"],
        )
        writer.send(None)
    except (RuntimeError, OSError) as error:
        raise DrawingError(f"The MP4 writer does not start ({error}); install imageio-ffmpeg again.") from error
    try:
        for frame in frames:
            writer.send(frame.tobytes())
    finally:
        writer.close()


def _write_gif(output: Path, film: Film, frames: Iterator[Image.Image], sample: Sequence[Image.Image]) -> None:
    """One palette for all frames and no dither: what stands still then costs nothing."""
    sheet = Image.new("RGB", (film.size[0], film.size[1] * len(sample)))
    for row, frame in enumerate(sample):
        sheet.paste(frame, (0, row * film.size[1]))
    palette = _palette(sheet)
    small = (frame.quantize(palette=palette, dither=Image.Dither.NONE) for frame in frames)
    # A GIF counts time in hundredths of a second.
    _write_animation(output, small, _durations(film, 10), format="GIF", optimize=False, disposal=1)


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


def _write_webp(output: Path, film: Film, frames: Iterator[Image.Image], _sample: Sequence[Image.Image]) -> None:
    _write_animation(output, frames, _durations(film, 1), format="WEBP", quality=WEBP_QUALITY, method=3)


def _durations(film: Film, grain: int) -> list[int]:
    """How long each frame stays, in whole multiples of `grain` ms that keep step with the frame rate."""
    edges = np.round(np.arange(film.count + 1) * 1000 / (grain * film.fps)).astype(int)
    return [int(grain * (stop - start)) for start, stop in pairwise(edges)]


def _write_animation(output: Path, pictures: Iterator[Image.Image], durations: list[int], **options: Any) -> None:
    # Pillow leaves a file that it opened itself open when it is interrupted.
    with output.open("wb") as file:
        next(pictures).save(file, save_all=True, append_images=pictures, duration=durations, loop=0, **options)


ENCODERS = {
    ".mp4": Encoder(_write_mp4),
    ".gif": Encoder(_write_gif, PALETTE_FRAMES),
    ".webp": Encoder(_write_webp),
}
