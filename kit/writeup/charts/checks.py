"""Published values beside ours: how far each is off, against what its printed digits allow."""

from __future__ import annotations

import math

import altair as alt
import numpy as np
import pandas as pd

from kit.writeup import look
from kit.writeup.charts import frames
from kit.writeup.charts.frames import note, signif
from kit.writeup.figures import Figure

ROW, LINE = 26, 12
LABEL = 230
LANES = 5
"""Heights within a topic's row, so that marks of equal difference stand apart; the first is its middle."""
RAISED = {-9: "⁻⁹", -8: "⁻⁸", -7: "⁻⁷", -6: "⁻⁶", -5: "⁻⁵", -4: "⁻⁴", -3: "⁻³", -2: "⁻²", -1: "⁻¹"}
KEY, TITLE = "published-checks", "Published values recomputed in this run"
SMALLEST = 1e-7
CONFIDENCE = {"published": "circle", "derived": "diamond", "from memory": "cross"}


def published_checks(checks: pd.DataFrame, sampled: bool = False) -> Figure:
    """Relative difference of each recomputed value, a row a topic, with the tolerance as a tick.

    Parameters
    ----------
    checks : DataFrame
        As :func:`kit.checks.recompute` gives it: ``topic``, ``quantity``, ``expected``, ``computed``,
        ``rel_tol``, ``difference``, ``passed``, ``confidence``.
    sampled : bool
        Whether they are a sample of those there are.
    """
    if checks.empty:
        return note(KEY, TITLE, "No published value was recomputed.")
    rows = _rows(checks)
    failed = int((~checks["passed"].astype(bool)).sum())
    recalled = int((checks["confidence"] == "from memory").sum())
    words = (
        f"{len(rows)} published values in {rows['topic'].nunique()} topics; {len(rows) - failed} within the "
        f"tolerance of their printed digits, {failed} outside."
    )
    caption = (
        "A mark is how far ours differs from a published value; the tick is what its printed digits allow. "
        f"Differences below 10{RAISED[round(math.log10(SMALLEST))]} are drawn there."
    )
    if sampled:
        caption += (
            " The study asks for a seeded sample of the values there are; the kit’s tests recompute all."
        )
    if recalled:
        caption += f" {recalled} of them are quoted from memory and do not count."
    margin = 24 + frames.label_room([line for row in rows["row"] for line in row.split("\n")], LABEL)
    layout = {"panel": 440 + margin, "most": 1, "width": True, "margin": margin}
    return Figure(KEY, _chart(rows), TITLE, caption, words, layout)


def _rows(checks: pd.DataFrame) -> pd.DataFrame:
    topic = checks["topic"].astype(str).str.replace(r"^\d+\s+", "", regex=True)
    return pd.DataFrame(
        {
            "check": checks["id"].astype(str) if "id" in checks else checks.index.astype(str),
            "topic": topic,
            "row": [two_lines(name) for name in topic],
            "lane": [middle_first(i) for i in topic.groupby(topic, sort=False).cumcount()],
            "quantity": checks["quantity"].astype(str),
            "input": checks.get("input", pd.Series("", index=checks.index)).astype(str),
            "expected": signif(checks["expected"], 6),
            "computed": signif(checks["computed"], 6),
            "difference": signif(checks["difference"].abs().clip(lower=SMALLEST), 3),
            "allowed": signif(checks["rel_tol"].clip(lower=SMALLEST), 3),
            "confidence": checks["confidence"].astype(str),
            "outcome": np.where(checks["passed"].astype(bool), "within", "outside"),
        }
    )


def two_lines(name: str, most: int = 34) -> str:
    """A name with a line break near its middle where it is long."""
    if len(name) <= most:
        return name
    breaks = [place for place, letter in enumerate(name) if letter == " "]
    middle = min(breaks, key=lambda place: abs(place - len(name) / 2), default=None)
    return name if middle is None else f"{name[:middle]}\n{name[middle + 1 :]}"


def middle_first(place: int) -> int:
    """Lane of the marks of a topic in turn: the middle one, then above and below it by turns."""
    step = place % LANES
    return LANES // 2 + (-1) ** step * ((step + 1) // 2)


def _chart(rows: pd.DataFrame) -> alt.LayerChart:
    y = alt.Y("row:N", sort=None, title=None).axis(domain=False, ticks=False, grid=True)
    # Lines run down from the first, which would stand level with the marks: lift two of them by half a line.
    lifted = {"condition": {"test": "indexof(datum.label, '\\n') > 0", "value": -LINE / 2}, "value": 0}
    y = y.axis(
        labelExpr="split(datum.label, '\\n')", labelLimit=LABEL, labelLineHeight=LINE, labelOffset=lifted
    )
    # Offsets are one scale for all rows: the same few lanes in each keep its marks around its name.
    lanes = alt.Scale(domain=list(range(LANES)), paddingOuter=0.5)
    within = {"yOffset": alt.YOffset("lane:O", sort=None, scale=lanes)}
    most = float(rows[["difference", "allowed"]].max().max())
    x = alt.X("difference:Q", title="relative difference [–]")
    x = x.scale(type="log", nice=False, domain=[SMALLEST / 1.6, max(0.1, 1.5 * most)])
    powers = [10.0**power for power in RAISED if SMALLEST <= 10.0**power <= max(0.1, 1.5 * most)]
    raised = ", ".join(f"'{power}': '10{text}'" for power, text in RAISED.items())
    said = f"{{{raised}}}[round(log(datum.value) / LN10)]"
    x = x.axis(values=powers, labelExpr=said, grid=True)
    shape = alt.Shape(
        "confidence:N", scale=alt.Scale(domain=list(CONFIDENCE), range=list(CONFIDENCE.values()))
    )
    colour = alt.Color(
        "outcome:N", scale=alt.Scale(domain=["within", "outside"], range=[look.MARK, look.ACCENT])
    )
    said = "datum.check + ': published ' + datum.expected + ', computed ' + datum.computed"
    base = alt.Chart(rows).transform_calculate(words=said + " + ', ' + datum.outcome")
    marks = base.mark_point(filled=True, size=34, opacity=0.9).encode(
        y=y,
        x=x,
        shape=shape.legend(title="value is", orient="top"),
        color=colour.legend(title="tolerance", orient="top"),
        tooltip=[
            alt.Tooltip("check:N"),
            alt.Tooltip("topic:N"),
            alt.Tooltip("quantity:N"),
            alt.Tooltip("input:N"),
            alt.Tooltip("expected:Q", title="published", format=".6~g"),
            alt.Tooltip("computed:Q", format=".6~g"),
            alt.Tooltip("difference:Q", title="relative difference", format=".2~g"),
            alt.Tooltip("allowed:Q", title="tolerance", format=".2~g"),
        ],
        description=alt.Description("words:N"),
        **within,
    )
    ticks = base.mark_tick(color=look.QUIET, thickness=1.2, size=5)
    ticks = ticks.encode(y=y, x=alt.X("allowed:Q"), **within)
    return alt.layer(ticks, marks).properties(width=440, height=alt.Step(ROW, **{"for": "position"}))
