"""Published values of lateral–torsional buckling, recomputed."""

from __future__ import annotations

from functools import cache, partial

import numpy as np
from shapely.affinity import scale

from kit.checks import checks_by
from kit.checks import geometries as shape
from kit.members import codes, lateral
from kit.members.cases import BendingCase
from kit.members.loading import ModeIntegrals, integrals_of, mode_integrals, sine_shapes
from kit.members.stability import critical_load
from kit.sections.section import properties

KSI_E = 29000.0
IPE = {"200": (1.424e6, 69800.0, 1.299e10), "300": (6.038e6, 201200.0, 1.259e11)}


def _ipe_moment(name: str, length: float) -> float:
    iz, it, iw = IPE[name]
    return lateral.uniform_moment(length, 210000.0 * iz, 81000.0 * it, 210000.0 * iw) / 1e6


def _ipe500_moment() -> float:
    return lateral.uniform_moment(3750.0, 210000.0 * 21417007, 80769.0 * 892870, 210000.0 * 1.2494e12) / 1e6


checks_by(
    {
        f"LTB-IPE{name}-{length}": partial(_ipe_moment, name, float(length))
        for name, length in (("200", 2000), ("200", 3000), ("300", 3000), ("300", 6000))
    }
)
checks_by(
    {
        "LTB-E119-Mcr": _ipe500_moment,
        "LTB-E119-lam": lambda: np.sqrt(2194261.0 * 235.0 / (_ipe500_moment() * 1e6)),
    }
)


def _terms(warping: float, height: float = 0.0, wagner: float = 0.0) -> lateral.TwistTerms:
    """A beam of length, E I2 and G J one, with K² = π² E Iw / (G J L²)."""
    one = np.ones(1)
    return lateral.TwistTerms(1.0, one, one * warping**2 / np.pi**2, one * height, one * wagner, one)


def _factor(shapes: ModeIntegrals, warping: float, height: float = 0.0, wagner: float = 0.0) -> float:
    return float(lateral.critical_load(_terms(warping, height, wagner), shapes)[0])


def anderson_trahair(warping: float, height: float, wagner: float) -> float:
    """P L²/√(E Iy G J) of a beam with a load at midspan, five terms."""
    return _factor(mode_integrals("three-point", 0.0, 5), warping, height, wagner)


ANDERSON_TRAHAIR = (
    ("0", "0", "0"), ("0", "0", "0.3"), ("1", "0", "-0.6"), ("1", "0", "0.3"), ("1", "0.6", "0"),
    ("1", "0.6", "-0.6"), ("1", "-0.3", "0.3"), ("3", "0", "0"), ("3", "0.3", "-0.3"), ("3", "0", "0.6"),
)  # fmt: skip
checks_by(
    {
        f"LTB-AT-K{k}-e{e}-d{d}": partial(anderson_trahair, float(k), float(e), float(d))
        for k, e, d in ANDERSON_TRAHAIR
    }
)


def diagram_factor(moment, warping: float, terms: int = 8) -> float:
    """Critical greatest moment ÷ √(E I2 G J)/L between forked ends, for a moment diagram on 0 … 1."""
    z, weight = np.polynomial.legendre.leggauss(64)
    z, weight = 0.5 * (z + 1.0), 0.5 * weight
    shapes = integrals_of(
        (z, weight),
        moment(z),
        (np.array([0.5]), np.zeros(1)),
        lambda at: sine_shapes(at, np.arange(1, terms + 1)),
    )
    return _factor(shapes, warping)


def gradient_factor(psi: float, warping: float = 0.0) -> float:
    """C1 of a straight moment diagram from 1 to ψ."""
    return diagram_factor(lambda z: 1.0 + (psi - 1.0) * z, warping) / (np.pi * np.sqrt(1.0 + warping**2))


def _cantilever_uniform() -> float:
    z, weight = np.polynomial.legendre.leggauss(64)
    z, weight = 0.5 * (z + 1.0), 0.5 * weight
    shapes = integrals_of(
        (z, weight),
        -((1.0 - z) ** 2) / 2.0,
        (np.array([1.0]), np.zeros(1)),
        lambda at: sine_shapes(at, np.arange(6) + 0.5),
    )
    return _factor(shapes, 0.0)


def _cantilever_tip() -> float:
    return float(critical_load(_terms(0.0), BendingCase("tip", 1.0, loading="cantilever"))[0][0])


checks_by({f"LTB-C1-{psi}": partial(gradient_factor, float(psi)) for psi in ("0.5", "0", "-0.5", "-1")})
checks_by(
    {
        "LTB-NARROW-SS-mid": lambda: _factor(mode_integrals("three-point", 0.0, 3), 0.0),
        "LTB-NARROW-SS-UDL": lambda: _factor(mode_integrals("uniform", 0.0, 3), 0.0),
        "LTB-NARROW-CANT-tip": _cantilever_tip,
        "LTB-NARROW-CANT-UDL": _cantilever_uniform,
    }
)

W18 = {"ratio": 1.24 / (88.9 * 17.4), "rts": 1.98}


def _w18_lengths() -> tuple[float, float]:
    return (
        codes.aisc_plastic_length(1.65, KSI_E, 50.0),
        codes.aisc_elastic_length(W18["rts"], KSI_E, 50.0, W18["ratio"]),
    )


def _w18_inelastic() -> float:
    moments = (50.0 * 101.0, 0.7 * 50.0 * 88.9)
    return 0.9 * float(codes.aisc_inelastic_moment(11.67 * 12.0, _w18_lengths(), moments, 1.01)) / 12.0


def _w18_stress() -> float:
    return codes.aisc_critical_stress(17.5 * 12.0, W18["rts"], KSI_E, W18["ratio"], 1.30)


checks_by(
    {
        "LTB-W18x50-Lp": lambda: _w18_lengths()[0],
        "LTB-W18x50-Lr": lambda: _w18_lengths()[1],
        "LTB-W18x50-phiMn-F1-2B": _w18_inelastic,
        "LTB-W18x50-Fcr-F1-3B": _w18_stress,
        "LTB-W18x50-phiMn-F1-3B": lambda: 0.9 * _w18_stress() * 88.9 / 12.0,
    }
)


@cache
def _monosymmetric(larger_above: bool):
    """The section MON, its larger flange above (compressed by loads down the page) or below."""
    drawn = shape.i_section(300.0, 200.0, 10.0, 10.0, b_bottom=120.0)
    drawn = drawn if larger_above else scale(drawn, 1.0, -1.0)
    return properties(drawn, bounds=0.002, internal_radius_mm=1e-9)


def _monosymmetric_moment(length: float, larger_compressed: bool) -> float:
    p = _monosymmetric(larger_compressed)
    beta = p.beta_x_mm
    rigidities = (210000.0 * p.I2_mm4, 81000.0 * p.J_mm4, 210000.0 * p.Iw_mm6)
    return float(lateral.uniform_moment(length, *rigidities, beta)) / 1e6


checks_by(
    {
        f"LTB-MONO-{length}-{side}": partial(_monosymmetric_moment, float(length), side == "L")
        for length in (3000, 5000)
        for side in "LS"
    }
)
