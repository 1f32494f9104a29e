"""The stage: the only owner of plotter and actors. Meshes are built once; `show(pose)` moves them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from types import TracebackType
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from model.cones import cone_of
from model.errors import DrawingError
from model.measures import place_text
from model.members import Posture, posture
from model.meshes import Matrices, Places
from model.partshapes import solids_of
from model.poses import Poses
from model.solids import PartSolids, Pliant, SolidModel, WoundSolid
from model.spatial import Array, unit
from model.spatial import across as square_part
from model.triangles import Mesh
from model.verdicts import State
from model.wheelshapes import ground_below
from model.windup import is_bonded, wind_up
from viz import offscreen
from viz.closeups import Subject, close_camera, subject_of
from viz.cones import ConeActors
from viz.cutaway import Block, Cut, CutActors, Sight, cut_for, gap_camera
from viz.gaps import GapMark, gap_named
from viz.ghost import Ghost, see_through
from viz.glass import GlassWheels
from viz.lens import Pixels, behind, pixels_per_mm, projected, read_depths, read_pixels, smoothed
from viz.occlusion import Depths
from viz.parts import IN_THE_WAY, DrawnParts, box_corners
from viz.studio import PAD_RADIUS, Actor, lit_room, stand
from viz.sweptspace import SweptActors
from viz.touches import TouchActors
from viz.veils import drum, hiding_wheels
from viz.views import (
    VIEW_ANGLE,
    Camera,
    camera_axes,
    clearest,
    clearest_whole,
    is_gap,
    is_named,
    joint_name,
    named_view,
    three_quarter,
)

# A place is looked for at these spots (k, 3) before it, in camera axes and shares of its room; it is hidden where more
# than a share of them is.
SPOTS = np.array([[0.0, 0, 1], [0.5, 0, 1], [-0.5, 0, 1], [0, 0.5, 1], [0, -0.5, 1]])
MOSTLY = 0.7


class Stage:
    """Draws the poses of one mechanism. Use it in a `with` block: it holds memory of the graphics driver."""

    def __init__(self, poses: Poses, size: tuple[int, int], plotter: Any = None) -> None:
        """Build every mesh and actor for pictures of `size` (width, height) in pixels.

        `plotter` is a lit one to draw in, such as that of a window; without it, the stage draws off screen.
        """
        if plotter is None:
            offscreen.prepare()
            plotter = lit_room(size)
        self.size = size
        self.model: SolidModel = solids_of(poses.mechanism)
        self._plotter: Any = plotter
        self._pose = 0
        self.follow(poses)
        # Cameras keep these in frame, whatever poses are followed later.
        self._whole, self._whole_matrices = self.posture, self._matrices
        self._cones = ConeActors(self._plotter)
        self._cuts, self._swept = CutActors(self._plotter), SweptActors(self._plotter)
        self._touch = TouchActors(self._plotter)
        self._parts = DrawnParts(self._plotter, self.model, self._now())
        self._pads = [stand(self._plotter, wheel.loaded_radius, wheel.width) for wheel in poses.mechanism.wheels]
        self._wheels = [wheel.name for wheel in poses.mechanism.wheels]
        self._glass = GlassWheels(self._plotter, poses.mechanism.wheels, self.drawn())
        self.ghost: Ghost | None = None
        self._kept = np.zeros((0, 3))
        self._camera: Camera | None = None
        self.cut, self.cut_beside = Cut(), Cut()
        self.glass: set[str] = set()
        self.show(0)

    def __enter__(self) -> Self:
        """Return the stage itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Give the graphics memory back."""
        self._plotter.close()

    def follow(self, poses: Poses) -> None:
        """Take up other poses of the same mechanism; `show` moves the parts to one of them."""
        self.poses = poses
        self.posture: Posture = posture(poses)
        self._matrices = {name: part.matrix() for name, part in self.posture.parts.items()}
        self._wound = {
            (joint.member, joint.end.place): np.abs(wind_up(poses.mechanism, joint)) / joint.end.joint.turn.angle
            for joint in self.posture.joints
            if is_bonded(joint.end) and joint.end.joint.turn is not None
        }

    def drawn(self) -> Iterator[tuple[PartSolids, Actor]]:
        """Every rigid part that is drawn, with its actor."""
        return self._parts.rigid()

    def show(self, pose: int) -> None:
        """Move every part to a pose."""
        self._pose = pose
        places = self._places(pose)
        self._parts.move(self._now(), lambda solid: self._wound_share(solid, pose))
        self._glass.move(self._now())
        self._cones.show(places)
        for wheel, pad in zip(self.poses.mechanism.wheels, self._pads, strict=True):
            part = self.posture.parts[wheel.on]
            centre = part.point(wheel.centre)[pose]
            for actor in pad:
                actor.position = (*centre[:2], centre[2] - float(ground_below(wheel, part.rotation[pose])))
        if self._camera is not None:
            self._open_up(self._camera)

    def show_cone(self, where: str, state: State) -> None:
        """Stand the cone of a joint's limit about it, in the colour of its state; nothing for other kinds of joint."""
        joint = next((joint for joint in self.posture.joints if place_text(joint.member, joint.end) == where), None)
        cone = None if joint is None else cone_of(self.poses.mechanism, joint)
        if cone is not None:
            self._cones.stand(cone, state)
            self._cones.show(self._places(self._pose))

    def _now(self) -> Matrices:
        """Where each part is (4, 4) in the shown pose."""
        return {name: matrices[self._pose] for name, matrices in self._matrices.items()}

    def _places(self, pose: int) -> Places:
        """Where each part is in a pose."""
        parts = self.posture.parts
        return lambda name: (parts[name].rotation[pose], parts[name].translation[pose])

    def _wound_share(self, solid: Pliant, pose: int) -> float:
        """How far a bush is wound, as a share of its limit; 0 for anything else."""
        joint = solid.joint if isinstance(solid, WoundSolid) else None
        return float(self._wound[joint][pose]) if joint in self._wound else 0.0

    def look(self, camera: Camera) -> None:
        """Point the camera and leave what it looks through as it is, as on a flight."""
        self._camera = camera
        target = self._plotter.camera
        target.position, target.focal_point, target.up = camera.position, camera.focus, camera.up
        target.parallel_projection = camera.half_height is not None
        if camera.half_height is not None:
            target.parallel_scale = camera.half_height
        target.view_angle = VIEW_ANGLE

    def aim(self, camera: Camera, glass: Collection[str] = ()) -> None:
        """Point the camera; wheels that would hide a joint from it, and those named, turn to `glass`."""
        self.look(camera)
        # What hides a gap is cut away instead.
        hiding = hiding_wheels(self.poses.mechanism, self.posture, self._pose, camera) if camera.gap is None else {}
        kept = {*self._swept.labels, camera.part}
        for actor in (actor for pad in self._pads for actor in pad):
            actor.visibility = not camera.close
        self._parts.clear_the_view(camera, self._now(), self._wheels)
        self.glass = {name for name, hides in hiding.items() if hides or name in glass} - kept
        self._glass.turn(self.glass, close=camera.close)
        self._open_up(camera)
        self._plotter.renderer.ResetCameraClippingRange()

    def _open_up(self, camera: Camera) -> None:
        """In a close-up of a gap, cut away what hides it in the shown pose, or turn it to glass; `cut` says what.

        So is what another stage beside this one had to cut: `cut_beside`.
        """
        self._cuts.close()
        self._touch.close()
        if camera.gap is None:
            return
        blocks = self._blocks()
        self.cut = cut_for(camera, Sight(blocks)).joined(self.cut_beside)
        for block in blocks:
            block.actor.prop.opacity = IN_THE_WAY if block.label in self.cut.glass else 1.0
        away = [block for block in blocks if block.label in self.cut.away]
        self._cuts.cut(away, camera, float(self.pixels_per_mm(camera.gap[:1])[0]))

    def hatch(self, mark: GapMark) -> None:
        """Hatch where two parts touch, over everything that hides it; show what is measured and not drawn as glass."""
        self._cuts.fill(mark.measured)
        self._touch.show(mark.patches, self._aimed(), float(self.pixels_per_mm(mark.at[:1])[0]))

    def show_swept(self, label: str, space: Mesh) -> None:
        """Show the space that a part needs over the travel about it; cameras keep it in frame."""
        self._swept.show(label, space)

    def _blocks(self) -> list[Block]:
        """Everything that is drawn, as it stands in the shown pose."""
        return self._parts.blocks(self._now())

    def show_ghost(self, *, on: bool = True) -> None:
        """Show where every part that moves stands at ride height, or no more; cameras keep that in frame too."""
        if self.ghost is None:
            self.ghost = Ghost(self._plotter.renderer, self.drawn(), self._wheels)
        self.ghost.show(on=on)

    def keep_in_frame(self, points: Array) -> None:
        """Let cameras of the whole keep points (k, 3) in frame too."""
        self._kept = points

    def see_through(self) -> None:
        """See through the frame and its brackets, until the camera is aimed anew."""
        see_through(self.drawn())

    def section(self) -> None:
        """Cut away everything before the joint that the camera is aimed at, in the shown pose.

        Raises:
            DrawingError: the camera is not aimed at a joint or point.

        """
        camera = self._aimed()
        if camera.target is None:
            raise DrawingError("A section goes through one joint or point, expected a view joint:NAME of one.")
        self._glass.turn((), close=False)
        self._parts.make_solid()
        grain = float(self.pixels_per_mm(camera.target[None])[0])
        self._cuts.section(self._blocks(), camera, grain)

    def camera(self, view: str, gaps: Iterable[GapMark] = (), *, across: bool = False) -> Camera:
        """The camera of a view; a close-up looks from where its joint or gap is hidden least in the shown pose.

        With `across` it looks at a joint square to its bolt, as a section through it is best seen.

        Raises:
            DrawingError: no such view, or no such joint, part, point or gap.

        """
        aspect = self.size[0] / self.size[1]
        if is_named(view):
            return named_view(view, self.cloud(), aspect)
        if is_gap(view):
            mark = gap_named(view, gaps)
            return gap_camera(mark.at, mark.touches, mark.labels, Sight(self._blocks()), aspect)
        name = joint_name(view)
        seen = subject_of(name, self.posture, self.poses.mechanism, self._pose, self._parts.labels, self.cloud)
        direction = self._clearest(seen) if seen.look is None else seen.look
        if across and seen.bolt is not None:
            direction = unit(square_part(direction, seen.bolt))
        return close_camera(name, seen, direction, aspect)

    def _clearest(self, seen: Subject) -> Array:
        """The direction (3,) from which what a close-up is of is hidden least."""
        now, wheels = self._now(), self.poses.mechanism.wheels
        veils = np.concatenate([drum(wheel, now[wheel.on]) for wheel in wheels])
        if seen.spots is not None:
            others = self._parts.triangles(now, {*self._wheels, *seen.own})
            return clearest_whole(seen.spots, others, veils)
        return clearest(seen.middle, seen.size, seen.bolt, self.triangles(), seen.best_along, veils)

    def overview(self, from_right: bool) -> Camera:
        """The three-quarter view, from the left or from the right."""
        return three_quarter(self.cloud(), self.size[0] / self.size[1], from_right)

    def picture(self) -> Image.Image:
        """The stage as the camera sees it, with contact shadows."""
        pixels = self.pixels()
        return smoothed(pixels, self.depths())

    def render(self) -> None:
        """Draw what the camera sees, and leave it in the drawing library's own memory."""
        self._plotter.renderer.ResetCameraClippingRange()
        self._plotter.render_window.Render()

    def pixels(self) -> Pixels:
        """What `smoothed` makes the picture of: (height, width, 3), several times as large."""
        self.render()
        return read_pixels(self._plotter.render_window, self.size)

    def depths(self) -> Depths:
        """Depths (height, width) of what `pixels` has just drawn, for `smoothed`."""
        reach = self._plotter.camera.clipping_range
        return read_depths(self._plotter.render_window, self.size, self._aimed(), reach)

    def project(self, points: Array) -> Array:
        """Where points (..., 3) are in the picture: (..., 2) in pixels from its upper left corner."""
        return projected(points, self._plotter.camera, self.size)

    def hidden(self, places: Array, room: float) -> NDArray[np.bool_]:
        """Which places (k, 3) are hidden in the picture just drawn, by what is before the `room` mm about them."""
        camera = self._aimed()
        spots = places[:, None] + room * SPOTS @ camera_axes(camera.direction, camera.up).T
        covered = behind(self._plotter.renderer, spots.reshape(-1, 3)).reshape(len(places), len(SPOTS))
        return np.asarray(covered.mean(axis=1) > MOSTLY)

    def pixels_per_mm(self, points: Array) -> Array:
        """Scale (k,) in px per mm of the picture at points (k, 3)."""
        return pixels_per_mm(points, self._aimed(), self.size[1])

    def cloud(self, part: str | None = None) -> Array:
        """Corners (k, 3) of the boxes about every part, or about one by its name, over the whole travel."""
        ride = self.ghost is not None and self.ghost.shown
        corners = self._parts.boxes(part, self._whole_matrices, self._wheels, ride=ride)
        if part is None:
            for wheel in self.poses.mechanism.wheels:
                pad = PAD_RADIUS * wheel.loaded_radius
                low = np.array([[x, y, -wheel.loaded_radius] for x in (-pad, pad) for y in (-pad, pad)])
                corners.append(self._whole.parts[wheel.on].point(wheel.centre)[:, None] + low)
            corners += [self._kept, *(box_corners(space.points) for space in self._swept.spaces)]
        return np.concatenate([block.reshape(-1, 3) for block in corners]) if corners else np.zeros((0, 3))

    def triangles(self) -> Array:
        """Triangles (m, 3, 3) of everything but the wheels in the pose that is shown."""
        return self._parts.triangles(self._now(), self._wheels)

    def _aimed(self) -> Camera:
        if self._camera is None:
            raise AssertionError("aim the camera first")
        return self._camera
