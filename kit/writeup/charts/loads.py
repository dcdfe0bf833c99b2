"""Load against mass: what each outline carries for what it weighs, one panel a load case and variant."""

from __future__ import annotations

from collections.abc import Mapping

import altair as alt
import numpy as np
import pandas as pd

from kit.writeup import look
from kit.writeup.charts import frames
from kit.writeup.charts.dense import density_panels
from kit.writeup.figures import Figure
from kit.writeup.numbers import count

KEY, TITLE = "load-against-mass", "What each outline carries for its mass"
PANEL = {"width": 268, "height": 240}
LAYOUT = {"panel": PANEL["width"], "most": 3, "margin": 62, "grow": 1.5}
MOST_TOLD = 8  # panels in words
LABEL = {"fontSize": 10.5, "fill": look.INK}


def load_against_mass(
    members: pd.DataFrame,
    polygons: Mapping | None = None,
    *,
    lines: pd.DataFrame | None = None,
    reference: str | None = None,
) -> Figure:
    """Small multiples of resistance against mass, the outlines themselves as marks.

    Parameters
    ----------
    members : DataFrame
        A row per section × variant × load case.
    polygons : mapping, optional
        Polygons [mm] to draw as marks: see :func:`kit.writeup.silhouettes.mark_paths`.
    lines : DataFrame, optional
        The reference scaled by similarity and evaluated again, from
        :func:`kit.writeup.charts.lines.reference_line`. Above the line an outline beats the reference,
        mass for mass.
    reference : str, optional
        Name of the reference outline, labelled in every panel.
    """
    table = frames.with_panels(members)
    usable = table[(table["load"] > 0) & (table["mass_kg"] > 0)]
    if usable.empty:
        return frames.note(KEY, TITLE, "No member has a resistance to show.")
    if len(usable) > frames.MOST_MARKS:
        chart = density_panels(usable, PANEL, LAYOUT["most"])
        return Figure(KEY, chart, TITLE, _caption(table, usable, None, dense=True), _words(usable), LAYOUT)
    rows = _rows(usable, reference)
    paths = frames.add_paths(usable, polygons)
    curves = frames.with_panels(lines.assign(outline="")) if lines is not None else None
    names = frames.panel_order(rows)
    panels = [_panel(rows, name, paths, curves) for name in names]
    chart = frames.side_by_side(panels, LAYOUT["most"])
    return Figure(KEY, chart, TITLE, _caption(table, usable, lines), _words(usable), LAYOUT)


def _rows(usable: pd.DataFrame, reference: str | None) -> pd.DataFrame:
    """The columns drawn, short numbers, and which rows carry a label beside their mark."""
    rows = pd.DataFrame(
        {
            "panel": usable["panel"],
            "label": usable["label"],
            "group": usable["group"],
            "mass": frames.signif(usable["mass_kg"]),
            "load": frames.signif(usable["load"]),
            "unit": usable["load_unit"],
            "state": usable["state"],
            "key": usable["key"],
        }
    )
    if "merit" in usable:
        rows["merit"] = frames.signif(usable["merit"].astype(float), 3)
    labels = [_labels(part, reference) for _, part in usable.groupby("panel", sort=False)]
    return rows.join(pd.concat(labels))


def _labels(part: pd.DataFrame, reference: str | None) -> pd.DataFrame:
    """Names beside the reference, the best two and the worst of a panel, on the outer side of the cloud.

    Where all are equal there is no best and no worst to name.
    """
    place = np.column_stack(
        [_spread(part["mass_kg"]) * PANEL["width"], _spread(part["load"]) * PANEL["height"]]
    )
    score = (part["merit"] if "merit" in part else part["load"] / part["mass_kg"]).to_numpy(float)
    middle = np.nanmedian(score) if np.isfinite(score).any() else 0.0
    order = np.argsort(np.nan_to_num(score, nan=middle), kind="stable")
    at_reference = np.flatnonzero(part["outline"].astype(str).to_numpy() == reference)[:1]
    named, taken = np.full(len(part), "", dtype=object), []
    differ = np.isfinite(score).any() and np.nanmax(score) - np.nanmin(score) > 1e-6 * np.nanmax(score)
    ends = [*order[::-1][:2], order[0]] if differ else []
    for i in dict.fromkeys([*at_reference, *ends]):
        if all(abs(place[i, 1] - place[j, 1]) > 15 or abs(place[i, 0] - place[j, 0]) > 110 for j in taken):
            named[i] = part["label"].iloc[i]
            taken.append(i)
    # Above the diagonal of the cloud a name stands at the left of its mark, below it at the right.
    above = place[:, 1] / PANEL["height"] >= place[:, 0] / PANEL["width"]
    left = (above & (place[:, 0] > 90)) | (place[:, 0] > PANEL["width"] - 60)
    return pd.DataFrame({"named": named, "side": np.where(left, "left", "right")}, index=part.index)


