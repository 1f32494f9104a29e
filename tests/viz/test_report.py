"""Findings as a table and as JSON: the words, the keys, the units. Expectations are the outputs' promises (D)."""

import io
import json
import math
from dataclasses import replace
from typing import Any

import pytest
from rich.console import Console
from zoo import built, scene_data, trailing_arm

from model.findings import State, Verdict, judge
from model.measures import Quantity
from model.mechanism import Mechanism
from model.solver import solve
from model.travel import grid
from model.units import Length
from viz.cautions import CAUTIONS
from viz.report import amount_text, as_json, short_pose_text, table, verdict_line


def judged(data: dict[str, Any]) -> tuple[Mechanism, Verdict]:
    mechanism = built(data)
    return mechanism, judge(solve(mechanism, grid(mechanism, 5, 3)))


def printed(mechanism: Mechanism, verdict: Verdict, *, width: int = 200, **options: Any) -> str:
    page = io.StringIO()
    Console(file=page, width=width, highlight=False).print(table(mechanism, verdict, Length.MM, **options))
    return page.getvalue()


@pytest.fixture(scope="module")
def tarn() -> tuple[Mechanism, Verdict]:
    return judged(scene_data("tarn_rear"))


@pytest.fixture(scope="module")
def front() -> tuple[Mechanism, Verdict]:
    return judged(scene_data("wren_front"))


KEYS = ["format", "scene", "title", "verdict", "poses", "locked_poses", "travel", "findings", "cautions"]
ANGLES = {"used_deg", "limit_deg", "margin_deg"}
LENGTHS = {"used_mm", "limit_mm", "margin_mm"}
ALWAYS = {"state", "what", "where", "part", "limit_is_typical", "limit_source", "pose", "at_mm"}


def test_json_keys(front):
    mechanism, verdict = front
    document = as_json("scenes/wren_front.toml", mechanism, verdict)
    assert list(document) == KEYS
    assert document["travel"] == {
        "left_low_mm": -70.0,
        "left_high_mm": 70.0,
        "right_low_mm": -70.0,
        "right_high_mm": 70.0,
        "steer_low_percent": -100.0,
        "steer_high_percent": 100.0,
    }
    for entry, finding in zip(document["findings"], verdict.findings, strict=True):
        amounts = ANGLES if finding.quantity is Quantity.ANGLE else LENGTHS
        assert entry.keys() == ALWAYS | amounts
        assert entry["pose"].keys() == {"number", "words", "left_mm", "right_mm", "steer_percent"}
        assert len(entry["at_mm"]) == 3


def test_json_is_strict_json_and_in_degrees(tarn):
    mechanism, verdict = tarn
    text = json.dumps(as_json("s", mechanism, verdict), allow_nan=False)
    worst = json.loads(text)["findings"][0]
    assert worst["state"] == "over"
    # Rounded to a thousandth.
    assert worst["used_deg"] == pytest.approx(math.degrees(verdict.findings[0].used), abs=5e-4)
    assert worst["margin_deg"] == pytest.approx(worst["limit_deg"] - worst["used_deg"], abs=2e-3)
    assert "-0.0," not in text


def test_json_is_in_mm_whatever_the_scene_is_in(front):
    mechanism, verdict = front
    strokes = {
        entry["where"]: entry for entry in as_json("s", mechanism, verdict)["findings"] if entry["what"] == "stroke in"
    }
    # D: the stroke that a coilover has is its extended less its compressed length, 433 − 288 in the scene.
    assert strokes["left coilover"]["limit_mm"] == 145.0


def test_the_table_is_worst_first_with_a_word_for_every_state(tarn):
    mechanism, verdict = tarn
    lines = [line.rstrip() for line in printed(mechanism, verdict).splitlines()]
    words = [line.split()[0] for line in lines[3 : 3 + len(verdict.findings)]]
    assert words == sorted(words, key=["locked", "over", "close", "clear", "no"].index)
    assert words[0] == "over"
    assert lines[0].startswith(
        "Tarn trail pickup, rear: OVER a limit (2 over, 2 close of 18). Tried 25 poses: 200 mm bump"
    )


