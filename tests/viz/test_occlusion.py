"""Contact shadows: none on a plane however it leans, none before nothing, dark in corners and behind what is near."""

from __future__ import annotations

import numpy as np
import pytest

from viz.lens import smoothed
from viz.occlusion import STRENGTH, occlusion
from viz.studio import OVERSAMPLE

SIZE = (200, 320)


def plane(across: float, down: float) -> np.ndarray:
    rows, columns = np.mgrid[: SIZE[0], : SIZE[1]]
    return (1000.0 + across * columns + down * rows).astype(np.float32)


@pytest.mark.parametrize("slopes", [(0.0, 0.0), (1.0, 0.0), (-0.4, 0.7)])
def test_a_plane_keeps_all_its_light(slopes: tuple[float, float]) -> None:
    lost = occlusion(plane(*slopes))
    # Single precision of depths of some thousand px; the picture's edge has no neighbours beyond.
    assert lost[20:-20, 20:-20].max() < 1e-3


def test_nothing_loses_no_light_and_takes_none() -> None:
    assert not occlusion(np.full(SIZE, np.inf, dtype=np.float32)).any()
    half = plane(0.0, 0.0)
    half[:, 160:] = np.inf
    lost = occlusion(half)
    assert not lost[:, 160:].any()
    assert lost[20:-20, 20:160].max() < 1e-3


def test_a_corner_is_dark_and_an_edge_is_not() -> None:
    columns = np.abs(np.arange(SIZE[1]) - 160)
    corner = np.broadcast_to(1000.0 - columns, SIZE).astype(np.float32)
    lost = occlusion(corner)
    assert 0.2 * STRENGTH < lost[100, 160] <= STRENGTH
    assert lost[100, 40] < 1e-3
    assert not occlusion(np.broadcast_to(1000.0 + columns, SIZE).astype(np.float32))[20:-20, 20:-20].any()


def test_what_is_near_darkens_what_is_close_behind_and_not_what_is_far_behind() -> None:
    dark = []
    for step in (4.0, 400.0):
        wall = plane(0.0, 0.0)
        wall[:, 160:] -= step
        lost = occlusion(wall)
        dark.append(float(lost[100, 150:160].max()))
        # Shadows are soft: at an edge they run on by some px.
        assert lost[20:-20, 175:300].max() < 1e-3
    assert dark[0] > 0.1
    assert dark[1] < 1e-3


def test_a_step_at_one_edge_of_the_picture_leaves_the_opposite_edge_alone() -> None:
    for turn in range(4):
        wall = np.full((160, 160), 1000.0, dtype=np.float32)
        wall[:, :2] -= 4.0
        lost = np.rot90(occlusion(np.ascontiguousarray(np.rot90(wall, turn))), -turn)
        assert lost[20:-20, 2:8].max() > 0.1
        assert lost[20:-20, -30:].max() == 0.0


def test_shadow_darkens_the_picture_and_keeps_its_hue() -> None:
    pixels = np.full((SIZE[0] * OVERSAMPLE, SIZE[1] * OVERSAMPLE, 3), (200, 100, 40), dtype=np.uint8)
    columns = np.abs(np.arange(SIZE[1]) - 160)
    corner = np.broadcast_to(1000.0 - columns, SIZE).astype(np.float32)
    picture = np.asarray(smoothed(pixels, corner), dtype=float)
    assert picture[100, 40] == pytest.approx([200, 100, 40])
    dark = picture[100, 160]
    assert dark[0] < 190
    # Rounding to whole steps of 255.
    assert dark / dark[0] == pytest.approx([1.0, 0.5, 0.2], abs=0.01)
