"""Timber as a user gives it, by EN 1995-1-1 by hand: never ductile, never isotropic, nothing guessed."""

import numpy as np
import pytest

from kit.errors import InputError
from kit.members.cases import BendingCase, CompressionCase, TensionCase, TorsionCase
from kit.members.materials import Material, Service, Spread, library
from kit.members.resistance import load_name, resistance
from kit.members.service import at_service
from kit.trials.setups import bending_setup
from tests.members import sections_by_hand as by_hand

# f_m 24, f_t,0 24, f_c,0 21, f_v 4, E 11000 MPa; 50 × 200 mm, whose W is 333 333 mm³.
PINE = {
    "key": "my-pine", "name": "pine", "family": "timber", "density_kg_m3": 420.0,
    "youngs_modulus_MPa": Spread(11000.0), "poissons_ratio": 0.3, "yield_tension_MPa": Spread(24.0),
    "yield_compression_MPa": Spread(21.0), "bending_strength_MPa": Spread(24.0),
    "shear_strength_MPa": Spread(4.0),
}  # fmt: skip
WHOLE = {"shear_modulus_MPa": 690.0, "bearing_strength_MPa": 2.5, "modulus_5_percent_MPa": 7400.0}
HELD = {"restraint": "sideways-and-twist", "supports": "forked"}
ROW = by_hand.table(a=by_hand.rectangle(50.0, 200.0))


def pine(**more) -> Material:
    return Material(**PINE | more)


def found(case, material):
    return resistance(ROW, case, material, Service()).iloc[0]


def refused(row, *keys) -> bool:
    silent = np.isnan(row.get("resistance_N", row.get("resistance_Nmm")))
    return bool(silent) and row["limit_state"] == "not assessed" and set(keys) <= set(row["caveats"].split())


def test_timber_is_brittle_unless_said_and_said_ductile_it_is_refused():
    assert pine().ductile is False and pine(ductile=False).ductile is False
    with pytest.raises(InputError, match="timber breaks") as caught:
        pine(ductile=True)
    assert caught.value.where == "materials.my-pine.ductile"


def test_bending_strength_times_elastic_modulus():
    """EN 1995-1-1, 6.1.6: M = f_m W = 8 kN m, so 32 kN at the middle of 1 m; its own weight is 20 N."""
    row = found(BendingCase("b", 1000.0, **HELD), pine())
    assert row["resistance_N"] == pytest.approx(32000.0, rel=2e-3)
    assert row["limit_state"] == "fracture"


def test_a_stated_bending_strength_bounds_the_full_plastic_moment_too():
    """A ductile board with f_m 20 and f_y 18 MPa: 20 W lies below 18 · 1.5 W, 30 W above it."""
    board = {"key": "b", "name": "b", "family": "polymer", "density_kg_m3": 950.0, "poissons_ratio": 0.4,
             "youngs_modulus_MPa": Spread(1000.0), "yield_tension_MPa": Spread(18.0),
             "yield_compression_MPa": Spread(18.0)}  # fmt: skip
    case, modulus = BendingCase("b", 2000.0, **HELD), 50 * 200**2 / 6
    for strength, name, expected in (
        (20.0, "yield of the extreme fibre", 20.0),
        (30.0, "full plasticity", 27.0),
    ):
        row = found(case, Material(**board, bending_strength_MPa=Spread(strength)))
        assert row["limit_state"] == name
        assert row["resistance_N"] == pytest.approx(expected * modulus / 500.0, rel=0.02)


def test_torsion_is_not_assessed_whatever_is_given():
    assert refused(found(TorsionCase("q", 1000.0), pine()), "orthotropic-torsion")
    assert refused(found(TorsionCase("q", 1000.0), pine(**WHOLE)), "orthotropic-torsion")
    aside = BendingCase("b", 1000.0, restraint="sideways", supports="forked", load_line_mm=20.0)
    assert refused(found(aside, pine(**WHOLE)), "orthotropic-torsion")


