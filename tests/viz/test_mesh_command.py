"""The command `mesh` where parts move: what it writes, says and refuses."""

from __future__ import annotations

import json
import struct
from pathlib import Path

import pytest

from model.cycles import Cycle
from model.errors import CallError
from viz.commands.mesh import mesh

WREN = Path(__file__).parents[2] / "scenes" / "wren_rear.toml"


def _animations(path: Path) -> list[str]:
    data = path.read_bytes()
    (length,) = struct.unpack_from("<I", data, 12)
    return [animation["name"] for animation in json.loads(data[20 : 20 + length])["animations"]]


def test_all_is_one_animation_for_each_run_that_the_scene_can_make(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    output = tmp_path / "rear.glb"
    mesh(WREN, output, cycle=Cycle.ALL, seconds=3.0)
    names = ["both wheels together", "crossed up", "left wheel", "right wheel"]
    assert _animations(output) == names
    size = output.stat().st_size / 1e6
    assert capsys.readouterr().out == f"{output}: {', '.join(names)}, 3 s each, {size:.1f} MB\n"


def test_a_height_that_is_asked_for_is_held(tmp_path: Path) -> None:
    mesh(WREN, tmp_path / "held.glb", cycle=Cycle.LEFT, right=20.0)
    mesh(WREN, tmp_path / "free.glb", cycle=Cycle.LEFT)
    assert _animations(tmp_path / "held.glb") == ["left wheel"]
    assert (tmp_path / "held.glb").read_bytes() != (tmp_path / "free.glb").read_bytes()


@pytest.mark.parametrize("suffix", [".stl", ".obj", ".ply"])
def test_only_a_glb_moves(tmp_path: Path, suffix: str) -> None:
    with pytest.raises(CallError, match=rf"rear\{suffix} cannot hold motion, expected a name in \.glb"):
        mesh(WREN, tmp_path / f"rear{suffix}", cycle=Cycle.ALL)
    assert list(tmp_path.iterdir()) == []


def test_a_run_that_the_scene_cannot_make_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CallError, match="cannot run through the cycle"):
        mesh(WREN, tmp_path / "rear.glb", cycle=Cycle.STEER)
    assert list(tmp_path.iterdir()) == []


def test_what_stands_still_does_not_go_with_a_cycle(tmp_path: Path) -> None:
    with pytest.raises(CallError, match="--worst"):
        mesh(WREN, tmp_path / "rear.glb", cycle=Cycle.ALL, worst=True)
    with pytest.raises(CallError, match="--swept"):
        mesh(WREN, tmp_path / "rear.glb", cycle=Cycle.ALL, swept="left wheel")
    assert list(tmp_path.iterdir()) == []
