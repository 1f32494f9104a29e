"""Rod ends' tilt from their hardware: worked examples, the geometry itself, and every sentence about wrong sizes."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from model.errors import SceneError
from model.joints import Hardware, Joint, JointKind
from model.limits import limits_of, tilt_in_clevis, tilt_on_spacers
from model.units import Length


def test_a_rod_end_in_a_clevis_stops_where_the_worked_example_says() -> None:
    # Worked example: ball width W .875, head H .687, head diameter 1.75 in. The maker's formula, asin(W/D) − asin(H/D),
    # gives 6.89° (S bearing maker's engineering page); it takes the head for a sphere's slice. A head with square
    # corners stops at 6.30° (D), the cautious one of the two, which is ours.
    maker = math.degrees(math.asin(0.875 / 1.75) - math.asin(0.687 / 1.75))
    assert maker == pytest.approx(6.89, abs=0.005)
    ours = math.degrees(tilt_in_clevis(0.875, 0.687, 1.75))
    assert ours == pytest.approx(6.30, abs=0.005)
    assert ours < maker


def test_a_rod_end_on_spacers_stops_where_the_worked_example_says() -> None:
    # Worked example (D): ball E .937, race H .5, spacer diameter S .5 in → 25.50°.
    assert math.degrees(tilt_on_spacers(0.937, 0.5, 0.5)) == pytest.approx(25.50, abs=0.005)


SIZE = st.floats(5.0, 60.0)


@given(head=SIZE, diameter=SIZE, share=st.floats(0.02, 0.98))
def test_a_tilted_heads_corner_just_reaches_the_brackets_face(head: float, diameter: float, share: float) -> None:
    width = head + share * (math.hypot(head, diameter) - head)  # from one that just fits to one that never touches
    tilt = tilt_in_clevis(width, head, diameter)
    # D: the outline of the head is a rectangle, head by diameter, across and along the bracket; turn it by hand.
    corners = np.array([(x, y) for x in (-head / 2, head / 2) for y in (-diameter / 2, diameter / 2)])
    turned = corners @ np.array([[math.cos(tilt), -math.sin(tilt)], [math.sin(tilt), math.cos(tilt)]])
    assert np.abs(turned[:, 0]).max() == pytest.approx(width / 2, rel=1e-12)  # a dozen roundings


@given(ball=SIZE, rim=st.floats(0.05, 0.7), room=st.floats(0.02, 0.8))
def test_on_spacers_the_edge_of_the_bore_just_reaches_the_edge_of_the_spacer(
    ball: float, rim: float, room: float
) -> None:
    head, spacer = ball * math.sin(rim), ball * math.cos(rim + room)
    tilt = tilt_on_spacers(ball, spacer, head)
    # D: both edges are circles on the ball; in the plane of the tilt each is a point, and the two meet.
    edge = np.array([head / 2, math.sqrt(ball**2 - head**2) / 2])  # along the head's axis, and out from it
    turned = np.array([[math.cos(tilt), math.sin(tilt)], [-math.sin(tilt), math.cos(tilt)]]) @ edge
    assert turned == pytest.approx([math.sqrt(ball**2 - spacer**2) / 2, spacer / 2], rel=1e-9)  # near 0 digits go


def _limit(units: Length = Length.MM, **sizes: float) -> Any:
    limit = limits_of("a joint", Joint(kind=JointKind.ROD_END, hardware=Hardware(**sizes)), units).tilt
    assert limit is not None
    return limit


def test_a_limit_from_hardware_is_the_persons_own_and_says_what_meets_what() -> None:
    clevis = _limit(head_width=0.687, head_diameter=1.75, clevis_width=0.875)
    assert not clevis.typical
    assert math.degrees(clevis.angle) == pytest.approx(6.30, abs=0.005)
    assert clevis.close == pytest.approx(0.9 * clevis.angle, rel=1e-14)
    assert clevis.source == "hardware sizes in the scene file: the head meets the bracket"
    spacers = _limit(head_width=0.5, ball_diameter=0.937, spacer_diameter=0.5)
    assert math.degrees(spacers.angle) == pytest.approx(25.50, abs=0.005)
    assert spacers.source.endswith("the head meets the spacer")
    bolt = _limit(head_width=0.5, ball_diameter=0.937, bolt_diameter=0.5)
    assert bolt.angle == spacers.angle
    assert bolt.source.endswith("the head meets the bolt")


def test_where_the_sizes_are_from_is_said_too() -> None:
    sizes = Hardware(head_width=0.5, ball_diameter=0.937, bolt_diameter=0.5)
    limit = limits_of("a joint", Joint(kind=JointKind.ROD_END, hardware=sizes, source="a maker's sheet of 2019")).tilt
    assert limit is not None
    assert limit.source == "hardware sizes from a maker's sheet of 2019: the head meets the bolt"


def test_of_two_stops_the_first_one_counts() -> None:
    sizes = {"head_width": 0.687, "head_diameter": 1.75, "ball_diameter": 1.25, "spacer_diameter": 0.5}
    tight, wide = _limit(**sizes, clevis_width=0.875), _limit(**sizes, clevis_width=1.6)
    assert tight.source.endswith("the head meets the bracket")
    assert wide.source.endswith("the head meets the spacer")
    assert tight.angle < wide.angle < tilt_in_clevis(1.6, 0.687, 1.75)


def test_a_spacer_counts_before_the_bolt_inside_it() -> None:
    sizes = {"head_width": 12.7, "ball_diameter": 25.0}
    both = _limit(**sizes, spacer_diameter=14.0, bolt_diameter=9.0)
    assert both == _limit(**sizes, spacer_diameter=14.0)
    assert both.source.endswith("the head meets the spacer")


def test_hardware_in_inches_allows_the_same_angle() -> None:
    sizes = {"head_width": 12.7, "head_diameter": 40.0, "clevis_width": 18.0, "ball_diameter": 25.0, "bolt_diameter": 9}
    inches = {name: size / 25.4 for name, size in sizes.items()}
    assert _limit(Length.INCH, **inches).angle == pytest.approx(_limit(**sizes).angle, rel=1e-12)


@pytest.mark.parametrize(
    ("sizes", "sentence"),
    [
        (
            {"head_width": 20, "head_diameter": 40, "clevis_width": 20},
            "has hardware with a head_width that does not fit its clevis_width; correct them.",
        ),
        (
            {"head_width": 10, "ball_diameter": 18, "spacer_diameter": 18},
            "has hardware with a ball_diameter no larger than head, spacer or bolt; correct them.",
        ),
        (
            {"head_width": 15, "ball_diameter": 18, "bolt_diameter": 12},
            "has hardware that leaves the rod end no angle at all; correct its sizes.",
        ),
    ],
)
@pytest.mark.parametrize("units", list(Length))
def test_hardware_that_cannot_be_is_one_sentence(sizes: dict[str, float], sentence: str, units: Length) -> None:
    with pytest.raises(SceneError) as raised:
        limits_of("a joint", Joint(kind=JointKind.ROD_END, hardware=Hardware(**sizes)), units)
    assert raised.value.complaints == (sentence,)


@pytest.mark.parametrize(
    "sizes",
    [
        {"head_width": 12.0},
        {"head_width": 12.0, "clevis_width": 16.0},
        {"head_width": 12.0, "head_diameter": 30.0},
        {"head_width": 12.0, "ball_diameter": 20.0},
        {"head_width": 12.0, "spacer_diameter": 9.0},
    ],
)
def test_too_few_sizes_say_which_pair_is_lacking(sizes: dict[str, float]) -> None:
    with pytest.raises(ValidationError, match="needs clevis_width with head_diameter, or ball_diameter with"):
        Hardware(**sizes)
