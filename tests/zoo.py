"""Tiny mechanisms with known motion, and the project's own scenes, for every test that needs one.

Scenes are dictionaries as `tomllib` would give them, so that a test can change an entry before it is read.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from model.assembly import assemble
from model.joints import JointKind
from model.limits import plain_joint
from model.mechanism import (
    Anchor,
    Arm,
    Bar,
    Body,
    Coilover,
    Distance,
    Drive,
    End,
    Hose,
    Link,
    Mechanism,
    Motion,
    Offset,
    Row,
    Square,
)
from model.scene import Scene
from model.softening import soften
from model.spatial import Array
from model.travel import Travel

SCENES = Path(__file__).parents[1] / "scenes"
NAMES = ("parcel_front", "parcel_rear", "tarn_front", "tarn_rear", "wren_front", "wren_rear")
# Scenes whose links hold a part twice over, so that it moves by the give of their joints; rigid links hold the others.
GIVING = ("parcel_rear", "tarn_front")
RIGID = tuple(name for name in NAMES if name not in GIVING)
ALONG, ACROSS, UP = np.eye(3)


def scene_data(name: str) -> dict[str, Any]:
    """One of the project's scenes as plain data, without its adjusters, so that a test can take parts away."""
    return {key: value for key, value in whole_scene_data(name).items() if key != "adjust"}


def whole_scene_data(name: str) -> dict[str, Any]:
    """One of the project's scenes as plain data."""
    return tomllib.loads((SCENES / f"{name}.toml").read_text(encoding="utf-8"))


def built(data: Mapping[str, Any]) -> Mechanism:
    """The mechanism of a scene given as plain data."""
    return assemble(Scene.model_validate(data))


def without_hangers(data: Mapping[str, Any]) -> dict[str, Any]:
    """A copy of a scene's data without anti-roll bars, their end links and hoses."""
    bars = data.get("bar", {})
    links = {
        name: link
        for name, link in data.get("link", {}).items()
        if not {link["from"]["on"], link["to"]["on"]} & bars.keys()
    }
    return copy.deepcopy(dict(data) | {"bar": {}, "hose": {}, "link": links})


def travel_of(mechanism: Mechanism, values: Array) -> Travel:
    """Drive values (N, D), or (N,) for a mechanism with one drive."""
    return Travel(
        tuple(drive.name for drive in mechanism.drives), np.asarray(values, dtype=float).reshape(len(values), -1)
    )


def end(point: str, on: str, bolt: str | Sequence[float] | None = "across", joint: str = "rod end") -> dict[str, Any]:
    """One end of a link."""
    mount: dict[str, Any] = {"point": point, "on": on, "joint": joint}
    return mount if bolt is None else mount | {"bolt": bolt if isinstance(bolt, str) else list(bolt)}


def bar_on_the_axle() -> dict[str, Any]:
    """A live axle that carries its anti-roll bar; end links stand upright between arms 140 mm behind and the frame."""
    data = scene_data("wren_rear")
    data["points"] |= {
        "bush left": [-120, 300, 240],
        "bush right": [-120, -300, 240],
        "bend": [-260, 300, 240],
        "above": [-260, 300, 420],
    }
    data["bar"] = {
        "anti-roll bar": {
            "on": "axle",
            "pivots": [{"point": "bush left", "joint": "link bush"}, {"point": "bush right", "joint": "link bush"}],
            "ends": ["left bend", "right bend"],
            "diameter": 18,
        }
    }
    ends = {
        "from": end("bend", "anti-roll bar", "across", "half-inch rod end"),
        "to": end("above", "frame", "across", "half-inch rod end"),
    }
    data["link"]["end link"] = {"mirror": True, "diameter": 12, **ends}
    return data


