"""Flattening: distance, areas and second moments against the curves themselves."""

import itertools
import math
from pathlib import Path

import matplotlib
import numpy as np
import pytest
import shapely
from drawn import disc, second_moments, straight
from shapely import LinearRing, Point, Polygon

from kit.errors import Unusable
from kit.outlines import FontFiles, Making, prepare
from kit.outlines.arcs import arc, closed, ellipse_arc, line
from kit.outlines.flattening import bounds, flatten, ring_area, signed_areas
from kit.outlines.fonts import outlines_of
from kit.outlines.outline import Outline
from kit.outlines.turning import turned_by_fill
from kit.outlines.worker import Progress


def bezier(piece, t):
    """De Casteljau's construction, one point at a time."""
    points = [np.asarray(p, float) for p in piece]
    while len(points) > 1:
        points = [(1 - t) * a + t * b for a, b in itertools.pairwise(points)]
    return points[0]


CURVES = {
    "circle": disc(50.0),
    "ellipse": closed(ellipse_arc(np.diag([60.0, 9.0]), (0, 0), 0.0, 2 * math.pi)),
    "quadratics": closed(
        [np.array([(0, 0), (50, 80), (100, 0)], float), np.array([(100, 0), (50, -30), (0, 0)], float)]
    ),
    "s-cubic": closed([np.array([(0, 0), (120, 5), (-20, 60), (100, 70)], float), line((100, 70), (0, 70))]),
}


@pytest.mark.parametrize("name", CURVES)
@pytest.mark.parametrize("keep_area", [False, True])
@pytest.mark.parametrize("tolerance", [1.0, 0.1, 0.01])
def test_no_curve_point_is_further_from_the_polygon_than_the_tolerance(name, keep_area, tolerance):
    contour = CURVES[name]
    ring = LinearRing(flatten((contour,), tolerance, keep_area)[0])
    worst = max(ring.distance(Point(bezier(piece, t))) for piece in contour for t in np.linspace(0, 1, 201))
    assert worst <= tolerance * (1 + 1e-6)


def test_arcs_leave_the_circle_by_less_than_a_millionth():
    points = np.array(
        [bezier(piece, t) for piece in arc((3, 4), 2.0, 0.3, 5.0) for t in np.linspace(0, 1, 101)]
    )
    radii = np.hypot(*(points - (3, 4)).T)
    assert np.abs(radii / 2.0 - 1).max() < 4e-7


def test_area_of_curves_is_exact():
    assert signed_areas((disc(50.0),))[0] == pytest.approx(math.pi * 2500, rel=8e-7)
    parabola = closed([np.array([(0, 0), (1, 2), (2, 0)], float), line((2, 0), (0, 0))])
    # Under y = 2x − x²: 4/3 (Archimedes, two thirds of the enclosing triangle's double), clockwise here.
    assert signed_areas((parabola,))[0] == pytest.approx(-4 / 3, rel=1e-14)


def test_area_does_not_depend_on_the_place():
    far = tuple(piece + (1e6, -3e6) for piece in disc(50.0))
    assert signed_areas((far,))[0] == pytest.approx(math.pi * 2500, rel=8e-7)


@pytest.mark.parametrize("name", ["circle", "ellipse"])
def test_error_of_second_moments_falls_with_the_tolerance(name):
    """Chords lose area and second moments in proportion to the tolerance (first order)."""
    half = {"circle": (50, 50), "ellipse": (60, 9)}[name]
    exact = math.pi / 4 * half[0] * half[1] ** 3
    errors = []
    for tolerance in (1.0, 0.1, 0.01, 0.001):
        polygon = Polygon(flatten((CURVES[name],), tolerance)[0])
        errors.append(abs(second_moments(polygon)[0] / exact - 1))
    orders = -np.diff(np.log10(errors))
    assert (orders > 0.75).all(), errors


def test_circle_at_the_default_tolerance_is_within_6e_4():
    polygon = Polygon(flatten((disc(50.0),), 0.01)[0])
    ix, iy, _ = second_moments(polygon)
    assert abs(polygon.area / (math.pi * 2500) - 1) < 6e-4
    # J of a circle is its polar second moment, π r⁴ / 2.
    assert abs((ix + iy) / (math.pi * 50**4 / 2) - 1) < 6e-4


@pytest.mark.parametrize("name", CURVES)
def test_keeping_the_area_keeps_it(name):
    ring = flatten((CURVES[name],), 0.05, keep_area=True)[0]
    assert ring_area(ring) == pytest.approx(signed_areas((CURVES[name],))[0], rel=1e-9)


