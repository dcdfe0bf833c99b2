"""Fit, order of preparation, processes and flags."""

import math

import numpy as np
import pytest
from drawn import disc, outline, second_moments, square, straight
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from kit.errors import Unusable
from kit.outlines.making import PROCESSES, Making
from kit.outlines.outline import Outline
from kit.outlines.preparing import prepare, turn

ELL = [(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)]


def size(polygon):
    a, b, c, d = polygon.bounds
    return c - a, d - b


def test_envelope_keeps_proportions():
    made = prepare(outline([(0, 0), (3, 0), (3, 1), (0, 1)]), Making(fit=("envelope", (100.0, 100.0))))
    assert size(made.polygon) == pytest.approx((100, 100 / 3))


def test_cap_height_is_one_scale_for_a_whole_face():
    flat, tall = (outline([(0, 0), (5, 0), (5, h), (0, h)], cap_height=700.0) for h in (350, 700))
    making = Making(fit=("cap_height", (100.0,)))
    assert size(prepare(flat, making).polygon)[1] == pytest.approx(50)
    assert size(prepare(tall, making).polygon)[1] == pytest.approx(100)


def test_cap_height_needs_one():
    with pytest.raises(Unusable, match="cap height"):
        prepare(outline(square(3), unit_mm=None), Making(fit=("cap_height", (100.0,))))


def test_a_shape_beside_letters_of_one_cap_height_stays_as_drawn():
    drawn = outline([(0, 0), (5, 0), (5, 3), (0, 3)], unit_mm=25.4)
    assert size(prepare(drawn, Making(fit=("cap_height", (100.0,)))).polygon) == pytest.approx((127.0, 76.2))


@pytest.mark.parametrize("cutter", [0.0, 4.0])
def test_area_is_met_as_cut(cutter):
    made = prepare(outline(ELL), Making(fit=("area", (2400.0,)), cutter_radius_mm=cutter))
    assert made.polygon.area == pytest.approx(2400, rel=1e-9)
    assert (made.drawn.area < 2399) == (cutter > 0)


def test_mass_per_length_is_area_times_density():
    # 2.3 kg/m at 955 kg/m3: 2.3 / 955 m2.
    made = prepare(outline(ELL), Making(fit=("mass_per_length", (2.3, 955.0)), cutter_radius_mm=2.0))
    assert made.polygon.area == pytest.approx(2.3 / 955 * 1e6, rel=1e-9)


def test_scale_takes_the_unit_of_the_drawing():
    assert size(prepare(outline(square(2), unit_mm=25.4), Making()).polygon)[0] == pytest.approx(50.8)
    with pytest.raises(Unusable, match="unit"):
        prepare(outline(square(2), unit_mm=None), Making())


def test_centroid_is_the_origin_and_drawn_lies_in_the_same_place():
    made = prepare(outline(ELL), Making(cutter_radius_mm=5.0))
    assert made.polygon.centroid.coords[0] == pytest.approx((0, 0), abs=1e-9)
    assert made.polygon.buffer(1e-6).contains(made.drawn)
    assert made.internal_radius_mm == 5


def test_scale_and_origin_lead_back_to_the_drawing():
    made = prepare(
        outline(np.array(ELL) + (500, -70)), Making(fit=("envelope", (30.0, 30.0)), cutter_radius_mm=1.0)
    )
    corner = np.array([500, -70]) * made.mm_per_unit - made.origin
    assert np.abs(np.asarray(made.drawn.exterior.coords) - corner).sum(axis=1).min() < 1e-9


def test_cut_share_and_flag():
    made = prepare(outline(ELL), Making(cutter_radius_mm=18.0))
    fillet = (1 - math.pi / 4) * 18**2 / 2000
    assert made.cut_area_share == pytest.approx(fillet, rel=3e-3)
    assert "differs-as-cut" in made.flags
    assert "differs-as-cut" not in prepare(outline(ELL), Making(cutter_radius_mm=3.0)).flags


