"""A measured stress–strain curve, and whether it belongs to the modulus and the strengths stated beside it."""

from __future__ import annotations

import itertools
import math

from kit.errors import InputError

# Common practice, no source: a coupon's slope from few readings lies well within half and twice the modulus
# of its material, its peak no more than 15 % below the mean strength (two deviations of 7 %); a curve in per
# cent of strain, or in another unit of stress, is wrong a hundred or a thousand times.
SLOPE_FACTOR, PEAK_SHARE, ORIGIN_SHARE = 2.0, 0.85, 0.05
# Share of the strength at which the initial slope is read: above the first readings' noise, below yield.
SLOPE_LEVEL = 0.2


def checked_curve(material, where: str) -> tuple[tuple[float, float], ...]:
    """The pairs of a material's curve as numbers.

    Parameters
    ----------
    material : Material
        With ``stress_strain``, ``youngs_modulus_MPa``, ``yield_tension_MPa`` and ``yield_compression_MPa``.
    where : str
        Key path for the error.

    Raises
    ------
    InputError
        Fewer than three pairs, strains that do not rise, or a curve that contradicts the values stated: it
        misses the origin by more than 5 % of the strength, starts with a slope (secant at a fifth of the
        strength) below half or above twice Young's modulus, or peaks more than 15 % below the yield strength
        of a side it tells of.
    """
    pairs = _pairs(material.stress_strain, where)
    strengths = (material.yield_tension_MPa, material.yield_compression_MPa)
    for name, sign, strength in zip(("tension", "compression"), (1.0, -1.0), strengths, strict=True):
        side = [(sign * strain, sign * stress) for strain, stress in pairs if sign * strain > 0]
        if side and strength is not None:
            _check_origin(pairs, strength.mean, where)
            _check_peak(side, strength.mean, name, where)
            _check_slope(sorted(side), strength.mean, material.youngs_modulus_MPa.mean, where)
    return pairs


def _pairs(table, where: str) -> tuple[tuple[float, float], ...]:
    pairs = tuple((float(strain), float(stress)) for strain, stress in table)
    strains = [strain for strain, _ in pairs]
    rising = all(a < b for a, b in itertools.pairwise(strains))
    if len(pairs) < 3 or not rising or not all(map(math.isfinite, sum(pairs, ()))):
        raise InputError(
            f"{len(pairs)} pairs of strain and stress that do not rise in strain",
            where,
            "at least three pairs (strain, stress in MPa), strain rising from one to the next",
        )
    return pairs


def _check_origin(pairs, strength: float, where: str) -> None:
    """Where the curve has a value at strain zero, read or between two readings, it must be nothing."""
    for (e0, s0), (e1, s1) in itertools.pairwise(pairs):
        if e0 <= 0.0 < e1 or e0 < 0.0 <= e1:
            at_zero = s0 - e0 * (s1 - s0) / (e1 - e0)
            if abs(at_zero) > ORIGIN_SHARE * strength:
                raise InputError(
                    f"the curve has {at_zero:.4g} MPa at strain zero",
                    where,
                    "a curve through the pair 0, 0: take off the preload and the seating of the test",
                )


def _check_peak(side, strength: float, name: str, where: str) -> None:
    peak = max(stress for _, stress in side)
    if peak < PEAK_SHARE * strength:
        raise InputError(
            f"the curve peaks at {peak:.4g} MPa in {name}, the yield strength stated is {strength:.4g} MPa",
            where,
            f"stress in MPa, tension positive; a curve that reaches yield_{name} (within 15 %), or a lower one",
        )


def _check_slope(side, strength: float, modulus: float, where: str) -> None:
    slope = _secant(side, SLOPE_LEVEL * strength)
    if not modulus / SLOPE_FACTOR <= slope <= modulus * SLOPE_FACTOR:
        raise InputError(
            f"the curve starts with a slope of {slope:.4g} MPa, Young's modulus is stated as {modulus:.4g} MPa",
            where,
            "strain as a fraction (0.01 for 1 %), stress in MPa; a slope between half and twice the modulus",
        )


def _secant(side, level: float) -> float:
    """Stress ÷ strain where a curve from the origin first reaches a stress, straight between its pairs."""
    e0, s0 = 0.0, 0.0
    for e1, s1 in side:
        if s1 >= level:
            return level / (e0 + (e1 - e0) * (level - s0) / (s1 - s0))
        e0, s0 = e1, s1
    return math.inf
