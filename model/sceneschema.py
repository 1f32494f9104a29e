"""The scene file as a JSON Schema, for editors that complete and check it."""

from __future__ import annotations

import copy
from typing import Any

from model.records import is_table
from model.scene import Scene

# Name of a record in which nothing needs to be given, since what it is merged with has it already.
SOME = "Some"


def scene_schema() -> dict[str, Any]:
    """The JSON Schema of a scene; under a variant stand the same tables, and none of their keys is needed there."""
    schema = Scene.model_json_schema()
    definitions, tables = schema["$defs"], schema["properties"]
    some = {f"{SOME}{name}": _loosened(record) for name, record in definitions.items() if name != "Variant"}
    record = definitions["Variant"]
    record["properties"] |= {
        name: _loosened(table) for name, table in tables.items() if is_table(name) and name != "variant"
    }
    record["additionalProperties"] = False
    definitions |= some
    return schema


def _loosened(schema: Any) -> Any:
    """A copy in which no key is needed, no entry has to be there, and records are the loosened ones too."""
    match schema:
        case dict():
            # A list is replaced as a whole: what stands in it is complete.
            loose = {
                key: copy.deepcopy(value) if key == "items" else _loosened(value)
                for key, value in schema.items()
                if key not in ("required", "minProperties")
            }
            if isinstance(schema.get("$ref"), str):
                head, _, name = schema["$ref"].rpartition("/")
                loose["$ref"] = f"{head}/{SOME}{name}"
            return loose
        case list():
            return [_loosened(each) for each in schema]
    return schema
