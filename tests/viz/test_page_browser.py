"""The page in headless Chromium, as a person has it: sliders, findings, keys, two scenes, a phone.

Expectations are the solver's own numbers and the page's promises (D).
"""

import os
import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from zoo import FOUR_LINKS, axle_scene, built, scene_data, steered_axle, trailing_arm

from model.comparison import compare
from model.findings import pose_text
from model.measures import GAP
from model.mechanism import Mechanism
from model.members import posture
from model.posestrands import posed
from model.review import Review, review
from model.solver import solve
from model.spatial import Array
from model.tracks import finding_at, tracks
from model.travel import grid
from model.units import Length
from viz.page import page_html
from viz.pagedata import page_scene
from viz.words import keeps_clear, used_text

CHROMIUM = shutil.which("chromium")
FLAGS = (
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
)
NASTY = "</script><img src=x onerror=alert(1)>"
# What the page promises, in mm and degrees; what its numbers are read to, in mm and rad.
PLACE, TURN = 0.5, 0.2
READ_MM, READ_RAD = 0.25, np.radians(0.25)


@dataclass(frozen=True)
class Written:
    """A page of two scenes, with what it was made of."""

    uri: str
    mechanisms: list[Mechanism]
    reviews: list[Review]


def written(datas: list[dict[str, Any]], folder: Path, *, gaps: bool = False) -> Written:
    mechanisms = [built(data) for data in datas]
    reviews = [review(solve(mechanism, grid(mechanism, 5, 3)), gaps=gaps) for mechanism in mechanisms]
    scenes = [page_scene(one, Length.MM) for one in reviews]
    names = [folder / "first.toml", folder / "second.toml"]
    html = page_html(reviews, scenes, Length.MM, names[: len(reviews)], compare(*reviews) if len(reviews) > 1 else None)
    (folder / "page.html").write_text(html, encoding="utf-8")
    # Plain: the software renderer that tests have takes most of its time for shadows.
    return Written(f"{(folder / 'page.html').as_uri()}#plain", mechanisms, reviews)


@dataclass
class Seen:
    """A page with what it asked for and complained of."""

    page: Any
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def js(self, expression: str) -> Any:
        return self.page.evaluate(expression)

    def until(self, expression: str) -> None:
        """Wait, by asking from outside: the page lets nothing in it be made from text."""
        end = time.monotonic() + 60.0
        while not self.js(expression):
            assert time.monotonic() < end, expression
            self.page.wait_for_timeout(20)

    def go(self, **drives: float) -> dict[str, float]:
        found: dict[str, float] = self.page.evaluate("wish => fulltravelPage.go(wish)", drives)
        return found


def opened(browser: Any, uri: str, width: int, height: int) -> Seen:
    context = browser.new_context(viewport={"width": width, "height": height}, reduced_motion="reduce", has_touch=True)
    seen = Seen(context.new_page())
    seen.page.on("request", lambda request: seen.requests.append(request.url))
    seen.page.on("console", lambda message: seen.complaints.append(message.text))
    seen.page.on("pageerror", lambda error: seen.complaints.append(str(error)))
    seen.page.on("dialog", lambda dialog: seen.complaints.append(dialog.message))
    seen.page.goto(uri)
    seen.js("fulltravelPage.ready")
    return seen


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        sync_playwright = None
    if CHROMIUM is None or sync_playwright is None:
        assert not os.environ.get("FULLTRAVEL_REQUIRE_ALL"), "chromium and playwright are needed"
        pytest.skip("chromium or playwright not installed")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="module")
def axles(tmp_path_factory: pytest.TempPathFactory) -> Written:
    """A live axle that tilts a joint too far under a rail, and a copy with less travel and one point moved."""
    first = axle_scene(FOUR_LINKS, 230.0)
    first["points"]["rail middle"] = [0, 250, 600]
    first["frame"] = {"rail": {"centre": "rail middle", "size": [300, 60, 60]}}
    second = axle_scene(FOUR_LINKS | {"far lower": ((600, -400, 300), (20, -450, 210))}, 120.0)
    return written([first, second], tmp_path_factory.mktemp("axles"), gaps=True)


