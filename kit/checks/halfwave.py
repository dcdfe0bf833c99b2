"""Published buckling values recomputed by the half-wavelength analysis (finite elements on the section)."""

from __future__ import annotations

from functools import cache

import numpy as np
from shapely import Polygon, box, unary_union

from kit.checks import checks_by
from kit.sections.area import area_moments
from kit.sections.halfwave import Curve, half_wavelength_curve, member_factor, section_under
from kit.sections.halfwave_assembly import assemble
from kit.sections.halfwave_beam import elastic_bending_limit, rigid_bending_limits
from kit.sections.halfwave_solve import buckling_modes
from kit.sections.halfwave_strength import (
    distortional_reduction,
    lowest_column_reduction,
    shape_limits,
    winter_reduction,
)
from kit.sections.halfwave_stress import LinearStress, compression_stress, isotropic
from kit.sections.mesh import Mesh, with_midsides

STEEL = isotropic(210000.0, 0.3)
COMPRESSED = LinearStress(-1.0)


def strip_mesh(width: float, thickness: float, along: int = 160, through: int = 2) -> Mesh:
    """Regular mesh of a plate's cross-section, long in x, centred."""
    x = np.linspace(-width / 2, width / 2, along + 1)
    y = np.linspace(-thickness / 2, thickness / 2, through + 1)
    points = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    corner = (np.arange(along)[:, None] * (through + 1) + np.arange(through)).ravel()
    right = corner + through + 1
    lower = np.column_stack([corner, right, right + 1])
    upper = np.column_stack([corner, right + 1, corner + 1])
    return with_midsides(points, np.vstack([lower, upper]))


def held_edges(mesh: Mesh, left: str, right: str) -> np.ndarray:
    """Displacements held at the two unloaded edges.

    Parameters
    ----------
    left, right : str
        "simple": neither deflection nor longitudinal displacement, as thin-plate theory understands a simple
        support; "hinged": no deflection only; "clamped": nothing moves; "free".
    """
    held = np.zeros((len(mesh.points), 3), dtype=bool)
    x = mesh.points[:, 0]
    for edge, place in ((left, x.min()), (right, x.max())):
        at = np.isclose(x, place)
        held[at] = {"simple": (0, 1, 1), "hinged": (0, 1, 0), "clamped": (1, 1, 1), "free": (0, 0, 0)}[edge]
    return held


def plate_coefficient(
    aspect: float, edges: tuple[str, str], nu: float = 0.3, falls_to: float = 1.0, slenderness: float = 300.0
) -> float:
    """k = σcr ÷ [π² E / 12(1 − ν²) · (t/b)²] of a plate under longitudinal stress, loaded ends simple.

    Parameters
    ----------
    aspect : float
        Half-wavelength ÷ width.
    edges : tuple of two str
        Left and right unloaded edges.
    falls_to : float
        Stress at the right edge ÷ stress at the left edge, ψ.
    slenderness : float
        Width ÷ thickness: large, for thin-plate theory knows no shear deformation.
    """
    mesh = strip_mesh(1.0, 1.0 / slenderness)
    stress = LinearStress(-(1 + falls_to) / 2, 1 - falls_to)
    modes = buckling_modes(assemble(mesh, isotropic(1.0, nu), stress, held_edges(mesh, *edges)), aspect, 1)
    return float(modes.factors[0] * 12 * (1 - nu**2) / np.pi**2 * slenderness**2)


def angle(leg: float, thickness: float) -> Polygon:
    """Equal angle by mid-line leg and thickness, sharp corners."""
    half = thickness / 2
    return unary_union([box(-half, -half, leg, half), box(-half, -half, half, leg)])


def channel(depth: float, width: float, thickness: float) -> Polygon:
    """Channel by mid-line depth and width, sharp corners."""
    half = thickness / 2
    web = box(-half, -half, half, depth + half)
    return unary_union([web, box(-half, -half, width, half), box(-half, depth - half, width, depth + half)])


def cruciform(leg: float, thickness: float) -> Polygon:
    """Cruciform with four legs from the centre."""
    half = thickness / 2
    return unary_union([box(-leg, -half, leg, half), box(-half, -leg, half, leg)])


def i_section(depth: float, top: float, bottom: float, flange: float, web: float) -> Polygon:
    """I-section by overall depth, widths of the flanges and thicknesses, sharp corners."""
    plates = [
        box(-bottom / 2, 0, bottom / 2, flange),
        box(-top / 2, depth - flange, top / 2, depth),
        box(-web / 2, 0, web / 2, depth),
    ]
    return unary_union(plates)


def square_tube(midline: float, thickness: float) -> Polygon:
    """Square tube by mid-line width and thickness."""
    out, inside = (midline + thickness) / 2, (midline - thickness) / 2
    return box(-out, -out, out, out) - box(-inside, -inside, inside, inside)


def circular_tube(radius: float, thickness: float, sides: int = 180) -> Polygon:
    """Circular tube by mid-line radius, as a polygon of the same area."""
    turn = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    circle = np.column_stack([np.cos(turn), np.sin(turn)]) / np.sqrt(np.sinc(2 / sides))
    return Polygon((radius + thickness / 2) * circle, [(radius - thickness / 2) * circle])


