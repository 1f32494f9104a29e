"""Names in a scene: which point, part, joint or direction a word means on which side, and what to say if none.

A mirrored entry `lower arm` becomes `left lower arm` and `right lower arm`. Inside it a name means the same side's
copy where there is one. `left p` and `right p` can be written anywhere for a point or a mirrored part.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable

import numpy as np

from model.limits import JointLimits, limits_of, plain_joint
from model.mechanism import FRAME
from model.scene import WORDS, Direction, JointKind, Scene
from model.spatial import Array

MIRROR = np.array([1.0, -1.0, 1.0])
SIDES = ("left", "right")
STEERING_PARTS = ("rack", "pitman arm", "idler arm", "centre link")


def suggestion(word: str, choices: Iterable[str]) -> str:
    """A closing clause that names the nearest choice, or lists them when they are few."""
    known = list(choices)
    near = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    if near:
        return f'did you mean "{near[0]}"?'
    if 0 < len(known) <= 12:
        return f"choose one of {', '.join(known)}."
    return "correct the name or add what it names."


class Names:
    """Looks names up in a scene and collects a sentence for each that leads nowhere."""

    def __init__(self, scene: Scene) -> None:
        """Note every name of the scene."""
        self.complaints: list[str] = []
        self._scene = scene
        self._joints = {name: limits_of(name, joint) for name, joint in scene.joint.items()}
        self._mirrored: dict[str, bool] = {FRAME: False}
        for table in (scene.link, scene.arm, scene.knuckle, scene.wheel, scene.coilover, scene.strut):
            for name, entry in table.items():
                self._mirrored.setdefault(name, entry.mirror)
        for name in scene.axle:
            self._mirrored.setdefault(name, False)
        self.used_points: dict[str, Array] = {}
        self._refuse_doubles()

    def complain(self, where: str, sentence: str) -> None:
        """Keep one complaint, said of a place in the file."""
        self.complaints.append(f"{where} {sentence}")

    def sided(self, name: str, side: str | None) -> str:
        """The name of an entry's copy on a side."""
        return name if side is None else f"{side} {name}"

    def point(self, where: str, name: str, side: str | None) -> tuple[str, Array]:
        """Full name and ride-height position (3,) in mm of a point as seen from a side."""
        prefix, _, rest = name.partition(" ")
        base, seen = (rest, prefix) if prefix in SIDES and rest in self._scene.points else (name, side)
        if base not in self._scene.points:
            self.complain(where, f'is "{name}", which is not in [points]; {suggestion(name, self._scene.points)}')
            return name, np.full(3, np.nan)
        at = np.array(self._scene.points[base]) * self._scene.units.mm
        if seen is None:
            full = base
        else:
            full = f"{seen} {base}"
            if at[1] < 0:
                self.complain(
                    where,
                    f'is "{base}", which lies on the right (y = {self._scene.points[base][1]:g}); '
                    "a mirrored half is written once, for the left, with y from 0 up.",
                )
            at = at * MIRROR if seen == "right" else at
        self.used_points[full] = at
        return full, at

    def part(self, where: str, name: str, side: str | None, choices: Iterable[str]) -> str:
        """Full name of a part as seen from a side; `choices` are the names that may stand here."""
        known = list(choices)
        prefix, _, rest = name.partition(" ")
        if prefix in SIDES and self._mirrored.get(rest, False) and rest in known:
            return name
        if name not in known:
            self.complain(where, f'is "{name}", which is no part that can stand here; {suggestion(name, known)}')
            return FRAME
        if not self._mirrored.get(name, False):
            return name
        if side is None:
            self.complain(where, f'is "{name}", of which there are two; write "left {name}" or "right {name}".')
            return FRAME
        return f"{side} {name}"

    def joint(self, where: str, name: str) -> JointLimits:
        """The limits of a named joint, or of a plain kind."""
        if name in self._joints:
            return self._joints[name]
        try:
            return plain_joint(JointKind(name))
        except ValueError:
            known = [*self._joints, *JointKind]
            self.complain(where, f'is "{name}", which is neither a [joint] nor a kind; {suggestion(name, known)}')
            return plain_joint(JointKind.PLAIN_SLEEVE)

    def direction(self, where: str, value: Direction, side: str | None) -> Array:
        """A unit vector (3,) for a direction word, vector or pair of points, as seen from a side."""
        if isinstance(value, str):
            return np.array(WORDS[value])
        if isinstance(value[0], str):
            first, second = (self.point(where, str(name), side)[1] for name in value)
            line = second - first
            if np.linalg.norm(line) < 1e-6:
                self.complain(where, "names two points in the same place; choose two that are apart.")
                return np.array(WORDS["across"])
        else:
            line = np.array(value, dtype=float) * (MIRROR if side == "right" else 1.0)
        return np.asarray(line / np.linalg.norm(line))

    def _refuse_doubles(self) -> None:
        scene = self._scene
        seen: dict[str, str] = {FRAME: "the frame itself"}
        if scene.steering is not None:
            seen.update(dict.fromkeys(STEERING_PARTS, "a part of the steering"))
        for table in ("link", "arm", "knuckle", "axle", "wheel", "coilover", "strut"):
            for name in getattr(scene, table):
                if name in seen:
                    self.complain(f'[{table}."{name}"]', f"has the name of {seen[name]}; give it a name of its own.")
                seen[name] = f'[{table}."{name}"]'
