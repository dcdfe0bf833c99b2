"""Members that carry several kinds of load at once, by a stated expression."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from kit.errors import InputError
from kit.members import columns, ownweight
from kit.members.cases import LoadCase
from kit.members.codes import aisc_interaction
from kit.members.crossing import first_crossing
from kit.members.materials import Material, Service
from kit.members.resistance import load_name, resistance
from kit.members.service import at_service
from kit.members.state import columns_of
from kit.members.together import EXPRESSIONS, checked_loads, misfit
from kit.members.twistedbeam import TwistedBeam, twisted_beam
from kit.sources import carries


@carries("en-1993-1-1", "aisc-360", "timoshenko-gere-1961", caveats=("linear-interaction",))
def load_factor(
    uses: Sequence,
    axial: Sequence[bool],
    expression: str = "linear",
    critical=np.inf,
    twisted: TwistedBeam | None = None,
) -> np.ndarray:
    """Factor on all loads together at which an interaction expression reaches 1.

    Parameters
    ----------
    uses : sequence of (n,) arrays
        Load ÷ resistance of each load alone.
    axial : sequence of bool
        Which of them are axial forces.
    expression : str
        ``linear``: N + M = 1 (EN 1993-1-1, 6.2.1 (7), a conservative sum). ``AISC 360 H1``: N + 8/9 M = 1
        for N ≥ 0.2, N/2 + M = 1 below (H1-1, axial force and bending only).
    critical : (n,) array
        Elastic critical load ÷ compressive force, at a factor of 1; inf without compression.
    twisted : TwistedBeam, optional
        Where the linear expression adds bending and torsion: what they use together beyond their sum.

    Returns
    -------
    (n,) array; NaN where a use is not known.

    Notes
    -----
    Compression makes what bends grow: M → M / (1 − N/N_cr) (Timoshenko & Gere; AISC 360, App. 8), so that
    n λ + m λ / (1 − λ/c) = 1 is a quadratic in the factor λ.
    """
    n, m = _summed(uses, axial)
    if twisted is not None:
        return _factor_twisted(n, m - twisted.torque, critical, twisted)
    if expression == "linear":
        return _factor(n, m, critical)
    if expression != "AISC 360 H1":
        raise InputError(
            f"'{expression}' is no interaction expression", "interaction", f"one of: {EXPRESSIONS}"
        )
    slender = _factor(n, 8.0 / 9.0 * m, critical)
    return np.where(slender * n >= 0.2, slender, _factor(0.5 * n, m, critical))


def _factor(n, m, critical) -> np.ndarray:
    """Least λ with n λ + m λ / (1 − λ/c) = 1."""
    away = 1.0 / np.asarray(critical, dtype=float)
    b = n + m + away
    return 2.0 / (b + np.sqrt(np.maximum(b**2 - 4.0 * n * away, 0.0)))


def _factor_twisted(n, m, critical, twisted: TwistedBeam) -> np.ndarray:
    """Least λ with n λ + (m λ + s(λ)) / (1 − λ/c) = 1, s the share of torque and twist."""

    def excess(factor):
        return factor * n + (factor * m + twisted.share(factor)) / (1.0 - factor / critical) - 1.0

    with np.errstate(divide="ignore", invalid="ignore"):
        high = np.minimum(_factor(n, m + twisted.torque, critical), (1.0 - 1e-9) * critical)
        return first_crossing(excess, high)


def _summed(uses: Sequence, axial: Sequence[bool]) -> tuple[np.ndarray, np.ndarray]:
    """Uses of the axial forces together, and of the rest."""
    n = sum((np.asarray(u, dtype=float) for u, a in zip(uses, axial, strict=True) if a), 0.0)
    return n, sum((np.asarray(u, dtype=float) for u, a in zip(uses, axial, strict=True) if not a), 0.0)


@carries("en-1993-1-1", "aisc-360", "timoshenko-gere-1961", caveats=("linear-interaction",))
def together(
    uses: Sequence[np.ndarray],
    axial: Sequence[bool],
    expression: str,
    critical: np.ndarray,
    twisted: TwistedBeam | None = None,
) -> dict[str, np.ndarray]:
    """``load_factor`` and ``use`` of :func:`load_factor`'s expression; use is its value at the loads themselves."""
    factor = load_factor(uses, axial, expression, critical, twisted)
    n, m = _summed(uses, axial)
    if twisted is not None:
        m = m - twisted.torque + twisted.share(1.0)
    # Beyond the critical load nothing holds, whatever bends.
    grown = np.where(critical > 1.0, m / np.where(critical > 1.0, 1.0 - 1.0 / critical, 1.0), np.inf)
    grown = np.where(np.isnan(m), np.nan, grown)
    return {"load_factor": factor, "use": n + grown if expression == "linear" else aisc_interaction(n, grown)}


