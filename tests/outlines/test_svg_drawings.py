"""SVG drawings against areas in closed form, and everything a viewer shows that the kit cannot."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from svgpages import FINE, HEAD, area, outline, refused, svg

from kit.errors import Unusable
from kit.outlines.making import Making
from kit.outlines.preparing import prepare
from kit.outlines.specs import SvgFiles
from kit.outlines.svg import drawing
from kit.outlines.svgpath import path_contours, transform_matrix

PI = math.pi
SHAPES = {
    '<rect x="1" y="2" width="30" height="20"/>': 600,
    '<rect width="30" height="20" rx="4"/>': 600 - (4 - PI) * 16,
    '<rect width="30" height="20" rx="6" ry="3"/>': 600 - (4 - PI) * 18,
    '<rect width="30" height="20" rx="99"/>': 600 - (4 - PI) * 150,
    '<circle cx="50" cy="50" r="20"/>': PI * 400,
    '<ellipse cx="50" cy="50" rx="20" ry="5"/>': PI * 100,
    '<polygon points="10,10 40,10 40,30"/>': 300,
    '<polyline points="10 10 40 10 40 30 10 10"/>': 300,
    '<path d="M10 10H40V30z"/>': 300,
    '<path d="m10,10h30v20Z"/>': 300,
    '<path d="M10 10 40 10 40 30"/>': 300,
    '<path d="M0 50A50 50 0 0 1 100 50z"/>': PI * 1250,
    '<path d="M10 50a40 40 0 1080 0z"/>': PI * 800,
    '<path d="M0,50 a10,10 0 0 1 100,0 z"/>': PI * 1250,
    '<path d="M20 50 A30 10 90 0 0 40 50 A30 10 90 0 0 20 50"/>': PI * 300,
    '<path d="M50 50 L80 50 A30 30 0 1 1 50 20 z"/>': PI * 900 * 3 / 4,
    '<path d="M0 0Q50 100 100 0"/>': 2 / 3 * 50 * 100,
    '<path d="M0 50q25 40 50 0t50 0z"/>': None,
    '<path d="M10 90 C10 40 90 40 90 90z"/>': 0.6 * 80 * 50,
    '<path d="M0 50C0 30 20 30 20 50S40 70 40 50L40 90 0 90z"/>': 40 * 40,
    '<path d="M10,10l30,0l0,20z m40,40" fill-rule="nonzero"/>': 300,
    '<path d="M0 0h40v40h-40zM10 10h20v20h-20z" fill-rule="evenodd"/>': 1200,
    '<path d="M0 0h40v40h-40zM10 10h20v20h-20z"/>': 1600,
    '<path d="M0 0h40v40h-40zM10 10v20h20v-20z"/>': 1200,
    '<path d="M.5.5h1e1v1E+1h-10z"/>': 100,
}


@pytest.mark.parametrize("body", SHAPES)
def test_shapes_and_path_commands(body):
    if SHAPES[body] is None:  # two lobes that meet in points
        assert "separate parts" in refused(body)
        return
    assert area(body) == pytest.approx(SHAPES[body], rel=2e-6)


def test_a_cubic_over_even_steps_has_half_its_box():
    """x runs evenly, so the area is the width times the mean of 60 (B1 + B2), each Bernstein mean ¼."""
    assert area('<path d="M0 0C30 60 60 60 90 0z"/>') == pytest.approx(90 * 60 / 2, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "matrix"),
    [
        ("translate(3)", [[1, 0, 3], [0, 1, 0]]),
        ("translate(3,4) scale(2)", [[2, 0, 3], [0, 2, 4]]),
        ("scale(2 3)", [[2, 0, 0], [0, 3, 0]]),
        ("rotate(90)", [[0, -1, 0], [1, 0, 0]]),
        ("rotate(90, 1, 1)", [[0, -1, 2], [1, 0, 0]]),
        ("skewX(45)", [[1, 1, 0], [0, 1, 0]]),
        ("skewY(45)", [[1, 0, 0], [1, 1, 0]]),
        ("matrix(1 2 3 4 5 6)", [[1, 3, 5], [2, 4, 6]]),
    ],
)
def test_transforms(text, matrix):
    assert transform_matrix(text)[:2] == pytest.approx(np.array(matrix, float), abs=1e-12)


def test_nested_transforms_multiply_areas():
    inner = '<rect x="15" width="3" height="4"/>'
    body = f'<g transform="scale(2)"><g transform="rotate(30) skewX(20)">{inner}</g></g>'
    assert area(body) == pytest.approx(48)


@pytest.mark.parametrize(
    ("page", "mm"),
    [
        (f'{HEAD} width="10mm" height="10mm" viewBox="0 0 100 100">', 0.1),
        (f'{HEAD} width="1in" height="1in" viewBox="0 0 100 100">', 0.254),
        (f'{HEAD} width="2cm" height="2cm" viewBox="0 0 10 10">', 2.0),
        (f'{HEAD} width="96px" height="96px" viewBox="0 0 10 10">', 2.54),
        (f'{HEAD} width="96" height="96" viewBox="0 0 10 10">', 2.54),
        (f'{HEAD} width="200mm" height="200mm">', 25.4 / 96),
    ],
)
def test_units_of_the_page(page, mm):
    assert area('<rect width="6" height="5"/>', page) == pytest.approx(30 * mm * mm)


def test_a_page_that_does_not_say_takes_the_stated_unit():
    page = f'{HEAD} viewBox="0 0 10 10">'
    assert outline('<rect width="6" height="5"/>', page).unit_mm is None
    assert area('<rect width="6" height="5"/>', page, unit_mm=2.0) == pytest.approx(120)
    bare = f'{HEAD} width="96" height="96" viewBox="0 0 10 10">'
    assert area('<rect width="6" height="5"/>', bare, unit_mm=2.0) == pytest.approx(120)


def test_a_page_may_stretch():
    page = f'{HEAD} width="10mm" height="40mm" viewBox="0 0 10 10" preserveAspectRatio="none">'
    assert area('<rect width="6" height="5"/>', page) == pytest.approx(120)
    page = page.replace('preserveAspectRatio="none"', "")
    assert area('<rect width="6" height="5"/>', page) == pytest.approx(30)


def test_y_points_up():
    made = prepare(outline('<path d="M0 0h30v10h-20v20h-10z"/>'), Making())
    assert made.polygon.bounds[3] < -made.polygon.bounds[1]  # the heavy side is at the top of the page


def test_use_and_symbol():
    body = '<defs><rect id="r" width="4" height="5"/></defs><use href="#r" x="3" transform="scale(2)"/>'
    assert area(body) == pytest.approx(80)
    assert area(body.replace("href", "xlink:href")) == pytest.approx(80)
    symbol = (
        '<symbol id="s" viewBox="0 0 10 10"><rect width="10" height="5"/></symbol>'
        '<use href="#s" x="10" y="10" width="40" height="40"/>'
    )
    assert area(symbol) == pytest.approx(40 * 20)


def test_a_nested_page():
    body = (
        '<svg x="10" y="10" width="20" height="40" viewBox="0 0 10 10"><rect width="10" height="10"/></svg>'
    )
    assert area(body) == pytest.approx(400)


def test_shapes_unite_whatever_their_turn_and_rule():
    body = (
        '<path d="M0 0h20v20h-20z"/><path d="M10 0v20h20v-20z"/><path fill-rule="evenodd" d="M5 5h5v5h-5z"/>'
    )
    assert area(body) == pytest.approx(600)


def test_what_is_not_shown_does_not_count():
    hidden = (
        '<rect width="9" height="9" display="none"/><g style="display:none"><rect width="9" height="90"/></g>'
        '<rect width="9" height="99" visibility="hidden"/><rect width="9" height="9" fill="none"/>'
        '<rect width="9" height="9" style="opacity:0"/><defs><rect width="99" height="99"/></defs>'
        "<title>x</title><metadata><a/></metadata>"
    )
    assert area(f'{hidden}<rect x="20" width="10" height="10"/>') == pytest.approx(100)


def test_style_sheets_of_simple_rules():
    body = "<style>.a{fill:none} rect{fill:red} #b{fill:red}</style>"
    body += '<rect class="a" width="90" height="90"/><rect id="b" class="a" width="10" height="10"/>'
    assert area(body) == pytest.approx(100)


def test_strokes_are_refused_ignored_or_outlined():
    ring = '<circle cx="50" cy="50" r="20" fill="none" stroke="black" stroke-width="4"/>'
    assert "strokes without fill" in refused(ring)
    assert area(ring, strokes="outline") == pytest.approx(PI * (22**2 - 18**2), rel=1e-3)
    both = ring.replace('fill="none"', 'fill="black"')
    assert "widened by a stroke" in refused(both)
    assert area(both, strokes="ignore") == pytest.approx(PI * 400, rel=1e-5)
    assert area(both, strokes="outline") == pytest.approx(PI * 22**2, rel=1e-3)
    line = '<line x1="10" y1="10" x2="50" y2="10" stroke="black" stroke-width="4"/>'
    assert area(line, strokes="outline") == pytest.approx(160, rel=1e-6)


R = '<rect width="10" height="10"/>'


@pytest.mark.parametrize(
    ("body", "word"),
    [
        ("", "nothing is filled"),
        ('<text x="1" y="9">A</text>' + R, "text"),
        ('<image href="file:///etc/passwd" width="9" height="9"/>' + R, "picture"),
        ("<script>alert(1)</script>" + R, "script"),
        ('<rect width="10" height="10" clip-path="url(#c)"/>', "clip-path"),
        ('<g mask="url(#m)">' + R + "</g>", "mask"),
        ('<g style="filter:url(#f)">' + R + "</g>", "filter"),
        ('<rect width="10" height="10"><animate attributeName="x"/></rect><animate/>', "animation"),
        ('<use href="other.svg#x"/>', "not in the drawing"),
        ('<use href="http://example.org/x.svg#x"/>', "not in the drawing"),
        ('<g id="a"><use href="#a"/></g>', "without end"),
        (R + '<rect x="2" width="3" height="3" fill="white"/>', "several colours"),
        ('<rect x="80" width="50" height="10"/>', "outside the page"),
        ('<path d="M0 0 L nan 5 5 5z"/>', "path data"),
        ('<path d="M0 0 L 1e999 5 5 5z"/>', "too large"),
        ('<path d="L 5 5 5 0z"/>', "move"),
        ('<path d="M0 0 L 5"/>', "needs 2 numbers"),
        ('<path d="M0 0 a5 5 0 2 1 5 5z"/>', "needs 7 numbers"),
        ('<rect width="10em" height="10"/>', "10em"),
        ('<rect width="inf" height="10"/>', "inf"),
        ('<polygon points="1,2 3,4 5"/>', "points"),
        ('<rect width="10" height="10" transform="rotate(a)"/>', "transform"),
        ('<rect width="10" height="10" style="transform:scale(2)"/>', "transform"),
        ("<style>g > rect{fill:none}</style>" + R, "style sheet"),
        ("<style>@import url(x.css);</style>" + R, "style sheet"),
        ("<g>" * 70 + R + "</g>" * 70, "end"),
        ("<g>" * 120 + R + "</g>" * 120, "nest"),
        ("<g>" + R, "XML"),
    ],
)
def test_what_cannot_be_reproduced_is_refused_with_its_reason(body, word):
    assert word in refused(body)


def test_entities_are_refused():
    bomb = '<!DOCTYPE s [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>'
    outside = '<!DOCTYPE s [<!ENTITY a SYSTEM "file:///etc/passwd">]>'
    for head in (bomb, outside):
        with pytest.raises(Unusable, match="entities"):
            drawing(head.encode() + svg("<title>&a;</title>" + R), "d", "d.svg", SvgFiles(()))
        with pytest.raises(Unusable, match="entities"):
            text = '<?xml version="1.0" encoding="UTF-16"?>' + head + svg(R).decode()
            drawing(text.encode("utf-16"), "d", "d.svg", SvgFiles(()))


def test_a_document_type_without_entities_is_no_matter():
    head = (
        b'<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    )
    made = drawing(head + svg(R), "d", "d.svg", SvgFiles(()))
    assert prepare(made, FINE).polygon.area == pytest.approx(100)


def test_no_svg_at_all():
    for data in (b"", b"not xml", b"<html/>", b"\x00\xff\xfe", b"<svg xmlns='http://www.w3.org/2000/svg'/>"):
        with pytest.raises(Unusable):
            drawing(data, "d", "d.svg", SvgFiles(()))


coordinates = st.floats(-100, 100).map(lambda v: round(v, 3))


@settings(max_examples=80, deadline=None)
@given(
    coordinates,
    coordinates,
    st.floats(0.1, 80),
    st.floats(0.1, 80),
    st.floats(-360, 360),
    st.booleans(),
    st.booleans(),
)
def test_arcs_end_where_they_should_and_lie_on_their_ellipse(x, y, rx, ry, turned, large, sweep):
    data = f"M 7 -3 A {rx:.6f} {ry:.6f} {turned:.6f} {large:d} {sweep:d} {x} {y} z"
    contours = path_contours(data)
    if (x, y) == (7, -3):
        return
    (pieces,) = contours
    assert pieces[0][0] == pytest.approx((7, -3), abs=1e-6)
    assert pieces[-1][-1] == pytest.approx((x, y), abs=1e-6)
    # On the ellipse: in its own axes, and enlarged where the radii were too small, all points are alike far.
    angle = math.radians(float(f"{turned:.6f}"))
    axes = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    points = np.array([p for piece in pieces for p in (piece[0], piece[-1])])
    flat = points @ axes / (float(f"{rx:.6f}"), float(f"{ry:.6f}"))
    if len(pieces) >= 2:
        a, b, c = flat[0], flat[2], flat[-1]
        system = 2 * np.array([b - a, c - a])
        if abs(np.linalg.det(system)) > 1e-3:
            centre = np.linalg.solve(system, [b @ b - a @ a, c @ c - a @ a])
            radii = np.hypot(*(flat - centre).T)
            assert radii == pytest.approx(radii[0], rel=1e-4)


@settings(max_examples=150, deadline=None)
@given(st.text(alphabet="MmZzLlHhVvCcSsQqTtAa0123456789.,-+eE \n", max_size=60))
def test_any_path_data_is_read_or_refused(data):
    try:
        contours = path_contours(data)
    except Unusable:
        return
    assert all(np.isfinite(np.concatenate(pieces)).all() for pieces in contours)


Q = '<rect width="50" height="50"'  # a quarter of the page
SYMBOL = '<symbol id="s" viewBox="0 0 10 10"{}><rect width="20" height="10"/></symbol>'
USED = '<use href="#s" x="10" y="10" width="40" height="40"/>'


@pytest.mark.parametrize(
    ("body", "reason"),
    [
        (Q + '><animate attributeName="width" to="9"/></rect>', "an animation"),
        ('<svg x="10" y="10" width="20" height="20"><rect width="50" height="50"/></svg>', "nested drawing"),
        (SYMBOL.format("") + USED, "nested drawing or symbol"),
        ('<pattern id="p"><rect width="2" height="2"/></pattern>' + Q + ' fill="url(#p)"/>', "a pattern"),
        (Q + ' fill="url(#none)"/>', "'none', which is not in it"),
        (
            '<linearGradient id="g"><stop stop-opacity="0"/></linearGradient>' + Q + ' fill="url(#g)"/>',
            "fades away",
        ),
        (Q + ' style="width:30px"/>', "sized by a style"),
        ("<style>rect{height:30px}</style>" + Q + "/>", "sized by a style"),
        ('<marker id="m"/>' + Q + ' marker-start="url(#m)"/>', "decided by a marker-start"),
        ('<g marker-mid="url(#m)">' + Q + "/></g>", "decided by a marker-mid"),
    ],
)
def test_what_would_be_misread_is_refused(body, reason):
    assert reason in refused(body)


@pytest.mark.parametrize(
    "clear",
    ['<g opacity="0">{}</g>', '<g fill-opacity="0">{}</g>', '<g style="opacity:0%">{}</g>'],
)
def test_what_is_clear_because_of_what_holds_it_is_not_seen(clear):
    assert area(Q + "/>" + clear.format('<rect x="50" width="9" height="9"/>')) == pytest.approx(2500)


def test_a_symbol_that_shows_what_hangs_over_is_drawn_whole():
    assert area(SYMBOL.format(' overflow="visible"') + USED) == pytest.approx(80 * 40)


def test_a_page_without_a_view_box_ends_at_its_width():
    page = f'{HEAD} width="96" height="96">'
    assert area('<rect width="96" height="48"/>', page) == pytest.approx(25.4 * 12.7)
    assert "outside the page" in refused('<rect width="97" height="48"/>', page)
    slice_ = f'{HEAD} width="50mm" height="90mm" viewBox="0 0 9 9" preserveAspectRatio="xMidYMid slice">'
    assert "outside the page" in refused('<rect width="2" height="2"/>', slice_)
    assert area('<rect x="4" width="2" height="2"/>', slice_) == pytest.approx(20 * 20)  # 10 mm a unit


def test_one_colour_in_several_spellings_is_one_colour():
    spelled = (' fill="#000"', ' fill="#000000"', ' fill="Black"', ' fill="rgb(0, 0, 0)"', "")
    bars = "".join(f'<rect x="{10 * i}" width="10" height="10"{one}/>' for i, one in enumerate(spelled))
    assert area(bars) == pytest.approx(500)


def test_a_plain_gradient_is_a_fill():
    gradient = '<linearGradient id="G"><stop stop-color="red" stop-opacity="1"/></linearGradient>'
    assert area(gradient + Q + ' fill="url(#G)"/>') == pytest.approx(2500)


def test_a_stroke_in_millimetres_is_outlined_at_its_width():
    stroke = '<path d="M10 50H60" fill="none" stroke="black" stroke-width="2mm"/>'
    assert area(stroke, strokes="outline") == pytest.approx(50 * 2 * 96 / 25.4, rel=1e-6)


def test_a_style_sheet_in_another_file_is_refused():
    text = b'<?xml-stylesheet href="http://example.org/a.css"?>' + svg(Q + "/>")
    with pytest.raises(Unusable, match="another file"):
        drawing(text, "d", "d.svg", SvgFiles(()))
