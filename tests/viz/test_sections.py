"""What stands beside the findings, in words and as JSON: the same numbers as the model's records (D)."""

import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest
from reviews import reviewed
from zoo import scene_data, trailing_arm

from model.holding import Freedom
from model.review import Review
from model.units import MM_PER_INCH, N_PER_LBF, Length
from model.windup import RideShift
from viz.report import as_json
from viz.sections import sections
from viz.tables import Section, TextTable, angle_text, both_sides, height_text, moment_text
from viz.words import both_names, both_of


@pytest.fixture(scope="module")
def parcel() -> Review:
    return reviewed(scene_data("parcel_rear"))


@pytest.fixture(scope="module")
def roadster() -> Review:
    return reviewed(scene_data("wren_front"))


def section(found: Review, title: str, units: Length = Length.MM) -> Section:
    return next(section for section in sections(found, units) if section.title.startswith(title))


def row(table: TextTable, name: str) -> tuple[str, ...]:
    return next(row for row in table.rows if row[0] == name)


@pytest.mark.parametrize("units", Length)
@pytest.mark.parametrize("name", ["parcel_rear", "wren_front", "wren_rear", "tarn_rear", "parcel_front"])
def test_every_row_has_a_cell_for_every_head(name, units):
    for part in sections(reviewed(scene_data(name)), units):
        assert part.tables
        for table in part.tables:
            assert table.rows
            assert all(len(row) == len(table.heads) for row in table.rows)
            assert all(text.strip() for row in table.rows for text in row)
            assert not any("nan" in text or "None" in text or "-0.0" in text for row in table.rows for text in row)


def test_a_trailing_arm_tightened_hanging_is_wound_at_ride_height():
    # D: an arm of 400 mm that hangs 100 mm low stands at asin(100 / 400) = 14.5°; its bush is wound by that at ride
    # height where it was tightened hanging, and by twice as much at 100 mm of bump: 29.0°, past a typical 25°.
    found = reviewed(trailing_arm())
    table = section(found, "Bonded bushes").tables[0]
    hanging = [row for row in table.rows if row[1] == "hanging at full droop"]
    assert hanging
    for cells in hanging:
        assert [cell.lstrip("+-") for cell in cells[2:5]] == ["0.0°", "14.5°", "29.0°"]
        assert cells[5] == "116 %, over (typical)"
    entry = as_json("s", found)["bonded_bushes"][0]["tightened"][1]
    assert entry["at"] == "droop"
    assert abs(entry["ride_deg"]) == pytest.approx(math.degrees(math.asin(0.25)), abs=1e-3)


def test_the_moment_that_rubber_holds_is_its_rate_times_its_angle():
    # D: 2 N·m for each degree, wound by asin(100 / 400) = 14.478°.
    data = trailing_arm()
    data["joint"] = {"bush": {"kind": "rubber bush", "rates": {"turn": 2.0}}}
    for pivot in data["arm"]["trailing arm"]["pivots"]:
        pivot["joint"] = "bush"
    hanging = section(reviewed(data), "Bonded bushes").tables[0].rows[1]
    assert hanging[3].lstrip("+-") == "14.5°, 29.0 N·m"
    inch = section(reviewed(data), "Bonded bushes", Length.INCH).tables[0].rows[1]
    assert inch[3].lstrip("+-") == f"14.5°, {2000.0 * 14.4775 / Length.INCH.moment:.1f} lbf·ft"


def test_a_pair_that_says_the_same_is_one_row(roadster):
    table = section(roadster, "Ball joints").tables[0]
    names = [cells[0] for cells in table.rows]
    assert "left and right lower arm, at upright" in names
    assert not any(name.startswith(("left lower", "right lower")) for name in names)


def test_a_linkage_held_twice_over_says_so_and_what_it_takes(parcel):
    (fight,) = parcel.fights
    part = section(parcel, "Held twice over")
    assert part.title == "Held twice over: moves against its bushes"
    facts = part.tables[0]
    # D: both pairs of its links tip the axle alike with both wheels together, and differ from side to side crossed up.
    assert row(facts, "both wheels together")[1] == Freedom.FREE
    assert row(facts, "crossed up")[1] == Freedom.AGAINST
    entry = as_json("s", parcel)["held_twice"][0]
    assert entry["wheel_force"]["force_n"] == pytest.approx(fight.wheel_force.value, abs=1e-3)
    assert len(entry["joints"]) == len(fight.joints) == 10


def test_units_of_forces_and_moments():
    # S: international yard and pound agreement of 1959: 1 lbf·ft = 1355.8179 N·mm
    assert moment_text(12.0 * N_PER_LBF * MM_PER_INCH, Length.INCH) == "1.0 lbf·ft"
    assert moment_text(12_340.0, Length.MM) == "12.3 N·m"
    assert moment_text(-0.01, Length.MM) == "0.0 N·m"
    assert moment_text(None, Length.MM) == "–"
    assert Length.INCH.force_text(1000.0 * N_PER_LBF) == "1,000 lbf"
    assert Length.MM.force_text(2548.4) == "2548 N"
    assert Length.MM.force_text(57_400.0) == "57.4 kN"


def test_places_of_tightening_in_words():
    assert height_text("droop", Length.MM) == "hanging at full droop"
    assert height_text(-25.4, Length.INCH) == "1.00 in below ride height"
    assert height_text(40.0, Length.MM) == "40 mm above ride height"


def test_the_json_beside_the_findings_is_strict(parcel, roadster):
    for found in (parcel, roadster):
        json.dumps(as_json("s", found), allow_nan=False)


