"""What a study leaves as pictures of its outlines."""

import pytest

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


def names(folder):
    return sorted(file.name for file in folder.iterdir())


def test_a_few_outlines_are_one_picture(tmp_path):
    assert sheets.keep(tmp_path, [SOUND], [], Making()) == tmp_path / "outlines.svg"
    assert names(tmp_path) == ["outlines.svg"]


def test_many_outlines_are_a_page_too(tmp_path):
    lost = [LeftOut("a", f"{i}", "why") for i in range(sheets.MOST_ON_ONE_PICTURE)]
    assert sheets.keep(tmp_path, [SOUND], lost, Making()) == tmp_path / "outlines.html"
    assert names(tmp_path) == ["outlines.html", "outlines.svg"]


def test_repairs_are_shown_and_an_earlier_picture_of_them_does_not_stay(tmp_path):
    assert DUSTY.repaired_area_share == pytest.approx(0.64 / 8100.0, rel=1e-6)
    sheets.keep(tmp_path, [SOUND, DUSTY], [], Making())
    assert "dusty" in (tmp_path / "repairs.svg").read_text()
    assert "whole" not in (tmp_path / "repairs.svg").read_text()
    sheets.keep(tmp_path, [SOUND], [], Making())
    assert names(tmp_path) == ["outlines.svg"]
