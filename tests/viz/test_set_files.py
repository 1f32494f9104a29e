"""What `set` reads and writes, and what it refuses before anything is worked out (D: the command's own promises)."""

from __future__ import annotations

import os
import sys
import tomllib
from pathlib import Path

import pytest
from zoo import SCENES

from model.adjust import bench_of, setting_for
from model.adjustwants import parsed
from model.assembly import assemble
from model.reading import scene_from
from viz import cli
from viz.settables import BUSHES, notes

QUICK = ["--quick", "--wheel-steps", "3", "--steer-steps", "3"]
REAR = SCENES / "wren_rear.toml"
WANT = ["--want", "axle shift = 2"]


@pytest.fixture
def call(monkeypatch, capsys):
    def run(command: str, *arguments: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["fulltravel", command, *arguments])
        with pytest.raises(SystemExit) as stopped:
            cli.main()
        printed = capsys.readouterr()
        return int(stopped.value.code or 0), printed.out, printed.err

    return run


def test_a_scene_from_a_pipe_is_read_once(call, tmp_path):
    new = tmp_path / "new.toml"
    reader, writer = os.pipe()
    os.write(writer, REAR.read_bytes())  # some kB: a pipe holds 64
    os.close(writer)
    code, _, err = call("set", f"/dev/fd/{reader}", *WANT, "--write", str(new), *QUICK)
    os.close(reader)
    assert (code, err) == (0, "")
    assert tomllib.loads(new.read_text())["points"]["panhard_axle"] != [-140, -430, 300]


def test_what_stands_on_the_screen_as_json_is_nothing_else(call, tmp_path):
    _, out, _ = call("set", str(REAR), *WANT, "--write", str(tmp_path / "new.toml"), "--json", "-", *QUICK)
    assert out.endswith("}\n")
    assert (tmp_path / "new.toml").is_file()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--write", ""], "a file to write has no name"),
        (["--write", "new.toml/"], "new.toml/ is a folder's name"),
        (["--write", "new.toml", "--json", "./new.toml"], "new.toml is named for two outputs"),
    ],
)
def test_a_file_that_cannot_be_written_is_refused_first(call, arguments, said, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    code, out, err = call("set", str(REAR), *WANT, *arguments, *QUICK)
    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1
    assert not list(Path().iterdir())


@pytest.mark.parametrize("command", ["compare", "loads"])
def test_no_command_writes_two_outputs_into_one_file(call, command, tmp_path):
    arguments = [str(REAR), str(SCENES / "tarn_rear.toml")][: 2 if command == "compare" else 1]
    one = str(tmp_path / "one.png")
    code, _, err = call(command, *arguments, "--json", one, "-o", one)
    assert code == 2
    assert "is named for two outputs" in err


@pytest.mark.parametrize(("want", "way"), [("20", "droop"), ("-20", "bump")])
def test_a_ride_height_that_leaves_no_travel_is_one_sentence(call, want, way, tmp_path):
    scene = tmp_path / "scene.toml"
    scene.write_text(REAR.read_text().replace(f"\n{way} = 75", f"\n{way} = 5"))
    code, out, err = call("set", str(scene), "--want", f"ride height = {want}", *QUICK)
    assert (code, out) == (2, "")
    assert f"nearer to full {way}, and [travel] {way} is 5.0 mm, so that no {way} is left" in err
    assert err.count("\n") == 1


@pytest.mark.parametrize(("want", "told"), [("toe = 0.15", False), ("ride height = 20", True)])
def test_rubber_is_told_of_where_it_turns(want, told):
    """D: the arm, some 330 mm long, turns by some 3.5° for 20 mm; for toe alone it does not."""
    data = tomllib.loads((SCENES / "wren_front.toml").read_text())
    data["joint"]["rubber"] = {"kind": "rubber bush"}
    for pivot in data["arm"]["lower arm"]["pivots"]:
        pivot["joint"] = "rubber"
    bench, start = bench_of(assemble(scene_from(data, SCENES / "wren_front.toml")))
    assert (BUSHES in notes(setting_for(bench, start, parsed([want], start.measured, 1.0)))) == told