def test_a_table_says_where_its_linkage_locks_before_the_end_of_travel():
    data = trailing_arm(travel=450.0)  # D: an arm of 400 mm goes no further down than 400 mm
    table = section(reviewed(data), "Bonded bushes").tables[0]
    assert re.match(
        r"The linkage locks (399|400) mm below ride height, before full droop: what stands for droop is taken there\. "
        r"The linkage locks (399|400) mm above ride height, before full bump: what stands for bump is taken there\. ",
        table.note,
    )
    hanging = [cells[1] for cells in table.rows if cells[1].startswith("hanging")]
    assert hanging
    for words in hanging:
        assert re.fullmatch(
            r"hanging at full droop \(locks on the way, (399|400) mm below ride height; taken there\)", words
        )
    entry = as_json("s", reviewed(data))["bonded_bushes"][0]
    assert entry["droop_locks_at_mm"] == entry["tightened"][1]["locks_at_mm"] == pytest.approx(-400.0, abs=1.0)
    assert entry["bump_locks_at_mm"] == pytest.approx(400.0, abs=1.0)
    assert entry["tightened"][0]["locks_at_mm"] is None


def test_a_vehicle_sits_higher_or_lower_by_the_sign_of_its_shift(parcel):
    shifts = (RideShift("droop", "wheel", 3.7), RideShift("scene", "wheel", -2.04), RideShift("scene", "other", 0.04))
    table = section(replace(parcel, ride_shifts=shifts), "Bonded bushes").tables[1]
    assert table.rows == (
        ("wheel", "hanging at full droop", "3.7 mm higher"),
        ("wheel", "as the scene says", "2.0 mm lower"),
        ("other", "as the scene says", "as before"),
    )


@pytest.mark.parametrize(("flips", "words"), [(True, "go over centre"), (False, "never go over centre")])
def test_end_links_go_over_centre_where_an_arm_comes_in_line(flips, words, roadster):
    (bar,) = roadster.bar_twists
    twisted = replace(bar, flips=flips, left=(-0.2, 0.1), right=(-0.3, 0.4))
    found = replace(roadster, bar_twists=(twisted,))
    (cells,) = section(found, "Anti-roll bar").tables[0].rows
    # D: 0.1 rad is 5.73 degrees.
    assert cells[1:3] == ("-11.5° to +5.7°", "-17.2° to +22.9°")
    assert cells[-1] == words
    (entry,) = as_json("s", found)["bars"]
    keys = ("left_low_deg", "left_high_deg", "right_low_deg", "right_high_deg")
    assert [entry[key] for key in keys] == pytest.approx(np.degrees([-0.2, 0.1, -0.3, 0.4]), abs=1e-3)
    assert entry["goes_over_centre"] is flips


def test_a_shaft_gets_shorter_and_longer_by_what_its_range_says():
    found = reviewed(scene_data("tarn_rear"))
    (shaft,) = found.shafts
    table = section(replace(found, shafts=(replace(shaft, shortest=-7.31, longest=0.62),)), "Driveshaft").tables[1]
    assert row(table, "gets shorter by") == ("gets shorter by", "–", "7.3 mm")
    assert row(table, "gets longer by") == ("gets longer by", "–", "0.6 mm")
    still = section(replace(found, shafts=(replace(shaft, shortest=0.0, longest=0.0),)), "Driveshaft").tables[1]
    assert (row(still, "gets shorter by")[2], row(still, "gets longer by")[2]) == ("0.0 mm", "0.0 mm")


def test_only_sides_that_say_the_same_but_for_signs_are_one_row():
    same = (("left arm", "+1.0°", "a"), ("right arm", "-1.0°", "a"))
    assert both_sides(same) == (("left and right arm", "+1.0°", "a"),)
    assert both_sides(same[::-1]) == (("left and right arm", "+1.0°", "a"),)
    # The first cell after the name counts as much as any other.
    for apart in (("right arm", "-2.0°", "a"), ("right arm", "-1.0°", "b"), ("right rod", "-1.0°", "a")):
        assert both_sides((same[0], apart)) == (same[0], apart)


def test_two_names_are_those_of_either_side_or_none():
    assert both_names("right lower arm, at frame") == ("left lower arm, at frame", "right lower arm, at frame")
    assert both_names("left rail – left coilover spring") == (
        "left rail – left coilover spring",
        "right rail – right coilover spring",
    )
    assert both_of("left rail – left coilover spring") == "left and right rail – coilover spring"
    assert both_of("left upright – left brake hose: gap") == "left and right upright – brake hose: gap"
    # On neither side, on both, and a word that only begins so.
    for name in ("rack", "left wheel – right tie rod", "propshaft – left rail", "leftover arm"):
        assert both_names(name) is None


def test_a_signed_angle_has_its_sign_unless_it_prints_as_nothing():
    degrees = {1.25: "+1.2°", -1.26: "-1.3°", 0.04: "0.0°", -0.04: "0.0°", 0.06: "+0.1°"}
    assert {angle: angle_text(math.radians(angle), signed=True) for angle in degrees} == degrees
    assert angle_text(math.radians(1.26)) == "1.3°"
    assert angle_text(None, signed=True) == "–"


def test_moments_in_the_json_are_in_newton_metres(parcel):
    (fight,) = parcel.fights
    (entry,) = as_json("s", parcel)["held_twice"]
    assert entry["roll_moment"]["moment_nm"] == pytest.approx(fight.roll_moment.value / 1000.0, abs=1e-3)
    assert fight.roll_moment.value > 1000.0
    for found, joint in zip(entry["joints"], fight.joints, strict=True):
        assert found["moment"]["moment_nm"] == pytest.approx(joint.moment.value / 1000.0, abs=1e-3)
        assert joint.moment.value > 1000.0
        assert found["force"]["force_n"] == pytest.approx(joint.force.value, abs=1e-3)
