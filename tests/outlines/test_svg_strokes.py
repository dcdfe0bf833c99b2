"""Outlines of strokes: areas by hand geometry, a stroke being what a nib of its width sweeps over."""

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from svgpages import PAGE, area, refused, stroke_area

PI = math.pi
PEN = 'fill="none" stroke="black" stroke-width="10"'


def path(data, more=""):
    return f'<path d="{data}" {more}/>'


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        # Two strips of 80 × 10 share a square of 10 × 10, whichever path they are in.
        (path("M10 40H90M50 5V85"), 1500),
        (path("M10 40H90") + path("M50 5V85"), 1500),
        (f'<g transform="translate(100) scale(-1 1)">{path("M10 40H90M50 5V85")}</g>', 1500),
        # Rings 15 apart in one path overlap: together from 5 outside the larger to 5 inside the smaller.
        (path("M10 10H90V90H10ZM18 18H82V82H18Z"), 90**2 - 54**2),
        (path("M10 10H90V90H10ZM18 18V82H82V18Z"), 90**2 - 54**2),
        # An open part and a closed one, joined so that they are one piece.
        (path("M20 20H60V60H20ZM60 40H90"), 50**2 - 30**2 + 25 * 10),
        (path("M60 40H90M20 20H60V60H20Z"), 50**2 - 30**2 + 25 * 10),
        # Ending on the first point is not closing: the corner there keeps two flat ends.
        (path("M20 20H60V60H20V20"), 50**2 - 30**2 - 25),
        (path("M20 20H60V60H20V20Z"), 50**2 - 30**2),
        (path("M20 20H60V60H20Z"), 50**2 - 30**2),
        # There and back.
        (path("M20 50H60Z"), 400),
        (path("M20 50H60Z", 'stroke-linejoin="round"'), 400 + 25 * PI),
        (path("M20 50H60L40 50"), 400),
        (path("M20 50H60L60 50H70"), 500),  # a piece without length
        ('<polyline points="20,50 60,50"/>', 400),
        ('<polygon points="20,50 60,50"/>', 400),
        ('<polygon points="20,20 60,20 60,60 20,60"/>', 50**2 - 30**2),
        ('<polyline points="20,20 60,20 60,60 20,60"/>', 3 * 400 + 2 * 25 - 2 * 25),
        ('<circle cx="50" cy="50" r="30"/>', PI * (35**2 - 25**2)),
        ('<rect x="20" y="20" width="40" height="40"/>', 50**2 - 30**2),
        ('<rect x="20" y="20" width="40" height="40" stroke-linejoin="bevel"/>', 50**2 - 30**2 - 4 * 12.5),
        # A round join fills the outer side alone, also before a piece shorter than it.
        (path("M20 50H60V52", 'stroke-linejoin="round"'), 400 + 5 * 2 + 25 * PI / 4),
        (path("M60 52V50H20", 'stroke-linejoin="round"'), 400 + 5 * 2 + 25 * PI / 4),
        # Caps.
        (path("M20 50H60", 'stroke-linecap="square"'), 500),
        (path("M20 50H60", 'stroke-linecap="Round"'), 400 + 25 * PI),
        (path("M20 50h0", 'stroke-linecap="round"'), 25 * PI),
        (path("M20 50z", 'stroke-linecap="square"'), 100),
        (path("M20 50h0") + path("M60 50h10"), 100),
        # No dash has a length: a whole line. Units and per cent of widths.
        (path("M20 50H60", 'stroke-dasharray="0 0"'), 400),
        (path("M20 50H60", 'stroke-width="1in"'), 40 * 96),
        (path("M20 50H60", 'stroke-width="10%"'), 400),
        # The nib is transformed with the line: √(4² + 3²) times as far, a strip of 4 × 10 across.
        (path("M20 10H24", 'transform="scale(4 2)"'), 4 * 4 * 10 * 2),
        # Swept by a nib wider than the turn: half discs on both sides of the centre.
        (path("M46 50A4 4 0 0 1 54 50", 'stroke-width="20"'), PI * (14**2 + 6**2) / 2),
    ],
)
def test_strokes(body, expected):
    assert stroke_area(body) == pytest.approx(expected, rel=3e-4)


