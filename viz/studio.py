"""An empty lit room to draw in: plotter, lamps, surroundings, and how an actor with a finish is put into it."""

from __future__ import annotations

from typing import Any, cast

import numpy as np
import vtkmodules.vtkRenderingOpenGL2  # noqa: F401 (draws what vtkRenderingCore only describes)
from vtkmodules.vtkCommonDataModel import vtkImageData
from vtkmodules.vtkCommonMath import vtkMatrix4x4
from vtkmodules.vtkRenderingCore import (
    vtkActor,
    vtkLight,
    vtkPolyDataMapper,
    vtkRenderer,
    vtkRenderWindow,
    vtkTexture,
)

from model.meshes import mesh_of
from model.solids import rod
from model.spatial import Array
from model.triangles import Mesh
from viz import style
from viz.arrays import held_array
from viz.shapes import poly_data

Actor = vtkActor
# The picture is drawn this many times larger each way and averaged: smooth edges that leave translucent tyres whole.
OVERSAMPLE = 2
# How bright the walls are, how much brighter or darker towards ceiling and floor, and the panels that light the room.
WALL, WALL_RISE, PANEL = 0.17, 0.12, 1.0
# Radius of the stand under a tyre, as a share of the tyre's.
PAD_RADIUS = 0.55


class Room:
    """A room to draw in off screen: a renderer in a window. PyVista's plotter, which has the same two, is one too."""

    def __init__(self, size: tuple[int, int]) -> None:
        """Make one for pictures of `size` in px, `OVERSAMPLE` times as large each way."""
        self.renderer, self.render_window = vtkRenderer(), cast("Any", vtkRenderWindow())
        self.render_window.SetOffScreenRendering(True)
        self.render_window.SetSize(*(side * OVERSAMPLE for side in size))
        self.render_window.AddRenderer(self.renderer)
        # What is drawn is read and never shown.
        self.render_window.SetFrameBlitModeToNoBlit()

    def close(self) -> None:
        """Give the graphics memory back."""
        self.renderer.RemoveAllViewProps()
        self.render_window.Finalize()


def lit_room(size: tuple[int, int]) -> Room:
    """An empty lit room for pictures of `size` (width, height) in px."""
    room = Room(size)
    light_up(room)
    return room


def add_actor(room: Any, data: Any, finish: style.Finish, *, closed: bool = True) -> Actor:
    """Put a surface into the room; without normals of its points its triangles look flat.

    The far side of one that is `closed` is not drawn: it costs a quarter of a picture, and would make glass cloudy.
    """
    actor = plain_actor(data, finish.colour)
    prop = actor.GetProperty()
    prop.SetInterpolationToPBR()
    prop.SetMetallic(finish.metallic)
    prop.SetRoughness(finish.roughness)
    prop.SetBackfaceCulling(closed)
    room.renderer.AddActor(actor)
    return actor


def add_lines(renderer: Any, data: Any, colour: style.Colour, width: float) -> Actor:
    """Put lines into a renderer, some px wide, in a colour that no light changes; `None` are still to come."""
    actor = plain_actor(data, colour)
    actor.GetProperty().SetLineWidth(width * OVERSAMPLE)
    actor.GetProperty().LightingOff()
    renderer.AddActor(actor)
    return actor


def add_textured(renderer: Any, data: Any, coordinates: Array, texture: Any) -> Actor:
    """Put a surface with a picture on it into a renderer, at texture coordinates (n, 2); no light changes it."""
    data.GetPointData().SetTCoords(held_array(coordinates.astype(np.float32)))
    actor = plain_actor(data, (255, 255, 255))
    actor.SetTexture(texture)
    actor.GetProperty().LightingOff()
    renderer.AddActor(actor)
    return actor


def plain_actor(data: Any, colour: style.Colour) -> Actor:
    """A surface or lines in one colour, not yet put anywhere."""
    mapper, actor = vtkPolyDataMapper(), vtkActor()
    mapper.SetInputData(data)
    mapper.ScalarVisibilityOff()
    actor.SetMapper(mapper)
    actor.GetProperty().SetColor(*style.fraction(colour))
    return actor


def place(actor: Actor, matrix: Array) -> None:
    """Stand an actor where a matrix (4, 4) takes it."""
    held = vtkMatrix4x4()
    held.DeepCopy(matrix.ravel().tolist())
    actor.SetUserMatrix(held)


