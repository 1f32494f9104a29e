"""Forces at joints against exudyn, a general multibody code: a static solve of rigid parts under the same loads.

The models are built from point coordinates alone: rigid links, arms on hinges, a strut that slides; each coilover is a
rigid link there, whose force is what it would have to push with; where links move by the give of their bushes, the
wheels are held at their heights. Only where the ground pushes and how hard is taken
from ours, and tested elsewhere. Forces agree to 1e-6 of the largest: exudyn stops at 1e-13 m, and a linkage turns so
small a shift into less than 1e-9 of a force.
"""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from exudyn_rig import MIRROR, Rig
from zoo import UP, bar_on_the_axle, built, scene_data

from model.forces import CaseLoads, loads_of
from model.mechanism import LoadCase, Mechanism
from model.members import posture
from model.spatial import Array, norm

AGREE = 1e-6
# What bushes hold is linear in the load here, at the geometry of the pose, and a whole solve there, where the axle has
# moved by some mm: they come together in proportion to the load.
LINEAR = 0.02
BRAKED_TURN = LoadCase("braking in a turn", vertical=(1.3, 0.7), brake=0.6, side=0.4)


def _points(data: dict[str, Any]) -> dict[str, Array]:
    return {name: np.array(at, dtype=float) for name, at in data["points"].items()}


def _side(name: str) -> Array:
    return MIRROR if name.startswith("right") else np.ones(3)


def _put_on(rig: Rig, bodies: dict[str, Any], mechanism: Mechanism, loads: CaseLoads) -> None:
    """Put the ground and the unsprung weight on the rig's bodies."""
    assert mechanism.weights is not None
    parts = posture(loads.poses).parts
    for wheel, ground in zip(mechanism.wheels, loads.ground, strict=True):
        carrier = parts[wheel.on]
        at_ride = carrier.rotation[0].T @ (ground.at - carrier.translation[0])  # where the body's own point is there
        rig.push(bodies[wheel.on], at_ride, ground.force)
        rig.push(bodies[wheel.on], wheel.centre, -mechanism.weights.unsprung * UP)


def _loaded(rig: Rig, bodies: dict[str, Any], mechanism: Mechanism, loads: CaseLoads) -> None:
    """Load the rig and solve it where it stands."""
    _put_on(rig, bodies, mechanism, loads)
    (places,) = rig.run(np.zeros((1, 0)), [(bodies[wheel.on], wheel.centre) for wheel in mechanism.wheels])
    # Where it stands elsewhere it is another linkage.
    parts = posture(loads.poses).parts
    ours = [parts[wheel.on].point(wheel.centre)[0] for wheel in mechanism.wheels]
    assert np.abs(places - ours).max() < 1e-6


def _agree(ours: dict[str, Array], theirs: dict[str, Array], share: float = AGREE) -> None:
    largest = max(float(np.abs(value).max()) for value in theirs.values())
    assert largest > 1000.0
    assert ours.keys() == theirs.keys()
    for name, value in theirs.items():
        assert np.abs(ours[name] - value).max() <= share * largest, name


def _force(loads: CaseLoads, member: str, on: str) -> Array:
    (force,) = [mount.force for mount in loads.mounts if (mount.member, mount.on) == (member, on)]
    return force


@pytest.mark.parametrize("name", ["wren_rear", "tarn_rear"])
def test_live_axle_on_four_links(name: str) -> None:
    data = scene_data(name)
    at, mechanism = _points(data), built(data)
    rig = Rig()
    axle = rig.body(np.array([0.0, 0.0, at["wheel_centre"][2]]))
    bars = {}
    for link in ("lower link", "upper link", "panhard bar", "coilover"):
        entry = data["link"].get(link) or data["coilover"].get(link)
        if entry is None:
            continue
        ends = [entry[key]["point"] for key in (("top", "bottom") if link == "coilover" else ("from", "to"))]
        for side, mirror in (("left ", np.ones(3)), ("right ", MIRROR)) if entry.get("mirror") else (("", np.ones(3)),):
            rig.bar(rig.ground, at[ends[0]] * mirror, axle, at[ends[1]] * mirror)
            bars[f"{side}{link}"] = len(bars)
    loads = loads_of(mechanism, BRAKED_TURN)
    _loaded(rig, {"axle": axle}, mechanism, loads)
    ours = {link.name: np.array(link.axial) for link in loads.links}
    ours |= {coilover.name: np.array(-coilover.needed) for coilover in loads.coilovers}
    _agree(ours, {bar: rig.tensions()[number] for bar, number in bars.items()})


