"""Load against mass for thousands of members: counts on a grid, binned here and not in the browser."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from kit.writeup.charts.frames import heading, padded, panel_order, signif

CELLS = 36


def density_panels(usable: pd.DataFrame, size: dict, columns: int) -> alt.ConcatChart:
    """A panel a load case and variant; each cell's shade is the number of members in it.

    Parameters
    ----------
    usable : DataFrame
        ``panel``, ``mass_kg``, ``load``, ``load_unit``; masses and loads are positive.
    size : dict
        ``width`` and ``height`` of a panel [px].
    columns : int
        Panels side by side at full width.
    """
    panels = [
        _panel(usable[usable["panel"] == name], name).properties(**size) for name in panel_order(usable)
    ]
    return alt.concat(*panels, columns=columns).resolve_scale(color="shared")


def _panel(part: pd.DataFrame, name: str) -> alt.Chart:
    unit = part["load_unit"].iloc[0]
    cells = grid(part["mass_kg"].to_numpy(float), part["load"].to_numpy(float))
    axis = {"tickCount": 5, "format": "~g", "grid": True}
    x = alt.X("mass:Q", title="mass [kg]").axis(**axis)
    y = alt.Y("load:Q", title=f"{'torque' if unit == 'N m' else 'load'} [{unit}]").axis(**axis)
    shade = alt.Color("count:Q", scale=alt.Scale(type="log", range=["#d5dfe8", "#0f2233"]))
    return (
        alt.Chart(cells, title=heading(name))
        .mark_rect()
        .encode(
            x=x.scale(type="log", nice=False, domain=padded(part["mass_kg"], 0.02)),
            x2="mass_to:Q",
            y=y.scale(type="log", nice=False, domain=padded(part["load"], 0.02)),
            y2="load_to:Q",
            color=shade.legend(title="members in a cell", orient="top", gradientLength=160),
            tooltip=[
                alt.Tooltip("count:Q", title="members"),
                alt.Tooltip("mass:Q", title="mass from [kg]", format=".3~g"),
                alt.Tooltip("load:Q", title=f"resistance from [{unit}]", format=".3~g"),
            ],
            description=alt.Description("count:Q"),
        )
    )


def grid(mass: np.ndarray, load: np.ndarray, cells: int = CELLS) -> pd.DataFrame:
    """Counts on a grid of equal steps of log mass and log load; only cells that hold members.

    Returns
    -------
    DataFrame
        ``mass``, ``mass_to``, ``load``, ``load_to`` (edges) and ``count``.
    """
    edges = [_edges(values, cells) for values in (mass, load)]
    counts, _, _ = np.histogram2d(mass, load, bins=edges)
    i, j = np.nonzero(counts)
    (mass_edges, load_edges) = edges
    corners = {
        "mass": mass_edges[i],
        "mass_to": mass_edges[i + 1],
        "load": load_edges[j],
        "load_to": load_edges[j + 1],
    }
    frame = pd.DataFrame({name: signif(pd.Series(values), 5) for name, values in corners.items()})
    return frame.assign(count=counts[i, j].astype(int))


def _edges(values: np.ndarray, cells: int) -> np.ndarray:
    low, high = float(values.min()), float(values.max())
    return np.geomspace(low / 1.0001, max(high, low * 1.01) * 1.0001, cells + 1)
