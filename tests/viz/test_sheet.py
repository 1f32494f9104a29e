"""The sheet's texts and its HTML. Expectations are the sheet's own promises (D) unless a source stands beside them."""

import io
import math
import re
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from reviews import reviewed
from rich.console import Console
from zoo import FOUR_LINKS, NAMES, axle_scene, scene_data, trailing_arm

from model.errors import CallError
from model.measures import Quantity
from model.units import Length
from viz import sheet as made
from viz.cautions import CAUTIONS
from viz.report import table
from viz.sheet import sheet_html, sheet_of, write_sheet

VOID = {"meta", "input"}


@dataclass
class Page(HTMLParser):
    """A page's elements, and the text in each kind of element, script and style apart."""

    elements: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)
    open: list[str] = field(default_factory=list)
    texts: list[tuple[str, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()

    @classmethod
    def of(cls, html: str, *, cut: bool = False) -> "Page":
        page = cls()
        page.feed(html)
        page.close()
        assert cut or page.open == []
        return page

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] not in ("style", "script"):
            self.texts.append((self.open[-1], data))

    @property
    def text(self) -> str:
        return " ".join(" ".join(data for _, data in self.texts).split())


def html_of(data: dict[str, Any], units: Length = Length.MM) -> str:
    return sheet_html(reviewed(data), "scenes/x.toml", units)


def joint_count(data: dict[str, Any]) -> int:
    """How many joints a scene writes: every table with a `joint`, and its mirror image."""

    def within(value: Any) -> int:
        if isinstance(value, list):
            return sum(within(entry) for entry in value)
        if isinstance(value, dict):
            return ("joint" in value) + sum(within(entry) for entry in value.values())
        return 0

    kinds = ("link", "arm", "coilover", "strut", "bar", "shaft", "knuckle")
    entries = [entry for kind in kinds for entry in data.get(kind, {}).values()]
    return sum(within(entry) * (2 if entry.get("mirror") else 1) for entry in entries)


@pytest.mark.parametrize("name", NAMES)
def test_every_joint_of_every_scene_stands_on_it_once(name):
    data = scene_data(name)
    found = reviewed(data)
    names = [entry.where for entry in sheet_of(found, name, Length.MM).joints]
    assert len(set(names)) == len(names) == joint_count(data)
    heads = [text for tag, text in Page.of(sheet_html(found, name, Length.MM)).texts if tag == "th"]
    for number, where in enumerate(names, start=1):
        assert heads.count(f"{number}. {where}") == 1


@pytest.mark.parametrize("name", NAMES)
def test_every_finding_stands_on_it_with_its_numbers(name):
    found = reviewed(scene_data(name))
    page = sheet_of(found, name, Length.MM)
    readings = [reading for joint in page.joints for reading in joint.readings] + list(page.others)
    shown = {(reading.where, reading.what): reading for reading in readings}
    assert len(shown) == len(readings) == len(found.verdict.findings)
    for finding in found.verdict.findings:
        reading = shown[finding.where, finding.what]
        scale = math.degrees(1.0) if finding.quantity is Quantity.ANGLE else 1.0
        low, high = (reading.span.split(" to ") * 2)[:2]
        texts = (reading.ride, low, high, reading.limit, reading.margin)
        values = (finding.ride, finding.lowest, finding.highest, finding.limit, finding.margin)
        for text, value in zip(texts, values, strict=True):
            if value is None:
                assert text == "–"
                continue
            # Printed to a tenth of a degree, a tenth of a mm below 10 mm and to whole mm above.
            digits = 0.05 if finding.quantity is Quantity.ANGLE or abs(value) < 9.95 else 0.5
            assert float(re.search(r"-?[\d.]+", text.replace("−", "-"))[0]) == pytest.approx(
                value * scale, abs=1.001 * digits
            )
        assert reading.limit.endswith("*") is finding.typical
        assert reading.state.word == finding.state.value


def test_what_is_over_or_close_stands_first_with_its_worst_pose():
    found = reviewed(scene_data("tarn_rear"))
    first = sheet_of(found, "x", Length.MM).first
    worst = found.verdict.findings[0]
    assert first[0].where == worst.where
    assert first[0].words.startswith("tilt ")
    assert "worst with left wheel 200 mm" in first[0].words
    assert ("would have missed it" in first[0].words) is worst.missed is True
    assert {look.state.word for look in first} == {"over", "close"}


# --- Torques ---


def with_torques() -> dict[str, Any]:
    data = axle_scene(FOUR_LINKS)
    data["joint"] = {
        "head": {
            "kind": "rod end",
            "tilt": 14,
            "source": "sheet A",
            "fastener": "M12 bolt, grade 10.9",
            "torque": "as sheet A says: 1 turn past snug",
            "torque_source": "sheet A, page 2",
            "thread_diameter": 12,
            "jam_nut": "M12 left hand",
            "jam_nut_torque": "hand tight, then a flat",
        },
        "bush": {"kind": "rubber bush", "torqued_at": "droop"},
    }
    data["link"]["upper"]["from"] |= {"joint": "head", "engaged": 11}
    data["link"]["upper"]["to"] |= {"joint": "bush"}
    return data


def test_a_torque_stands_there_as_the_scene_gives_it_and_nowhere_else():
    found = reviewed(with_torques())
    page = sheet_of(found, "x", Length.MM)
    joints = {joint.where: joint for joint in page.joints}
    given = joints.pop("upper, at frame")
    assert (given.torque, given.torque_source) == ("as sheet A says: 1 turn past snug", "sheet A, page 2")
    assert (given.fastener, given.jam_nut) == ("M12 bolt, grade 10.9", "M12 left hand")
    assert given.jam_nut_torque == "hand tight, then a flat"
    assert all(joint.torque is joint.jam_nut_torque is joint.fastener is None for joint in joints.values())
    text = Page.of(sheet_html(found, "x", Length.MM)).text
    assert text.count("as sheet A says: 1 turn past snug") == text.count("sheet A, page 2") == 1
    # A line to write in for each of the seven others, and for the jam nut of those with a head.
    heads = sum(joint.threaded for joint in joints.values())
    assert text.count("from the part maker's sheet") - text.count("from the part maker's sheet;") == 7 + heads


@pytest.mark.parametrize("name", NAMES)
def test_no_number_of_ours_is_a_torque(name):
    data = scene_data(name)
    # Moments that a bush's rubber carries stand further down, in tables of their own.
    text = Page.of(html_of(data).split('<section aria-labelledby="more-1"')[0], cut=True).text
    given = [joint["torque"] for joint in data.get("joint", {}).values() if "torque" in joint]
    given += [joint["jam_nut_torque"] for joint in data.get("joint", {}).values() if "jam_nut_torque" in joint]
    for words in sorted(given, key=len, reverse=True):
        text = text.replace(words, "")
    assert re.search(r"\d\s*(N·?m|lbf|ft[- ]?lb|kgf)\b", text) is None


def test_what_is_bonded_is_tightened_at_ride_height_and_the_rest_at_any():
    joints = {joint.where: joint for joint in sheet_of(reviewed(with_torques()), "x", Length.MM).joints}
    bush = joints["upper, at axle"]
    assert bush.when == "yes, because bonded"
    assert ("last tightened", "hanging at full droop: slacken it, then tighten it at ride height") in bush.notes
    assert joints["panhard, at frame"].when == "any height"
    assert all(joint.why for joint in joints.values())


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("bump", "at full bump: slacken it"),
        (-20, "20 mm below ride height: slacken it"),
        (20, "20 mm above ride height: s"),
    ],
)
def test_where_a_bush_was_tightened_is_said(place, words):
    data = trailing_arm(joint="bush") | {"joint": {"bush": {"kind": "rubber bush", "torqued_at": place}}}
    assert words in Page.of(html_of(data)).text