def test_live_axle_that_carries_its_anti_roll_bar() -> None:
    # Built where it stands rolled: a half of the bar on either side, hinged on the axle, and the bar's moment on both.
    mechanism = built(bar_on_the_axle())
    loads = loads_of(mechanism, replace(BRAKED_TURN, at=(30.0, -30.0)))
    now = posture(loads.poses)
    rig = Rig()
    axle = rig.body(now.parts["axle"].point(mechanism.wheels[0].centre)[0])
    (bar,), (twisted,) = mechanism.bars, loads.bars
    axis = now.parts["axle"].rotation[0] @ bar.axis
    first, second = (now.parts["axle"].point(pivot.at)[0] for pivot in bar.pivots)
    on = {"frame": rig.ground, "axle": axle}
    arms = {arm.arm: arm.end[0] for arm in now.bar_arms}
    # The right arm less the left one is turned: the bar turns the left one on and the right one back.
    for arm, moment in zip(bar.arms, (twisted.moment, -twisted.moment), strict=True):
        on[arm] = rig.body(0.5 * (first + arms[arm]))
        rig.hinge(axle, on[arm], (first, second))
        beside = 50.0 * np.cross(axis, UP) / norm(np.cross(axis, UP))
        couple = np.cross(axis, beside) * moment / (2.0 * 50.0**2)
        rig.push(on[arm], first + beside, couple)
        rig.push(on[arm], first - beside, -couple)
    bars = {}
    ends = {link.name: link.ends for link in mechanism.links}
    ends |= {coilover.name: (coilover.top, coilover.bottom) for coilover in mechanism.coilovers}
    for name, both in ends.items():
        at = [arms[one.on] if one.on in arms else now.parts[one.on].point(one.at)[0] for one in both]
        rig.bar(on[both[0].on], at[0], on[both[1].on], at[1])
        bars[name] = len(bars)
    assert mechanism.weights is not None
    for wheel, ground in zip(mechanism.wheels, loads.ground, strict=True):
        rig.push(axle, ground.at, ground.force)
        rig.push(axle, now.parts["axle"].point(wheel.centre)[0], -mechanism.weights.unsprung * UP)
    list(rig.run(np.zeros((1, 0)), []))
    ours = {link.name: np.array(link.axial) for link in loads.links}
    ours |= {coilover.name: np.array(-coilover.needed) for coilover in loads.coilovers}
    assert abs(ours["left end link"]) > 500.0
    _agree(ours, {bar: rig.tensions()[number] for bar, number in bars.items()})


@pytest.mark.parametrize("height", [0.0, 40.0, -40.0])
def test_arms_with_a_coilover_on_the_lower_one(height: float) -> None:
    data = scene_data("wren_front")
    at, mechanism = _points(data), built(data)
    loads = loads_of(mechanism, replace(BRAKED_TURN, at=(height, height)))
    length = {coilover.name: coilover.length for coilover in loads.coilovers}
    rig = Rig()
    bodies, bars, balls = {}, [], []
    for side, mirror in (("left", np.ones(3)), ("right", MIRROR)):
        upright = bodies[f"{side} upright"] = rig.body(at["wheel_centre"] * mirror)
        arms = {}
        for which in ("lower", "upper"):
            pivots = (at[f"{which}_front_pivot"] * mirror, at[f"{which}_rear_pivot"] * mirror)
            arms[which] = rig.arm(pivots, at[f"{which}_ball"] * mirror, upright)
            balls.append((f"{side} {which} arm", f"{side} upright"))
        rig.bar(rig.ground, at["rack_end"] * mirror, upright, at["tie_rod_outer"] * mirror)
        ends = (at["coilover_top"] * mirror, arms["lower"], at["coilover_foot"] * mirror)
        rig.bar(rig.ground, *ends, length=length[f"{side} coilover"])
        bars += [f"{side} tie rod", f"{side} coilover"]
    _loaded(rig, bodies, mechanism, loads)
    axial = {link.name: np.array(link.axial) for link in loads.links}
    axial |= {coilover.name: np.array(-coilover.needed) for coilover in loads.coilovers}
    _agree({bar: axial[bar] for bar in bars}, dict(zip(bars, rig.tensions(), strict=True)))
    ours = {member: _force(loads, member, on) for member, on in balls}
    _agree(ours, {member: force for (member, _), force in zip(balls, rig.at_balls(), strict=True)})


