"""Strengths of codes of practice that the kit compares with, in any consistent units."""

from __future__ import annotations

import numpy as np

from kit.sources import carries


@carries("aisc-360")
def aisc_plastic_length(radius_y, modulus, strength):
    """Unbraced length up to which a compact I reaches its plastic moment: Lp = 1.76 ry √(E/Fy), F2-5."""
    return 1.76 * radius_y * np.sqrt(modulus / strength)


@carries("aisc-360")
def aisc_elastic_length(effective_radius, modulus, strength, torsion_ratio):
    """Unbraced length beyond which a compact I buckles elastically, F2-6.

    Parameters
    ----------
    effective_radius : r_ts
    torsion_ratio : J c / (Sx ho)
    """
    rigidity = 0.7 * strength / modulus
    inner = np.sqrt(torsion_ratio**2 + 6.76 * rigidity**2)
    return 1.95 * effective_radius / rigidity * np.sqrt(torsion_ratio + inner)


@carries("aisc-360")
def aisc_critical_stress(length, effective_radius, modulus, torsion_ratio, gradient=1.0):
    """Elastic lateral–torsional buckling stress of a compact doubly symmetric I, F2-4."""
    slender = length / effective_radius
    warping = np.sqrt(1.0 + 0.078 * torsion_ratio * slender**2)
    return gradient * np.pi**2 * modulus / slender**2 * warping


@carries("aisc-360")
def aisc_inelastic_moment(length, lengths, moments, gradient=1.0):
    """Nominal moment between Lp and Lr, F2-2: Cb (Mp − (Mp − Mr)(Lb − Lp)/(Lr − Lp)) ≤ Mp.

    Parameters
    ----------
    lengths : (Lp, Lr)
    moments : (Mp, 0.7 Fy Sx)
    """
    share = (length - lengths[0]) / (lengths[1] - lengths[0])
    return np.minimum(gradient * (moments[0] - (moments[0] - moments[1]) * share), moments[0])


@carries("aisc-360")
def aisc_interaction(axial_use, moment_use_x, moment_use_y=0.0):
    """Use of a doubly symmetric member under axial force and bending, AISC 360, H1-1; ≤ 1 holds."""
    bending = np.asarray(moment_use_x, dtype=float) + moment_use_y
    axial = np.asarray(axial_use, dtype=float)
    return np.where(axial >= 0.2, axial + 8.0 / 9.0 * bending, axial / 2.0 + bending)


@carries("robertson-1925", "bs-5950-1")
def bs_5950_imperfection(ratio, modulus, strength, constant):
    """Perry factor η = a (λ − λ0)/1000, λ0 = 0.2 π √(E/p_y), of BS 5950-1, Annex C (from memory)."""
    plateau = 0.2 * np.pi * np.sqrt(modulus / strength)
    return constant * np.maximum(np.asarray(ratio, dtype=float) - plateau, 0.0) / 1000.0
