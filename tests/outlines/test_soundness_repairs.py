"""What becomes of unsound drawings."""

import numpy as np
import pytest
import shapely
from drawn import square
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import minimum_clearance

from kit.errors import Unusable
from kit.outlines.soundness import crowded, sound
from kit.outlines.winding import filled


def mended(*rings, rule="nonzero"):
    return sound([([np.asarray(r, float) for r in rings], rule)])


def test_a_sound_outline_is_left_as_it_is():
    found = mended(square(10), square(4, 3, 3, -1))
    assert found.repairs == () and found.changed_area == 0
    assert len(found.parts) == 1 and len(found.parts[0].interiors) == 1


def test_repeated_points_are_no_matter():
    ring = np.repeat(square(10), 3, axis=0)
    assert mended(ring).parts[0].area == pytest.approx(100)


def test_the_halves_of_a_bow_tie_are_separate_parts():
    found = mended([(0, 0), (10, 10), (10, 0), (0, 10)])
    assert len(found.parts) == 2
    assert sum(p.area for p in found.parts) == pytest.approx(50, rel=2e-3)


def test_parts_that_meet_in_one_point_are_separate():
    found = mended(square(10), square(10, 10, 10))
    assert [p.area for p in found.parts] == pytest.approx([100, 100])


def test_a_neck_of_a_hundredth_of_a_millimetre_is_no_joint():
    half = 0.005
    left = [(0, 0), (50, 50 - half), (50, 50 + half), (0, 100)]
    right = [(50, 50 - half), (100, 0), (100, 100), (50, 50 + half)]
    found = mended(left, right)
    assert len(found.parts) == 2 and "contacts-opened" in found.repairs


def test_a_hole_that_touches_the_edge_in_a_point_opens_it():
    found = mended(square(10), [(0, 5), (5, 7), (5, 3)])
    (part,) = found.parts
    assert not part.interiors and "contacts-opened" in found.repairs
    assert part.is_valid and part.area == pytest.approx(90, rel=1e-2)
    assert minimum_clearance(part) > 1e-6 * 10


def test_two_holes_that_share_a_corner_do_not_share_it_afterwards():
    holes = [square(2, 3, 3, -1), square(2, 5, 5, -1)]
    (part,) = mended(square(10), *holes).parts
    points = np.vstack([np.asarray(r.coords)[:-1] for r in (part.exterior, *part.interiors)])
    assert len(np.unique(points.round(9), axis=0)) == len(points)
    assert part.area == pytest.approx(92, rel=1e-2)


def test_a_spike_without_area_disappears():
    (part,) = mended([(0, 0), (10, 0), (10, 5), (30, 5), (10, 5), (10, 10), (0, 10)]).parts
    assert part.bounds == pytest.approx((0, 0, 10, 10), abs=1e-3)
    assert part.area == pytest.approx(100, rel=1e-6)


def test_slivers_and_pinholes_are_dropped_and_counted():
    sliver, pinhole = square(0.05, 20, 0), square(0.005, 5, 5, -1)
    found = mended(square(10), sliver, pinhole)
    assert set(found.repairs) >= {"slivers-dropped", "pinholes-filled"}
    assert found.changed_area == pytest.approx(0.05**2 + 0.005**2, rel=1e-6)


def test_shapes_painted_over_one_another_unite_whatever_their_rules():
    groups = [([square(10), square(6, 2, 2)], "evenodd"), ([square(6, 2, 2, -1)], "nonzero")]
    assert sound(groups).parts[0].area == pytest.approx(100)


@pytest.mark.parametrize(
    "ring", [[(0, 0), (10, 0)], [(0, 0), (5, 0), (10, 0)], [(1, 1)] * 5, [(0, 0), (1e9, 1e-9), (2e9, 0)]]
)
def test_outlines_without_area_are_refused(ring):
    with pytest.raises(Unusable, match="area"):
        mended(ring)


grid = st.tuples(st.integers(0, 8), st.integers(0, 8))


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.lists(grid, min_size=3, max_size=8), min_size=1, max_size=5),
    st.sampled_from(["nonzero", "evenodd"]),
)
@example([[(0, 4), (7, 3), (1, 1), (8, 3)]], "nonzero")  # an offset corner grazes the drawn one
def test_any_rings_become_sound_parts_or_are_refused(rings, rule):
    """Rings on a coarse grid touch in points and along sides in every way; what comes out can be meshed."""
    try:
        found = mended(*rings, rule=rule)
    except Unusable:
        return
    for part in found.parts:
        assert part.is_valid and part.area > 0
        assert minimum_clearance(part) > 1e-7 * 8
        inner = part.buffer(-1e-4 * 8 * 0.5)
        assert inner.geom_type == "Polygon"  # no contact in a point holds it together
        assert len(inner.interiors) == len(part.interiors)
    union = shapely.union_all(filled([np.asarray(r, float) for r in rings], rule))
    left = sum(p.area for p in found.parts)
    assert left <= union.area * (1 + 1e-9) and left >= union.area * 0.98


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3)), min_size=2, max_size=30),
    st.floats(1e-4, 0.3),
)
def test_points_too_near_are_never_missed_and_points_three_times_as_far_never_found(points, share):
    points = np.array(points)
    nearest = share * max(float(np.ptp(points)), 1.0)
    apart = np.linalg.norm(points[:, None] - points[None], axis=2)[~np.eye(len(points), dtype=bool)].min()
    if apart < 0.999 * nearest:
        assert crowded(points, nearest)
    if apart > 3.0 * nearest:
        assert not crowded(points, nearest)
