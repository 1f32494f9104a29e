"""--variant of every command that takes a scene, and of those that take two.

Expectations are the command line's own promises (D).
"""

from __future__ import annotations

import inspect
import json
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from zoo import SCENES

from model.errors import CallError, SceneError
from viz import cli, windowpose
from viz.app import app
from viz.calls import load
from viz.chosen import Chosen, chosen, pair_chosen

REAR, FRONT, PLAIN = SCENES / "tarn_rear.toml", SCENES / "wren_front.toml", SCENES / "wren_rear.toml"
LINK, MOUNT, WRITTEN = "on the lower link", "old shock mount", "as written"
FEW = ["--wheel-steps", "3", "--steer-steps", "3"]

CALLBACKS = {
    each.name or each.callback.__name__: each.callback for each in app.registered_commands if each.callback is not None
}
TAKES_A_SCENE = [name for name, callback in CALLBACKS.items() if "scene" in inspect.signature(callback).parameters]
# What each command needs beside its scene to get as far as reading it.
NEEDS = {
    "sheet": ["-o", "x.html"],
    "poses": ["-o", "x.json"],
    "still": ["-o", "x.png"],
    "film": ["-o", "x.mp4"],
    "page": ["-o", "x.html"],
    "mesh": ["-o", "x.glb"],
    "set": ["--want", "camber = 0"],
    "spring": ["--frequency", "1.2"],
}


