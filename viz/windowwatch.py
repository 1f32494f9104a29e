"""What goes on beside the window: work in threads and processes, and a look at the scene's files now and then."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Generic, TypeVar

from model.errors import FulltravelError
from viz.apart import Apart

Result = TypeVar("Result")
Mark = tuple[int, int, int] | None

# Seconds between two looks at the files.
PATIENCE = 0.2


class Job(Generic[Result]):
    """Work of a second or two that a thread does."""

    def __init__(self, work: Callable[[], Result]) -> None:
        """Begin at once."""
        self._work = work
        self._results: list[Result] = []
        self._error: BaseException | None = None
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    @property
    def done(self) -> bool:
        """Whether there is a result, or an error."""
        return not self._thread.is_alive()

    def result(self) -> Result:
        """What the work gave; an error that ended it is raised here."""
        self._thread.join()
        if self._error is not None:
            raise self._error
        return self._results[0]

    def stop(self) -> None:
        """Wait for it: a thread cannot be ended, and the drawing and measuring libraries crash if it outlives them."""
        self._thread.join()

    def _run(self) -> None:
        try:
            self._results.append(self._work())
        except BaseException as error:
            self._error = error


class FileWatch:
    """Says when one of some files was saved, also by an editor that writes another and gives it the old one's name."""

    def __init__(self, *paths: Path) -> None:
        """Take the files as they are now for known."""
        self._known: dict[Path, Mark] = {}
        self._pending: dict[Path, Mark] = {}
        self._looked = time.monotonic()
        self.follow(*paths)

    def follow(self, *paths: Path) -> None:
        """Watch these files; those that are new here are taken as they are now for known."""
        self._known = {path: self._known[path] if path in self._known else _mark(path) for path in paths}
        self._pending = {path: self._pending.get(path, known) for path, known in self._known.items()}

    def saved(self) -> bool:
        """Whether a file is another than when this last said so, and has been left alone since the last look."""
        now = time.monotonic()
        if now - self._looked < PATIENCE:
            return False
        self._looked = now
        before, self._pending = self._pending, {path: _mark(path) for path in self._known}
        # A file that is gone for a moment is about to be replaced.
        settled = {path: mark for path, mark in self._pending.items() if mark is not None and mark == before[path]}
        changed = {path: mark for path, mark in settled.items() if mark != self._known[path]}
        self._known |= changed
        return bool(changed)


def _mark(path: Path) -> Mark:
    try:
        stat = path.stat()
    except OSError:
        return None
    return stat.st_mtime_ns, stat.st_size, stat.st_ino


class Jobs:
    """Works that go on at the same time, by name; a new one takes the place of one of its name."""

    def __init__(self) -> None:
        """Begin with none."""
        self._running: dict[str, tuple[Job[Any] | Apart[Any], Callable[[Any], None]]] = {}
        # Threads that were replaced and may still go on.
        self._left: list[Job[Any] | Apart[Any]] = []

    def start(
        self, name: str, work: Callable[[], Result], take: Callable[[Result], None], *, apart: bool = False
    ) -> None:
        """Begin a work, long ones `apart` in a process; `take` gets what it gives."""
        if name in self._running:
            self._left.append(self._running.pop(name)[0])
            if isinstance(self._left[-1], Apart):
                self._left.pop().stop()
        self._running[name] = (Apart(work) if apart else Job(work)), take

    def stop(self) -> None:
        """End all that goes on."""
        for job in (*self._left, *(job for job, _ in self._running.values())):
            job.stop()
        self._left, self._running = [], {}

    def __len__(self) -> int:
        """Return how many go on."""
        return len(self._running)

    def runs(self, name: str) -> bool:
        """Whether a work of this name goes on."""
        return name in self._running

    def finish(self, complain: Callable[[str, FulltravelError], None]) -> bool:
        """Hand over what has been done; whether there was anything. Mistakes of the person's are complained of."""
        done = [name for name, (job, _) in self._running.items() if job.done]
        for name in done:
            job, take = self._running.pop(name)
            try:
                result = job.result()
            except FulltravelError as error:
                complain(name, error)
            else:
                take(result)
        return bool(done)
