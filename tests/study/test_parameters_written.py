"""The resolved parameter file: read again, it gives the same study."""

import os
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ruamel.yaml import YAML

from kit.places import PACKAGE
from kit.study.resolving import load_study, resolved_yaml
from kit.study.writing import moved
from tests.study.files import SMALL, changed, written

VARY = """
variants:
  vary: {material: [steel-S235, aluminium-6060-T66]}
  named: [{name: cut, set: {preparation.cutter_radius: 0.125 in}}]
"""
UNITS = (
    ("span: 900 mm", "span: 3 ft, deflection_limit: 1/300, bow: 1/333"),
    (
        "torsion: {length: 900 mm}",
        "torsion: {length: 0.1 in}\nservice: {duration: 90 min, temperature: 300 K}",
    ),
)


def objects(study):
    """The variants without the texts of the file."""
    return [replace(variant, model=None, values=()) for variant in study.variants]


def again(study, folder: Path):
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / "parameters.yml"
    file.write_text(resolved_yaml(study, folder), encoding="utf-8")
    return load_study(file)


def test_read_again_it_is_the_same_study(tmp_path):
    study = load_study(written(tmp_path, changed(*UNITS) + VARY))
    second = again(study, tmp_path / "results" / "small")
    assert objects(second) == objects(study)
    assert [v.slug for v in second.variants] == [v.slug for v in study.variants]
    assert second.specs == study.specs


def test_written_again_it_is_the_same_text(tmp_path):
    folder = tmp_path / "results" / "small"
    second = again(load_study(written(tmp_path, changed(*UNITS) + VARY)), folder)
    assert resolved_yaml(second, folder) == (folder / "parameters.yml").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["saltmere", "class"])
def test_the_studies_that_travel_with_the_kit_can_be_repeated_from_their_resolved_file(tmp_path, name):
    study = load_study(PACKAGE.parent / "params" / f"{name}.yml")
    assert objects(again(study, tmp_path / name)) == objects(study)


def test_every_default_is_written_out(tmp_path):
    text = resolved_yaml(load_study(written(tmp_path)))
    for line in ("process: extruded", "cutter_radius: 0 mm", "torsion_bounds: 0.5 %", "load_height: top"):
        assert line in text


def test_paths_lead_to_the_same_files_from_where_the_file_lies(tmp_path):
    base, folder = tmp_path / "params", tmp_path / "results" / "deep" / "study"
    assert moved("drawings/*.svg", base, folder) == "../../../params/drawings/*.svg"
    assert moved("../a.csv", base, folder) == "../../../a.csv"
    assert moved("installed:matplotlib/DejaVuSans.ttf", base, folder) == "installed:matplotlib/DejaVuSans.ttf"
    absolute = str((tmp_path / "x.ttf").resolve())
    assert moved(absolute, base, folder) == absolute
    assert moved("drawings/a.svg", base, None) == (base / "drawings/a.svg").as_posix()


def test_paths_of_outlines_and_curves_are_moved(tmp_path):
    (tmp_path / "params").mkdir()
    (tmp_path / "params" / "c.csv").write_text("0,0\n0.005,5\n0.02,9\n")
    own = "materials:\n  board: {density: 1 g/cm3, youngs_modulus: 1 GPa, poissons_ratio: 0.3,"
    own += " stress_strain: c.csv, yield_tension: 9 MPa, yield_compression: 9 MPa}\nmaterial: board\n"
    svg = "  - {from: svg, files: [drawings/*.svg, ../b.svg]}\nreference"
    text = changed(("material: steel-S235\n", own), ("reference", svg))
    study = load_study(written(tmp_path / "params", text))
    second = again(study, tmp_path / "results")
    assert second.specs[2].files == ("../params/drawings/*.svg", "../b.svg")
    assert second.variants[0].material == study.variants[0].material
    assert os.fspath(tmp_path) not in resolved_yaml(study, tmp_path / "results")


@given(st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=30))
def test_any_title_survives(tmp_path_factory, title):
    folder = tmp_path_factory.mktemp("t")
    quoted = title.replace("\\", "\\\\").replace('"', '\\"')
    study = load_study(written(folder, changed(("title: A small study", f'title: "{quoted}"'))))
    assert study.title == title
    assert again(study, folder).title == title


@pytest.mark.parametrize("title", ["no", "12:30", "1_000", "null", "~", "on", "0x1F"])
def test_a_reader_that_guesses_finds_text_where_text_is_meant(tmp_path, title):
    study = load_study(written(tmp_path, changed(("title: A small study", f'title: "{title}"'))))
    assert YAML(typ="safe").load(resolved_yaml(study))["title"] == title
    assert again(study, tmp_path / "r").title == title


def test_an_unchanged_file_is_not_touched(tmp_path):
    file = written(tmp_path)
    resolved_yaml(load_study(file), tmp_path)
    assert file.read_text(encoding="utf-8") == SMALL
