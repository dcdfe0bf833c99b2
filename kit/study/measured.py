"""The measured stress–strain curve of a variant's material, carried to the moments of every section."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from kit.errors import Unusable
from kit.members.cases import LoadCase
from kit.members.curve_moments import applies, curve_columns, name
from kit.members.materials import Material


def with_curve_moments(
    table: pd.DataFrame, marks, cases: Iterable[LoadCase], material: Material
) -> pd.DataFrame:
    """The sections with their greatest moments by the measured curve, for the load cases that bend them.

    Parameters
    ----------
    table : DataFrame
        With ``section_id``.
    marks : mapping
        Polygon of each section as it stands, by its id.
    cases, material

    Returns
    -------
    DataFrame
        The same where no load case bends or the material has no curve. A section that cannot be cut into
        fibres gets NaN: not assessed.
    """
    for held in (True, False):
        bent = [case for case in cases if applies(case, material) and (case.restraint != "none") == held]
        if bent and name(held, False) not in table:
            rows = [_columns(marks[section], bent[0], material) for section in table["section_id"]]
            names = [name(held, False), name(held, True)]
            table = table.assign(**pd.DataFrame(rows, index=table.index, columns=names, dtype=float))
    return table


def row_with_curve_moments(row: pd.Series, marks, cases: Iterable[LoadCase], material: Material) -> pd.Series:
    """:func:`with_curve_moments` of one section."""
    if not any(applies(case, material) for case in cases):
        return row
    return with_curve_moments(pd.DataFrame([row]).infer_objects(), marks, cases, material).iloc[0]


def _columns(polygon, case: LoadCase, material: Material) -> dict[str, float]:
    try:
        return curve_columns(polygon, case, material)
    except (Unusable, ValueError, ArithmeticError, RuntimeError, np.linalg.LinAlgError):
        return {}
