"""From the tables of a study to the few columns a chart needs."""

from __future__ import annotations

import warnings
from collections.abc import Mapping

import altair as alt
import numpy as np
import pandas as pd

from kit.writeup import look
from kit.writeup.figures import Figure
from kit.writeup.silhouettes import mark_paths

MOST_MARKS = 2500
"""Above this many marks a chart shows densities, binned here, in place of marks."""


def with_panels(members: pd.DataFrame) -> pd.DataFrame:
    """A copy with the columns every chart of members shares.

    Adds ``panel`` (load case and variant in words), ``load`` (in ``load_unit``), ``label`` (outline and
    turn), ``state`` (limit state or "not assessed"), ``key`` (its entry in the key of colours) and ``group``
    (family, character or outline).
    """
    table = members.copy()
    table["label"] = labels(table)
    table["panel"] = _panel_names(table)
    table["load"], table["load_unit"] = _loads(table)
    state = table.get("limit_state", pd.Series("", index=table.index)).astype("string").fillna("")
    table["state"] = state.where((state != "") & table["load"].notna(), "not assessed").astype(str)
    table["key"] = table["state"].map(look.legend_words(table["state"]))
    table["group"] = _groups(table)
    return table


def labels(table: pd.DataFrame) -> pd.Series:
    """Outline names, with the turn where the study turns outlines."""
    names = table["outline"].astype(str)
    turns = table.get("orientation_deg")
    if turns is None or turns.nunique() < 2:
        return names
    return names + [f" · {turn:g}°" for turn in turns]


def panel_order(table: pd.DataFrame) -> list[str]:
    """Panels in the order of the table."""
    return list(dict.fromkeys(table["panel"]))


def add_paths(table: pd.DataFrame, polygons: Mapping | None) -> pd.DataFrame:
    """One row a section: ``label`` and its mark's ``path``, for a lookup in the chart."""
    once = table.drop_duplicates("label")
    return pd.DataFrame({"label": once["label"].to_numpy(), "path": mark_paths(once, polygons)})


def padded(values: pd.Series, share: float = 0.12, log: bool = True) -> list[float]:
    """A domain around finite values with room for marks and labels [same unit]."""
    finite = values[np.isfinite(values.astype(float))].astype(float)
    finite = finite[finite > 0] if log else finite
    if finite.empty:
        return [0.5, 2.0] if log else [0.0, 1.0]
    low, high = float(finite.min()), float(finite.max())
    if log:
        reach = max(np.log(high / low), 0.2) * share
        return [float(f"{low / np.exp(reach):.4g}"), float(f"{high * np.exp(reach):.4g}")]
    reach = max(high - low, abs(high) * 0.1, 1e-12) * share
    return [float(f"{low - reach:.4g}"), float(f"{high + reach:.4g}")]


def signif(values: pd.Series, digits: int = 4) -> list[float | None]:
    """Rounded to significant digits, missing as None: short numbers in a page's data."""
    return [float(f"{v:.{digits}g}") if np.isfinite(v) else None for v in values.astype(float)]


def side_by_side(panels: list, columns: int) -> alt.ConcatChart:
    """Panels in a grid that share their colours and their selections."""
    with warnings.catch_warnings():
        # That panels share a selection is meant: picking in one picks in all.
        warnings.filterwarnings("ignore", message="Automatically deduplicated selection parameter")
        return alt.concat(*panels, columns=columns).resolve_scale(color="shared")


def heading(panel: str) -> alt.TitleParams:
    """A panel's title: the load case, and under it the variant."""
    case, _, variant = panel.partition(" — ")
    return alt.TitleParams(text=case, subtitle=variant) if variant else alt.TitleParams(text=case)


def state_colour(keys: pd.Series, symbol: str = "square", columns: int = 4) -> alt.Color:
    """Colour by limit state, the same in every chart, with a key that picks a state when clicked."""
    domain, colours = look.state_scale(sorted(set(keys)))
    scale = alt.Scale(domain=domain, range=colours)
    return alt.Color("key:N", scale=scale).legend(
        title="limit state (click to pick)", orient="top", symbolType=symbol, columns=columns, labelLimit=330
    )


def label_room(names: pd.Series | list[str], most: int = 170) -> int:
    """Room that the longest of these names takes beside an axis [px], at the charts' letter size."""
    return int(min(most, 14 + 6.1 * max((len(str(name)) for name in names), default=0)))


def note(key: str, title: str, why: str) -> Figure:
    """A figure that says why there is nothing to draw: a missing figure never stops a report."""
    frame = pd.DataFrame({"words": [why]})
    chart = (
        alt.Chart(frame)
        .mark_text(align="left", fontSize=12, color=look.QUIET)
        .encode(text="words:N", x=alt.value(4), y=alt.value(20))
    )
    return Figure(key, chart.properties(width=560, height=40), title, why, why, {"panel": 560, "most": 1})


def _panel_names(table: pd.DataFrame) -> list[str]:
    cases = table["load_case"].astype(str)
    if "variant" not in table or table["variant"].nunique() < 2:
        return list(cases)
    return [f"{case} — {variant}" for case, variant in zip(cases, table["variant"].astype(str), strict=True)]


def _loads(table: pd.DataFrame) -> tuple[pd.Series, pd.Series]:
    """Resistance in a readable unit: N or kN for forces, N m for torques, one unit a kind."""
    nothing = pd.Series(np.nan, index=table.index)
    force = pd.to_numeric(table.get("resistance_N", nothing), errors="coerce")
    torque = pd.to_numeric(table.get("resistance_Nmm", nothing), errors="coerce")
    kilo = bool(force.notna().any() and force.median() >= 1000)
    load = (force / 1000 if kilo else force).where(force.notna(), torque / 1000)
    kind = table.get("kind", pd.Series("", index=table.index)).astype(str)
    torsion = (kind == "torsion") | (force.isna() & torque.notna())
    return load, torsion.map({True: "N m", False: "kN" if kilo else "N"})


def _groups(table: pd.DataFrame) -> pd.Series:
    for column in ("family", "character"):
        if column in table:
            group = table[column].astype("string").fillna("")
            if group.ne("").any():
                return group.where(group != "", table["outline"].astype("string")).astype(str)
    return table["outline"].astype(str)
