"""A member's own weight: what it carries beside itself.

Beams are taken to lie, columns to stand and ties to hang; a shaft has no part of its torque from its weight.
"""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from kit.members import bending
from kit.members.cases import BeamAlone, BendingCase, ColumnAlone, CompressionCase, LoadCase
from kit.members.state import (
    Assessment,
    Columns,
    GRAVITY_N_per_kg,
    Limit,
    State,
    mass_kg,
)
from kit.sources import carries

NAME = "own weight"
# Share of the strength from which a row says that its own weight matters.
HEAVY = 0.02
STIFFNESS, APART = ("deflection",), ("deflection", "overturning")


def alone(case: LoadCase) -> LoadCase | None:
    """The same member with nothing on it but its own weight; None for shafts.

    The weight of a beam lies along it and acts through the centroids, that of a column grows from nothing at
    its top, that of a tie hangs whole from its upper end.
    """
    if case.kind == "bending":
        loading = "cantilever" if case.loading == "cantilever" else "uniform"
        return _as(BeamAlone, case, loading=loading, load_height="centroid", load_line_mm=None,
                   load_spacing_mm=None, supports="forked")  # fmt: skip
    if case.kind == "compression":
        return _as(ColumnAlone, case, eccentricity_x_mm=0.0, eccentricity_y_mm=0.0)
    return case if case.kind == "tension" else None


def _as(kind: type, case: BendingCase | CompressionCase, **changes) -> LoadCase:
    return kind(**{field.name: getattr(case, field.name) for field in fields(case)} | changes)


def weight_N(columns: Columns, case: LoadCase, state: State) -> np.ndarray:
    """Own weight of the members, with its factor, N."""
    return mass_kg(columns, case.length_mm, state) * GRAVITY_N_per_kg * state.weight_factor


@carries("timoshenko-gere-1961", "timoshenko-1955", "tarnai-1995", caveats=("own-weight-lies-or-stands",))
def taken_off(
    found: Assessment, itself: Assessment, columns: Columns, case: LoadCase, state: State
) -> Assessment:
    """What is left of every limit state: W / R + G / R_G = 1.

    Parameters
    ----------
    found, itself : Assessment
        Of the member without weight under the load R, and under a load R_G spread as its own weight G is.

    Notes
    -----
    For a moment or a force it is superposition itself: W L/4 + G L/8 = M of a beam with one load. Of two loads
    that buckle a member together the sum of their shares in the critical ones is at least 1 (Dunkerley's rule,
    Papkovich's theorem), and what yields under either alone yields later under a mixture of both: the straight
    line is on the safe side. R_G is the least over all limit states but that of stiffness, which has its own.
    Where G alone is too much, nothing is carried.
    """
    weight = weight_N(columns, case, state)
    share = _share(weight, _least(itself, lambda name: name not in APART))
    sagging = _share(weight, _least(itself, lambda name: name in STIFFNESS))
    # What carries nothing anyway keeps the limit state that says why.
    stands = ~(share >= 1.0) | (_least(found, lambda name: True) <= 0.0)
    limits = [
        Limit(limit.name, _left(limit.load, np.where(stands, sagging if limit.name in STIFFNESS else share, 0.0)),
              limit.checked)
        for limit in found.limits
    ]  # fmt: skip
    limits, unloaded = _tipping(limits, columns, case, weight)
    limits.append(Limit(NAME, np.where(stands, np.inf, 0.0)))
    caveats = (*found.caveats, ("own-weight-taken-off", share > HEAVY), ("tips-unloaded", unloaded))
    return Assessment(tuple(limits), caveats, (*found.blocked, *itself.blocked))


def _least(itself: Assessment, wanted) -> np.ndarray | float:
    """Least load of the wanted limit states; NaN where one of them is not known."""
    loads = [np.where(one.checked, one.load, np.inf) for one in itself.limits if wanted(one.name)]
    return np.min(np.broadcast_arrays(*loads), axis=0) if loads else np.inf


def _tipping(limits: list[Limit], columns: Columns, case: LoadCase, weight) -> tuple[list[Limit], np.ndarray]:
    """Limits with overturning by load and own weight together, and the rows that tip before they are loaded.

    What rests on its base tips where the resultant of the load, on its line, and of the weight, through the
    centroid, falls beside the base.
    """
    rests = case.kind == "bending" and any(limit.name == "overturning" for limit in limits)
    if not rests or case.restraint == "sideways-and-twist":
        return limits, np.zeros(len(weight), dtype=bool)
    x = bending.load_line(columns, case).x_mm
    load = np.min([np.where(one.checked, one.load, np.inf) for one in limits], axis=0)
    both = np.where(load > 0.0, x * load / (load + weight), 0.0)
    tips = (bending.to_edge(columns, "base", both) < 0.0) & (load > 0.0)
    together = [
        Limit(one.name, np.where(tips, 0.0, one.load), one.checked) if one.name == "overturning" else one
        for one in limits
    ]
    unloaded = (bending.to_edge(columns, "base", np.zeros_like(x)) < 0.0) & (weight > 0.0)
    return together, unloaded & (load > 0.0) & ~tips


def _share(weight, resistance) -> np.ndarray:
    return np.where(weight > 0.0, weight / resistance, 0.0)


def _left(load, share):
    """A load less the share that the own weight takes; a limit that cannot govern stays so."""
    return np.where(np.isinf(load), load, load * np.maximum(1.0 - share, 0.0))
