"""An empty lit room to draw in: plotter, lamps, surroundings, and how an actor with a finish is put into it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyvista as pv

from model.spatial import norm
from viz import style

Texture: Any = pv.Texture  # the library ships this class without annotations

# The picture is drawn this many times larger each way and averaged: smooth edges that leave translucent tyres whole.
OVERSAMPLE = 2
# Radius of the stand under a tyre, as a share of the tyre's.
PAD_RADIUS = 0.55


def add_actor(plotter: Any, data: pv.PolyData, finish: style.Finish, smooth: bool = True) -> pv.Actor:
    """Put a surface with its normals into the room."""
    data.point_data.active_normals_name = "Normals" if smooth else None
    actor: pv.Actor = plotter.add_mesh(
        data,
        color=style.fraction(finish.colour),
        pbr=True,
        metallic=finish.metallic,
        roughness=finish.roughness,
        smooth_shading=smooth,
        split_sharp_edges=False,
    )
    return actor


def lit_plotter(size: tuple[int, int]) -> Any:
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


def stand(plotter: Any, radius: float, width: float) -> tuple[pv.Actor, ...]:
    """A round stand under a tyre, as on a bench, with the tyre's soft shadow on it."""
    depth = 0.035 * radius
    disc = pv.Cylinder(
        center=(0, 0, -0.5 * depth), direction=(0, 0, 1), radius=PAD_RADIUS * radius, height=depth, resolution=96
    )
    pad = add_actor(plotter, disc, style.Finish(style.PAD, 0.0, 0.7), smooth=False)
    plane = pv.Plane(center=(0, 0, 0.8), direction=(0, 0, 1), i_size=1.15 * radius, j_size=1.5 * width)
    return pad, plotter.add_mesh(plane, texture=_soft_shadow(), lighting=False)


def _soft_shadow() -> Any:
    """A dark patch that fades to nothing at its edges."""
    grid = np.linspace(-1.0, 1.0, 64)
    distance = np.hypot(*np.meshgrid(grid, grid))
    alpha = 110.0 * np.clip(1.0 - distance, 0.0, 1.0) ** 1.6
    return Texture(np.dstack([np.full((64, 64, 3), 30), alpha]).astype(np.uint8))
