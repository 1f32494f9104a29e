"""The runs that a film makes through the travel."""

from __future__ import annotations

from enum import StrEnum


class Cycle(StrEnum):
    """Ordered runs through the travel, each starting and ending at ride height."""

    BOTH = "both"
    CROSS = "cross"
    LEFT = "left"
    RIGHT = "right"
    STEER = "steer"
    ALL = "all"
