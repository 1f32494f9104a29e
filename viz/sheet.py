"""The sheet to hold under the car: one self-contained HTML page that prints on A4 and Letter in black and white."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from model.findings import pose_text
from model.joints import JointKind
from model.limits import JointLimits
from model.review import Review
from model.sheetdata import FittedJoint, damper_lengths, fitted_joints, link_lengths, wheel_heights
from model.units import Length
from model.verdicts import Finding, State, Verdict
from viz.cautions import CAUTIONS
from viz.files import whole_file
from viz.report import tried_text, verdict_line
from viz.sections import sections
from viz.sheetwords import RECHECK, STOP, TAPE, WHEN, WRITE_IN, steps
from viz.style import STATES
from viz.tables import MOMENTS, Section, TextTable, height_text
from viz.travelbars import travel_bars
from viz.travelwords import telling
from viz.words import ADVISED, NOTHING, finding_text, left_text, limit_text, margin_text, quantity_text, what_text


@dataclass(frozen=True)
class Sign:
    """A state's word with its shape and colour."""

    word: str
    shape: str
    colour: str


@dataclass(frozen=True)
class Reading:
    """One finding, in words."""

    where: str
    what: str
    ride: str
    span: str
    limit: str
    margin: str
    state: Sign


@dataclass(frozen=True)
class FirstLook:
    """A finding that deserves a look before anything else, as a sentence."""

    where: str
    state: Sign
    words: str


@dataclass(frozen=True)
class JointEntry:
    """One joint of the sheet, in words; `notes` are pairs of a heading and a text."""

    where: str
    kind: str
    fastener: str | None
    readings: tuple[Reading, ...]
    when: str
    why: str
    torque: str | None
    torque_source: str
    threaded: bool
    jam_nut: str | None
    jam_nut_torque: str | None
    engaged: str | None
    notes: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Sheet:
    """Every text of the page, in its order."""

    title: str
    scene: str
    verdict: str
    stop: str
    tried: str
    footer: Markup
    write_in: tuple[str, ...]
    cautions: tuple[str, ...]
    first: tuple[FirstLook, ...]
    steps: tuple[str, ...]
    lengths: tuple[TextTable, ...]
    tape: str
    joints: tuple[JointEntry, ...]
    joint_notes: tuple[str, ...]
    others: tuple[Reading, ...]
    moments: str
    travel: Markup
    more: tuple[Section, ...]
    recheck: tuple[str, ...]


def write_sheet(review: Review, scene: str, output: Path, *, units: Length) -> None:
    """Write the sheet of a review; `scene` is the scene file's name in print.

    Raises:
        CallError: if the file cannot be written.

    """
    page = sheet_html(review, scene, units)
    with whole_file(output) as temporary:
        temporary.write_text(page, encoding="utf-8")


