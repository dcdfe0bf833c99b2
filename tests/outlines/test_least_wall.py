"""The least wall against shapes whose thinnest place is plain, against a search by force, and by invariants."""

import itertools
import math
import time
from pathlib import Path

import numpy as np
import pytest
import shapely
from drawn import disc, outline, square
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from shapely import Polygon, affinity

from kit.errors import Unusable
from kit.outlines.flattening import flatten
from kit.outlines.leastwall import least_neck, least_wall
from kit.outlines.making import Making
from kit.outlines.outline import Outline
from kit.outlines.preparing import prepare
from kit.outlines.reading import read
from kit.outlines.sides import sides_of
from kit.outlines.specs import FontFiles

PLATE = [(0, 0), (60, 0), (60, 30), (0, 30)]


def circle(radius, x=0.0, y=0.0):
    return flatten((disc(radius, x, y),), 1e-3)[0]


def diamond(x, y, a, b):
    return [(x, y - b), (x + a, y), (x, y + b), (x - a, y)]


def plate(*holes, edge=PLATE) -> Polygon:
    return Polygon(edge, holes)


def waisted(gap: float) -> Polygon:
    """A bar with two notches opposite one another, their tips so far apart."""
    half = gap / 2
    right = [(20, -10), (20, 10), (1, 10), (0, half), (-1, 10)]
    return Polygon([(-20, -10), (-1, -10), (0, -half), (1, -10), *right, (-20, 10)])


def finned(low: float, high: float, length: float) -> Polygon:
    """A block with a fin in the middle of its top, so wide at its foot and at its end."""
    end = [(20 + low / 2, 20), (20 + high / 2, 20 + length), (20 - high / 2, 20 + length), (20 - low / 2, 20)]
    return Polygon([(0, 0), (40, 0), (40, 20), *end, (0, 20)])


BY_HAND = {
    "square": (Polygon(square(10)), 10.0),
    "bar": (Polygon([(0, 0), (100, 0), (100, 7), (0, 7)]), 7.0),
    "frame": (plate(square(40, 10, 10), edge=square(60)), 10.0),
    "frame, hole aside": (plate(square(40, 3, 10), edge=square(60)), 3.0),
    "three holes in a row": (plate(*(circle(3, x, 15) for x in (20, 27, 34))), 1.0),
    "two holes": (plate(circle(5, 20, 15), circle(5, 32, 15)), 2.0),
    "two larger holes": (plate(circle(10, 25, 20), circle(10, 48, 20), edge=2 * np.array(PLATE)), 3.0),
    "two pinholes": (plate(circle(1, 18.95, 20), circle(1, 21.05, 20), edge=square(40)), 0.1),
    "hole near the edge": (plate(circle(3, 20, 4)), 1.0),
    "two diamonds, tip to tip": (plate(diamond(14.95, 15, 5, 5), diamond(25.05, 15, 5, 5)), 0.1),
    "diamond near the edge": (plate(diamond(20, 11, 10, 10)), 1.0),
    "waist": (waisted(0.3), 0.3),
    "fin": (finned(0.9, 0.9, 10.0), 0.9),
    "stub": (finned(0.9, 0.9, 1.4), 0.9),
    # The widest disc of a triangle is its incircle: area over half the perimeter.
    "triangle": (Polygon([(0, 0), (60, 0), (30, 52)]), 2 * 60 * 52 / (60 + 2 * math.hypot(30, 52))),
    "dumb-bell": (
        shapely.union_all(
            [shapely.box(0, 0, 30, 30), shapely.box(29, 14, 51, 16), shapely.box(50, 0, 80, 30)]
        ),
        2.0,
    ),
}


@pytest.mark.parametrize("name", BY_HAND)
@pytest.mark.parametrize("turned", [0.0, 17.0, 90.0])
def test_least_wall_of_shapes_with_a_plain_thinnest_place(name, turned):
    polygon, wall = BY_HAND[name]
    assert least_wall(affinity.rotate(polygon, turned)) == pytest.approx(wall, rel=2e-3, abs=2.1e-3)


def test_parallel_sides_face_one_another_without_any_internal_corner():
    assert least_neck(sides_of(BY_HAND["bar"][0])) == pytest.approx(7.0, rel=1e-9)


def test_a_bump_lower_than_half_its_width_is_no_wall():
    """No disc fits into it that touches both its sides: what is left is the block, 20 thick."""
    assert least_wall(finned(0.9, 0.9, 0.4)) == pytest.approx(20.0, abs=0.01)
    assert least_wall(finned(0.9, 0.9, 0.5)) == pytest.approx(0.9, rel=1e-6)


