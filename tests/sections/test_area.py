"""Area properties: closed forms, an independent integration, and invariants."""

import numpy as np
import pytest
from shapely import Polygon, box, unary_union
from shapely.affinity import affine_transform, rotate, scale, translate

from kit.sections.area import (
    area_moments,
    bending_stress,
    extent_within,
    kern,
    outer_parts_at,
    principal,
    rings_of,
    widths_at,
)
from tests.sections.shapes import ALL, RECTANGLE, TEE, disc

names = pytest.mark.parametrize("name", ALL)


def by_triangles(polygon: Polygon, function) -> float:
    """∫ f dA of a polynomial of degree ≤ 3, by constrained triangles and a rule of degree 3."""
    import shapely

    total = 0.0
    for piece in shapely.constrained_delaunay_triangles(polygon).geoms:
        corner = np.array(piece.exterior.coords)[:3]
        middle = corner.mean(axis=0)
        points = [middle, *(0.6 * corner + 0.2 * (corner.sum(axis=0) - corner))]
        weights = [-27 / 48, 25 / 48, 25 / 48, 25 / 48]
        total += piece.area * sum(w * function(*p) for w, p in zip(weights, points, strict=True))
    return total


@names
def test_integrals_against_an_independent_rule(name):
    polygon = ALL[name]
    m = area_moments(polygon)
    assert m.area_mm2 == pytest.approx(by_triangles(polygon, lambda x, y: 1.0), rel=1e-12)
    assert m.x_mm == pytest.approx(by_triangles(polygon, lambda x, y: x) / m.area_mm2, abs=1e-10)
    asked = {
        "Ix": lambda x, y: y * y, "Iy": lambda x, y: x * x, "Ixy": lambda x, y: x * y,
        "xr2": lambda x, y: x * (x * x + y * y), "yr2": lambda x, y: y * (x * x + y * y),
    }  # fmt: skip
    size = np.sqrt(m.area_mm2)
    for field, f in asked.items():
        value = by_triangles(polygon, lambda x, y, f=f: f(x - m.x_mm, y - m.y_mm))
        order = 5 if field.endswith("r2") else 4
        assert getattr(m, field) == pytest.approx(value, rel=1e-10, abs=1e-11 * size**order), field


def test_rectangle_closed_form():
    m = area_moments(RECTANGLE)
    assert (m.area_mm2, m.perimeter_mm, m.x_mm, m.y_mm) == pytest.approx((1200, 160, 30, 10), rel=1e-14)
    assert (m.Ix, m.Iy) == pytest.approx((60 * 20**3 / 12, 20 * 60**3 / 12), rel=1e-14)


@names
def test_moving_far_away_changes_nothing(name):
    near, far = area_moments(ALL[name]), area_moments(translate(ALL[name], 1e5, -2e5))
    assert far.Ix == pytest.approx(near.Ix, rel=1e-9)
    assert far.x_mm - 1e5 == pytest.approx(near.x_mm, abs=1e-9)


@names
def test_turning_follows_the_tensor(name):
    before, after = area_moments(ALL[name]), area_moments(rotate(ALL[name], 31.0, origin=(0, 0)))
    c, s = np.cos(np.radians(31.0)), np.sin(np.radians(31.0))
    # y' = s x + c y
    expected = c * c * before.Ix + s * s * before.Iy + 2 * s * c * before.Ixy
    assert after.Ix == pytest.approx(expected, rel=1e-11)
    assert after.Ix + after.Iy == pytest.approx(before.Ix + before.Iy, rel=1e-12)
    assert after.yr2 == pytest.approx(s * before.xr2 + c * before.yr2, rel=1e-8, abs=1e-6 * before.Ix)


@names
def test_mirror_changes_signs_only(name):
    before, after = area_moments(ALL[name]), area_moments(affine_transform(ALL[name], [-1, 0, 0, 1, 0, 0]))
    assert (after.Ix, after.Iy) == pytest.approx((before.Ix, before.Iy), rel=1e-12)
    assert after.Ixy == pytest.approx(-before.Ixy, rel=1e-10, abs=1e-9 * before.Ix)


