"""Several loads at once, and loads from the other side."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import Polygon
from shapely.affinity import scale

from kit.errors import InputError
from kit.members.cases import BendingCase, CompressionCase, TensionCase, TorsionCase
from kit.members.interaction import combined, load_factor
from kit.members.materials import Spread
from kit.members.moments import plastic_ratios
from kit.members.resistance import load_name, resistance
from kit.members.senses import upside_down
from kit.members.together import Together
from kit.sections.section import properties
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain

AXIAL, BENT, TWISTED = CompressionCase("c", 2000.0), BendingCase("b", 2000.0), TorsionCase("t", 2000.0)
ODD = Polygon([(0, 0), (70, 0), (70, 9), (12, 12), (18, 80), (45, 80), (45, 92), (4, 92)])


def test_the_linear_expression_adds_the_uses(sections, steel, short):
    """Pulled, and bent held against twist, there is nothing to grow: a plain sum."""
    held = replace(BENT, restraint="sideways-and-twist")
    loads = [(TensionCase("t", 2000.0), 5e3), (held, 900.0), (TWISTED, 2e5)]
    found = combined(sections, loads, steel, short)
    use = sum(load / resistance(sections, case, steel, short)[load_name(case)] for case, load in loads)
    np.testing.assert_allclose(found["use"], use, rtol=1e-12)
    np.testing.assert_allclose(found["load_factor"] * found["use"], 1.0, rtol=1e-12)


def test_compression_makes_bending_grow(sections, steel, short):
    """N/N_b + (M/M_R) / (1 − N/N_cr), N_cr by Euler's formula for the weaker axis; at the factor found it is 1."""
    loads = [(AXIAL, 5e3), (BENT, 900.0)]
    found = combined(sections, loads, steel, short).iloc[0]
    row = sections.iloc[[0]]
    n, m = (load / resistance(row, case, steel, short)[load_name(case)].iloc[0] for case, load in loads)
    euler = np.pi**2 * 210000 * 60 * 20**3 / 12 / 2000.0**2
    assert found["use"] == pytest.approx(n + m / (1 - 5e3 / euler), rel=1e-9)
    at = found["load_factor"]
    assert at * n + at * m / (1 - at * 5e3 / euler) == pytest.approx(1.0, rel=1e-9)
    beyond = combined(sections, [(AXIAL, 1.01 * euler), (BENT, 1.0)], steel, short).iloc[0]
    assert beyond["use"] == np.inf and beyond["load_factor"] < 1.0


def test_two_compressive_loads_act_as_one(sections, steel, short):
    """A load given in two halves, under two names, makes what bends grow as the whole does."""
    halves = [(replace(AXIAL, name="crowd"), 5e3), (replace(AXIAL, name="roof"), 5e3), (BENT, 900.0)]
    whole = combined(sections, [(AXIAL, 1e4), (BENT, 900.0)], steel, short)
    parts = combined(sections, halves, steel, short)
    np.testing.assert_allclose(parts["use"], whole["use"], rtol=1e-9)
    np.testing.assert_allclose(parts["load_factor"], whole["load_factor"], rtol=1e-9)


def test_one_load_alone_is_its_own_resistance(sections, steel, short):
    expected = resistance(sections, AXIAL, steel, short)["resistance_N"]
    np.testing.assert_allclose(load_factor([1.0 / expected], [True]), expected, rtol=1e-12)


@pytest.mark.parametrize(
    "loads", [[], [(AXIAL, 1.0)], [(AXIAL, -3e3), (BENT, 1.0)], [(AXIAL, 1.0), (BENT, float("nan"))]]
)
def test_what_acts_at_once_is_two_loads_or_more_above_zero(loads, sections, steel, short):
    with pytest.raises(InputError):
        combined(sections, loads, steel, short)


def test_own_weight_takes_from_the_critical_load_too(gravity, short):
    """A 2.9 m mast of PE whose own weight is G = 0.39 G_cr: what bends it grows with 1/(1 − N/(0.61 N_cr))."""
    bar, soft = by_hand.table(bar=by_hand.rectangle(30.0, 30.0)), plain(E=1000.0, f=25.0, density_kg_m3=955.0)
    axial, bent = CompressionCase("c", 2900.0, "fixed-free"), BendingCase("b", 2900.0, "cantilever")
    loads = [(axial, 2.0), (bent, 3.0)]
    found = combined(bar, loads, soft, short).iloc[0]
    n, m = (load / resistance(bar, case, soft, short)["resistance_N"].iloc[0] for case, load in loads)
    ei, weight = 1000 * 30**4 / 12 / 2900**2, 900e-9 * 2900 * 955 * 9.80665
    left = np.pi**2 / 4 * ei * (1 - weight / (7.837347 * ei))
    assert weight / (7.837347 * ei) == pytest.approx(0.388, abs=1e-3)
    assert found["use"] == pytest.approx(n + m / (1 - 2.0 / left), rel=1e-6)


