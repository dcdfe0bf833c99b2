"""All properties together: invariants, copies by tensor and power laws, bad outlines."""

import re
from dataclasses import asdict

import numpy as np
import pandas as pd
import pytest
from shapely import MultiPolygon, Polygon
from shapely.affinity import affine_transform, rotate, scale, translate

from kit.errors import InputError, Unusable
from kit.places import DATA
from kit.sections.area import area_moments
from kit.sections.section import SectionProperties, mirrored, properties, scaled, turned
from kit.sources import bibliography
from tests.sections.letters import letters
from tests.sections.shapes import ALL, ANGLE, LOPSIDED, RECTANGLE, TEE, Z_SECTION, disc, tube

names = pytest.mark.parametrize("name", ALL)
TEXT = {"flags", "plastic_ratios", "elements"}


def assert_close(first: SectionProperties, second: SectionProperties, rel: float, size: float) -> None:
    """Every number equal to ``rel`` of itself or of what the section's size makes of its unit."""
    a, b = asdict(first), asdict(second)
    for field in a.keys() - TEXT:
        least = rel * size ** _power(field)
        assert b[field] == pytest.approx(a[field], rel=rel, abs=least, nan_ok=True), field


def _power(field: str) -> int:
    """Power of length in a column's unit."""
    if "1_per_mm" in field:
        return -int(field[-1])
    unit = field.split("@")[0].rsplit("_", 1)[-1]
    return int(unit[2:] or 1) if unit.startswith("mm") else 0


@names
def test_moving_and_reversing_change_nothing(name):
    polygon = ALL[name]
    moved = translate(polygon, 300.0, -200.0)
    reverse = Polygon(
        np.array(moved.exterior.coords)[::-1], [np.array(h.coords) for h in moved.interiors[::-1]]
    )
    assert_close(properties(polygon), properties(reverse), 5e-3, np.sqrt(polygon.area))


@names
@pytest.mark.parametrize("angle", [90.0, 180.0, -33.0])
def test_turned_equals_computing_the_turned_polygon(name, angle):
    polygon = ALL[name]
    p = turned(properties(polygon, bounds=1e-3, strength_ratios=(1.5,)), polygon, angle)
    q = properties(rotate(polygon, angle), bounds=1e-3, strength_ratios=(1.5,))
    assert_close(p, q, 5e-3, np.sqrt(polygon.area))
    assert dict(p.plastic_ratios) == pytest.approx(dict(q.plastic_ratios), rel=1e-6)


def test_four_quarter_turns_come_back():
    p = first = properties(LOPSIDED)
    polygon = LOPSIDED
    for _ in range(4):
        p, polygon = turned(p, polygon, 90.0), rotate(polygon, 90.0)
    assert_close(first, p, 1e-9, 50.0)


@names
def test_mirrored_equals_computing_the_mirrored_polygon(name):
    polygon, other = ALL[name], affine_transform(ALL[name], [-1, 0, 0, 1, 0, 0])
    p = mirrored(properties(polygon, bounds=1e-3, strength_ratios=(1.5,)), polygon)
    q = properties(other, bounds=1e-3, strength_ratios=(1.5,))
    assert_close(p, q, 5e-3, np.sqrt(polygon.area))
    assert dict(p.plastic_ratios) == pytest.approx(dict(q.plastic_ratios), rel=1e-6)
    assert_close(mirrored(p, other), properties(polygon, bounds=1e-3), 5e-3, np.sqrt(polygon.area))


@names
def test_mirror_about_y(name):
    p, q = (
        properties(ALL[name], bounds=1e-3),
        properties(affine_transform(ALL[name], [-1, 0, 0, 1, 0, 0]), bounds=1e-3),
    )
    size = np.sqrt(p.area_mm2)
    assert (q.Wel_y_left_mm3, q.Wpl_x_free_mm3) == pytest.approx(
        (p.Wel_y_right_mm3, p.Wpl_x_free_mm3), rel=1e-6
    )
    assert q.xs_mm == pytest.approx(-p.xs_mm, abs=2e-3 * size)
    assert q.Iw_mm6 == pytest.approx(p.Iw_mm6, rel=5e-3, abs=1e-5 * size**6)
    assert q.Wpl_t_mm3 == pytest.approx(p.Wpl_t_mm3, rel=2e-3)


@names
def test_scaled_equals_computing_the_larger_polygon(name):
    p = properties(ALL[name], strength_ratios=(2.0,))
    q = properties(scale(ALL[name], 4.0, 4.0), strength_ratios=(2.0,))
    row = scaled(pd.DataFrame([p.row()]), np.array([4.0])).iloc[0]
    size = 4 * np.sqrt(p.area_mm2)
    for column, value in q.row().items():
        if column not in TEXT:
            least = 1e-6 * size ** _power(column)
            assert row[column] == pytest.approx(value, rel=1e-6, abs=least, nan_ok=True), column
    assert row["phi_B_el"] == p.phi_B_el
    assert row["Wpl_x_mm3@2.0000"] == pytest.approx(64 * dict(p.plastic_ratios)["Wpl_x_mm3@2.0000"])


