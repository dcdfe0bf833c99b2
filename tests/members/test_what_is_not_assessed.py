"""Where a formula does not hold there is no number, and the row says why."""

import numpy as np
import pytest

from kit.errors import InputError
from kit.members.cases import BendingCase, CompressionCase, TorsionCase
from kit.members.materials import Service, Spread, library
from kit.members.resistance import load_name, resistance
from kit.members.service import at_service
from tests.members.conftest import plain

GLASSY = plain(E=3000.0, f=60.0, yield_compression_MPa=Spread(100.0), ductile=False, family="polymer")
YEARS = Service("10 years", 23.0)


def row(sections, case, material, service=None, at=0):
    return resistance(sections, case, material, service or Service()).iloc[at]


def refused(found, key):
    value = found.get("resistance_N", found.get("resistance_Nmm"))
    return np.isnan(value) and found["limit_state"] == "not assessed" and key in found["caveats"].split()


def test_a_brittle_section_with_a_sharp_corner_in_torsion(sections):
    assert refused(row(sections, TorsionCase("t", 900.0), GLASSY, at=4), "brittle-sharp-corner")
    assert row(sections, TorsionCase("t", 900.0), GLASSY, at=2)["limit_state"] == "fracture"


def test_a_ductile_section_with_a_sharp_corner_has_its_plastic_torque(sections, steel):
    assert row(sections, TorsionCase("t", 900.0), steel, at=4)["limit_state"] == "full plastic torque"


def test_a_brittle_beam_twisted_at_a_sharp_corner(sections):
    off = BendingCase(
        "b", 900.0, restraint="sideways", load_line_mm=20.0, load_height="centroid", supports="forked"
    )
    assert refused(row(sections, off, GLASSY, at=4), "brittle-sharp-corner")
    on = BendingCase("b", 900.0, restraint="sideways", load_height="centroid")
    assert row(sections, on, GLASSY, at=4)["resistance_N"] > 0


def test_brittle_ends_held_against_warping(sections):
    assert refused(
        row(sections, TorsionCase("t", 900.0, "warping-held"), GLASSY, at=2), "brittle-warping-held"
    )


def test_timber_in_torsion(sections):
    assert refused(
        row(sections, TorsionCase("t", 900.0), library()["timber-C24"], at=2), "orthotropic-torsion"
    )


def test_a_span_shorter_than_the_depth(sections, steel):
    assert refused(row(sections, BendingCase("b", 50.0), steel), "span-shorter-than-depth")
    assert "short-beam" in row(sections, BendingCase("b", 200.0), steel)["caveats"]


@pytest.mark.parametrize(
    ("curve", "key", "forbidden"),
    [
        ("EN 1993-1-1 b", "aluminium-6060-T66", False),
        ("EN 1999-1-1 A", "steel-S235", False),
        ("EN 1993-1-1 b", "timber-C24", True),
        ("EN 1993-1-1 b", "polyethylene-sheet", True),
        ("AISC 360 E3", "acrylic-cast-sheet", True),
        ("EN 1995-1-1 solid", "steel-S235", True),
        ("perry-robertson", "polyethylene-sheet", None),
        ("EN 1993-1-1 b", "steel-S355", None),
    ],
)
def test_column_curves_outside_their_material(curve, key, forbidden, sections):
    found = row(sections, CompressionCase("c", 900.0, column_curve=curve), library()[key])
    if forbidden:
        assert refused(found, "curve-not-applicable")
    else:
        assert found["resistance_N"] > 0
        assert ("curve-outside-material" in found["caveats"]) == (forbidden is False)


def test_a_polymer_of_unknown_creep_carries_no_lasting_load(sections):
    unknown = plain(E=1000.0, f=24.0, family="polymer")
    for case in (CompressionCase("c", 900.0), BendingCase("b", 900.0)):
        assert refused(row(sections, case, unknown, YEARS), "no-long-term-data")
        assert "short-term-only" in row(sections, case, unknown)["caveats"]


def test_a_lasting_load_leaves_a_polymer_column_a_third(sections):
    material, case = library()["polyethylene-sheet"], CompressionCase("c", 900.0)
    short, long = (row(sections, case, material, s)["resistance_N"] for s in (Service(), YEARS))
    assert 2.0 < short / long < 6.0


def test_a_table_of_one_duration_begins_at_the_short_test(sections):
    """{10 years: 0.25}: a tenth of an hour is 1, between them straight in the logarithm of time."""
    material = plain(
        E=1000.0, f=24.0, family="polymer", modulus_by_duration=((87660.0, 0.25),),
        strength_by_duration=((87660.0, 0.4),),
    )  # fmt: skip
    state = at_service(material, Service("100 hours"))
    share = np.log(100 / 0.1) / np.log(87660 / 0.1)
    assert state.modulus == pytest.approx(1000 * (1 - 0.75 * share))
    assert state.tension == pytest.approx(24 * (1 - 0.6 * share))
    assert at_service(material, Service("20 years")).blocked == "no-long-term-data"