def test_struts_with_lower_arms() -> None:
    data = scene_data("parcel_front")
    at, mechanism = _points(data), built(data)
    rig = Rig()
    bodies, balls, bars = {}, [], []
    for side, mirror in (("left", np.ones(3)), ("right", MIRROR)):
        knuckle = bodies[f"{side} knuckle"] = rig.body(at["wheel_centre"] * mirror)
        rig.arm((at["arm_front_pivot"] * mirror, at["arm_rear_pivot"] * mirror), at["lower_ball"] * mirror, knuckle)
        shaft = rig.body(at["strut_top"] * mirror)
        rig.slide(knuckle, shaft, (at["strut_foot"] * mirror, at["strut_top"] * mirror))
        rig.ball(shaft, rig.ground, at["strut_top"] * mirror)
        balls += [(f"{side} lower arm", f"{side} knuckle"), (f"{side} strut", "frame")]
        rig.bar(rig.ground, at["rack_end"] * mirror, knuckle, at["tie_rod_outer"] * mirror)
        # The spring stands between the knuckle and the shaft.
        rig.bar(shaft, at["strut_top"] * mirror, knuckle, at["strut_foot"] * mirror)
        bars += [f"{side} tie rod", f"{side} strut"]
    loads = loads_of(mechanism, BRAKED_TURN)
    _loaded(rig, bodies, mechanism, loads)
    axial = {link.name: np.array(link.axial) for link in loads.links}
    axial |= {coilover.name: np.array(-coilover.needed) for coilover in loads.coilovers}
    _agree({bar: axial[bar] for bar in bars}, dict(zip(bars, rig.tensions(), strict=True)))
    ours = {member: _force(loads, member, on) for member, on in balls}
    _agree(ours, {member: force for (member, _), force in zip(balls, rig.at_balls(), strict=True)})


@pytest.mark.parametrize("share", [1.0, 0.1])
def test_links_that_move_by_the_give_of_their_bushes(share: float) -> None:
    data = copy.deepcopy(scene_data("parcel_rear"))
    data["weights"] = {key: share * value for key, value in data["weights"].items()}
    at, mechanism = _points(data), built(data)
    rig = Rig()
    axle = rig.body(np.array([0.0, 0.0, at["wheel_centre"][2]]))
    bodies: dict[str, Any] = {"frame": rig.ground, "axle": axle}
    for bushing in mechanism.bushings:
        if bushing.member not in bodies:
            others = [other.end.at for other in mechanism.bushings if other.member == bushing.member]
            bodies[bushing.member] = rig.body(np.mean(others, axis=0))
        rates = data["joint"][bushing.end.joint.name]["rates"]
        rig.bush(bodies[bushing.end.on], bodies[bushing.member], bushing.end.at, bushing.end.bolt, rates)
    loads = loads_of(mechanism, BRAKED_TURN)
    _put_on(rig, {"axle": axle}, mechanism, loads)
    # The coilovers push as hard as ours would have to; what holds the wheels at their heights then has nothing to do.
    for coilover in loads.coilovers:
        rig.push(axle, at["coilover_foot"] * _side(coilover.name), _force(loads, coilover.name, "axle"))
    for mirror in (np.ones(3), MIRROR):
        rig.height(axle, at["wheel_centre"] * mirror)
    list(rig.run(np.zeros((1, 2)), [(axle, at["wheel_centre"])]))
    assert np.abs(rig.holding()).max() <= share * LINEAR * max(coilover.needed for coilover in loads.coilovers)
    force = {(mount.member, mount.place): float(norm(mount.force)) for mount in loads.mounts}
    ours = np.array([force[bushing.member, bushing.end.place] for bushing in mechanism.bushings])
    bushes = np.linalg.norm(rig.strained()[1], axis=1)
    assert np.abs(ours - bushes).max() <= share * LINEAR * bushes.max()
