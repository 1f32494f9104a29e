"""A scene written anew with its adjusters set: it stands where it was set to, and says what is left of each."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from zoo import NAMES, SCENES, built, whole_scene_data

from model.adjust import Setting, bench_of, setting_for
from model.adjustable import Eccentric
from model.adjustwants import parsed
from model.assembly import assemble
from model.edits import Edit, edited
from model.reading import read_scene, scene_from
from model.rebase import edits, rebuilt
from model.scene import Scene
from model.spatial import rotation_about

# Points are written to 1e-4 mm.
WRITTEN = 2e-4
LEFT_PIVOT = {"kind": "eccentric", "points": ["lower_rear_pivot"], "direction": "up", "axis": "along", "throw": 6}


def with_adjusters(name: str, **adjusters: dict[str, Any]) -> dict[str, Any]:
    return copy.deepcopy(whole_scene_data(name)) | {"adjust": adjusters}


def set_to(data: dict[str, Any], *texts: str, mm: float = 1.0) -> tuple[Setting, dict[str, Any]]:
    """A setting, and the scene's data with it."""
    bench, start = bench_of(built(data))
    setting = setting_for(bench, start, parsed(texts, start.measured, mm))
    return setting, edited(data, edits(Scene.model_validate(data), setting))


def values(data: dict[str, Any]) -> dict[str, float]:
    return {value.name: float(value.values[0]) for value in bench_of(built(data))[1].measured}


@pytest.mark.parametrize("name", ["wren_rear", "wren_front", "tarn_rear", "tarn_front"])
def test_a_setting_that_turns_nothing_changes_nothing(name):
    data = whole_scene_data(name)
    bench, start = bench_of(built(data))
    toe = float(np.degrees(next(value.values[0] for value in start.measured if value.name == "left toe")))
    shift = "axle shift = 0" if built(data).beams else f"left toe = {toe!r}"
    found = setting_for(bench, start, parsed([shift], start.measured, 1.0))
    assert not any(each.rounded for each in found.turned)
    assert edits(Scene.model_validate(data), found) == ()


@pytest.mark.parametrize("name", NAMES)
def test_a_scene_without_edits_is_the_same_scene(name):
    scene = read_scene(SCENES / f"{name}.toml")
    assert rebuilt(scene, ()) == scene.model_copy(update={"variant": {}})


def test_sides_that_differ_are_written_apart():
    data = whole_scene_data("wren_front")
    found, new = set_to(data, "left camber = -1", "left toe = 0.1", "right toe = 0.1")
    assert new["wheel"]["wheel"]["camber"][0] == pytest.approx(-1.0, abs=0.1)
    assert new["wheel"]["wheel"]["camber"][1] == -0.5
    assert new["points"]["upper_ball"][1] < data["points"]["upper_ball"][1]
    assert "right upper_ball" in new["points"]
    assert new["points"]["right upper_ball"] == pytest.approx([-20.0, -582.0, 400.0], abs=0.2)
    after = values(new)
    for each in found.reached:
        assert after[each.want.name] == pytest.approx(each.rounded, abs=1e-5)
    # Once apart they stay apart, and can be brought together again.
    again, together = set_to(new, "camber = -0.75", "toe = 0.1")
    assert again.met
    left, right = np.broadcast_to(together["wheel"]["wheel"]["camber"], 2)
    assert left == pytest.approx(right, abs=0.12)  # a step of the shims is 0.1 mm or more


def test_an_eccentric_says_how_far_it_is_turned():
    data = with_adjusters("wren_front", pivot=LEFT_PIVOT | {"mirror": True})
    found, new = set_to(data, "camber = -0.9")
    assert found.met
    turned = [each for each in found.turned if isinstance(each.adjuster, Eccentric)]
    assert turned[0].rounded == pytest.approx(turned[1].rounded)
    told = new["adjust"]["pivot"]["turned"]
    assert told == pytest.approx(np.degrees(turned[0].rounded), abs=1e-3)
    # D: the pivot has gone round its hole, 6 mm below where it was, about the x axis.
    pivot = np.array(data["points"]["lower_rear_pivot"])
    hole = pivot - [0.0, 0.0, 6.0]
    gone = hole + rotation_about(np.eye(3)[0], np.array(turned[0].rounded)) @ (pivot - hole)
    assert new["points"]["lower_rear_pivot"] == pytest.approx(gone.tolist(), abs=WRITTEN)
    # Read again, it points where it has been turned to.
    left = next(each for each in built(new).adjusters if isinstance(each, Eccentric))
    assert 6.0 * left.towards == pytest.approx(gone - hole, abs=WRITTEN)
    assert values(new)["left camber"] == pytest.approx(found.reached[0].rounded, abs=1e-5)


