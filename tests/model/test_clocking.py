"""Better clocks against brute force, by hand, and on both sides of a mirrored bar."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from zoo import NAMES, built, end, parallel_arms, scene_data, travel_of

from model.clocking import WORTH, BetterClock, better_clocks
from model.errors import SceneError
from model.mechanism import Mechanism
from model.members import posture
from model.poses import Poses
from model.solver import solve
from model.travel import grid

HEIGHTS = np.array([-90.0, -45.0, 0.0, 30.0, 90.0])
# The search's last sweep goes in steps of 0.02°.
STEP = np.radians(0.02)


def _bolted(first: Any, second: Any, clock: float = 0.0, kinds: tuple[str, str] = ("rod end", "rod end")) -> Poses:
    data = parallel_arms()
    rod = data["link"]["tie rod"]
    rod["from"], rod["to"] = end("rod inner", "frame", first, kinds[0]), end("rod outer", "knuckle", second, kinds[1])
    rod["clock"] = clock
    mechanism = built(data)
    return solve(mechanism, travel_of(mechanism, HEIGHTS))


def test_heads_at_right_angles_to_their_bolts_are_better_clocked_by_a_quarter_turn() -> None:
    # D: the bar lies across, its bolts up and along: seen from the first end along the bar, to the left, up turns into
    # along (ahead) clockwise by 90°. With level bar and no travel that leaves no tilt at all.
    data = parallel_arms()
    rod = data["link"]["tie rod"]
    rod["from"], rod["to"] = end("rod inner", "frame", "up"), end("rod outer", "knuckle", "along")
    mechanism = built(data)
    (found,) = better_clocks(solve(mechanism, travel_of(mechanism, np.zeros(1))))
    assert (found.link, found.now) == ("tie rod", 0.0)
    assert abs(found.better) == pytest.approx(np.pi / 2.0, abs=STEP)
    # Each end was 45° off, of typically 12°.
    assert found.share_now == pytest.approx(45.0 / 12.0, rel=1e-9)
    assert found.share_then < 1e-3
    assert found.given_back == pytest.approx(np.pi / 4.0, abs=STEP)


@pytest.mark.parametrize("angle", [-70.0, -25.0, 10.0, 40.0])
def test_positive_is_clockwise_as_seen_from_the_first_end(angle: float) -> None:
    # The bar runs to the left, so that one who looks along it from its first end has the front on the right hand, and
    # clockwise goes from up to the front: a bolt that leans forward by an angle wants that clock.
    lean = np.radians(angle)
    poses = _bolted("up", [float(np.sin(lean)), 0.0, float(np.cos(lean))])
    (found,) = better_clocks(poses.take(np.array([2])))
    assert found.better == pytest.approx(lean, abs=STEP)
    # Clocked so, nothing is left to be had.
    again = _bolted("up", [float(np.sin(lean)), 0.0, float(np.cos(lean))], angle)
    assert max(joint.tilt[2] for joint in posture(again).joints if joint.member == "tie rod") < 1e-9
    assert better_clocks(again.take(np.array([2]))) == ()


def _worst(first: Any, second: Any, clock: float, kinds: tuple[str, str]) -> float:
    """Largest share of its limit at either end over all poses of a bar that is built with this clock (degrees)."""
    joints = [joint for joint in posture(_bolted(first, second, clock, kinds)).joints if joint.member == "tie rod"]
    return max(float(joint.tilt.max()) / joint.end.joint.tilt.angle for joint in joints if joint.end.joint.tilt)


# No bolt lies within 30° of its bar, which runs across.
DIRECTION = st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: np.hypot(v[0], v[2]) > max(0.1, 0.7 * abs(v[1])))
DIRECTION = DIRECTION.map(list)


@pytest.mark.slow
@pytest.mark.parametrize("kinds", [("rod end", "rod end"), ("rod end", "poly bush"), ("poly bush", "rod end")])
@given(first=DIRECTION, second=DIRECTION)
@settings(max_examples=10, deadline=None)
def test_no_clock_tried_by_brute_force_is_better(
    kinds: tuple[str, str], first: list[float], second: list[float]
) -> None:
    found = better_clocks(_bolted(first, second, 0.0, kinds))
    assume(found)
    (clock,) = found
    tried = {degrees: _worst(first, second, float(degrees), kinds) for degrees in range(-90, 90, 3)}
    assert clock.share_now == pytest.approx(tried[0], rel=1e-9)
    assert clock.share_then == pytest.approx(_worst(first, second, np.degrees(clock.better), kinds), rel=1e-6)
    # A step of 0.02° changes no tilt by more, over limits of 3° and more.
    assert clock.share_then <= min(tried.values()) + 0.02 / 3.0


def test_of_clocks_that_are_as_good_the_nearest_is_kept() -> None:
    # D: the first bolt leans 30° along the bar, which no spin can better; so the second head is as well off anywhere
    # within 30° of its own best clock, a quarter turn clockwise from where it stands: from 60° to 120°.
    poses = _bolted([0.0, 0.5, 0.75**0.5], "along").take(np.array([2]))
    (found,) = better_clocks(poses)
    assert np.degrees(found.better) == pytest.approx(60.0, abs=0.5)
    assert found.share_then == pytest.approx(30.0 / 12.0, rel=1e-3)


@pytest.mark.parametrize(("limits", "place"), [((8.0, 15.0), "at knuckle"), ((15.0, 8.0), "at frame")])
def test_what_is_given_back_is_that_of_the_end_that_gets_more(limits: tuple[float, float], place: str) -> None:
    # Both ends are as badly off, as shares of unlike limits: in degrees the wider one has more to get back.
    data = parallel_arms()
    data["joint"] = {
        name: {"kind": "rod end", "tilt": limit} for name, limit in zip(("one", "two"), limits, strict=True)
    }
    rod = data["link"]["tie rod"]
    rod["from"] = end("rod inner", "frame", [-0.6, -0.1, -0.1], "one")
    rod["to"] = end("rod outer", "knuckle", [0.1, 0.0, 0.2], "two")

    def tilts(clock: float) -> list[float]:
        rod["clock"] = clock
        mechanism = built(data)
        poses = solve(mechanism, travel_of(mechanism, HEIGHTS))
        found.extend(better_clocks(poses) if clock == 0.0 else ())
        return [float(joint.tilt.max()) for joint in posture(poses).joints if joint.member == "tie rod"]

    found: list[BetterClock] = []
    now = tilts(0.0)
    (clock,) = found
    then = tilts(float(np.degrees(clock.better)))
    back = {"at frame": now[0] - then[0], "at knuckle": now[1] - then[1]}
    assert clock.place == place == max(back, key=lambda name: back[name])
    assert clock.given_back == pytest.approx(back[place], abs=STEP)


def _tilted_link(clock: float) -> tuple[Mechanism, tuple[BetterClock, ...]]:
    data = scene_data("wren_rear")
    data["link"]["lower link"]["clock"] = clock
    mechanism = built(data)
    return mechanism, better_clocks(solve(mechanism, grid(mechanism, 7)))


def test_a_mirrored_bar_is_the_mirror_image_clock_and_all() -> None:
    mechanism, found = _tilted_link(25.0)
    clocks = {link.name: np.degrees(link.clock) for link in mechanism.links}
    assert (clocks["left lower link"], clocks["right lower link"]) == pytest.approx((25.0, -25.0), rel=1e-14)
    back = {clock.link: clock for clock in found}
    assert set(back) == {"left lower link", "right lower link"}
    left, right = back["left lower link"], back["right lower link"]
    assert (left.now, right.now) == pytest.approx((np.radians(25.0), np.radians(-25.0)), rel=1e-14)
    # The rest of the axle is not symmetric, so that the two are alike and not equal: within a degree or two.
    assert left.better == pytest.approx(-right.better, abs=np.radians(2.0))
    assert left.share_now == pytest.approx(right.share_now, rel=0.02)
    for clock in (left, right):
        assert clock.share_then < clock.share_now
        assert clock.given_back > WORTH


def test_heads_are_symmetric_so_that_half_a_turn_changes_nothing() -> None:
    _, found = _tilted_link(25.0)
    _, turned = _tilted_link(205.0)
    for one, other in zip(found, turned, strict=True):
        assert one.now == pytest.approx(other.now, abs=1e-12)
        assert one.share_now == pytest.approx(other.share_now, rel=1e-9)
        assert one.better == pytest.approx(other.better, abs=STEP)


@pytest.mark.parametrize("name", NAMES)
def test_what_is_given_back_is_worth_the_spanner(name: str) -> None:
    mechanism = built(scene_data(name))
    for clock in better_clocks(solve(mechanism, grid(mechanism, 5, 3))):
        assert clock.given_back >= WORTH
        assert clock.share_then < clock.share_now


@pytest.mark.parametrize(
    ("first", "second", "kinds"),
    [
        ("poly bush", "rubber bush", "poly bush and rubber bush"),
        ("inline ball joint", "rod end", "inline ball joint and rod end"),
        ("plain sleeve", "plain sleeve", "plain sleeve and plain sleeve"),
    ],
)
def test_a_clock_without_two_heads_is_one_sentence(first: str, second: str, kinds: str) -> None:
    with pytest.raises(SceneError) as raised:
        _bolted("along", "along", 30.0, (first, second))
    assert raised.value.complaints == (
        f'[link."tie rod"] has a clock of 30 degrees, but its ends are {kinds}: only a rod end or ball joint that is '
        "screwed in can be turned against another head; leave clock out or correct the joints.",
    )


@pytest.mark.parametrize("kinds", [("poly bush", "rod end"), ("ball joint", "poly bush"), ("ball joint", "rod end")])
def test_one_screwed_in_head_against_any_other_can_be_clocked(kinds: tuple[str, str]) -> None:
    assert len(_bolted("along", "along", 30.0, kinds)) == len(HEIGHTS)


def test_of_a_great_many_poses_an_even_choice_says_nearly_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    mechanism = built(scene_data("wren_rear") | {"link": _clocked_links()})
    poses = solve(mechanism, grid(mechanism, 15))
    whole = better_clocks(poses)
    monkeypatch.setattr("model.clocking.CHUNK", 40)
    few = better_clocks(poses)
    assert [clock.link for clock in few] == [clock.link for clock in whole]
    for one, other in zip(whole, few, strict=True):
        # The corners of the travel are always looked at, and the worst poses are there.
        assert one.share_now == pytest.approx(other.share_now, rel=0.01)
        assert one.given_back == pytest.approx(other.given_back, abs=np.radians(0.2))
    assert better_clocks(poses.take(np.arange(0))) == ()


def _clocked_links() -> dict[str, Any]:
    links = scene_data("wren_rear")["link"]
    links["lower link"]["clock"] = 25.0
    return dict(links)