def test_bearing_is_across_the_grain_or_not_assessed():
    """EN 1995-1-1, 6.1.5: F = f_c,90 b l = 2.5 · 50 · 10 N, at the point load in the middle."""
    case = BendingCase("b", 1000.0, bearing_length_mm=10.0, **HELD)
    assert refused(found(case, pine()), "bearing-strength-missing")
    row = found(case, pine(**WHOLE))
    assert row["limit_state"] == "bearing" and row["resistance_N"] == pytest.approx(1250.0, rel=0.02)


@pytest.mark.parametrize(
    "case",
    [
        BendingCase("b", 6000.0, "uniform", supports="forked", load_height="centroid"),
        CompressionCase("c", 4000.0, column_curve="EN 1995-1-1 solid"),
    ],
)
def test_what_buckles_needs_the_shear_modulus_and_the_fractile(case):
    assert refused(found(case, pine()), "shear-modulus-missing", "modulus-5-percent-missing")
    fractile = pine(modulus_5_percent_MPa=7400.0)
    assert refused(found(case, fractile), "shear-modulus-missing")
    assert "modulus-5-percent-missing" not in found(case, fractile)["caveats"]
    assert found(case, pine(**WHOLE))["resistance_N"] > 0


def test_a_limit_of_deflection_needs_the_shear_modulus():
    case = BendingCase("b", 3000.0, deflection_limit=1 / 300, **HELD)
    assert refused(found(case, pine()), "shear-modulus-missing")
    assert found(case, pine(shear_modulus_MPa=690.0))["limit_state"] == "deflection"


def test_a_beam_needs_a_shear_strength():
    bare = {key: value for key, value in PINE.items() if key != "shear_strength_MPa"}
    assert refused(found(BendingCase("b", 1000.0, **HELD), Material(**bare)), "shear-strength-missing")


def test_a_tie_with_holes_does_not_yield():
    assert found(TensionCase("t", 1000.0), pine())["limit_state"] == "fracture"
    assert refused(found(TensionCase("t", 1000.0, holes_area_mm2=2000.0), pine()), "brittle-with-holes")


def test_no_shear_modulus_follows_from_poissons_ratio():
    assert np.isnan(pine().shear_modulus) and pine(**WHOLE).shear_modulus == 690.0
    rig = None
    with pytest.raises(InputError) as caught:
        bending_setup({"Ix_mm4": 1.0, "Wel_x_top_mm3": 1.0, "Wel_x_bottom_mm3": 1.0, "shear_area_y_nu0_mm2": 1.0},
                      BendingCase("b", 900.0, **HELD), pine(), rig)  # fmt: skip
    assert caught.value.where == "materials.my-pine.shear_modulus"


@pytest.mark.parametrize(
    ("degrees", "known"), [(20.0, True), (-30.0, True), (37.0, True), (60.0, False), (150.0, False)]
)
def test_warm_timber_is_not_given_its_strength_at_20_degrees(degrees, known):
    """NDS, 2.3.3 (from memory): full values up to 100 °F, 37.8 °C; EN 1995-1-1 ends at 60 °C."""
    state = at_service(library()["timber-C24"], Service("short-term test", degrees))
    assert (state.blocked == "") == known
    assert known or state.blocked == "temperature-outside-data"


def test_timber_with_tables_of_its_own_is_followed_beyond():
    warm = pine(
        modulus_by_temperature=((20.0, 1.0), (60.0, 0.9)), strength_by_temperature=((20.0, 1.0), (60.0, 0.6))
    )
    state = at_service(warm, Service("short-term test", 60.0))
    assert (state.blocked, state.bending, state.modulus) == ("", pytest.approx(14.4), pytest.approx(9900.0))
    row = resistance(ROW, TensionCase("t", 1000.0), warm, Service("short-term test", 60.0)).iloc[0]
    assert row[load_name(TensionCase("t", 1.0))] == pytest.approx(0.6 * 240e3, rel=1e-3)
