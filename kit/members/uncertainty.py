"""Spread of material, dimensions and model carried to resistances and to their order (Monte Carlo)."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from kit.members.cases import LoadCase
from kit.members.materials import Material, Service
from kit.members.merit import read_columns
from kit.members.resistance import load_only
from kit.members.service import at_service
from kit.members.state import Columns, State, columns_of
from kit.sections.section import scaled
from kit.sources import carries

MOST_VALUES = 100_000
GROWN_FROM = (
    "perimeter_mm", "area_mm2", "Ix_mm4", "Iy_mm4", "I1_mm4", "I2_mm4", "Wel_1_mm3", "Wel_2_mm3", "J_mm4",
    "shear_cut_wall_mm",
)  # fmt: skip
LOW, HIGH = 2.5, 97.5
SHEAR_CUTS = ("shear_cut_area_y_mm2", "shear_cut_area_y_free_mm2")


@dataclass(frozen=True)
class Uncertainty:
    """What is uncertain and how often to draw.

    Attributes
    ----------
    samples, seed : int
    dimensions_mm : float
        Standard deviation of how far the whole boundary lies outside where it was drawn.
    model_cov : float
        Coefficient of variation of true ÷ predicted resistance, independent from section to section.
    """

    samples: int = 2000
    seed: int = 1
    dimensions_mm: float = 0.0
    model_cov: float = 0.0


def lognormal(normal: np.ndarray, cov: float) -> np.ndarray:
    """Factors of mean 1 and coefficient of variation ``cov`` from standard normal draws."""
    width = np.sqrt(np.log1p(cov**2))
    return np.exp(width * normal - 0.5 * width**2)


def samples(
    sections: pd.DataFrame, case: LoadCase, material: Material, service: Service, spread: Uncertainty
) -> np.ndarray:
    """Resistances under drawn materials, dimensions and model errors, (samples, n) array, N or N mm.

    Every sample draws one modulus and one strength for all sections (they are made of the same stock) and
    an offset of the boundary and a model error for each section. The draws depend on the seed and on the
    place of the section in the table only, never on how the work is cut up.
    """
    parts = [drawn for _, drawn in blocks(sections, case, material, service, spread)]
    return np.concatenate(parts, axis=1) if parts else np.empty((spread.samples, 0))


def resistance_interval(
    sections: pd.DataFrame, case: LoadCase, material: Material, service: Service, spread: Uncertainty
) -> pd.DataFrame:
    """:func:`interval` of :func:`samples` without keeping the samples: memory does not grow with the table.

    Returns
    -------
    DataFrame
        ``resistance_low`` and ``resistance_high`` with the index of ``sections``.
    """
    parts = [interval(drawn) for _, drawn in blocks(sections, case, material, service, spread)]
    found = pd.concat(parts) if parts else interval(np.empty((1, 0)))
    return found.set_index(sections.index)


def merit_samples(
    sections: pd.DataFrame,
    reference_row: pd.Series,
    case: LoadCase,
    material: Material,
    service: Service,
    spread: Uncertainty,
) -> np.ndarray:
    """Resistances of the similar sections at the reference's mass, drawn, (samples, n) array.

    What they are divided by is common to all, so that their order is the order of merit.
    """
    area = float(reference_row["area_mm2"])
    return samples(scaled(sections, np.sqrt(area / sections["area_mm2"])), case, material, service, spread)


@carries("jcss-pmc", caveats=("dimension-spread-bound", "strengths-move-together"))
def blocks(
    sections: pd.DataFrame, case: LoadCase, material: Material, service: Service, spread: Uncertainty
) -> Iterator[tuple[slice, np.ndarray]]:
    """Rows of the table, some at a time, with their :func:`samples`."""
    state = at_service(material, service)
    table = columns_of(_needed(sections, case, state))
    shared = np.random.default_rng(spread.seed)
    modulus = lognormal(shared.standard_normal(spread.samples), material.youngs_modulus_MPa.cov)
    strength = shared.standard_normal(spread.samples)
    single = np.random.default_rng([spread.seed, 1])
    size = max(1, MOST_VALUES // spread.samples)
    for start in range(0, len(sections), size):
        part = slice(start, min(start + size, len(sections)))
        own = single.standard_normal((part.stop - part.start, 2, spread.samples))
        columns = {name: values[part] for name, values in table.items()}
        yield part, _block(columns, case, varied_by(state, (modulus, strength), len(own)), own, spread)


def _needed(sections: pd.DataFrame, case: LoadCase, state: State) -> pd.DataFrame:
    """The columns that the load case reads, and those from which their growth is estimated."""
    read = read_columns(sections, case, state)
    return sections[[*read.columns, *(name for name in GROWN_FROM if name in sections and name not in read)]]


def _block(columns: Columns, case: LoadCase, state: State, own: np.ndarray, spread: Uncertainty):
    tiled = {name: np.tile(values, spread.samples) for name, values in columns.items()}
    offsets, errors = own[:, 0].T.ravel() * spread.dimensions_mm, own[:, 1].T.ravel()
    tiled = grown(tiled, offsets) if spread.dimensions_mm else tiled
    load = load_only(tiled, case, state)
    return (load * lognormal(errors, spread.model_cov)).reshape(spread.samples, len(own))


def varied_by(state: State, shared: tuple[np.ndarray, np.ndarray], rows: int) -> State:
    """:func:`varied` with every sample's draws repeated for so many rows."""
    return varied(state, *(np.repeat(values, rows) for values in shared))


