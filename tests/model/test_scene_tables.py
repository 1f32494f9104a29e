"""One sentence for each mistake in the tables of joints, bars, hoses, shafts and kingpins (D: the file's own rules)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from zoo import SCENES, scene_data

from model.assembly import assemble
from model.errors import SceneError
from model.reading import scene_from

Change = Callable[[dict[str, Any]], object]


def joint(name: str, **keys: Any) -> Change:
    return lambda data: data["joint"].update({name: keys})


def rod_end(**keys: Any) -> Change:
    return joint("half-inch rod end", kind="rod end", thread_diameter=12.7, **keys)


def bush(**keys: Any) -> Change:
    return joint("link bush", kind="rubber bush", **keys)


def table(name: str, **keys: Any) -> Change:
    return lambda data: data.update({name: {"x": keys}})


BUSHES = [{"point": f"{side} rail_front", "joint": "poly bush"} for side in ("left", "right")]
GEARBOX = {"point": "cross_left", "on": "frame", "axis": "along"}
PINION = {"point": "pinion_flange", "on": "axle", "axis": "along"}
SLIP_MISTAKE = "slip needs engaged and diameter (a splined yoke) or room_out (a plunging joint); give one or the other."


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            bush(torqued_at="hanging"),
            '[joint."link bush"] torqued_at is "hanging", expected "ride", "droop", "bump" or a height of the wheel '
            "above ride height; correct it.",
        ),
        (
            bush(torqued_at=True),
            '[joint."link bush"] torqued_at is true, expected "ride", "droop", "bump" or a height of the wheel above '
            "ride height; correct it.",
        ),
        (bush(rates={"radial": -1.0}), '[joint."link bush"] rates.radial is -1.0, expected 0 or more; correct it.'),
        (
            bush(rates={"radiall": 1.0}),
            '[joint."link bush"] rates has the unknown key "radiall"; did you mean "radial"?',
        ),
        (
            rod_end(tilt=12, hardware={"head_width": 10.0, "head_diameter": 30.0, "clevis_width": 14.0}),
            '[joint."half-inch rod end"] has a tilt beside hardware, from which the tilt follows; keep one of them.',
        ),
        (
            rod_end(rates={"radial": 1e-6, "axial": 0}),
            '[joint."half-inch rod end"] rates.radial is 1e-06, expected 0.001 or more, or 0 where it does not resist; '
            "correct it.",
        ),
        (
            rod_end(hardware={"head_width": 10.0}),
            '[joint."half-inch rod end"] hardware needs clevis_width with head_diameter, or ball_diameter with '
            "spacer_diameter or bolt_diameter; add one of these pairs.",
        ),
        (
            rod_end(hardware={"head_width": 10.0, "head_diameter": 30.0, "clevis_width": 9.0}),
            '[joint."half-inch rod end"] has hardware with a head_width that does not fit its clevis_width; '
            "correct them.",
        ),
        (
            rod_end(hardware={"head_width": 10.0, "ball_diameter": 9.0, "bolt_diameter": 8.0}),
            '[joint."half-inch rod end"] has hardware with a ball_diameter no larger than head, spacer or bolt; '
            "correct them.",
        ),
        (
            table("bar", pivots=BUSHES, ends=["left rail_back", "right rail_back"]),
            '[bar."x"] has no end link on its left arm; add a link with an end that is on = "x".',
        ),
        (
            table("bar", pivots=BUSHES[:1], ends=["left rail_back", "right rail_back"]),
            '[bar."x"] pivots is a list of 1 table, expected at least 2 entries; correct it.',
        ),
        (
            table("hose", **{"from": {"point": "cross_left", "on": "frame"}}, to={"point": "diff", "on": "axle"},
                  length=300.0),
            '[hose."x"] is 300 mm long but its fixings are 583 apart at ride height already; correct the length or '
            "the points.",
        ),
        (
            table("shaft", **{"from": GEARBOX | {"joint": "rod end"}}, to=PINION),
            '[shaft."x"] from.joint is a rod end, which no shaft turns through; expected "universal joint" or '
            '"constant-velocity joint".',
        ),
        (
            table("shaft", **{"from": GEARBOX}, to=PINION | {"point": "cross_left"}),
            '[shaft."x"] has two of its joints in the same place; set the points apart by the part\'s length.',
        ),
        (table("shaft", **{"from": GEARBOX}, to=PINION, slip={"room_in": 20.0}), f'[shaft."x"] {SLIP_MISTAKE}'),
        (table("shaft", **{"from": GEARBOX}, to=PINION, speed=0), '[shaft."x"] speed is 0, expected more than 0; '
         "correct it."),
        (table("knuckle", on="axle"), '[knuckle."x"] needs both on and kingpin, or neither; add the other one.'),
        (
            lambda data: data["link"]["panhard bar"]["from"].update(joint="universal joint"),
            '[link."panhard bar"] from.joint is a universal joint, which only shafts have; choose rod end, ball joint, '
            "inline ball joint, rubber bush, poly bush, plain sleeve, strut mount.",
        ),
    ],
)  # fmt: skip
def test_one_mistake_one_sentence(change: Change, said: str) -> None:
    data = scene_data("wren_rear")
    data.pop("shaft", None)
    change(data)
    with pytest.raises(SceneError) as caught:
        assemble(scene_from(data, SCENES / "wren_rear.toml"))
    complaints = [complaint.removeprefix(f"{SCENES / 'wren_rear.toml'}: ") for complaint in caught.value.complaints]
    assert said in complaints
    # Both sides of a bar may say the same of their own half; nothing else follows from one mistake.
    assert {complaint.replace("right", "left") for complaint in complaints} == {said}


def test_names_of_a_shafts_halves_are_taken() -> None:
    data = scene_data("wren_rear")
    data["shaft"] = {"prop": {"from": GEARBOX, "to": PINION}}
    data["link"]["prop rear"] = data["link"].pop("upper link")
    with pytest.raises(SceneError, match="has the name of a half of"):
        assemble(scene_from(data, SCENES / "wren_rear.toml"))
