"""Cones as meshes: their half angle, a whole rim for a given limit, a dashed one for a typical limit."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from model.cones import Cone
from model.measures import Quantity
from model.spatial import unit
from model.verdicts import Finding, State, Verdict
from viz.cones import DASHES, cone_mesh, pin_mesh, rim_mesh
from viz.still import coned_finding


def cone(half_angle: float, *, typical: bool = False, both_ways: bool = True) -> Cone:
    axis = unit(np.array([0.2, 1.0, -0.3]))
    at = np.array([10.0, -20.0, 30.0])
    return Cone("link, at axle", "axle", at, axis, "link", axis, half_angle, typical, 80.0, both_ways)


@pytest.mark.parametrize("half_angle", np.radians([4.0, 15.0, 34.0]))
@pytest.mark.parametrize("both_ways", [True, False])
def test_a_cone_opens_by_its_limit(half_angle: float, both_ways: bool) -> None:
    made = cone(half_angle, both_ways=both_ways)
    offset = cone_mesh(made).points - made.apex
    rim = offset[np.linalg.norm(offset, axis=1) > 1.0]
    assert np.linalg.norm(rim, axis=1) == pytest.approx(made.length)
    angle = np.arccos(np.clip(unit(rim) @ made.axis, -1.0, 1.0))
    assert np.minimum(angle, np.pi - angle) == pytest.approx(half_angle)
    assert ((rim @ made.axis).min() < 0.0) == both_ways


def test_a_typical_limit_has_a_dashed_rim() -> None:
    for typical, pieces in ((True, DASHES), (False, 2)):
        mesh = rim_mesh(cone(0.3, typical=typical, both_ways=False))
        assert len(trimesh.Trimesh(mesh.points, mesh.faces).split(only_watertight=False)) == pieces


def test_a_pin_is_longer_than_its_cone() -> None:
    made = cone(0.3)
    reach = (pin_mesh(made).points - made.apex) @ made.needle
    assert reach.max() > made.length
    assert reach.min() < -made.length


def found(what: str, where: str, state: State) -> Finding:
    return Finding(what, where, where, state, Quantity.ANGLE, 0.3, 0.25, False, "", 0, (), (0.0, 0.0, 0.0))


def test_one_cone_at_most_is_shown() -> None:
    findings = (
        found("room to spin", "upper link", State.OVER),
        found("tilt", "upper link, at axle", State.OVER),
        found("swing", "lower arm, at upright", State.CLEAR),
    )
    verdict = Verdict(State.OVER, findings[1:], 1, 0)
    assert coned_finding(verdict, None) is findings[1]
    assert coned_finding(verdict, "lower arm, at upright") is findings[2]
    assert coned_finding(verdict, "upper link") is None
    assert coned_finding(Verdict(State.CLEAR, findings[2:], 1, 0), None) is None
    # A worst finding that no cone shows brings none of another joint's.
    assert coned_finding(Verdict(State.OVER, findings, 1, 0), None) is None
