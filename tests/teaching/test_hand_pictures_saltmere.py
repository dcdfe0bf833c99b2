"""Hand checks that can fail, pictures that show what they say, and the demo's outlines by name."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from kit.errors import InputError, Unusable
from kit.places import carried
from kit.sections.mesh import mesh_polygon
from kit.study.stages import open_study
from kit.teaching import saltmere
from kit.teaching.hand import hand_check
from kit.teaching.pictures import bending_picture, curves, field_picture, section_picture


def test_a_hand_check_that_agrees_shows_both_values():
    shown = hand_check("load, N", 100.0, 100.4, within=0.005)._repr_markdown_()
    assert "100.4" in shown and "4.0e-03" in shown and "load, N" in shown


@pytest.mark.parametrize("computed", [101.0, -100.0, float("nan"), float("inf")])
def test_a_hand_check_that_differs_fails_with_both_values(computed):
    with pytest.raises(AssertionError, match=r"load, N: by hand 100"):
        hand_check("load, N", 100.0, computed, within=0.005)


def test_nothing_is_compared_with_zero():
    with pytest.raises(ValueError, match="relative"):
        hand_check("load, N", 0.0, 0.0)


def test_a_picture_is_sound_svg_with_its_labels_escaped():
    plank = saltmere.plates((0, 0, 40, 100))
    shown = section_picture(plank, axes={"a < b": ((0, 0), 30)}, points={"c": (80, 0)}, name="plank & more")
    root = ElementTree.fromstring(shown.text)
    words = [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")]
    assert words == ["a < b", "c", "20 mm"] and repr(shown).startswith("plank & more")


@pytest.mark.parametrize("size_mm", [3.0, 100.0, 700.0])
def test_a_bar_tells_how_long_a_millimetre_is(size_mm):
    shown = section_picture(saltmere.plates((0, 0, size_mm, size_mm))).text
    long, told = re.search(r'class="measure" d="M[^h]+h([0-9.]+)v.*?>([0-9.]+) mm<', shown).groups()
    corners = re.findall(r"M?([0-9.]+),[0-9.]+", re.search(r'd="(M[^"]+)Z', shown)[1])
    wide = max(map(float, corners)) - min(map(float, corners))
    assert float(long) / float(told) == pytest.approx(wide / size_mm, rel=0.01)


def test_a_point_outside_the_section_lies_inside_the_picture():
    shown = section_picture(saltmere.plates((0, 0, 40, 100)), points={"far": (300.0, 0.0)}).text
    width = float(re.search(r'viewBox="0 0 ([0-9.]+)', shown)[1])
    assert float(re.search(r'cx="([0-9.]+)"', shown)[1]) < width


def test_sagging_is_blue_above_and_red_below():
    shown = bending_picture(saltmere.plates((0, 0, 40, 100)), 1.0, bands=2).text
    below, above = re.findall(r'fill="#([0-9a-f]{6})"/>', shown)[1:3]
    assert int(below[:2], 16) > int(below[4:], 16) and int(above[:2], 16) < int(above[4:], 16)


def test_a_field_has_four_patches_for_each_triangle_that_together_cover_the_section():
    mesh = mesh_polygon(saltmere.plates((0, 0, 40, 100)), 50)
    shown = field_picture(mesh, mesh.points[:, 0], "x").text
    found = re.findall(r"M([0-9.]+),([0-9.]+)L([0-9.]+),([0-9.]+)L([0-9.]+),([0-9.]+)Z", shown)
    corners = np.array(found, float).reshape(-1, 3, 2)
    (a, b), (c, d) = (corners[:, 1] - corners[:, 0]).T, (corners[:, 2] - corners[:, 0]).T
    assert len(found) == 4 * len(mesh.triangles)
    assert np.abs(a * d - b * c).sum() / 2 == pytest.approx(40 * 100 * (320 / 136) ** 2, rel=0.01)


def test_a_label_near_the_right_edge_runs_to_the_left():
    shown = section_picture(saltmere.plates((0, 0, 100, 40)), points={"shear centre": (50.0, 0.0)}).text
    assert 'text-anchor="end"' in shown


def test_a_field_is_drawn_with_the_edge_of_its_section():
    mesh = mesh_polygon(saltmere.plates((0, 0, 40, 100)), 50)
    shown = field_picture(mesh, mesh.points[:, 0], "x").text
    edge = re.search(r'class="edge" d="([^"]+)"', shown)[1]
    ends = np.array(re.findall(r"M([0-9.]+),([0-9.]+)L([0-9.]+),([0-9.]+)", edge), float)
    long = np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1]).sum()
    assert long == pytest.approx(2 * (40 + 100) * 320 / 136, rel=0.01)


def test_curves_hold_every_line_and_mark():
    chart = curves({"one": ([1, 2], [3, 4])}, "x, mm", "y, N", marks={"p": (1.0, 3.0)}).to_dict()
    assert len(chart["layer"]) == 3 and chart["description"] == "y, N against x, mm: one, p"


def test_every_drawing_of_the_demo_can_be_made_ready():
    for name in saltmere.drawings():
        made = saltmere.ready(saltmere.drawing(name), 80.0).drawn
        left, bottom, right, top = made.bounds
        assert max(right - left, top - bottom) == pytest.approx(80.0, rel=1e-3)


@pytest.mark.parametrize("ask", [lambda: saltmere.drawing("../x"), lambda: saltmere.letter("A", "Comic")])
def test_an_unknown_outline_is_refused_with_the_known_ones(ask):
    with pytest.raises(InputError, match="use one of"):
        ask()


def test_plates_have_their_centroid_at_the_origin_and_must_touch():
    tee = saltmere.plates((0, 0, 10, 90), (-45, 90, 55, 100))
    assert np.allclose(tee.centroid.coords[0], 0.0, atol=1e-9) and tee.area == pytest.approx(1900.0)
    with pytest.raises(Unusable):
        saltmere.plates((0, 0, 1, 1), (5, 5, 6, 6))


def test_the_plastic_is_that_of_the_demo_study():
    study = open_study(carried("params/saltmere.yml"))
    assert study.variants[0].material == saltmere.LUMBER
