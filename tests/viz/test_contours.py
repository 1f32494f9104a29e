"""The outline of a ring-shaped surface of revolution: closed lines where its normals are square to the look (D)."""

from __future__ import annotations

import numpy as np
import pytest

from model.icospheres import unit_sphere
from viz.contours import mesh_outline, outline

LARGE, SMALL = 300.0, 90.0


def torus(steps: int) -> tuple[np.ndarray, np.ndarray]:
    about, around = np.meshgrid(
        np.arange(steps) * 2 * np.pi / steps, np.linspace(0.0, 2 * np.pi, steps + 1), indexing="ij"
    )
    out = np.stack([np.zeros_like(around), np.cos(around), np.sin(around)], axis=-1)
    normals = np.cos(about)[..., None] * out + np.sin(about)[..., None] * [1.0, 0.0, 0.0]
    return LARGE * out + SMALL * normals, normals


@pytest.mark.parametrize("eye", [(0.0, 1.0, 0.0, 0.0), (0.6, 0.0, 0.8, 0.0), (900.0, 700.0, 400.0, 1.0)])
def test_the_outline_of_a_torus_is_closed_and_square_to_the_look(eye: tuple[float, ...]) -> None:
    points, normals = torus(160)
    at = np.array(eye)
    lines = outline(points, normals, at)
    spots = lines.reshape(-1, 3)
    # Every piece goes on where another ends.
    assert (np.unique(spots.round(6), axis=0, return_counts=True)[1] % 2 == 0).all()
    out = spots * [0.0, 1.0, 1.0]
    out = LARGE * out / np.linalg.norm(out, axis=1)[:, None]
    tube = spots - out
    # Chords of a 160th of a turn run inside the tube and the ring by r (1 − cos(π / 160)), 0.08 mm at the outside.
    assert np.linalg.norm(tube, axis=1) == pytest.approx(SMALL, abs=0.1)
    look = at[:3] - at[3] * spots
    square = (tube * look).sum(axis=1) / np.linalg.norm(tube, axis=1) / np.linalg.norm(look, axis=1)
    # Linear between corners that are 2.25° apart: off by an eighth of that squared.
    assert np.abs(square).max() < 0.125 * np.radians(2.25) ** 2 * 3.0


def test_a_ring_seen_square_to_its_axis_has_straight_sides() -> None:
    points, normals = torus(80)
    spots = outline(points, normals, np.array([0.0, 0.0, 1.0, 0.0])).reshape(-1, 3)
    # Seen along z, where the ring's tube is widest along its axis the outline is at the full radius all round.
    sides = spots[np.abs(spots[:, 0]) > SMALL - 0.2]
    assert len(sides) > 100
    assert np.ptp(np.abs(sides[:, 0])) < 0.2


def test_the_outline_of_a_ball_is_the_circle_that_the_eye_sees() -> None:
    """From a distance d a unit ball's outline lies in the plane at 1 / d from its middle (D)."""
    ball = unit_sphere(4)
    lines = mesh_outline(ball.points, ball.points, ball.faces, np.array([0.0, 0.0, 4.0, 1.0]))
    spots = lines.reshape(-1, 3)
    # Edges are up to 0.08 long: chords and lines between corners are off by an eighth of that squared.
    assert spots[:, 2] == pytest.approx(0.25, abs=2e-3)
    assert np.linalg.norm(spots[:, :2], axis=1) == pytest.approx(np.sqrt(1.0 - 0.25**2), abs=2e-3)
    assert np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1).sum() == pytest.approx(
        2 * np.pi * np.sqrt(1.0 - 0.25**2), rel=2e-3
    )
