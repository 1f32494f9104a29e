"""What a page holds of a scene: numbers and texts as JSON, meshes and tables of poses as bytes."""

from __future__ import annotations

import base64
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from model.comparison import Comparison, marked_points
from model.errors import DrawingError
from model.gaps import gap_name
from model.measures import GAP
from model.mechanism import Mechanism
from model.posegrid import PoseGrid, Strand
from model.posepacking import Fit, fit_of, pack
from model.posestrands import BITS, PLACE, TURN, Followed, Spot, Strands, strands_of
from model.review import Review
from model.spatial import Array
from model.units import Length
from model.verdicts import SLACK, WORST_FIRST, Finding, State
from viz import style
from viz.pagebytes import differences
from viz.pagemesh import PageModel, page_model
from viz.report import tried_text
from viz.rig import origins_of
from viz.words import FINE, keeps_clear

# Poses by which the tables are measured once more, by none of which they were made; and the largest share of those that
# can be reached, which a page may leave out because they are too near to where the linkage locks.
PROBES, HIDDEN = 1500, 0.05


@dataclass(frozen=True)
class PageScene:
    """A scene of a page: its data for JSON, its bytes in base64, and how well its tables do."""

    data: dict[str, Any]
    bytes: str
    fit: Fit


def page_scene(review: Review, units: Length, motion: PageScene | None = None) -> PageScene:
    """Everything that a page shows of a reviewed scene; its `motion` may have been packed before.

    Raises:
        DrawingError: its poses cannot be tabled closely enough.

    """
    motion = packed(review.mechanism) if motion is None else motion
    points = {gap_name(gap): gap.points for gap in review.clearances or ()}
    measures = [(measure["what"], measure["where"]) for measure in motion.data["measures"]]
    verdict = {
        "tried": tried_text(review.mechanism, review.verdict, units),
        "rows": [_row(finding, measures, points) for finding in told(review)],
    }
    return replace(motion, data=motion.data | verdict)


