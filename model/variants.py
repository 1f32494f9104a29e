"""Variants of a scene: `[variant.NAME]` holds what is different, and is merged with the scene before it is checked.

Tables merge key by key at any depth; numbers, texts and lists replace what was there. Complaints about what comes of
it are said of the place that the person wrote, in the variant.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from model.errors import SceneError
from model.naming import SIDES, nearest, suggestion
from model.overrides import Variant
from model.records import is_keyed, is_table, keys_at, needed_at, printable
from model.scene import Scene

# The name by which the scene without any variant is asked for.
AS_WRITTEN = "as written"
OWN_KEYS = tuple(Variant.model_fields)
# A new entry that lacks keys and whose name is this much like another's (0 to 1) is taken for a slip of the keyboard.
ALIKE = 0.8

Path = tuple[str, ...]


def merged(data: Mapping[str, Any], variants: Mapping[str, Variant], name: str) -> dict[str, Any]:
    """A scene's `data` with a variant in it, and those that it builds on.

    Raises:
        SceneError: with every mistake in the variant that shows before the scene is checked.

    """
    now = copy.deepcopy({key: value for key, value in data.items() if key != "variant"})
    complaints: list[str] = []
    for each in reversed(chain(variants, name)):
        before = copy.deepcopy(now)
        wrong = [*_misplaced(each, variants[each]), *_remove(now, each, variants[each])]
        if not wrong:
            _write(now, variants[each].model_extra or {})
            wrong = list(_slips(now, before, each))
        if not wrong and now == before and variants[each].title is None:
            wrong = [
                f"{place(each)} changes nothing of {_base_words(variants[each])}; write what is different, or take "
                "it out."
            ]
        complaints += wrong
    if complaints:
        raise SceneError(complaints)
    return now


def chain(variants: Mapping[str, Variant], name: str) -> list[str]:
    """A variant's name, then that of the one it builds on, and so on down to the scene as written.

    Raises:
        SceneError: the variant builds on one that is not there, or on itself in the end.

    """
    names = [name]
    while (below := variants[names[-1]].of) is not None:
        if below == AS_WRITTEN:
            raise SceneError(
                f'{place(names[-1])} of is "{AS_WRITTEN}", which every variant builds on that names no other; leave '
                '"of" out.'
            )
        if below not in variants:
            near = suggestion(below, [each for each in variants if each != names[-1]], "write that variant too.")
            raise SceneError(f'{place(names[-1])} of is "{below}", which is no variant of this scene; {near}')
        if below in names:
            raise SceneError(_circle(names[names.index(below) :]))
        names.append(below)
    return names


def _circle(names: list[str]) -> str:
    """What is said of variants that build on each other in a circle: the same from wherever it is entered."""
    if len(names) == 1:
        return f'{place(names[0])} builds on itself; leave "of" out.'
    start = names.index(min(names))
    first, *rest = [*names[start:], *names[:start]]
    circle = ", which builds on ".join(f'"{each}"' for each in [*rest, first])
    return f'{place(first)} builds on {circle}; take "of" out of the one that builds on the scene as written.'


def place(name: str, table: str = "", entry: str = "") -> str:
    """Where something of a variant stands in the file, such as `[variant."high mount".points]`."""
    below = f".{printable(table)}" * bool(table) + f'."{printable(entry)}"' * bool(entry)
    return f'[variant."{name}"{below}]'


def title_of(title: str, name: str, variant: Variant) -> str:
    """What a variant of a scene is called."""
    return variant.title or f"{title}: {name}"


def told(complaints: Sequence[str], variants: Mapping[str, Variant], name: str | None) -> list[str]:
    """Complaints about a scene with the variant `name` in it, said of the place in the file that the person wrote.

    What no variant wrote stands where it is, and the variant is named before it; without a variant all of it does.
    """
    if name is None or name == AS_WRITTEN:
        return list(complaints)
    writers = {
        path: each for each in reversed(chain(variants, name)) for path in _leaves(variants[each].model_extra or {})
    }
    return [_told(complaint, writers, name) for complaint in complaints]


def _leaves(table: Mapping[str, Any], path: Path = ()) -> Iterator[Path]:
    """The places of all values in a table and in the tables in it."""
    for key, value in table.items():
        if isinstance(value, Mapping) and value:
            yield from _leaves(value, (*path, key))
        else:
            yield (*path, key)


_PLACE = re.compile(r'\[(?P<table>\w+)(?:\."(?P<entry>.*?)")?\] ?(?P<rest>.*)', re.DOTALL)


def _told(complaint: str, writers: Mapping[Path, str], name: str) -> str:
    found = _PLACE.match(complaint)
    if found is None:
        return f"with {place(name)}, {complaint}"
    table, entry, rest = found["table"], found["entry"], found["rest"]
    if table == "points":
        names = [path[1] for path in writers if path[0] == table and len(path) > 1]
        entry = max((each for each in names if rest.startswith(f"{each} ")), key=len, default="")
        path: Path = (table, entry)
    else:
        path = (table,) if entry is None else (table, entry)
        for key in re.split(r"[.\[]", rest.partition(" ")[0]):
            if key not in keys_at(path):
                break
            path = (*path, key)
    writer = _writer(writers, path)
    if writer is None:
        return f"with {place(name)}, {complaint}"
    return f"{place(writer, table, '' if table == 'points' else entry or '')} {rest}"


def _writer(writers: Mapping[Path, str], path: Path) -> str | None:
    """The variant that wrote what is at a place: that place itself or a table around it, or else something in it."""
    around = [written for written in writers if path[: len(written)] == written]
    if around:
        return writers[max(around, key=len)]
    return next((writers[written] for written in reversed(list(writers)) if written[: len(path)] == path), None)


def _base_words(variant: Variant) -> str:
    return "the scene as written" if variant.of is None else f'the variant "{variant.of}"'


def _misplaced(name: str, variant: Variant) -> Iterator[str]:
    """Complaints about keys of a variant that are no tables of a scene, or hold what is no table."""
    if name == AS_WRITTEN:
        yield f"{place(name)} has the name by which the scene without a variant is asked for; give it another name."
    tables = [key for key in Scene.model_fields if is_table(key) and key != "variant"]
    for key, value in (variant.model_extra or {}).items():
        where = place(name)
        if key == "units":
            yield f"{where} has units, which are those of the whole file; take them out."
        elif key == "variant":
            yield f'{place(name, key)} is a variant in a variant; write it beside the other one, with of = "{name}".'
        elif key not in tables:
            yield f'{where} has the unknown table or key "{key}"; {suggestion(key, [*OWN_KEYS, *tables])}'
        elif not isinstance(value, Mapping):
            yield f"{where} {key} is no table; write {place(name, key)} and what is different under it."
        elif is_keyed(key) and key != "points":
            yield from (
                f"{place(name, key)} {entry} is no table; write {place(name, key, entry)} and what is "
                "different under it."
                for entry, keys in value.items()
                if not isinstance(keys, Mapping)
            )


def _write(table: dict[str, Any], values: Mapping[str, Any]) -> None:
    """Put the values of a variant's table into the same table of the data."""
    for key, value in values.items():
        if isinstance(value, Mapping) and isinstance(table.get(key), dict):
            _write(table[key], value)
        else:
            table[key] = copy.deepcopy(value)