def test_keeping_the_area_brings_second_moments_within_1e_4():
    for half in ((50.0, 50.0), (60.0, 9.0)):
        contour = closed(ellipse_arc(np.diag(half), (0, 0), 0.0, 2 * math.pi))
        ix, iy, _ = second_moments(Polygon(flatten((contour,), 2e-4 * max(half), True)[0]))
        assert abs(ix / (math.pi / 4 * half[0] * half[1] ** 3) - 1) < 1e-4
        assert abs(iy / (math.pi / 4 * half[0] ** 3 * half[1]) - 1) < 1e-4


@pytest.mark.parametrize(
    ("face", "character"), [("DejaVuSerif.ttf", "S"), ("STIXGeneral.ttf", "&"), ("cmti10.ttf", "Q")]
)
def test_letters_at_the_default_tolerance_are_within_1e_4_of_a_ten_times_finer_one(face, character):
    path = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / face
    (letter,) = outlines_of(path, FontFiles((), (character,)), Progress(lambda *_: None))
    fit = ("envelope", (100.0, 100.0))
    found, finer = (prepare(letter, Making(fit=fit, flatten_mm=mm)).polygon for mm in (None, 0.001))
    assert found.area == pytest.approx(finer.area, rel=1e-9)
    assert second_moments(found)[:2] == pytest.approx(second_moments(finer)[:2], rel=1e-4)


def test_keeping_the_area_leaves_corners_where_they_are():
    half_disc = closed([*arc((0, 0), 10.0, 0.0, math.pi), line((-10, 0), (10, 0))])
    ring = flatten((half_disc,), 0.05, keep_area=True)[0]
    for corner in ((10, 0), (-10, 0)):
        assert np.abs(ring - corner).sum(axis=1).min() < 1e-12


def test_keeping_the_area_leaves_straight_sides_straight():
    """Where an arc runs smoothly into a long side, moving their common point would tilt the side."""
    right, left = (arc((x, 0), 5.0, start, math.pi) for x, start in ((40, -math.pi / 2), (-40, math.pi / 2)))
    slot = closed([*right, line((40, 5), (-40, 5)), *left, line((-40, -5), (40, -5))])
    ring = flatten((slot,), 0.01, keep_area=True)[0]
    assert ring_area(ring) == pytest.approx(math.pi * 25 + 800, rel=1e-6)
    assert np.abs(ring[:, 1]).max() < 5 + 1e-2
    for end in ((40, 5), (-40, 5), (-40, -5), (40, -5)):
        assert np.abs(ring - end).sum(axis=1).min() < 1e-9


def test_straight_pieces_get_no_points():
    assert len(flatten((straight([(0, 0), (5, 0), (5, 3)]),), 1e-6)[0]) == 3


def test_a_circle_gets_no_more_points_than_the_tolerance_needs():
    # Chords of a circle: gap r (1 − cos(π / n)).
    n_needed = math.pi / math.acos(1 - 0.01 / 50)
    assert n_needed <= len(flatten((disc(50.0),), 0.01)[0]) < 1.15 * n_needed


def test_bounds_are_those_of_the_curve_not_of_its_control_points():
    arch = closed([np.array([(0, 0), (0, 4), (4, 4), (4, 0)], float), line((4, 0), (0, 0))])
    assert bounds((arch,)) == pytest.approx([0, 0, 4, 3])  # ¾ of the control height
    assert bounds((disc(7.0, 1.0, 2.0),)) == pytest.approx([-6, -5, 8, 9], rel=1e-6)
    quadratic = closed([np.array([(0, 0), (1, 2), (2, 0)], float), line((2, 0), (0, 0))])
    assert bounds((quadratic,)) == pytest.approx([0, 0, 2, 1])


def test_a_curve_that_needs_too_many_points_is_refused():
    with pytest.raises(Unusable, match="points"):
        flatten((disc(1e9),), 1e-4)


def ellipse(a, b, turned_by=0.0):
    """An ellipse of half axes a and b as an outline."""
    cos, sin = math.cos(turned_by), math.sin(turned_by)
    axes = np.array([[cos, -sin], [sin, cos]]) @ np.diag([a, b])
    return drawn_as(closed(ellipse_arc(axes, (0, 0), 0.0, 2 * math.pi)))


def lens(radius, half_width):
    """Two arcs that meet in two sharp corners: curves that bound little material."""
    half = math.asin(half_width / radius)
    away = radius * math.cos(half)
    upper = arc((0, -away), radius, math.pi / 2 - half, 2 * half)
    return drawn_as(closed([*upper, *arc((0, away), radius, -math.pi / 2 - half, 2 * half)]))


def lens_moments(radius, half_width):
    """Area, Ix and Iy of two circular segments, by quadrature of y(x), 2∫y, 2/3∫y³ and 2∫x²y."""
    x, weight = np.polynomial.legendre.leggauss(200)
    x, weight = half_width * x, half_width * weight
    y = np.sqrt(radius**2 - x**2) - math.sqrt(radius**2 - half_width**2)
    return [float((weight * what).sum()) for what in (2 * y, 2 / 3 * y**3, 2 * x**2 * y)]


