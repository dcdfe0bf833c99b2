"""Published values of columns, restrained warping, shear and materials, recomputed."""

from __future__ import annotations

from functools import partial

import numpy as np
from shapely import Polygon

from kit.checks import checks_by
from kit.checks import geometries as shape
from kit.members import codes, critical, curves, shafts, shearwalls
from kit.members.cases import CompressionCase
from kit.members.columns import eccentric_load
from kit.members.materials import Material, Service, Spread, library
from kit.members.service import at_service
from kit.members.tension import gross_yield
from kit.sections.area import area_moments, rings_of
from kit.sections.shearcut import shear_columns

KSI_E, KSI_G = 29000.0, 11200.0
SLENDERNESS = {
    "a": (0.3, 0.5, 0.8, 1, 1.2, 2, 2.5, 3),
    "b": (0.3, 0.8, 1.2, 1.5, 2, 3),
    "c": (0.3, 0.5, 0.8, 1.5, 2, 3),
    "d": (0.3, 0.5, 0.8, 1.5, 2, 2.5, 3),
    "a0": (0.2, 0.3, 0.8, 1, 1.2, 1.5, 2, 2.5, 3),
}

# --- Column curves ---------------------------------------------------------------------------------

checks_by(
    {
        f"CHI-{curve}-{value}": partial(curves.en_1993, value, curve)
        for curve, values in SLENDERNESS.items()
        for value in values
    }
)
checks_by(
    {
        f"EUL-K-{short}": partial(critical.EFFECTIVE_LENGTH.get, ends)
        for short, ends in {
            "PP": "pinned-pinned",
            "FF": "fixed-fixed",
            "FP": "fixed-pinned",
            "FREE": "fixed-free",
        }.items()
    }
)
checks_by({"EUL-SELF": critical.self_weight_buckling_factor})
checks_by(
    {
        f"EUL-SELF-{short}": partial(critical.OWN_WEIGHT.get, ends)
        for short, ends in {
            "PP": "pinned-pinned",
            "FF": "fixed-fixed",
            "PF": "fixed-pinned",
        }.items()
    }
)


def _mast_height() -> float:
    """Greenhill's tallest round mast of steel, 10 mm thick, m: where its own weight leaves nothing to carry."""
    area, second = np.pi * 5.0**2, np.pi * 5.0**4 / 4
    return float(
        (critical.OWN_WEIGHT["fixed-free"] * 200e3 * second / (7850e-9 * 9.80665 * area)) ** (1 / 3) / 1e3
    )


checks_by({"EUL-SELF-MAST": _mast_height})


def _indian_stress(ratio: float) -> float:
    return float(250.0 / 1.10 * curves.en_1993(curves.slenderness(ratio, 200000.0, 250.0), "c"))


def _robertson(ratio: float) -> float:
    return 245.0 * float(curves.perry_robertson(curves.slenderness(ratio, 205000.0, 245.0), 0.003 * ratio))


def _british(constant: float) -> float:
    eta = codes.bs_5950_imperfection(100.0, 205000.0, 275.0, constant)
    return 275.0 * float(curves.perry_robertson(curves.slenderness(100.0, 205000.0, 275.0), eta))


def _johnson(strength: float, modulus: float, ratio: float) -> float:
    return strength * float(curves.johnson(curves.slenderness(ratio, modulus, strength)))


checks_by({f"COL-IS800-{ratio}": partial(_indian_stress, ratio) for ratio in (50, 80, 100, 130)})
checks_by({f"COL-PR-{ratio}": partial(_robertson, ratio) for ratio in (100, 150)})
checks_by(
    {f"COL-BS5950-{c}": partial(_british, a) for c, a in zip("abcd", (2.0, 3.5, 5.5, 8.0), strict=True)}
)
checks_by(
    {
        "COL-JOHN-1": partial(_johnson, 250.0, 200000.0, 60.0),
        "COL-JOHN-2": partial(_johnson, 240.0, 70000.0, 40.0),
        "COL-JOHN-T": lambda: curves.JOHNSON_LIMIT / curves.slenderness(1.0, 200000.0, 250.0),
    }
)

checks_by(
    {
        "COL-EC5-80": lambda: float(curves.en_1995(curves.slenderness(80.0, 7400.0, 21.0), "solid")),
        "COL-EC5-GL80": lambda: float(curves.en_1995(curves.slenderness(80.0, 9600.0, 24.0), "glued")),
        "CHI-EC9-A-1": lambda: float(curves.en_1999(1.0, "A")),
        "CHI-EC9-B-1": lambda: float(curves.en_1999(1.0, "B")),
    }
)


