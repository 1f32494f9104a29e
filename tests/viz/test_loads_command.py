"""The command `loads` and the still of a load case: what they print, write, draw and refuse."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from rich.console import Console
from zoo import SCENES, built, scene_data

from model.errors import CallError, DrawingError
from model.forces import CaseLoads, CoiloverLoad, MountLoad, Residual, all_loads, loads_of
from model.loadcases import FULL_BUMP, STATIC, typical_cases
from model.mechanism import LoadCase
from model.units import Length
from viz import style
from viz.arrows import Arrow, arrow_ends, arrows_of, draw_arrows, forces_on, mm_per_newton
from viz.commands.loads import loads
from viz.commands.still import still
from viz.labels import Scale
from viz.loadstill import write_load_still
from viz.loadtables import load_tables
from viz.loadwords import (
    FOR_COMPARISON,
    NO_TRANSFER,
    OWN_ROLL,
    axial_text,
    coilover_text,
    forces_said,
    notes_on,
    rest_text,
)
from viz.mountwords import push_text
from viz.words import MINUS

FRONT, REAR = SCENES / "wren_front.toml", SCENES / "wren_rear.toml"
SIZE = (800, 500)


@pytest.fixture(scope="module")
def front() -> tuple[CaseLoads, ...]:
    mechanism = built(scene_data("wren_front"))
    return all_loads(mechanism, typical_cases(mechanism))


def test_every_case_is_printed_with_what_it_is_for(capsys: pytest.CaptureFixture[str]) -> None:
    loads(FRONT)
    out = capsys.readouterr().out
    for words in ("at rest", "bump", "braking", "right-hand turn", "Typical cases", FOR_COMPARISON, "can maim or kill"):
        assert words in out
    # Both sides alike are one row, in a turn they are not.
    assert "left and right coilover" in out
    assert "settled" in out


def test_one_case_is_told_with_directions_and_levers(capsys: pytest.CaptureFixture[str]) -> None:
    loads(FRONT, case=["braking"])
    out = capsys.readouterr().out
    row = next(line for line in out.splitlines() if line.startswith("left and right lower arm, front pivot"))
    assert "from rail" in row
    mount = next(
        mount
        for mount in loads_of(built(scene_data("wren_front")), LoadCase("braking", brake=0.9)).on_frame
        if (mount.member, mount.place) == ("left lower arm", "front pivot")
    )
    assert f"+{mount.force[1]:.0f} N" in row
    assert mount.force[0] < 0.0
    assert f"{MINUS}{abs(mount.force[0]):.0f} N" in row


def test_json_holds_the_same_numbers_in_units_that_its_keys_name(tmp_path: Path) -> None:
    output = tmp_path / "loads.json"
    loads(FRONT, case=["right-hand turn"], json_file=str(output), units=Length.INCH)
    found = json.loads(output.read_text(encoding="utf-8"))
    (case,) = found["cases"]
    assert found["format"] == "fulltravel loads 1"
    assert found["weights"]["left_n"] == pytest.approx(207 * 9.80665, abs=1e-3)
    assert case["typical"] is True
    # The vehicle stands: ground, unsprung weight and what the frame carries add up, to the thousandths that are kept.
    ground = np.sum([each["force_n"] for each in case["ground"]], axis=0)
    weight = np.array([0.0, 0.0, -2 * found["weights"]["unsprung_n"]])
    frame = np.sum([each["force_n"] for each in case["mounts"] if each["on"] == "frame"], axis=0)
    assert ground + weight == pytest.approx(frame, abs=0.02)
    assert case["left_over"]["whole"]["force_n"] < 1e-6
    (bar,) = case["bars"]
    assert bar["moment_nm"] != 0.0
    assert found["cautions"][0] == FOR_COMPARISON


def test_a_spring_is_told_what_it_lacks(front: tuple[CaseLoads, ...]) -> None:
    rest, bump = front[0], front[1]

    def said(needed: float, given: float | None, loaded: CaseLoads) -> str:
        return coilover_text(CoiloverLoad("left coilover", needed, given, 350.0), loaded, newtons)

    newtons = forces_said([3000.0], Length.MM)

    assert said(1000.0, 980.0, rest) == "its spring holds that"
    assert "lacks 400 N: it goes in until it has that" in said(1400.0, 1000.0, rest)
    assert "pushes 400 N more than that: it goes out until" in said(1000.0, 1400.0, rest)
    assert said(3000.0, 1000.0, bump) == "bump stop and tyre take the other 2000 N"
    assert "would have to pull" in said(-100.0, 200.0, rest)
    assert "no spring" in said(100.0, None, rest)
    drop = loads_of(rest.poses.mechanism, LoadCase("hanging", at=("droop", "droop")))
    assert said(100.0, 500.0, drop) == "strap or damper hold back the other 400 N of the spring"
    assert axial_text(-1234.0, newtons) == "1234 N push"
    assert axial_text(0.2, newtons) == "0 N"


def test_forces_of_one_row_are_in_one_unit_with_a_real_minus() -> None:
    said = forces_said([12_345.6, -40.0], Length.MM)
    assert [said(newton) for newton in (12_345.6, -40.0, -2.0)] == ["12.35 kN", f"{MINUS}0.04 kN", "0.00 kN"]
    said = forces_said([1234.0], Length.MM)
    assert [said(newton) for newton in (1234.0, -40.0, -0.2)] == ["1234 N", f"{MINUS}40 N", "0 N"]
    # 1 lbf is 4.4482216152605 N by the international pound and standard gravity.
    assert forces_said([50_000.0], Length.INCH)(-44_482.216) == f"{MINUS}10,000 lbf"


def test_balance_is_told_in_plain_words(front: tuple[CaseLoads, ...]) -> None:
    assert "within a millionth of a N, moments within a millionth of a N·m" in rest_text(front)
    # A couple of 0.5 N·m, which is no force at all.
    turned = replace(front[0], residual=Residual("left upright", 0.0, 500.0))
    assert "within a N, moments within a N·m" in rest_text([turned])


def test_notes_say_what_typical_cases_leave_out(front: tuple[CaseLoads, ...]) -> None:
    rest, _, braking, turn = front
    assert not {NO_TRANSFER, OWN_ROLL} & set(notes_on([rest]))
    assert NO_TRANSFER in notes_on([braking])
    assert OWN_ROLL in notes_on([turn])
    own = replace(braking, case=LoadCase("mine", brake=0.5))
    assert NO_TRANSFER not in notes_on([own])


@pytest.mark.parametrize(("left", "way"), [(400.0, "300 N in"), (-400.0, "300 N out"), (0.0, "300 N right")])
def test_sideways_is_in_or_out_but_on_the_centre_line(left: float, way: str) -> None:
    force = np.array([0.0, -300.0, 400.0])
    mount = MountLoad("upper link", "at frame", "frame", np.array([0.0, left, 300.0]), force, np.zeros(3), None)
    assert push_text(mount, forces_said([500.0], Length.MM)) == f"500 N: 400 N up, {way}"


def test_rows_of_both_sides_are_one_only_where_they_mirror_each_other(front: tuple[CaseLoads, ...]) -> None:
    def rows(of: CaseLoads) -> list[str]:
        tables = [part for part in load_tables([of], Length.MM).renderables if hasattr(part, "columns")]
        return [str(cell) for table in tables for cell in table.columns[0].cells]

    assert "left and right coilover" in rows(front[0])
    turned = rows(front[3])
    assert "left coilover" in turned
    assert "left and right coilover" not in turned
    # Equal sizes that point the same way across the car are no mirror images.
    mounts = tuple(
        replace(mount, force=np.array([0.0, 500.0, 0.0])) if mount.member.endswith("coilover") else mount
        for mount in front[0].mounts
    )
    assert "left coilover" in rows(replace(front[0], mounts=mounts))


def test_what_is_left_out_and_what_bends_a_link_is_said() -> None:
    data = scene_data("tarn_rear")
    front_end, rear_end = (np.array(data["points"][f"lower_{where}"]) for where in ("front", "rear"))
    data["points"]["on the link"] = (0.15 * front_end + 0.85 * rear_end).tolist()
    data["coilover"]["coilover"]["bottom"] |= {"on": "lower link", "point": "on the link"}
    loaded = loads_of(built(data), STATIC)
    page = io.StringIO()
    Console(file=page, width=200).print(load_tables([loaded], Length.MM, ["bump"]))
    assert "Left out, since the linkage locks before: bump." in page.getvalue()
    (row,) = [line for line in page.getvalue().splitlines() if "bent where its coilover sits" in line]
    assert row.startswith("left and right lower link")
    (link,) = [link for link in loaded.links if link.name == "left lower link"]
    assert f"{link.bending / 1000.0:.1f} N·m" in row


def test_arrows_are_to_one_scale_and_begin_or_end_where_forces_act(front: tuple[CaseLoads, ...]) -> None:
    forces, least = forces_on(front[2])
    sizes = [float(np.linalg.norm(force.force)) for force in forces]
    assert min(sizes) >= least > 0.0
    assert sizes == sorted(sizes, reverse=True)
    length = mm_per_newton(forces, 0.5, 500)
    ends = arrow_ends(forces, length)
    for force, (tail, head) in zip(forces, ends, strict=True):
        assert (head if force.ground else tail) == pytest.approx(force.at)
        assert head - tail == pytest.approx(length * force.force)
    # The longest is 26 % of the picture's height: 130 px of 500, at 0.5 px for a mm.
    assert length * max(sizes) == pytest.approx(260.0)
    inside = arrows_of(forces, np.full((len(forces), 2, 2), 100.0), (200, 200), Length.MM)
    assert len(inside) == len(forces)
    assert arrows_of(forces, np.full((len(forces), 2, 2), 300.0), (200, 200), Length.MM) == []


def test_arrows_are_drawn_in_their_colours_and_labels_keep_off_them() -> None:
    picture = Image.new("RGB", SIZE, style.PAPER)
    arrows = [
        Arrow("left coilover 2892 N", np.array([[400.0, 300.0], [400.0, 150.0]]), False),
        Arrow("left wheel 2030 N", np.array([[600.0, 460.0], [600.0, 340.0]]), True),
    ]
    busy = np.zeros((SIZE[1], SIZE[0]), dtype=bool)
    bare = draw_arrows(picture, arrows, busy, 0.05, Length.MM)
    assert bare == 0
    pixels = np.asarray(picture, dtype=int)
    # In the middle of its shaft an arrow has its own colour: filled, or hollow with an edge.
    assert pixels[250, 400] == pytest.approx(np.array(style.FORCE), abs=2)
    assert pixels[420, 600] == pytest.approx(np.array(style.PAPER), abs=2)
    half = round(0.17 * Scale.of(SIZE).ring)
    edge = pixels[420, 600 - 2 * half : 600 + 2 * half + 1]
    assert np.abs(edge - np.array(style.GROUND_FORCE)).max(axis=1).min() < 60


def test_close_up_only_what_a_part_does_and_has_done_to_it_is_drawn(front: tuple[CaseLoads, ...]) -> None:
    forces, _ = forces_on(front[2], "left lower arm")
    assert {force.name for force in forces} == {
        "left lower arm, front pivot",
        "left lower arm, rear pivot",
        "left lower arm, at upright",
        "left coilover, at lower arm",
        "left wheel",
    }


@pytest.mark.drawing
@pytest.mark.parametrize("view", ["three-quarter", "side"])
def test_a_case_is_drawn(front: tuple[CaseLoads, ...], tmp_path: Path, view: str) -> None:
    output = tmp_path / "case.png"
    drawn = write_load_still(front[1], output, view=view, size=SIZE)
    picture = np.asarray(Image.open(output), dtype=int)
    assert picture.shape == (SIZE[1], SIZE[0], 3)
    assert drawn == len(forces_on(front[1])[0])
    assert (np.abs(picture - np.array(style.FORCE)).max(axis=2) < 8).sum() > 300


@pytest.mark.drawing
def test_a_still_of_a_case_is_the_picture_that_loads_writes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    loads(REAR, case=["at rest"], output=tmp_path / "one.png", size="800x500")
    still(REAR, tmp_path / "two.png", case="at rest", size="800x500")
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.png").read_bytes()
    assert "the load case at rest" in capsys.readouterr().out


@pytest.mark.drawing
def test_json_on_the_screen_is_nothing_but_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    loads(REAR, case=["at rest"], json_file="-", output=tmp_path / "case.png", size="400x300")
    assert json.loads(capsys.readouterr().out)["title"] == "Wren roadster, rear"
    assert (tmp_path / "case.png").exists()


def test_wrong_calls_are_refused_and_print_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    output = tmp_path / "case.png"
    with pytest.raises(CallError, match='no load case "nope"; choose one of at rest'):
        loads(REAR, case=["nope"])
    with pytest.raises(CallError, match="a picture is of one load case and 5 are chosen"):
        loads(REAR, output=output)
    with pytest.raises(CallError, match=r"ends in \.jpg"):
        loads(REAR, case=["bump"], output=tmp_path / "case.jpg")
    with pytest.raises(CallError, match="--case has its own pose"):
        still(REAR, output, case="bump", bump=10.0)
    with pytest.raises(CallError, match="does not go with --ruler"):
        still(REAR, output, case="bump", ruler=True)
    with pytest.raises(CallError, match="does not go with the view"):
        loads(REAR, case=["bump"], output=output, view="gap:left wheel, left rail")
    with pytest.raises(DrawingError, match='no joint, part or point "nowhere"'):
        loads(REAR, case=["bump"], output=output, view="joint:nowhere")
    assert capsys.readouterr().out == ""
    assert not output.exists()


def test_typical_cases_that_others_compare_by_are_among_those_that_are_offered() -> None:
    assert {STATIC, FULL_BUMP} <= set(typical_cases(built(scene_data("tarn_front"))))
