"""DXF drawings made here against areas in closed form."""

import math

import ezdxf
import ezdxf.units
import numpy as np
import pytest
from ezdxf.xclip import XClip
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.errors import Unusable
from kit.outlines.dxf import drawing
from kit.outlines.flattening import bounds, flatten, signed_areas
from kit.outlines.isolation import read_isolated
from kit.outlines.making import Making
from kit.outlines.preparing import prepare
from kit.outlines.specs import DxfFiles

FINE = Making(keep_area=True)


@pytest.fixture
def document():
    return ezdxf.new(units=4)


def area(document, **spec):
    outline = drawing(document, "d", "d.dxf", DxfFiles((), **spec))
    return prepare(outline, FINE).polygon.area


def rectangle(space, x, y, w, h, **dxf):
    space.add_lwpolyline([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], close=True, dxfattribs=dxf)


def test_a_polyline_with_a_circular_hole(document):
    space = document.modelspace()
    rectangle(space, 0, 0, 40, 30)
    space.add_circle((20, 15), 5)
    assert area(document) == pytest.approx(1200 - 25 * math.pi, rel=1e-6)


def test_bulges_are_arcs(document):
    """Two half circles on a square's sides: bulge 1 is a half circle."""
    document.modelspace().add_lwpolyline(
        [(0, 0, 0), (20, 0, 1), (20, 20, 0), (0, 20, 1)], format="xyb", close=True
    )
    assert area(document) == pytest.approx(400 + 100 * math.pi, rel=1e-6)


def test_old_polylines_have_bulges_too(document):
    line = document.modelspace().add_polyline2d([(0, 0), (20, 0), (20, 20), (0, 20)], close=True)
    line.vertices[1].dxf.bulge = math.tan(math.pi / 8)  # a quarter circle
    assert area(document) == pytest.approx(400 + 200 * (math.pi / 4 - 0.5), rel=1e-6)


def test_an_ellipse_and_part_of_one(document):
    space = document.modelspace()
    space.add_ellipse((0, 0), (30, 0), 0.5)
    assert area(document) == pytest.approx(math.pi * 30 * 15, rel=1e-6)
    half = ezdxf.new(units=4)
    half.modelspace().add_ellipse((0, 0), (30, 0), 0.5, 0, math.pi)
    half.modelspace().add_line((-30, 0), (30, 0))
    assert area(half) == pytest.approx(math.pi * 30 * 15 / 2, rel=1e-6)


def test_lines_and_arcs_in_any_order_and_direction_close(document):
    space = document.modelspace()
    space.add_line((20, 10), (0, 10))
    space.add_arc((20, 5), 5, -90, 90)
    space.add_line((20, 0), (0, 0))
    space.add_arc((0, 5), 5, 90, 270)
    assert area(document) == pytest.approx(200 + 25 * math.pi, rel=1e-6)


def test_gaps_close_up_to_the_stated_one_only(document):
    space = document.modelspace()
    for a, b in [((0, 0), (20, 0)), ((20.004, 0), (20, 20)), ((20, 20), (0, 20.003)), ((0, 20), (0, 0.004))]:
        space.add_line(a, b)
    assert area(document) == pytest.approx(400, rel=1e-3)
    with pytest.raises(Unusable, match="meets no other"):
        area(document, gap_mm=0.001)


def test_lines_drawn_twice_count_once(document):
    space = document.modelspace()
    corners = [(0, 0), (20, 0), (20, 20), (0, 20)]
    for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
        space.add_line(a, b)
        space.add_line(b, a)
    assert area(document) == pytest.approx(400)


@pytest.mark.parametrize("way", [1, -1])
def test_a_loop_drawn_twice_from_another_corner_counts_once(document, way):
    corners = [(0, 0), (30, 0), (30, 20), (0, 20)]
    document.modelspace().add_lwpolyline(corners, close=True)
    document.modelspace().add_lwpolyline((corners[2:] + corners[:2])[::way], close=True)
    document.modelspace().add_circle((15, 10), 5)
    document.modelspace().add_lwpolyline([(15, 5, 1), (15, 15, 1)], format="xyb", close=True)
    assert area(document) == pytest.approx(600 - math.pi * 25, rel=1e-5)


