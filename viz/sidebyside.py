"""Two suspensions side by side, in the same pose, seen by the same camera: as a still or as a film."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from model.comparison import Comparison, Moved, marked_points
from model.errors import DrawingError
from model.measures import Measure
from model.poses import Poses
from model.spatial import Array
from model.tracks import tracks
from model.units import Length
from model.verdicts import Finding, Verdict
from viz import style
from viz.comparestrip import ROWS_FILM, ROWS_STILL, changes_strip, heights, most_lines
from viz.curve import CurveStrip, draw_fitted, strip_height
from viz.cutaway import Cut
from viz.encoders import Film, encoder_for
from viz.files import whole_file
from viz.film import Frames, GapsAt, Progress, Runs, Shot, camera_of, changes, followed_measure, write_frames
from viz.labels import Scale
from viz.marks import draw_sign
from viz.report import verdict_line
from viz.stage import Stage
from viz.still import LARGEST, PNG_EFFORT, SMALLEST
from viz.views import Camera, is_gap, is_named, joint_name, named_view


@dataclass(frozen=True)
class Side:
    """One of the two: its letter, the name of its file, its poses, which are those of the other, and gaps in them."""

    letter: str
    name: str
    poses: Poses
    gaps: GapsAt | None = None


def write_side_by_side(
    compared: Comparison,
    sides: tuple[Side, Side],
    output: Path,
    *,
    view: str = "three-quarter",
    size: tuple[int, int] = (1600, 1000),
    units: Length = Length.MM,
) -> None:
    """Draw the first pose of both beside each other, with what moved and what that changes, as a .png.

    Raises:
        DrawingError: the size or the view cannot be drawn, or this machine cannot draw.

    """
    with _Pair(compared, sides, view, size, units, None) as pair, whole_file(output) as temporary:
        pair.finished(pair.shot(0)).save(temporary, format="PNG", compress_level=PNG_EFFORT)


def film_side_by_side(
    compared: Comparison,
    sides: tuple[Side, Side],
    output: Path,
    *,
    view: str = "three-quarter",
    size: tuple[int, int] = (1280, 720),
    fps: int = 25,
    units: Length = Length.MM,
    runs: Runs = (),
    progress: Progress | None = None,
) -> None:
    """Film the poses of both beside each other.

    Raises:
        DrawingError: the file's suffix, the size or the view is not one that can be drawn.

    """
    film = Film(size, fps, len(sides[0].poses))
    encoder = encoder_for(output, film)
    with _Pair(compared, sides, view, size, units, runs) as pair, whole_file(output) as temporary:
        write_frames(pair.shot, pair.finished, encoder, temporary, film, progress)


def check_pair_size(size: tuple[int, int], *, film: bool) -> None:
    """Refuse sizes that leave either half, above the table, less room than a picture of its own needs.

    Raises:
        DrawingError: too small or too large.

    """
    rows, least = ROWS_FILM if film else ROWS_STILL, 2 * SMALLEST[0]
    _, tallest = heights(max(size[0], least), most_lines(rows), rows - most_lines(rows))
    smallest = least, SMALLEST[1] + tallest + head_height((max(size[0], least), size[1]))
    if not all(low <= side <= high for low, side, high in zip(smallest, size, LARGEST, strict=True)):
        raise DrawingError(
            f"Two side by side in {size[0]}x{size[1]} px cannot be drawn, expected {smallest[0]}x{smallest[1]} to "
            f"{LARGEST[0]}x{LARGEST[1]}."
        )


def check_view(poses: Poses, view: str) -> None:
    """Refuse a view of what is not there; a gap's is left to who measures it.

    Raises:
        DrawingError: no such view, or no such joint, part or point.

    """
    if is_named(view) or is_gap(view):
        return
    joint_name(view)
    with Stage(poses, SMALLEST) as stage:
        stage.camera(view)


class _Pair:
    """Two stages that draw the two halves of a picture; `runs` is `None` for a still, which has no curve."""

    def __init__(
        self,
        compared: Comparison,
        sides: tuple[Side, Side],
        view: str,
        size: tuple[int, int],
        units: Length,
        runs: Runs | None,
    ) -> None:
        check_pair_size(size, film=runs is not None)
        rows = ROWS_STILL if runs is None else ROWS_FILM
        self._compared, self._sides, self._size, self._units = compared, sides, size, units
        self._view = view
        self._table = changes_strip(compared, size[0], units, rows)
        self._head = head_height(size)
        half = (size[0] // 2, size[1] - self._table.height - self._head)
        followed = tuple(tracks(side.poses) for side in sides)
        looked_at = None if is_named(view) or is_gap(view) else joint_name(view)
        strips = self._strips(followed, looked_at, half, runs)
        foot = Scale.of(half).caption + (strip_height(half) if strips[0] is not None else 0)
        with ExitStack() as stack:
            stages = [stack.enter_context(Stage(side.poses, (half[0], half[1] - foot))) for side in sides]
            camera = _camera(stages, view, sides[0].gaps)
            for stage in stages:
                stage.aim(camera)
            # What is of glass in one half is in the other too, so that only what differs looks different.
            glass = stages[0].glass | stages[1].glass
            for stage in stages:
                if stage.glass != glass:
                    stage.aim(camera, glass)
            self._stack = stack.pop_all()
        self._stages = stages
        self._frames = [
            Frames(stage, half, units, measures, view, looked_at, side.gaps, strip, beside=True)
            for stage, measures, strip, side in zip(stages, followed, strips, sides, strict=True)
        ]

    def __enter__(self) -> _Pair:
        return self

    def __exit__(self, *_: object) -> None:
        self._stack.close()

    def shot(self, pose: int) -> list[tuple[Shot, Array]]:
        """Draw a pose of both, and say where points that moved are and would be (k, 2, 2) in px."""
        if is_gap(self._view):
            self._cut_alike(pose)
        shots = []
        marked = marked_points(self._compared)
        for number, (stage, frames) in enumerate(zip(self._stages, self._frames, strict=True)):
            shot = frames.shot(pose)
            places = np.array([_places(stage, pose, moved, number) for moved in marked]).reshape(-1, 2, 3)
            shots.append((shot, stage.project(places)))
        return shots

    def _cut_alike(self, pose: int) -> None:
        """Let each half cut away, or look through, what the other has to in a pose."""
        for stage in self._stages:
            stage.cut_beside = Cut()
            stage.show(pose)
        first, second = self._stages
        first.cut_beside, second.cut_beside = second.cut, first.cut

    def finished(self, shots: list[tuple[Shot, Array]]) -> Image.Image:
        """The whole picture."""
        picture = Image.new("RGB", self._size, style.PAPER)
        verdicts = self._compared.first.verdict, self._compared.second.verdict
        for number, (side, frames, (shot, places)) in enumerate(zip(self._sides, self._frames, shots, strict=True)):
            half = frames.finished(shot)
            _draw_moved(half, places, number)
            picture.paste(_head(side, verdicts[number], (half.width, self._head)), (number * half.width, 0))
            picture.paste(half, (number * half.width, self._head))
        draw = ImageDraw.Draw(picture)
        middle, height = self._size[0] // 2, self._size[1] - self._table.height
        draw.line((middle, 0, middle, height), fill=style.LINE, width=2)
        picture.paste(self._table, (0, height))
        return picture

    def _strips(
        self,
        followed: tuple[tuple[Measure, ...], ...],
        looked_at: str | None,
        half: tuple[int, int],
        runs: Runs | None,
    ) -> tuple[CurveStrip | None, CurveStrip | None]:
        """The curve of one measure in both: of what changes most, or of the joint looked at."""
        height = strip_height(half)
        if runs is None or not height:
            return None, None
        measure = None
        for change in self._compared.changes:
            if isinstance(change.first, Finding) and looked_at is None and measure is None:
                measure = _alike(followed[0], change.first.what, change.first.measured_at)
        measure = measure or followed_measure(followed[0], self._sides[0].poses, looked_at)
        other = None if measure is None else _alike(followed[1], measure.what, measure.where)
        if measure is None or other is None:
            return None, None
        one, two = (
            CurveStrip(each, side.poses, (half[0], height), self._units, runs)
            for each, side in zip((measure, other), self._sides, strict=True)
        )
        return one, two


def _alike(followed: Sequence[Measure], what: str, where: str) -> Measure | None:
    """The measure of this name that changes with the pose, if there is one."""
    found = (measure for measure in followed if (measure.what, measure.where) == (what, where))
    return next((each for each in found if changes(each)), None)


def _camera(stages: Sequence[Stage], view: str, gaps: GapsAt | None) -> Camera:
    """One camera for both: it keeps the whole travel of either in frame, or looks at the first's joint or gap."""
    if not is_named(view):
        return camera_of(stages[0], view, gaps)
    size = stages[0].size
    return named_view(view, np.concatenate([stage.cloud() for stage in stages]), size[0] / size[1])


