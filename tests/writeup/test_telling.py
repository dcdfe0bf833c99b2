"""What the write-up says of a study's methods: every input of a load case, and what its answers rest on."""

from dataclasses import fields
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from kit.members.cases import BendingCase, CompressionCase, TensionCase, TorsionCase
from kit.writeup import reviewing, telling

CASES = {
    "bending": (
        BendingCase("b", 900.0, loading="four-point"),
        {"load_spacing_mm": 123.0, "bearing_length_mm": 31.0, "deflection_limit": 1 / 250, "load_line_mm": 7.0,
         "supports": "forked", "bow": 1 / 750, "restraint": "sideways", "load_height": "bottom", "span_mm": 901.0,
         "loading": "four-point"},
    ),
    "compression": (
        CompressionCase("c", 900.0),
        {"length_mm": 901.0, "ends": "fixed-free", "ends_y": "fixed-fixed", "eccentricity_x_mm": 3.0,
         "eccentricity_y_mm": 4.0, "bow": 1 / 750, "column_curve": "euler"},
    ),
    "tension": (TensionCase("t", 900.0), {"length_mm": 901.0, "holes_area_mm2": 55.0}),
    "torsion": (TorsionCase("s", 900.0), {"length_mm": 901.0, "ends": "warping-held", "twist_limit_deg": 5.0}),
}  # fmt: skip


@pytest.mark.parametrize("kind", CASES)
def test_whatever_changes_a_load_case_changes_what_is_told_of_it(kind):
    case, changes = CASES[kind]
    assert {field.name for field in fields(case)} == {"name", *changes}
    for name, value in changes.items():
        if value != getattr(case, name):
            one = {**{f.name: getattr(case, f.name) for f in fields(case)}, name: value}
            assert telling.describe(type(case)(**one)) != telling.describe(case), name


def study(resample="family", group_by=("family",)):
    return SimpleNamespace(
        model=SimpleNamespace(ranking=SimpleNamespace(resample=resample, group_by=group_by))
    )


def ranks(**intervals: tuple[int, float]) -> SimpleNamespace:
    rows = [(level, families, low) for level, (families, low) in intervals.items()]
    return SimpleNamespace(ranks=pd.DataFrame(rows, columns=["level", "families", "rank_low"]))


def test_where_families_are_ranked_the_answer_says_that_characters_are_drawn():
    text = reviewing._resampled(study(), ranks(family=(26, 1.0)))
    assert (
        "Ranks by family: each character" in text
        and "26 in the largest" in text
        and "each family" not in text
    )


def test_groups_with_and_without_intervals_are_told_apart():
    text = reviewing._resampled(
        study(group_by=("character", "family")), ranks(character=(4, np.nan), family=(9, 1.0))
    )
    assert "Ranks by character stand without an interval" in text and "at most 4" in text
    text = reviewing._resampled(study("style", ("character",)), ranks(character=(12, 2.0)))
    assert "each style enters and is drawn again" in text
