"""Which limit state governs where: outlines down, load cases and variants across."""

from __future__ import annotations

import altair as alt
import pandas as pd

from kit.writeup import look
from kit.writeup.charts.frames import note, panel_order, with_panels
from kit.writeup.figures import Figure

KEY, TITLE = "limit-states", "The limit state that governs"
MOST_ROWS = 60


def limit_state_map(members: pd.DataFrame) -> Figure:
    """A cell an outline and load case, coloured and lettered by limit state; shares where outlines are many.

    Parameters
    ----------
    members : DataFrame
        A row per section × variant × load case, with ``limit_state``.
    """
    table = with_panels(members)
    if table.empty:
        return note(KEY, TITLE, "No member was computed.")
    shown = _shares(table) if table["label"].nunique() > MOST_ROWS else _cells(table)
    counts = table["state"].value_counts()
    words = ", ".join(f"{name} in {count}" for name, count in counts.items())
    return Figure(KEY, shown, TITLE, _caption(table), f"Of {len(table)} members: {words}.", _layout(table))


def _layout(table: pd.DataFrame) -> dict:
    return {"panel": 190 + 46 * table["panel"].nunique(), "most": 1}


def _colour(table: pd.DataFrame) -> alt.Color:
    domain, colours = look.state_scale(sorted(set(table["state"])))
    scale = alt.Scale(domain=domain, range=colours)
    return alt.Color("state:N", scale=scale).legend(
        title="limit state (click to pick)", orient="top", symbolType="square", columns=3, labelLimit=260
    )


def _cells(table: pd.DataFrame) -> alt.LayerChart:
    """The map itself."""
    rows = table[["label", "panel", "state", "group"]].assign(
        code=[look.state_look(s).code for s in table["state"]]
    )
    rows["dark"] = [_is_dark(look.state_look(s).colour) for s in table["state"]]
    state = alt.selection_point(name="state", fields=["state"], bind="legend")
    y = alt.Y("label:N", sort=None, title=None).axis(domain=False, ticks=False, labelLimit=180)
    x = alt.X("panel:N", sort=panel_order(table), title=None)
    x = x.axis(orient="top", labelAngle=-35, domain=False, ticks=False, labelLimit=220)
    base = alt.Chart(rows).encode(x=x, y=y)
    faded = alt.condition(state, alt.value(1), alt.value(0.12))
    cells = (
        base.transform_calculate(words="datum.label + ', ' + datum.panel + ': ' + datum.state")
        .mark_rect(stroke="white", strokeWidth=1.5)
        .encode(
            color=_colour(table),
            opacity=faded,
            tooltip=[
                alt.Tooltip(f"{c}:N", title=t)
                for c, t in (("label", "outline"), ("panel", "load case"), ("state", "limit state"))
            ],
            description=alt.Description("words:N"),
        )
        .add_params(state)
    )
    codes = base.mark_text(fontSize=9.5).encode(
        text="code:N",
        opacity=faded,
        color=alt.condition("datum.dark", alt.value("white"), alt.value(look.INK)),
    )
    return alt.layer(cells, codes).properties(width=alt.Step(46), height=alt.Step(17))


def _shares(table: pd.DataFrame) -> alt.Chart:
    """For very many outlines: how large a share of each panel each limit state governs."""
    counts = table.groupby(["panel", "state"], sort=False).size().rename("members").reset_index()
    return (
        alt.Chart(counts)
        .mark_bar(stroke="white", strokeWidth=1)
        .encode(
            x=alt.X("members:Q", stack="normalize", title="share of the members [–]").axis(format=".0%"),
            y=alt.Y("panel:N", sort=panel_order(table), title=None).axis(
                labelLimit=260, ticks=False, domain=False
            ),
            color=_colour(table),
            tooltip=["panel:N", "state:N", "members:Q"],
            description=alt.Description("state:N"),
        )
        .properties(width=420, height=alt.Step(26))
    )


def _is_dark(colour: str) -> bool:
    """Whether white letters read better on a colour than ink (relative luminance below 0.18, WCAG 2)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2] < 0.18


def _caption(table: pd.DataFrame) -> str:
    codes = {look.state_look(s).code: look.state_look(s).group for s in table["state"]}
    key = ", ".join(f"{code} {group}" for code, group in sorted(codes.items()))
    return f"Letters repeat the colours for grey print: {key}."
