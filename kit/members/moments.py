"""Moments a section itself can carry: first yield and full plasticity in unsymmetric bending."""

from __future__ import annotations

import numpy as np

from kit.members import curve_moments
from kit.members.materials import Material
from kit.members.state import Columns, State
from kit.sources import carries

EQUAL = 5e-5


@carries("timoshenko-1955", "pilkey-2002")
def first_yield_moment(columns: Columns, state: State, held: bool, hogging: bool) -> np.ndarray:
    """Moment at first yield of an extreme fibre, N mm, with different strengths in tension and compression.

    Held in the plane of the load the strain is linear in y only, free it is linear in both: the free
    moduli come from the full Ix, Iy, Ixy. A stated bending strength (timber) replaces both strengths.
    """
    if held:
        below, above = columns["Wel_x_bottom_mm3"], columns["Wel_x_top_mm3"]
    else:
        below, above = columns["Wel_x_free_tension_mm3"], columns["Wel_x_free_compression_mm3"]
    tension, compression = (above, below) if hogging else (below, above)
    if state.bending is not None:
        return state.bending * np.minimum(tension, compression)
    return np.minimum(state.tension * tension, state.compression * compression)


@carries("chakrabarty-2006", caveats=("plastic-strains",))
def plastic_moment(columns: Columns, state: State, held: bool, hogging: bool) -> np.ndarray:
    """Full plastic moment, N mm: M = f_above Wpl(ρ), ρ = strength below ÷ strength above.

    Where the table has no modulus for that ratio the lesser strength is taken for both fibres, which
    bounds the moment from below. A stated bending strength is of an elastic fibre: no more than it gives.
    """
    name = "Wpl_x_mm3" if held else "Wpl_x_free_mm3"
    above, below = state.compression, state.tension
    if hogging:
        above, below = below, above
    ratio = strength_ratio(state, hogging)
    column = name if abs(ratio - 1.0) < EQUAL else f"{name}@{ratio:.4f}"
    full = above * columns[column] if column in columns else np.minimum(above, below) * columns[name]
    if state.bending is None:
        return full
    return np.minimum(full, first_yield_moment(columns, state, held, hogging))


def strength_ratio(state: State, hogging: bool = False) -> float:
    """Strength of the fibres below ÷ above a beam's neutral axis (means of the material)."""
    ratio = state.material.yield_tension_MPa.mean / state.material.yield_compression_MPa.mean
    return 1.0 / ratio if hogging else ratio


def plastic_ratios(material: Material) -> tuple[float, ...]:
    """The ratios of strengths for which a table of sections should hold plastic moduli.

    Sagging and hogging; none where the strengths are equal or the material cannot redistribute.
    """
    if not material.ductile:
        return ()
    ratio = material.yield_tension_MPa.mean / material.yield_compression_MPa.mean
    if abs(ratio - 1.0) < EQUAL:
        return ()
    return (ratio, 1.0 / ratio)


def section_moment(columns: Columns, state: State, held: bool, hogging: bool) -> np.ndarray:
    """Moment of the section itself: full plastic where ductile, first yield else, N mm.

    No more than the peak by the material's measured curve, where the table has it.
    """
    own = plastic_moment if state.ductile else first_yield_moment
    return np.minimum(
        own(columns, state, held, hogging), curve_moments.curve_moment(columns, state, held, hogging)
    )
