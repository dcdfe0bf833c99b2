"""What a loading does along a beam: moments, shears, deflections and torques per unit of total load."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from kit.members.cases import BendingCase
from kit.sources import carries

CANTILEVERS = ("cantilever", "uniform cantilever")


@dataclass(frozen=True)
class LoadEffects:
    """Effects of a total load W on a beam of span L, as ratios.

    Attributes
    ----------
    moment : greatest bending moment ÷ (W L)
    shear : greatest shear force ÷ W
    flexure : deflection at the load or midspan ÷ (W L³ / E I)
    shear_flexure : the same from shear ÷ (W L / G A_s)
    torque : greatest torque ÷ (W e) for a load e off the shear centre, ends held upright
    reaction : greatest support reaction ÷ W
    press : greatest load at one point ÷ W (0 for a uniform load)
    hogging : whether the load down the page puts the top in tension
    """

    moment: float
    shear: float
    flexure: float
    shear_flexure: float
    torque: float
    reaction: float
    press: float
    hogging: bool = False


@carries("timoshenko-1955")
def load_effects(case: BendingCase) -> LoadEffects:
    """Moment, shear and deflection of a beam by the beam theory of every handbook.

    Three-point: M = W L/4, δ = W L³/48EI. Four-point, loads a from the supports: M = W a/2,
    δ = W a (3L² − 4a²)/48EI at midspan. Uniform: M = W L/8, δ = 5 W L³/384EI. Cantilever, load at the
    tip: M = W L, δ = W L³/3EI; its own weight: M = W L/2, δ = W L³/8EI.
    """
    if case.pattern == "uniform cantilever":
        return LoadEffects(0.5, 1.0, 1.0 / 8.0, 0.5, 1.0, 1.0, 0.0, hogging=True)
    if case.loading == "three-point":
        return LoadEffects(0.25, 0.5, 1.0 / 48.0, 0.25, 0.5, 0.5, 1.0)
    if case.loading == "four-point":
        a = 0.5 * (1.0 - case.spacing_mm / case.span_mm)
        return LoadEffects(0.5 * a, 0.5, a * (3.0 - 4.0 * a**2) / 48.0, 0.5 * a, 0.5, 0.5, 0.5)
    if case.loading == "uniform":
        return LoadEffects(0.125, 0.5, 5.0 / 384.0, 0.125, 0.5, 0.5, 0.0)
    return LoadEffects(1.0, 1.0, 1.0 / 3.0, 1.0, 1.0, 1.0, 1.0, hogging=True)


def moment_shape(loading: str, spacing: float, z: np.ndarray) -> np.ndarray:
    """Bending moment ÷ (W L), sagging positive, at z (0 … 1 of the span; a cantilever is fixed at 0)."""
    if loading == "cantilever":
        return -(1.0 - z)
    if loading == "uniform cantilever":
        return -0.5 * (1.0 - z) ** 2
    if loading == "uniform":
        return z * (1.0 - z) / 2.0
    arm = 0.5 * (1.0 - spacing)
    return 0.5 * np.minimum(np.minimum(z, 1.0 - z), arm)


def load_points(loading: str, spacing: float) -> tuple[np.ndarray, np.ndarray]:
    """Where the load acts (0 … 1) and which share of it; a uniform load in Gauss points."""
    if loading.startswith("uniform"):
        z, weight = np.polynomial.legendre.leggauss(24)
        return 0.5 * (z + 1.0), 0.5 * weight
    arm = 0.5 * (1.0 - spacing)
    if loading == "cantilever":
        return np.array([1.0]), np.array([1.0])
    return (
        (np.array([0.5]), np.array([1.0])) if arm == 0.5 else (np.array([arm, 1 - arm]), np.array([0.5, 0.5]))
    )


@dataclass(frozen=True)
class ModeIntegrals:
    """Integrals over 0 … 1 of twist shapes f_i of a beam, (m, m) arrays; see ``lateral``.

    ``slope`` f'f', ``curvature`` f''f'', ``load`` Σ share f f, ``wagner`` m f'f', ``moment`` m² f f;
    (m,): ``torque`` Σ share f, ``biaxial`` m² f. ``bow``: |m| averaged over f_1².
    """

    slope: np.ndarray
    curvature: np.ndarray
    load: np.ndarray
    wagner: np.ndarray
    moment: np.ndarray
    torque: np.ndarray
    biaxial: np.ndarray
    bow: float


@functools.cache
def mode_integrals(
    loading: str, spacing: float = 0.0, terms: int = 3, warping_free: bool = False, even: bool = False
):
    """:class:`ModeIntegrals` of a loading.

    Between forked ends sin(nπz), n odd, or with ``even`` n even: the loads are symmetric, so that the two
    families do not mix. For a cantilever 1 − cos((2n−1)πz/2), which holds the root plane, or with
    ``warping_free`` sin((2n−1)πz/2) and z, which let the root warp: a lower load.
    """
    arm = 0.5 * (1.0 - spacing)
    breaks = np.unique([0.0, arm, 0.5, 1.0 - arm, 1.0])
    z, weight = gauss_points(breaks)
    points, shares = load_points(loading, spacing)
    shapes = _even_shapes if even else _supported_shapes
    if loading in CANTILEVERS:
        shapes = _warping_root_shapes if warping_free else _plane_root_shapes
    moment = moment_shape(loading, spacing, z)
    return integrals_of((z, weight), moment, (points, shares), lambda at: shapes(at, terms))


def integrals_of(gauss, moment, loads, shapes) -> ModeIntegrals:
    """Integrals for any moment diagram.

    Parameters
    ----------
    gauss : points and weights on 0 … 1
    moment : (g,) array at the points
    loads : points and shares of the load
    shapes : function of the points: f, f', f'', (m, g) arrays each
    """
    (z, weight), (points, shares) = gauss, loads
    f, slope, curvature = shapes(z)
    at_load = shapes(np.asarray(points))[0]

    def product(a, b, factor):
        return np.einsum("iz,jz,z->ij", a, b, factor * weight)

    return ModeIntegrals(
        slope=product(slope, slope, 1.0),
        curvature=product(curvature, curvature, 1.0),
        load=np.einsum("iz,jz,z->ij", at_load, at_load, np.asarray(shares)),
        wagner=product(slope, slope, moment),
        moment=product(f, f, moment**2),
        torque=at_load @ np.asarray(shares),
        biaxial=f @ (moment**2 * weight),
        bow=float(np.sum(np.abs(moment) * f[0] ** 2 * weight) / np.sum(f[0] ** 2 * weight)),
    )


def gauss_points(breaks: np.ndarray, order: int = 24):
    """Points and weights of Gauss's rule on each piece between the breaks."""
    z, weight = np.polynomial.legendre.leggauss(order)
    width = np.diff(breaks)[:, None]
    return ((breaks[:-1, None] + 0.5 * width * (z + 1.0)).ravel(), (0.5 * width * weight).ravel())


def _supported_shapes(z, terms: int):
    return sine_shapes(z, 2.0 * np.arange(terms) + 1.0)


def _even_shapes(z, terms: int):
    return sine_shapes(z, 2.0 * np.arange(terms) + 2.0)


def _warping_root_shapes(z, terms: int):
    # The straight line gives the loaded tip a slope, which no sine of the family has.
    line = np.asarray(z, dtype=float)
    straight = (line, np.ones_like(line), np.zeros_like(line))
    sines = sine_shapes(z, np.arange(terms - 1) + 0.5)
    return tuple(np.insert(sine, 1, part, axis=0) for sine, part in zip(sines, straight, strict=True))


def sine_shapes(z, half_waves):
    """sin(nπz) and its two derivatives for each n of ``half_waves``."""
    n = np.asarray(half_waves, dtype=float)[:, None] * np.pi
    return np.sin(n * z), n * np.cos(n * z), -(n**2) * np.sin(n * z)


def _plane_root_shapes(z, terms: int):
    n = (np.arange(terms) + 0.5)[:, None] * np.pi
    return 1.0 - np.cos(n * z), n * np.sin(n * z), n**2 * np.cos(n * z)
