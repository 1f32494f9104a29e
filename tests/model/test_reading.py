"""The scene file: what is complained of, and in which words. The expectations are the project's own promises (D)."""

import copy
import json
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from zoo import NAMES, SCENES, scene_data

from model.assembly import assemble
from model.errors import SceneError
from model.reading import read_scene, scene_from
from model.sceneschema import scene_schema
from model.tomlfile import LARGEST_FILE

# A left front corner: two arms, a tie rod on the frame, a coilover.
CORNER = """
title = "A corner"
units = "mm"

[points]
centre = [0, 670, 285]
lower = [8, 612, 185]
upper = [-20, 582, 400]
lower_front = [140, 270, 195]
lower_rear = [-160, 270, 190]
upper_front = [85, 345, 382]
upper_rear = [-115, 345, 374]
tie_inner = [-105, 281, 228]
tie_outer = [-118, 582, 228]
eye_top = [0, 368, 545]
eye_foot = [0, 492, 205]

[joint.bush]
kind = "poly bush"
cock = 3

[joint."ball stud"]
kind = "ball joint"
swing = 27

[joint.eye]
kind = "rod end"
tilt = 12

[knuckle.upright]

[wheel.tyre]
on = "upright"
centre = "centre"
loaded_radius = 285
width = 185

[arm."lower arm"]
pivots = [{ point = "lower_front", joint = "bush" }, { point = "lower_rear", joint = "bush" }]
ball = { point = "lower", on = "upright", joint = "ball stud" }

[arm."upper arm"]
pivots = [{ point = "upper_front", joint = "bush" }, { point = "upper_rear", joint = "bush" }]
ball = { point = "upper", on = "upright", joint = "ball stud" }

[link."tie rod"]
from = { point = "tie_inner", on = "frame", joint = "inline ball joint" }
to = { point = "tie_outer", on = "upright", joint = "ball joint", bolt = "up" }

[coilover.damper]
top = { point = "eye_top", on = "frame", joint = "eye", bolt = "along" }
bottom = { point = "eye_foot", on = "lower arm", joint = "eye", bolt = "along" }
compressed = 288
extended = 433
spring = { rate = 38, free_length = 230, preload = 6 }

[travel]
bump = 70
droop = 70
"""


def complaints_of(content: bytes | str, folder: Path) -> list[str]:
    """What reading and assembling a file says, without the file's name."""
    path = folder / "corner.toml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(SceneError) as caught:
        assemble(read_scene(path))
    return [complaint.removeprefix(f"{path}").removeprefix(": ").strip() for complaint in caught.value.complaints]


def changed(old: str, new: str) -> str:
    """The corner with one text replaced by another."""
    assert CORNER.count(old) == 1, f"{old!r} is not once in the corner"
    return CORNER.replace(old, new)


def test_corner_is_a_scene(tmp_path):
    path = tmp_path / "corner.toml"
    path.write_text(CORNER, encoding="utf-8")
    assert [wheel.name for wheel in assemble(read_scene(path)).wheels] == ["tyre"]


NO_UNITS = (
    'the file has no units, which it needs; write units = "mm" or units = "in" at the top, above the first [table].'
)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is empty, expected a scene; begin with a copy of scenes/wren_rear.toml."),
        (b"# nothing but a remark\n", "is empty, expected a scene; begin with a copy of scenes/wren_rear.toml."),
        (b"\x89PNG\r\n\x1a\n\x00\xff\xfe", "is not UTF-8 text, as TOML must be; save it as UTF-8 in your editor."),
        (CORNER.encode("utf-16"), "is not UTF-8 text, as TOML must be; save it as UTF-8 in your editor."),
        (CORNER.encode("utf-16-le"), "is not UTF-8 text, as TOML must be; save it as UTF-8 in your editor."),
        (b"\0" * 100, "is not UTF-8 text, as TOML must be; save it as UTF-8 in your editor."),
        (b"a = " + b"[" * 50_000, "nests brackets too deeply to be a scene; compare it with scenes/wren_rear.toml."),
        (b"a = " + b"9" * 5000, "holds a number with thousands of digits; correct it."),
        (b"# x\n" * (LARGEST_FILE // 4 + 1), "holds more than 1 MB, expected a scene of a few kB; name a scene file."),
    ],
    ids=["empty", "remark", "binary", "utf-16", "utf-16-le", "zeros", "deep", "digits", "large"],
)
def test_no_scene_at_all(content, said, tmp_path):
    assert complaints_of(content, tmp_path) == [said]