def test_the_default_tolerance_is_a_ten_thousandth_of_the_envelope():
    round_ = Outline("o", "o", (disc(1.0),), unit_mm=1.0)
    kept = prepare(round_, Making(fit=("envelope", (80.0, 80.0))))
    made = prepare(round_, Making(fit=("envelope", (80.0, 80.0)), keep_area=False))
    assert kept.flatten_mm == pytest.approx(8e-3, rel=1e-6)
    assert 6e-3 < made.flatten_mm <= 8e-3  # chords would leave out too much of the area
    assert kept.flattening_area_share < 1e-12
    assert made.flattening_area_share == pytest.approx(1 - made.polygon.area / (math.pi * 1600), rel=1e-2)


def test_a_finer_tolerance_is_used_at_the_fitted_size():
    round_ = Outline("o", "o", (disc(1.0),), unit_mm=1.0)
    for tolerance in (0.1, 0.001):
        made = prepare(round_, Making(fit=("envelope", (80.0, 80.0)), flatten_mm=tolerance, keep_area=False))
        radii = np.hypot(*np.asarray(made.polygon.exterior.coords).T)
        sagitta = 40 - min(40 * math.cos(math.pi / len(radii)), 40)
        assert 0.5 * tolerance < sagitta < tolerance


def test_closed_counters_and_processes():
    box = outline(square(60), square(40, 10, 10, -1))
    for process in PROCESSES:
        making = Making(process=process, cutter_radius_mm=1.0)
        if process == "milled-lengthwise":
            with pytest.raises(Unusable, match="counter"):
                prepare(box, making)
        else:
            made = prepare(box, making)
            assert len(made.polygon.interiors) == (0 if process == "wire-cut" else 1)
    assert "counters-slit-open" in prepare(box, Making(process="wire-cut", cutter_radius_mm=0.2)).flags
    with pytest.raises(Unusable, match="slit"):
        prepare(box, Making(process="wire-cut"))
    assert "length-is-plate-thickness" in prepare(box, Making(process="cut-from-plate")).flags
    assert "strength-differs-across-layers" in prepare(box, Making(process="printed")).flags


def test_least_wall_refuses_with_the_wall_it_found():
    box = outline(square(60), square(56, 2, 2, -1))
    with pytest.raises(Unusable, match="about 2 mm"):
        prepare(box, Making(least_wall_mm=3.0))
    assert prepare(box, Making(least_wall_mm=1.5)).least_wall_found_mm == pytest.approx(2.0, rel=1e-9)
    assert prepare(box, Making()).least_wall_found_mm is None


def test_separate_parts():
    two = outline(square(30), square(20, 40, 0))
    with pytest.raises(Unusable, match="2 separate parts"):
        prepare(two, Making())
    largest = prepare(two, Making(separate_parts="keep-largest"))
    assert largest.polygon.area == pytest.approx(900) and "largest-part-kept" in largest.flags
    joined = prepare(two, Making(separate_parts="join", web_mm=4.0))
    assert joined.polygon.area == pytest.approx(1300 + 40, rel=1e-2) and "joined-by-webs" in joined.flags


def test_parts_meeting_in_a_point_say_so():
    with pytest.raises(Unusable, match="meeting in a point"):
        prepare(outline(square(10), square(10, 10, 10)), Making())


def test_repairs_are_limited():
    dust = [square(0.9, 20 * i, 200) for i in range(5)]
    with pytest.raises(Unusable, match="repairs would change"):
        prepare(outline(square(100), *dust), Making(most_repair_share=1e-6))
    made = prepare(outline(square(100), *dust), Making())
    assert "slivers-dropped" in made.flags
    assert made.repaired_area_share == pytest.approx(5 * 0.81 / 1e4, rel=1e-3)


def test_points_are_limited():
    with pytest.raises(Unusable, match="points"):
        prepare(Outline("o", "o", (disc(1.0),), unit_mm=1.0), Making(most_points=50))


