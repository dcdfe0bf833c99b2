"""Which limit state governs where: outlines down, load cases and variants across."""

from __future__ import annotations

from collections.abc import Mapping

import altair as alt
import pandas as pd

from kit.writeup import look
from kit.writeup.charts import frames
from kit.writeup.figures import Figure
from kit.writeup.numbers import count

KEY, TITLE = "limit-states", "The limit state that governs"
MOST_ROWS = 60
CELL, ROW, FACE = 46, 17, 20


def limit_state_map(members: pd.DataFrame, polygons: Mapping | None = None) -> Figure:
    """A cell an outline and load case, coloured and lettered by limit state; shares where outlines are many.

    Parameters
    ----------
    members : DataFrame
        A row per section × variant × load case, with ``limit_state``.
    polygons : mapping, optional
        Polygons [mm] to draw beside each row's name: see :func:`kit.writeup.silhouettes.mark_paths`.
    """
    table = frames.with_panels(members)
    if table.empty:
        return frames.note(KEY, TITLE, "No member was computed.")
    counts = table["state"].value_counts()
    words = (
        f"Of {count(len(table), 'member')}: "
        + ", ".join(f"{name} in {n}" for name, n in counts.items())
        + "."
    )
    if table["label"].nunique() > MOST_ROWS:
        caption = "The share of the members that each limit state governs."
        return Figure(KEY, _shares(table), TITLE, caption, words, {"panel": 640, "most": 1, "width": True})
    cases = list(dict.fromkeys(table["load_case"].astype(str)))
    paths = frames.add_paths(table, polygons)
    panels = [_panel(table, case, paths) for case in cases]
    chart = frames.side_by_side(panels, len(cases))
    across = CELL * (table["variant"].nunique() if "variant" in table else 1)
    margin = FACE + 14 + frames.label_room(table["label"])
    layout = {"panel": across, "most": len(cases), "margin": margin}
    return Figure(KEY, chart, TITLE, _caption(table), words, layout)


def _panel(table: pd.DataFrame, case: str, paths: pd.DataFrame) -> alt.LayerChart:
    """The map of one load case: variants across."""
    part = table[table["load_case"].astype(str) == case]
    rows = part[["label", "panel", "state", "key"]].assign(
        code=[look.state_look(s).code for s in part["state"]]
    )
    rows["variant"] = part["variant"].astype(str) if "variant" in part else "all"
    rows["dark"] = [is_dark(look.state_look(s).colour) for s in part["state"]]
    state = alt.selection_point(name="state", fields=["key"], bind="legend")
    names = list(dict.fromkeys(table["label"]))
    y = alt.Y("label:N", sort=names, title=None, scale=alt.Scale(domain=names))
    y = y.axis(domain=False, ticks=False, labelLimit=156, labelPadding=FACE + 6)
    several = rows["variant"].nunique() > 1
    turned = {"labelAngle": -90, "labelAlign": "left", "labelOverlap": False, "labelLimit": 150}
    x = alt.X("variant:N", sort=list(dict.fromkeys(rows["variant"])), title=None)
    x = x.axis(orient="top", domain=False, ticks=False, labels=several, **turned)
    cells = _cells(rows, table["key"], state).encode(x=x, y=y)
    codes = alt.Chart(rows).mark_text(fontSize=9.5)
    ink = alt.condition("datum.dark", alt.value("white"), alt.value(look.INK))
    codes = codes.encode(x=x, y=y, text="code:N", opacity=_seen(state), color=ink)
    width = CELL * rows["variant"].nunique()
    layers = alt.layer(cells, codes, _faces(paths, y))
    return layers.properties(width=width, height=ROW * len(names), title=case)


def _seen(state: alt.Parameter):
    return alt.condition(state, alt.value(1), alt.value(0.12))


def _cells(rows: pd.DataFrame, keys: pd.Series, state: alt.Parameter) -> alt.Chart:
    said = "datum.label + ', ' + datum.panel + ': ' + datum.state"
    mark = alt.Chart(rows).transform_calculate(words=said).mark_rect(stroke="white", strokeWidth=1.5)
    tips = (("label", "outline"), ("panel", "load case"), ("state", "limit state"))
    return mark.encode(
        color=frames.state_colour(keys, columns=3),
        opacity=_seen(state),
        tooltip=[alt.Tooltip(f"{column}:N", title=title) for column, title in tips],
        description=alt.Description("words:N"),
    ).add_params(state)


def _faces(paths: pd.DataFrame, y: alt.Y) -> alt.Chart:
    mark = alt.Chart(paths).mark_point(filled=True, color=look.INK, size=125, opacity=1, strokeWidth=0)
    shape = alt.Shape("path:N", scale=None, legend=None)
    return mark.encode(y=y, x=alt.value(-FACE / 2 - 2), shape=shape, description="label:N")


def _shares(table: pd.DataFrame) -> alt.Chart:
    """For very many outlines: how large a share of each panel each limit state governs."""
    counts = table.groupby(["panel", "state", "key"], sort=False).size().rename("members").reset_index()
    x = alt.X("members:Q", stack="normalize", title="share of the members [–]").axis(
        format=".0%", values=[0, 0.25, 0.5, 0.75, 1]
    )
    y = alt.Y("panel:N", sort=frames.panel_order(table), title=None)
    tips = [
        alt.Tooltip("panel:N", title="load case"),
        alt.Tooltip("state:N", title="limit state"),
        "members:Q",
    ]
    bars = alt.Chart(counts).mark_bar(stroke="white", strokeWidth=1)
    return bars.encode(
        x=x,
        y=y.axis(labelLimit=190, ticks=False, domain=False),
        color=frames.state_colour(table["key"], columns=3),
        tooltip=tips,
        description=alt.Description("state:N"),
    ).properties(width=420, height=alt.Step(26))


def is_dark(colour: str) -> bool:
    """Whether white letters read better on a colour than ink (relative luminance below 0.18, WCAG 2)."""
    return luminance(colour) < 0.18


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour, 0 to 1 (WCAG 2)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _caption(table: pd.DataFrame) -> str:
    codes = {look.state_look(s).code: look.state_look(s).group for s in table["state"]}
    key = ", ".join(f"{code} {group}" for code, group in sorted(codes.items()))
    return f"Letters repeat the colours for grey print: {key}."