@pytest.fixture(scope="module")
def odd_ones(tmp_path_factory: pytest.TempPathFactory) -> Written:
    """A steered axle, and one wheel that locks, under a name that would break a page."""
    locks = trailing_arm(radius=90.0)
    locks["title"] = NASTY
    return written([steered_axle(), locks], tmp_path_factory.mktemp("odd"))


@pytest.fixture(scope="module")
def desk(browser: Any, axles: Written) -> Seen:
    return opened(browser, axles.uri, 1100, 700)


@pytest.fixture(scope="module")
def odd(browser: Any, odd_ones: Written) -> Seen:
    return opened(browser, odd_ones.uri, 700, 480)


def use(seen: Seen, number: int) -> None:
    seen.page.locator(f"input[name=scene][value='{number}']").check(force=True)
    seen.until(f"fulltravelPage.scene() === {number}")


def assert_stands_as_solved(seen: Seen, mechanism: Mechanism, seed: int, count: int = 12) -> None:
    chance = np.random.default_rng(seed)
    names = [drive.name for drive in mechanism.drives]
    low, high = (np.array([getattr(drive, end) for drive in mechanism.drives]) for end in ("low", "high"))
    drives = chance.uniform(low, high, (count, len(low)))
    solved = posed(mechanism, drives)
    placed, measured = posture(solved), tracks(solved)
    middles = {wheel.on: wheel.centre for wheel in mechanism.wheels}
    middles |= {link.name: 0.5 * (link.ends[0].at + link.ends[1].at) for link in mechanism.links}
    for number in range(count):
        reached = seen.go(**dict(zip(names, drives[number], strict=True)))
        assert list(reached.values()) == pytest.approx(list(drives[number]), abs=1e-9)
        for name, part in seen.js("fulltravelPage.parts()").items():
            rotation = np.broadcast_to(placed.parts[name].rotation, (count, 3, 3))[number]
            shift = np.broadcast_to(placed.parts[name].translation, (count, 3))[number]
            shown = Rotation.from_quat(part["turn"])
            assert np.degrees((shown.inv() * Rotation.from_matrix(rotation)).magnitude()) < TURN, name
            at: Array = middles.get(name, np.array([0.0, 0.0, 300.0]) if name == "frame" else None)  # type: ignore[arg-type]
            if at is not None:
                assert np.linalg.norm(shown.apply(at) + part["move"] - rotation @ at - shift) < PLACE, name
        shown_findings = {(one["what"], one["where"]): one for one in seen.js("fulltravelPage.findings()")}
        for measure in measured:
            if (measure.what, measure.where) in shown_findings and np.isfinite(measure.values[number]):
                one = shown_findings[measure.what, measure.where]
                true = finding_at(measure, solved, number)
                room = READ_RAD if measure.quantity.value == "angle" else READ_MM
                assert abs(one["value"] - true.used) < room, measure
                nearest = min((abs(true.used - edge) for edge in _edges(measure)), default=np.inf)
                assert one["state"] == true.state.value or nearest < room
    assert seen.js("document.querySelector('#pose').textContent") == pose_text(names, drives[-1], Length.MM)


def _edges(measure: Any) -> tuple[float, ...]:
    return () if measure.bound is None else (measure.bound.limit, measure.bound.close)


def test_it_stands_as_solved(desk: Seen, axles: Written) -> None:
    assert_stands_as_solved(desk, axles.mechanisms[0], seed=1)


def test_a_steered_axle_stands_as_solved(odd: Seen, odd_ones: Written) -> None:
    use(odd, 0)
    assert_stands_as_solved(odd, odd_ones.mechanisms[0], seed=2)


def two_frames(seen: Seen) -> None:
    seen.js("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")


def test_a_finding_flies_there_and_to_its_worst_pose(desk: Seen) -> None:
    desk.go(left=0, right=0)
    row = desk.page.locator("#scene-0 tbody tr", has_text="tilt").first
    row.locator("button").click()
    assert row.locator("button").get_attribute("aria-pressed") == "true"
    assert sorted(abs(value) for value in desk.js("fulltravelPage.drives()").values()) == [230.0, 230.0]
    assert row.locator(".used").inner_text() == row.locator(".now .value").inner_text()
    assert "over" in row.locator(".now").inner_text()
    two_frames(desk)
    camera = desk.js("fulltravelPage.camera()")
    assert np.linalg.norm(np.subtract(camera["position"], camera["focus"])) < 2.0  # m: near, not the whole axle
    mark = desk.page.locator(".mark.chosen")
    box, stage = mark.bounding_box(), desk.page.locator("#view").bounding_box()
    for along, size in (("x", "width"), ("y", "height")):
        middle = stage[along] + 0.5 * stage[size]
        assert abs(box[along] + 0.5 * box[size] - middle) < 3.0  # px
    desk.page.keyboard.press("Escape")
    assert row.locator("button").get_attribute("aria-pressed") == "false"


