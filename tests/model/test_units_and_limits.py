"""Units at the edges, and limits: given ones as given, typical ones as in the values of the trade."""

from __future__ import annotations

import math

import pytest

from model.joints import Joint, JointKind, Spacers
from model.limits import CLOSE_SHARE, limits_of, plain_joint
from model.units import MM_PER_INCH, N_PER_LBF, Length, degrees_text


def test_an_inch_and_a_pound_force_are_what_they_are_defined_to_be() -> None:
    # D international yard and pound agreement of 1959; standard gravity 9.80665 m/s².
    assert MM_PER_INCH == 25.4
    assert pytest.approx(0.45359237 * 9.80665, rel=1e-15) == N_PER_LBF  # one product
    # S Bhavikatti's spring of 6.14 N/mm, in lbf/in: 6.14 / 0.17513 = 35.06 (half of the last digit).
    assert 6.14 / Length.INCH.rate == pytest.approx(35.06, abs=5e-3)
    assert (Length.MM.mm, Length.MM.rate) == (1.0, 1.0)


@pytest.mark.parametrize(
    ("mm", "metric", "imperial"),
    [
        (0.0, "0.0 mm", "0.00 in"),
        (3.24, "3.2 mm", "0.13 in"),
        (9.97, "10 mm", "0.39 in"),
        (-254.0, "-254 mm", "-10.00 in"),
    ],
)
def test_lengths_are_written_as_finely_as_a_tape_reads(mm: float, metric: str, imperial: str) -> None:
    assert (Length.MM.text(mm), Length.INCH.text(mm)) == (metric, imperial)


def test_angles_are_written_with_one_decimal() -> None:
    assert degrees_text(12.345) == "12.3°"


# Values of the trade: cautious and generous figures in degrees, and the kind of source they come from.
@pytest.mark.parametrize(
    ("joint", "close", "angle"),
    [
        (Joint(kind=JointKind.ROD_END, spacers=Spacers.NONE), 5.5 * CLOSE_SHARE, 5.5),  # S measured
        (Joint(kind=JointKind.ROD_END, spacers=Spacers.PLAIN), 12.0 * CLOSE_SHARE, 12.0),  # S makers: about 12°
        (Joint(kind=JointKind.ROD_END, spacers=Spacers.HIGH_MISALIGNMENT), 30.0, 34.0),  # S makers: 30–34°
        (Joint(kind=JointKind.ROD_END), 12.0 * CLOSE_SHARE, 12.0),
        (Joint(kind=JointKind.BALL_JOINT), 20.0, 30.0),  # M ±20–30°
        (Joint(kind=JointKind.INLINE_BALL_JOINT), 20.0, 30.0),  # M the same
        (Joint(kind=JointKind.RUBBER_BUSH), 2.0, 5.0),  # P, M cocking 2–5°
        (Joint(kind=JointKind.POLY_BUSH), 2.0, 3.0),  # P about ±2–3°
    ],
)
def test_typical_limits_of_the_trade(joint: Joint, close: float, angle: float) -> None:
    limit = limits_of("a joint", joint).tilt
    assert limit is not None
    assert limit.typical
    assert limit.source.startswith("typical: ")
    # One product each.
    assert math.degrees(limit.angle) == pytest.approx(angle, rel=1e-14)
    assert math.degrees(limit.close) == pytest.approx(close, rel=1e-14)


def test_wind_up_of_rubber_is_typical_and_of_anything_else_unlimited() -> None:
    turn = plain_joint(JointKind.RUBBER_BUSH).turn
    assert turn is not None
    # P, M wind-up ±15–20° repeated, ±25–30° rarely: cautious 15°, generous 25°.
    assert (math.degrees(turn.close), math.degrees(turn.angle)) == pytest.approx((15.0, 25.0), rel=1e-14)
    for kind in JointKind:
        if kind is not JointKind.RUBBER_BUSH:
            assert plain_joint(kind).turn is None


def test_a_strut_mount_has_no_typical_limit() -> None:
    assert plain_joint(JointKind.STRUT_MOUNT).tilt is None


@pytest.mark.parametrize(
    ("kind", "key"),
    [
        (JointKind.ROD_END, "tilt"),
        (JointKind.STRUT_MOUNT, "tilt"),
        (JointKind.BALL_JOINT, "swing"),
        (JointKind.INLINE_BALL_JOINT, "swing"),
        (JointKind.RUBBER_BUSH, "cock"),
        (JointKind.POLY_BUSH, "cock"),
        (JointKind.PLAIN_SLEEVE, "cock"),
    ],
)
def test_a_given_limit_is_taken_with_its_source(kind: JointKind, key: str) -> None:
    limits = limits_of("a joint", Joint.model_validate({"kind": kind, key: 17.0, "source": "my bench"}))
    assert limits.tilt is not None
    assert (limits.tilt.typical, limits.tilt.source) == (False, "my bench")
    assert limits.tilt.angle == pytest.approx(math.radians(17.0), rel=1e-14)
    assert limits.tilt.close == pytest.approx(math.radians(17.0) * 0.9, rel=1e-14)
    nameless = limits_of("a joint", Joint.model_validate({"kind": kind, key: 17.0}))
    assert nameless.tilt is not None
    assert nameless.tilt.source == "the scene file"