def _secant() -> float:
    """A column with A = 100, r = 10, W/A = 40 and e = 10 (e c/r² = 0.25): the mean stress at first yield."""
    area, radius, modulus = np.array([100.0]), 10.0, 40.0
    second = area * radius**2
    columns = {"area_mm2": area, "I1_mm4": second, "I2_mm4": second, "Wel_1_mm3": area * modulus,
               "Wel_2_mm3": area * modulus, "principal_angle_deg": np.zeros(1), "Ixy_mm4": np.zeros(1),
               "Ix_mm4": second, "Iy_mm4": second}  # fmt: skip
    case = CompressionCase("secant", 1000.0, column_curve="euler", bow=0.0, eccentricity_x_mm=10.0)
    euler = critical.flexural_load(200000.0 * second, 1000.0)
    state = at_service(_yielding_at(250.0, 200000.0), Service())
    squash = area * 250.0
    return float(eccentric_load(columns, case, state, {"1": euler, "2": euler}, squash)[0] / area[0])


def _yielding_at(strength: float, modulus: float) -> Material:
    spread = Spread(strength)
    return Material("check", "check", "steel", 7850.0, Spread(modulus), 0.3, spread, spread)


checks_by({"COL-SECANT": _secant})

# --- Columns ---------------------------------------------------------------------------------------


def _tube_squash() -> float:
    return gross_yield(np.pi / 4.0 * (244.5**2 - 224.5**2), 275.0)


def _tube_slenderness() -> float:
    second_moment = np.pi / 64.0 * (244.5**4 - 224.5**4)
    return np.sqrt(_tube_squash() / critical.flexural_load(210000.0 * second_moment, 4000.0))


def _he340b() -> float:
    load = critical.flexural_load(210000.0 * 9690e4, 4335.0)
    return float(curves.en_1993(np.sqrt(17090.0 * 355.0 / load), "c"))


def _ipe500_torsional() -> float:
    radius = critical.polar_radius(11551.8, 481.985e6, 21.417e6)
    return critical.torsional_load(80769.0 * 892870.0, 210000.0 * 1.2494e12, radius, 3750.0) / 1e3


def _w14_stress(ratio: float) -> float:
    return 50.0 * float(curves.aisc_e3(curves.slenderness(ratio, KSI_E, 50.0)))


WT_AREA, WT_Y0 = 10.0, 1.29 - 0.720 / 2.0
WT_RADIUS = critical.polar_radius(WT_AREA, 32.6, 60.7, 0.0, WT_Y0)


def _wt_flexural() -> float:
    return critical.flexural_load(KSI_E * WT_AREA * 2.46**2, 240.0) / WT_AREA


def _wt_torsional() -> float:
    return critical.torsional_load(KSI_G * 1.50, 0.0, WT_RADIUS, 240.0) / WT_AREA


def _wt_coupled() -> float:
    # Flexure about the axis that does not couple is taken out of the way, so that the other root is seen.
    return float(critical.lowest_coupled_load(1e12, _wt_flexural(), _wt_torsional(), 0.0, WT_Y0, WT_RADIUS))


def _channel_coupled() -> float:
    area, x0 = 5.87, 1.242
    radius = critical.polar_radius(area, 78.9, 2.80, x0)
    flexural = critical.flexural_load(KSI_E * area * 3.67**2, 120.0) / area
    torsional = critical.torsional_load(KSI_G * 0.368, KSI_E * 56.9, radius, 120.0) / area
    return float(critical.lowest_coupled_load(flexural, 1e12, torsional, x0, 0.0, radius))


checks_by(
    {
        "COL-GN67-NcRd": lambda: _tube_squash() / 1e3,
        "COL-GN67-lam": _tube_slenderness,
        "COL-GN67-NbRd": lambda: float(curves.en_1993(_tube_slenderness(), "a")) * _tube_squash() / 1e3,
        "COL-HE340B-chi": _he340b,
        "COL-E119-NcrT": _ipe500_torsional,
        "COL-E1A-KLr": lambda: 360.0 * critical.EFFECTIVE_LENGTH["pinned-pinned"] / 3.76,
        "COL-E1A-Fcr": lambda: _w14_stress(360.0 / 3.76),
        "COL-E1A-phiPn": lambda: 0.9 * 38.8 * _w14_stress(360.0 / 3.76),
        "COL-E1A-Pn/Omega": lambda: 38.8 * _w14_stress(360.0 / 3.76) / 1.67,
        "COL-E1D-phiPn": lambda: 0.9 * 26.5 * _w14_stress(360.0 / 6.14),
        "COL-E7-ro2": lambda: WT_RADIUS**2,
        "COL-E7-H": lambda: critical.flexural_constant(0.0, WT_Y0, WT_RADIUS),
        "COL-E7-Fey": _wt_flexural,
        "COL-E7-Fez": _wt_torsional,
        "COL-E7-Fe-FT": _wt_coupled,
        "COL-E7-phiPn": lambda: 0.9 * WT_AREA * _w14_stress(240.0 / 1.81),
        "COL-C10-FT": _channel_coupled,
    }
)

# --- Restrained warping ----------------------------------------------------------------------------


checks_by(
    {
        "WRP-TWIST-2": lambda: float(shafts.twist(1.0, 2.0, 1.0, 1.0, "warping-held")) / 2.0,
        "WRP-BIMOMENT-6": lambda: float(shafts.end_bimoment(1.0, 6.0, 1.0, 1.0)) / 6.0,
        "WRP-SHARE-6": lambda: float(shafts.uniform_share(3.0, 6.0, 1.0, 1.0)),
    }
)