def axle_scene(links: Mapping[str, tuple[Sequence[float], Sequence[float]]], travel: float = 80.0) -> dict[str, Any]:
    """A live axle with wheels at (0, ±700, 300) on links from a point on the frame to a point on the axle."""
    points = {"wheel_centre": [0.0, 700.0, 300.0]}
    table = {}
    for name, (frame, axle) in links.items():
        points |= {f"{name} frame": [float(x) for x in frame], f"{name} axle": [float(x) for x in axle]}
        bolt = "along" if abs(frame[1] - axle[1]) > abs(frame[0] - axle[0]) else "across"
        table[name] = {"from": end(f"{name} frame", "frame", bolt), "to": end(f"{name} axle", "axle", bolt)}
    return {
        "title": "axle on links",
        "units": "mm",
        "points": points,
        "axle": {"axle": {}},
        "wheel": {
            "wheel": {"on": "axle", "centre": "wheel_centre", "loaded_radius": 300, "width": 200, "mirror": True}
        },
        "link": table,
        "travel": {"bump": travel, "droop": travel},
    }


FOUR_LINKS: dict[str, tuple[Sequence[float], Sequence[float]]] = {
    "near lower": ((600, 400, 300), (20, 450, 240)),
    "far lower": ((600, -400, 300), (20, -450, 240)),
    "upper": ((400, -100, 430), (-10, -120, 420)),
    "panhard": ((-120, 450, 310), (-120, -420, 300)),
}


def parallel_arms(length: float = 350.0, travel: float = 90.0) -> dict[str, Any]:
    """One wheel on two equal, parallel, level A-arms and an equal tie rod to the frame: it can only translate."""
    inner = {"lower": (0.0, 250.0, 180.0), "upper": (0.0, 250.0, 400.0), "rod": (-110.0, 250.0, 260.0)}
    points = {"wheel_centre": [0.0, 320.0 + length, 290.0]}
    arms = {}
    for name in ("lower", "upper"):
        x, y, z = inner[name]
        points |= {
            f"{name} front": [x + 120, y, z],
            f"{name} rear": [x - 120, y, z],
            f"{name} ball": [x, y + length, z],
        }
        arms[f"{name} arm"] = {
            "pivots": [{"point": f"{name} {where}", "joint": "rubber bush"} for where in ("front", "rear")],
            "ball": end(f"{name} ball", "knuckle", "up", "ball joint"),
        }
    x, y, z = inner["rod"]
    points |= {"rod inner": [x, y, z], "rod outer": [x, y + length, z]}
    return {
        "title": "parallel arms",
        "units": "mm",
        "points": points,
        "knuckle": {"knuckle": {}},
        "wheel": {"wheel": {"on": "knuckle", "centre": "wheel_centre", "loaded_radius": 290, "width": 180}},
        "arm": arms,
        "link": {"tie rod": {"from": end("rod inner", "frame", "along"), "to": end("rod outer", "knuckle", "along")}},
        "travel": {"bump": travel, "droop": travel},
    }


def trailing_arm(radius: float = 400.0, travel: float = 100.0, joint: str = "rubber bush") -> dict[str, Any]:
    """One wheel on an arm that turns about a line across the car, `radius` ahead of the wheel and level with it."""
    return {
        "title": "trailing arm",
        "units": "mm",
        "points": {"centre": [0.0, 650.0, 300.0], "near": [radius, 600.0, 300.0], "far": [radius, 300.0, 300.0]},
        "arm": {"trailing arm": {"pivots": [{"point": "near", "joint": joint}, {"point": "far", "joint": joint}]}},
        "wheel": {"wheel": {"on": "trailing arm", "centre": "centre", "loaded_radius": 300, "width": 180}},
        "travel": {"bump": travel, "droop": travel},
    }


def planar(cranks: Mapping[str, tuple[Array, Array]], driven: Array, reach: float = 1000.0) -> Mechanism:
    """One body that stays in the plane x = 0, on cranks from the frame; the height of one of its points is driven.

    Two cranks make a four-bar of which the body is the coupler.
    """
    origin = np.zeros(3)
    rows: list[Row] = [Distance(name, Anchor(0, a), Anchor(1, b)) for name, (a, b) in cranks.items()]
    rows += [Offset("plane", ALONG, Anchor(0, origin), Anchor(1, 100.0 * tip)) for tip in (0.0 * UP, ACROSS, UP)]
    rows.append(Offset("height", UP, Anchor(0, driven), Anchor(1, driven), 0))
    return Mechanism(
        title="planar",
        bodies=(Body("frame", Motion.FIXED), Body("coupler", Motion.FREE)),
        rows=tuple(rows),
        drives=(Drive("left", -reach, reach),),
        points=(),
    )


