"""The write-up of a whole study is built whatever is missing from it, and says at the top what is."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import html5lib
import nbformat
import numpy as np
import pandas as pd
import pytest

from kit.cli import main
from kit.errors import InputError
from kit.places import carried
from kit.study import differences, stages
from kit.study.notebooks import NotebookTask, execute
from kit.study.resolving import load_study
from kit.study.results import Folder
from kit.study.run import run_study, write_up
from kit.study.scheduling import Stage, run_stages
from kit.writeup import outline_telling, page, provenance
from tests.study.files import changed, written
from tests.writeup.invented import HOSTILE

TEXT = changed(
    ("title: A small study", f"title: {json.dumps(HOSTILE)}\nauthors: [{{name: {json.dumps(HOSTILE)}}}]"),
    ("  torsion: {length: 900 mm}", "  torsion: {length: 900 mm}\nvariants: {vary: {load_cases.bending.span: [900 mm, 1 m]}}"),
)  # fmt: skip


@pytest.fixture(scope="module")
def done(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("survives")
    outcome = run_study(load_study(written(folder, TEXT)), results=folder / "results", workers=2)
    assert outcome.status == 0
    return folder


@pytest.fixture
def again(done, tmp_path) -> Path:
    """A copy of the finished study, to be damaged."""
    shutil.copytree(done, tmp_path / "copy")
    return tmp_path / "copy"


def written_again(folder: Path, study=None) -> str:
    """Run the report notebook alone and make its page; its text."""
    study = study or load_study(folder / "small.yml")
    results = Folder(folder / "results" / "small")
    task = NotebookTask(
        carried("notebooks/study") / "report.ipynb",
        results.path / "notebooks" / "report.ipynb",
        (("study_file", str(folder / "small.yml")), ("results", str(folder / "results"))),
    )
    answer = execute(task)
    assert not answer["error"], answer
    write_up(study, results)
    return (results.path / "report.html").read_text(encoding="utf-8")


def banner(html: str) -> str:
    return html.partition('<div class="banner"')[2].partition("</div>")[0]


def test_the_page_is_valid_html_and_hostile_names_are_text(done):
    html = (done / "results/small/report.html").read_text(encoding="utf-8")
    parser = html5lib.HTMLParser()
    parser.parse(html)
    assert parser.errors == []
    assert "<img src=x" not in html and 'href="javascript' not in html
    assert banner(html) == ""


def test_names_out_of_fonts_and_files_are_text_wherever_they_show(again):
    folder = again / "results/small"
    for file in (folder / "sections.parquet", *(folder / ".kept").glob("*.parquet")):
        table = pd.read_parquet(file)
        for column in {"outline", "family", "style", "source"} & set(table):
            table[column] = table[column].replace({"rod": f"rod{HOSTILE}", "": HOSTILE})
        table.to_parquet(file)
    left = pd.DataFrame({"source": [HOSTILE], "outline": ["x/y"], "reason": ["<script>alert(1)</script>"]})
    left.to_csv(folder / "left-out.csv", index=False)
    html = written_again(again)
    parser = html5lib.HTMLParser()
    parser.parse(html)
    article = html.partition("<main")[2].partition("</main>")[0]
    assert parser.errors == [] and banner(html) == ""
    assert "rod&lt;img" in article and "<img src=x" not in html and "<script>" not in article


def test_notes_to_the_runner_do_not_show_and_code_is_in_reach(done):
    html = (done / "results/small/report.html").read_text(encoding="utf-8")
    article = html.partition("<main")[2].partition("</main>")[0]
    assert "Assembles what" not in article and "study_file" not in article and "import (" not in article
    assert article.count('<details class="code">') > 20 and "findings.summary(study, found)" in article


def test_ten_questions_have_ten_answers(done):
    article = (
        (done / "results/small/report.html")
        .read_text(encoding="utf-8")
        .partition("Limits of inference</h2>")[2]
    )
    answers = article.partition("</ol>")[0].split("<li>")[1:]
    assert len(answers) == 10
    assert all(len(one.partition("</strong>")[2].split()) >= 8 for one in answers)


def test_a_step_that_fails_is_said_at_the_top_and_the_rest_is_shown(again, monkeypatch):
    left = again / "results/small/outlines.svg"
    left.unlink()
    html = written_again(again)
    assert "1 step(s) of this write-up failed" in banner(html)
    assert "FileNotFoundError" in html and "References</h2>" in html
    notes = Folder(again / "results/small").notes("report")
    assert any("failed" in line for line in notes["doubts"])


def test_a_figure_that_is_missing_is_named(again):
    notebook = again / "results/small/notebooks/report.ipynb"
    document = nbformat.read(notebook, as_version=4)
    document.cells = [cell for cell in document.cells if "published_checks" not in cell.source]
    nbformat.write(document, notebook)
    with pytest.raises(page.number_all.__globals__["UnresolvedReference"]):
        page.build(notebook, again / "strict.html", title="t")
    write_up(load_study(again / "small.yml"), Folder(again / "results/small"))
    html = (again / "results/small/report.html").read_text(encoding="utf-8")
    assert "fig:published-checks" in banner(html) and "(not shown)" in html


def test_no_member_that_could_be_compared_is_said_at_the_top(again):
    for file in (again / "results/small/.kept").glob("members-*.parquet"):
        table = pd.read_parquet(file)
        empty = [
            name for name in table if name.startswith(("resistance", "merit")) or "reference_load" in name
        ]
        table[empty] = np.nan
        table.assign(limit_state="not assessed").to_parquet(file)
    html = written_again(again)
    assert "No member could be compared" in banner(html) and "step(s)" not in banner(html)
    assert "none of" in html and "References</h2>" in html


def test_a_variant_that_failed_is_named_and_the_others_are_shown(again):
    study, folder = load_study(again / "small.yml"), Folder(again / "results/small")
    lost = study.variants[1]
    folder.write_notes(f"failed-variant-{lost.slug}", {"reason": "ValueError: odd <b>number</b>"})
    (folder.path / f".kept/members-{lost.slug}.parquet").unlink()
    html = written_again(again)
    assert f"“{lost.name}” failed".replace("'", "&#39;") in banner(html) and "&lt;b&gt;number" in banner(html)
    assert set(pd.read_csv(folder.path / "members.csv")["variant"]) == {study.variants[0].name}


def test_a_stage_that_may_fail_leaves_nothing_old_behind(tmp_path):
    broken = tmp_path / "broken.ipynb"
    cells = [
        nbformat.v4.new_code_cell("a = 1", metadata={"tags": ["parameters"]}),
        nbformat.v4.new_code_cell("1 / 0"),
    ]
    nbformat.write(nbformat.v4.new_notebook(cells=cells), broken)
    folder = Folder(tmp_path / "results")
    (folder.path / ".kept").mkdir(parents=True)
    (folder.path / "old.csv").write_text("from an earlier run")
    stage = Stage(
        "variant-a", NotebookTask(broken, folder.path / "out.ipynb", ()), (), (), (), ("old.csv",), True
    )
    run_stages([stage], folder)
    assert not (folder.path / "old.csv").exists()
    assert "ZeroDivisionError" in folder.notes("failed-variant-a")["reason"]
    assert not folder.holds(stage.name, stage.fingerprint(folder))


def test_the_lines_that_repeat_it_without_its_fonts_give_the_same_members(done, monkeypatch):
    monkeypatch.chdir(done / "results/small")
    found: dict = {}
    exec(provenance.SNIPPET, found)
    stored = pd.read_csv("members.csv")
    first = stored[stored["variant"] == found["variant"].name]
    for column in ("resistance_N", "resistance_Nmm", "mass_kg"):
        assert np.allclose(found["members"][column], first[column], rtol=1e-8, equal_nan=True)


def test_what_changed_against_earlier_results_is_told(again):
    earlier = again / "results" / "earlier"
    shutil.copytree(again / "results/small", earlier)
    members = pd.read_csv(earlier / "members.csv")
    members.loc[0, "merit"] *= 0.5
    members.iloc[:-1].to_csv(earlier / "members.csv", index=False)
    file = again / "small.yml"
    file.write_text(file.read_text() + "report: {compare_with: results/earlier}\n")
    html = written_again(again)
    assert "What changed</h2>" in html and "in “earlier”" in html
    changes = html.partition('id="tab:changes"')[2].partition("</table>")[0]
    assert "identical" in changes and "differs" in changes and "1: " in changes
    assert 'id="tab:changed-members"' in html


@pytest.mark.parametrize(
    ("named", "said"), [("results/small", "this run writes itself"), ("nowhere", "holds no")]
)
def test_earlier_results_that_cannot_be_compared_with_are_refused_before_anything_runs(
    again, capsys, named, said
):
    file = again / "small.yml"
    file.write_text(file.read_text() + f"report: {{compare_with: {named}}}\n")
    assert main(["run", str(file), "--results", str(again / "results")]) == 2
    message = capsys.readouterr().err
    assert said in message and "report.compare_with" in message and "earlier run" in message


def test_still_charts_need_no_script(again):
    file = again / "small.yml"
    file.write_text(file.read_text() + "report: {charts: still}\n")
    write_up(load_study(file), Folder(again / "results/small"))
    html = (again / "results/small/report.html").read_text(encoding="utf-8")
    assert "<script" not in html and '<html lang="en" class="stills">' in html
    assert html.count('<div class="still"') >= 6 and len(html) < 1_200_000


def test_many_outlines_are_drawn_on_a_page_of_their_own(again):
    study, folder = load_study(again / "small.yml"), Folder(again / "results/small")
    found = stages.assemble(study, folder)
    assert outline_telling.outline_sheet(folder, found).image == folder.text("outlines.svg")
    many = pd.concat([found.sections.table.assign(outline=f"o{i}") for i in range(301)])
    sheet = outline_telling.outline_sheet(
        folder, replace(found, sections=replace(found.sections, table=many))
    )
    assert "outlines.html" in sheet.text and "301" in sheet.text
    assert differences.earlier_folder(study, folder) is None
    with pytest.raises(InputError):
        stages.variant_named(study, "none such")
