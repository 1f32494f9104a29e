"""Tables on the screen, as wide as the terminal is; in a file or a pipe a row stays on its line."""

from __future__ import annotations

import io
from collections.abc import Callable

from rich.console import Console, RenderableType

from viz.terminal import on_terminal, show

# A table that is not read on a terminal is read by a program or in a file: there a row stays on its line.
WIDE = 200
# A terminal with fewer columns than this has no room for poses in words.
NARROW = 110


def print_tables(tables: Callable[[bool], RenderableType]) -> None:
    """Print what is made once it is known whether the screen is narrow."""
    page = io.StringIO()
    console = Console(file=page, force_terminal=on_terminal(), highlight=False, width=None if on_terminal() else WIDE)
    console.print(tables(console.width < NARROW))
    show("".join(f"{line.rstrip()}\n" for line in page.getvalue().splitlines()))
