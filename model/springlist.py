"""Springs that can be had, read from a list: a .csv with a line for each, or a .toml with [spring.NAME] tables."""

from __future__ import annotations

import csv
import io
import math
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from model.errors import CallError
from model.naming import suggestion
from model.springpick import Offer
from model.units import Length

NEEDED, ALLOWED = ("rate", "free_length"), ("solid_length", "inside_diameter")
LARGEST_FILE = 1_000_000


def read_springs(path: Path, units: Length) -> tuple[Offer, ...]:
    """Springs of a list, in its own units where it says so, otherwise in those given.

    Raises:
        CallError: with a sentence for what is wrong with it.

    """
    text = _text(path)
    try:
        if path.suffix.lower() == ".csv":
            rows = _of_csv(path, text)
        elif path.suffix.lower() == ".toml":
            data = tomllib.loads(text)
            units = Length(data.get("units", units))
            rows = data.get("spring", {})
        else:
            raise CallError(f"{path} ends in {path.suffix or 'nothing'}, expected .csv or .toml; rename it.")
    except (tomllib.TOMLDecodeError, csv.Error) as error:
        raise CallError(f"{path} cannot be read: {error}; correct it.") from None
    except ValueError:
        raise CallError(f'{path} has units that are neither "mm" nor "in"; correct them.') from None
    if not isinstance(rows, Mapping) or not rows:
        raise CallError(f"{path} holds no springs, expected a line or a [spring.NAME] table for each; add them.")
    return tuple(_offer(path, name, row, units) for name, row in rows.items())


def _text(path: Path) -> str:
    try:
        raw = path.read_bytes()[: LARGEST_FILE + 1]
        if len(raw) > LARGEST_FILE:
            raise CallError(f"{path} holds more than {LARGEST_FILE / 1e6:g} MB, expected a list of springs.")
        return raw.decode("utf-8-sig")
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise CallError(f"{path} cannot be read: {reason}; check the name.") from None
    except UnicodeDecodeError:
        raise CallError(f"{path} is not UTF-8 text; save it as UTF-8.") from None


def _of_csv(path: Path, text: str) -> dict[str, dict[str, Any]]:
    rows: dict[str, dict[str, Any]] = {}
    separator = ";" if ";" in text.partition("\n")[0] else ","
    for number, row in enumerate(csv.DictReader(io.StringIO(text), delimiter=separator), start=2):
        clean = {(key or "").strip(): (value or "").strip() for key, value in row.items() if isinstance(value, str)}
        name = clean.pop("name", "") or f"line {number}"
        if name in rows:
            raise CallError(f'{path} has two springs called "{name}"; give each its own name.')
        rows[name] = {key: value for key, value in clean.items() if value}
    return rows


def _offer(path: Path, name: str, row: Any, units: Length) -> Offer:
    where = f'{path}: "{name}"'
    if not isinstance(row, Mapping):
        raise CallError(f"{where} is no table with rate and free_length; correct it.")
    for key in row:
        if key not in (*NEEDED, *ALLOWED):
            raise CallError(f'{where} has the unknown key "{key}"; {suggestion(str(key), (*NEEDED, *ALLOWED))}')
    numbers = {key: _number(where, key, value) for key, value in row.items()}
    missing = [key for key in NEEDED if key not in numbers]
    if missing:
        raise CallError(f"{where} has no {' and no '.join(missing)}; add it.")
    free, solid = numbers["free_length"], numbers.get("solid_length")
    if solid is not None and solid >= free:
        raise CallError(f"{where} is as long solid ({solid:g}) as free ({free:g}); correct one of them.")
    lengths = {key: numbers[key] * units.mm for key in ALLOWED if key in numbers}
    return Offer(name, numbers["rate"] * units.rate, free * units.mm, **lengths)


def _number(where: str, key: str, value: Any) -> float:
    try:
        number = float(value)
    except (TypeError, ValueError):
        number = math.nan
    if isinstance(value, bool) or not 0.0 < number < 1e5:
        raise CallError(f'{where} has {key} = "{value}", expected a number above zero; correct it.')
    return number
