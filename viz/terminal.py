"""What is printed, and what becomes of it where the terminal, the pipe or the disk behind it fails."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path

from model.errors import CallError


def print_anything() -> None:
    """Let a terminal that cannot print a degree sign or a name print a mark instead of failing."""
    for stream, errors in ((sys.stdout, "replace"), (sys.stderr, "backslashreplace")):
        # Neither where the stream was closed before the program began, nor where a test stands in for it.
        if stream is not None and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=errors)


def on_terminal() -> bool:
    """Whether a person reads what is printed, as far as can be told."""
    return sys.stdout is not None and sys.stdout.isatty()


def prints_unicode() -> bool:
    """Whether every letter can be printed."""
    return sys.stdout is None or sys.stdout.encoding.lower().startswith("utf")


def show(text: str) -> None:
    """Print on the screen; a reader that has had enough, such as `head`, changes neither verdict nor exit code.

    Raises:
        CallError: if what is printed goes to a file on a full disk, or the like.

    """
    if sys.stdout is None:
        return
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        _hush()
    except OSError as error:
        _hush()
        raise CallError(f"the output cannot be printed: {(error.strerror or str(error)).lower()}.") from None


def show_written(output: Path, words: str) -> None:
    """Say what was written; nothing where the output is a stream, of which these words would become a part."""
    from viz.files import is_stream, path_text

    if not is_stream(output):
        show(f"{path_text(output)}: {words}\n")


def _hush() -> None:
    """Send what Python would still print at its end to nowhere."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def complain(sentence: str) -> None:
    """Print a sentence on stderr, on one line whatever is in it."""
    if sys.stderr is not None:
        with contextlib.suppress(OSError):
            text = "".join(letter if letter.isprintable() else ascii(letter)[1:-1] for letter in sentence)
            print(f"fulltravel: {text}", file=sys.stderr, flush=True)
