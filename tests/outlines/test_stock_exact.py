"""Stock and chips counted by hand."""

import dataclasses
import math

import numpy as np
import pytest
from drawn import outline, square
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPoint, Polygon, affinity

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


def needed_at_half_a_right_angle(length, width):
    return (length + width) / math.sqrt(2)


@pytest.mark.parametrize("lies", [0.0, 20.0, 111.0])
def test_a_bar_fits_aslant_into_a_square(lies):
    """A bar of 100 × 10 at 45 degrees needs 110/√2 = 77.8 mm both ways, and no less at any angle."""
    bar = affinity.rotate(Polygon([(0, 0), (100, 0), (100, 10), (0, 10)]), lies)
    side = needed_at_half_a_right_angle(100, 10)
    angle = check_stock(bar, side + 1e-4, side + 1e-4)
    assert (angle + lies) % 90 == pytest.approx(45, abs=0.1)
    with pytest.raises(Unusable, match="no angle"):
        check_stock(bar, side - 1e-4, side - 1e-4)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 50), st.floats(0, 50)), min_size=4, max_size=9),
    st.floats(5, 80),
    st.floats(5, 80),
)
def test_any_angle_is_tried(points, width, depth):
    """Against a search in steps of a fortieth of a degree."""
    hull = MultiPoint(points).convex_hull
    if hull.geom_type != "Polygon" or hull.area < 1.0:
        return
    x, y = np.asarray(hull.exterior.coords).T
    t = np.radians(np.arange(0, 180, 0.025))[:, None]
    wide, deep = np.ptp(x * np.cos(t) - y * np.sin(t), axis=1), np.ptp(x * np.sin(t) + y * np.cos(t), axis=1)
    over = np.maximum(wide - width, deep - depth)
    try:
        angle = check_stock(hull, width, depth)
    except Unusable:
        assert over.min() > 0
    else:
        box = affinity.rotate(hull, angle, origin=(0, 0)).bounds
        assert box[2] - box[0] <= width + 1e-6 and box[3] - box[1] <= depth + 1e-6
        assert over.min() < 0.05


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
    with pytest.raises(Unusable, match="20 × 60 mm as it lies, and fits into 25 × 59 mm at no angle"):
        plate(stock_mm=(25.0, 59.0))
