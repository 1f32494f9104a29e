"""A scene's review over few poses, for every test of what is said of one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from zoo import built

from model.review import Review, review
from model.solver import solve
from model.travel import grid


def reviewed(data: Mapping[str, Any]) -> Review:
    """The review of a scene given as plain data, over five heights of each wheel and three of steering."""
    mechanism = built(data)
    return review(solve(mechanism, grid(mechanism, 5, 3)))
