"""Which pieces to make and test, with reasons, and what each test needs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from kit.members.loading import load_effects
from kit.sources import carries
from kit.trials.annex_d import LEAST_TESTS
from kit.trials.prediction import Prediction, Test

LOAD_CELLS_N = (500.0, 1e3, 2e3, 5e3, 1e4, 2e4, 5e4, 1e5, 2e5, 5e5, 1e6, 2e6)
MOST_OF_CELL, LEAST_OF_CELL = 0.8, 0.02
OVERHANG_SHARE, LEAST_OVERHANG_MM = 0.10, 25.0
NARROW_SHARE = 0.05


@carries(caveats=("chosen-not-random",))
def choose(members: pd.DataFrame, pieces: int, reference: str) -> pd.DataFrame:
    """Pieces that span mass, load, limit state and uncertainty.

    Parameters
    ----------
    members : DataFrame
        Rows of ``members.csv`` of one variant and load case.
    pieces : int
        How many different ones.
    reference : str
        Name of the reference outline: always made, so that merits can be compared.

    Returns
    -------
    DataFrame
        The chosen rows in order of choice, with ``reason``.

    Notes
    -----
    After the reference come the best merit, one of every limit state, the lightest, the heaviest and the widest
    interval; then, again and again, the outline farthest from all chosen (greatest least
    distance in log mass, log load, limit state and width of interval, each scaled to its range).
    """
    load = loads_of(members)
    known = members[np.isfinite(load) & (load > 0)].copy()
    known["load"] = load
    known["width"] = _width(known)
    chosen: dict[int, str] = {}
    for row, reason in _wanted(known, reference):
        if len(chosen) < pieces:
            chosen.setdefault(row, reason)
    place = _places(known)
    while len(chosen) < min(pieces, len(known)):
        there = place.loc[list(chosen)].to_numpy()
        gap = np.linalg.norm(place.to_numpy()[:, None, :] - there[None], axis=2).min(axis=1)
        gap[[known.index.get_loc(row) for row in chosen]] = -1.0
        chosen[known.index[int(np.argmax(gap))]] = (
            "fills the widest gap between the others in mass, load and limit state"
        )
    picked = known.loc[list(chosen)].drop(columns=["load", "width"])
    return picked.assign(reason=list(chosen.values()))


def loads_of(members: pd.DataFrame) -> pd.Series:
    """Resistance, N or N mm, whichever the row has."""
    nothing = pd.Series(np.nan, index=members.index)
    return members.get("resistance_N", nothing).fillna(members.get("resistance_Nmm", nothing)).astype(float)


def _width(known: pd.DataFrame) -> pd.Series:
    if "resistance_low" not in known:
        return pd.Series(0.0, index=known.index)
    return ((known["resistance_high"] - known["resistance_low"]) / known["load"]).fillna(0.0).astype(float)


def _wanted(known: pd.DataFrame, reference: str):
    at = known.index[known["outline"] == reference]
    if len(at):
        yield at[0], "the reference: everything is compared with it"
    if known.empty:
        return
    if "merit" in known and known["merit"].notna().any():
        yield known["merit"].idxmax(), "carries most for its mass"
    for state, part in known.groupby("limit_state", sort=True):
        middle = (part["load"] - part["load"].median()).abs().idxmin()
        yield middle, f"shows the limit state {state}"
    yield known["mass_kg"].idxmin(), "the lightest"
    yield known["mass_kg"].idxmax(), "the heaviest"
    if known["width"].max() > known["width"].min():
        yield known["width"].idxmax(), "the widest interval of prediction"


def _places(known: pd.DataFrame) -> pd.DataFrame:
    """Coordinates in which pieces are to lie apart, each from 0 to 1."""
    numbers = pd.DataFrame(
        {"mass": np.log(known["mass_kg"]), "load": np.log(known["load"]), "width": 0.5 * known["width"]}
    )
    span = (numbers.max() - numbers.min()).replace(0.0, 1.0)
    states = pd.get_dummies(known["limit_state"]).astype(float) * np.sqrt(0.5)
    return pd.concat([(numbers - numbers.min()) / span, states], axis=1)


def tests_short(chosen: pd.DataFrame, repeats: int) -> list[str]:
    """Limit states that will have too few tests for a characteristic value."""
    counts = chosen["limit_state"].value_counts(sort=False) * repeats
    return [
        f"{state}: {count} tests planned, {LEAST_TESTS} needed for a characteristic value"
        for state, count in counts.items()
        if count < LEAST_TESTS
    ]


@dataclass(frozen=True)
class Needs:
    """What one test needs and must beware of.

    Attributes
    ----------
    length_mm, overhang_mm : float
        Of the piece, and beyond each support.
    blank_mm : (length, width, thickness)
    pieces_per_stock : int or None
        From one piece of the stated stock; None where no stock is stated.
    part_kg, chips_kg : float
    load_cell_N : float
        Least usual capacity of which the upper end of the interval is 80 % or less; a torque for torsion, N mm.
    warnings : tuple of str
    """

    length_mm: float
    overhang_mm: float
    blank_mm: tuple[float, float, float]
    pieces_per_stock: int | None
    part_kg: float
    chips_kg: float
    load_cell_N: float
    warnings: tuple[str, ...]


def needs(
    test: Test, predicted: Prediction, stock=None, load_cell_N: float | None = None, cut: bool = True
) -> Needs:
    """What one test needs.

    Parameters
    ----------
    test : Test
    predicted : Prediction
    stock : (length, width, thickness), mm, optional
    load_cell_N : float, optional
        Capacity of the load cell there is.
    cut : bool
        Whether the outline is cut from a blank; extruded and printed pieces leave no chips.
    """
    bends = test.case.kind == "bending" and test.case.loading != "cantilever"
    pad = getattr(test.case, "bearing_length_mm", None) or 0.0
    overhang = max(OVERHANG_SHARE * test.case.length_mm, LEAST_OVERHANG_MM, pad) if bends else 0.0
    length = test.case.length_mm + 2.0 * overhang
    low_x, low_y, high_x, high_y = test.polygon.bounds
    blank = (length, high_x - low_x, high_y - low_y)
    density = test.material.density_kg_m3 * 1e-9
    part = test.polygon.area * length * density
    top = predicted.high if np.isfinite(predicted.high) else predicted.load
    cell = next((size for size in LOAD_CELLS_N if size * MOST_OF_CELL >= top), top / MOST_OF_CELL)
    warnings = (*_cell_warnings(predicted, top, load_cell_N), *_stand_warnings(test), *_fit(blank, stock))
    chips = blank[0] * blank[1] * blank[2] * density - part if cut else 0.0
    return Needs(length, overhang, blank, per_stock(blank, stock), part, chips, cell, warnings)


def per_stock(blank, stock) -> int | None:
    """Pieces cut from one stock, lying along it."""
    if stock is None:
        return None
    along = int(stock[0] // blank[0])
    flat = int(stock[1] // blank[1]) * int(stock[2] // blank[2])
    upright = int(stock[1] // blank[2]) * int(stock[2] // blank[1])
    return along * max(flat, upright)


def _fit(blank, stock) -> list[str]:
    if stock is None or per_stock(blank, stock):
        return []
    sizes = " × ".join(f"{value:.0f}" for value in blank)
    return [
        f"a piece of {sizes} mm cannot be cut from the stock of {' × '.join(f'{v:.0f}' for v in stock)} mm"
    ]


def _cell_warnings(predicted: Prediction, top: float, cell: float | None) -> list[str]:
    if cell is None or not np.isfinite(top):
        return []
    if top > MOST_OF_CELL * cell:
        return [f"the peak may reach {top / cell:.0%} of the load cell: use a larger one"]
    if predicted.load < LEAST_OF_CELL * cell:
        return [f"the peak is only {predicted.load / cell:.1%} of the load cell: use a smaller one"]
    return []


def _stand_warnings(test: Test) -> list[str]:
    """What the piece stands on and what presses on it."""
    if test.case.kind != "bending":
        return []
    row, found = test.section, []
    width = row["width_mm"]
    base = row["base_right_mm"] - row["base_left_mm"]
    head = row["head_right_mm"] - row["head_left_mm"]
    if base < NARROW_SHARE * width:
        found.append(f"pointed below ({base:.1f} mm wide): it needs a saddle, or it crushes there first")
    if head < NARROW_SHARE * width:
        found.append(f"pointed above ({head:.1f} mm wide): it needs a cap under the load")
    if not row["base_left_mm"] <= 0.0 <= row["base_right_mm"]:
        found.append("its centroid lies beside what it stands on: it overturns unless its supports hold it")
    elif base < 0.2 * row["depth_mm"]:
        found.append("its base is narrower than a fifth of its depth: hold it upright at the supports")
    press = load_effects(test.case).press
    if press and getattr(test.case, "bearing_length_mm", None) is None:
        found.append(
            "crushing under loads and supports was not checked: the load case states no bearing length"
        )
    return found
