"""Films read back: number of frames, size and length; odd sizes and broken runs."""

from __future__ import annotations

import re
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import imageio_ffmpeg
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from zoo import built, scene_data

from model.errors import CallError, DrawingError
from model.members import posture
from model.poses import Poses
from model.solver import solve
from model.tracks import tracks
from model.travel import Cycle, cycle, single
from model.units import Length
from model.verdicts import State, verdict_of
from viz import film, style
from viz.film import Frames, write_film
from viz.labels import Scale
from viz.lens import smoothed
from viz.marks import draw_caption
from viz.stage import Stage

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


def test_a_frame_has_the_contact_shadow_of_a_still(poses: Poses) -> None:
    with Stage(poses, (SIZE[0], SIZE[1] - Scale.of(SIZE).caption)) as stage:
        stage.aim(stage.camera("three-quarter"))
        frames = Frames(stage, SIZE, Length.MM, tracks(poses), "three-quarter", None, None, None)
        shot = replace(frames.shot(2), verdict=verdict_of([], 1, 0), at=np.zeros((0, 2)), grain=np.zeros(0))
        frame = frames.finished(shot)
        still, bare = stage.picture(), smoothed(stage.pixels())
    drawn = np.asarray(frame)[: still.height].astype(int)
    # With nothing to ring, the frame's part above the caption is the still's picture.
    assert np.array_equal(drawn, np.asarray(still))
    darker = np.asarray(bare, dtype=int).sum(axis=2) - drawn.sum(axis=2)
    assert darker.min() >= 0
    # A crease loses far more than a rounding, three of 765.
    assert (darker > 30).sum() > 100


def test_a_pose_beyond_a_hard_stop_says_so_in_its_caption(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    data = scene_data("tarn_rear")
    # The damper's shortest length now lies between ride height and full bump.
    (damper,) = data["coilover"].values()
    mechanism = built(data)
    ride = float(strokes(solve(mechanism, single(mechanism)))[0])
    damper["compressed"] = ride - 40.0
    mechanism = built(data)
    run = solve(mechanism, cycle(mechanism, Cycle.BOTH, 9))
    said: list[str] = []
    monkeypatch.setattr(film, "draw_caption", lambda *told: said.append(told[2]))
    write_film(run, tmp_path / "axle.gif", size=SIZE, fps=FPS)
    lengths = strokes(run)
    assert 0 < (lengths < ride - 40.0).sum() < len(run)
    # What the palette is chosen from comes first.
    for pose, length in zip(said[-len(run) :], lengths, strict=True):
        assert ("beyond a hard stop (damper bottoms, " in pose) == (length < ride - 40.0)


def strokes(poses: Poses) -> NDArray[np.float64]:
    """Shortest eye-to-eye length (N,) of the coilovers, from the points of their two ends alone."""
    parts = posture(poses).parts
    lengths = [
        np.linalg.norm(parts[each.top.on].point(each.top.at) - parts[each.bottom.on].point(each.bottom.at), axis=-1)
        for each in poses.mechanism.coilovers
    ]
    return np.min(lengths, axis=0)


@pytest.mark.parametrize("size", [(640, 360), (480, 270), (320, 240)])
def test_small_captions_are_not_cut(size: tuple[int, int]) -> None:
    picture = Image.new("RGB", size)
    texts = (
        "Tarn trail pickup, front",
        "left wheel 110 mm up, right wheel 110 mm down",
        "clear in this pose, gaps not measured",
        "left track rod, at knuckle: swing 21.4° of 25.0°, 3.6° left",
    )
    drawn: list[str] = []

    def spy(_: ImageDraw.ImageDraw, at: tuple[float, float], text: str, **how: Any) -> None:
        drawn.append(text)
        assert at[0] + how["font"].getlength(text) <= size[0]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ImageDraw.ImageDraw, "text", spy)
        draw_caption(picture, texts[0], texts[1], State.CLEAR, texts[2], texts[3])
    assert sorted(drawn) == sorted(texts)


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
    with pytest.raises(CallError, match=r"axle\.avi.*\.mp4"):
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
