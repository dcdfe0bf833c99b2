"""Stock and chips counted by hand."""

import dataclasses
import math

import pytest
from drawn import outline, square
from shapely import Polygon, affinity

from kit.errors import Unusable
from kit.outlines.making import Making
from kit.outlines.preparing import prepare
from kit.outlines.shapes import outline_of
from kit.outlines.specs import Shape
from kit.outlines.stock import check_stock, stock_for

ELL = Polygon([(0, 0), (60, 0), (60, 20), (20, 20), (20, 40), (0, 40)])


def test_chips_are_the_stock_without_the_section():
    stock = stock_for(ELL, 1.0)
    assert (stock.width_mm, stock.depth_mm) == (62, 42)
    assert stock.chips_area_mm2 == pytest.approx(62 * 42 - 1600)


def test_a_section_is_turned_where_that_makes_it_fit():
    assert check_stock(ELL, 60, 40) == 0
    assert check_stock(ELL, 40, 60) == 90
    tilted = affinity.rotate(ELL, 30, origin=(0, 0))
    angle = check_stock(tilted, 60, 40)
    box = affinity.rotate(tilted, angle, origin=(0, 0)).bounds
    assert (box[2] - box[0], box[3] - box[1]) == pytest.approx((60, 40))


def test_stock_that_is_too_small_is_refused_with_the_size_needed():
    with pytest.raises(Unusable, match="50 × 50 mm"):
        check_stock(Polygon(square(50)), 49, 60)


def plate(**making):
    bar = Shape("bar", "rectangle", (("depth", 60.0), ("width", 20.0)))
    return prepare(outline_of(bar), Making(process="cut-from-plate", **making))


def test_what_a_preparation_cuts_away_of_its_stock():
    assert plate(stock_mm=(25.0, 60.0)).chips_area_mm2 == pytest.approx(25 * 60 - 20 * 60)
    assert plate(stock_mm=(60.0, 25.0)).chips_area_mm2 == pytest.approx(25 * 60 - 20 * 60)


def test_without_stock_given_the_rectangle_of_least_area_counts():
    ell = outline([(0, 0), (60, 0), (60, 20), (20, 20), (20, 40), (0, 40)])
    turned = dataclasses.replace(ell, contours=turned_by(30.0, ell.contours))
    for drawn in (ell, turned):
        made = prepare(drawn, Making(process="wire-cut"))
        assert made.stock_mm == pytest.approx((60, 40))
        assert made.chips_area_mm2 == pytest.approx(60 * 40 - 1600)


@pytest.mark.parametrize("process", ["extruded", "printed"])
def test_what_is_not_cut_leaves_no_chips(process):
    made = prepare(outline(square(9)), Making(process=process))
    assert made.stock_mm is None and made.chips_area_mm2 is None


def turned_by(angle_deg, contours):
    cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return tuple(tuple(piece @ [[cos, sin], [-sin, cos]] for piece in contour) for contour in contours)


def test_an_outline_larger_than_the_stock_is_left_out():
    with pytest.raises(Unusable, match="20 × 60 mm, more than 25 × 59 mm"):
        plate(stock_mm=(25.0, 59.0))
