"""Names in a scene: which point, part, joint or direction a word means on which side, and what to say if none.

A mirrored entry `lower arm` becomes `left lower arm` and `right lower arm`. Inside it a name means the same side's
copy where there is one. `left p` and `right p` can be written anywhere for a point or a mirrored part.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable

import numpy as np

from model.errors import SceneError
from model.fields import SHORTEST, WORDS, Direction
from model.joints import Joint, JointKind
from model.limits import JointLimits, limits_of, plain_joint
from model.mechanism import FRAME
from model.scene import Scene
from model.spatial import Array

MIRROR = np.array([1.0, -1.0, 1.0])
SIDES = ("left", "right")
# More choices than this make a sentence that nobody reads to its end.
MANY = 24
# More complaints than this scroll away; with the first ones set right the rest are often gone.
MOST_COMPLAINTS = 30
STEERING_PARTS = ("rack", "pitman arm", "idler arm", "centre link")


# Other words of the trade for what a scene calls by one.
_OTHER_WORDS = {
    "anti roll bar": "bar",
    "antiroll bar": "bar",
    "sway bar": "bar",
    "stabiliser": "bar",
    "control arm": "arm",
    "wishbone": "arm",
    "brake hose": "hose",
    "brake line": "hose",
    "driveshaft": "shaft",
    "propshaft": "shaft",
    "half shaft": "shaft",
    "upright": "knuckle",
    "spindle": "knuckle",
    "shock": "coilover",
    "damper": "coilover",
    "bushing": "rubber bush",
    "bush": "rubber bush",
    "rubber bushing": "rubber bush",
    "poly bushing": "poly bush",
    "spherical bearing": "rod end",
    "rod": "link",
    "trailing arm": "link",
    "tie rod": "link",
    "misalignment": "tilt",
    "inch": "in",
    "inches": "in",
    "millimetres": "mm",
    "angle": "tilt",
}


def nearest(word: str, choices: Iterable[str], alike: float = 0.6) -> str | None:
    """The choice that a misspelt word most likely means, capitals aside, if any is alike enough (0 to 1)."""
    known = {choice.casefold(): choice for choice in choices}
    near = difflib.get_close_matches(word.casefold(), known, n=1, cutoff=alike)
    return known[near[0]] if near else None


def meant(word: str, choices: Iterable[str], alike: float = 0.6) -> str | None:
    """The choice that another word of the trade, or a misspelt one, means."""
    known = list(choices)
    other = _OTHER_WORDS.get(word.casefold().replace("_", " ").replace("-", " "))
    return other if other in known else nearest(word, known, alike)


def suggestion(word: str, choices: Iterable[str], otherwise: str = "correct the name or add what it names.") -> str:
    """A closing clause that names the nearest choice, or lists them when they are few."""
    known = list(dict.fromkeys(choices))
    near = meant(word, known)
    if near is not None:
        return f'did you mean "{near}"?'
    if len(known) == 1:
        return f'only "{known[0]}" can stand here.'
    if 0 < len(known) <= MANY:
        return f"choose one of {', '.join(known)}."
    return otherwise


def more_text(count: int) -> str:
    """What is said of complaints that are not shown."""
    return f"{count:,} more like these; correct the first ones and try again."


# Parts that an entry is drawn and moved as.
_HALVES = {
    "coilover": ("shaft", "body"),
    "strut": ("shaft", "body"),
    "shaft": ("first piece", "front", "rear"),
}


class Names:
    """Looks names up in a scene and collects a sentence for each that leads nowhere."""

    def __init__(self, scene: Scene) -> None:
        """Note every name of the scene."""
        self.complaints: list[str] = []
        self._scene = scene
        self._joints = {name: self._limits(name, joint) for name, joint in scene.joint.items()}
        self._missed: set[tuple[str, str]] = set()
        self._more = 0
        self._table_of: dict[str, str] = {}
        self._mirrored: dict[str, bool] = {FRAME: False}
        if scene.steering is not None:
            self._mirrored |= dict.fromkeys(STEERING_PARTS, False)
        # Parts that hold others come first: where two entries share a name, what is built on goes by the holder.
        for table in ("axle", "knuckle", "arm", "link", "strut", "coilover", "wheel"):
            for name, entry in getattr(scene, table).items():
                self._mirrored.setdefault(name, getattr(entry, "mirror", False))
                self._table_of.setdefault(name, table)
        for name in scene.bar:  # a bar is written whole, but each of its arms is a part
            self._mirrored.setdefault(name, True)
            self._table_of.setdefault(name, "bar")
        self._refuse_doubles()

    def _limits(self, name: str, joint: Joint) -> JointLimits:
        travel = self._scene.travel
        # A height that has a word is that word: the same place is not told twice.
        words = {0.0: "ride", -travel.droop: "droop", travel.bump: "bump"}
        if joint.torqued_at in words:
            joint = joint.model_copy(update={"torqued_at": words[joint.torqued_at]})
        if isinstance(joint.torqued_at, float) and not -travel.droop <= joint.torqued_at <= travel.bump:
            self.complain(
                f'[joint."{name}"]',
                f"has torqued_at = {joint.torqued_at:g}, outside the travel of {-travel.droop:g} to {travel.bump:g} "
                f'{self._scene.units}; give a height inside it, "ride", "droop" or "bump".',
            )
        try:
            return limits_of(name, joint, self._scene.units)
        except SceneError as error:
            self.complain(f'[joint."{name}"]', str(error))
            return plain_joint(joint.kind)

    def complain(self, where: str, sentence: str) -> None:
        """Keep one complaint, said of a place in the file, unless its other half has made the same one."""
        complaint = f"{where} {sentence}"
        if complaint in self.complaints:
            return
        if len(self.complaints) < MOST_COMPLAINTS:
            self.complaints.append(complaint)
            return
        self._more += 1
        self.complaints[MOST_COMPLAINTS:] = [more_text(self._more)]

    def sided(self, name: str, side: str | None) -> str:
        """The name of an entry's copy on a side."""
        return name if side is None else f"{side} {name}"

    @staticmethod
    def base(name: str) -> str:
        """The name of the entry that a part is a copy of."""
        return name.removeprefix("left ").removeprefix("right ")

    def point(self, where: str, name: str, side: str | None) -> tuple[str, Array]:
        """Full name and ride-height position (3,) in mm of a point as seen from a side."""
        prefix, _, rest = name.partition(" ")
        base, seen = (rest, prefix) if prefix in SIDES and rest in self._scene.points else (name, side)
        if base not in self._scene.points:
            self._miss_point(where, name)
            return name, np.full(3, np.nan)
        at = np.array(self._scene.points[base]) * self._scene.units.mm
        if seen is None:
            full = base
        else:
            full = f"{seen} {base}"
            if full in self._scene.points:  # the right-hand one is not the mirror image
                return full, np.array(self._scene.points[full]) * self._scene.units.mm
            if at[1] < 0:
                self.complain(
                    where,
                    f'is "{base}", which lies on the right (y = {self._scene.points[base][1]:g}); '
                    "a mirrored half is written for the left, with y from 0 up; take mirror out if there is only one.",
                )
            at = at * MIRROR if seen == "right" else at
        return full, at

    def _miss_point(self, where: str, name: str) -> None:
        """Complain of a point that is nowhere, once for each entry that names it."""
        entry = where.partition("]")[0]
        if (entry, name) in self._missed:
            return
        self._missed.add((entry, name))
        if len(self.complaints) >= MOST_COMPLAINTS:
            self.complain(where, f'is "{name}", which is not in [points].')  # counted, not shown: spare the search
            return
        near = suggestion(name, self._with_side(name, self._scene.points), "correct the name or add the point.")
        self.complain(where, f'is "{name}", which is not in [points]; {near}')

    @staticmethod
    def _with_side(name: str, choices: Iterable[str]) -> list[str]:
        """The choices as a name that begins with a side would have them."""
        side = name.partition(" ")[0].casefold()
        return [f"{side} {choice}" if side in SIDES else choice for choice in choices]

    def part(self, where: str, name: str, side: str | None, choices: Iterable[str]) -> str:
        """Full name of a part as seen from a side; `choices` are the names that may stand here."""
        known = list(choices)
        prefix, _, rest = name.partition(" ")
        if prefix in SIDES and self._mirrored.get(rest, False) and rest in known:
            return name
        if name not in known:
            self.complain(where, f'is "{name}", {self._why_not(name)}; {self._near_part(name, known)}')
            return FRAME
        if not self._mirrored.get(name, False):
            return name
        if side is None:
            self.complain(
                where,
                f'is "{name}", of which there are two; add mirror = true to this entry too, or write "left {name}" or '
                f'"right {name}".',
            )
            return FRAME
        return f"{side} {name}"

    def _why_not(self, name: str) -> str:
        table = self._table_of.get(name) or self._table_of.get(name.partition(" ")[2])
        if table is not None:
            return f"{'an' if table[0] in 'aeiou' else 'a'} {table}, which cannot hold this"
        if name == FRAME:
            return "which cannot hold this"
        if name in STEERING_PARTS:
            return f"which {'needs a' if self._scene.steering is None else 'needs another kind of'} [steering]"
        return "which is no part of this scene"

    def _near_part(self, name: str, known: list[str]) -> str:
        mirrored = [choice for choice in known if self._mirrored.get(choice, False)]
        near = nearest(name, self._with_side(name, mirrored)) if self._with_side(name, ["x"]) != ["x"] else None
        if near is not None:
            return f'did you mean "{near}"?'
        hint = suggestion(name, known)
        elsewhere = {FRAME, *STEERING_PARTS, *self._table_of} & {name, self.base(name)}
        if "did you mean" in hint or elsewhere:
            return hint
        return f'{hint[:-1]}, or add [knuckle."{self.base(name)}"] if it is an upright.'

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
            if np.linalg.norm(line) < SHORTEST:
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
        for table in ("link", "arm", "knuckle", "axle", "wheel", "coilover", "strut", "bar", "hose", "shaft"):
            for name in getattr(scene, table):
                if name in seen:
                    self.complain(f'[{table}."{name}"]', f"has the name of {seen[name]}; give it a name of its own.")
                seen[name] = f'[{table}."{name}"]'
        for table, halves in _HALVES.items():
            for name in getattr(scene, table):
                for half in (f"{name} {word}" for word in halves):
                    if half in seen:
                        self.complain(
                            seen[half], f'has the name of a half of [{table}."{name}"]; give it another name.'
                        )
