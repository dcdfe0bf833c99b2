"""Standard shapes against closed forms written out here, and rolled sections against printed areas."""

import csv
import math

import pytest
from shapely import Polygon

from kit.errors import InputError
from kit.outlines.flattening import signed_areas
from kit.outlines.making import Making
from kit.outlines.preparing import prepare
from kit.outlines.rolled import table
from kit.outlines.shapes import SHAPES, outline_of
from kit.outlines.specs import Shape
from kit.places import DATA

CORNER = 1 - math.pi / 4  # area between a right angle and its arc, over the radius squared

EXACT = {
    ("rectangle", (("depth", 30.0), ("width", 20.0))): 600,
    ("rectangle", (("depth", 30.0), ("width", 20.0), ("corner_radius", 4.0))): 600 - 4 * CORNER * 16,
    ("circle", (("diameter", 20.0),)): math.pi * 100,
    ("ellipse", (("depth", 30.0), ("width", 20.0))): math.pi * 150,
    ("tube", (("diameter", 20.0), ("wall", 2.0))): math.pi * (100 - 64),
    ("square-tube", (("depth", 50.0), ("wall", 4.0))): 2500 - 42**2,
    ("square-tube", (("depth", 50.0), ("wall", 4.0), ("outer_radius", 8.0))): 2500
    - 42**2
    - 4 * CORNER * (64 - 16),
    ("square-tube", (("depth", 50.0), ("width", 30.0), ("wall", 4.0))): 1500 - 42 * 22,
    ("i-section", (("depth", 100.0), ("width", 60.0), ("flange", 8.0), ("web", 5.0), ("root_radius", 7.0))): 2
    * 60
    * 8
    + 84 * 5
    + 4 * CORNER * 49,
    (
        "i-section",
        (("depth", 100.0), ("width", 60.0), ("flange", 8.0), ("web", 5.0), ("top_width", 40.0)),
    ): 100 * 8 + 84 * 5,
    (
        "t-section",
        (("depth", 80.0), ("width", 60.0), ("flange", 8.0), ("web", 5.0), ("root_radius", 6.0)),
    ): 480 + 72 * 5 + 2 * CORNER * 36,
    ("channel", (("depth", 80.0), ("width", 40.0), ("flange", 8.0), ("web", 5.0), ("root_radius", 6.0))): 640
    + 64 * 5
    + 2 * CORNER * 36,
    ("angle", (("depth", 80.0), ("thickness", 8.0), ("root_radius", 10.0), ("toe_radius", 5.0))): 8 * 152
    + CORNER * (100 - 2 * 25),
}


@pytest.mark.parametrize(("shape", "dimensions"), EXACT)
def test_area_is_the_closed_form(shape, dimensions):
    outline = outline_of(Shape("x", shape, dimensions))
    assert sum(signed_areas(outline.contours)) == pytest.approx(EXACT[shape, dimensions], rel=1e-6)


def test_every_shape_is_tried():
    assert {shape for shape, _ in EXACT} == set(SHAPES)


@pytest.mark.parametrize("designation", [row["designation"] for row in table().values()])
def test_rolled_sections_have_the_area_printed_beside_them(designation):
    """Printed to three digits: radii wrong by a millimetre would show."""
    row = next(r for r in table().values() if r["designation"] == designation)
    outline = outline_of(Shape("x", designation=designation))
    area = sum(signed_areas(outline.contours)) / 100
    assert area == pytest.approx(float(row["area_cm2"]), rel=4.5e-3)


def test_designations_do_not_mind_blanks_and_case():
    a, b = (outline_of(Shape("x", designation=d)) for d in ("IPE 200", "ipe200"))
    assert a.content == b.content and a.internal_radius_mm == 12


def test_the_table_names_its_source():
    with (DATA / "rolled.csv").open(encoding="utf-8") as lines:
        assert all(row["source"] for row in csv.DictReader(lines))


@pytest.mark.parametrize(
    ("shape", "dimensions", "word"),
    [
        ("rectangel", (), "rectangel"),
        ("rectangle", (("depth", 1.0),), "width"),
        ("rectangle", (("depth", 1.0), ("width", 1.0), ("flange", 1.0)), "flange"),
        ("rectangle", (("depth", -1.0), ("width", 1.0)), "-1"),
        ("circle", (("diameter", math.nan),), "nan"),
        ("tube", (("diameter", 10.0), ("wall", 5.0)), "wall"),
        ("i-section", (("depth", 10.0), ("width", 10.0), ("flange", 5.0), ("web", 1.0)), "web"),
        ("angle", (("depth", 10.0), ("thickness", 10.0)), "leg"),
    ],
)
def test_impossible_dimensions_are_refused_by_name(shape, dimensions, word):
    with pytest.raises(InputError, match=word):
        outline_of(Shape("x", shape, dimensions))


def test_an_unknown_designation_says_what_there_is():
    with pytest.raises(InputError, match="IPE"):
        outline_of(Shape("x", designation="XYZ 200"))


def test_internal_radius_is_the_root_radius_and_grows_with_the_fit():
    spec = Shape(
        "x",
        "i-section",
        (("depth", 100.0), ("width", 60.0), ("flange", 8.0), ("web", 5.0), ("root_radius", 7.0)),
    )
    outline = outline_of(spec)
    assert prepare(outline, Making()).internal_radius_mm == 7
    assert prepare(outline, Making(fit=("scale", (2.0,)))).internal_radius_mm == 14
    assert prepare(outline, Making(cutter_radius_mm=9.0)).internal_radius_mm == 9
    assert math.isinf(
        prepare(outline_of(Shape("x", "circle", (("diameter", 9.0),))), Making()).internal_radius_mm
    )


def test_prepared_shapes_are_centred_and_valid():
    outline = outline_of(Shape("x", "angle", (("depth", 80.0), ("width", 50.0), ("thickness", 8.0))))
    polygon = prepare(outline, Making()).polygon
    assert isinstance(polygon, Polygon) and polygon.is_valid
    assert polygon.centroid.coords[0] == pytest.approx((0, 0), abs=1e-9)