def _places(stage: Stage, pose: int, moved: Moved, own: int) -> Array:
    """Where a point is in a pose of one of the two, as it is in the first and as it is in the second (2, 3).

    Each is carried by what holds it; the other one's by what holds the point here where that part is not there.
    """
    parts, holders = stage.posture.parts, (moved.on, moved.now_on)
    here = holders[own]
    carried = [
        parts[on if on in parts else here].point(at)[pose]
        for on, at in zip(holders, (moved.first, moved.second), strict=True)
    ]
    return np.array(carried)


def _draw_moved(half: Image.Image, places: Array, own: int) -> None:
    """A line from a point's place in the first to that in the second: full at the half's own, open at the other."""
    scale, draw = Scale.of(half.size), ImageDraw.Draw(half)
    radius = 0.42 * scale.ring
    for ends in places.tolist():
        (ax, ay), (bx, by) = ends
        draw.line((ax, ay, bx, by), fill=style.PAPER, width=scale.line + 2)
        draw.line((ax, ay, bx, by), fill=style.MOVED, width=scale.line)
        for number, (x, y) in enumerate(ends):
            box = (x - radius, y - radius, x + radius, y + radius)
            draw.ellipse(box, fill=style.MOVED if number == own else style.PAPER, outline=style.MOVED, width=scale.line)