@settings(max_examples=40, deadline=None)
@given(
    st.permutations(range(6)),
    st.lists(st.booleans(), min_size=6, max_size=6),
    st.lists(st.floats(-0.004, 0.004), min_size=24, max_size=24),
)
def test_loose_lines_close_in_any_order_direction_and_within_the_gap(order, turned, shift):
    """An L of 30 × 20 less 20 × 10, its six sides shuffled, turned round and moved by less than half the gap."""
    corners = [(0, 0), (30, 0), (30, 10), (10, 10), (10, 20), (0, 20)]
    made = ezdxf.new(units=4)
    moves = np.reshape(shift, (6, 2, 2))
    for i in order:
        ends = np.array([corners[i], corners[(i + 1) % 6]]) + moves[i]
        made.modelspace().add_line(*(ends[::-1] if turned[i] else ends))
    assert area(made, gap_mm=0.02) == pytest.approx(400, abs=100 * 0.004 * 2)


def test_a_thin_tube_is_not_a_loop_drawn_twice(document):
    document.modelspace().add_circle((0, 0), 50)
    document.modelspace().add_circle((0, 0), 49.9)
    assert area(document) == pytest.approx(math.pi * (50**2 - 49.9**2), rel=1e-3)


def test_a_rational_spline_is_a_circle(document):
    """Four rational quadratic arcs with weights cos 45° between points on the axes are a circle, exactly."""
    corners = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    weights = [1.0, math.sqrt(0.5)] * 4 + [1.0]
    knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
    points = [(30 * x, 30 * y, 0) for x, y in corners]
    document.modelspace().add_rational_spline(points, weights, degree=2, knots=knots)
    outline = drawing(document, "d", "d.dxf", DxfFiles(()))
    ring = flatten(outline.contours, 1e-6)[0]
    assert np.abs(np.hypot(*ring.T) / 30 - 1).max() < 1e-6
    assert area(document) == pytest.approx(math.pi * 900, rel=1e-6)


def test_a_spline_of_the_fifth_degree_is_the_polynomial_it_was_made_from(document):
    """Bernstein coefficients of y = x⁵ on 0…1 are five zeros and a one; the area below it is 1/6.

    Hermite cubics in 16 steps miss 60 / 720 / 16⁴ of it (the Euler-Maclaurin formula), 8e-6 of the area.
    """
    document.modelspace().add_open_spline([(i / 5, float(i == 5)) for i in range(6)], degree=5)
    document.modelspace().add_lwpolyline([(1, 1), (1, 0), (0, 0)])
    outline = drawing(document, "d", "d.dxf", DxfFiles(()))  # before its tip, sharp as a needle, is repaired
    assert abs(signed_areas(outline.contours)[0]) == pytest.approx(1 / 6, rel=1e-5)


def test_three_ends_in_one_place_are_refused(document):
    space = document.modelspace()
    corners = [(0, 0), (20, 0), (20, 20), (0, 20)]
    for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
        space.add_line(a, b)
    space.add_line((0, 0), (-5, -5))
    with pytest.raises(Unusable, match="more than two ends"):
        area(document)


def test_loops_that_overlap_are_refused_and_nested_or_touching_ones_are_not(document):
    space = document.modelspace()
    rectangle(space, 0, 0, 20, 20)
    rectangle(space, 5, 5, 4, 4)
    rectangle(space, 20, 0, 3, 20)  # along a side
    assert area(document) == pytest.approx(400 - 16 + 60)
    rectangle(space, 15, 15, 10, 10)
    with pytest.raises(Unusable, match="overlap"):
        area(document)


def test_a_hatch_over_its_own_outline_is_one_shape(document):
    space = document.modelspace()
    rectangle(space, 0, 0, 20, 20)
    rectangle(space, 5, 5, 4, 4)
    hatch = space.add_hatch()
    hatch.paths.add_polyline_path([(0, 0), (20, 0), (20, 20), (0, 20)])
    hatch.paths.add_polyline_path([(5, 5), (9, 5), (9, 9), (5, 9)])
    assert area(document) == pytest.approx(400 - 16)


