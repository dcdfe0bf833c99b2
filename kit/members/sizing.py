"""How big to make it: the scale at which an outline carries a stated load with stated partial factors."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from kit.errors import InputError
from kit.members import bending, serviceability, shafts, stability
from kit.members.cases import LoadCase
from kit.members.materials import Material, Service
from kit.members.merit import read_columns, scale_for
from kit.members.resistance import load_name, load_only, resistance
from kit.members.service import at_service
from kit.members.state import NOT_ASSESSED, State, columns_of
from kit.sections.section import scaled
from kit.sources import carries, caveats


@dataclass(frozen=True)
class Factors:
    """Partial factors: the load times ``load`` must not exceed the resistance divided by ``material``."""

    material: float = 1.0
    load: float = 1.0

    def __post_init__(self):
        for name in ("material", "load"):
            if not getattr(self, name) >= 1.0:
                raise InputError(
                    f"{getattr(self, name)} would make the member less safe",
                    f"partial_factors.{name}",
                    "1.0 or more",
                )


@dataclass(frozen=True)
class Sizing:
    """The least similar section that carries the load; ``cautions`` are sentences to print beside it.

    ``scale`` is NaN where no scale from 1/32 to 32 carries the load; ``limit_state`` then says why.
    """

    scale: float
    width_mm: float
    depth_mm: float
    area_mm2: float
    mass_kg: float
    limit_state: str
    resistance: float
    unit: str
    deflection_mm: float
    twist_deg: float
    cautions: tuple[str, ...]


def size(
    section: pd.Series,
    load: float,
    case: LoadCase,
    material: Material,
    service: Service,
    factors: Factors = Factors(),
) -> Sizing:
    """How big to make an outline so that it carries a load.

    Parameters
    ----------
    section : Series
        Its row of ``sections.csv`` at any size; the answer is a scale on it.
    load : float
        The load itself, N (N mm for torsion), before any factor.
    case : LoadCase
        With its length fixed; a ``deflection_limit`` or ``twist_limit_deg`` holds for the load itself.
    material, service, factors

    Raises
    ------
    InputError
        If the load is not above zero.
    """
    if not (np.isfinite(load) and load > 0):
        raise InputError(f"a load of {load:g}", "load", "above zero")
    state = at_service(material, service)
    row = pd.DataFrame([section]).infer_objects()
    table = read_columns(row, case, state)
    strength = float(
        scale_for(table, _without_service(case), state, load * factors.load * factors.material)[0]
    )
    stiff = float(scale_for(table, case, state, load)[0]) if case != _without_service(case) else 0.0
    scale = max(strength, stiff) if np.isfinite(strength) and np.isfinite(stiff) else np.nan
    return _described(row, scale, strength >= stiff, (load, case, material, service, state))


@carries("en-1990", caveats=("partial-factors-apart",))
def design_load(
    sections: pd.DataFrame, case: LoadCase, material: Material, service: Service, factors: Factors
) -> np.ndarray:
    """Greatest load itself with partial factors, (n,) array, N or N mm: R / (γ_M γ_F).

    γ_F F ≤ R / γ_M (EN 1990, eq. 6.8 with 6.6c). Limits of deflection and twist hold for the load itself
    (EN 1990, 6.5.4: partial factors 1). NaN where the resistance is not assessed.
    """
    state = at_service(material, service)
    table = columns_of(sections)
    strength = load_only(table, _without_service(case), state) / (factors.material * factors.load)
    return np.minimum(strength, load_only(table, case, state))


def _without_service(case: LoadCase) -> LoadCase:
    """The load case with its limits of deflection and twist taken out."""
    if case.kind == "bending":
        return replace(case, deflection_limit=None)
    return replace(case, twist_limit_deg=None) if case.kind == "torsion" else case


def _described(row: pd.DataFrame, scale: float, by_strength: bool, asked) -> Sizing:
    load, case, material, service, state = asked
    at = scaled(row, np.array([scale if np.isfinite(scale) else 1.0]))
    governs = _without_service(case) if by_strength else case
    found = resistance(at, governs, material, service).iloc[0]
    missing = not np.isfinite(scale)
    limit = found["limit_state"]
    if missing:
        limit = NOT_ASSESSED if limit == NOT_ASSESSED else "no scale from 1/32 to 32 carries the load"
    return Sizing(
        scale=scale,
        width_mm=scale * float(row["width_mm"].iloc[0]),
        depth_mm=scale * float(row["depth_mm"].iloc[0]),
        area_mm2=scale**2 * float(row["area_mm2"].iloc[0]),
        mass_kg=float(found["mass_kg"]) if not missing else np.nan,
        limit_state=limit,
        resistance=float(found[load_name(case)]) if not missing else np.nan,
        unit="N mm" if case.kind == "torsion" else "N",
        deflection_mm=_deflection(at, load, case, state) if not missing else np.nan,
        twist_deg=_twist(at, load, case, state) if not missing else np.nan,
        cautions=_cautions(found),
    )


def _deflection(at: pd.DataFrame, load: float, case: LoadCase, state: State) -> float:
    """Elastic deflection of a beam under the load itself, mm; NaN for the other kinds."""
    if case.kind != "bending":
        return float("nan")
    columns = columns_of(at)
    arm = bending.twisting_arm(columns, case)
    critical = stability.assess(columns, case, state, arm).critical
    return float(serviceability.deflection(columns, case, state, arm, critical, load)[0])


def _twist(at: pd.DataFrame, load: float, case: LoadCase, state: State) -> float:
    """Elastic twist of a shaft under the load itself, degrees; NaN for the other kinds."""
    if case.kind != "torsion":
        return float("nan")
    columns = columns_of(at)
    gj, eiw = state.shear_modulus * columns["J_mm4"], state.modulus * columns["Iw_mm6"]
    return float(np.rad2deg(shafts.twist(load, case.length_mm, gj, eiw, case.ends))[0])


# What the strengths of walls rest on; said where they were looked at.
OF_WALLS = ("halfwave-slenderness-rules", "halfwave-cannot-see")


def _cautions(found: pd.Series) -> tuple[str, ...]:
    """Sentences for the row's caveats, and for the rules its walls were checked by."""
    texts, walls = caveats(), "local" in found["limit_states_checked"].split("; ")
    keys = ("not-a-design", *found["caveats"].split(), *(OF_WALLS if walls else ()))
    return tuple(texts[key]["text"] for key in keys if key in texts)
