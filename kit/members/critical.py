"""Elastic critical loads of columns: flexural, torsional and flexural-torsional."""

from __future__ import annotations

import numpy as np

from kit.sources import carries

# Effective length ÷ length. Fixed–pinned: tan u = u, u = 4.493409, factor π/u.
EFFECTIVE_LENGTH = {
    "pinned-pinned": 1.0,
    "fixed-pinned": np.pi / 4.493409457909064,
    "fixed-fixed": 0.5,
    "fixed-free": 2.0,
}
# (q L)_cr L² / (E I) of a column under its own weight alone, the least eigenvalue of
# E I w'''' + q ((L − z) w')' = 0. Fixed–pinned is pinned below and fixed above; the other way up it is 52.50.
OWN_WEIGHT = {
    "pinned-pinned": 18.568725,
    "fixed-pinned": 30.009421,
    "fixed-fixed": 74.628569,
    "fixed-free": 7.837347,
}


@carries("timoshenko-gere-1961")
def flexural_load(ei, effective_length_mm):
    """Euler's load, N: P = π² E I / (K L)²."""
    return np.pi**2 * ei / np.square(effective_length_mm)


@carries("timoshenko-gere-1961")
def torsional_load(gj, eiw, polar_radius_mm, effective_length_mm):
    """Torsional critical load, N: P = (G J + π² E Iw / (K L)²) / r_s², r_s about the shear centre."""
    return (gj + np.pi**2 * eiw / np.square(effective_length_mm)) / np.square(polar_radius_mm)


def polar_radius(area_mm2, ix_mm4, iy_mm4, x0_mm=0.0, y0_mm=0.0):
    """Polar radius of gyration about the shear centre (x0, y0), mm: r² = (Ix + Iy)/A + x0² + y0²."""
    return np.sqrt((ix_mm4 + iy_mm4) / area_mm2 + np.square(x0_mm) + np.square(y0_mm))


@carries("aisc-360")
def flexural_constant(x0_mm, y0_mm, polar_radius_mm):
    """H = 1 − (x0² + y0²)/r², how far twist and sideways movement are uncoupled (AISC 360, E4)."""
    return 1.0 - (np.square(x0_mm) + np.square(y0_mm)) / np.square(polar_radius_mm)


@carries("timoshenko-gere-1961", "vlasov-1961")
def lowest_coupled_load(p1, p2, pt, x0, y0, polar_radius_mm):
    """Least root of the general cubic for a column whose shear centre is not its centroid.

    Parameters
    ----------
    p1, p2 : (n,) arrays, N
        Flexural loads about the principal axes 1 (moving along y) and 2 (moving along x).
    pt : (n,) array, N
        Torsional load.
    x0, y0 : (n,) arrays, mm
        Shear centre in principal coordinates.
    polar_radius_mm : (n,) array, mm
        About the shear centre.

    Notes
    -----
    (P − P1)(P − P2)(P − Pt) r² − P²(P − P2) x0² − P²(P − P1) y0² = 0: bending about axis 1 moves the
    section along y and so couples with x0, bending about axis 2 with y0. Written as a symmetric eigenvalue
    problem for 1/P, all roots are real and the greatest is found in closed form without cancellation.
    """
    a, b, c = 1.0 / p1, 1.0 / p2, 1.0 / pt
    g1 = x0 / polar_radius_mm / np.sqrt(p1 * pt)
    g2 = y0 / polar_radius_mm / np.sqrt(p2 * pt)
    return 1.0 / _greatest_eigenvalue(a, b, c, g1, g2)


@carries("timoshenko-gere-1961", "vlasov-1961")
def eccentric_coupled_load(loads, place, load_at, polar_radius_mm, stress_radius_2):
    """Least critical load of a column whose load acts off the centroid, N.

    Parameters
    ----------
    loads : (P1, P2, Pt), (n,) arrays, N
        As for :func:`lowest_coupled_load`.
    place, load_at : pairs of (n,) arrays, mm
        Shear centre and point of the load in principal coordinates.
    polar_radius_mm : (n,) array, mm
        About the shear centre.
    stress_radius_2 : (n,) array, mm2
        ∫σ r_s² dA ÷ N of the stress σ under the load: r_s² − β_1 e_2 − β_2 e_1 in principal coordinates.

    Notes
    -----
    The moment N e is taken alike all along: it couples bending with twist by the distance of the load, no longer
    of the centroid, from the shear centre, and its stress twists by the Wagner effect. For bending about one
    axis of a doubly symmetric section (P2 − P)(Pt − P) r² = P² e².
    """
    (p1, p2, pt), (x0, y0), (ex, ey) = loads, place, load_at
    g1 = (x0 - ex) / polar_radius_mm / np.sqrt(p1 * pt)
    g2 = (y0 - ey) / polar_radius_mm / np.sqrt(p2 * pt)
    return 1.0 / _greatest_eigenvalue(1.0 / p1, 1.0 / p2, stress_radius_2 / polar_radius_mm**2 / pt, g1, g2)


def _greatest_eigenvalue(a, b, c, g1, g2):
    """Greatest eigenvalue of [[a, 0, g1], [0, b, g2], [g1, g2, c]], by the trigonometric formula."""
    mean = (a + b + c) / 3.0
    da, db, dc = a - mean, b - mean, c - mean
    spread = np.sqrt((da**2 + db**2 + dc**2 + 2.0 * (g1**2 + g2**2)) / 6.0)
    determinant = da * (db * dc - g2**2) - g1**2 * db
    safe = np.where(spread > 0, spread, 1.0)
    angle = np.arccos(np.clip(determinant / (2.0 * safe**3), -1.0, 1.0)) / 3.0
    return mean + 2.0 * spread * np.cos(angle)


def to_principal(x, y, angle_deg):
    """Coordinates in axes turned counter-clockwise by ``angle_deg``."""
    turn = np.deg2rad(angle_deg)
    return x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)


@carries("timoshenko-gere-1961")
def self_weight_buckling_factor() -> float:
    """(q L)_cr L² / (E I) of a cantilever standing under its own weight.

    The least root z of J_{−1/3}(z) = 0 gives q L³/(E I) = 9 z² / 4.
    """
    from scipy.optimize import brentq
    from scipy.special import jv

    return 9.0 * brentq(lambda z: jv(-1.0 / 3.0, z), 1.0, 2.5, xtol=1e-14) ** 2 / 4.0
