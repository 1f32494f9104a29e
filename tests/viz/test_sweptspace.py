"""The space that a part needs, about the part: all of it in frame, seen through, with the part inside."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import trimesh
from zoo import built, scene_data

from model.envelopes import measured_parts
from model.findings import judge
from model.members import posture
from model.poses import Poses
from model.solver import solve
from model.travel import Cycle, cycle
from model.triangles import Mesh
from viz.stage import Stage
from viz.still import write_still

pytestmark = pytest.mark.drawing
SIZE = (480, 300)
WHEEL = "left wheel"


@pytest.fixture(scope="module")
def swept() -> tuple[Poses, Mesh]:
    """The hull of a front wheel while the wheels are crossed, by trimesh."""
    mechanism = built(scene_data("wren_front"))
    poses = solve(mechanism, cycle(mechanism, Cycle.CROSS, 4))
    now = posture(poses)
    places = [
        part.mesh.points @ now.parts[part.parts[0]].rotation[pose].T + now.parts[part.parts[0]].translation[pose]
        for part in measured_parts(mechanism)
        for pose in range(len(poses))
        if part.label == WHEEL
    ]
    hull = trimesh.convex.convex_hull(np.concatenate(places))
    return poses, Mesh(np.asarray(hull.vertices), np.asarray(hull.faces, dtype=np.int64))


@pytest.fixture(scope="module")
def stage(swept: tuple[Poses, Mesh]) -> Iterator[Stage]:
    with Stage(swept[0], SIZE) as stage:
        stage.show_swept(WHEEL, swept[1])
        stage.aim(stage.camera("three-quarter"))
        yield stage


def test_the_space_is_in_frame_and_contains_its_part_in_every_pose(swept: tuple[Poses, Mesh], stage: Stage) -> None:
    poses, space = swept
    seen = stage.project(space.points)
    assert (seen >= 0).all()
    assert (seen <= SIZE).all()
    low, high = space.points.min(axis=0) - 1e-6, space.points.max(axis=0) + 1e-6
    for pose in range(len(poses)):
        stage.show(pose)
        for block in stage._blocks():
            if block.label == WHEEL:
                corners = block.triangles.reshape(-1, 3)
                assert ((corners >= low) & (corners <= high)).all()


def test_the_part_stays_whole_and_is_seen_through_its_space(swept: tuple[Poses, Mesh], stage: Stage) -> None:
    with Stage(swept[0], SIZE) as plain:
        plain.aim(stage._aimed())
        stage.show(0)
        bare, filled = (np.asarray(each.picture(), dtype=int) for each in (plain, stage))
    opacities = {block.actor.GetProperty().GetOpacity() for block in stage._blocks() if block.label == WHEEL}
    assert opacities == {1.0}
    changed = np.abs(filled - bare).max(axis=2) > 6
    seen = stage.project(swept[1].points)
    low, high = np.floor(seen.min(axis=0)).astype(int) - 1, np.ceil(seen.max(axis=0)).astype(int) + 2
    assert changed.mean() > 0.1
    # Edges of other parts may differ by a speck, where glass is sorted another way.
    assert changed[low[1] : high[1], low[0] : high[0]].sum() >= changed.sum() - 5
    # Dark rubber is still darker than the ground, seen through the space.
    inside = filled[changed]
    assert inside.sum(axis=1).min() < 0.4 * inside.sum(axis=1).max()


def test_a_still_says_whose_space_it_shows(swept: tuple[Poses, Mesh], tmp_path: Path) -> None:
    poses = swept[0].take(np.array([0]))
    write_still(poses, judge(poses), tmp_path / "space.png", size=SIZE, swept=(WHEEL, swept[1]))
    write_still(poses, judge(poses), tmp_path / "plain.png", size=SIZE)
    assert (tmp_path / "space.png").read_bytes() != (tmp_path / "plain.png").read_bytes()