def texture_of(picture: Any) -> Any:
    """A picture (height, width, 3 or 4) as a texture, its first row uppermost; numbers that are not whole are light."""
    rows = picture[::-1]
    image = vtkImageData()
    image.SetDimensions(rows.shape[1], rows.shape[0], 1)
    image.GetPointData().SetScalars(held_array(rows.reshape(-1, rows.shape[2])))
    texture = vtkTexture()
    texture.SetInputData(image)
    texture.SetColorModeToDirectScalars()
    return texture


def light_up(room: Any) -> None:
    """Give a room without lights the studio's."""
    renderer = room.renderer
    room.render_window.SetMultiSamples(0)
    renderer.GradientBackgroundOn()
    renderer.SetBackground(*style.fraction(style.GROUND))
    renderer.SetBackground2(*style.fraction(style.SKY))
    for lamp in style.LAMPS:
        light = vtkLight()
        light.SetLightTypeToCameraLight()
        light.SetIntensity(lamp.strength)
        light.SetColor(*style.fraction(lamp.colour))
        light.SetPosition(*lamp.direction)
        renderer.AddLight(light)
    renderer.SetEnvironmentUp(0.0, 0.0, 1.0)
    renderer.SetEnvironmentRight(1.0, 0.0, 0.0)
    renderer.UseImageBasedLightingOn()
    renderer.SetEnvironmentTexture(_surroundings(), False)
    # The room is smooth: a handful of samples shows all of it, and software OpenGL is slow at more.
    renderer.GetEnvMapPrefiltered().SetPrefilterMaxSamples(8)
    renderer.GetEnvMapLookupTable().SetLUTSize(32)
    renderer.GetEnvMapLookupTable().SetLUTSamples(32)


def room_light() -> Array:
    """How bright the room is in every direction: rows (64) from straight up to straight down, columns (128) around.

    Linear, 1 is white. Pale walls that darken towards the floor, a wide soft panel overhead, and a tall soft panel in
    each corner, whose streaks show how round a bar or a polished shaft is.
    """
    rows, columns = 64, 128
    height = (0.5 - (np.arange(rows) + 0.5) / rows) * np.pi
    around = (np.arange(columns) + 0.5) / columns * 2.0 * np.pi
    height, around = np.meshgrid(height, around, indexing="ij")
    light = WALL + WALL_RISE * np.sin(height) + PANEL * _fade(height - np.radians(58.0), 4.0)
    for corner in np.radians([54.0, 144.0, 234.0, 324.0]):
        beside = np.abs((around - corner + np.pi) % (2.0 * np.pi) - np.pi)
        tall = _fade(height - np.radians(2.0), 4.0) * _fade(np.radians(48.0) - height, 4.0)
        light += PANEL * _fade(np.radians(13.0) - beside, 2.5) * tall
    return np.asarray(light)


def _fade(inside: Array, soft: float) -> Array:
    """From 0 outside to 1 inside of an edge, over some `soft` degrees; `inside` is in rad."""
    return np.asarray(1.0 / (1.0 + np.exp(-inside / np.radians(soft))))


def _surroundings() -> Any:
    """The room as a texture."""
    texture = texture_of(np.repeat(room_light()[:, :, None], 3, axis=2).astype(np.float32))
    texture.MipmapOn()
    texture.InterpolateOn()
    return texture


def stand(room: Any, radius: float, width: float) -> tuple[Actor, ...]:
    """A round stand under a tyre, as on a bench, with the tyre's soft shadow on it."""
    bottom = np.array([0.0, 0.0, -0.035 * radius])
    disc = mesh_of(rod(bottom, np.zeros(3), PAD_RADIUS * radius, 0.0))
    pad = add_actor(room, poly_data(disc), style.Finish(style.PAD, 0.0, 0.7))
    corners = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    flat = (corners - 0.5) * [1.15 * radius, 1.5 * width]
    plane = Mesh(np.column_stack([flat, np.full(4, 0.8)]), np.array([[0, 1, 2], [0, 2, 3]]))
    return pad, add_textured(room.renderer, poly_data(plane), corners, _soft_shadow())


def _soft_shadow() -> Any:
    """A dark patch that fades to nothing at its edges."""
    grid = np.linspace(-1.0, 1.0, 64)
    distance = np.hypot(*np.meshgrid(grid, grid))
    alpha = 110.0 * np.clip(1.0 - distance, 0.0, 1.0) ** 1.6
    return texture_of(np.dstack([np.full((64, 64, 3), 30), alpha]).astype(np.uint8))
