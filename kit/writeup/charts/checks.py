"""Published values beside ours: how far each is off, against what its printed digits allow."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from kit.writeup import look
from kit.writeup.charts.frames import note, signif
from kit.writeup.figures import Figure

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
        f"Differences below {SMALLEST:.0e} are drawn there."
    )
    if sampled:
        caption += (
            " The study asks for a seeded sample of the values there are; the kit’s tests recompute all."
        )
    if recalled:
        caption += f" {recalled} of them are quoted from memory and do not count."
    return Figure(KEY, _chart(rows), TITLE, caption, words, {"panel": 640, "most": 1, "width": True})


def _rows(checks: pd.DataFrame) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "check": checks["id"].astype(str) if "id" in checks else checks.index.astype(str),
            "topic": checks["topic"].astype(str).str.replace(r"^\d+\s+", "", regex=True),
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


def _chart(rows: pd.DataFrame) -> alt.LayerChart:
    y = alt.Y("topic:N", sort=None, title=None).axis(domain=False, ticks=False, labelLimit=190, grid=True)
    x = alt.X("difference:Q", title="relative difference [–]")
    x = x.scale(
        type="log", nice=False, domain=[SMALLEST / 1.6, max(0.1, 1.5 * float(rows["difference"].max()))]
    )
    x = x.axis(format=".0e", tickCount=6, grid=True)
    shape = alt.Shape(
        "confidence:N", scale=alt.Scale(domain=list(CONFIDENCE), range=list(CONFIDENCE.values()))
    )
    colour = alt.Color(
        "outcome:N", scale=alt.Scale(domain=["within", "outside"], range=[look.MARK, look.ACCENT])
    )
    said = "datum.check + ': published ' + datum.expected + ', computed ' + datum.computed"
    base = alt.Chart(rows).transform_calculate(words=said + " + ', ' + datum.outcome")
    seed = {"yOffset": alt.YOffset("check:N", sort=None).scale(paddingOuter=0.25)} if len(rows) < 400 else {}
    marks = base.mark_point(filled=True, size=34, opacity=0.9).encode(
        y=y,
        x=x,
        shape=shape.legend(title="value is", orient="top"),
        color=colour.legend(title="tolerance", orient="top"),
        tooltip=[
            alt.Tooltip("check:N"),
            alt.Tooltip("quantity:N"),
            alt.Tooltip("input:N"),
            alt.Tooltip("expected:Q", title="published", format=".6~g"),
            alt.Tooltip("computed:Q", format=".6~g"),
            alt.Tooltip("difference:Q", title="relative difference", format=".2~g"),
            alt.Tooltip("allowed:Q", title="tolerance", format=".2~g"),
        ],
        description=alt.Description("words:N"),
        **seed,
    )
    ticks = base.mark_tick(color=look.QUIET, thickness=1.2, size=5).encode(y=y, x=alt.X("allowed:Q"), **seed)
    return alt.layer(ticks, marks).properties(width=440, height=alt.Step(26, **{"for": "position"}))
