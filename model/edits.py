"""Changes to a scene file, and what they follow from: where everything is with its adjusters set."""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from model.adjust import Setting
from model.members import Posture, posture
from model.naming import SIDES
from model.scene import Scene

Key = tuple[str | int, ...]
# Mm, or degrees: less than what is written of a number.
SAME = 1e-5


@dataclass(frozen=True)
class Edit:
    """A new value for a key of the scene file."""

    key: Key
    value: Any


def edited(data: Mapping[str, Any], changes: Sequence[Edit]) -> dict[str, Any]:
    """A scene's data, as its TOML file holds it, with changes made."""
    new = copy.deepcopy(dict(data))
    for change in changes:
        table: Any = new
        for key in change.key[:-1]:
            table = table[key] if isinstance(key, int) else table.setdefault(key, {})
        table[change.key[-1]] = change.value
    return new


class Moved:
    """A scene and where its parts have gone with a setting: rounded `settings` by adjuster, its posture `now`.

    `risen` is how far the wheels have come up against the frame, mm.
    """

    def __init__(self, scene: Scene, setting: Setting) -> None:
        """Place every part."""
        self.scene = scene
        self.mechanism = setting.bench.mechanism
        self.mm = scene.units.mm
        self.settings = {each.adjuster.name: each.rounded for each in setting.turned}
        self.now: Posture = posture(setting.stand.poses)
        self.risen = float(np.mean(setting.stand.heights))

    def number(self, value: float) -> float:
        """A number as it is written: 0.1 µm, or a millionth of an inch."""
        return round(float(value), 4 if self.mm == 1.0 else 6) + 0.0

    def length(self, mm: float) -> float:
        """A length in mm as it is written, in the scene's unit."""
        return self.number(mm / self.mm)

    def sided(
        self, key: Key, was: float | tuple[float, float] | None, values: Mapping[str, float], *, mirrored: bool
    ) -> Iterator[Edit]:
        """One number, or [left, right] where a mirrored entry's differ; nothing where it stays."""
        both = [values[side] for side in SIDES] if mirrored else [next(iter(values.values()))]
        new = both if np.ptp(both) > 2.0 * SAME else both[0]
        before = list(was) if isinstance(was, tuple) else 0.0 if was is None else was
        if np.abs(np.subtract(new, before)).max() > SAME:
            yield Edit(key, new)
