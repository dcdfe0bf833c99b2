"""Studies run for real, from the parameter file to the write-up."""

import json
import shutil
from pathlib import Path

import pandas as pd
import pytest

from kit.cli import main
from kit.study.results import file_hash

SMALL = """
study: small
title: Which of three?
outlines:
  - {from: fonts, files: "installed:matplotlib/DejaVuSerif.ttf", characters: [A, I, O]}
  - {from: svg, files: bad.svg}
  - from: shape
    name: plain-i
    shape: i-section
    dimensions: {depth: 60 mm, width: 40 mm, flange: 6 mm, web: 4 mm, root_radius: 2 mm}
reference: {outline: plain-i, orientation: 0 deg}
preparation: {fit: {envelope: [60 mm, 60 mm]}, cutter_radius: 1 mm, orientations: [0 deg, 90 deg]}
material: aluminium-6060-T66
load_cases:
  bending: {span: 1 m, loading: three-point, supports: forked}
  torsion: {length: 1 m}
variants: {vary: {load_cases.bending.span: [500 mm, 1 m]}}
ranking: {group_by: [character]}
"""
TABLES = ("sections.csv", "members.csv", "ranks.csv", "left-out.csv")


def write(folder: Path, text: str = SMALL) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "bad.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0L1 1"/></svg>')
    file = folder / "study.yml"
    file.write_text(text, encoding="utf-8")
    return file


def run(file: Path, results: Path, *more: str) -> int:
    return main(["run", str(file), "--results", str(results), *more])


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    folder = tmp_path_factory.mktemp("study")
    file = write(folder)
    assert run(file, folder / "results", "--workers", "2") == 0
    return file, folder / "results"


def test_a_study_leaves_what_it_promises(done):
    _, results = done
    there = {path.name for path in (results / "small").iterdir()}
    promised = {
        *("report.html", "sections.csv", "sections.parquet", "members.csv", "members.parquet"),
        *("left-out.csv", "outlines.svg", "audit.csv", "ranks.csv", "notebooks", "figures"),
        *("parameters.yml", "environment.txt", "ro-crate-metadata.json", "columns.csv"),
    }
    assert promised <= there


def test_one_bad_drawing_is_left_out_with_its_reason_and_stops_nothing(done):
    _, results = done
    left = pd.read_csv(results / "small" / "left-out.csv")
    assert list(left["source"]) == ["bad.svg"]
    assert left["reason"].str.len().item() > 10
    sections = pd.read_csv(results / "small" / "sections.csv")
    assert set(sections["outline"]) == {f"DejaVu Serif Book/{c}" for c in "AIO"} | {"plain-i"}


def test_every_section_has_a_member_in_every_variant_and_load_case(done):
    _, results = done
    members = pd.read_csv(results / "small" / "members.csv")
    sections = pd.read_csv(results / "small" / "sections.csv")
    assert len(members) == len(sections) * 2 * 2
    assert not members.duplicated(["section_id", "variant", "load_case"]).any()


def test_the_reference_has_merit_one_and_carries_its_own_load_at_its_own_mass(done):
    _, results = done
    members = pd.read_csv(results / "small" / "members.csv")
    own = members[members["section_id"] == "plain-i @0"]
    assert own["merit"].to_numpy() == pytest.approx(1.0, rel=1e-8)
    assert own["mass_for_reference_load_kg"].to_numpy() == pytest.approx(own["mass_kg"].to_numpy(), rel=1e-6)


def test_every_column_is_in_the_data_dictionary_with_a_meaning(done):
    _, results = done
    dictionary = pd.read_csv(results / "small" / "columns.csv", keep_default_na=False).set_index("column")
    tables = sorted(path.stem for path in (results / "small").glob("*.csv") if path.stem != "columns")
    assert {"sections", "members", "ranks", "audit", "checks", "left-out"} <= set(tables)
    for name in tables:
        columns = pd.read_csv(results / "small" / f"{name}.csv", nrows=0).columns
        missing = [column for column in columns if not dictionary["meaning"].get(column)]
        assert not missing