def test_scaling_a_table_row_by_row():
    table = pd.DataFrame([properties(RECTANGLE).row(), properties(TEE).row()])
    larger = scaled(table, np.array([1.0, 3.0]))
    assert larger["Ix_mm4"].tolist() == pytest.approx([table["Ix_mm4"][0], 81 * table["Ix_mm4"][1]])
    assert larger["tau_per_torque_1_per_mm3"][0] == table["tau_per_torque_1_per_mm3"][0]
    assert larger["flags"].tolist() == table["flags"].tolist()


def test_rectangle_by_hand():
    p = properties(RECTANGLE)
    assert (p.width_mm, p.depth_mm, p.y_top_mm, p.x_left_mm) == (60, 20, 10, -30)
    assert (p.Wel_x_top_mm3, p.Wel_x_bottom_mm3, p.Wel_x_free_mm3) == pytest.approx((4000,) * 3)
    assert (p.Wpl_x_mm3, p.Wpl_y_mm3) == pytest.approx((6000, 18000))
    assert (p.shear_area_x_nu0_mm2, p.shear_area_y_nu0_mm2) == pytest.approx((1000, 1000), rel=1e-4)
    assert p.principal_angle_deg == 90.0, "the major axis stands upright"
    assert (p.Wel_1_mm3, p.Wel_2_mm3) == pytest.approx((12000, 4000))
    assert (p.r1_mm, p.r2_mm) == pytest.approx((60 / np.sqrt(12), 20 / np.sqrt(12)))
    assert (p.phi_B_el, p.phi_B_pl) == pytest.approx((20 / 60, np.sqrt(20 / 60)))
    assert (p.base_left_mm, p.base_right_mm) == (-30, 30)


def test_square_has_shape_factors_of_one():
    p = properties(Polygon([(0, 0), (50, 0), (50, 50), (0, 50)]), bounds=1e-4)
    assert (p.phi_B_el, p.phi_B_pl) == pytest.approx((1, 1))
    assert (p.phi_T_el, p.phi_T_pl) == pytest.approx((1, 1), rel=5e-3)


def test_free_bending_of_an_angle_tells_tension_from_compression():
    p = properties(ANGLE)
    assert p.Wel_x_free_mm3 == min(p.Wel_x_free_tension_mm3, p.Wel_x_free_compression_mm3)
    assert p.Wel_x_free_tension_mm3 != pytest.approx(p.Wel_x_free_compression_mm3, rel=0.05)


def test_upside_down_swaps_tension_and_compression():
    p, q = properties(ANGLE), properties(rotate(ANGLE, 180))
    assert q.Wel_x_free_tension_mm3 == pytest.approx(p.Wel_x_free_compression_mm3)


def test_what_a_tee_stands_on_and_what_loads_touch():
    p = properties(TEE)
    assert (p.base_left_mm, p.base_right_mm) == pytest.approx((-5, 5))
    assert (p.head_left_mm, p.head_right_mm) == pytest.approx((-50, 50))


def test_polar_radius_about_the_shear_centre():
    p = properties(Z_SECTION)
    assert p.polar_radius_s_mm**2 == pytest.approx((p.Ix_mm4 + p.Iy_mm4) / p.area_mm2, rel=1e-4)


@names
@pytest.mark.parametrize("bounds", [1e-2, 1e-3])
def test_bounds_are_as_close_as_asked(name, bounds):
    p = properties(ALL[name], bounds=bounds)
    assert 0 <= (p.J_high_mm4 - p.J_low_mm4) / p.J_mm4 <= bounds
    assert p.J_low_mm4 < p.J_mm4 < p.J_high_mm4


def test_same_polygon_same_numbers():
    """Byte for byte, run after run."""
    assert repr(properties(LOPSIDED)) == repr(properties(LOPSIDED))


def test_the_data_dictionary_knows_every_column():
    dictionary = pd.read_csv(DATA / "columns.csv").set_index("column")
    row = properties(TEE, strength_ratios=(1.25,)).row()
    for column in row:
        known = dictionary.loc[column.replace("1.2500", "ρ")]
        unit = re.search(r"(1_per_)?(mm\d?|deg)(@.*)?$", column)
        if unit:
            assert known["unit"] == unit[0].split("@")[0].replace("_per_", "/"), column
        assert known["source"] in bibliography() or known["source"] == "common practice; no source"


def test_what_presses_on_supports_and_what_is_behind_it():
    """An upright tee 100 wide on a stem 10 wide: by hand."""
    p = properties(TEE)
    assert (p.base_contact_mm, p.base_web_mm) == pytest.approx((10.0, 10.0))
    assert (p.head_contact_mm, p.head_leg_mm) == pytest.approx((100.0, 100.0))
    assert p.head_web_mm == pytest.approx(10.0 if p.y_top_mm > 10.0 else 100.0)


