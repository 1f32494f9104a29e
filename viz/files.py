"""Files are written whole or not at all: beside their place first, then moved there."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from model.errors import CallError

# The program's own streams by name; the system knows each by its number too, as /dev/fd/1.
_STREAMS = {"/dev/stdin": 0, "/dev/stdout": 1, "/dev/stderr": 2}


@contextmanager
def whole_file(output: Path) -> Iterator[Path]:
    """Give a temporary path in the output's folder; it replaces the output when the block ends well.

    A link is followed, so that the file it leads to is replaced. A stream (`is_stream`) is written into and stays what
    it is.

    Raises:
        CallError: if the folder does not exist, or the file cannot be written.

    """
    import shutil  # what only prints its help does not wait for these
    import tempfile

    check_folder(output)
    try:
        stream = is_stream(output)
        target = output if stream else _followed(output)
        handle, name = tempfile.mkstemp(
            prefix=".fulltravel-", suffix=output.suffix, dir=None if stream else target.parent
        )
    except OSError as error:
        raise CallError(f"{path_text(output)} cannot be written: {_reason(error)}; choose another folder.") from None
    os.close(handle)
    temporary = Path(name)
    try:
        yield temporary
        if stream:
            # A reader that has had enough, such as `head`, is no fault.
            with suppress(BrokenPipeError), temporary.open("rb") as source, _opened(output) as sink:
                shutil.copyfileobj(source, sink)
        else:
            # mkstemp keeps its file to its owner; an output is an ordinary file, or as open as the one it replaces.
            temporary.chmod(target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask())
            temporary.replace(target)
    except OSError as error:
        raise CallError(
            f"{path_text(output)} could not be written: {_reason(error)}; nothing was left behind."
        ) from None
    finally:
        temporary.unlink(missing_ok=True)


def check_folder(output: Path) -> None:
    """Refuse an output that has no folder to be written into, before anything is worked out.

    Raises:
        CallError: there is no such folder, or it may not be looked into, or the output is one itself.

    """
    try:
        folder, inside = output.is_dir(), output.parent.is_dir()
    except OSError as error:
        raise CallError(f"{path_text(output)} cannot be written: {_reason(error)}; choose another folder.") from None
    if folder:
        raise CallError(f"{path_text(output)} is a folder, expected a file to write; add a file name.")
    if not inside:
        raise CallError(f"{path_text(output)} cannot be written: its folder does not exist; make the folder first.")


def is_stream(output: Path) -> bool:
    """Whether an output is written into rather than replaced: a pipe, a device, or /dev/stdout wherever that goes."""
    return output.exists() and not output.is_dir() and (_own_stream(output) is not None or not output.is_file())


def _own_stream(output: Path) -> int | None:
    """The number of the program's own stream that a path names, if it names one."""
    number = re.fullmatch(r"/(?:dev|proc/self)/fd/(\d+)", str(output))
    return int(number[1]) if number else _STREAMS.get(str(output))


def _opened(output: Path) -> BinaryIO:
    """A stream to write into; one of the program's own goes on where it stands, behind what was printed to it."""
    number = _own_stream(output)
    return output.open("wb") if number is None else os.fdopen(os.dup(number), "wb")


def spare(output: Path, sources: Iterable[Path]) -> None:
    """Keep the files that a scene is read from.

    Raises:
        CallError: if the output is one of them, under whatever name.

    """
    for source in sources:
        with suppress(OSError):
            if output.is_file() and output.samefile(source) and not is_stream(output):
                raise CallError(
                    f"{path_text(output)} is a file that is read from, expected a file to write; choose another name."
                )


def check_apart(*outputs: Path | None) -> None:
    """Refuse the same file for two outputs of one call.

    Raises:
        CallError: two of them are the same file.

    """
    given = [output for output in outputs if output is not None and not is_stream(output)]
    for number, output in enumerate(given):
        if any(_followed(output) == _followed(other) for other in given[:number]):
            raise CallError(
                f"{path_text(output)} is named for two outputs, expected one file for each; choose another name."
            )


def output_path(text: str) -> Path:
    """The file that an option names, which a folder's name is not.

    Raises:
        CallError: there is no name, or it ends as a folder's does.

    """
    if not text:
        raise CallError("a file to write has no name between its quotes; name the file.")
    if text.endswith(("/", os.sep)):
        raise CallError(f"{path_text(Path(text))}{os.sep} is a folder's name, expected a file to write; name the file.")
    return Path(text)


def check_suffix(output: Path, formats: Mapping[str, str]) -> str:
    """The format that a file name asks for, of those given with what they are good for; a stream gets the first.

    Raises:
        CallError: for another suffix.

    """
    suffix = output.suffix.lower()
    if suffix not in formats and is_stream(output):
        return next(iter(formats))
    if suffix not in formats:
        expected = " or ".join(f"{known} ({what})" if what else known for known, what in formats.items())
        raise CallError(f"{path_text(output)} ends in {suffix or 'nothing'}, expected {expected}; rename it.")
    return suffix


def path_text(path: Path) -> str:
    """A path that can be printed on one line in any encoding of Unicode."""
    text = str(path).encode("utf-8", "replace").decode("utf-8")
    return "".join(letter if letter.isprintable() else ascii(letter)[1:-1] for letter in text)


def _followed(output: Path) -> Path:
    try:
        return output.resolve()
    except (OSError, RuntimeError):
        raise CallError(f"{path_text(output)} is a link that leads in a circle; choose another name.") from None


def _reason(error: OSError) -> str:
    return (error.strerror or str(error) or "no reason given").lower()


def _umask() -> int:
    umask = os.umask(0)
    os.umask(umask)
    return umask
