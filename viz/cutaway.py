"""How a gap is brought into sight: from where it is least hidden, what still hides it cut away."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from vtkmodules.vtkCommonCore import vtkIdList, vtkPoints
from vtkmodules.vtkCommonDataModel import vtkStaticCellLocator

from model.solids import Material
from model.spatial import Array, norm, square_to, unit
from model.triangles import Mesh, joined
from viz import style
from viz.clipping import along_hatch, clipped, paler, repeating
from viz.rims import seen_rims
from viz.shapes import line_data, poly_data, shaded_data
from viz.studio import Actor, add_actor, add_lines, add_textured
from viz.sweptspace import add_space
from viz.views import BALL, UP, Camera, camera_axes, perspective

# A close-up of a gap shows the gap itself this many times over, and this much about it in mm, within bounds.
SPREAD, AROUND, LEAST, MOST = 3.0, 80.0, 85.0, 300.0
# Of a touch at least this much is shown about it (mm): both parts by their outlines, and not a wall of one of them.
TOUCH_LEAST = 135.0
# Directions that are tried: around the line, and this much (degrees) to either side of square to it. A touching patch
# lies across the line and shows only from well above or below.
TURNS, TILTS, TOUCH_TILTS = 24, (0.0, -14.0, 14.0), (-38.0, -24.0, 24.0, 38.0)
# What is cut is cut this far (mm) behind the gap; a part of the gap itself so far before it, beside its closest point.
MARGIN = 0.3
# Spots about the gap that had better be seen too, as a share of what is shown, and at least in mm.
NEARBY = 0.12
# Lines of the hatch on a cut face are this far apart in px of the picture; so much of its colour is left beside white.
PITCH, CUT_GROUND = 9.0, 0.45
# Width in px of the line about a cut face, how far in mm it lies before the face, and its longest pieces in px.
RIM, RIM_BEFORE, RIM_PIECE = 1.6, 0.05, 1.5
# How far apart in mm the faces of different parts are kept.
LAYER = 0.02
# What goes through others: bolts, studs and sleeves.
THROUGH = (Material.FASTENER, Material.BALL)


@dataclass(frozen=True)
class Block:
    """What is drawn as one actor, as it stands in the pose: closed meshes, in vehicle coordinates."""

    label: str
    material: Material
    meshes: tuple[Mesh, ...]
    actor: Actor

    @property
    def triangles(self) -> Array:
        """Triangles (m, 3, 3)."""
        return np.concatenate([mesh.points[mesh.faces] for mesh in self.meshes])


class Sight:
    """Finds what stands between a spot and the camera."""

    def __init__(self, blocks: Sequence[Block]) -> None:
        """Sort all triangles into a search tree."""
        meshes = [joined(block.meshes) for block in blocks]
        self._names = np.repeat([block.label for block in blocks], [len(mesh.faces) for mesh in meshes])
        self._data = poly_data(joined(meshes))
        self._tree: Any = vtkStaticCellLocator()
        self._tree.SetDataSet(self._data)
        self._tree.BuildLocator()

    def hiding(self, spot: Array, eye: Array) -> set[str]:
        """Labels of everything between a spot (3,) and the camera at `eye` (3,)."""
        crossed, cells = vtkPoints(), vtkIdList()
        # The closest points lie in the surfaces themselves: what begins right there hides nothing.
        start = spot + 1e-3 * unit(eye - spot)
        self._tree.IntersectWithLine(start, eye, 1e-9, crossed, cells)
        return {str(self._names[cells.GetId(number)]) for number in range(cells.GetNumberOfIds())}


def gap_camera(at: Array, touches: bool, pair: tuple[str, str], sight: Sight, aspect: float) -> Camera:
    """A camera near square to the line between two closest points (2, 3), from where it is hidden least."""
    middle = at.mean(axis=0)
    length = float(norm(at[1] - at[0]))
    reach = float(np.clip(SPREAD * length + AROUND, TOUCH_LEAST if touches else LEAST, MOST))
    line = unit(at[1] - at[0]) if length > 1e-6 else np.array([0.0, 0.0, 1.0])
    cloud = np.concatenate([at, middle + reach * BALL])
    cameras = [_looking(direction, cloud, aspect) for direction in _directions(line, touches)]
    best = max(cameras, key=lambda camera: _score(camera, at, reach, None if touches else line, pair, sight))
    return Camera(best.position, best.focus, best.up, None, middle, True, None, at, pair, touches)


def _looking(direction: Array, cloud: Array, aspect: float) -> Camera:
    up = UP if abs(float(direction[2])) < 0.9 else np.array([1.0, 0.0, 0.0])
    return perspective(direction, up, cloud, aspect)


def _directions(line: Array, touches: bool) -> list[Array]:
    """Unit directions (3,) near square to a line, or half along it."""
    across = square_to(line)
    over = np.cross(line, across)
    directions = []
    for tilt in np.radians(TOUCH_TILTS if touches else TILTS):
        for turn in np.arange(TURNS) * 2.0 * np.pi / TURNS:
            around = np.cos(turn) * across + np.sin(turn) * over
            directions.append(np.cos(tilt) * around + np.sin(tilt) * line)
    return directions


def _spots(at: Array) -> Array:
    """Spots (3, 3) of a gap that must be seen: just inside its two ends, and its middle."""
    share = np.array([0.02, 0.5, 0.98])[:, None]
    return np.asarray(at[0] + share * (at[1] - at[0]))


def _nearby(camera: Camera, middle: Array, reach: float) -> Array:
    """Spots (8, 3) about a gap in the plane of the picture."""
    axes = camera_axes(camera.direction, camera.up)
    angle = np.arange(8)[:, None] * np.pi / 4.0
    return np.asarray(middle + NEARBY * reach * (np.cos(angle) * axes[:, 0] + np.sin(angle) * axes[:, 1]))


def _score(camera: Camera, at: Array, reach: float, line: Array | None, pair: tuple[str, str], sight: Sight) -> float:
    """How well a camera shows a gap: its own parts in front count most, then others, then what is about it."""
    ahead = [sight.hiding(spot, camera.position) for spot in _spots(at)]
    about = [sight.hiding(spot, camera.position) for spot in _nearby(camera, at.mean(axis=0), reach)]
    # Of parts that touch one stands before the touch, from wherever it is looked at; both need not.
    least = 1 if line is None else 0
    own = float(np.mean([len(labels & set(pair)) > least for labels in ahead]))
    others = float(np.mean([len(labels - set(pair)) for labels in ahead]))
    around = float(np.mean([bool(labels - set(pair)) for labels in about]))
    astray = 0.0 if line is None else abs(float(camera.direction @ line))
    # From slightly above looks natural; it decides only between views that show equally much.
    return (
        -1.5 * own - 0.6 * min(others, 3.0) - 0.5 * around - 0.3 * astray - 0.1 * abs(float(camera.direction[2]) - 0.4)
    )


@dataclass(frozen=True)
class Cut:
    """What was done to show a gap: labels that were cut away, and those that were turned to glass."""

    away: tuple[str, ...] = ()
    glass: tuple[str, ...] = ()

    def joined(self, other: Cut) -> Cut:
        """What both do; what one cuts away and the other looks through is cut away."""
        away = {*self.away, *other.away}
        return Cut(tuple(sorted(away)), tuple(sorted({*self.glass, *other.glass} - away)))


def cut_for(camera: Camera, sight: Sight) -> Cut:
    """What a camera on a gap has to cut away and to look through.

    Two parts that overlap have no space between them to look into: those are looked through and not cut.
    """
    if camera.gap is None or camera.target is None:
        return Cut()
    reach = float(np.clip(SPREAD * norm(camera.gap[1] - camera.gap[0]) + AROUND, LEAST, MOST))
    ahead = set().union(*(sight.hiding(spot, camera.position) for spot in _spots(camera.gap)))
    about = set().union(*(sight.hiding(spot, camera.position) for spot in _nearby(camera, camera.target, reach)))
    pair = set(camera.pair)
    others = (ahead | about) - pair
    own = ahead & pair
    if camera.touches:
        return Cut(tuple(sorted(others)), tuple(sorted(own)))
    return Cut(tuple(sorted(others | own)), ())


class CutActors:
    """Parts with their near side cut off, in a plotter."""

    def __init__(self, plotter: Any) -> None:
        """Begin with nothing cut."""
        self._plotter = plotter
        self._hidden: list[tuple[Actor, bool]] = []
        self._cut: list[Actor] = []

    def close(self) -> None:
        """Make everything whole again."""
        for actor in self._cut:
            self._plotter.renderer.RemoveActor(actor)
        for actor, visible in self._hidden:
            actor.visibility = visible
        self._hidden, self._cut = [], []

    def cut(self, blocks: Iterable[Block], camera: Camera, grain: float) -> None:
        """Cut blocks by a plane square to the look, at the gap; `grain` is the scale there in px per mm."""
        if camera.gap is None:
            return
        heights = camera.gap @ camera.direction
        before, behind = float(heights.max()) + MARGIN, float(heights.min()) - MARGIN
        for number, block in enumerate(blocks):
            # Faces of different parts must not lie in one plane, or the two shine through each other in spots.
            height = before + LAYER * number if block.label in camera.pair else behind - LAYER * number
            self._draw_rims([(0, face) for face in self._open(block, camera, height, grain)], camera, grain)

    def section(self, blocks: Iterable[Block], camera: Camera, grain: float) -> None:
        """Cut everything by one plane square to the look, through the middle of the joint that is looked at."""
        if camera.target is None:
            return
        height = float(camera.target @ camera.direction)
        ahead = [block for block in blocks if max((m.points @ camera.direction).max() for m in block.meshes) > height]
        # What goes through holes that are not drawn lies over what it goes through: bolts first, then other steel.
        ahead.sort(key=lambda block: (block.material not in THROUGH, not block.label.startswith("bracket of ")))
        faces = [
            (number, face)
            for number, block in enumerate(ahead)
            for face in self._open(block, camera, height - LAYER * number, grain)
        ]
        self._draw_rims(faces, camera, grain)

    def _open(self, block: Block, camera: Camera, height: float, grain: float) -> list[Mesh]:
        """Show a block with what is beyond a height (mm along the look) cut off; the faces of the cut are hatched."""
        self._hidden.append((block.actor, block.actor.visibility))
        block.actor.visibility = False
        finish = style.FINISHES[block.material]
        picture = np.array([[style.INK] * 3 + [paler(finish.colour, CUT_GROUND)] * 13] * 2, dtype=np.uint8)
        faces = []
        for mesh in block.meshes:
            body, face = clipped(mesh, height * camera.direction, -camera.direction)
            if len(body.faces):
                self._cut.append(add_actor(self._plotter, shaded_data(body), finish, closed=False))
            if len(face.faces):
                run, data = along_hatch(face.points, camera, PITCH / grain, 1.0), poly_data(face)
                self._cut.append(add_textured(self._plotter.renderer, data, run, repeating(picture)))
                faces.append(face)
        return faces

    def _draw_rims(self, faces: Sequence[tuple[int, Mesh]], camera: Camera, grain: float) -> None:
        """Draw the edges of cut faces, each with its layer, where they bound what is seen as one."""
        axes = camera_axes(camera.direction, camera.up)
        rims = seen_rims([face for _, face in faces], [layer for layer, _ in faces], axes, RIM_PIECE / grain)
        for pieces in rims:
            if len(pieces):
                data = line_data(pieces.reshape(-1, 3), np.arange(2 * len(pieces)).reshape(-1, 2))
                line = add_lines(self._plotter.renderer, data, style.INK, RIM)
                line.position = RIM_BEFORE * camera.direction
                self._cut.append(line)

    def fill(self, spaces: Iterable[Mesh]) -> None:
        """Show as glass what is measured where less is drawn."""
        for space in spaces:
            self._cut += add_space(self._plotter, space, style.MEASURED_SPACE)