def test_engaged_thread_is_told_in_diameters_too():
    joints = sheet_of(reviewed(with_torques()), "x", Length.MM).joints
    engaged = {joint.where: joint.engaged for joint in joints if joint.engaged is not None}
    assert engaged == {"upper, at frame": "11 mm, 0.9 diameters"}


def test_a_typical_limit_says_so_with_a_star_and_in_words():
    page = Page.of(html_of(scene_data("wren_rear"))).text
    assert "3.0°*" in page
    assert "limit of cocking typical, not the maker's: common practice, no source" in page
    assert "* typical, not the maker's: ask the part maker for the limit." in page


def test_what_does_not_change_with_the_pose_names_none():
    found = reviewed(with_torques())
    thread = next(finding for finding in found.verdict.findings if finding.what == "thread engaged")
    assert thread.lowest == thread.highest == 11
    look = next(look for look in sheet_of(found, "x", Length.MM).first if look.words.startswith("thread engaged"))
    assert "worst with" not in look.words


def test_units_are_the_ones_asked_for():
    text = Page.of(html_of(scene_data("wren_rear"), Length.INCH)).text
    # 320 to 525 mm, eye to eye.
    assert "12.60 in to 20.67 in" in text
    assert re.search(r"\d mm\b", text.replace("±2 to 3 mm", "")) is None