# --- Transverse shear --------------------------------------------------------------------------------


def _shear_columns_of(polygon: Polygon) -> dict[str, float]:
    m = area_moments(polygon)
    return shear_columns(tuple(ring - (m.x_mm, m.y_mm) for ring in rings_of(polygon)), m)


def _cut_area(polygon: Polygon) -> float:
    return _shear_columns_of(polygon)["shear_cut_area_y_mm2"]


def _greatest_over_mean(polygon: Polygon) -> float:
    return polygon.area / _cut_area(polygon)


checks_by(
    {
        "CUT-RECT": lambda: _greatest_over_mean(shape.rectangle(60.0, 100.0)),
        "CUT-CIRC": lambda: _greatest_over_mean(shape.circle(60.0)),
        "CUT-I": lambda: _cut_area(shape.i_section(300.0, 150.0, 7.1, 10.7)),
        "CUT-TUBE": lambda: _greatest_over_mean(shape.tube(100.0, 98.0)),
    }
)

# --- Walls in shear --------------------------------------------------------------------------------


def _wall_slenderness(width_over_thickness: float, strength: float, modulus: float = 210000.0) -> float:
    critical = shearwalls.plate_critical_stress(width_over_thickness, modulus, 0.3)
    return float(shearwalls.slenderness(strength / np.sqrt(3.0), critical))


def _long_plate() -> float:
    """k of the critical stress of a plate as wide as thick, E = 12 (1 − ν²) / π²."""
    return float(shearwalls.plate_critical_stress(1.0, 12.0 * 0.91 / np.pi**2, 0.3))


checks_by(
    {
        "SHB-EN-72": partial(_wall_slenderness, 72.0, 235.0),
        "SHB-EN-100": partial(_wall_slenderness, 100.0, 355.0),
        "SHB-LONG": _long_plate,
        "SHB-H5A": lambda: shearwalls.STOCKY / _wall_slenderness(1.0, 46.0, KSI_E),
        "SHB-H5B": lambda: float(shearwalls.tube_critical_stress(21.5, KSI_E)),
    }
)

# --- The library of materials ----------------------------------------------------------------------


def _value(key: str, field: str) -> float:
    value = getattr(library()[key], field)
    return getattr(value, "mean", value)


MATERIALS = {
    "MAT-S235-fy": ("steel-S235", "yield_tension_MPa"),
    "MAT-S235-fu": ("steel-S235", "ultimate_tension_MPa"),
    "MAT-S355-fy": ("steel-S355", "yield_tension_MPa"),
    "MAT-S355-fu": ("steel-S355", "ultimate_tension_MPa"),
    "MAT-steel-E": ("steel-S275", "youngs_modulus_MPa"),
    "MAT-steel-G": ("steel-S275", "shear_modulus"),
    "MAT-steel-rho": ("steel-S275", "density_kg_m3"),
    "MAT-5083H112-fo": ("aluminium-5083-H112", "yield_tension_MPa"),
    "MAT-5083H112-fu": ("aluminium-5083-H112", "ultimate_tension_MPa"),
    "MAT-6060T66-fo": ("aluminium-6060-T66-thin", "yield_tension_MPa"),
    "MAT-6060T66-fu": ("aluminium-6060-T66-thin", "ultimate_tension_MPa"),
    "MAT-6061T6-fo": ("aluminium-6061-T6", "yield_tension_MPa"),
    "MAT-6061T6-fu": ("aluminium-6061-T6", "ultimate_tension_MPa"),
    "MAT-Al-E": ("aluminium-6060-T66", "youngs_modulus_MPa"),
    "MAT-Al-G": ("aluminium-6060-T66", "shear_modulus"),
    "MAT-Al-rho": ("aluminium-6060-T66", "density_kg_m3"),
    "MAT-C24-fm": ("timber-C24", "bending_strength_MPa"),
    "MAT-C24-ft0": ("timber-C24", "yield_tension_MPa"),
    "MAT-C24-fc0": ("timber-C24", "yield_compression_MPa"),
    "MAT-C24-fv": ("timber-C24", "shear_strength_MPa"),
    "MAT-C24-E0mean": ("timber-C24", "youngs_modulus_MPa"),
    "MAT-C24-E005": ("timber-C24", "modulus_5_percent_MPa"),
    "MAT-C24-Gmean": ("timber-C24", "shear_modulus"),
    "MAT-C24-rhomean": ("timber-C24", "density_kg_m3"),
    "MAT-PMMA-ft-min": ("acrylic-cast-sheet", "yield_tension_MPa"),
    "MAT-PMMA-fc-min": ("acrylic-cast-sheet", "yield_compression_MPa"),
    "MAT-PMMA-rho": ("acrylic-cast-sheet", "density_kg_m3"),
    "MAT-PMMA-E-ISO": ("acrylic-cast-sheet", "youngs_modulus_MPa"),
    "MAT-HDPE-E-ISO17855": ("polyethylene-sheet", "youngs_modulus_MPa"),
}
checks_by({identifier: partial(_value, *where) for identifier, where in MATERIALS.items()})
