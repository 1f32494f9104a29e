"""Work in a process of its own."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from multiprocessing import get_context, resource_tracker
from typing import Any, Generic, TypeVar, cast

from model.errors import CallError

Result = TypeVar("Result")


class Apart(Generic[Result]):
    """Work that a process of its own does, so that this one keeps its pace meanwhile; it ends with this one."""

    def __init__(self, work: Callable[[], Result]) -> None:
        """Begin at once; the work and what it gives go from one process to the other."""
        context = get_context("spawn")
        self._receiver, sender = context.Pipe(duplex=False)
        self._process = context.Process(target=_work_apart, args=(sender, work), daemon=True)
        with deaf_to_ctrl_c():
            self._process.start()
        sender.close()

    @property
    def done(self) -> bool:
        """Whether there is a result, or an error."""
        return self._receiver.poll() or not self._process.is_alive()

    def result(self) -> Result:
        """What the work gave; an error that ended it is raised here."""
        try:
            given, error = self._receiver.recv()
        except EOFError:
            raise CallError(
                "Part of the work was ended from outside; save the scene file, or give the command, again."
            ) from None
        self._process.join()
        if error is not None:
            raise error
        return cast("Result", given)

    def stop(self) -> None:
        """End it, finished or not."""
        self._process.terminate()
        self._process.join()


@contextmanager
def deaf_to_ctrl_c() -> Iterator[None]:
    """What is started meanwhile never hears Ctrl-C, which goes to every process of a terminal; this one hears it after.

    That process ends with this one and says nothing of its own.
    """
    if sys.platform == "win32":
        yield
        return
    # When the tracker is started it undoes what is held back: it had better run before.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _work_apart(sender: Any, work: Callable[[], Any]) -> None:
    try:
        given, error = work(), None
    except Exception as caught:
        given, error = None, caught
    # The process that asked may have ended by now.
    with suppress(OSError):
        sender.send((given, error))
