"""An empty lit room to draw in: plotter, lamps, surroundings, and how an actor with a finish is put into it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyvista as pv
from vtkmodules.vtkRenderingCore import vtkPolyDataMapper

from model.meshes import mesh_of
from model.solids import rod
from model.spatial import Array
from model.triangles import Mesh
from viz import style
from viz.shapes import poly_data

Actor = pv.Actor
Texture: Any = pv.Texture  # the library ships this class without annotations

# The picture is drawn this many times larger each way and averaged: smooth edges that leave translucent tyres whole.
OVERSAMPLE = 2
# How bright the walls are, how much brighter or darker towards ceiling and floor, and the panels that light the room.
WALL, WALL_RISE, PANEL = 0.17, 0.12, 1.0
# Radius of the stand under a tyre, as a share of the tyre's.
PAD_RADIUS = 0.55


class PlainMapper(vtkPolyDataMapper):
    """A mapper without what shows data as colours, which the library makes anew for each, at length."""

    @property
    def dataset(self) -> pv.PolyData:
        """The surface that it draws."""
        return pv.wrap(self.GetInput())


def lit_room(size: tuple[int, int]) -> Any:
    """An empty lit plotter that draws pictures of `size` (width, height) in px off screen."""
    plotter: Any = pv.Plotter(off_screen=True, window_size=[side * OVERSAMPLE for side in size], lighting="none")
    light_up(plotter)
    return plotter


def add_actor(room: Any, data: Any, finish: style.Finish, *, closed: bool = True) -> Actor:
    """Put a surface into the room; without normals of its points its triangles look flat.

    The far side of one that is `closed` is not drawn: it costs a quarter of a picture, and would make glass cloudy.
    """
    actor = plain_actor(data, finish.colour)
    prop = actor.prop
    prop.SetInterpolationToPBR()
    prop.SetMetallic(finish.metallic)
    prop.SetRoughness(finish.roughness)
    prop.culling = "back" if closed else "none"
    room.renderer.AddActor(actor)
    return actor


def add_lines(renderer: Any, data: Any, colour: style.Colour, width: float) -> Actor:
    """Put lines into a renderer, some px wide, in a colour that no light changes."""
    actor = plain_actor(data, colour)
    actor.prop.line_width = width * OVERSAMPLE
    actor.prop.lighting = False
    renderer.AddActor(actor)
    return actor


def add_textured(renderer: Any, data: Any, coordinates: Array, texture: Any) -> Actor:
    """Put a surface with a picture on it into a renderer, at texture coordinates (n, 2); no light changes it."""
    data.active_texture_coordinates = coordinates.astype(np.float32)
    actor = plain_actor(data, (255, 255, 255))
    actor.texture = texture
    actor.prop.lighting = False
    renderer.AddActor(actor)
    return actor


def plain_actor(data: Any, colour: style.Colour) -> Actor:
    """A surface or lines in one colour, not yet put anywhere."""
    mapper, actor = PlainMapper(), pv.Actor(mapper=None)
    mapper.SetInputData(data)
    mapper.ScalarVisibilityOff()
    actor.SetMapper(mapper)
    actor.prop.color = style.fraction(colour)
    return actor


def place(actor: Actor, matrix: Array) -> None:
    """Stand an actor where a matrix (4, 4) takes it."""
    actor.user_matrix = matrix


def light_up(plotter: Any) -> None:
    """Give a plotter without lights the studio's."""
    plotter.render_window.SetMultiSamples(0)
    plotter.set_background(style.fraction(style.GROUND), top=style.fraction(style.SKY))
    for lamp in style.LAMPS:
        light = pv.Light(light_type="camera light", intensity=lamp.strength, color=style.fraction(lamp.colour))
        light.position, light.focal_point = lamp.direction, (0.0, 0.0, 0.0)
        plotter.add_light(light)
    renderer = plotter.renderer
    renderer.SetEnvironmentUp(0.0, 0.0, 1.0)
    renderer.SetEnvironmentRight(1.0, 0.0, 0.0)
    plotter.set_environment_texture(_surroundings(), show_background=False)
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
    """The room as a texture; its rows go from the floor up."""
    light = room_light()[::-1].astype(np.float32)
    image = pv.ImageData(dimensions=(light.shape[1], light.shape[0], 1))
    image.point_data["light"] = np.repeat(light.reshape(-1, 1), 3, axis=1)
    image.point_data.active_scalars_name = "light"
    texture = Texture(image)
    texture.SetColorModeToDirectScalars()
    texture.mipmap, texture.interpolate = True, True
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
    return Texture(np.dstack([np.full((64, 64, 3), 30), alpha]).astype(np.uint8))
