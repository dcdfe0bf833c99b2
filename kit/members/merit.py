"""Comparison at equal mass, and mass for an equal load: always by evaluating again, never by a power."""

from __future__ import annotations

import numpy as np
import pandas as pd

from kit.members.cases import LoadCase
from kit.members.materials import Material, Service
from kit.members.resistance import load_only
from kit.members.service import at_service
from kit.members.state import State, columns_of, mass_kg
from kit.sections.section import scaled

# Scales tried, in turn, on the way to the first crossing; beyond them there is said to be none.
LEAST_SCALE, GREATEST_SCALE, STEP = 1.0 / 32.0, 32.0, 2.0**0.5
CLOSE = 1e-9
TURNS = 60


def merit(
    sections: pd.DataFrame, reference_row: pd.Series, case: LoadCase, material: Material, service: Service
) -> pd.DataFrame:
    """Merit against a reference section, and the mass that carries the reference's load.

    Parameters
    ----------
    sections : DataFrame
        A row for each section, with the columns of ``sections.csv``.
    reference_row : Series
        The reference's row of the same kind of table.
    case, material, service

    Returns
    -------
    DataFrame
        ``merit``: resistance of the geometrically similar section at the reference's mass, length fixed,
        ÷ the reference's resistance. ``mass_for_reference_load_kg``: mass of the least similar section
        that carries the reference's load. NaN where either is not assessed or does not exist.
    """
    state = at_service(material, service)
    table = read_columns(sections, case, state)
    reference = columns_of(pd.DataFrame([reference_row]).infer_objects())
    target = float(load_only(reference, case, state)[0])
    reference_mass = float(mass_kg(reference, case.length_mm, state)[0])
    mass = mass_kg(columns_of(table), case.length_mm, state)
    at_equal_mass = load_at(table, np.sqrt(reference_mass / mass), case, state)
    comparable = np.isfinite(target) and target > 0
    scale = scale_for(table, case, state, target) if comparable else np.full(len(table), np.nan)
    return pd.DataFrame(
        {
            "merit": at_equal_mass / target if comparable else np.nan,
            "mass_for_reference_load_kg": mass * scale**2,
        },
        index=sections.index,
    )


class _Seen(dict):
    """A table that remembers which of its columns were read."""

    def __init__(self, columns):
        super().__init__(columns)
        self.read: set[str] = set()

    def __getitem__(self, name):
        self.read.add(name)
        return super().__getitem__(name)


def read_columns(sections: pd.DataFrame, case: LoadCase, state: State) -> pd.DataFrame:
    """Only the columns that the load case reads (which do not depend on their values)."""
    table = sections.select_dtypes("number")
    seen = _Seen(columns_of(table.iloc[:1]))
    if len(table):
        load_only(seen, case, state)
    return table[[name for name in table.columns if name in seen.read or name == "area_mm2"]]


def load_at(table: pd.DataFrame, scale, case: LoadCase, state: State) -> np.ndarray:
    """Resistance of the similar sections, ``scale`` times as large, at the same length; N or N mm."""
    return load_only(columns_of(scaled(table, np.asarray(scale, dtype=float))), case, state)


def scale_for(table: pd.DataFrame, case: LoadCase, state: State, target) -> np.ndarray:
    """Least scale at which each similar section carries ``target``; NaN where there is none.

    Parameters
    ----------
    target : float or (n,) array
        N or N mm.

    Notes
    -----
    The scale grows from 1/32 by √2 to the first that carries the load (rows that do drop out), then the
    step before it is narrowed by regula falsi in the logarithms, kept inside its bracket by bisection.
    A row that carries the load at the least scale already, or at none, gives NaN.
    """
    target = np.broadcast_to(np.asarray(target, dtype=float), len(table))
    low, high = _bracket(table, case, state, target)
    found = np.full(len(table), np.nan)
    rows = np.flatnonzero(np.isfinite(high))
    if rows.size:
        found[rows] = _narrowed(table.iloc[rows], case, state, target[rows], (low[rows], high[rows]))
    return found


def _bracket(table: pd.DataFrame, case: LoadCase, state: State, target: np.ndarray):
    """Neighbouring scales of which the first does not carry the target and the second does."""
    steps = round(np.log(GREATEST_SCALE / LEAST_SCALE) / np.log(STEP))
    low = np.full(len(table), np.nan)
    high = np.full(len(table), np.nan)
    open_rows = np.arange(len(table))
    for step in range(steps + 1):
        scale = LEAST_SCALE * STEP**step
        load = load_at(table.iloc[open_rows], np.full(open_rows.size, scale), case, state)
        carries_it = load >= target[open_rows]
        if step > 0:
            high[open_rows[carries_it]] = scale
            low[open_rows[carries_it]] = scale / STEP
        open_rows = open_rows[~carries_it]
        if not open_rows.size:
            break
    return low, high


def _narrowed(table: pd.DataFrame, case: LoadCase, state: State, target, bracket) -> np.ndarray:
    """The crossing inside a bracket, by the Illinois form of regula falsi on log load and log scale."""
    a, b = (np.log(end) for end in bracket)

    def gap(x, rows=slice(None)):
        load = load_at(table.iloc[rows], np.exp(x), case, state)
        # Not assessed, or nothing carried: as far below the target as can be said.
        with np.errstate(divide="ignore"):
            value = np.log(load) - np.log(target[rows])
        return np.where(np.isfinite(value), value, -50.0)

    at_a, at_b = gap(a), gap(b)
    for turn in range(TURNS):
        # Every third turn halves, so that a jump of the load cannot stall the search.
        x = (
            0.5 * (a + b)
            if turn % 3 == 2
            else (a * at_b - b * at_a) / np.where(at_b != at_a, at_b - at_a, 1.0)
        )
        x = np.clip(x, a, b)
        at_x = gap(x)
        over = at_x >= 0
        at_a = np.where(over, at_a * 0.5, at_x)
        at_b = np.where(over, at_x, at_b * 0.5)
        a, b = np.where(over, a, x), np.where(over, x, b)
        if np.all((b - a < CLOSE) | ((at_x >= 0) & (at_x < CLOSE))):
            break
    return np.exp(b)


def line_of_equal_merit(
    reference_row: pd.Series, case: LoadCase, material: Material, service: Service, factor: float = 1.0
) -> pd.DataFrame:
    """``factor`` times the load of the reference's similar sections, against their mass (1/4 to 4 times).

    Returns
    -------
    DataFrame
        ``mass_kg`` and ``load`` (N, or N mm in torsion); loads not assessed are NaN.
    """
    state = at_service(material, service)
    scales = np.geomspace(0.5, 2.0, 81)
    row = pd.DataFrame([reference_row]).infer_objects()
    table = pd.concat([read_columns(row, case, state)] * len(scales), ignore_index=True)
    mass = mass_kg(columns_of(table), case.length_mm, state) * scales**2
    return pd.DataFrame({"mass_kg": mass, "load": factor * load_at(table, scales, case, state)})
