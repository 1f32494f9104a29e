"""`set` on the command line: what it says to do, what it writes, and how it fails (D: the command's own promises)."""

from __future__ import annotations

import json
import math
import re
import sys
import tomllib
from dataclasses import replace

import numpy as np
import pytest
from zoo import SCENES

from model.adjust import Turned, bench_of
from model.adjustable import Eccentric, Perch, Thread, Turning
from model.assembly import assemble
from model.joints import JointKind
from model.reading import read_scene
from model.units import Length
from viz import cli
from viz.setwords import do_text, from_to, length_text, nuts_text, signed_text, turns_text

QUICK = ["--quick", "--wheel-steps", "3", "--steer-steps", "3"]
REAR, FRONT = SCENES / "wren_rear.toml", SCENES / "wren_front.toml"


@pytest.fixture
def call(monkeypatch, capsys):
    def run(*arguments: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["fulltravel", "set", *arguments])
        with pytest.raises(SystemExit) as stopped:
            cli.main()
        printed = capsys.readouterr()
        return int(stopped.value.code or 0), printed.out, printed.err

    return run


def test_it_says_what_to_turn_which_way_and_what_that_reaches(call):
    code, out, err = call(str(FRONT), "--want", "camber = -1", "--want", "toe = 0.05", "--want", "caster = 7", *QUICK)
    assert (code, err) == (0, "")
    lines = out.splitlines()
    rod = next(line for line in lines if line.startswith("left and right tie rod thread"))
    assert "0.35 turn anticlockwise, seen from its outer end (right-hand thread there): shorter" in rod
    shims = next(line for line in lines if line.startswith("left and right upper arm front shims"))
    assert "make the stack 3 + 1.5 mm: moves it 1.5 mm inward" in shims
    assert re.search(r"left and right camber +−0\.50° +−1\.00° +−1\.00° +−0\.99° +\+0\.01°", out)
    assert "Bind check before: CLEAR" in out
    assert "Stays as it is: upper arm rear shims, spring perch." in out
    assert "can maim or kill" in out
    # The rod has one thread, and ball joints: neither a second jam nut nor a rod end is told of.
    assert (
        "Left and right tie rod: loosen the jam nut at its outer end first; the bar turns in the inline ball joint at "
        "the inner; hold the ball joint in the middle of its swing while you lock the nut."
    ) in out
    assert "rod end" not in out


def test_an_axle_that_is_steered_toes_one_wheel_in_and_one_out(call):
    # D: both wheels point to the left then; rows of the two sides are one only where their signs are the same.
    _, out, _ = call(str(REAR), "--want", "axle steer = 0.1", *QUICK)
    assert re.search(r"^left toe +0\.00° +−0\.\d\d°$", out, re.MULTILINE)
    assert re.search(r"^right toe +0\.00° +\+0\.\d\d°$", out, re.MULTILINE)


def test_the_side_that_is_not_turned_is_told_by_its_own_name(call):
    _, out, _ = call(str(FRONT), "--want", "left camber = -0.9", *QUICK)
    line = next(line for line in out.splitlines() if line.startswith("Stays as it is"))
    assert "right tie rod thread" in line
    assert "spring perch" in line
    assert re.search("^left tie rod thread", out, re.MULTILINE)


def test_nuts_are_told_as_the_link_has_them():
    thread = next(each for each in assemble(read_scene(REAR)).adjusters if isinstance(each, Thread))
    (bush, rod), both = (JointKind.RUBBER_BUSH, JointKind.ROD_END), (JointKind.ROD_END, JointKind.ROD_END)
    assert thread.turning is Turning.END
    assert nuts_text(thread, (bush, rod)) == (
        "loosen the jam nut at its rear end first; unbolt only that end; hold the rod end in the middle of its swing "
        "while you lock the nut."
    )
    assert "without a twist" in nuts_text(replace(thread, end=0), (bush, rod))
    bar = replace(thread, turning=Turning.BOTH, end=0)
    assert "both jam nuts first (the one at its rear end has a left-hand thread); hold both rod ends" in nuts_text(
        bar, both
    )
    assert "(one of them has a left-hand thread)" in nuts_text(replace(bar, hand_known=False), both)


