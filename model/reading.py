"""From a file to a Scene, with one sentence for everything that is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from model import variants
from model.complaints import sentences
from model.errors import CallError, SceneError
from model.naming import MOST_COMPLAINTS, more_text, suggestion
from model.scene import Scene
from model.scenery import FrameShape, OwnMesh
from model.tomlfile import toml_data, toml_text

MESH_SUFFIXES = (".stl", ".obj", ".ply", ".glb")

Entry = TypeVar("Entry", FrameShape, OwnMesh)


def read_scene(path: Path, variant: str | None = None) -> Scene:
    """Read a scene file, as it is written or with one of its variants in it.

    Raises:
        SceneError: with every mistake found, in other variants too, each a sentence that begins with the file's name.
        CallError: there is no such variant.

    """
    return scene_from(scene_data(scene_text(path), path), path, variant)


def scene_text(path: Path) -> str:
    """The text of a scene file with its own line ends; what comes through a pipe can be read only once.

    Raises:
        SceneError: it cannot be read, or is no text.

    """
    return toml_text(path, "scene")


def scene_data(text: str, path: Path) -> dict[str, Any]:
    """What the text of the scene file at `path` holds.

    Raises:
        SceneError: it is not valid TOML, or empty.

    """
    return toml_data(text, path, "scene", "scenes/wren_rear.toml")


def scene_from(data: Mapping[str, Any], path: Path, variant: str | None = None) -> Scene:
    """A scene from what its TOML file at `path` holds; mesh files, named beside it there, have full paths here.

    Raises:
        SceneError: with every mistake found, in other variants too, each a sentence that begins with the file's name.
        CallError: there is no such variant.

    """
    if {"front", "rear", "wheelbase"} <= data.keys():
        raise SceneError(f"{path} is a vehicle file, expected a scene; name the scene of its front or of its rear.")
    scenes, complaints = _with_variants(data, path)
    written = data.get("variant")
    known = [variants.AS_WRITTEN, *(written if isinstance(written, Mapping) else ())]
    name = variants.AS_WRITTEN if variant is None else variant
    unknown = "" if name in known else _unknown(name, known)
    if len(complaints) > MOST_COMPLAINTS:
        complaints[MOST_COMPLAINTS:] = [more_text(len(complaints) - MOST_COMPLAINTS)]
    if complaints:
        told = [f"{path}: {complaint}" for complaint in complaints]
        raise SceneError([*told, f"{path} {unknown}"] if unknown else told)
    if unknown:
        raise CallError(f"{path} {unknown}")
    return scenes[name]


def _unknown(name: str, known: Sequence[str]) -> str:
    """What a file is told to lack where a variant is asked for that is not among those that it has."""
    if len(known) == 1:
        return f'has no variant "{name}", nor any other; write [variant."{name}"] into it.'
    return f'has no variant "{name}"; {suggestion(name, known, "see the file.")}'


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
        return None, sentences(error.errors(include_url=False), Scene)
    complaints = _mesh_complaints(scene, path)
    if complaints:
        return None, complaints
    frame = {name: _found(shape, "mesh", path) for name, shape in scene.frame.items()}
    own = {name: _found(mesh, "file", path) for name, mesh in scene.mesh.items()}
    return scene.model_copy(update={"frame": frame, "mesh": own}), []


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
