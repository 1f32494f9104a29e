"""The live window: a scene in any pose, moved by keys, sliders and time, that follows its file."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

import numpy as np

from model.cycles import Cycle
from model.errors import DrawingError, FulltravelError
from model.spatial import Array
from model.triangles import Mesh
from model.units import Length
from model.verdicts import Finding, Verdict
from viz.calls import swept_space
from viz.files import path_text
from viz.stage import Stage
from viz.still import CONED, write_still
from viz.views import UP, Camera, View, perspective
from viz.windowcamera import FLIGHT, between, neared, shifted, turned, upright
from viz.windowextras import Extras
from viz.windowface import Face, Shown
from viz.windowinput import Closed, Input, Inputs, Key, Move, Press, Release, Stop, Wheel, stoppable
from viz.windowkeys import KEYS, RUN_KEYS, TOGGLES, Act
from viz.windowlive import Live
from viz.windowpose import Judged, Scene, finely, read
from viz.windowpose import Key as Curve
from viz.windowscreen import check_screen, open_plotter, smooth_edges
from viz.windowwatch import FileWatch, Job

# Seconds that a note stays, and that the window sleeps when nothing happens.
NOTE, NAP = 4.0, 0.01
# Where a picture takes longer than this, a flight would be a few jumps: it is left out.
SLOW = 0.15
# Letters that a step of the mouse wheel scrolls the list; mm about a place that is no joint in a close-up.
SCROLL, REACH = 6.0, 200.0
PICTURE = (1920, 1080)
MOST_TOLD = 3
VIEWS = (View.THREE_QUARTER, View.FRONT, View.SIDE, View.TOP)


def show_window(path: Path, units: Length | None, size: tuple[int, int]) -> bool:
    """Open a window on a scene file until it is closed; false where it was stopped from outside, as by Ctrl-C.

    Raises:
        FulltravelError: there is no screen, or the file is wrong to begin with.

    """
    check_screen()
    watch = FileWatch(path)
    scene = read(path, units)
    plotter = open_plotter(size, f"fulltravel: {scene.mechanism.title}")
    try:
        with stoppable() as stop:
            return Window(plotter, path, units, scene, watch).run(stop)
    finally:
        plotter.close()


class Window:
    """One window on one scene file."""

    def __init__(self, plotter: Any, path: Path, units: Length | None, scene: Scene, watch: FileWatch) -> None:
        """Draw a scene in a lit plotter."""
        self.plotter, self.path, self.units = plotter, path, units
        self.live = Live(scene)
        self.face, self.inputs = Face(plotter), Inputs(plotter)
        self.closed = False
        self._watch = watch
        self._jobs: dict[str, tuple[Job[Any], Callable[[Any], None]]] = {}
        self._on: set[Act] = {Act.LABELS}
        self._mistake: tuple[str, ...] = ()
        self._note, self._note_until, self._help = "", 0.0, False
        self._drag: Callable[[Move], None] | None = None
        self._view = 0
        self._took = 0.0
        self._flight: tuple[Camera, Camera, float] | None = None
        self._space: tuple[str, Mesh] | None = None
        self._verdict: Verdict
        self._found: dict[Curve, Finding]
        self._marked: Array
        self.face.arrange()
        self._frame_view()
        self._take_stage()
        self.camera = self.stage.camera(View.THREE_QUARTER)
        self.stage.aim(self.camera)
        self._judge_finely()
        self._pose_stale = self._dirty = True

    def run(self, stop: Stop) -> bool:
        """Show it until it is closed; false where it was stopped."""
        self.draw()
        smooth_edges(self.plotter)
        while not (self.closed or stop.asked):
            for each in self.inputs.take():
                self.handle(each)
            self.tick()
            if self._dirty:
                self.draw()
            else:
                time.sleep(NAP)
        return not stop.asked

    def draw(self) -> None:
        """Bring everything that is shown up to date, and draw it."""
        self.update()
        self.plotter.renderer.ResetCameraClippingRange()
        begun = time.monotonic()
        self.plotter.render_window.Render()
        self._took = time.monotonic() - begun
        self._dirty = False

    def update(self) -> None:
        """Everything but the drawing itself: move the parts, judge the pose, paint the panels that have changed."""
        if self._pose_stale:
            self._pose_stale = False
            self.stage.show(self.live.pose)
            self._verdict, self._found = self.live.verdict()
            row = self.live.chosen_row
            here = None if row is None or row.key is None else self._found.get(row.key)
            place = here if here is not None else None if row is None else row.worst
            self._marked = self.face.marks.take(self._verdict.findings, None if place is None else place.where)
            if here is not None and here.what in CONED:
                self.stage.show_cone(here.where, here.state)
        note = self._note if time.monotonic() < self._note_until else ""
        self.face.paint(
            self.live, self._verdict, self._found, Shown(frozenset(self._on), self._mistake, note, self._help)
        )
        self.face.mark(self.stage.project(self._marked), self.live.scene.units, labels=Act.LABELS in self._on)

    def tick(self) -> None:
        """What time does: play, fly, finish work, look at the file."""
        if self.live.tick():
            self._moved()
        if self._flight is not None:
            start, stop, begun = self._flight
            share = (time.monotonic() - begun) / FLIGHT
            self.camera = between(start, stop, share)
            self.stage.look(self.camera)
            if share >= 1.0:
                self._flight = None
                self._settle()
            self._dirty = True
        if self._note and time.monotonic() >= self._note_until:
            self._note, self._dirty = "", True
        if self.face.arrange():
            self._frame_view()
            self._dirty = True
        for name in [name for name, (job, _) in self._jobs.items() if job.done]:
            job, take = self._jobs.pop(name)
            self._dirty = True
            try:
                take(job.result())
            except FulltravelError as error:
                self._complain(name, error.complaints)
        if "scene" not in self._jobs and self._watch.saved():
            self._jobs["scene"] = Job(partial(read, self.path, self.units)), self._take_scene

    def handle(self, done: Input) -> None:
        """Do what a hand asks for."""
        match done:
            case Closed():
                self.closed = True
            case Key():
                self._key(done)
            case Press():
                self._press(done)
            case Move():
                if self._drag is not None:
                    self._drag(done)
                    self._dirty = True
            case Release():
                if self._drag is not None:
                    self._drag = None
                    self._settle()
            case Wheel():
                if self.face.at(done.at, len(self.live.runs)).list:
                    self.face.findings.scrolled(-done.steps * SCROLL * self.face.text)
                else:
                    self._look(neared(self.camera, done.steps))
                self._dirty = True

    def _key(self, key: Key) -> None:
        name = key.name if len(key.name) > 1 else key.name.lower()
        if name in RUN_KEYS:
            self.live.choose_run(RUN_KEYS[name])
            self._moved()
        elif name in KEYS:
            self._act(KEYS[name], small=key.shift)

    def _act(self, act: Act, *, small: bool = False) -> None:
        live = self.live
        match act:
            case Act.CLOSE:
                self.closed = True
            case Act.HELP:
                self._help = not self._help
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
                first = 0 if act is Act.NEXT else -1
                step = 1 if act is Act.NEXT else -1
                self._choose(first if live.chosen is None else live.chosen + step)
            case Act.WORST:
                self._choose(live.chosen or 0)
            case Act.PICTURE:
                self._save_picture()
            case Act.VIEW:
                self._view = (self._view + 1) % len(VIEWS)
                self._fly(self.stage.camera(VIEWS[self._view]))
            case _ if act in TOGGLES:
                self._on ^= {act}
                self._show_extras(act)
        self._moved()

    def _press(self, press: Press) -> None:
        sliders = self.live.sliders()
        hit = self.face.at(press.at, len(sliders))
        if hit.act is not None:
            self._act(hit.act)
        elif hit.row is not None:
            self._choose(hit.row)
        elif hit.slider is not None:
            number = hit.slider

            def slide(move: Move | Press) -> None:
                self.live.move(sliders[number].run, self.face.amount_at(move.at[0], number, sliders))
                self._moved()

            slide(press)
            self._drag = slide
        elif hit.view:
            self._flight = None
            start, camera = press.at, self.camera if press.sideways else upright(self.camera)
            height = self.face.view[3] - self.face.view[1]

            def turn(move: Move) -> None:
                across, down = (move.at[0] - start[0]) / height, (move.at[1] - start[1]) / height
                self._look((shifted if press.sideways else turned)(camera, across, down))

            self._drag = turn

    def _choose(self, number: int) -> None:
        """Choose a finding: go to its worst pose and fly to it."""
        finding = self.live.choose(number)
        if finding is None or self.live.chosen is None:
            return
        self.face.findings.rows = self.live.rows
        self.face.findings.reveal(self.live.chosen)
        self.stage.follow(self.live.rail.poses)
        self.stage.show(self.live.pose)
        self._fly(self._close_up(finding))
        self._moved()
        if Act.SWEPT in self._on:
            self._show_extras(Act.SWEPT)

    def _close_up(self, finding: Finding) -> Camera:
        """The camera on a finding in the pose that is shown."""
        try:
            return self.stage.camera(f"joint:{finding.where}")
        except DrawingError:  # not a place that has a name of its own
            about = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) / np.sqrt(3.0)
            direction = self.camera.direction
            aspect = self.stage.size[0] / self.stage.size[1]
            return replace(perspective(direction, UP, np.array(finding.at) + REACH * about, aspect), close=True)

    def _moved(self) -> None:
        """The pose may be another."""
        if self.stage.poses is not self.live.rail.poses:
            self.stage.follow(self.live.rail.poses)
        self._pose_stale = self._dirty = True

    def _look(self, camera: Camera) -> None:
        self._flight = None
        # By hand it is no close-up any more, and what stands in the way is decided when the hand rests.
        self.camera = replace(camera, close=False, target=None, glass=None)
        self.stage.look(self.camera)
        self._dirty = True

    def _fly(self, camera: Camera) -> None:
        if self._took > SLOW or camera.half_height is not None or self.camera.half_height is not None:
            self._flight = None
            self.camera = camera
            self._settle()
        else:
            self._flight = self.camera, camera, time.monotonic()

    def _settle(self) -> None:
        """The camera rests: wheels that would hide a joint turn to glass."""
        self.stage.aim(self.camera)
        self._extras.glass(Act.FRAME in self._on)
        self._dirty = True

    def _frame_view(self) -> None:
        """Draw the parts where the panels leave room."""
        width, height = self.face.size
        left, top, right, bottom = self.face.view
        if hasattr(self, "stage"):
            self.stage.size = self._view_size()
        self.plotter.renderer.SetViewport(left / width, 1.0 - bottom / height, right / width, 1.0 - top / height)

    def _view_size(self) -> tuple[int, int]:
        left, top, right, bottom = self.face.view
        return max(1, round(right - left)), max(1, round(bottom - top))

    def _take_stage(self) -> None:
        """Draw the scene anew, with what was switched on."""
        self.plotter.clear_actors()
        self.plotter.renderer.RemoveAllViewProps()
        self.stage = Stage(self.live.scene.poses, self._view_size(), self.plotter)
        self._extras = Extras(self.plotter, self.stage)
        self.stage.follow(self.live.rail.poses)
        self.stage.show(self.live.pose)

    def _take_scene(self, scene: Scene) -> None:
        """The file was saved: show what it says now, in the same pose through the same camera."""
        self.live.take(scene)
        self._mistake, self._space = (), None
        self._on.discard(Act.SWEPT)
        self._take_stage()
        self.plotter.render_window.SetWindowName(f"fulltravel: {scene.mechanism.title}")
        for act in self._on:
            self._show_extras(act)
        self._settle()
        self._tell(f"{self.path.name} was saved: this is how it stands now.")
        self._judge_finely()
        self._moved()

    def _complain(self, name: str, complaints: tuple[str, ...]) -> None:
        """Work ended with a mistake: the file's stays in sight until it is mended."""
        if name != "scene":
            self._tell(complaints[0])
            return
        more = len(complaints) - MOST_TOLD
        rest = (f"… and {more} more.",) if more > 0 else ()
        self._mistake = (*complaints[:MOST_TOLD], *rest, "Until it is mended you see the last scene that worked.")

    def _judge_finely(self) -> None:
        """Look for the worst poses as finely as `check` does, while the window can be used."""
        mechanism = self.live.scene.mechanism

        def take(judged: Judged) -> None:
            if self.live.scene.mechanism is mechanism:
                self.live.judge(judged)
                self._moved()

        self._jobs["judging"] = Job(partial(finely, mechanism)), take

    def _show_extras(self, act: Act) -> None:
        """Show or hide what a switch stands for."""
        on = act in self._on
        if act is Act.GHOST:
            self._extras.ghost(on)
        elif act is Act.FRAME:
            self._settle()
        elif act is Act.SWEPT:
            self._extras.space(None)
            if on:
                self._sweep()

    def _sweep(self) -> None:
        """Show the space that the chosen finding's part, or else a wheel, needs over the travel; it takes seconds."""
        mechanism = self.live.scene.mechanism
        row = self.live.chosen_row
        part = row.worst.part if row is not None else mechanism.wheels[0].name
        if self._space is not None and self._space[0] == part:
            self._extras.space(self._space[1])
            return

        def take(mesh: Mesh) -> None:
            if self.live.scene.mechanism is mechanism:
                self._space = part, mesh
                if Act.SWEPT in self._on:
                    self._extras.space(mesh)
                self._tell(f"This is the space that {part} needs over the travel.")

        self._tell(f"Working out the space that {part} needs over the travel …", NOTE * 15)
        self._jobs["sweeping"] = Job(partial(swept_space, mechanism, part)), take

    def _save_picture(self) -> None:
        """Draw the pose through the camera as a still, under a free name in the folder that the program runs in."""
        output = free_name(Path.cwd(), self.path.stem)
        self._tell(f"Drawing {output.name} …")
        self.draw()
        live, swept = self.live, self._space if Act.SWEPT in self._on else None
        posed = live.rail.poses.take(np.array([live.pose]))
        try:
            write_still(
                posed, self._verdict, output, size=PICTURE, units=live.scene.units, swept=swept, camera=self.camera
            )
        except FulltravelError as error:
            self._tell(error.complaints[0])
        else:
            self._tell(f"Saved {path_text(output)}.")

    def _tell(self, note: str, seconds: float = NOTE) -> None:
        self._note, self._note_until, self._dirty = note, time.monotonic() + seconds, True


def free_name(folder: Path, stem: str) -> Path:
    """A name for a picture that no file in a folder has yet."""
    return next(path for path in (folder / f"{stem}-{number}.png" for number in count(1)) if not path.exists())
