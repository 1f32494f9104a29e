"""Lengths as dimension lines: along what they measure, off each other; unknown ones are refused by name."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest

from model.errors import DrawingError
from model.spans import Span
from model.units import Length
from viz.dimensions import end_on, kept_off, place_dimensions, spans_named
from viz.labels import Scale

SIZE = (1600, 940)


def span(name: str, length: float) -> Span:
    return Span(name, np.array([[[0.0, 0, 0], [length, 0, 0]]]))


def test_lines_are_as_long_as_what_they_measure_and_no_number_meets_another() -> None:
    busy = np.zeros((SIZE[1], SIZE[0]), dtype=bool)
    busy[300:600, 200:1400] = True
    scale = Scale.of(SIZE)
    asked = [
        (span(f"bar {number}", 500.0), np.array([[400.0, 420.0 + 4 * number], [1200.0, 430.0]])) for number in range(5)
    ]
    found = place_dimensions(asked, 0, Length.MM, busy, scale, taken=[(0.0, 0.0, 300.0, 200.0)])
    assert [one.text for one in found] == [f"bar {number} 500 mm" for number in range(5)]
    for one, (_, points) in zip(found, asked, strict=True):
        assert one.line[1] - one.line[0] == pytest.approx(points[1] - points[0])
        aside = one.line[0] - points[0]
        assert aside @ (points[1] - points[0]) == pytest.approx(0.0, abs=1e-6)
        assert not (one.label[0] < 300.0 and one.label[1] < 200.0)
    for a, b in combinations([one.label for one in found], 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
    # No line runs through the number of one that was placed before it.
    for first, later in pairwise(found):
        assert kept_off(first, scale)[0] == first.label
        spots = later.line[0] + np.linspace(0, 1, 24)[:, None] * (later.line[1] - later.line[0])
        left, top, right, bottom = first.label
        assert not ((spots > (left, top)) & (spots < (right, bottom))).all(axis=1).any()


def test_what_is_seen_from_its_end_is_said_and_not_drawn() -> None:
    busy = np.zeros((SIZE[1], SIZE[0]), dtype=bool)
    short = span("upper link", 365.0)
    found = place_dimensions([(short, np.array([[400.0, 400.0], [405.0, 402.0]]))], 0, Length.MM, busy, Scale.of(SIZE))
    assert found == []
    assert end_on([short], found, 0, Length.MM) == ["upper link 365 mm"]


def test_an_unknown_length_is_refused_with_the_nearest_names() -> None:
    known = [span("upper link", 1.0), span("track", 2.0)]
    assert [one.name for one in spans_named(["track", "upper link", "track"], known)] == ["track", "upper link"]
    with pytest.raises(DrawingError, match=r'no length "uper link".*"upper link"'):
        spans_named(["uper link"], known)


def test_a_number_leaves_both_ends_of_its_line_in_sight() -> None:
    busy = np.zeros((SIZE[1], SIZE[0]), dtype=bool)
    # Everywhere to the right is taken by the model, so that covering as little as possible would slide to the left end.
    busy[:, 560:] = True
    scale = Scale.of(SIZE)
    points = np.array([[500.0, 500.0], [820.0, 300.0]])
    (one,) = place_dimensions([(span("left lower link", 537.0), points)], 0, Length.MM, busy, scale)
    left, top, right, bottom = one.label
    for point, end in zip(points, one.line, strict=True):
        spots = point + np.linspace(0.0, 1.0, 50)[:, None] * (end - point)
        assert not ((spots > (left, top)) & (spots < (right, bottom))).all(axis=1).any()