@pytest.mark.parametrize("caution", CAUTIONS)
def test_the_cautions_are_always_there(caution, tarn, front):
    for mechanism, verdict in (tarn, front):
        assert caution in printed(mechanism, verdict)
        assert caution in as_json("s", mechanism, verdict)["cautions"]


def test_a_typical_limit_is_starred_and_explained(front, tarn):
    typical = printed(*front)
    assert "3.0°*" in typical  # P: docs/sources.md, polyurethane bush, cocking 2 to 3°
    assert "* a typical limit, not the part maker's" in typical
    assert "*" not in printed(*tarn).replace("* a typical", "")  # Tarn gives every limit itself


def test_a_locked_travel_says_how_far_it_goes():
    # D: an arm of 100 mm lets its wheel rise by less than 100 mm; of -150, -75, 0, 75 and 150 it reaches three.
    mechanism, verdict = judged(trailing_arm(radius=100.0, travel=150.0))
    text = printed(mechanism, verdict)
    assert verdict.state is State.LOCKED
    assert "trailing arm: LOCKS inside the travel (1 locked" in text
    assert "; 2 of them lock." in text
    assert "locked: used is the wheel travel asked for, limit the last that the linkage can reach." in text


def test_one_wheel_is_not_each_wheel_by_itself():
    mechanism, verdict = judged(trailing_arm())
    assert "100 mm bump, 100 mm droop." in printed(mechanism, verdict)


def test_markup_and_tags_in_names_are_printed_as_they_are():
    data = json.loads(json.dumps(trailing_arm()).replace("trailing arm", "[red]arm[/red] <script>:smile:"))
    mechanism, verdict = judged(data)
    assert mechanism.title == "[red]arm[/red] <script>:smile:"
    text = printed(mechanism, verdict)
    assert "[red]arm[/red] <script>:smile:: " in text
    assert "[red]arm[/red] <script>:smile:, left pivot" in text


def test_every_row_is_one_line_where_there_is_room(front):
    mechanism, verdict = front
    lines = printed(mechanism, verdict).splitlines()
    assert len(lines) == 3 + len(verdict.findings) + 1 + 1 + len(CAUTIONS)


def test_a_narrow_terminal_gets_poses_in_few_letters(front):
    mechanism, verdict = front
    text = printed(mechanism, verdict, width=80, narrow=True)
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "left wheel 70 mm up" not in text
    assert "worst pose: L left wheel, R right wheel, + up from ride height, in mm." in text


@pytest.mark.parametrize(
    ("names", "drives", "length", "text"),
    [
        (("left", "right"), (70.0, -60.0), Length.MM, "L +70, R -60"),
        (("left", "right", "steer"), (0.0, -0.2, 1.0), Length.MM, "L 0, R 0, full left"),
        (("left", "right", "steer"), (-50.8, 0.0, -0.4), Length.INCH, "L -2.00, R 0, 40 % right"),
        (("right", "steer"), (25.4, 0.0), Length.INCH, "R +1.00"),
    ],
)
def test_short_poses(names, drives, length, text):
    assert short_pose_text(names, drives, length) == text


def test_amounts_in_both_units(tarn):
    _, verdict = tarn
    stroke = next(finding for finding in verdict.findings if finding.quantity is Quantity.LENGTH)
    assert amount_text(stroke, 25.4, Length.MM) == "25 mm"
    assert amount_text(stroke, 25.4, Length.INCH) == "1.00 in"  # S: international yard agreement of 1959
    assert amount_text(stroke, None, Length.MM) == "–"
    assert amount_text(verdict.findings[0], math.radians(15), Length.INCH) == "15.0°"


def test_nothing_that_could_be_judged_is_not_called_clear(front):
    _, verdict = front
    unjudged = tuple(replace(finding, state=State.UNJUDGED, limit=None) for finding in verdict.findings)
    nothing = replace(verdict, findings=unjudged, state=State.CLEAR)
    assert verdict_line(nothing) == "nothing here has a limit to be judged by"
    assert verdict_line(replace(verdict, findings=())) == "nothing here has a limit to be judged by"
