"""Cutting against areas worked out by hand."""

import math
from pathlib import Path

import numpy as np
import pytest
import shapely
import shapely.affinity
from drawn import disc, outline, square
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon

from kit.outlines.cutting import (
    _without_steps,
    added_by_cutter,
    closed_by_cutter,
    filled_slots,
    slit_open,
    webbed,
)
from kit.outlines.flattening import flatten
from kit.outlines.making import Making
from kit.outlines.preparing import prepare
from kit.outlines.reading import read
from kit.outlines.specs import FontFiles

FILLET = 1 - math.pi / 4  # area a cutter leaves in a right angle, over its radius squared

ELL = Polygon([(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)])
BOX = Polygon(square(60), [square(40, 10, 10)])


def channel(width: float) -> Polygon:
    """A block 60 wide with a slot of the given width and depth 30 in its top."""
    a, b = 30 - width / 2, 30 + width / 2
    return Polygon([(0, 0), (60, 0), (60, 40), (b, 40), (b, 10), (a, 10), (a, 40), (0, 40)])


@pytest.mark.parametrize("radius", [0.5, 3.0, 8.0])
def test_a_right_internal_corner_keeps_the_cutter_radius(radius):
    cut = closed_by_cutter(ELL, radius, 1e-4)
    assert cut.area - ELL.area == pytest.approx(FILLET * radius**2, rel=5e-3)
    assert cut.is_valid


def test_convex_corners_stay_sharp_and_in_place():
    cut = closed_by_cutter(ELL, 5.0, 1e-3)
    corners = np.asarray(cut.exterior.coords)
    for corner in [(0, 0), (60, 0), (60, 20), (20, 60), (0, 60)]:
        assert np.abs(corners - corner).sum(axis=1).min() < 1e-9


def test_every_corner_of_a_counter_is_rounded():
    cut = closed_by_cutter(BOX, 4.0, 1e-3)
    assert cut.area - BOX.area == pytest.approx(4 * FILLET * 16, rel=5e-3)
    assert len(cut.interiors) == 1


def test_a_counter_smaller_than_the_cutter_is_filled():
    assert not closed_by_cutter(Polygon(square(60), [square(6, 27, 27)]), 4.0, 1e-3).interiors


def test_the_cutter_does_not_enter_a_slot_narrower_than_itself():
    narrow, wide = (closed_by_cutter(channel(w), 4.0, 1e-3) for w in (7.9, 8.1))
    half = 7.9 / 2  # the cutter sinks into the mouth until it touches both edges
    dent = 16 * math.asin(half / 4) - half * math.sqrt(16 - half**2)
    assert narrow.area == pytest.approx(60 * 40 - dent, rel=1e-5)
    left = [added_by_cutter(channel(width), 4.0, 1e-3) for width in (7.9, 8.1)]
    assert [filled_slots(added, 4.0) for added in left] == [True, False]
    assert wide.area - channel(8.1).area == pytest.approx(2 * FILLET * 16, rel=1e-2)


@pytest.mark.parametrize("turned", [0.0, 30.0])
def test_the_cutter_goes_into_a_slot_as_wide_as_itself(turned):
    slot = shapely.affinity.rotate(channel(6.0), turned)
    cut = closed_by_cutter(slot, 3.0, 4e-3)
    assert cut.area == pytest.approx(60 * 40 - 6 * 30 + 2 * FILLET * 9, rel=3e-5)
    assert not filled_slots(added_by_cutter(slot, 3.0, 4e-3), 3.0)


def test_a_square_counter_as_wide_as_the_cutter_becomes_its_circle_and_a_round_one_stays():
    plate, ring = square(40), flatten((disc(2.0, 20, 20),), 1e-3)[0]
    for counter, wide in ((square(4, 18, 18), 2.0), (ring, 2.0)):
        cut = closed_by_cutter(Polygon(plate, [counter]), wide, 4e-3)
        assert len(cut.interiors) == 1
        assert cut.area == pytest.approx(1600 - math.pi * 4, abs=0.05)
    assert not closed_by_cutter(Polygon(plate, [square(3.98, 18, 18)]), 2.0, 4e-3).interiors


@pytest.mark.parametrize(("depth", "slot"), [(3.0, True), (1.0, True), (0.15, False)])
def test_a_short_narrow_slot_that_is_filled_is_told(depth, slot):
    """1 mm wide, a cutter of 4 mm: filled whole. Shallower than a tenth of its radius it is a dent, and no slot."""
    bottom = 40 - depth
    block = Polygon([(0, 0), (60, 0), (60, 40), (31, 40), (31, bottom), (30, bottom), (30, 40), (0, 40)])
    added = added_by_cutter(block, 2.0, 1e-3)
    assert sum(part.area for part in added) == pytest.approx(depth, abs=0.05)
    assert filled_slots(added, 2.0) is slot


def test_a_curve_wider_than_the_cutter_is_left_alone():
    ring = flatten((disc(20.0),), 0.01)[0]
    tube = Polygon(flatten((disc(30.0),), 0.01)[0], [ring])
    assert closed_by_cutter(tube, 19.0, 0.01).equals(tube)


def test_a_round_counter_smaller_than_the_cutter_is_filled():
    tube = Polygon(flatten((disc(30.0),), 0.01)[0], [flatten((disc(4.0),), 0.01)[0]])
    assert not closed_by_cutter(tube, 4.1, 0.01).interiors


@settings(max_examples=40, deadline=None)
@given(st.floats(5, 40), st.floats(0.5, 9), st.floats(0.0, 360.0))
def test_cutting_never_takes_away_and_what_it_leaves_does_not_change_when_cut_again(slot, radius, angle):
    from kit.outlines.preparing import turn

    assume(abs(slot - 2 * radius) > 0.02)  # where it just fits, chords of the round bottom hold the cutter up
    block = turn(channel(slot), angle)
    once = closed_by_cutter(block, radius, 5e-3)
    assert once.buffer(1e-6).contains(block)
    assert closed_by_cutter(once, radius, 5e-3).area == pytest.approx(once.area, rel=3e-4)


