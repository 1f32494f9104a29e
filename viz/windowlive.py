"""Where the window stands: a pose that keys, sliders and time move, its verdict, and what is chosen."""

from __future__ import annotations

import time

import numpy as np

from model.cycles import Cycle
from model.measures import Measure
from model.spatial import Array
from model.verdicts import Finding, Verdict
from viz.windowbar import Slider
from viz.windowlist import Row, rows_of
from viz.windowpose import (
    STRIDE,
    Judged,
    Key,
    Rail,
    Scene,
    amount_of,
    rail_through,
    runs,
    same_drives,
    span_of,
    step_of,
)

# Seconds for a run up, down and back.
PERIOD = 5.0
# Less than this of a run, in mm or shares of lock, is no way to go.
NO_WAY = 0.02


class Live:
    """One scene in one pose."""

    def __init__(self, scene: Scene) -> None:
        """Stand at ride height."""
        self.scene = scene
        self.runs = runs(scene.mechanism)
        self.run = Cycle.BOTH if Cycle.BOTH in self.runs else self.runs[0]
        self.drives: Array = np.zeros(len(scene.mechanism.drives))
        self.chosen: int | None = None
        self._playing: list[Cycle] = []
        self._endless, self._since, self._phase = False, 0.0, 0.0
        self.pose = 0
        self.rail: Rail
        self._stand_on_rail()
        self.judged: Judged
        self.rows: list[Row] = []
        self.judge(scene.judged)

    @property
    def playing(self) -> bool:
        """Whether time moves the pose."""
        return bool(self._playing)

    @property
    def chosen_row(self) -> Row | None:
        """The finding that is chosen."""
        return None if self.chosen is None else self.rows[self.chosen]

    @property
    def curve(self) -> Measure | None:
        """What is followed along the rail: the finding that is chosen, if it can be, or without one the worst."""
        rows = self.rows if self.chosen_row is None else [self.chosen_row]
        return next((self.rail.followed[row.key] for row in rows if row.key in self.rail.followed), None)

    def judge(self, judged: Judged) -> None:
        """Take up a verdict on the travel; what is chosen stays chosen."""
        before = self.chosen_row
        self.judged = judged
        self.rows = rows_of(judged.verdict.findings)
        name = None if before is None else (before.worst.what, before.key or before.worst.where)
        names = [(row.worst.what, row.key or row.worst.where) for row in self.rows]
        self.chosen = names.index(name) if name in names else None

    def take(self, scene: Scene) -> None:
        """Take up another reading of the scene in the same pose, as far as it can stand so."""
        self.drives = same_drives(self.scene.mechanism.drives, scene.mechanism.drives, self.drives)
        self.scene, self.runs = scene, runs(scene.mechanism)
        if self.run not in self.runs:
            self.run = self.runs[0]
        self._playing = [run for run in self._playing if run in self.runs]
        self._stand_on_rail()
        self.judge(scene.judged)

    def sliders(self) -> list[Slider]:
        """Every control as it stands, on the scale of its whole travel from ride height.

        Where other controls have used some of that up it goes less far, and stops there.
        """
        mechanism, ride = self.scene.mechanism, np.zeros_like(self.drives)
        return [
            Slider(run, *span_of(mechanism, run, ride), amount_of(mechanism, run, self.drives)) for run in self.runs
        ]

    def choose_run(self, run: Cycle) -> None:
        """Choose what moves."""
        if run in self.runs and run is not self.run:
            self._playing = []
            self.run = run
            self._stand_on_rail()

    def move(self, run: Cycle, amount: float) -> None:
        """Move a run to an amount, by hand."""
        self._playing = []
        self._slide(run, amount)

    def nudge(self, run: Cycle, way: float, *, small: bool) -> None:
        """Move a run up (1) or down (−1) by a step."""
        if run in self.runs:
            step = step_of(run, self.scene.units) * (1 if small else STRIDE)
            here = amount_of(self.scene.mechanism, run, self.drives)
            # Onto the round numbers: from 12 up to 15 and not to 17.
            there = np.round(here / step, 6)
            self.move(run, step * float(np.floor(there + 1.0) if way > 0 else np.ceil(there - 1.0)))

    def to_end(self, way: float) -> None:
        """Move what is chosen to the end of its travel, up (1) or down (−1)."""
        low, high = span_of(self.scene.mechanism, self.run, self.drives)
        self.move(self.run, high if way > 0 else low)

    def go(self, drives: Array | tuple[float, ...]) -> None:
        """Stand at drive values (D,)."""
        self._playing = []
        self.drives = np.asarray(drives, dtype=float)
        self._stand_on_rail()

    def choose(self, number: int) -> Finding | None:
        """Choose a finding by its row and go to its worst pose."""
        if not self.rows:
            return None
        self.chosen = number % len(self.rows)
        found = self.rows[self.chosen].worst
        self.drives = np.asarray(self.judged.worst_pose(found), dtype=float)
        self.run = self._run_for(found)
        self.go(self.drives)
        return found

    def _run_for(self, finding: Finding) -> Cycle:
        """What to move about a finding: its own wheel, else what moves already, if it has room there."""
        side = finding.where.partition(" ")[0]
        wanted = [run for run in (Cycle.LEFT, Cycle.RIGHT) if run == side]
        spans = {run: span_of(self.scene.mechanism, run, self.drives) for run in [*wanted, self.run, *self.runs]}
        return next((run for run, (low, high) in spans.items() if run in self.runs and high - low > NO_WAY), self.run)

    def play(self, *, every: bool) -> None:
        """Play the chosen run from here, or every run from ride height; stop where it plays."""
        if self._playing:
            self._playing = []
            return
        if every:
            self.go(np.zeros_like(self.drives))
            self._begin([*self.runs])
        else:
            self._begin([self.run])
            self._endless = True

    def tick(self) -> bool:
        """Move on with time; whether the pose is another."""
        if not self._playing:
            return False
        run = self._playing[0]
        low, high = span_of(self.scene.mechanism, run, self.drives)
        middle, half = 0.5 * (low + high), 0.5 * (high - low)
        gone = (time.monotonic() - self._since) / PERIOD
        if gone >= 1.0 and not self._endless:
            rest = self._playing[1:]
            self.go(np.zeros_like(self.drives))
            if rest:
                self._begin(rest)
            return True
        before = self.pose
        self._slide(run, middle + half * float(np.sin(self._phase + 2.0 * np.pi * gone)))
        return self.pose != before

    def verdict(self) -> tuple[Verdict, dict[Key, Finding]]:
        """The verdict on this pose, and its findings by their curves."""
        return self.rail.verdict(self.pose)

    def _begin(self, playing: list[Cycle]) -> None:
        """Begin to play runs, the first from where it stands."""
        self._playing, self._endless = playing, False
        if playing[0] is not self.run:
            self.run = playing[0]
            self._stand_on_rail()
        mechanism = self.scene.mechanism
        low, high = span_of(mechanism, self.run, self.drives)
        share = (2.0 * amount_of(mechanism, self.run, self.drives) - low - high) / max(high - low, 1e-9)
        self._since, self._phase = time.monotonic(), float(np.arcsin(np.clip(share, -1.0, 1.0)))

    def _slide(self, run: Cycle, amount: float) -> None:
        if run is not self.run:
            self.run = run
            self._stand_on_rail()
        self.pose = self.rail.nearest(amount)
        self.drives = self.rail.poses.travel.values[self.pose].copy()

    def _stand_on_rail(self) -> None:
        """Lay a rail of the chosen run through where the drives are."""
        mechanism = self.scene.mechanism
        self.rail = rail_through(mechanism, self.run, self.drives, self.scene.units)
        self.pose = self.rail.nearest(amount_of(mechanism, self.run, self.drives))
