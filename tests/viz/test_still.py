"""Pictures: marks are at their joints, labels keep apart, states have words, files are whole or not there."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw
from zoo import built, scene_data

from model.errors import CallError, DrawingError
from model.findings import judge
from model.measures import Quantity
from model.poses import Poses
from model.solver import solve
from model.travel import single
from model.units import Length
from model.verdicts import Finding, State, Verdict
from viz import still, style
from viz.gaps import GapMark
from viz.labels import Box, Scale, leader, place_labels
from viz.marks import draw_caption, draw_marks, draw_sign
from viz.stage import Stage
from viz.still import write_still
from viz.words import finding_text

pytestmark = pytest.mark.drawing
SIZE = (640, 400)


def finding(where: str, state: State, used: float = 0.3, limit: float | None = 0.25, typical: bool = False) -> Finding:
    return Finding("tilt", where, where, state, Quantity.ANGLE, used, limit, typical, "", 0, (), (0.0, 0.0, 0.0))


@pytest.fixture(scope="module")
def crossed() -> tuple[Poses, Verdict]:
    """The pickup's rear axle crossed up: more than one joint is over."""
    mechanism = built(scene_data("tarn_rear"))
    poses = solve(mechanism, single(mechanism, left=200.0, right=-200.0))
    return poses, judge(poses)


def meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


@pytest.mark.parametrize("view", ["three-quarter", "front", "top"])
def test_marks_are_at_their_joints(crossed: tuple[Poses, Verdict], tmp_path: Path, view: str) -> None:
    poses, verdict = crossed
    marks = write_still(poses, verdict, tmp_path / "axle.png", view=view, size=SIZE)
    assert marks
    pixels = np.asarray(Image.open(tmp_path / "axle.png"), dtype=int)
    assert pixels.shape == (SIZE[1], SIZE[0], 3)
    with Stage(poses, (SIZE[0], SIZE[1] - Scale.of(SIZE).caption)) as stage:
        stage.aim(stage.camera(view))
        for mark in marks:
            assert np.array(mark.at) == pytest.approx(stage.project(np.array([mark.findings[0].at]))[0], abs=0.5)
    # A ring of the state's colour stands about the joint: above, below, left and right of it.
    for mark in marks[:1]:
        colour = np.array(style.STATES[mark.state].colour)
        angles = np.linspace(0, 2 * np.pi, 36, endpoint=False)
        reach = mark.radius - 0.5 * Scale.of(SIZE).line
        spots = np.array(mark.at) + reach * np.stack([np.cos(angles), np.sin(angles)], axis=-1)
        x, y = spots.round().astype(int).T
        hits = (np.abs(pixels[y.clip(0, SIZE[1] - 1), x.clip(0, SIZE[0] - 1)] - colour).max(axis=1) < 60).mean()
        # At this size a close one is a line of two px, and half of its spots are blended with what is beside it.
        # Of the broken ring of a hidden place six tenths are drawn.
        assert hits > (0.3 if mark.hidden else 0.5)


def test_labels_keep_apart_from_each_other_the_caption_and_the_marks(
    crossed: tuple[Poses, Verdict], tmp_path: Path
) -> None:
    poses, verdict = crossed
    size = (1200, 750)
    marks = write_still(poses, verdict, tmp_path / "axle.png", size=size)
    labels = [mark.label for mark in marks if mark.label is not None]
    assert labels
    assert not any(meet(a, b) for a, b in combinations(labels, 2))
    for mark in marks:
        x, y = mark.at
        ring = x - mark.radius, y - mark.radius, x + mark.radius, y + mark.radius
        assert not any(meet(label, ring) for label in labels)
    assert all(label[3] <= size[1] - Scale.of(size).caption for label in labels)
    assert all(label[0] >= 0 and label[1] >= 0 and label[2] <= size[0] for label in labels)


def test_many_labels_close_together_find_room_or_are_left_out() -> None:
    scale = Scale.of((1200, 750))
    points = [(600.0 + 3 * k, 350.0 - 2 * k) for k in range(40)]
    boxes = place_labels(points, [22.0] * 40, [(300.0, 60.0)] * 40, np.zeros((700, 1200), dtype=bool), scale)
    placed = [box for box in boxes if box is not None]
    assert 10 < len(placed) < 40
    assert not any(meet(a, b) for a, b in combinations(placed, 2))


