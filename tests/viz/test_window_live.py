"""What stands behind the live window, without a screen: poses, choices, file watching, cameras, panels."""

from __future__ import annotations

import itertools
import os
import re
import signal
import time
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from model.cycles import Cycle
from model.errors import SceneError
from model.findings import judge
from model.measures import GAP
from model.poses import Status
from model.solver import solve
from model.travel import Travel
from model.units import Length
from model.verdicts import State
from viz import style, windowlive, windowwatch
from viz.apart import deaf_to_ctrl_c
from viz.curve import CurveStrip
from viz.views import VIEW_ANGLE, Camera
from viz.window import free_name
from viz.windowbar import Bar, amount_text, chip_at, chips
from viz.windowcamera import between, neared, seen_height, shifted, turned
from viz.windowgaps import GapHere, finding_of_gap
from viz.windowkeys import BUTTONS, HELP, KEYS, RUN_KEYS, TOGGLES
from viz.windowlist import LOCKED_HERE, FindingList, Here
from viz.windowlive import Live
from viz.windowpaint import write
from viz.windowpose import Scene, rail_through, read, with_gaps
from viz.windowwatch import FileWatch, Job, Jobs

SCENES = Path(__file__).parents[2] / "scenes"


@pytest.fixture(scope="module")
def front() -> Scene:
    return read(SCENES / "wren_front.toml", None)


@pytest.fixture(scope="module")
def rear() -> Scene:
    return read(SCENES / "tarn_rear.toml", None)


def test_a_rail_s_poses_are_the_solver_s_and_judged_as_it_judges_them(front: Scene) -> None:
    drives = np.array([22.0, -31.0, 0.35])
    for run in (Cycle.LEFT, Cycle.BOTH, Cycle.CROSS, Cycle.STEER):
        rail = rail_through(front.mechanism, run, drives, Length.MM)
        number = len(rail.amounts) // 3
        alone = solve(front.mechanism, Travel(rail.poses.travel.names, rail.poses.travel.values[number : number + 1]))
        # Both start from ride height by themselves and end at the solver's promise of 1e-9 mm; rad over a metre of arm.
        np.testing.assert_allclose(rail.poses.translation[:, number], alone.translation[:, 0], atol=1e-6)
        verdict, found = rail.verdict(number)
        expected = judge(alone)
        assert verdict.state is expected.state
        assert {(one.what, one.where) for one in verdict.findings} == {(f.what, f.where) for f in expected.findings}
        by_name = {(one.what, one.where): one.used for one in verdict.findings}
        for one in expected.findings:
            assert by_name[one.what, one.where] == pytest.approx(one.used, abs=1e-6)
        assert len(found) == len(verdict.findings)


def test_a_rail_goes_through_its_pose_and_stays_inside_the_travel(front: Scene) -> None:
    drives = np.array([22.4, -31.3, 0.355])
    low = np.array([drive.low for drive in front.mechanism.drives])
    high = np.array([drive.high for drive in front.mechanism.drives])
    for run in (Cycle.LEFT, Cycle.RIGHT, Cycle.BOTH, Cycle.CROSS, Cycle.STEER):
        values = rail_through(front.mechanism, run, drives, Length.MM).poses.travel.values
        assert np.abs(values - drives).max(axis=1).min() < 1e-9
        assert (values >= low).all()
        assert (values <= high).all()
        # To the very end of one of the drives, both ways.
        assert (np.isclose(values[0], low) | np.isclose(values[0], high)).any()
        assert (np.isclose(values[-1], low) | np.isclose(values[-1], high)).any()


