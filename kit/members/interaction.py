"""Members that carry several kinds of load at once, by a stated expression."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from kit.errors import InputError
from kit.members.cases import LoadCase
from kit.members.codes import aisc_interaction
from kit.members.materials import Material, Service
from kit.members.resistance import load_name, resistance
from kit.sources import carries

EXPRESSIONS = ("linear", "AISC 360 H1")


@carries("en-1993-1-1", "aisc-360", caveats=("linear-interaction",))
def load_factor(uses: Sequence, axial: Sequence[bool], expression: str = "linear") -> np.ndarray:
    """Factor on all loads together at which an interaction expression reaches 1.

    Parameters
    ----------
    uses : sequence of (n,) arrays
        Load ÷ resistance of each load alone.
    axial : sequence of bool
        Which of them are axial forces.
    expression : str
        ``linear``: Σ use = 1 (EN 1993-1-1, 6.2.1 (7), a conservative sum). ``AISC 360 H1``: N + 8/9 M = 1
        for N ≥ 0.2, N/2 + M = 1 below (H1-1, axial force and bending only).

    Returns
    -------
    (n,) array; NaN where a use is not known.
    """
    axial_use = sum((np.asarray(u, dtype=float) for u, a in zip(uses, axial, strict=True) if a), 0.0)
    other_use = sum((np.asarray(u, dtype=float) for u, a in zip(uses, axial, strict=True) if not a), 0.0)
    if expression == "linear":
        return 1.0 / (axial_use + other_use)
    if expression != "AISC 360 H1":
        raise InputError(
            f"'{expression}' is no interaction expression", "interaction", f"one of: {EXPRESSIONS}"
        )
    slender = 1.0 / (axial_use + 8.0 / 9.0 * other_use)
    return np.where(slender * axial_use >= 0.2, slender, 1.0 / (axial_use / 2.0 + other_use))


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
        N, or N mm for torsion; all grow together.
    material, service
    expression : str
        See :func:`load_factor`.

    Returns
    -------
    DataFrame
        ``load_factor`` (NaN where any of the cases is not assessed) and ``use``, the expression's value
        at the loads themselves.
    """
    if expression == "AISC 360 H1" and any(case.kind == "torsion" for case, _ in loads):
        raise InputError("torsion has no place in AISC 360, H1", "interaction", "use the linear expression")
    uses = [load / resistance(sections, case, material, service)[load_name(case)] for case, load in loads]
    axial = [case.kind in ("compression", "tension") for case, _ in loads]
    arrays = [use.to_numpy(dtype=float) for use in uses]
    factor = load_factor(arrays, axial, expression)
    if expression == "linear":
        use = sum(arrays)
    else:
        use = aisc_interaction(
            sum((u for u, a in zip(arrays, axial, strict=True) if a), np.zeros(len(sections))),
            sum((u for u, a in zip(arrays, axial, strict=True) if not a), np.zeros(len(sections))),
        )
    return pd.DataFrame({"load_factor": factor, "use": use}, index=sections.index)
