"""Numbers and tables: digits that fit, units everywhere, nothing but text from values."""

import numpy as np
import pandas as pd
import pytest

from kit.writeup.numbers import count, heading, number, share, significant
from kit.writeup.tables import prose, table
from tests.writeup.invented import HOSTILE


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        ((1234.5, "N"), "1230 N"),
        ((0.012345, "mm"), "0.0123 mm"),
        ((12345.6, "N", 12100, 12600), "12\u202f350 N (12\u202f100 to 12\u202f600)"),
        ((1.2345, "", 1.1, 1.4), "1.23 (1.10 to 1.40)"),
        ((-2.5, "mm"), "−2.50 mm"),
        ((0.0, "kN"), "0 kN"),
        ((3.21e9, "mm⁶"), "3.21×10⁹ mm⁶"),
        ((float("nan"), "N"), "not assessed"),
        ((float("inf"), "N"), "not assessed"),
        ((None, "N"), "not assessed"),
    ],
)
def test_numbers_show_the_digits_that_fit(arguments, text):
    assert number(*arguments) == text


def test_text_that_holds_numbers_stands_at_the_right():
    frame = pd.DataFrame({"outline": ["a", "b"], "load [N]": [number(1234.5), number(0.0239)]})
    assert table(frame, "k", "c").body.count('class="n"') == 0
    shown = table(frame, "k", "c", numeric=["load [N]"]).body
    assert shown.count('class="n"') == 3 and ">0.0239<" in shown and ">1230<" in shown


def test_counts_and_shares():
    assert count(1, "outline") == "1 outline" and count(12345, "outline") == "12\u202f345 outlines"
    assert share(0.0345) == "3.5 %" or share(0.0345) == "3.4 %"


@pytest.mark.parametrize(
    ("column", "words", "unit"),
    [
        ("Ix_mm4", "Ix", "mm⁴"),
        ("tau_per_torque_1_per_mm3", "tau per torque", "1/mm³"),
        ("density_kg_m3", "density", "kg/m³"),
        ("resistance_Nmm", "resistance", "N mm"),
        ("outline", "outline", ""),
    ],
)
def test_units_come_from_column_names(column, words, unit):
    assert heading(column) == (words, unit)


def test_columns_share_their_decimals():
    assert significant(pd.Series([1.0, 22.22222, 3.3, np.nan])) == ["1.00", "22.22", "3.30", "–"]


def test_a_table_says_how_many_rows_there_are():
    made = table(pd.DataFrame({"a": range(9)}), "k", "Numbers.", most=4)
    assert made.caption.endswith("The first 4 of 9 rows.") and made.body.count("<tr>") == 5


def test_hostile_cells_and_headers_are_text():
    made = table(pd.DataFrame({HOSTILE: [HOSTILE]}), "k", HOSTILE)
    assert "<img" not in made._repr_mimebundle_()["text/html"]


def test_values_in_prose_are_text():
    shown = prose("**{name}** holds.", name="a_b*c $x$ <b>").text
    assert shown.startswith("**a\\_b\\*c") and "\\$x\\$" in shown and "\\<b\\>" in shown