@pytest.mark.parametrize("radius", [6.0, 0.3])
@pytest.mark.parametrize("turn", [1, -1])
def test_a_hatch_in_a_hole_contradicts_it(document, radius, turn):
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (40, 0), (40, 40), (0, 40)][::turn], close=True)
    space.add_circle((20, 20), radius)
    ring = space.add_hatch().paths
    ring.add_polyline_path([(0, 0), (40, 0), (40, 40), (0, 40)])
    ring.add_edge_path().add_arc((20, 20), radius, 0, 360)
    assert area(document) == pytest.approx(1600 - math.pi * radius**2, rel=1e-6)
    space.add_hatch().paths.add_edge_path().add_arc((20, 20), radius, 0, 360)
    with pytest.raises(Unusable, match="hatch fills a hole"):
        area(document)


def test_a_hatch_bounded_by_edges(document):
    edges = document.modelspace().add_hatch().paths.add_edge_path()
    edges.add_line((0, 0), (20, 0))
    edges.add_arc((20, 5), 5, -90, 90)
    edges.add_line((20, 10), (0, 10))
    edges.add_line((0, 10), (0, 0))
    assert area(document) == pytest.approx(200 + 12.5 * math.pi, rel=1e-6)


def test_a_spline_through_a_known_parabola(document):
    """A clamped quadratic B-spline on three points is a parabola: area 2/3 of its control triangle."""
    space = document.modelspace()
    space.add_open_spline([(0, 0), (10, 20), (20, 0)], degree=2)
    space.add_line((0, 0), (20, 0))
    assert area(document) == pytest.approx(2 / 3 * 200, rel=1e-5)


def test_blocks_are_placed_turned_and_scaled(document):
    block = document.blocks.new("part")
    rectangle(block, 0, 0, 4, 2)
    space = document.modelspace()
    space.add_blockref("part", (10, 10), dxfattribs={"xscale": 3, "yscale": 5, "rotation": 30})
    assert area(document) == pytest.approx(8 * 15)


def drawn_box(document):
    """Width and height of all that is drawn."""
    boxes = bounds(drawing(document, "d", "d.dxf", DxfFiles(())).contours)
    return tuple(boxes[2:] - boxes[:2])


def test_a_turned_block_in_a_stretched_one_is_sheared(document):
    """A 4 × 2 rectangle turned by 30° and then stretched threefold across: no rectangle any more."""
    inner, outer = document.blocks.new("inner"), document.blocks.new("outer")
    rectangle(inner, 0, 0, 4, 2)
    outer.add_blockref("inner", (0, 0), dxfattribs={"rotation": 30})
    document.modelspace().add_blockref("outer", (0, 0), dxfattribs={"xscale": 3})
    across, up = 4 * math.cos(math.pi / 6) + 2 * math.sin(math.pi / 6), 4 * 0.5 + 2 * math.cos(math.pi / 6)
    assert drawn_box(document) == pytest.approx((3 * across, up), rel=1e-9)
    assert area(document) == pytest.approx(3 * 8, rel=1e-9)


def test_round_parts_of_a_stretched_block_are_elliptical(document):
    block = document.blocks.new("part")
    block.add_circle((5, 0), 2)
    block.add_lwpolyline([(-9, -9, 0), (19, -9, 1), (19, 9, 0), (-9, 9, 0)], format="xyb", close=True)
    document.modelspace().add_blockref("part", (7, 7), dxfattribs={"yscale": -0.5, "rotation": 20})
    assert area(document) == pytest.approx((28 * 18 + math.pi * 81 / 2 - 4 * math.pi) / 2, rel=1e-6)


def test_rows_of_a_block_in_a_larger_one_grow_with_it(document):
    """Two squares of 2 mm, 3 mm apart, twice as large: 4 mm each, 6 mm apart."""
    inner, outer = document.blocks.new("inner"), document.blocks.new("outer")
    rectangle(inner, 0, 0, 2, 2)
    outer.add_blockref("inner", (0, 0), dxfattribs={"column_count": 2, "column_spacing": 3})
    document.modelspace().add_blockref("outer", (0, 0), dxfattribs={"xscale": 2, "yscale": 2})
    assert drawn_box(document) == pytest.approx((10, 4), rel=1e-9)