@pytest.mark.parametrize(
    ("n", "m", "use"), [(0.5, 0.3, 0.5 + 8 / 9 * 0.3), (0.1, 0.3, 0.05 + 0.3), (0.2, 0.9, 1.0)]
)
def test_aisc_interaction_by_hand(n, m, use):
    from kit.members.codes import aisc_interaction

    assert aisc_interaction(n, m) == pytest.approx(use)
    factor = load_factor([np.array([n]), np.array([m])], [True, False], "AISC 360 H1")
    assert aisc_interaction(factor * n, factor * m)[0] == pytest.approx(1.0)


def test_torsion_has_no_place_in_the_aisc_expression(sections, steel, short):
    with pytest.raises(InputError):
        combined(sections, [(AXIAL, 1.0), (TWISTED, 1.0)], steel, short, "AISC 360 H1")


@pytest.mark.parametrize(
    ("loads", "expression", "said"),
    [
        ((("a", 1.0),), "linear", "1 load cases"),
        ((("a", 1.0), ("a", 2.0)), "linear", "2 load cases"),
        ((("a", 1.0), ("b", 0.0)), "linear", "load of 0"),
        ((("a", 1.0), ("b", 1.0)), "square", "no interaction expression"),
    ],
)
def test_loads_that_cannot_be_meant(loads, expression, said):
    with pytest.raises(InputError, match=said):
        Together("t", loads, expression)


def test_one_member_has_one_length_and_one_sense_of_axial_load(sections, steel, short):
    with pytest.raises(InputError, match="one length"):
        combined(sections, [(AXIAL, 1.0), (BendingCase("b", 900.0), 1.0)], steel, short)
    with pytest.raises(InputError, match="at once"):
        combined(sections, [(AXIAL, 1.0), (TensionCase("t", 2000.0), 1.0)], steel, short)


def test_the_codes_expression_is_silent_off_the_axes_of_symmetry(short, steel):
    table = by_hand.table(odd=properties(ODD).row())
    found = combined(table, [(AXIAL, 1.0), (BENT, 1.0)], steel, short, "AISC 360 H1")
    assert found["use"].isna().all() and found["caveats"][0] == "interaction-outside-scope"
    assert combined(table, [(AXIAL, 1.0), (BENT, 1.0)], steel, short)["use"].notna().all()


def test_an_unknown_expression_is_refused():
    with pytest.raises(InputError, match="no interaction"):
        load_factor([np.ones(1)], [True], "quadratic")


def test_what_is_not_assessed_alone_is_not_assessed_together(sections, short):
    glassy = plain(f=60.0, yield_compression_MPa=Spread(100.0), ductile=False)
    found = combined(sections, [(AXIAL, 1.0), (TWISTED, 1.0)], glassy, short)
    assert np.isnan(found["load_factor"][4]) and np.isfinite(found["load_factor"][2])


@pytest.mark.parametrize("ductile", [True, False])
def test_loading_up_is_loading_the_mirrored_section_down(short, ductile):
    material = plain(f=24.0, yield_compression_MPa=Spread(27.0), ductile=ductile, E=1050.0)
    ratios = plastic_ratios(material)
    here = by_hand.table(a=properties(ODD, internal_radius_mm=2.0, strength_ratios=ratios).row())
    mirrored = by_hand.table(
        a=properties(scale(ODD, 1, -1), internal_radius_mm=2.0, strength_ratios=ratios).row()
    )
    for restraint in ("none", "sideways", "sideways-and-twist"):
        case = BendingCase(
            "b",
            900.0,
            restraint=restraint,
            load_height="centroid",
            supports="forked",
            deflection_limit=1 / 10,
        )
        by_table = resistance(upside_down(here), case, material, short).iloc[0]
        by_mirror = resistance(mirrored, case, material, short).iloc[0]
        if np.isnan(by_mirror["resistance_N"]):
            assert np.isnan(by_table["resistance_N"])
            continue
        assert by_table["resistance_N"] == pytest.approx(by_mirror["resistance_N"], rel=5e-3)
        assert by_table["limit_state"] == by_mirror["limit_state"]


def test_both_senses_of_an_unsymmetric_section_differ(short, steel):
    here = by_hand.table(a=properties(ODD).row())
    case = BendingCase("b", 2500.0, load_height="centroid", supports="forked")
    found = resistance(here, case, steel, short)
    down, up = found["resistance_N"][0], found["resistance_upwards_N"][0]
    assert up == resistance(upside_down(here), case, steel, short)["resistance_N"][0]
    assert abs(down - up) > 0.01 * down


def test_turning_twice_gives_the_table_back(sections):
    import pandas as pd

    pd.testing.assert_frame_equal(upside_down(upside_down(sections)), sections)
