"""Moment–curvature and load–deflection against integrals of simple stress–strain laws."""

import numpy as np
import pytest
from shapely import Polygon, box

from kit.errors import InputError
from kit.members import momentcurvature as mc
from kit.members.cases import BendingCase
from kit.members.materials import Service
from kit.members.service import at_service
from kit.sections.section import properties
from tests.members.conftest import plain

RECTANGLE = box(0, 0, 20, 60)
LINE = ((0.001, 10.0), (0.005, 50.0), (0.01, 100.0))
FLAT = ((0.001, 100.0), (0.05, 100.0), (0.1, 100.0))
ANGLE = Polygon([(0, 0), (60, 0), (60, 8), (8, 8), (8, 100), (0, 100)])


def test_fibres_keep_area_centroid_and_second_moments():
    found, exact = mc.fibres(ANGLE), properties(ANGLE)
    assert found.area_mm2.sum() == pytest.approx(exact.area_mm2, rel=1e-10)
    assert found.area_mm2 @ found.y_mm == pytest.approx(0.0, abs=1e-6)
    assert found.area_mm2 @ found.y_mm**2 == pytest.approx(exact.Ix_mm4, rel=1e-10)
    assert found.area_mm2 @ (found.x_mm * found.y_mm) == pytest.approx(exact.Ixy_mm4, rel=1e-10)


def test_a_linear_law_gives_back_the_elastic_beam():
    bent = mc.moment_curvature(mc.fibres(RECTANGLE), LINE)
    np.testing.assert_allclose(bent.moment_Nmm, 10000 * 360000 * bent.curvature_1_per_mm, rtol=2e-4)
    assert bent.broke and bent.curvature_1_per_mm[-1] == pytest.approx(0.01 / 30, rel=1e-4)


def test_perfect_plasticity_reaches_the_plastic_moment():
    """M/Mpl = 1 − (κy/κ)²/3 for a rectangle."""
    bent = mc.moment_curvature(mc.fibres(RECTANGLE, 2000), FLAT)
    yielded = bent.curvature_1_per_mm > 0.001 / 30
    ratio = (0.001 / 30) / bent.curvature_1_per_mm[yielded]
    expected = 100 * 18000 * (1 - ratio**2 / 3)
    np.testing.assert_allclose(bent.moment_Nmm[yielded], expected, rtol=1e-3)


def test_unequal_strengths_of_a_rectangle():
    """Plateaus f_t, f_c: M = b h²/2 · f_t f_c/(f_t + f_c)."""
    law = ((-0.2, -60.0), (-0.1, -60.0), (-0.0006, -60.0), (0.0003, 30.0), (0.1, 30.0), (0.2, 30.0))
    bent = mc.moment_curvature(mc.fibres(RECTANGLE, 2000), law)
    assert bent.peak_moment_Nmm == pytest.approx(20 * 60**2 / 2 * 30 * 60 / 90, rel=2e-3)


def test_free_and_held_agree_on_a_symmetric_section():
    smooth = tuple((e, 24 * (1 - np.exp(-1050 * e / 24))) for e in np.linspace(0.002, 0.05, 25))
    found = mc.fibres(RECTANGLE)
    held, free = (mc.moment_curvature(found, smooth, held=h).peak_moment_Nmm for h in (True, False))
    assert free == pytest.approx(held, rel=1e-3)


def test_free_bending_leaves_no_moment_about_y_and_is_softer():
    found = mc.fibres(ANGLE)
    held, free = mc.moment_curvature(found, LINE), mc.moment_curvature(found, LINE, held=False)
    p = properties(ANGLE)
    for bent, second in ((held, p.Ix_mm4), (free, p.Ix_mm4 - p.Ixy_mm4**2 / p.Iy_mm4)):
        assert bent.moment_Nmm[10] / bent.curvature_1_per_mm[10] == pytest.approx(1e4 * second, rel=5e-4)


def test_free_first_yield_agrees_with_the_modulus_of_unsymmetric_bending():
    """At the last curvature of a linear law the worst corner just reaches the last stress."""
    p = properties(ANGLE)
    free = mc.moment_curvature(mc.fibres(ANGLE), LINE, held=False)
    assert free.peak_moment_Nmm == pytest.approx(100.0 * p.Wel_x_free_mm3, rel=1e-3)


def test_a_falling_branch_has_its_peak_inside():
    law = ((0.01, 20.0), (0.03, 30.0), (0.06, 10.0), (0.12, 5.0))
    bent = mc.moment_curvature(mc.fibres(RECTANGLE), law)
    assert not bent.broke and 0 < bent.peak < len(bent.moment_Nmm) - 1


def test_the_elastic_start_of_the_load_deflection_curve():
    factors = {"three-point": 1 / 48, "uniform": 5 / 384, "four-point": 23 / 1296, "cantilever": 1 / 3}
    for loading, flexure in factors.items():
        case = BendingCase("b", 900.0, loading)
        bent = mc.moment_curvature(mc.fibres(RECTANGLE), LINE)
        deflection, load = mc.load_deflection(bent, case)
        expected = flexure * 900**3 / (10000 * 360000)
        assert deflection[20] / load[20] == pytest.approx(expected, rel=1e-3), loading


def test_shear_adds_its_own_deflection():
    bent = mc.moment_curvature(mc.fibres(RECTANGLE), LINE)
    without, load = mc.load_deflection(bent, BendingCase("b", 900.0))
    with_shear, _ = mc.load_deflection(bent, BendingCase("b", 900.0), shear_rigidity_N=4e6)
    np.testing.assert_allclose(with_shear - without, load * 900 / 4 / 4e6, rtol=1e-9, atol=1e-15)


def test_the_peak_load_of_a_plastic_beam():
    bent = mc.moment_curvature(mc.fibres(RECTANGLE, 2000), FLAT)
    _, load = mc.load_deflection(bent, BendingCase("b", 900.0))
    assert load[-1] == pytest.approx(100 * 18000 / 225, rel=1e-3)


def test_plastic_three_point_deflection_in_closed_form():
    """Midspan deflection of an elastic–plastic rectangle at M = m My: Timoshenko's Part II integral.

    δ/δy = (5 − (3 + m) √(3 − 2m)) / m², m between 1 and 1.5.
    """
    bent = mc.moment_curvature(mc.fibres(RECTANGLE, 3000), FLAT, steps=240)
    deflection, load = mc.load_deflection(bent, BendingCase("b", 900.0), steps=200)
    yield_load = 100 * 12000 / 225
    yield_deflection = yield_load * 900**3 / (48 * 100000 * 360000)
    for m in (1.1, 1.25, 1.4):
        expected = yield_deflection * (5 - (3 + m) * np.sqrt(3 - 2 * m)) / m**2
        assert np.interp(m * yield_load, load, deflection) == pytest.approx(expected, rel=5e-3)


def test_a_curve_in_service_starts_with_the_lowered_modulus_and_ends_at_the_lowered_strength():
    tables = {
        "modulus_by_duration": ((0.1, 1.0), (1e5, 0.25)),
        "strength_by_duration": ((0.1, 1.0), (1e5, 0.5)),
    }
    material = plain(E=10000.0, f=100.0, family="polymer", stress_strain=LINE, **tables)
    curve = mc.curve_in_service(at_service(material, Service("100000 hours")))
    np.testing.assert_allclose(curve[:, 1] / curve[:, 0], 2500.0)
    assert curve[-1, 1] == pytest.approx(50.0)


def test_without_a_curve_there_is_a_clear_error(steel, short):
    with pytest.raises(InputError, match="no stress-strain curve"):
        mc.curve_in_service(at_service(steel, short))
