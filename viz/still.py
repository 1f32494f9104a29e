"""One picture of one pose, with what is over or close marked in it, as a PNG file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from model.errors import DrawingError
from model.findings import pose_text
from model.measures import GAP
from model.poses import Poses
from model.spans import spans
from model.stops import stops_passed
from model.triangles import Mesh
from model.units import Length
from model.verdicts import WORST_FIRST, Finding, State, Verdict
from viz import style
from viz.aids import Aids
from viz.cutaway import Cut
from viz.dimensions import draw_dimensions, end_on, kept_off, place_dimensions, spans_named
from viz.files import check_suffix, whole_file
from viz.gaps import GapMark, gap_named
from viz.labels import Box, Scale
from viz.locator import locator, paste_locator
from viz.marks import JOINT_RADIUS, MARKED, Mark, draw_caption, draw_marks
from viz.ruler import draw_rulers, ruler_room, rulers
from viz.stage import Stage
from viz.views import Camera, is_gap, is_named, joint_name
from viz.words import finding_text

# Smaller pictures have no room for a caption that can be read, larger ones are beyond what OpenGL promises.
SMALLEST, LARGEST = (240, 160), (7680, 4320)
# Measures that a joint's limit cone shows.
CONED = ("tilt", "swing")
# Of 9: a third of the time of the default of 6, for a file a fifth larger.
PNG_EFFORT = 2
# A touching patch that is wider than this share of the picture is not kept free of labels.
MOST_KEPT = 0.6
# Names of what was cut away that a caption has room for.
MOST_NAMED = 3
# A pixel further than this from the background's gradient shows a part.
BACKGROUND_NOISE = 5
NO_AIDS = Aids()


def write_still(
    poses: Poses,
    verdict: Verdict,
    output: Path,
    *,
    pose: int = 0,
    view: str = "three-quarter",
    size: tuple[int, int] = (1600, 1000),
    units: Length = Length.MM,
    gaps: Sequence[GapMark] = (),
    swept: tuple[str, Mesh] | None = None,
    camera: Camera | None = None,
    aids: Aids = NO_AIDS,
) -> tuple[Mark, ...]:
    """Draw a pose as a picture and return its marks with their places in px.

    Args:
        poses: the camera keeps all of them in frame.
        verdict: judged at the pose that is drawn.
        output: a .png file.
        pose: number of the pose to draw.
        view: one of `viz.views.View`, joint:NAME or gap:A, B.
        size: width and height in px.
        units: the person's unit of length.
        gaps: those of this pose that are drawn, worst first; a gap that is looked at is drawn alone.
        swept: a part's label and the space that it needs over the travel, in vehicle coordinates.
        camera: looked through instead of that of the view.
        aids: what else is drawn to explain it.

    Raises:
        CallError: the file's suffix is another.
        DrawingError: the size or the view is not one of those, or this machine cannot draw.

    """
    check_suffix(output, {".png": ""})
    check_size(size)
    scale = Scale.of(size)
    looked_at = None if is_named(view) or is_gap(view) else joint_name(view)
    shown = [gap_named(view, gaps)] if is_gap(view) else list(gaps)
    set_lengths = spans_named(aids.measure, spans(poses)) if aids.measure else []
    with whole_file(output) as temporary:
        with Stage(poses, (size[0], size[1] - scale.caption)) as stage:
            stage.show(pose)
            if swept is not None:
                stage.show_swept(*swept)
            if aids.ghost:
                stage.show_ghost()
            if aids.ruler:
                stage.keep_in_frame(ruler_room(poses))
            stage.aim(stage.camera(view, gaps, across=aids.section) if camera is None else camera)
            if aids.section:
                stage.section()
            if aids.glass:
                stage.see_through()
            for gap in shown:
                stage.hatch(gap)
            coned = None if is_gap(view) or aids.section else coned_finding(verdict, looked_at)
            if coned is not None:
                stage.show_cone(coned.where, coned.state)
            drawn = stage.picture()
            places = np.array([finding.at for finding in verdict.findings]).reshape(-1, 3)
            at, grain = stage.project(places), stage.pixels_per_mm(places)
            # In a close-up what stands before a joint is looked through or cut.
            hidden = stage.hidden(places, JOINT_RADIUS) if is_named(view) else np.zeros(len(places), dtype=bool)
            ends = [(gap, stage.project(gap.at)) for gap in shown]
            taken = _touched(stage, shown)
            said = cut_text(stage.cut)
            busy = busy_pixels(drawn)
            measured = rulers(stage, poses, pose, units, busy) if aids.ruler else []
            lengths = [(span, stage.project(span.points[pose])) for span in set_lengths]
            small = locator(stage, shown[0]) if is_gap(view) else None
        inside: NDArray[np.bool_] = np.all((at >= 0) & (at < drawn.size), axis=1)
        seen = [finding for finding, within in zip(verdict.findings, inside, strict=True) if within]
        dimensions = [(gap, both) for gap, both in ends if ((both >= 0) & (both < drawn.size)).all()]
        if small is not None:
            taken += [paste_locator(drawn, small, busy, [both for _, both in dimensions])]
        taken += draw_rulers(drawn, measured, units)
        sized = place_dimensions(lengths, pose, units, busy, scale, taken)
        draw_dimensions(drawn, sized)
        taken += [box for one in sized for box in kept_off(one, scale)]
        marks = draw_marks(
            drawn, seen, at[inside], grain[inside], busy, units, looked_at, dimensions, taken, hidden[inside]
        )
        picture = Image.new("RGB", size)
        picture.paste(drawn)
        draw_caption(
            picture,
            poses.mechanism.title,
            "; ".join(
                [
                    pose_text(poses.travel.names, poses.stands_at(pose), units),
                    *beyond_text(stops_passed(poses)[pose]),
                    *said,
                    *aids.words,
                    *swept_text(swept),
                    *end_on(set_lengths, sized, pose, units),
                ]
            ),
            state_of(verdict, shown),
            verdict_text(verdict, shown),
            _more(verdict, shown, marks, units),
        )
        picture.save(temporary, format="PNG", compress_level=PNG_EFFORT)
    return marks


def _touched(stage: Stage, shown: Sequence[GapMark]) -> list[Box]:
    """Boxes in px about touching patches, which labels keep off."""
    seen = [stage.project(patch.points) for gap in shown for patch in gap.patches if len(patch.points)]
    boxes = [(*points.min(axis=0).tolist(), *points.max(axis=0).tolist()) for points in seen]
    return [box for box in boxes if box[2] - box[0] < MOST_KEPT * stage.size[0]]


def cut_text(cut: Cut) -> list[str]:
    """What was cut away or turned to glass to show a gap, for the caption."""
    said = []
    for word, labels in (("cut away", cut.away), ("seen through", cut.glass)):
        if labels:
            more = f" and {len(labels) - MOST_NAMED} more" if len(labels) > MOST_NAMED else ""
            said.append(f"{word}: {', '.join(labels[:MOST_NAMED])}{more}")
    return said


def swept_text(swept: tuple[str, Mesh] | None) -> list[str]:
    """Whose space is shown, for the caption."""
    return [] if swept is None else [f"space that {swept[0]} needs over the travel"]


def beyond_text(stop: str) -> list[str]:
    """That no real car gets to a pose, for the caption: what stops it before that."""
    return [f"beyond a hard stop ({stop})"] if stop else []


def coned_finding(verdict: Verdict, looked_at: str | None) -> Finding | None:
    """The finding whose joint shows its cone: the one looked at, else the worst if it is marked. Never all: clutter."""
    worst = verdict.worst
    where = looked_at
    if where is None and worst is not None and worst.state in MARKED:
        where = worst.where
    return next((found for found in verdict.findings if found.where == where and found.what in CONED), None)


def check_size(size: tuple[int, int]) -> None:
    """Refuse sizes that cannot be drawn.

    Raises:
        DrawingError: too small or too large.

    """
    if not all(low <= side <= high for low, side, high in zip(SMALLEST, size, LARGEST, strict=True)):
        raise DrawingError(
            f"A picture of {size[0]}x{size[1]} px cannot be drawn, expected {SMALLEST[0]}x{SMALLEST[1]} "
            f"to {LARGEST[0]}x{LARGEST[1]}."
        )


def busy_pixels(picture: Image.Image) -> NDArray[np.bool_]:
    """Where a picture (height, width) shows something other than the background."""
    pixels = np.asarray(picture)
    share = np.linspace(0.0, 1.0, picture.height)[:, None, None]
    ground = (1.0 - share) * np.array(style.SKY) + share * np.array(style.GROUND)
    # Compared as whole numbers, as they are stored: several times as fast.
    low, high = np.ceil(ground - BACKGROUND_NOISE), np.floor(ground + BACKGROUND_NOISE)
    low, high = (edge.clip(0, 255).astype(np.uint8) for edge in (low, high))
    busy = np.zeros(pixels.shape[:2], dtype=np.bool_)
    for channel in range(3):
        busy |= (pixels[..., channel] < low[..., channel]) | (pixels[..., channel] > high[..., channel])
    return busy


# Where no gap is looked at, a picture says nothing of what touches.
GAPS_LEFT_OUT = ", gaps not measured"


def states_of(verdict: Verdict, gaps: Sequence[GapMark] = ()) -> list[State]:
    """The state of every finding, and of every gap that is not among them."""
    known = {finding.where for finding in verdict.findings if finding.what == GAP}
    return [*(finding.state for finding in verdict.findings), *(gap.state for gap in gaps if gap.where not in known)]


def state_of(verdict: Verdict, gaps: Sequence[GapMark] = ()) -> State:
    """The state that decides."""
    return min((verdict.state, *(gap.state for gap in gaps)), key=WORST_FIRST.index)


def verdict_text(verdict: Verdict, gaps: Sequence[GapMark] = ()) -> str:
    """A verdict in a few words: "3 over, 1 close"."""
    states = states_of(verdict, gaps)
    counts = [(state, states.count(state)) for state in MARKED]
    words = [f"{count} {style.STATES[state].word}" for state, count in counts if count and state is not State.LOCKED]
    if verdict.state is State.LOCKED:
        words.insert(0, "locked")
    return ", ".join(words) or f"clear in this pose{GAPS_LEFT_OUT * (not gaps)}"


def _more(verdict: Verdict, gaps: Sequence[GapMark], marks: tuple[Mark, ...], units: Length) -> str:
    """A second line: what was left without a label, else, where all is clear, what comes nearest to its limit."""
    bare = sum(mark.label is None for mark in marks)
    if bare:
        return f"{bare} more ringed without a label"
    worst = verdict.worst
    if worst is None or worst.limit is None or state_of(verdict, gaps) in MARKED:
        return ""
    return f"nearest: {worst.where}, {finding_text(worst, units)}"
