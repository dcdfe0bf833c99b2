"""Torsion members and ties against closed forms written out here."""

import numpy as np
import pytest
from scipy.linalg import expm

from kit.members import shafts
from kit.members.cases import TensionCase, TorsionCase
from kit.members.materials import Service, Spread
from kit.members.resistance import resistance
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain


def test_plastic_torque_is_four_thirds_of_the_yield_torque_of_a_round_bar(sections, steel, short):
    """Nadai: T_pl / T_y = 4/3 for a solid circle."""
    load = resistance(sections, TorsionCase("t", 900.0), steel, short)["resistance_Nmm"][2]
    yielding = np.pi * 20**3 / 2 * 235 / np.sqrt(3)
    assert load == pytest.approx(4 / 3 * yielding, rel=1e-12)


def test_a_brittle_round_bar_breaks_when_the_shear_reaches_the_tensile_strength(sections, short):
    glassy = plain(f=60.0, yield_compression_MPa=Spread(100.0), ductile=False)
    found = resistance(sections, TorsionCase("t", 900.0), glassy, short)
    assert found["limit_state"][2] == "fracture"
    assert found["resistance_Nmm"][2] == pytest.approx(np.pi * 20**3 / 2 * 60.0, rel=1e-12)


@pytest.mark.parametrize("k", [1e-4, 1e-2, 0.1, 1.0, 5.0, 50.0, 1e4])
def test_twist_of_a_shaft_with_plane_ends_over_the_whole_range(k):
    """Integrate E Iw θ'''' − GJ θ'' = 0 with θ' = 0 at both ends: θ = (T L/GJ)(1 − tanh(k/2)/(k/2))."""
    L, gj = 2000.0, 5e8
    eiw = gj * L**2 / k**2
    # Below 0.1 the difference cancels: the series k²/12 (1 − k²/10 + 17 k⁴/1680) of the same expression.
    series = k**2 / 12 * (1 - k**2 / 10 + 17 * k**4 / 1680)
    exact = (series if k <= 0.1 else 1 - np.tanh(k / 2) / (k / 2)) * 1e5 * L / gj
    assert shafts.twist(1e5, L, gj, eiw, "warping-held") == pytest.approx(exact, rel=1e-8)


def test_without_warping_stiffness_plane_ends_change_nothing():
    assert shafts.twist(1e5, 2e3, 5e8, 0.0, "warping-held") == pytest.approx(1e5 * 2e3 / 5e8)


def test_with_warping_alone_the_flanges_bend_like_fixed_beams():
    """GJ → 0: θ = T L³/(12 E Iw), two flanges as beams with both ends guided."""
    assert shafts.twist(1e5, 2e3, 1e-3, 1e15, "warping-held") == pytest.approx(1e5 * 2e3**3 / 12e15, rel=1e-6)


def test_end_bimoment_from_its_two_limits():
    """Warping alone: T L/2. Uniform torsion alone: T √(EIw/GJ), a boundary layer."""
    assert shafts.end_bimoment(1e5, 2e3, 1e-3, 1e15) == pytest.approx(1e5 * 2e3 / 2, rel=1e-6)
    assert shafts.end_bimoment(1e5, 2e6, 1e9, 1e13) == pytest.approx(1e5 * np.sqrt(1e13 / 1e9), rel=1e-6)
    assert shafts.end_bimoment(1e5, 2e3, 1e9, 0.0) == 0.0


def test_bimoment_is_the_integral_of_the_warping_torque():
    """B' = T_w: from one end (B0) to the middle (0) the warping torque adds up to the end bimoment."""
    L, gj, eiw = 1500.0, 4e8, 3e14
    z = np.linspace(0, L / 2, 20001)
    warping_torque = 1e5 * (1 - shafts.uniform_share(z, L, gj, eiw))
    area = np.sum((warping_torque[1:] + warping_torque[:-1]) / 2 * np.diff(z))
    assert shafts.end_bimoment(1e5, L, gj, eiw) == pytest.approx(area, rel=1e-7)


def test_no_uniform_torsion_at_plane_ends():
    assert shafts.uniform_share(0.0, 1500.0, 4e8, 3e14) == pytest.approx(0.0, abs=1e-15)
    assert shafts.uniform_share(5e6, 1e7, 4e8, 3e14) == pytest.approx(1.0)


def test_warping_stress_of_an_i_section_is_the_bending_stress_of_its_flange():
    """B = M_f h for two flanges; σ = M_f (b/2)/(t b³/12): the same by B ω/Iw with ω = h b/4."""
    b, t, h, flange_moment = 100.0, 12.0, 88.0, 1e6
    iw = t * b**3 * h**2 / 24
    stress = shafts.warping_normal_stress(flange_moment * h, h * b / 4, iw)
    assert stress == pytest.approx(flange_moment * (b / 2) / (t * b**3 / 12), rel=1e-12)


