"""The stage: the only owner of plotter and actors. Meshes are built once; `show(pose)` moves them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from types import TracebackType
from typing import Any, Self

import numpy as np
import pyvista as pv
from PIL import Image

from model.cones import cone_of
from model.errors import DrawingError
from model.measures import place_text
from model.members import Posture, posture
from model.meshes import Places, mesh_of, pliant_mesh
from model.partshapes import solids_of
from model.poses import Poses
from model.solids import Material, PartSolids, Pliant, SolidModel, WoundSolid
from model.spatial import Array, unit
from model.spatial import across as square_part
from model.triangles import Mesh, joined
from model.verdicts import State
from model.windup import is_bonded, wind_up
from viz import offscreen, style
from viz.closeups import JOINT_SIZE, subject_of
from viz.cones import ConeActors
from viz.cutaway import Block, Cut, CutActors, Sight, cut_for, gap_camera
from viz.gaps import GapMark, gap_named
from viz.ghost import Ghost, see_through
from viz.glass import GlassWheels
from viz.lens import Pixels, pixels_per_mm, projected, read_depths, read_pixels, smoothed
from viz.occlusion import Depths
from viz.pliants import PliantActor
from viz.shapes import poly_data, shaded
from viz.studio import PAD_RADIUS, add_actor, lit_plotter, stand
from viz.sweptspace import SweptActors
from viz.veils import drum, hiding_wheels
from viz.views import VIEW_ANGLE, Camera, View, clearest, is_gap, is_named, joint_name, named_view, perspective, shown

# How solid what stands in front of a joint stays.
GHOST_REST = 0.3
# A frame shape that leaves less than this share of a joint in sight is in the way.
MOSTLY_SHOWN = 0.75


@dataclass(frozen=True)
class _Moving:
    """One actor with what it shows."""

    solids: PartSolids
    mesh: Mesh
    actor: pv.Actor


class Stage:
    """Draws the poses of one mechanism. Use it in a `with` block: it holds memory of the graphics driver."""

    def __init__(self, poses: Poses, size: tuple[int, int], plotter: Any = None) -> None:
        """Build every mesh and actor for pictures of `size` (width, height) in pixels.

        `plotter` is a lit one to draw in, such as that of a window; without it, the stage draws off screen.
        """
        if plotter is None:
            offscreen.prepare()
            plotter = lit_plotter(size)
        self.size = size
        self.model: SolidModel = solids_of(poses.mechanism)
        self._plotter: Any = plotter
        self._pose = 0
        self.follow(poses)
        # Cameras keep these in frame, whatever poses are followed later.
        self._whole, self._whole_matrices = self.posture, self._matrices
        self._cones = ConeActors(self._plotter)
        self._cuts, self._swept = CutActors(self._plotter), SweptActors(self._plotter)
        self._moving = [self._part(solids) for solids in self.model.parts]
        self._pliants = [PliantActor(self._plotter, solid, self._places(0)) for solid in self.model.pliant]
        self._pads = [stand(self._plotter, wheel.loaded_radius, wheel.width) for wheel in poses.mechanism.wheels]
        self._glass = GlassWheels(self._plotter, poses.mechanism.wheels, self.drawn())
        self._ghost: Ghost | None = None
        self._camera: Camera | None = None
        self.cut = Cut()
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

    def drawn(self) -> Iterator[tuple[PartSolids, pv.Actor]]:
        """Every rigid part that is drawn, with its actor."""
        return ((moving.solids, moving.actor) for moving in self._moving)

    def show(self, pose: int) -> None:
        """Move every part to a pose."""
        self._pose = pose
        for moving in self._moving:
            moving.actor.user_matrix = self._matrices[moving.solids.part][pose]
        self._glass.move(self._matrices, pose)
        places = self._places(pose)
        for pliant in self._pliants:
            pliant.show(places, self._wound_share(pliant.solid, pose))
        self._cones.show(places)
        for wheel, pad in zip(self.poses.mechanism.wheels, self._pads, strict=True):
            centre = self.posture.parts[wheel.on].point(wheel.centre)[pose]
            for actor in pad:
                actor.position = (centre[0], centre[1], centre[2] - wheel.loaded_radius)
        if self._camera is not None:
            self._open_up(self._camera)

    def show_cone(self, where: str, state: State) -> None:
        """Stand the cone of a joint's limit about it, in the colour of its state; nothing for other kinds of joint."""
        joint = next((joint for joint in self.posture.joints if place_text(joint.member, joint.end) == where), None)
        cone = None if joint is None else cone_of(self.poses.mechanism, joint)
        if cone is not None:
            self._cones.stand(cone, state)
            self._cones.show(self._places(self._pose))

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

    def aim(self, camera: Camera) -> None:
        """Point the camera; wheels that would hide a joint from it turn to glass."""
        self.look(camera)
        # What hides a gap is cut away instead.
        hiding = hiding_wheels(self.poses.mechanism, self.posture, self._pose, camera) if camera.gap is None else {}
        glass = [name for name, hides in hiding.items() if hides and name not in self._swept.labels]
        self._glass.turn(glass, close=camera.close)
        self._clear_the_view(camera)
        self._open_up(camera)
        self._plotter.renderer.ResetCameraClippingRange()

    def _open_up(self, camera: Camera) -> None:
        """In a close-up of a gap, cut away what hides it in the shown pose, or turn it to glass; `cut` says what."""
        self._cuts.close()
        if camera.gap is None:
            return
        blocks = self._blocks()
        self.cut = cut_for(camera, Sight(blocks))
        for block in blocks:
            block.actor.prop.opacity = GHOST_REST if block.label in self.cut.glass else 1.0
        away = [block for block in blocks if block.label in self.cut.away]
        self._cuts.cut(away, camera, float(self.pixels_per_mm(camera.gap[:1])[0]))

    def hatch(self, mark: GapMark) -> None:
        """Hatch where two parts touch, over everything that hides it; show what is measured and not drawn as glass."""
        self._cuts.fill(mark.measured)
        self._cuts.hatch(mark.patches, self._aimed(), float(self.pixels_per_mm(mark.at[:1])[0]))

    def show_swept(self, label: str, space: Mesh) -> None:
        """Show the space that a part needs over the travel about it; cameras keep it in frame."""
        self._swept.show(label, space)

    def _blocks(self) -> list[Block]:
        """Everything that is drawn, as it stands in the shown pose."""
        blocks = []
        for moving in self._moving:
            matrix = self._matrices[moving.solids.part][self._pose]
            meshes = [mesh_of(solid) for solid in moving.solids.solids]
            placed = [Mesh(mesh.points @ matrix[:3, :3].T + matrix[:3, 3], mesh.faces) for mesh in meshes]
            blocks.append(Block(moving.solids.label, moving.solids.material, tuple(placed), moving.actor))
        places = self._places(self._pose)
        for pliant in self._pliants:
            solid = pliant.solid
            blocks.append(Block(solid.label, solid.material, (pliant_mesh(solid, places),), pliant.actor))
        return blocks

    def _clear_the_view(self, camera: Camera) -> None:
        """In a close-up, turn frame shapes that hide the joint to glass and take the tyres' stands away."""
        for actor in (actor for pad in self._pads for actor in pad):
            actor.visibility = not camera.close
        for moving in self._moving:
            if moving.solids.material is Material.FRAME:
                hides = camera.target is not None and self._hides(moving, camera.target, camera.direction)
                moving.actor.prop.opacity = GHOST_REST if hides else 1.0
            elif moving.solids.material is Material.BRACKET:
                moving.actor.prop.opacity = GHOST_REST if moving.solids.label == camera.glass else 1.0

    def _hides(self, moving: _Moving, target: Array, direction: Array) -> bool:
        """Whether one actor covers a good part of a joint at `target` (3,), seen along −`direction` (3,)."""
        matrix = self._matrices[moving.solids.part][self._pose]
        points = moving.mesh.points @ matrix[:3, :3].T + matrix[:3, 3] - target
        return shown(direction, points[moving.mesh.faces], JOINT_SIZE) < MOSTLY_SHOWN

    def show_ghost(self) -> None:
        """Show where every part that moves stands at ride height; cameras keep that in frame too."""
        wheels = [wheel.name for wheel in self.poses.mechanism.wheels]
        self._ghost = Ghost(self._plotter.renderer, self.drawn(), wheels)
        self._ghost.show(on=True)

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
        for moving in self._moving:
            moving.actor.prop.opacity = 1.0
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
        labels = {name for moving in self._moving for name in (moving.solids.label, moving.solids.part)}
        labels |= {pliant.solid.label for pliant in self._pliants}
        seen = subject_of(joint_name(view), self.posture, self.poses.mechanism, self._pose, labels, self.cloud)
        veils = np.concatenate(
            [drum(wheel, self._matrices[wheel.on][self._pose]) for wheel in self.poses.mechanism.wheels]
        )
        direction = clearest(seen.middle, seen.size, seen.bolt, self.triangles(), seen.best_along, veils)
        if across and seen.bolt is not None:
            direction = unit(square_part(direction, seen.bolt))
        box = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) / np.sqrt(3)
        cloud = (seen.track[:, None] + seen.margin * box).reshape(-1, 3)
        camera = perspective(direction, np.array([0.0, 0.0, 1.0]), cloud, aspect)
        return replace(camera, target=seen.middle if seen.joint else None, close=True, glass=seen.glass)

    def overview(self, from_right: bool) -> Camera:
        """The three-quarter view, from the left or from the right."""
        aspect, flip = self.size[0] / self.size[1], np.array([1.0, -1.0 if from_right else 1.0, 1.0])
        camera = named_view(View.THREE_QUARTER, self.cloud() * flip, aspect)
        return replace(camera, position=camera.position * flip, focus=camera.focus * flip, up=camera.up * flip)

    def picture(self) -> Image.Image:
        """The stage as the camera sees it, with contact shadows."""
        pixels = self.pixels()
        return smoothed(pixels, self.depths())

    def pixels(self) -> Pixels:
        """What `smoothed` makes the picture of: (height, width, 3), several times as large."""
        self._plotter.renderer.ResetCameraClippingRange()
        self._plotter.render_window.Render()
        return read_pixels(self._plotter.render_window, self.size)

    def depths(self) -> Depths:
        """Depths (height, width) of what `pixels` has just drawn, for `smoothed`."""
        reach = self._plotter.camera.clipping_range
        return read_depths(self._plotter.render_window, self.size, self._aimed(), reach)

    def project(self, points: Array) -> Array:
        """Where points (..., 3) are in the picture: (..., 2) in pixels from its upper left corner."""
        return projected(points, self._plotter.camera, self.size)

    @property
    def look_from(self) -> Array:
        """Unit direction (3,) to the camera that is aimed."""
        return self._aimed().direction

    def pixels_per_mm(self, points: Array) -> Array:
        """Scale (k,) in px per mm of the picture at points (k, 3)."""
        return pixels_per_mm(points, self._aimed(), self.size[1])

    def cloud(self, part: str | None = None) -> Array:
        """Corners (k, 3) of the boxes about every part, or about one by its name, over the whole travel."""
        corners = []
        wheels = {wheel.name for wheel in self.poses.mechanism.wheels}
        for moving in self._moving:
            label = moving.solids.label
            # What carries a wheel is shown without it.
            if part in (None, label) or (part == moving.solids.part and label not in wheels):
                box = _corners(moving.mesh.points)
                matrices = self._whole_matrices[moving.solids.part]
                corners.append(np.einsum("nij,kj->nki", matrices[:, :3, :3], box) + matrices[:, None, :3, 3])
                if self._ghost is not None:
                    corners.append(box)
        if part is not None:
            corners += [
                _corners(np.asarray(pliant.data.points)) for pliant in self._pliants if pliant.solid.label == part
            ]
        else:
            for wheel in self.poses.mechanism.wheels:
                pad = PAD_RADIUS * wheel.loaded_radius
                low = np.array([[x, y, -wheel.loaded_radius] for x in (-pad, pad) for y in (-pad, pad)])
                corners.append(self._whole.parts[wheel.on].point(wheel.centre)[:, None] + low)
            corners += [_corners(space.points) for space in self._swept.spaces]
        return np.concatenate([block.reshape(-1, 3) for block in corners]) if corners else np.zeros((0, 3))

    def triangles(self) -> Array:
        """Triangles (m, 3, 3) of everything but the wheels in the pose that is shown."""
        wheels = {wheel.name for wheel in self.poses.mechanism.wheels}
        blocks = []
        for moving in self._moving:
            if moving.solids.label not in wheels:
                matrix = self._matrices[moving.solids.part][self._pose]
                points = moving.mesh.points @ matrix[:3, :3].T + matrix[:3, 3]
                blocks.append(points[moving.mesh.faces])
        for pliant in self._pliants:
            blocks.append(np.asarray(pliant.data.points)[pliant.faces])
        return np.concatenate(blocks)

    def _aimed(self) -> Camera:
        if self._camera is None:
            raise AssertionError("aim the camera first")
        return self._camera

    def _part(self, solids: PartSolids) -> _Moving:
        mesh = joined(mesh_of(solid) for solid in solids.solids)
        points, normals, faces = shaded(mesh)
        data = poly_data(Mesh(points, faces))
        data.point_data["Normals"] = normals
        return _Moving(solids, mesh, add_actor(self._plotter, data, style.FINISHES[solids.material]))


def _corners(points: Array) -> Array:
    """Corners (8, 3) of the box about points (k, 3)."""
    low, high = points.min(axis=0), points.max(axis=0)
    return np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
