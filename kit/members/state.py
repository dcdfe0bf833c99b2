"""The material in service, and what was found out about every row of a table of sections.

A module for each kind of load case returns an :class:`Assessment`: the limit states it checked with the
load at each, the rows it must not give a number for, and the caveats of each row. Arrays have one value
for each row of the table throughout.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from kit.members.materials import Material, Service

GRAVITY_N_per_kg = 9.80665
NOT_ASSESSED = "not assessed"


@dataclass(frozen=True)
class State:
    """A material's values at the duration and temperature of the service (MPa, kg/m3).

    The values are numbers, or arrays with one value for each row (samples of an uncertain material).
    ``blocked`` names the caveat that forbids any resistance, or is empty. ``weight_factor`` multiplies the
    member's own weight (partial factors).
    """

    material: Material
    service: Service
    modulus: float | np.ndarray
    shear_modulus: float | np.ndarray
    column_modulus: float | np.ndarray
    tension: float | np.ndarray
    compression: float | np.ndarray
    shear: float | np.ndarray
    bending: float | np.ndarray | None
    ultimate: float | np.ndarray | None
    bearing: float | np.ndarray
    caveats: tuple[str, ...]
    blocked: str
    weight_factor: float = 1.0

    @property
    def ductile(self) -> bool:
        """Whether stress may redistribute: said of the material, and not denied by its measured curve."""
        return self.material.ductile and not self.curve_ends_early

    @property
    def curve_ends_early(self) -> bool:
        """Whether the measured tension curve ends before three yield strains.

        A rectangle bent to three yield strains has 96 % of its plastic moment, 1 − (1/3)²/3; a curve that
        ends before gives no right to it.
        """
        m = self.material
        if m.stress_strain is None or m.yield_tension_MPa is None:
            return False
        return m.stress_strain[-1][0] < 3.0 * m.yield_tension_MPa.mean / m.youngs_modulus_MPa.mean

    @property
    def column_shear_modulus(self):
        """Shear modulus for stability, MPa: lowered as the modulus is (5 % fractile of timber)."""
        return self.shear_modulus * (self.column_modulus / self.modulus)

    @property
    def fibre_tension(self):
        """Strength of a fibre that bending pulls, MPa: the flexural strength where no tensile one is known."""
        return self.bending if self.material.yield_tension_MPa is None else self.tension

    @property
    def lesser(self):
        """The lesser of the tensile and compressive strengths, MPa."""
        return np.minimum(self.tension, self.compression)


@dataclass(frozen=True)
class Limit:
    """A limit state: its name, the load at it (inf where it cannot govern), and where it was checked."""

    name: str
    load: np.ndarray
    checked: np.ndarray | bool = True


@dataclass(frozen=True)
class Assessment:
    """All that is known about a load case, row by row; masks mark the rows."""

    limits: tuple[Limit, ...]
    caveats: tuple[tuple[str, np.ndarray | bool], ...] = ()
    blocked: tuple[tuple[str, np.ndarray | bool], ...] = ()


Columns = dict[str, np.ndarray]


def columns_of(sections: pd.DataFrame) -> Columns:
    """The numeric columns of a table of sections as float arrays, by name."""
    numeric = sections.select_dtypes("number")
    return {str(name): numeric[name].to_numpy(dtype=float) for name in numeric}


def mass_kg(columns: Columns, length_mm: float, state: State) -> np.ndarray:
    """Mass of the members, kg."""
    return columns["area_mm2"] * length_mm * 1e-9 * state.material.density_kg_m3


def chips_mass_kg(columns: Columns, length_mm: float, state: State) -> np.ndarray:
    """Mass of what is cut away of the stock along the members, kg; NaN where nothing is, or it is not known."""
    area = columns.get("chips_area_mm2", np.full(len(columns["area_mm2"]), np.nan))
    return area * length_mm * 1e-9 * state.material.density_kg_m3


def governing(assessment: Assessment, rows: int) -> tuple[np.ndarray, np.ndarray]:
    """The load at the governing limit state and its index; NaN and −1 where nothing may be said."""
    loads = np.stack([_where_checked(limit, rows) for limit in assessment.limits])
    index = np.argmin(loads, axis=0)
    load = loads[index, np.arange(rows)]
    silent = ~np.isfinite(load)
    for _, mask in assessment.blocked:
        silent = silent | mask
    return np.where(silent, np.nan, load), np.where(silent, -1, index)


def _where_checked(limit: Limit, rows: int) -> np.ndarray:
    # A limit state that came out as NaN must block the row, never be skipped as if it had passed.
    load = np.broadcast_to(np.asarray(limit.load, dtype=float), rows)
    load = np.where(np.isnan(load), -np.inf, load)
    return np.where(limit.checked, load, np.inf)


def words(flagged: tuple[tuple[str, np.ndarray | bool], ...], rows: int) -> np.ndarray:
    """For each row the names whose mask holds there, joined by spaces, in the order given."""
    return _joined([name for name, _ in flagged], [mask for _, mask in flagged], rows, " ")


def checked_names(limits: tuple[Limit, ...], rows: int) -> np.ndarray:
    """For each row the limit states that were checked, joined by '; '."""
    return _joined([limit.name for limit in limits], [limit.checked for limit in limits], rows, "; ")


def _joined(names: list[str], masks: list, rows: int, separator: str) -> np.ndarray:
    code = np.zeros(rows, dtype=np.int64)
    for bit, mask in enumerate(masks):
        code |= np.where(mask, np.int64(1) << bit, 0)
    codes, back = np.unique(code, return_inverse=True)
    texts = [
        separator.join(dict.fromkeys(name for bit, name in enumerate(names) if code >> bit & 1))
        for code in codes.tolist()
    ]
    return np.array(texts, dtype=object)[back]