def strip(radius, wall, sweep):
    """A curved strip, symmetric about the x axis: what chords lose on its outer side they win on the inner."""
    outer, inner = arc((0, 0), radius, -sweep / 2, sweep), arc((0, 0), radius - wall, sweep / 2, -sweep)
    return drawn_as(closed([*outer, line(outer[-1][-1], inner[0][0]), *inner]))


def strip_moments(radius, wall, sweep):
    """Area and second moments of a ring sector, in polar coordinates, the smaller first."""
    half, inner = sweep / 2, radius - wall
    size = half * (radius**2 - inner**2)
    away = 2 / 3 * math.sin(half) * (radius**3 - inner**3) / size
    both = [(radius**4 - inner**4) / 4 * (half + turn * math.sin(half) * math.cos(half)) for turn in (1, -1)]
    return [size, both[0] - size * away**2, both[1]]


def drawn_as(contour):
    return Outline("drawn", "drawn", (contour,), unit_mm=1.0)


def principal(polygon):
    ix, iy, ixy = second_moments(polygon)
    half = math.hypot((ix - iy) / 2, ixy)
    return [(ix + iy) / 2 - half, (ix + iy) / 2 + half]


THIN = {
    "circle": (ellipse(50, 50), [math.pi * 2500, math.pi / 4 * 50**4, math.pi / 4 * 50**4]),
    "ellipse": (ellipse(50, 20), [math.pi * 1000, math.pi / 4 * 50 * 20**3, math.pi / 4 * 50**3 * 20]),
    "flat": (ellipse(60, 3), [math.pi * 180, math.pi / 4 * 60 * 27, math.pi / 4 * 60**3 * 3]),
    "turned": (ellipse(60, 9, 0.5), [math.pi * 540, math.pi / 4 * 60 * 9**3, math.pi / 4 * 60**3 * 9]),
    "lens": (lens(200, 50), lens_moments(200, 50)),
    "blade": (lens(2000, 50), lens_moments(2000, 50)),
    "strip": (strip(50, 1, math.pi / 6), strip_moments(50, 1, math.pi / 6)),
    "thin strip": (strip(50, 0.5, math.pi / 5), strip_moments(50, 0.5, math.pi / 5)),
}


@pytest.mark.parametrize(("keep_area", "limit"), [(False, 6e-4), (True, 1e-4)])
@pytest.mark.parametrize("name", THIN)
def test_area_and_second_moments_at_the_default_tolerance(name, keep_area, limit):
    drawn, exact = THIN[name]
    made = prepare(drawn, Making(keep_area=keep_area))
    found = np.array([made.polygon.area, *principal(made.polygon)])
    assert np.abs(found / exact - 1).max() < limit
    reported = max(made.flattening_area_share, made.flattening_moments_share)
    assert reported == pytest.approx(np.abs(found / exact - 1).max(), rel=0.05, abs=1e-5)
    assert shapely.get_num_coordinates(made.polygon) < 500


@pytest.mark.parametrize("keep_area", [False, True])
def test_the_reported_errors_fall_with_the_tolerance(keep_area):
    steps = [
        prepare(THIN["lens"][0], Making(keep_area=keep_area, flatten_mm=mm)).flattening_moments_share
        for mm in (0.1, 0.01, 0.001)
    ]
    assert (np.diff(np.log10(steps)) < -0.75).all(), steps


@pytest.mark.parametrize(
    ("face", "character"), [("DejaVuSerif.ttf", "S"), ("STIXGeneral.ttf", "&"), ("cmr10.ttf", "Q")]
)
def test_letters_need_no_finer_tolerance_where_points_are_moved(face, character):
    """The walls of a letter lose on one side what they gain on the other."""
    path = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / face
    (letter,) = outlines_of(path, FontFiles((), (character,)), Progress(lambda *_: None))
    made = prepare(letter, Making(fit=("envelope", (100.0, 100.0))))
    box = made.drawn.bounds
    assert made.flatten_mm == pytest.approx(1e-4 * max(box[2] - box[0], box[3] - box[1]), rel=1e-3)
    assert made.flattening_moments_share < 1e-4


@pytest.mark.slow
@pytest.mark.parametrize(("keep_area", "limit"), [(False, 6e-4), (True, 1e-4)])
@pytest.mark.parametrize("half", [(50.0, 50.0), (50.0, 20.0), (60.0, 9.0)])
def test_torsion_constant_of_flattened_ellipses(half, keep_area, limit):
    """J of an ellipse, π a³ b³ / (a² + b²) (Saint-Venant), at the default tolerance."""
    from kit.sections.section import properties

    a, b = half
    polygon = prepare(ellipse(a, b), Making(keep_area=keep_area)).polygon
    exact = math.pi * a**3 * b**3 / (a**2 + b**2)
    assert abs(properties(polygon, bounds=2e-5).J_mm4 / exact - 1) < limit


