"""The page as a file: what is in it and what is not. Promises of the page (D) unless a source stands beside them."""

import base64
import hashlib
import json
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from zoo import FOUR_LINKS, NAMES, SCENES, axle_scene, built, scene_data

from model.errors import CallError
from model.review import Review, review
from model.solver import solve
from model.travel import grid
from model.units import Length
from viz.cautions import CAUTIONS
from viz.page import MOST_BYTES, page_html, write_page
from viz.pagedata import page_scene

WEBPAGE = Path(__file__).parents[2] / "viz" / "webpage"
NASTY = "</script><img src=x onerror=alert(1)>"


def reviewed(data: dict[str, Any]) -> Review:
    mechanism = built(data)
    return review(solve(mechanism, grid(mechanism, 5, 3)))


def html_of(data: dict[str, Any], units: Length = Length.MM) -> str:
    found = reviewed(data)
    return page_html([found], [page_scene(found, units)], units)


class Elements(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.texts: dict[str, list[str]] = {}
        self._last = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        self._last = tag

    def handle_data(self, data: str) -> None:
        self.texts.setdefault(self._last, []).append(data)


@pytest.fixture(scope="module")
def nasty() -> str:
    data = axle_scene(FOUR_LINKS)
    data["title"] = NASTY
    data["link"][NASTY] = data["link"].pop("upper")
    return html_of(data)


def test_texts_of_the_scene_are_texts(nasty: str) -> None:
    found = Elements(nasty)
    assert "img" not in {tag for tag, _ in found.found}
    assert NASTY in found.texts["h1"][0]
    (data,) = re.findall(r'id="data">(.*?)</script>', nasty, re.S)
    assert json.loads(data)["scenes"][0]["title"] == NASTY


def test_nothing_is_fetched_and_only_its_own_script_runs(nasty: str) -> None:
    found = Elements(nasty)
    policy = next(attrs["content"] for _, attrs in found.found if attrs.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None
    assert policy.startswith("default-src 'none';")
    for tag, pattern in (("script", r"<script>(.*?)</script>"), ("style", r"<style>(.*?)</style>")):
        (text,) = re.findall(pattern, nasty, re.S)
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy
    for tag, attrs in found.found:
        assert not {"src", "href", "style"} & attrs.keys()
        assert not any(name.startswith("on") for name in attrs)
        assert tag not in ("link", "iframe", "img", "object")


def test_every_finding_has_a_row_that_can_be_chosen_and_every_caution_stands() -> None:
    found = reviewed(scene_data("tarn_rear"))
    html = page_html([found], [page_scene(found, Length.INCH)], Length.INCH)
    assert html.count('<th scope="row"><button type="button"') == len(found.verdict.findings)
    assert all(caution.replace("'", "&#39;") in html for caution in CAUTIONS)
    assert " in</span>" in html


def test_every_slider_has_a_label(nasty: str) -> None:
    found = Elements(nasty)
    sliders = {attrs["id"] for tag, attrs in found.found if tag == "input" and attrs["type"] == "range"}
    assert sliders == {attrs["for"] for tag, attrs in found.found if tag == "label" and "for" in attrs}


def test_a_failed_page_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(CallError, match="folder does not exist"):
        write_page([reviewed(axle_scene(FOUR_LINKS))], tmp_path / "nowhere" / "a.html", units=Length.MM)


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_the_page_of_every_scene_is_light_and_true(name: str, tmp_path: Path) -> None:
    output = tmp_path / "page.html"
    found = reviewed(scene_data(name))
    fit = page_scene(found, Length.MM).fit
    # At most 0.5 mm and 0.2° off the solver, at poses that the tables were not made with; nothing locks, all is shown.
    assert fit.error <= 1.0
    assert fit.hidden == 0.0
    assert write_page([found], output, units=Length.MM) == output.stat().st_size < MOST_BYTES


@pytest.mark.slow
def test_the_command_takes_two_scenes(tmp_path: Path) -> None:
    output, moved = tmp_path / "both.html", tmp_path / "moved.toml"
    moved.write_text((SCENES / "wren_rear.toml").read_text(encoding="utf-8"), encoding="utf-8")
    scenes = [str(SCENES / "wren_rear.toml"), str(moved)]
    steps = ["--wheel-steps", "5", "--steer-steps", "3", "--quick"]
    ran = subprocess.run(
        [str(Path(sys.executable).with_name("fulltravel")), "page", *scenes, "-o", str(output), *steps],
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    assert output.stat().st_size < MOST_BYTES
    # Two of one title, which is said once.
    assert ": Wren roadster, rear (wren_rear.toml and moved.toml); " in " ".join(ran.stdout.split())


def test_the_licence_of_what_the_script_holds_stands_beside_it() -> None:
    assert "MIT License" in (WEBPAGE / "LICENSE-three.txt").read_text()
    versions = json.loads((WEBPAGE / "package.json").read_text())["devDependencies"]
    assert versions["three"] in (WEBPAGE / "LICENSE-three.txt").read_text()
