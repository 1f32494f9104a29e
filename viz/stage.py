"""The stage: the only owner of plotter and actors. Meshes are built once; `show(pose)` moves them."""

from __future__ import annotations

from dataclasses import dataclass
from types import TracebackType

import numpy as np
import pyvista as pv
import vtk
from numpy.typing import NDArray

from model.members import Posture, posture
from model.poses import Poses
from model.solids import Material, PartSolids, SolidModel, SpringSolid, solids_of
from model.spatial import Array, dot, norm
from viz import offscreen, style
from viz.shapes import Mesh, joined, mesh_of, poly_data, shaded, spring_mesh
from viz.views import VIEW_ANGLE, Camera

Image = NDArray[np.uint8]

# The picture is drawn this many times larger each way and averaged: smooth edges that leave translucent tyres whole.
OVERSAMPLE = 2
GHOST = 0.13  # opacity of a tyre that would hide what is behind it


@dataclass(frozen=True)
class _Moving:
    """One actor with the part it rides on and its mesh's corners (8, 3) at ride height."""

    solids: PartSolids
    mesh: Mesh
    actor: vtk.vtkActor
    corners: Array


@dataclass(frozen=True)
class _Winding:
    """A spring's actor and the data whose points change."""

    spring: SpringSolid
    actor: vtk.vtkActor
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
        self._plotter = pv.Plotter(off_screen=True, window_size=[side * OVERSAMPLE for side in size], lighting="none")
        self._plotter.set_background(style.fraction(style.GROUND), top=style.fraction(style.SKY))
        self._light()
        self._moving = [self._part_actor(solids) for solids in self.model.parts]
        self._springs = [self._spring_actor(spring) for spring in self.model.springs]
        self._camera: Camera | None = None
        self.show(0)
