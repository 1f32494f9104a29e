"""Frames are drawn here while another thread finishes and writes those before them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from queue import Full, Queue
from typing import TypeVar

Drawn = TypeVar("Drawn")
Finished = TypeVar("Finished")
# Drawn frames that may wait: each is some tens of MB.
AHEAD = 2
# How often a drawer that waits looks whether the writer still works, in s.
PATIENCE = 0.1


def overlapped(
    drawn: Iterable[Drawn], finish: Callable[[Drawn], Finished], write: Callable[[Iterator[Finished]], None]
) -> None:
    """Draw in this thread, which the graphics driver asks for; finish and write in another at the same time.

    Args:
        drawn: draws the next frame when it is asked for it.
        finish: makes a picture of what was drawn.
        write: takes all pictures in their order.

    Raises:
        Exception: whatever any of the three raises; the others are stopped first.

    """
    waiting: Queue[Drawn | None] = Queue(AHEAD)

    def finished() -> Iterator[Finished]:
        while (one := waiting.get()) is not None:
            yield finish(one)

    with ThreadPoolExecutor(max_workers=1) as pool:
        written = pool.submit(write, finished())
        try:
            for one in drawn:
                if not _handed_on(waiting, one, written):
                    break
        finally:
            _handed_on(waiting, None, written)
        written.result()


def _handed_on(waiting: Queue[Drawn | None], one: Drawn | None, written: Future[None]) -> bool:
    """Whether the writer will get it; not if it has stopped."""
    while not written.done():
        try:
            waiting.put(one, timeout=PATIENCE)
        except Full:
            continue
        return True
    return False