def _spread(values: pd.Series) -> np.ndarray:
    """Position between the least (0) and the greatest (1) on a log axis."""
    logs = np.log(values.to_numpy(float))
    return (logs - logs.min()) / max(float(np.ptp(logs)), 0.2)


def _panel(
    every: pd.DataFrame, name: str, paths: pd.DataFrame, curves: pd.DataFrame | None
) -> alt.LayerChart:
    rows = every[every["panel"] == name]
    # Heavier marks first, so that light and small ones stay visible on top.
    rows = rows.sort_values("mass", ascending=False, kind="stable")
    x, y = _axes(rows)
    selections = _selections(every)
    base = alt.Chart(rows).transform_lookup("label", alt.LookupData(paths, "label", ["path"]))
    marks = _marks(base, rows, frames.state_colour(every["key"]), selections).encode(x=x, y=y)
    where = {"x": x, "y": y, "text": alt.Text("named:N")}
    seen = alt.condition(selections[0] & selections[1] & selections[2], alt.value(1), alt.value(0.1))
    texts = [
        layer.encode(**where, opacity=seen) for side in ("left", "right") for layer in _names(base, side)
    ]
    layers = [*_line(curves, name, x, y, rows), marks, *texts]
    return alt.layer(*layers).properties(title=frames.heading(name), **PANEL)


def _axes(rows: pd.DataFrame) -> tuple[alt.X, alt.Y]:
    unit = rows["unit"].iloc[0]
    axis = {"grid": True, "tickCount": 5, "format": "~g"}
    x, y = alt.X("mass:Q", title="mass [kg]"), alt.Y("load:Q", title=f"{_quantity(unit)} [{unit}]")
    x = x.scale(type="log", domain=frames.padded(rows["mass"]), nice=False).axis(**axis)
    return x, y.scale(type="log", domain=frames.padded(rows["load"], 0.14), nice=False).axis(**axis)


def _quantity(unit: str) -> str:
    return "torque" if unit == "N m" else "load"


def _marks(base: alt.Chart, rows: pd.DataFrame, colour: alt.Color, selections: tuple) -> alt.Chart:
    """The outlines; the one picked grows, those not asked for fade."""
    unit = rows["unit"].iloc[0]
    picked, state, group = selections
    said = f"datum.label + ': ' + datum.mass + ' kg carries ' + datum.load + ' {unit}, ' + datum.state"
    mark = base.transform_calculate(words=said).mark_point(
        filled=True, stroke="white", strokeWidth=0.5, cursor="pointer"
    )
    return mark.encode(
        shape=alt.Shape("path:N", scale=None, legend=None),
        size=alt.condition(picked, alt.value(430), alt.value(260)),
        color=colour,
        opacity=alt.condition(picked & state & group, alt.value(0.95), alt.value(0.1)),
        tooltip=_tooltip(rows, unit),
        description=alt.Description("words:N"),
    ).add_params(picked, state, group)


def _selections(rows: pd.DataFrame) -> tuple:
    """Pick an outline by clicking a mark, a limit state in the key, a group in a list (works by keyboard)."""
    picked = alt.selection_point(name="picked", fields=["label"], on="click", empty=True)
    state = alt.selection_point(name="state", fields=["key"], bind="legend")
    groups = sorted(set(rows["group"]))
    choice = alt.binding_select(options=[None, *groups], labels=["all", *groups], name="show ")
    return picked, state, alt.selection_point(name="group", fields=["group"], bind=choice)


