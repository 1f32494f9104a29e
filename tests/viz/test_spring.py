"""`spring` on the command line (D: the command's own promises)."""

from __future__ import annotations

import json
import re
import sys

import pytest
from zoo import SCENES

from viz import cli

FRONT = str(SCENES / "wren_front.toml")
LIST = "name,rate,free_length,solid_length,inside_diameter\nsoft,30,230,70,60\nmid,38,230,70,60\nnarrow,39,230,70,40\n"


@pytest.fixture
def call(monkeypatch, capsys):
    def run(*arguments: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["fulltravel", "spring", *arguments])
        with pytest.raises(SystemExit) as stopped:
            cli.main()
        printed = capsys.readouterr()
        return int(stopped.value.code or 0), printed.out, printed.err

    return run


def test_the_scenes_own_spring_is_told(call):
    code, out, err = call(FRONT)
    assert (code, err) == (0, "")
    assert "The scene's own spring, at the ride height of the scene." in out
    assert re.search(r"left and right coilover +177 kg +38\.0 N/mm +14\.\d N/mm +1\.4\d Hz", out)
    assert re.search(r"left and right coilover +ride height +0\.601", out)
    assert "about half of its stroke left each way" in out
    assert "1.0 to 1.5 Hz comfortable; 1.5 to 2.0 Hz firm; above 2.0 Hz hard" in out
    assert "`curves` takes what the scene's own spring pushes with" in out
    assert "can maim or kill" in out


def test_a_list_is_ranked_with_what_is_wrong_with_each(call, tmp_path):
    springs = tmp_path / "springs.csv"
    springs.write_text(LIST)
    code, out, _ = call(FRONT, "--frequency", "1.43", "--list", str(springs))
    assert code == 0
    names = re.findall(r"^(soft|mid|narrow) +\d", out, re.MULTILINE)
    assert names == ["mid", "soft", "narrow"]
    assert "too narrow for the damper's body" in out
    assert out.count("Springs of the list, the nearest first (left and right coilover):") == 1


def test_springs_of_two_sides_that_differ_are_told_by_side(call, tmp_path):
    springs = tmp_path / "springs.csv"
    springs.write_text(LIST)
    # D: a panhard bar moves the two coilovers of an axle differently.
    _, out, _ = call(str(SCENES / "wren_rear.toml"), "--list", str(springs))
    assert re.findall(r"the nearest first \((.*)\):", out) == ["left coilover", "right coilover"]


def test_nothing_of_a_list_that_fits_is_exit_code_1(call, tmp_path):
    springs = tmp_path / "springs.csv"
    springs.write_text("name,rate,free_length\nlong,38,400\n")
    code, out, _ = call(FRONT, "--list", str(springs))
    assert code == 1
    assert "further than it can" in out


def test_json_is_in_mm_and_newton_whatever_the_units(call):
    code, out, _ = call(FRONT, "--rate", "217", "--ride-height", "0.5", "--units", "in", "--json", "-")
    told = json.loads(out)
    assert code == 0
    assert (told["format"], told["title"]) == ("fulltravel spring 1", "Wren roadster, front")
    (left, right) = told["needed"]
    assert (left["coilover"], right["coilover"]) == ("left coilover", "right coilover")
    assert left["ride_height_mm"] == pytest.approx(12.7)
    assert left["rate_n_per_mm"] == pytest.approx(217 * 4.4482216 / 25.4, abs=1e-3)
    # Raised, the coilover stands longer by the motion ratio of 0.6 times as much.
    assert left["eye_to_eye_mm"] == pytest.approx(363.1 + 0.6 * 12.7, abs=0.2)
    assert [each["at"] for each in left["travel"]] == ["full droop", "ride height", "full bump", "damper fully in"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--frequency", "1.5", "--rate", "30"], "both given"),
        (["--ride-height", "200"], "outside the travel"),
        (["--coilover", "coiloverr"], "did you mean"),
        (["--list", "none.csv"], "cannot be read"),
    ],
)
def test_a_wrong_call_is_one_sentence(call, arguments, said):
    code, out, err = call(FRONT, *arguments)
    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1
