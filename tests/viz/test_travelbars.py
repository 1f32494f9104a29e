"""Bars of usable travel: well-formed and self-contained, no label on another, and all told in words and shapes."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Sequence
from itertools import combinations, pairwise

import pytest
import zoo
from hypothesis import given
from hypothesis import strategies as st

from model.reaches import Reach, Stop
from model.stops import Cause
from model.units import Length
from model.usable import usable_travel
from model.ways import Way
from viz.style import font
from viz.travelbars import APART, SIZE, WIDTH, travel_bars
from viz.traveltext import text_bars
from viz.travelwords import bars_of, spread, telling

SVG = "{http://www.w3.org/2000/svg}"
# A mark's strokes are 2 wide, and a number of the SVG has one decimal.
FINE = 0.1

Box = tuple[float, float, float, float]


def stop(cause: Cause, where: str, amount: float, typical: bool = False) -> Stop:
    return Stop(cause, where, where, amount, (amount, 0.0), (0.0, 0.0, 0.0), typical, "a test")


def reach(
    way: Way, *stops: Stop, wheels: tuple[str, ...] = ("left",), asked: float = 80.0, steer: float = 0.0
) -> Reach:
    hard = [each.amount for each in stops if each.cause.hard]
    ordered = tuple(sorted(stops, key=lambda each: each.amount))
    return Reach(way, wheels, steer, asked, min([asked, *hard]), 1.5 * asked, (asked, 0.0), ordered)


BUMP = reach(
    Way.BUMP,
    stop(Cause.BUMP_STOP, "left coilover", 41.0),
    stop(Cause.JOINT_ANGLE, "left lower link, at frame", 52.0, typical=True),
    stop(Cause.DAMPER_BOTTOM, "left coilover", 60.0),
)
DROOP = reach(Way.DROOP, stop(Cause.STRAP, "left strap", 70.0))


def boxes_of(svg: str) -> list[Box]:
    """Where every text may stand, taken with a wide font: left, right, top, bottom."""
    found = []
    for text in ET.fromstring(svg).iter(f"{SVG}text"):
        size = int(text.get("font-size", SIZE))
        width = font(size, text.get("font-weight") == "700").getlength(text.text or "")
        left = float(text.get("x", 0)) - (0.5 * width if text.get("text-anchor") == "middle" else 0.0)
        y = float(text.get("y", 0))
        found.append((left, left + width, y - 0.8 * size, y + 0.2 * size))
    return found


def overlap(one: Box, other: Box) -> bool:
    return one[0] < other[1] and other[0] < one[1] and one[2] < other[3] and other[2] < one[3]


class TestSvg:
    def test_is_one_element_that_needs_nothing_else(self) -> None:
        svg = travel_bars([BUMP, DROOP], Length.MM)
        root = ET.fromstring(svg)
        assert root.tag == f"{SVG}svg"
        assert "href" not in svg
        assert "@import" not in svg
        assert svg.count("http") == 1  # the namespace

    def test_names_are_escaped(self) -> None:
        odd = stop(Cause.HOSE, 'hose <b>"1" & 2', 30.0)
        svg = travel_bars([reach(Way.BUMP, odd), DROOP], Length.MM)
        texts = [text.text for text in ET.fromstring(svg).iter(f"{SVG}text")]
        assert '30 mm, hose goes taut: hose <b>"1" & 2' in texts

    def test_nothing_to_draw(self) -> None:
        assert travel_bars([], Length.MM) == ""
        assert text_bars([], Length.MM) == ""

    def test_lengths_are_to_scale(self) -> None:
        root = ET.fromstring(travel_bars([BUMP, DROOP], Length.MM))
        group = next(root.iter(f"{SVG}g"))
        down_asked, down_usable, up_asked, up_usable = (
            float(rect.get("width", 0)) for rect in group.findall(f"{SVG}rect") if rect.get("height") == "20.0"
        )
        assert down_usable / down_asked == pytest.approx(70.0 / 80.0, abs=1e-3)
        assert up_usable / up_asked == pytest.approx(60.0 / 80.0, abs=1e-3)
        assert down_asked == pytest.approx(up_asked, abs=FINE)

    def test_every_stop_is_told_in_words_and_by_a_shape(self) -> None:
        root = ET.fromstring(travel_bars([BUMP, DROOP], Length.MM))
        texts = " ".join(text.text or "" for text in root.iter(f"{SVG}text"))
        for words in (
            "41 mm, bump stop touches: left coilover",
            "52 mm, joint runs out of angle*: left lower link, at frame",
            "60 mm, damper bottoms: left coilover",
            "70 mm, strap goes taut: left strap",
            "up: usable 60 mm of 80 mm asked for, unharmed to 52 mm",
        ):
            assert words in texts
        group = next(root.iter(f"{SVG}g"))
        # Each stop has its tag beside its tick and again in the key; one of the four harms, and is a disc.
        assert len(group.findall(f"{SVG}circle")) == 2

    @pytest.mark.parametrize("name", zoo.NAMES)
    @pytest.mark.parametrize("units", list(Length))
    def test_labels_of_scenes_keep_apart(self, name: str, units: Length) -> None:
        check_labels(travel_bars(reaches_of(name), units))

    @given(
        amounts=st.lists(st.floats(0.0, 120.0), max_size=14),
        others=st.lists(st.floats(0.0, 120.0), max_size=14),
        name=st.text(st.characters(min_codepoint=32, max_codepoint=382, exclude_categories=["Cc", "Cf"]), max_size=90),
    )
    def test_labels_keep_apart(self, amounts: list[float], others: list[float], name: str) -> None:
        causes = list(Cause)
        up, down = (
            reach(way, *(stop(causes[n % len(causes)], f"{n} {name}", a) for n, a in enumerate(some)))
            for way, some in ((Way.BUMP, amounts), (Way.DROOP, others))
        )
        check_labels(travel_bars([up, down], Length.INCH))


def check_labels(svg: str) -> None:
    boxes = boxes_of(svg)
    height = float(ET.fromstring(svg).get("viewBox", "").split()[3])
    assert not [pair for pair in combinations(boxes, 2) if overlap(*pair)]
    for left, right, top, bottom in boxes:
        assert left >= 0.0
        assert right <= WIDTH
        assert top >= 0.0
        assert bottom <= height


_KNOWN: dict[str, tuple[Reach, ...]] = {}


def reaches_of(name: str) -> tuple[Reach, ...]:
    if name not in _KNOWN:
        _KNOWN[name] = usable_travel(zoo.built(zoo.scene_data(name)))
    return _KNOWN[name]


@given(
    ticks=st.lists(st.floats(0.0, 400.0), max_size=30).map(sorted),
    outward=st.sampled_from([1.0, -1.0]),
)
def test_tags_keep_their_order_and_their_distance(ticks: Sequence[float], outward: float) -> None:
    room = (20.0, 380.0) if outward > 0.0 else (-380.0, -20.0)
    places = [outward * place for place in spread([outward * tick for tick in ticks], outward, room, APART)]
    apart = min(APART, 360.0 / max(len(ticks) - 1, 1))
    assert all(there - here >= apart - 1e-9 for here, there in pairwise(places))
    assert all(20.0 - 1e-9 <= place <= 380.0 + 1e-9 for place in places)


class TestWords:
    def test_left_and_right_that_do_the_same_are_one(self) -> None:
        both = ("left", "right")
        stops = [
            stop(Cause.DAMPER_BOTTOM, f"{side} coilover", 60.0 + shift)
            for side, shift in zip(both, (0.0, 0.01), strict=True)
        ]
        (bar,) = bars_of([reach(Way.BUMP, *stops, wheels=both), reach(Way.DROOP, wheels=both)], Length.MM)
        assert [mark.words for mark in bar.out.marks] == ["60 mm, damper bottoms: left and right coilover"]
        apart = [
            stop(Cause.DAMPER_BOTTOM, f"{side} coilover", 60.0 + shift)
            for side, shift in zip(both, (0.0, 1.0), strict=True)
        ]
        (bar,) = bars_of([reach(Way.BUMP, *apart, wheels=both), reach(Way.DROOP, wheels=both)], Length.MM)
        assert len(bar.out.marks) == 2

    def test_one_bar_for_every_motion(self) -> None:
        titles = [bar.title for bar in bars_of(reaches_of("wren_front"), Length.MM)]
        motions = ["left wheel alone", "right wheel alone", "both wheels", "crossed, by the wheel that goes up"]
        held = ["", ", full left lock", ", full right lock"]
        assert titles == [
            *(f"{motion}{lock}" for lock in held for motion in motions),
            "steering, wheels at ride height",
        ]

    def test_lock(self) -> None:
        bar = bars_of(reaches_of("wren_front"), Length.MM)[-1]
        assert bar.back.head == "to the left: as far as its lock"
        assert bar.out.marks[0].words == "100 % of lock, steering reaches its lock: rack"

    def test_nothing_stops_it(self) -> None:
        (bar,) = bars_of([reach(Way.BUMP), reach(Way.DROOP)], Length.INCH)
        assert bar.out.head == "up: nothing stops it inside the 3.15 in asked for"

    def test_at_ride_height(self) -> None:
        (bar,) = bars_of([reach(Way.BUMP, stop(Cause.BUMP_STOP, "coilover", 0.0)), DROOP], Length.MM)
        assert bar.out.marks[0].words == "at ride height, bump stop touches: coilover"

    def test_what_a_short_account_needs(self) -> None:
        short = telling(reaches_of("wren_front"))
        assert len(short) == 8 + 2
        early = reach(Way.BUMP, stop(Cause.HOSE, "hose", 50.0), steer=1.0)
        full = (early, reach(Way.DROOP, steer=1.0), reach(Way.BUMP, steer=-1.0), reach(Way.DROOP, steer=-1.0))
        assert telling(full) == full[:2]


def test_text() -> None:
    lines = text_bars([BUMP, DROOP], Length.MM).splitlines()
    assert lines[2] == "left wheel alone"
    tags, bar = lines[3], lines[4]
    # 31 columns for 80 mm on either side: 70 mm down are 27, 60 mm up 23; the rest is asked for and out of reach.
    assert bar.strip() == "-" * 4 + "=" * 27 + "|" + "=" * 23 + "-" * 8
    ride = bar.index("|")
    assert [tags.index(tag) - ride for tag in "23"] == [1 + 20, 1 + 23]
    assert lines[-1] == "    3  60 mm, damper bottoms: left coilover (stops it)"
    assert all(line == line.rstrip() for line in lines)