def varied(state: State, modulus_factor, strength_normal) -> State:
    """The state with its moduli and strengths drawn: strengths move together, each with its own spread."""
    m = state.material

    def drawn(value, spread):
        return value if value is None or spread is None else value * lognormal(strength_normal, spread.cov)

    shear = m.shear_strength_MPa or m.yield_tension_MPa or m.bending_strength_MPa
    return replace(
        state,
        modulus=state.modulus * modulus_factor,
        shear_modulus=state.shear_modulus * modulus_factor,
        column_modulus=state.column_modulus * modulus_factor,
        tension=drawn(state.tension, m.yield_tension_MPa),
        compression=drawn(state.compression, m.yield_compression_MPa),
        shear=drawn(state.shear, shear),
        bending=drawn(state.bending, m.bending_strength_MPa),
        ultimate=drawn(state.ultimate, m.ultimate_tension_MPa),
        bearing=drawn(state.bearing, m.yield_compression_MPa),
    )


def grown(columns: Columns, offset_mm: np.ndarray) -> Columns:
    """Section properties when the boundary lies ``offset_mm`` further out all around.

    Notes
    -----
    To first order dA = P δ exactly, and dI = δ ∮ y² ds ≤ (P δ) c², so that a second moment grows by
    no more than (1 + Pδ/A)^p with p = c²/r² ≤ 3 (a flat strip's value, reached where all material lies at
    the extreme fibre). J grows with p = 1 (closed) to 3 (thin and open), read from J against 4A³/3P².
    The perimeter is let grow as the area: the mean wall, 2A/P, held against a material's limit of
    thickness, stays that of the drawing. A contact, a leg or a web becomes 2δ wider for each wall it
    consists of: as many as fill the contact with its narrower outer leg, and no less than the mean wall,
    2A/P, tells. These are upper bounds of the spread, not values.
    """
    growth = np.maximum(1.0 + columns["perimeter_mm"] * offset_mm / columns["area_mm2"], 0.05)
    powers = _powers(columns)
    larger = {
        name: values * growth ** powers[name] if name in powers else values
        for name, values in columns.items()
    }
    larger["perimeter_mm"] = columns["perimeter_mm"] * growth
    return larger | _wider(columns, 2.0 * offset_mm)


def _wider(columns: Columns, by_mm: np.ndarray) -> Columns:
    """Widths of contacts, legs and webs whose walls are ``by_mm`` thicker."""
    mean_wall = 2.0 * columns["area_mm2"] / columns["perimeter_mm"]
    mean = by_mm / mean_wall
    wider = {}
    for name in (f"{end}_{part}_mm" for end in ("base", "head") for part in ("contact", "leg", "web")):
        if name in columns:
            contact, leg = (columns[f"{name[:5]}{part}_mm"] for part in ("contact", "leg"))
            walls = by_mm / columns[name] * (1.0 if name.endswith("leg_mm") else contact / leg)
            share = np.where(np.abs(walls) > np.abs(mean), walls, mean)
            wider[name] = columns[name] * np.maximum(1.0 + share, 0.0)
    for name in SHEAR_CUTS:
        if name in columns:
            thicker = by_mm / columns.get("shear_cut_wall_mm", mean_wall)
            wider[name] = columns[name] * np.maximum(1.0 + thicker, 0.0)
    return wider


