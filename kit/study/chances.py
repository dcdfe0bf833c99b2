"""What the stated uncertainty does to resistances, to merits, and to the order of the outlines."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from kit.members.cases import LoadCase
from kit.members.uncertainty import HIGH, LOW, Uncertainty, blocks, resistance_interval
from kit.sections.section import scaled
from kit.study.ranking import comparable
from kit.study.resolving import Variant

RESISTANCE = ["resistance_low", "resistance_high"]
MERIT = ["merit_low", "merit_high", "flip_probability"]


def spread_of(variant: Variant, case: LoadCase) -> Uncertainty | None:
    """The uncertainty a study states for a kind of load case; None where it states none."""
    stated = variant.model.uncertainty
    if stated is None:
        return None
    return Uncertainty(stated.samples, stated.seed, stated.dimensions, getattr(stated.model, case.kind))


def intervals(variant: Variant, case: LoadCase, table: pd.DataFrame) -> pd.DataFrame:
    """Columns ``resistance_low`` and ``resistance_high`` under the stated uncertainty; NaN without one."""
    spread = spread_of(variant, case)
    if spread is None:
        return pd.DataFrame(np.nan, index=table.index, columns=RESISTANCE)
    return resistance_interval(table, case, variant.material, variant.service, spread)


def of_merit(
    variant: Variant, case: LoadCase, table: pd.DataFrame, reference: pd.Series, found: pd.DataFrame
) -> pd.DataFrame:
    """Intervals of the merits, and how sure the order of neighbours is; NaN without an uncertainty.

    Parameters
    ----------
    variant, case
    table : DataFrame
        Sections, labelled 0 … n − 1.
    reference : Series
        The row of the reference in it.
    found : DataFrame
        With ``merit`` and ``limit_states_checked`` of every section.

    Returns
    -------
    DataFrame
        ``merit_low`` and ``merit_high``: the 2.5 and 97.5 % points of the drawn merits, both resistances of
        a merit drawn. ``flip_probability``: the chance that the next outline in the rank stands ahead of
        this one; NaN for the last, for what is not ranked, and for repeats of an identical outline.

    Notes
    -----
    Sections are drawn in the order of their ranks, a few at a time, so that neighbours meet and memory does
    not grow with the table. The reference is drawn once, first, and is the same in every merit.
    """
    spread, order = spread_of(variant, case), _order(table, found)
    result = np.full((len(table), len(MERIT)), np.nan)
    if spread is not None and len(order):
        own = int(reference.name)
        positions = [own, *order.index[order.index != own]]
        drawn = _drawn(variant, case, table, positions, spread)
        _fill(result, order, own, drawn)
    return pd.DataFrame(result, index=table.index, columns=MERIT)


def _fill(result: np.ndarray, order: pd.Series, own: int, drawn: Iterator[tuple[int, np.ndarray]]) -> None:
    """Rows of merit_low, merit_high and flip_probability; the reference (``own``) is the first drawn."""
    reference = next(drawn)[1]
    before: tuple[str, int, np.ndarray] | None = None
    for position, group in order.items():
        values = reference if position == own else next(drawn)[1]
        result[position, :2] = np.percentile(values / reference, [LOW, HIGH])
        if group and before and group == before[0]:
            result[before[1], 2] = np.mean(values > before[2]) + 0.5 * np.mean(values == before[2])
        before = (group, position, values)


def _order(table: pd.DataFrame, found: pd.DataFrame) -> pd.Series:
    """Positions of the sections that have a merit, group by group and best first; "" for repeats."""
    checked = found["limit_states_checked"].map(comparable)
    content = table["content"] if "content" in table else pd.Series(table.index, table.index)
    rows = pd.DataFrame(
        {"group": checked, "merit": found["merit"], "outline": table["outline"], "content": content,
         "orientation": table["orientation_deg"]}
    )  # fmt: skip
    repeated = rows.duplicated(["content", "orientation"])
    rows = rows[np.isfinite(rows["merit"])]
    rows.loc[repeated[rows.index], "group"] = ""
    ordered = rows.sort_values(["group", "merit", "outline"], ascending=[True, False, True], kind="stable")
    return ordered["group"]


def _drawn(
    variant: Variant, case: LoadCase, table: pd.DataFrame, positions: list[int], spread: Uncertainty
) -> Iterator[tuple[int, np.ndarray]]:
    """Position and drawn resistances, (samples,) array, of sections scaled to the area of the first."""
    rows = table.loc[positions]
    alike = scaled(rows, np.sqrt(float(rows["area_mm2"].iloc[0]) / rows["area_mm2"].to_numpy()))
    for part, drawn in blocks(alike, case, variant.material, variant.service, spread):
        yield from zip(positions[part], drawn.T, strict=True)