def test_a_slot_has_less_left_on_one_side():
    slot = {"kind": "slot", "points": ["upper_front_pivot", "upper_rear_pivot"], "direction": "across", "mirror": True}
    data = with_adjusters("wren_front", slot=slot | {"low": -6, "high": 4})
    found, new = set_to(data, "camber = -0.9")
    assert found.met
    moved = found.turned[0].rounded
    assert moved < 0.0  # the left one goes inboard, which is to the right
    entry = new["adjust"]["slot"]
    # Mirrored, both sides' settings are alike, though "across" is the same direction for both.
    right = found.turned[1].rounded
    assert entry["low"] == pytest.approx([-6.0 - moved, -6.0 - right] if right != moved else -6.0 - moved, abs=WRITTEN)
    assert np.ptp(np.subtract(entry["high"], entry["low"])) == pytest.approx(0.0, abs=WRITTEN)


def test_a_slip_yoke_goes_in_and_travel_keeps_its_ends():
    data = whole_scene_data("wren_rear")
    found, new = set_to(data, "pinion = 2.5", "ride height = 10")
    risen = -float(np.mean(found.stand.heights))
    assert new["travel"] == pytest.approx({"bump": 75.0 + risen, "droop": 75.0 - risen}, abs=WRITTEN)
    old, slip = data["shaft"]["propshaft"]["slip"], new["shaft"]["propshaft"]["slip"]
    length = {
        name: np.linalg.norm(np.subtract(each["points"]["pinion_flange"], each["points"]["gearbox_output"]))
        for name, each in (("old", data), ("new", new))
    }
    longer = length["new"] - length["old"]
    # D: what the shaft is shorter goes in: less room, more spline in mesh.
    assert slip["room_in"] - old["room_in"] == pytest.approx(longer, abs=WRITTEN)
    assert slip["engaged"] - old["engaged"] == pytest.approx(-longer, abs=WRITTEN)


def test_inches_stay_inches():
    data = whole_scene_data("wren_rear")
    inch = copy.deepcopy(data) | {
        "units": "in",
        "points": {name: [each / 25.4 for each in at] for name, at in data["points"].items()},
        "adjust": {"bar": {"kind": "thread", "of": "panhard bar", "threads_per_inch": 20, "ends": "both"}},
    }
    for table in ("wheel", "axle", "link", "hose", "coilover", "shaft", "joint", "weights", "travel", "frame"):
        inch[table] = in_inches(inch[table])
    found, new = set_to(inch, "axle shift = 0.1", mm=25.4)
    assert found.reached[0].rounded == pytest.approx(2.54, abs=0.22)  # half of a flat, 25.4/20/6 mm on both ends
    # Written to a millionth of an inch.
    assert values(new)["axle shift"] == pytest.approx(found.reached[0].rounded, abs=1e-4)
    assert new["points"]["panhard_axle"][1] == pytest.approx(-430.0 / 25.4 + found.reached[0].rounded / 25.4, abs=0.01)


def in_inches(table: Any) -> Any:
    """Every length of a table of the roadster's rear, of which only these numbers are none."""
    kept = {"tilt", "speed", "rate", "wheel", "unsprung", "camber", "toe", "bolt", "axis", "clock", "mesh_units"}
    if isinstance(table, dict):
        return {
            key: each if key in kept and not isinstance(each, dict) else in_inches(each) for key, each in table.items()
        }
    if isinstance(table, list):
        return [in_inches(each) for each in table]
    return table / 25.4 if isinstance(table, int | float) and not isinstance(table, bool) else table


def test_a_mesh_goes_with_its_part(tmp_path: Path):
    trimesh = pytest.importorskip("trimesh")
    trimesh.creation.box((60.0, 80.0, 100.0)).export(tmp_path / "upright.stl")
    data = whole_scene_data("wren_front")
    data["mesh"] = {
        "own": {"of": "upright", "file": "upright.stl", "place": {"turn": [5, 10, 20], "move": [0, 600, 290]}}
    }
    data["mesh"]["own"]["mirror"] = True
    scene = scene_from(data, tmp_path / "scene.toml")
    bench, start = bench_of(assemble(scene))
    setting = setting_for(bench, start, parsed(["camber = -1.2", "caster = 7"], start.measured, 1.0))
    changes = edits(scene, setting)
    assert any(change.key == ("mesh", "own", "place") for change in changes)
    before, after = (
        next(mesh for mesh in each.own_meshes) for each in (assemble(scene), assemble(rebuilt(scene, changes)))
    )
    number = bench.adjusted.mechanism.body_number("left upright")
    rotation, shift = setting.stand.poses.rotation[number, 0], setting.stand.poses.translation[number, 0]
    # D: a point of the mesh goes where the upright takes it.
    for point in np.array([[0.0, 0.0, 0.0], [30.0, -40.0, 50.0]]):
        was = before.rotation @ point + before.move
        assert after.rotation @ point + after.move == pytest.approx(rotation @ was + shift, abs=1e-3)


def test_edits_make_tables_that_are_not_there():
    data = {"coilover": {"c": {"spring": {"rate": 3.0}}}, "list": [{"a": 1}]}
    changes = [Edit(("coilover", "c", "spring", "preload"), 2.0), Edit(("list", 0, "a"), 5), Edit(("new", "x"), 1)]
    assert edited(data, changes) == {
        "coilover": {"c": {"spring": {"rate": 3.0, "preload": 2.0}}},
        "list": [{"a": 5}],
        "new": {"x": 1},
    }
    assert "preload" not in data["coilover"]["c"]["spring"]
