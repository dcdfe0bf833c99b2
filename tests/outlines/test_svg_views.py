"""What pages, nested drawings and symbols show of a drawing, and its size: areas by hand geometry."""

import math

import pytest
from svgpages import HEAD, PAGE, area, outline, refused, svg

from kit.errors import Unusable
from kit.outlines.specs import SvgFiles
from kit.outlines.svg import drawing

PI = math.pi
DISC = '<circle r="20"/>'
WHOLE = '<circle cx="20" cy="20" r="20"/>'


@pytest.mark.parametrize("shown", ['<symbol id="s"{}>{}</symbol><use href="#s"{}/>', "<svg{}{}>{}</svg>"])
def test_what_hangs_over_the_edge_of_a_window_is_refused(shown):
    """Without a size of its own a window has that of the page around it, and its own origin for a corner."""
    at = ' x="50" y="50"'
    symbol = shown.startswith("<symbol")

    def drawn(body, more=""):
        return shown.format(more, body, at) if symbol else shown.format(at, more, body)

    assert "nested drawing or symbol" in refused(drawn(DISC))
    assert area(drawn(WHOLE)) == pytest.approx(400 * PI)
    assert area(drawn(DISC, ' overflow="visible"')) == pytest.approx(400 * PI)
    assert area(drawn(DISC, ' style="overflow:visible"')) == pytest.approx(400 * PI)


def test_a_used_symbol_may_have_a_size_without_a_view_box():
    symbol = '<symbol id="s"><rect width="30" height="30"/></symbol><use href="#s" width="{}" height="40"/>'
    assert area(symbol.format(30)) == pytest.approx(900)
    assert "nested drawing or symbol" in refused(symbol.format(20))
    own = symbol.replace('id="s"', 'id="s" width="20" height="20"').replace(' width="{}" height="40"', "")
    assert "nested drawing or symbol" in refused(own)


def test_sizes_of_windows_in_per_cent_are_of_the_page():
    body = '<svg width="50%" height="25%" viewBox="0 0 10 10" preserveAspectRatio="none">{}</svg>'
    assert area(body.format('<rect width="10" height="10"/>')) == pytest.approx(50 * 25)
    assert area('<svg viewBox="0 0 50 50"><rect width="25" height="25"/></svg>') == pytest.approx(2500)
    small = PAGE.replace("0 0 100 100", "0 0 8 8")  # per cent of the viewBox, not of the sheet
    assert area('<svg width="50%" height="50%"><rect width="4" height="4"/></svg>', small) == pytest.approx(
        2500
    )
    inner = '<svg width="60" height="60" viewBox="0 0 30 30">{}</svg>'
    twice = inner.format('<svg x="10" width="50%" height="50%"><rect width="15" height="15"/></svg>')
    assert area(twice) == pytest.approx(30 * 30)


def test_a_nested_drawing_that_is_used_takes_the_size_of_the_use():
    nested = '<defs><svg id="n" width="20" height="20" viewBox="0 0 10 10"><rect width="10" height="5"/></svg></defs>'
    assert area(nested + '<use href="#n" width="60" height="60"/>') == pytest.approx(60 * 30)
    assert area(nested + '<use href="#n"/>') == pytest.approx(20 * 10)
    assert area(nested + '<use href="#n" width="60" height="20"/>') == pytest.approx(20 * 10)


def test_a_window_without_extent_shows_nothing():
    rest = '<rect x="50" width="10" height="10"/>'
    assert area('<svg width="0" height="20"><rect width="9" height="9"/></svg>' + rest) == pytest.approx(100)


def test_a_symbol_with_a_place_of_its_own_is_refused():
    symbol = '<symbol id="s" refX="5"><rect width="9" height="9"/></symbol><use href="#s"/>'
    assert "viewers differ" in refused(symbol)


def test_a_symbol_that_is_not_displayed_is_not_used():
    rest = '<rect x="50" width="10" height="10"/>'
    for how in ('display="none"', 'style="opacity:0"'):
        symbol = f'<symbol id="s" {how}><rect width="9" height="9"/></symbol><use href="#s"/>'
        assert area(symbol + rest) == pytest.approx(100)
    assert "clip-path" in refused('<symbol id="s" clip-path="url(#c)"/><use href="#s"/>' + rest)


@pytest.mark.parametrize("unit", ["", "px", "mm", "in"])
def test_a_page_without_a_view_box_ends_at_its_width_in_any_unit(unit):
    page = f'{HEAD} width="2{unit}" height="2{unit}">'
    px = {"": 1.0, "px": 1.0, "mm": 96 / 25.4, "in": 96.0}[unit]
    disc = '<circle r="{0}" cx="{0}" cy="{0}"/>'
    assert area(disc.format(px), page) == pytest.approx(PI * (px * 25.4 / 96) ** 2)
    assert "outside the page" in refused(disc.format(1.1 * px), page)


def test_a_page_that_states_one_side_is_cut_off_at_that_side_alone():
    page = f'{HEAD} height="100">'
    assert area('<rect width="500" height="90"/>', page, unit_mm=1.0) == pytest.approx(45000)
    assert "outside the page" in refused('<rect width="5" height="101"/>', page, unit_mm=1.0)