def _powers(columns: Columns) -> dict[str, np.ndarray]:
    area = columns["area_mm2"]

    def second(moment: str, modulus: str) -> np.ndarray:
        extreme = columns[moment] / columns[modulus]
        return np.clip(extreme**2 * area / columns[moment], 1.0, 3.0)

    about_1, about_2 = second("I1_mm4", "Wel_1_mm3"), second("I2_mm4", "Wel_2_mm3")
    principal_is_x = columns["Ix_mm4"] >= columns["Iy_mm4"]
    about_x = np.where(principal_is_x, about_1, about_2)
    about_y = np.where(principal_is_x, about_2, about_1)
    thin_open = 4.0 * area**3 / (3.0 * columns["perimeter_mm"] ** 2)
    torsion = 1.0 + 2.0 / np.maximum(columns["J_mm4"] / thin_open, 1.0)
    powers = {"area_mm2": np.ones_like(area), "I1_mm4": about_1, "I2_mm4": about_2, "Ix_mm4": about_x,
              "Iy_mm4": about_y, "J_mm4": torsion, "Wpl_t_mm3": 0.5 * (torsion + 1.0),
              "shear_area_y_nu0_mm2": np.ones_like(area), "shear_area_x_nu0_mm2": np.ones_like(area),
              "Ixy_mm4": 0.5 * (about_x + about_y), "Iw_mm6": about_2,
              "tau_per_torque_1_per_mm3": -0.5 * (torsion + 1.0)}  # fmt: skip
    for name in columns:
        if name.startswith(("Wel_x", "Wpl_x", "Wcurve_x")):
            powers[name] = about_x
        elif name.startswith(("Wel_y", "Wpl_y")):
            powers[name] = about_y
    return powers | {"Wel_1_mm3": about_1, "Wel_2_mm3": about_2}


def interval(drawn: np.ndarray) -> pd.DataFrame:
    """``resistance_low`` and ``resistance_high``: the 2.5 and 97.5 % points of each section's samples."""
    with np.errstate(invalid="ignore"):
        low, high = np.percentile(drawn, [LOW, HIGH], axis=0)
    return pd.DataFrame({"resistance_low": low, "resistance_high": high})


def order_flips(drawn: np.ndarray, names: Sequence[str]) -> pd.DataFrame:
    """Neighbours in the order of their medians, and the chance that they stand the other way round.

    Parameters
    ----------
    drawn : (samples, n) array
        Of :func:`merit_samples`.
    names : sequence of n str

    Returns
    -------
    DataFrame
        ``ahead``, ``behind`` and ``flip_probability``, the best first; what was not assessed is left out.
    """
    known = np.flatnonzero(np.isfinite(drawn).all(axis=0))
    ranked = known[np.argsort(-np.median(drawn[:, known], axis=0), kind="stable")]
    pairs = list(itertools.pairwise(ranked))
    return pd.DataFrame(
        {
            "ahead": [names[a] for a, _ in pairs],
            "behind": [names[b] for _, b in pairs],
            "flip_probability": [flip_probability(drawn, a, b) for a, b in pairs],
        }
    )


def flip_probability(drawn: np.ndarray, first: int, second: int) -> float:
    """Chance that the order of two sections is the other way round than their medians say.

    Parameters
    ----------
    drawn : (samples, n) array
        Of :func:`samples`, or of merits computed from it, sample by sample.
    first, second : int
        Columns.
    """
    a, b = drawn[:, first], drawn[:, second]
    if not (np.isfinite(a).all() and np.isfinite(b).all()):
        return float("nan")
    ahead = np.median(a) >= np.median(b)
    wrong = np.mean(a < b) if ahead else np.mean(a > b)
    return float(wrong + 0.5 * np.mean(a == b))
