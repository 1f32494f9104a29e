"""Files are written whole or not at all: beside their place first, then moved there."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from model.errors import CallError


@contextmanager
def whole_file(output: Path) -> Iterator[Path]:
    """Give a temporary path in the output's folder; it replaces the output when the block ends well.

    Raises:
        CallError: if the folder does not exist or cannot be written to.

    """
    if output.is_dir():
        raise CallError(f"{output} is a folder, expected a file to write; add a file name.")
    if not output.parent.is_dir():
        raise CallError(
            f"{output.parent} does not exist, so {output.name} cannot be written there; make the folder first."
        )
    try:
        handle, name = tempfile.mkstemp(prefix=".fulltravel-", suffix=output.suffix, dir=output.parent)
    except OSError as error:
        raise CallError(
            f"{output} cannot be written: {(error.strerror or 'no reason given').lower()}; choose another folder."
        ) from None
    os.close(handle)
    temporary = Path(name)
    try:
        yield temporary
        umask = os.umask(0)
        os.umask(umask)
        temporary.chmod(0o666 & ~umask)  # mkstemp keeps its file to its owner; an output is an ordinary file
        temporary.replace(output)
    except OSError as error:
        raise CallError(
            f"{output} could not be written: {(error.strerror or str(error)).lower()}; nothing was left behind."
        ) from None
    finally:
        with suppress(FileNotFoundError):
            temporary.unlink()