@pytest.mark.parametrize(
    ("join", "corner"),
    [
        ("", 25),
        ('stroke-miterlimit="1.42"', 25),  # the mitre of a right angle is √2 = 1.414 widths long
        ('stroke-miterlimit="1.41"', 12.5),
        ('stroke-linejoin="bevel"', 12.5),
        ('stroke-linejoin="round"', 25 * PI / 4),
    ],
)
def test_joins_of_a_right_angle(join, corner):
    """Two strips of 40 × 10 overlap in a square of 5; the join fills the square of 5 outside."""
    assert stroke_area(path("M20 20H60V60", join)) == pytest.approx(2 * 400 - 25 + corner, rel=1e-4)
    assert stroke_area(path("M20 60V20H60", join)) == pytest.approx(2 * 400 - 25 + corner, rel=1e-4)


def test_a_mitre_beyond_its_limit_is_cut_straight_across():
    """An angle of 2a: strips of length l overlap in a kite of (h² / tan a), and the bevel adds h² sin a cos a.

    Each strip reaches along its inner edge to h / tan a from the corner; the kite between the corner and there is
    two right-angled triangles of legs h and h / tan a. The bevel is a triangle with two sides h and, between them,
    the turn π − 2a.
    """
    half, a, arm = 5.0, math.radians(12.0), 60.0
    dx, dy = arm * math.cos(a), arm * math.sin(a)
    data = f"M5 {50 - dy}L{5 + dx} 50L5 {50 + dy}"
    overlap, bevel = half**2 / math.tan(a), 0.5 * half**2 * math.sin(2 * a)
    expected = 2 * arm * 2 * half - overlap + bevel
    assert 1 / math.sin(a) > 4  # beyond the usual limit
    assert stroke_area(path(data)) == pytest.approx(expected, rel=1e-4)
    mitre = half**2 / math.tan(a)  # the same kite outside
    assert stroke_area(path(data, 'stroke-miterlimit="5"')) == pytest.approx(
        expected - bevel + mitre, rel=1e-4
    )


def test_fill_and_stroke_of_one_colour_are_one_shape():
    body = f'<path {PEN.replace("none", "black", 1)} fill-rule="evenodd" d="M20 20h60v60h-60zM40 40h20v20h-20z"/>'
    assert area(body, strokes="outline") == pytest.approx(70**2 - 10**2)
    assert "several colours" in refused(body.replace('stroke="black"', 'stroke="white"'), strokes="outline")


@pytest.mark.parametrize(
    ("more", "word"),
    [
        ('vector-effect="non-scaling-stroke"', "keeps its width"),
        ('style="vector-effect:non-scaling-stroke"', "keeps its width"),
        ('stroke-dasharray="4 2"', "dashes"),
        ('stroke-linejoin="arcs"', "no known kind"),
        ('stroke-linecap="flat"', "no known kind"),
        ('stroke-miterlimit="0.5"', "no known kind"),
        ('stroke-width="-3"', "no known kind"),
        ('stroke-width="thick"', "cannot be used"),
        ('stroke="url(#g)"', "plain colour"),
        ('stroke="nocolour"', "no colour"),
    ],
)
def test_strokes_that_cannot_be_reproduced(more, word):
    key = more.partition("=")[0]
    pen = " ".join(one for one in PEN.split() if not one.startswith(f"{key}="))
    body = f'<path {pen} {more} d="M20 50H60"/>'
    assert word in refused(body, strokes="outline")
    kept = f'{body}<rect width="9" height="9"/>'
    assert area(kept, PAGE, strokes="ignore") == pytest.approx(81)


def test_a_shape_of_nothing_has_no_stroke():
    kept = '<rect width="9" height="9"/>'
    assert area(f'<path {PEN} d=""/><rect {PEN} width="0" height="9"/>{kept}') == pytest.approx(81)


places = st.integers(1, 9).map(lambda n: 10 * n)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(places, places), min_size=2, max_size=6, unique=True))
def test_a_broken_line_is_no_smaller_than_its_longest_part_and_no_larger_than_all(points):
    data = "M" + "L".join(f"{x} {y}" for x, y in points)
    parts = [math.dist(a, b) for a, b in itertools.pairwise(points)]
    found = stroke_area(path(data, 'stroke-linejoin="bevel" stroke-width="4"'))
    # A bevel adds at most the triangle of two half widths.
    assert 4 * max(parts) * (1 - 1e-9) <= found <= 4 * sum(parts) + 2 * len(parts)
