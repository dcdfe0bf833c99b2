"""The greatest moment of a section by its material's measured stress–strain curve, as columns of a table.

Of similar sections it grows with the cube of the scale, and with the strength where duration or temperature
stretch the curve: so it is kept as a modulus, moment ÷ compressive yield strength.
"""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from kit.members.cases import BendingCase
from kit.members.loading import load_effects
from kit.members.materials import Material
from kit.members.momentcurvature import Fibres, fibres, moment_curvature
from kit.members.state import Columns, State

ELEMENTS, STEPS = 150, 40


def name(held: bool, hogging: bool) -> str:
    """Column of the modulus: bending held in its plane or free, loads down sagging or hogging."""
    return f"Wcurve_x{'' if held else '_free'}{'_hogging' if hogging else ''}_mm3"


NAMES = tuple(name(held, hogging) for held in (True, False) for hogging in (False, True))


def applies(case, material: Material) -> bool:
    """Whether a load case has a use for the measured curve."""
    return case.kind == "bending" and material.stress_strain is not None


def curve_columns(polygon: Polygon, case: BendingCase, material: Material) -> dict[str, float]:
    """The moduli of one section for a load case: of its own sense of bending and of the other.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
        As it stands.
    case : BendingCase
    material : Material
        With a measured curve.
    """
    held = case.restraint != "none"
    found = fibres(polygon, ELEMENTS)
    strength = material.yield_compression_MPa.mean
    sagging = moment_curvature(found, material.stress_strain, held, STEPS).peak_moment_Nmm / strength
    if not any(strain < 0 for strain, _ in material.stress_strain):
        # One law for tension and compression: turned over, the section bends by the same moments.
        return {name(held, False): sagging, name(held, True): sagging}
    over = Fibres(found.area_mm2, found.x_mm, -found.y_mm, found.edge_mm * (1.0, -1.0))
    hogging = moment_curvature(over, material.stress_strain, held, STEPS).peak_moment_Nmm / strength
    return {name(held, False): sagging, name(held, True): hogging}


def curve_moment(columns: Columns, state: State, held: bool, hogging: bool) -> np.ndarray | float:
    """Peak of the moment–curvature curve, N mm; inf where the table does not tell."""
    if name(held, hogging) not in columns:
        return np.inf
    return columns[name(held, hogging)] * state.compression


def not_used(columns: Columns, case: BendingCase, state: State) -> bool:
    """Whether the material has a measured curve that the table makes no use of."""
    known = name(case.restraint != "none", load_effects(case).hogging) in columns
    return state.material.stress_strain is not None and not known