@pytest.mark.parametrize("size", [(1600, 1000), (900, 600)])
def test_five_labels_in_a_crowd_keep_off_each_other_and_each_others_leaders(size: tuple[int, int]) -> None:
    scale = Scale.of(size)
    middle = np.array(size) / 2
    near = scale.ring * np.array([[0.0, 0], [1.5, 0.4], [-1.2, 1.4], [0.3, -1.7], [1.1, 2.2]])
    points = [(float(x), float(y)) for x, y in middle + near]
    busy = np.zeros((size[1], size[0]), dtype=bool)
    busy[size[1] // 4 : 3 * size[1] // 4, size[0] // 4 : 3 * size[0] // 4] = True
    boxes = place_labels(points, [scale.ring] * 5, [(12.0 * scale.text, 2.6 * scale.text)] * 5, busy, scale)
    placed = [box for box in boxes if box is not None]
    assert len(placed) == 5
    assert not any(meet(a, b) for a, b in combinations(placed, 2))
    for at, box in zip(points, placed, strict=True):
        line = leader(at, scale.ring, box)
        assert line is not None
        spots = np.linspace(line[0], line[1], 200)[:-1]
        for other in placed:
            if other is not box:
                x, y = spots.T
                assert not ((x > other[0]) & (x < other[2]) & (y > other[1]) & (y < other[3])).any()
        for x, y in points:
            assert not meet(box, (x - scale.ring, y - scale.ring, x + scale.ring, y + scale.ring))


def test_labels_prefer_empty_ground() -> None:
    busy = np.zeros((600, 800), dtype=bool)
    busy[:, :400] = True
    (box,) = place_labels([(395.0, 300.0)], [20.0], [(150.0, 40.0)], busy, Scale.of((800, 600)))
    assert box is not None
    assert box[0] >= 400


def test_findings_of_one_place_share_a_mark_and_clear_ones_have_none() -> None:
    picture = Image.new("RGB", (800, 600), style.SKY)
    findings = [
        finding("upper link, at frame", State.OVER),
        finding("upper link, at frame", State.CLOSE),
        finding("lower link, at frame", State.CLOSE),
        finding("panhard, at axle", State.CLEAR),
    ]
    at = np.array([[100.0, 100], [100, 100], [500, 300], [600, 500]])
    marks = draw_marks(picture, findings, at, np.full(4, 0.2), np.zeros((600, 800), dtype=bool), Length.MM)
    assert [(mark.where, mark.state, len(mark.findings)) for mark in marks] == [
        ("upper link, at frame", State.OVER, 2),
        ("lower link, at frame", State.CLOSE, 1),
    ]


def test_a_finding_in_words() -> None:
    over = finding("a", State.OVER, np.radians(24.3), np.radians(22.0), typical=True)
    assert finding_text(over, Length.MM) == "tilt 24.3° of 22.0°, typical limit"
    stroke = Finding("stroke in", "a", "a", State.CLOSE, Quantity.LENGTH, 120.0, 127.0, False, "", 0, (), (0, 0, 0))
    assert finding_text(stroke, Length.MM) == "stroke in 120 mm of 127 mm"
    assert finding_text(stroke, Length.INCH) == "stroke in 4.72 in of 5.00 in"


def test_every_state_has_its_own_word_and_shape() -> None:
    looks = [style.STATES[state] for state in State]
    assert len({look.word for look in looks}) == len({look.shape for look in looks}) == len(looks)
    silhouettes = set()
    for state in State:
        sign = Image.new("RGB", (41, 41), style.PAPER)
        draw_sign(ImageDraw.Draw(sign), (20, 20), 15, state)
        silhouettes.add((np.asarray(sign).min(axis=2) < 200).tobytes())
    assert len(silhouettes) == len(State)


def test_a_long_title_does_not_run_into_the_verdict() -> None:
    picture = Image.new("RGB", (640, 400), style.SKY)
    draw_caption(picture, "Überlanger Titel " * 20, "both wheels 70 mm up", State.OVER, "3 over", "")
    strip = np.asarray(picture)[-Scale.of((640, 400)).caption + 3 :]
    dark = (strip.max(axis=2) < 120).any(axis=0)
    red = (np.abs(strip.astype(int) - style.STATES[State.OVER].colour).max(axis=2) < 30).any(axis=0)
    assert np.flatnonzero(dark).max() < np.flatnonzero(red).min()


def test_the_caption_says_what_is_nearest_only_where_all_is_clear() -> None:
    clear = Verdict(State.CLEAR, (finding("left arm", State.CLEAR, used=0.1),), 1, 0)
    gap = GapMark(("left wheel", "left arm"), np.zeros((2, 3)), 2.0, State.OVER, wanted=25.0)
    assert still._more(clear, [], (), Length.MM).startswith("nearest: left arm")
    assert still.verdict_text(clear, [gap]) == "1 over"
    assert still._more(clear, [gap], (), Length.MM) == ""


@pytest.mark.parametrize("name", ["axle.jpg", "axle", "axle.png.txt"])
def test_another_suffix_is_refused(crossed: tuple[Poses, Verdict], tmp_path: Path, name: str) -> None:
    with pytest.raises(CallError, match=r"\.png"):
        write_still(*crossed, tmp_path / name, size=SIZE)
    assert list(tmp_path.iterdir()) == []


def test_an_impossible_size_is_refused(crossed: tuple[Poses, Verdict], tmp_path: Path) -> None:
    with pytest.raises(DrawingError, match="20x9000"):
        write_still(*crossed, tmp_path / "axle.png", size=(20, 9000))


@pytest.mark.parametrize("failure", [KeyboardInterrupt, RuntimeError])
def test_a_failed_run_leaves_the_old_file_and_nothing_else(
    crossed: tuple[Poses, Verdict], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failure: type[BaseException]
) -> None:
    output = tmp_path / "axle.png"
    output.write_bytes(b"old")

    def fail(*_: object) -> None:
        raise failure

    monkeypatch.setattr(still, "draw_caption", fail)
    with pytest.raises(failure):
        write_still(*crossed, output, size=SIZE)
    assert output.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [output]


def test_a_missing_folder_is_said(crossed: tuple[Poses, Verdict], tmp_path: Path) -> None:
    with pytest.raises(CallError, match="does not exist"):
        write_still(*crossed, tmp_path / "nowhere" / "axle.png", size=SIZE)
