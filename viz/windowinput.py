"""What a hand does at the window, gathered until the window has time for it."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

Spot = tuple[float, float]


@dataclass(frozen=True)
class Key:
    """A key, by X's name of it."""

    name: str
    shift: bool


@dataclass(frozen=True)
class Press:
    """A mouse button goes down at a place in px from the window's upper left corner."""

    at: Spot
    sideways: bool


@dataclass(frozen=True)
class Move:
    """The mouse is moved to a place, with a button held down or without."""

    at: Spot


@dataclass(frozen=True)
class Release:
    """A button comes up."""

    at: Spot


@dataclass(frozen=True)
class Wheel:
    """The mouse wheel turns by steps, away from the hand where positive."""

    at: Spot
    steps: int


@dataclass(frozen=True)
class Closed:
    """The window's own button was pressed."""


Input = Key | Press | Move | Release | Wheel | Closed


class Inputs:
    """Listens to a window; nothing is done while the drawing library calls, so that no error is lost in it."""

    def __init__(self, plotter: Any) -> None:
        """Begin to listen."""
        self._interactor = plotter.iren.interactor
        self._window = plotter.render_window
        self._waiting: list[Input] = []
        for event, made in {
            "KeyPressEvent": lambda: Key(self._interactor.GetKeySym() or "", bool(self._interactor.GetShiftKey())),
            "LeftButtonPressEvent": lambda: Press(self._at(), bool(self._interactor.GetShiftKey())),
            "MiddleButtonPressEvent": lambda: Press(self._at(), True),
            "RightButtonPressEvent": lambda: Press(self._at(), True),
            "MouseMoveEvent": lambda: Move(self._at()),
            "LeftButtonReleaseEvent": lambda: Release(self._at()),
            "MiddleButtonReleaseEvent": lambda: Release(self._at()),
            "RightButtonReleaseEvent": lambda: Release(self._at()),
            "MouseWheelForwardEvent": lambda: Wheel(self._at(), 1),
            "MouseWheelBackwardEvent": lambda: Wheel(self._at(), -1),
            "ExitEvent": Closed,
        }.items():
            self._interactor.AddObserver(event, lambda *_, made=made: self._waiting.append(made()))

    def take(self) -> list[Input]:
        """What has been done since the last call; of several moves in a row the last."""
        self._interactor.ProcessEvents()
        waiting, self._waiting = self._waiting, []
        return [
            each
            for each, after in zip_longest(waiting, waiting[1:])
            if not (isinstance(each, Move) and isinstance(after, Move))
        ]

    def _at(self) -> Spot:
        x, y = self._interactor.GetEventPosition()
        return float(x), float(self._window.GetSize()[1] - 1 - y)


class Stop:
    """Whether Ctrl-C or the like asked for the end."""

    asked = False


@contextmanager
def stoppable() -> Iterator[Stop]:
    """Let Ctrl-C and SIGTERM only be noted: raised inside a call of the drawing library they would be lost."""
    stop = Stop()

    def note(*_: object) -> None:
        stop.asked = True

    before = {number: signal.signal(number, note) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
