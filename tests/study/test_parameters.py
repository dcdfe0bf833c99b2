"""The model of the parameter file: every key is read, in the units used inside, with its default."""

from pathlib import Path

import pytest

from kit.study.parameters import StudyFile, validate
from kit.study.reference import table_rows
from kit.study.yaml_reader import parse_yaml, read_yaml
from tests.study.files import SMALL, changed

EVERY_KEY = Path(__file__).with_name("every_key.yml")


def model_of(text: str):
    return validate(parse_yaml(text).values)


@pytest.fixture(scope="module")
def full():
    return validate(read_yaml(EVERY_KEY).values)


def test_quantities_arrive_in_the_units_used_inside(full):
    bending = full.load_cases["bending"]
    assert (bending.span, bending.load_spacing, bending.deflection_limit) == (1500.0, 500.0, 0.005)
    assert full.preparation.fit.envelope == (100.0, 100.0)
    assert full.service.temperature == 23.0
    assert full.trials.reduction.compliance == 2e-6
    assert full.test_plan.load_cell == 50_000.0
    assert full.limits.memory_per_worker == 2000.0


def test_text_stays_text(full):
    assert full.title == "no: 12:30"
    assert model_of(changed(("title: A small study", "title: 12:30"))).title == "12:30"
    assert model_of(changed(("title: A small study", "title: no"))).title == "no"


def test_a_spread_may_be_a_value_alone(full):
    assert full.materials["board-7"].yield_tension.mean == 24.0
    assert full.materials["board-7"].yield_tension.cov == 0.0
    assert full.materials["board-7"].yield_compression.cov == 0.05


def test_signed_lengths_may_be_negative(full):
    assert full.load_cases["bending"].load_line == -2.0
    assert full.load_cases["compression"].eccentricity_y == -1.0


def test_the_kind_may_be_left_out_where_the_name_says_it():
    text = changed(("bending: {span", "long-bending: {span"), ("torsion: {length", "torsion_2: {length"))
    kinds = {name: case.kind for name, case in model_of(text).load_cases.items()}
    assert kinds == {"long-bending": "bending", "torsion_2": "torsion"}


def test_one_file_or_orientation_needs_no_brackets():
    text = changed(("orientations: [0 deg, 90 deg]", "orientations: 0 deg"))
    assert model_of(text).preparation.orientations == (0.0,)


def test_all_but_the_required_keys_may_be_left_out():
    required = """\
study: s
title: t
outlines: [{from: shape, name: bar, shape: rectangle, dimensions: {depth: 60 mm, width: 20 mm}}]
reference: {outline: bar}
material: steel-S235
"""
    model = model_of(required)
    assert model.preparation.fit.scale == 1.0
    assert model.preparation.orientations == (0.0,)
    assert model.accuracy.torsion_bounds == 0.005
    assert model.service.duration == "short-term test"
    assert model.load_cases == {}


@pytest.mark.parametrize(
    ("fit", "key", "value"),
    [
        ("{cap_height: 0.1 m}", "cap_height", 100.0),
        ("{area: 24 cm2}", "area", 2400.0),
        ("{mass_per_length: 2300 g/m}", "mass_per_length", 2.3),
        ("{scale: 2.5}", "scale", 2.5),
    ],
)
def test_there_are_five_ways_to_fit(fit, key, value):
    text = SMALL + "x: 1"
    shape = "{from: shape, name: rod, shape: circle, dimensions: {diameter: 40 mm}}"
    other = "{from: fonts, files: a.ttf}" if key == "cap_height" else shape
    text = changed(("preparation: {", f"preparation: {{fit: {fit}, "), (shape, other))
    assert getattr(model_of(text).preparation.fit, key) == pytest.approx(value)


def test_the_file_with_every_key_holds_every_key_of_the_model():
    values = read_yaml(EVERY_KEY).values
    values["materials"]["board-7"]["yield_tension"] = {"mean": "24 MPa", "cov": "5 %"}
    # A fit is exactly one of five; the others are tried above.
    values["preparation"]["fit"] |= dict.fromkeys(("cap_height", "area", "mass_per_length", "scale"))
    missing = [key for key, *_ in table_rows(StudyFile) if not _occurs(values, key.strip("`"))]
    assert missing == []


def test_every_key_says_what_it_means():
    unexplained = [key for key, meaning, *_ in table_rows(StudyFile) if len(meaning) < 4]
    assert unexplained == []


def _occurs(values, key: str) -> bool:
    """Whether a key of the reference table, such as ``outlines[svg].unit``, occurs in a file."""
    places = [values]
    for part in key.replace("[", ".[").split("."):
        places = [found for place in places for found in _step(place, part)]
    return bool(places)


def _step(place, part: str) -> list:
    if part == "[]":
        return list(place) if isinstance(place, list) else []
    if part.startswith("["):
        return [entry for entry in place if entry["from"] == part.strip("[]")]
    if part == "<name>":
        return list(place.values())
    if part.startswith("<"):
        kind = part.strip("<>")
        return [case for name, case in place.items() if case.get("kind", name) == kind]
    return [place[part]] if isinstance(place, dict) and part in place else []
