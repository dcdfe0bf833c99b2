"""The JSON Schema and the table in the README come from the model and agree with it."""

import json
import re
from pathlib import Path

import jsonschema
import pytest

from kit.places import PACKAGE
from kit.study.not_yet import NOT_YET
from kit.study.reference import END, START, json_schema, reference_table, with_table, write
from kit.study.yaml_reader import parse_yaml, read_yaml
from tests.study.files import SMALL, changed

EVERY_KEY = Path(__file__).with_name("every_key.yml")
NUMBERS = {"poissons_ratio", "samples", "seed", "families", "points", "elements", "pieces", "repeats", "best",
           "worst", "scale", "wght", "weights", "material", "load", "modulus_window", "modulus_by_duration",
           "strength_by_duration", "modulus_by_temperature", "strength_by_temperature", "published", "audit"}  # fmt: skip


def as_an_editor_reads(value, key=""):
    """The file's values with numbers and booleans, as a YAML reader for editors gives them."""
    if isinstance(value, dict):
        return {
            k: as_an_editor_reads(v, key if key in NUMBERS and key != "material" else k)
            for k, v in value.items()
        }
    if isinstance(value, list):
        return [as_an_editor_reads(v, key) for v in value]
    if key in NUMBERS and value.replace(".", "", 1).isdigit():
        return float(value) if "." in value else int(value)
    return {"true": True, "false": False}.get(value, value)


@pytest.fixture(scope="module")
def validator():
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def test_the_schema_accepts_the_file_with_every_key(validator):
    validator.validate(as_an_editor_reads(read_yaml(EVERY_KEY).values))


def test_the_schema_accepts_a_load_case_whose_name_says_its_kind(validator):
    validator.validate(as_an_editor_reads(parse_yaml(SMALL).values))


@pytest.mark.parametrize(
    "change",
    [
        ("title: A small", "titel: A small"),
        ("from: shape, name: rod", "from: shap, name: rod"),
        ("loading: four-point", "loading: fourpoint"),
        ("material: steel-S235", "material: [steel-S235]"),
    ],
)
def test_the_schema_refuses_what_the_model_refuses(validator, change):
    assert not validator.is_valid(as_an_editor_reads(parse_yaml(changed(change)).values))


def test_the_table_says_key_meaning_unit_default_and_required():
    rows = {row.split(" | ")[0].strip("| "): row for row in reference_table().splitlines()}
    assert "length: mm, cm, m" in rows["`load_cases.<bending>.span`"]
    assert rows["`load_cases.<bending>.span`"].endswith("| yes |")
    assert "| 0.5 % |" in rows["`accuracy.torsion_bounds`"]
    assert "`three-point` · `four-point`" in rows["`load_cases.<bending>.loading`"]
    assert all(row.count(" | ") - row.count("\\|") == 4 for row in rows.values())


def test_the_table_marks_what_is_not_available_yet():
    rows = {row.split(" | ")[0].strip("| `"): row for row in reference_table().splitlines()}
    for pattern in NOT_YET:
        key = re.split("!?=", pattern)[0].split(".")[-1]
        marked = [row for name, row in rows.items() if name.endswith(key) and "not available yet" in row]
        assert marked, pattern


def test_the_table_in_the_readme_is_current():
    readme = (PACKAGE.parent / "README.md").read_text(encoding="utf-8")
    assert with_table(readme) == readme, "bring it up to date: python -m kit.study.reference README.md"


def test_only_what_is_between_the_markers_is_written():
    page = f"before\n{START}\nstale text\n{END}\nafter\n"
    written = with_table(page)
    assert written.startswith(f"before\n{START}\n") and written.endswith(f"\n{END}\nafter\n")
    assert "stale text" not in written and reference_table() in written
    assert with_table(written) == written


def test_the_schema_can_be_written_for_an_editor(tmp_path):
    write(tmp_path / "schema.json")
    assert json.loads((tmp_path / "schema.json").read_text(encoding="utf-8")) == json_schema()


@pytest.mark.parametrize("page", ["", START, f"{END}{START}", f"{START}{START}{END}"])
def test_a_page_without_its_markers_is_refused(page):
    with pytest.raises(ValueError, match="once each"):
        with_table(page)
