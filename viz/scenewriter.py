"""A scene file with some of its values changed: comments, order and everything else stay as the person wrote them."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from model.edits import Edit, edited
from model.errors import CallError, SceneError
from model.mobility import joined
from model.overrides import Variant
from model.reading import scene_data, scene_from
from model.tomlfile import line_feeds
from model.variants import AS_WRITTEN, chain, merged
from viz.files import path_text


def edited_text(text: str, scene: Path, output: Path, changes: Sequence[Edit], variant: str | None = None) -> str:
    """The text of a scene file with changes made; those of a variant are written into its own table.

    Args:
        text: what the file holds, with its own line ends.
        scene: the file that it was read from.
        output: where it is to stand.
        changes: new values, of the scene with its variant in it where one is named.
        variant: the name of a variant of the file.

    Raises:
        CallError: the scene names mesh files, and the output would not stand beside them; its layout does not take the
            changes; or what comes of them is no scene.

    """
    plain = scene_data(text, scene)
    if output.resolve().parent != scene.resolve().parent and _names_meshes(plain):
        raise CallError(
            f"{path_text(output)} would not stand beside the mesh files that the scene names; choose a name in the "
            "scene's own folder."
        )
    if variant is not None and variant != AS_WRITTEN:
        changes = _in_variant(changes, plain, scene, variant)
    expected = edited(plain, changes)
    written = _written(line_feeds(text), changes)
    if written is None or _data(written) != expected:
        where = "the file" if variant is None else f'[variant."{variant}"]'
        raise CallError(
            f"{path_text(scene)} is laid out in a way that the new values cannot be written into; write {where} with a "
            'header for each of its tables, such as [coilover."front"], and without dotted keys.'
        )
    try:
        scene_from(expected, output, variant)
    except SceneError as error:
        raise CallError(
            [f"with the new setting the scene would be wrong: {each}" for each in error.complaints]
        ) from None
    return written.replace("\n", "\r\n") if "\r\n" in text else written  # lines end as they did


def written_words(count: int, variants: Mapping[str, Variant], variant: str | None) -> str:
    """What is said of a written scene: how many values changed, and which variants stand as they did."""
    base = AS_WRITTEN if variant is None else variant
    others = [name for name in variants if name != base and (base == AS_WRITTEN or base in chain(variants, name))]
    words = f"the scene with {count} values changed"
    if not others:
        return words
    names = joined(others)
    what, keep, own, them = (
        ("variant", "keeps", "its own", "it") if len(others) == 1 else ("variants", "keep", "their own", "them")
    )
    return f"{words}; the {what} {names} {keep} the points and values of {own} tables: set {them} too, with --variant"


def _names_meshes(data: Mapping[str, Any]) -> bool:
    return bool(data.get("mesh")) or any("mesh" in shape for shape in data.get("frame", {}).values())


def _in_variant(changes: Sequence[Edit], plain: Mapping[str, Any], scene: Path, variant: str) -> list[Edit]:
    """The same changes in a variant, where a list is replaced as a whole."""
    base = scene_from(plain, scene)
    new = edited(merged(plain, base.variant, variant), changes)
    found: dict[tuple[str | int, ...], Any] = {}
    for change in changes:
        key: list[str] = []
        value: Any = new
        for part in change.key:
            if isinstance(part, int):
                break
            key.append(part)
            value = value[part]
        found["variant", variant, *key] = value
    return [Edit(key, value) for key, value in found.items()]


def _written(text: str, changes: Sequence[Edit]) -> str | None:
    """The text with changes made, or `None` where tomlkit finds no way to."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(text)
        for change in changes:
            _write(document, change)
        return tomlkit.dumps(document)
    except (TOMLKitError, ValueError, LookupError):
        return None


def _data(text: str) -> dict[str, Any] | None:
    """What a text holds, as a reader of its own sees it; `None` where it is not valid TOML."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


def _write(document: Any, change: Edit) -> None:
    """One change in a document of tomlkit's."""
    import tomlkit
    from tomlkit.items import InlineTable

    table = document
    headed = True  # what is neither in braces nor behind a dot can hold tables with headers of their own
    for key in change.key[:-1]:
        if not isinstance(key, int) and key not in table:
            own = headed and (table is document or change.key[0] == "variant")
            table[key] = tomlkit.table() if own else tomlkit.inline_table()
        headed = headed and not _dotted(table, key) and not isinstance(table[key], InlineTable)
        table = table[key]
    _put(table, change.key[-1], change.value)


def _dotted(table: Any, key: str | int) -> bool:
    """Whether a key of a table of tomlkit's is written with dots, as in coilover.front.spring.rate = 25."""
    container = table if hasattr(table, "body") else getattr(table, "value", None)
    return any(own is not None and own.key == key and own.is_dotted() for own, _ in getattr(container, "body", ()))


def _put(table: Any, key: str | int, value: Any) -> None:
    """Put a value into a table or a list of tomlkit's, piece by piece where it can be: columns and comments stay."""
    old = table[key] if isinstance(key, int) or key in table else None
    if isinstance(value, Mapping) and isinstance(old, Mapping):
        for name, each in value.items():
            _put(old, name, each)
    elif isinstance(value, list) and isinstance(old, list) and len(old) == len(value):
        for number, each in enumerate(value):
            if old[number] != each:
                _put(old, number, each)
    else:
        table[key] = _item(value)


def _item(value: Any) -> Any:
    """A value for tomlkit: tables in braces, whole numbers without a decimal point, as people write them."""
    import tomlkit

    if isinstance(value, Mapping):
        table = tomlkit.inline_table()
        table.update({key: _item(each) for key, each in value.items()})
        return table
    if isinstance(value, list):
        items = tomlkit.array()
        items.extend(_item(each) for each in value)
        return items
    return int(value) if isinstance(value, float) and value.is_integer() else value