def critical_stress(polygon: Polygon, half_wavelength: float) -> float:
    """Lowest critical stress in compression, steel, MPa."""
    return float(
        buckling_modes(section_under(polygon, STEEL, COMPRESSED).assembly, half_wavelength, 1).factors[0]
    )


def local_stress(polygon: Polygon) -> float:
    """Lowest interior minimum of the curve in compression, steel, MPa."""
    return min(minimum.factor for minimum in _curve(polygon).minima)


@cache
def _curve(polygon: Polygon) -> Curve:
    return half_wavelength_curve(section_under(polygon, STEEL, COMPRESSED))


def euler_load() -> float:
    """50 × 100 mm rectangle, length 5000 mm, kN."""
    polygon = box(0, 0, 50, 100)
    section = section_under(polygon, STEEL, compression_stress(1e3, area_moments(polygon).area_mm2))
    return section.global_factor(5000.0)


def moment_limit(polygon: Polygon, length: float, sense: str, shear_modulus: float) -> float:
    """Lateral-torsional limit in uniform bending, kNm, for E = 210000 MPa."""
    return elastic_bending_limit(polygon, length, 210000.0, 210000.0 / 2 / shear_modulus - 1, sense) / 1e6


def rigid_moment() -> float:
    """Lateral-torsional limit in uniform bending of an IPE 500, rigid in its plane, kNm."""
    ipe = {"Ix_mm4": 48.2e7, "Iy_mm4": 21417007.0, "Ixy_mm4": 0.0, "J_mm4": 892870.0, "Iw_mm6": 1.2494e12}
    ipe |= dict.fromkeys(("xs_mm", "ys_mm", "beta_x_mm", "beta_y_mm"), 0.0)
    return float(rigid_bending_limits(ipe, 3750.0, 210000.0, 80769.0)[0]) / 1e6


TUBE = square_tube(100, 2)
MONO = (300.0, 200.0, 120.0, 10.0, 10.0)
SIMPLE, CLAMPED = ("simple", "simple"), ("clamped", "clamped")

checks_by(
    {
        "PLB-SSSS": lambda: plate_coefficient(1.0, SIMPLE),
        "PLB-CC": lambda: plate_coefficient(0.661, CLAMPED),
        "PLB-SC": lambda: plate_coefficient(0.795, ("simple", "clamped")),
        "PLB-SF25": lambda: plate_coefficient(60.0, ("hinged", "free"), 0.25, slenderness=2000) - 1 / 60**2,
        "PLB-SF1": lambda: plate_coefficient(1.0, ("simple", "free"), 0.25),
        "PLB-SF2": lambda: plate_coefficient(2.0, ("simple", "free"), 0.25),
        "PLB-CF": lambda: plate_coefficient(1.638, ("clamped", "free")),
        "PLB-CF25": lambda: plate_coefficient(1.634, ("clamped", "free"), 0.25),
        "PLB-BEND": lambda: plate_coefficient(2 / 3, SIMPLE, falls_to=-1.0),
        "PLB-LIN": lambda: plate_coefficient(0.98, SIMPLE, falls_to=0.0),
        "PLB-EC-rho": lambda: float(winter_reduction(2.17)),
        "HWC-SQUARE-TUBE": lambda: local_stress(TUBE),
        "HWC-MEMBER-TUBE": lambda: member_factor(_curve(TUBE), 1000.0)[0],
        "HWC-LIMIT-TUBE": lambda: shape_limits(_curve(TUBE), 1000.0, 235.0).critical["local"],
        "DIST-EC-1": lambda: float(distortional_reduction(1.0)),
        "DIST-EC-1.8": lambda: float(distortional_reduction(1.8)),
        "CHI-LOWEST-1.5": lambda: lowest_column_reduction(1.5),
        "LTB-RIGID-E119": rigid_moment,
        "HWC-EULER": euler_load,
        "HWC-CRUCIFORM": lambda: critical_stress(cruciform(100, 1), 20000.0),
        "HWC-CHANNEL-FT": lambda: critical_stress(channel(200, 100, 4), 4000.0),
        "HWC-ANGLE-FT": lambda: critical_stress(angle(100, 4), 1500.0),
        "HWC-CYLINDER": lambda: critical_stress(circular_tube(100, 1), np.pi * 10 / (12 * 0.91) ** 0.25),
        "HWC-CYLINDER-OVAL": lambda: local_stress(circular_tube(50, 1, 120)),
        "HWC-LTB-RECTANGLE": lambda: moment_limit(box(0, 0, 10, 100), 2000.0, "sagging", 210000 / 2.6),
        "HWC-LTB-I": lambda: moment_limit(i_section(300, 150, 150, 10, 8), 4000.0, "sagging", 210000 / 2.6),
        "HWC-MONO-3000-L": lambda: moment_limit(i_section(*MONO), 3000.0, "sagging", 81000.0),
        "HWC-MONO-3000-S": lambda: moment_limit(i_section(*MONO), 3000.0, "hogging", 81000.0),
        "HWC-MONO-5000-L": lambda: moment_limit(i_section(*MONO), 5000.0, "sagging", 81000.0),
        "HWC-MONO-5000-S": lambda: moment_limit(i_section(*MONO), 5000.0, "hogging", 81000.0),
    }
)