@pytest.mark.parametrize(
    ("content", "line", "said"),
    [
        ('title = "x\n', 1, "text in quotes does not end on its line"),
        ('title = "a"\ntitle = "b"\n', 2, "the same key is given twice"),
        (CORNER + "\n[travel]\nbump = 1\n", CORNER.count("\n") + 2, "a table is given twice"),
        ("[travel]\nbump = 7,5\n", 2, "something follows the value (numbers have a decimal point, not a comma)"),
        (
            "[travel]\nbump = seventy\n",
            2,
            "no value that TOML knows (text goes in quotes, true and false in small letters)",
        ),
        ('{"title": "x"}', 1, "invalid statement"),
    ],
)
def test_not_toml_shows_the_line(content, line, said, tmp_path):
    (complaint,) = complaints_of(content, tmp_path)
    shown = content.split("\n")[line - 1].strip()
    assert complaint == f'is not valid TOML, line {line}, "{shown}": {said}; correct that line.'


def test_an_open_bracket_at_the_end(tmp_path):
    assert complaints_of("a = [1,\n", tmp_path) == [
        "is not valid TOML: invalid value (at end of document); close what was opened."
    ]


@pytest.mark.parametrize(
    "again",
    [
        lambda text: b"\xef\xbb\xbf" + text.encode(),
        lambda text: text.replace("\n", "\r\n").encode(),
        lambda text: text.replace("\n", "\r").encode(),
    ],
    ids=["byte order mark", "Windows lines", "old Mac lines"],
)
def test_what_editors_do_to_a_file_changes_nothing(again: Callable[[str], bytes], tmp_path):
    path, other = tmp_path / "a.toml", tmp_path / "b.toml"
    path.write_text(CORNER, encoding="utf-8")
    other.write_bytes(again(CORNER))
    assert read_scene(path) == read_scene(other)


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(SceneError) as caught:
        read_scene(tmp_path / "nothing.toml")
    assert caught.value.complaints == (f"{tmp_path}/nothing.toml does not exist; check the name and the folder.",)


def test_a_folder(tmp_path):
    with pytest.raises(SceneError) as caught:
        read_scene(tmp_path)
    assert caught.value.complaints == (f"{tmp_path} is a folder, expected a scene file; name a .toml file in it.",)


def test_a_name_too_long_for_the_file_system(tmp_path):
    path = tmp_path / ("x" * 300 + ".toml")
    with pytest.raises(SceneError) as caught:
        read_scene(path)
    assert caught.value.complaints == (
        f"{path} cannot be read: file name too long; check the name and its permissions.",
    )


def test_no_permission_to_read(tmp_path):
    path = tmp_path / "corner.toml"
    path.write_text(CORNER, encoding="utf-8")
    path.chmod(0)
    root = os.geteuid() == 0
    if root:  # root may read everything: be nobody for a moment
        os.seteuid(65534)
    try:
        with pytest.raises(SceneError) as caught:
            read_scene(path)
    finally:
        if root:
            os.seteuid(0)
    assert caught.value.complaints == (
        f"{path} cannot be read: permission denied; check the name and its permissions.",
    )


