"""Variants: every combination and the named ones, each checked again, each with a name of its own."""

import pytest

from kit.errors import InputError
from kit.study.resolving import load_study
from kit.study.variants import MOST_VARIANTS
from tests.study.files import SMALL, written

FOUR = """
variants:
  vary:
    material: [steel-S235, aluminium-6060-T66]
    load_cases.bending.span: [600 mm, 0.9 m]
  named:
    - {name: as cut, set: {preparation.cutter_radius: 3 mm}}
"""


def study_of(tmp_path, more=""):
    return load_study(written(tmp_path, SMALL + more))


def refusal(tmp_path, more) -> str:
    with pytest.raises(InputError) as caught:
        study_of(tmp_path, more)
    return " ".join(str(caught.value).split())


def test_a_study_that_varies_nothing_has_one_variant(tmp_path):
    (variant,) = study_of(tmp_path).variants
    assert (variant.name, variant.slug, variant.values) == ("as given", "as-given", ())


def test_every_combination_and_the_named_ones(tmp_path):
    variants = study_of(tmp_path, FOUR).variants
    assert [v.name for v in variants] == [
        "steel-S235, bending span 600 mm",
        "steel-S235, bending span 0.9 m",
        "aluminium-6060-T66, bending span 600 mm",
        "aluminium-6060-T66, bending span 0.9 m",
        "as cut",
    ]
    assert [v.cases[0].span_mm for v in variants] == [600.0, 900.0, 600.0, 900.0, 900.0]
    assert [v.making.cutter_radius_mm for v in variants] == [0.0, 0.0, 0.0, 0.0, 3.0]


def test_slugs_are_file_names_and_each_is_there_once(tmp_path):
    long = "a" * 59
    more = f"""
variants:
  named:
    - {{name: "ÄRGER + x/y", set: {{preparation.cutter_radius: 1 mm}}}}
    - {{name: "arger x y", set: {{preparation.cutter_radius: 2 mm}}}}
    - {{name: "木", set: {{preparation.cutter_radius: 3 mm}}}}
    - {{name: {long}b, set: {{preparation.cutter_radius: 4 mm}}}}
    - {{name: {long}B, set: {{preparation.cutter_radius: 5 mm}}}}
"""
    slugs = [v.slug for v in study_of(tmp_path, more).variants]
    assert slugs[:3] == ["arger-x-y", "arger-x-y-2", "variant-3"]
    assert len(set(slugs)) == 5
    assert all(s.isascii() and s == s.casefold() and "/" not in s for s in slugs)


def test_whole_mappings_can_be_varied(tmp_path):
    more = "variants: {vary: {preparation.fit: [{envelope: [50 mm, 60 mm]}, {area: 9 cm2}]}}"
    variants = study_of(tmp_path, more).variants
    assert [v.making.fit for v in variants] == [("envelope", (50.0, 60.0)), ("area", (900.0,))]
    assert variants[0].name == "fit envelope 50 mm × 60 mm"


def test_a_key_the_file_leaves_out_can_be_varied(tmp_path):
    more = "variants: {vary: {service.duration: [1 hour, 10 years]}}"
    assert [v.service.duration for v in study_of(tmp_path, more).variants] == ["1 hours", "10 years"]


@pytest.mark.parametrize(
    ("vary", "place", "said"),
    [
        ("load_cases.bending.span: [600 mm, 900]", "variants.vary.load_cases.bending.span[1] (line 12)", "unit is missing"),
        ("load_cases.bending.spam: [600 mm]", "variants.vary.load_cases.bending.spam[0]", "did you mean 'span'?"),
        ("load_cases.beam.span: [600 mm]", "variants.vary.load_cases.beam.span[0]", "names: bending, torsion"),
        ("preparaton.fit: [1]", "variants.vary.preparaton.fit[0]", "did you mean 'preparation'?"),
        ("title: [a, b]", "variants.vary.title[0]", "cannot be varied"),
        ("material: [steel-S23]", "variants.vary.material[0]", "did you mean 'steel-S235'?"),
        ("material: []", "variants.vary.material", "the list is empty"),
        ("material: steel-S235", "variants.vary.material", "a list"),
        ("load_cases.bending.span: [600 mm, 60 cm]", "variants", "sets the same values as"),
        ("load_cases.bending.span: [200 mm]", "load_cases.bending", "300 mm apart on a span of 200 mm"),
    ],
)  # fmt: skip
def test_a_varied_value_is_refused_where_it_stands(tmp_path, vary, place, said):
    message = refusal(tmp_path, f"variants: {{vary: {{{vary}}}}}")
    assert place in message
    assert said in message


def test_a_named_variant_is_refused_where_it_stands(tmp_path):
    message = refusal(tmp_path, "variants: {named: [{name: a, set: {preparation.cutter_radius: -1 mm}}]}")
    assert "variants.named[0].set.preparation.cutter_radius" in message
    assert "at least 0 mm" in message


def test_values_that_only_fit_together_are_judged_as_combinations(tmp_path):
    named = "{name: short, set: {load_cases.bending.span: 200 mm, load_cases.bending.load_spacing: 50 mm}}"
    (variant,) = study_of(tmp_path, f"variants: {{named: [{named}]}}").variants
    assert variant.cases[0].load_spacing_mm == 50.0


def test_two_variants_of_one_name_are_refused(tmp_path):
    rows = "".join(f"{{name: a, set: {{preparation.cutter_radius: {i} mm}}}}, " for i in (1, 2))
    assert "two variants are called 'a'" in refusal(tmp_path, f"variants: {{named: [{rows}]}}")


def test_more_combinations_than_anyone_reads_are_refused(tmp_path):
    spans = ", ".join(f"{i + 400} mm" for i in range(30))
    vary = f"load_cases.bending.span: [{spans}], load_cases.torsion.length: [{spans}]"
    assert f"at most {MOST_VARIANTS}" in refusal(tmp_path, f"variants: {{vary: {{{vary}}}}}")
