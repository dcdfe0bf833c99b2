"""Column curves by name: strength ÷ squash load against slenderness, each inside its own scope."""

from __future__ import annotations

import numpy as np

from kit.sources import carries

# Imperfection factor α and plateau λ0 of χ = 1 / (φ + √(φ² − λ²)), φ = ½ (1 + α(λ − λ0) + λ²).
EN_1993 = {"a0": (0.13, 0.2), "a": (0.21, 0.2), "b": (0.34, 0.2), "c": (0.49, 0.2), "d": (0.76, 0.2)}
EN_1999 = {"A": (0.20, 0.10), "B": (0.32, 0.0)}
EN_1995 = {"solid": 0.2, "glued": 0.1}


JOHNSON_LIMIT = np.sqrt(2.0)


def slenderness(length_over_radius, modulus, strength):
    """Non-dimensional slenderness λ = (L/r) / (π √(E/f))."""
    return np.asarray(length_over_radius, dtype=float) / (np.pi * np.sqrt(modulus / strength))


def ayrton_perry(slenderness, eta):
    """χ that solves (1 − χ)(1 − χ λ²) = η χ: the Ayrton–Perry equation.

    Parameters
    ----------
    slenderness : λ = √(squash load / critical load)
    eta : imperfection, ≥ 0
    """
    squared = np.square(np.asarray(slenderness, dtype=float))
    phi = 0.5 * (1.0 + eta + squared)
    # 1 / (φ + √(φ² − λ²)) is the smaller root; an infinite slenderness carries nothing.
    with np.errstate(invalid="ignore", over="ignore"):
        chi = 1.0 / (phi + np.sqrt(np.maximum(phi**2 - squared, 0.0)))
    return np.where(np.isinf(squared), 0.0, chi)


def _with_plateau(slenderness, alpha, plateau):
    eta = alpha * np.maximum(np.asarray(slenderness, dtype=float) - plateau, 0.0)
    return np.minimum(ayrton_perry(slenderness, eta), 1.0)


@carries("en-1993-1-1")
def en_1993(slenderness, curve):
    """χ of EN 1993-1-1, 6.3.1.2, eq. (6.49), curve a0 … d. Steel only."""
    return _with_plateau(slenderness, *EN_1993[curve])


@carries("en-1999-1-1")
def en_1999(slenderness, curve):
    """χ of EN 1999-1-1, 6.3.1.2, buckling class A (α 0.20, λ0 0.10) or B (0.32, 0). Aluminium only."""
    return _with_plateau(slenderness, *EN_1999[curve])


@carries("en-1999-1-1")
def en_1999_torsional(slenderness):
    """χ of EN 1999-1-1, 6.3.1.2, for torsional and flexural-torsional buckling: α 0.35, λ0 0.4 (from memory)."""
    return _with_plateau(slenderness, 0.35, 0.4)


@carries("en-1995-1-1")
def en_1995(slenderness, kind):
    """k_c of EN 1995-1-1, 6.3.2, eq. (6.25)–(6.29); β_c 0.2 solid, 0.1 glued. Timber only, with E0,05."""
    rel = np.asarray(slenderness, dtype=float)
    k = 0.5 * (1.0 + EN_1995[kind] * np.maximum(rel - 0.3, 0.0) + rel**2)
    with np.errstate(invalid="ignore"):
        reduced = 1.0 / (k + np.sqrt(np.maximum(k**2 - rel**2, 0.0)))
    # Without the plateau the formula would lie above 1 below λ_rel = 0.3.
    return np.where(rel <= 0.3, 1.0, np.minimum(reduced, 1.0))


@carries("aisc-360")
def aisc_e3(slenderness):
    """Fcr / Fy of AISC 360, E3: 0.658^(λ²) up to λ² = 2.25, else 0.877 / λ² (nominal, no φ). Steel only."""
    squared = np.square(np.asarray(slenderness, dtype=float))
    with np.errstate(divide="ignore", over="ignore"):
        return np.where(squared <= 2.25, 0.658**squared, 0.877 / squared)


@carries("budynas-nisbett-2015")
def johnson(slenderness):
    """Johnson's parabola 1 − λ²/4 up to λ = √2, Euler's 1/λ² beyond."""
    squared = np.square(np.asarray(slenderness, dtype=float))
    with np.errstate(divide="ignore"):
        return np.where(squared <= JOHNSON_LIMIT**2, 1.0 - squared / 4.0, 1.0 / squared)


@carries("timoshenko-gere-1961")
def euler(slenderness):
    """Euler's 1/λ², no more than the squash load: no imperfection whatever."""
    squared = np.square(np.asarray(slenderness, dtype=float))
    with np.errstate(divide="ignore"):
        return np.minimum(1.0, 1.0 / squared)


@carries("robertson-1925")
def perry_robertson(slenderness, eta):
    """Ayrton–Perry with a stated imperfection: η = bow · A / W on the compression side, or 0.003 L/r."""
    return ayrton_perry(slenderness, eta)


def reduction(name: str, slenderness, eta=0.0):
    """Strength ÷ squash load by the curve's full name; ``eta`` is read by ``perry-robertson`` only."""
    if name == "perry-robertson":
        return perry_robertson(slenderness, eta)
    if name == "euler":
        return euler(slenderness)
    if name == "johnson":
        return johnson(slenderness)
    standard, _, curve = name.rpartition(" ")
    table = {"EN 1993-1-1": en_1993, "EN 1999-1-1": en_1999, "EN 1995-1-1": en_1995}
    return aisc_e3(slenderness) if name == "AISC 360 E3" else table[standard](slenderness, curve)


SCOPE = {"EN 1993": "steel", "AISC": "steel", "EN 1999": "aluminium", "EN 1995": "timber"}
METALS = ("steel", "aluminium")


def _home(name: str) -> str | None:
    """Family of materials that a code made its curve for; None for the curves of mechanics."""
    return next((family for start, family in SCOPE.items() if name.startswith(start)), None)


def is_home(name: str, family: str) -> bool:
    """Whether a code made the curve for this family of materials."""
    return _home(name) == family


def outside_scope(name: str, family: str) -> tuple[str, bool]:
    """The caveat of using a curve for a family of materials, and whether it forbids a number.

    A metal's curve on another metal, or on a material of unstated family, is a caveat; a code's curve on a
    polymer or on timber, or timber's curve on anything else, is not applicable.
    """
    home = _home(name)
    if home is None:
        parabola = name == "johnson" and family not in METALS
        return ("curve-outside-material" if parabola else ""), False
    if home == family:
        return "", False
    both_metals = home in METALS and family in (*METALS, "unspecified")
    return ("curve-outside-material", False) if both_metals else ("curve-not-applicable", True)
