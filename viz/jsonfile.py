"""What a command says as JSON: in a file, or on the screen in place of its tables."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from viz.files import output_path, whole_file
from viz.terminal import prints_unicode, show

# In place of a file's name: the screen.
SCREEN = "-"


def json_path(asked: str | None) -> Path | None:
    """The file that --json names, if it names one.

    Raises:
        CallError: it names a folder.

    """
    return None if asked is None or asked == SCREEN else output_path(asked)


def give_json(document: Mapping[str, Any], asked: str | None) -> bool:
    """Write a document where --json says; whether it went to the screen, so that no table should."""
    if asked == SCREEN:
        # An escaped letter is the same letter in JSON, and can be printed anywhere.
        show(json.dumps(document, ensure_ascii=not prints_unicode(), indent=2) + "\n")
        return True
    path = json_path(asked)
    if path is not None:
        with whole_file(path) as temporary:
            temporary.write_text(json.dumps(document, ensure_ascii=False, indent=2) + "\n", encoding="utf-8")
    return False