@pytest.mark.parametrize("face", ["DejaVuSerif.ttf", "STIXGeneral.ttf"])
def test_counters_of_letters_are_no_nearer_to_the_edge_than_the_least_wall(face):
    letters, _ = read([FontFiles((f"installed:matplotlib/{face}",), ("ABDOPQRabdegopq0689&@",))], Path.cwd())
    nearest, found = [], []
    for letter in letters:
        polygon = prepare(letter, Making(fit=("envelope", (100.0, 100.0)))).polygon
        rings = [polygon.exterior, *polygon.interiors]
        nearest.append(min(a.distance(b) for a, b in itertools.combinations(rings, 2)))
        found.append(least_wall(polygon))
    assert len(letters) == 21
    assert (np.array(found) <= np.array(nearest) * (1 + 1e-9)).all()


@pytest.mark.parametrize("width", [0.5, 2.0, 6.0])
def test_wall_of_a_tube_is_off_by_no_more_than_its_chords(width):
    tube = Polygon(circle(50.0), [circle(50.0 - width)])
    assert least_wall(tube) == pytest.approx(width, abs=2e-3)


@pytest.mark.parametrize("half", [2.0, 8.0, 14.0])
def test_a_long_taper_is_as_thin_as_where_it_gets_longer_than_one_and_a_half_widths(half):
    """End width a, sides 2 β apart: a disc of diameter d touches where the width is d cos β, d cos β less a
    over 2 tan β from the end. That is 1.5 d for d = a / (cos β − 3 tan β)."""
    beta, end = math.radians(half), 1.0
    expected = end / (math.cos(beta) - 3 * math.tan(beta))
    length = 4 * expected
    polygon = finned(end + 2 * length * math.tan(beta), end, length)
    assert least_wall(polygon) == pytest.approx(expected, rel=0.03)


def test_a_corner_of_40_degrees_is_a_corner_and_one_of_30_a_thin_tip():
    def wedge(angle):
        return Polygon([(0, 0), (100, 0), (100, 100 * math.tan(math.radians(angle)))])

    forty = 100 * math.tan(math.radians(40))
    assert least_wall(wedge(40)) == pytest.approx(100 + forty - math.hypot(100, forty), rel=2e-3)
    beta, around = math.radians(15), 100 / math.cos(math.radians(30))  # a circle on the long side
    depth = 0.015 * around  # from there on a tip counts: d cos²β / (2 sin β)
    assert least_wall(wedge(30)) == pytest.approx(2 * depth * math.sin(beta) / math.cos(beta) ** 2, rel=0.03)


def test_ends_of_a_lens_are_thin_where_the_disc_inside_leaves_a_long_tip():
    """In an ellipse, a disc centred at c on the long axis has r² = b² (1 − c²/(a² − b²)) and touches at
    c a²/(a² − b²)."""
    a, b = 50.0, 5.0
    radius = lambda c: b * math.sqrt(1 - c * c / (a * a - b * b))  # noqa: E731
    c = brentq(lambda c: a - c * a * a / (a * a - b * b) - 3 * radius(c), 0.0, 49.0)
    t = np.arange(2000) * (math.pi / 1000)
    lens = Polygon(np.column_stack([a * np.cos(t), b * np.sin(t)]))
    assert least_wall(lens) == pytest.approx(2 * radius(c), rel=0.01)


def necks_by_force(polygon: Polygon, spacing: float) -> float:
    """Least distance between points of the outline that lie opposite one another: by force, from points alone.

    A pair counts where the disc on it as diameter holds no other point of the outline and lies in the material.
    """
    points = shapely.get_coordinates(shapely.segmentize(polygon.boundary, spacing))
    i, j = np.triu_indices(len(points), 1)
    middle, length = (points[i] + points[j]) / 2, np.hypot(*(points[i] - points[j]).T)
    for k in np.argsort(length):
        if length[k] > 4 * spacing and shapely.contains_xy(polygon, *middle[k]):
            away = np.hypot(*(points - middle[k]).T).min()
            if away >= length[k] / 2 * (1 - 1e-9):
                return float(length[k])
    return math.inf


places = st.tuples(
    st.floats(6, 34), st.floats(6, 34), st.floats(1.0, 5.0), st.floats(0, 90), st.sampled_from([3, 4, 9])
)


def perforated(holes) -> Polygon | None:
    """A plate with polygonal holes, where these leave it in one piece."""
    cut = shapely.box(0, 0, 40, 40)
    for x, y, r, turn, sides in holes:
        t = math.radians(turn) + np.arange(sides) * (2 * math.pi / sides)
        cut = cut.difference(Polygon(np.column_stack([x + r * np.cos(t), y + r * np.sin(t)])))
    return cut if isinstance(cut, Polygon) else None


