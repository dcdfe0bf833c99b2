"""Ranks with the intervals that resampling leaves them, or merits with those of the stated uncertainty."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt
import numpy as np
import pandas as pd

from kit.study.ranking import COMPLETE, LEAST_FAMILIES, checked_apart
from kit.writeup import look
from kit.writeup.charts import frames
from kit.writeup.figures import Figure
from kit.writeup.numbers import count

KEY, TITLE = "rank-intervals", "Ranks, and how far they can move"
MOST_ROWS = 26
MOST_PANELS = 12
MOST_MERITS = 15
MERIT = ("merit", "merit_low", "merit_high")
NAMES = ("item", "name", "outline", "group", "character", "family", "label")


def rank_intervals(ranks: pd.DataFrame, variants: Sequence[str] = ()) -> Figure:
    """Rank of each group by load case, with its interval; without any, the merits of outlines with theirs.

    Ranks have intervals where groups could be resampled. Where none could, but the study states an uncertainty,
    the merits have. Where neither is known there is no chart.

    Parameters
    ----------
    ranks : DataFrame
        ``variant``, ``load_case``, ``level`` (what is ranked), ``item`` (its name), ``orientation_deg``,
        ``rank``, ``rank_low``, ``rank_high`` (missing where nothing could be resampled), ``merit``,
        ``merit_low``, ``merit_high`` (missing where the study states no uncertainty).
    variants : sequence of str, optional
        The order of the panels; without it that of the table.
    """
    name = next((column for column in NAMES if column in ranks), None)
    if name is None or ranks.empty or "rank" not in ranks or ranks["rank"].isna().all():
        return frames.note(KEY, TITLE, "Nothing could be ranked.")
    known = _in_order(ranks[ranks["rank"].notna()], variants)
    if _told_apart(known).empty:
        return frames.note(KEY, TITLE, "All that could be ranked is equal: there is no order to show.")
    if not _has(known, "rank_low").any():
        return _merits(known, name)
    table = _told_apart(_telling(known))
    if table.empty:
        return frames.note(KEY, TITLE, "All that could be resampled is equal: there is no order to show.")
    rows = pd.DataFrame(
        {
            "panel": _panels(table),
            "name": frames.labels(table.assign(outline=table[name])),
            "rank": frames.signif(table["rank"], 4),
            "low": frames.signif(table["rank_low"].fillna(table["rank"])),
            "high": frames.signif(table["rank_high"].fillna(table["rank"])),
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
        caption += f" Drawn are {len(shown)} of {len(table)} rows, {_of_panels(rows)}; ranks.csv holds all."
    return Figure(KEY, chart, TITLE, caption, _words(rows), layout)


def _in_order(table: pd.DataFrame, variants: Sequence[str]) -> pd.DataFrame:
    """The rows of the variants named, in the order of their names; all others behind."""
    if "variant" not in table:
        return table
    place = {name: number for number, name in enumerate(variants)}
    places = [place.get(name, len(place)) for name in table["variant"]]
    return table.iloc[np.argsort(places, kind="stable")]


def _has(table: pd.DataFrame, column: str) -> pd.Series:
    """Which rows have a value in a column that may be missing altogether."""
    return table[column].notna() if column in table else pd.Series(False, index=table.index)


def _telling(table: pd.DataFrame) -> pd.DataFrame:
    """The rows of what was resampled: single outlines have no interval of their rank."""
    if "level" not in table:
        return table
    drawn = table[~table["level"].astype(str).str.endswith(COMPLETE)]
    return drawn[drawn["level"].isin(drawn.loc[drawn["rank_low"].notna(), "level"].unique())]


def _merits(known: pd.DataFrame, name: str) -> Figure:
    """Merits with the intervals of the stated uncertainty, best first, where no rank has an interval."""
    table = _told_apart(known[_has(known, "merit_low")])
    if table.empty:
        return frames.note(KEY, TITLE, f"{_without(known)} The ranks stand in ranks.csv without intervals.")
    rows = pd.DataFrame(
        {
            "panel": _panels(table),
            "name": frames.labels(table.assign(outline=table[name])),
            **{column: frames.signif(table[column]) for column in ("rank", *MERIT)},
        }
    )
    few = list(dict.fromkeys(rows["panel"]))[:MOST_PANELS]
    shown = rows[rows["panel"].isin(few)]
    shown = shown[shown.groupby("panel", sort=False)["rank"].rank(method="first") <= MOST_MERITS]
    chart = frames.side_by_side([_merit_panel(shown[shown["panel"] == panel], panel) for panel in few], 3)
    layout = {"panel": 150, "most": 3, "margin": 16 + frames.label_room(shown["name"], 136), "grow": 1.6}
    caption = (
        f"Best first: the dot is the merit, the bar holds 95 % of its draws under the stated uncertainty; the rule "
        f"at 1 is the reference. At most {MOST_MERITS} rows a panel, {_of_panels(rows)}; ranks.csv holds all. Load "
        f"cases in which all are equal are left out. {_without(known)}"
    )
    return Figure(KEY, chart, "Merits, and how far they can move", caption, _merit_words(rows), layout)


def _of_panels(rows: pd.DataFrame) -> str:
    """Which rows are drawn: the first of every panel, or of the first panels where there are very many."""
    panels = rows["panel"].nunique()
    first = f"the first {MOST_PANELS} of {panels} panels" if panels > MOST_PANELS else "each panel"
    return f"the first of {first}"


def _without(known: pd.DataFrame) -> str:
    """Why no rank has an interval, in a sentence."""
    groups = known[known["level"] != "outline"] if "level" in known else known.iloc[:0]
    if groups.empty:
        return "No groups were ranked that could be resampled."
    levels = " and ".join(dict.fromkeys(groups["level"].astype(str)))
    most = groups["families"].max() if "families" in groups else float("nan")
    if most < LEAST_FAMILIES:
        return (
            f"The ranks by {levels} have no interval: with at most {most:g} families in a group none can be had, "
            f"{LEAST_FAMILIES} are the least."
        )
    return f"The ranks by {levels} have no interval: nothing was resampled."


def _told_apart(table: pd.DataFrame) -> pd.DataFrame:
    """Without the groups in which all merits are equal: their ranks are rounding."""
    groups = [column for column in ("variant", "load_case", "level") if column in table]
    if "merit" not in table or not groups or table["merit"].isna().all():
        return table
    merits = table.groupby(groups, sort=False)["merit"]
    least, most = merits.transform("min"), merits.transform("max")
    return table[most - least > 1e-6 * most.abs()]


def _panels(table: pd.DataFrame) -> list[str]:
    if "limit_states_checked" in table:  # rows checked for different limit states are ranked apart
        checked = checked_apart(table)
        case = table["load_case"].astype(str)
        table = table.assign(load_case=case.where(checked == "", case + ", " + checked))
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


def _merit_panel(rows: pd.DataFrame, panel: str) -> alt.LayerChart:
    order = list(rows.sort_values("rank", kind="stable")["name"])
    y = alt.Y("name:N", sort=order, title=None)
    y = y.axis(domain=False, ticks=False, labelLimit=130, labelPadding=8)
    ends = frames.padded(pd.concat([rows["merit_low"], rows["merit_high"], pd.Series([1.0])]), 0.06)
    x = {"title": "merit [–]", "scale": alt.Scale(type="log", domain=ends, nice=False)}
    x["axis"] = alt.Axis(grid=False, tickCount=4, format="~g")
    at = alt.X("merit:Q", **x)
    picked = alt.selection_point(name="picked", fields=["name"], on="click", empty=True)
    said = "datum.name + ': merit ' + datum.merit + ', from ' + datum.merit_low + ' to ' + datum.merit_high"
    base = alt.Chart(rows).transform_calculate(words=said)
    tips = [alt.Tooltip(f"{c}:Q", title=t) for c, t in zip(MERIT, ("merit", "from", "to"), strict=True)]
    shared = {
        "y": y,
        "opacity": alt.condition(picked, alt.value(1), alt.value(0.15)),
        "tooltip": [alt.Tooltip("name:N", title="outline"), alt.Tooltip("rank:Q"), *tips],
        "description": alt.Description("words:N"),
    }
    one = alt.Chart(pd.DataFrame({"merit": [1.0]})).mark_rule(color=look.INK, strokeDash=[5, 3]).encode(x=at)
    bars = base.mark_bar(height=6, color="#b9c6d3")
    bars = bars.encode(x=alt.X("merit_low:Q", **x), x2="merit_high:Q", **shared)
    dots = base.mark_circle(size=46, color=look.MARK, opacity=1).encode(x=at, **shared).add_params(picked)
    layers = alt.layer(one, bars, dots)
    return layers.properties(width=150, height=alt.Step(16), title=frames.heading(panel))


def _merit_words(rows: pd.DataFrame) -> str:
    said = [f"Merits with their intervals in {count(rows['panel'].nunique(), 'panel')}."]
    for panel, part in list(rows.groupby("panel", sort=False))[:8]:
        first = part.loc[part["rank"].idxmin()]
        reach = f"between {first['merit_low']:g} and {first['merit_high']:g}"
        said.append(f"{panel}: first {first['name']}, merit {first['merit']:g}, {reach}.")
    return " ".join(said)


def _words(rows: pd.DataFrame) -> str:
    said = [f"Ranks in {count(rows['panel'].nunique(), 'panel')}."]
    for panel, part in list(rows.groupby("panel", sort=False))[:8]:
        first = part.loc[part["rank"].idxmin()]
        said.append(f"{panel}: first {first['name']}, rank between {first['low']:g} and {first['high']:g}.")
    return " ".join(said)
