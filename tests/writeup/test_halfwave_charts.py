"""The half-wavelength picture: its tables say what the curve says, and it draws."""

import re
from functools import cache

import numpy as np
import pytest
import vl_convert
from shapely import LineString, box

from kit.sections.halfwave import half_wavelength_curve, section_under
from kit.sections.halfwave_stress import LinearStress, isotropic
from kit.writeup import look
from kit.writeup.halfwave_charts import (
    COLOURS,
    NAMES,
    buckled_path,
    curve_frame,
    half_wavelength_figure,
    half_wavelength_slider,
    in_words,
    shapes_frame,
    shares_frame,
)

BAR = box(0, 0, 50, 100)
CHANNEL = LineString([(50, 0), (0, 0), (0, 100), (50, 100)]).buffer(2, cap_style="flat", join_style="mitre")
TUBE = box(0, 0, 60, 60) - box(4, 4, 56, 56)


@cache
def curve_of(polygon):
    return half_wavelength_curve(section_under(polygon, isotropic(70000.0, 0.33), LinearStress(-1.0), 120))


def test_lowest_mode_of_the_table_is_the_curve():
    curve = curve_of(CHANNEL)
    lowest = curve_frame(curve).query("mode == 1")
    assert lowest["stress_MPa"].to_numpy() == pytest.approx(curve.stresses_MPa)
    assert lowest["relative"].to_numpy() == pytest.approx(curve.half_wavelengths_mm / curve.section.depth_mm)


def test_shares_fill_the_band():
    totals = shares_frame(curve_of(CHANNEL)).groupby("relative")["share"].sum()
    assert totals.to_numpy() == pytest.approx(np.ones(len(totals)))


def test_every_minimum_and_the_long_end_are_drawn():
    curve = curve_of(CHANNEL)
    shown = shapes_frame(curve)
    assert list(shown["title"][:-1]) == [minimum.kind for minimum in curve.minima]
    assert shown["title"].iloc[-1].startswith("long member")
    assert len(shapes_frame(curve_of(BAR))) == 1


def test_section_at_rest_is_the_outline_in_its_square():
    curve = curve_of(BAR)
    path = buckled_path(curve, curve.points[0].shapes[0], 0.0)
    numbers = np.array([[float(v) for v in pair.split(",")] for pair in re.findall(r"[-\d.]+,[-\d.]+", path)])
    assert np.ptp(numbers, axis=0) == pytest.approx([1 / 1.45, 2 / 1.45], abs=2e-3)
    assert np.abs(numbers).max() <= 1


def test_moved_sections_stay_in_their_square_and_keep_their_holes():
    curve = curve_of(TUBE)
    for point in curve.points:
        path = buckled_path(curve, point.shapes[0])
        assert path.count("Z") == 2
        assert max(abs(float(v)) for v in re.findall(r"-?\d+\.\d+", path)) < 1


def test_words_tell_what_the_picture_tells():
    assert "do not apply" in in_words(curve_of(BAR))
    assert "local at" in in_words(curve_of(CHANNEL))


@pytest.mark.parametrize("polygon", [BAR, CHANNEL], ids=["bar", "channel"])
def test_figure_draws(polygon):
    figure = half_wavelength_figure(curve_of(polygon), "a section", strength_MPa=200.0)
    svg = vl_convert.vegalite_to_svg(figure.spec())
    assert svg.startswith("<svg")
    assert "half-wavelength ÷ depth" in svg
    assert all(name in svg for name in NAMES.values())
    assert len(svg) < 400_000


def test_slider_walks_over_every_point():
    curve = curve_of(CHANNEL)
    spec = half_wavelength_slider(curve).to_dict()
    slider = next(parameter for parameter in spec["params"] if parameter["name"] == "place")
    assert slider["bind"]["max"] == len(curve.points) - 1
    assert slider["bind"]["name"] == "point of the curve ", "it shows which point, no length"
    assert vl_convert.vegalite_to_svg(spec | {"config": look.config()}).startswith("<svg")


def test_motions_have_a_colour_each():
    assert len(set(COLOURS)) == len(NAMES)