def test_what_a_person_must_know_is_on_it():
    text = Page.of(html_of(trailing_arm())).text
    for words in (*CAUTIONS, "±2 to 3 mm", "50 to 100 miles (80 to 160 km)", "date", "odometer", "tyre pressures"):
        assert words in text


# --- The page itself ---

NASTY = "<script>alert('1')</script> \"&' </style> {{ 7 * 7 }}"


def nasty_scene() -> dict[str, Any]:
    data = axle_scene({NASTY: FOUR_LINKS["upper"], **{k: v for k, v in FOUR_LINKS.items() if k != "upper"}})
    joint = dict.fromkeys(("source", "fastener", "torque", "torque_source", "jam_nut", "jam_nut_torque"), NASTY)
    data["joint"] = {NASTY: {"kind": "rod end", "tilt": 3} | joint}
    data["link"][NASTY]["from"]["joint"] = NASTY
    data["title"] = NASTY
    return data


def test_every_text_of_the_scene_is_escaped():
    html = sheet_html(reviewed(nasty_scene()), NASTY, Length.MM)
    page = Page.of(html)
    tags = {tag for tag, _ in page.elements}
    assert "script" not in tags
    assert {tag: html.count(f"<{tag}") for tag in ("style", "html", "main")} == {"style": 1, "html": 1, "main": 1}
    assert page.text.count(NASTY) >= 12
    assert not [key for _, attributes in page.elements for key in attributes if key.startswith("on")]
    # In the style sheet the title is letters and escapes alone.
    style = html[html.index("<style>") : html.index("</style>")]
    assert "<script" not in style
    assert "'1'" not in style


def test_nothing_comes_from_outside():
    html = html_of(nasty_scene())
    attributes = [(key, value) for _, attributes in Page.of(html).elements for key, value in attributes.items()]
    assert not [pair for pair in attributes if pair[0] in ("src", "href", "srcset", "action", "xlink:href")]
    style = html[html.index("<style>") : html.index("</style>")]
    assert not re.search(r"url\(|@import|https?:", style)
    assert "default-src 'none'" in html


