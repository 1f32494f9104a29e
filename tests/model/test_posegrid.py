"""Tables of poses. A cubic through four points is exact for cubics (Lagrange); the rest is promised by the room (D)."""

import numpy as np
import pytest
from zoo import FOUR_LINKS, axle_scene, built, short_steering_arm, trailing_arm

from model.members import posture
from model.posegrid import LOCKED, LOOSE, Strand, axis_nodes, cubic_weights
from model.posepacking import fit_of, pack
from model.posestrands import posed, spin_of, strands_of
from model.spatial import Array


def off(true: Array, read: Array) -> Array:
    """Share of an allowance of 0.01."""
    return np.abs(true - read).max(axis=1) / 0.01


def test_a_cubic_is_read_exactly() -> None:
    nodes, at = axis_nodes(-80.0, 60.0, 7), np.linspace(-80.0, 60.0, 41)
    _, first, weights = cubic_weights(nodes, at)
    curve = np.polynomial.Polynomial([3.0, -0.4, 0.02, 1e-4])
    read = (weights * curve(nodes)[first[:, None] + np.arange(4)]).sum(axis=1)
    np.testing.assert_allclose(read, curve(at), atol=1e-11)  # rounding of numbers up to 100
    assert nodes[3] == 0.0


def test_tables_hold_between_their_nodes_and_are_only_as_large_as_they_need_be() -> None:
    def sample(drives: Array) -> tuple[Array, Array]:
        x, y = drives.T
        return np.stack([np.sin(x), np.cos(3.0 * x) * y, np.full_like(x, 7.0)], axis=1), np.zeros(
            len(x), dtype=np.int64
        )

    strands = [Strand("x", "a", 0, 1, off), Strand("both", "a", 1, 2, off), Strand("none", "a", 2, 3, off)]
    low, high = np.array([-1.0, -2.0]), np.array([1.5, 1.0])
    grid = pack(sample, low, high, strands)
    assert {sheet.strands[0].name: sheet.axes for sheet in grid.sheets} == {"x": (0,), "both": (0, 1), "none": ()}
    both = next(sheet for sheet in grid.sheets if sheet.axes == (0, 1))
    assert both.levels[0].codes.shape[0] > both.levels[0].codes.shape[1]  # y is a straight line
    tried = np.random.default_rng(3).uniform(low, high, (400, 2))
    assert fit_of(grid, strands, tried, *sample(tried)).error < 1.0


def test_no_pose_is_sampled_twice_for_sheets_over_the_same_drives() -> None:
    asked: list[bytes] = []

    def sample(drives: Array) -> tuple[Array, Array]:
        asked.extend(each.tobytes() for each in np.round(drives, 9) + 0.0)
        x, y = drives.T
        return np.stack([np.sin(3.0 * x) * y, np.cos(3.0 * x) * y], axis=1), np.zeros(len(x), dtype=np.int64)

    # Two kinds: two sheets, on the same nodes and tried at the same places.
    strands = [Strand("one", "a", 0, 1, off), Strand("other", "b", 1, 2, off)]
    grid = pack(sample, np.array([-1.0, -2.0]), np.array([1.5, 1.0]), strands)
    assert len(grid.sheets) == 2
    assert len(asked) == len(set(asked))


def root(drives: Array) -> tuple[Array, Array]:
    """What ends as a linkage does that runs straight: as the root of what is left."""
    left = 1.0 - drives.sum(axis=1)
    return np.sqrt(np.maximum(left, 0.0))[:, None], np.where(left < 0.0, 4, 0)


def test_what_locks_is_never_shown_and_nearly_all_else_is() -> None:
    strands = [Strand("root", "a", 0, 1, off)]
    low, high = np.array([-1.0, -1.0]), np.array([1.0, 1.0])
    grid = pack(root, low, high, strands)
    tried = np.random.default_rng(4).uniform(low, high, (3000, 2))
    fit = fit_of(grid, strands, tried, *root(tried))
    assert fit.error < 1.0
    # The lock is 2 √2 long in a square of 4, and a seam of two of the finest cells, of 1/128 each, is left out.
    assert fit.hidden < 0.02
    assert grid.causes == (4,)
    (sheet,) = grid.sheets
    # On the way to the corner the lock is at 1/2: what is shown ends within 2 % of that.
    along = np.linspace(0.0, 1.0, 2001)
    shown = grid.read(np.stack([along, along], axis=1))[1]
    assert 0.49 < along[shown].max() < 0.5
    assert sheet.codes_at(np.array([[0.6, 0.6], [1.0, 1.0]])).tolist() == [LOCKED, LOCKED]


