"""Picking springs: textbook examples, and against the mechanism itself."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from zoo import NAMES, built
from zoo import whole_scene_data as scene_data

from model.adjust import bench_of, setting_for
from model.adjustable import Perch
from model.adjustwants import parsed
from model.curves import curve
from model.errors import CallError
from model.solver import solve
from model.springcorners import Corner, corner_named, corners
from model.springlist import read_springs
from model.springpick import (
    Offer,
    Trouble,
    fit,
    free_lengths,
    nearest,
    offer_of,
    rate_for,
)
from model.travel import single
from model.units import KG_FORCE, N_PER_LBF, Length


def plain_corner(ratio: float, sprung: float) -> Corner:
    """A corner of a scene with a motion ratio that does not change, and a weight on it."""
    corner = corners(built(scene_data("wren_front")))[0]
    count = len(corner.heights)
    return replace(corner, ratio=np.full(count, ratio), change=np.zeros(count), sprung=sprung)


def test_wheel_rate_and_frequency_of_the_handbook():
    # facts.md, S Barton & Fieldhouse, Automotive Chassis Engineering, eq. 3.33; numbers D:
    # 60 N/mm at a motion ratio of 0.7 → 29.4 N/mm; with 350 kg → 1.459 Hz.
    found = fit(plain_corner(0.7, 350.0 * KG_FORCE), "it", 60.0)
    assert found.wheel_rate == pytest.approx(29.4, rel=1e-12)
    assert found.frequency == pytest.approx(1.459, abs=5e-4)
    assert rate_for(plain_corner(0.7, 350.0 * KG_FORCE), found.frequency) == pytest.approx(60.0, rel=1e-9)


def test_ride_frequency_of_the_textbook():
    # facts.md, S McLean, Engineering Mechanics (Schaum), 19-2; D: 18 lb/in, 35 lb → 134.5 cycles a minute.
    found = fit(plain_corner(1.0, 35.0 * N_PER_LBF), "it", 18.0 * Length.INCH.rate)
    assert 60.0 * found.frequency == pytest.approx(134.5, abs=0.1)


def test_a_tyre_in_series_lowers_the_frequency_and_is_asked_for_more():
    corner = plain_corner(0.7, 350.0 * KG_FORCE)
    on_tyre = replace(corner, wheel=replace(corner.wheel, tyre_rate=200.0))
    # D: springs in series, 29.4 and 200 N/mm.
    series = 29.4 * 200.0 / 229.4
    assert fit(on_tyre, "it", 60.0).frequency == pytest.approx(
        math.sqrt(series * 1000.0 / 350.0) / (2.0 * math.pi), rel=1e-9
    )
    assert rate_for(on_tyre, fit(on_tyre, "it", 60.0).frequency) == pytest.approx(60.0, rel=1e-9)
    with pytest.raises(CallError, match="more than the tyre alone"):
        rate_for(on_tyre, 5.0)


def test_less_than_the_linkage_gives_by_itself_is_refused():
    corner = plain_corner(0.7, 3000.0)
    rising = replace(corner, change=np.full(len(corner.heights), 0.002))  # 3000/0.7 · 0.002 = 8.6 N/mm of its own
    with pytest.raises(CallError, match=r"less than the linkage gives by itself; want more than 0\.84 Hz"):
        rate_for(rising, 0.5)


@pytest.mark.parametrize("name", NAMES)
def test_what_the_scene_has_agrees_with_its_curves(name):
    mechanism = built(scene_data(name))
    poses = solve(mechanism, single(mechanism))
    for corner in corners(mechanism):
        found = fit(corner, "own", corner.coilover.spring.rate)
        ratio = float(curve(poses, "motion ratio", corner.coilover.name).values[0])
        assert found.force == pytest.approx(corner.sprung / ratio, rel=1e-9)
        # Curves take the force of the spring as it stands; these scenes stand in balance to half a percent.
        frequency = float(curve(poses, "ride frequency", f"{corner.wheel.side} wheel").values[0])
        assert found.frequency == pytest.approx(frequency, rel=5e-3)
        assert found.bump_left + found.droop_left == pytest.approx(1.0)
        own = fit(corner, "own", corner.coilover.spring.rate, 0.0, offer_of(corner.coilover.spring))
        assert own.fits
        # In balance, the seat stays: to within what half a percent of force squeezes the spring by.
        assert abs(own.perch) < 0.005 * own.squeezed


@pytest.mark.parametrize("name", NAMES)
def test_the_rate_for_a_frequency_gives_it(name):
    for corner in corners(built(scene_data(name))):
        for frequency, height in ((1.3, 0.0), (1.7, -10.0)):
            assert fit(corner, "it", rate_for(corner, frequency, height), height).frequency == pytest.approx(frequency)


def test_the_seat_for_a_ride_height_agrees_with_set():
    # Two roads: `set` walks the linkage to the balance, `spring` reads it off the travel; between poses 7 mm apart it
    # is read off straight lines, which errs by less than 0.05 mm of a coilover.
    mechanism = built(scene_data("wren_front"))
    bench, start = bench_of(mechanism)
    walked = setting_for(bench, start, parsed(("ride height = 7",), start.measured, 1.0), ("spring perch",))
    corner = corners(mechanism)[0]
    load = corner.coilover.spring.rate * (corner.coilover.spring.preload + corner.coilover.extended - corner.at(0.0)[0])
    as_it_stands = replace(corner, sprung=load * corner.at(0.0)[1])
    found = fit(as_it_stands, "own", corner.coilover.spring.rate, -7.0, offer_of(corner.coilover.spring))
    exact = next(each.exact for each in walked.turned if isinstance(each.adjuster, Perch))
    assert found.perch == pytest.approx(exact, abs=0.05)


def test_lengths_over_the_travel():
    corner = corners(built(scene_data("wren_front")))[0]
    offer = Offer("it", 38.0, 230.0, 80.0)
    found = fit(corner, "it", 38.0, 0.0, offer)
    unit = corner.coilover
    # D: all that the spring is squeezed by comes off its free length.
    assert found.installed == pytest.approx(230.0 - found.force / 38.0)
    assert found.spare_in == pytest.approx(found.installed - (found.length - unit.compressed) - 80.0)
    assert found.spare == pytest.approx(found.installed - (found.length - corner.length[-1]) - 80.0)
    assert [moment.place for moment in found.moments] == ["full droop", "ride height", "full bump", "damper fully in"]
    # D: energy of a spring is half its force times its squeeze.
    ride = found.moments[1]
    assert ride.energy == pytest.approx(0.5 * ride.force * found.squeezed / 1000.0)
    now, low, high = free_lengths(found)
    for length, setting in ((now, 0.0), (low, corner.perch.high), (high, corner.perch.low)):
        assert fit(corner, "it", 38.0, 0.0, Offer("it", 38.0, length)).perch == pytest.approx(setting, abs=1e-9)


@pytest.mark.parametrize(
    ("offer", "trouble"),
    [
        (Offer("solid", 38.0, 230.0, 130.0), Trouble.SOLID),
        (Offer("nearly", 38.0, 230.0, 108.0), Trouble.NEARLY_SOLID),
        (Offer("stop", 38.0, 230.0, 90.0), Trouble.SOLID_FULLY_IN),
        (Offer("long", 38.0, 300.0), Trouble.SEAT),
        (Offer("narrow", 38.0, 230.0, None, 44.0), Trouble.NARROW),
        (Offer("stiff", 60.0, 205.0), Trouble.LOOSE),
    ],
)
def test_what_is_wrong_with_a_spring(offer, trouble):
    corner = corners(built(scene_data("wren_front")))[0]
    found = fit(corner, offer.name, offer.rate, 0.0, offer)
    assert [each for each, _ in found.troubles] == [trouble]
    assert found.fits == (trouble in (Trouble.LOOSE, Trouble.NEARLY_SOLID, Trouble.SOLID_FULLY_IN))


def test_the_nearest_that_fits_comes_first():
    corner = corners(built(scene_data("wren_front")))[0]
    offers = [Offer("off", 30.0, 230.0), Offer("near", 37.0, 230.0), Offer("right, and too long", 38.0, 320.0)]
    fits = nearest([fit(corner, each.name, each.rate, 0.0, each) for each in offers], 38.0)
    assert [each.name for each in fits] == ["near", "off", "right, and too long"]


def test_without_weights_the_spring_itself_says_what_it_carries():
    data = scene_data("wren_front")
    del data["weights"]
    corner = corners(built(data))[0]
    assert not corner.given
    own = fit(corner, "own", corner.coilover.spring.rate, 0.0, offer_of(corner.coilover.spring))
    assert own.perch == pytest.approx(0.0, abs=1e-9)
    del data["coilover"]["coilover"]["spring"]
    data["adjust"] = {}
    with pytest.raises(CallError, match=r"add a \[weights\] table"):
        corners(built(data))


def test_a_coilover_is_chosen_by_its_name_or_by_both_sides():
    found = corners(built(scene_data("wren_front")))
    assert len(corner_named(found, "coilover")) == 2
    assert [each.coilover.name for each in corner_named(found, "right coilover")] == ["right coilover"]
    with pytest.raises(CallError, match="did you mean"):
        corner_named(found, "rigth coilover")


# --- lists ------------------------------------------------------------------------------------------------------------


def test_lists_say_the_same_as_text_and_as_tables(tmp_path):
    text, tables = tmp_path / "springs.csv", tmp_path / "springs.toml"
    text.write_text("name,rate,free_length,solid_length,inside_diameter\nsoft,200,10,4,\nfirm,250,9,,2.5\n")
    tables.write_text(
        'units = "in"\n[spring.soft]\nrate = 200\nfree_length = 10\nsolid_length = 4\n'
        "[spring.firm]\nrate = 250\nfree_length = 9\ninside_diameter = 2.5\n"
    )
    springs = read_springs(text, Length.INCH)
    assert springs == read_springs(tables, Length.MM)
    assert springs[0].rate == pytest.approx(35.025, abs=1e-3)
    assert (springs[0].free_length, springs[0].inside_diameter) == (254.0, None)


@pytest.mark.parametrize(
    ("suffix", "text", "said"),
    [
        (".csv", "name,rate\nsoft,30\n", "has no free_length"),
        (".csv", "name,rate,free_length\nsoft,-3,200\n", "expected a number above zero"),
        (".csv", "name,rate,free_length,solid_lenght\nsoft,3,200,100\n", 'did you mean "solid_length"?'),
        (".csv", "name,rate,free_length,solid_length\nsoft,3,200,300\n", "as long solid"),
        (".csv", "name,rate,free_length\nsoft,3,200\nsoft,4,200\n", "two springs called"),
        (".csv", "", "holds no springs"),
        (".toml", 'units = "cm"\n', 'neither "mm" nor "in"'),
        (".toml", "[spring\n", "cannot be read"),
        (".txt", "", "expected .csv or .toml"),
    ],
)
def test_what_is_wrong_with_a_list_is_told_in_one_sentence(tmp_path, suffix, text, said):
    file = tmp_path / f"springs{suffix}"
    file.write_text(text)
    with pytest.raises(CallError) as told:
        read_springs(file, Length.MM)
    assert said in str(told.value)
    assert len(told.value.complaints) == 1


def test_a_list_that_is_not_there(tmp_path):
    with pytest.raises(CallError, match="cannot be read"):
        read_springs(tmp_path / "none.csv", Length.MM)
