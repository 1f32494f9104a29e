"""Places in a scene file: which keys a table may have there, and how a place is written."""

from __future__ import annotations

from typing import Any, get_args, get_origin

from pydantic import BaseModel

from model.scene import Scene

Location = tuple[int | str, ...]

# What is shown of a name, a value or a line of the file: enough to find it by.
SHOWN = 60


def printable(text: str) -> str:
    """Text on one line, with what cannot be printed spelt out, cut to a length that can be read."""
    cut = text if len(text) <= SHOWN else text[: SHOWN - 3] + "..."
    return "".join(letter if letter.isprintable() else ascii(letter)[1:-1] for letter in cut)


def quoted(text: str) -> str:
    """Text in quotes, cut to a length that can be read."""
    return f'"{printable(text)}"'


def place_text(location: Location, root: type[BaseModel] = Scene) -> str:
    """A place in the file, such as `[link."lower link"] from.point`."""
    if not location:
        return "the file"
    table = str(location[0])
    if not is_table(table, root):
        return printable(table)
    if table == "points":
        return "[points]" if len(location) == 1 else f"[points] {printable(str(location[1]))}"
    depth = 2 if is_keyed(table, root) else 1
    head, tail = location[:depth], location[depth:]
    start = f'[{head[0]}."{printable(str(head[1]))}"]' if len(head) == 2 else f"[{head[0]}]"
    words = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in tail)
    return f"{start} {words[1:] if words.startswith('.') else words}".rstrip()


def is_keyed(table: str, root: type[BaseModel] = Scene) -> bool:
    """Whether a table of the file holds entries by name, as [link.NAME] does and [travel] does not."""
    field = root.model_fields.get(table)
    return field is not None and get_origin(field.annotation) is dict


def is_table(name: str, root: type[BaseModel] = Scene) -> bool:
    """Whether this is a table of the file, and no key above the first."""
    field = root.model_fields.get(name)
    return field is not None and (is_keyed(name, root) or _is_record(_innermost(field.annotation)))


def record_at(location: Location, root: type[BaseModel] = Scene) -> type[BaseModel] | None:
    """The record class of a table at this place."""
    kind: type[BaseModel] | None = root
    skip = False
    for part in location:
        if skip or isinstance(part, int):
            skip = False
            continue
        if kind is None:
            return None
        field = next((f for name, f in kind.model_fields.items() if part in (name, f.alias)), None)
        annotation = None if field is None else field.annotation
        skip = get_origin(annotation) is dict
        inner = _innermost(annotation)
        kind = inner if _is_record(inner) else None
    return kind


def keys_at(location: Location, root: type[BaseModel] = Scene) -> list[str]:
    """The keys that a table at this place may have."""
    record = record_at(location, root)
    return [] if record is None else [field.alias or name for name, field in record.model_fields.items()]


def needed_at(location: Location) -> list[str]:
    """The keys that a table at this place must have."""
    record = record_at(location)
    fields = {} if record is None else record.model_fields
    return [field.alias or name for name, field in fields.items() if field.is_required()]


def _is_record(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _innermost(annotation: Any) -> Any:
    """The record class inside dict[...], list[...] and optional annotations."""
    for inner in get_args(annotation):
        found = _innermost(inner)
        if _is_record(found):
            return found
    return annotation
