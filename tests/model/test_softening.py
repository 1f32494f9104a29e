"""Joints as springs: which rates a scene must give, what is offered where they are missing, and what they become."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from zoo import FOUR_LINKS, axle_scene, built, scene_data

from model.errors import SceneError
from model.softening import NEARLY_RIGID, soften
from model.spatial import unit

WHY = (
    'which is needed because "left lower link", "right lower link", "left upper link" and "right upper link" hold one '
    "part twice over and it moves by the give of its joints"
)


def _complaints(data: dict[str, Any]) -> tuple[str, ...]:
    with pytest.raises(SceneError) as caught:
        built(data)
    return caught.value.complaints


def _van(**rates: Any) -> dict[str, Any]:
    """The van's rear with other rates in its link bushes; None takes one away."""
    data = copy.deepcopy(scene_data("parcel_rear"))
    given = data["joint"]["link bush"]["rates"]
    given.update(rates)
    data["joint"]["link bush"]["rates"] = {key: value for key, value in given.items() if value is not None}
    return data


@pytest.mark.parametrize("key", ["radial", "axial", "turn", "cock"])
@pytest.mark.parametrize("value", [None, 0.0])
def test_rubber_needs_all_four_rates(key: str, value: float | None) -> None:
    assert _complaints(_van(**{key: value})) == (
        f'[joint."link bush"] has {"no" if value is None else "a zero for"} rates.{key}, {WHY}; give it the maker\'s '
        "rates, or to try first the typical rates = { radial = 5000, axial = 1000, turn = 1.5, cock = 6 } "
        "(N/mm and N·m per degree, from memory).",
    )


def test_one_sentence_for_each_joint_not_for_each_end() -> None:
    data = _van()
    del data["joint"]["link bush"]["rates"], data["joint"]["panhard bush"]["rates"]
    first, second = _complaints(data)
    assert first.startswith('[joint."link bush"] has no rates.radial, rates.axial, rates.turn and rates.cock, ')
    assert second.startswith('[joint."panhard bush"] has no rates.radial, ')


def test_what_is_offered_to_an_inch_scene_is_in_its_own_units() -> None:
    data = _van() | {"units": "in"}
    data["points"] = {name: [x / 25.4 for x in at] for name, at in data["points"].items()}
    data["wheel"]["wheel"] |= {"loaded_radius": 12.2, "width": 7.7, "rim_diameter": 15.7}
    data["coilover"]["coilover"] |= {"compressed": 15.0, "extended": 24.5, "bump_stop": 1.8, "body_diameter": 2.0}
    data["coilover"]["coilover"]["spring"] = {"rate": 160, "free_length": 16}
    data["frame"], data["travel"] = {}, {"bump": 3, "droop": 3}
    del data["joint"]["link bush"]["rates"]
    (said,) = _complaints(data)
    # 5000 N/mm = 28,550 lbf/in, 1000 N/mm = 5710 lbf/in; 1.5 N·m = 1.106 lbf·ft, 6 N·m = 4.43 lbf·ft.
    assert said.endswith(
        "rates = { radial = 29000, axial = 5700, turn = 1.1, cock = 4.4 } (lbf/in and lbf·ft per degree, from memory)."
    )


def test_a_plain_kind_has_no_rates_and_is_told_to_become_a_table() -> None:
    data = _van()
    data["link"]["panhard bar"]["from"]["joint"] = "poly bush"
    assert _complaints(data) == (
        f'"poly bush" is the joint of "panhard bar", at frame, and a plain kind has no rates, {WHY}; make a '
        '[joint.NAME] table with kind = "poly bush" and the maker\'s rates, or to try first the typical '
        "rates = { radial = 15000, axial = 5000, cock = 30 } (N/mm and N·m per degree, from memory), and name it "
        "there.",
    )


