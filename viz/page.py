"""A page that shows one or two suspensions in 3D in a browser: one self-contained HTML file that fetches nothing."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import numpy as np
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from model.errors import DrawingError
from model.findings import pose_text
from model.posestrands import PLACE, TURN
from model.review import Review
from model.units import Length, degrees_text
from model.verdicts import Finding, State
from viz.cautions import CAUTIONS
from viz.files import whole_file
from viz.pagedata import PageScene, hex_colour, looks, page_scene
from viz.progress import Bar
from viz.style import STATES
from viz.words import limit_text, used_text, what_text

# What a page may weigh, in bytes: little enough to be sent in a message.
MOST_BYTES = 3_000_000
VIEWS = (("corner", "Corner"), ("rear", "Rear"), ("front", "Front"), ("side", "Side"), ("top", "Top"))
DRIVES = (
    ("left", "Left wheel", ("down", "up")),
    ("right", "Right wheel", ("down", "up")),
    ("steer", "Steering", ("left", "right")),
)
_TOLD = (State.LOCKED, State.OVER, State.CLOSE)


@dataclass(frozen=True)
class Sign:
    """A state's word with its sign."""

    name: str
    word: str
    shape: str


@dataclass(frozen=True)
class Row:
    """One finding, in words."""

    where: str
    what: str
    state: Sign
    used: str
    limit: str
    pose: str
    missed: bool


@dataclass(frozen=True)
class Part:
    """One of a page's scenes, in words, with its bytes in base64."""

    title: str
    counts: tuple[tuple[int, Sign], ...]
    rows: tuple[Row, ...]
    more: bool
    typical: bool
    tried: str
    bytes: str


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
    views: tuple[tuple[str, str], ...]
    drives: tuple[tuple[str, str, tuple[str, str]], ...]
    states: dict[str, Sign]
    units: str
    place: str
    turn: str
    cautions: tuple[str, ...]


def write_page(reviews: Sequence[Review], output: Path, *, units: Length) -> float:
    """Write a page of one or two reviewed scenes; return the largest share of what it may be off by that it is.

    Raises:
        DrawingError: a scene cannot be tabled closely enough, or the page would be too large.
        CallError: the file cannot be written.

    """
    made = []
    for review in reviews:
        with Bar("packing") as bar:
            made.append(page_scene(review, units, bar))
    html = page_html(reviews, made, units).encode()
    if len(html) > MOST_BYTES:
        raise DrawingError(
            f"the page would weigh {len(html) / 1e6:.1f} MB, expected {MOST_BYTES / 1e6:.0f} MB at most; "
            "show one scene, or use lighter mesh files."
        )
    with whole_file(output) as temporary:
        temporary.write_bytes(html)
    return max(scene.error for scene in made)


def page_html(reviews: Sequence[Review], scenes: Sequence[PageScene], units: Length) -> str:
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
        data=_json({"units": units.value, "looks": looks(), "scenes": [scene.data for scene in scenes]}),
        scenes=tuple(_part(review, scene, units) for review, scene in zip(reviews, scenes, strict=True)),
        views=VIEWS,
        drives=DRIVES,
        states={state.value: _sign(state) for state in STATES},
        units=units.value,
        place=f"{PLACE:g} mm" if units is Length.MM else f"{PLACE / units.mm:.2f} in",
        turn=degrees_text(float(np.degrees(TURN))),
        cautions=CAUTIONS,
    )
    return rooms.get_template("page.html").render(page=page)


def _asset(name: str) -> str:
    return files("viz").joinpath("webpage", name).read_text(encoding="utf-8")


def _colours() -> str:
    """The colours of the states as the style sheet knows them."""
    colours = "".join(f"--{_sign(state).name}:{hex_colour(state)};" for state in STATES)
    return f":root{{{colours}}}\n"


def _hash(text: str) -> str:
    """What the Content-Security-Policy knows a script or style by."""
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"


def _json(data: object) -> Markup:
    """JSON that nothing in it can end: in a script element only `<` could."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return Markup(text.replace("<", "\\u003c"))


def _part(review: Review, scene: PageScene, units: Length) -> Part:
    findings = review.verdict.findings
    counts = {state: sum(finding.state is state for finding in findings) for state in STATES}
    told = sum(finding.state in _TOLD for finding in findings)
    return Part(
        title=review.mechanism.title,
        counts=tuple((count, _sign(state)) for state, count in counts.items() if count),
        rows=tuple(_row(finding, review, units) for finding in findings),
        more=0 < told < len(findings),
        typical=any(finding.typical for finding in findings),
        tried=scene.data["tried"],
        bytes=scene.bytes,
    )


def _row(finding: Finding, review: Review, units: Length) -> Row:
    names = [drive.name for drive in review.mechanism.drives]
    locked, same = finding.state is State.LOCKED, finding.lowest is not None and finding.lowest == finding.highest
    limit = "" if finding.limit is None or locked else limit_text(finding, units)
    plain = limit and not finding.at_least and not finding.advice
    return Row(
        where=finding.where,
        what=what_text(finding),
        state=_sign(finding.state),
        used="" if locked else used_text(finding, units),
        limit=f"of {limit}" if plain else limit,
        pose="" if same else pose_text(names, finding.drives, units),
        missed=finding.missed,
    )


def _sign(state: State) -> Sign:
    look = STATES[state]
    return Sign("none" if state is State.UNJUDGED else state.value, look.word, look.shape.value)
