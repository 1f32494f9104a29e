"""Wheels stand in front of nearly everything: which of them hide a joint from a camera, and what they fill."""

from __future__ import annotations

import numpy as np

from model.mechanism import Mechanism, Wheel
from model.members import Posture
from model.meshes import mesh_of
from model.solids import Revolved
from model.spatial import Array, dot, norm
from viz.views import Camera


def hiding_wheels(mechanism: Mechanism, posture: Posture, pose: int, camera: Camera) -> dict[str, bool]:
    """For each wheel, whether it stands between the camera and a joint in any pose."""
    joints = np.concatenate([joint.at for joint in posture.joints]) if posture.joints else np.zeros((0, 3))
    joints = joints[:: max(1, len(joints) // 400)]
    back = np.tile(camera.direction, (len(joints), 1))
    if camera.half_height is None:
        back = (camera.position - joints) / np.maximum(norm(camera.position - joints), 1e-9)[:, None]
    steps = np.linspace(20.0, 2500.0, 160)
    line = joints[:, None] + steps[:, None] * back[:, None]
    hiding = {}
    for wheel in mechanism.wheels:
        # A wheel's own travel is small beside its size: where it is in the shown pose will do.
        part = posture.parts[wheel.on]
        axis = part.rotation[pose] @ wheel.axis * (1.0 if wheel.centre[1] >= 0.0 else -1.0)
        offset = line - part.point(wheel.centre)[pose]
        out = dot(offset, axis)
        radial = norm(offset - out[..., None] * axis)
        tyre = (np.abs(out) < 0.5 * wheel.width) & (radial < wheel.loaded_radius)
        material = tyre & ((radial > 0.45 * wheel.rim_diameter) | (out > 0.0))
        hiding[wheel.name] = bool(material.any())
    return hiding


def drum(wheel: Wheel, matrix: Array) -> Array:
    """Triangles (k, 3, 3) of the drum that a wheel fills, with its part at `matrix` (4, 4)."""
    half, radius = 0.5 * wheel.width, wheel.loaded_radius
    outline = np.array([[-half, 0], [-half, radius], [half, radius], [half, 0]])
    full = mesh_of(Revolved(wheel.centre, wheel.axis, outline))
    return np.asarray((full.points @ matrix[:3, :3].T + matrix[:3, 3])[full.faces])
