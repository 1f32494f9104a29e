"""Drawing in one thread while another writes: order, faults on either side, and nothing left waiting."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest

from viz.overlap import overlapped


def test_all_frames_are_finished_in_another_thread_and_written_in_order() -> None:
    threads: set[int] = set()
    written: list[int] = []

    def finish(one: int) -> int:
        threads.add(threading.get_ident())
        return 10 * one

    overlapped(range(50), finish, written.extend)
    assert written == [10 * one for one in range(50)]
    assert len(threads) == 1
    assert threads != {threading.get_ident()}


@pytest.mark.parametrize("fault", [OSError("disk full"), KeyError("x")])
def test_a_fault_of_the_writer_stops_the_drawing(fault: Exception) -> None:
    drawn: list[int] = []

    def draw() -> Iterator[int]:
        for one in range(10_000):
            drawn.append(one)
            yield one

    def write(frames: Iterator[int]) -> None:
        next(frames)
        raise fault

    with pytest.raises(type(fault)):
        overlapped(draw(), lambda one: one, write)
    assert len(drawn) < 100


def test_a_fault_of_the_drawing_lets_the_writer_end() -> None:
    ended: list[bool] = []

    def draw() -> Iterator[int]:
        yield from range(5)
        raise KeyboardInterrupt

    def write(frames: Iterator[int]) -> None:
        ended.append(len(list(frames)) == 5)

    with pytest.raises(KeyboardInterrupt):
        overlapped(draw(), lambda one: one, write)
    assert ended == [True]