def packed(mechanism: Mechanism) -> PageScene:
    """What a page holds of a mechanism before anything is judged: its parts, and how they and the measures move.

    Raises:
        DrawingError: its poses cannot be tabled closely enough.

    """
    low, high = (np.array([getattr(drive, end) for drive in mechanism.drives]) for end in ("low", "high"))
    origins = origins_of(mechanism)
    strands = strands_of(mechanism, origins)
    grid = pack(strands.sample, low, high, strands.strands)
    tried = np.random.default_rng(11).uniform(low, high, (PROBES, len(low)))
    values, stopped = strands.sample(tried)
    fit = fit_of(grid, strands.strands, tried, values, stopped)
    if fit.error > 1.0 or fit.hidden > HIDDEN:
        raise DrawingError(
            f"the poses of {mechanism.title} cannot be tabled to {PLACE:g} mm and {np.degrees(TURN):g}°, but for "
            f"{100 * HIDDEN:g} % of those that can be reached, near where it locks; narrow its travel."
        )
    model = page_model(mechanism, origins, grid)
    roaming = _roaming(strands, grid, tried, values)
    rewritten, views = differences(model.glb)
    blocks, sheets = [_padded(rewritten)], []
    for sheet_grid, shift, pliant in ((grid, 0, False), (model.grid, grid.width, True)):
        written, numbers = _sheets(sheet_grid, shift, sum(map(len, blocks)), pliant=pliant)
        sheets += written
        blocks += numbers
    data: dict[str, Any] = {
        "title": mechanism.title,
        "drives": [{"name": drive.name, "low": drive.low, "high": drive.high} for drive in mechanism.drives],
        "glb": {"length": len(model.glb), "views": views},
        "columns": grid.width + model.grid.width,
        "sheets": sheets,
        "causes": [_members(cause, strands) for cause in grid.causes],
        "parts": [_part(name, strands, model, origins[name]) for name in strands.parts],
        "pliants": [_pliant(model, number, grid.width) for number in range(len(model.pliants))],
        "labels": model.labels,
        "measures": [_measure(followed, strands, roaming) for followed in strands.followed],
        "stops": [
            {"cause": cause, "where": where, "column": _strand(strands, name).start}
            for cause, where, name in strands.stops
        ],
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
    return PageScene(data, base64.b64encode(zlib.compress(b"".join(blocks), 9)).decode("ascii"), fit)


def told(review: Review) -> tuple[Finding, ...]:
    """The findings that a page lists: not those of parts that just keep clear of each other."""
    return tuple(finding for finding in review.verdict.findings if not keeps_clear(finding))


def moved_data(compared: Comparison | None) -> list[dict[str, Any]]:
    """Joints that are elsewhere in the second scene: their names, parts, and places at ride height in either."""
    marked = () if compared is None else marked_points(compared)
    return [
        {"name": one.name, "on": [one.on, one.now_on], "at": [_list(one.first), _list(one.second)]} for one in marked
    ]


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


def _padded(block: bytes) -> bytes:
    """Bytes behind which numbers of four bytes may stand."""
    return block + b"\0" * (-len(block) % 4)


def _sheets(grid: PoseGrid, shift: int, start: int, *, pliant: bool) -> tuple[list[dict[str, Any]], list[bytes]]:
    """Tables for JSON, their columns counted from `shift` on, and their numbers, which stand from byte `start` on."""
    written, blocks = [], []
    for sheet in grid.sheets:
        levels = []
        for level in sheet.levels:
            sparse = len(level.numbers) < np.prod([len(nodes) for nodes in level.nodes])
            # Each column by itself, so that neighbours are alike.
            tables = [np.ascontiguousarray(level.stored.T, dtype="<u2").tobytes()]
            tables += [np.diff(level.numbers, prepend=0).astype("<u4").tobytes()] if sparse else []
            tables += [level.codes.tobytes()] if level.codes.any() else []
            places = []
            for table in map(_padded, tables):
                places.append(start)
                blocks.append(table)
                start += len(table)
            levels.append(
                {
                    "nodes": [_list(nodes) for nodes in level.nodes],
                    "low": level.low.tolist(),
                    "step": level.step.tolist(),
                    "count": len(level.numbers),
                    "start": places[0],
                    "numbers": places[1] if sparse else -1,
                    "codes": places[-1] if level.codes.any() else -1,
                }
            )
        kind = "pliant" if pliant else "exact" if sheet.exact else "lax"
        columns = (sheet.columns + shift).tolist()
        written.append({"axes": list(sheet.axes), "kind": kind, "columns": columns, "levels": levels})
    return written, blocks


def _members(cause: int, strands: Strands) -> list[str]:
    """The members that a cause is of; of one that is none of them, nothing."""
    return [name for number, name in enumerate(strands.locks[:BITS]) if cause >> number & 1]


def _part(name: str, strands: Strands, model: PageModel, origin: Array) -> dict[str, Any]:
    part = {
        "name": name,
        "node": model.nodes[name],
        "column": _strand(strands, f"part {name}").start,
        "centre": _list(strands.centres[name]),
        "origin": _list(origin),
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


def _row(finding: Finding, measures: Sequence[tuple[str, str]], points: Mapping[str, Array]) -> dict[str, Any]:
    gap = finding.what == GAP and finding.where in points
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
        "measure": _number(finding, measures),
        "apart": finding.what == GAP and finding.limit == 0.0,
        "points": [_list(at) for at in points[finding.where]] if gap else None,
    }


def _number(finding: Finding, measures: Sequence[tuple[str, str]]) -> int:
    """The number of the followed measure, of what and where, that a finding is of; −1 where it cannot be followed."""
    for number, (what, where) in enumerate(measures):
        if finding.what == what and finding.where in (where, f"{where}, {finding.part}"):
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
        found[name] = bool(
            np.nan_to_num(strand.share(values[shown, columns], read[shown, columns])).max(initial=0.0) <= 1.0
        )
    return found


def _strand(strands: Strands, name: str) -> Strand:
    return next(strand for strand in strands.strands if strand.name == name)


def _list(values: Array, digits: int = 4) -> list[float]:
    return [round(float(value), digits) for value in np.asarray(values).ravel()]
