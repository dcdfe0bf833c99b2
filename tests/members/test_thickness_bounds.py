"""Strengths hold up to a thickness: bounds of the greatest circle in a section, and what is said beyond."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPoint, Point, Polygon, box, maximum_inscribed_circle

from kit.members.cases import BendingCase, CompressionCase, TensionCase, TorsionCase
from kit.members.materials import Service, library
from kit.members.merit import merit
from kit.members.resistance import load_name, resistance
from kit.members.sizing import size
from kit.members.state import columns_of
from kit.members.thickness import greatest_thickness, least_thickness
from kit.members.uncertainty import Uncertainty, resistance_interval
from kit.sections.section import properties
from kit.teaching.saltmere import drawing, drawings, letter, ready
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain


def row(material, section, case=TensionCase("t", 1000.0)):
    return resistance(by_hand.table(a=section), case, material, Service()).iloc[0]


def circle(polygon) -> float:
    """Diameter of the greatest circle in a polygon, by the geometry library."""
    return 2.0 * maximum_inscribed_circle(polygon, tolerance=1e-4 * np.sqrt(polygon.area)).length


def bounds(polygon) -> tuple[float, float]:
    table = columns_of(by_hand.table(a=properties(polygon, bounds=0.02).row()))
    return float(least_thickness(table)[0]), float(greatest_thickness(table)[0])


def test_bounds_of_bars_and_rings_by_hand():
    """Round bars and rings exactly; b × t with b + t = 104, b t = 400: (208 − √(208² − 1600 π)) / π."""
    table = columns_of(
        by_hand.table(a=by_hand.rectangle(100.0, 4.0), b=by_hand.tube(80.0, 70.0), c=by_hand.tube(60.0))
    )
    strip = (208 - np.sqrt(208**2 - 1600 * np.pi)) / np.pi
    np.testing.assert_allclose(least_thickness(table), [strip, 5.0, 60.0])
    assert 400 / 104 < strip < 4.0
    bare = {name: values for name, values in table.items() if name != "cell_wall_b_over_t"}
    np.testing.assert_allclose(least_thickness(bare), [400 / 104, 5.0, 30.0])


@given(st.lists(st.tuples(st.floats(0, 100), st.floats(0, 100)), min_size=3, max_size=12), st.booleans())
def test_any_polygon_with_one_hole_or_none_has_a_circle_no_narrower_than_the_bound(points, holed):
    hull = MultiPoint(points).convex_hull
    if hull.geom_type != "Polygon" or hull.area < hull.length:
        return
    star = Polygon(
        [(50 + 0.2 * (x - 50), y) if i % 2 else (x, y) for i, (x, y) in enumerate(hull.exterior.coords)]
    )
    for shape in (hull, star):
        if holed and shape.is_valid:
            shape = shape.difference(shape.representative_point().buffer(0.2 * np.sqrt(shape.area)))
        if (
            shape.is_valid
            and shape.geom_type == "Polygon"
            and len(shape.interiors) <= 1
            and shape.area > shape.length
        ):
            table = {"area_mm2": np.array([shape.area]), "perimeter_mm": np.array([shape.length]),
                     "cell_wall_b_over_t": np.array([float(len(shape.interiors))])}  # fmt: skip
            assert circle(shape) >= least_thickness(table)[0] * (1.0 - 1e-3)


@pytest.mark.parametrize("name", [*drawings(), "B", "O", "S", "W", "8", "&"])
def test_letters_and_drawings_lie_between_the_bounds(name):
    outline = letter(name) if len(name) == 1 else drawing(name)
    polygon = ready(outline).polygon
    least, greatest = bounds(polygon)
    assert least <= circle(polygon) * (1.0 + 1e-3) and circle(polygon) <= greatest * (1.0 + 1e-3)


@pytest.mark.parametrize(
    "polygon",
    [
        box(0, 0, 100, 8),
        box(0, 0, 40, 40),
        Point(0, 0).buffer(30),
        Point(0, 0).buffer(40) - Point(0, 0).buffer(35),
    ],
)
def test_no_circle_is_wider_than_the_upper_bound(polygon):
    assert circle(polygon) <= bounds(polygon)[1] * (1.0 + 1e-3)


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


def test_where_it_cannot_be_told_the_row_says_so():
    """A T of 20 mm plates with a 60 mm head block: its mean wall is below 40 mm, its thickest part is not."""
    head = by_hand.table(a=properties(box(-30, 0, 30, 60).union(box(-10, -200, 10, 0))).row())
    steel, case = library()["steel-S235"], TensionCase("t", 1000.0)
    assert float(least_thickness(columns_of(head))[0]) < 40.0
    found = resistance(head, case, steel, Service()).iloc[0]
    assert found["resistance_N"] > 0 and "thickness-not-told" in found["caveats"].split()
    assert "thickness" not in row(steel, by_hand.rectangle(60.0, 12.0))["caveats"]


def test_a_wall_as_thick_as_the_limit_holds_and_its_scatter_does_not_count():
    """The nominal thickness is compared: an edge that scatters leaves the row assessed."""
    ring = by_hand.table(a=by_hand.tube(200.0, 150.0))
    material, case = library()["aluminium-6060-T66"], TensionCase("t", 1000.0)
    assert resistance(ring, case, material, Service())["resistance_N"].notna().all()
    interval = resistance_interval(ring, case, material, Service(), Uncertainty(200, 1, dimensions_mm=0.2))
    assert interval.notna().all(axis=None)


def test_merit_compares_the_similar_section_at_its_own_thickness():
    """Scaled to the mass of a slighter reference a block becomes thin enough; a reference too thick has no merit."""
    table = by_hand.table(slight=by_hand.rectangle(60.0, 20.0), block=by_hand.rectangle(60.0, 60.0))
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
