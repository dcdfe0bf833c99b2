"""Elastic limit of a beam in free bending: lateral-torsional buckling about any axis, in both senses."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from kit.errors import InputError
from kit.sections.area import area_moments
from kit.sections.halfwave import section_under, wall_thickness
from kit.sections.halfwave_solve import buckling_modes
from kit.sections.halfwave_stress import bending_stress, isotropic
from kit.sources import carries

SENSES = {"sagging": 1.0, "hogging": -1.0}
LADDER = 1.3  # step from one half-wavelength to the next


@carries("trahair-1993", "timoshenko-gere-1961", caveats=("halfwave-free-bending", "halfwave-cannot-see"))
def elastic_bending_limit(
    polygon: Polygon, length_mm: float, E: float, nu: float, sense: str = "sagging"
) -> float:
    """Greatest uniform moment a beam can carry elastically, free to move sideways and to twist, Nmm.

    By finite elements on the section, under the stress of unsymmetric bending, as the lowest over
    half-wavelengths length / n in steps of at most 1.3: local buckling and distortion are included (their
    minimum is met within 2 %).

    Parameters
    ----------
    polygon : shapely.Polygon, mm
        As it stands: the moment is about the x axis, whether principal or not.
    length_mm : float
        Between simple supports that hold the ends upright and let them warp.
    E, nu : float
        Young's modulus (MPa) and Poisson's ratio of an isotropic material.
    sense : str
        "sagging" (top compressed) or "hogging".

    Raises
    ------
    InputError
        For another sense, or a length that is not positive.
    """
    if sense not in SENSES:
        raise InputError(f"sense '{sense}'", todo="one of: sagging, hogging")
    if not length_mm > 0:
        raise InputError(f"length {length_mm} mm", todo="greater than 0")
    area = area_moments(polygon)
    section = section_under(
        polygon, isotropic(E, nu), bending_stress(SENSES[sense], 0.0, area.Ix, area.Iy, area.Ixy)
    )
    found = [buckling_modes(section.assembly, length_mm / n, 1) for n in _numbers(polygon, length_mm)]
    return float(min(modes.factors[0] for modes in found))


def _numbers(polygon: Polygon, length_mm: float) -> np.ndarray:
    """Whole numbers of half-waves, closer together than LADDER asks, down to half-waves of two walls."""
    most = max(1.0, length_mm / min(2 * wall_thickness(polygon), length_mm))
    steps = int(np.ceil(np.log(most) / np.log(LADDER))) + 1
    return np.unique(np.round(np.geomspace(1, most, steps))).astype(int)


@carries(
    "trahair-1993", "kitipornchai-trahair-1980", caveats=("halfwave-free-bending", "halfwave-cannot-see")
)
def rigid_bending_limits(sections, length_mm: float, E: float, G: float):
    """Lateral-torsional limits of many sections at once, each taken as rigid in its plane (Vlasov), Nmm.

    Parameters
    ----------
    sections : mapping or DataFrame
        Columns Ix_mm4, Iy_mm4, Ixy_mm4, J_mm4, Iw_mm6, ys_mm, xs_mm, beta_x_mm, beta_y_mm: numbers or arrays.
    length_mm, E, G : float
        mm, MPa, MPa.

    Returns
    -------
    sagging, hogging : float or arrays
        Greatest uniform moments about the x axis, whether principal or not.

    Notes
    -----
    Under the stress of free bending, σ = M (Ixy x − Iy y) / D with D = Ix Iy − Ixy², the movements of the
    shear centre and the rotation in a half-wave of length L (k = π/L) balance when
    M² − P* W M − P* (G J + E Iw k²) = 0, P* = E k² D / Ix, W = ∫ (σ/M) (r² − 2 xs x − 2 ys y) dA:
    one positive root for each sense. For a principal axis P* is Euler's load about y and W = βx.
    """
    Ix, Iy, Ixy = (np.asarray(sections[f"I{axes}_mm4"]) for axes in ("x", "y", "xy"))
    k = np.pi / length_mm
    determinant = Ix * Iy - Ixy**2
    euler = E * k**2 * determinant / Ix
    # ∫x r² dA − 2 xs Iy = −βy Iy and ∫y r² dA − 2 ys Ix = −βx Ix; the mixed parts are 2 ys Ixy and 2 xs Ixy.
    beta_x, beta_y = np.asarray(sections["beta_x_mm"]), np.asarray(sections["beta_y_mm"])
    xs, ys = np.asarray(sections["xs_mm"]), np.asarray(sections["ys_mm"])
    per_x, per_y = Ixy / determinant, -Iy / determinant
    wagner = per_x * (-beta_y * Iy - 2 * ys * Ixy) + per_y * (-beta_x * Ix - 2 * xs * Ixy)
    torsion = np.asarray(sections["J_mm4"]) * G + E * np.asarray(sections["Iw_mm6"]) * k**2
    half = euler * wagner / 2
    root = np.sqrt(half**2 + euler * torsion)
    return half + root, root - half