def sheet_html(review: Review, scene: str, units: Length) -> str:
    """The sheet as one HTML document, every text of the scene escaped."""
    rooms = Environment(
        loader=PackageLoader("viz"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return rooms.get_template("sheet.html").render(sheet=sheet_of(review, scene, units))


def sheet_of(review: Review, scene: str, units: Length) -> Sheet:
    """Every text of the sheet."""
    mechanism, verdict = review.mechanism, review.verdict
    fitted = fitted_joints(review.poses)
    names = {joint.where for joint in fitted}
    others = [finding for finding in verdict.findings if finding.where not in names]
    return Sheet(
        title=mechanism.title,
        scene=scene,
        verdict=f"Verdict: {verdict_line(verdict)}",
        stop=STOP if verdict.state in (State.OVER, State.LOCKED) else "",
        tried=tried_text(mechanism, verdict, units),
        footer=_css_string(mechanism.title),
        write_in=(*WRITE_IN, *(("steering stops set, left and right",) if mechanism.steer is not None else ())),
        cautions=CAUTIONS,
        first=_first_looks(review, units),
        steps=steps(
            heads=any(joint.threaded for joint in fitted),
            rubber=any(joint.limits.kind is JointKind.RUBBER_BUSH for joint in fitted),
        ),
        lengths=_lengths(review, fitted, units),
        tape=TAPE,
        joints=tuple(_joint(joint, review, units) for joint in fitted),
        joint_notes=_joint_notes(verdict),
        others=tuple(_reading(finding, units) for finding in sorted(others, key=lambda finding: finding.where)),
        moments=MOMENTS,
        # The SVG's own texts are escaped where it is made.
        travel=Markup(travel_bars(telling(review.reaches), units)),
        more=sections(review, units),
        recheck=RECHECK,
    )


def _css_string(text: str) -> Markup:
    """A text as a CSS string: all but letters and digits are escapes, so that nothing can end it or the style."""
    escaped = "".join(letter if letter.isascii() and letter.isalnum() else f"\\{ord(letter):06x}" for letter in text)
    return Markup(f'"{escaped}"')


def _sign(state: State) -> Sign:
    look = STATES[state]
    red, green, blue = look.colour
    return Sign(look.word, look.shape.value, f"#{red:02x}{green:02x}{blue:02x}")


def _reading(finding: Finding, units: Length) -> Reading:
    if finding.state is State.LOCKED:
        ride = span = NOTHING
    else:
        ride = quantity_text(finding.quantity, finding.ride, units)
        ends = [quantity_text(finding.quantity, value, units) for value in (finding.lowest, finding.highest)]
        span = " to ".join(dict.fromkeys(ends))
    return Reading(
        where=finding.where,
        what=what_text(finding),
        ride=ride,
        span=span,
        limit=limit_text(finding, units),
        margin=margin_text(finding, units),
        state=_sign(finding.state),
    )


def _needs_a_look(findings: Iterable[Finding]) -> list[Finding]:
    return [finding for finding in findings if finding.state in (State.LOCKED, State.OVER, State.CLOSE)]


def _first_looks(review: Review, units: Length) -> tuple[FirstLook, ...]:
    looks = []
    for finding in _needs_a_look(review.verdict.findings):
        said = (f"{finding_text(finding, units)}{left_text(finding, units)}", _worst_pose(finding, review, units))
        words = f"{'; '.join(filter(None, said))}."
        looks.append(FirstLook(finding.where, _sign(finding.state), words))
    return tuple(looks)


def _worst_pose(finding: Finding, review: Review, units: Length) -> str:
    """The worst pose in words; nothing for what is the same in every pose, or judged in one alone."""
    if finding.lowest is not None and finding.lowest == finding.highest:
        return ""
    names = [drive.name for drive in review.mechanism.drives]
    missed = "; cycling both wheels together, straight ahead, would have missed it" if finding.missed else ""
    return f"worst with {pose_text(names, finding.drives, units)}{missed}"


def _joint(joint: FittedJoint, review: Review, units: Length) -> JointEntry:
    limits, fastening = joint.limits, joint.limits.fastening
    findings = [finding for finding in review.verdict.findings if finding.where == joint.where]
    when, why = WHEN[limits.kind]
    return JointEntry(
        where=joint.where,
        kind=limits.kind.value if limits.name == limits.kind.value else f"{limits.name} ({limits.kind.value})",
        fastener=fastening.fastener,
        readings=tuple(_reading(finding, units) for finding in findings),
        when=when,
        why=why,
        torque=fastening.torque,
        torque_source=fastening.torque_source or "the scene file does not say from which sheet",
        threaded=joint.threaded,
        jam_nut=fastening.jam_nut,
        jam_nut_torque=fastening.jam_nut_torque,
        engaged=_engaged(joint, units),
        notes=tuple(_notes(limits, findings, review, units)),
    )


def _notes(
    limits: JointLimits, findings: Sequence[Finding], review: Review, units: Length
) -> Iterable[tuple[str, str]]:
    if limits.kind is JointKind.RUBBER_BUSH and limits.torqued_at != "ride":
        yield "last tightened", f"{height_text(limits.torqued_at, units)}: slacken it, then tighten it at ride height"
    sources: dict[str, list[str]] = {}
    for finding in findings:
        if finding.limit is not None:
            plain = finding.source.removeprefix("typical: ")
            words = f"typical, not the maker's: {plain}" if finding.typical else plain
            sources.setdefault(words, []).append(finding.what)
    for source, whats in sources.items():
        yield f"limit of {' and '.join(whats)}", source
    for finding in _needs_a_look(findings):
        if pose := _worst_pose(finding, review, units):
            yield finding.what, pose


def _engaged(joint: FittedJoint, units: Length) -> str | None:
    if joint.engaged is None:
        return None
    diameters = joint.engaged_diameters
    told = "" if diameters is None else f", {diameters:.1f} diameters"
    return f"{units.text(joint.engaged)}{told}"


def _joint_notes(verdict: Verdict) -> tuple[str, ...]:
    notes = [
        "Torques stand here only as the scene file gives them from the part maker's sheet; where there is a line, "
        "write in what that sheet says.",
        "Over the travel: lowest to highest over every combination of wheel heights and steering that was tried.",
    ]
    if any(finding.typical for finding in verdict.findings):
        notes.append("* typical, not the maker's: ask the part maker for the limit.")
    if any(finding.advice for finding in verdict.findings):
        notes.append(ADVISED)
    if any(finding.state is State.UNJUDGED for finding in verdict.findings):
        notes.append("no limit: the scene gives none and there is no typical one; ask the part maker.")
    return tuple(notes)


def _lengths(review: Review, fitted: tuple[FittedJoint, ...], units: Length) -> tuple[TextTable, ...]:
    """What is set with a tape: dampers, wheels, links; a table without rows is left out."""
    dampers = TextTable(
        "Coilovers and struts",
        ("part", "length at ride height", "shortest to longest", "can go in, of its stroke", "can come out"),
        tuple(
            (
                f"{damper.name}, {'foot to top mount' if damper.strut else 'eye to eye'}",
                units.text(damper.length),
                f"{units.text(damper.compressed)} to {units.text(damper.extended)}",
                f"{units.text(damper.room_in)}, {100 * damper.share_in:.0f} %",
                f"{units.text(damper.room_out)}, {100 * damper.share_out:.0f} %",
            )
            for damper in damper_lengths(review.mechanism)
        ),
        hand="measured",
    )
    wheels = TextTable(
        "Wheel centres",
        ("wheel", "height of its centre", "loaded radius", "camber, toe", "reference on the frame", "above the centre"),
        tuple(
            (
                wheel.wheel,
                units.text(wheel.height),
                units.text(wheel.loaded_radius),
                f"{math.degrees(wheel.camber):+.2f}°, {math.degrees(wheel.toe):+.2f}°",
                NOTHING if wheel.reference is None else f"bolt of {wheel.reference}",
                NOTHING if wheel.rise is None else units.text(wheel.rise),
            )
            for wheel in wheel_heights(review.mechanism, fitted)
        ),
        "Heights of centres are z in the scene file. The reference is the bolt on the frame most nearly above or below "
        "the centre; measure straight up, from level to level. Camber and toe: positive leans out at the "
        "top, points in at the front.",
        hand="measured",
    )
    links = TextTable(
        "Links, eye to eye",
        ("link", "length"),
        tuple((link.name, units.text(link.length)) for link in link_lengths(review.mechanism)),
        hand="measured",
    )
    return tuple(table for table in (dampers, wheels, links) if table.rows)