def head_height(size: tuple[int, int]) -> int:
    """How tall the head of either half is in a picture of `size`, in px."""
    return 3 * Scale.of((size[0] // 2, size[1])).text


def _head(side: Side, verdict: Verdict, size: tuple[int, int]) -> Image.Image:
    """What stands above a half: its letter, its file's name and the verdict on its whole travel with its sign."""
    head = Image.new("RGB", size, style.PAPER)
    draw, text = ImageDraw.Draw(head), size[1] / 3.0
    pad, box = 0.3 * text, 2.4 * text
    draw.rounded_rectangle((pad, pad, pad + box, pad + box), 0.35 * text, fill=style.INK)
    middle = (pad + box / 2, pad + box / 2)
    draw.text(middle, side.letter, font=style.font(round(1.4 * text), bold=True), fill=style.PAPER, anchor="mm")
    left, rows, sign = 3 * pad + box, (0.85 * text, 2.15 * text), 1.3 * text
    room = size[0] - left - pad
    draw_fitted(draw, (left, rows[0]), side.name, style.font(round(text)), style.INK, room)
    draw_sign(draw, (left + 0.45 * text, rows[1]), 0.45 * text, verdict.state)
    told = f"over the whole travel: {verdict_line(verdict)}"
    look, bold = style.STATES[verdict.state], style.font(round(text), bold=True)
    draw_fitted(draw, (left + sign, rows[1]), told, bold, look.colour, room - sign)
    return head
