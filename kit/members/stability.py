"""Which way of moving sideways and twisting is open to a beam, and the load it sets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kit.members import lateral
from kit.members.cases import BendingCase
from kit.members.columns import principal_load_axis
from kit.members.crossing import first_crossing
from kit.members.loading import ModeIntegrals, load_effects, mode_integrals
from kit.members.moments import section_moment
from kit.members.state import Columns, Limit, State
from kit.sources import carries

# Below this √(π² E Iw / G J L²) the shapes of a plane root converge too slowly for a cantilever.
LEAST_WARPING = 0.5
PLATEAU = 0.2


@dataclass(frozen=True)
class Movement:
    """Limits of stability, the critical load with which twist grows, rows blocked and caveats."""

    limits: tuple[Limit, ...] = ()
    critical: np.ndarray | float = np.inf
    caveats: tuple = ()
    blocked: tuple = ()


def load_height(columns: Columns, case: BendingCase) -> np.ndarray:
    """Height of the load above the shear centre, mm."""
    level = {
        "top": columns["y_top_mm"],
        "bottom": columns["y_bottom_mm"],
        "centroid": 0.0,
        "shear-centre": columns["ys_mm"],
    }[case.load_height]
    return level - columns["ys_mm"]


def twist_terms(columns: Columns, case: BendingCase, state: State, sideways) -> lateral.TwistTerms:
    """The coefficients of the twist of every beam."""
    return lateral.TwistTerms(
        case.span_mm,
        state.column_shear_modulus * columns["J_mm4"],
        state.column_modulus * columns["Iw_mm6"],
        load_height(columns, case),
        lateral.plane_wagner(columns),
        sideways,
    )


def critical_load(terms: lateral.TwistTerms, case: BendingCase) -> tuple[np.ndarray, ModeIntegrals]:
    """Elastic critical load, N, and the integrals of its first shape."""
    spacing = case.spacing_mm / case.span_mm if case.loading == "four-point" else 0.0
    if case.loading != "cantilever":
        shapes = mode_integrals(case.loading, spacing)
        return lateral.critical_load(terms, shapes), shapes
    plane = lateral.critical_load(terms, mode_integrals("cantilever", 0.0, 4))
    warping = lateral.critical_load(terms, mode_integrals("cantilever", 0.0, 4, True))
    k = np.pi / case.span_mm * np.sqrt(terms.eiw / terms.gj)
    return np.where(k < LEAST_WARPING, warping, plane), mode_integrals("cantilever", 0.0, 4, True)


def assess(columns: Columns, case: BendingCase, state: State, arm_mm) -> Movement:
    """Stability of beams, row by row.

    Free, with the load in a principal plane and bending about the major axis: lateral–torsional buckling.
    Free, about the minor axis of a principal plane: no sideways buckling, only twist under a high load.
    Free and off the principal axes: no bifurcation; second-order bending and twist. Held sideways: twist
    under a load above the line of the support. Held against twist: nothing.
    """
    if case.restraint == "sideways-and-twist":
        return Movement()
    if case.restraint == "sideways":
        return _held(columns, case, state)
    return _free(columns, case, state, arm_mm)


def _held(columns: Columns, case: BendingCase, state: State) -> Movement:
    critical, _ = critical_load(
        twist_terms(columns, case, state, np.full(len(columns["area_mm2"]), np.inf)), case
    )
    limits = (Limit("torsional buckling under the load", 0.5 * critical),)
    # Stopping at half the critical load keeps the growth of any twist below two.
    return Movement(limits, critical, (("held-twist-halved", np.isfinite(critical)),))


def major_share(columns: Columns) -> np.ndarray:
    """Square of the share of a moment about x that bends the section about its major axis."""
    return np.cos(np.deg2rad(columns["principal_angle_deg"])) ** 2


def sideways_second_moment(columns: Columns) -> np.ndarray:
    """(Ix Iy − Ixy²) / Ix, mm4: what resists sideways movement; I2 where x is the major axis."""
    return columns["Iy_mm4"] - columns["Ixy_mm4"] ** 2 / columns["Ix_mm4"]


def _free(columns: Columns, case: BendingCase, state: State, arm_mm) -> Movement:
    principal = principal_load_axis(columns)
    alike = columns["I1_mm4"] - columns["I2_mm4"] <= 1e-6 * columns["I1_mm4"]
    major = principal & (columns["Ix_mm4"] > columns["Iy_mm4"]) & ~alike
    share = major_share(columns)
    sideways = np.where(principal & ~major, np.inf, state.column_modulus * sideways_second_moment(columns))
    terms = twist_terms(columns, case, state, sideways)
    critical, shapes = critical_load(terms, case)
    biaxial = np.where(principal, 0.0, np.sqrt(share * (1.0 - share)))
    load = second_order_load(columns, case, state, _Growth(terms, shapes, critical, arm_mm, biaxial))
    load = np.where(_stocky(columns, case, state, critical, principal & (arm_mm == 0)), np.inf, load)
    limits = (
        Limit("lateral-torsional buckling", np.where(major, load, np.inf), major),
        Limit("twisting under the load", np.where(principal & ~major, load, np.inf), principal & ~major),
        Limit("second-order bending and twist", np.where(principal, np.inf, load), ~principal),
    )
    cantilever = np.full(len(load), case.loading == "cantilever")
    caveats = (
        ("no-bifurcation-off-axis", ~principal),
        ("ends-cannot-twist", np.full(len(load), case.supports == "resting") & ~cantilever),
        ("warping-stress-estimated", columns["Iw_mm6"] > 1e-4 * columns["I2_mm4"] * columns["depth_mm"] ** 2),
        ("cantilever-root-warping", cantilever),
    )
    return Movement(limits, critical, caveats)


@carries("en-1993-1-1")
def _stocky(columns: Columns, case: BendingCase, state: State, critical, untwisted) -> np.ndarray:
    """Rows too stocky to buckle: slenderness √(M / M_cr) ≤ 0.2, the plateau of the column curves."""
    effects = load_effects(case)
    own = section_moment(columns, state, False, effects.hogging) / (effects.moment * case.span_mm)
    return untwisted & (own <= PLATEAU**2 * critical)


@dataclass(frozen=True)
class _Growth:
    """What the sideways movement grows from: the shapes, the critical load, and the disturbances."""

    terms: lateral.TwistTerms
    shapes: ModeIntegrals
    critical: np.ndarray
    arm_mm: np.ndarray
    biaxial: np.ndarray


def _twist(growth: _Growth, case: BendingCase, state: State, columns: Columns):
    """Function of the load: additional twist and whole twist of the first shape, rad.

    Bow: an initial shape like the buckled one, its sideways part ``bow`` × span. A load off the shear
    centre and bending about both axes twist from the first newton; all grow with 1 / (1 − W/W_cr).
    """
    t, s, length = growth.terms, growth.shapes, case.span_mm
    stiff = t.gj / length * s.slope[0, 0] + t.eiw / length**3 * s.curvature[0, 0]
    wave = length * (2.0 if case.loading == "cantilever" else 1.0)
    p2 = np.pi**2 * state.column_modulus * columns["I2_mm4"] / wave**2
    crooked = np.where(np.isfinite(growth.critical), case.bow * p2 / (growth.critical * s.bow), 0.0)
    eccentric = np.abs(growth.arm_mm) * abs(s.torque[0]) / stiff
    unlike = (1.0 / columns["I2_mm4"] - 1.0 / columns["I1_mm4"]) / state.column_modulus
    both = length**3 * abs(s.biaxial[0]) * growth.biaxial * unlike / stiff

    def at(load):
        share = np.minimum(load / growth.critical, 1.0 - 1e-9)
        from_load = (load * eccentric + load**2 * both) / (1.0 - share)
        added = crooked * share / (1.0 - share) + from_load
        return added, crooked + added

    return at


@carries("timoshenko-gere-1961", "trahair-1993", caveats=("ltb-elastic-beam-theory", "ltb-first-yield"))
def second_order_load(columns: Columns, case: BendingCase, state: State, growth: _Growth) -> np.ndarray:
    """Load at which bending, the bending that twist adds, and restrained warping reach the strength, N.

    Notes
    -----
    W k L / M_0 + (W k L φ / W_2 + W k L φ / W_1 [off the axes] + E φ'' ω) / f = 1, M_0 the moment of the
    section itself, φ the twist with its growth, ω ≈ √(Iw/I2) · I2/W2 (exact for an equal-flanged I) where
    the table has no greatest ω.
    """
    effects = load_effects(case)
    arm = effects.moment * case.span_mm
    section = section_moment(columns, state, False, effects.hogging)
    strength = state.lesser if state.bending is None else state.bending
    about_both = 1.0 / columns["Wel_2_mm3"] + np.where(growth.biaxial > 0, 1.0 / columns["Wel_1_mm3"], 0.0)
    wave = case.span_mm * (2.0 if case.loading == "cantilever" else 1.0)
    warping = state.modulus * (np.pi / wave) ** 2 * greatest_sectorial(columns)
    twist = _twist(growth, case, state, columns)

    def excess(load):
        added, whole = twist(load)
        return load * arm / section + (load * arm * whole * about_both + added * warping) / strength - 1.0

    return first_crossing(excess, np.minimum(section / arm, growth.critical))


def greatest_sectorial(columns: Columns) -> np.ndarray:
    """Greatest sectorial coordinate |ω|, mm2: from the table, or √(Iw/I2) · I2/W2."""
    if "omega_max_mm2" in columns:
        return columns["omega_max_mm2"]
    return (
        np.sqrt(np.maximum(columns["Iw_mm6"], 0.0) / columns["I2_mm4"])
        * columns["I2_mm4"]
        / columns["Wel_2_mm3"]
    )
