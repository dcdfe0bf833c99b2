"""Buckling of walls as limit states of a row: local and distortional, from the critical strain of its outline.

Walls in shear: :mod:`kit.members.shearwalls`.

The critical strain (greatest compressive stress when buckling begins ÷ Young's modulus, at an interior
minimum of the half-wavelength curve) is a number of the outline alone: it is the same for a section twice
as large and for a stiffer material of the same Poisson's ratio. So the comparison at equal mass evaluates
these limit states like any other.
"""

from __future__ import annotations

import numpy as np

from kit.members.cases import LoadCase
from kit.members.loading import load_effects
from kit.members.moments import first_yield_moment
from kit.members.shearwalls import with_sheared_walls
from kit.members.state import Assessment, Columns, Limit, State
from kit.sections.halfwave_strength import distortional_reduction, winter_reduction
from kit.sources import carries

KINDS = ("local", "distortional")
NOT_CHECKED = "local-buckling-not-checked"
# Limits that are no strength of the member, so that its walls have no part in them.
APART = ("deflection", "bearing", "overturning")
# Slenderness up to which walls let a beam reach its full plastic moment, and from which they do not let it
# pass first yield: an outstand of class 2 (10 ε) by EN 1993-1-5, 4.4 with k = 0.43; the end of Winter's
# plateau. Between them along a straight line.
PLASTIC, ELASTIC = 0.53, 0.673


def column(kind: str) -> str:
    """Name of the column with the critical strain of a kind: inf where it does not apply, NaN unknown."""
    return f"{kind}_critical_strain"


def critical_load(columns: Columns, case: LoadCase, state: State, kind: str) -> np.ndarray:
    """Load at which the walls begin to buckle elastically, N.

    In compression ε E A; in bending ε E W ÷ (greatest moment ÷ load), W of the fibre most compressed.
    """
    stress = columns[column(kind)] * state.column_modulus
    if case.kind == "compression":
        return stress * columns["area_mm2"]
    effects = load_effects(case)
    if case.restraint == "none":
        fibre = "free_tension" if effects.hogging else "free_compression"
    else:
        fibre = "bottom" if effects.hogging else "top"
    return stress * columns[f"Wel_x_{fibre}_mm3"] / (effects.moment * case.span_mm)


def applies(columns: Columns, case: LoadCase, state: State) -> bool:
    """Whether the table knows critical strains and the load case is one they were found for."""
    eccentric = getattr(case, "eccentricity_x_mm", 0.0) or getattr(case, "eccentricity_y_mm", 0.0)
    known = all(column(kind) in columns for kind in KINDS)
    return known and case.kind in ("bending", "compression") and not eccentric and state.material.isotropic


@carries(
    "winter-1947",
    "en-1993-1-3",
    "en-1993-1-5",
    caveats=("halfwave-slenderness-rules", "halfwave-cannot-see", "halfwave-not-ductile"),
)
def wall_limit(kind: str, strength, critical, first_yield, ductile: bool) -> np.ndarray:
    """Load at which a member's walls give way, N; inf where they hold up to its own strength.

    Parameters
    ----------
    kind : str
        "local" (Winter) or "distortional" (EN 1993-1-3, 5.5.3.1(7)).
    strength : (n,) array
        Of the whole member by its own rules, N.
    critical : (n,) array
        Elastic critical load of the walls, N; inf where there is none.
    first_yield : (n,) array
        Load at first yield, N: the lesser start where the walls are too slender for plastic bending.
    ductile : bool
        A material that is not ductile is given no load above ``critical``.
    """
    first = np.minimum(strength, first_yield)
    slender = np.sqrt(first / critical)
    share = np.clip((ELASTIC - slender) / (ELASTIC - PLASTIC), 0.0, 1.0)
    start = first + share * (strength - first)
    rule = winter_reduction if kind == "local" else distortional_reduction
    load = rule(np.sqrt(start / critical)) * start
    load = load if ductile else np.minimum(load, critical)
    return np.where(load < strength * (1.0 - 1e-9), load, np.inf)


def with_walls(found: Assessment, columns: Columns, case: LoadCase, state: State) -> Assessment:
    """The assessment with its walls: in shear, and local and distortional buckling where strains are known."""
    found = with_sheared_walls(found, columns, case, state)
    if not applies(columns, case, state):
        return found
    rows = len(columns["area_mm2"])
    own = [limit for limit in found.limits if limit.name not in APART]
    strength = np.min([np.where(one.checked, one.load, np.inf) for one in own], axis=0)
    first_yield = _first_yield(columns, case, state)
    limits, known = [], np.ones(rows, dtype=bool)
    for kind in KINDS:
        checked = ~np.isnan(columns[column(kind)])
        critical = critical_load(columns, case, state, kind)
        load = wall_limit(kind, strength, critical, first_yield, state.ductile)
        # A strength of zero or one not known has no walls to weaken.
        limits.append(Limit(kind, np.where(checked & (strength > 0), load, np.inf), checked))
        known &= checked
    caveats = tuple(
        (key, np.broadcast_to(mask, rows) & ~known if key == NOT_CHECKED else mask)
        for key, mask in found.caveats
    )
    return Assessment((*found.limits, *limits), caveats, found.blocked)


def _first_yield(columns: Columns, case: LoadCase, state: State) -> np.ndarray:
    if case.kind == "compression":
        return columns["area_mm2"] * state.compression
    effects = load_effects(case)
    moment = first_yield_moment(columns, state, case.restraint != "none", effects.hogging)
    return moment / (effects.moment * case.span_mm)