def test_keys_step_onto_round_numbers_and_any_combination_stays(front: Scene) -> None:
    live = Live(front)
    live.nudge(Cycle.LEFT, 1.0, small=True)
    live.nudge(Cycle.LEFT, 1.0, small=False)
    live.nudge(Cycle.RIGHT, -1.0, small=False)
    live.nudge(Cycle.STEER, 1.0, small=False)
    np.testing.assert_allclose(live.drives, [5.0, -5.0, 0.05], atol=1e-9)
    live.nudge(Cycle.BOTH, 1.0, small=False)
    np.testing.assert_allclose(live.drives, [10.0, 0.0, 0.05], atol=1e-9)
    live.nudge(Cycle.CROSS, -1.0, small=False)
    np.testing.assert_allclose(live.drives, [5.0, 5.0, 0.05], atol=1e-9)
    live.run = Cycle.LEFT
    live.choose_run(Cycle.STEER)
    live.to_end(1.0)
    assert live.drives[2] == 1.0
    assert {slider.run: slider.amount for slider in live.sliders()}[Cycle.BOTH] == pytest.approx(5.0)


def test_a_slider_whose_run_has_no_room_left_stands_where_the_wheels_are(rear: Scene) -> None:
    live = Live(rear)
    live.choose_run(Cycle.CROSS)
    live.to_end(1.0)
    both = next(slider for slider in live.sliders() if slider.run is Cycle.BOTH)
    # Fully crossed the wheels' middle is at ride height, and there is no way for both: the knob stands in the middle.
    assert (both.low, both.amount, both.high) == pytest.approx((-200.0, 0.0, 200.0))
    live.move(Cycle.BOTH, 50.0)
    np.testing.assert_allclose(live.drives, [200.0, -200.0])


def test_a_pose_beyond_a_hard_stop_says_so(tmp_path: Path) -> None:
    path = tmp_path / "far.toml"
    text = (SCENES / "tarn_rear.toml").read_text(encoding="utf-8")
    path.write_text(re.sub(r"bump = 200", "bump = 300", text), encoding="utf-8")
    live = Live(read(path, None))
    assert live.rail.beyond(live.pose) == ()
    live.to_end(1.0)
    beyond = live.rail.beyond(live.pose)
    assert any("left coilover" in sentence for sentence in beyond)
    assert all(re.fullmatch(r"Beyond a hard stop: [a-z ]+, [a-z ]+\.", sentence) for sentence in beyond)


def test_what_is_measured_at_ride_height_only_is_not_said_to_lock(rear: Scene) -> None:
    live = Live(rear)
    measure = next(each for each in live.rail.followed.values() if np.isnan(each.values).any())
    strip = CurveStrip(measure, live.rail.poses, (600, 80), Length.MM)
    state, value, left_over = strip.said(0)
    assert (state, value) == (State.UNJUDGED, "–")
    assert "locked" not in left_over


def test_choosing_goes_to_the_worst_pose_and_the_curve_passes_through_it(rear: Scene) -> None:
    live = Live(rear)
    finding = live.choose(0)
    assert finding is not None
    assert finding.state is State.OVER
    np.testing.assert_allclose(live.drives, finding.drives)
    verdict, found = live.verdict()
    row = live.chosen_row
    assert row is not None
    assert row.key is not None
    assert found[row.key].used == pytest.approx(finding.used, abs=1e-9)
    assert verdict.state is State.OVER
    assert live.curve is not None
    assert live.curve.values[live.pose] == pytest.approx(finding.used, abs=1e-9)
    # The worst of the left coilover is looked at by moving the left wheel.
    assert live.run is (Cycle.LEFT if finding.where.startswith("left") else Cycle.RIGHT)


