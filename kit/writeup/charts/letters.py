"""Merit of each character in each typeface: a map that shows whether the letter or the face decides."""

from __future__ import annotations

import math

import altair as alt
import numpy as np
import pandas as pd

from kit.writeup.charts import frames
from kit.writeup.figures import Figure

KEY, TITLE = "letter-map", "The letter or the typeface: merit of each character in each family"
MOST_FAMILIES, MOST_CHARACTERS = 40, 64
CELL, ROW = 19, 19
SHADES = ["#eef2f5", "#b8c9d6", "#6f93ad", "#2f5f84", "#10283d"]


def letter_map(members: pd.DataFrame, variant: str | None = None) -> Figure:
    """A cell a character and family, shaded by merit, a panel a load case whose merits differ.

    Parameters
    ----------
    members : DataFrame
        With ``family``, ``character``, ``load_case``, ``merit``.
    variant : str, optional
        Which variant is drawn; the first without it.
    """
    if not {"family", "character", "merit"} <= set(members):
        return frames.note(KEY, TITLE, "No outline of this study is a character of a typeface.")
    variants = list(dict.fromkeys(members["variant"])) if "variant" in members else [""]
    chosen = variant or variants[0]
    part = members[members["variant"] == chosen] if "variant" in members else members
    letters = part[(part["family"].astype(str) != "") & (part["character"].astype(str) != "")]
    if letters["family"].nunique() < 2 or letters["character"].nunique() < 2:
        return frames.note(KEY, TITLE, "There are not two typefaces with two characters to compare.")
    rows = _rows(letters)
    cases = [
        case
        for case, one in rows.groupby("case", sort=False)
        if one["merit"].max() > one["merit"].min() * 1.001
    ]
    if not cases:
        return frames.note(KEY, TITLE, "No load case tells the characters apart.")
    families, characters = _order(rows)
    shown = rows[rows["family"].isin(families) & rows["character"].isin(characters)]
    panels = [_panel(shown[shown["case"] == case], case, families, characters) for case in cases]
    chart = frames.side_by_side(panels, 2).resolve_scale(color="independent")
    margin = 18 + frames.label_room(families, 150)
    layout = {"panel": CELL * len(characters), "most": 2, "margin": margin}
    return Figure(
        KEY, chart, TITLE, _caption(rows, shown, chosen, len(variants)), _words(rows, cases), layout
    )


def _rows(letters: pd.DataFrame) -> pd.DataFrame:
    """Median merit (over styles and orientations) of each character, family and load case."""
    merits = letters.assign(merit=pd.to_numeric(letters["merit"], errors="coerce"))
    table = merits.groupby(["load_case", "family", "character"], sort=False)["merit"].median().reset_index()
    table = table[np.isfinite(table["merit"]) & (table["merit"] > 0)]
    return pd.DataFrame(
        {
            "case": table["load_case"].astype(str),
            "family": table["family"].astype(str),
            "character": table["character"].astype(str),
            "merit": frames.signif(table["merit"], 3),
        }
    )


def _order(rows: pd.DataFrame) -> tuple[list[str], list[str]]:
    """Families by median merit, best first (of many the best and the worst), and characters in their order."""
    ranked = (
        rows.groupby("family")["merit"].median().sort_values(ascending=False, kind="stable").index.tolist()
    )
    if len(ranked) > MOST_FAMILIES:
        ranked = ranked[: MOST_FAMILIES // 2] + ranked[-(MOST_FAMILIES // 2) :]
    return ranked, sorted(rows["character"].unique())[:MOST_CHARACTERS]


def _panel(rows: pd.DataFrame, case: str, families: list[str], characters: list[str]) -> alt.LayerChart:
    x = alt.X("character:N", title=None, scale=alt.Scale(domain=characters))
    x = x.axis(labelAngle=0, domain=False, ticks=False, orient="top", labelOverlap=False)
    y = alt.Y("family:N", title=None, scale=alt.Scale(domain=families))
    y = y.axis(domain=False, ticks=False, labelLimit=146)
    ends = [float(rows["merit"].min()), float(rows["merit"].max())]
    scale = alt.Scale(type="log", domain=ends, range=SHADES, interpolate="lab")
    picked = alt.selection_point(name="picked", fields=["character"], on="click", empty=True)
    said = "datum.character + ' in ' + datum.family + ': ' + datum.merit + ' times the reference'"
    legend = {
        "title": "merit",
        "orient": "bottom",
        "gradientLength": 150,
        "format": ".2~g",
        "values": _told(*ends),
    }
    cells = (
        alt.Chart(rows)
        .transform_calculate(words=said)
        .mark_rect(stroke="white", strokeWidth=1)
        .encode(
            x=x,
            y=y,
            color=alt.Color("merit:Q", scale=scale).legend(**legend),
            opacity=alt.condition(picked, alt.value(1), alt.value(0.25)),
            tooltip=[
                alt.Tooltip("character:N"),
                alt.Tooltip("family:N", title="typeface"),
                alt.Tooltip("merit:Q", format=".3~g"),
            ],
            description=alt.Description("words:N"),
        )
        .add_params(picked)
    )
    return alt.layer(cells).properties(
        width=CELL * len(characters), height=ROW * len(families), title=alt.TitleParams(text=case)
    )


def _told(low: float, high: float) -> list[float]:
    """Values written under a key of shades: round ones far enough apart, or the ends where there are not two."""
    powers = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    round_ones = [float(f"{step}e{power}") for power in powers for step in (1, 2, 5)]
    inside = [value for value in round_ones if low <= value <= high]
    step = math.ceil(len(inside) / 4)
    return inside[::step] if len(inside) > 1 else [low, high]


def _caption(rows: pd.DataFrame, shown: pd.DataFrame, variant: str, variants: int) -> str:
    words = "Darker is better; each load case has its own scale. White: left out, not assessed or nothing carried."
    if variants > 1:
        words += f" Variant “{variant}”."
    if shown["family"].nunique() < rows["family"].nunique():
        half = shown["family"].nunique() // 2
        words += (
            f" Of {rows['family'].nunique()} families the {half} best and the {half} worst by median merit."
        )
    return words


def _words(rows: pd.DataFrame, cases: list[str]) -> str:
    """Whether letters or families differ more, in numbers."""
    said = []
    for case in cases:
        part = rows[rows["case"] == case]
        letter = part.groupby("character")["merit"].median()
        family = part.groupby("family")["merit"].median()
        said.append(
            f"{case}: median merit by character from {letter.min():.3g} ({letter.idxmin()}) to {letter.max():.3g} "
            f"({letter.idxmax()}), by family from {family.min():.3g} ({family.idxmin()}) to {family.max():.3g} "
            f"({family.idxmax()})"
        )
    return "; ".join(said) + "."
