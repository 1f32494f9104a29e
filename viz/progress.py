"""A progress bar on the terminal, shown only for work that takes longer than a moment."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

# A bar that flashes up for less than this only distracts.
PATIENCE = 0.8


class Bar:
    """Call it with what is done and what there is in all; it draws on stderr when stderr is a terminal."""

    def __init__(self, what: str) -> None:
        """Name the work."""
        self._what = what
        self._since = time.monotonic()
        self._progress: Progress | None = None
        self._task: TaskID | None = None

    def __enter__(self) -> Self:
        """Begin."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Take the bar off the screen."""
        if self._progress is not None:
            self._progress.stop()

    def __call__(self, done: int, total: int) -> None:
        """Say how far the work is."""
        if self._progress is None:
            if sys.stderr is None or not sys.stderr.isatty() or time.monotonic() - self._since < PATIENCE:
                return
            from rich.console import Console
            from rich.progress import Progress

            self._progress = Progress(console=Console(stderr=True), transient=True)
            self._task = self._progress.add_task(self._what, total=total)
            self._progress.start()
        if self._task is not None:
            self._progress.update(self._task, completed=done, total=total)
