"""Thin walls in shear: where they may buckle before the material yields or breaks in shear.

Torsion shears the walls of closed cells. Where these are not proven stocky nothing is said: what a buckled
wall still carries depends on its neighbours. Transverse shear shears webs, whose strength is lowered to the
elastic buckling stress, with nothing counted after it. Both slendernesses are numbers of the outline alone, so
that the comparison at equal mass and sizing evaluate these guards like any other limit.
"""

from __future__ import annotations

import numpy as np

from kit.members import bending
from kit.members.cases import LoadCase
from kit.members.service import at_service
from kit.members.state import Assessment, Columns, State
from kit.sources import carries

# Slenderness √(τ_y / τ_cr) up to which shear buckling takes nothing away: EN 1993-1-5, table 5.1, with η = 1.
STOCKY = 0.83
# A long plate with both edges simply supported.
LONG_PLATE = 5.34
# Modulus along the grain over the least, that across it (EN 338, softwood).
ACROSS_GRAIN = 30.0
SHEAR_CUTS = ("shear_cut_area_y_mm2", "shear_cut_area_y_free_mm2")


@carries("timoshenko-gere-1961", "en-1993-1-5")
def plate_critical_stress(width_over_thickness, modulus, poissons_ratio):
    """Elastic critical shear stress of a long flat wall, MPa: 5.34 π² E / 12 (1 − ν²) · (t/b)².

    Both edges simply supported: EN 1993-1-5, A.3 without stiffeners; held edges and curvature raise it. inf
    where there is no wall.
    """
    with np.errstate(divide="ignore"):
        return LONG_PLATE * np.pi**2 * modulus / (12.0 * (1.0 - poissons_ratio**2)) / width_over_thickness**2


@carries("aisc-360", "timoshenko-gere-1961")
def tube_critical_stress(diameter_over_thickness, modulus):
    """Critical shear stress of a long round tube in torsion, MPa: 0.60 E / (D/t)^1.5.

    AISC 360, eq. (H3-2b): two lobes that run round the tube, a seventh below theory for imperfections. Shorter
    tubes bear more. inf where there is no wall.
    """
    with np.errstate(divide="ignore"):
        return 0.60 * modulus / np.asarray(diameter_over_thickness, dtype=float) ** 1.5


def slenderness(strength, critical):
    """Slenderness of a wall in shear, √(τ_y / τ_cr)."""
    return np.sqrt(strength / critical)


def _modulus(state: State):
    return state.column_modulus if state.material.isotropic else state.column_modulus / ACROSS_GRAIN


def _strength(state: State):
    """The shear stress that a wall may have to bear, MPa; of a brittle material no less than that."""
    if state.ductile or not state.material.isotropic:
        return state.shear
    return state.compression if state.material.yield_tension_MPa is None else state.lesser


@carries("en-1993-1-5", caveats=("cell-walls-screened",))
def cells_slender(columns: Columns, state: State) -> np.ndarray:
    """Sections whose closed cells have walls that may buckle before the shear strength is reached, (n,) bool.

    Samples of an uncertain material are judged by what they scatter about: a row is assessed or it is not.
    """
    middle = state if np.ndim(state.modulus) == 0 else at_service(state.material, state.service)
    modulus = _modulus(middle)
    flat = plate_critical_stress(columns["cell_wall_b_over_t"], modulus, state.material.poissons_ratio)
    critical = np.minimum(flat, tube_critical_stress(columns["cell_wall_D_over_t"], modulus))
    return slenderness(_strength(middle), critical) > STOCKY


@carries("en-1993-1-5", caveats=("web-shear-buckling",))
def web_share(columns: Columns, state: State) -> np.ndarray:
    """Share of the transverse shear strength that webs reach before they buckle, (n,).

    0.83² τ_cr / τ_y, at most 1: the elastic critical stress, lowered where it nears yielding, with nothing
    counted after buckling (EN 1993-1-5, table 5.1 counts 0.83 √(τ_cr / τ_y)). The web is no more slender than
    the most slender wall there is, nor than the greater dimension over the shortest piece of the worst cut.
    """
    across = np.maximum(columns["depth_mm"], columns["width_mm"]) / columns["shear_cut_wall_mm"]
    web, modulus = np.minimum(columns["wall_b_over_t"], across), _modulus(state)
    flat = plate_critical_stress(web, modulus, state.material.poissons_ratio)
    critical = np.minimum(flat, tube_critical_stress(columns["cell_wall_D_over_t"], modulus))
    return np.minimum(STOCKY**2 * critical / _strength(state), 1.0)


def with_sheared_walls(found: Assessment, columns: Columns, case: LoadCase, state: State) -> Assessment:
    """The assessment with what thin walls in shear forbid or lower."""
    if case.kind == "torsion":
        blocked = (*found.blocked, ("cell-walls-slender", cells_slender(columns, state)))
        return Assessment(found.limits, found.caveats, blocked)
    if case.kind != "bending":
        return found
    share = web_share(columns, state)
    if (share < 1.0).any():
        less = {name: columns[name] * share for name in SHEAR_CUTS if name in columns}
        found = bending.assess(dict(columns) | less, case, state)
    twisted = (bending.twisting_arm(columns, case) != 0.0) & cells_slender(columns, state)
    caveats = (*found.caveats, ("web-shear-buckling", share < 1.0))
    return Assessment(found.limits, caveats, (*found.blocked, ("cell-walls-slender", twisted)))
