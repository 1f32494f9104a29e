"""The grid of poses: what is beside its nodes and in its cells."""

from __future__ import annotations

import numpy as np
import pytest

from model.nodes import ALLOWANCE, Nodes


def grid_of(*levels: list[float]) -> Nodes:
    return Nodes.of(np.stack(np.meshgrid(*levels, indexing="ij"), axis=-1).reshape(-1, len(levels)))


def test_a_parabola_falls_below_its_chords_by_an_eighth_of_its_second_difference() -> None:
    # f = x² at whole numbers: between two it is at most 1/4 below the straight line, since 1/4 = 2/8.
    nodes, values = grid_of([-2, -1, 0, 1, 2]), np.array([[4.0, 1, 0, 1, 4]]).T
    np.testing.assert_allclose(nodes.sag(values, np.arange(5)), ALLOWANCE * 0.25)
    # What bends up between nodes lies above its chords.
    np.testing.assert_allclose(nodes.sag(-values, np.arange(5)), 0.0)


def test_the_sag_of_some_nodes_needs_their_neighbours_alone() -> None:
    nodes = grid_of([0, 1, 2, 3, 4], [0, 1, 2])
    x, y = np.divmod(np.arange(15.0), 3)
    values = (x**2 + 3 * y**2)[:, None]
    some = np.flatnonzero(x < 3)
    # Those at the edge of the chosen lack a neighbour.
    np.testing.assert_allclose(nodes.sag(values[some], some)[:6], ALLOWANCE * 0.25 * (1 + 3))


def test_cells_and_their_corners() -> None:
    nodes = grid_of([0, 1, 2], [5], [0, 1])
    lowest = nodes.in_cells(np.array([4.0, 3, 2, 9, 8, 7]), np.minimum, np.inf)
    assert lowest.shape == (2, 1, 1)
    assert lowest.ravel().tolist() == [2.0, 2.0]
    assert nodes.corners_of(np.array([True, False]).reshape(2, 1, 1)).tolist() == [True] * 4 + [False] * 2


def test_nodes_around_others() -> None:
    nodes = grid_of([0, 1, 2, 3, 4], [0, 1, 2])
    corner = np.zeros(15, dtype=bool)
    corner[0] = True
    assert np.flatnonzero(nodes.around(corner, 1)).tolist() == [0, 1, 3, 4]
    assert nodes.around(corner, 4).all()


def test_a_list_of_poses_has_no_cells() -> None:
    values = np.random.default_rng(3).normal(size=(30, 3))
    nodes = Nodes.of(values)
    assert nodes.table is None
    with pytest.raises(AssertionError, match="no grid"):
        nodes.in_cells(values[:, 0], np.minimum, np.inf)