def test_time_plays_the_whole_run_and_every_run(rear: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    now = itertools.count(0.0, 0.11)
    monkeypatch.setattr(windowlive.time, "monotonic", lambda: next(now))
    live = Live(rear)
    live.play(every=False)
    heights = []
    for _ in range(60):
        live.tick()
        heights.append(live.drives[0])
    assert (min(heights), max(heights)) == pytest.approx((-200.0, 200.0), abs=3.0)
    live.play(every=False)
    assert not live.playing
    live.play(every=True)
    runs = set()
    for _ in range(400):
        live.tick()
        runs.add(live.run)
    assert runs == set(live.runs)
    assert not live.playing
    assert not live.drives.any()


def test_a_locked_pose_says_so_and_shows_the_last_that_is_reached(tmp_path: Path) -> None:
    text = (SCENES / "parcel_rear.toml").read_text(encoding="utf-8")
    live = Live(read_text(tmp_path, text.replace("bump = 75", "bump = 600")))
    finding = live.choose(0)
    assert finding is not None
    assert finding.state is State.LOCKED
    assert live.rail.poses.status[live.pose] == Status.LOCKED
    words = live.rail.words(live.pose, Length.MM)
    assert "straight" in words or "locks" in words
    assert "last place reached" in words
    verdict, found = live.verdict()
    assert verdict.state is State.LOCKED
    assert not found
    rows = FindingList()
    rows.rows = live.rows
    rows.sized((300, 900), 12)
    here = Here(found, live.rail.followed, live.rail.locked(live.pose), Length.MM)
    looks = [here.look(row, chosen=False) for row in live.rows]
    assert looks[0].value == "locks here"
    assert {look.limit for look in looks[1:]} == {LOCKED_HERE}
    assert rows.picture(here, None).shape == (900, 300, 4)


def read_text(folder: Path, text: str) -> Scene:
    path = folder / "scene.toml"
    path.write_text(text, encoding="utf-8")
    return read(path, None)


def test_another_reading_keeps_pose_and_choice(rear: Scene, tmp_path: Path) -> None:
    live = Live(rear)
    live.choose(1)
    before = live.drives.copy()
    row = live.chosen_row
    text = (SCENES / "tarn_rear.toml").read_text(encoding="utf-8")
    live.take(read_text(tmp_path, text.replace("Tarn trail pickup", "Tarn")))
    np.testing.assert_allclose(live.drives, before)
    assert row is not None
    assert live.chosen_row is not None
    assert live.chosen_row.worst.where == row.worst.where
    # With less travel it stands at what is left of it.
    live.take(read_text(tmp_path, text.replace("bump = 200", "bump = 120").replace("droop = 200", "droop = 80")))
    np.testing.assert_allclose(np.sort(live.drives), [-80.0, 120.0])


def test_a_file_is_seen_to_be_saved_also_by_another_of_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(windowwatch, "PATIENCE", 0.0)
    path = tmp_path / "scene.toml"
    path.write_text("one")
    watch = FileWatch(path)
    assert not watch.saved()
    other = tmp_path / "other"
    other.write_text("two")
    stat = path.stat()
    os.utime(other, ns=(stat.st_atime_ns, stat.st_mtime_ns))  # the same age and size, and yet another file
    other.replace(path)
    assert [watch.saved() for _ in range(3)] == [False, True, False]
    path.unlink()
    assert not any(watch.saved() for _ in range(3))
    path.write_text("three")
    assert [watch.saved() for _ in range(3)] == [False, True, False]


def test_a_scene_s_mesh_files_are_watched_with_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(windowwatch, "PATIENCE", 0.0)
    scene, mesh, other = (tmp_path / name for name in ("scene.toml", "mine.stl", "other.stl"))
    for path in (scene, mesh, other):
        path.write_text("one")
    watch = FileWatch(scene)
    watch.follow(scene, mesh)
    other.write_text("two, and longer")
    assert not any(watch.saved() for _ in range(3))
    mesh.write_text("two, and longer")
    assert [watch.saved() for _ in range(3)] == [False, True, False]
    # What is saved while the scene is read anew is still seen afterwards.
    mesh.write_text("three, and longer still")
    watch.follow(scene, mesh, other)
    assert [watch.saved() for _ in range(3)] == [False, True, False]


def test_a_mesh_file_that_is_wrong_is_told_of_when_the_scene_is_read(tmp_path: Path) -> None:
    text = (SCENES / "tarn_rear.toml").read_text(encoding="utf-8")
    mesh = tmp_path / "rail.stl"
    scene = text + '\n[mesh.mine]\nof = "left upper link"\nfile = "rail.stl"\n'
    mesh.write_text("solid nothing\nendsolid nothing\n")
    with pytest.raises(SceneError, match=re.escape("rail.stl")):
        read_text(tmp_path, scene)


def test_gaps_come_with_the_rest_and_are_measured_where_they_are_chosen(rear: Scene) -> None:
    live, changed = Live(rear), []
    live.judge(with_gaps(rear.mechanism))
    rows = [row for row in live.rows if row.worst.what == GAP]
    assert live.judged.gaps is not None
    assert {row.worst.where for row in rows} == set(live.judged.gaps)
    here = Here({}, live.rail.followed, (), Length.MM)
    assert "here" in here.look(rows[0], chosen=False).limit

    jobs = Jobs()
    gap = GapHere(jobs, lambda: changed.append(True))
    number = live.rows.index(rows[0])
    finding = live.choose(number)
    assert finding is not None
    told = gap.told(live.judged, finding, rear.mechanism)
    assert told is not None
    assert told.distance == finding.used
    assert gap.at(finding, live.judged, live.rail.poses, live.pose) is told
    # Elsewhere it is measured beside the window, and there it is no smaller.
    live.nudge(live.run, 1.0 if live.drives[0] < 0.0 else -1.0, small=False)
    assert gap.at(finding, live.judged, live.rail.poses, live.pose) is None
    end = time.monotonic() + 30.0
    while not changed and time.monotonic() < end:
        jobs.finish(lambda name, error: pytest.fail(f"{name}: {error}"))
    elsewhere = gap.at(finding, live.judged, live.rail.poses, live.pose)
    assert elsewhere is not None
    # As exact as the search is (model.search).
    assert elsewhere.distance > told.distance - 0.05
    shown = here.look(rows[0], chosen=True)
    assert shown.state is None
    found = finding_of_gap(finding, elsewhere, tuple(live.drives.tolist()))
    assert rows[0].key is not None
    shown = Here({rows[0].key: found}, live.rail.followed, (), Length.MM).look(rows[0], chosen=True)
    assert shown.value == Length.MM.text(elsewhere.distance)


def test_long_work_goes_on_in_a_process_and_ends_when_it_is_told_to() -> None:
    jobs, taken, complained = Jobs(), [], []
    jobs.start("good", partial(pow, 7, 2), taken.append, apart=True)
    jobs.start("bad", partial(read, SCENES / "none.toml", None), taken.append, apart=True)
    end = time.monotonic() + 60.0
    while len(jobs) and time.monotonic() < end:
        jobs.finish(lambda name, error: complained.append((name, len(error.complaints))))
    assert (taken, complained) == ([49], [("bad", 1)])
    jobs.start("long", partial(time.sleep, 600.0), taken.append, apart=True)
    begun = time.monotonic()
    jobs.stop()
    assert not jobs
    assert time.monotonic() - begun < 60.0


def test_ctrl_c_while_a_process_is_started_is_heard_after() -> None:
    started = []
    with pytest.raises(KeyboardInterrupt), deaf_to_ctrl_c():  # noqa: PT012
        os.kill(os.getpid(), signal.SIGINT)
        started.append(True)
    assert started


def test_jobs_hand_over_what_they_give_and_mistakes_by_name() -> None:
    jobs, taken, complained = Jobs(), [], []

    def fail() -> None:
        raise SceneError("It is wrong.")

    jobs.start("good", lambda: 7, taken.append)
    jobs.start("bad", fail, taken.append)
    end = time.monotonic() + 10.0
    while len(jobs) and time.monotonic() < end:
        jobs.finish(lambda name, error: complained.append((name, error.complaints)))
    assert (taken, complained) == ([7], [("bad", ("It is wrong.",))])
    assert Job(lambda: "done").result() == "done"


def test_a_hand_turns_shifts_and_nears_the_camera() -> None:
    camera = Camera(np.array([4000.0, 0.0, 800.0]), np.array([0.0, 0.0, 300.0]), np.array([0.0, 0.0, 1.0]), None)
    away = np.linalg.norm(camera.position - camera.focus)
    round_it = turned(camera, 0.25, 0.1)
    assert np.linalg.norm(round_it.position - round_it.focus) == pytest.approx(away)
    assert round_it.position[1] < 0.0  # what is looked at follows the hand to the right
    assert round_it.position[2] > camera.position[2]
    above = turned(camera, 0.0, 5.0)
    assert np.isfinite(above.position).all()
    assert above.direction[2] < 1.0
    aside = shifted(camera, 0.5, 0.0)
    # Half a window's height to the right is half of what is in sight there.
    assert np.linalg.norm(aside.focus - camera.focus) == pytest.approx(0.5 * seen_height(camera))
    assert seen_height(camera) == pytest.approx(2.0 * away * np.tan(np.radians(VIEW_ANGLE / 2.0)))
    assert seen_height(neared(camera, 3)) < seen_height(camera)
    assert between(camera, aside, 0.0).position == pytest.approx(camera.position)
    assert between(camera, aside, 1.0) is aside


def test_what_is_drawn_is_what_is_hit(rear: Scene) -> None:
    live, bar, rows = Live(rear), Bar(), FindingList()
    bar.sized(900, 15)
    sliders = live.sliders()
    for number, slider in enumerate(sliders):
        x, _ = bar.knob(number, slider, len(sliders))
        assert bar.slider_at(x, len(sliders)) == number
        assert bar.amount_at(x, number, slider, len(sliders)) == pytest.approx(slider.amount, abs=1e-6)
    rows.rows = live.rows
    rows.sized((300, 500), 15)
    for number in (0, len(live.rows) - 1, 3):
        rows.reveal(number)
        middle = rows.row_middle(number)
        assert middle is not None
        assert rows.at(middle) == number
    switches = chips(15, frozenset())
    acts = [chip_at(y, 15) for y in range(switches.height)]
    assert list(dict.fromkeys(act for act in acts if act is not None)) == [*TOGGLES, *BUTTONS]


@pytest.mark.parametrize("size", [8, 9, 10, 13, 15])
def test_a_number_written_letter_by_letter_has_all_its_ink(size: int) -> None:
    text, font = "0.7° of 12.34 mm, −9", style.font(size)
    canvas = np.full((30, 240, 4), 255, dtype=np.uint8)
    write(canvas, (4.0, 14.5), text, font, style.INK, (255, 255, 255, 255))
    line = Image.new("RGBA", (240, 30), (255, 255, 255, 255))
    ImageDraw.Draw(line).text((4.0, 14.0), text, font=font, fill=style.INK, anchor="lm")
    ink = [255.0 - np.asarray(picture)[..., 0].astype(float) for picture in (canvas, line)]
    # Letters stand on whole pixels either way; what two of them share of one counts once.
    assert ink[0].sum() == pytest.approx(ink[1].sum(), rel=0.02)
    rows = [np.flatnonzero(each.any(axis=1))[[0, -1]].tolist() for each in ink]
    assert rows[0] == rows[1]


def test_every_letter_that_is_shown_does_what_is_said_of_it() -> None:
    assert all(KEYS[letter] is act for act, letter in (TOGGLES | BUTTONS).items())
    told = " ".join(keys for _, lines in HELP for keys, _ in lines)
    assert all(letter in told.split() for letter in [*TOGGLES.values(), "p", "v", "n", "b", "a", *RUN_KEYS])


def test_amounts_and_names(tmp_path: Path) -> None:
    assert amount_text(Cycle.LEFT, -35.0, Length.MM) == "−35 mm"
    assert amount_text(Cycle.BOTH, 25.4, Length.INCH) == "+1.00 in"
    assert amount_text(Cycle.LEFT, 0.0, Length.MM) == "ride height"
    assert amount_text(Cycle.STEER, -1.0, Length.MM) == "100 % right"
    (tmp_path / "car-1.png").touch()
    assert free_name(tmp_path, "car") == tmp_path / "car-2.png"