def test_one_worker_and_two_leave_identical_tables(done, tmp_path):
    file, results = done
    assert run(file, tmp_path / "one", "--workers", "1") == 0
    for name in TABLES:
        assert (tmp_path / "one/small" / name).read_bytes() == (results / "small" / name).read_bytes()


def test_nothing_changed_nothing_runs(done, capsys):
    file, results = done
    before = {path: path.stat().st_mtime_ns for path in (results / "small").rglob("*") if path.is_file()}
    assert run(file, results) == 0
    assert "nothing has changed" in capsys.readouterr().out
    assert before == {path: path.stat().st_mtime_ns for path in before}


def test_damaged_notes_cost_their_stage_again_and_nothing_else(done, tmp_path):
    file, results = done
    copy = tmp_path / "results"
    shutil.copytree(results, copy)
    tables = sorted(path.name for path in (copy / "small").glob("*.csv"))
    for note in (copy / "small" / ".kept").glob("*.json"):
        note.write_text("x")
    assert run(file, copy) == 0
    for name in tables:
        assert (copy / "small" / name).read_bytes() == (results / "small" / name).read_bytes()


@pytest.mark.parametrize(
    "name", ["parameters.yml", "columns.csv", "environment.txt", "ro-crate-metadata.json"]
)
def test_what_travels_with_the_results_is_made_again_where_it_is_gone(done, tmp_path, name):
    file, results = done
    copy = tmp_path / "results"
    shutil.copytree(results, copy)
    (copy / "small" / name).unlink()
    assert run(file, copy) == 0
    made, before = ((folder / "small" / name).read_text(encoding="utf-8") for folder in (copy, results))
    if name == "ro-crate-metadata.json":
        made, before = (json.loads(text)["@graph"][1]["name"] for text in (made, before))
    assert made == before if name != "parameters.yml" else "study: small" in made


def test_the_descriptor_holds_the_printed_page_of_this_run_and_none_of_an_earlier_one(
    done, tmp_path, monkeypatch
):
    from kit.writeup import pdf

    file, results = done
    copy = tmp_path / "results"
    shutil.copytree(results, copy)
    printed, crate = copy / "small" / "report.pdf", copy / "small" / "ro-crate-metadata.json"
    monkeypatch.setattr(pdf, "print_page", lambda page, target: target.write_bytes(b"%PDF made of this page"))
    assert run(file, copy, "--pdf") == 0
    told = {one["@id"]: one for one in json.loads(crate.read_text(encoding="utf-8"))["@graph"]}
    assert told["report.pdf"]["sha256"] == file_hash(printed)
    assert run(write(tmp_path, SMALL.replace("Which of three?", "Which of these?")), copy) == 0
    assert not printed.exists() and "report.pdf" not in crate.read_text(encoding="utf-8")


def test_what_a_changed_study_no_longer_has_is_gone_and_not_described(done, tmp_path):
    _, results = done
    copy = tmp_path / "results"
    shutil.copytree(results, copy)
    place = copy / "small"
    for name in ("old-chart.svg", "old-chart.png", "old-chart.vl.json", "mine.png"):
        (place / "figures" / name).write_text("x")
    (place / "calibration.csv").write_text("limit_state\n")
    before = {path.name for path in (place / "notebooks").iterdir()}
    assert run(write(tmp_path, SMALL.replace("[500 mm, 1 m]", "[500 mm]")), copy) == 0
    assert before - {path.name for path in (place / "notebooks").iterdir()}
    assert not list(place.glob("figures/old-chart.*")) and (place / "figures/mine.png").exists()
    assert not (place / "calibration.csv").exists()
    graph = json.loads((place / "ro-crate-metadata.json").read_text(encoding="utf-8"))["@graph"]
    told = {one["@id"]: one for one in graph if one["@type"] == "File" and not one["@id"].startswith("#")}
    assert {name: file_hash(place / name) for name in told} == {
        name: one["sha256"] for name, one in told.items()
    }


