"""Pockets a straight cutter can and cannot reach."""

import pytest
from drawn import disc, outline, square
from shapely import Polygon

from kit.outlines.cutting import closed_by_cutter
from kit.outlines.flattening import flatten
from kit.outlines.making import Making
from kit.outlines.preparing import prepare, turn
from kit.outlines.undercuts import undercut_area

SLOT = [(0, 0), (60, 0), (60, 40), (35, 40), (35, 10), (25, 10), (25, 40), (0, 40)]
# A slot that widens inside, like the one that takes the head of a bolt.
T_SLOT = [
    (0, 0),
    (60, 0),
    (60, 40),
    (35, 40),
    (35, 25),
    (50, 25),
    (50, 10),
    (10, 10),
    (10, 25),
    (25, 25),
    (25, 40),
    (0, 40),
]


@pytest.mark.parametrize("radius", [0.0, 2.0, 4.5])
@pytest.mark.parametrize(
    "points", [square(50), SLOT, [(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)]]
)
def test_open_pockets_are_reached(points, radius):
    assert undercut_area(closed_by_cutter(Polygon(points), radius, 0.01), radius) == 0.0


def test_a_round_outline_is_reached_all_round():
    assert undercut_area(Polygon(flatten((disc(30.0),), 0.01)[0]), 3.0) == 0.0


@pytest.mark.parametrize("angle", [0.0, 25.0])
def test_the_arms_of_a_t_slot_are_not_reached(angle):
    """The arms are 15 × 15 each; a thin cutter leaning in by the mouth's width reaches part of them."""
    area = undercut_area(turn(Polygon(T_SLOT), angle), 2.0)
    assert 100 < area < 2 * 15 * 15


def test_the_flag_is_set_for_milling_alone():
    for process in ("milled-lengthwise", "extruded"):
        flags = prepare(outline(T_SLOT), Making(process=process, cutter_radius_mm=2.0)).flags
        assert ("undercut" in flags) == (process == "milled-lengthwise")
    assert (
        "undercut"
        not in prepare(outline(SLOT), Making(process="milled-lengthwise", cutter_radius_mm=2.0)).flags
    )
