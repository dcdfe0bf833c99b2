"""Merit by outline: how many times the reference's load an outline carries at the reference's mass."""

from __future__ import annotations

from collections.abc import Mapping

import altair as alt
import pandas as pd

from kit.writeup import look
from kit.writeup.charts import frames
from kit.writeup.figures import Figure
from kit.writeup.numbers import count

KEY, TITLE = "merit-by-outline", "Merit: load at equal mass, as a multiple of the reference's"
MOST_ROWS = 36
ROW = 18
FACE = 22
MOST_TOLD = 8  # panels in words


def merit_by_outline(members: pd.DataFrame, polygons: Mapping | None = None) -> Figure:
    """One row an outline, one panel a load case, a mark a member; the rule at 1 is the reference.

    Parameters
    ----------
    members : DataFrame
        With ``merit`` (resistance at the reference's mass ÷ the reference's resistance).
    polygons : mapping, optional
        Polygons [mm] to draw beside each row's name: see :func:`kit.writeup.silhouettes.mark_paths`.
    """
    table = frames.with_panels(members)
    if "merit" not in table or not (table["merit"].astype(float) > 0).any():
        return frames.note(KEY, TITLE, "No member could be compared with the reference.")
    every = table[table["merit"].notna()]
    usable = table[table["merit"].astype(float) > 0]
    names, left = _rows_shown(usable)
    usable = usable[usable["label"].isin(names)]
    rows = pd.DataFrame(
        {
            "case": usable["load_case"].astype(str),
            "panel": usable["panel"],
            "label": usable["label"],
            "merit": frames.signif(usable["merit"], 3),
            "state": usable["state"],
            "key": usable["key"],
        }
    )
    paths = frames.add_paths(usable, polygons)
    panels = [_panel(rows, case, names, paths) for case in dict.fromkeys(rows["case"])]
    chart = frames.side_by_side(panels, 3)
    layout = {"panel": 190, "most": 3, "margin": FACE + 14 + frames.label_room(names), "grow": 1.7}
    return Figure(KEY, chart, TITLE, _caption(every, usable, left), _words(every), layout)


def _rows_shown(usable: pd.DataFrame) -> tuple[list[str], int]:
    """Labels by median merit, best first; of many only the best and the worst."""
    order = usable.groupby("label")["merit"].median().sort_values(ascending=False, kind="stable")
    names = list(order.index)
    if len(names) <= MOST_ROWS:
        return names, 0
    best = MOST_ROWS * 2 // 3
    return names[:best] + names[best - MOST_ROWS :], len(names) - MOST_ROWS


def _panel(every: pd.DataFrame, case: str, names: list[str], paths: pd.DataFrame) -> alt.LayerChart:
    rows = every[every["case"] == case]
    y = alt.Y("label:N", sort=names, title=None, scale=alt.Scale(domain=names))
    y = y.axis(
        domain=False, ticks=False, labelLimit=156, labelPadding=FACE + 6, grid=True, gridColor="#eef0f3"
    )
    limits = frames.padded(pd.concat([rows["merit"], pd.Series([1.0])]), 0.06)
    x = alt.X("merit:Q", title="merit [–]", scale=alt.Scale(type="log", domain=limits, nice=False))
    x = x.axis(grid=False, tickCount=4, format="~g")
    one = alt.Chart(pd.DataFrame({"merit": [1.0]})).mark_rule(color=look.INK, strokeDash=[5, 3]).encode(x=x)
    span = alt.Chart(rows).mark_rule(color=look.HAIR, strokeWidth=2)
    span = span.encode(x=alt.X("min(merit):Q"), x2="max(merit):Q", y=y)
    layers = [one, _faces(paths, y), span, _dots(rows, every).encode(x=x, y=y)]
    return alt.layer(*layers).properties(width=190, height=ROW * len(names) + 10, title=case)


def _faces(paths: pd.DataFrame, y: alt.Y) -> alt.Chart:
    """The silhouettes, between the names and the panel."""
    mark = alt.Chart(paths).mark_point(filled=True, color=look.INK, size=150, opacity=1, strokeWidth=0)
    shape = alt.Shape("path:N", scale=None, legend=None)
    return mark.encode(y=y, x=alt.value(-FACE / 2 - 2), shape=shape, description="label:N")


def _dots(rows: pd.DataFrame, every: pd.DataFrame) -> alt.Chart:
    picked = alt.selection_point(name="picked", fields=["label"], on="click", empty=True)
    state = alt.selection_point(name="state", fields=["key"], bind="legend")
    said = "datum.label + ', ' + datum.panel + ': merit ' + datum.merit + ', ' + datum.state"
    mark = alt.Chart(rows).transform_calculate(words=said)
    mark = mark.mark_circle(size=62, stroke="white", strokeWidth=0.6, cursor="pointer")
    return mark.encode(
        color=frames.state_colour(every["key"], "circle"),
        opacity=alt.condition(picked & state, alt.value(1), alt.value(0.12)),
        tooltip=[
            alt.Tooltip("label:N", title="outline"),
            alt.Tooltip("panel:N", title="load case"),
            alt.Tooltip("merit:Q", title="merit", format=".3~g"),
            alt.Tooltip("state:N", title="limit state"),
        ],
        description=alt.Description("words:N"),
    ).add_params(picked, state)


def _caption(every: pd.DataFrame, usable: pd.DataFrame, left: int) -> str:
    several = usable.groupby(["label", "load_case"], sort=False).size().max() > 1
    parts = ["Rows run from the best to the worst median merit; the dashed rule at 1 is the reference."]
    if several:
        parts.append("A line joins the variants of one load case.")
    nothing = int((every["merit"].astype(float) == 0).sum())
    if nothing:
        parts.append(
            f"{count(nothing, 'member has', 'members have')} a merit of 0 and no mark on this scale."
        )
    if left:
        parts.append(f"{left} rows between the best and the worst are not drawn; members.csv holds them.")
    return " ".join(parts)


def _words(every: pd.DataFrame) -> str:
    """Best and worst of each panel among all members with a merit, drawn or not."""
    panels = frames.panel_order(every)
    said = [f"Merit of {count(every['label'].nunique(), 'section')}."]
    for name in panels[:MOST_TOLD]:
        part = every[every["panel"] == name]
        best, worst = part.loc[part["merit"].idxmax()], part.loc[part["merit"].idxmin()]
        first, last = (f"{row['label']} ({row['merit']:.3g})" for row in (best, worst))
        alike = best["merit"] - worst["merit"] <= 1e-6 * best["merit"]
        said.append(f"{name}: all alike." if alike else f"{name}: best {first}, worst {last}.")
    said += [f"And {len(panels) - MOST_TOLD} more panels."] if len(panels) > MOST_TOLD else []
    return " ".join(said)