def test_a_gap_is_a_line_between_its_points_in_its_worst_pose(desk: Seen, axles: Written) -> None:
    findings = axles.reviews[0].verdict.findings
    worst = next(one for one in findings if one.what == GAP and one.used > 0.0 and not keeps_clear(one))
    desk.page.locator("#scene-0 tbody tr", has_text=worst.where).first.locator("button").click()
    drives = desk.js("fulltravelPage.drives()")
    np.testing.assert_allclose(list(drives.values()), worst.drives, atol=1e-3)  # mm; what is written has six digits
    two_frames(desk)
    line = desk.page.locator("#lines .gap line").first
    ends = np.array([[float(line.get_attribute(key)) for key in pair] for pair in (("x1", "y1"), ("x2", "y2"))])
    stage = desk.page.locator("#view").bounding_box()
    # The middle of the two points is what is looked at.
    np.testing.assert_allclose(ends.mean(axis=0), [0.5 * stage["width"], 0.5 * stage["height"]], atol=2.0)
    assert np.linalg.norm(ends[1] - ends[0]) > 0.0
    assert used_text(worst, Length.MM) in desk.page.locator("#lines text").first.text_content()
    desk.go(left=0, right=0)
    two_frames(desk)
    assert desk.page.locator("#lines .gap").count() == 0
    desk.page.keyboard.press("Escape")


def test_what_just_keeps_clear_is_one_sentence(desk: Seen, axles: Written) -> None:
    apart = [one for one in axles.reviews[0].verdict.findings if keeps_clear(one)]
    rows = desk.page.locator("#scene-0 tbody tr").count()
    assert rows + len(apart) == len(axles.reviews[0].verdict.findings)
    if apart:
        assert f"{len(apart)} more pair" in desk.page.locator("#scene-0").inner_text()


def test_two_of_the_same_title_are_told_apart_and_compared(desk: Seen) -> None:
    switch = desk.page.locator("fieldset.choice.wide")
    assert "first.toml" in switch.inner_text()
    assert "second.toml" in switch.inner_text()
    moved, changes = (desk.page.locator(f".compared table.{name}:visible") for name in ("moved", "changes"))
    # The foot of one bar is 30 mm lower.
    assert "30 mm down" in moved.inner_text()
    assert changes.locator("tbody tr").count() > 3
    assert changes.locator(".best").count() > 0
    desk.go(left=0, right=0)
    for number in (1, 0):
        use(desk, number)
        two_frames(desk)
        circles = desk.page.locator("#lines .moved circle")
        assert circles.count() == 2
        heights = [float(circles.nth(k).get_attribute("cy")) for k in range(2)]
        # The hollow one is where it is in the other: in A lower, further down the view.
        assert (heights[0] > heights[1]) == (number == 0)


def test_sliders_by_key(desk: Seen) -> None:
    desk.go(left=0, right=0)
    desk.page.locator("input[value=each]").check(force=True)
    slider = desk.page.locator("#drive-left")
    slider.focus()
    desk.page.keyboard.press("ArrowRight")
    desk.page.keyboard.press("Shift+ArrowRight")
    assert desk.js("fulltravelPage.drives()") == {"left": 11, "right": 0}
    assert slider.get_attribute("aria-valuetext") == "11 mm up"
    desk.page.keyboard.press("End")
    assert desk.js("fulltravelPage.drives().left") == 230
    desk.page.keyboard.press("Home")
    assert desk.js("fulltravelPage.drives().left") == -230
    assert desk.page.locator("output[for=drive-left]").inner_text() == "230 mm down"
    assert desk.js("document.querySelector('#pose').textContent").startswith("left wheel 230 mm down")