@pytest.mark.parametrize("scale", [1e-9, 1e9])
def test_absurd_sizes_are_refused_by_size_and_fitted_ones_are_not(scale):
    tiny = outline(square(scale))
    with pytest.raises(Unusable, match="mm large"):
        prepare(tiny, Making())
    assert prepare(tiny, Making(fit=("envelope", (50.0, 50.0)))).polygon.area == pytest.approx(2500)


@pytest.mark.parametrize("value", [math.nan, math.inf, 1e300])
def test_coordinates_that_are_no_numbers_are_refused(value):
    with pytest.raises(Unusable, match="coordinate"):
        outline([(0, 0), (value, 0), (1, 1)])


def test_quarter_turns_are_exact_and_turns_are_about_the_centroid():
    polygon = prepare(outline(ELL), Making()).polygon
    back = turn(turn(turn(turn(polygon, 90), 90), 90), 90)
    assert back.equals_exact(polygon, 0.0)
    assert turn(polygon, 90).area == polygon.area
    ix, iy, ixy = second_moments(polygon)
    jx, jy, jxy = second_moments(turn(polygon, 90.0))
    assert (jx, jy, jxy) == pytest.approx((iy, ix, -ixy))
    assert turn(polygon, 30).centroid.coords[0] == pytest.approx((0, 0), abs=1e-9)
    assert turn(polygon, -330).equals_exact(turn(polygon, 30), 1e-12)


@settings(max_examples=30, deadline=None)
@given(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4), st.floats(0, 360), st.booleans())
def test_moving_turning_mirroring_and_reversing_change_nothing_of_the_area(x, y, angle, mirror):
    base = prepare(outline(ELL), Making(fit=("area", (2000.0,)), cutter_radius_mm=2.0))
    points = np.array(ELL, float) * ((-1.0, 1.0) if mirror else 1.0)
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    moved = Outline("m", "m", (straight(points @ np.array([[c, s], [-s, c]]) + (x, y)),), unit_mm=1.0)
    made = prepare(moved, Making(fit=("area", (2000.0,)), cutter_radius_mm=2.0))
    assert made.polygon.area == pytest.approx(2000, rel=1e-8)
    assert sum(second_moments(made.polygon)[:2]) == pytest.approx(
        sum(second_moments(base.polygon)[:2]), rel=1e-4
    )


def test_scaling_a_drawing_scales_its_section():
    one = prepare(outline(ELL), Making())
    two = prepare(outline(np.array(ELL) * 2.0), Making())
    assert two.polygon.equals_exact(affinity.scale(one.polygon, 2, 2, origin=(0, 0)), 1e-9)


@pytest.mark.parametrize(
    "wrong",
    [
        {"process": "carved"},
        {"separate_parts": "glue"},
        {"fit": ("envelope", (1.0,))},
        {"fit": ("area", (-1.0,))},
        {"fit": ("area", (math.nan,))},
        {"cutter_radius_mm": -1.0},
        {"flatten_mm": 0.0},
    ],
)
def test_a_making_that_makes_no_sense_is_refused(wrong):
    with pytest.raises(ValueError):
        Making(**wrong)
    assert hash(Making()) == hash(Making())


@pytest.mark.parametrize(
    ("making", "web"), [({}, 80 / 20), ({"least_wall_mm": 6.0}, 6.12), ({"web_mm": 2.0}, 2.0)]
)
def test_separate_parts_are_joined_by_a_web_of_the_stated_width(making, web):
    """Two squares 20 mm apart in an envelope of 80 mm: without a width given the web is a twentieth of it."""
    pair = outline(square(30), square(30, 50, 0))
    made = prepare(pair, Making(separate_parts="join", **making))
    assert made.polygon.area == pytest.approx(2 * 900 + 20 * web, rel=1e-9)
    assert "joined-by-webs" in made.flags
    assert made.polygon.equals(made.drawn)  # the web is shown as part of what is cut