def test_a_page_without_any_size_still_begins_at_its_corner():
    assert "outside the page" in refused('<rect x="-5" width="10" height="10"/>', f"{HEAD}>", unit_mm=1.0)
    assert area('<rect width="10" height="10"/>', f"{HEAD}>", unit_mm=2.0) == pytest.approx(400)


def test_a_page_shows_what_is_beside_its_view_box_where_the_sheet_is_wider():
    page = f'{HEAD} width="80mm" height="40mm" viewBox="0 0 10 10"{{}}>'
    assert area('<rect x="-5" width="20" height="10"/>', page.format("")) == pytest.approx(80 * 40)
    left = page.format(' preserveAspectRatio="xMinYMid"')
    assert "outside the page" in refused('<rect x="-5" width="20" height="10"/>', left)
    assert area('<rect width="20" height="10"/>', left) == pytest.approx(80 * 40)


def test_the_stated_height_alone_gives_the_size():
    body = '<rect x="4" y="4" width="2" height="2"/>'
    for page in (
        f'{HEAD} height="20mm" viewBox="0 0 10 10">',
        f'{HEAD} width="auto" height="20mm" viewBox="0 0 5 10">',
    ):
        page, moved = page, body if "0 0 10" in page else body.replace('x="4"', 'x="1"')
        for unit in (None, 1.0):
            assert area(moved, page, unit_mm=unit) == pytest.approx(16.0)


def test_a_stretched_page_keeps_its_stretch_or_is_refused():
    disc = '<circle cx="5" cy="5" r="4"/>'
    page = f'{HEAD} width="200{{0}}" height="100{{0}}" viewBox="0 0 10 10" preserveAspectRatio="none">'
    assert area(disc, page.format("mm"), unit_mm=1.0) == pytest.approx(PI * 80 * 40)
    assert area(disc, page.format("")) == pytest.approx(PI * 80 * 40 * (25.4 / 96) ** 2)
    assert "a unit is not one length" in refused(disc, page.format(""), unit_mm=1.0)
    even = page.format("").replace('width="200', 'width="100')
    assert area(disc, even, unit_mm=1.0) == pytest.approx(PI * 16)
    assert "stretched to whatever" in refused(disc, f'{HEAD} viewBox="0 0 9 9" preserveAspectRatio="none">')


def test_a_fit_that_is_no_fit_is_the_usual_one():
    page = f'{HEAD} width="40mm" height="20mm" viewBox="0 0 10 10" preserveAspectRatio="{{}}">'
    for text in ("", "stretch", "NONE", "defer none", "xMidYMid meet"):
        assert area('<rect width="2" height="2"/>', page.format(text)) == pytest.approx(16.0)


def test_percentages_of_shapes():
    assert area('<rect width="50%" height="25%" x="10%" y="10%"/>') == pytest.approx(50 * 25)
    wide = f'{HEAD} width="80mm" height="60mm" viewBox="0 0 80 60">'
    mean = math.sqrt((80**2 + 60**2) / 2)  # SVG 2: of the diagonal over the square root of two
    assert area('<circle r="20%" cx="50%" cy="50%"/>', wide) == pytest.approx(PI * (0.2 * mean) ** 2)
    assert "page without size" in refused('<rect width="50%" height="5"/>', f"{HEAD}>")


def test_one_radius_alone_serves_for_both():
    assert area('<ellipse cx="50" cy="50" rx="20"/>') == pytest.approx(400 * PI)
    assert area('<rect width="30" height="20" rx="-3" ry="4"/>') == pytest.approx(600 - (4 - PI) * 16)


@pytest.mark.parametrize(
    ("page", "word"),
    [
        ('width="0" height="9"', "no size of a page"),
        ('width="-5mm" height="9"', "no size of a page"),
        ('width="10 mm" height="10mm"', "unit that can be read"),
        ('width="10yd" height="10mm"', "unit that can be read"),
        ('width="10mm" height="10mm" style="width:30mm"', "sized by a style"),
        ('width="10mm" height="10mm" transform="scale(2)"', "transform of its page"),
        ('width="10mm" height="10mm" viewBox="0 0 9px 9px"', "no page"),
        ('width="10mm" height="10mm" viewBox="0,,0,9,9"', "no page"),
    ],
)
def test_pages_that_cannot_be_reproduced(page, word):
    assert word in refused('<rect width="2" height="2"/>', f"{HEAD} {page}>")


def test_a_page_styled_to_fill_its_place_has_the_size_its_attributes_state():
    page = PAGE.replace(" viewBox", ' style="width:100%;height:auto" viewBox')
    assert area('<rect width="2" height="2"/>', page) == pytest.approx(4)


def test_sizes_by_the_height_of_a_letter_are_no_size():
    assert (
        outline('<rect width="2" height="2"/>', f'{HEAD} width="1em" height="1em" viewBox="0 0 9 9">').unit_mm
        is None
    )


def test_a_page_of_no_name_space_is_refused():
    with pytest.raises(Unusable, match="xmlns"):
        drawing(svg('<rect width="2" height="2"/>', '<svg width="9" height="9">'), "d", "d.svg", SvgFiles(()))
