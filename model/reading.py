"""From a file to a Scene, with one sentence for everything that is wrong with it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from model import variants
from model.errors import CallError, SceneError
from model.naming import MOST_COMPLAINTS, meant, more_text, nearest, suggestion
from model.records import SHOWN, keys_at, place_text, printable, record_at
from model.scene import Scene
from model.scenery import FrameShape, OwnMesh

# A scene is a few kilobytes of text; a file a hundred times as long is not one, and parsing it would only keep
# the person waiting.
LARGEST_FILE = 1_000_000
MESH_SUFFIXES = (".stl", ".obj", ".ply", ".glb")

Entry = TypeVar("Entry", FrameShape, OwnMesh)


def read_scene(path: Path, variant: str | None = None) -> Scene:
    """Read a scene file, as it is written or with one of its variants in it.

    Raises:
        SceneError: with every mistake found, in other variants too, each a sentence that begins with the file's name.
        CallError: there is no such variant.

    """
    text = _text(path)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SceneError(_toml_sentence(path, text, str(error))) from None
    except RecursionError:
        raise SceneError(
            f"{path} nests brackets too deeply to be a scene; compare it with scenes/wren_rear.toml."
        ) from None
    except ValueError:
        raise SceneError(f"{path} holds a number with thousands of digits; correct it.") from None
    if not data:
        raise SceneError(f"{path} is empty, expected a scene; begin with a copy of scenes/wren_rear.toml.")
    return scene_from(data, path, variant)


def scene_from(data: Mapping[str, Any], path: Path, variant: str | None = None) -> Scene:
    """A scene from what its TOML file at `path` holds; mesh files, named beside it there, have full paths here.

    Raises:
        SceneError: with every mistake found, in other variants too, each a sentence that begins with the file's name.
        CallError: there is no such variant.

    """
    scenes, complaints = _with_variants(data, path)
    if len(complaints) > MOST_COMPLAINTS:
        complaints[MOST_COMPLAINTS:] = [more_text(len(complaints) - MOST_COMPLAINTS)]
    if complaints:
        raise SceneError([f"{path}: {complaint}" for complaint in complaints])
    name = variants.AS_WRITTEN if variant is None else variant
    if name not in scenes:
        if len(scenes) == 1:
            raise CallError(f'{path} has no variant "{name}", nor any other; write [variant."{name}"] into it.')
        raise CallError(f'{path} has no variant "{name}"; {suggestion(name, scenes, "see the file.")}')
    return scenes[name]


def _with_variants(data: Mapping[str, Any], path: Path) -> tuple[dict[str, Scene], list[str]]:
    """The scene as written and with each of its variants, by name, and what is wrong with any of them."""
    scene, complaints = _checked(data, path)
    if scene is None or complaints:
        return {}, complaints
    scenes = {variants.AS_WRITTEN: scene}
    for name, variant in scene.variant.items():
        try:
            merged = variants.merged(data, scene.variant, name)
        except SceneError as error:
            complaints += error.complaints
            continue
        other, wrong = _checked(merged, path)
        complaints += variants.told(wrong, scene.variant, name)
        if other is not None:
            title = variants.title_of(scene.title, name, variant)
            scenes[name] = other.model_copy(update={"title": title, "variant": scene.variant})
    # A variant that another builds on has its mistakes told once.
    return scenes, list(dict.fromkeys(complaints))


def _checked(data: Mapping[str, Any], path: Path) -> tuple[Scene | None, list[str]]:
    """A scene from its data, with full paths of mesh files; without one, what is wrong."""
    try:
        scene = Scene.model_validate(data)
    except ValidationError as error:
        return None, _sentences(error.errors(include_url=False))
    complaints = _mesh_complaints(scene, path)
    if complaints:
        return None, complaints
    frame = {name: _found(shape, "mesh", path) for name, shape in scene.frame.items()}
    own = {name: _found(mesh, "file", path) for name, mesh in scene.mesh.items()}
    return scene.model_copy(update={"frame": frame, "mesh": own}), []


def _text(path: Path) -> str:
    try:
        if path.is_dir():
            raise SceneError(f"{path} is a folder, expected a scene file; name a .toml file in it.")
        with path.open("rb") as file:
            # Not the size that the folder lists: a pipe or a device has none.
            raw = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise SceneError(f"{path} does not exist; check the name and the folder.") from None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise SceneError(f"{path} cannot be read: {reason}; check the name and its permissions.") from None
    if len(raw) > LARGEST_FILE:
        raise SceneError(
            f"{path} holds more than {LARGEST_FILE / 1e6:g} MB, expected a scene of a few kB; name a scene file."
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = "\0"
    if "\0" in text:
        raise SceneError(f"{path} is not UTF-8 text, as TOML must be; save it as UTF-8 in your editor.")
    # TOML knows two ends of a line; a lone carriage return is one more that old editors wrote.
    return text.replace("\r\n", "\n").replace("\r", "\n")


_TOML_WORDS = {
    r"Cannot overwrite a value": "the same key is given twice",
    r"Cannot declare \((.*?),?\) twice": "a table is given twice",
    r"Cannot mutate immutable namespace.*": "a table that is written in braces is given again",
    r"Illegal character '\\n'": "text in quotes does not end on its line",
    r"Expected '\]' at the end of a table declaration": "a name with spaces or signs in it goes in quotes, "
    'such as [joint."half-inch rod end"]',
    r"Invalid value": "no value that TOML knows (text goes in quotes, true and false in small letters)",
    r"Expected newline or end of document after a statement": "something follows the value "
    "(numbers have a decimal point, not a comma)",
}


def _toml_sentence(path: Path, text: str, reason: str) -> str:
    """One of the TOML reader's complaints, with the line it is about."""
    what, line = reason, ""
    place = re.fullmatch(r"(.*) \(at line (\d+), column \d+\)", reason, re.DOTALL)
    if place is not None:
        what, number = place[1], int(place[2])
        line = f"line {number}, {_quoted(text.split(chr(10))[number - 1].strip())}: "
    for pattern, words in _TOML_WORDS.items():
        if re.fullmatch(pattern, what):
            what = words
            break
    else:
        what = printable(what[0].lower() + what[1:])
    if line:
        return f"{path} is not valid TOML, {line}{what}; correct that line."
    return f"{path} is not valid TOML: {what}; close what was opened."