def test_an_endless_device_is_not_read_to_its_end():
    with pytest.raises(SceneError, match="holds more than 1 MB"):
        read_scene(Path("/dev/zero"))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[travel]", "[travels]", 'the file has the unknown table or key "travels"; did you mean "travel"?'),
        ("[travel]", "[TRAVEL]", 'the file has the unknown table or key "TRAVEL"; did you mean "travel"?'),
        ("width = 185", "widht = 185", '[wheel."tyre"] has the unknown key "widht"; did you mean "width"?'),
        ("rate = 38", "raet = 38", '[coilover."damper"] spring has the unknown key "raet"; did you mean "rate"?'),
        (
            'point = "lower_front", joint',
            'point = "lower_front", jiont',
            '[arm."lower arm"] pivots[0] has the unknown key "jiont"; did you mean "joint"?',
        ),
        ("swing = 27", "Swing = 27", '[joint."ball stud"] has the unknown key "Swing"; did you mean "swing"?'),
        ("from = {", "form = {", '[link."tie rod"] has the unknown key "form"; did you mean "from"?'),
        (
            "[knuckle.upright]",
            "[knuckle.upright]\ncolour = 3",
            '[knuckle."upright"] has the unknown key "colour"; choose one of on, kingpin, mirror.',
        ),
        ("width = 185\n", "", '[wheel."tyre"] has no width, which it needs; add it.'),
        ("bump = 70\n", "", "[travel] has no bump, which it needs; add it."),
        ('units = "mm"\n', "", NO_UNITS),
        (
            "[0, 670, 285]",
            "[0, 670]",
            "[points] centre is [0, 670], has 2 numbers, expected three, [x, y, z]; correct it.",
        ),
        (
            "[0, 670, 285]",
            "[0, 670, nan]",
            "[points] centre is [0, 670, nan], holds a number that is not between -100000 and 100000; correct it.",
        ),
        (
            "[0, 670, 285]",
            "[0, 1e300, 2]",
            "[points] centre is [0, 1e+300, 2], holds a number that is not between -100000 and 100000; correct it.",
        ),
        (
            "[0, 670, 285]",
            '[0, "670", true]',
            '[points] centre is [0, "670", true], expected three numbers in brackets, [x, y, z]; correct it.',
        ),
        (
            "[0, 670, 285]",
            "{ x = 1 }",
            "[points] centre is a table, expected three numbers in brackets, [x, y, z]; correct it.",
        ),
        ("bump = 70", "bump = inf", "[travel] bump is inf, expected a finite number; correct it."),
        ("bump = 70", 'bump = "70"', '[travel] bump is "70", expected a number; correct it.'),
        ("bump = 70", "bump = true", "[travel] bump is true, expected a number; correct it."),
        ("bump = 70", "bump = 2026-01-01", "[travel] bump is 2026-01-01, expected a number; correct it."),
        ("droop = 70", "droop = -70", "[travel] droop is -70, expected more than 0; correct it."),
        ("droop = 70", "droop = 1e6", "[travel] droop is 1000000.0, expected 100000 or less; correct it."),
        ('title = "A corner"', "title = 3", "title is 3, expected text in quotes; correct it."),
        (
            'on = "upright"\ncentre',
            'on = 3\ncentre',
            '[wheel."tyre"] on is 3, expected text in quotes; correct it.',
        ),
        (
            "[knuckle.upright]",
            '[knuckle.upright]\nmirror = "yes"',
            '[knuckle."upright"] mirror is "yes", expected true or false; correct it.',
        ),
        ("rate = 38", "rate = -38", '[coilover."damper"] spring.rate is -38, expected more than 0; correct it.'),
        ('units = "mm"', 'units = "cm"', "units is \"cm\", expected one of mm, in; correct it."),
        ('units = "mm"', 'units = "inch"', 'units is "inch", which is not known; did you mean "in"?'),
        (
            'kind = "poly bush"',
            'kind = "polly bush"',
            '[joint."bush"] kind is "polly bush", which is not known; did you mean "poly bush"?',
        ),
        (
            "tilt = 12",
            "swing = 12",
            '[joint."eye"] has swing, which a rod end does not have; use tilt and spacers or leave out swing.',
        ),
        (
            "cock = 3",
            'cock = 3\nturn = 20\nspacers = "none"',
            '[joint."bush"] has turn and spacers, which a poly bush does not have; use cock or leave out turn and '
            "spacers.",
        ),
        ("swing = 27", "swing = 0", '[joint."ball stud"] swing is 0, expected more than 0; correct it.'),
        ("swing = 27", "swing = 91", '[joint."ball stud"] swing is 91, expected 90 or less; correct it.'),
        (
            'bolt = "up"',
            'bolt = "upp"',
            '[link."tie rod"] to.bolt is "upp", expected "across", "along", "up", a vector [x, y, z] or two point '
            'names ["a", "b"]; correct it.',
        ),
        (
            'bolt = "up"',
            "bolt = [0, 0, 1e-300]",
            '[link."tie rod"] to.bolt is [0, 0, 1e-300], has no length, expected a vector such as [0, 1, 0]; '
            "correct it.",
        ),
        (
            ', { point = "upper_rear", joint = "bush" }',
            "",
            '[arm."upper arm"] pivots is a list of 1 table, expected at least 2 entries; correct it.',
        ),
        (
            '[knuckle.upright]',
            '[[knuckle]]\nname = "upright"',
            '[knuckle] is a list of 1 table, expected tables with names, such as [knuckle."front"]; correct it.',
        ),
        (
            "[knuckle.upright]",
            '[knuckle."left upright"]',
            '[knuckle] has the name "left upright": may not begin with "left " or "right ", which the mirrored halves '
            "use; choose another.",
        ),
        (
            "[knuckle.upright]",
            '[knuckle."\\u001b[31m\\n"]',
            '[knuckle] has the name "\\x1b[31m\\n": expected a name of 1 to 60 printable characters; choose another.',
        ),
        (
            "[travel]",
            "[steering]\nkind = \"rack\"\nlock = 9\nlock_left = 8\nlock_right = 7\n\n[travel]",
            "[steering] has lock beside lock_left and lock_right; keep either lock or those two.",
        ),
        (
            "[travel]",
            '[steering]\nkind = "pitman"\naxis = "up"\nlock = 9\n\n[travel]',
            "[steering] has axis, which only a rack has; give the shaft's direction as pitman.axis or leave out axis.",
        ),
        (
            "[travel]",
            '[steering]\nkind = "rack"\nlock = 0\n\n[travel]',
            "[steering] lock is 0, expected more than 0; correct it.",
        ),
        (
            "[travel]",
            "[frame.box]\ncentre = \"lower\"\nsize = [1, 2, 3]\ndiameter = 4\n\n[travel]",
            '[frame."box"] has diameter, which only goes with path; add path or leave out diameter.',
        ),
    ],
)  # fmt: skip
def test_one_mistake_one_sentence(old, new, said, tmp_path):
    assert complaints_of(changed(old, new), tmp_path) == [said]