def test_wheels_go_together_or_crossed(desk: Seen) -> None:
    for link, sign in (("together", 1), ("crossed", -1)):
        desk.page.locator("#ride").click()
        desk.page.locator(f"input[value={link}]").check(force=True)
        desk.page.locator("#drive-right").focus()
        desk.page.keyboard.press("PageUp")
        drives = desk.js("fulltravelPage.drives()")
        assert drives["left"] == sign * drives["right"] != 0
    desk.page.locator("input[value=each]").check(force=True)


def test_a_slider_is_dragged(desk: Seen) -> None:
    desk.go(left=0, right=0)
    box = desk.page.locator("#drive-left").bounding_box()
    middle = box["y"] + 0.5 * box["height"]
    desk.page.mouse.move(box["x"] + 0.5 * box["width"], middle)
    desk.page.mouse.down()
    desk.page.mouse.move(box["x"] + 0.75 * box["width"], middle, steps=4)
    desk.page.mouse.up()
    assert desk.js("fulltravelPage.drives().left") == pytest.approx(115, abs=12)  # a quarter of 460 mm, and a thumb


def test_space_plays_and_stops(desk: Seen) -> None:
    desk.go(left=0, right=0)
    desk.page.locator("#drive-left").focus()
    desk.page.keyboard.press(" ")
    assert desk.page.locator("#play").get_attribute("aria-pressed") == "true"
    desk.until("Math.abs(fulltravelPage.drives().left) > 5")
    desk.page.keyboard.press(" ")
    assert desk.page.locator("#play").get_attribute("aria-pressed") == "false"


def test_the_other_scene_in_the_same_pose_from_the_same_place(desk: Seen) -> None:
    desk.go(left=60, right=-90)
    before = desk.js("fulltravelPage.camera()")
    use(desk, 1)
    assert desk.js("fulltravelPage.drives()") == {"left": 60, "right": -90}
    assert desk.js("fulltravelPage.camera()") == before
    assert desk.page.locator("#scene-1").is_visible()
    assert not desk.page.locator("#scene-0").is_visible()
    # This one goes no further than its own travel.
    assert desk.go(left=200)["left"] == 120
    use(desk, 0)


def test_inches(desk: Seen) -> None:
    desk.go(left=50.8, right=0)
    desk.page.locator("input[name=units][value=in]").check(force=True)
    assert desk.page.locator("output[for=drive-left]").inner_text() == "2.00 in up"
    assert "9.06 in" in desk.page.locator("#scene-0 tbody tr", has_text="tilt").first.inner_text()
    assert "1.18 in down" in desk.page.locator(".compared table.moved:visible").inner_text()
    desk.page.locator("input[name=units][value=mm]").check(force=True)


def test_what_is_seen_is_said(desk: Seen) -> None:
    desk.go(left=230, right=-230)
    desk.until("document.querySelector('#said').textContent.includes('over')")
    assert desk.page.locator("#said").get_attribute("aria-live") == "polite"


def test_nothing_was_fetched_and_nothing_complained_of(desk: Seen, odd: Seen, axles: Written) -> None:
    assert [uri.partition("#")[0] for uri in desk.requests] == [axles.uri.partition("#")[0]]
    assert len(odd.requests) == 1
    assert desk.complaints == []
    assert odd.complaints == []
    assert odd.page.locator("img").count() == 0


def test_steering_goes_left_with_the_left_arrow(odd: Seen) -> None:
    use(odd, 0)
    odd.go(left=0, right=0, steer=0)
    odd.page.locator("#drive-steer").focus()
    odd.page.keyboard.press("ArrowLeft")
    assert odd.js("fulltravelPage.drives().steer") == 0.01
    odd.page.keyboard.press("Home")
    assert odd.page.locator("#drive-steer").get_attribute("aria-valuetext") == "full left lock"


def test_a_lock_stops_the_slider_and_is_named(odd: Seen, odd_ones: Written) -> None:
    use(odd, 1)
    odd.go(left=0, right=0)
    reached = odd.go(left=99)
    # The arm is 90 mm long, level at ride height: it points straight up there (closed form). 2 % of the way are left.
    assert 0.98 * 90.0 < next(iter(reached.values())) < 90.0
    # So near to the lock the tables are at their finest, and as true as anywhere.
    true = posture(posed(odd_ones.mechanisms[1], np.array([list(reached.values())]))).parts["trailing arm"].rotation[0]
    shown = Rotation.from_quat(odd.js("fulltravelPage.parts()")["trailing arm"]["turn"])
    assert np.degrees((shown.inv() * Rotation.from_matrix(true)).magnitude()) < TURN
    assert "trailing arm runs straight" in odd.page.locator("#notice").inner_text()
    odd.until("document.querySelector('#said').textContent.startsWith('Locked')")
    odd.go(left=10)
    assert not odd.page.locator("#notice").is_visible()


