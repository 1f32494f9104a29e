"""What a page holds of a scene: numbers and texts as JSON, meshes and tables of poses as bytes."""

from __future__ import annotations

import base64
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from model.errors import DrawingError
from model.measures import Measure
from model.posegrid import PoseGrid, Strand
from model.posepacking import pack, worst_error
from model.posestrands import PLACE, TURN, Followed, Spot, Strands, strands_of
from model.review import Review
from model.spatial import Array
from model.units import Length
from model.verdicts import SLACK, WORST_FIRST, Finding, State
from viz import style
from viz.pagebytes import differences
from viz.pagemesh import PageModel, page_model
from viz.report import tried_text
from viz.words import FINE

# Poses by which the tables are measured once more, by none of which they were made.
PROBES = 1500


@dataclass(frozen=True)
class PageScene:
    """A scene of a page: its data for JSON, its bytes in base64, and the largest share that any error takes."""

    data: dict[str, Any]
    bytes: str
    error: float


def page_scene(review: Review, units: Length, tell: Callable[[int, int], None] | None = None) -> PageScene:
    """Everything that a page shows of a reviewed scene.

    Raises:
        DrawingError: its poses cannot be tabled closely enough.

    """
    mechanism = review.mechanism
    low, high = (np.array([getattr(drive, end) for drive in mechanism.drives]) for end in ("low", "high"))
    model = page_model(mechanism)
    _progress(tell, 1)
    strands = strands_of(mechanism, model.origins)
    grid = pack(strands.sample, low, high, strands.strands)
    _progress(tell, 2)
    tried = np.random.default_rng(11).uniform(low, high, (PROBES, len(low)))
    values, solved = strands.sample(tried)
    error = worst_error(grid, strands.strands, tried, values, solved)
    if error > 1.0:
        raise DrawingError(
            f"the poses of {mechanism.title} cannot be tabled to {PLACE:g} mm and {np.degrees(TURN):g}°; "
            "narrow its travel."
        )
    roaming = _roaming(strands, grid, tried, values)
    rewritten, views = differences(model.glb)
    blocks, sheets = [rewritten + b"\0" * (-len(rewritten) % 2)], []
    for sheet_grid, shift in ((grid, 0), (model.grid, grid.width)):
        written, numbers = _sheets(sheet_grid, shift, sum(map(len, blocks)))
        sheets += written
        blocks += numbers
    packed = base64.b64encode(zlib.compress(b"".join(blocks), 9)).decode("ascii")
    data = {
        "title": mechanism.title,
        "tried": tried_text(mechanism, review.verdict, units),
        "drives": [{"name": drive.name, "low": drive.low, "high": drive.high} for drive in mechanism.drives],
        "glb": {"length": len(model.glb), "views": views},
        "columns": grid.width + model.grid.width,
        "sheets": sheets,
        "parts": [_part(name, strands, model) for name in strands.parts],
        "pliants": [_pliant(model, number, grid.width) for number in range(len(model.pliants))],
        "labels": model.labels,
        "measures": [_measure(followed, strands, roaming) for followed in strands.followed],
        "stops": [
            {"cause": cause, "where": where, "column": _strand(strands, name).start}
            for cause, where, name in strands.stops
        ],
        "rows": [_row(finding, strands) for finding in review.verdict.findings],
        "wheels": [
            {
                "part": wheel.on,
                "label": wheel.name,
                "at": _list(wheel.centre),
                "radius": wheel.loaded_radius,
                "width": wheel.width,
            }
            for wheel in mechanism.wheels
        ],
    }
    _progress(tell, 3)
    return PageScene(data, packed, error)


def hex_colour(state: State) -> str:
    """The colour of a state as a style sheet writes it."""
    red, green, blue = style.STATES[state].colour
    return f"#{red:02x}{green:02x}{blue:02x}"


def looks() -> dict[str, Any]:
    """Word, sign and colour of every state, worst first."""
    return {
        state.value: {
            "word": style.STATES[state].word,
            "shape": style.STATES[state].shape.value,
            "colour": hex_colour(state),
        }
        for state in WORST_FIRST
    }


def _progress(tell: Callable[[int, int], None] | None, done: int) -> None:
    if tell is not None:
        tell(done, 3)


