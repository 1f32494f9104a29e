"""A comparison in words and side by side: who is better, which way a point moved, marks where the points are."""

from __future__ import annotations

import copy
import subprocess
from dataclasses import replace
from itertools import cycle as cycle_through
from pathlib import Path
from typing import Any

import imageio_ffmpeg
import numpy as np
import pytest
from PIL import Image
from zoo import built, on_link, scene_data

from model.bumpstops import TOO_LATE
from model.comparison import Better, Change, Comparison, Moved, Subject, compare
from model.cycles import Cycle
from model.errors import CallError, DrawingError
from model.measures import Quantity
from model.mounting import same_rate
from model.poses import Poses
from model.review import review
from model.solver import solve
from model.travel import common, cycle, grid, single
from model.units import Length
from model.verdicts import State
from viz import style
from viz.comparejson import comparison_json
from viz.comparereport import summary_lines
from viz.comparewords import change_row, changes_table, move_text, moved_table
from viz.cutaway import Cut
from viz.looking import gaps_of_each
from viz.mountwords import answer_lines, force_table, mount_table
from viz.sidebyside import Side, film_side_by_side, write_side_by_side
from viz.stage import Stage
from viz.words import finding_text, left_text, limit_text

SHIFT = 54.0


def other_scene() -> dict[str, Any]:
    other = copy.deepcopy(scene_data("tarn_rear"))
    other["coilover"]["coilover"]["bottom"]["bolt"] = "along"
    other["points"]["coilover_foot"][1] -= SHIFT
    return other


@pytest.fixture(scope="module")
def compared() -> Comparison:
    reviews = []
    for scene in (scene_data("tarn_rear"), other_scene()):
        mechanism = built(scene)
        reviews.append(review(solve(mechanism, grid(mechanism, 5, 3))))
    return compare(*reviews)


def sides_of(compared: Comparison, frames: int = 1) -> tuple[Side, Side]:
    mechanisms = compared.first.mechanism, compared.second.mechanism
    shared = common(*mechanisms)
    travel = cycle(shared, Cycle.CROSS, frames) if frames > 1 else single(shared, left=-150.0, right=150.0)
    first, second = (solve(mechanism, travel) for mechanism in mechanisms)
    return Side("A", "one.toml", first), Side("B", "two.toml", second)


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [
        ((0, 500, 300), (12, 530, 295), "12 mm forward, 30 mm out, 5.0 mm down"),
        ((0, -500, 300), (-12, -530, 300), "12 mm back, 30 mm out"),
        ((0, -500, 300), (0, -480, 300.01), "20 mm in"),
    ],
)
def test_which_way_a_point_moved_is_told_from_the_middle_of_the_vehicle(
    first: tuple[float, ...], second: tuple[float, ...], words: str
) -> None:
    moved = Moved("x", "frame", "frame", np.array(first, dtype=float), np.array(second, dtype=float))
    assert move_text(moved, Length.MM) == words


def test_the_tables_say_what_moved_and_who_is_better(compared: Comparison) -> None:
    assert moved_table(compared, Length.MM).rows == (("left and right coilover_foot", "axle", "54 mm", "54 mm in"),)
    assert moved_table(compared, Length.INCH).rows[0][2:] == ("2.13 in", "2.13 in in")
    changes = changes_table(compared, Length.MM)
    rows = {row[0]: row[1:] for row in changes.rows}
    first, second, better = rows["left and right coilover, at axle: tilt"]
    assert first.endswith("of 15.0°, over")
    assert second.endswith("of 15.0°, clear")
    assert better == "B"
    assert ("* typical limit" in changes.note) == any("*" in cell for row in changes.rows for cell in row)
    # What prints alike is no change, and a floor is not told as a share.
    assert all(row[1] != row[2] for row in changes.rows)
    assert not any("of at least" in cell for row in changes.rows for cell in row)


def test_the_answer_stands_first_in_sentences(compared: Comparison) -> None:
    sentences = answer_lines(compared, Length.MM)
    (one, other), *_ = compared.mountings
    assert sentences[0] == (
        f"For each mm of wheel the coilover moves {one.ratio:.2f} mm in A and {other.ratio:.2f} mm in B."
    )
    rate = same_rate(one, other)
    assert rate is not None
    assert sentences[1].startswith(f"For the same wheel rate and ride frequency B needs a spring of {rate:.1f} N/mm, ")
    assert sentences[2].startswith("The coilover pushes the frame with ")
    assert "not a strength check" in sentences[2]
    assert "lbf/in" in answer_lines(compared, Length.INCH)[1]
    assert answer_lines(compare(compared.first, compared.first), Length.MM) == ()


