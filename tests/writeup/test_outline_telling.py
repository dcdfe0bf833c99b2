"""What a study's tables and page say of its outlines: restricted fonts, repairs, chips; run for real."""

from types import SimpleNamespace

import pandas as pd
import pytest

from kit.cli import main
from kit.study import stages
from kit.study.resolving import load_study
from kit.study.results import Folder
from kit.writeup import outline_telling, provenance
from tests.outlines.typefaces import font
from tests.study.files import written

STUDY = """\
study: told
title: What is told of outlines
outlines:
  - {from: fonts, files: [free.ttf, closed.ttf], characters: [H, I]}
  - {from: svg, files: [dusty.svg, crumbled.svg]}
  - {from: shape, name: bar, shape: rectangle, dimensions: {depth: 60 mm, width: 20 mm}}
reference: {outline: bar}
preparation: {process: wire-cut, cutter_radius: 0.1 mm, fit: {envelope: [60 mm, 60 mm]}}
material: steel-S235
load_cases: {tie: {kind: tension, length: 900 mm}}
"""


def drawing(crumbs: int) -> str:
    squares = "".join(f"M{2 * (i % 40)} {92 + 2 * (i // 40)}h.8v.8h-.8z" for i in range(crumbs))
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="120mm" viewBox="0 0 120 120">'
        f'<path d="M0 0h90v90h-90z{squares}"/></svg>'
    )


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    folder = tmp_path_factory.mktemp("told")
    font(folder / "free.ttf", names={"familyName": "Free"})
    font(folder / "closed.ttf", names={"familyName": "Closed"}, fs_type=2)
    for name, crumbs in (("dusty", 1), ("crumbled", 400)):
        (folder / f"{name}.svg").write_text(drawing(crumbs))
    file = written(folder, STUDY, "told.yml")
    assert main(["run", str(file), "--results", str(folder / "results"), "--workers", "2"]) == 0
    return folder


@pytest.fixture
def results(done):
    return done / "results" / "told"


@pytest.fixture
def html(results):
    return (results / "report.html").read_text(encoding="utf-8")


def test_a_restricted_font_is_flagged_in_the_table(results):
    table = pd.read_csv(results / "sections.csv", keep_default_na=False).set_index("outline")
    for name, row in table.iterrows():
        assert ("font-restricted" in row["flags"].split()) == name.startswith("Closed"), name
    assert set(table["embedding"]) == {"installable", "restricted", ""}


def test_a_restricted_font_is_named_in_the_write_up(html):
    said = html.partition("Ask before publishing")[2].partition("</p>")[0]
    assert "Closed Regular (closed.ttf)" in said and "Free" not in said
    assert "restricted" in html.partition('id="tab:sources"')[2].partition("</table>")[0]


def test_the_worst_repairs_are_shown_before_and_after(results, html):
    picture = (results / "repairs.svg").read_text(encoding="utf-8")
    assert picture.index("crumbled") < picture.index("dusty") and "slivers-dropped" in picture
    assert 'id="fig:repairs"' in html
    lost = pd.read_csv(results / "left-out.csv")
    assert lost["outline"].tolist() == ["crumbled"] and "repairs would change" in lost["reason"][0]


def test_part_and_chips_weigh_as_much_as_the_stock(results):
    """Steel of 7850 kg/m3 over 900 mm; the outlines are their own boxes, but for the H and the dusty square."""
    members = pd.read_csv(results / "members.csv").set_index("outline")
    for name, stock in (
        ("bar", 20 * 60),
        ("Free Regular/I", 60 * 60 / 7),
        ("Free Regular/H", 60 * 500 / 700 * 60),
    ):
        row = members.loc[name]
        assert row["mass_kg"] + row["chips_mass_kg"] == pytest.approx(stock * 900 * 7850e-9, rel=1e-6)
    assert members.loc["bar", "chips_mass_kg"] == pytest.approx(0.0, abs=1e-9)
    assert members.loc["Free Regular/H", "chips_mass_kg"] > 0.1


def test_where_no_font_is_restricted_nothing_is_said(tmp_path):
    folder = Folder(tmp_path)
    assert outline_telling.restricted(folder) is None
    provenance.keep_fonts(folder, [])
    assert outline_telling.restricted(folder) is None


def test_fonts_of_one_file_name_keep_their_own_licence_and_permission(tmp_path):
    folder = Folder(tmp_path)
    faces = [("Free Regular", "open", "installable"), ("Closed Regular", "ask", "restricted")]
    read = [
        SimpleNamespace(source="Regular.ttf", font=font, licence=licence, embedding=embedding)
        for font, licence, embedding in faces
    ]
    for order in (read, read[::-1]):
        provenance.keep_fonts(folder, order)
        assert "Closed Regular" in outline_telling.restricted(folder).text.replace("\\", "")
    used = pd.DataFrame({"outline": ["Free Regular/H", "Closed Regular/H"], "source": "Regular.ttf"})
    left = pd.DataFrame(columns=["source", "outline", "reason"])
    found = SimpleNamespace(sections=SimpleNamespace(table=used, left_out=left))
    body = provenance.sources(folder, found).body
    assert all(f"{font}: {said}" in body for font, *both in faces for said in both)


def test_where_nothing_was_repaired_a_sentence_says_so(done, tmp_path):
    study = load_study(done / "told.yml")
    found = stages.assemble(study, Folder(done / "results" / "told"))
    assert "No outline needed a repair" in outline_telling.repairs(Folder(tmp_path), found).text