def _sheets(grid: PoseGrid, shift: int, start: int) -> tuple[list[dict[str, Any]], list[bytes]]:
    """Tables for JSON, their columns counted from `shift` on, and their numbers, which stand from byte `start` on."""
    written, blocks = [], []
    for sheet in grid.sheets:
        # Each column by itself, so that neighbours are alike.
        numbers = np.ascontiguousarray(np.moveaxis(sheet.stored, -1, 0), dtype="<u2").tobytes()
        written.append(
            {
                "axes": list(sheet.axes),
                "nodes": [_list(nodes) for nodes in sheet.nodes],
                "columns": (sheet.columns + shift).tolist(),
                "low": sheet.low.tolist(),
                "step": sheet.step.tolist(),
                "start": start,
                "shut": np.flatnonzero(~sheet.open).tolist(),
            }
        )
        blocks.append(numbers)
        start += len(numbers)
    return written, blocks


def _part(name: str, strands: Strands, model: PageModel) -> dict[str, Any]:
    part = {
        "name": name,
        "node": model.nodes[name],
        "column": _strand(strands, f"part {name}").start,
        "centre": _list(strands.centres[name]),
        "origin": _list(model.origins[name]),
    }
    spinning = strands.spinning.get(name)
    if spinning is not None:
        part["spinning"] = {
            "axis": _list(spinning.ride[:, 0], 9),
            "elevations": _list(np.array(spinning.elevations), 9),
            "limits": _list(np.array(spinning.limits), 9),
        }
    return part


def _pliant(model: PageModel, number: int, shift: int) -> dict[str, Any]:
    pliant = model.pliants[number]
    first, count = pliant.weights
    made: dict[str, Any] = {"node": pliant.node, "weights": [first + shift, count]}
    if pliant.part is None:
        return made | {"column": pliant.columns + shift}
    return made | {"part": pliant.part, "place": _list(pliant.place, 6), "turn": _list(pliant.turn, 9)}


def _measure(followed: Followed, strands: Strands, roaming: Mapping[str, bool]) -> dict[str, Any]:
    measure, bound = followed.measure, followed.measure.bound
    made: dict[str, Any] = {
        "what": measure.what,
        "where": measure.where,
        "quantity": measure.quantity.value,
        "column": _strand(strands, followed.strand).start,
        "squared": followed.squared,
        "slack": SLACK[measure.quantity],
    }
    if bound is not None:
        made |= {
            "limit": float(bound.limit),
            "close": float(bound.close),
            "least": bool(bound.least),
            "advice": bool(bound.advice),
            "typical": bool(bound.typical),
            "fine": bool(abs(bound.limit) < FINE),
        }
    if isinstance(followed.spot, Spot):
        made["spot"] = {"part": followed.spot.part, "at": _list(followed.spot.at)}
    elif roaming[followed.spot]:
        made["spot"] = {"column": _strand(strands, followed.spot).start}
    return made


def _row(finding: Finding, strands: Strands) -> dict[str, Any]:
    return {
        "what": finding.what,
        "where": finding.where,
        "state": finding.state.value,
        "quantity": finding.quantity.value,
        "used": float(finding.used),
        "limit": None if finding.limit is None else float(finding.limit),
        "least": bool(finding.at_least),
        "advice": bool(finding.advice),
        "typical": bool(finding.typical),
        "fine": bool(finding.limit is not None and abs(finding.limit) < FINE),
        "source": finding.source,
        "drives": _list(np.array(finding.drives), 6),
        "same": bool(finding.lowest is not None and finding.lowest == finding.highest),
        "missed": bool(finding.missed),
        "at": _list(np.array(finding.at)),
        "measure": _number(finding, strands),
    }


def _number(finding: Finding, strands: Strands) -> int:
    """The number of the followed measure that a finding is of; −1 where it cannot be followed."""
    for number, followed in enumerate(strands.followed):
        measure: Measure = followed.measure
        places = (measure.where, f"{measure.where}, {finding.part}")
        if finding.what == measure.what and finding.where in places:
            return number
    return -1


def _roaming(strands: Strands, grid: PoseGrid, tried: Array, values: Array) -> dict[str, bool]:
    """Whether each place that rides on no part is followed closely enough to be marked, by the name of its strand."""
    read, shown = grid.read(tried)
    spots = {followed.spot for followed in strands.followed if isinstance(followed.spot, str)}
    found = {}
    for name in spots:
        strand = _strand(strands, name)
        columns = slice(strand.start, strand.stop)
        found[name] = bool(strand.share(values[shown, columns], read[shown, columns]).max(initial=0.0) <= 1.0)
    return found


def _strand(strands: Strands, name: str) -> Strand:
    return next(strand for strand in strands.strands if strand.name == name)


def _list(values: Array, digits: int = 4) -> list[float]:
    return [round(float(value), digits) for value in np.asarray(values).ravel()]
