"""Variants: what they come to is what the same scene written out by hand comes to; mistakes are told where they stand.

All expectations follow from the definition of a variant in docs/scene-file.md (D).
"""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from zoo import SCENES, scene_data

from model.assembly import assemble
from model.errors import CallError, SceneError
from model.reading import read_scene, scene_from
from model.scene import Scene
from model.sceneschema import scene_schema
from model.variants import AS_WRITTEN, told

FILE = SCENES / "tarn_rear.toml"
# What a variant may hold, and what stands in it.
KEYS = [
    "of",
    "remove",
    "title",
    "units",
    "variant",
    *Scene.model_fields,
    "coilover_foot",
    "axle",
    "bottom",
    "on",
    "point",
]


def with_variants(**variants: Any) -> dict[str, Any]:
    return scene_data("tarn_rear") | {"variant": variants}


def apart(scene: Scene) -> dict[str, Any]:
    """What a scene holds, without its title and its variants."""
    return {key: value for key, value in scene.model_dump().items() if key not in ("title", "variant")}


def complaints(**variants: Any) -> list[str]:
    with pytest.raises(SceneError) as raised:
        scene_from(with_variants(**variants), FILE)
    return [complaint.removeprefix(f"{FILE}: ") for complaint in raised.value.complaints]


def test_a_variant_is_the_scene_with_the_same_changes_written_into_it() -> None:
    changes = {
        "points": {"coilover_foot": [-150, 560, 400], "new_foot": [100, 500, 350]},
        "coilover": {"coilover": {"bottom": {"bolt": "along", "point": "new_foot"}, "spring": {"rate": 20}}},
        "joint": {"new eye": {"kind": "rod end", "tilt": 12}},
        "travel": {"bump": 150},
    }
    written = copy.deepcopy(scene_data("tarn_rear"))
    written["points"] |= changes["points"]
    written["coilover"]["coilover"]["bottom"] |= {"bolt": "along", "point": "new_foot"}
    written["coilover"]["coilover"]["spring"]["rate"] = 20
    written["joint"]["new eye"] = {"kind": "rod end", "tilt": 12}
    written["travel"]["bump"] = 150
    data = with_variants(high=changes)
    before = copy.deepcopy(data)
    variant = scene_from(data, FILE, "high")
    assert data == before
    assert apart(variant) == apart(scene_from(written, FILE))
    assert variant.title == f"{written['title']}: high"


def test_without_a_variant_and_as_written_the_scene_is_as_written() -> None:
    data = with_variants(high={"travel": {"bump": 150}})
    plain = scene_from(scene_data("tarn_rear"), FILE)
    for variant in (None, AS_WRITTEN):
        scene = scene_from(data, FILE, variant)
        assert (scene.title, apart(scene)) == (plain.title, apart(plain))


def test_a_variant_builds_on_another_and_may_have_a_title_of_its_own() -> None:
    data = with_variants(
        soft={"of": "high", "title": "Soft", "coilover": {"coilover": {"spring": {"rate": 10}}}},
        high={"travel": {"bump": 150}, "coilover": {"coilover": {"spring": {"rate": 20, "preload": 5}}}},
    )
    scene = scene_from(data, FILE, "soft")
    spring = scene.coilover["coilover"].spring
    assert spring is not None
    assert (scene.title, scene.travel.bump, spring.rate, spring.preload) == ("Soft", 150, 10, 5)


def test_entries_and_keys_are_taken_out_before_new_ones_come_in() -> None:
    data = with_variants(bare={"remove": ["shaft.propshaft", "coilover.coilover.bump_stop", "weights"]})
    scene = scene_from(data, FILE, "bare")
    assert (scene.shaft, scene.coilover["coilover"].bump_stop, scene.weights) == ({}, None, None)
    fresh = with_variants(fresh={"remove": ["joint.coilover eye"], "joint": {"coilover eye": {"kind": "rubber bush"}}})
    assert scene_from(fresh, FILE, "fresh").joint["coilover eye"].model_fields_set == {"kind"}


