"""In its own worst pose, a joint that is looked at is in sight: nothing solid stands between it and the camera."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from zoo import NAMES, built, scene_data

from model.findings import judge
from model.measures import place_text
from model.members import halves
from model.solver import solve
from model.travel import grid
from model.triangles import joined
from viz.closeups import JOINT_SIZE
from viz.marks import JOINT_RADIUS
from viz.stage import Stage

pytestmark = pytest.mark.drawing
SIZE = (480, 300)
# Joints looked at in each scene, worst first.
LOOKED_AT = 4


@pytest.mark.parametrize("name", NAMES)
def test_the_worst_joints_are_in_sight_in_their_worst_poses(name: str) -> None:
    mechanism = built(scene_data(name))
    poses = solve(mechanism, grid(mechanism, 5, 3))
    findings = {finding.where: finding for finding in reversed(judge(poses).findings)}
    worst: dict[str, int] = {}
    with Stage(poses, SIZE) as stage:
        places = {place_text(joint.member, joint.end): joint for joint in stage.posture.joints}
        for where in reversed([*findings]):
            if where in places and len(worst) < LOOKED_AT:
                worst[where] = findings[where].pose
        assert worst
        for where, pose in worst.items():
            stage.show(pose)
            camera = stage.camera(f"joint:{where}")
            stage.aim(camera)
            target = places[where].at[pose]
            at = stage.project(target[None])[0]
            assert ((at >= 0) & (at <= SIZE)).all(), where
            # Rays by another library, from the joint's middle and from about it, each out of what belongs to it.
            solid = [
                block
                for block in stage._blocks()
                if block.actor.GetVisibility() and block.actor.GetProperty().GetOpacity() > 0.9
            ]
            mesh = joined([mesh for block in solid for mesh in block.meshes])
            scene = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
            around = np.linspace(0.0, 2.0 * np.pi, 8, endpoint=False)[:, None]
            right = np.cross(camera.up, camera.direction)
            ring = 0.4 * JOINT_SIZE * (np.cos(around) * right + np.sin(around) * camera.up)
            spots = target + np.concatenate([np.zeros((1, 3)), ring])
            rays = camera.position - spots
            starts = spots + 1.05 * JOINT_SIZE * rays / np.linalg.norm(rays, axis=1)[:, None]
            free = ~scene.ray.intersects_any(starts, rays)
            # Of nine spots two may be covered by a thin edge that is not worth turning to glass.
            assert free.sum() >= 7, (where, free)


@pytest.mark.parametrize("name", NAMES)
def test_a_whole_coilover_is_looked_at_from_where_it_is_in_sight(name: str) -> None:
    mechanism = built(scene_data(name))
    poses = solve(mechanism, grid(mechanism, 3, 3))
    unit = mechanism.coilovers[0]
    own = {*halves(unit.name), f"{unit.name} spring"}
    with Stage(poses, SIZE) as stage:
        camera = stage.camera(f"joint:{unit.name}")
        stage.aim(camera)
        solid = [
            block
            for block in stage._blocks()
            if block.actor.GetVisibility() and block.actor.GetProperty().GetOpacity() > 0.9 and block.label not in own
        ]
        mesh = joined([mesh for block in solid for mesh in block.meshes])
        scene = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
        # Rays by another library from places along the middle of the coilover: most of it is in sight.
        stroke = stage.posture.strokes[0]
        spots = stroke.top[0] + np.linspace(0.15, 0.85, 8)[:, None] * (stroke.bottom[0] - stroke.top[0])
        free = ~scene.ray.intersects_any(spots, camera.position - spots)
        assert free.sum() >= 6, free


def test_a_picture_says_which_places_are_hidden_behind_other_parts() -> None:
    mechanism = built(scene_data("tarn_rear"))
    poses = solve(mechanism, grid(mechanism, 3, 3))
    with Stage(poses, SIZE) as stage:
        stage.aim(stage.camera("rear"))
        stage.picture()
        # From behind, the final drive is before its pinion's joint; the dampers' feet hang behind the axle.
        (axle,) = mechanism.beams
        pinion = stage.posture.parts[axle.name].point(axle.pinion)[0]
        foot = stage.posture.strokes[0].bottom[0]
        empty = np.array([0.0, 0.0, 5000.0])
        assert stage.hidden(np.stack([pinion, foot, empty]), JOINT_RADIUS).tolist() == [True, False, False]
        stage.aim(stage.camera("front"))
        stage.picture()
        assert not stage.hidden(pinion[None] + [400.0, 0.0, 0.0], JOINT_RADIUS)[0]