def test_a_contour_without_pieces_is_an_empty_ring():
    ring, nothing = flatten((straight([(0, 0), (5, 0), (5, 3)]), ()), 0.1)
    assert len(ring) == 3 and len(nothing) == 0
    assert signed_areas((straight([(0, 0), (5, 0), (5, 3)]), ())).tolist() == [7.5, 0.0]


def ring_of(radius, count, turn=1):
    t = turn * np.arange(count) * (2 * math.pi / count)
    return straight(np.column_stack([radius * np.cos(t), radius * np.sin(t)]))


@pytest.mark.parametrize("keep_area", [False, True])
@pytest.mark.parametrize("turn", [1, -1])
def test_what_flattening_costs_is_told_whichever_way_a_hole_runs(turn, keep_area):
    """A thin ring: its inside is a polygon and loses nothing, its outside is a curve. Against chords 400 times
    finer."""
    drawn = Outline("r", "r", (disc(50), ring_of(49.5, 200, turn)), fill_rule="evenodd", unit_mm=1.0)
    made = prepare(drawn, Making(flatten_mm=0.05, keep_area=keep_area))
    fine = prepare(drawn, Making(flatten_mm=0.05 / 400, most_points=10**6)).polygon
    actual = np.abs(np.array(principal(made.polygon)) / principal(fine) - 1).max()
    assert actual > 1e-5
    assert made.flattening_moments_share == pytest.approx(actual, rel=0.01)
    assert made.flattening_area_share == pytest.approx(
        abs(made.polygon.area / fine.area - 1), rel=0.01, abs=1e-9
    )


@pytest.mark.parametrize("turn", [1, -1])
def test_two_circles_cost_the_same_whichever_way_they_run(turn):
    inner = tuple(piece[::-1] for piece in reversed(disc(49.8))) if turn < 0 else disc(49.8)
    drawn = Outline("r", "r", (disc(50), inner), fill_rule="evenodd", unit_mm=1.0)
    made = prepare(drawn, Making(keep_area=False))
    exact = math.pi * (50**2 - 49.8**2)
    assert made.flattening_area_share == pytest.approx(abs(made.polygon.area / exact - 1), rel=0.02)


def test_contours_that_bound_nothing_take_no_part_in_what_flattening_costs():
    """Non-zero, the same way: what lies inside is filled like what is around it."""
    alone = Outline("r", "r", (disc(50),), unit_mm=1.0)
    both = Outline("r", "r", (disc(50), disc(20)), unit_mm=1.0)
    one, two = (prepare(o, Making(keep_area=False)) for o in (alone, both))
    assert two.polygon.equals_exact(one.polygon, 1e-9) or two.polygon.equals(one.polygon)
    assert two.flattening_moments_share == pytest.approx(one.flattening_moments_share, rel=1e-9)


def test_contours_that_cross_stay_as_drawn():
    crossing = Outline("r", "r", (disc(50), disc(50, 30)), unit_mm=1.0)
    assert turned_by_fill(crossing) is crossing
    hole = Outline("r", "r", (disc(50), disc(20)), fill_rule="evenodd", unit_mm=1.0)
    assert [area > 0 for area in signed_areas(tuple(turned_by_fill(hole).contours))] == [True, False]
    grouped = Outline(
        "r", "r", (disc(50), disc(20), disc(9, 99)), unit_mm=1.0, groups=((2, "evenodd"), (1, "nonzero"))
    )
    turned = turned_by_fill(grouped)
    assert turned.groups == grouped.groups and turned.content == grouped.content
    assert [area > 0 for area in signed_areas(tuple(turned.contours))] == [True, False, True]


def test_a_contour_without_area_by_sign_stays_where_others_are_turned():
    """Two triangles of 40 × 15 / 2 each that one contour runs round in opposite senses, beside a square."""
    corners = np.array([(57, 25), (97, 55), (57, 55), (97, 25), (57, 25)], dtype=float)
    eight = tuple(corners[i : i + 2] for i in range(4))
    square = np.array([(0, 0), (40, 0), (40, 40), (0, 40), (0, 0)], dtype=float)
    inner = square / 2 + 10
    contours = tuple(tuple(ring[i : i + 2] for i in range(4)) for ring in (square, inner)) + (eight,)
    drawn = Outline("r", "r", contours, unit_mm=1.0, groups=((2, "nonzero"), (1, "nonzero")))
    assert len(turned_by_fill(drawn).contours) == 2
    rings = [np.array([piece[0] for piece in contour]) for contour in turned_by_fill(drawn).contours]
    assert {abs(ring_area(ring)) for ring in rings} == {1600.0, 0.0}
