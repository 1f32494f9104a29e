"""Films read back: number of frames, size and length; odd sizes and broken runs."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from zoo import built, scene_data

from model.errors import DrawingError
from model.poses import Poses
from model.solver import solve
from model.travel import Cycle, cycle
from viz import film, style
from viz.film import write_film
from viz.labels import Scale

pytestmark = pytest.mark.drawing
FRAMES, FPS = 6, 12
# Not multiples of 16, which encoders like to round to.
SIZE = (322, 202)


@pytest.fixture(scope="module")
def poses() -> Poses:
    mechanism = built(scene_data("tarn_rear"))
    return solve(mechanism, cycle(mechanism, Cycle.CROSS, FRAMES))


def read_mp4(path: Path) -> tuple[NDArray[np.uint8], str]:
    """Frames (n, height, width, 3) and what the decoder says of the file."""
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-i", str(path), "-f", "rawvideo", "-pix_fmt", "rgb24", "-"]
    done = subprocess.run(command, capture_output=True, check=True)
    return np.frombuffer(done.stdout, np.uint8).reshape(-1, SIZE[1], SIZE[0], 3), done.stderr.decode()


def test_mp4_has_every_frame_in_the_size_asked_for(
    poses: Poses, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    told: list[tuple[int, int]] = []
    write_film(poses, tmp_path / "axle.mp4", size=SIZE, fps=FPS, progress=lambda *done: told.append(done))
    assert capfd.readouterr() == ("", "")
    frames, said = read_mp4(tmp_path / "axle.mp4")
    assert len(frames) == FRAMES
    assert re.search(rf"Video: h264.*yuv420p.* {SIZE[0]}x{SIZE[1]}[ ,].* {FPS} fps", said)
    hours, minutes, seconds = re.search(r"Duration: (\d+):(\d+):([\d.]+)", said).groups()
    assert (hours, minutes) == ("00", "00")
    assert float(seconds) == pytest.approx(FRAMES / FPS, abs=0.02)
    assert told == [(k + 1, FRAMES) for k in range(FRAMES)]
    assert list(tmp_path.iterdir()) == [tmp_path / "axle.mp4"]
    # It moves, and the caption stays where it is.
    assert np.abs(frames[1].astype(int) - frames[4]).max() > 60
    top = SIZE[1] - Scale.of(SIZE).caption + 4
    assert (frames[:, top:].mean(axis=(1, 2)) > 180).all()


@pytest.mark.parametrize("suffix", [".gif", ".webp"])
def test_gif_and_webp_have_every_frame_and_last_as_long(poses: Poses, tmp_path: Path, suffix: str) -> None:
    output = tmp_path / f"axle{suffix}"
    write_film(poses, output, size=SIZE, fps=FPS)
    with Image.open(output) as animation:
        assert animation.size == SIZE
        assert animation.n_frames == FRAMES
        lasts = 0
        for number in range(FRAMES):
            animation.seek(number)
            animation.load()
            lasts += animation.info["duration"]
    assert lasts == pytest.approx(1000 * FRAMES / FPS, abs=10)


def test_gif_keeps_the_colours_of_the_states(poses: Poses, tmp_path: Path) -> None:
    write_film(poses, tmp_path / "axle.gif", size=SIZE, fps=FPS)
    with Image.open(tmp_path / "axle.gif") as animation:
        palette = np.array(animation.getpalette()).reshape(-1, 3)
    for look in style.STATES.values():
        assert np.abs(palette - look.colour).max(axis=1).min() == 0


def test_odd_sizes_are_refused_for_mp4(poses: Poses, tmp_path: Path) -> None:
    with pytest.raises(DrawingError, match=r"even.*322x202"):
        write_film(poses, tmp_path / "axle.mp4", size=(321, 201), fps=FPS)
    assert list(tmp_path.iterdir()) == []


def test_another_suffix_is_refused(poses: Poses, tmp_path: Path) -> None:
    with pytest.raises(DrawingError, match=r"axle\.avi.*\.mp4"):
        write_film(poses, tmp_path / "axle.avi", size=SIZE, fps=FPS)


@pytest.mark.parametrize("suffix", [".mp4", ".gif", ".webp"])
def test_an_interrupted_film_leaves_the_old_file_and_nothing_else(
    poses: Poses, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, suffix: str
) -> None:
    output = tmp_path / f"axle{suffix}"
    output.write_bytes(b"old")
    calls = []

    def interrupt(*_: object) -> str:
        calls.append(1)
        if len(calls) > 5:
            raise KeyboardInterrupt
        return ""

    monkeypatch.setattr(film, "verdict_text", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_film(poses, output, size=SIZE, fps=FPS)
    assert output.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [output]
