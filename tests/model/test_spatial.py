"""Axioms of rotations and directions by Hypothesis; scipy's rotations are the reference."""

from __future__ import annotations

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from model.spatial import (
    Array,
    about_point,
    across,
    angle_between,
    dot,
    homogeneous,
    move,
    norm,
    rotation_about,
    shortest_rotation,
    skew,
    square_to,
    triad,
    turn,
    turn_about,
    unit,
)

# A few products of numbers below 1, each rounded to 1e-16.
ROUNDING = 1e-14
# Points are within some 1000 mm.
PLACE = 1e-11

VECTOR = st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: np.linalg.norm(v) > 0.05).map(np.array)
UNIT = VECTOR.map(lambda v: v / np.linalg.norm(v))
POINT = st.tuples(*[st.floats(-1000.0, 1000.0)] * 3).map(np.array)
ANGLE = st.floats(-6.0, 6.0)


def _is_rotation(matrix: Array, slack: float = ROUNDING) -> bool:
    square = np.abs(matrix @ np.swapaxes(matrix, -1, -2) - np.eye(3)).max() < slack
    return bool(square and np.abs(np.linalg.det(matrix) - 1.0).max() < slack)


@given(axis=UNIT, angle=ANGLE)
def test_rotation_about_is_scipys(axis: Array, angle: float) -> None:
    rotation = rotation_about(axis, np.asarray(angle))
    assert _is_rotation(rotation)
    assert np.abs(rotation - Rotation.from_rotvec(axis * angle).as_matrix()).max() < ROUNDING


@given(axis=UNIT, first=ANGLE, second=ANGLE)
def test_turns_about_one_axis_add_up(axis: Array, first: float, second: float) -> None:
    one, two = rotation_about(axis, np.asarray(first)), rotation_about(axis, np.asarray(second))
    assert np.abs(one @ two - rotation_about(axis, np.asarray(first + second))).max() < ROUNDING


@given(a=UNIT, b=UNIT)
def test_shortest_rotation_takes_a_to_b_by_the_angle_between_them(a: Array, b: Array) -> None:
    assume(np.dot(a, b) > -0.99)
    rotation = shortest_rotation(a, b)
    # Near half a turn the formula divides by 1 + a · b, here at least 0.01.
    assert _is_rotation(rotation, 100 * ROUNDING)
    assert np.abs(rotation @ a - b).max() < 100 * ROUNDING
    assert abs(Rotation.from_matrix(rotation).magnitude() - angle_between(a, b)) < 1e-7  # scipy's arc of 1 − 1e-15


@given(along=VECTOR, reference=VECTOR)
def test_triad_is_a_rotation_with_x_along_and_y_towards_the_reference(along: Array, reference: Array) -> None:
    assume(np.linalg.norm(np.cross(along, reference)) > 0.05)
    axes = triad(along, reference)
    assert _is_rotation(axes, 1e-12)  # the reference may lie within 3° of the direction: 1e-16 over that, squared
    assert np.abs(axes[:, 0] - along / np.linalg.norm(along)).max() < ROUNDING
    assert axes[:, 1] @ reference > 0.0
    assert abs(axes[:, 2] @ reference) < 1e-12


@given(direction=UNIT)
def test_square_to_is_a_unit_vector_square_to_it(direction: Array) -> None:
    assert abs(square_to(direction) @ direction) < ROUNDING
    assert abs(np.linalg.norm(square_to(direction)) - 1.0) < ROUNDING


@given(a=VECTOR, b=VECTOR)
def test_skew_is_the_cross_product(a: Array, b: Array) -> None:
    assert np.abs(skew(a) @ b - np.cross(a, b)).max() < ROUNDING
    assert (skew(a) == -skew(a).T).all()


@given(a=UNIT, b=UNIT)
def test_angle_between_is_symmetric_and_adds_to_half_a_turn(a: Array, b: Array) -> None:
    assert abs(angle_between(a, b) - angle_between(b, a)) < ROUNDING
    assert abs(angle_between(a, b) + angle_between(a, -b) - np.pi) < ROUNDING
    assert abs(np.cos(angle_between(a, b)) - np.dot(a, b)) < ROUNDING


@given(axis=UNIT, angle=st.floats(-3.1, 3.1), a=UNIT)
def test_turn_about_finds_the_angle_that_was_turned(axis: Array, angle: float, a: Array) -> None:
    assume(np.linalg.norm(np.cross(axis, a)) > 0.05)
    turned = Rotation.from_rotvec(axis * angle).apply(a)
    # The part square to the axis may be as short as 0.05, and its square is what is measured.
    assert abs(turn_about(axis, a, turned) - angle) < 1e-12


def test_tiny_angles_keep_their_digits() -> None:
    a = np.array([1.0, 0.0, 0.0])
    for angle in (1e-12, 1e-9, 1e-6):
        b = np.array([np.cos(angle), np.sin(angle), 0.0])
        # D: an arc cosine would give 0 or 1.5e-8 here.
        assert abs(angle_between(a, b) - angle) < 1e-15 * angle
        assert abs(angle_between(a, -b) - (np.pi - angle)) < 1e-15


@given(vectors=st.lists(st.tuples(UNIT, UNIT, ANGLE, POINT, POINT), min_size=2, max_size=5))
def test_a_batch_equals_a_loop(vectors: list[tuple[Array, Array, float, Array, Array]]) -> None:
    a, b, angle, before, after = (np.array(column) for column in zip(*vectors, strict=True))
    assume((np.einsum("ni,ni->n", a, b) > -0.9).all())
    assume((np.linalg.norm(np.cross(a, b), axis=1) > 0.05).all())
    rotation = rotation_about(a, angle)
    shift = about_point(rotation, before, after)
    batch = [
        rotation, shortest_rotation(a, b), triad(a, b), square_to(a), skew(a), angle_between(a, b), turn_about(a, b, b),
        across(b, a), unit(before + 2000.0), norm(before), dot(a, b), turn(rotation, a), move(rotation, shift, before),
        homogeneous(rotation, shift),
    ]  # fmt: skip
    for k in range(len(vectors)):
        alone = rotation_about(a[k], angle[k])
        there = about_point(alone, before[k], after[k])
        single = [
            alone, shortest_rotation(a[k], b[k]), triad(a[k], b[k]), square_to(a[k]), skew(a[k]),
            angle_between(a[k], b[k]), turn_about(a[k], b[k], b[k]), across(b[k], a[k]), unit(before[k] + 2000.0),
            norm(before[k]), dot(a[k], b[k]), turn(alone, a[k]), move(alone, there, before[k]),
            homogeneous(alone, there),
        ]  # fmt: skip
        for many, one in zip(batch, single, strict=True):
            # The same operations; sums of three may be taken in another order by einsum and matmul.
            assert np.abs(many[k] - one).max() < PLACE


@given(axis=UNIT, angle=ANGLE, before=POINT, after=POINT, other=POINT)
def test_about_point_moves_the_point_and_keeps_distances(
    axis: Array, angle: float, before: Array, after: Array, other: Array
) -> None:
    rotation = rotation_about(axis, np.asarray(angle))
    shift = about_point(rotation, before, after)
    assert np.abs(move(rotation, shift, before) - after).max() < PLACE
    distance = np.linalg.norm(move(rotation, shift, other) - after)
    assert abs(distance - np.linalg.norm(other - before)) < PLACE
    assert np.abs((homogeneous(rotation, shift) @ [*other, 1.0])[:3] - move(rotation, shift, other)).max() < PLACE