def _found(entry: Entry, key: str, path: Path) -> Entry:
    """An entry whose mesh file is found from any folder."""
    file = getattr(entry, key)
    return entry if file is None else entry.model_copy(update={key: str((path.parent / file).resolve())})


def _mesh_complaints(scene: Scene, path: Path) -> list[str]:
    named = [(f'[frame."{name}"] mesh', shape.mesh) for name, shape in scene.frame.items()]
    named += [(f'[mesh."{name}"] file', mesh.file) for name, mesh in scene.mesh.items()]
    complaints = []
    for where, file in named:
        reason = "" if file is None else _mesh_complaint(path.parent, file)
        if reason:
            complaints.append(f'{where} is "{file}", which {reason}')
    return complaints


def _mesh_complaint(folder: Path, mesh: str) -> str:
    """What is wrong with a mesh file's name in a scene's folder, or nothing."""
    try:
        folder = folder.resolve()
        file = (folder / mesh).resolve()
        found = file.is_file()
    except (OSError, RuntimeError):  # too long a name; links that lead in a circle
        return "is no file that can be read; check the name."
    if not file.is_relative_to(folder):
        return "leaves the scene's folder; put the file beside the scene and name it there."
    if file.suffix.lower() not in MESH_SUFFIXES:
        return f"is none of {', '.join(MESH_SUFFIXES)}; export the shape in one of these."
    return "" if found else "is not a file beside the scene; check the name."