def _tooltip(rows: pd.DataFrame, unit: str) -> list[alt.Tooltip]:
    tips = [
        alt.Tooltip("label:N", title="outline"),
        alt.Tooltip("mass:Q", title="mass [kg]", format=".3~g"),
        alt.Tooltip("load:Q", title=f"resistance [{unit}]", format=".3~g"),
        alt.Tooltip("state:N", title="limit state"),
    ]
    return [*tips, alt.Tooltip("merit:Q", title="merit", format=".3~g")] if "merit" in rows else tips


def _names(base: alt.Chart, side: str) -> list[alt.Chart]:
    """Names at one side of their marks, each on a white halo."""
    place = {"align": "right", "dx": -13} if side == "left" else {"align": "left", "dx": 13}
    chosen = base.transform_filter(f"datum.named != '' && datum.side == '{side}'")
    halo = {"stroke": "white", "strokeWidth": 3.5, "strokeJoin": "round"}
    return [chosen.mark_text(**place, **LABEL, **halo), chosen.mark_text(**place, **LABEL)]


def _line(curves: pd.DataFrame | None, name: str, x: alt.X, y: alt.Y, rows: pd.DataFrame) -> list:
    """The reference scaled to other masses and evaluated again there."""
    if curves is None:
        return []
    part = curves[(curves["panel"] == name) & (curves["load"] > 0)]
    (low, high), (least, most) = frames.padded(rows["mass"]), frames.padded(rows["load"], 0.14)
    part = part[part["mass_kg"].between(low, high) & part["load"].between(least, most)]
    if part.empty:
        return []
    data = pd.DataFrame({"mass": frames.signif(part["mass_kg"]), "load": frames.signif(part["load"])})
    stroke = alt.Chart(data).mark_line(color=look.INK, strokeDash=[5, 3], strokeWidth=1.1, clip=True)
    end = alt.Chart(data.nlargest(1, "mass")).mark_text(
        align="right", dx=-8, dy=2, fontSize=9.5, fill=look.QUIET, fontStyle="italic"
    )
    return [stroke.encode(x=x, y=y), end.encode(x=x, y=y, text=alt.value("reference, scaled"))]


def _caption(
    every: pd.DataFrame, usable: pd.DataFrame, lines: pd.DataFrame | None, *, dense: bool = False
) -> str:
    missing = len(every) - len(usable)
    marks = "Each mark is the section itself, coloured by the limit state that governs."
    cells = "The shade of a cell says how many members share it."
    parts = [cells if dense else marks, "Both axes are logarithmic."]
    if lines is not None:
        parts.append(
            "The dashed line is the reference scaled by geometric similarity and evaluated again at "
            "each mass: above it an outline carries more than the reference of equal mass."
        )
    nothing = int((every["load"] == 0).sum())
    if missing > nothing:
        parts.append(f"{missing - nothing} of {len(every)} members were not assessed and are not drawn.")
    if nothing:
        parts.append(
            f"{nothing} of {len(every)} members carry no load (they overturn, or their own weight takes it all) and are "
            "not drawn."
        )
    return " ".join(parts)


def _words(usable: pd.DataFrame) -> str:
    """The chart in words, panel by panel."""
    panels = usable["panel"].nunique()
    said = [f"{count(panels, 'panel')} of resistance against mass, {count(len(usable), 'member')}."]
    for name, part in usable.groupby("panel", sort=False):
        most, least = part.loc[part["load"].idxmax()], part.loc[part["load"].idxmin()]
        unit = part["load_unit"].iloc[0]
        said.append(
            f"{name}: from {least['load']:.3g} {unit} ({least['label']}, {least['mass_kg']:.3g} kg) "
            f"to {most['load']:.3g} {unit} ({most['label']}, {most['mass_kg']:.3g} kg)."
        )
    rest = [f"And {panels - MOST_TOLD} more."] if panels > MOST_TOLD else []
    return " ".join([*said[: MOST_TOLD + 1], *rest])
