"""TOML files as data, with one sentence for what keeps a file from being read at all."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from model.errors import SceneError
from model.records import printable, quoted

# A scene is a few kilobytes of text; a file a hundred times as long is not one, and parsing it would only keep
# the person waiting.
LARGEST_FILE = 1_000_000


def read_toml(path: Path, kind: str, like: str) -> dict[str, Any]:
    """What a TOML file holds.

    Args:
        path: the file.
        kind: what is expected of it in words, such as "scene".
        like: a good file to compare it with.

    Raises:
        SceneError: it cannot be read, or is not valid, or is empty; a sentence that begins with the file's name.

    """
    return toml_data(toml_text(path, kind), path, kind, like)


def toml_data(text: str, path: Path, kind: str, like: str) -> dict[str, Any]:
    """What the text of a TOML file holds; arguments and errors as of `read_toml`."""
    text = line_feeds(text)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SceneError(_toml_sentence(path, text, str(error))) from None
    except RecursionError:
        raise SceneError(f"{path} nests brackets too deeply to be a {kind}; compare it with {like}.") from None
    except ValueError:
        raise SceneError(f"{path} holds a number with thousands of digits; correct it.") from None
    if not data:
        raise SceneError(f"{path} is empty, expected a {kind}; begin with a copy of {like}.")
    return data


def line_feeds(text: str) -> str:
    """Text whose lines end in a line feed: TOML knows two ends of a line, and old editors wrote a lone return."""
    return text.replace("\r\n", "\n").replace("\r", "\n")


def toml_text(path: Path, kind: str) -> str:
    """The text of a TOML file with its own line ends.

    Raises:
        SceneError: it cannot be read, or is no text.

    """
    try:
        if path.is_dir():
            raise SceneError(f"{path} is a folder, expected a {kind} file; name a .toml file in it.")
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
            f"{path} holds more than {LARGEST_FILE / 1e6:g} MB, expected a {kind} of a few kB; name a {kind} file."
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = "\0"
    if "\0" in text:
        raise SceneError(f"{path} is not UTF-8 text, as TOML must be; save it as UTF-8 in your editor.")
    return text


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
        line = f"line {number}, {quoted(text.split(chr(10))[number - 1].strip())}: "
    for pattern, words in _TOML_WORDS.items():
        if re.fullmatch(pattern, what):
            what = words
            break
    else:
        what = printable(what[0].lower() + what[1:])
    if line:
        return f"{path} is not valid TOML, {line}{what}; correct that line."
    return f"{path} is not valid TOML: {what}; close what was opened."
