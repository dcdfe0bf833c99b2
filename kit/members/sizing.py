"""How big to make it: the scale at which an outline carries a stated load with stated partial factors."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from kit.errors import InputError
from kit.members import bending, ownweight, serviceability, shafts, stability
from kit.members.cases import LoadCase
from kit.members.materials import Material, Service
from kit.members.merit import GREATEST_SCALE, LEAST_SCALE, load_at, read_columns, scale_for
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
    """The least similar section that carries the load beside its own weight.

    ``scale`` is NaN where no scale from 1/32 to 32 is found; ``limit_state`` then says why. ``deflection_mm``
    holds ``sag_mm`` from the own weight. ``cautions`` are sentences to print beside it.
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
    own_weight_N: float = 0.0
    sag_mm: float = 0.0


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
        The load itself, N (N mm for torsion), before any factor and without the member's own weight.
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
    factor = factors.load * factors.material
    strength = _scale(table, _without_service(case), replace(state, weight_factor=factor), load * factor)
    stiff = _scale(table, case, state, load) if case != _without_service(case) else 0.0
    return _described(row, max(strength, stiff), strength >= stiff, (load, case, material, service, state))


def _scale(table: pd.DataFrame, case: LoadCase, state: State, load: float) -> float:
    """Least scale that carries the load; 0 where the least one looked at carries it, inf where none does."""
    if load_at(table, np.array([LEAST_SCALE]), case, state)[0] >= load:
        return 0.0
    found = float(scale_for(table, case, state, load)[0])
    return found if np.isfinite(found) else np.inf


@carries("en-1990", caveats=("partial-factors-apart",))
def design_load(
    sections: pd.DataFrame, case: LoadCase, material: Material, service: Service, factors: Factors
) -> np.ndarray:
    """Greatest load itself with partial factors, (n,) array, N or N mm: R / (γ_M γ_F).

    γ_F F ≤ R / γ_M (EN 1990, eq. 6.8 with 6.6c), the member's own weight among the loads F. Limits of
    deflection and twist hold for the loads themselves (EN 1990, 6.5.4: partial factors 1). NaN where the
    resistance is not assessed.
    """
    state = at_service(material, service)
    table, factor = columns_of(sections), factors.material * factors.load
    strength = load_only(table, _without_service(case), replace(state, weight_factor=factor)) / factor
    return np.minimum(strength, load_only(table, case, state))


def _without_service(case: LoadCase) -> LoadCase:
    """The load case with its limits of deflection and twist taken out."""
    if case.kind == "bending":
        return replace(case, deflection_limit=None)
    return replace(case, twist_limit_deg=None) if case.kind == "torsion" else case


def _described(row: pd.DataFrame, scale: float, by_strength: bool, asked) -> Sizing:
    load, case, material, service, state = asked
    missing = not 0.0 < scale < np.inf
    # Without an answer: the least scale if that is too large already, else the size of the study.
    at = scaled(row, np.array([scale if not missing else LEAST_SCALE if scale == 0.0 else 1.0]))
    governs = _without_service(case) if by_strength else case
    found = resistance(at, governs, material, service).iloc[0]
    limit = found["limit_state"]
    if missing:
        ends = load_at(pd.concat([row, row]), np.array([LEAST_SCALE, GREATEST_SCALE]), governs, state)
        limit = _no_size(scale, ~np.isfinite(ends), limit == NOT_ASSESSED)
    scale = np.nan if missing else scale
    sag = _sag(at, case, state) if not missing else np.nan
    return Sizing(
        scale=scale,
        width_mm=scale * float(row["width_mm"].iloc[0]),
        depth_mm=scale * float(row["depth_mm"].iloc[0]),
        area_mm2=scale**2 * float(row["area_mm2"].iloc[0]),
        mass_kg=float(found["mass_kg"]) if not missing else np.nan,
        limit_state=limit,
        resistance=float(found[load_name(case)]) if not missing else np.nan,
        unit="N mm" if case.kind == "torsion" else "N",
        deflection_mm=_deflection(at, load, case, state) + sag if not missing else np.nan,
        twist_deg=_twist(at, load, case, state) if not missing else np.nan,
        cautions=_cautions(found),
        own_weight_N=_own_weight(at, case, state) if not missing else np.nan,
        sag_mm=sag,
    )


def _no_size(scale: float, ends_unknown, own_unknown: bool) -> str:
    """Why there is no size: what was not assessed at the least and greatest scale, or as the study makes it."""
    if scale == 0.0:
        return "the smallest scale looked at, 1/32, carries the load already: draw the outline smaller"
    small_unknown, large_unknown = ends_unknown
    if small_unknown and own_unknown:
        return NOT_ASSESSED
    known = " that can be assessed" if small_unknown or own_unknown or large_unknown else ""
    return f"no scale from 1/32 to 32{known} carries the load beside the member's own weight"


def _own_weight(at: pd.DataFrame, case: LoadCase, state: State) -> float:
    """Own weight that the member carries too, N; 0 for shafts."""
    return 0.0 if ownweight.alone(case) is None else float(ownweight.weight_N(columns_of(at), case, state)[0])


def _sag(at: pd.DataFrame, case: LoadCase, state: State) -> float:
    """Elastic deflection of a beam under its own weight, mm; NaN for the other kinds."""
    return _deflection(at, _own_weight(at, case, state), ownweight.alone(case), state)


def _deflection(at: pd.DataFrame, load: float, case: LoadCase, state: State) -> float:
    """Elastic deflection of a beam under the load itself, mm; NaN for the other kinds."""
    if case is None or case.kind != "bending":
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