def guided_bar(length: float) -> Mechanism:
    """A body that cannot turn or move along the car, on one level bar across it; its height is driven."""
    foot = np.zeros(3)
    rows: list[Row] = [
        Distance("panhard bar", Anchor(0, length * ACROSS), Anchor(1, foot)),
        Offset("guide", ALONG, Anchor(0, foot), Anchor(1, foot)),
        *(Square("guide", 0, a, 1, b) for a, b in ((ALONG, ACROSS), (ACROSS, UP), (UP, ALONG))),
        Offset("height", UP, Anchor(0, foot), Anchor(1, foot), 0),
    ]
    return Mechanism(
        title="panhard",
        bodies=(Body("frame", Motion.FIXED), Body("axle", Motion.FREE)),
        rows=tuple(rows),
        drives=(Drive("left", -length, length),),
        points=(),
    )


def pitman_scene(*, parallelogram: bool) -> dict[str, Any]:
    """Both front wheels on A-arms, steered by a pitman arm, an idler arm and a centre link."""
    data = scene_data("wren_front")
    points = data["points"]
    del points["rack_end"], data["joint"]["rack end joint"]
    points |= {
        "pitman shaft": [60.0, 250.0, 250.0],
        "pitman end": [-110.0, 230.0, 228.0],
        "idler shaft": [60.0, -250.0, 250.0] if parallelogram else [50.0, -235.0, 262.0],
        "idler end": [-110.0, -270.0, 228.0] if parallelogram else [-95.0, -215.0, 240.0],
        "rod inner": [-104.0, 281.0, 229.0],
    }
    data["link"]["tie rod"]["from"] = {"point": "rod inner", "on": "centre link", "joint": "inline ball joint"}
    shaft = "up" if parallelogram else [0.06, -0.04, 1.0]
    data["steering"] = {
        "kind": "pitman",
        "pitman": {"pivot": "pitman shaft", "axis": "up" if parallelogram else [0.05, 0.08, 1.0], "end": "pitman end"},
        "idler": {"pivot": "idler shaft", "axis": shaft, "end": "idler end"},
        "lock": 19,
    }
    return data


def short_steering_arm() -> dict[str, Any]:
    """A short steering arm and a rack with too much travel: the tie rod comes into line with the arm, and locks."""
    data = scene_data("wren_front")
    data["points"]["lower_ball"][0] -= 24
    data["points"]["tie_rod_outer"][0] += 24
    del data["coilover"]
    return data


def steered_axle() -> dict[str, Any]:
    """A live axle on four links whose knuckles turn on kingpins; a drag link from a pitman arm steers the right one."""
    data = axle_scene(FOUR_LINKS)
    data["points"] |= {
        "kingpin low": [4.0, 640.0, 215.0],
        "kingpin high": [-14.0, 605.0, 395.0],
        "tie end": [-140.0, 585.0, 245.0],
        "arm end": [-120.0, 560.0, 330.0],
        "pitman shaft": [40.0, 400.0, 420.0],
        "pitman end": [-120.0, 400.0, 400.0],
    }
    pins = [{"point": f"kingpin {which}", "joint": "ball joint"} for which in ("low", "high")]
    data["knuckle"] = {"knuckle": {"on": "axle", "kingpin": pins, "mirror": True}}
    data["wheel"]["wheel"]["on"] = "knuckle"
    data["link"] |= {
        "tie rod": {
            side_key: end(f"{side} tie end", f"{side} knuckle", "up", "ball joint")
            for side_key, side in (("from", "left"), ("to", "right"))
        },
        "drag link": {
            "from": end("pitman end", "pitman arm", "up", "ball joint"),
            "to": end("right arm end", "right knuckle", "up", "ball joint"),
        },
    }
    data["steering"] = {"kind": "pitman", "pitman": {"pivot": "pitman shaft", "end": "pitman end"}, "lock": 15}
    return data


