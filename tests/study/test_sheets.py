"""What a study leaves as pictures of its outlines."""

import pytest

from kit.errors import Unusable
from kit.outlines import LeftOut, Making, prepare
from kit.outlines.arcs import line
from kit.outlines.outline import Outline
from kit.outlines.points import closed
from kit.study import sheets


def square(size, x=0.0, y=0.0):
    corners = [(x, y), (x + size, y), (x + size, y + size), (x, y + size)]
    return closed([line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)])


def drawing(name, *contours):
    return Outline(name=name, source=f"{name}.svg", contours=contours, unit_mm=1.0)


SOUND = prepare(drawing("whole", square(90.0)), Making())
DUSTY = prepare(drawing("dusty", square(90.0), square(0.8, 100.0)), Making())


# A large square and 400 crumbs, 3 % of the area together, each too small to keep.
CRUMBLED = drawing("crumbled", square(90.0), *[square(0.8, 100.0 + 2.0 * i) for i in range(400)])


def names(folder):
    return sorted(file.name for file in folder.iterdir())


def shown(*prepared, lost=(), outlines=()):
    return sheets.Shown(prepared, lost, outlines)


def test_a_few_outlines_are_a_page_and_one_picture(tmp_path):
    assert sheets.keep(tmp_path, shown(SOUND), Making()) == tmp_path / "outlines.html"
    assert names(tmp_path) == ["outlines.html", "outlines.svg"]


def test_many_outlines_are_a_page_and_the_picture_stays_small(tmp_path):
    lost = [LeftOut("a", f"{i}", "why") for i in range(2000)]
    assert sheets.keep(tmp_path, shown(*[SOUND] * 3000, lost=lost), Making()) == tmp_path / "outlines.html"
    assert names(tmp_path) == ["outlines.html", "outlines.svg"]
    picture = (tmp_path / "outlines.svg").read_text()
    assert "3000 outlines used, 2000 left out; 200 and 100 of them" in picture
    assert len(picture) < 200_000


def test_outlines_left_out_are_drawn_where_they_could_be_read(tmp_path):
    pair = drawing("pair", square(90.0), square(80.0, 100.0))
    lost = [LeftOut("pair.svg", "pair", "it is in 2 separate parts"), LeftOut("bad.svg", "", "damaged")]
    sheets.keep(tmp_path, shown(SOUND, lost=lost, outlines=[SOUND.outline, pair]), Making())
    picture = (tmp_path / "outlines.svg").read_text()
    assert picture.count('fill="#b9bfc4"') == 1 and "<title>pair</title>" in picture and "bad.svg" in picture


def test_repairs_are_shown_and_an_earlier_picture_of_them_does_not_stay(tmp_path):
    assert DUSTY.repaired_area_share == pytest.approx(0.64 / 8100.0, rel=1e-6)
    sheets.keep(tmp_path, shown(SOUND, DUSTY), Making())
    assert "dusty" in (tmp_path / "repairs.svg").read_text()
    assert "whole" not in (tmp_path / "repairs.svg").read_text()
    sheets.keep(tmp_path, shown(SOUND), Making())
    assert names(tmp_path) == ["outlines.html", "outlines.svg"]


def test_what_needed_too_much_repair_is_shown_first(tmp_path):
    with pytest.raises(Unusable) as refused:
        prepare(CRUMBLED, Making())
    lost = [LeftOut("crumbled.svg", "crumbled", str(refused.value))]
    sheets.keep(tmp_path, shown(DUSTY, lost=lost, outlines=[DUSTY.outline, CRUMBLED]), Making())
    picture = (tmp_path / "repairs.svg").read_text()
    assert picture.index("crumbled") < picture.index("dusty") and picture.count("left out") == 1
