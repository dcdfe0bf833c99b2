"""The worst cut in transverse shear: closed forms, invariants, and a second route from below."""

import numpy as np
import pytest
from shapely import Polygon, box
from shapely.affinity import affine_transform, rotate, scale, translate

from kit.checks import geometries as shape
from kit.sections.area import area_moments, rings_of
from kit.sections.section import properties, scaled, turned
from kit.sections.shearcut import chords_of, least_cut, shear_columns
from tests.sections import shapes
from tests.sections.greatest_flow import greatest_shear_force
from tests.sections.letters import letters


def columns(polygon: Polygon) -> dict[str, float]:
    m = area_moments(polygon)
    return shear_columns(tuple(ring - (m.x_mm, m.y_mm) for ring in rings_of(polygon)), m)


def held(polygon: Polygon) -> float:
    return columns(polygon)["shear_cut_area_y_mm2"]


def test_rectangle_two_thirds_of_its_area():
    found = columns(box(3, -40, 63, 60))
    assert found["shear_cut_area_y_mm2"] == pytest.approx(2 / 3 * 6000, rel=1e-9)
    assert found["shear_cut_wall_mm"] == pytest.approx(60.0)


def test_disc_three_quarters_of_its_area():
    assert held(shapes.disc(30.0)) == pytest.approx(0.75 * np.pi * 900, rel=2e-4)


def test_box_by_its_first_moment():
    second = (60 * 100**3 - 50 * 90**3) / 12
    first = (60 * 100**2 - 50 * 90**2) / 8
    found = columns(box(0, 0, 60, 100).difference(box(5, 5, 55, 95)))
    assert found["shear_cut_area_y_mm2"] == pytest.approx(second * 10 / first, rel=1e-9)
    assert found["shear_cut_wall_mm"] == pytest.approx(5.0)


@pytest.mark.parametrize(("outer", "inner"), [(30.0, 25.0), (30.0, 10.0), (50.0, 49.0)])
def test_tube_by_its_first_moment(outer, inner):
    second = np.pi / 4 * (outer**4 - inner**4)
    first = 2 / 3 * (outer**3 - inner**3)
    assert held(shapes.tube(outer, inner)) == pytest.approx(second * 2 * (outer - inner) / first, rel=5e-4)


@pytest.mark.parametrize("dimensions", [(300, 150, 7.1, 10.7), (100, 100, 12, 12), (200, 40, 20, 4)])
def test_web_of_an_i(dimensions):
    h, b, tw, tf = dimensions
    second = (b * h**3 - (b - tw) * (h - 2 * tf) ** 3) / 12
    first = b * tf * (h - tf) / 2 + tw * (h / 2 - tf) ** 2 / 2
    assert held(shape.i_section(h, b, tw, tf)) == pytest.approx(second * tw / first, rel=1e-9)


@pytest.mark.parametrize("dimensions", [(200.0, 200.0, 30.0, 3.0), (100.0, 400.0, 60.0, 3.0)])
def test_a_thin_flange_is_cut_where_it_leaves_a_thick_web(dimensions):
    """Half a flange is pushed along by the shear on a cut down through it; a cut through the web holds more."""
    h, b, tw, tf = dimensions
    section = shape.i_section(h, b, tw, tf)
    second, half = area_moments(section).Ix, 0.5 * (b - tw)
    flange = second * tf / (half * tf * (h - tf) / 2)
    web = second * tw / (b * tf * (h - tf) / 2 + tw * (h / 2 - tf) ** 2 / 2)
    found = columns(section)
    assert found["shear_cut_area_y_mm2"] == pytest.approx(flange, rel=1e-3)
    assert flange < web and found["shear_cut_wall_mm"] == pytest.approx(tf)


@pytest.mark.parametrize("neck", [1.0, 4.0, 20.0])
def test_two_blocks_on_a_neck(neck):
    """What the neck carries is its width times the strength: V Q / I = τ b."""
    blocks = box(-30, 10, 30, 40).union(box(-30, -40, 30, -10)).union(box(-neck / 2, -10, neck / 2, 10))
    first = 60 * 30 * 25 + neck * 10 * 5
    expected = area_moments(blocks).Ix * neck / first
    found = columns(blocks)
    assert found["shear_cut_area_y_mm2"] == pytest.approx(expected, rel=1e-9)
    assert found["shear_cut_wall_mm"] == pytest.approx(neck)


def test_a_slanted_wall_is_cut_square_across():
    """A vee of walls 6 mm thick: shear flows along the walls, not straight down."""
    lean = np.radians(30.0)
    wall = box(-3, 0, 3, 100)
    vee = rotate(wall, np.degrees(lean), origin=(0, 0)).union(rotate(wall, -np.degrees(lean), origin=(0, 0)))
    found = columns(vee)
    assert found["shear_cut_wall_mm"] == pytest.approx(6.0, rel=1e-6)
    m = area_moments(vee)
    # Tip of one wall above the centroid: its length times its thickness times its mean height.
    rise = 100 * np.cos(lean) - m.y_mm
    first = 6 * rise / np.cos(lean) * rise / 2
    assert found["shear_cut_area_y_mm2"] == pytest.approx(m.Ix * 6 / first, rel=0.02)


def test_walls_around_a_hole_share_what_is_parted():
    """A tube wall thinner on one side: a ductile section brings both sides to the strength."""
    lopsided = box(0, 0, 60, 100).difference(box(2, 5, 50, 95))
    m = area_moments(lopsided)
    above = lopsided.intersection(box(-1, m.y_mm, 61, 101))
    first = above.area * (area_moments(above).y_mm - m.y_mm)
    assert held(lopsided) == pytest.approx(m.Ix * 12 / first, rel=1e-9)
    assert columns(lopsided)["shear_cut_wall_mm"] == pytest.approx(2.0)


