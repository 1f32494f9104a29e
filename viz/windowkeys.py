"""What keys and mouse do in the window, and the list of it that the window shows."""

from __future__ import annotations

from enum import StrEnum

from model.cycles import Cycle


class Act(StrEnum):
    """Something that a key asks for."""

    CLOSE = "close the window"
    HELP = "show or hide this list"
    UP = "up"
    DOWN = "down"
    LEFTWARD = "steer left"
    RIGHTWARD = "steer right"
    TOP = "all the way up"
    FOOT = "all the way down"
    RIDE = "back to ride height, straight ahead"
    PLAY = "play up and down, or stop"
    PLAY_ALL = "play every run, one after another"
    NEXT = "next finding"
    BEFORE = "finding before"
    WORST = "fly there again"
    GHOST = "ghost of ride height"
    LABELS = "labels"
    FRAME = "see through the frame"
    SWEPT = "space a part needs"
    PICTURE = "save a picture"
    VIEW = "next view"


# X's names of keys; a letter does the same with and without Shift.
KEYS = {
    "Escape": Act.CLOSE,
    "q": Act.CLOSE,
    "h": Act.HELP,
    "F1": Act.HELP,
    "question": Act.HELP,
    "Up": Act.UP,
    "Down": Act.DOWN,
    "Left": Act.LEFTWARD,
    "Right": Act.RIGHTWARD,
    "Prior": Act.TOP,
    "Next": Act.FOOT,
    "Home": Act.RIDE,
    "0": Act.RIDE,
    "space": Act.PLAY,
    "a": Act.PLAY_ALL,
    "n": Act.NEXT,
    "Tab": Act.NEXT,
    "b": Act.BEFORE,
    "Return": Act.WORST,
    "g": Act.GHOST,
    "l": Act.LABELS,
    "f": Act.FRAME,
    "s": Act.SWEPT,
    "p": Act.PICTURE,
    "v": Act.VIEW,
}
RUN_KEYS = {"1": Cycle.LEFT, "2": Cycle.RIGHT, "3": Cycle.BOTH, "4": Cycle.CROSS, "5": Cycle.STEER}
RUN_WORDS = {
    Cycle.LEFT: "left wheel",
    Cycle.RIGHT: "right wheel",
    Cycle.BOTH: "both wheels",
    Cycle.CROSS: "crossed",
    Cycle.STEER: "steering",
}
# What is switched on and off, with the letter that does it.
TOGGLES = {Act.GHOST: "g", Act.LABELS: "l", Act.FRAME: "f", Act.SWEPT: "s"}
BUTTONS = {Act.PICTURE: "p", Act.VIEW: "v", Act.HELP: "h"}
CHIP_WORDS = {
    Act.GHOST: "ghost",
    Act.LABELS: "labels",
    Act.FRAME: "glass frame",
    Act.SWEPT: "swept space",
    Act.PICTURE: "picture",
    Act.VIEW: "next view",
    Act.HELP: "keys",
}

HELP = (
    (
        "Move",
        (
            ("1 2 3 4 5", "choose left, right, both, crossed, steering"),
            ("↑ ↓", "move what is chosen; with Shift, one small step"),
            ("← →", "steer left, steer right"),
            ("Page ↑ ↓", "to the end of the travel"),
            ("0 or Home", Act.RIDE.value),
            ("Space", Act.PLAY.value),
            ("a", Act.PLAY_ALL.value),
        ),
    ),
    (
        "Findings",
        (
            ("n or Tab", "next: fly to it and to its worst pose"),
            ("b", "the one before"),
            ("Enter", Act.WORST.value),
        ),
    ),
    (
        "Show",
        (
            ("g", Act.GHOST.value),
            ("l", Act.LABELS.value),
            ("f", Act.FRAME.value),
            ("s", "space that the chosen part needs"),
            ("v", "three-quarter, front, side, top"),
            ("p", "save a picture of this pose"),
        ),
    ),
    (
        "Mouse",
        (
            ("drag", "go round"),
            ("right drag", "move sideways; also Shift and drag"),
            ("wheel", "nearer, further"),
            ("click", "a finding, a slider, a switch"),
        ),
    ),
)
HELP_FOOT = "Save the scene file in your editor and the window follows. h closes this list, q the window."