def test_a_setting_that_binds_is_told_with_the_state_before(call):
    code, out, _ = call(str(REAR), "--want", "pinion = 2", *QUICK)
    assert code == 1
    assert re.search(r"propshaft +torsional acceleration at ride height +clear: .* +over: ", out)
    assert "Bind check with the new setting: OVER" in out


def test_what_is_not_reached_names_what_ran_out(call):
    code, out, _ = call(str(FRONT), "--want", "caster = 12", "--only", "upper arm rear shims", *QUICK)
    assert code == 1
    assert 'NOT REACHED: "left upper arm rear shims" and "right upper arm rear shims" are at the end' in out


def test_json_holds_the_same_in_mm_and_degrees(call):
    code, out, _ = call(str(FRONT), "--want", "toe = 0.05", "--json", "-", "--units", "in", *QUICK)
    told = json.loads(out)
    assert code == 0
    assert (told["format"], told["title"]) == ("fulltravel set 1", "Wren roadster, front")
    assert told["reached"]
    assert told["solver_calls"] <= 10
    rods = [each for each in told["adjusters"] if each["name"].endswith("tie rod thread")]
    # A pitch of 1.5 mm, set to twentieths of a turn.
    assert [rod["turns"] for rod in rods] == pytest.approx([-0.05] * 2, abs=1e-6)
    assert rods[0]["change_mm"] == pytest.approx(-0.075)
    assert rods[0]["engaged_mm"] == [{"end": "outer", "before_mm": 24.0, "after_mm": 24.075, "diameter_mm": 14.0}]
    (left, right) = told["wants"]
    assert (left["what"], right["what"]) == ("left toe", "right toe")
    assert left["wanted_deg"] == pytest.approx(0.05)
    assert set(told["check"]) == {"before", "after"}


def test_lengths_are_wanted_in_the_unit_that_is_printed(call):
    _, out, _ = call(str(REAR), "--want", "axle shift = 0.1", "--units", "in", "--json", "-", *QUICK)
    assert json.loads(out)["wants"][0]["wanted_mm"] == pytest.approx(2.54)


def test_the_written_scene_keeps_every_comment_and_stands_where_it_was_set(call, tmp_path):
    new = tmp_path / "new.toml"
    wants = ["--want", "pinion = 3", "--want", "axle shift = 2"]
    _, out, _ = call(str(REAR), *wants, "--write", str(new), "--json", str(tmp_path / "said.json"), *QUICK)
    assert f"{new}: the scene with" in out
    said = json.loads((tmp_path / "said.json").read_text())
    before, after = REAR.read_text(), new.read_text()
    assert re.findall(r"#.*", after) == re.findall(r"#.*", before)
    was, now = tomllib.loads(before), tomllib.loads(after)
    assert list(was) == list(now)
    assert list(was["points"]) == [name for name in now["points"] if not name.startswith("right ")]
    assert now["points"]["rail_front"] == was["points"]["rail_front"]
    _, start = bench_of(assemble(read_scene(new)))
    found = {value.name: float(value.values[0]) for value in start.measured}
    for want in said["wants"]:
        if "after_mm" in want:
            # Points are written to 1e-4 mm.
            assert found[want["what"]] == pytest.approx(want["after_mm"], abs=2e-4)


def test_lines_end_as_they_did(call, tmp_path):
    scene, new = tmp_path / "scene.toml", tmp_path / "new.toml"
    scene.write_bytes(REAR.read_bytes().replace(b"\n", b"\r\n"))
    call(str(scene), "--want", "axle shift = 2", "--write", str(new), *QUICK)
    lines = new.read_bytes().split(b"\n")
    assert all(line.endswith(b"\r") for line in lines[:-1])


