"""The page: self-contained, numbered, escaped, accessible; refuses what it cannot resolve."""

from __future__ import annotations

import base64
import re
import zlib
from itertools import pairwise

import nbformat
import pytest
from bs4 import BeautifulSoup
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output

from kit.writeup import page, scripts
from kit.writeup.numbering import UnresolvedReference
from tests.writeup import invented, notebook_of_tests


@pytest.fixture(scope="module")
def soup(built):
    return BeautifulSoup(built.read_text(encoding="utf-8"), "html.parser")


def made(folder, *cells, **settings):
    """A page of a few cells."""
    notebook = folder / "small.ipynb"
    nbformat.write(new_notebook(cells=list(cells)), notebook)
    built = page.build(notebook, folder / "small.html", title=settings.pop("title", "Small"), **settings)
    return BeautifulSoup(built.read_text(encoding="utf-8"), "html.parser")


def shown(**data):
    return new_code_cell("shown", outputs=[new_output("display_data", data=data)])


def test_size_stays_below_two_megabytes_with_six_charts(built):
    assert built.stat().st_size < 1_200_000


def test_nothing_is_fetched(soup):
    for tag in soup.find_all(src=True):
        assert tag["src"].startswith("data:image/")
    assert not soup.find_all(["link", "iframe", "object"])
    assert (
        "default-src 'none'" in soup.find("meta", attrs={"http-equiv": "Content-Security-Policy"})["content"]
    )


def test_policy_names_the_very_scripts_of_the_page(soup):
    policy = soup.find("meta", attrs={"http-equiv": "Content-Security-Policy"})["content"]
    packed = soup.find("script", id="bundle").string
    run = [script.string for script in soup.find_all("script", type=False)]
    assert len(run) == 1
    for script in [*run, zlib.decompress(base64.b64decode(packed)).decode("utf-8")]:
        assert f"'{scripts.fingerprint(script)}'" in policy
    assert "unsafe-eval" not in policy


def test_each_chart_has_data_still_alternative_and_caption(soup):
    figures = soup.select("figure.chart")
    assert len(figures) == 6
    for figure in figures:
        key = figure["data-chart"]
        assert soup.find("script", attrs={"data-spec": key})
        still = figure.select_one(".still svg, .still img")
        assert len(still.get("aria-label") or still["alt"]) > 40
        assert re.match(r"Figure \d\.", figure.select_one("figcaption .no").text)
        assert figure.select_one('button[data-save="csv"]')


def test_headings_step_down_one_level_at_a_time(soup):
    levels = [int(heading.name[1]) for heading in soup.find_all(re.compile("^h[1-6]$"))]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_sections_are_numbered_but_summary_and_references_are_not(soup):
    numbers = {h.get_text(" ", strip=True): bool(h.select_one(".no")) for h in soup.find_all("h2")}
    assert numbers["Summary"] is False and numbers["References"] is False and numbers["1 Methods"] is True


def test_every_link_inside_the_page_has_its_target(soup):
    targets = {tag["id"] for tag in soup.find_all(id=True)}
    links = [link["href"][1:] for link in soup.find_all("a", href=re.compile("^#"))]
    assert len(links) > 12
    assert set(links) <= targets


def test_references_in_the_text_carry_words_and_numbers(soup):
    words = {link["href"]: link.text for link in soup.select("main p a")}
    assert words["#eq:second-moments"] == "Equation (1)"
    assert words["#tab:sections"] == "Table 1"
    assert words["#sec:results"] == "Section 2"
    assert words["#ref:diaz-weinstein-1948"] == "Diaz & Weinstein 1948"


def test_ids_are_unique(soup):
    identifiers = [tag["id"] for tag in soup.find_all(id=True)]
    assert len(identifiers) == len(set(identifiers))


def test_table_headers_have_scopes(soup):
    headers = soup.select("main table th")
    assert headers and all(header.get("scope") in ("col", "row") for header in headers)


def test_code_is_hidden_but_there(soup):
    hidden = soup.select("main details.code")
    assert hidden and not any(detail.has_attr("open") for detail in hidden)
    assert "invented.sections" in soup.select_one("main").text


def test_two_builds_are_byte_identical(built, executed, tmp_path):
    again = page.build(
        executed, tmp_path / "again.html", **notebook_of_tests.SETTINGS, details=notebook_of_tests.DETAILS
    )
    assert again.read_bytes() == built.read_bytes()


def test_figures_are_left_in_three_forms(built):
    names = {path.name for path in (built.parent / "figures").iterdir()}
    assert {"load-against-mass.svg", "load-against-mass.png", "load-against-mass.vl.json"} <= names
    assert len(names) == 18


@pytest.mark.parametrize("target", ["fig:nowhere", "eq:nowhere", "ref:nobody-1900", "sec:none"])
def test_an_unresolved_reference_fails_the_build(tmp_path, target):
    with pytest.raises(UnresolvedReference, match=target):
        made(tmp_path, new_markdown_cell(f"See [Figure](#{target})."))
    assert not (tmp_path / "small.html").exists()


def test_hostile_names_stay_text(tmp_path):
    evil = invented.HOSTILE
    soup = made(
        tmp_path,
        new_markdown_cell(f"Raw: {evil}"),
        shown(**{"text/html": f"<b onclick='x()'>b</b><script>x()</script>{evil}"}),
        shown(**{"text/plain": evil}),
        shown(**{"image/svg+xml": f"<svg onload='x()'><script>x()</script>{evil}</svg>"}),
        title=evil,
        authors=[{"name": evil, "affiliation": evil, "orcid": '"><script>x()</script>'}],
        banner=evil,
        details={"purpose": evil, "licence": evil, "language": '"><script>'},
    )
    assert soup.title.text == evil and soup.h1.text == evil
    assert soup.find_all("script") == []
    assert not [tag for tag in soup.find_all(True) for name in tag.attrs if name.startswith("on")]
    assert not [a for a in soup.find_all("a") if a.get("href", "").startswith("javascript")]
    assert all(img["src"].startswith("data:") for img in soup.find_all("img"))


def test_a_failed_step_is_said_at_the_top(tmp_path):
    failed = new_output("error", ename="ValueError", evalue="<b>no</b>", traceback=[])
    soup = made(tmp_path, new_code_cell("x", outputs=[failed]))
    assert "1 step(s) of this write-up failed" in soup.select_one(".banner").text
    assert "ValueError: <b>no</b>" in soup.select_one(".failed").text


def test_a_page_without_charts_carries_no_script(tmp_path):
    soup = made(tmp_path, new_markdown_cell("Nothing to draw."))
    assert not soup.find_all("script")
    assert (
        "script-src 'none'" in soup.find("meta", attrs={"http-equiv": "Content-Security-Policy"})["content"]
    )


def test_a_hostile_text_inside_a_chart_cannot_end_its_data_block(built):
    text = built.read_text(encoding="utf-8")
    for block in re.findall(r'data-spec="[^"]+">(.*?)</script>', text, re.DOTALL):
        assert "<" not in block
