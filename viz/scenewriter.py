"""A scene file with some of its values changed: comments, order and everything else stay as the person wrote them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from model.edits import Edit, edited
from model.errors import CallError
from viz.files import path_text, whole_file


def write_edited(scene: Path, output: Path, changes: Sequence[Edit], variant: str | None = None) -> None:
    """Write a scene file with changes made; those of a variant are written into its own table.

    Raises:
        CallError: the scene names mesh files, and the output would not stand beside them; or it cannot be written.

    """
    import tomlkit

    text = scene.read_bytes().decode("utf-8-sig")
    document = tomlkit.parse(text)
    plain = document.unwrap()
    if output.resolve().parent != scene.resolve().parent and _names_meshes(plain):
        raise CallError(
            f"{path_text(output)} would not stand beside the mesh files that the scene names; choose a name in the "
            "scene's own folder."
        )
    new = edited(plain, changes)
    for change in changes:
        _write(document, change if variant is None else _in_variant(change, new, variant))
    written = tomlkit.dumps(document)
    if "\r\n" in text:  # lines end as they did
        written = written.replace("\r\n", "\n").replace("\n", "\r\n")
    with whole_file(output) as temporary:
        temporary.write_bytes(written.encode("utf-8"))


def _names_meshes(data: dict[str, Any]) -> bool:
    return bool(data.get("mesh")) or any("mesh" in shape for shape in data.get("frame", {}).values())


def _in_variant(change: Edit, new: dict[str, Any], variant: str) -> Edit:
    """The same change in a variant, where a list is replaced as a whole."""
    key: list[str] = []
    value: Any = new
    for part in change.key:
        if isinstance(part, int):
            return Edit(("variant", variant, *key), value)
        key.append(part)
        value = value[part]
    return Edit(("variant", variant, *key), change.value)


def _write(document: Any, change: Edit) -> None:
    """One change in a document of tomlkit's."""
    import tomlkit

    table = document
    for key in change.key[:-1]:
        if not isinstance(key, int) and key not in table:
            table[key] = tomlkit.table() if table is document or "variant" in change.key[:2] else tomlkit.inline_table()
        table = table[key]
    last, value = change.key[-1], _short(change.value)
    old = table[last] if not isinstance(last, int) and last in table else None
    if isinstance(old, list) and isinstance(value, list) and len(old) == len(value):
        for number, each in enumerate(value):  # one by one, so that columns and comments stay
            if old[number] != each:
                old[number] = each
    else:
        table[last] = value


def _short(value: Any) -> Any:
    """Whole numbers without a decimal point, as people write them."""
    if isinstance(value, list):
        return [_short(each) for each in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value