@names
def test_order_and_sense_of_rings_do_not_matter(name):
    polygon = ALL[name]
    ring = np.array(polygon.exterior.coords)[:-1]
    other = Polygon(
        np.roll(ring, 3, axis=0)[::-1], [np.array(h.coords)[::-1] for h in polygon.interiors[::-1]]
    )
    assert area_moments(other).Ixy == pytest.approx(area_moments(polygon).Ixy, rel=1e-11, abs=1e-6)


@names
def test_scaling_by_powers(name):
    before, after = area_moments(ALL[name]), area_moments(scale(ALL[name], 3.0, 3.0, origin=(0, 0)))
    powers = {"area_mm2": 2, "perimeter_mm": 1, "Ix": 4, "Iy": 4}
    for field, power in powers.items():
        assert getattr(after, field) == pytest.approx(3.0**power * getattr(before, field), rel=1e-11)


@names
def test_principal_axes_diagonalise(name):
    m = area_moments(ALL[name])
    I1, I2, angle = principal(m.Ix, m.Iy, m.Ixy)
    turned = area_moments(rotate(ALL[name], -angle, origin=(0, 0)))
    assert (turned.Ix, turned.Iy) == pytest.approx((I1, I2), rel=1e-10)
    assert turned.Ixy == pytest.approx(0.0, abs=1e-9 * I1)


def test_principal_angle_of_a_square_is_zero():
    assert principal(5.0, 5.0, 0.0) == (5.0, 5.0, 0.0)


@names
def test_bending_stress_is_in_equilibrium(name):
    m = area_moments(ALL[name])

    def moment(of):
        def f(x, y):
            r = np.array([[x - m.x_mm, y - m.y_mm]])
            return bending_stress(r, m, -7.0, 3.0)[0] * of(*r[0])

        return by_triangles(ALL[name], f)

    assert moment(lambda x, y: 1.0) == pytest.approx(0.0, abs=1e-9)
    assert moment(lambda x, y: y) == pytest.approx(-7.0, rel=1e-9)
    assert moment(lambda x, y: x) == pytest.approx(3.0, rel=1e-9)


def test_kern_of_a_rectangle_is_the_middle_third():
    corners = kern(RECTANGLE)
    expected = {(10.0, 0.0), (-10.0, 0.0), (0.0, 20 / 6), (0.0, -20 / 6)}
    assert {tuple(np.round(c, 9) + 0.0) for c in corners} == {tuple(np.round(e, 9)) for e in expected}


def test_kern_of_a_disc_is_a_quarter_of_its_radius():
    assert np.hypot(*kern(disc(40.0)).T) == pytest.approx(10.0, rel=1e-3)


def test_extent_at_the_foot_and_head_of_a_tee():
    rings = rings_of(TEE)
    assert extent_within(rings, 0.0, 0.5) == pytest.approx((-5, 5))
    assert extent_within(rings, 99.5, 100.0) == pytest.approx((-50, 50))


def test_width_at_a_level_leaves_gaps_out():
    """A table of three legs 10, 4 and 6 wide under a top of 50; the material is the same wherever it begins."""
    table = unary_union([box(0, 0, 10, 40), box(20, 0, 24, 40), box(44, 0, 50, 40), box(0, 40, 50, 50)])
    rings = rings_of(table)
    assert widths_at(rings, [0.5, 20.0, 45.0, 60.0]) == pytest.approx([20.0, 20.0, 50.0, 0.0])
    assert outer_parts_at(rings, 0.5) == pytest.approx((10.0, 6.0))
    assert outer_parts_at(rings, 45.0) == pytest.approx((50.0, 50.0))


def test_widths_add_up_to_the_area():
    """∫ width dy = area, by the middle rule; a hole counts as a gap."""
    shape = box(0, 0, 40, 60) - box(10, 11, 20, 37)
    levels = (np.arange(6000) + 0.5) / 100.0
    assert widths_at(rings_of(shape), levels).sum() / 100.0 == pytest.approx(shape.area, rel=1e-9)
    ring = disc(10.0) - disc(6.0)
    assert widths_at(rings_of(ring), [0.0, 8.0]) == pytest.approx([8.0, 12.0], rel=1e-3)
