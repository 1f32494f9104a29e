"""The live window: a scene in any pose, moved by keys, sliders and time, that follows its file."""

from __future__ import annotations

import time
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

import numpy as np

from model.errors import FulltravelError
from model.spatial import Array
from model.triangles import Mesh
from model.units import Length
from model.verdicts import Finding, Verdict, with_more
from viz.files import path_text
from viz.gaps import GapMark
from viz.stage import Stage
from viz.still import CONED, write_still
from viz.windowextras import Extras, Sweeper
from viz.windoweye import Eye
from viz.windowface import Face, Shown
from viz.windowgaps import GapHere, finding_of_gap
from viz.windowkeys import Act
from viz.windowlive import Live
from viz.windowpose import Judged, Key, Scene, finely, read, with_gaps
from viz.windowwatch import FileWatch, Jobs

# Seconds that a note stays.
NOTE = 4.0
PICTURE = (1920, 1080)
# Mistakes in a file that are told at once.
MOST_TOLD = 3


class Window:
    """One window on one scene file."""

    def __init__(
        self,
        plotter: Any,
        path: Path,
        units: Length | None,
        scene: Scene,
        watch: FileWatch | None = None,
        variant: str | None = None,
    ) -> None:
        """Draw a scene, or a variant of it, in a lit plotter; without a watch it does not follow its file."""
        self.plotter, self._path, self._units, self._variant = plotter, path, units, variant
        self.live, self.face = Live(scene), Face(plotter)
        self.closed, self.help = False, False
        self.took = 0.0
        self._watch, self._jobs = watch, Jobs()
        self._on: set[Act] = {Act.LABELS}
        self._mistake: tuple[str, ...] = ()
        self._note, self._note_until, self._named = "", 0.0, ""
        self._swept = Sweeper(self._jobs, self._tell, self._show_space)
        self._gap = GapHere(self._jobs, self.moved)
        self._gap_shown: GapMark | None = None
        self._coming: Scene | None = None
        self._verdict: Verdict
        self._found: dict[Key, Finding]
        self._marked: Array
        self.face.arrange()
        self._frame()
        self._take_stage()
        self.eye = Eye(self._stage)
        self._judge_finely()
        self._pose_stale = self._dirty = True

    def draw(self) -> None:
        """Bring everything that is shown up to date, and draw it."""
        self.update()
        self.plotter.renderer.ResetCameraClippingRange()
        begun = time.monotonic()
        self.plotter.render_window.Render()
        self.took = time.monotonic() - begun
        self._name()

    def update(self) -> None:
        """Everything but the drawing itself: move the parts, judge the pose, paint the panels that have changed."""
        self._dirty = False
        if self._pose_stale:
            self._pose_stale = False
            live, row = self.live, self.live.chosen_row
            self._stage.show(live.pose)
            verdict, self._found = live.verdict()
            worst = None if row is None else row.worst
            self._gap_shown = self._gap.at(worst, live.judged, live.rail.poses, live.pose)
            gaps = []
            if row is not None and row.key is not None and self._gap_shown is not None:
                gaps = [finding_of_gap(row.worst, self._gap_shown, tuple(live.drives.tolist()))]
                self._found[row.key] = gaps[0]
            self._verdict = with_more(verdict, gaps)
            here = None if row is None or row.key is None else self._found.get(row.key)
            place = here if here is not None else None if row is None else row.worst
            self._marked = self.face.marks.take(verdict.findings, None if place is None else place.where)
            if here is not None and here.what in CONED:
                self._stage.show_cone(here.where, here.state)
        self._extras.seen_by(self.eye.camera, glass=Act.FRAME in self._on)
        gap = self._gap_shown
        shown = Shown(frozenset(self._on), self._mistake, self._note, self.help, gap)
        self.face.paint(self.live, self._verdict, self._found, shown)
        ends = None if gap is None else (gap, self._stage.project(gap.at))
        self.face.mark(self._stage.project(self._marked), ends, self.live.scene.units, labels=Act.LABELS in self._on)

    def tick(self) -> None:
        """What time does: play, fly, finish work, look at the file."""
        if self.live.tick():
            self.moved()
        if self.eye.tick() or self._jobs.finish(self._complain):
            self.stale()
        if self._note and time.monotonic() >= self._note_until:
            self._note = ""
            self.stale()
        if self.face.arrange():
            self._frame()
            self._stage.size = self._view_size()
            self.stale()
        if self._coming is not None:
            coming, self._coming = self._coming, None
            self.take_scene(coming)
        elif self._watch is not None and not self._jobs.runs("scene") and self._watch.saved():
            self._jobs.start("scene", partial(read, self._path, self._units, self._variant), self._announce)

    def close(self) -> None:
        """End what goes on beside the window."""
        self._jobs.stop()

    @property
    def busy(self) -> bool:
        """Whether work goes on beside the window."""
        return bool(self._jobs)

    @property
    def dirty(self) -> bool:
        """Whether it has to be drawn."""
        return self._dirty

    def stale(self) -> None:
        """What is shown has to be drawn again."""
        self._dirty = True

    def moved(self) -> None:
        """The pose may be another."""
        if self.eye.camera.gap is not None and not self._gap.stands(self.live.drives):
            self.eye.let_go()
        if self._stage.poses is not self.live.rail.poses:
            self._stage.follow(self.live.rail.poses)
        self._pose_stale = self._dirty = True

    def choose(self, number: int) -> None:
        """Choose a finding: go to its worst pose and fly to it."""
        finding = self.live.choose(number)
        if finding is None or self.live.chosen is None:
            return
        gap = self._gap.told(self.live.judged, finding, self.live.scene.mechanism)
        self.face.findings.rows = self.live.rows
        self.face.findings.reveal(self.live.chosen)
        self.moved()
        self.eye.let_go()
        self._stage.show(self.live.pose)
        self.eye.fly(self.eye.close_up(finding, gap), self.took)
        if Act.SWEPT in self._on:
            self._show(Act.SWEPT)

    def switch(self, act: Act) -> None:
        """Switch something on or off."""
        self._on ^= {act}
        self._show(act)
        self.stale()

    def save_picture(self) -> None:
        """Draw the pose through the camera as a still, under a free name in the folder that the program runs in."""
        output = free_name(Path.cwd(), self._path.stem)
        self._tell(f"Drawing {output.name} …")
        self.draw()
        live, swept = self.live, self._swept.known if Act.SWEPT in self._on else None
        posed, camera = live.rail.poses.take(np.array([live.pose])), self.eye.camera
        try:
            write_still(
                posed, self._verdict, output, size=PICTURE, units=live.scene.units, swept=swept, camera=camera,
                gaps=[] if self._gap_shown is None else [self._gap_shown],
            )  # fmt: skip
        except FulltravelError as error:
            self._tell(error.complaints[0])
        else:
            self._tell(f"Saved {path_text(output)}.")

    def _announce(self, scene: Scene) -> None:
        """Say that the window will stand still for a moment, and only then take up a scene."""
        self._tell(f"{self._path.name} was saved: taking it up …")
        self.draw()
        self._coming = scene

    def take_scene(self, scene: Scene) -> None:
        """The file was saved: show what it says now, in the same pose through the same camera."""
        self.live.take(scene)
        self._mistake = ()
        self._swept.forget()
        self._on.discard(Act.SWEPT)
        self._take_stage()
        self.eye.stage = self._stage
        self.eye.rest()
        for act in self._on:
            self._show(act)
        if self._watch is not None:
            self._watch.follow(self._path, *scene.meshes)
        self._tell(f"{self._path.name} was saved: this is how it stands now.")
        self._judge_finely()
        self.moved()

    def _take_stage(self) -> None:
        """Draw the scene anew."""
        self.plotter.clear_actors()
        self.plotter.renderer.RemoveAllViewProps()
        self._stage = Stage(self.live.scene.poses, self._view_size(), self.plotter)
        self._extras = Extras(self.plotter, self._stage)
        self._stage.follow(self.live.rail.poses)
        self._stage.show(self.live.pose)

    def _complain(self, name: str, error: FulltravelError) -> None:
        """Work ended with a mistake: the file's stays in sight until it is mended."""
        told = error.complaints
        if name != "scene":
            self._tell(told[0])
            return
        more = len(told) - MOST_TOLD
        rest = (f"… and {more} more.",) if more > 0 else ()
        self._mistake = (*told[:MOST_TOLD], *rest, "Until it is mended you see the last scene that worked.")

    def _judge_finely(self) -> None:
        """Look for the worst poses as finely as `check` does, and then for gaps, while the window can be used."""
        mechanism = self.live.scene.mechanism

        def take(judged: Judged) -> None:
            if self.live.scene.mechanism is mechanism:
                self.live.judge(judged)
                self.moved()
                if judged.gaps is None:
                    self._jobs.start("judging", partial(with_gaps, mechanism), take, apart=True)

        self._jobs.start("judging", partial(finely, mechanism), take)

    def _show(self, act: Act) -> None:
        """Show or hide what a switch stands for."""
        on = act in self._on
        if act is Act.GHOST:
            self._stage.show_ghost(on=on)
        elif act is Act.FRAME:
            self.eye.rest()
        elif act is Act.SWEPT:
            self._extras.space(None)
            if on:
                row, mechanism = self.live.chosen_row, self.live.scene.mechanism
                self._swept.want(mechanism, row.worst.part if row is not None else mechanism.wheels[0].name)

    def _show_space(self, mesh: Mesh) -> None:
        # The extras are others after a scene was saved.
        self._extras.space(mesh)

    def _name(self) -> None:
        """Say in the window's name how it stands, for lists of windows and for who does not see the picture.

        It is said of what is drawn, and not before.
        """
        live = self.live
        told = [live.scene.mechanism.title, live.rail.words(live.pose, live.scene.units), self._verdict.state.value]
        told += ["beyond a hard stop"] * bool(live.rail.beyond(live.pose))
        told += [] if live.chosen_row is None else [f"looking at {live.chosen_row.worst.where}"]
        told += ["gaps still to come"] * (live.judged.gaps is None)
        told += ["mistake in the file"] * bool(self._mistake)
        name = f"fulltravel: {'; '.join(told)}"
        if name != self._named:
            self._named = name
            self.plotter.render_window.SetWindowName(name)

    def _tell(self, note: str, seconds: float | None = None) -> None:
        self._note, self._note_until, self._dirty = note, time.monotonic() + (seconds or NOTE), True

    def _frame(self) -> None:
        """Draw the parts where the panels leave room."""
        width, height = self.face.size
        left, top, right, bottom = self.face.view
        self.plotter.renderer.SetViewport(left / width, 1.0 - bottom / height, right / width, 1.0 - top / height)

    def _view_size(self) -> tuple[int, int]:
        left, top, right, bottom = self.face.view
        return max(1, round(right - left)), max(1, round(bottom - top))


def free_name(folder: Path, stem: str) -> Path:
    """A name for a picture that no file in a folder has yet."""
    return next(path for path in (folder / f"{stem}-{number}.png" for number in count(1)) if not path.exists())
