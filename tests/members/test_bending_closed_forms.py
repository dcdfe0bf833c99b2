"""Beams against closed forms written out here."""

import numpy as np
import pytest

from kit.members import bending, loading, moments, serviceability
from kit.members.cases import BendingCase
from kit.members.materials import Spread
from kit.members.resistance import resistance
from kit.members.service import at_service
from kit.members.state import columns_of
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain

HELD = {"restraint": "sideways-and-twist"}


@pytest.mark.parametrize(
    ("case", "moment"),
    [
        (BendingCase("b", 2000.0, **HELD), 2000 / 4),
        (BendingCase("b", 2000.0, "four-point", load_spacing_mm=500.0, **HELD), 750 / 2),
        (BendingCase("b", 2000.0, "uniform", **HELD), 2000 / 8),
    ],
)
def test_plastic_collapse_load_of_a_slender_beam(case, moment, sections, steel, short):
    """Shear stays below half its resistance, so that W = f Wpl / (M per newton)."""
    load = resistance(sections, case, steel, short)["resistance_N"][0]
    assert load == pytest.approx(235 * 20 * 60**2 / 4 / moment, rel=1e-9)


def test_a_short_beam_is_governed_by_shear(sections, steel, short):
    found = resistance(sections, BendingCase("b", 100.0, **HELD), steel, short)
    shear = 2 * 1000 * 235 / np.sqrt(3)
    assert found["resistance_N"][0] < 235 * 18000 / 25
    assert found["resistance_N"][0] < shear


def test_shear_above_half_reduces_the_moment_as_the_code_says():
    """EN 1993-1-1, 6.2.8: M = Mpl (1 − (2V/Vpl − 1)²)."""
    load = bending.plastic_interaction(np.array([0.9]), np.array([0.8]), np.array([0.0]))[0]
    assert load * 0.9 == pytest.approx(1 - (2 * load * 0.8 - 1) ** 2, rel=1e-7)


def test_torsion_and_bending_lie_on_the_circle():
    load = bending.plastic_interaction(np.array([0.6]), np.array([0.0]), np.array([0.3]))[0]
    over_half = max(2 * 0.3 * load - 1, 0.0)
    assert load * 0.6 == pytest.approx(np.sqrt(1 - (0.3 * load) ** 2) * (1 - over_half**2), rel=1e-7)


def test_brittle_bending_and_torsion_reach_the_strength_by_the_greatest_principal_stress():
    load = bending.brittle_interaction(np.array([0.5]), np.array([0.4]))[0]
    sigma, tau = 0.5 * load, 0.4 * load
    assert sigma / 2 + np.sqrt(sigma**2 / 4 + tau**2) == pytest.approx(1.0, rel=1e-7)


@pytest.mark.parametrize(
    ("case", "flexure", "shear"),
    [
        (BendingCase("b", 600.0, **HELD), 1 / 48, 1 / 4),
        (BendingCase("b", 600.0, "uniform", **HELD), 5 / 384, 1 / 8),
        (BendingCase("b", 600.0, "four-point", load_spacing_mm=200.0, **HELD), 23 / 1296, 1 / 6),
        (BendingCase("b", 600.0, "cantilever", **HELD), 1 / 3, 1.0),
    ],
)
def test_deflections_with_shear(case, flexure, shear, sections, steel, short):
    """Handbook: 23/1296 is the midspan deflection of two loads at the thirds."""
    stiffness = serviceability.stiffness(columns_of(sections), case, at_service(steel, short))[0]
    g = 210000 / 2.6
    expected = flexure * 600**3 / (210000 * 360000) + shear * 600 / (g * 1000)
    assert 1 / stiffness == pytest.approx(expected, rel=1e-12)


def test_deflection_is_a_limit_state_like_the_others(sections, short):
    soft = plain(E=1000.0, f=24.0)
    found = resistance(sections, BendingCase("b", 900.0, deflection_limit=1 / 200, **HELD), soft, short)
    assert set(found["limit_state"]) == {"deflection"}
    case = BendingCase("b", 900.0, **HELD)
    stiffness = serviceability.stiffness(columns_of(sections), case, at_service(soft, short))
    np.testing.assert_allclose(found["resistance_N"], 900 / 200 * stiffness, rtol=1e-12)


def _unlike(f_t, f_c, ductile=False):
    return plain(f=f_t, yield_compression_MPa=Spread(f_c), ductile=ductile)


def test_first_yield_asks_each_side_for_its_own_strength(short):
    """A tee: far fibre below. Sagging stretches it, a cantilever's hogging compresses it."""
    tee = by_hand.table(tee=by_hand.rectangle(20.0, 60.0))
    tee = tee.assign(Wel_x_free_tension_mm3=8000.0, Wel_x_free_compression_mm3=20000.0)
    tee = tee.assign(Wel_x_bottom_mm3=8000.0, Wel_x_top_mm3=20000.0)
    state = at_service(_unlike(50.0, 100.0), short)
    table = columns_of(tee)
    assert moments.first_yield_moment(table, state, False, False)[0] == 50.0 * 8000
    assert moments.first_yield_moment(table, state, False, True)[0] == 100.0 * 8000
    assert moments.first_yield_moment(table, state, True, True)[0] == 100.0 * 8000


