"""The live window, driven as a person drives it: real keys, clicks and a file that is saved, on a screen of its own."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from model.findings import pose_text
from model.units import Length
from viz.windowbar import Bar, Slider
from viz.windowface import LIST, SMALLEST
from viz.windowpose import finely, read, runs

ROOT = Path(__file__).parents[2]
SCENE = ROOT / "scenes" / "tarn_rear.toml"
PROGRAM = (sys.executable, "-c", "from viz.cli import main; main()")
SIZE = (760, 520)
# The window is so small that its letters are the smallest.
TEXT = round(SMALLEST)
# A loaded machine without a graphics card takes seconds for a picture.
PATIENCE = 120.0
# Findings of the scene that are worse than its worst gap, and then some.
MOST_BEFORE_A_GAP = 8
MISSING = [tool for tool in ("Xvfb", "xdotool") if shutil.which(tool) is None]

pytestmark = [
    pytest.mark.drawing,
    pytest.mark.skipif(sys.platform != "linux", reason="X is Linux's way to a window"),
]


class Screen:
    """An X server with nothing on it; its picture is read out of its memory."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        read_end, write_end = os.pipe()
        size = f"{SIZE[0]}x{SIZE[1]}x24"
        # It would start over whenever its last client leaves, and whoever comes meanwhile is turned away.
        ways = ["-fbdir", str(folder), "-nolisten", "tcp", "-noreset"]
        self._server = subprocess.Popen(
            ["Xvfb", "-displayfd", str(write_end), "-screen", "0", size, *ways],
            pass_fds=[write_end], stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(write_end)
        with os.fdopen(read_end) as told:
            self.environment = {**os.environ, "DISPLAY": f":{told.readline().strip()}"}
        self.environment.pop("VTK_DEFAULT_OPENGL_WINDOW", None)

    def close(self) -> None:
        self._server.terminate()
        self._server.wait(10)

    def do(self, *words: str) -> str:
        done = subprocess.run(["xdotool", *words], env=self.environment, capture_output=True, text=True, check=False)
        return done.stdout.strip()

    def picture(self) -> np.ndarray:
        """Pixels (height, width, 3) of the whole screen, out of X's own dump format (XWDFile.h, version 7)."""
        data = (self._folder / "Xvfb_screen0").read_bytes()
        words = np.frombuffer(data, dtype=">u4", count=25)
        header, width, height, line, colours = (int(words[k]) for k in (0, 4, 5, 12, 19))
        pixels = np.frombuffer(data, dtype=np.uint8, offset=header + 12 * colours, count=height * line)
        return pixels.reshape(height, line)[:, : 4 * width].reshape(height, width, 4)[..., 2::-1].copy()


class Program:
    """The program with its window on a screen."""

    def __init__(self, screen: Screen, scene: Path, folder: Path) -> None:
        self.screen = screen
        self._process = subprocess.Popen(
            [*PROGRAM, "view", str(scene), "--size", f"{SIZE[0]}x{SIZE[1]}"],
            env={**screen.environment, "PYTHONPATH": str(ROOT)}, cwd=folder,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        try:
            self.until(lambda: "ride height" in self.name)
        except AssertionError:
            self.kill()
            raise
        # Without a window manager keys go to the window under the mouse.
        screen.do("mousemove", "500", "200")

    @property
    def name(self) -> str:
        """The name of the window, which says its scene, pose and state once they are seen; none before it stands."""
        # A search that meets a window which is just being closed finds nothing.
        for _ in range(4):
            found = self.screen.do("search", "--name", "^fulltravel")
            if name := self.screen.do("getwindowname", found.splitlines()[0]) if found else "":
                return name
        return ""

    def key(self, *names: str) -> None:
        for name in names:
            self.screen.do("key", name)

    def until(self, happened: Callable[[], bool]) -> None:
        end = time.monotonic() + PATIENCE
        while not happened():
            assert self._process.poll() is None, self._process.communicate()
            assert time.monotonic() < end, f"waited in vain; the window is {self.name!r}"
            time.sleep(0.1)

    def still(self) -> np.ndarray:
        """The screen when it has come to rest."""
        before = self.screen.picture()
        while True:
            time.sleep(0.7)
            now = self.screen.picture()
            if np.array_equal(now, before):
                return now
            before = now

    def ended(self, *, by: int | None = None) -> tuple[int, str]:
        """The exit code, and what was said on stderr."""
        if by is not None:
            self._process.send_signal(by)
        _, told = self._process.communicate(timeout=PATIENCE)
        return self._process.returncode, told

    def kill(self) -> None:
        if self._process.poll() is None:
            self._process.kill()
            self._process.communicate()


@pytest.fixture(scope="module")
def screen(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Screen]:
    if MISSING:
        message = f"needs {' and '.join(MISSING)}"
        if os.environ.get("FULLTRAVEL_REQUIRE_ALL"):
            pytest.fail(message)
        pytest.skip(message)
    made = Screen(tmp_path_factory.mktemp("screen"))
    yield made
    made.close()


@pytest.fixture
def scene(tmp_path: Path) -> Path:
    path = tmp_path / "mine.toml"
    path.write_text(SCENE.read_text(encoding="utf-8"), encoding="utf-8")
    return path


@pytest.fixture
def program(screen: Screen, scene: Path, tmp_path: Path) -> Iterator[Program]:
    made = Program(screen, scene, tmp_path)
    yield made
    made.kill()


def differing(one: np.ndarray, other: np.ndarray) -> int:
    """How many squares of 4 x 4 px differ by more than a tenth of all shades: smoothed edges do not count."""
    small = [np.asarray(Image.fromarray(picture).reduce(4)).astype(int) for picture in (one, other)]
    return int((np.abs(small[0] - small[1]).max(axis=2) > 24).sum())


def replaced(path: Path, old: str, new: str) -> None:
    """Save a changed file as many editors do: a new one that takes the old one's name."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    fresh = path.with_suffix(".new")
    fresh.write_text(text.replace(old, new), encoding="utf-8")
    fresh.replace(path)


def test_keys_clicks_and_a_saved_file(program: Program, scene: Path, tmp_path: Path) -> None:
    program.key("Up", "Up")
    program.until(lambda: "both wheels 10 mm up; clear" in program.name)
    program.key("1", "shift+Down")
    program.until(lambda: "left wheel 9.0 mm up, right wheel 10 mm up" in program.name)
    # A slider by the mouse: the right wheel's, to the end of its travel.
    mechanism = read(scene, None).mechanism
    bar, possible = Bar(), runs(mechanism)
    bar.sized(SIZE[0] - round(LIST * TEXT), TEXT)
    number = possible.index("right")
    x, y = bar.knob(number, Slider(possible[number], -200.0, 200.0, 200.0), len(possible))
    program.screen.do("mousemove", str(round(LIST * TEXT + x)), str(round(SIZE[1] - bar.size[1] + y)), "click", "1")
    program.until(lambda: "right wheel 200 mm up" in program.name)
    program.screen.do("mousemove", "500", "200")

    program.key("Home")
    program.until(lambda: "both wheels at ride height" in program.name)
    # What is switched on is seen, and what is switched off again leaves no trace. At ride height a ghost hides in the
    # parts: it is looked for elsewhere.
    program.key("3", "Prior")
    program.until(lambda: "both wheels 200 mm up" in program.name)
    # When the gaps have come in, the list is another: only then does nothing change by itself any more.
    program.until(lambda: "gaps still to come" not in program.name)
    plain = program.still()
    for letter in ("g", "f", "h"):
        program.key(letter)
        program.until(lambda: differing(program.screen.picture(), plain) > 100)
        program.key(letter)
        program.until(lambda: differing(program.screen.picture(), plain) < 20)

    # Choosing the worst finding goes to its worst pose and flies to it.
    worst = finely(mechanism).verdict.findings[0]
    words = pose_text([drive.name for drive in mechanism.drives], worst.drives, Length.MM)
    program.key("n")
    program.until(lambda: f"{words}; over" in program.name)
    # Of 24,700 squares some half show parts.
    program.until(lambda: differing(program.screen.picture(), plain) > 5000)

    # Choosing a gap goes to where it is smallest, and moving on measures it there too.
    for _ in range(MOST_BEFORE_A_GAP):
        if " – " in program.name:
            break
        before = program.name
        program.key("n")
        program.until(lambda before=before: program.name != before)
    gap = program.name
    assert "looking at left rail – left coilover spring" in gap or "looking at right rail – right" in gap
    program.key("Home")
    program.until(lambda: "both wheels at ride height" in program.name)
    program.key("Return")
    program.until(lambda: program.name == gap)
    words = gap.split("; ")[1]

    drawn_and_followed(program, scene, tmp_path / "mine-1.png", words)
    program.key("q")
    assert program.ended() == (0, "")


def drawn_and_followed(program: Program, scene: Path, picture: Path, words: str) -> None:
    """A picture is saved; a saved file is followed in the same pose; a mistake is said, and the last good scene stays.

    `words` tell the pose.
    """
    program.key("p")
    program.until(picture.exists)
    with Image.open(picture) as drawn:
        assert drawn.size == (1920, 1080)
    replaced(scene, "Tarn trail pickup, rear", "Tarn with other bolts")
    program.until(lambda: f"Tarn with other bolts; {words}" in program.name)
    replaced(scene, "coilover_foot = ", "coilover_foot == ")
    program.until(lambda: "mistake in the file" in program.name)
    assert f"Tarn with other bolts; {words}" in program.name
    replaced(scene, "coilover_foot == ", "coilover_foot = ")
    program.until(lambda: "mistake" not in program.name)


def test_playing_moves_and_ctrl_c_ends_it_quietly(program: Program) -> None:
    program.key("space")
    seen: set[str] = set()

    def moves() -> bool:
        seen.add(program.name)
        return len(seen) > 3

    program.until(moves)
    assert program.ended(by=signal.SIGINT) == (130, "")


@pytest.mark.parametrize(
    ("display", "expected"),
    [
        ({}, "DISPLAY is not set"),
        ({"WAYLAND_DISPLAY": "wayland-0"}, "Xwayland"),
        ({"DISPLAY": ":97"}, "does not answer"),
    ],
    ids=["none", "wayland", "stale"],
)
def test_without_a_screen_there_is_one_sentence(display: dict[str, str], expected: str) -> None:
    # What draws off screen in this process says so to those it starts.
    unset = ("DISPLAY", "WAYLAND_DISPLAY", "VTK_DEFAULT_OPENGL_WINDOW")
    kept = {name: value for name, value in os.environ.items() if name not in unset}
    done = subprocess.run(
        [*PROGRAM, "view", str(SCENE)],
        env={**kept, "PYTHONPATH": str(ROOT), **display}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (2, "")
    assert re.fullmatch(f"fulltravel: [^\n]*{expected}[^\n]*\n", done.stderr)
