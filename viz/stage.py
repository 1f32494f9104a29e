"""The stage: the only owner of plotter and actors. Meshes are built once; `show(pose)` moves them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import TracebackType
from typing import Any, Self

import numpy as np
import pyvista as pv
from PIL import Image
from vtkmodules.vtkCommonCore import vtkUnsignedCharArray

from model.measures import place_text
from model.members import Posture, halves, posture
from model.partshapes import solids_of
from model.poses import Poses
from model.solids import Material, PartSolids, SolidModel, SpringSolid
from model.spatial import Array, dot, norm
from viz import offscreen, style
from viz.shapes import Mesh, joined, mesh_of, poly_data, shaded, spring_mesh
from viz.views import VIEW_ANGLE, Camera, clearest, is_named, joint_name, named_view, perspective, shown, unknown_name

Texture: Any = pv.Texture  # the library ships this class without annotations

# The picture is drawn this many times larger each way and averaged: smooth edges that leave translucent tyres whole.
OVERSAMPLE = 2
# How solid a wheel stays that would hide a joint: enough of the tyre to see where it is, of the rim to see it turn.
GHOST = {Material.TYRE: 0.17, Material.RIM: 0.22}
GHOST_REST = 0.3
# A close-up shows a ball of this radius (mm) about a joint; what is nearer than the second belongs to the joint.
JOINT_REACH, JOINT_SIZE = 170.0, 75.0
# A part's close-up shows this much around it, in mm.
PART_MARGIN = 120.0
# A frame shape that leaves less than this share of a joint in sight is in the way.
MOSTLY_SHOWN = 0.75
# Radius of the stand under a tyre, as a share of the tyre's.
PAD_RADIUS = 0.55


@dataclass(frozen=True)
class _Moving:
    """One actor with what it shows."""

    solids: PartSolids
    mesh: Mesh
    actor: pv.Actor


@dataclass(frozen=True)
class _Winding:
    """A spring's actor's data, whose points change with the pose."""

    spring: SpringSolid
    data: pv.PolyData


class Stage:
    """Draws the poses of one mechanism off screen. Use it in a `with` block: it holds memory of the graphics driver."""

    def __init__(self, poses: Poses, size: tuple[int, int]) -> None:
        """Build every mesh and actor for pictures of `size` (width, height) in pixels."""
        offscreen.prepare()
        self.size = size
        self.poses = poses
        self.posture: Posture = posture(poses)
        self.model: SolidModel = solids_of(poses.mechanism)
        self._matrices = {name: part.matrix() for name, part in self.posture.parts.items()}
        self._plotter: Any = _plotter(size)
        self._moving = [self._part(solids) for solids in self.model.parts]
        self._springs = [self._spring(spring) for spring in self.model.springs]
        self._pads = [self._pad(wheel.loaded_radius, wheel.width) for wheel in poses.mechanism.wheels]
        self._camera: Camera | None = None
        self._pose = 0
        self.show(0)

    def __enter__(self) -> Self:
        """Return the stage itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Give the graphics memory back."""
        self._plotter.close()

    def show(self, pose: int) -> None:
        """Move every part to a pose."""
        self._pose = pose
        for moving in self._moving:
            moving.actor.user_matrix = self._matrices[moving.solids.part][pose]
        for winding in self._springs:
            mesh = spring_mesh(winding.spring, *self.seats(winding.spring, pose))
            winding.data.points = mesh.points
            winding.data.point_data["Normals"] = _smooth_normals(mesh)
        for wheel, pad in zip(self.poses.mechanism.wheels, self._pads, strict=True):
            centre = self.posture.parts[wheel.on].point(wheel.centre)[pose]
            for actor in pad:
                actor.position = (centre[0], centre[1], centre[2] - wheel.loaded_radius)

    def seats(self, spring: SpringSolid, pose: int) -> tuple[Array, Array]:
        """A spring's upper and lower seat, each (3,), in a pose."""
        parts = self.posture.parts
        top, bottom = parts[spring.top_part].point(spring.top), parts[spring.bottom_part].point(spring.bottom)
        return top[pose], bottom[pose]

    def aim(self, camera: Camera) -> None:
        """Point the camera; wheels that would hide a joint from it turn to glass."""
        self._camera = camera
        target = self._plotter.camera
        target.position, target.focal_point, target.up = camera.position, camera.focus, camera.up
        target.parallel_projection = camera.half_height is not None
        if camera.half_height is not None:
            target.parallel_scale = camera.half_height
        target.view_angle = VIEW_ANGLE
        for name, hides in self._hiding(camera).items():
            for moving in self._moving:
                if moving.solids.label == name:
                    solid = 1.0 if not hides else GHOST.get(moving.solids.material, GHOST_REST)
                    moving.actor.prop.opacity = solid
        self._clear_the_view(camera)
        self._plotter.renderer.ResetCameraClippingRange()

    def _clear_the_view(self, camera: Camera) -> None:
        """In a close-up, turn frame shapes that hide the joint to glass and take the tyres' stands away."""
        for actor in (actor for pad in self._pads for actor in pad):
            actor.visibility = camera.target is None
        for moving in self._moving:
            if moving.solids.material is Material.FRAME:
                hides = camera.target is not None and self._hides(moving, camera.target, camera.direction)
                moving.actor.prop.opacity = GHOST_REST if hides else 1.0

    def _hides(self, moving: _Moving, target: Array, direction: Array) -> bool:
        """Whether one actor covers a good part of a joint at `target` (3,), seen along −`direction` (3,)."""
        matrix = self._matrices[moving.solids.part][self._pose]
        points = moving.mesh.points @ matrix[:3, :3].T + matrix[:3, 3] - target
        return shown(direction, points[moving.mesh.faces], JOINT_SIZE) < MOSTLY_SHOWN

    def camera(self, view: str) -> Camera:
        """The camera of a view; a close-up looks from where its joint is hidden least in the shown pose.

        Raises:
            DrawingError: no such view, or no such joint, part or point.

        """
        aspect = self.size[0] / self.size[1]
        if is_named(view):
            return named_view(view, self.cloud(), aspect)
        name = joint_name(view)
        joints = {place_text(joint.member, joint.end): joint for joint in self.posture.joints}
        points = {point: (holder, at) for point, holder, at in self.poses.mechanism.points}
        labels = {moving.solids.label for moving in self._moving} | {moving.solids.part for moving in self._moving}
        units = {unit.name for unit in self.poses.mechanism.coilovers}
        bolt = None
        if name in joints:
            track, reach = joints[name].at, JOINT_REACH
            bolt = self.posture.parts[joints[name].end.on].rotation[self._pose] @ joints[name].end.bolt
        elif name in labels | units:
            halves_of = halves(name) if name in units else (name,)
            corners = np.concatenate([self.cloud(part) for part in halves_of])
            track, reach = corners.reshape(-1, 3), 0.0
        elif name in points:
            holder, at = points[name]
            track, reach = self.posture.parts[holder].point(at), JOINT_REACH
        else:
            raise unknown_name(name, [*joints, *sorted(labels | units), *points])
        target = track[self._pose] if reach else track.mean(axis=0)
        size = JOINT_SIZE if reach else 0.5 * float(norm(track.max(axis=0) - track.min(axis=0)))
        direction = clearest(target, size, bolt, self.triangles())
        box = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) / np.sqrt(3)
        box *= reach or PART_MARGIN
        cloud = (track[:, None] + box).reshape(-1, 3)
        camera = perspective(direction, np.array([0.0, 0.0, 1.0]), cloud, aspect)
        return replace(camera, target=target) if reach else camera

    def picture(self) -> Image.Image:
        """The stage as the camera sees it."""
        window = self._plotter.render_window
        self._plotter.renderer.ResetCameraClippingRange()
        window.Render()
        width, height = (side * OVERSAMPLE for side in self.size)
        values = vtkUnsignedCharArray()
        window.GetPixelData(0, 0, width - 1, height - 1, 0, values, 0)
        pixels = pv.convert_array(values).reshape(height, width, 3)[::-1]
        return Image.fromarray(np.ascontiguousarray(pixels)).reduce(OVERSAMPLE)

    def project(self, points: Array) -> Array:
        """Where points (..., 3) are in the picture: (..., 2) in pixels from its upper left corner."""
        width, height = self.size
        matrix = pv.array_from_vtkmatrix(
            self._plotter.camera.GetCompositeProjectionTransformMatrix(width / height, -1.0, 1.0)
        )
        flat = np.concatenate([points, np.ones((*points.shape[:-1], 1))], axis=-1) @ matrix.T
        seen = flat[..., :2] / flat[..., 3:]
        return np.asarray((seen * [0.5, -0.5] + 0.5) * [width, height])

    def pixels_per_mm(self, points: Array) -> Array:
        """Scale (k,) in px per mm of the picture at points (k, 3)."""
        camera = self._aimed()
        if camera.half_height is not None:
            return np.full(len(points), self.size[1] / (2.0 * camera.half_height))
        depth = np.maximum(dot(camera.position - points, camera.direction), 1.0)
        return np.asarray(self.size[1] / (2.0 * depth * np.tan(np.radians(VIEW_ANGLE / 2.0))))

    def cloud(self, part: str | None = None) -> Array:
        """Corners (k, 3) of the boxes about every part, or about one by its name, over the whole travel."""
        corners = []
        for moving in self._moving:
            if part in (None, moving.solids.part, moving.solids.label):
                box = _corners(moving.mesh.points)
                matrices = self._matrices[moving.solids.part]
                corners.append(np.einsum("nij,kj->nki", matrices[:, :3, :3], box) + matrices[:, None, :3, 3])
        if part is None:
            for wheel in self.poses.mechanism.wheels:
                pad = PAD_RADIUS * wheel.loaded_radius
                low = np.array([[x, y, -wheel.loaded_radius] for x in (-pad, pad) for y in (-pad, pad)])
                corners.append(self.posture.parts[wheel.on].point(wheel.centre)[:, None] + low)
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
        for winding in self._springs:
            mesh = spring_mesh(winding.spring, *self.seats(winding.spring, self._pose))
            blocks.append(mesh.points[mesh.faces])
        return np.concatenate(blocks)

    def _aimed(self) -> Camera:
        if self._camera is None:
            raise AssertionError("aim the camera first")
        return self._camera

    def _hiding(self, camera: Camera) -> dict[str, bool]:
        """For each wheel, whether it stands between the camera and a joint in any pose."""
        joints = (
            np.concatenate([joint.at for joint in self.posture.joints]) if self.posture.joints else np.zeros((0, 3))
        )
        joints = joints[:: max(1, len(joints) // 400)]
        back = np.tile(camera.direction, (len(joints), 1))
        if camera.half_height is None:
            back = (camera.position - joints) / np.maximum(norm(camera.position - joints), 1e-9)[:, None]
        steps = np.linspace(20.0, 2500.0, 160)
        line = joints[:, None] + steps[:, None] * back[:, None]
        hiding = {}
        for wheel in self.poses.mechanism.wheels:
            # A wheel's own travel is small beside its size: where it is in the shown pose will do.
            part = self.posture.parts[wheel.on]
            axis = part.rotation[self._pose] @ wheel.axis * (1.0 if wheel.centre[1] >= 0.0 else -1.0)
            offset = line - part.point(wheel.centre)[self._pose]
            out = dot(offset, axis)
            radial = norm(offset - out[..., None] * axis)
            tyre = (np.abs(out) < 0.5 * wheel.width) & (radial < wheel.loaded_radius)
            material = tyre & ((radial > 0.45 * wheel.rim_diameter) | (out > 0.0))
            hiding[wheel.name] = bool(material.any())
        return hiding

    def _part(self, solids: PartSolids) -> _Moving:
        mesh = joined(mesh_of(solid) for solid in solids.solids)
        points, normals, faces = shaded(mesh)
        data = poly_data(Mesh(points, faces))
        data.point_data["Normals"] = normals
        return _Moving(solids, mesh, self._actor(data, style.FINISHES[solids.material]))

    def _spring(self, spring: SpringSolid) -> _Winding:
        mesh = spring_mesh(spring, *self.seats(spring, 0))
        data = poly_data(mesh)
        data.point_data["Normals"] = _smooth_normals(mesh)
        self._actor(data, style.FINISHES[Material.SPRING])
        return _Winding(spring, data)

    def _pad(self, radius: float, width: float) -> tuple[pv.Actor, ...]:
        """A round stand under a tyre, as on a bench, with the tyre's soft shadow on it."""
        depth = 0.035 * radius
        stand = pv.Cylinder(
            center=(0, 0, -0.5 * depth), direction=(0, 0, 1), radius=PAD_RADIUS * radius, height=depth, resolution=96
        )
        pad = self._actor(stand, style.Finish(style.PAD, 0.0, 0.7), smooth=False)
        plane = pv.Plane(center=(0, 0, 0.8), direction=(0, 0, 1), i_size=1.15 * radius, j_size=1.5 * width)
        shadow = self._plotter.add_mesh(plane, texture=_soft_shadow(), lighting=False)
        return pad, shadow

    def _actor(self, data: pv.PolyData, finish: style.Finish, smooth: bool = True) -> pv.Actor:
        data.point_data.active_normals_name = "Normals" if smooth else None
        actor: pv.Actor = self._plotter.add_mesh(
            data,
            color=style.fraction(finish.colour),
            pbr=True,
            metallic=finish.metallic,
            roughness=finish.roughness,
            smooth_shading=smooth,
            split_sharp_edges=False,
        )
        return actor


def _plotter(size: tuple[int, int]) -> Any:
    """An empty lit plotter."""
    plotter: Any = pv.Plotter(off_screen=True, window_size=[side * OVERSAMPLE for side in size], lighting="none")
    plotter.render_window.SetMultiSamples(0)
    plotter.set_background(style.fraction(style.GROUND), top=style.fraction(style.SKY))
    for lamp in style.LAMPS:
        light = pv.Light(light_type="camera light", intensity=lamp.strength, color=style.fraction(lamp.colour))
        light.position, light.focal_point = lamp.direction, (0.0, 0.0, 0.0)
        plotter.add_light(light)
    plotter.set_environment_texture(_studio(), is_srgb=True)
    renderer = plotter.renderer
    # The room is a smooth gradient: a handful of samples shows all of it, and software OpenGL is slow at more.
    renderer.GetEnvMapPrefiltered().SetPrefilterMaxSamples(8)
    renderer.GetEnvMapLookupTable().SetLUTSize(32)
    renderer.GetEnvMapLookupTable().SetLUTSamples(32)
    renderer.GetEnvMapIrradiance().SetIrradianceSize(16)
    renderer.GetEnvMapIrradiance().SetIrradianceStep(0.3)
    return plotter


def _studio() -> Any:
    """A room as a cube of six pictures: a bright ceiling, a soft horizon and a darker floor."""
    side = 32
    grid = (np.arange(side) + 0.5) / side * 2.0 - 1.0
    v, u = np.meshgrid(grid, grid, indexing="ij")
    faces = []
    for middle, right, down in (
        ((1, 0, 0), (0, 0, -1), (0, -1, 0)),
        ((-1, 0, 0), (0, 0, 1), (0, -1, 0)),
        ((0, 1, 0), (1, 0, 0), (0, 0, 1)),
        ((0, -1, 0), (1, 0, 0), (0, 0, -1)),
        ((0, 0, 1), (1, 0, 0), (0, -1, 0)),
        ((0, 0, -1), (-1, 0, 0), (0, -1, 0)),
    ):
        direction = np.array(middle) + u[..., None] * np.array(right) + v[..., None] * np.array(down)
        height = (direction / norm(direction.astype(float))[..., None])[..., 2]
        light = np.where(height > 0.0, 0.56 + 0.44 * height, 0.38 + 0.18 * height)
        faces.append(Texture(np.repeat((255 * light[..., None]).astype(np.uint8), 3, axis=-1)).to_image())
    texture = Texture(faces)
    texture.cube_map = True
    return texture


def _soft_shadow() -> Any:
    """A dark patch that fades to nothing at its edges."""
    grid = np.linspace(-1.0, 1.0, 64)
    distance = np.hypot(*np.meshgrid(grid, grid))
    alpha = 110.0 * np.clip(1.0 - distance, 0.0, 1.0) ** 1.6
    return Texture(np.dstack([np.full((64, 64, 3), 30), alpha]).astype(np.uint8))


def _smooth_normals(mesh: Mesh) -> Array:
    surface = poly_data(mesh).compute_normals(cell_normals=False, split_vertices=False, consistent_normals=False)
    return np.asarray(surface.point_data["Normals"])


def _corners(points: Array) -> Array:
    """Corners (8, 3) of the box about points (k, 3)."""
    low, high = points.min(axis=0), points.max(axis=0)
    return np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