def test_a_reference_that_cannot_be_made_is_refused_with_the_reason(tmp_path, capsys):
    bar = "{from: shape, name: bar, shape: rectangle, dimensions: {depth: 60 mm, width: 30 mm}}"
    text = SMALL.replace("[60 mm, 60 mm]}", "[60 mm, 60 mm]}, least_wall: 5 mm", 1)
    text = text.replace("  - {from: svg", f"  - {bar}\n  - {{from: svg")
    assert run(write(tmp_path, text), tmp_path / "results") == 2
    said = capsys.readouterr().err
    assert (
        "the reference 'plain-i' could not be made" in said and "thinner than the least wall of 5 mm" in said
    )


def test_where_no_outline_can_be_made_the_reasons_are_said(tmp_path, capsys):
    text = SMALL.replace("[60 mm, 60 mm]}", "[60 mm, 60 mm]}, least_wall: 50 mm", 1)
    assert run(write(tmp_path, text), tmp_path / "results") == 2
    said = capsys.readouterr().err
    assert "no outline can be made into a section" in said and "thinner than the least wall of 50 mm" in said


def test_changing_a_span_computes_no_section_again(done, tmp_path):
    _, results = done
    copied = tmp_path / "results"
    shutil.copytree(results, copied)
    file = write(tmp_path, SMALL.replace("[500 mm, 1 m]", "[500 mm, 1200 mm]"))
    before = file_hash(copied / "small" / "sections.csv")
    assert run(file, copied) == 0
    assert file_hash(copied / "small" / "sections.csv") == before
    assert json.loads((copied / "small/.kept/sections.json").read_text())["computed"] in (0, 4)
    lengths = pd.read_csv(copied / "small" / "members.csv")["length_mm"].unique()
    assert 1200.0 in lengths


def test_the_resolved_parameters_run_again_to_the_same_tables(done, tmp_path):
    _, results = done
    assert run(results / "small" / "parameters.yml", tmp_path / "again") == 0
    for name in ("sections.csv", "left-out.csv"):
        assert (tmp_path / "again/small" / name).read_bytes() == (results / "small" / name).read_bytes()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("outline: plain-i", "outline: plain-j"), "'plain-j' is not among the outlines"),
        (("files: bad.svg", "files: none.svg"), "'none.svg' does not exist"),
        (("span: 1 m,", 'span: "1,5 m",'), "1,5 m"),
        (("span: 1 m,", "span: 1,"), "unit"),
        (("span: 1 m,", "span: -1 m,"), "-1"),
        (("material:", "materiel:"), "material"),
    ],
)
def test_bad_input_is_refused_with_one_screen_and_leaves_results_alone(done, tmp_path, capsys, change, said):
    _, results = done
    before = file_hash(results / "small" / "members.csv")
    text = SMALL.replace(*change)
    assert text != SMALL
    assert run(write(tmp_path, text), results) == 2
    message = capsys.readouterr().err
    assert said in message
    assert message.count("\n") <= 25
    assert "Traceback" not in message
    assert file_hash(results / "small" / "members.csv") == before


def test_outlines_that_all_fail_are_refused(tmp_path, capsys):
    lines = [line for line in SMALL.splitlines() if "fonts" not in line]
    text = "\n".join(lines)
    text = text[: text.index("  - from: shape")] + text[text.index("reference:") :]
    file = write(tmp_path, text)
    (tmp_path / "bad.svg").write_text("this is no drawing")
    assert run(file, tmp_path / "results") == 2
    assert "no outline can be used" in capsys.readouterr().err


def test_a_notebook_that_lost_its_parameters_cell_is_refused_before_anything_runs(
    done, monkeypatch, tmp_path, capsys
):
    import kit.study.run as running

    book = tmp_path / "books"
    shutil.copytree(running.carried("notebooks/study"), book)
    variant = json.loads((book / "variant.ipynb").read_text())
    for cell in variant["cells"]:
        cell["metadata"].pop("tags", None)
    (book / "variant.ipynb").write_text(json.dumps(variant))
    monkeypatch.setattr(running, "carried", lambda name: book)
    file, results = done
    before = file_hash(results / "small" / "members.csv")
    assert run(file, results) == 2
    assert "0 cells tagged 'parameters'" in capsys.readouterr().err
    assert file_hash(results / "small" / "members.csv") == before
