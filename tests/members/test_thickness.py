"""Strengths hold up to a thickness, that of the greatest circle in a section, and are not taken beyond."""

import numpy as np
import pytest
from shapely import Point, Polygon, box

from kit.members.cases import BendingCase, CompressionCase, TensionCase, TorsionCase
from kit.members.materials import Service, library
from kit.members.merit import merit
from kit.members.resistance import load_name, resistance
from kit.members.sizing import size
from kit.members.uncertainty import Uncertainty, resistance_interval
from kit.sections.section import properties
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain


def row(material, section, case=TensionCase("t", 1000.0)):
    return resistance(by_hand.table(a=section), case, material, Service()).iloc[0]


@pytest.mark.parametrize(
    ("polygon", "thickest"),
    [
        (box(0, 0, 100, 8), 8.0),
        (box(0, 0, 40, 40), 40.0),
        (Point(0, 0).buffer(30, quad_segs=64), 60.0),
        (Point(0, 0).buffer(40, quad_segs=64) - Point(0, 0).buffer(35, quad_segs=64), 5.0),
        # A T of 20 mm plates with a 60 mm head block.
        (box(-30, 0, 30, 60).union(box(-10, -200, 10, 0)), 60.0),
        # An equilateral triangle: side ÷ √3.
        (Polygon([(0, 0), (60, 0), (30, 30 * np.sqrt(3))]), 60 / np.sqrt(3)),
        # The junction of an L of 12 mm plates: the circle that touches both outer faces and the inner corner.
        (box(0, 0, 100, 12).union(box(0, 0, 12, 100)), 2 * 12 * np.sqrt(2) / (1 + np.sqrt(2))),
    ],
)
def test_the_greatest_circle_by_hand(polygon, thickest):
    found = properties(polygon, bounds=0.02)
    size = max(found.width_mm, found.depth_mm)
    assert thickest - 1.1e-3 * size <= found.thickest_mm <= thickest * (1 + 1e-9)


def test_a_thick_bar_of_steel_is_not_given_the_strength_of_a_thin_one():
    """EN 1993-1-1, Table 3.1: S235 has 235 MPa up to 40 mm and 215 MPa from there to 80 mm."""
    steel, thick = library()["steel-S235"], by_hand.rectangle(100.0, 100.0)
    for case in (
        TensionCase("t", 1000.0), CompressionCase("c", 1000.0), BendingCase("b", 1000.0),
        TorsionCase("q", 1000.0),
    ):  # fmt: skip
        found = row(steel, thick, case)
        assert np.isnan(found[load_name(case)]) and found["limit_state"] == "not assessed"
        assert found["caveats"].split()[0] == "thickness-beyond-values"
    own = plain(f=215.0, thickness_up_to_mm=100.0)
    assert row(own, thick)["resistance_N"] == pytest.approx(215e4, rel=1e-3)


def test_thin_values_of_aluminium_do_not_hold_for_a_thick_flat():
    """EN 1999-1-1, Table 3.2b: 6060 T66 has 160 MPa up to 3 mm and 150 MPa from there to 25 mm."""
    flat, sheet = by_hand.rectangle(60.0, 25.0), by_hand.rectangle(60.0, 3.0)
    thin, usual = library()["aluminium-6060-T66-thin"], library()["aluminium-6060-T66"]
    assert "thickness-beyond-values" in row(thin, flat)["caveats"]
    assert row(thin, sheet)["resistance_N"] == pytest.approx(180 * 160, rel=1e-3)
    assert row(usual, flat)["resistance_N"] == pytest.approx(1500 * 150, rel=1e-3)


def test_a_wall_as_thick_as_the_limit_holds_and_its_scatter_does_not_count():
    """The nominal thickness is compared: an edge that scatters leaves the row assessed."""
    ring = by_hand.table(a=by_hand.tube(200.0, 150.0))
    material, case = library()["aluminium-6060-T66"], TensionCase("t", 1000.0)
    assert resistance(ring, case, material, Service())["resistance_N"].notna().all()
    interval = resistance_interval(ring, case, material, Service(), Uncertainty(200, 1, dimensions_mm=0.2))
    assert interval.notna().all(axis=None)


def test_merit_compares_the_similar_section_at_its_own_thickness():
    """Scaled to the mass of a slighter reference a block becomes thin enough; a reference too thick has no merit."""
    table = by_hand.table(slight=by_hand.rectangle(60.0, 20.0), block=by_hand.rectangle(60.0, 30.0))
    steel, case = library()["aluminium-6060-T66"], TensionCase("t", 1000.0)
    found = merit(table, table.iloc[0], case, steel, Service())
    assert found["merit"].tolist() == pytest.approx([1.0, 1.0])
    assert merit(table, table.iloc[1], case, steel, Service()).isna().all(axis=None)


def test_a_size_beyond_the_thickness_is_no_answer():
    """3 MN ÷ 235 MPa is a square of 113 mm; the value of 235 MPa ends at 40 mm."""
    bar = by_hand.table(a=by_hand.rectangle(50.0, 50.0)).iloc[0]
    found = size(bar, 3e6, TensionCase("t", 1000.0), library()["steel-S235"], Service())
    assert np.isnan(found.scale) and "that can be assessed" in found.limit_state
    own = plain(thickness_up_to_mm=200.0)
    assert size(bar, 3e6, TensionCase("t", 1000.0), own, Service()).width_mm == pytest.approx(113.0, rel=1e-3)