def test_plastic_moment_of_a_rectangle_with_unequal_strengths(short):
    """Neutral axis where f_t h_t = f_c h_c: M = b h²/2 · f_t f_c/(f_t + f_c), from first principles."""
    f_t, f_c = 24.0, 27.0
    ratio = f_t / f_c
    expected = 20 * 60**2 / 2 * f_t * f_c / (f_t + f_c)
    column = f"Wpl_x_free_mm3@{ratio:.4f}"
    section = by_hand.table(a=by_hand.rectangle(20.0, 60.0))
    section[column] = expected / f_c
    state = at_service(_unlike(f_t, f_c, ductile=True), short)
    assert moments.plastic_moment(columns_of(section), state, False, False)[0] == pytest.approx(expected)
    lower = moments.plastic_moment(columns_of(section.drop(columns=column)), state, False, False)[0]
    assert lower == pytest.approx(24.0 * 18000) and lower < expected


def test_the_ratios_asked_of_the_sections_serve_both_senses():
    assert moments.plastic_ratios(_unlike(24.0, 27.0, True)) == pytest.approx((24 / 27, 27 / 24))
    assert moments.plastic_ratios(plain()) == ()
    assert moments.plastic_ratios(_unlike(24.0, 27.0)) == ()


def test_a_load_off_the_shear_centre_twists_the_beam(sections, steel, short):
    case = BendingCase(
        "b", 900.0, restraint="sideways", load_line_mm=200.0, load_height="centroid", supports="forked"
    )
    straight = resistance(
        sections,
        BendingCase("b", 900.0, restraint="sideways", load_height="centroid", supports="forked"),
        steel,
        short,
    )
    twisted = resistance(sections, case, steel, short)
    assert (twisted["resistance_N"] < straight["resistance_N"]).all()
    assert twisted["resistance_N"][3] > 0.8 * straight["resistance_N"][3], "a tube hardly minds"
    assert twisted["resistance_N"][0] < 0.7 * straight["resistance_N"][0]


def test_bearing_crushes_a_pointed_contact(short):
    pointed = by_hand.table(
        a=by_hand.rectangle(20.0, 60.0) | {"base_contact_mm": 0.5, "head_contact_mm": 20.0}
    )
    case = BendingCase("b", 900.0, bearing_length_mm=40.0, **HELD)
    found = resistance(pointed, case, plain(f=24.0, E=1e6), short)
    assert found["limit_state"][0] == "bearing"
    assert found["resistance_N"][0] == pytest.approx(2 * 24.0 * 0.5 * 40.0)


def test_bearing_is_not_checked_where_the_contact_is_not_known(short, steel):
    section = by_hand.table(a=by_hand.rectangle(20.0, 60.0)).drop(
        columns=["base_contact_mm", "head_contact_mm"]
    )
    found = resistance(section, BendingCase("b", 900.0, bearing_length_mm=40.0, **HELD), steel, short)
    assert "bearing" not in found["limit_states_checked"][0]
    assert "bearing-not-checked" in found["caveats"][0]


def test_a_section_overturns_when_its_load_line_leaves_its_base(short, steel):
    leaning = by_hand.table(a=by_hand.rectangle(20.0, 60.0) | {"base_left_mm": 2.0, "base_right_mm": 10.0})
    for restraint, carries in (("none", False), ("sideways-and-twist", True)):
        found = resistance(leaning, BendingCase("b", 900.0, restraint=restraint), steel, short)
        assert (found["resistance_N"][0] > 0) == carries
    assert found["limit_state"][0] != "overturning"
    forked = resistance(leaning, BendingCase("b", 900.0, supports="forked"), steel, short)
    assert forked["resistance_N"][0] > 0


def test_a_load_on_the_head_acts_where_there_is_material(short, steel):
    """A head that begins 5 mm right of the centroid takes the load there, 5 mm off the shear centre."""
    section = columns_of(by_hand.table(a=by_hand.rectangle(20.0, 60.0) | {"head_left_mm": 5.0}))
    assert bending.load_line(section, BendingCase("b", 900.0)).arm_mm[0] == 5.0
    assert bending.load_line(section, BendingCase("b", 900.0, load_height="centroid")).arm_mm[0] == 0.0


def test_moment_diagrams_agree_with_their_load_effects():
    for case in (
        BendingCase("b", 1.0),
        BendingCase("b", 1.0, "four-point"),
        BendingCase("b", 1.0, "uniform"),
        BendingCase("b", 1.0, "cantilever"),
    ):
        spacing = 1 / 3 if case.loading == "four-point" else 0.0
        z = np.linspace(0, 1, 4001)
        greatest = np.abs(loading.moment_shape(case.loading, spacing, z)).max()
        assert greatest == pytest.approx(loading.load_effects(case).moment, rel=1e-6)