def _sentences(errors: Sequence[ErrorDetails]) -> list[str]:
    """Pydantic's complaints in the words of a scene file; a misspelt key is not said to be missing as well."""
    misspelt = set()
    for error in errors:
        if error["type"] == "extra_forbidden":
            parent, key = error["loc"][:-1], str(error["loc"][-1])
            misspelt.add((parent, nearest(key, keys_at(parent))))
    return [
        _sentence(error)
        for error in errors
        if not (error["type"] == "missing" and (error["loc"][:-1], error["loc"][-1]) in misspelt)
    ]


def _sentence(error: ErrorDetails) -> str:
    location, kind, found = error["loc"], error["type"], error["input"]
    if kind == "missing":
        return f"{place_text(location[:-1])} has no {_key_text(location)}, which it needs; {_how_to_add(location)}"
    if kind == "extra_forbidden":
        key, known = str(location[-1]), keys_at(location[:-1])
        what = "table or key" if len(location) == 1 else "key"
        near = suggestion(key, known, "take it out.")
        return f"{place_text(location[:-1])} has the unknown {what} {_quoted(key)}; {near}"
    if location and location[-1] == "[key]":
        return f"{place_text(location[:-2])} has the name {_shown(found)}: {_message(error)}; choose another."
    if kind == "value_error" and isinstance(found, Mapping) and record_at(location) is not None:
        return f"{place_text(location)} {_message(error)}"
    if kind == "too_short" and found == {}:
        return f"{place_text(location)} is empty, expected at least one entry; add it."
    message = _message(error)
    return f"{place_text(location)} is {_shown(found)}, {message}" + ("" if message.endswith("?") else "; correct it.")


_EXPECTED = {
    "greater_than": "expected more than {gt:g}",
    "greater_than_equal": "expected {ge:g} or more",
    "less_than_equal": "expected {le:.0f} or less",
    "float_type": "expected a number",
    "finite_number": "expected a finite number",
    "string_type": "expected text in quotes",
    "bool_type": "expected true or false",
    "dict_type": 'expected tables with names, such as [{table}."front"]',
    "model_type": "expected a table with keys of its own",
    "list_type": "expected a list in brackets",
    "too_short": "expected at least {min_length} entries",
    "too_long": "expected at most {max_length} entries",
    "value_error": "{error}",
}


def _message(error: ErrorDetails) -> str:
    """What was expected."""
    context = error.get("ctx") or {}
    if error["type"] in ("enum", "literal_error"):
        known = re.findall(r"'([^']*)'", str(context["expected"]))
        # Joints sound alike and are not: only what is nearly the same word is taken for a slip of the keyboard.
        near = meant(str(error["input"]), known, 0.75)
        return f"expected one of {', '.join(known)}" if near is None else f'which is not known; did you mean "{near}"?'
    template = _EXPECTED.get(error["type"])
    table = error["loc"][0] if error["loc"] else ""
    return str(error["msg"]).lower() if template is None else template.format(table=table, **context)


def _quoted(text: str) -> str:
    return f'"{printable(text)}"'


def _shown(found: Any) -> str:
    """A value as the scene file would have it."""
    match found:
        case str():
            return _quoted(found)
        case Mapping():
            return "a table" if found else "an empty table"
        case list() if any(isinstance(entry, Mapping) for entry in found):
            return f"a list of {len(found)} table{'s' * (len(found) != 1)}"
        case list():
            # No more of a long list than can be shown.
            return _cut(f"[{', '.join(_shown(entry) for entry in found[:SHOWN])}]")
        case bool():
            return str(found).lower()
    return "a number with far too many digits" if isinstance(found, int) and abs(found) > 10**SHOWN else str(found)


def _cut(text: str) -> str:
    return text if len(text) <= SHOWN else f"{text[: SHOWN - 3]}..."


def _how_to_add(location: tuple[int | str, ...]) -> str:
    """What to do about a missing key."""
    if location == ("units",):
        return 'write units = "mm" or units = "in" at the top, above the first [table].'
    return "add it."


def _key_text(location: tuple[int | str, ...]) -> str:
    """A missing key as it would be written: a table of the file in brackets."""
    key = str(location[-1])
    if len(location) > 1 or key in ("title", "units"):
        return key
    return f"[{key}.NAME]" if key == "wheel" else f"[{key}]"