def test_an_entry_whose_name_has_dots_can_be_taken_out() -> None:
    data = with_variants(bare={"remove": ["strap.a.b"]})
    data["strap"] = {
        "a.b": {
            "from": {"point": "rail_arch", "on": "frame"},
            "to": {"point": "wheel_centre", "on": "axle"},
            "length": 700,
        }
    }
    assert scene_from(data, FILE, "bare").strap == {}


@pytest.mark.parametrize(
    ("variant", "sentence"),
    [
        ({}, '[variant."v"] changes nothing of the scene as written; write what is different, or take it out.'),
        (
            {"travel": {"bump": 200}},
            '[variant."v"] changes nothing of the scene as written; write what is different, or take it out.',
        ),
        ({"units": "in"}, '[variant."v"] has units, which are those of the whole file; take them out.'),
        ({"linc": {}}, '[variant."v"] has the unknown table or key "linc"; did you mean "link"?'),
        ({"points": 3}, '[variant."v"] points is no table; write [variant."v".points] and what is different under it.'),
        (
            {"points": {"coilover_fot": [1, 2, 3]}},
            '[variant."v".points] coilover_fot is a new point that nothing names; did you mean "coilover_foot"?',
        ),
        (
            {"points": {"coilover_foot": [1, 2]}},
            '[variant."v".points] coilover_foot is [1, 2], has 2 numbers, expected three, [x, y, z]; correct it.',
        ),
        (
            {"coilover": {"coilover": {"bottom": {"onn": "axle"}}}},
            '[variant."v".coilover."coilover"] bottom has the unknown key "onn"; did you mean "on"?',
        ),
        (
            {"coilover": {"coilovr": {"compressed": 300}}},
            '[variant."v".coilover."coilovr"] is new and has no top and no bottom and no extended; '
            'did you mean "coilover"?',
        ),
        (
            {"remove": ["link.uper link"]},
            '[variant."v"] remove names "link.uper link", which is nothing that can be taken out of the scene as '
            'written; did you mean "link.upper link"?',
        ),
        ({"remove": ["travel"]}, 'with [variant."v"], the file has no [travel], which it needs; add it.'),
        ({"of": "w"}, '[variant."v"] of is "w", which is no variant of this scene; write that variant too.'),
        ({"of": "v"}, '[variant."v"] builds on itself; leave "of" out.'),
        (
            {"of": "as written"},
            '[variant."v"] of is "as written", which every variant builds on that names no other; leave "of" out.',
        ),
        (
            {"variant": {"w": {}}},
            '[variant."v".variant] is a variant in a variant; write it beside the other one, with of = "v".',
        ),
    ],
)
def test_a_mistake_in_a_variant_is_told_where_it_stands(variant: dict[str, Any], sentence: str) -> None:
    assert complaints(v=variant) == [sentence]


def test_a_circle_of_variants_is_told_once_from_wherever_it_is_entered() -> None:
    told = complaints(c={"of": "b"}, b={"of": "a"}, a={"of": "b"}, d={"of": "lost"}, e={"of": "d"})
    assert told == [
        '[variant."a"] builds on "b", which builds on "a"; take "of" out of the one that builds on the scene as '
        "written.",
        '[variant."d"] of is "lost", which is no variant of this scene; choose one of c, b, a, e.',
    ]


def test_a_misspelt_variant_is_told_beside_the_mistakes_of_the_others(tmp_path: Path) -> None:
    path = tmp_path / "scene.toml"
    text = (SCENES / "wren_rear.toml").read_text(encoding="utf-8")
    path.write_text(f'{text}\n[variant.soft]\nof = "sof"\n\n[variant.low]\ntitle = "Low"\n', encoding="utf-8")
    with pytest.raises(SceneError) as caught:
        read_scene(path, "lw")
    assert caught.value.complaints[1:] == (f'{path} has no variant "lw"; did you mean "low"?',)