def moved(mechanism: Mechanism, turned: Array, shift: Array) -> Mechanism:
    """The same mechanism elsewhere: every point x at `turned` (3, 3) x + `shift` (3,), every direction turned alike."""
    if mechanism.rigid is not None:
        return soften(moved(mechanism.rigid, turned, shift))

    def place(at: Array) -> Array:
        return turned @ at + shift

    def anchor(old: Anchor) -> Anchor:
        return Anchor(old.body, place(old.at))

    def mount(old: End) -> End:
        housing = None if old.housing is None else turned @ old.housing
        return replace(old, at=place(old.at), bolt=turned @ old.bolt, housing=housing)

    def row(old: Row) -> Row:
        match old:
            case Distance(member=member, a=a, b=b):
                return Distance(member, anchor(a), anchor(b))
            case Offset(member=member, direction=direction, base=base, tip=tip, drive=drive):
                return Offset(member, turned @ direction, anchor(base), anchor(tip), drive)
            case Square(member=member, body_a=a, direction_a=first, body_b=b, direction_b=second):
                return Square(member, a, turned @ first, b, turned @ second)

    def body(old: Body) -> Body:
        if old.screw is None:
            return old
        return replace(old, screw=replace(old.screw, axis=turned @ old.screw.axis, point=place(old.screw.point)))

    def arm(old: Arm) -> Arm:
        first, second = (mount(pivot) for pivot in old.pivots)
        return replace(old, pivots=(first, second), ball=None if old.ball is None else mount(old.ball))

    def link(old: Link) -> Link:
        return replace(old, ends=(mount(old.ends[0]), mount(old.ends[1])))

    def coilover(old: Coilover) -> Coilover:
        return replace(old, top=mount(old.top), bottom=mount(old.bottom))

    def bar(old: Bar) -> Bar:
        (left, right), (near, far) = old.pivots, old.ends
        return replace(old, pivots=(mount(left), mount(right)), ends=(place(near), place(far)))

    def hose(old: Hose) -> Hose:
        first, second = (replace(fixing, at=place(fixing.at)) for fixing in old.ends)
        return replace(old, ends=(first, second))

    return replace(
        mechanism,
        bodies=tuple(map(body, mechanism.bodies)),
        rows=tuple(map(row, mechanism.rows)),
        points=tuple((name, holder, place(at)) for name, holder, at in mechanism.points),
        links=tuple(map(link, mechanism.links)),
        arms=tuple(map(arm, mechanism.arms)),
        coilovers=tuple(map(coilover, mechanism.coilovers)),
        bars=tuple(map(bar, mechanism.bars)),
        hoses=tuple(map(hose, mechanism.hoses)),
        wheels=tuple(replace(w, centre=place(w.centre), axis=turned @ w.axis) for w in mechanism.wheels),
        pins=tuple(replace(pin, end=mount(pin.end)) for pin in mechanism.pins),
        beams=(),
        shapes=(),
    )


def with_changes(data: Mapping[str, Any], **tables: Any) -> dict[str, Any]:
    """A copy of a scene's data with whole tables replaced or added."""
    return copy.deepcopy(dict(data)) | tables


def plain_end(at: Array, on: str, bolt: Array, kind: JointKind = JointKind.ROD_END) -> End:
    """An end with the typical limits of its kind, for members built by hand."""
    return End(
        f"at {on}", f"on {on}", np.asarray(at, dtype=float), on, plain_joint(kind), np.asarray(bolt, dtype=float)
    )


# Where the pickup's lower links are bolted, mm.
LOWER_FRONT, LOWER_REAR = np.array([930.0, 360.0, 480.0]), np.array([40.0, 530.0, 345.0])


def on_link(share: float, off: float = 0.0) -> dict[str, Any]:
    """The pickup with its coilovers' feet on the lower links, a share of the way from the frame to the axle."""
    data = copy.deepcopy(scene_data("tarn_rear"))
    foot = LOWER_FRONT + share * (LOWER_REAR - LOWER_FRONT) + [0.0, 0.0, off]
    data["points"] |= {"coilover_foot": foot.tolist(), "coilover_top": [*foot[:2].tolist(), 1090.0]}
    data["coilover"]["coilover"]["bottom"]["on"] = "lower link"
    return data