def test_a_tip_presses_with_the_width_it_has_when_flattened():
    """A triangle on its point, 60 wide and 80 deep: 0.5 % of its depth up it is 0.3 wide."""
    p = properties(Polygon([(0, 0), (30, 80), (-30, 80)]))
    assert p.base_contact_mm == pytest.approx(0.3, rel=1e-9)
    assert p.head_contact_mm == pytest.approx(60.0 * 0.995, rel=1e-9)


def test_letterforms_of_a_typeface():
    found = letters(("DejaVuSerif",), "A-Z")
    assert len(found) == 26
    for name, polygon in found.items():
        p = properties(polygon, bounds=0.01)
        assert (p.J_high_mm4 - p.J_low_mm4) / p.J_mm4 <= 0.01, name
        assert p.Wpl_x_free_mm3 <= p.Wpl_x_mm3 * (1 + 1e-12), name
        assert 0 < p.J_mm4 < p.Ix_mm4 + p.Iy_mm4, name
        assert 0 < p.shear_area_y_nu0_mm2 < p.area_mm2, name


NOT_SECTIONS = {
    "nothing": (Polygon(), "one closed outline"),
    "two parts": (MultiPolygon([RECTANGLE, translate(RECTANGLE, 100)]), "one closed outline"),
    "bow tie": (Polygon([(0, 0), (10, 10), (10, 0), (0, 10)]), "not sound"),
    "not a number": (Polygon([(0, 0), (10, 0), (10, np.nan), (0, 10)]), "not a finite|not sound"),
    "endless": (Polygon([(0, 0), (np.inf, 0), (10, 10)]), "not a finite"),
    "no area": (Polygon([(0, 0), (10, 0), (5, 1e-12)]), "no area"),
    "hole touches the outside": (
        Polygon([(0, 0), (10, 0), (10, 10), (0, 10)], [[(0, 0), (5, 2), (2, 5)]]), "touches",
    ),
    "hole touches a side": (
        Polygon([(0, 0), (10, 0), (10, 10), (0, 10)], [[(5, 0), (7, 3), (3, 3)]]), "touch",
    ),
    "holes touch": (
        Polygon([(0, 0), (10, 0), (10, 10), (0, 10)], [[(2, 2), (5, 5), (2, 5)], [(5, 5), (8, 5), (8, 8)]]),
        "touches",
    ),
    "a ring touches itself": (
        Polygon([(0, 0), (10, 0), (5, 5), (10, 10), (0, 10), (5, 5)]), "touches|not sound",
    ),
    "needle": (
        Polygon([(0, 0), (100, 0), (100, 10), (50.0000001, 10), (50, 1e6), (49.9999999, 10), (0, 10)]),
        "no area|triangles|touch",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", NOT_SECTIONS)
def test_unusable_outlines_say_why(name):
    polygon, reason = NOT_SECTIONS[name]
    with pytest.raises(Unusable, match=reason):
        properties(polygon, most_elements=5000)


def test_too_many_triangles_are_refused():
    with pytest.raises(Unusable, match="triangles"):
        properties(LOPSIDED, bounds=1e-6, most_elements=2000)


def test_coincident_vertices_are_merged():
    ring = np.repeat(np.array(LOPSIDED.exterior.coords)[:-1], 2, axis=0)
    ring[1::2] += 1e-10
    doubled = Polygon(ring, LOPSIDED.interiors)
    assert properties(doubled).J_mm4 == pytest.approx(properties(LOPSIDED).J_mm4, rel=1e-3)


@pytest.mark.parametrize("gap", [1e-3, 1e-2])
def test_near_contacts_are_analysed_or_refused_in_reasonable_size(gap):
    """A slit that all but reaches a hole."""
    polygon = Polygon(
        [(0, 0), (100, 0), (100, 60), (50.2, 60), (50, 40 + gap), (49.8, 60), (0, 60)],
        [[(40, 20), (60, 20), (60, 40), (40, 40)]],
    )
    p = properties(polygon)
    assert p.elements < 20_000
    assert (p.J_high_mm4 - p.J_low_mm4) / p.J_mm4 <= 0.005


@pytest.mark.parametrize("polygon", [disc(30.0), tube(30.0, 29.7)], ids=["disc", "thin tube"])
def test_round_sections(polygon):
    p = properties(polygon)
    assert p.Ix_mm4 == pytest.approx(area_moments(polygon).Iy, rel=1e-9)
    assert p.J_mm4 == pytest.approx(p.Ix_mm4 + p.Iy_mm4, rel=3e-3)
    assert p.Iw_mm6 < 1e-6 * p.J_mm4 * p.area_mm2


@pytest.mark.parametrize("bounds", [0.0, -1.0, 0.5, float("nan")])
def test_bounds_on_j_out_of_their_range_are_refused_by_name(bounds):
    with pytest.raises(InputError, match="bounds") as refused:
        properties(LOPSIDED, bounds=bounds)
    assert refused.value.where == "bounds"
    assert "above 0" in refused.value.todo