def test_what_left_and_right_do_alike_is_said_once(compared: Comparison) -> None:
    (one, other), (right, right_other) = compared.mountings
    assert right.rate is not None
    stiffer = replace(compared, mountings=((one, other), (replace(right, rate=2.0 * right.rate), right_other)))
    starts = [line.split(" For ")[0] for line in answer_lines(stiffer, Length.MM)]
    assert starts[:3] == ["left and right coilover:", "left coilover:", "right coilover:"]
    assert sum("pushes the frame" in line for line in starts) == 1


def test_what_is_over_in_one_only_comes_first_everywhere(compared: Comparison) -> None:
    told = summary_lines(compared, Length.MM)
    assert told[0] == "Over in A only: left and right coilover, at axle (tilt)."
    assert told[1:] == answer_lines(compared, Length.MM)
    document = comparison_json(compared, [("one.toml", None), ("two.toml", None)])
    assert document["answer"] == list(told)


def test_json_has_both_ends_of_a_motion_ratio_as_the_table_does(compared: Comparison) -> None:
    document = comparison_json(compared, [("one.toml", None), ("two.toml", None)])
    ratio = next(each["first"] for each in document["motion_ratios"] if each["run"] == "both")
    rows = {row[0]: row[1:] for row in mount_table(compared, Length.MM).rows}
    text = rows["left and right coilover: motion ratio, from full droop to full bump"][0]
    assert text.startswith(f"{ratio['droop']:.3f} to {ratio['bump']:.3f} (")
    assert {ratio["droop"], ratio["bump"]} & {ratio["lowest"], ratio["highest"]}


def test_a_late_bump_stop_is_told_in_words(compared: Comparison) -> None:
    late = replace(
        compared.first.verdict.findings[0],
        what=TOO_LATE,
        where="left coilover, after the left wheel meets the left coilover spring",
        state=State.CLOSE,
        quantity=Quantity.LENGTH,
        used=1.6,
        limit=0.0,
        typical=False,
    )
    row = change_row(Change(Subject.LIMIT, None, late, Better.FIRST, (1, 0.0)), Length.MM)
    assert row == (
        "left coilover, after the left wheel meets the left coilover spring: bump stop acts too late",
        "in time",
        "by 1.6 mm of wheel travel, beyond the travel asked for, close",
        "A",
    )
    over = finding_text(replace(late, state=State.OVER), Length.MM)
    assert over == "bump stop acts too late by 1.6 mm of wheel travel, inside the travel asked for"
    assert (limit_text(late, Length.MM), left_text(late, Length.MM)) == ("in time", "")


def test_a_spring_that_bends_the_link_it_stands_on_is_told() -> None:
    reviews = []
    for scene in (scene_data("tarn_rear"), on_link(0.8)):
        mechanism = built(scene)
        reviews.append(review(solve(mechanism, grid(mechanism, 3, 3))))
    found = compare(*reviews)
    assert answer_lines(found, Length.MM)[-1] == (
        "In B the spring bends the lower link that it stands on, which has to be made for that."
    )
    (row,) = (row for row in moved_table(found, Length.MM).rows if row[0] == "left and right coilover_foot")
    assert row[1] == "lower link instead of axle"


def test_springs_and_forces_have_tables_of_their_own(compared: Comparison) -> None:
    springs = {row[0]: row[1:] for row in mount_table(compared, Length.MM).rows}
    (one, other), *_ = compared.mountings
    assert springs["left and right coilover: motion ratio"][:2] == (f"{one.ratio:.3f}", f"{other.ratio:.3f}")
    assert springs["left and right coilover: motion ratio, crossed up"][2] == "–"
    assert springs["left and right coilover: spring"][:2] == ("14.0 N/mm", "14.0 N/mm")
    forces = force_table(compared, Length.MM)
    rows = {row[0]: row[1:] for row in forces.rows}
    first, second, better = rows["left and right coilover, at frame: at rest"]
    assert first.startswith(f"{np.linalg.norm(compared.loads[0].rest['left coilover', 'at frame'].force):.0f} N: ")
    sizes = [float(cell.split(" ")[0]) for cell in (first, second)]
    assert better == ("–" if abs(sizes[0] - sizes[1]) <= 0.05 * max(sizes) else "AB"[int(np.argmin(sizes))])
    assert "not a strength check" in forces.note
    same = compare(compared.first, compared.first)
    assert (mount_table(same, Length.MM).rows, force_table(same, Length.MM).rows) == ((), ())


