"""Ranks with the intervals that resampling leaves them."""

from __future__ import annotations

import altair as alt
import pandas as pd

from kit.writeup import look
from kit.writeup.charts import frames
from kit.writeup.figures import Figure

KEY, TITLE = "rank-intervals", "Ranks, and how far they can move"
MOST_ROWS = 26
MOST_PANELS = 12
NAMES = ("item", "name", "outline", "group", "character", "family", "label")


def rank_intervals(ranks: pd.DataFrame) -> Figure:
    """Rank of each outline or group by load case, with its interval.

    Parameters
    ----------
    ranks : DataFrame
        ``variant``, ``load_case``, ``level`` (what is ranked), ``item`` (its name), ``orientation_deg``,
        ``rank``, ``rank_low``, ``rank_high`` (missing where nothing could be resampled).
    """
    name = next((column for column in NAMES if column in ranks), None)
    if name is None or ranks.empty or "rank" not in ranks or ranks["rank"].isna().all():
        return frames.note(KEY, TITLE, "Nothing could be ranked.")
    known = ranks[ranks["rank"].notna()]
    table = _told_apart(_telling(known))
    if table.empty:
        return frames.note(KEY, TITLE, "All that could be ranked is equal: there is no order to show.")
    rows = pd.DataFrame(
        {
            "panel": _panels(table),
            "name": frames.labels(table.assign(outline=table[name])),
            "rank": frames.signif(table["rank"], 4),
            "low": frames.signif(table.get("rank_low", table["rank"]).fillna(table["rank"])),
            "high": frames.signif(table.get("rank_high", table["rank"]).fillna(table["rank"])),
        }
    )
    few = list(dict.fromkeys(rows["panel"]))[:MOST_PANELS]
    shown = rows[rows["panel"].isin(few)]
    shown = shown[shown.groupby("panel", sort=False)["rank"].rank(method="first") <= MOST_ROWS]
    chart = frames.side_by_side([_panel(shown[shown["panel"] == panel], panel) for panel in few], 4)
    layout = {"panel": 150, "most": 4, "margin": 16 + frames.label_room(shown["name"], 136), "grow": 1.6}
    caption = (
        "The dot is the rank, the bar its interval where one could be had. "
        "Rows whose bars overlap are not told apart."
    )
    if len(_telling(known)) > len(table):
        caption += " Load cases in which all are equal have no order and are left out."
    if len(shown) < len(table):
        caption += (
            f" Drawn are {len(shown)} of {len(table)} rows, the first of each panel; ranks.csv holds all."
        )
    return Figure(KEY, chart, TITLE, caption, _words(rows), layout)


def _telling(table: pd.DataFrame) -> pd.DataFrame:
    """The rows of what was resampled, where anything was: single outlines have no interval to show."""
    if "rank_low" not in table or "level" not in table:
        return table
    levels = table.loc[table["rank_low"].notna(), "level"].unique()
    return table[table["level"].isin(levels)] if len(levels) else table


def _told_apart(table: pd.DataFrame) -> pd.DataFrame:
    """Without the groups in which all merits are equal: their ranks are rounding."""
    groups = [column for column in ("variant", "load_case", "level") if column in table]
    if "merit" not in table or not groups or table["merit"].isna().all():
        return table
    merits = table.groupby(groups, sort=False)["merit"]
    least, most = merits.transform("min"), merits.transform("max")
    return table[most - least > 1e-6 * most.abs()]


def _panels(table: pd.DataFrame) -> list[str]:
    parts = [table[column].astype(str) for column in ("load_case", "variant", "level") if column in table]
    parts = [part for i, part in enumerate(parts) if i == 0 or part.nunique() > 1]
    return [" — ".join(values) for values in zip(*parts, strict=True)] if parts else ["all"] * len(table)


def _panel(rows: pd.DataFrame, panel: str) -> alt.LayerChart:
    order = list(rows.sort_values("rank", kind="stable")["name"])
    y = alt.Y("name:N", sort=order, title=None).axis(
        domain=False, ticks=False, labelLimit=130, labelPadding=8
    )
    ends = [0.4, float(rows["high"].max()) + 0.6]
    x = alt.X("low:Q", title="rank (1 is best)", scale=alt.Scale(domain=ends, zero=False, nice=False))
    x = x.axis(tickMinStep=1, format="d")
    picked = alt.selection_point(name="picked", fields=["name"], on="click", empty=True)
    seen = alt.condition(picked, alt.value(1), alt.value(0.15))
    said = "datum.name + ': rank ' + datum.rank + ', from ' + datum.low + ' to ' + datum.high"
    base = alt.Chart(rows).transform_calculate(words=said)
    tips = [alt.Tooltip(f"{c}:Q", title=t) for c, t in (("rank", "rank"), ("low", "from"), ("high", "to"))]
    shared = {"y": y, "opacity": seen, "tooltip": [alt.Tooltip("name:N", title="name"), *tips]}
    bars = base.mark_bar(height=6, color="#b9c6d3", cornerRadius=3).encode(x=x, x2="high:Q", **shared)
    dots = base.mark_circle(size=46, color=look.MARK, opacity=1).encode(x=alt.X("rank:Q"), **shared)
    layers = [
        layer.encode(description=alt.Description("words:N")) for layer in (bars, dots.add_params(picked))
    ]
    return alt.layer(*layers).properties(width=150, height=alt.Step(16), title=frames.heading(panel))


def _words(rows: pd.DataFrame) -> str:
    said = [f"Ranks in {rows['panel'].nunique()} panels."]
    for panel, part in list(rows.groupby("panel", sort=False))[:8]:
        first = part.loc[part["rank"].idxmin()]
        said.append(f"{panel}: first {first['name']}, rank between {first['low']:g} and {first['high']:g}.")
    return " ".join(said)
