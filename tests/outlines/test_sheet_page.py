"""The outline sheet: everything is on it, and nothing on it is markup of a stranger's."""

import base64
import dataclasses
import hashlib
import json
import re
import time
from xml.etree import ElementTree

import numpy as np
import pytest
from drawn import outline, square
from shapely import Polygon

from kit.outlines import LeftOut, Making, prepare, repairs_svg, sheet_html, sheet_svg
from tests.writeup.browser import Browser, chromium

NASTY = '<script>alert("&")</script>'


def data_of(page: str) -> dict:
    """What the page carries for its script."""
    return json.loads(re.search(r'<script id="data"[^>]*>(.*?)</script>', page, re.DOTALL)[1])


def made(name="one", **more):
    ell = outline([(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)])
    return prepare(dataclasses.replace(ell, name=name, **more), Making(cutter_radius_mm=8.0))


def test_the_sheet_is_xml_and_names_everything():
    used = [made("heron"), made("Face/A", family="Face", character="A"), made("bar", source="shape")]
    text = sheet_svg(used, [LeftOut("bad.ttf", "Bad/Q", "it is in 2 separate parts")])
    words = " ".join(ElementTree.fromstring(text).itertext())
    for word in (
        "heron",
        "Face/A",
        "bar",
        "Bad/Q",
        "2 separate parts",
        "3 outlines used, 1 left out",
        "Drawings",
    ):
        assert word in words


def test_strangers_names_stay_text():
    used, lost = [made(NASTY, family=NASTY)], [LeftOut(NASTY, NASTY, NASTY)]
    assert "<script" not in sheet_svg(used, lost) and "&lt;script" in sheet_svg(used, lost)
    page = sheet_html(used, lost)
    assert NASTY not in page and page.count("<script") == 2 and data_of(page)["left"][0][0] == NASTY
    ElementTree.fromstring(sheet_svg(used, lost))


def test_what_cutting_adds_is_drawn_in_its_own_colour():
    assert sheet_svg([made()], []).count("#e2711d") == 2
    plain = prepare(outline(square(9)), Making())
    assert "#e2711d" not in sheet_svg([plain], [])


def test_groups_by_family_character_and_source():
    faces = [made(f"{f}/{c}", family=f, character=c, source=f"{f}.ttf") for f in ("P", "Q") for c in "AB"]
    for by, titles in [("family", ("P ", "Q ")), ("character", ("A", "B")), ("source", ("P.ttf", "Q.ttf"))]:
        text = sheet_svg(faces, [], by=by)
        assert all(f"{title} (2)" in text for title in titles)


def test_the_page_holds_each_outline_once_in_both_orders():
    faces = [made(f"{f} s/{c}", family=f, character=c, style="s") for f in ("P", "Q") for c in "AB"]
    data = data_of(sheet_html(faces, []))
    assert data["orders"]["family"] == [["P s", [0, 1]], ["Q s", [2, 3]]]
    assert data["orders"]["character"] == [["A", [0, 2]], ["B", [1, 3]]]
    assert [(data["families"][one[1]], one[2]) for one in data["outlines"]] == [
        ("P s", "A"), ("P s", "B"), ("Q s", "A"), ("Q s", "B")
    ]  # fmt: skip
    assert all(one[4].startswith("M") and one[5].startswith("M") for one in data["outlines"])


def test_a_cut_too_small_to_be_seen_is_not_drawn_on_the_page():
    ell = outline([(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)])
    (plain, barely) = (prepare(ell, Making(cutter_radius_mm=radius)) for radius in (0.0, 0.5))
    assert not plain.cut_area_share and barely.cut_area_share
    assert [one[5] for one in data_of(sheet_html([plain, barely, made()], []))["outlines"]][:2] == ["", ""]


def test_the_pages_paths_keep_the_shape():
    """The path, drawn by hand again, has the area of the outline at the picture's size."""
    (one,) = data_of(sheet_html([made()], []))["outlines"]
    steps = np.array(re.findall(r"-?\d+", one[4]), float).reshape(-1, 2).cumsum(axis=0)
    assert Polygon(steps).area == pytest.approx((60 * 20 + 20 * 40) * (192 / 60) ** 2, rel=0.01)


def test_only_the_pages_own_script_may_run_and_nothing_is_asked_for():
    text = sheet_html([made()], [])
    script = re.search(r"<script>(.*?)</script>", text, re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'" in text
    assert text.count("http") == 2 and "http://www.w3.org/2000/svg" in text  # and http-equiv


def test_thousands_stay_light():
    one = made()
    start = time.perf_counter()
    text = sheet_html([one] * 3000, [LeftOut("a", "b", "c")] * 1000)
    assert len(text) < 1e6
    assert time.perf_counter() - start < 60  # a guard against a cost that grows with the square


@pytest.mark.skipif(chromium() is None, reason="no browser is installed")
def test_the_page_in_a_browser(tmp_path):
    """A thousand families: only what is near the window is drawn; order, filter and flags do what they say."""
    ell = made()
    used = [
        dataclasses.replace(
            ell,
            outline=dataclasses.replace(
                ell.outline, name=f"F{i} s/{c}", family=f"F{i}", style="s", character=c
            ),
            flags=("font-restricted",) if i == 7 else (),
        )
        for i in range(1000)
        for c in "AB"
    ]
    pair = outline(square(90), square(80, 100.0))
    lost = [LeftOut(pair.source, pair.name, "it is in 2 separate parts"), LeftOut(NASTY, NASTY, NASTY)]
    page = tmp_path / "outlines.html"
    page.write_text(sheet_html(used, lost, [pair]), encoding="utf-8")
    browser = Browser()
    try:
        look_at(browser, page)
    finally:
        browser.close()


def look_at(browser, page):
    def count(what):
        return browser.evaluate(
            f"new Promise(done => requestAnimationFrame(() => setTimeout(() => "
            f"done(document.querySelectorAll({what!r}).length), 200)))"
        )

    def choose(control, value, event="change"):
        browser.evaluate(
            f"{{const c = document.getElementById('{control}'); c.value = '{value}'; "
            f"c.dispatchEvent(new Event('{event}'))}}"
        )

    browser.open(page, wait="document.querySelector('.tile')")
    assert count("details") == 1001 and 0 < count(".tile") < 200
    choose("order", "character")
    assert count("details") == 3 and count("#links button") == 3
    choose("order", "family")
    choose("filter", "f99", "input")
    assert count("details") == 11 and 0 < count(".tile") <= 22  # F99, F990 … F999
    choose("filter", "", "input")
    choose("flag", "font-restricted")
    assert count("details") == 1 and count(".tile") == 2
    choose("flag", "")
    browser.evaluate("scrollTo(0, 1e9)")
    assert count(".card") == 2 and count(".card path") == 1
    assert NASTY in browser.evaluate("document.querySelectorAll('.card')[1].textContent")
    assert not browser.complaints() and not browser.requests()


def test_repairs_are_shown_before_and_after():
    dusty = outline(square(100), square(0.9, 40, 120), square(30, 5, 5, -1))
    repaired = prepare(dusty, Making())
    text = repairs_svg([made(), repaired])
    paths = ElementTree.fromstring(text).findall(".//{http://www.w3.org/2000/svg}path")
    assert [p.get("d").count("M") for p in paths] == [3, 2]
    assert "slivers-dropped" in text
    assert repairs_svg([made()]) == ""


def test_an_empty_sheet():
    ElementTree.fromstring(sheet_svg([], []))
    assert "0 outlines used" in sheet_html([], [])