def test_twist_limit_is_a_limit_state(sections, steel, short):
    found = resistance(sections, TorsionCase("t", 900.0, twist_limit_deg=0.01), steel, short)
    g, J = 210000 / 2.6, np.pi / 32 * 40**4
    assert found["limit_state"][2] == "twist"
    assert found["resistance_Nmm"][2] == pytest.approx(np.deg2rad(0.01) * g * J / 900, rel=1e-12)


def test_a_tie_yields_or_breaks_at_its_holes(sections, short):
    material = plain(f=235.0, ultimate_tension_MPa=Spread(360.0))
    whole = resistance(sections, TensionCase("t", 900.0), material, short).iloc[0]
    holed = resistance(sections, TensionCase("t", 900.0, 600.0), material, short).iloc[0]
    assert (whole["limit_state"], whole["resistance_N"]) == ("yield", 1200 * 235.0)
    assert (holed["limit_state"], holed["resistance_N"]) == ("fracture", 600 * 360.0)


def test_holes_in_a_brittle_tie_are_not_assessed(sections, short):
    glassy = plain(f=60.0, ductile=False)
    found = resistance(sections, TensionCase("t", 900.0, 10.0), glassy, short).iloc[0]
    assert np.isnan(found["resistance_N"]) and found["limit_state"] == "not assessed"
    assert "brittle-with-holes" in found["caveats"]


def test_holes_larger_than_the_section_leave_nothing(short):
    section = by_hand.table(a=by_hand.rectangle(10.0, 10.0))
    material = plain(ultimate_tension_MPa=Spread(360.0))
    assert resistance(section, TensionCase("t", 900.0, 500.0), material, short)["resistance_N"][0] == 0.0


def test_service_is_short_by_default():
    assert Service().short_term


def test_a_long_rod_buckles_under_its_torque_before_it_yields(short):
    """Greenhill: 2 π E I / L between ends that may turn; 0.71 of it, where 1 / (1 − (T/T_cr)²) is two."""
    soft = plain(E=1000.0, f=23.0, family="unspecified")
    rod = by_hand.table(rod=by_hand.tube(20.0))
    loads = {}
    for length in (1000.0, 4000.0):
        found = resistance(rod, TorsionCase("t", length), soft, short).iloc[0]
        loads[length] = (found["resistance_Nmm"], found["limit_state"])
    plastic = 23.0 / np.sqrt(3.0) * np.pi * 20.0**3 / 12.0
    critical = 2.0 * np.pi * 1000.0 * np.pi * 20.0**4 / 64.0 / 4000.0
    assert loads[1000.0] == (pytest.approx(plastic, rel=1e-9), "full plastic torque")
    assert loads[4000.0] == (pytest.approx(critical * 0.5**0.5, rel=1e-9), "buckling under the torque")


@pytest.mark.parametrize(("unlike", "turned"), [(1.0, 0.0), (4.0, 0.0), (4.0, 3.0), (4.0, 12.0), (20.0, 9.0)])
def test_buckling_of_shafts_of_unlike_axes_by_integration(unlike, turned):
    """Slopes s' = T C(z) J s with the axes turning along the shaft; ends that may turn and not move: ∫s dz = 0.

    No shaft buckles below the harmonic mean, and the untwisted one does at the geometric mean.
    """
    quarter = np.array([[0.0, 1.0], [-1.0, 0.0]])

    def least(torque, steps=120):
        whole, slopes = np.zeros((2, 2)), np.eye(2)
        for step in range(steps):
            at = turned * (step + 0.5) / steps
            turn = np.array([[np.cos(at), -np.sin(at)], [np.sin(at), np.cos(at)]])
            rate = torque * turn @ np.diag([1.0, 1.0 / unlike]) @ turn.T @ quarter / steps
            whole += expm(rate / 2.0) @ slopes / steps
            slopes = expm(rate) @ slopes
        return np.linalg.svd(whole, compute_uv=False)[-1]

    found = float(shafts.buckling_torque(1.0, 1.0, unlike))
    assert found == pytest.approx(2 * np.pi * 2 * unlike / (1 + unlike), rel=1e-12)
    assert all(least(share * found) > 0.02 for share in (0.5, 0.7, 0.9, 0.97))
    if not turned:
        assert least(2 * np.pi * np.sqrt(unlike)) < 1e-3
