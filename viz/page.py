"""A page that shows one or two suspensions in 3D in a browser: one self-contained HTML file that fetches nothing."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

import numpy as np
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from model.comparison import Comparison
from model.errors import DrawingError
from model.posestrands import PLACE, TURN
from model.review import Review
from model.units import Length, degrees_text
from viz.cautions import CAUTIONS
from viz.files import whole_file
from viz.pagedata import PageScene, hex_colour, looks, moved_data, page_scene
from viz.pagetext import Difference, Part, Sign, differences, parts, sign
from viz.progress import Bar
from viz.style import MOVED, STATES

# What a page may weigh, in bytes: little enough to be sent in a message.
MOST_BYTES = 3_000_000
VIEWS = (("three-quarter", "Three-quarter"), ("rear", "Rear"), ("front", "Front"), ("side", "Side"), ("top", "Top"))
DRIVES = (
    ("left", "Left wheel", ("down", "up")),
    ("right", "Right wheel", ("down", "up")),
    ("steer", "Steering", ("left", "right")),
)


@dataclass(frozen=True)
class Page:
    """Everything in the page, in its order."""

    title: str
    style: Markup
    style_hash: str
    script: Markup
    script_hash: str
    data: Markup
    scenes: tuple[Part, ...]
    differences: tuple[Difference, ...]
    views: tuple[tuple[str, str], ...]
    drives: tuple[tuple[str, str, tuple[str, str]], ...]
    states: dict[str, Sign]
    units: str
    place: str
    turn: str
    cautions: tuple[str, ...]


def write_page(
    reviews: Sequence[Review],
    output: Path,
    *,
    units: Length,
    files: Sequence[Path] = (),
    compared: Comparison | None = None,
    packing: Sequence[Callable[[], PageScene]] = (),
) -> int:
    """Write a page of one or two reviewed scenes; return how many bytes it weighs.

    Args:
        reviews: of the scenes.
        output: where it goes.
        units: what lengths are in first; the page can switch.
        files: those that the scenes were read from, so that two can be told apart.
        compared: the two against each other.
        packing: gives what `viz.pagedata.packed` makes of each scene, where that was begun before.

    Raises:
        DrawingError: a scene cannot be tabled closely enough, or the page would be too large.
        CallError: the file cannot be written.

    """
    made = []
    with Bar("packing") as bar:
        for number, review in enumerate(reviews):
            bar(number, len(reviews))
            made.append(page_scene(review, units, packing[number]() if packing else None))
    html = page_html(reviews, made, units, files, compared).encode()
    if len(html) > MOST_BYTES:
        raise DrawingError(
            f"the page would weigh {len(html) / 1e6:.1f} MB, expected {MOST_BYTES / 1e6:.0f} MB at most; "
            "show one scene, or use lighter mesh files."
        )
    with whole_file(output) as temporary:
        temporary.write_bytes(html)
    return len(html)


def page_html(
    reviews: Sequence[Review],
    scenes: Sequence[PageScene],
    units: Length,
    files: Sequence[Path] = (),
    compared: Comparison | None = None,
) -> str:
    """The page as one HTML document, every text of the scenes escaped."""
    rooms = Environment(
        loader=PackageLoader("viz", "webpage"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    style, script = _colours() + _asset("page.css"), _asset("page.js")
    titles = list(dict.fromkeys(review.mechanism.title for review in reviews))
    page = Page(
        title=" and ".join(titles),
        style=Markup(style),
        style_hash=_hash(style),
        script=Markup(script),
        script_hash=_hash(script),
        data=_json(
            {
                "units": units.value,
                "looks": looks(),
                "scenes": [scene.data for scene in scenes],
                "moved": moved_data(compared),
            }
        ),
        scenes=parts(reviews, scenes, files, units),
        differences=differences(compared),
        views=VIEWS,
        drives=DRIVES,
        states={state.value: sign(state) for state in STATES},
        units=units.value,
        place=f"{PLACE:g} mm" if units is Length.MM else f"{PLACE / units.mm:.2f} in",
        turn=degrees_text(float(np.degrees(TURN))),
        cautions=CAUTIONS,
    )
    return rooms.get_template("page.html").render(page=page)


def _asset(name: str) -> str:
    return resources.files("viz").joinpath("webpage", name).read_text(encoding="utf-8")


def _colours() -> str:
    """Colours that others use too, as the style sheet knows them."""
    colours = "".join(f"--{sign(state).name}:{hex_colour(state)};" for state in STATES)
    moved = "#{:02x}{:02x}{:02x}".format(*MOVED)
    return f":root{{{colours}--moved:{moved};}}\n"


def _hash(text: str) -> str:
    """What the Content-Security-Policy knows a script or style by."""
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"


def _json(data: object) -> Markup:
    """JSON that nothing in it can end: in a script element only `<` could."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return Markup(text.replace("<", "\\u003c"))
