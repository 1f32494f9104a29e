"""A whole car against statics: moments about the ground, a body that has no reason to roll, tyres in series."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from model.wholecar import AxleAtRide, pitch_transfer, rolling, sprung_height

FRONT = AxleAtRide(4000.0, 500.0, 20.0, None, 1400.0, 300.0, 60.0, 2.0e7, 0.6e7)
REAR = AxleAtRide(5000.0, 900.0, 22.0, None, 1350.0, 300.0, 250.0, 1.6e7, 0.0)
WHEELBASE, HEIGHT = 2400.0, 520.0

heights = st.floats(0.0, 300.0)


@given(front=heights, rear=heights, height=st.floats(350.0, 700.0), tyre=st.none() | st.floats(100.0, 1000.0))
def test_load_transfer_holds_the_car_up(front: float, rear: float, height: float, tyre: float | None) -> None:
    """Moments about the ground of the whole car: its weight sideways, and aside of the middle once it has rolled."""
    one, other = (replace(axle, roll_centre=at, tyre_rate=tyre) for axle, at in ((FRONT, front), (REAR, rear)))
    found = rolling(one, other, WHEELBASE, height)
    assert found is not None
    held = found.front.total * one.track + found.rear.total * other.track
    aside = (one.sprung + other.sprung) * found.arm * found.gradient
    assert held == pytest.approx((one.weight + other.weight) * height + aside, rel=1e-12)


def test_a_body_hung_at_its_middle_does_not_roll() -> None:
    """With both roll centres as high as the sprung weight's middle nothing turns it (definition)."""
    height = sprung_height(FRONT, REAR, HEIGHT)
    found = rolling(replace(FRONT, roll_centre=height), replace(REAR, roll_centre=height), WHEELBASE, HEIGHT)
    assert found is not None
    assert found.gradient == pytest.approx(0.0, abs=1e-12)
    assert found.front.through_springs == pytest.approx(0.0, abs=1e-6)  # N, of some 1,000
    assert found.axis == 0.0


def test_roll_by_hand() -> None:
    """7,600 N sprung, 60 mm and 250 mm high roll centres: worked by hand from the moments about the roll axis."""
    found = rolling(FRONT, REAR, WHEELBASE, HEIGHT)
    assert found is not None
    middle = (9000.0 * 520.0 - 1400.0 * 300.0) / 7600.0
    arm = middle - (60.0 + (4100.0 / 7600.0) * 190.0)
    assert found.arm == pytest.approx(arm)
    assert found.gradient == pytest.approx(7600.0 * arm / (4.2e7 - 7600.0 * arm))
    assert found.front_share == pytest.approx(2.6 / 4.2)
    assert found.front.through_roll_centre == pytest.approx(3500.0 * 60.0 / 1400.0)
    assert found.rear.unsprung == pytest.approx(900.0 * 300.0 / 1350.0)


def test_a_stiffer_bar_in_front_takes_load_transfer_there() -> None:
    """What a bar is for: the axle that is stiffer in roll takes more of the load transfer, and the car rolls less."""
    soft = rolling(FRONT, REAR, WHEELBASE, HEIGHT)
    stiff = rolling(replace(FRONT, bar=2.0 * FRONT.bar), REAR, WHEELBASE, HEIGHT)
    assert soft is not None
    assert stiff is not None
    assert stiff.front_transfer_share > soft.front_transfer_share
    assert stiff.gradient < soft.gradient


@given(front=heights, rear=heights, tyre=st.floats(100.0, 1000.0))
def test_springs_and_tyres_of_both_axles_turn_the_body_alike(front: float, rear: float, tyre: float) -> None:
    """A rigid body: what springs and bar give by what they hold, and tyres by all that the axle holds, add up to φ."""
    axles = [replace(axle, roll_centre=at, tyre_rate=tyre) for axle, at in ((FRONT, front), (REAR, rear))]
    found = rolling(*axles, WHEELBASE, HEIGHT)
    assert found is not None
    for axle, moved in zip(axles, (found.front, found.rear), strict=True):
        on_springs = moved.through_springs * axle.track / (axle.springs + axle.bar)
        on_tyres = moved.total * axle.track / (0.5 * tyre * axle.track**2)
        assert on_springs + on_tyres == pytest.approx(found.gradient, rel=1e-9)


def test_tyres_of_one_axle_alone_are_left_out() -> None:
    """Known at one end only they would make that end softer than the other, which has tyres as well."""
    assert rolling(replace(FRONT, tyre_rate=200.0), REAR, WHEELBASE, HEIGHT) == rolling(FRONT, REAR, WHEELBASE, HEIGHT)


def test_tyres_are_springs_in_series() -> None:
    """Rigid tyres change nothing; tyres as stiff in roll as the axle halve it."""
    tyre = 2.0 * (FRONT.springs + FRONT.bar) / FRONT.track**2
    assert replace(FRONT, tyre_rate=tyre).roll == pytest.approx(0.5 * FRONT.roll)
    assert replace(FRONT, tyre_rate=1e12).roll == pytest.approx(FRONT.roll)


def test_a_body_that_nothing_holds_up_falls_over() -> None:
    """No stiffness in roll, or less than the weight's own tipping."""
    loose = replace(FRONT, springs=0.0, bar=0.0), replace(REAR, springs=0.0, bar=0.0)
    assert rolling(*loose, WHEELBASE, HEIGHT) is None
    assert rolling(replace(FRONT, springs=1e6, bar=0.0), loose[1], WHEELBASE, HEIGHT) is None


def test_braking_moves_weight_forward() -> None:
    """W h / L: 9,000 N at 520 mm over 2,400 mm."""
    assert pitch_transfer(9000.0, 520.0, 2400.0) == pytest.approx(1950.0)
