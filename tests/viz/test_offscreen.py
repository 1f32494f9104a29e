"""Drawing without a screen is silent, and says what is missing where it cannot be done."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from model.errors import DrawingError
from viz import offscreen

ROOT = Path(__file__).parents[2]
SCRIPT = """
import sys
from pathlib import Path
from model.errors import DrawingError
from model.findings import judge
from model.solver import solve
from model.travel import single
from viz.still import write_still
from zoo import built, trailing_arm
mechanism = built(trailing_arm())
poses = solve(mechanism, single(mechanism, left=50.0))
try:
    write_still(poses, judge(poses), Path(sys.argv[1]), size=(320, 200))
except DrawingError as error:
    sys.exit(str(error))
"""


def draw(output: Path, **changes: str) -> subprocess.CompletedProcess[str]:
    kept = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", offscreen.VARIABLE)}
    environment = {**kept, "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'tests'}", **changes}
    return subprocess.run(
        [sys.executable, "-c", SCRIPT, str(output)], env=environment, capture_output=True, text=True, check=False
    )


@pytest.mark.drawing
@pytest.mark.parametrize("display", [{}, {"DISPLAY": ":97"}], ids=["none", "stale"])
def test_nothing_is_said_without_a_display(tmp_path: Path, display: dict[str, str]) -> None:
    done = draw(tmp_path / "arm.png", **display)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert (tmp_path / "arm.png").stat().st_size > 5000


@pytest.mark.drawing
@pytest.mark.skipif(sys.platform != "linux", reason="EGL is Linux's way to draw without a screen")
def test_egl_without_a_driver_gives_a_picture_by_osmesa_or_one_sentence(tmp_path: Path) -> None:
    done = draw(tmp_path / "arm.png", LIBGL_DRIVERS_PATH="/nonexistent")
    assert "Traceback" not in done.stderr
    if any(offscreen._library(name) for name in offscreen.OSMESA_LIBRARIES):
        assert (done.returncode, done.stderr) == (0, "")
    else:
        assert done.stderr.startswith("This machine has no screen and no OpenGL")
        assert done.stderr.count("\n") == 1


@pytest.fixture
def bare_linux(monkeypatch: pytest.MonkeyPatch) -> None:
    """A Linux machine without a screen, before anything was chosen."""
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.delenv("DISPLAY", raising=False)
    # Set before it is removed, so that the value that `prepare` leaves behind goes when the test ends.
    monkeypatch.setenv(offscreen.VARIABLE, "")
    monkeypatch.delenv(offscreen.VARIABLE)
    monkeypatch.setattr(offscreen, "_choice", offscreen._choice.__wrapped__)


@pytest.mark.usefixtures("bare_linux")
def test_a_machine_without_any_opengl_gets_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(offscreen, "_library", lambda _: None)
    with pytest.raises(DrawingError, match="apt-get install libegl1"):
        offscreen.prepare()
    assert offscreen.VARIABLE not in os.environ


@pytest.mark.usefixtures("bare_linux")
@pytest.mark.parametrize(("egl", "expected"), [(True, offscreen.EGL_WINDOW), (False, offscreen.OSMESA_WINDOW)])
def test_egl_comes_before_osmesa(monkeypatch: pytest.MonkeyPatch, egl: bool, expected: str) -> None:
    monkeypatch.setattr(offscreen, "_egl_works", lambda: egl)
    monkeypatch.setattr(offscreen, "_library", lambda name: object() if "OSMesa" in name else None)
    offscreen.prepare()
    assert os.environ[offscreen.VARIABLE] == expected


@pytest.mark.usefixtures("bare_linux")
def test_a_persons_own_choice_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(offscreen.VARIABLE, "vtkOSOpenGLRenderWindow")
    offscreen.prepare()
    assert os.environ[offscreen.VARIABLE] == "vtkOSOpenGLRenderWindow"
