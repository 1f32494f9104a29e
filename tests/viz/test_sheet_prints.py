"""The sheet in headless Chromium: what comes out of the printer and what a phone shows. Promises of the sheet (D)."""

import html as markup
import math
import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from reviews import reviewed
from zoo import FOUR_LINKS, NAMES, axle_scene, end, scene_data

from model.units import Length
from viz.sheet import sheet_html, sheet_of

TOOLS = ("chromium", "pdftotext", "pdftoppm")
# Width and height in points (ISO 216; ANSI/ASME Y14.1), and what Chromium's whole pixels and a letter's box add.
SIZES = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}
ROUNDING = 2.0
# The page's own margin, 12 mm, in points.
MARGIN = 12 * 72 / 25.4


@pytest.fixture(scope="module", autouse=True)
def tools() -> None:
    missing = [tool for tool in TOOLS if shutil.which(tool) is None]
    if missing and not os.environ.get("FULLTRAVEL_REQUIRE_ALL"):
        pytest.skip(f"{' and '.join(missing)} not installed")
    assert not missing


def chromium(folder: Path, *arguments: str) -> str:
    home = {"HOME": str(folder), "XDG_CONFIG_HOME": str(folder), "XDG_CACHE_HOME": str(folder)}
    flags = ["--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder / 'profile'}"]
    ran = subprocess.run(
        ["chromium", *flags, *arguments], env=os.environ | home, capture_output=True, text=True, check=True, timeout=120
    )
    return ran.stdout


def printed(folder: Path, page: str, size: str) -> Path:
    """The page on paper of a size; that size is all that is added to it."""
    source, pdf = folder / f"{size}.html", folder / f"{size}.pdf"
    source.write_text(page.replace("</head>", f"<style>@page {{ size: {size}; }}</style></head>"), encoding="utf-8")
    chromium(folder, "--no-pdf-header-footer", f"--print-to-pdf={pdf}", source.as_uri())
    return pdf


def pages_of(pdf: Path) -> list[tuple[float, float, list[tuple[float, float, float, float, str]]]]:
    """Each page's width, height and words (left, top, right, bottom, text) in points."""
    ran = subprocess.run(["pdftotext", "-bbox", str(pdf), "-"], capture_output=True, text=True, check=True)
    pages = []
    for width, height, body in re.findall(r'<page width="([\d.]+)" height="([\d.]+)">(.*?)</page>', ran.stdout, re.S):
        words = re.findall(
            r'<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*?)</word>', body
        )
        places = [(*map(float, word[:4]), markup.unescape(word[4])) for word in words]
        pages.append((float(width), float(height), places))
    return pages


def crowded() -> dict[str, Any]:
    """44 joints, names of 60 letters without a gap, texts of 200, and nothing else given."""
    data = axle_scene(FOUR_LINKS)
    data["link"] = {f"{name.replace(' ', '-')}{'W' * 60}"[:60]: link for name, link in data["link"].items()}
    data["joint"] = {"M" * 60: {"kind": "rod end", "tilt": 1, "source": "S" * 200, "torque": "t" * 200}}
    data["points"] |= {"top": [0.0, 500.0, 700.0], "foot": [0.0, 500.0, 300.0]}
    eyes = {"top": end("top", "frame", "along", "M" * 60), "bottom": end("foot", "axle", "along", "M" * 60)}
    data["coilover"] = {
        f"{number}{'Q' * 58}": {**eyes, "compressed": 250, "extended": 550, "mirror": True} for number in range(9)
    }
    data["title"] = "T" * 60
    return data


def first_column(words: list[tuple[float, float, float, float, str]]) -> str:
    """What stands in the first column of the table of joints, where names are, line by line; nothing without it."""
    heads = {round(top) for _, top, _, _, text in words if text == "kind,"}
    edge = min((left for left, top, _, _, text in words if text == "measured" and round(top) in heads), default=0.0)
    return "".join(
        text for _, _, text in sorted((round(top), left, text) for left, top, _, _, text in words if left < edge)
    )


