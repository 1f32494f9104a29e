"""What is wrong with a table of a file, in sentences that name the place in the words of the file."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from model.naming import meant, nearest, suggestion
from model.records import SHOWN, Location, is_table, keys_at, place_text, quoted, record_at


def sentences(errors: Sequence[ErrorDetails], root: type[BaseModel]) -> list[str]:
    """Pydantic's complaints about a file of this kind; a misspelt key is not said to be missing as well."""
    misspelt = set()
    for error in errors:
        if error["type"] == "extra_forbidden":
            parent, key = error["loc"][:-1], str(error["loc"][-1])
            misspelt.add((parent, nearest(key, keys_at(parent, root))))
    return [
        _sentence(error, root)
        for error in errors
        if not (error["type"] == "missing" and (error["loc"][:-1], error["loc"][-1]) in misspelt)
    ]


def _sentence(error: ErrorDetails, root: type[BaseModel]) -> str:
    location, kind, found = error["loc"], error["type"], error["input"]
    where, above = place_text(location, root), place_text(location[:-1], root)
    if kind == "missing":
        return f"{above} has no {_key_text(location, root)}, which it needs; {_how_to_add(location)}"
    if kind == "extra_forbidden":
        key, known = str(location[-1]), keys_at(location[:-1], root)
        what = "table or key" if len(location) == 1 else "key"
        return f"{above} has the unknown {what} {quoted(key)}; {suggestion(key, known, 'take it out.')}"
    if location and location[-1] == "[key]":
        return f"{place_text(location[:-2], root)} has the name {_shown(found)}: {_message(error)}; choose another."
    if kind == "value_error" and isinstance(found, Mapping) and record_at(location, root) is not None:
        return f"{where} {_message(error)}"
    if kind == "too_short" and found == {}:
        return f"{where} is empty, expected at least one entry; add it."
    message = _message(error)
    return f"{where} is {_shown(found)}, {message}" + ("" if message.endswith("?") else "; correct it.")


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


def _shown(found: Any) -> str:
    """A value as the scene file would have it."""
    match found:
        case str():
            return quoted(found)
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


def _how_to_add(location: Location) -> str:
    """What to do about a missing key."""
    if location == ("units",):
        return 'write units = "mm" or units = "in" at the top, above the first [table].'
    return "add it."


def _key_text(location: Location, root: type[BaseModel]) -> str:
    """A missing key as it would be written: a table of the file in brackets."""
    key = str(location[-1])
    if len(location) > 1 or not is_table(key, root):
        return key
    return f"[{key}.NAME]" if key == "wheel" else f"[{key}]"
