"""How big to make it."""

import numpy as np
import pytest

from kit.errors import InputError
from kit.members.cases import BendingCase, CompressionCase, TensionCase, TorsionCase
from kit.members.materials import Spread
from kit.members.resistance import load_name, resistance
from kit.members.sizing import Factors, size
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain


def test_a_tie_by_hand(sections, steel, short):
    """A = γ_F γ_M N / f: 1.5 · 1.1 · 100 kN / 235 MPa."""
    found = size(sections.iloc[0], 1e5, TensionCase("t", 900.0), steel, short, Factors(1.1, 1.5))
    assert found.area_mm2 == pytest.approx(1.5 * 1.1 * 1e5 / 235, rel=1e-6)
    assert found.mass_kg == pytest.approx(found.area_mm2 * 900 * 7850e-9, rel=1e-9)
    assert found.limit_state == "yield"
    assert found.depth_mm / found.width_mm == pytest.approx(3.0)


@pytest.mark.parametrize(
    "case", [BendingCase("b", 3000.0), CompressionCase("c", 2500.0), TorsionCase("q", 900.0)]
)
def test_the_size_found_carries_the_factored_load_and_hardly_more(case, sections, steel, short):
    load = 8000.0 if case.kind != "torsion" else 1e6
    for i in range(len(sections)):
        found = size(sections.iloc[i], load, case, steel, short, Factors(1.1, 1.5))
        again = resistance(by_hand.similar(sections.iloc[[i]], found.scale), case, steel, short)
        assert again[load_name(case)].iloc[0] == pytest.approx(1.65 * load, rel=1e-6)
        assert again["limit_state"].iloc[0] == found.limit_state


def test_a_deflection_limit_holds_for_the_load_itself(sections, short):
    """A stiffness limit takes no partial factors, a strength limit takes both."""
    soft = plain(E=1000.0, f=1e4)
    case = BendingCase("b", 900.0, deflection_limit=1 / 200, restraint="sideways-and-twist")
    one, two = (size(sections.iloc[0], 500.0, case, soft, short, f) for f in (Factors(), Factors(1.5, 1.5)))
    assert one.limit_state == two.limit_state == "deflection"
    assert one.scale == pytest.approx(two.scale, rel=1e-9)
    assert one.deflection_mm == pytest.approx(900 / 200, rel=1e-6)


def test_the_cautions_are_sentences_and_begin_with_the_first_one(sections, steel, short):
    found = size(sections.iloc[0], 1e4, BendingCase("b", 3000.0), steel, short)
    assert "not a design" in found.cautions[0]
    assert all(text.endswith(".") for text in found.cautions)


def test_what_cannot_be_assessed_has_no_size(sections, short):
    glassy = plain(f=60.0, yield_compression_MPa=Spread(100.0), ductile=False)
    found = size(sections.iloc[4], 1e5, TorsionCase("q", 900.0), glassy, short)
    assert np.isnan(found.scale) and found.limit_state == "not assessed"


def test_a_load_that_no_scale_carries_says_so(sections, steel, short):
    assert "no scale" in size(sections.iloc[0], 1e12, TensionCase("t", 900.0), steel, short).limit_state


@pytest.mark.parametrize("load", [0.0, -5.0, float("nan")])
def test_a_load_must_be_above_zero(load, sections, steel, short):
    with pytest.raises(InputError):
        size(sections.iloc[0], load, TensionCase("t", 900.0), steel, short)


def test_factors_below_one_are_refused():
    with pytest.raises(InputError, match="less safe"):
        Factors(0.9, 1.0)
