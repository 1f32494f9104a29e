"""The command that measures curves: tables, files for other programs, a picture, and what it refuses."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console
from typer.testing import CliRunner
from zoo import NAMES, SCENES, built, scene_data, short_steering_arm

from model import curvenames as named
from model.curveruns import curve_runs
from model.cycles import Cycle
from model.units import Length
from viz.app import app
from viz.cli import COMMANDS
from viz.curveplot import figure_of
from viz.curvetables import curve_tables
from viz.curvetext import value_text

RUNNER = CliRunner()


def _run(*words: str) -> str:
    result = RUNNER.invoke(app, ["curves", *words])
    assert result.exception is None, result.output
    return result.output


def _refused(*words: str) -> str:
    result = RUNNER.invoke(app, ["curves", *words])
    assert result.exception is not None
    return str(result.exception)


def _scene(name: str) -> str:
    return str(SCENES / f"{name}.toml")


def test_it_is_a_command() -> None:
    assert "curves" in COMMANDS


def test_the_table_tells_each_run_from_end_to_end() -> None:
    text = _run(_scene("wren_front"), "--steps", "5")
    heads = [text.index(head) for head in ("Both wheels together", "Crossed up", "Lock to lock")]
    assert heads == sorted(heads)
    camber = next(line for line in text.splitlines() if line.startswith("left and right wheel") and "camber " in line)
    # The scene's own camber at ride height.
    assert "−0.50°" in camber
    assert "change for 10 mm" in text
    assert "Ackermann" not in text
    assert "nan" not in text
    assert "−0.0 " not in text


def test_values_for_a_person_say_no_more_than_they_can() -> None:
    centre = named.SIDE_VIEW_AHEAD.curve("left wheel", np.zeros(1))
    assert [value_text(centre, mm, Length.MM) for mm in (-1739.1, -0.3, 5200.0)] == ["−1739 mm", "0 mm", "far off"]
    assert value_text(centre, 254.0, Length.INCH) == "10.0 in"
    assert value_text(named.ROLL_STEER.curve("axle", np.zeros(1)), 0.0224, Length.MM) == "0.022° per °"


def test_inches_are_told_in_inches_and_steering_with_a_wheelbase() -> None:
    text = _run(_scene("wren_front"), "--steps", "5", "--units", "in", "--wheelbase", "90")
    assert "change for 1 in" in text
    assert " lbf/in" in text
    assert " ft" in text
    assert " mm" not in text
    assert "Ackermann" in text


def test_a_csv_holds_every_pose_and_its_numbers(tmp_path: Path) -> None:
    output = tmp_path / "curves.csv"
    _run(_scene("wren_front"), "--steps", "7", "-o", str(output))
    rows = list(csv.DictReader(output.read_text(encoding="utf-8").splitlines()))
    assert [row["cycle"] for row in rows] == ["both"] * 7 + ["cross"] * 7 + ["steer"] * 7
    assert {"left_mm", "right_mm", "steer_percent", "camber_left_deg", "bump_steer_right_deg_per_mm"} <= rows[0].keys()
    assert {"roll_centre_height_mm", "motion_ratio_left_coilover", "wheel_rate_left_n_per_mm"} <= rows[0].keys()
    assert {"ride_frequency_left_hz", "roll_stiffness_anti_roll_bar_nm_per_deg"} <= rows[0].keys()
    run = curve_runs(built(scene_data("wren_front")), [Cycle.BOTH], 7)[0]
    camber = next(each.values for each in run.curves if (each.what, each.where) == ("camber", "left wheel"))
    assert [float(row["camber_left_deg"]) for row in rows[:7]] == pytest.approx(np.degrees(camber), rel=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_json_says_what_each_curve_is(tmp_path: Path, name: str) -> None:
    output = tmp_path / "curves.json"
    _run(_scene(name), "--steps", "3", "-o", str(output))
    record = json.loads(output.read_text(encoding="utf-8"))
    assert record["format"] == "fulltravel curves 1"
    assert record["cautions"]
    for run in record["runs"]:
        keys = [each["key"] for each in run["curves"]]
        assert len(set(keys)) == len(keys)
        assert all(len(each["values"]) == 3 and each["definition"] for each in run["curves"])
        assert all(len(values) == 3 for values in run["drives"].values())


def test_only_some_curves_and_one_run(tmp_path: Path) -> None:
    output = tmp_path / "curves.csv"
    text = _run(_scene("tarn_rear"), "--cycle", "cross", "--only", "Pinion", "--only", "side shift", "-o", str(output))
    assert "pinion angle" in text
    assert "camber" not in text
    assert "Both wheels together" not in text
    header = output.read_text(encoding="utf-8").splitlines()[0]
    assert header == "cycle,left_mm,right_mm,axle_side_shift_mm,pinion_angle_deg,pinion_against_gearbox_propshaft_deg"


def test_the_grid_is_told_by_its_least_and_most(tmp_path: Path) -> None:
    output = tmp_path / "grid.csv"
    text = _run(_scene("wren_rear"), "--grid", "--wheel-steps", "3", "-o", str(output))
    assert "Over every pose of the travel" in text
    rows = list(csv.DictReader(output.read_text(encoding="utf-8").splitlines()))
    assert [row["cycle"] for row in rows] == ["grid"] * 9
    shifts = [float(row["axle_side_shift_mm"]) for row in rows]
    (told,) = (line.replace("−", "-").split() for line in text.splitlines() if "axle side shift" in line)
    assert float(told[-6]) == pytest.approx(min(shifts), abs=0.051)
    assert float(told[-2]) == pytest.approx(max(shifts), abs=0.051)


@pytest.mark.parametrize("suffix", [".png", ".svg"])
def test_a_picture_is_drawn_the_same_each_time(tmp_path: Path, suffix: str) -> None:
    first, second = tmp_path / f"first{suffix}", tmp_path / f"second{suffix}"
    for output in (first, second):
        _run(_scene("tarn_front"), "--steps", "5", "--cycle", "both", "--only", "camber", "-o", str(output))
    assert first.stat().st_size > 3000
    assert first.read_bytes() == second.read_bytes()
    if suffix == ".svg":
        assert "<svg" in first.read_text(encoding="utf-8")


def test_the_picture_shows_what_is_told_of_each_run_with_ride_height_marked() -> None:
    runs = curve_runs(built(scene_data("wren_front")), [Cycle.BOTH, Cycle.STEER], 5, 2300.0)
    figure = figure_of(runs, None, Length.INCH)
    titles = [axes.get_title(loc="left") for axes in figure.axes]
    assert {"camber", "toe", "bump steer", "roll centre height", "wheel rate", "steer angle", "Ackermann"} <= set(
        titles
    )
    steering = figure.axes[titles.index("steer angle")]
    # Left and right are told apart by their dashes, not by colour alone.
    dashes = {line.get_linestyle() for line in steering.lines if len(line.get_xdata()) == 5}
    assert dashes == {"-", "--"}
    assert any(list(line.get_xdata()) == [0.0, 0.0] for line in steering.lines)
    camber = figure.axes[titles.index("camber")]
    # 70 mm in inches.
    assert camber.get_xlim() == pytest.approx((-70.0 / 25.4, 70.0 / 25.4))


def test_each_curve_is_explained_in_a_line_and_what_is_typical_is_said_to_be() -> None:
    text = _run(_scene("wren_front"), "--steps", "3", "--only", "roll", "--explain")
    meaning = text[text.index("What these are") :]
    assert meaning.count("roll centre height ") == 1
    assert "where the lines square to the paths of both tyres' contacts meet" in meaning
    assert "solid steel of typical stiffness" in text
    assert "maim or kill" in text
    plain = _run(_scene("tarn_rear"), "--steps", "3", "--only", "camber")
    assert "typical" not in plain
    assert "maim" not in plain


def test_poses_that_lock_are_dashes_and_are_told_of() -> None:
    runs = curve_runs(built(short_steering_arm()), [Cycle.STEER], 5)
    page = io.StringIO()
    Console(file=page, width=200).print(curve_tables(runs, ["caster"], Length.MM, explain=False, narrow=False))
    (row,) = (line.split() for line in page.getvalue().splitlines() if "caster" in line)
    assert (row[-3], row[-1]) == ("–", "–")
    assert row[-2].endswith("°")
    assert "The linkage locks before it reaches some of these poses" in page.getvalue()


def test_a_stream_gets_the_file_alone(tmp_path: Path) -> None:
    made = subprocess.run(
        [sys.executable, "-c", "from viz.cli import main; main()", "curves", _scene("wren_rear"), "-o", "/dev/stdout",
         "--cycle", "both", "--steps", "3", "--only", "camber change"],
        check=True, capture_output=True, text=True, cwd=tmp_path,
    )  # fmt: skip
    lines = made.stdout.splitlines()
    assert lines[0] == "cycle,left_mm,right_mm,camber_change_left_deg_per_mm,camber_change_right_deg_per_mm"
    assert len(lines) == 4


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["tarn_rear", "--wheelbase", "2800"], "no steering"),
        (["wren_front", "--wheelbase", "23"], "--wheelbase is 23 mm, expected 500 to 10000"),
        (["wren_front", "--steps", "10"], "--steps is 10, expected an odd number"),
        (["wren_front", "--only", "wobble"], '--only is "wobble", expected part of a name of a curve: camber, '),
        (["tarn_rear", "--cycle", "steer"], 'cannot run through the cycle "steer"'),
        (["wren_front", "--grid", "--cycle", "both"], "--grid tries every pose"),
        (["wren_front", "--grid", "-o", "grid.png"], "a picture follows a cycle"),
        (["wren_front", "-o", "curves.pdf"], "ends in .pdf, expected .csv"),
        (
            ["wren_front", "--cycle", "both", "--wheelbase", "2300", "--only", "Ackermann", "-o", "curves.png"],
            "none of these curves has a value over this cycle",
        ),
        (["wren_front", "--variant", "other"], "other"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(words: list[str], sentence: str) -> None:
    told = _refused(_scene(words[0]), *words[1:])
    assert sentence in told
    assert "\n" not in told
