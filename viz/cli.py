"""The command line: runs a command; every error is a sentence and an exit code.

Only typer is imported here: NumPy, PyVista and the rest wait until a command needs them.
"""

from __future__ import annotations

import os
import signal
from importlib import import_module
from typing import Any

import typer

from model.errors import FulltravelError
from viz.app import app
from viz.exits import CLEAR, STOPPED, WRONG
from viz.terminal import complain, print_anything, show

# In the order of `--help`: each registers itself with the program.
COMMANDS = (
    "check",
    "sheet",
    "curves",
    "loads",
    "set",
    "spring",
    "vehicle",
    "poses",
    "still",
    "film",
    "view",
    "compare",
    "page",
    "mesh",
    "schema",
)
for _name in COMMANDS:
    import_module(f"viz.commands.{_name}")

# What the option parser says, in plainer words.
_PLAINER = {
    "Value error, ": "",
    "Input should be a valid integer, unable to parse string as an integer": "expected a whole number",
    "Input should be a valid number, unable to parse string as a number": "expected a number",
    "Input should be": "expected a number",
    ". Did you mean": "; did you mean",
    "\n": " ",
}


def _usage_sentence(error: Any) -> str:
    """What is wrong with a call, from the option parser's own exception."""
    message = str(error.format_message())
    for theirs, ours in _PLAINER.items():
        message = message.replace(theirs, ours)
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else "fulltravel"
    return f"{message[:1].lower()}{message[1:].rstrip('.?')}; see {command} --help."


def _surprise(error: Exception) -> int:
    """What no other room foresaw: one sentence all the same, and the traceback for whoever asks for it."""
    if os.environ.get("FULLTRAVEL_TRACEBACK"):
        raise error
    complain(
        f"this is a fault of the program itself ({type(error).__name__}: {error}); report it with the scene file and "
        "what FULLTRAVEL_TRACEBACK=1 prints before the command."
    )
    return WRONG


def main() -> None:
    """Run the command line; every error is a sentence on stderr and an exit code, never a traceback."""
    print_anything()
    # A stop from outside, such as `timeout`, tidies up like Ctrl-C.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    raise SystemExit(_run())


def _run() -> int:
    try:
        code = app(prog_name="fulltravel", standalone_mode=False)
    except FulltravelError as error:
        for complaint in error.complaints:
            complain(complaint)
        return WRONG
    except (KeyboardInterrupt, typer.Abort):
        code = STOPPED
    except MemoryError:
        complain("not enough memory for this many poses; take fewer steps.")
        return WRONG
    except Exception as error:
        # Typer's own exceptions share no public class across its versions, only this method.
        if not hasattr(error, "format_message"):
            return _surprise(error)
        if type(error).__name__ == "NoArgsIsHelpError":
            show(error.format_message() + "\n")
        else:
            complain(_usage_sentence(error))
        return WRONG
    if code == STOPPED:
        complain("stopped; nothing was written.")
    return code or CLEAR
