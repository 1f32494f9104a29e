"""Cones of joint limits: translucent, with a rim that is whole for a given limit and dashed for a typical one.

The line that the limit is for, a thin pin, is inside its cone as long as the limit holds.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from model.cones import Cone
from model.meshes import Places, mesh_of
from model.solids import Ball, Tube, rod
from model.spatial import Array, homogeneous, square_to, triad
from model.triangles import Mesh, joined
from model.verdicts import State
from viz import style
from viz.shapes import shaded_data
from viz.studio import Actor, add_actor, place

SIDES = 96
# How solid a cone is; how much longer than it the pin is, its radius and the rim's in mm.
OPACITY, PIN_LENGTH, PIN_RADIUS, RIM_RADIUS = 0.26, 1.18, 1.5, 1.1
# A dashed rim: dashes around it, and the share of each that is drawn.
DASHES, DRAWN = 16, 0.55


class ConeActors:
    """The one cone that stands in a plotter, with its pin; more than one would be clutter."""

    def __init__(self, plotter: Any) -> None:
        """Begin without a cone."""
        self._plotter = plotter
        self._where: str | None = None
        self._moving: list[tuple[str, Actor]] = []
        self._coloured: list[Actor] = []

    def stand(self, cone: Cone, state: State) -> None:
        """Stand a cone about its joint, or give the one that stands there the colour of its state now."""
        if cone.where != self._where:
            for _, actor in self._moving:
                self._plotter.renderer.RemoveActor(actor)
            skin, rim = self._actor(cone_mesh(cone)), self._actor(rim_mesh(cone))
            skin.prop.opacity = OPACITY
            pin = self._actor(pin_mesh(cone))
            self._where, self._coloured = cone.where, [skin, rim]
            self._moving = [(cone.part, skin), (cone.part, rim), (cone.needle_part, pin)]
        for actor in self._coloured:
            actor.prop.color = style.fraction(style.STATES[state].colour)

    def show(self, places: Places) -> None:
        """Move cone and pin to where their parts are."""
        for part, actor in self._moving:
            place(actor, homogeneous(*places(part)))

    def _actor(self, mesh: Mesh) -> Actor:
        return add_actor(self._plotter, shaded_data(mesh), style.Finish(style.INK, 0.0, 0.6), closed=False)


def _rim(cone: Cone, way: float, angles: Array) -> Array:
    """Points (k, 3) of the rim at angles (k,) about the axis, on the axis's own side (1) or the other (−1)."""
    axes = triad(way * cone.axis, square_to(cone.axis))
    out = np.cos(angles)[:, None] * axes[:, 1] + np.sin(angles)[:, None] * axes[:, 2]
    return np.asarray(cone.apex + cone.length * (np.cos(cone.half_angle) * axes[:, 0] + np.sin(cone.half_angle) * out))


def _ways(cone: Cone) -> tuple[float, ...]:
    return (1.0, -1.0) if cone.both_ways else (1.0,)


def cone_mesh(cone: Cone) -> Mesh:
    """The cone's skin, open at its rim, at ride height."""
    here = np.arange(SIDES)
    faces = np.stack([np.full(SIDES, SIDES), here, (here + 1) % SIDES], axis=-1)
    angles = here * 2.0 * np.pi / SIDES
    return joined(Mesh(np.concatenate([_rim(cone, way, angles), cone.apex[None]]), faces) for way in _ways(cone))


def rim_mesh(cone: Cone) -> Mesh:
    """A thin line along the rim, dashed where the limit is only a typical one."""
    count, share = (DASHES, DRAWN) if cone.typical else (2, 1.0)
    lines = []
    for way in _ways(cone):
        for dash in range(count):
            angles = (dash + share * np.linspace(0.0, 1.0, 1 + 96 // count)) * 2.0 * np.pi / count
            lines.append(mesh_of(Tube(_rim(cone, way, angles), RIM_RADIUS)))
    return joined(lines)


def pin_mesh(cone: Cone) -> Mesh:
    """The line that tilts in the cone, with a small ball at each end."""
    ends = [cone.apex + way * PIN_LENGTH * cone.length * cone.needle for way in _ways(cone)]
    start = ends[1] if cone.both_ways else cone.apex
    return joined(
        [mesh_of(rod(start, ends[0], PIN_RADIUS, 0.0)), *(mesh_of(Ball(end, 2.2 * PIN_RADIUS)) for end in ends)]
    )
