"""Findings as a table and as JSON: the words, the keys, the units. Expectations are the outputs' promises (D)."""

import io
import json
import math
from dataclasses import replace
from typing import Any

import pytest
from rich.console import Console
from zoo import built, scene_data, trailing_arm

from model.measures import Quantity
from model.review import Review, review
from model.solver import solve
from model.travel import grid
from model.units import Length
from model.verdicts import State
from viz.cautions import CAUTIONS
from viz.report import as_json, short_pose_text, table, verdict_line
from viz.words import finding_text, left_text, limit_text, margin_text, quantity_text


def judged(data: dict[str, Any]) -> Review:
    mechanism = built(data)
    return review(solve(mechanism, grid(mechanism, 5, 3)))


def printed(found: Review, *, width: int = 200, **options: Any) -> str:
    page = io.StringIO()
    Console(file=page, width=width, highlight=False).print(table(found, Length.MM, **options))
    return page.getvalue()


@pytest.fixture(scope="module")
def tarn() -> Review:
    return judged(scene_data("tarn_rear"))


@pytest.fixture(scope="module")
def front() -> Review:
    return judged(scene_data("wren_front"))


BESIDE = [
    "usable_travel",
    "held_twice",
    "better_clocks",
    "ball_joints",
    "bonded_bushes",
    "ride_height_shifts",
    "out_of_line",
    "shafts",
    "bars",
]
KEYS = [
    "format",
    "scene",
    "title",
    "verdict",
    "poses",
    "locked_poses",
    "poses_beyond_hard_stops",
    "gaps_measured",
    "travel",
    "findings",
    *BESIDE,
    "cautions",
]
AMOUNTS = ("used", "limit", "margin", "ride", "lowest", "highest")
ANGLES = {f"{amount}_deg" for amount in AMOUNTS}
LENGTHS = {f"{amount}_mm" for amount in AMOUNTS}
ALWAYS = {
    "state", "what", "where", "part", "limit_is_least", "limit_is_typical", "limit_source", "pose", "at_mm",
    "missed_by_both_together",
}  # fmt: skip


def test_json_keys(front):
    verdict = front.verdict
    document = as_json("scenes/wren_front.toml", front)
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
    verdict = tarn.verdict
    text = json.dumps(as_json("s", tarn), allow_nan=False)
    worst = json.loads(text)["findings"][0]
    assert worst["state"] == "over"
    # Rounded to a thousandth.
    assert worst["used_deg"] == pytest.approx(math.degrees(verdict.findings[0].used), abs=5e-4)
    assert worst["margin_deg"] == pytest.approx(worst["limit_deg"] - worst["used_deg"], abs=2e-3)
    assert "-0.0," not in text


def test_json_is_in_mm_whatever_the_scene_is_in(front):
    strokes = {entry["where"]: entry for entry in as_json("s", front)["findings"] if entry["what"] == "stroke in"}
    # D: the stroke that a coilover has is its extended less its compressed length, 433 − 288 in the scene.
    assert strokes["left coilover"]["limit_mm"] == 145.0


def test_the_table_is_worst_first_with_a_word_for_every_state(tarn):
    lines = [line.rstrip() for line in printed(tarn).splitlines()]
    words = [line.split()[0] for line in lines[3 : lines.index("", 3)]]
    assert words == sorted(words, key=["locked", "over", "close", "clear", "no"].index)
    assert words[0] == "over"
    assert lines[0].startswith("Tarn trail pickup, rear: OVER a limit (2 over, ")


@pytest.mark.parametrize("caution", CAUTIONS)
def test_the_cautions_are_always_there(caution, tarn, front):
    for found in (tarn, front):
        assert caution in printed(found)
        assert caution in as_json("s", found)["cautions"]


def test_a_typical_limit_is_starred_and_explained(front, tarn):
    typical = printed(front)
    assert "3.0°*" in typical  # P: docs/sources.md, polyurethane bush, cocking 2 to 3°
    assert "* typical, not the part maker's" in typical
    given = [line for line in printed(tarn).splitlines() if " link, at " in line and line.startswith("clear")]
    assert given
    assert not any("*" in line for line in given)  # Tarn gives the limits of its links itself


def test_a_locked_travel_says_how_far_it_goes():
    # D: an arm of 100 mm lets its wheel rise by less than 100 mm; of -150, -75, 0, 75 and 150 it reaches three.
    found = judged(trailing_arm(radius=100.0, travel=150.0))
    text = printed(found)
    assert found.verdict.state is State.LOCKED
    assert "trailing arm: LOCKS inside the travel (1 locked" in text
    assert "; 2 of them lock." in text
    assert (
        "locked: used is the travel asked for, of wheels or steering, limit the last that the linkage reaches." in text
    )


