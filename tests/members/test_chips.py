"""Mass of what is cut away of the stock along a member, by hand."""

import numpy as np
import pytest

from kit.members.cases import TensionCase
from kit.members.resistance import resistance

TIE = TensionCase("tie", 2000.0)


def test_chips_weigh_what_lies_between_the_stock_and_the_section(sections, steel, short):
    # 1004 mm2 cut away over 2 m at 7850 kg/m3: 0.001004 m2 · 2 m · 7850 kg/m3.
    found = resistance(sections.assign(chips_area_mm2=1004.0), TIE, steel, short)
    assert found["chips_mass_kg"].to_numpy() == pytest.approx(0.001004 * 2 * 7850)


def test_part_and_chips_weigh_as_much_as_the_stock(sections, steel, short):
    away = 100.0 * 100.0 - sections["area_mm2"]
    found = resistance(sections.assign(chips_area_mm2=away), TIE, steel, short)
    total = found["mass_kg"] + found["chips_mass_kg"]
    assert total.to_numpy() == pytest.approx(0.01 * 2 * 7850)


@pytest.mark.parametrize("nothing", [{}, {"chips_area_mm2": np.nan}, {"chips_area_mm2": None}])
def test_where_nothing_is_cut_away_there_is_no_mass(sections, steel, short, nothing):
    found = resistance(sections.assign(**nothing), TIE, steel, short)
    assert found["chips_mass_kg"].isna().all() and (found["mass_kg"] > 0).all()