@pytest.mark.parametrize("name", NAMES)
def test_it_can_be_read_aloud(name):
    page = Page.of(html_of(scene_data(name)))
    elements = page.elements
    assert ("html", {"lang": "en"}) in elements
    assert sum(tag == "h1" for tag, _ in elements) == 1
    # The page's own title, and that of the drawing of its travel.
    assert sum(tag == "title" for tag, _ in elements) == 2
    assert all(attributes.get("scope") for tag, attributes in elements if tag == "th")
    assert all(attributes.get("aria-label") for tag, attributes in elements if tag == "input")
    ids = [attributes["id"] for _, attributes in elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    named = {attributes["aria-labelledby"] for _, attributes in elements if "aria-labelledby" in attributes}
    assert named == set(ids) - {"usable-travel"}  # the pattern of the drawing of its travel


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, definition)."""
    digits = colour.lstrip("#")
    digits = "".join(2 * digit for digit in digits) if len(digits) == 3 else digits
    shares = [int(digits[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    linear = [share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_its_inks_are_legible_on_white():
    css = (Path(made.__file__).parent / "templates" / "sheet.css").read_text(encoding="utf-8")
    inks = re.findall(r"--(?:ink|quiet): (#\w+)", css)
    assert len(inks) == 4
    # WCAG 2.2, 1.4.6: 7 to 1 for text.
    assert all(1.05 / (luminance(ink) + 0.05) >= 7.0 for ink in inks)


def test_it_is_written_whole_or_not_at_all(tmp_path, monkeypatch):
    found = reviewed(trailing_arm())
    page = tmp_path / "sheet.html"
    write_sheet(found, "x.toml", page, units=Length.MM)
    whole = page.read_text(encoding="utf-8")
    assert whole == sheet_html(found, "x.toml", Length.MM)
    with pytest.raises(CallError, match="folder does not exist"):
        write_sheet(found, "x.toml", tmp_path / "no" / "sheet.html", units=Length.MM)
    monkeypatch.setattr(made, "sections", None)
    with pytest.raises(TypeError):
        write_sheet(found, "x.toml", page, units=Length.MM)
    assert page.read_text(encoding="utf-8") == whole
    assert list(tmp_path.iterdir()) == [page]


def test_a_scene_without_dampers_or_limits_makes_a_sheet():
    data = trailing_arm(joint="strut mount")
    page = sheet_of(reviewed(data), "x", Length.MM)
    assert not [reading for reading in page.others if reading.what.startswith(("stroke", "spring"))]
    assert page.first == ()
    assert [table.caption for table in page.lengths] == ["Wheel centres"]
    assert page.joints[0].readings[0].state.word == "no limit"
    assert "ask the part maker" in Page.of(html_of(data)).text


def test_what_is_past_its_limit_stops_the_work_first():
    over, clear = (sheet_of(reviewed(scene_data(name)), "x", Length.MM) for name in ("tarn_rear", "wren_rear"))
    assert over.stop.startswith("Stop: ")
    assert clear.stop == ""


def test_steps_are_those_of_the_scene():
    # D: every joint of the Parcel's rear is rubber; none of the Tarn's is.
    parcel, tarn = (sheet_of(reviewed(scene_data(name)), "x", Length.MM).steps for name in ("parcel_rear", "tarn_rear"))
    assert not any("jam nut" in step and "lock its" in step for step in parcel)
    assert any("bonded" in step and step.startswith("Last") for step in parcel)
    assert any("lock its jam nut" in step for step in tarn)
    assert not any(step.startswith("Last") for step in tarn)


@pytest.mark.parametrize("name", NAMES)
def test_every_mark_and_word_of_a_limit_is_explained(name):
    found = reviewed(scene_data(name))
    page = sheet_of(found, name, Length.MM)
    limits = [reading.limit for joint in page.joints for reading in joint.readings]
    limits += [reading.limit for reading in page.others]
    screen = io.StringIO()
    Console(file=screen, width=200, highlight=False).print(table(found, Length.MM))
    for mark, note in (("*", "* typical, not the "), ("advised", "advised: past it is close, never over")):
        assert any(mark in limit for limit in limits) == any(line.startswith(note) for line in page.joint_notes)
        assert any(mark in limit for limit in limits) == (f"\n{note}" in screen.getvalue())
    for mark, says in (("†", "would not have shown this"), ("‡", "past its limit at ride height already")):
        assert (f" {mark}" in screen.getvalue()) == (f"\n{mark} " in screen.getvalue())
        assert (f" {mark}" in screen.getvalue()) == (says in screen.getvalue())
