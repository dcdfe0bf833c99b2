"""Flexural coupons by ISO 178 and ASTM D790, inside their scope only."""

from __future__ import annotations

from dataclasses import dataclass

from kit.errors import Unusable
from kit.sources import carries
from kit.trials.setups import Rig, Setup

ISO_178_STRAINS = (0.0005, 0.0025)
ISO_178_CONVENTIONAL = 0.035
SPAN_RATIO, SPAN_TOLERANCE = 16.0, 1.0


@carries("iso-178")
def flexural_stress(load, span_mm, width_mm, depth_mm):
    """σ = 3 F L / (2 b h²), MPa: greatest stress of a rectangular bar in three-point bending."""
    return 3.0 * load * span_mm / (2.0 * width_mm * depth_mm**2)


@carries("iso-178")
def flexural_strain(deflection_mm, span_mm, depth_mm):
    """ε = 6 s h / L²."""
    return 6.0 * deflection_mm * depth_mm / span_mm**2


@carries("iso-178")
def deflection_at(strain, span_mm, depth_mm):
    """s = ε L² / (6 h), mm."""
    return strain * span_mm**2 / (6.0 * depth_mm)


@carries("iso-178")
def iso_178_modulus(stress_1, stress_2, strain_1=ISO_178_STRAINS[0], strain_2=ISO_178_STRAINS[1]):
    """E_f = (σ2 − σ1)/(ε2 − ε1), MPa, between strains of 0.0005 and 0.0025."""
    return (stress_2 - stress_1) / (strain_2 - strain_1)


@carries("astm-d790")
def d790_rate(span_mm, depth_mm, strain_rate_per_min=0.01):
    """R = Z L² / (6 d), mm/min: rate of the crosshead for a rate Z of the outer fibre's strain."""
    return strain_rate_per_min * span_mm**2 / (6.0 * depth_mm)


@carries("astm-d790")
def large_span_stress(load, deflection_mm, span_mm, width_mm, depth_mm):
    """σ = 3PL/(2bd²) [1 + 6 (D/L)² − 4 (d/L)(D/L)], MPa: for spans above 16 d with large deflections."""
    ratio = deflection_mm / span_mm
    grown = 1.0 + 6.0 * ratio**2 - 4.0 * (depth_mm / span_mm) * ratio
    return flexural_stress(load, span_mm, width_mm, depth_mm) * grown


@carries("astm-d790")
def tangent_modulus(slope, span_mm, width_mm, depth_mm):
    """E_B = L³ m / (4 b d³), MPa: m is the slope of the steepest straight part of the record, N/mm."""
    return span_mm**3 * slope / (4.0 * width_mm * depth_mm**3)


@dataclass(frozen=True)
class Coupon:
    """A rectangular bar in three-point bending, mm; ``standard`` is ``iso-178`` or ``astm-d790``."""

    standard: str
    width_mm: float
    depth_mm: float
    span_mm: float

    def __post_init__(self):
        outside = self._outside()
        if outside:
            raise Unusable(
                f"outside the scope of {self.standard}: {outside}; no value by that standard is given"
            )

    def _outside(self) -> str:
        if not min(self.width_mm, self.depth_mm, self.span_mm) > 0:
            return "its width, depth and span must be above zero"
        ratio = self.span_mm / self.depth_mm
        if abs(ratio - SPAN_RATIO) > SPAN_TOLERANCE:
            return f"span ÷ depth is {ratio:.3g}, not {SPAN_RATIO:g} ± {SPAN_TOLERANCE:g}"
        if self.standard == "astm-d790" and self.depth_mm > 3.2 and self.width_mm > self.span_mm / 4.0:
            return "it is wider than a quarter of its span"
        if self.width_mm < self.depth_mm:
            return "it stands on its edge"
        return ""


@carries("iso-178", "astm-d790", caveats=("flexural-not-tensile",))
def coupon_setup(coupon: Coupon, rig: Rig = Rig()) -> Setup:
    """The set-up of a coupon: both standards leave shear out (about 2 % at span ÷ depth 16)."""
    width, depth, span = coupon.width_mm, coupon.depth_mm, coupon.span_mm
    unit = span**3 / (4.0 * width * depth**3)
    stress = 3.0 * span / (2.0 * width * depth**2)
    strain = 6.0 * depth / span**2
    return Setup(
        "bending", unit, rig.compliance, strain, stress, notes=(f"by {coupon.standard}, shear left out",)
    )