def test_a_variant_is_written_into_its_own_table(call, tmp_path):
    scene, new = tmp_path / "scene.toml", tmp_path / "new.toml"
    scene.write_text(REAR.read_text() + '\n[variant."other"]\n[variant."other".wheel.wheel]\nloaded_radius = 290\n')
    call(str(scene), "--variant", "other", "--want", "axle shift = 2", "--write", str(new), *QUICK)
    was, now = tomllib.loads(scene.read_text()), tomllib.loads(new.read_text())
    assert now["points"] == was["points"]
    assert now["variant"]["other"]["wheel"]["wheel"]["loaded_radius"] == 290
    _, start = bench_of(assemble(read_scene(new, "other")))
    shift = next(value for value in start.measured if value.name == "axle shift")
    assert float(shift.values[0]) == pytest.approx(2.0, abs=0.25)  # a flat of the panhard bar is 0.42 mm


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([str(FRONT)], "nothing is wanted; add --want"),
        ([str(FRONT), "--want", "camber = 30"], "is no camber in degrees"),
        ([str(FRONT), "--want", "cmber = 1"], 'did you mean "camber"?'),
        ([str(FRONT), "--want", "toe = 0.1", "--write", str(FRONT)], "is a file that is read from"),
        ([str(FRONT), "--want", "toe = 0.1", "--write", "there.txt"], "expected .toml"),
        ([str(SCENES / "tarn_rear.toml"), "--want", "ride height = 5"], "nothing in this scene sets the ride height"),
    ],
)
def test_a_wrong_call_is_one_sentence(call, arguments, said):
    code, out, err = call(*arguments, *QUICK)
    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1


def test_turns_are_told_in_flats_or_fractions():
    assert turns_text(-7.0 / 6.0, 1.0 / 6.0) == "1 turn and 1 flat"
    assert turns_text(2.0 / 6.0, 1.0 / 6.0) == "2 flats"
    assert turns_text(2.5, 0.5) == "2½ turns"
    assert turns_text(0.5, 0.5) == "½ turn"
    assert turns_text(3.0, 0.5) == "3 turns"
    assert turns_text(0.3, 0.1) == "0.30 turn"
    assert turns_text(-1.75, 0.25) == "1¾ turns"
    assert length_text(25.4, Length.INCH) == "1.000 in"
    assert length_text(-0.04, Length.MM, signed=True) == length_text(-0.04, Length.MM) == "0.0 mm"
    assert (signed_text(-0.25, 2, "°"), signed_text(0.004, 2, "°")) == ("−0.25°", "0.00°")


def test_a_seat_on_a_right_hand_thread_goes_away_from_whoever_turns_it_clockwise():
    perch = next(each for each in assemble(read_scene(FRONT)).adjusters if isinstance(each, Perch))
    raised, lowered = (do_text(Turned(perch, mm, mm, True), Length.MM) for mm in (3.0, -0.75))
    # D: looking from behind the seat at the spring, away from the eye is towards the spring.
    assert "2 turns towards the spring: clockwise, looking from behind the seat at the spring" in raised
    assert "½ turn away from the spring: anticlockwise" in lowered
    left = do_text(Turned(replace(perch, left_hand=True), 3.0, 3.0, True), Length.MM)
    assert "towards the spring: anticlockwise" in left


def test_an_eccentric_is_turned_clockwise_as_seen_along_its_bolt(tmp_path):
    scene = tmp_path / "scene.toml"
    scene.write_text(
        FRONT.read_text()
        + '\n[adjust.cam]\nkind = "eccentric"\npoints = ["lower_rear_pivot"]\ndirection = "up"\naxis = "along"\n'
        "throw = 5\nmirror = true\n"
    )
    left, right = (each for each in assemble(read_scene(scene)).adjusters if isinstance(each, Eccentric))
    # D: looking forward, the bolt's own direction, from up over to the right is clockwise.
    assert left.moved(math.pi / 2.0) @ np.stack([left.towards, left.across]) == pytest.approx([0.0, -5.0, -5.0])
    assert do_text(Turned(left, 0.0, math.radians(25.0), True), Length.MM) == (
        "turn its bolt 25° clockwise, seen from the rear"
    )
    assert "25° anticlockwise" in do_text(Turned(right, 0.0, math.radians(25.0), True), Length.MM)
    assert from_to(Turned(left, 0.0, math.radians(25.0), True), Length.MM) == ("0°", "+25°")
