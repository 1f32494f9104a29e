"""What keys and mouse do to the window."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from model.cycles import Cycle
from viz.windowcamera import neared, shifted, turned, upright
from viz.windowinput import Closed, Input, Key, Move, Press, Release, Wheel
from viz.windowkeys import KEYS, RUN_KEYS, TOGGLES, Act

if TYPE_CHECKING:
    from viz.window import Window

# Letters that a step of the mouse wheel scrolls the list.
SCROLL = 6.0


class Hand:
    """Holds what is dragged."""

    def __init__(self, window: Window) -> None:
        """Act on a window."""
        self._window = window
        self._drag: Callable[[Move], None] | None = None

    def do(self, done: Input) -> None:
        """Do what was asked for."""
        window = self._window
        match done:
            case Closed():
                window.closed = True
            case Key():
                self._key(done)
            case Press():
                self._press(done)
            case Move():
                if self._drag is not None:
                    self._drag(done)
            case Release():
                if self._drag is not None:
                    self._drag = None
                    window.eye.rest()
                    window.stale()
            case Wheel():
                if window.face.at(done.at, len(window.live.runs)).list:
                    window.face.findings.scrolled(-done.steps * SCROLL * window.face.text)
                else:
                    window.eye.look(neared(window.eye.camera, done.steps))
                window.stale()

    def _key(self, key: Key) -> None:
        name = key.name if len(key.name) > 1 else key.name.lower()
        if name in RUN_KEYS:
            self._window.live.choose_run(RUN_KEYS[name])
            self._window.moved()
        elif name in KEYS:
            self._act(KEYS[name], small=key.shift)

    def _act(self, act: Act, *, small: bool = False) -> None:
        window, live = self._window, self._window.live
        match act:
            case Act.CLOSE:
                window.closed = True
            case Act.HELP:
                window.help = not window.help
            case Act.UP | Act.DOWN:
                live.nudge(live.run, 1.0 if act is Act.UP else -1.0, small=small)
            case Act.LEFTWARD | Act.RIGHTWARD:
                live.nudge(Cycle.STEER, 1.0 if act is Act.LEFTWARD else -1.0, small=small)
            case Act.TOP | Act.FOOT:
                live.to_end(1.0 if act is Act.TOP else -1.0)
            case Act.RIDE:
                live.go(np.zeros_like(live.drives))
            case Act.PLAY | Act.PLAY_ALL:
                live.play(every=act is Act.PLAY_ALL)
            case Act.NEXT | Act.BEFORE:
                step, first = (1, 0) if act is Act.NEXT else (-1, -1)
                window.choose(first if live.chosen is None else live.chosen + step)
            case Act.WORST:
                window.choose(live.chosen or 0)
            case Act.PICTURE:
                window.save_picture()
            case Act.VIEW:
                window.eye.next_view(window.took)
            case _ if act in TOGGLES:
                window.switch(act)
        window.moved()

    def _press(self, press: Press) -> None:
        window = self._window
        sliders = window.live.sliders()
        hit = window.face.at(press.at, len(sliders))
        if hit.act is not None:
            self._act(hit.act)
        elif hit.row is not None:
            window.choose(hit.row)
        elif hit.slider is not None:
            self._drag = self._slide(hit.slider)
            self._drag(Move(press.at))
        elif hit.view:
            self._drag = self._turn(press)

    def _slide(self, number: int) -> Callable[[Move], None]:
        """Drag a slider; the others stand still meanwhile, and so does what it goes between."""
        window, sliders = self._window, self._window.live.sliders()

        def slide(move: Move) -> None:
            window.live.move(sliders[number].run, window.face.amount_at(move.at[0], number, sliders))
            window.moved()

        return slide

    def _turn(self, press: Press) -> Callable[[Move], None]:
        """Drag the camera."""
        window, (x, y) = self._window, press.at
        start = window.eye.camera if press.sideways else upright(window.eye.camera)
        height = window.face.view[3] - window.face.view[1]

        def turn(move: Move) -> None:
            change = shifted if press.sideways else turned
            window.eye.look(change(start, (move.at[0] - x) / height, (move.at[1] - y) / height))
            window.stale()

        return turn