def test_a_row_of_holes_is_cut_through_all_of_them():
    plate = box(0, 0, 100, 60)
    for x in (10, 30, 50, 70):
        plate = plate.difference(box(x, 25, x + 16, 35))
    m = area_moments(plate)
    first = 100 * 25 * 17.5 + (100 - 64) * 5 * 2.5
    assert held(plate) == pytest.approx(m.Ix * 36 / first, rel=1e-6)


def test_free_bending_follows_the_unsymmetric_stress():
    """A Z free to bend: F = (Iy y − Ixy x) / (Ix Iy − Ixy²), the web cut on the neutral axis by hand."""
    found = columns(shapes.Z_SECTION)
    assert found["shear_cut_area_y_free_mm2"] != pytest.approx(found["shear_cut_area_y_mm2"], rel=0.05)
    m = area_moments(shapes.Z_SECTION)
    weights = np.array([-m.Ixy, m.Iy]) / (m.Ix * m.Iy - m.Ixy**2)
    upper = shapes.Z_SECTION.intersection(box(-20, 0, 20, 20))
    part = area_moments(upper)
    across = upper.area * weights @ (part.x_mm - m.x_mm, part.y_mm - m.y_mm)
    assert found["shear_cut_area_y_free_mm2"] <= 2.0 / abs(across) * (1 + 1e-9)


@pytest.mark.parametrize("name", shapes.ALL)
def test_moving_mirroring_and_turning_half_round_change_nothing(name):
    polygon = shapes.ALL[name]
    for same in (
        translate(polygon, 300, -200), affine_transform(polygon, [-1, 0, 0, 1, 0, 0]),
        affine_transform(polygon, [1, 0, 0, -1, 0, 0]), rotate(polygon, 180.0),
    ):  # fmt: skip
        assert columns(same) == pytest.approx(columns(polygon), rel=2e-3)


def test_similar_sections_and_turned_ones():
    import pandas as pd

    made = properties(shapes.ANGLE)
    larger = scaled(pd.DataFrame([made.row()]), 3.0).iloc[0]
    for name, value in columns(scale(shapes.ANGLE, 3.0, 3.0)).items():
        assert larger[name] == pytest.approx(value, rel=1e-6)
    aside = turned(made, shapes.ANGLE, 35.0).row()
    for name, value in columns(rotate(shapes.ANGLE, 35.0)).items():
        assert aside[name] == pytest.approx(value, rel=5e-3)


@pytest.mark.parametrize("name", ["IPE300", "HEB200", "W18x50"])
def test_no_more_than_the_shear_area_of_the_code(name):
    """EN 1993-1-1, 6.2.6(3): Av = A − 2 b tf + (tw + 2r) tf lets shear redistribute; (5): V/(hw tw) is near."""
    h, b, tw, tf, r = {
        "IPE300": (300, 150, 7.1, 10.7, 15), "HEB200": (200, 200, 9, 15, 18), "W18x50": (457, 190, 9.0, 14.5, 10),
    }[name]  # fmt: skip
    section = shape.i_section(h, b, tw, tf, r)
    shear_area = section.area - 2 * b * tf + (tw + 2 * r) * tf
    web = (h - 2 * tf) * tw
    assert 0.9 * web < held(section) < shear_area
    assert held(section) == pytest.approx(web, rel=0.09)


OUTLINES = {
    "rectangle": shapes.RECTANGLE, "two holes": shapes.TWO_HOLES, "lopsided": shapes.LOPSIDED,
    **{c: letters(("DejaVuSans-Bold",))[f"DejaVu Sans Bold/{c}"].simplify(0.1) for c in "AKPRSX"},
}  # fmt: skip


BLUNT = {
    "disc": shape.circle(60, 60), "ellipse": shape.ellipse(60, 10, 60), "hexagon": shape.regular(6, 30),
    "triangle": Polygon([(-60, 0), (60, 0), (0, 30)]), "half disc": shape.sector(50, 180, 60),
    "flat rhombus": Polygon([(0, -10), (60, 0), (0, 10), (-60, 0)]),
}  # fmt: skip


def test_a_sliver_has_no_level_to_look_along():
    sliver = Polygon([(0, -1), (90, 0), (0, 1), (-90, 0)])
    assert 0 < held(sliver) < sliver.area * 2 / 3


@pytest.mark.parametrize("name", BLUNT)
def test_solid_outlines_are_pushed_out_in_the_middle(name):
    """Where the depth falls off to the sides a straight chord is not the worst cut: a flat rhombus by half."""
    below = greatest_shear_force(BLUNT[name], 600) / np.cos(np.pi / 16)
    assert 0.88 < below / held(BLUNT[name]) < 1.01


@pytest.mark.parametrize("name", OUTLINES)
def test_a_field_of_shear_stress_comes_near_the_worst_cut(name):
    """From below by a linear programme: what it reaches is safe, so the cuts overstate by less than the gap."""
    below = greatest_shear_force(OUTLINES[name], 400) / np.cos(np.pi / 16)
    assert 0.95 < below / held(OUTLINES[name]) < 1.02


def test_chords_lie_in_the_material():
    from shapely import LineString

    for polygon in letters(("DejaVuSerif",)).values():
        m = area_moments(polygon)
        rings = tuple(ring - (m.x_mm, m.y_mm) for ring in rings_of(polygon))
        weights = np.array([0.0, 1.0 / m.Ix])
        chords = chords_of(rings, (weights,))
        assert (chords.length_mm > 1e-6).all()
        assert chords.length_mm.max() <= LineString(polygon.exterior.coords).length / 2
        assert 0 < least_cut(chords, weights)[0] < m.area_mm2