def test_a_table_of_one_temperature_begins_at_the_test(sections):
    material = plain(
        E=1000.0, f=24.0, family="polymer", modulus_by_temperature=((40.0, 0.66),),
        strength_by_temperature=((40.0, 0.83),),
    )  # fmt: skip
    assert at_service(material, Service(temperature_degC=31.5)).modulus == pytest.approx(830.0)
    assert at_service(material, Service(temperature_degC=50.0)).blocked == "temperature-outside-data"


def test_metals_do_not_care_for_years(sections):
    material, case = library()["steel-S235"], CompressionCase("c", 900.0)
    assert (
        row(sections, case, material, YEARS)["resistance_N"] == row(sections, case, material)["resistance_N"]
    )


def test_timber_weakens_by_its_duration_classes(sections):
    material, case = library()["timber-C24"], BendingCase("b", 1200.0, restraint="sideways-and-twist")
    loads = [
        row(sections, case, material, Service(d))["resistance_N"]
        for d in ("short-term test", "3 days", "1 month", "5 years", "40 years")
    ]
    np.testing.assert_allclose(np.array(loads) / loads[0], [1.0, 0.9, 0.8, 0.7, 0.6], rtol=1e-9)


@pytest.mark.parametrize("key", ["polyethylene-sheet", "steel-S235", "aluminium-6060-T66"])
def test_temperatures_beyond_what_is_known(key, sections):
    hot = Service("short-term test", 150.0)
    assert refused(
        row(sections, CompressionCase("c", 900.0), library()[key], hot), "temperature-outside-data"
    )


def test_warmth_weakens_polyethylene(sections):
    case, material = BendingCase("b", 900.0), library()["polyethylene-sheet"]
    cold, warm = (
        row(sections, case, material, Service(temperature_degC=t))["resistance_N"] for t in (23.0, 40.0)
    )
    assert warm < 0.85 * cold


def test_a_table_without_a_needed_column_is_a_clear_error(sections, steel, short):
    with pytest.raises(InputError, match="Wpl_t_mm3"):
        resistance(sections.drop(columns="Wpl_t_mm3"), TorsionCase("t", 900.0), steel, short)


def test_an_unknown_property_of_one_row_costs_that_row_only(sections, steel, short):
    holed = sections.assign(Wpl_t_mm3=sections["Wpl_t_mm3"].where(sections.index != 1))
    found = resistance(holed, TorsionCase("t", 900.0), steel, short)
    assert refused(found.iloc[1], "property-unknown")
    assert found["resistance_Nmm"].drop(1).notna().all()


def test_every_row_says_what_it_was_checked_for(sections, steel, short):
    for case in (BendingCase("b", 900.0), CompressionCase("c", 900.0), TorsionCase("t", 900.0)):
        found = resistance(sections, case, steel, short)
        for limit, checked in zip(found["limit_state"], found["limit_states_checked"], strict=True):
            assert limit in checked.split("; ")
        assert (found[load_name(case)] > 0).all()


def test_the_index_and_identity_of_the_sections_are_kept(sections, steel, short):
    shuffled = sections.sample(frac=1.0, random_state=2)
    found = resistance(shuffled, CompressionCase("c", 900.0), steel, short)
    assert list(found.index) == list(shuffled.index)
    assert list(found["section_id"]) == list(shuffled["section_id"])


def test_no_section_gives_an_empty_table(sections, steel, short):
    assert len(resistance(sections.iloc[:0], BendingCase("b", 900.0), steel, short)) == 0


def test_a_row_does_not_know_its_neighbours(sections, steel, short):
    for case in (BendingCase("b", 900.0), BendingCase("b", 900.0, "cantilever"), CompressionCase("c", 900.0)):
        together = resistance(sections, case, steel, short)["resistance_N"].to_numpy()
        alone = [
            resistance(sections.iloc[[i]], case, steel, short)["resistance_N"].iloc[0]
            for i in range(len(sections))
        ]
        np.testing.assert_array_equal(together, alone)


def test_a_curve_that_ends_early_takes_plasticity_away(sections):
    """E 1000, f 20: three yield strains are 6 %."""

    def bent(last):
        pairs = tuple((e, min(1000 * e, 20.0)) for e in np.linspace(0.005, last, 12))
        material = plain(E=1000.0, f=20.0, family="polymer", stress_strain=pairs)
        return row(sections, BendingCase("b", 900.0, restraint="sideways-and-twist"), material)

    short, long = bent(0.055), bent(0.065)
    assert short["limit_state"] == "fracture" and "curve-ends-early" in short["caveats"]
    assert long["limit_state"] == "full plasticity" and "curve-ends-early" not in long["caveats"]
    assert long["resistance_N"] == pytest.approx(1.5 * short["resistance_N"], rel=1e-6)
