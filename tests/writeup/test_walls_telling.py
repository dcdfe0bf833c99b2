"""What is told of the walls of the shortlist: counted from the rows, in words that fit them."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from kit.writeup import walls_telling

PLAIN = {
    "variant": "v",
    "load_case": "bending",
    "section_id": "s",
    "place": "1 of 9",
    "why": "",
    "merit": 1.0,
}


def rows(*changes: dict) -> pd.DataFrame:
    """A shortlisted member each, of 1000 N without walls and with them unless it says otherwise."""
    each = {"outline": "o", "resistance_N": 1e3, "resistance_without_walls": 1e3, "merit_with_walls": 1.0}
    plain = PLAIN | each | {"limit_state": "full plasticity"}
    return pd.DataFrame([plain | {"section_id": f"s{i}"} | change for i, change in enumerate(changes)])


def curve(*minima: tuple[str, float, float], depth: float = 100.0) -> SimpleNamespace:
    """A curve with minima: kind, stress, half-wavelength."""
    found = [SimpleNamespace(stress_MPa=s, half_wavelength_mm=h, kind=kind) for kind, s, h in minima]
    lowest = {kind: stress for kind, stress, _ in minima}
    return SimpleNamespace(minima=found, depth_mm=depth, lowest=lambda kind: lowest.get(kind, np.inf))


def test_walls_that_take_nothing_away_are_said_to():
    assert "None of them carries less for it" in walls_telling.summary(rows({}, {})).text


def test_lower_loads_are_counted_by_the_limit_state_that_takes_them():
    table = rows(
        {},
        {"resistance_N": 930.0, "limit_state": "second-order bending and twist"},
        {"resistance_N": 980.0, "limit_state": "second-order bending and twist"},
        {"resistance_N": 600.0, "limit_state": "local"},
        {"resistance_N": 1e3 * (1 - 1e-12)},
    )
    text = walls_telling.summary(table).text.replace("\\", "")
    assert "3 of them carry less for it, at most 40 % less" in text
    assert "1 by local buckling; 2 by second-order bending and twist, whose elastic limit" in text


def test_a_column_that_its_own_weight_takes_more_of_is_not_said_to_buckle_in_its_walls():
    text = walls_telling.summary(rows({"resistance_N": 999.9, "limit_state": "flexural buckling"})).text
    assert "1 by flexural buckling, where" in text and "own weight" in text and "elastic limit" not in text


def test_one_is_told_in_the_singular_and_without_the_other_kind():
    text = walls_telling.summary(rows({"resistance_N": 900.0, "limit_state": "distortional"})).text
    assert "1 of them carries less" in text and "elastic limit" not in text


def test_members_without_a_curve_are_counted():
    assert "1 member has no curve" in walls_telling.summary(rows({"why": "not assessed"}, {})).text


def test_loads_keep_their_digits_whatever_their_size():
    table = rows(
        {"resistance_N": 23.94, "resistance_without_walls": 24.06},
        {"resistance_N": 516_700.0, "resistance_without_walls": 516_700.0},
        {"resistance_N": 8_000.0, "resistance_without_walls": 8_000.0},
        {"why": "not assessed: an eccentric load"},
    )
    found = curve(("local", 4201.0, 70.0), ("distortional", 71.2, 160.0))
    closer = SimpleNamespace(curves={("v", "bending", "s0"): found, ("v", "bending", "s1"): curve()})
    body = walls_telling.critical(closer, table).body
    for text in (">0.0241<", ">0.0239<", ">517<", "4200 MPa, local, 0.70 depths", "71.2 MPa, distortional"):
        assert text in body, text
    assert "no minimum" in body and "an eccentric load" in body
    assert "e+" not in body and ">0.0<" not in body


@pytest.mark.parametrize(("size", "unit"), [(12.0, "[N]"), (12e3, "[kN]")])
def test_the_unit_fits_the_loads(size, unit):
    table = rows({"resistance_N": size, "resistance_without_walls": size})
    body = walls_telling.critical(SimpleNamespace(curves={}), table).body
    assert unit in body and ">12.0<" in body
