"""Local and distortional strength of a member from its half-wavelength curve, by slenderness rules."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from shapely import Polygon

from kit.errors import InputError, Unusable
from kit.sections.area import area_moments
from kit.sections.halfwave import Curve, half_wavelength_curve, member_factor, section_under
from kit.sections.halfwave_stress import (
    LinearStress,
    bending_stress,
    compression_stress,
    eccentric_stress,
    held_bending_stress,
    isotropic,
)
from kit.sources import carries

KINDS = ("local", "distortional")
# Imperfection of the lowest EN 1993-1-1 curve, where no strength of the whole member is given.
CURVE_D = 0.76

NO_MINIMUM = "the half-wavelength curve has no interior minimum: local and distortional buckling do not apply"


@carries("winter-1947", "en-1993-1-5", caveats=("halfwave-slenderness-rules",))
def winter_reduction(slenderness):
    """Strength of a locally buckled wall ÷ its strength without buckling: (λ − 0.22) / λ², 1 up to λ = 0.673.

    Parameters
    ----------
    slenderness : float or array
        λ = √(strength ÷ elastic critical load).

    Notes
    -----
    Winter (1947); EN 1993-1-5, 4.4(2) for an evenly compressed internal wall. Outstand walls would be allowed
    (λ − 0.188) / λ²; the lower of the two is used for whole outlines.
    """
    lam = np.maximum(np.asarray(slenderness, dtype=float), 0.5 + np.sqrt(0.25 - 0.22))
    return np.minimum((lam - 0.22) / lam**2, 1.0)


@carries("en-1993-1-3", caveats=("halfwave-slenderness-rules",))
def distortional_reduction(slenderness):
    """Strength of a section that distorts ÷ its strength without: EN 1993-1-3, 5.5.3.1(7).

    1 up to λ = 0.65, 1.47 − 0.723 λ up to 1.38, 0.66 / λ above.
    """
    lam = np.asarray(slenderness, dtype=float)
    return np.where(lam <= 0.65, 1.0, np.where(lam < 1.38, 1.47 - 0.723 * lam, 0.66 / np.maximum(lam, 1.38)))


@carries("en-1993-1-1")
def lowest_column_reduction(slenderness: float) -> float:
    """Strength of a whole member ÷ squash load by the lowest curve (d) of EN 1993-1-1, 6.3.1.2."""
    phi = 0.5 * (1 + CURVE_D * max(slenderness - 0.2, 0.0) + slenderness**2)
    return min(1.0, 1 / (phi + np.sqrt(phi**2 - slenderness**2)))


@dataclass(frozen=True)
class ShapeLimits:
    """Loads at which the section's own shape gives way.

    Attributes
    ----------
    loads : dict
        By limit state, "local" and "distortional": the strength, in the unit of the reference load; the
        member's own strength where the walls hold up to it. A limit state that does not apply is absent.
    critical : dict
        The elastic critical loads they come from.
    half_wavelengths_mm : dict
        At which they are reached.
    global_strength : float
        Strength of the whole member that the rules start from.
    notes : tuple of str
        Why something does not apply, or was taken as it was.
    """

    loads: dict[str, float] = field(default_factory=dict)
    critical: dict[str, float] = field(default_factory=dict)
    half_wavelengths_mm: dict[str, float] = field(default_factory=dict)
    global_strength: float = np.nan
    notes: tuple[str, ...] = ()


def _one_load(kind: str, strength: float, critical: float, ductile: bool) -> float:
    slenderness = np.sqrt(strength / critical)
    rule = winter_reduction if kind == "local" else distortional_reduction
    load = float(rule(slenderness)) * strength
    return float(load if ductile else min(load, critical))


@carries(
    "winter-1947",
    "en-1993-1-3",
    "en-1993-1-5",
    caveats=("halfwave-slenderness-rules", "halfwave-cannot-see", "halfwave-not-ductile"),
)
def shape_limits(
    curve: Curve, length_mm: float, yield_load: float, *, global_strength: float | None = None,
    ductile: bool = True,
) -> ShapeLimits:  # fmt: skip
    """Local and distortional strength of a member, in units of the load that makes the curve's factor 1.

    The rules start from the strength of the whole member, so that a member on the way to buckling as a whole
    has less to lose to its walls (interaction of local and global buckling).

    Parameters
    ----------
    curve : Curve
    length_mm : float
        Of the member.
    yield_load : float
        At first yield in compression, as a load factor.
    global_strength : float, optional
        Strength of the whole member by its own column or beam rule, as a load factor. Without it: the lowest
        column curve (d) of EN 1993-1-1 with the critical load at half-wavelength = length.
    ductile : bool
        A material that is not ductile is given no strength above the elastic critical load.
    """
    found = {kind: curve.lowest(kind) for kind in KINDS}
    notes = []
    if global_strength is None:
        whole = curve.section.global_factor(length_mm)
        global_strength = float(yield_load * lowest_column_reduction(np.sqrt(yield_load / whole)))
        notes.append("strength of the whole member by curve d of EN 1993-1-1")
    if not curve.minima:
        return ShapeLimits(global_strength=global_strength, notes=(*notes, NO_MINIMUM))
    critical, places = {}, {}
    for kind, minimum in found.items():
        if minimum is None:
            continue
        # A member shorter than the half-wave of the minimum buckles at its own length, under a higher load.
        shorter = minimum.half_wavelength_mm > length_mm
        critical[kind] = member_factor(curve, length_mm)[0] if shorter else minimum.factor
        places[kind] = min(minimum.half_wavelength_mm, length_mm)
    loads = {kind: _one_load(kind, global_strength, factor, ductile) for kind, factor in critical.items()}
    return ShapeLimits(loads, critical, places, global_strength, tuple(notes))


def moment_arm_mm(case) -> float:
    """Greatest moment ÷ total load of a bending case, mm: L/4, (L − s)/4, L/8, or L of a cantilever."""
    length = case.span_mm
    spacing = case.load_spacing_mm if case.load_spacing_mm is not None else length / 3
    arms = {
        "three-point": length / 4,
        "four-point": (length - spacing) / 4,
        "uniform": length / 8,
        "cantilever": length,
    }
    return arms[case.loading]


def stress_of_case(polygon: Polygon, case) -> LinearStress:
    """Longitudinal stress of 1 N of a case's total load, at its most stressed section.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
    case : object
        With ``kind`` "bending" (span_mm, loading, load_spacing_mm, restraint) or "compression"
        (eccentricity_x_mm and eccentricity_y_mm where it has them).

    Raises
    ------
    InputError
        For another kind of case.
    """
    area = area_moments(polygon)
    if case.kind == "compression":
        x, y = (getattr(case, f"eccentricity_{axis}_mm", 0.0) for axis in "xy")
        if x or y:
            return eccentric_stress(1.0, x, y, (area.area_mm2, area.Ix, area.Iy, area.Ixy))
        return compression_stress(1.0, area.area_mm2)
    if case.kind != "bending":
        raise InputError(f"a {case.kind} case", todo="Local buckling is assessed in compression and bending.")
    # A cantilever's load at its end stretches the top: hogging.
    moment = moment_arm_mm(case) * (-1 if case.loading == "cantilever" else 1)
    if case.restraint == "none":
        return bending_stress(moment, 0.0, area.Ix, area.Iy, area.Ixy)
    return held_bending_stress(moment, area.Ix)


def limit_loads(
    polygon: Polygon, case, material, *, modulus_MPa: float | None = None,
    strength_MPa: float | None = None, global_strength_N: float | None = None,
) -> ShapeLimits:  # fmt: skip
    """Local and distortional limit loads (N, total load) of a member under a load case.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
        As it stands (turned), anywhere.
    case : object
        See :func:`stress_of_case`; with ``length_mm``.
    material : object
        With youngs_modulus_MPa.mean, poissons_ratio, yield_compression_MPa.mean, ductile, isotropic.
    modulus_MPa, strength_MPa : float, optional
        At the service's duration and temperature; the material's own means otherwise.
    global_strength_N : float, optional
        Strength of the whole member by its own rule; see :func:`shape_limits`.

    Returns
    -------
    ShapeLimits
        In N. Where the analysis is not available it is empty, with the reason in ``notes``.

    Raises
    ------
    Unusable
        If the outline is not sound.
    """
    if not getattr(material, "isotropic", True):
        return ShapeLimits(notes=("not available: the material's elastic constants across it are not given",))
    try:
        elastic = isotropic(modulus_MPa or material.youngs_modulus_MPa.mean, material.poissons_ratio)
    except InputError as error:
        return ShapeLimits(notes=(f"not assessed: {error.what}",))
    if polygon.is_empty or not polygon.is_valid:
        raise Unusable("the outline touches or crosses itself; prepare it first")
    stress = stress_of_case(polygon, case)
    strength = strength_MPa or material.yield_compression_MPa.mean
    section = section_under(polygon, elastic, stress)
    # Worked at 1 MPa of greatest compression, so that factors are stresses; loads follow by the ratio.
    curve = half_wavelength_curve(section, strength, case.length_mm)
    restrained = case.kind == "bending" and case.restraint != "none"
    if restrained and global_strength_N is None:
        global_strength_N = strength / section.peak_MPa
    limits = shape_limits(
        curve, case.length_mm, strength / section.peak_MPa,
        global_strength=global_strength_N, ductile=material.ductile,
    )  # fmt: skip
    if getattr(case, "ends", "pinned-pinned") != "pinned-pinned":
        return _noted(limits, "walls between simple supports: ends held otherwise would only help")
    return limits


def _noted(limits: ShapeLimits, note: str) -> ShapeLimits:
    return ShapeLimits(
        limits.loads,
        limits.critical,
        limits.half_wavelengths_mm,
        limits.global_strength,
        (*limits.notes, note),
    )
