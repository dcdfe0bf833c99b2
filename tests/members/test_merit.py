"""Merit and mass for the reference's load are evaluated again, and agree with the powers where these hold."""

import numpy as np
import pytest

from kit.members.cases import BendingCase, CompressionCase, TensionCase, TorsionCase
from kit.members.materials import Spread
from kit.members.merit import line_of_equal_merit, load_at, merit, read_columns, scale_for
from kit.members.resistance import load_name, resistance
from kit.members.service import at_service
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain

pytestmark = pytest.mark.usefixtures("gravity")
CASES = [
    BendingCase("b", 3000.0),
    BendingCase("held", 3000.0, restraint="sideways-and-twist", deflection_limit=1 / 300),
    BendingCase("tip", 900.0, "cantilever"),
    CompressionCase("c", 2500.0),
    TensionCase("t", 900.0),
    TorsionCase("q", 900.0),
]


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.name)
def test_the_reference_has_merit_one_and_its_own_mass(case, sections, steel, short):
    found = merit(sections, sections.iloc[4], case, steel, short)
    mass = resistance(sections, case, steel, short)["mass_kg"]
    assert found["merit"][4] == pytest.approx(1.0, rel=1e-12)
    assert found["mass_for_reference_load_kg"][4] == pytest.approx(mass[4], rel=1e-6)


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.name)
def test_merit_is_the_resistance_of_the_similar_section_of_equal_mass(case, sections, steel, short):
    found = merit(sections, sections.iloc[4], case, steel, short)["merit"]
    reference = resistance(sections, case, steel, short)
    for i in range(len(sections)):
        s = np.sqrt(reference["mass_kg"][4] / reference["mass_kg"][i])
        similar = by_hand.similar(sections.iloc[[i]], s)
        again = resistance(similar, case, steel, short)[load_name(case)].iloc[0]
        assert found[i] == pytest.approx(again / reference[load_name(case)][4], rel=1e-6)


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.name)
def test_the_mass_found_carries_the_references_load(case, sections, steel, short):
    found = merit(sections, sections.iloc[4], case, steel, short)["mass_for_reference_load_kg"]
    reference = resistance(sections, case, steel, short)
    for i in range(len(sections)):
        s = np.sqrt(found[i] / reference["mass_kg"][i])
        again = resistance(by_hand.similar(sections.iloc[[i]], s), case, steel, short)[load_name(case)].iloc[
            0
        ]
        assert again == pytest.approx(reference[load_name(case)][4], rel=1e-6)


def test_the_first_crossing_is_taken(sections, steel, short):
    """No smaller scale of a fine grid carries the load."""
    case, state = BendingCase("b", 3000.0), at_service(steel, short)
    table = read_columns(sections, case, state)
    scale = scale_for(table, case, state, 20000.0)
    for share in np.linspace(0.05, 0.999, 60):
        assert (load_at(table, share * scale, case, state) < 20000.0).all()


def test_no_scale_gives_no_mass(sections, short, steel):
    """A load no scale up to 32 carries."""
    state = at_service(steel, short)
    table = read_columns(sections, TensionCase("t", 900.0), state)
    assert np.isnan(scale_for(table, TensionCase("t", 900.0), state, 1e15)).all()
    assert np.isnan(scale_for(table, TensionCase("t", 900.0), state, 1e-9)).all()


def test_a_reference_that_is_not_assessed_ranks_nobody(sections, short):
    glassy = plain(f=60.0, yield_compression_MPa=Spread(100.0), ductile=False)
    found = merit(sections, sections.iloc[4], TorsionCase("q", 900.0), glassy, short)
    assert found.isna().all().all()


def test_the_line_of_merit_one_passes_through_the_reference(sections, steel, short):
    case = CompressionCase("c", 2500.0)
    line = line_of_equal_merit(sections.iloc[4], case, steel, short)
    own = resistance(sections, case, steel, short).iloc[4]
    assert np.interp(own["mass_kg"], line["mass_kg"], line["load"]) == pytest.approx(
        own["resistance_N"], rel=1e-3
    )
    assert line["load"].is_monotonic_increasing


def test_merit_does_not_depend_on_the_size_a_section_came_in(sections, steel, short):
    case = BendingCase("b", 3000.0)
    small = merit(by_hand.similar(sections, 0.6), sections.iloc[4], case, steel, short)
    whole = merit(sections, sections.iloc[4], case, steel, short)
    np.testing.assert_allclose(small["merit"], whole["merit"], rtol=1e-6)
    np.testing.assert_allclose(
        small["mass_for_reference_load_kg"], whole["mass_for_reference_load_kg"], rtol=1e-6
    )