def test_several_mistakes_are_said_together(tmp_path):
    text = changed("bump = 70", "bump = -1").replace('units = "mm"', 'units = "cm"').replace("width", "widht")
    assert complaints_of(text, tmp_path) == [
        'units is "cm", expected one of mm, in; correct it.',
        '[wheel."tyre"] has the unknown key "widht"; did you mean "width"?',
        "[travel] bump is -1, expected more than 0; correct it.",
    ]


def test_hundreds_of_mistakes_are_counted(tmp_path):
    text = CORNER.replace("[joint.bush]", "\n".join(f"p{k} = [1]" for k in range(500)) + "\n[joint.bush]")
    said = complaints_of(text, tmp_path)
    assert len(said) == 31  # thirty and the count of the rest
    assert said[-1] == "470 more like these; correct the first ones and try again."


def test_a_key_that_could_fool_a_terminal_is_spelt_out(tmp_path):
    (said,) = complaints_of(changed("width = 185", 'width = 185\n"\\u001b[2J\\nwidth" = 3'), tmp_path)
    assert said.isprintable()
    assert '"\\x1b[2J\\nwidth"' in said


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "[red]x[/red]", "$(rm)", "'; --", "x" * 60, "-o"])
def test_strange_names_are_only_names(name, tmp_path):
    path = tmp_path / "corner.toml"
    path.write_text(CORNER.replace("tie rod", name), encoding="utf-8")
    assert assemble(read_scene(path)).links[0].name == name