def test_a_wire_opens_each_counter_by_a_slit():
    two = Polygon(square(60), [square(10, 5, 25), square(10, 45, 25)])
    cut = slit_open(two, 0.4)
    assert not cut.interiors and cut.is_valid
    assert two.area - cut.area == pytest.approx(2 * 5 * 0.4, rel=1e-6)


def test_a_counter_behind_another_is_reached_through_it():
    row = Polygon(
        [(0, 0), (100, 0), (100, 40), (0, 40)], [square(20, 3, 10), square(8, 26, 16), square(8, 37, 16)]
    )
    cut = slit_open(row, 0.5)
    assert not cut.interiors
    assert row.area - cut.area == pytest.approx(0.5 * 9, rel=1e-6)  # 3 mm each: none goes 16 mm to the edge


def begun_at(part, count):
    """The same part, its rings begun so many points later."""
    rings = (np.asarray(ring.coords)[:-1] for ring in (part.exterior, *part.interiors))
    outer, *inner = (np.roll(ring, -(count % len(ring)), axis=0) for ring in rings)
    return Polygon(outer, inner)


@pytest.mark.parametrize("count", [1, 5, 17, 40])
def test_where_a_ring_begins_moves_no_web_and_no_slit(count):
    colon = [Point(0, y).buffer(10, quad_segs=37) for y in (0, 31)]
    found = webbed([begun_at(part, count) for part in colon], 3.0)
    assert found.symmetric_difference(webbed(colon, 3.0)).area < 1e-9
    slanted = [shapely.box(x, y, x + 20, y + 20) for x, y in ((0, 0), (8, 31))]
    assert webbed(slanted[::-1], 3.0).symmetric_difference(webbed(slanted, 3.0)).area < 1e-9
    ring = Point(0, 0).buffer(30, quad_segs=37) - Point(4, 3).buffer(15, quad_segs=37)
    cut = slit_open(begun_at(ring, count), 0.4)
    assert cut.symmetric_difference(slit_open(ring, 0.4)).area < 1e-9


def test_webs_join_separate_parts_by_the_shortest_way():
    parts = [Polygon(square(30)), Polygon(square(10, 10, 34)), Polygon(square(10, 10, 47))]
    joined = webbed(parts, 3.0)
    assert joined.area == pytest.approx(900 + 200 + 3 * (4 + 3), rel=2e-2)


def test_outlines_for_these_tests_are_sound():
    assert outline(square(3)).points == 4


def inward_turns(polygon):
    """Turns (degrees) of every internal corner, all rings."""
    turns = []
    oriented = shapely.geometry.polygon.orient(polygon)
    for ring in (oriented.exterior, *oriented.interiors):
        p = np.asarray(ring.coords)[:-1]
        before, after = p - np.roll(p, 1, axis=0), np.roll(p, -1, axis=0) - p
        cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        turns.append(-np.degrees(np.arctan2(cross, (before * after).sum(axis=1))))
    return np.concatenate(turns)


@pytest.mark.parametrize("font", ["DejaVuSerif.ttf", "DejaVuSans.ttf", "cmr10.ttf"])
def test_no_internal_corner_of_a_letter_stays_sharper_than_the_cutter_leaves_it(font):
    """Steps where an arc meets chords are filled, and fillets that cracks of rounding hang together found."""
    letters, _ = read([FontFiles((f"installed:matplotlib/{font}",), ("A-Z",))], Path.cwd(), seconds=60)
    assert len(letters) == 26
    for letter in letters:
        polygon = prepare(letter, Making(fit=("envelope", (100.0, 100.0)))).polygon
        cut = closed_by_cutter(polygon, 1.0, 0.01)
        assert inward_turns(cut).max() < 25.0, letter.name
        assert cut.buffer(0.01).contains(polygon), letter.name


def test_filling_a_step_changes_next_to_nothing():
    step = Polygon([(0, 0), (100, 0), (100, 50), (50, 50), (50, 49.9995), (49.98, 49.9995), (0, 50)])
    filled = _without_steps(step, 1e-3)
    assert len(filled.exterior.coords) == len(step.exterior.coords) - 1
    assert filled.area == pytest.approx(step.area, rel=1e-8)


def test_what_is_no_step_stays():
    ledge = Polygon([(0, 0), (100, 0), (100, 50), (50, 50), (50, 49.9995), (0, 49.9995)])
    assert _without_steps(ledge, 1e-3).equals(ledge)  # filling it would move a whole side
    assert _without_steps(ELL, 1e-3).equals(ELL)


@pytest.mark.parametrize("process", ["extruded", "wire-cut", "cut-from-plate", "printed"])
def test_a_counter_that_closing_fills_is_flagged_whatever_the_process(process):
    both = outline(square(60), square(6, 10, 10, -1), square(20, 30, 30, -1))
    made = prepare(both, Making(process=process, cutter_radius_mm=4.0))
    assert "counters-changed-by-cutter" in made.flags
    assert ("counters-slit-open" in made.flags) == (process == "wire-cut")


@pytest.mark.parametrize("side", [7.5, 7.9, 8.0, 12.0, 17.3])
def test_fillets_of_a_counter_are_no_slot_filled(side):
    frame = Polygon(square(3 * side), [square(side, side, side)[::-1]])
    for turned in (0.0, 17.0, 45.0):
        added = added_by_cutter(shapely.affinity.rotate(frame, turned), 0.5, 3e-4 * side)
        assert added and not filled_slots(added, 0.5)