def test_a_clipped_block_is_refused(document):
    """What lies outside the clip is not seen, so that the block is not the outline."""
    rectangle(document.blocks.new("part"), 0, 0, 4, 2)
    clip = XClip(document.modelspace().add_blockref("part", (0, 0)))
    clip.set_block_clipping_path([(0, 0), (2, 2)])
    with pytest.raises(Unusable, match="clip"):
        area(document)
    clip.disable_clipping()
    assert area(document) == pytest.approx(8)


def test_what_is_no_outline_is_refused_in_a_block_too(document):
    block = document.blocks.new("part")
    rectangle(block, 0, 0, 4, 2)
    block.add_region()
    document.modelspace().add_blockref("part", (0, 0))
    with pytest.raises(Unusable, match="REGION"):
        area(document)


@pytest.mark.parametrize("extrusion", [(0, 0.6, 0.8), (1, 0, 0)])
def test_a_tilted_block_is_refused(document, extrusion):
    rectangle(document.blocks.new("part"), 0, 0, 4, 2)
    document.modelspace().add_blockref("part", (0, 0), dxfattribs={"extrusion": extrusion})
    with pytest.raises(Unusable, match="out of the plane"):
        area(document)


def test_blocks_that_insert_themselves_are_refused(document):
    block = document.blocks.new("loop")
    block.add_blockref("loop", (1, 1))
    document.modelspace().add_blockref("loop", (0, 0))
    with pytest.raises(Unusable, match="insert themselves"):
        area(document)


def test_layers_are_chosen_and_hidden_ones_left(document):
    space = document.modelspace()
    rectangle(space, 0, 0, 20, 20, layer="outline")
    rectangle(space, 50, 50, 5, 5, layer="stock")
    document.layers.add("outline")
    document.layers.add("stock").off()
    assert area(document) == pytest.approx(400)
    assert area(document, layers=("Stock",)) == pytest.approx(25)
    with pytest.raises(Unusable, match="nothing-here"):
        area(document, layers=("nothing-here",))


@pytest.mark.parametrize(("code", "mm"), [(1, 25.4), (4, 1.0), (5, 10.0), (6, 1000.0)])
def test_units_of_the_drawing(code, mm):
    document = ezdxf.new(units=code)
    rectangle(document.modelspace(), 0, 0, 2, 1)
    assert area(document) == pytest.approx(2 * mm * mm)


def test_a_drawing_without_units_takes_the_stated_ones():
    document = ezdxf.new(units=0)
    rectangle(document.modelspace(), 0, 0, 2, 1)
    assert area(document, unit_mm=10.0) == pytest.approx(200)
    with pytest.raises(Unusable, match="unit"):
        area(document)


def test_mirrored_entities_are_mirrored(document):
    space = document.modelspace()
    space.add_arc((-20, 5), 5, 90, 270, dxfattribs={"extrusion": (0, 0, -1)})  # drawn at x = 20, opening left
    for a, b in [((20, 0), (0, 0)), ((0, 0), (0, 10)), ((0, 10), (20, 10))]:
        space.add_line(a, b)
    assert area(document) == pytest.approx(200 + 12.5 * math.pi, rel=1e-6)


def test_solids_and_text(document):
    space = document.modelspace()
    rectangle(space, 0, 0, 20, 20)
    space.add_text("a note")
    assert area(document) == pytest.approx(400)
    space.add_3dface([(0, 0), (1, 0), (1, 1), (0, 1)])
    with pytest.raises(Unusable, match="3DFACE"):
        area(document)


def test_a_file_that_is_no_dxf_is_refused_without_telling_where_it_lies(tmp_path):
    path = tmp_path / "no.dxf"
    path.write_text("hello\n" * 50)
    (items,) = read_isolated([(path, DxfFiles(()))])
    assert [one.reason for one in items] == ["it is no DXF file; save it again as DXF"]


