"""The outline sheet: everything is on it, and nothing on it is markup of a stranger's."""

import time
from xml.etree import ElementTree

from drawn import outline, square

from kit.outlines import LeftOut, Making, prepare, repairs_svg, sheet_html, sheet_svg

NASTY = '<script>alert("&")</script>'


def made(name="one", **more):
    import dataclasses

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
    for text in (sheet_svg(used, lost), sheet_html(used, lost)):
        assert "<script" not in text and "&lt;script" in text
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


def test_the_page_shows_each_outline_by_family_and_by_character_and_draws_it_once():
    faces = [made(f"{f}/{c}", family=f, character=c, style="s") for f in ("P", "Q") for c in "AB"]
    text = sheet_html(faces, [])
    for title in ("P s", "Q s", "A", "B"):
        assert f"<summary>{title} (2)" in text
    assert text.count("<symbol") == 4 and text.count("<use") == 8
    assert {f"href='#o{i}'" for i in range(4)} <= set(text.replace(">", " ").split())


def test_the_page_asks_for_nothing():
    text = sheet_html([made()], [])
    assert "http" not in text.replace("http-equiv", "") and "default-src 'none'" in text


def test_thousands_stay_light():
    one = made()
    start = time.perf_counter()
    text = sheet_html([one] * 3000, [LeftOut("a", "b", "c")] * 1000)
    assert len(text) < 5e6
    assert time.perf_counter() - start < 60  # a guard against a cost that grows with the square


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
