"""Hoses keep their length, rubber winds by the measured turn, an anti-roll bar's line by the turns of its arms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from zoo import NAMES, built, scene_data, trailing_arm

from model.flexing import coil_start, hose_line, knot_weights, wound, wound_knots, wound_shares
from model.members import Posture, posture
from model.partshapes import solids_of
from model.solids import HoseSolid, Material, WoundSolid
from model.solver import solve
from model.spatial import Array, norm, rotation_vector, square_to, turn_about
from model.travel import Cycle, cycle, single

DOWN = np.array([0.0, 0.0, -1.0])
# Forty-eight chords of an arc of at most a full turn are short by (π / 48)² / 6 at most (D).
CHORDS = 7.2e-4


def hose(length: float, sag: Array = DOWN) -> HoseSolid:
    return HoseSolid("hose", Material.HOSE, ("a", "b"), (np.zeros(3), np.zeros(3)), length, sag, 5.0)


def length_of(line: Array) -> float:
    return float(norm(np.diff(line, axis=0)).sum())


@given(st.tuples(*[st.floats(-400, 400)] * 3), st.tuples(*[st.floats(-400, 400)] * 3), st.floats(1.0, 1200.0))
def test_a_hose_has_its_own_length_between_any_two_ends(first, second, length) -> None:
    start, stop = np.array(first), np.array(second)
    line = hose_line(hose(length), start, stop)
    gap = float(np.linalg.norm(stop - start))
    assert line[0] == pytest.approx(start, abs=1e-6)
    assert line[-1] == pytest.approx(stop, abs=1e-6)
    assert length_of(line) == pytest.approx(max(length, gap), rel=CHORDS, abs=1e-6)


def test_a_slack_hose_hangs_below_its_ends_in_their_vertical_plane() -> None:
    line = hose_line(hose(300.0), np.array([0.0, 0, 100]), np.array([120.0, 90, 140]))
    assert line[1:-1, 2].min() < 100.0
    assert np.cross([120.0, 90.0, 0.0], line)[:, 2] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("name", ["wren_front", "wren_rear"])
def test_hoses_of_the_scenes_keep_their_length_in_every_pose(name: str) -> None:
    mechanism = built(scene_data(name))
    now = posture(solve(mechanism, cycle(mechanism, Cycle.ALL, 15)))
    hoses = [solid for solid in solids_of(mechanism).pliant if isinstance(solid, HoseSolid)]
    assert {solid.label for solid in hoses} == {hose.name for hose in mechanism.hoses}
    for solid in hoses:
        start, stop = (now.parts[part].point(at) for part, at in zip(solid.parts, solid.ends, strict=True))
        share = solid.stretch[1] - solid.stretch[0]
        lengths = [length_of(hose_line(solid, a, b)) for a, b in zip(start, stop, strict=True)]
        assert lengths == pytest.approx([share * solid.length] * len(lengths), rel=CHORDS)


def test_a_wound_solid_is_blended_from_a_few_of_its_turns() -> None:
    mechanism = built(scene_data("parcel_rear"))
    now = posture(solve(mechanism, single(mechanism, left=60.0, right=-40.0)))
    chance = np.random.default_rng(3)
    solids = [one for one in solids_of(mechanism).pliant if isinstance(one, WoundSolid)]
    frames = (np.array([getattr(one, name) for one in solids]) for name in ("origin", "axis", "far_turn"))
    sides = [[now.parts[part] for part in side] for side in zip(*(one.holders for one in solids), strict=True)]
    near, far = (
        (np.array([p.rotation[0] for p in side]), np.array([p.translation[0] for p in side])) for side in sides
    )
    moves = wound_knots(*frames, near, far)
    for number, solid in enumerate(solids):
        offset, normals = chance.normal(scale=25.0, size=(40, 3)), chance.normal(size=(40, 3))
        share = wound_shares(solid, solid.origin + offset)
        places = [(now.parts[p].rotation[0], now.parts[p].translation[0]) for p in solid.holders]
        at, turned = wound(solid, solid.origin + offset, share, *places)
        weights, one = knot_weights(share), np.ones((40, 1))
        skin = np.einsum("nk,kij,ni->nj", weights, moves[number], np.hstack([offset, one]))
        along = np.einsum("nk,kij,ni->nj", weights, moves[number, :, :3], normals)
        # What a polynomial through four Chebyshev points loses of a turn (textbook), and roundings of a metre.
        angle = float(norm(rotation_vector(places[0][0].T @ places[1][0] @ solid.far_turn)))
        lost = angle**4 / (24.0 * 128.0)
        assert np.abs(skin - at).max() < lost * norm(offset).max() + 1e-9
        assert np.abs(along - np.einsum("nij,nj->ni", turned, normals)).max() < lost * norm(normals).max() + 1e-12


def hatch_turn(solid: WoundSolid, now: Posture, pose: int) -> float:
    """How far (rad) the outer end of a line across the rubber has turned about the bolt against its inner end."""
    out = square_to(solid.axis)
    points = solid.origin + np.outer(solid.span, out)
    places = [(now.parts[p].rotation[pose], now.parts[p].translation[pose]) for p in (solid.near, solid.far)]
    seen, _ = wound(solid, points, wound_shares(solid, points), places[0], places[1])
    middle, bolt = now.parts[solid.near].point(solid.origin)[pose], now.parts[solid.near].rotation[pose] @ solid.axis
    return float(turn_about(bolt, seen[0] - middle, seen[1] - middle))


@pytest.mark.parametrize("torqued_at", ["ride", "droop"])
def test_the_lines_across_rubber_wind_by_the_turn_since_it_was_tightened(torqued_at: str) -> None:
    data = trailing_arm(joint="arm bush")
    data["joint"] = {"arm bush": {"kind": "rubber bush", "torqued_at": torqued_at}}
    mechanism = built(data)
    poses = solve(mechanism, cycle(mechanism, Cycle.ALL, 9))
    now = posture(poses)
    # A trailing arm of 400 mm, level at ride height, hangs asin(100 / 400) below level at full droop (D).
    slack = 0.0 if torqued_at == "ride" else np.arcsin(100.0 / 400.0)
    lines = [solid for solid in solids_of(mechanism).pliant if isinstance(solid, WoundSolid)]
    assert len(lines) == 4
    for solid in lines:
        joint = next(joint for joint in now.joints if (joint.member, joint.end.place) == solid.joint)
        for pose in range(len(poses)):
            turned = hatch_turn(solid, now, pose)
            lift = poses.travel.column("left")[pose]
            assert abs(turned) == pytest.approx(abs(np.arcsin(lift / 400.0) + slack), abs=1e-9)
            if torqued_at == "ride":
                assert turned == pytest.approx(joint.turn[pose], abs=1e-9)


def test_rubber_between_sleeve_and_shell_turns_evenly_and_keeps_its_radius() -> None:
    mechanism = built(trailing_arm())
    now = posture(solve(mechanism, single(mechanism, left=90.0)))
    solid = next(s for s in solids_of(mechanism).pliant if isinstance(s, WoundSolid))
    radii = np.linspace(*solid.span, 5)
    points = solid.origin + np.outer(radii, square_to(solid.axis))
    near, far = ((now.parts[p].rotation[0], now.parts[p].translation[0]) for p in (solid.near, solid.far))
    seen, _ = wound(solid, points, wound_shares(solid, points), near, far)
    assert np.linalg.norm(seen - solid.origin, axis=1) == pytest.approx(radii)
    turned = turn_about(solid.axis, seen[:1] - solid.origin, seen - solid.origin)
    assert turned == pytest.approx(np.linspace(0.0, turned[-1], 5))


@pytest.mark.parametrize("name", [name for name in NAMES if "bar" in scene_data(name)])
def test_the_line_on_an_anti_roll_bar_winds_by_the_difference_of_its_arms(name: str) -> None:
    mechanism = built(scene_data(name))
    now = posture(solve(mechanism, cycle(mechanism, Cycle.ALL, 9)))
    for bar in mechanism.bars:
        stripe = next(s for s in solids_of(mechanism).pliant if s.label == bar.name)
        assert isinstance(stripe, WoundSolid)
        left, right = (motion.turn for motion in now.bar_arms if motion.bar is bar)
        out = 10.0 * square_to(stripe.axis)
        points = stripe.origin + np.outer(stripe.span, stripe.axis) + out
        for pose in range(len(left)):
            near, far = (
                (now.parts[p].rotation[pose], now.parts[p].translation[pose]) for p in (stripe.near, stripe.far)
            )
            seen, _ = wound(stripe, points, wound_shares(stripe, points), near, far)
            axis = now.parts[bar.on].rotation[pose] @ stripe.axis
            turned = turn_about(axis, seen[0] - points[0] + out, seen[1] - points[1] + out)
            assert float(turned) == pytest.approx(right[pose] - left[pose], abs=1e-9)


@pytest.mark.parametrize("way", [(1.0, 0.0), (0.0, 1.0), (0.6, 0.8)])
def test_the_coils_of_a_spring_that_leans_over_do_not_jump(way: tuple[float, float]) -> None:
    # D: from upright to 70° over, the start of the wire turns by no more than the spring itself does in a step.
    lean = np.radians(np.linspace(0.0, 70.0, 141))
    along = np.stack([way[0] * np.sin(lean), way[1] * np.sin(lean), np.cos(lean)], axis=-1)
    start = coil_start(along)
    assert (start * along).sum(axis=-1) == pytest.approx(0.0, abs=1e-12)
    assert norm(start) == pytest.approx(1.0)
    # About its own axis it turns at most as fast as it leans, over the sine of what is left to lie along the vehicle.
    steps = norm(np.diff(start, axis=0))
    assert steps.max() <= 2.0 * np.radians(0.5) / np.sin(np.radians(20.0))
