"""Tables of duration and temperature by hand: what is given applies, and what is needed and missing blocks."""

import numpy as np
import pytest

from kit.members.cases import BendingCase, TensionCase
from kit.members.materials import Service, library
from kit.members.resistance import resistance
from kit.members.service import at_service
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain

BAR = by_hand.table(a=by_hand.rectangle(20.0, 40.0))
BY_WARMTH = ((20.0, 1.0), (80.0, 0.5))
BY_TIME = ((1.0, 1.0), (8766.0, 0.5))
YEAR = Service("1 year", 23.0)


def alloy(**tables):
    return plain(E=70000.0, f=250.0, family="aluminium", **tables)


def test_a_metals_own_tables_of_strength_apply_without_one_of_the_modulus():
    """Half by 80 °C and half by a year: a quarter of 250 MPa; the modulus stays."""
    state = at_service(
        alloy(strength_by_temperature=BY_WARMTH, strength_by_duration=BY_TIME), Service("1 year", 80.0)
    )
    assert (state.tension, state.compression) == (pytest.approx(62.5), pytest.approx(62.5))
    assert state.shear == pytest.approx(62.5 / np.sqrt(3))
    assert (state.modulus, state.blocked) == (70000.0, "")
    assert "long-term-factors" in state.caveats


def test_a_metals_own_tables_of_the_modulus_apply_without_one_of_strength():
    state = at_service(
        alloy(modulus_by_temperature=BY_WARMTH, modulus_by_duration=BY_TIME), Service("1 year", 50.0)
    )
    assert state.modulus == pytest.approx(70000 * 0.5 * 0.75)
    assert state.tension == 250.0


def test_the_resistance_of_a_tie_falls_with_the_table():
    case = TensionCase("t", 100.0)
    cold, hot = (
        resistance(BAR, case, alloy(strength_by_temperature=BY_WARMTH), Service("short-term test", at))[
            "resistance_N"
        ][0]
        for at in (20.0, 80.0)
    )
    assert hot == pytest.approx(0.5 * cold, rel=1e-4)


@pytest.mark.parametrize(
    ("tables", "service", "key"),
    [
        ({"strength_by_temperature": BY_WARMTH}, Service("short-term test", 90.0), "temperature-outside-data"),
        ({"strength_by_temperature": ((20.0, 1.0), (150.0, 0.4))}, Service("short-term test", 120.0),
         "temperature-outside-data"),
        ({"strength_by_duration": BY_TIME}, Service("2 years"), "no-long-term-data"),
    ],
)  # fmt: skip
def test_beyond_a_table_or_without_the_other_beyond_the_range_nothing_is_given(tables, service, key):
    assert at_service(alloy(**tables), service).blocked == key


def test_a_metal_without_tables_keeps_its_values_for_years():
    state = at_service(library()["aluminium-6082-T6"], Service("50 years", 60.0))
    assert (state.tension, state.modulus, state.blocked) == (250.0, 70000.0, "")


@pytest.mark.parametrize("given", ["strength_by_duration", "modulus_by_duration"])
def test_a_polymer_needs_both_tables_of_duration(given):
    material = plain(E=1000.0, f=24.0, family="polymer", **{given: BY_TIME})
    assert at_service(material, YEAR).blocked == "no-long-term-data"


def test_one_table_of_temperature_is_not_dropped_near_the_test_temperature():
    """At 26 °C the polymer's missing modulus table is not needed; its strength is 1 − 0.5 · 6/60."""
    material = plain(E=1000.0, f=24.0, family="polymer", strength_by_temperature=BY_WARMTH)
    state = at_service(material, Service("short-term test", 26.0))
    assert (state.tension, state.modulus) == (pytest.approx(24 * 0.95), 1000.0)
    assert at_service(material, Service("short-term test", 40.0)).blocked == "temperature-outside-data"


LUMBER = ("recycled-plastic-lumber", "recycled-plastic-lumber-reinforced")


@pytest.mark.parametrize(("key", "flexural"), [(LUMBER[0], 9.3), (LUMBER[1], 19.0)])
def test_a_flexural_strength_is_no_tensile_strength(key, flexural):
    """ASTM D6109 bends the piece: f W it carries as a beam, of a pull nothing is known."""
    material = library()[key]
    assert material.yield_tension_MPa is None and not material.ductile
    tie = resistance(BAR, TensionCase("t", 1000.0), material, Service()).iloc[0]
    assert np.isnan(tie["resistance_N"]) and "tensile-strength-missing" in tie["caveats"].split()
    case = BendingCase("b", 400.0, restraint="sideways-and-twist", supports="forked")
    beam = resistance(BAR, case, material, Service()).iloc[0]
    assert beam["resistance_N"] == pytest.approx(flexural * 20 * 40**2 / 6 / 100, rel=0.01)
    assert beam["limit_state"] == "fracture"


def test_a_beam_that_shear_might_govern_needs_the_tensile_strength():
    """A neck of 2 mm: by a third of the flexural strength shear would govern there, by all of it not known."""
    beam = by_hand.i_section(100.0, 100.0, 30.0, 2.0)
    case = BendingCase("b", 400.0, restraint="sideways-and-twist", supports="forked")
    found = resistance(by_hand.table(a=beam), case, library()[LUMBER[0]], Service()).iloc[0]
    assert np.isnan(found["resistance_N"]) and "tensile-strength-missing" in found["caveats"].split()


def test_no_library_strength_in_tension_comes_from_a_flexural_test():
    import json

    from kit.places import DATA

    for record in json.loads((DATA / "materials.json").read_text(encoding="utf-8")):
        sourced = [v for v in record["values"] if v["value"].startswith("yield_tension")]
        measured = record["yield_tension_MPa"] is not None
        assert not measured or not any("flex" in (v["value"] + v["source"]).lower() for v in sourced)


def test_a_material_without_tensile_strength_can_be_drawn():
    from kit.members.uncertainty import Uncertainty, resistance_interval

    case = BendingCase("b", 400.0, restraint="sideways-and-twist", supports="forked")
    drawn = resistance_interval(BAR, case, library()[LUMBER[0]], Service(), Uncertainty(200, 1))
    middle = resistance(BAR, case, library()[LUMBER[0]], Service())["resistance_N"][0]
    assert drawn["resistance_low"][0] < 0.85 * middle and drawn["resistance_high"][0] > 1.15 * middle