def test_after_a_crossed_finding_the_wheels_go_each_by_itself(desk: Seen, axles: Written) -> None:
    crossed = next(one for one in axles.reviews[0].verdict.findings if one.drives[0] == -one.drives[1] != 0.0)
    desk.page.locator("input[value=together]").check(force=True)
    row = desk.page.locator("#scene-0 tbody tr", has_text=crossed.where).filter(has_text=crossed.what).first
    row.locator("button").click()
    drives = desk.js("fulltravelPage.drives()")
    assert drives["left"] == -drives["right"] != 0
    assert desk.page.locator("input[value=each]").is_checked()
    desk.page.locator("#drive-left").focus()
    desk.page.keyboard.press("Home")
    assert desk.js("fulltravelPage.drives()")["right"] == drives["right"]
    desk.page.keyboard.press("Escape")


def test_what_is_chosen_is_ringed_and_its_words_stand_in_the_view(desk: Seen) -> None:
    desk.page.locator("#scene-0 tbody tr", has_text="tilt").first.locator("button").click()
    for width, height in ((360, 740), (390, 844), (768, 1024), (1100, 700)):
        desk.page.set_viewport_size({"width": width, "height": height})
        two_frames(desk)
        two_frames(desk)
        assert desk.js("document.documentElement.scrollWidth") == width
        view, ring, words = (
            desk.page.locator(each).bounding_box() for each in ("#view", ".mark.chosen", ".mark.chosen > span")
        )
        assert view["x"] <= words["x"]
        assert words["x"] + words["width"] <= view["x"] + view["width"]
        # Beside the ring or under it: the joint within is seen.
        beside = words["x"] >= ring["x"] + ring["width"] or words["x"] + words["width"] <= ring["x"]
        assert beside or words["y"] >= ring["y"] + ring["height"]
    inside = "getComputedStyle(document.querySelector('.mark.chosen'))"
    assert desk.js(f"{inside}.backgroundColor") == "rgba(0, 0, 0, 0)"
    desk.page.keyboard.press("Escape")


@pytest.mark.slow
def test_a_pose_beyond_a_hard_stop_says_so(browser: Any, tmp_path: Path) -> None:
    data = scene_data("tarn_rear")
    data["travel"]["bump"] = 300  # the coilovers take 260 mm or so
    seen = opened(browser, written([data], tmp_path).uri, 700, 480)
    seen.go(left=300, right=300)
    for place in ("#notice", "#said"):
        seen.until(f"document.querySelector('{place}').textContent.includes('Beyond a hard stop')")
        assert "left coilover." in seen.page.locator(place).text_content()
    seen.go(left=0, right=0)
    assert not seen.page.locator("#notice").is_visible()


def test_every_control_has_a_name(desk: Seen) -> None:
    tree = desk.page.locator("body").aria_snapshot()
    controls = ("button", "radio", "slider", "checkbox", "application")
    lines = [line.strip().lstrip("- ") for line in tree.splitlines()]
    found = [line for line in lines if line.split(" ")[0].rstrip(":") in controls]
    # Two sliders, five views, three ways in which wheels go, two units, two scenes, glass, play, ride height, the view.
    assert len(found) >= 18
    assert all('"' in line for line in found), found


def test_a_phone(desk: Seen) -> None:
    desk.go(left=0, right=0)
    desk.page.set_viewport_size({"width": 390, "height": 844})
    assert desk.js("document.documentElement.scrollWidth") == 390
    for chosen in ("#play", "#ride", "#drive-left", "#scene-0 tbody button >> nth=0"):
        assert desk.page.locator(chosen).bounding_box()["height"] >= 30, chosen  # px; a finger (common practice)
    desk.page.locator("#scene-0 tbody tr", has_text="tilt").nth(1).tap()
    assert desk.js("Math.abs(fulltravelPage.drives().left)") == 230
    assert desk.page.locator("#view").bounding_box()["y"] >= 0  # the view stays in sight
    assert desk.complaints == []
