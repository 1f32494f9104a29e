"""What the stage does with joints: rubber takes its wind-up's colour, close-ups show faces, one cone rides along."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest
from zoo import built, scene_data

from model.joints import JointKind
from model.measures import place_text
from model.members import posture
from model.meshes import places_of, pliant_mesh
from model.partshapes import solids_of
from model.poses import Poses
from model.solids import Material, WoundSolid
from model.solver import solve
from model.travel import Cycle, cycle
from viz import offscreen, style
from viz.pliants import Pliants
from viz.stage import Stage
from viz.studio import lit_room

pytestmark = pytest.mark.drawing


@pytest.fixture(scope="module")
def poses() -> Poses:
    mechanism = built(scene_data("parcel_front"))
    return solve(mechanism, cycle(mechanism, Cycle.BOTH, 9))


@pytest.fixture(scope="module")
def stage(poses: Poses) -> Iterator[Stage]:
    with Stage(poses, (320, 200)) as stage:
        yield stage


def test_rubber_takes_the_colour_of_its_wind_up_and_lines_stay_white(poses: Poses) -> None:
    offscreen.prepare()
    parts = posture(poses).parts
    room = lit_room((64, 40))
    solids = [solid for solid in solids_of(poses.mechanism).pliant if isinstance(solid, WoundSolid)]
    for material in (Material.RUBBER, Material.MARK):
        solid = next(s for s in solids if s.material is material)
        pliants = Pliants(room, [solid], {name: part.matrix()[0] for name, part in parts.items()})
        for share in (0.0, 0.5, 0.95, 1.2):
            pliants.show({name: part.matrix()[3] for name, part in parts.items()}, lambda _, share=share: share)
            plain = style.FINISHES[material].colour
            expected = style.wound_colour(share) if material is Material.RUBBER else plain
            assert pliants.actors[0].actor.GetProperty().GetColor() == pytest.approx(style.fraction(expected))
        # The points are where the solid's mesh is, as far as the fourth power of its turn, here a hundredth, tells.
        there = pliant_mesh(solid, places_of({name: part.matrix()[3] for name, part in parts.items()}))
        drawn = pliants.actors[0].points
        assert np.abs(np.vstack([drawn.min(0), drawn.max(0)]) - [there.points.min(0), there.points.max(0)]).max() < 1e-3
    room.close()


def test_wind_up_colours_tell_slack_close_and_over_apart() -> None:
    colours = [np.array(style.wound_colour(share), dtype=float) for share in (0.0, 0.45, 0.9, 1.2)]
    # Sixty steps of 255 in a channel are seen side by side (common practice, no source).
    assert all(np.abs(a - b).max() >= 60 for a, b in pairwise(colours))
    assert style.wound_colour(9.0) == style.wound_colour(1.5)


def test_a_bush_is_looked_at_half_along_its_bolt(stage: Stage) -> None:
    joint = next(joint for joint in stage.posture.joints if joint.end.joint.kind is JointKind.RUBBER_BUSH)
    camera = stage.camera(f"joint:{place_text(joint.member, joint.end)}")
    assert camera.close
    assert camera.glass == f"bracket of {place_text(joint.member, joint.end)}"
    # Directions are tried every 22.5 degrees: within one of them of the 44 degrees that are wanted.
    angle = np.degrees(np.arccos(abs(float(camera.direction @ joint.end.bolt))))
    assert 20.0 < angle < 68.0


def test_a_part_that_carries_a_wheel_is_framed_without_it(stage: Stage) -> None:
    knuckle, wheel = stage.cloud("left knuckle"), stage.cloud("left wheel")
    assert np.ptp(knuckle[:, 2]) < np.ptp(wheel[:, 2])
    assert not stage.camera("front").close
    assert stage.camera("joint:left knuckle").close


def test_a_wheel_before_the_joints_turns_to_glass_and_back(stage: Stage) -> None:
    tyres = {solids.label: actor for solids, actor in stage.drawn() if solids.material is Material.TYRE}
    stage.aim(stage.camera("side"))
    # The left wheel stands between the left-hand camera and everything; the right one is behind it.
    assert not tyres["left wheel"].GetVisibility()
    assert tyres["right wheel"].GetVisibility()
    glass = stage.picture()
    stage.aim(stage.camera("top"))
    stage.aim(stage.camera("side"))
    again = stage.picture()
    assert np.array_equal(np.asarray(glass), np.asarray(again))
    # Through glass, the picture's middle is not the black of rubber.
    pixels = np.asarray(glass, dtype=float)
    assert len(np.unique(pixels.reshape(-1, 3), axis=0)) > 500