def test_one_wheel_is_not_each_wheel_by_itself():
    found = judged(trailing_arm())
    assert "100 mm bump, 100 mm droop." in printed(found)


def test_markup_and_tags_in_names_are_printed_as_they_are():
    data = json.loads(json.dumps(trailing_arm()).replace("trailing arm", "[red]arm[/red] <script>:smile:"))
    found = judged(data)
    assert found.mechanism.title == "[red]arm[/red] <script>:smile:"
    text = printed(found)
    assert "[red]arm[/red] <script>:smile:: " in text
    assert "[red]arm[/red] <script>:smile:, left pivot" in text


def test_every_row_is_one_line_where_there_is_room(front):
    found = front.verdict.findings
    rows = printed(front).splitlines()[3:]
    rows = rows[: rows.index("")]
    # D: the car is symmetric: what left and right have in common is said once.
    assert len(rows) == len(
        {(finding.what, finding.where.removeprefix("right ").removeprefix("left ")) for finding in found}
    )
    assert sum("left and right" in row for row in rows) > 10


def test_left_and_right_that_differ_stay_apart(tarn):
    left, right = (finding for finding in tarn.verdict.findings if finding.state is State.OVER)
    verdict = replace(tarn.verdict, findings=(replace(right, used=right.used + 0.01), left))
    rows = printed(replace(tarn, verdict=verdict)).splitlines()[3:5]
    assert [" right coilover, at axle" in row for row in rows] == [True, False]
    # The same numbers in poses that are no mirror images of each other are not one line either.
    moved = replace(right, drives=left.drives)
    rows = printed(replace(tarn, verdict=replace(tarn.verdict, findings=(left, moved)))).splitlines()[3:5]
    assert [" right coilover, at axle" in row for row in rows] == [False, True]


def test_a_narrow_terminal_gets_poses_in_few_letters(front):
    text = printed(front, width=80, narrow=True)
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


def test_amounts_in_both_units():
    assert quantity_text(Quantity.LENGTH, 25.4, Length.MM) == "25 mm"
    assert quantity_text(Quantity.LENGTH, 25.4, Length.INCH) == "1.00 in"  # S: international yard agreement of 1959
    assert quantity_text(Quantity.LENGTH, None, Length.MM) == "–"
    assert quantity_text(Quantity.ANGLE, math.radians(15), Length.INCH) == "15.0°"
    assert quantity_text(Quantity.ACCELERATION, 400.4, Length.MM) == "400 rad/s²"


def test_a_worst_case_that_both_wheels_together_would_miss_is_marked(tarn):
    # D: the Tarn's coilover eyes run out of angle crossed up only; with both wheels together their bolts stay level.
    worst = tarn.verdict.findings[0]
    assert worst.missed
    assert worst.drives[0] * worst.drives[1] < 0
    text = printed(tarn)
    assert text.splitlines()[3].rstrip().endswith(" †")
    assert "† cycling both wheels together, straight ahead, would not have shown this." in text
    assert as_json("s", tarn)["findings"][0]["missed_by_both_together"] is True


def test_a_floor_is_said_to_be_one(tarn):
    floor = replace(tarn.verdict.findings[0], quantity=Quantity.LENGTH, used=12.0, limit=16.0, at_least=True)
    assert limit_text(floor, Length.MM) == "at least 16 mm"
    assert finding_text(floor, Length.MM) == "tilt 12 mm, at least 16 mm"
    assert left_text(floor, Length.MM) == ", 4.0 mm over"
    assert margin_text(floor, Length.MM) == "−4.0 mm"


def test_nothing_that_could_be_judged_is_not_called_clear(front):
    verdict = front.verdict
    unjudged = tuple(replace(finding, state=State.UNJUDGED, limit=None) for finding in verdict.findings)
    nothing = replace(verdict, findings=unjudged, state=State.CLEAR)
    assert verdict_line(nothing) == "nothing here has a limit to be judged by"
    assert verdict_line(replace(verdict, findings=())) == "nothing here has a limit to be judged by"


def test_a_bar_that_no_spin_serves_is_said_to_bind():
    # D: heads a quarter turn apart cannot both be square to bolts that lie alike; 60 mm of roll leave them no spin.
    data = scene_data("wren_rear")
    data["link"]["upper link"]["clock"] = 90.0
    found = judged(data)
    bound = next(finding for finding in found.verdict.findings if finding.what == "room to spin")
    assert bound.state is State.OVER
    assert finding_text(bound, Length.MM).startswith("binds: room to spin −")
    assert "binds: room to spin" in printed(found)