def test_no_variant_has_the_name_of_the_scene_without_any() -> None:
    assert complaints(**{AS_WRITTEN: {"travel": {"bump": 150}}}) == [
        '[variant."as written"] has the name by which the scene without a variant is asked for; give it another name.'
    ]


def test_mistakes_of_a_variant_that_others_build_on_are_told_once() -> None:
    found = complaints(a={"travel": {"bump": -1}}, b={"of": "a", "travel": {"droop": -1}})
    assert found == [
        '[variant."a".travel] bump is -1, expected more than 0; correct it.',
        '[variant."b".travel] droop is -1, expected more than 0; correct it.',
    ]


def test_mistakes_in_names_are_told_of_the_variant_that_wrote_them() -> None:
    variants = {
        "a": {"coilover": {"coilover": {"bottom": {"on": "axlee"}}}},
        "b": {"of": "a", "travel": {"bump": 150}},
        "c": {"remove": ["axle.axle"], "travel": {"bump": 150}},
    }
    data = with_variants(**variants)
    scene = scene_from(data, FILE, "b")
    with pytest.raises(SceneError) as raised:
        assemble(scene)
    sentences = told(raised.value.complaints, scene.variant, "b")
    assert [each.partition(" is ")[0] for each in sentences] == ['[variant."a".coilover."coilover"] bottom.on']
    scene = scene_from(data, FILE, "c")
    with pytest.raises(SceneError) as raised:
        assemble(scene)
    sentences = told(raised.value.complaints, scene.variant, "c")
    assert all(each.startswith('with [variant."c"], ') for each in sentences)
    assert any('[link."upper link"] to.on is "axle"' in each for each in sentences)


def test_the_scene_as_written_must_stand_on_its_own() -> None:
    data = with_variants(v={"travel": {"bump": 150}})
    del data["travel"]["bump"]
    with pytest.raises(SceneError, match=r"\[travel\] has no bump"):
        scene_from(data, FILE, "v")


def test_an_unknown_variant_is_told_with_the_nearest() -> None:
    data = with_variants(**{"on the axle": {"travel": {"bump": 150}}})
    with pytest.raises(CallError, match=r'has no variant "on axle"; did you mean "on the axle"'):
        scene_from(data, FILE, "on axle")
    with pytest.raises(CallError, match=r'nor any other; write \[variant."x"\] into it'):
        scene_from(scene_data("wren_rear"), Path("wren.toml"), "x")


@pytest.mark.parametrize(
    ("variant", "right"),
    [
        ({"coilover": {"coilover": {"bottom": {"on": "axle"}}}, "remove": ["strap.x"], "of": "w"}, True),
        ({"travel": {"bump": 150}, "points": {"p": [1, 2, 3]}}, True),
        ({"points": {"p": [1, 2]}}, False),
        ({"coilover": {"coilover": {"bottom": {"onn": "axle"}}}}, False),
        ({"units": "in"}, False),
        ({"arm": {"a": {"pivots": [{"point": "p"}, {"point": "q", "joint": "rod end"}]}}}, False),
    ],
)
def test_the_schema_knows_a_variant(variant: dict[str, Any], right: bool) -> None:
    schema = scene_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    assert jsonschema.Draft202012Validator(schema).is_valid(with_variants(v=variant)) == right


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(KEYS) | st.text(max_size=8), inner),
    max_leaves=8,
)


@settings(max_examples=150, deadline=None)
@given(
    st.dictionaries(st.sampled_from(["v", "w"]), st.dictionaries(st.sampled_from(KEYS), JUNK, max_size=4), min_size=1)
)
def test_no_variant_makes_reading_fail_without_a_sentence(variants: dict[str, Any]) -> None:
    sentences: tuple[str, ...] = ()
    try:
        scene_from(with_variants(**variants), FILE, "v")
    except (SceneError, CallError) as error:
        sentences = error.complaints
    assert all(sentence.endswith((".", "?")) for sentence in sentences)
