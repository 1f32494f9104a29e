"""A scene written with its values changed: in whatever shape of TOML, and read again before it is kept.

D: TOML 1.0.0, as Python's own `tomllib` reads it.
"""

from __future__ import annotations

import json
import re
import tomllib

import pytest
from zoo import SCENES

from model.edits import Edit, edited
from model.errors import CallError
from model.reading import read_scene
from viz import scenewriter
from viz.scenewriter import edited_text, written_words

REAR = SCENES / "wren_rear.toml"
OUT = SCENES / "out.toml"
CHANGES = (
    Edit(("points", "lower_front"), [471.5, 400.0, 250.0]),
    Edit(("points", "right lower_front"), [470.0, -400.0, 250.25]),
    Edit(("coilover", "coilover", "spring", "preload"), 12.0),
    Edit(("coilover", "coilover", "bottom", "bolt"), [1.0, 0.0, 0.5]),
    Edit(("link", "upper link", "to", "engaged"), 21.5),
    Edit(("travel", "bump"), 74.0),
)
SHAPES = (
    "[variant.stiff]\ncoilover.coilover.spring.rate = 25\n",
    "[variant.stiff.coilover]\ncoilover.spring.rate = 25\n",
    "[variant.stiff]\nweights = {wheel = 300}\npoints = {lower_front = [470, 400, 240]}\n"
    "coilover = {coilover = {spring = {rate = 25}}}\n",
    "[variant]\nstiff.coilover.coilover.spring.rate = 25\n",
    "[variant]\nstiff = {coilover = {coilover = {spring = {rate = 25}}}}\n",
    "[variant.stiff.coilover.coilover.spring]\nrate = 25\n[variant.more]\nof = 'stiff'\nweights.wheel = 300",
    "[variant.stiff.coilover.coilover.spring]\nrate = 25\n[frame.rod]\npath = ['rail_front', 'rail_back']\n"
    "diameter = 9\n[variant.stiff.travel]\nbump = 70\n",
)


@pytest.mark.parametrize("shape", SHAPES)
def test_a_variant_keeps_its_shape_and_reads_as_it_was_changed(shape):
    text = f"{REAR.read_text()}\n{shape}"
    was, now = tomllib.loads(text), tomllib.loads(edited_text(text, REAR, OUT, CHANGES, "stiff"))
    expected = edited(was, [Edit(("variant", "stiff", *change.key), change.value) for change in CHANGES])
    assert now == expected


@pytest.mark.parametrize("written", ["[frame\n", "title = 'another scene'\n", None])
def test_what_does_not_read_as_it_should_is_refused(written, monkeypatch):
    monkeypatch.setattr(scenewriter, "_written", lambda _text, _changes: written)
    with pytest.raises(CallError, match="is laid out in a way that the new values cannot be written into") as told:
        edited_text(REAR.read_text(), REAR, OUT, CHANGES)
    assert len(told.value.complaints) == 1


def test_what_is_no_scene_is_refused():
    with pytest.raises(CallError, match=r"the scene would be wrong.*droop is -1") as told:
        edited_text(REAR.read_text(), REAR, OUT, [Edit(("travel", "droop"), -1.0)])
    assert len(told.value.complaints) == 1


def test_a_list_of_a_variant_keeps_what_the_variant_says_of_it():
    front = SCENES / "wren_front.toml"
    arm, entry = next(iter(tomllib.loads(front.read_text())["arm"].items()))
    mine = [{**pivot, "bolt": "up"} for pivot in entry["pivots"]]
    rows = ", ".join(
        "{" + ", ".join(f"{key} = {json.dumps(value)}" for key, value in each.items()) + "}" for each in mine
    )
    text = f'{front.read_text()}\n[variant.other.arm."{arm}"]\npivots = [{rows}]\n'
    change = Edit(("arm", arm, "pivots", 0, "bolt"), [1.0, 0.0, 0.25])
    now = tomllib.loads(edited_text(text, front, OUT, [change], "other"))
    assert now["variant"]["other"]["arm"][arm]["pivots"] == [{**mine[0], "bolt": [1, 0, 0.25]}, mine[1]]
    assert now["arm"][arm]["pivots"] == entry["pivots"]


@pytest.mark.parametrize(
    "place", ["place = {turn = [0, 0, 5], move = [0, 0, 1]}  # where\n", "\n[mesh.own.place]\nmove = [0, 0, 1]\n", ""]
)
def test_a_place_is_written_as_it_stands(place, tmp_path):
    (tmp_path / "block.stl").write_text("solid\nendsolid\n")
    scene = tmp_path / "scene.toml"
    text = f'{REAR.read_text()}\n[mesh.own]\nof = "axle"\nfile = "block.stl"\n{place}\n[hose.other]\nlength = 400\n'
    text += 'from = {point = "hose_frame", on = "frame"}\nto = {point = "hose_axle", on = "axle"}\n'
    new = {"turn": [0.5, 0.0, 5.0], "move": [0.0, 0.0, 2.5]}
    now = edited_text(text, scene, tmp_path / "out.toml", [Edit(("mesh", "own", "place"), new)])
    assert tomllib.loads(now) == tomllib.loads(text) | {
        "mesh": {"own": {"of": "axle", "file": "block.stl", "place": new}}
    }
    assert re.findall("#.*", now) == re.findall("#.*", text)
    with pytest.raises(CallError, match="would not stand beside the mesh files"):
        edited_text(text, scene, OUT, [Edit(("mesh", "own", "place"), new)])


@pytest.mark.parametrize(("end", "written"), [("\n", "\n"), ("\r\n", "\r\n"), ("\r", "\n")])
def test_lines_end_as_they_did_where_toml_knows_that_end(end, written):
    text = REAR.read_text()
    now = edited_text(text.replace("\n", end), REAR, OUT, CHANGES)
    assert now == edited_text(text, REAR, OUT, CHANGES).replace("\n", written)


def test_it_is_said_which_variants_stand_as_they_did(tmp_path):
    scene = tmp_path / "scene.toml"
    scene.write_text(
        f"{REAR.read_text()}\n[variant.low.travel]\nbump = 60\n[variant.lower]\nof = 'low'\ntravel.droop = 60\n"
    )
    variants = read_scene(scene).variant
    assert '; the variants "low" and "lower" keep' in written_words(3, variants, None)
    assert '; the variant "lower" keeps' in written_words(3, variants, "low")
    assert written_words(3, variants, "lower") == "the scene with 3 values changed"