def test_what_is_frozen_off_or_invisible_is_not_read(document):
    space, block = document.modelspace(), document.blocks.new("bar")
    rectangle(space, 0, 0, 10, 10)
    rectangle(block, 0, 0, 20, 5)
    document.layers.add("frozen").freeze()
    document.layers.add("off").off()
    space.add_blockref("bar", (50, 0), dxfattribs={"layer": "frozen"})
    space.add_blockref("bar", (50, 0), dxfattribs={"layer": "off"})
    rectangle(space, 30, 0, 5, 5, invisible=1)
    assert area(document) == pytest.approx(100)


@pytest.mark.parametrize(
    ("draw", "reason"),
    [
        (lambda space: space.add_line((0, 0, 0), (9, 0, 1)), "rises out of the plane"),
        (
            lambda space: space.add_spline([(0, 0, 0), (9, 0, 5), (0, 9, 0), (0, 0, 0)]),
            "rises out of the plane",
        ),
        (lambda space: space.add_lwpolyline([(0, 0, 2, 1), (9, 0, 1, 1)], format="xyse"), "with a width"),
        (lambda space: space.add_polyline2d([(0, 0, 2, 1), (9, 0, 1, 1)], format="xyse"), "with a width"),
    ],
)
def test_what_the_plan_does_not_show_is_refused(document, draw, reason):
    rectangle(document.modelspace(), 0, 0, 10, 10)
    draw(document.modelspace())
    with pytest.raises(Unusable, match=reason):
        area(document)


@pytest.mark.parametrize(("style", "filled"), [(0, 900 - 400 + 100), (1, 900 - 400), (2, 900)])
def test_style_of_a_hatch(document, style, filled):
    """Squares of 30, 20 and 10 in one another: every second one, the outermost ring, or all is filled."""
    hatch = document.modelspace().add_hatch(dxfattribs={"hatch_style": style})
    for side, at in ((10, 10), (30, 0), (20, 5)):
        corners = [(at, at), (at + side, at), (at + side, at + side), (at, at + side)]
        hatch.paths.add_polyline_path(corners, is_closed=True)
    drawn = drawing(document, "d", "d.dxf", DxfFiles(()))
    made = prepare(drawn, Making(separate_parts="join", web_mm=1e-3))
    assert made.polygon.area == pytest.approx(filled, abs=0.1)


def test_what_steers_a_spline_polyline_is_no_outline(document):
    """64 points on a circle of 7 mm, and the four corners of the frame that steers them."""
    line = document.modelspace().add_polyline2d([], close=True)
    line.dxf.flags |= 4
    for corner in [(0, 0), (20, 0), (20, 20), (0, 20)]:
        line.append_vertex(corner, dxfattribs={"flags": 16})
    for t in np.arange(64) * (math.pi / 32):
        line.append_vertex((10 + 7 * math.cos(t), 10 + 7 * math.sin(t)), dxfattribs={"flags": 8})
    assert area(document) == pytest.approx(32 * 49 * math.sin(math.pi / 32), rel=1e-9)


METRES = [m and 1 / m for m in ezdxf.units.METER_FACTOR]  # of ezdxf, which knows 18 of the 24


@pytest.mark.parametrize("code", range(1, 25))
def test_every_unit_of_a_drawing(document, code):
    """US survey units by their definition: 39.37 inches are a metre."""
    foot = 12 / 39.37
    own = {8: 25.4e-9, 9: 25.4e-6, 21: foot, 22: foot / 12, 23: 3 * foot, 24: 5280 * foot}
    document.header["$INSUNITS"] = code
    rectangle(document.modelspace(), 0, 0, 1, 1)
    found = drawing(document, "d", "d.dxf", DxfFiles((), unit_mm=123.0)).unit_mm
    assert found == pytest.approx(
        1000 * (own.get(code) or METRES[code]), rel=2e-3 if code in (19, 20) else 1e-6
    )


def test_the_studys_unit_is_meant_only_where_the_drawing_says_none(document):
    document.modelspace().add_circle((0, 0), 1)
    document.header["$INSUNITS"] = 0
    assert drawing(document, "d", "d.dxf", DxfFiles((), unit_mm=123.0)).unit_mm == 123.0
    document.header["$INSUNITS"] = 77
    with pytest.raises(Unusable, match="77"):
        drawing(document, "d", "d.dxf", DxfFiles((), unit_mm=123.0))
