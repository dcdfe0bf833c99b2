"""Load against mass: what each outline carries for what it weighs, one panel a load case and variant."""

from __future__ import annotations

from collections.abc import Mapping

import altair as alt
import numpy as np
import pandas as pd

from kit.writeup import look
from kit.writeup.charts.frames import (
    MOST_MARKS,
    add_paths,
    note,
    padded,
    panel_order,
    signif,
    with_panels,
)
from kit.writeup.figures import Figure

KEY, TITLE = "load-against-mass", "What each outline carries for its mass"
PANEL = {"width": 268, "height": 232}
LAYOUT = {"panel": PANEL["width"], "most": 3, "margin": 64}


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
        ``section_id`` → polygon [mm], drawn as the mark.
    lines : DataFrame, optional
        The reference scaled by similarity and evaluated again: ``load_case``, ``variant`` (where there
        are several), ``mass_kg``, ``resistance_N`` or ``resistance_Nmm``. Above the line an outline beats
        the reference, mass for mass.
    reference : str, optional
        Name of the reference outline, labelled in every panel.
    """
    table = with_panels(members)
    usable = table[(table["load"] > 0) & (table["mass_kg"] > 0)]
    if usable.empty:
        return note(KEY, TITLE, "No member has a resistance to show.")
    if len(usable) > MOST_MARKS:
        return _densities(usable, len(table), lines)
    rows = _rows(usable, reference)
    paths = add_paths(usable, polygons)
    curves = with_panels(lines.assign(outline="")) if lines is not None else None
    panels = [_panel(rows[rows["panel"] == name], name, paths, curves, rows) for name in panel_order(rows)]
    chart = alt.concat(*panels, columns=LAYOUT["most"]).resolve_scale(color="shared")
    return Figure(KEY, chart, TITLE, _caption(table, usable, lines), _words(usable), LAYOUT)


def _rows(usable: pd.DataFrame, reference: str | None) -> pd.DataFrame:
    """The columns drawn, short numbers, and which rows carry a label beside their mark."""
    rows = pd.DataFrame(
        {
            "panel": usable["panel"],
            "label": usable["label"],
            "group": usable["group"],
            "mass": signif(usable["mass_kg"]),
            "load": signif(usable["load"]),
            "unit": usable["load_unit"],
            "state": usable["state"],
        }
    )
    if "merit" in usable:
        rows["merit"] = signif(usable["merit"].astype(float), 3)
    rows["named"] = _named(usable, reference)
    # Heavier marks first, so that small ones stay visible on top.
    return rows.sort_values(["panel", "mass"], ascending=[True, False], kind="stable").loc[:, :]


def _named(usable: pd.DataFrame, reference: str | None) -> pd.Series:
    """Label the reference, the best two and the worst by merit (else load per mass) in each panel."""
    score = usable["merit"].astype(float) if "merit" in usable else usable["load"] / usable["mass_kg"]
    named = pd.Series("", index=usable.index)
    for _, part in usable.groupby("panel", sort=False):
        order = score[part.index].sort_values(kind="stable")
        chosen = [*order.index[-2:], order.index[0]]
        if reference is not None:
            chosen += list(part.index[part["outline"].astype(str) == reference][:1])
        for index in dict.fromkeys(chosen):
            if _free(part, index, [i for i in part.index if named[i]]):
                named[index] = part.loc[index, "label"]
    return named


def _free(part: pd.DataFrame, index: int, taken: list) -> bool:
    """Whether a label at this mark stays clear of those already placed (log axes, panel in px)."""

    def place(i: int) -> tuple[float, float]:
        mass, load = np.log(part["mass_kg"].astype(float)), np.log(part["load"].astype(float))
        width, height = max(float(np.ptp(mass)), 0.2), max(float(np.ptp(load)), 0.2)
        return (mass[i] - mass.min()) / width * PANEL["width"], (load[i] - load.min()) / height * PANEL[
            "height"
        ]

    here = place(index)
    return all(abs(here[1] - place(i)[1]) > 14 or abs(here[0] - place(i)[0]) > 90 for i in taken)


def _panel(
    rows: pd.DataFrame, name: str, paths: pd.DataFrame, curves: pd.DataFrame | None, every: pd.DataFrame
):
    unit = rows["unit"].iloc[0]
    quantity = "torque" if unit == "N m" else "load"
    x = alt.X(
        "mass:Q", title="mass [kg]", scale=alt.Scale(type="log", domain=padded(rows["mass"]), nice=False)
    )
    y = alt.Y("load:Q", title=f"{quantity} [{unit}]")
    y = y.scale(type="log", domain=padded(rows["load"], 0.14), nice=False)
    axis = {"grid": True, "tickCount": 5, "format": "~g"}
    x, y = x.axis(**axis), y.axis(**axis)
    domain, colours = look.state_scale(sorted(set(every["state"])))
    colour = alt.Color("state:N", scale=alt.Scale(domain=domain, range=colours)).legend(
        title="limit state (click to pick)", orient="top", symbolType="square", columns=4, labelLimit=260
    )
    picked, state, group = _selections(every)
    shown = picked & state & group
    base = alt.Chart(rows).transform_lookup("label", alt.LookupData(paths, "label", ["path"]))
    described = alt.Description("words:N")
    marks = (
        base.transform_calculate(
            words=f"datum.label + ': ' + datum.mass + ' kg carries ' + datum.load + ' {unit}, ' + datum.state"
        )
        .mark_point(filled=True, stroke="white", strokeWidth=0.5, cursor="pointer")
        .encode(
            x=x,
            y=y,
            shape=alt.Shape("path:N", scale=None, legend=None),
            size=alt.condition(picked, alt.value(420), alt.value(260)),
            color=colour,
            opacity=alt.condition(shown, alt.value(0.95), alt.value(0.12)),
            tooltip=_tooltip(rows, unit),
            description=described,
        )
        .add_params(picked, state, group)
    )
    texts = base.mark_text(
        align="left", dx=13, dy=-1, fontSize=10.5, stroke="white", strokeWidth=3, strokeJoin="round"
    )
    where = {
        "x": x,
        "y": y,
        "text": alt.Text("named:N"),
        "opacity": alt.condition(shown, alt.value(1), alt.value(0.15)),
    }
    halo = texts.transform_filter("datum.named != ''").encode(**where)
    words = (
        base.mark_text(align="left", dx=13, dy=-1, fontSize=10.5, fill=look.INK)
        .transform_filter("datum.named != ''")
        .encode(**where)
    )
    layers = [*_lines(curves, name, x, y, rows), marks, halo, words]
    return alt.layer(*layers).properties(title=_heading(name), **PANEL)


def _heading(name: str) -> alt.TitleParams:
    case, _, variant = name.partition(" — ")
    return alt.TitleParams(text=case, subtitle=variant) if variant else alt.TitleParams(text=case)


def _selections(rows: pd.DataFrame):
    """Pick an outline by clicking a mark, a limit state in the key, a group in a list (works by keyboard)."""
    picked = alt.selection_point(name="picked", fields=["label"], on="click", empty=True)
    state = alt.selection_point(name="state", fields=["state"], bind="legend")
    groups = sorted(set(rows["group"]))
    choice = alt.binding_select(options=[None, *groups], labels=["all", *groups], name="show ")
    group = alt.selection_point(name="group", fields=["group"], bind=choice)
    return picked, state, group


def _tooltip(rows: pd.DataFrame, unit: str) -> list[alt.Tooltip]:
    tips = [
        alt.Tooltip("label:N", title="outline"),
        alt.Tooltip("mass:Q", title="mass [kg]", format=".3~g"),
        alt.Tooltip("load:Q", title=f"resistance [{unit}]", format=".3~g"),
        alt.Tooltip("state:N", title="limit state"),
    ]
    if "merit" in rows:
        tips.append(alt.Tooltip("merit:Q", title="merit", format=".3~g"))
    return tips


def _lines(curves: pd.DataFrame | None, name: str, x: alt.X, y: alt.Y, rows: pd.DataFrame) -> list:
    """The reference scaled to other masses and evaluated again there."""
    if curves is None:
        return []
    part = curves[(curves["panel"] == name) & (curves["load"] > 0)]
    (low, high), (least, most) = padded(rows["mass"]), padded(rows["load"], 0.14)
    part = part[part["mass_kg"].between(low, high) & part["load"].between(least, most)]
    if part.empty:
        return []
    data = pd.DataFrame({"mass": signif(part["mass_kg"]), "load": signif(part["load"])})
    line = (
        alt.Chart(data)
        .mark_line(color=look.INK, strokeDash=[5, 3], strokeWidth=1.1, clip=True)
        .encode(x=x, y=y)
    )
    end = alt.Chart(data.nlargest(1, "mass")).mark_text(
        align="right", dy=-5, fontSize=9.5, fill=look.QUIET, fontStyle="italic"
    )
    return [line, end.encode(x=x, y=y, text=alt.value("reference, scaled"))]


def _densities(usable: pd.DataFrame, total: int, lines: pd.DataFrame | None) -> Figure:
    """Counts on a grid of equal steps of log mass and log load, for thousands of members."""
    panels = []
    for name in panel_order(usable):
        part = usable[usable["panel"] == name]
        unit = part["load_unit"].iloc[0]
        cells = _grid(part["mass_kg"].to_numpy(float), part["load"].to_numpy(float))
        log = {"type": "log", "nice": False}
        axis = {"tickCount": 5, "format": "~g"}
        x = alt.X(
            "mass_low:Q", title="mass [kg]", scale=alt.Scale(domain=padded(part["mass_kg"], 0.02), **log)
        )
        y = alt.Y(
            "load_low:Q", title=f"load [{unit}]", scale=alt.Scale(domain=padded(part["load"], 0.02), **log)
        )
        shade = alt.Color("count:Q", scale=alt.Scale(type="log", range=["#dbe4ec", "#12263a"]))
        cell = (
            alt.Chart(cells)
            .mark_rect()
            .encode(
                x=x.axis(**axis),
                x2="mass_high:Q",
                y=y.axis(**axis),
                y2="load_high:Q",
                color=shade.legend(title="members in a cell", orient="top", gradientLength=160),
                tooltip=[
                    alt.Tooltip("count:Q", title="members"),
                    alt.Tooltip("mass_low:Q", title="mass from [kg]", format=".3~g"),
                    alt.Tooltip("load_low:Q", title=f"resistance from [{unit}]", format=".3~g"),
                ],
                description=alt.Description("count:Q"),
            )
        )
        panels.append(cell.properties(title=_heading(name), **PANEL))
    chart = alt.concat(*panels, columns=LAYOUT["most"]).resolve_scale(color="shared")
    caption = _caption(total_or(usable, total), usable, lines)
    return Figure(
        KEY, chart, TITLE, caption + " Cells show how many members share them.", _words(usable), LAYOUT
    )


def total_or(usable: pd.DataFrame, total: int) -> range:
    """Something whose length is the number of all members."""
    return range(max(total, len(usable)))


def _grid(mass: np.ndarray, load: np.ndarray, cells: int = 36) -> pd.DataFrame:
    """Counts of members on a log-log grid; only cells that hold some."""
    edges = [
        np.geomspace(v.min() / 1.0001, max(v.max(), v.min() * 1.01) * 1.0001, cells + 1) for v in (mass, load)
    ]
    counts, _, _ = np.histogram2d(mass, load, bins=edges)
    i, j = np.nonzero(counts)
    corners = {
        "mass_low": edges[0][i],
        "mass_high": edges[0][i + 1],
        "load_low": edges[1][j],
        "load_high": edges[1][j + 1],
    }
    frame = pd.DataFrame({name: signif(pd.Series(values), 5) for name, values in corners.items()})
    return frame.assign(count=counts[i, j].astype(int))


def _caption(every, usable: pd.DataFrame, lines: pd.DataFrame | None) -> str:
    missing = len(every) - len(usable)
    parts = [
        "Each mark is the section itself, coloured by the limit state that governs; both axes are logarithmic."
    ]
    if lines is not None:
        parts.append(
            "The dashed line is the reference scaled by geometric similarity and evaluated again at each mass: "
            "above it an outline carries more than the reference of equal mass."
        )
    if missing:
        parts.append(f"{missing} of {len(every)} members were not assessed and are not drawn.")
    return " ".join(parts)


def _words(usable: pd.DataFrame) -> str:
    """The chart in words, panel by panel."""
    said = [f"{usable['panel'].nunique()} panels of resistance against mass, {len(usable)} members."]
    for name, part in usable.groupby("panel", sort=False):
        most, least = part.loc[part["load"].idxmax()], part.loc[part["load"].idxmin()]
        unit = part["load_unit"].iloc[0]
        said.append(
            f"{name}: from {least['load']:.3g} {unit} ({least['label']}, {least['mass_kg']:.3g} kg) "
            f"to {most['load']:.3g} {unit} ({most['label']}, {most['mass_kg']:.3g} kg)."
        )
    return " ".join(said[:9])