def _remove(now: dict[str, Any], name: str, variant: Variant) -> list[str]:
    """Take out what a variant wants out; complaints about what is not there."""
    complaints = []
    for words in variant.remove:
        keys = _found(now, words)
        if keys is None or keys[0] in ("title", "units"):
            known = [f"{table}.{entry}" for table in now if is_keyed(table) for entry in now[table]]
            known += [table for table in now if is_table(table) and not is_keyed(table)]
            near = suggestion(words, known, 'name a table and an entry, such as "link.panhard bar".')
            complaints.append(
                f'{place(name)} remove names "{words}", which is nothing that can be taken out of '
                f"{_base_words(variant)}; {near}"
            )
            continue
        table = now
        for key in keys[:-1]:
            table = table[key]
        del table[keys[-1]]
        if keys[0] in now and not now[keys[0]]:
            del now[keys[0]]
    return complaints


def _found(table: Mapping[str, Any], words: str) -> Path | None:
    """The keys that lead to what dotted words name; a name may have dots of its own."""
    if words in table:
        return (words,)
    for key, value in table.items():
        if isinstance(value, Mapping) and words.startswith(f"{key}."):
            below = _found(value, words[len(key) + 1 :])
            if below is not None:
                return (key, *below)
    return None


def _slips(now: dict[str, Any], before: Mapping[str, Any], name: str) -> Iterator[str]:
    """Complaints about new names that are only misspelt ones of what was there before."""
    named = set(_texts({key: value for key, value in now.items() if key != "points"}))
    for table, entries in now.items():
        if not is_keyed(table) or not isinstance(entries, Mapping):
            continue
        known = before.get(table, {})
        for entry, keys in entries.items():
            if entry in known:
                continue
            if table == "points":
                if not named & {entry, entry.removeprefix("right "), *(f"{side} {entry}" for side in SIDES)}:
                    near = suggestion(entry, known, "correct the name or take it out.")
                    yield f"{place(name, table)} {entry} is a new point that nothing names; {near}"
                continue
            missing = [key for key in needed_at((table, entry)) if key not in keys]
            near_entry = nearest(entry, known, ALIKE)
            if missing and near_entry is not None:
                yield (
                    f"{place(name, table, entry)} is new and has no {' and no '.join(missing)}; "
                    f'did you mean "{near_entry}"?'
                )


def _texts(value: Any) -> Iterator[str]:
    """Every text in the values of a table, at any depth."""
    match value:
        case str():
            yield value
        case Mapping():
            for each in value.values():
                yield from _texts(each)
        case list():
            for each in value:
                yield from _texts(each)
