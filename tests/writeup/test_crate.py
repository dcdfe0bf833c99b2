"""What travels with the results: the descriptor, the data dictionary, the environment, the print."""

import hashlib
import json

import pandas as pd
import pytest

from kit.errors import InputError
from kit.writeup import crate, pdf
from tests.writeup import browser

STUDY = {
    "name": "boardwalk",
    "title": "Which outline?",
    "licence": "CC-BY-4.0",
    "authors": [{"name": "A. Author", "orcid": "0000-0000-0000-0000"}, {"name": "B. <Author>"}],
}


@pytest.fixture
def folder(tmp_path):
    results = tmp_path / "boardwalk"
    (results / "figures").mkdir(parents=True)
    (results / ".kept").mkdir()
    (results / "sections.csv").write_text("section_id\n1\n")
    (results / "figures" / "a.svg").write_text("<svg/>")
    (results / ".kept" / "hidden").write_text("x")
    return results


def described(folder, **inputs):
    text = crate.write_crate(folder, STUDY, inputs, "section-study run parameters.yml").read_text()
    return {entity["@id"]: entity for entity in json.loads(text)["@graph"]}


def test_every_result_is_described_with_its_hash(folder):
    graph = described(folder)
    assert {part["@id"] for part in graph["./"]["hasPart"]} == {"sections.csv", "figures/a.svg"}
    assert graph["sections.csv"]["sha256"] == hashlib.sha256(b"section_id\n1\n").hexdigest()


def test_every_reference_inside_the_descriptor_resolves(folder, tmp_path):
    drawing = tmp_path / "heron.svg"
    drawing.write_text("<svg/>")
    graph = described(folder, **{"drawings/heron.svg": drawing})

    def pointers(value):
        if isinstance(value, dict):
            yield from ([value["@id"]] if set(value) == {"@id"} else [])
            for inner in value.values():
                yield from pointers(inner)
        elif isinstance(value, list):
            for inner in value:
                yield from pointers(inner)

    outside = ("https://w3id.org/", "https://spdx.org/")
    assert not [p for p in pointers(list(graph.values())) if p not in graph and not p.startswith(outside)]
    assert graph["#input-drawings/heron.svg"]["sha256"] == hashlib.sha256(b"<svg/>").hexdigest()
    assert graph["#run"]["description"] == "section-study run parameters.yml"


def test_the_descriptor_is_the_same_twice(folder):
    first = crate.write_crate(folder, STUDY, {}, "run").read_bytes()
    assert crate.write_crate(folder, STUDY, {}, "run").read_bytes() == first


def test_the_open_library_reads_it(folder):
    reader = pytest.importorskip("rocrate.rocrate", reason="rocrate reads what we write; not installed here")
    described(folder)
    assert reader.ROCrate(folder).root_dataset["name"] == "Which outline?"


def test_the_dictionary_holds_the_columns_present_and_shows_what_it_lacks():
    made = crate.columns([pd.DataFrame(columns=["Ix_mm4", "Wpl_x_mm3@0.8889", "of_no_meaning"])])
    assert list(made["column"]) == ["Ix_mm4", "Wpl_x_mm3@0.8889", "of_no_meaning"]
    assert made.iloc[2].tolist()[1:] == [""] * (made.shape[1] - 1)


def test_the_environment_names_versions():
    assert f"pandas=={pd.__version__}" in crate.environment().splitlines()


def test_without_a_browser_printing_says_what_to_do(monkeypatch, tmp_path):
    monkeypatch.setattr(pdf, "browser", lambda: None)
    with pytest.raises(InputError, match="install Chromium"):
        pdf.print_page(tmp_path / "report.html", tmp_path / "report.pdf")


def test_a_browser_that_fails_leaves_an_earlier_print(monkeypatch, tmp_path):
    (tmp_path / "report.pdf").write_bytes(b"earlier")
    monkeypatch.setattr(pdf, "browser", lambda: str(tmp_path / "no-such-program"))
    with pytest.raises(InputError, match="did not print"):
        pdf.print_page(tmp_path / "report.html", tmp_path / "report.pdf")
    assert (tmp_path / "report.pdf").read_bytes() == b"earlier"


@pytest.mark.skipif(browser.chromium() is None, reason="no Chromium is installed here")
def test_a_page_is_printed(built, tmp_path):
    made = pdf.print_page(built, tmp_path / "report.pdf")
    assert made.read_bytes().startswith(b"%PDF") and made.stat().st_size > 50_000