def test_an_accent_in_one_or_two_characters_is_the_same_name(tmp_path):
    path = tmp_path / "corner.toml"
    text = changed("eye_top = ", '"tête" = ').replace('"eye_top"', '"te\u0302te"')
    path.write_text(text, encoding="utf-8")
    names = {name for name, _, _ in assemble(read_scene(path)).points}
    assert "tête" in names


MESH_TABLE = '[frame.shell]\nmesh = "{}"\n\n[travel]'


@pytest.mark.parametrize(
    ("mesh", "said"),
    [
        ("../shell.stl", "leaves the scene's folder; put the file beside the scene and name it there."),
        ("/etc/hostname", "leaves the scene's folder; put the file beside the scene and name it there."),
        ("out.stl", "leaves the scene's folder; put the file beside the scene and name it there."),
        ("circle.stl", "is no file that can be read; check the name."),
        ("é" * 200, "is no file that can be read; check the name."),
        ("nothing.stl", "is not a file beside the scene; check the name."),
        ("shell.txt", "is none of .stl, .obj, .ply, .glb; export the shape in one of these."),
        ("folder.stl", "is not a file beside the scene; check the name."),
    ],
)
def test_meshes_that_cannot_be(mesh, said, tmp_path):
    scenes = tmp_path / "scenes"
    scenes.mkdir()
    (tmp_path / "shell.stl").write_text("solid")
    (scenes / "shell.txt").write_text("solid")
    (scenes / "folder.stl").mkdir()
    (scenes / "out.stl").symlink_to(tmp_path / "shell.stl")
    (scenes / "circle.stl").symlink_to("circle.stl")
    content = changed("[travel]", MESH_TABLE.format(mesh))
    assert complaints_of(content, scenes) == [f'[frame."shell"] mesh is "{mesh}", which {said}']


@pytest.mark.parametrize("mesh", ["shell.stl", "parts/shell.STL", "link.stl"])
def test_meshes_beside_the_scene(mesh, tmp_path):
    (tmp_path / "parts").mkdir()
    (tmp_path / "shell.stl").write_text("solid")
    (tmp_path / "parts" / "shell.STL").write_text("solid")
    (tmp_path / "link.stl").symlink_to("shell.stl")
    path = tmp_path / "corner.toml"
    path.write_text(changed("[travel]", MESH_TABLE.format(mesh)), encoding="utf-8")
    # A full path, so that the file that was checked is the one that is opened, whatever folder the person is in.
    assert read_scene(path).frame["shell"].mesh == str((tmp_path / mesh).resolve())


# -- the schema --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def validator() -> jsonschema.Draft202012Validator:
    schema = json.loads(json.dumps(scene_schema()))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@pytest.mark.parametrize("name", NAMES)
def test_the_schema_accepts_our_scenes(name, validator):
    assert list(validator.iter_errors(scene_data(name))) == []


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("travel", "bmup"), 3),
        (("units",), "cm"),
        (("points", "diff"), [1, 2]),
        (("link", "upper link", "to", "blot"), "up"),
        (("link", "upper link", "to", "bolt"), "sideways"),
        (("coilover", "coilover", "spring", "rate"), -1),
        (("wheel",), {}),
    ],
)
def test_the_schema_refuses_what_reading_refuses(path, value, validator):
    data = scene_data("wren_rear")
    _put(data, path, value)
    assert list(validator.iter_errors(data))
    with pytest.raises(SceneError):
        scene_from(data, SCENES / "wren_rear.toml")


