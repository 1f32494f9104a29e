"""From a file to a Scene, with one sentence for everything that is wrong with it."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from model.errors import SceneError
from model.naming import suggestion
from model.scene import Scene

# A scene is a few kilobytes of text; a file a hundred times as long is not one, and parsing it would only keep
# the person waiting.
LARGEST_FILE = 1_000_000
MESH_SUFFIXES = (".stl", ".obj", ".ply", ".glb")


def read_scene(path: Path) -> Scene:
    """Read a scene file.

    Raises:
        SceneError: with every mistake found, each one sentence that begins with the file's name.

    """
    text = _text(path)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SceneError(
            f"{path} is not valid TOML: {str(error)[0].lower()}{str(error)[1:]}; correct that line."
        ) from None
    except RecursionError:
        raise SceneError(
            f"{path} nests brackets too deeply to be a scene; compare it with scenes/wren_rear.toml."
        ) from None
    if not data:
        raise SceneError(f"{path} is empty, expected a scene; begin with a copy of scenes/wren_rear.toml.")
    try:
        scene = Scene.model_validate(data)
    except ValidationError as error:
        raise SceneError([f"{path}: {_sentence(entry, data)}" for entry in error.errors()]) from None
    complaints = _mesh_complaints(scene, path)
    if complaints:
        raise SceneError([f"{path}: {complaint}" for complaint in complaints])
    return scene


def _text(path: Path) -> str:
    try:
        if path.is_dir():
            raise SceneError(f"{path} is a folder, expected a scene file; name a .toml file in it.")
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise SceneError(f"{path} holds {size / 1e6:.1f} MB, expected a scene of a few kB; name a scene file.")
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise SceneError(f"{path} does not exist; check the name and the folder.") from None
    except UnicodeDecodeError:
        raise SceneError(f"{path} is not UTF-8 text, as TOML must be; save it as UTF-8 in your editor.") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise SceneError(f"{path} cannot be read: {reason.lower()}; check the name and its permissions.") from None


def _mesh_complaints(scene: Scene, path: Path) -> list[str]:
    folder = path.resolve().parent
    complaints = []
    for name, shape in scene.frame.items():
        if shape.mesh is None:
            continue
        where = f'[frame."{name}"] mesh is "{shape.mesh}", which'
        file = (folder / shape.mesh).resolve()
        if not file.is_relative_to(folder):
            complaints.append(f"{where} leaves the scene's folder; put the file beside the scene and name it there.")
        elif file.suffix.lower() not in MESH_SUFFIXES:
            complaints.append(f"{where} is none of {', '.join(MESH_SUFFIXES)}; export the shape in one of these.")
        elif not file.is_file():
            complaints.append(f"{where} is not a file beside the scene; check the name.")
    return complaints


def _sentence(error: ErrorDetails, data: Mapping[str, Any]) -> str:
    """One of pydantic's complaints in the words of a scene file."""
    location = tuple(part for part in error["loc"])
    kind, found = error["type"], error["input"]
    if kind in ("extra_forbidden", "missing"):
        where, key = _where(location[:-1]), str(location[-1])
        if kind == "missing":
            return f"{where} has no {key}, which it needs; add it."
        known = _keys_at(location[:-1])
        return f'{where} has the unknown key "{key}"; {suggestion(key, known)}'
    where = _where(location)
    if location and location[-1] == "[key]":
        return f'{_where(location[:-2])} has the name "{found}": {_message(error)}.'
    return f"{where} is {_shown(found)}, {_message(error)}; correct it."


def _message(error: ErrorDetails) -> str:
    """What was expected."""
    context = error.get("ctx") or {}
    plain = {
        "float_type": "expected a number",
        "finite_number": "expected a finite number",
        "string_type": "expected text in quotes",
        "bool_type": "expected true or false",
        "dict_type": "expected a table",
        "model_type": "expected a table",
        "list_type": "expected a list in brackets",
    }
    match error["type"]:
        case "greater_than":
            return f"expected more than {context['gt']:g}"
        case "greater_than_equal":
            return f"expected {context['ge']:g} or more"
        case "less_than_equal":
            return f"expected {context['le']:g} or less"
        case "too_short" | "too_long":
            number = context.get("min_length") if error["type"] == "too_short" else context.get("max_length")
            return f"expected {number} entries, not {context['actual_length']}"
        case "enum" | "literal_error":
            known = [entry.strip("'") for entry in str(context["expected"]).replace(" or ", ", ").split(", ")]
            return f"expected {suggestion(str(error['input']), known).removesuffix('.').removesuffix('?')}".replace(
                "expected did you mean", "which is not known; did you mean"
            ).replace("expected choose one of", "expected one of")
        case "value_error":
            return str(context["error"])
        case other:
            return plain.get(other, str(error["msg"]).lower())


def _shown(found: Any) -> str:
    if isinstance(found, str):
        return f'"{found if len(found) <= 60 else found[:57] + "..."}"'
    if isinstance(found, bool):
        return str(found).lower()
    text = str(found)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _where(location: tuple[int | str, ...]) -> str:
    """A place in the file, such as `[link."lower link"] from.point`."""
    if not location:
        return "the file"
    field = Scene.model_fields.get(str(location[0]))
    if field is None:
        return str(location[0])
    keyed = "dict" in str(field.annotation)
    if location[0] == "points":
        return "[points]" if len(location) == 1 else f"[points] {location[1]}"
    if not keyed and len(location) == 1:
        return str(location[0])
    depth = 2 if keyed else 1
    head, tail = location[:depth], location[depth:]
    table = f'[{head[0]}."{head[1]}"]' if len(head) == 2 else f"[{head[0]}]"
    words = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in tail)
    return f"{table} {words[1:] if words.startswith('.') else words}".rstrip()


def _keys_at(location: tuple[int | str, ...]) -> list[str]:
    """The keys that a table at this place may have."""
    kind: Any = Scene
    for part in location:
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            field = next((f for name, f in kind.model_fields.items() if part in (name, f.alias)), None)
            kind = None if field is None else _innermost(field.annotation)
    if not (isinstance(kind, type) and issubclass(kind, BaseModel)):
        return []
    return [field.alias or name for name, field in kind.model_fields.items()]


def _innermost(annotation: Any) -> Any:
    """The record class inside dict[...], list[...] and optional annotations."""
    for inner in get_args(annotation):
        found = _innermost(inner)
        if isinstance(found, type) and issubclass(found, BaseModel):
            return found
    return annotation