@pytest.mark.drawing
def test_the_picture_marks_both_places_of_a_point_in_both_halves(compared: Comparison, tmp_path: Path) -> None:
    output = tmp_path / "both.png"
    size = (1200, 760)
    write_side_by_side(compared, sides_of(compared), output, size=size, view="front")
    with Image.open(output) as picture:
        assert picture.size == size
        pixels = np.asarray(picture.convert("RGB")).astype(int)
    marked = np.abs(pixels - np.array(style.MOVED)).max(axis=2) < 12
    # The heading of the table is in the same colour, below the two views.
    half, views = size[0] // 2, slice(0, 420)
    left, right = marked[views, :half], marked[views, half:]
    assert left.sum() > 60
    assert right.sum() > 60
    # The same camera: marks are at the same places of either half, full at its own place and open at the other.
    assert np.argwhere(left).mean(axis=0) == pytest.approx(np.argwhere(right).mean(axis=0), abs=6.0)
    assert (left ^ right).sum() > 30


@pytest.mark.drawing
def test_each_half_shows_the_verdict_on_its_whole_travel(compared: Comparison, tmp_path: Path) -> None:
    output = tmp_path / "both.png"
    write_side_by_side(compared, sides_of(compared), output, size=(1200, 760))
    states = [review.verdict.state for review in (compared.first, compared.second)]
    assert states == [State.OVER, State.CLOSE]
    with Image.open(output) as picture:
        pixels = np.asarray(picture.convert("RGB")).astype(int)
    for left, mine, other in ((0, *states), (600, *reversed(states))):
        corner = pixels[:40, left : left + 400]
        # Of the sign and of the words beside it.
        seen = [
            (np.abs(corner - np.array(style.STATES[state].colour)).max(axis=2) < 12).sum() for state in (mine, other)
        ]
        assert seen[0] > 60
        assert seen[1] == 0


@pytest.mark.drawing
def test_a_wheel_can_be_of_glass_because_it_hides_something_in_the_other_half(compared: Comparison) -> None:
    with Stage(sides_of(compared)[0].poses, (320, 200)) as stage:
        stage.aim(stage.camera("three-quarter"))
        own = stage.glass
        stage.aim(stage.camera("three-quarter"), {"left wheel", "right wheel"})
        assert own < stage.glass == {"left wheel", "right wheel"}


def test_what_either_half_cuts_away_is_cut_away_in_both() -> None:
    one, other = Cut(away=("rail",), glass=("wheel",)), Cut(away=("wheel",), glass=("spring",))
    assert one.joined(other) == other.joined(one) == Cut(away=("rail", "wheel"), glass=("spring",))


@pytest.mark.drawing
def test_a_gap_is_opened_up_alike_in_both_halves(compared: Comparison, tmp_path: Path) -> None:
    names = "axle", "left coilover spring"
    view = f"gap:{', '.join(names)}"
    sides = [replace(side, gaps=gaps_of_each(side.poses, view)) for side in sides_of(compared)]
    output = tmp_path / "gap.png"
    cuts: list[Cut] = []
    # One half has to cut a part away, the other to look through another: what they see is opened up in turn.
    needed = cycle_through([Cut(away=("left rail",)), Cut(glass=("left wheel",))])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("viz.stage.cut_for", lambda _camera, _sight: next(needed))
        patch.setattr("viz.film.cut_text", lambda cut: cuts.append(cut) or [])
        write_side_by_side(compared, (sides[0], sides[1]), output, size=(900, 620), view=view)
    assert cuts == [Cut(away=("left rail",), glass=("left wheel",))] * 2


@pytest.mark.drawing
def test_the_film_shows_both_and_has_every_frame(compared: Comparison, tmp_path: Path) -> None:
    output = tmp_path / "both.mp4"
    size, frames = (960, 540), 5
    film_side_by_side(compared, sides_of(compared, frames), output, size=size, fps=10, runs=[("crossed up", 0)])
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-i", str(output), "-f", "rawvideo", "-pix_fmt", "rgb24", "-"]
    done = subprocess.run(command, capture_output=True, check=True)
    assert len(done.stdout) == frames * size[0] * size[1] * 3


@pytest.mark.drawing
def test_a_size_too_small_for_two_is_refused(compared: Comparison, tmp_path: Path) -> None:
    with pytest.raises(DrawingError):
        write_side_by_side(compared, sides_of(compared), tmp_path / "a.png", size=(200, 100))
    assert list(tmp_path.iterdir()) == []


def test_a_front_is_not_compared_with_a_rear() -> None:
    with pytest.raises(CallError, match="expected the same of both"):
        common(built(scene_data("wren_front")), built(scene_data("tarn_rear")))


def test_the_travel_is_what_both_have() -> None:
    scene = scene_data("tarn_rear")
    other = copy.deepcopy(scene)
    other["travel"] |= {"bump": 80, "droop": 120}
    first, second = built(scene), built(other)
    shared = common(first, second)
    for one, two, both in zip(first.drives, second.drives, shared.drives, strict=True):
        assert both.high == min(one.high, two.high)
        assert both.low == max(one.low, two.low)
    poses: Poses = solve(first, cycle(shared, Cycle.BOTH, 9))
    assert poses.travel.column("left").max() <= 80.0 + 1e-9