# -- any mutation is either a scene or a complaint ---------------------------------------------------------------

JUNK: list[Any] = [
    None, -1, 0, 3, 90, True, "", "x", "frame", "axle", "upright", "left upright", "rack", "lower arm", "across",
    "rod end", "ball joint", "inline ball joint", "strut mount", "lower_ball", "left lower_ball", "wheel_centre",
    "\x1b[31m\n", "[red]", float("nan"), float("inf"), 1e300, 1e-300, 10**400, 1e5, [], [1, 2], [0, 0, 0], [0, 0, 1],
    [1, 2, 3], ["a", "b"], ["lower_ball", "lower_ball"], ["\x1b", "\n"], {}, {"a": 1}, [[1]],
]  # fmt: skip
NEW_KEYS = ["x", "frame", "rack", "left x", "upright", "axle", "lower arm", "lower link", "coilover", "\n", "Ω"]


def _places(data: Any, before: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    entries = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in entries:
        yield (*before, key)
        yield from _places(value, (*before, key))


def _put(data: Any, path: tuple[Any, ...], value: Any) -> None:
    for key in path[:-1]:
        data = data[key]
    data[path[-1]] = value


@st.composite
def mutated_scenes(draw: st.DrawFn) -> dict[str, Any]:
    data = scene_data(draw(st.sampled_from(NAMES)))
    for _ in range(draw(st.integers(1, 3))):
        path = draw(st.sampled_from(list(_places(data))))
        parent = data
        for key in path[:-1]:
            parent = parent[key]
        match draw(st.sampled_from(["delete", "rename", "copy", "junk", "junk", "other"])):
            case "delete":
                del parent[path[-1]]
            case "rename" if isinstance(parent, dict):
                parent[draw(st.sampled_from(NEW_KEYS))] = parent.pop(path[-1])
            case "copy" if isinstance(parent, dict):
                parent[f"{path[-1]} 2"] = copy.deepcopy(parent[path[-1]])
            case "other":
                other: Any = data
                for key in draw(st.sampled_from(list(_places(data)))):
                    other = other[key]
                parent[path[-1]] = copy.deepcopy(other)
            case _:
                parent[path[-1]] = copy.deepcopy(draw(st.sampled_from(JUNK)))
    return data


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(mutated_scenes())
def test_a_mutated_scene_is_a_scene_or_a_complaint(data):
    # Warnings are errors in this project, so that an overflow on the way is found here as well.
    complaints: tuple[str, ...] = ()
    wheels = 0
    try:
        wheels = len(assemble(scene_from(data, SCENES / "mutated.toml")).wheels)
    except SceneError as error:
        complaints = error.complaints
    assert bool(complaints) != bool(wheels)
    for complaint in complaints:
        assert complaint.isprintable()
        assert complaint.endswith((".", "?"))


def test_names_as_long_as_they_may_be_can_be_referred_to_with_their_side():
    data = scene_data("wren_front")
    point, arm = "p" * 60, "a" * 60
    data["points"][point] = data["points"].pop("lower_ball")
    data["arm"][arm] = data["arm"].pop("lower arm")
    text = json.dumps(data).replace('"lower_ball"', f'"{point}"').replace('"lower arm"', f'"{arm}"')
    data = json.loads(text)
    data["gap"] = {"near": {"between": [f"left {arm}", f"right {arm}"], "wanted": 5}}
    data["frame"]["stay"] = {"path": [f"left {point}", f"right {point}"], "diameter": 20}
    mechanism = assemble(scene_from(data, SCENES / "wren_front.toml"))
    assert {f"left {arm}", f"right {arm}"} <= {made.name for made in mechanism.arms}
    data["arm"][f"{arm}a"] = data["arm"].pop(arm)
    with pytest.raises(SceneError, match="expected a name of 1 to 60 printable characters"):
        scene_from(data, SCENES / "wren_front.toml")