def test_poly_and_sleeves_turn_freely_unless_told_otherwise() -> None:
    data = _van()
    data["joint"]["poly"] = {"kind": "poly bush", "rates": {"radial": 15000, "axial": 5000, "cock": 30}}
    for end in ("from", "to"):
        data["link"]["panhard bar"][end]["joint"] = "poly"
    bar = [bushing for bushing in built(data).bushings if bushing.member == "panhard bar"]
    assert [(bushing.turn, bushing.radial) for bushing in bar] == [(0.0, 15000.0)] * 2
    assert bar[0].cock == pytest.approx(np.degrees(30e3), rel=1e-12)  # N·m for a degree in N·mm/rad


def test_rod_ends_are_nearly_rigid_springs_along_their_link() -> None:
    extra = {"second upper": ((400.0, 250.0, 440.0), (-10.0, 260.0, 430.0))}
    data = axle_scene(FOUR_LINKS | extra)
    mechanism = built(data)
    assert mechanism.bushings == ()
    assert [body.name for body in mechanism.bodies] == ["frame", "axle"]
    assert len(mechanism.elastic_links) == 5
    # The same in all directions, to rounding.
    assert all(
        rate == pytest.approx(NEARLY_RIGID, rel=1e-12) for link in mechanism.elastic_links for rate in link.rates
    )
    data["joint"] = {"soft": {"kind": "rod end", "rates": {"radial": 8000, "axial": 2000}}}
    data["link"]["panhard"]["from"] |= {"joint": "soft", "bolt": [0.0, 0.6, 0.8]}
    (bar,) = (link for link in built(data).elastic_links if link.member == "panhard")
    # D: pulled by 1 N along the bar at an angle a to the bolt, the eye gives cos² a / axial + sin² a / radial.
    along = np.array(FOUR_LINKS["panhard"][1]) - np.array(FOUR_LINKS["panhard"][0])
    share = (along @ [0.0, 0.6, 0.8]) ** 2 / (along @ along)
    assert bar.rates[0] == pytest.approx(1.0 / (share / 2000.0 + (1.0 - share) / 8000.0), rel=1e-12)
    data["joint"]["soft"]["rates"]["radial"] = 0
    (said,) = _complaints(data)
    assert said.startswith('[joint."soft"] has a zero for rates.radial, ')
    assert said.endswith("give it rates above zero, or leave them out.")


def test_a_link_that_nothing_keeps_from_spinning_is_named() -> None:
    data = _van()
    data["joint"]["sleeve"] = {"kind": "plain sleeve", "rates": {"radial": 3e4, "axial": 1e4, "cock": 100}}
    for end in ("from", "to"):
        data["link"]["panhard bar"][end] |= {"joint": "sleeve"}
    rigid = built(data).rigid
    assert rigid is not None
    # Both bolts along the bar, which a scene may not have: sleeves turn freely about it, and so does the bar.
    (bar,) = (link for link in rigid.links if link.name == "panhard bar")
    along = unit(bar.ends[1].at - bar.ends[0].at)
    spun = replace(bar, ends=(replace(bar.ends[0], bolt=along), replace(bar.ends[1], bolt=along)))
    links = tuple(spun if link is bar else link for link in rigid.links)
    with pytest.raises(SceneError) as caught:
        soften(replace(rigid, links=links))
    assert caught.value.complaints == (
        '"panhard bar" would spin freely, since no joint of it resists that motion; give one of its joints a turn or '
        "cock rate above zero.",
    )


def test_only_what_fights_is_softened() -> None:
    mechanism = built(scene_data("tarn_front"))
    members = {bushing.member for bushing in mechanism.bushings} | {k.member for k in mechanism.elastic_links}
    assert members == {"left radius arm", "right radius arm", "panhard bar", "drag link", "tie rod"}
    assert {row.member for row in mechanism.rows} == {"left wheel", "right wheel", "left knuckle", "right knuckle"}
    assert all(arm.body for arm in mechanism.arms)
    rigid = mechanism.rigid
    assert rigid is not None
    assert rigid.rigid is None
    assert not any(arm.body for arm in rigid.arms)
    assert mechanism.bodies[: len(rigid.bodies)] == rigid.bodies
