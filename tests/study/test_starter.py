"""The starter study: valid, explained, and it runs as it is."""

import pandas as pd
import pytest

from kit.cli import main
from kit.places import DATA
from kit.study.resolving import load_study
from kit.study.starter import write_starter
from kit.study.yaml_reader import parse_yaml


def test_the_starter_shows_every_kind_of_load_case_and_two_sources(tmp_path):
    write_starter(tmp_path / "mine.yml")
    study = load_study(tmp_path / "mine.yml")
    assert [case.kind for case in study.variants[0].cases] == ["bending", "compression", "tension", "torsion"]
    assert {entry.from_ for entry in study.model.outlines} == {"fonts", "shape"}


def test_the_starter_names_itself(tmp_path):
    write_starter(tmp_path / "mine.yml")
    text = (tmp_path / "mine.yml").read_text(encoding="utf-8")
    assert "section-study look mine.yml" in text and "THIS-FILE" not in text


def test_what_the_starter_keeps_as_comments_is_valid_too():
    """Without the # before a key, the commented keys are read as well."""
    lines = (DATA / "starter.yml").read_text(encoding="utf-8").splitlines()
    heads = "# authors:|# licence:|# materials:|#   my-plastic:|#     |# service:|# variants:|#   vary:"
    opened = "\n".join(line[2:] if line.startswith(tuple(heads.split("|"))) else line for line in lines)
    values = parse_yaml(opened.replace("material: steel-S235", "material: my-plastic")).values
    from kit.study.parameters import validate

    model = validate(values)
    assert model.materials["my-plastic"].youngs_modulus.cov == 0.08
    assert model.service.duration == "10 years"
    assert len(model.variants.vary["load_cases.bending.span"]) == 3


@pytest.mark.slow
def test_the_starter_runs_as_it_is(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["new", "mine.yml"]) == 0
    assert main(["run", "mine.yml", "--workers", "2"]) == 0
    members = pd.read_csv(tmp_path / "results" / "my-study" / "members.csv")
    assert len(members) == 8 * 4
    assert (members["mass_kg"] > 0).all()
    assert (tmp_path / "results" / "my-study" / "report.html").stat().st_size > 50_000
