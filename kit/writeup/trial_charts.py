"""Charts of trials: records with the choices of their reduction, parity, residuals, load against mass."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from kit.writeup import look
from kit.writeup.charts import frames
from kit.writeup.figures import Figure

PANEL = {"width": 250, "height": 180}
LAYOUT = {"panel": PANEL["width"], "most": 3, "margin": 62, "grow": 1.4}
INVENTED = "Invented records: generated from the model, no evidence. "
LINES = {
    "measured": (look.INK, [1, 0], 1.6),
    "predicted": (look.ACCENT, [6, 3], 1.6),
    "line of the modulus": (look.MARK, [2, 2], 1.0),
    "offset line": (look.QUIET, [1, 3], 1.0),
}


def records(curves: pd.DataFrame, trials: pd.DataFrame, invented: bool = False) -> Figure:
    """Every record with its prediction, toe, modulus window, offset line and peak.

    Parameters
    ----------
    curves : DataFrame
        ``piece``, ``what``, ``travel``, ``load`` as in ``trial-curves.csv``.
    trials : DataFrame
        ``trials.csv``.
    invented : bool
        Whether the records were generated; the caption then begins with that.
    """
    key, title = "trial-records", "Records beside their predictions"
    drawn = [piece for piece in trials["piece"] if (curves["piece"] == piece).any()]
    if not drawn:
        return frames.note(key, title, "No record could be drawn.")
    about = trials.set_index("piece")
    panels = [_record(curves[curves["piece"] == piece], about.loc[piece]) for piece in drawn]
    chart = alt.concat(*panels, columns=LAYOUT["most"])
    caption = (INVENTED if invented else "") + (
        "Ink: the record. Red dashes: the prediction, laid over the toe. Dotted: the line of the modulus, drawn to "
        "zero load at the toe, thick over its window; beside it the line moved by the offset strain. Circle: the peak. "
        "Records left out are shown too, with the reason."
    )
    used = int((trials["status"] == "used").sum())
    words = f"{len(drawn)} panels of load against travel, {used} used; measured curve and predicted curve in each."
    return Figure(key, chart, title, caption, words, LAYOUT)


def _record(curves: pd.DataFrame, about: pd.Series) -> alt.LayerChart:
    torque = about["load_unit"] == "N mm"
    unit, travel_unit = ("N m", "deg") if torque else ("kN", "mm")
    rows = curves.assign(
        x=frames.signif(curves["travel"] * (180.0 / np.pi if torque else 1.0), 4),
        y=frames.signif(curves["load"] / 1000.0, 4),
    )
    x = alt.X("x:Q", title=f"travel [{travel_unit}]").axis(tickCount=5)
    y = alt.Y("y:Q", title=f"{'torque' if torque else 'load'} [{unit}]").axis(tickCount=4)
    layers = []
    for what, (colour, dash, width) in LINES.items():
        part = rows.loc[rows["what"] == what, ["x", "y"]]
        if len(part):
            mark = alt.Chart(part).mark_line(color=colour, strokeDash=dash, strokeWidth=width, clip=True)
            layers.append(mark.encode(x=x, y=y, order="y:Q" if what == "offset line" else alt.Undefined))
    window, peak = (rows.loc[rows["what"] == what, ["x", "y"]] for what in ("window", "peak"))
    if len(window):
        layers.append(
            alt.Chart(window).mark_line(color=look.MARK, strokeWidth=3.4, opacity=0.7).encode(x=x, y=y)
        )
    if len(peak):
        layers.append(alt.Chart(peak).mark_point(color=look.INK, size=52, strokeWidth=1.4).encode(x=x, y=y))
    subtitle = about["limit_state"] or about["test"]
    if about["status"] != "used":
        reason = str(about["reason"])
        subtitle = "left out: " + (reason if len(reason) < 52 else reason[:50] + "…")
    heading = alt.TitleParams(text=f"{about.name} · {about['outline']}",
                              subtitle=subtitle)  # fmt: skip
    return alt.layer(*layers).properties(title=heading, **PANEL)


def _known(trials: pd.DataFrame) -> pd.DataFrame:
    """Members with a measured and a predicted load, in kN or kN m."""
    ratio = pd.to_numeric(trials["measured_over_predicted"], errors="coerce")
    rows = trials[np.isfinite(ratio) & (trials["status"] == "used")].copy()
    scale = np.where(rows["load_unit"] == "N mm", 1e-6, 1e-3)
    columns = {
        "predicted_load": "predicted",
        "measured_load": "measured",
        "predicted_low": "low",
        "predicted_high": "high",
    }
    for name, short in columns.items():
        rows[short] = frames.signif(rows[name].astype(float) * scale, 4)
    rows["ratio"] = frames.signif(rows["measured_over_predicted"].astype(float), 4)
    rows["mass"] = frames.signif(rows["mass_kg"].fillna(rows["predicted_mass_kg"]).astype(float), 4)
    return rows.rename(columns={"limit_state": "state"})


def parity(trials: pd.DataFrame, invented: bool = False) -> Figure:
    """Measured against predicted load, with the predicted 95 % interval."""
    key, title = "trial-parity", "Measured against predicted"
    rows = _known(trials)
    if rows.empty:
        return frames.note(key, title, "No piece has both a measured and a predicted load.")
    rows = rows[["piece", "outline", "state", "load_case", "predicted", "measured", "low", "high", "ratio"]]
    domain = frames.padded(pd.concat([rows["predicted"], rows["measured"], rows["low"], rows["high"]]), 0.05)
    scale = alt.Scale(type="log", domain=domain, nice=False)
    x = alt.X("predicted:Q", title="predicted [kN, kN m]").scale(scale)
    y = alt.Y("measured:Q", title="measured [kN, kN m]").scale(scale)
    line = (
        alt.Chart(pd.DataFrame({"v": domain}))
        .mark_line(color=look.HAIR)
        .encode(x=alt.X("v:Q"), y=alt.Y("v:Q"))
    )
    bars = (
        alt.Chart(rows)
        .mark_rule(color=look.QUIET, opacity=0.5)
        .encode(x=alt.X("low:Q").scale(scale), x2="high:Q", y=y)
    )
    marks = (
        alt.Chart(rows)
        .mark_point(filled=True, size=70, stroke="white")
        .encode(x=x, y=y, color=frames.state_colour(rows["state"], "circle", 3), tooltip=_tips())
    )
    inside = int(((rows["measured"] >= rows["low"]) & (rows["measured"] <= rows["high"])).sum())
    caption = (INVENTED if invented else "") + (
        f"Each mark is a piece; the bar is the 95 % interval of its prediction, which holds {inside} of {len(rows)} "
        "measured loads. On the grey line both are equal. Both axes are logarithmic."
    )
    chart = alt.layer(line, bars, marks).properties(width=420, height=340)
    words = f"{len(rows)} pieces; measured ÷ predicted from {rows['ratio'].min():.2f} to {rows['ratio'].max():.2f}."
    return Figure(key, chart, title, caption, words, {"panel": 420, "most": 1})


def _tips() -> list[alt.Tooltip]:
    return [
        alt.Tooltip("piece:N"),
        alt.Tooltip("outline:N"),
        alt.Tooltip("state:N", title="limit state"),
        alt.Tooltip("ratio:Q", title="measured ÷ predicted", format=".3f"),
    ]


def residuals(trials: pd.DataFrame, invented: bool = False) -> Figure:
    """Measured ÷ predicted against mass, by limit state and by family."""
    key, title = "trial-residuals", "What the predictions missed"
    rows = _known(trials)
    if rows.empty:
        return frames.note(key, title, "No piece has both a measured and a predicted load.")
    family = rows["family"] if "family" in rows else pd.Series("", index=rows.index)
    rows["group"] = family.astype(str).where(family.astype(str) != "", rows["outline"].astype(str))
    rows = rows[["piece", "outline", "state", "mass", "ratio", "group"]]
    panels = [_against(rows, name, other) for name, other in _residual_axes().items()]
    caption = (INVENTED if invented else "") + (
        "Above one a piece carried more than predicted. A slope or a step here is what one common factor cannot mend."
    )
    words = f"{len(rows)} pieces; mean of measured ÷ predicted {rows['ratio'].mean():.3f}."
    return Figure(
        key, alt.concat(*panels, columns=3), title, caption, words, {"panel": 250, "most": 3, "margin": 62}
    )


def _residual_axes() -> dict[str, alt.Y]:
    names = {"labelLimit": 150, "labelOverlap": False}
    return {
        "by mass": alt.Y("mass:Q", title="mass [kg]").scale(zero=False),
        "by limit state": alt.Y("state:N", title=None).axis(**names),
        "by family or outline": alt.Y("group:N", title=None).axis(**names),
    }


def _against(rows: pd.DataFrame, name: str, other: alt.Y) -> alt.LayerChart:
    """Measured ÷ predicted across, something else up."""
    domain = frames.padded(pd.concat([rows["ratio"], pd.Series([1.0])]), log=False)
    scale = alt.Scale(domain=domain, nice=False, zero=False)
    one = alt.Chart(pd.DataFrame({"v": [1.0]})).mark_rule(color=look.HAIR, strokeWidth=1.5)
    ratio = alt.X("ratio:Q", title="measured ÷ predicted").scale(scale).axis(tickCount=5)
    marks = alt.Chart(rows).mark_point(filled=True, size=60, stroke="white")
    colour = frames.state_colour(rows["state"], "circle", 3)
    layers = (
        one.encode(x=alt.X("v:Q").scale(scale)),
        marks.encode(x=ratio, y=other, color=colour, tooltip=_tips()),
    )
    return alt.layer(*layers).properties(title=name, width=230, height=200)


def load_and_mass(trials: pd.DataFrame, members: pd.DataFrame, invented: bool = False) -> Figure:
    """Measured loads over the predicted ones of every outline, against mass, a panel a load case."""
    key, title = "trial-load-mass", "Measured over predicted, against mass"
    rows = _known(trials)
    if rows.empty:
        return frames.note(key, title, "No piece has both a measured and a predicted load.")
    panels = []
    for case, tested in rows.groupby("load_case", sort=False):
        whole = members[(members["load_case"] == case) & (members["variant"] == members["variant"].iloc[0])]
        every = frames.with_panels(whole.drop(columns=["variant"]))
        torque = (every["load_unit"] == "N m").all()
        scale = every["load_unit"].map({"N": 1e-3, "kN": 1.0, "N m": 1e-3})
        every = pd.DataFrame({"mass": frames.signif(every["mass_kg"]), "load": frames.signif(every["load"] * scale),
                              "outline": every["outline"]}).dropna()  # fmt: skip
        unit = "torque [kN m]" if torque else "load [kN]"
        x = alt.X("mass:Q", title="mass [kg]").scale(zero=False).axis(tickCount=5)
        all_marks = (
            alt.Chart(every)
            .mark_point(color=look.QUIET, size=46, opacity=0.7)
            .encode(x=x, y=alt.Y("load:Q", title=unit), tooltip=["outline:N", "mass:Q", "load:Q"])
        )
        points = tested[["piece", "outline", "state", "mass", "measured", "ratio"]]
        marks = (
            alt.Chart(points)
            .mark_point(filled=True, size=70, stroke="white")
            .encode(
                x=x, y="measured:Q", color=frames.state_colour(rows["state"], "circle", 3), tooltip=_tips()
            )
        )
        panels.append(alt.layer(all_marks, marks).properties(title=str(case), width=300, height=240))
    caption = (
        INVENTED if invented else ""
    ) + "Rings: predicted, every outline of the study. Filled: measured pieces."
    words = f"{len(rows)} measured pieces over the predicted members in {len(panels)} load cases."
    chart = alt.concat(*panels, columns=2).resolve_scale(color="shared")
    return Figure(key, chart, title, caption, words, {"panel": 300, "most": 2, "margin": 62})
