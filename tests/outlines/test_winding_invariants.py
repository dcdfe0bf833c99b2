"""The filled region against winding numbers found another way."""

import time

import numpy as np
import pytest
from drawn import disc, square, winding_by_angles
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, union_all

from kit.outlines.flattening import flatten
from kit.outlines.winding import filled, winding_numbers


def region(rings, rule="nonzero"):
    return union_all(filled([np.asarray(r, float) for r in rings], rule))


def test_overlapping_squares_unite_whatever_their_turn():
    for turns in ((1, 1), (-1, -1)):
        rings = [square(2, 0, 0, turns[0]), square(2, 1, 1, turns[1])]
        assert region(rings).area == pytest.approx(7)
    # Opposite turns cancel where they overlap: the winding number there is zero.
    assert region([square(2), square(2, 1, 1, -1)]).area == pytest.approx(6)


def test_a_counter_stays_open_and_an_island_in_it_is_filled():
    rings = [square(10), square(6, 2, 2, -1), square(2, 4, 4)]
    assert region(rings).area == pytest.approx(100 - 36 + 4)
    assert len(region(rings).geoms) == 2


def test_all_contours_drawn_backwards_give_the_same_region():
    rings = [square(10), square(6, 2, 2, -1)]
    assert region([r[::-1] for r in rings]).equals(region(rings))


def test_an_inner_ring_of_the_same_turn_makes_no_hole_but_does_with_even_odd():
    rings = [square(10), square(6, 2, 2)]
    assert region(rings).area == pytest.approx(100)
    assert region(rings, "evenodd").area == pytest.approx(64)


def test_a_ring_that_bounds_nothing_between_shell_and_hole():
    rings = [square(10), square(8, 1, 1), square(2, 4, 4, -1), square(1.5, 4.25, 4.25, -1)]
    assert region(rings).area == pytest.approx(100 - 1.5**2)


def test_uniting_by_turn_would_be_wrong_where_the_winding_number_is_right():
    """A contour wound twice about a region that one backwards contour crosses stays filled there."""
    rings = [square(4), square(4), square(2, 3, 1, -1)]
    # Twice around minus once around leaves one; outside the squares the backwards one is filled by itself.
    assert region(rings).area == pytest.approx(16 + 2)


@pytest.mark.parametrize("tolerance", [0.0016, 0.001, 0.00123, 0.01])
@pytest.mark.parametrize("frame", [[], [square(20, 0, -10)]])
@pytest.mark.parametrize("away", [0, 1e9])
def test_a_side_that_a_curve_runs_along_and_back_loses_no_area(frame, tolerance, away):
    """A 5 × 6 rectangle with a flat curve to and fro on its side, whose points are off it by rounding alone."""
    corners = [(4, -2), (9, -2), (9, -8), (4, -8)]
    spike = np.array([(9, -2), (9, -2.317), (9, -1.684), (9, -2)], float)
    pieces = [np.array(side, float) for side in zip(corners, corners[1:] + corners[:1], strict=True)]
    (ring,) = flatten(((pieces[0], spike, *pieces[1:]),), tolerance, keep_area=True)
    rings = [one + away for one in (*frame, ring)]
    assert region(rings).area == pytest.approx(400 - 30 if frame else 30, rel=1e-6)


def test_a_five_pointed_star_has_its_middle():
    t = np.pi / 2 + 4 * np.pi / 5 * np.arange(5)
    star = np.column_stack([np.cos(t), np.sin(t)])
    assert region([star]).contains(Point(0, 0))
    assert not region([star], "evenodd").contains(Point(0, 0))


def test_a_hundred_overlapping_discs_are_one_region():
    rng = np.random.default_rng(4)
    discs = [disc(1.0, *rng.uniform(0, 4, 2)) for _ in range(100)]
    rings = flatten(tuple(discs), 1e-3)
    points = rng.uniform(-1, 5, (500, 2))
    inside = [any(np.hypot(*(p - r.mean(axis=0))) < 1 for r in rings) for p in points]
    near = [any(abs(np.hypot(*(p - r.mean(axis=0))) - 1) < 2e-3 for r in rings) for p in points]
    found = region(rings)
    wrong = [
        p for p, i, n in zip(points, inside, near, strict=True) if not n and found.contains(Point(p)) != i
    ]
    assert not wrong


def test_a_thousand_strokes_across_one_another_take_no_time():
    """Some path libraries take minutes over a hundred overlapping contours."""
    rng = np.random.default_rng(2)
    bars = [square(1.0) * (40, 0.3) + rng.uniform(0, 20, 2) for _ in range(60)]
    bars += [square(1.0) * (0.3, 40) + rng.uniform(0, 20, 2) for _ in range(60)]
    start = time.process_time()
    found = region(bars)
    assert time.process_time() - start < 20
    points = rng.uniform(0, 60, (300, 2))
    inside = [any((b[0] < p).all() and (p < b[2]).all() for b in bars) for p in points]
    assert [found.contains(Point(p)) for p in points] == inside


def test_winding_numbers_by_crossings_and_by_angles_agree():
    rng = np.random.default_rng(1)
    ring = rng.normal(size=(40, 2))
    points = rng.normal(size=(200, 2))
    assert list(winding_numbers(points, [ring])) == [winding_by_angles(p, ring) for p in points]


grid = st.tuples(st.integers(0, 6), st.integers(0, 6))
ring_lists = st.lists(st.lists(grid, min_size=3, max_size=7), min_size=1, max_size=4)


@settings(max_examples=150, deadline=None)
@given(ring_lists, st.sampled_from(["nonzero", "evenodd"]))
def test_any_rings_fill_where_the_winding_number_says(rings, rule):
    """Rings on a coarse grid meet, cross and repeat in every degenerate way there is."""
    rings = [np.array(r, float) for r in rings]
    rings = [r[~np.all(r == np.roll(r, 1, axis=0), axis=1)] for r in rings]
    found = region(rings, rule)
    assert found.is_valid
    for point in np.random.default_rng(0).uniform(-0.5, 6.5, (40, 2)):
        winding = sum(winding_by_angles(point, r) for r in rings if len(r) >= 3)
        inside = winding % 2 != 0 if rule == "evenodd" else winding != 0
        if found.is_empty or found.boundary.distance(Point(point)) > 1e-9:
            assert found.contains(Point(point)) == inside