def test_points_that_rounding_leaves_on_one_another_make_no_wall():
    """Holes cut twice in one place leave sides of 1e-15, which run anywhere."""
    polygon = perforated([(6, 6, 1, 0, 3), (6, 6, 5, 3, 3), (6, 6, 5, 53, 9), (6, 6, 5, 53, 9)])
    assert np.hypot(*np.diff(shapely.get_coordinates(polygon), axis=0).T).min() < 1e-12
    assert least_wall(polygon) > 0.5


@settings(max_examples=30, deadline=None)
@given(st.lists(places, min_size=2, max_size=5))
def test_two_rings_are_never_nearer_than_the_least_wall(holes):
    polygon = perforated(holes)
    if polygon is None or not polygon.interiors:
        return
    rings = [polygon.exterior, *polygon.interiors]
    nearest = min(a.distance(b) for a, b in itertools.combinations(rings, 2))
    if nearest > 1e-3:
        assert least_wall(polygon) <= nearest * (1 + 1e-6)
        if len(holes) == len(polygon.interiors):  # holes of their own, all convex: nothing else is as thin
            assert least_neck(sides_of(polygon)) == pytest.approx(nearest, rel=1e-6)


@settings(max_examples=25, deadline=None)
@given(st.lists(places, min_size=1, max_size=4), st.floats(0, 360), st.floats(0.01, 100))
def test_turning_mirroring_and_scaling_take_the_least_wall_along(holes, angle, factor):
    polygon = perforated(holes)
    if polygon is None:
        return
    wall = least_wall(polygon)
    assert least_wall(affinity.rotate(polygon, angle)) == pytest.approx(wall, rel=0.02)
    assert least_wall(affinity.scale(polygon, -factor, factor)) == pytest.approx(factor * wall, rel=0.02)


@settings(max_examples=8, deadline=None)
@given(st.lists(places, min_size=1, max_size=3))
def test_no_neck_found_by_force_is_narrower(holes):
    polygon = perforated(holes)
    if polygon is not None:
        assert least_neck(sides_of(polygon)) <= necks_by_force(polygon, 0.8) + 0.05


@settings(max_examples=25, deadline=None)
@given(st.lists(places, min_size=1, max_size=4), st.floats(0.2, 12), st.floats(1.01, 3))
def test_who_asks_for_more_is_refused_where_who_asks_for_less_is(holes, asked, more):
    polygon = perforated(holes)
    if polygon is None:
        return
    rings = [np.asarray(r.coords)[:-1] for r in (polygon.exterior, *polygon.interiors)]
    drawn = outline(*rings, rule="evenodd")

    def made(wall):
        try:
            return prepare(drawn, Making(least_wall_mm=wall))
        except Unusable as error:
            assert "least wall" in str(error)
            return None

    one = made(asked)
    if one is None:
        assert made(asked * more) is None
    else:
        assert one.least_wall_found_mm == pytest.approx(max(least_wall(one.polygon), asked), rel=1e-9)


def test_a_tube_as_thick_as_asked_is_taken_and_the_refusal_names_the_wall():
    tube = Outline("t", "t", (disc(30), disc(28)), fill_rule="evenodd", unit_mm=1.0)
    assert prepare(tube, Making(least_wall_mm=2.0)).least_wall_found_mm == 2.0
    with pytest.raises(
        Unusable, match=r"a wall of about (2|1\.99) mm is thinner than the least wall of 2\.05"
    ):
        prepare(tube, Making(least_wall_mm=2.05))
    holed = Outline("t", "t", (outline(PLATE).contours[0], disc(3, 20, 4)), fill_rule="evenodd", unit_mm=1.0)
    with pytest.raises(Unusable, match=r"a wall of about (1|0\.99\d) mm"):
        prepare(holed, Making(least_wall_mm=2.0))


@pytest.mark.slow
def test_time_for_a_thousand_corners(capsys):
    gear = Polygon(
        [((40 + 3 * math.sin(20 * t)) * math.cos(t), (40 + 3 * math.sin(20 * t)) * math.sin(t))
         for t in np.arange(1000) * (math.pi / 500)],
        [circle(20.0)],
    )  # fmt: skip
    start = time.process_time()
    for _ in range(10):
        least_wall(gear)
    with capsys.disabled():
        print(f"\nleast wall of {shapely.get_num_coordinates(gear)} corners: "
              f"{100 * (time.process_time() - start):.1f} ms")  # fmt: skip