@pytest.fixture
def call(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    def run(*arguments: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["fulltravel", *arguments])
        with pytest.raises(SystemExit) as stopped:
            cli.main()
        printed = capsys.readouterr()
        assert isinstance(stopped.value.code, int)
        return stopped.value.code, printed.out, printed.err

    return run


@pytest.mark.parametrize("command", [name for name in TAKES_A_SCENE if name != "view"])
def test_every_command_that_takes_a_scene_takes_a_variant(
    command: str, call: Callable[..., tuple[int, str, str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, err = call(command, str(REAR), *NEEDS.get(command, []), "--variant", "on the lower lnk")
    assert (code, out) == (2, "")
    assert err == f'fulltravel: {REAR} has no variant "on the lower lnk"; did you mean "{LINK}"?\n'
    assert list(tmp_path.iterdir()) == []


def test_the_window_takes_a_variant_and_keeps_it() -> None:
    assert "variant" in inspect.signature(CALLBACKS["view"]).parameters
    scene = windowpose.read(REAR, None, LINK)
    assert scene.mechanism.title == f"Tarn trail pickup, rear: {LINK}"


def test_what_is_written_names_the_variant(call: Callable[..., tuple[int, str, str]]) -> None:
    _, out, _ = call("check", str(REAR), "--quick", *FEW, "--variant", LINK, "--json", "-")
    assert json.loads(out)["title"] == f"Tarn trail pickup, rear: {LINK}"


def test_a_mistake_that_a_variant_makes_names_it_and_the_file(tmp_path: Path) -> None:
    path = tmp_path / "scene.toml"
    path.write_text(
        PLAIN.read_text(encoding="utf-8") + '\n[variant.v.coilover.coilover.bottom]\non = "uprihgt"\n', encoding="utf-8"
    )
    load(path, None)
    with pytest.raises(SceneError) as raised:
        load(path, None, variant="v")
    (sentence,) = raised.value.complaints
    assert sentence.startswith(f'{path}: [variant."v".coilover."coilover"] bottom.on is "uprihgt"')


@pytest.mark.parametrize(
    ("other", "variants", "found"),
    [
        (None, [], (Chosen(REAR),)),
        (None, [LINK], (Chosen(REAR, LINK),)),
        (None, [LINK, WRITTEN], (Chosen(REAR, LINK), Chosen(REAR, WRITTEN))),
        (PLAIN, [], (Chosen(REAR), Chosen(PLAIN))),
        (FRONT, [LINK, MOUNT], (Chosen(REAR, LINK), Chosen(FRONT, MOUNT))),
    ],
)
def test_one_scene_or_two(other: Path | None, variants: list[str], found: tuple[Chosen, ...]) -> None:
    assert chosen(REAR, other, variants) == found


@pytest.mark.parametrize(
    ("scene", "variants", "found"),
    [
        (REAR, [], (Chosen(REAR, WRITTEN), Chosen(REAR, LINK))),
        (REAR, [LINK], (Chosen(REAR, WRITTEN), Chosen(REAR, LINK))),
        (REAR, [LINK, WRITTEN], (Chosen(REAR, LINK), Chosen(REAR, WRITTEN))),
    ],
)
def test_what_is_compared_where_one_scene_is_given(
    scene: Path, variants: list[str], found: tuple[Chosen, Chosen]
) -> None:
    assert pair_chosen(scene, None, variants) == found


@pytest.mark.parametrize(
    ("scene", "other", "variants", "sentence"),
    [
        (REAR, None, ["a", "b", "c"], "--variant is given 3 times, expected two at most; leave the others out."),
        (
            REAR,
            PLAIN,
            [LINK],
            "--variant is given once beside two scenes; give it twice, first for SCENE and then for ",
        ),
        (REAR, None, [LINK, LINK], f'--variant is "{LINK}" both times; name two that differ.'),
        (REAR, None, [WRITTEN], '--variant is "as written", which is what it would be compared with; name another one'),
        (PLAIN, None, [], f"{PLAIN} has no [variant.NAME] to compare it with; write one into it, or name a second"),
    ],
)
def test_what_cannot_be_compared_is_refused(
    scene: Path, other: Path | None, variants: list[str], sentence: str
) -> None:
    with pytest.raises(CallError) as raised:
        pair_chosen(scene, other, variants)
    assert str(raised.value).startswith(sentence)


def test_of_several_variants_one_has_to_be_named(tmp_path: Path) -> None:
    path = tmp_path / "scene.toml"
    more = "\n[variant.a.travel]\nbump = 60\n[variant.b.travel]\nbump = 50\n"
    path.write_text(PLAIN.read_text(encoding="utf-8") + more, encoding="utf-8")
    with pytest.raises(CallError, match="has the variants a, b; choose one with --variant"):
        pair_chosen(path, None, [])


def test_compare_writes_json_with_units_in_its_keys(call: Callable[..., tuple[int, str, str]]) -> None:
    code, out, err = call("compare", str(REAR), "--variant", LINK, *FEW, "--json", "-")
    assert (code, err) == (0, "")
    found = json.loads(out)
    assert found["format"] == "fulltravel compare 1"
    assert [found[key]["variant"] for key in ("first", "second")] == [WRITTEN, LINK]
    assert found["answer"][0].startswith("Over in A only: ")
    assert found["answer"][1].startswith("For each mm of wheel the coilover moves ")
    foot = next(each for each in found["moved"] if each["point"] == "left coilover_foot")
    assert foot["on"] == {"first": "axle", "second": "left lower link"}
    assert foot["is_joint"]
    left = next(each for each in found["coilovers"] if each["coilover"] == "left coilover")
    assert left["spring_for_same_wheel_rate_n_per_mm"] > left["first"]["spring_rate_n_per_mm"]
    mount = next(each for each in found["frame_mounts"] if each["part"] == "left coilover")
    assert len(mount["first"]["force_n"]) == 3
    assert {each["about"] for each in found["changes"]} <= {"limit", "travel"}
    assert any("strength check" in caution for caution in found["cautions"])


@pytest.mark.drawing
@pytest.mark.parametrize(
    ("options", "complaint"),
    [
        (["-o", "x.png", "--size", "64x64"], "64x64 px cannot be drawn"),
        (["-o", "x.png", "--view", "joint:nothing"], 'no joint, part or point "nothing"'),
        (["-o", "x.png", "--view", "gap:axle, nothing"], 'no joint, part or point "nothing"'),
        (["-o", "x.png", "--bump", "5000"], "outside its travel"),
        (["-o", "x.mp4", "--size", "1281x720"], "expected an even width and height"),
        (["-o", "x.png", "--json", "x.png"], "named for two outputs"),
    ],
)
def test_what_cannot_be_drawn_is_refused_before_anything_is_worked_out(
    options: list[str],
    complaint: str,
    call: Callable[..., tuple[int, str, str]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("worked out first")

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("viz.commands.compare.reviewed", refuse)
    code, out, err = call("compare", str(REAR), "--json", "x.json", *options)
    assert (code, out) == (2, "")
    assert complaint in err
    assert err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_the_one_of_two_that_cannot_stand_is_named(call: Callable[..., tuple[int, str, str]], tmp_path: Path) -> None:
    solid = tmp_path / "solid.toml"
    solid.write_text(PLAIN.read_text(encoding="utf-8").replace("preload = 10", "preload = 215"), encoding="utf-8")
    code, out, err = call("compare", str(PLAIN), str(solid), *FEW)
    assert (code, out) == (2, "")
    assert err.startswith(f"fulltravel: {solid}: every pose of Wren roadster, rear lies beyond a hard stop")
