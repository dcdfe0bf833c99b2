"""Ranks with the intervals that resampling leaves them."""

from __future__ import annotations

import altair as alt
import pandas as pd

from kit.writeup import look
from kit.writeup.charts.frames import labels, note, signif
from kit.writeup.figures import Figure

KEY, TITLE = "rank-intervals", "Ranks, and how far they can move"
MOST_ROWS = 40
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
        return note(KEY, TITLE, "Nothing could be ranked.")
    table = ranks[ranks["rank"].notna()]
    rows = pd.DataFrame(
        {
            "panel": _panels(table),
            "name": labels(table.assign(outline=table[name])),
            "rank": signif(table["rank"], 4),
            "low": signif(table.get("rank_low", table["rank"]).fillna(table["rank"])),
            "high": signif(table.get("rank_high", table["rank"]).fillna(table["rank"])),
        }
    )
    shown = rows[rows.groupby("panel", sort=False)["rank"].rank(method="first") <= MOST_ROWS]
    panels = [_panel(shown[shown["panel"] == panel], panel) for panel in dict.fromkeys(shown["panel"])]
    chart = alt.concat(*panels, columns=3)
    caption = (
        "The dot is the rank, the bar its interval. Rows whose bars overlap are not told apart by this study."
    )
    if len(shown) < len(rows):
        caption += f" The first {MOST_ROWS} of each panel are drawn; ranks.csv holds all."
    return Figure(KEY, chart, TITLE, caption, _words(rows), {"panel": 190, "most": 3, "margin": 130})


def _panels(table: pd.DataFrame) -> list[str]:
    parts = [table[column].astype(str) for column in ("load_case", "variant", "level") if column in table]
    parts = [part for i, part in enumerate(parts) if i == 0 or part.nunique() > 1]
    return [" — ".join(values) for values in zip(*parts, strict=True)] if parts else ["all"] * len(table)


def _panel(rows: pd.DataFrame, panel: str) -> alt.LayerChart:
    order = list(rows.sort_values("rank", kind="stable")["name"])
    y = alt.Y("name:N", sort=order, title=None).axis(domain=False, ticks=False, labelLimit=120)
    x = alt.X("low:Q", title="rank (1 is best)", scale=alt.Scale(zero=False, nice=False)).axis(
        tickMinStep=1, format="d"
    )
    picked = alt.selection_point(name="picked", fields=["name"], on="click", empty=True)
    seen = alt.condition(picked, alt.value(1), alt.value(0.15))
    base = alt.Chart(rows).transform_calculate(
        words="datum.name + ': rank ' + datum.rank + ', from ' + datum.low + ' to ' + datum.high"
    )
    tips = [
        alt.Tooltip("name:N", title="name"),
        alt.Tooltip("rank:Q"),
        alt.Tooltip("low:Q", title="from"),
        alt.Tooltip("high:Q", title="to"),
    ]
    bars = base.mark_bar(height=6, color="#b9c6d3", cornerRadius=3).encode(
        y=y, x=x, x2="high:Q", opacity=seen, description=alt.Description("words:N"), tooltip=tips
    )
    dots = (
        base.mark_circle(size=46, color=look.MARK, opacity=1)
        .encode(y=y, x=alt.X("rank:Q"), opacity=seen, tooltip=tips, description=alt.Description("words:N"))
        .add_params(picked)
    )
    case, _, variant = panel.partition(" — ")
    title = alt.TitleParams(text=case, subtitle=variant) if variant else alt.TitleParams(text=case)
    return alt.layer(bars, dots).properties(width=190, height=alt.Step(16), title=title)


def _words(rows: pd.DataFrame) -> str:
    said = [f"Ranks in {rows['panel'].nunique()} panels."]
    for panel, part in list(rows.groupby("panel", sort=False))[:8]:
        first = part.loc[part["rank"].idxmin()]
        said.append(f"{panel}: first {first['name']}, rank between {first['low']:g} and {first['high']:g}.")
    return " ".join(said)