CASES = [pytest.param("crowded", size, id=f"crowded-{size}") for size in SIZES] + [
    pytest.param(name, size, id=f"{name}-{size}", marks=[] if name == "wren_front" else pytest.mark.slow)
    for name in NAMES
    for size in SIZES
]


@pytest.mark.parametrize(("name", "size"), CASES)
def test_it_prints_whole(tmp_path, name, size):
    found = reviewed(crowded() if name == "crowded" else scene_data(name))
    texts = sheet_of(found, "scenes/x.toml", Length.MM)
    pages = pages_of(printed(tmp_path, sheet_html(found, "scenes/x.toml", Length.MM), size))
    # Some eight joints to a page after the first; fonts differ from machine to machine.
    joints = len(texts.joints)
    # One more for the drawing of its travel, which is kept whole.
    low, high = (8, 40) if name == "crowded" else (2, 4 + math.ceil(joints / 5))
    assert low <= len(pages) <= high
    for number, (width, height, words) in enumerate(pages, start=1):
        assert (width, height) == pytest.approx(SIZES[size], abs=ROUNDING)
        # Nothing reaches into the margin, so nothing is cut, and nothing was shrunk to fit either: see the letters.
        assert min(word[0] for word in words) >= MARGIN - ROUNDING
        assert max(word[2] for word in words) <= width - MARGIN + ROUNDING
        text = " ".join(word[4] for word in words)
        assert f"page {number} of {len(pages)}" in text
        # A joint's block stays on one page: as many heads as torques.
        assert len(re.findall(r"\bfastener:", text)) == len(re.findall(r"\btorque:", text))
        if "torque:" in text:
            # The table's head stands on each of its pages.
            assert "joint, kind, fastener" in text
    names = "".join(first_column(words) for _, _, words in pages)
    for joint in texts.joints:
        assert joint.where.replace(" ", "") in names
    # 8.4 pt as the style sheet has it: a letter box is between 1 and 1.5 times as high in any usual font.
    height = next(bottom - top for _, _, words in pages for _, top, _, bottom, text in words if text == "Park")
    assert 8.4 <= height <= 1.5 * 8.4


def test_it_prints_in_black_and_white(tmp_path):
    found = reviewed(scene_data("tarn_rear"))
    pdf = printed(tmp_path, sheet_html(found, "scenes/x.toml", Length.MM), "A4")
    subprocess.run(["pdftoppm", "-r", "60", "-png", str(pdf), str(tmp_path / "page")], check=True)
    pages = sorted(tmp_path.glob("page*.png"))
    assert pages
    for page in pages:
        pixels = np.asarray(Image.open(page).convert("RGB"), dtype=int)
        # No colour at all, so that grey paper loses nothing.
        assert np.ptp(pixels, axis=-1).max() == 0
        assert pixels.min() < 60
        assert pixels.max() > 250


@pytest.mark.parametrize("name", ["crowded", "wren_front"])
def test_it_fits_a_phone(tmp_path, name):
    found = reviewed(crowded() if name == "crowded" else scene_data(name))
    page = sheet_html(found, "scenes/x.toml", Length.MM)
    # The page lets no script run, so the one that measures it stands around it.
    page = re.sub(r"<meta http-equiv[^>]*>", "", page)
    script = (
        "const d = document.querySelector('iframe').contentDocument.documentElement;"
        "document.body.dataset.widths = d.scrollWidth + ' ' + d.clientWidth;"
    )
    # 360 px: the narrowest screen in common use (common practice, no source).
    frame = f'<iframe style="width: 360px; height: 800px; border: 0" srcdoc="{markup.escape(page)}"></iframe>'
    outer = tmp_path / "phone.html"
    outer.write_text(
        f'<!DOCTYPE html><meta charset="utf-8"><body>{frame}<script>onload = () => {{ {script} }};</script>',
        encoding="utf-8",
    )
    widths = re.search(r'data-widths="(\d+) (\d+)"', chromium(tmp_path, "--dump-dom", outer.as_uri()))
    assert widths is not None
    inside, window = map(int, widths.groups())
    assert inside <= window <= 360
