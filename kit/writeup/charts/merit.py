"""Merit by outline: how many times the reference's load an outline carries at the reference's mass."""

from __future__ import annotations

from collections.abc import Mapping

import altair as alt
import pandas as pd

from kit.writeup import look
from kit.writeup.charts.frames import add_paths, note, padded, panel_order, signif, with_panels
from kit.writeup.figures import Figure

KEY, TITLE = "merit-by-outline", "Merit: load at equal mass, as a multiple of the reference's"
MOST_ROWS = 36


def merit_by_outline(members: pd.DataFrame, polygons: Mapping | None = None) -> Figure:
    """One row an outline, one panel a load case, a mark a member; the rule at 1 is the reference.

    Parameters
    ----------
    members : DataFrame
        With ``merit`` (resistance at the reference's mass ÷ the reference's resistance).
    polygons : mapping, optional
        ``section_id`` → polygon [mm], drawn beside each row's name.
    """
    table = with_panels(members)
    if "merit" not in table or not (table["merit"].astype(float) > 0).any():
        return note(KEY, TITLE, "No member could be compared with the reference.")
    usable = table[table["merit"].astype(float) > 0]
    names, left = _rows_shown(usable)
    usable = usable[usable["label"].isin(names)]
    rows = pd.DataFrame(
        {
            "case": usable["load_case"].astype(str),
            "panel": usable["panel"],
            "label": usable["label"],
            "merit": signif(usable["merit"], 3),
            "state": usable["state"],
        }
    )
    cases = list(dict.fromkeys(rows["case"]))
    height = 19 * len(names) + 10
    panels = [
        _panel(rows[rows["case"] == case], case, names, rows, height, i == 0) for i, case in enumerate(cases)
    ]
    chart = alt.hconcat(_faces(usable, names, polygons, height), *panels, spacing=10).resolve_scale(
        color="shared", y="shared"
    )
    layout = {"panel": 30 + (150 + 210 * len(cases)), "most": len(panels) + 1, "row": True}
    return Figure(KEY, chart, TITLE, _caption(usable, left), _words(usable), layout)


def _rows_shown(usable: pd.DataFrame) -> tuple[list[str], int]:
    """Labels by median merit, best first; of many only the best two thirds and the worst third of the space."""
    order = usable.groupby("label")["merit"].median().sort_values(ascending=False, kind="stable")
    names = list(order.index)
    if len(names) <= MOST_ROWS:
        return names, 0
    best = MOST_ROWS * 2 // 3
    return names[:best] + names[best - MOST_ROWS :], len(names) - MOST_ROWS


def _faces(usable: pd.DataFrame, names: list[str], polygons: Mapping | None, height: int) -> alt.Chart:
    """The silhouettes in a column of their own, at the left of the names."""
    paths = add_paths(usable, polygons)
    y = alt.Y("label:N", sort=names, axis=None, scale=alt.Scale(domain=names))
    mark = alt.Chart(paths).mark_point(filled=True, color=look.INK, size=150, opacity=1, strokeWidth=0)
    encoded = mark.encode(
        y=y, x=alt.value(10), shape=alt.Shape("path:N", scale=None, legend=None), description="label:N"
    )
    return encoded.properties(width=20, height=height)


def _panel(rows: pd.DataFrame, case: str, names: list[str], every: pd.DataFrame, height: int, first: bool):
    domain, colours = look.state_scale(sorted(set(every["state"])))
    picked = alt.selection_point(name="picked", fields=["label"], on="click", empty=True)
    state = alt.selection_point(name="state", fields=["state"], bind="legend")
    y = alt.Y("label:N", sort=names, title=None, scale=alt.Scale(domain=names))
    ticks = alt.Axis(domain=False, ticks=False, labelLimit=180, grid=True, gridColor="#eef0f3")
    y = y.axis(
        ticks if first else alt.Axis(labels=False, domain=False, ticks=False, grid=True, gridColor="#eef0f3")
    )
    limits = padded(pd.concat([rows["merit"], pd.Series([1.0])]), 0.06)
    x = alt.X("merit:Q", title="merit [–]", scale=alt.Scale(type="log", domain=limits, nice=False))
    x = x.axis(grid=False, tickCount=4, format="~g")
    colour = alt.Color("state:N", scale=alt.Scale(domain=domain, range=colours)).legend(
        title="limit state (click to pick)", orient="top", symbolType="circle", columns=4, labelLimit=260
    )
    rule = alt.Chart(pd.DataFrame({"merit": [1.0]})).mark_rule(color=look.INK, strokeDash=[5, 3]).encode(x=x)
    span = (
        alt.Chart(rows)
        .mark_rule(color=look.HAIR, strokeWidth=2)
        .encode(x=alt.X("min(merit):Q"), x2="max(merit):Q", y=y)
    )
    marks = (
        alt.Chart(rows)
        .transform_calculate(
            words="datum.label + ', ' + datum.panel + ': merit ' + datum.merit + ', ' + datum.state"
        )
        .mark_circle(size=62, stroke="white", strokeWidth=0.6, cursor="pointer")
        .encode(
            x=x,
            y=y,
            color=colour,
            opacity=alt.condition(picked & state, alt.value(1), alt.value(0.12)),
            tooltip=[
                alt.Tooltip("label:N", title="outline"),
                alt.Tooltip("panel:N", title="load case"),
                alt.Tooltip("merit:Q", title="merit", format=".3~g"),
                alt.Tooltip("state:N", title="limit state"),
            ],
            description=alt.Description("words:N"),
        )
        .add_params(picked, state)
    )
    return alt.layer(rule, span, marks).properties(width=200 if first else 190, height=height, title=case)


def _caption(usable: pd.DataFrame, left: int) -> str:
    several = usable.groupby(["label", "load_case"], sort=False).size().max() > 1
    parts = ["Rows run from the best to the worst median merit; the dashed rule at 1 is the reference."]
    if several:
        parts.append("A line joins the variants of one load case.")
    if left:
        parts.append(f"{left} outlines between the best and the worst are not drawn; members.csv holds them.")
    return " ".join(parts)


def _words(usable: pd.DataFrame) -> str:
    said = [f"Merit of {usable['label'].nunique()} outlines."]
    for name in panel_order(usable)[:8]:
        part = usable[usable["panel"] == name]
        best, worst = part.loc[part["merit"].idxmax()], part.loc[part["merit"].idxmin()]
        said.append(
            f"{name}: best {best['label']} ({best['merit']:.3g}), worst {worst['label']} ({worst['merit']:.3g})."
        )
    return " ".join(said)