def combined(
    sections: pd.DataFrame,
    loads: Sequence[tuple[LoadCase, float]],
    material: Material,
    service: Service,
    expression: str = "linear",
) -> pd.DataFrame:
    """Members under several load cases at once.

    Parameters
    ----------
    sections : DataFrame
    loads : sequence of (load case, load)
        Two or more, above zero, N, or N mm for torsion; all grow together, beside the member's own weight.
    material, service
    expression : str
        See :func:`load_factor`; what bends grows with the compression.

    Returns
    -------
    DataFrame
        ``load_factor`` (NaN where any of the cases is not assessed) and ``use``, the expression's value
        at the loads themselves; ``caveats`` of the expression.

    Raises
    ------
    InputError
        Fewer than two loads, one that is not above zero, or load cases that cannot act at once.
    """
    _refuse(loads, expression)
    found = [resistance(sections, case, material, service)[load_name(case)] for case, _ in loads]
    return combined_of(sections, loads, found, (material, service), expression)


def combined_of(
    sections: pd.DataFrame,
    loads: Sequence[tuple[LoadCase, float]],
    resistances: Sequence,
    made_of: tuple[Material, Service],
    expression: str = "linear",
) -> pd.DataFrame:
    """:func:`combined` where the resistances are known already, one (n,) array for each load.

    Raises
    ------
    InputError
        If the load cases cannot act at once by the expression.
    """
    _refuse(loads, expression)
    with np.errstate(divide="ignore"):
        uses = [
            load / np.asarray(found, dtype=float) for (_, load), found in zip(loads, resistances, strict=True)
        ]
    axial = [case.kind in ("compression", "tension") for case, _ in loads]
    critical = _critical(sections, loads, *made_of)
    twisted = twisted_beam(columns_of(sections), loads, uses, at_service(*made_of))
    outside = _outside_scope(sections, made_of[0], expression)
    found = together(uses, axial, expression, critical, twisted)
    values = {name: np.where(outside, np.nan, value) for name, value in found.items()}
    told = "linear-interaction" if twisted is None else "linear-interaction twisted-beam-bends-sideways"
    caveats = np.where(outside, "interaction-outside-scope", told)
    return pd.DataFrame(values | {"caveats": caveats}, index=sections.index)


def _refuse(loads: Sequence[tuple[LoadCase, float]], expression: str) -> None:
    checked_loads([(case.name, load) for case, load in loads], "interactions")
    wrong = misfit([case for case, _ in loads], expression)
    if wrong:
        raise InputError(wrong[0], "interactions", wrong[1])


def _outside_scope(sections: pd.DataFrame, material: Material, expression: str) -> np.ndarray:
    """Rows for which the expression was not made: AISC 360, H1 is for steel and for symmetric members."""
    if expression == "linear":
        return np.zeros(len(sections), dtype=bool)
    return ~columns.principal_load_axis(columns_of(sections)) | (material.family != "steel")


def _critical(
    sections: pd.DataFrame, loads: Sequence[tuple[LoadCase, float]], material, service
) -> np.ndarray:
    """Elastic critical load ÷ compressive force, (n,) array; inf without compression.

    Of the critical load that share is left which the column's own weight leaves of its resistance to it. Several
    compressive loads add up their shares of what is left.
    """
    state, table = at_service(material, service), columns_of(sections)
    shares = np.zeros(len(sections))
    for case, load in loads:
        if case.kind == "compression":
            own = columns.critical_loads(table, ownweight.alone(case), state)["least"]
            left = np.maximum(1.0 - ownweight.weight_N(table, case, state) / own, 0.0)
            with np.errstate(divide="ignore"):
                shares += load / (left * columns.critical_loads(table, case, state)["least"])
    with np.errstate(divide="ignore"):
        return 1.0 / shares