def test_what_is_reached_but_not_followed_is_told_from_what_locks() -> None:
    def sample(drives: Array) -> tuple[Array, Array]:
        return np.sign(drives - 0.3), np.zeros(len(drives), dtype=np.int64)

    strands = [Strand("jump", "a", 0, 1, off)]
    grid = pack(sample, np.array([-1.0]), np.array([1.0]), strands)
    (sheet,) = grid.sheets
    assert sheet.codes_at(np.array([[0.3]])).tolist() == [LOOSE]
    tried = np.linspace(-1.0, 1.0, 4001)[:, None]
    fit = fit_of(grid, strands, tried, *sample(tried))
    assert fit.error < 1.0
    assert 0.0 < fit.hidden < 0.02  # a few of the finest cells about the jump


def test_of_two_that_lock_only_the_one_that_stops_this_way_is_named() -> None:
    def sample(drives: Array) -> tuple[Array, Array]:
        x = drives[:, 0]
        return np.sqrt(np.clip(0.8 - np.abs(x), 0.0, None))[:, None], np.select([x > 0.8, x < -0.8], [1, 2], 0)

    grid = pack(sample, np.array([-1.0]), np.array([1.0]), [Strand("root", "a", 0, 1, off)])
    (sheet,) = grid.sheets
    causes = [grid.causes[code - LOCKED] for code in sheet.codes_at(np.array([[0.85], [-0.85]])).tolist()]
    assert causes == [1, 2]


def panhard_that_nearly_locks() -> dict:  # type: ignore[type-arg]
    """An axle on a short bar across, with as much travel as only just does not lock."""
    return axle_scene(FOUR_LINKS | {"panhard": ((-120, -300, 310), (-120, -420, 310))}, 109.0)


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(axle_scene(FOUR_LINKS), id="axle"),
        pytest.param(trailing_arm(), id="one wheel"),
        pytest.param(trailing_arm(radius=90.0), id="one wheel that locks"),
        pytest.param(panhard_that_nearly_locks(), id="axle that nearly locks", marks=pytest.mark.slow),
        pytest.param(short_steering_arm(), id="steering that locks", marks=pytest.mark.slow),
    ],
)
def test_a_mechanism_is_read_as_it_is_solved(data: dict) -> None:  # type: ignore[type-arg]
    mechanism = built(data)
    low, high = (np.array([getattr(drive, end) for drive in mechanism.drives]) for end in ("low", "high"))
    names = posture(posed(mechanism, np.zeros((1, len(low))))).parts
    strands = strands_of(mechanism, dict.fromkeys(names, np.array([0.0, 600.0, 300.0])))
    grid = pack(strands.sample, low, high, strands.strands)
    tried = np.random.default_rng(6).uniform(low, high, (300, len(low)))
    fit = fit_of(grid, strands.strands, tried, *strands.sample(tried))
    assert fit.error < 1.0
    assert fit.hidden < 0.05  # of 300 poses; what a page may leave out (viz.pagedata.HIDDEN)


def test_a_bar_between_two_eyes_spins_as_it_is_posed() -> None:
    mechanism = built(axle_scene(FOUR_LINKS))
    names = posture(posed(mechanism, np.zeros((1, 2)))).parts
    strands = strands_of(mechanism, dict.fromkeys(names, np.zeros(3)))
    assert strands.spinning.keys() == FOUR_LINKS.keys()
    drives = np.array([[0.0, 0.0], [60.0, -50.0]])
    values, _ = strands.sample(drives)
    for name, bar in strands.spinning.items():
        strand = next(one for one in strands.strands if one.name == f"part {name}")
        spin = spin_of(bar, values[:, strand.start + 7 : strand.stop])
        # By the definition of the spin: the whole turn is the swing to where the bar points, and then the spin.
        rotation = posture(posed(mechanism, drives)).parts[name].rotation
        along, square = bar.ride[:, 0], bar.ride[:, 1]
        now = rotation @ along
        both = along + now
        swung = square - both * (now @ square)[:, None] / (1.0 + now @ along)[:, None]
        third = np.cross(now, swung)
        turned = rotation @ square
        measured = np.arctan2((turned * third).sum(axis=1), (turned * swung).sum(axis=1))
        np.testing.assert_allclose(spin, measured, atol=1e-7)  # both are closed forms of angles of some tenths
