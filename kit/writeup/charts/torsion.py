"""How well the torsion constant is known: the proven bounds on J of every section."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from kit.writeup import look
from kit.writeup.charts.frames import labels, note, signif
from kit.writeup.figures import Figure
from kit.writeup.numbers import count

KEY, TITLE = "bounds-on-J", "How far apart the proven bounds on J are"
MOST_ROWS = 60


def bounds_on_J(sections: pd.DataFrame, asked: float | None = None) -> Figure:
    """The interval from ``J_low_mm4`` to ``J_high_mm4``, in per cent of ``J_mm4``, a section a row.

    Parameters
    ----------
    sections : DataFrame
        With ``J_mm4``, ``J_low_mm4``, ``J_high_mm4``.
    asked : float, optional
        The width asked for, (J_high − J_low) / J, as a share.
    """
    known = sections[sections["J_mm4"].astype(float) > 0] if "J_mm4" in sections else sections.iloc[:0]
    if known.empty:
        return note(KEY, TITLE, "No section has bounds on J.")
    rows = _rows(known)
    many = len(rows) > MOST_ROWS
    chart = _histogram(rows, asked) if many else _intervals(rows, asked)
    widest = rows.loc[rows["width"].idxmax()]
    words = (
        f"Bounds on J of {count(len(rows), 'section')}: median width {rows['width'].median():.2g} %, "
        f"widest {widest['width']:.2g} % ({widest['label']})."
    )
    return Figure(KEY, chart, TITLE, _caption(many, asked), words, {"panel": 620, "most": 1, "width": True})


def _caption(many: bool, asked: float | None) -> str:
    """What the chart that was chosen shows."""
    if many:
        told = "How many sections have bounds so far apart: (upper − lower) ÷ J; their middle is the J used."
        rules = "the dashed rule"
    else:
        told = (
            "Distance of the lower and the upper bound from their middle, which is the J used; widest first."
        )
        rules = "the dashed rules"
    if asked is None:
        return told
    return f"{told} The study asked for a width of at most {100 * asked:.2g} %, {rules}."


def _rows(known: pd.DataFrame) -> pd.DataFrame:
    """A row a distinct interval: turned copies of one outline share their J."""
    middle = known["J_mm4"].astype(float)
    rows = pd.DataFrame(
        {
            "label": known["outline"].astype(str),
            "J": signif(middle),
            "low": signif(100 * (known["J_low_mm4"] / middle - 1), 3),
            "high": signif(100 * (known["J_high_mm4"] / middle - 1), 3),
        }
    )
    varied = rows.drop_duplicates()
    rows = (
        varied
        if not varied["label"].duplicated().any()
        else rows.assign(label=labels(known)).drop_duplicates()
    )
    rows = rows.assign(width=rows["high"] - rows["low"])
    return rows.sort_values("width", ascending=False, kind="stable")


def _intervals(rows: pd.DataFrame, asked: float | None) -> alt.LayerChart:
    y = alt.Y("label:N", sort=None, title=None).axis(
        domain=False, ticks=False, labelLimit=180, labelPadding=8
    )
    reach = 1.08 * max(float(rows["high"].max()), -float(rows["low"].min()), 50 * (asked or 0.0), 1e-6)
    x = alt.X("low:Q", title="from the middle of the bounds [%]", scale=alt.Scale(domain=[-reach, reach]))
    bars = (
        alt.Chart(rows)
        .transform_calculate(words="datum.label + ': ' + datum.low + ' % to +' + datum.high + ' %'")
        .mark_bar(height=6, color=look.MARK)
        .encode(
            y=y,
            x=x,
            x2="high:Q",
            tooltip=[
                alt.Tooltip("label:N", title="outline"),
                alt.Tooltip("J:Q", title="J [mm⁴]", format=".4~s"),
                alt.Tooltip("low:Q", title="lower bound [%]", format="+.2~g"),
                alt.Tooltip("high:Q", title="upper bound [%]", format="+.2~g"),
            ],
            description=alt.Description("words:N"),
        )
    )
    middle = alt.Chart(pd.DataFrame({"low": [0.0]})).mark_rule(color=look.INK, strokeWidth=0.8).encode(x=x)
    layers = [bars, middle]
    if asked is not None:
        edges = pd.DataFrame({"low": [-50 * asked, 50 * asked]})
        layers.append(alt.Chart(edges).mark_rule(color=look.ACCENT, strokeDash=[5, 3], opacity=1).encode(x=x))
    return alt.layer(*layers).properties(width=440, height=alt.Step(15))


def _histogram(rows: pd.DataFrame, asked: float | None) -> alt.LayerChart:
    """For many sections: how many have bounds this far apart, and the width asked for."""
    width = rows["width"].astype(float).clip(lower=1e-4)
    edges = np.geomspace(width.min() / 1.001, max(width.max(), width.min() * 1.1) * 1.001, 41)
    counts, _ = np.histogram(width, edges)
    bins = pd.DataFrame(
        {"low": signif(pd.Series(edges[:-1])), "high": signif(pd.Series(edges[1:])), "sections": counts}
    ).assign(none=0)
    ends = [edges[0], max(edges[-1], 130.0 * (asked or 0.0))]
    x = alt.X("low:Q", title="width of the bounds [% of J]")
    x = x.scale(type="log", nice=False, domain=signif(pd.Series(ends))).axis(format="~g")
    bars = (
        alt.Chart(bins)
        .mark_bar(color=look.MARK, stroke="white", strokeWidth=0.5)
        .encode(
            x=x,
            x2="high:Q",
            y=alt.Y("sections:Q", title="sections"),
            y2="none:Q",
            tooltip=["low:Q", "high:Q", "sections:Q"],
            description=alt.Description("sections:Q"),
        )
    )
    layers = [bars]
    if asked is not None:
        edge = alt.Chart(pd.DataFrame({"low": [100.0 * asked]}))
        layers.append(edge.mark_rule(color=look.ACCENT, strokeDash=[5, 3], opacity=1).encode(x=x))
    return alt.layer(*layers).properties(width=440, height=220)
